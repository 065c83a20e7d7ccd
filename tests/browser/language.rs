//! The page in its languages: German is complete, and an invented language shows every text that no catalog reaches.

use crate::headline;
use serde_json::{Value, json};
use std::fs;
use volute_tests::browser::{Copy, DESK, PHONE, Page, View, browse, dist, root};
use xtask::language::Catalog;
use xtask::server::Options;

/// A link to the page in German.
const GERMAN: &str = "#v=1&lang=de";

/// The page with a catalog of the invented language beside the German one.
fn with_pseudo(name: &str) -> Copy {
    let copy = Copy::new(name);
    let po = fs::read_to_string(root().join("web/language/de.po")).expect("the catalog");
    let pseudo = Catalog::read(&po).expect("a sound catalog").pseudo();
    fs::write(copy.root().join("language/x-pseudo.txt"), pseudo.compact()).expect("written");
    copy
}

/// Every piece of text outside brackets, with its place. Numbers, units, symbols and names are the same in every language and do
/// not count. Text that is marked with a language of its own, such as that of a lesson, is not a text of the page either.
const BARE: &str = r#"
    const same = new Set(('kPa bar psi hp kW kN N m lb ft in g s mg L K kg kJ C F h BTU gal cm mm p V T W A B C D M U n pc Pt Pc C0 U2 '
        + 'ρ ρ1 ρ2 η ηc ηt ηe ηv Δ ΔT BSFC IMEP PMEP FMEP BMEP AFR amb im s p0 p1 p2 p3 p4 T1 T2 T3 T4 K '
        + 'min Volute PNG SVG CSV English Deutsch').split(' '));
    const found = new Set();
    let depth = 0;
    const outside = (text) => {
        let out = '';
        for (const c of text) {
            if (c === '⟦') depth += 1;
            else if (c === '⟧') depth -= 1;
            else if (depth === 0) out += c;
        }
        return out;
    };
    const judge = (text, where) => {
        const words = outside(text).replace(/[²³⁴]/g, ' ').split(/[^\p{L}\p{N}]+/u).filter((w) => /\p{L}/u.test(w) && !same.has(w) && !/^\d+[a-z]?$/.test(w));
        if (words.length) found.add(`${where}: ${text.trim().slice(0, 120)}`);
    };
    const name = (e) => e.closest('[id]')?.id + ' ' + e.tagName.toLowerCase() + (e.getAttribute('class') ? '.' + e.getAttribute('class') : '');
    const skip = (e) => e.closest('[lang]:not(html), script, style, textarea, noscript, pattern') !== null;
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const parent = walk.currentNode.parentElement;
        if (!skip(parent)) judge(walk.currentNode.data, name(parent));
    }
    if (depth !== 0) found.add(`brackets are left open: ${depth}`);
    for (const e of document.body.querySelectorAll('*')) {
        if (skip(e)) continue;
        for (const a of ['aria-label', 'title', 'placeholder', 'alt', 'aria-valuetext', 'aria-roledescription', 'aria-description']) {
            depth = 0;
            if (e.hasAttribute(a)) judge(e.getAttribute(a), `${name(e)} @${a}`);
        }
    }
    depth = 0;
    judge(document.title, 'title');
    return [...found];
"#;

/// Texts that are cut off, reach out of the window, or lie on each other.
const CROWDED: &str = r#"
    const found = [];
    if (document.scrollingElement.scrollWidth > innerWidth + 1) found.push(`the page is ${document.scrollingElement.scrollWidth} wide`);
    const name = (e) => (e.closest('[id]')?.id ?? '') + ' ' + e.tagName.toLowerCase() + '.' + (e.getAttribute('class') ?? '');
    const boxes = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const node = walk.currentNode, e = node.parentElement;
        if (!node.data.trim() || e.closest('.sr, .page-skip, option, dialog, textarea') || !e.checkVisibility()) continue;
        const range = document.createRange();
        range.selectNodeContents(node);
        if (e.closest('.scroll, .stations.open, .lesson')) continue;
        // The words of the drawing have fixed places, which fit the languages that the page has.
        if (e.closest('#air') && document.documentElement.lang === 'x-pseudo') continue;
        for (const r of range.getClientRects()) if (r.width > 1 && r.height > 1) boxes.push([r, e, node.data.trim()]);
    }
    for (const [r, e, text] of boxes) {
        if (r.left < -1 || r.right > innerWidth + 1) found.push(`sticks out: ${name(e)} "${text.slice(0, 60)}"`);
        for (let box = e; box && box !== document.body; box = box.parentElement) {
            const style = getComputedStyle(box);
            if (style.overflowX === 'visible' || style.display === 'inline' || box instanceof SVGElement) continue;
            const edge = box.getBoundingClientRect();
            if (r.right > edge.right + 1.5) found.push(`cut off: ${name(e)} "${text.slice(0, 60)}" in ${name(box)}`);
            break;
        }
    }
    boxes.sort((a, b) => a[0].top - b[0].top);
    for (let i = 0; i < boxes.length; i++) {
        const [a, ea, ta] = boxes[i];
        for (let k = i + 1; k < boxes.length && boxes[k][0].top < a.bottom; k++) {
            const [b, eb, tb] = boxes[k];
            if (ea === eb || ea.contains(eb) || eb.contains(ea)) continue;
            const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
            const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
            // The box of a line is higher than its letters.
            if (wide > 2 && high > 0.35 * Math.min(a.height, b.height)) {
                found.push(`on each other: ${name(ea)} "${ta.slice(0, 40)}" and ${name(eb)} "${tb.slice(0, 40)}"`);
            }
        }
    }
    return found;
"#;

async fn list(page: &Page, script: &str) -> Vec<String> {
    let all = page.run(script).await;
    all.as_array().expect("a list").iter().map(|line| line.as_str().expect("a line").to_string()).collect()
}

/// Opens everything that can be opened on the bench, so that its texts are there.
async fn open_everything(page: &Page) {
    page.run(
        "for (const d of document.querySelectorAll('details')) d.open = true;
         document.getElementById('pin').click();
         document.getElementById('time-step').click();
         document.getElementById('time-keep').click();
         return null;",
    )
    .await;
    page.drag("#vane", 0.5, 0.55).await;
    page.rested().await;
    page.rested().await;
}

/// What the page says when something goes wrong, and in its dialog.
async fn provoke(page: &Page) {
    page.run_async(
        "const done = arguments[0];
         const set = (css, value) => { const e = document.querySelector(css); e.value = value; e.dispatchEvent(new Event('change', { bubbles: true })); };
         set('#vane-n', 'wide');
         set('#speed-n', '90000');
         document.querySelector('#engine-text').value = 'name = 3\\n[cylinder]\\na = 1';
         document.querySelector('#engine-read').click();
         set('#start-point', 'too-tight');
         document.querySelector('[data-q=p3] .term').click();
         setTimeout(() => done(null), 900);",
        vec![],
    )
    .await;
}

#[test]
fn language_no_text_of_the_page_passes_the_catalogs_by() {
    let copy = with_pseudo("pseudo");
    browse(Options::new(copy.root()), DESK, async |page| {
        page.open("#v=1&lang=x-pseudo").await;
        let mut found = list(page, BARE).await;
        open_everything(page).await;
        found.extend(list(page, BARE).await);
        for view in ["loop", "cycle", "cycle-log", "angle", "compressor", "turbine", "entropy", "sweep"] {
            page.run_async(
                "const [view, done] = arguments; const s = document.querySelector('#plot-b-view'); s.value = view;
                 s.dispatchEvent(new Event('change', { bubbles: true }));
                 const table = document.querySelector('#plot-b-figure figcaption button');
                 if (table.getAttribute('aria-pressed') === 'false') table.click();
                 setTimeout(() => done(null), 700);",
                vec![json!(view)],
            )
            .await;
            found.extend(list(page, BARE).await);
        }
        provoke(page).await;
        found.extend(list(page, BARE).await);
        // The page says at the top that a link is damaged.
        page.run("location.hash = '#v=1&vane=wide'; return null;").await;
        page.rested().await;
        found.extend(list(page, BARE).await);
        found.sort();
        found.dedup();
        assert!(found.is_empty(), "{} texts pass the catalogs by:\n{}", found.len(), found.join("\n"));
        page.assert_quiet().await;
    });
}

/// Opens a page and everything on it. Returns the texts that are crowded there.
async fn crowded(page: &Page, link: &str) -> Vec<String> {
    page.open(link).await;
    let mut found = list(page, CROWDED).await;
    open_everything(page).await;
    found.extend(list(page, CROWDED).await);
    found.sort();
    found.dedup();
    found
}

#[test]
fn language_longer_texts_have_room() {
    let copy = with_pseudo("room");
    for view in [DESK, PHONE] {
        browse(Options::new(copy.root()), view, async |page| {
            for link in ["#v=1&lang=x-pseudo", GERMAN] {
                let found = crowded(page, link).await;
                assert!(found.is_empty(), "{link} at {} px:\n{}", view.width, found.join("\n"));
            }
        });
    }
}

#[test]
fn language_german_page_reads_and_takes_a_comma_and_switches_with_its_state() {
    browse(dist(), DESK, async |page| {
        page.open(GERMAN).await;
        assert_eq!(page.value("document.documentElement.lang").await, json!("de"));
        let title = page.value("document.title").await;
        assert!(title.as_str().is_some_and(|title| title.contains("Prüfstand")), "{title}");
        assert_eq!(page.text("#undo").await, "Zurück");
        let density = page.text("[data-q=density] .headline-value").await;
        assert!(density.contains(',') && !density.contains('.'), "{density}");
        for (typed, vane, shown) in [("43,5", 43.5, "43,5"), ("41.5", 41.5, "41,5"), ("42", 42.0, "42")] {
            page.run_with(
                "const e = document.getElementById('vane-n'); e.value = arguments[0]; e.dispatchEvent(new Event('change', { bubbles: true })); return null;",
                vec![json!(typed)],
            )
            .await;
            page.settled().await;
            assert_eq!(page.value("document.getElementById('vane-n').value").await, json!(shown), "typed `{typed}`");
            page.rested().await;
            let link = page.value("location.hash").await;
            assert!(
                link.as_str().is_some_and(|link| link.contains(&format!("vane={vane}"))),
                "{link}: typed `{typed}`"
            );
        }
        // Keys step the field, beginning with the number that is typed.
        page.keys("#vane-n", "\u{e013}").await;
        page.settled().await;
        assert_eq!(page.value("document.getElementById('vane').value").await, json!("43"));
        page.drag("#vane", 0.43, 0.6).await;
        page.rested().await;
        let (vane, p3) = (page.value("document.getElementById('vane').value").await, headline(page, "p3").await);
        assert_ne!(vane, json!("43"));
        assert_eq!(page.axe().await, Vec::<String>::new());

        // The link keeps the state, and the device keeps the language.
        page.click("#more").await;
        page.click("#language").await;
        page.wait(
            "the page is English",
            "document.documentElement.lang === 'en' && document.getElementById('undo')?.textContent === 'Undo'",
        )
        .await;
        page.settled().await;
        assert_eq!(page.value("document.getElementById('vane').value").await, vane);
        assert_eq!(headline(page, "p3").await, p3);
        assert!(page.value("location.hash").await.as_str().is_some_and(|link| link.contains("lang=en")));
        page.open(GERMAN).await;
        assert_eq!(page.text("#undo").await, "Undo", "what was chosen counts for more than a link");
        page.assert_quiet().await;
    });
}

#[test]
fn language_a_lesson_in_another_language_than_the_page_says_so() {
    let copy = with_pseudo("pseudo-lesson");
    browse(Options::new(copy.root()), DESK, async |page| {
        let spoken = "[...document.querySelectorAll('#lesson :is(#l-h, .read p, .opt span)')].map((e) => (e.querySelector('[lang]') ?? e).closest('[lang]').lang)";
        // No lesson is written in the invented language.
        for (link, lesson, language) in
            [("#v=1&lang=x-pseudo", "price-in-the-loop", "en"), (GERMAN, "absolute-first", "de")]
        {
            page.open(&format!("{link}&lesson={lesson}&variant=7")).await;
            page.wait("the lesson is open", "document.querySelector('[data-variant=\"7\"]')").await;
            page.settled().await;
            let languages = page.value(spoken).await;
            let languages = languages.as_array().expect("a list");
            assert!(languages.len() > 3 && languages.iter().all(|l| *l == language), "{lesson}: {languages:?}");
        }
        page.assert_quiet().await;
    });
}

#[test]
fn language_follows_the_browser_and_costs_others_nothing() {
    browse(dist(), View { width: 390, ..DESK }, async |page| {
        page.requests().await;
        page.open("").await;
        assert_eq!(page.value("document.documentElement.lang").await, json!("en"));
        page.rested().await;
        let asked = page.requests().await;
        // The worker that keeps the page fetches everything. The page itself fetches no catalog.
        let by_page = page.value("performance.getEntriesByType('resource').map((e) => e.name)").await;
        let names = by_page.as_array().expect("names").iter().filter_map(Value::as_str).collect::<Vec<_>>();
        assert!(!asked.is_empty() && names.iter().all(|name| !name.contains("/language/")), "{names:?}");
        page.prefers("de-AT,de").await;
        page.open("").await;
        assert_eq!(page.value("document.documentElement.lang").await, json!("de"));
        assert!(page.value("!location.hash.includes('lang=')").await == json!(true), "nobody chose it");
        page.run_async("navigator.serviceWorker.ready.then(() => arguments[0](null));", vec![]).await;
        page.cut_off();
        page.open("").await;
        assert_eq!(page.value("document.documentElement.lang").await, json!("de"), "kept for use without a network");
    });
}

#[test]
fn language_without_its_texts_the_page_is_english_and_says_so() {
    let copy = Copy::new("no-catalog");
    fs::remove_file(copy.root().join("language/de.txt")).expect("there was one");
    browse(Options::new(copy.root()), DESK, async |page| {
        page.open(GERMAN).await;
        assert_eq!(page.value("document.documentElement.lang").await, json!("en"));
        assert!(page.text("#notice").await.contains("could not be loaded"));
        assert_eq!(page.count(".notices .notice").await, 1);
        page.drag("#vane", 0.5, 0.8).await;
        page.settled().await;
        assert!(headline(page, "p3").await > 0.0);
    });
}
