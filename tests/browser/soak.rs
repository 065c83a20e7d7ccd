//! Uses the page at random for a while. Does the console stay empty, do the texts make sense, does it stop growing? `cargo
//! xtask soak` runs it.

use serde_json::{Value, json};
use std::collections::VecDeque;
use std::ops::Range;
use std::time::{Duration, Instant};
use volute_lessons::catalog::catalog;
use volute_tests::browser::{DESK, Page, View, browse, dist};

/// The page is always measured in this state, so that the measurements can be compared.
const MEASURED: &str = "v=1&engine=harbour-six&vane=63&fuel_kg=0.00009&speed=1500";

/// Measurements of a run, without the one before it.
const ROWS: u32 = 8;

/// How many measurements between two loads it takes to judge the page: one to warm up, one before, one after.
const LEAST_ROWS: usize = 3;

/// Steps that do nothing. They show what the driver itself leaves behind.
const IDLE: u32 = 200;

/// How many errors are printed when they are found, and how many of the last ones at the end.
const MOST_TOLD: usize = 3;

/// How many of the last steps are printed with an error.
const TOLD: usize = 12;

/// The least measurement in the second half of a run may exceed the least of the first half by this share…
const GROWTH: f64 = 0.10;
/// …and by this much more, which counts where numbers are small: bytes of the heap, bytes of WASM, nodes of the document,
/// listeners.
const SLACK: [f64; 4] = [1e6, 1e6, 300.0, 100.0];
const MEASURES: [&str; 4] = ["JS heap", "WASM memory", "DOM nodes", "listeners"];

/// What people paste into fields. No entry has a word that the page must not show, because the page may quote the entry. Rust
/// still reads `nAn` and `iNf` as not a number and infinity.
const NONSENSE: [&str; 18] = [
    "",
    " ",
    "abc",
    "nAn",
    "iNf",
    "-iNf",
    "1e999",
    "-1e999",
    "1e-999",
    "-0",
    "0",
    "12,5",
    "1.2.3",
    "0x10",
    "\u{663}\u{664}",
    "<b>x</b>",
    "\u{202e}\u{0}\u{1f4a5}",
    "99999999999999999999999999999999999999999",
];

/// Fragments that are damaged or nearly right.
const BROKEN: [&str; 8] = [
    "",
    "v=99",
    "%zz",
    "v=1&vane=abc",
    "v=1&vane=nAn&speed=1e999",
    "v=1&engine=no-such",
    "v=1&lesson=no-such&variant=7",
    "v=1&vane=1&vane=2",
];

/// Keys with their codes, as the browser's protocol wants them.
const KEYS: [(&str, u32); 14] = [
    ("Tab", 9),
    ("Enter", 13),
    (" ", 32),
    ("Escape", 27),
    ("ArrowLeft", 37),
    ("ArrowUp", 38),
    ("ArrowRight", 39),
    ("ArrowDown", 40),
    ("Home", 36),
    ("End", 35),
    ("PageUp", 33),
    ("PageDown", 34),
    ("z", 90),
    ("5", 53),
];

/// Begins each script. It finds the elements of a kind that a person could use now.
const USABLE: &str = "
    const usable = (css) => [...document.querySelectorAll(css)].filter((e) => !e.disabled && e.getClientRects().length > 0);
    const tell = (e) => e ? `${e.tagName.toLowerCase()}#${e.id} ${(e.textContent || e.name || '').trim().slice(0, 30)}` : 'nothing there';
    const say = (e, kind) => e.dispatchEvent(new Event(kind, { bubbles: true }));
    const [at, what] = arguments;
    const pick = (css) => { const all = usable(css); return all[Math.floor(at * all.length)]; };";

/// Searches everything that can be read or heard on the page for what is not a number.
const SENSELESS: &str = "
    const texts = [document.body.innerText];
    for (const e of document.querySelectorAll('svg text, svg title, svg desc')) texts.push(e.textContent);
    for (const e of document.querySelectorAll('[aria-label], [aria-valuetext], [title]')) {
        texts.push(e.getAttribute('aria-label') ?? '', e.getAttribute('aria-valuetext') ?? '', e.title ?? '');
    }
    // In German, `null` means zero.
    const nothing = document.documentElement.lang === 'de' ? '' : '\\\\bnull\\\\b|';
    const bad = texts.join('\\n').match(
        RegExp(`.{0,60}(${nothing}\\\\bNaN\\\\b|\\\\b-?inf\\\\b|\\\\bInfinity\\\\b|\\\\bundefined\\\\b|\\\\[object ).{0,60}`));
    return bad ? bad[0] : document.getElementById('vane') ? null : 'the sliders are gone';";

/// A small random generator. The same seed gives the same run on every machine.
struct Dice(u64);

impl Dice {
    /// Source: the `SplitMix64` of Steele, Lea and Flood, 2014 (from memory). Chosen: any fair generator would do.
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to below 1.
    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        (self.share() * count as f64) as usize
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }
}

/// Runs for `minutes`. Returns whether all was well.
pub fn soak(minutes: f64, seed: u64) -> bool {
    let (mut errors, mut told) = (Vec::new(), 0);
    println!("{minutes} min of random operation, seed {seed}");
    println!(
        "     min    steps   JS heap kB   WASM kB   DOM nodes   listeners   console   senseless   requests abroad"
    );
    browse(dist(), DESK, async |page| {
        page.devtools("Browser.setDownloadBehavior", json!({ "behavior": "deny" })).await;
        let quiet = "window.print = () => {};";
        page.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": quiet })).await;
        page.open(&format!("#{MEASURED}")).await;
        let (mut dice, mut last, mut steps, mut depth) = (Dice(seed), VecDeque::new(), 0_u32, 0_u32);
        // With each script the driver leaves a little in the page's heap. That must not count against the page.
        let before = measure(page).await;
        for _ in 0..IDLE {
            idle(page).await;
        }
        let after = measure(page).await;
        let idle_bytes = ((after[0] - before[0]) / f64::from(IDLE)).max(0.0);
        println!("    (already without {idle_bytes:.0} bytes a step, which a step that does nothing costs the driver)");
        let (mut rows, mut lives) = (vec![after], vec![loaded_at(page).await]);
        print_row(0.0, 0, &rows[0], [0; 3]);
        let begun = Instant::now();
        let slice = Duration::from_secs_f64(minutes * 60.0 / f64::from(ROWS));
        for row in 1..=ROWS {
            let mut found = [0_usize; 3];
            while begun.elapsed() < slice * row {
                let step = one_step(page, &mut dice, &mut depth).await;
                steps += 1;
                last.push_back(format!("{steps}: {step}"));
                if last.len() > TOLD {
                    last.pop_front();
                }
                page.settled().await;
                let said = page.console().await;
                let senseless = page.run(SENSELESS).await;
                found[0] += said.len();
                found[1] += usize::from(!senseless.is_null());
                if !said.is_empty() || !senseless.is_null() {
                    errors.push(format!("{senseless} {said:#?}\n  after {last:#?}"));
                    // Printed at once, so that nobody waits for the end of a long run to hear of it.
                    if errors.len() <= MOST_TOLD {
                        println!("\n{}\n", errors[errors.len() - 1]);
                    }
                }
            }
            let home = page.url();
            let own = [home.as_str(), "data:", "blob:", "about:"];
            let abroad = page.requests().await;
            let abroad: Vec<_> = abroad.iter().filter(|to| !own.iter().any(|start| to.starts_with(start))).collect();
            found[2] = abroad.len();
            if !abroad.is_empty() {
                errors.push(format!("asked of other hosts: {abroad:#?}"));
            }
            let mut measured = measure(page).await;
            measured[0] -= idle_bytes * f64::from(steps);
            rows.push(measured);
            lives.push(loaded_at(page).await);
            print_row(begun.elapsed().as_secs_f64() / 60.0, steps, &rows[row as usize], found);
        }
        told = errors.len().min(MOST_TOLD);
        // A page that is loaded again begins again. So growth is judged within the longest time between two loads.
        let life = longest(&lives);
        println!("judged: rows {} to {}, one life of the page", life.start, life.end - 1);
        if life.len() < LEAST_ROWS {
            errors.push("the page was loaded anew too often to judge whether it grows: run it for longer".into());
        }
        for (index, measure) in MEASURES.iter().enumerate() {
            let column: Vec<f64> = rows[life.clone()].iter().map(|row| row[index]).collect();
            errors.extend(grows(&column, SLACK[index], measure));
        }
    });
    for error in errors.iter().skip(told).rev().take(MOST_TOLD) {
        println!("\n{error}");
    }
    println!(
        "\n{} error{}. Judged: each measure after two forced collections, in the same state of the page, within the longest \
         life of the page; the least of its last half may exceed the least of the half before by {:.0} % and a little (1 MB, 300 \
         nodes, 100 listeners). Its first row, while things warm up, does not count.",
        errors.len(),
        if errors.len() == 1 { "" } else { "s" },
        100.0 * GROWTH,
    );
    errors.is_empty()
}

/// The time at which the page was loaded, by the clock of the browser.
async fn loaded_at(page: &Page) -> f64 {
    page.run("return performance.timeOrigin;").await.as_f64().unwrap_or_default()
}

/// The longest run of measurements between two loads of the page; the last one, if several are as long.
fn longest(lives: &[f64]) -> Range<usize> {
    let mut best = 0..0;
    let mut from = 0;
    for at in 1..=lives.len() {
        if lives.get(at) != lives.get(from) {
            if best.len() <= at - from {
                best = from..at;
            }
            from = at;
        }
    }
    best
}

/// A sentence about a measure that keeps growing, if it does. The first value does not count, because the page warms up.
fn grows(values: &[f64], slack: f64, measure: &str) -> Option<String> {
    let used = values.get(1..)?;
    let (first, second) = used.split_at(used.len() / 2);
    let least = |part: &[f64]| part.iter().copied().fold(f64::INFINITY, f64::min);
    let (before, after) = (least(first), least(second));
    let most = before * (1.0 + GROWTH) + slack;
    (most < after)
        .then(|| format!("{measure} keeps growing: at least {before:.0} in the first half, {after:.0} in the second"))
}

fn print_row(min: f64, steps: u32, row: &[f64; 4], found: [usize; 3]) {
    let [heap, wasm, nodes, listeners] = row;
    println!(
        "{min:>8.2} {steps:>8} {:>12.0} {:>9.0} {nodes:>11} {listeners:>11} {:>9} {:>11} {:>17}",
        heap / 1024.0,
        wasm / 1024.0,
        found[0],
        found[1],
        found[2]
    );
}

/// Heap in use, WASM memory, nodes and listeners, with the page in the state [`MEASURED`].
async fn measure(page: &Page) -> [f64; 4] {
    page.look(DESK).await;
    page.run_async(
        "const [fragment, done] = arguments;
         document.activeElement?.blur();
         scrollTo(0, 0);
         location.hash = fragment;
         setTimeout(() => requestAnimationFrame(() => done(null)), 2000);",
        vec![json!(MEASURED)],
    )
    .await;
    for _ in 0..2 {
        page.devtools("HeapProfiler.collectGarbage", json!({})).await;
    }
    let heap = page.devtools("Runtime.getHeapUsage", json!({})).await;
    let counters = page.devtools("Memory.getDOMCounters", json!({})).await;
    let wasm = page.wasm_bytes().await;
    [&heap["usedSize"], &wasm, &counters["nodes"], &counters["jsEventListeners"]]
        .map(|value| value.as_f64().unwrap_or_else(|| panic!("no measure: {value}, {heap}, {counters}")))
}

/// Runs as many scripts as a step, but does not touch the page.
async fn idle(page: &Page) {
    for body in ["return null;", "return 'nothing';"] {
        page.run_with(&format!("{USABLE}{body}"), vec![json!(0.5), Value::Null]).await;
    }
    page.settled().await;
    page.console().await;
    page.run(SENSELESS).await;
}

/// Does one thing that a person might do, and returns what it was.
async fn one_step(page: &Page, dice: &mut Dice, depth: &mut u32) -> String {
    let (at, other) = (dice.share(), dice.share());
    let script = async |body: &str, what: Value| {
        let told = page.run_with(&format!("{USABLE}{body}"), vec![json!(at), what]).await;
        told.as_str().unwrap_or_default().to_string()
    };
    match dice.below(100) {
        0..30 => {
            let told = script(
                "const e = pick('input[type=range]');
                 if (e) { e.value = Number(e.min) + what * (e.max - e.min); say(e, 'input'); say(e, 'change'); }
                 return tell(e);",
                json!(other),
            );
            format!("slider {} to {other:.3}", told.await)
        }
        30..45 => {
            let (key, code) = dice.of(&KEYS);
            let told = script(
                "const e = pick('input, button, select, textarea, summary, [tabindex]'); e?.focus(); return tell(e);",
                Value::Null,
            )
            .await;
            for _ in 0..=dice.below(4) {
                for kind in ["keyDown", "keyUp"] {
                    let text = if key.len() == 1 {
                        key
                    } else if key == "Enter" && kind == "keyDown" {
                        "\r"
                    } else {
                        ""
                    };
                    let mut event = json!({ "type": kind, "key": key, "windowsVirtualKeyCode": code });
                    if kind == "keyDown" && !text.is_empty() {
                        event["text"] = json!(text);
                    }
                    page.devtools("Input.dispatchKeyEvent", event).await;
                }
            }
            format!("key {key} on {told}")
        }
        45..60 => {
            let told = script(
                "const e = pick(`button, summary, a[href^='#'], input[type=radio], input[type=checkbox]`); e?.click(); return tell(e);",
                Value::Null,
            );
            format!("click on {}", told.await)
        }
        60..66 => {
            let told = script(
                "const e = pick('select');
                 if (e) { e.selectedIndex = Math.floor(what * e.options.length); say(e, 'input'); say(e, 'change'); }
                 return tell(e);",
                json!(other),
            );
            format!("choice {other:.3} of {}", told.await)
        }
        66..80 => {
            let text = dice.of(&NONSENSE);
            let told = script(
                "const e = pick(`input[type=number], input[type=text], input:not([type]), textarea`);
                 e?.focus();
                 e?.select();
                 return tell(e);",
                Value::Null,
            )
            .await;
            // As if typed or pasted. The field itself decides what it accepts.
            page.devtools("Input.insertText", json!({ "text": text })).await;
            page.run("document.activeElement?.blur();").await;
            format!("`{}` into {told}", text.escape_debug())
        }
        80..84 if 0 < *depth => {
            // We never go back beyond the page itself, only as far as we came forward.
            *depth -= 1;
            page.run("history.back();").await;
            "back".into()
        }
        80..86 => {
            page.run("history.forward();").await;
            "forward".into()
        }
        86..91 => {
            let fragment = match dice.below(3) {
                0 => dice.of(&BROKEN).to_string(),
                _ => format!(
                    "v=1&engine={}&vane={:.0}&fuel_kg={:.6}&speed={:.0}",
                    dice.of(&["harbour-six", "van-four"]),
                    100.0 * at,
                    2e-4 * other,
                    600.0 + 3000.0 * dice.share()
                ),
            };
            go(page, &fragment, depth).await
        }
        91..95 => {
            let lessons = &catalog().lessons;
            let id = &lessons[dice.below(lessons.len())].id;
            go(page, &format!("v=1&lesson={id}&variant={}", 1 + dice.below(9999)), depth).await
        }
        _ => {
            let view = View {
                width: 320 + dice.below(1600) as u32,
                height: 256 + dice.below(900) as u32,
                dark: dice.below(2) == 1,
            };
            page.look(view).await;
            format!("{view:?}")
        }
    }
}

async fn go(page: &Page, fragment: &str, depth: &mut u32) -> String {
    let told = page
        .run_with(
            "const before = location.href; location.hash = arguments[0]; return location.href === before ? 'same' : 'new';",
            vec![json!(fragment)],
        )
        .await;
    *depth += u32::from(told == json!("new"));
    format!("link #{fragment}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn growth_is_told_from_warming_up_and_from_a_spike() {
        let says = |values: &[f64]| grows(values, 1.0, "it").is_some();
        assert!(!says(&[1.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0]), "warmed up");
        assert!(!says(&[1.0, 50.0, 50.0, 50.0, 50.0, 90.0, 50.0, 90.0, 90.0]), "not yet collected");
        assert!(!says(&[1.0, 50.0, 51.0, 52.0, 53.0, 54.0, 55.0, 56.0, 57.0]), "within a tenth");
        assert!(says(&[1.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0]), "a leak");
    }

    #[test]
    fn a_page_that_is_loaded_anew_begins_a_new_life() {
        assert_eq!(longest(&[]), 0..0);
        assert_eq!(longest(&[1.0]), 0..1);
        assert_eq!(longest(&[1.0, 1.0, 2.0, 2.0, 2.0, 3.0]), 2..5);
        assert_eq!(longest(&[1.0, 1.0, 2.0, 2.0]), 2..4);
    }

    #[test]
    fn the_same_seed_gives_the_same_steps() {
        // The first values of seed 1234567, as the generator's test programs print them (from memory).
        let mut dice = Dice(1_234_567);
        assert_eq!([dice.next(), dice.next()], [6_457_827_717_110_365_317, 3_203_168_211_198_807_973]);
    }
}
