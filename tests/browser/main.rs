//! The page in a real browser, from a slider to a checkpoint. Run by `cargo xtask test`.

mod agree;
mod desk;
mod everybody;
mod language;
mod lessons;
mod lms;
mod offline;
mod views;

use serde_json::{Value, json};
use volute_lessons::catalog::catalog;
use volute_tests::browser::{DESK, DESK_DARK, PHONE, Page, View, browse, core_alone, dist};
use xtask::server::Options;

/// A slider with its number field, and a headline that must follow it.
const SLIDERS: [(&str, &str); 3] = [("vane", "p3"), ("load", "t3"), ("speed", "boost")];

/// A link whose settings differ from those that the bench opens with.
const LINK: &str = "#v=1&engine=harbour-six&vane=63&fuel_kg=0.00009&speed=1500";

/// The number of a headline cell.
async fn headline(page: &Page, quantity: &str) -> f64 {
    let text = page.text(&format!("[data-q={quantity}] .headline-value")).await;
    number(&text).unwrap_or_else(|| panic!("`{quantity}` shows `{text}`"))
}

/// A number as the page prints it: true minus, thin or plain spaces between thousands, point or comma.
fn number(text: &str) -> Option<f64> {
    let letter = |c| match c {
        '\u{2212}' => '-',
        ',' => '.',
        c => c,
    };
    let plain: String = text.chars().filter(|c| !c.is_whitespace()).map(letter).collect();
    plain.parse().ok().filter(|value: &f64| value.is_finite())
}

async fn slider(page: &Page, id: &str) -> f64 {
    page.value(&format!("document.getElementById('{id}').valueAsNumber")).await.as_f64().expect("a range input")
}

async fn field(page: &Page, id: &str) -> f64 {
    page.value(&format!("Number(document.getElementById('{id}-n').value)")).await.as_f64().expect("a number field")
}

#[test]
fn sliders_answer_the_pointer() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        for (id, quantity) in SLIDERS {
            page.drag(&format!("#{id}"), 0.5, 0.8).await;
            page.settled().await;
            let (position, shown, before) =
                (slider(page, id).await, field(page, id).await, headline(page, quantity).await);
            page.drag(&format!("#{id}"), 0.8, 0.55).await;
            page.settled().await;
            let after = slider(page, id).await;
            assert!(after < position, "{id} went from {position} to {after}");
            assert!(field(page, id).await < shown, "the field beside {id} follows");
            assert_ne!(headline(page, quantity).await, before, "{quantity} follows {id}");
        }
        page.assert_quiet().await;
    });
}

#[test]
fn sliders_answer_the_keyboard() {
    const RIGHT: &str = "\u{e014}";
    const LEFT: &str = "\u{e012}";
    const PAGE_DOWN: &str = "\u{e00f}";
    const HOME: &str = "\u{e011}";
    const END: &str = "\u{e010}";
    browse(dist(), DESK, async |page| {
        page.open("").await;
        for (id, quantity) in SLIDERS {
            let css = format!("#{id}");
            let step =
                page.value(&format!("Number(document.getElementById('{id}').step)")).await.as_f64().expect("a step");
            page.rested().await;
            let begin = slider(page, id).await;
            let before = headline(page, quantity).await;
            page.keys(&css, RIGHT).await;
            page.settled().await;
            let right = slider(page, id).await;
            assert!(
                (right - begin - step).abs() < 1e-9 * right,
                "{id}: one step of {step} right of {begin} is {right}"
            );
            page.keys(&css, LEFT).await;
            page.rested().await;
            assert_eq!(slider(page, id).await, begin, "{id}: and back");
            assert_eq!(headline(page, quantity).await, before, "{quantity}: the same settings give the same number");
            page.keys(&css, PAGE_DOWN).await;
            page.settled().await;
            assert!(slider(page, id).await < begin - 2.0 * step, "{id}: a page is more than two steps");
            assert_ne!(headline(page, quantity).await, before, "{quantity} follows {id}");
            for (key, end) in [(END, "max"), (HOME, "min")] {
                page.keys(&css, key).await;
                page.settled().await;
                let expected = page.value(&format!("Number(document.getElementById('{id}').{end})")).await.as_f64();
                assert_eq!(Some(slider(page, id).await), expected, "{id}: {end}");
            }
            let spoken = page.value(&format!("document.getElementById('{id}').getAttribute('aria-valuetext')")).await;
            assert!(
                spoken.as_str().is_some_and(|text| text.chars().any(char::is_alphabetic) || text.contains('%')),
                "{id} speaks `{spoken}`"
            );
        }
        page.assert_quiet().await;
    });
}

#[test]
fn a_link_opens_its_settings() {
    browse(dist(), DESK, async |page| {
        page.open(LINK).await;
        assert_eq!(field(page, "vane").await, 63.0);
        assert_eq!(field(page, "load").await, 90.0);
        assert_eq!(field(page, "speed").await, 1500.0);
        let readings = [headline(page, "boost").await, headline(page, "p3").await, headline(page, "t3").await];
        // The page keeps the address up to date. That address opens the same bench again.
        page.keys("#vane", "\u{e014}").await;
        page.wait("the address follows", "location.hash.includes('vane=64')").await;
        page.keys("#vane", "\u{e012}").await;
        page.wait("the address follows", "location.hash.includes('vane=63')").await;
        let address = page.value("location.hash").await;
        page.open(address.as_str().unwrap_or_default()).await;
        assert_eq!(field(page, "vane").await, 63.0);
        assert_eq!([headline(page, "boost").await, headline(page, "p3").await, headline(page, "t3").await], readings);
        page.assert_quiet().await;
    });
}

#[test]
fn a_page_that_breaks_says_so_and_keeps_the_settings() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.drag("#vane", 0.5, 0.8).await;
        page.settled().await;
        page.rested().await;
        let held = field(page, "vane").await;
        // The page cannot make its next element, as happens when memory runs out.
        page.run(
            "const [make, copy] = [Document.prototype.createElement, Node.prototype.cloneNode];
             const fail = () => {
                 [Document.prototype.createElement, Node.prototype.cloneNode] = [make, copy];
                 throw new Error('no element');
             };
             [Document.prototype.createElement, Node.prototype.cloneNode] = [fail, fail];
             document.getElementById('pin').click();",
        )
        .await;
        page.wait("it is said", "document.querySelector('#broken[role=alert]')").await;
        assert!(page.text("#broken").await.contains("Load it again: the address holds your settings"));
        assert!(page.console().await.iter().any(|line| line.contains("panicked at")), "a developer sees where");
        page.run("location.reload()").await;
        page.settled().await;
        assert_eq!((field(page, "vane").await, page.count("#broken").await), (held, 0));
    });
}

#[test]
fn a_broken_link_gives_a_message_and_the_page_lives() {
    for (broken, cause) in [
        ("#v=1&vane=abc", "`vane=abc` is not a number"),
        ("#v=1&vane=250", "outside 0 to 100"),
        ("#v=99", "version `99`"),
        ("#%zz", "`%zz`"),
        ("#v=1&engine=no-such", "no engine `no-such`"),
        ("#v=1&vane=NaN&speed=1e999", "vane"),
    ] {
        browse(dist(), DESK, async |page| {
            page.open(broken).await;
            let notice = page.text("#notice").await;
            assert!(notice.contains("link is damaged") && notice.contains(cause), "{broken}: {notice}");
            let before = headline(page, "p3").await;
            page.drag("#vane", 0.5, 0.9).await;
            page.settled().await;
            assert_ne!(headline(page, "p3").await, before, "{broken}: the bench answers");
            page.assert_quiet().await;
        });
    }
}

#[test]
fn nothing_is_asked_of_another_host() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.drag("#vane", 0.5, 0.7).await;
        page.settled().await;
        let requests = page.requests().await;
        assert!(requests.iter().any(|address| address.contains(".wasm")), "the log sees requests: {requests:#?}");
        let own = [page.url(), "data:".into(), "blob:".into(), "about:".into()];
        let foreign: Vec<_> =
            requests.iter().filter(|address| !own.iter().any(|start| address.starts_with(start))).collect();
        assert!(foreign.is_empty(), "{foreign:#?}");
        page.assert_quiet().await;
    });
}

#[test]
fn axe_finds_nothing() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        for view in [DESK, DESK_DARK, PHONE, View { dark: true, ..PHONE }] {
            page.look(view).await;
            page.settled().await;
            let findings = page.axe().await;
            assert!(findings.is_empty(), "{view:?}: {findings:#?}");
        }
    });
}

#[test]
fn no_sideways_scroll_on_narrow_screens() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        for width in [320, 390, 768, 1024] {
            page.look(View { width, height: 844, dark: false }).await;
            page.settled().await;
            let wide =
                page.value("[document.documentElement.scrollWidth, document.body.scrollWidth, innerWidth]").await;
            let wide = wide.as_array().expect("widths").iter().map(|width| width.as_u64().unwrap_or(u64::MAX));
            assert!(wide.clone().all(|wide| wide <= u64::from(width)), "{width}: {:?}", wide.collect::<Vec<_>>());
        }
    });
}

#[test]
fn the_first_view_holds_sliders_and_headlines() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        for css in [
            "#vane",
            "#load",
            "#speed",
            "[data-q=boost] .headline-value",
            "[data-q=p3] .headline-value",
            "[data-q=t3] .headline-value",
            "[data-q=density] .headline-value",
            "[data-q=pumping] .headline-value",
        ] {
            let (x, y, width, height) = page.find(css).await.rectangle().await.expect("rectangle");
            assert!(
                0.0 <= x && x + width <= 1366.0 && 0.0 <= y && y + height <= 768.0,
                "{css} at {x}, {y}, {width} by {height}"
            );
        }
        assert!(!page.text("#verdict").await.trim().is_empty());
        assert!(!page.text("#limits").await.trim().is_empty());
    });
}

/// The most that a first visit may transfer, in bytes, until the bench of the first view and its list of lessons are there.
/// Views below it, lessons, platforms and the desk come later, in modules of their own.
const FIRST_VISIT: usize = 400_000;

#[test]
fn the_first_visit_is_light() {
    browse(dist(), DESK, async |page| {
        page.open_first_view("").await;
        page.wait("the type is there", "document.fonts.status === 'loaded'").await;
        let files = page.transferred(&dist().root).await;
        let total: usize = files.iter().map(|(_, _, sent)| sent).sum();
        assert!(files.iter().any(|(name, ..)| name.ends_with(".wasm")), "{files:#?}");
        println!("a first visit: {total} bytes");
        assert!(total <= FIRST_VISIT, "{total} bytes, more than {FIRST_VISIT}: {files:#?}");
    });
}

#[test]
fn works_below_a_folder() {
    browse(Options { folder: "school/course-7".into(), ..dist() }, DESK, async |page| {
        page.open("").await;
        headline(page, "boost").await;
        page.assert_quiet().await;
    });
}

#[test]
fn works_where_the_host_does_not_know_wasm() {
    browse(Options { wasm_type: "application/octet-stream".into(), ..dist() }, DESK, async |page| {
        page.open("").await;
        headline(page, "boost").await;
        page.assert_quiet().await;
    });
}

/// What can be read even if the bench does not start.
const SAYS_WHAT_IT_IS: [&str; 2] =
    ["putting more into the crankshaft than it takes out", "A teaching model, not a tuning instruction."];

#[test]
fn readable_where_wasm_does_not_arrive() {
    browse(dist(), DESK, async |page| {
        page.devtools("Network.enable", json!({})).await;
        page.devtools("Network.setBlockedURLs", json!({ "urls": ["*.wasm*"] })).await;
        page.visit("").await;
        page.wait("the note is shown", "!document.getElementById('failed').hidden").await;
        let body = page.text("body").await;
        for sentence in SAYS_WHAT_IT_IS.into_iter().chain(["The bench could not start:"]) {
            assert!(body.contains(sentence), "`{sentence}` is missing in\n{body}");
        }
        assert!(!body.contains("is loading"), "{body}");
        let findings = page.axe().await;
        assert!(findings.is_empty(), "{findings:#?}");
    });
}

#[test]
fn readable_without_scripts() {
    browse(dist(), PHONE, async |page| {
        page.devtools("Emulation.setScriptExecutionDisabled", json!({ "value": true })).await;
        page.visit("").await;
        // Without scripts the driver cannot ask the page. So we ask the browser's accessibility tree, which a screen reader gets.
        page.devtools("Accessibility.enable", json!({})).await;
        let tree = page.devtools("Accessibility.getFullAXTree", json!({})).await;
        let words: String = tree["nodes"]
            .as_array()
            .expect("nodes")
            .iter()
            .filter(|node| node["role"]["value"] == "StaticText")
            .filter_map(|node| node["name"]["value"].as_str())
            .collect();
        for sentence in SAYS_WHAT_IT_IS.into_iter().chain(["JavaScript is switched off in this browser."]) {
            assert!(words.contains(sentence), "`{sentence}` is missing in\n{words}");
        }
    });
}

#[test]
fn agrees_with_the_native_core() {
    browse(core_alone(), DESK, async |page| {
        page.visit("").await;
        let browser = page.core("return core.answers();").await;
        let browser: Value = serde_json::from_str(browser.as_str().unwrap_or_default())
            .unwrap_or_else(|_| panic!("no answers: {browser}"));
        let native: Value = serde_json::from_str(&agree::answers()).expect("JSON");
        let count = |value: &Value, key: &str| {
            value.as_array().map_or(0, |all| all.iter().filter(|one| !one[key].is_null()).count())
        };
        assert!(
            count(&native, "reading") >= 10 && count(&native, "samples") >= 2,
            "too few points were solved to compare"
        );
        let mut differences = Vec::new();
        compare("", &native, &browser, &mut differences);
        assert!(
            differences.is_empty(),
            "{} differences, the first: {:#?}",
            differences.len(),
            &differences[..differences.len().min(20)]
        );
    });
}

/// For so many learners the answers of every lesson are compared.
const LEARNERS: u32 = 20;

/// Native and WASM give the same answers, bit for bit, to every question of every lesson for twenty learners.
#[test]
fn agrees_with_the_native_lessons() {
    browse(core_alone(), DESK, async |page| {
        page.visit("").await;
        for (i, lesson) in catalog().lessons.iter().enumerate() {
            for seed in 0..LEARNERS {
                let native = agree::lesson_answers(i, seed).expect("a lesson");
                assert!(native.lines().count() > 4, "{}: too little to compare", lesson.id);
                let browser = page.core(&format!("return core.lesson_answers({i}, {seed});")).await;
                let browser = browser.as_str().unwrap_or_else(|| panic!("{}: no answers: {browser}", lesson.id));
                for (native, browser) in native.lines().zip(browser.lines()) {
                    assert_eq!(native, browser, "{}, seed {seed}", lesson.id);
                }
                assert_eq!(native.lines().count(), browser.lines().count(), "{}, seed {seed}", lesson.id);
            }
        }
    });
}

/// The largest relative difference that a number of the browser may have from the native one.
const AGREE: f64 = 1e-9;

/// Collects every field in which two answers differ.
fn compare(path: &str, native: &Value, browser: &Value, differences: &mut Vec<String>) {
    match (native, browser) {
        (Value::Object(a), Value::Object(b)) if a.len() == b.len() => {
            for (key, value) in a {
                compare(&format!("{path}.{key}"), value, b.get(key).unwrap_or(&Value::Null), differences);
            }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (index, (x, y)) in a.iter().zip(b).enumerate() {
                compare(&format!("{path}[{index}]"), x, y, differences);
            }
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
            // Written so that a NaN counts as a difference.
            let same = (a - b).abs() <= AGREE * a.abs().max(b.abs());
            if !same {
                differences.push(format!("{path}: native {a:e}, browser {b:e}"));
            }
        }
        _ if native == browser => {}
        _ => differences.push(format!("{path}: native {native}, browser {browser}")),
    }
}
