//! Timings, pictures, size and endurance of the built page, for `cargo xtask bench-page`, `pictures`, `icons`, `size` and `soak`.

mod soak;

use serde_json::{Value, json};
use std::fs;
use std::process::ExitCode;
use volute_tests::browser::{Copy, DESK, DESK_DARK, PHONE, Page, View, browse, core_alone, dist, root};
use xtask::server::Options;

fn main() -> ExitCode {
    match std::env::args().nth(1).as_deref() {
        Some("bench") => bench(),
        Some("pictures") => pictures(),
        Some("size") => size(),
        Some("icons") => icons(),
        Some("soak") => {
            let number = |at| std::env::args().nth(at);
            let (minutes, seed) = (number(2).and_then(|n| n.parse().ok()), number(3).and_then(|n| n.parse().ok()));
            let (Some(minutes), Some(seed)) = (minutes, seed) else { return usage() };
            return if soak::soak(minutes, seed) { ExitCode::SUCCESS } else { ExitCode::FAILURE };
        }
        _ => return usage(),
    }
    ExitCode::SUCCESS
}

fn usage() -> ExitCode {
    eprintln!("run by `cargo xtask bench-page`, `pictures`, `icons`, `size` or `soak`");
    ExitCode::FAILURE
}

/// Moves one slider to a row of positions. Each event begins in a frame, as a real one does. The clock stops in the first task
/// after the browser has painted that frame, so script, style, layout and paint all count. Returns the times in ms, how many
/// different readings were seen, and how much of each time the scripts took.
const EVENTS: &str = "
    const [id, positions, done] = arguments;
    const slider = document.getElementById(id), times = [], scripts = [], seen = new Set();
    const next = (i) => requestAnimationFrame(() => {
        if (i === positions.length) return done([times, seen.size, scripts]);
        const begun = performance.now();
        slider.value = positions[i];
        slider.dispatchEvent(new Event('input', { bubbles: true }));
        scripts.push(performance.now() - begun);
        const painted = new MessageChannel();
        painted.port1.onmessage = () => {
            times.push(performance.now() - begun);
            seen.add([...document.querySelectorAll('[data-q] .headline-value')].map((e) => e.textContent).join());
            next(i + 1);
        };
        painted.port2.postMessage(null);
    });
    next(0);";

/// How many events there are for each slider and each way to move it.
const COUNT: usize = 120;

/// How often each kind of page is loaded.
const LOADS: usize = 10;

/// The time from the request of the page to a slider that answers, with empty caches, over a network of 40 ms and 10 Mbit/s. It
/// is taken for the page as built, and for one without the links that fetch glue and WASM before the boot script runs.
fn start() {
    const READY: &str = "
        new MutationObserver((_, watch) => {
            if (document.getElementById('vane') && !document.getElementById('start')) {
                watch.disconnect();
                requestAnimationFrame(() => setTimeout(() => { window.readyAt = performance.now(); }));
            }
        }).observe(document, { childList: true, subtree: true });";
    let copy = Copy::new("start");
    let built = fs::read_to_string(copy.root().join("index.html")).expect("the page");
    let plain: String =
        built.lines().filter(|line| !line.contains("preload\"")).map(|line| format!("{line}\n")).collect();
    assert_ne!(plain.len(), built.len(), "the page preloads nothing");
    fs::write(copy.root().join("plain.html"), plain).expect("a copy of the page");
    browse(Options::new(copy.root()), DESK, async |page| {
        page.devtools("Network.enable", json!({})).await;
        page.devtools("Network.setCacheDisabled", json!({ "cacheDisabled": true })).await;
        page.devtools("Network.setBypassServiceWorker", json!({ "bypass": true })).await;
        page.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": READY })).await;
        let slow =
            json!({ "offline": false, "latency": 40, "downloadThroughput": 1_250_000, "uploadThroughput": 1_250_000 });
        page.devtools("Network.emulateNetworkConditions", slow).await;
        let mut times = [vec![], vec![]];
        for _ in 0..LOADS {
            for (tail, times) in ["", "plain.html"].into_iter().zip(&mut times) {
                page.visit(tail).await;
                page.wait("a slider that answers", "window.readyAt").await;
                times.push(page.value("window.readyAt").await.as_f64().expect("a time"));
            }
        }
        println!("first visit to a slider that answers, {LOADS} loads           median      95 %   longest");
        row("as built", &times[0]);
        row("without preloading", &times[1]);
        let ratio = percentile(&times[0], 0.5) / percentile(&times[1], 0.5);
        println!("ratio of the medians {ratio:.2}\n");
    });
}

/// Opens everything that can be opened: tables, what-ifs, a pin with its ledger, a run that is kept.
const OPEN: &str = "
    for (const d of document.querySelectorAll('details')) d.open = true;
    for (const id of ['pin', 'time-step', 'time-keep']) document.getElementById(id).click();
    return document.documentElement.scrollHeight;";

/// A window tall enough for the whole page.
const TALL: View = View { width: 1366, height: 5200, dark: false };

fn bench() {
    start();
    slide("as it opens, 1366 x 768", DESK, false);
    slide("every view open, 1366 x 768", DESK, true);
    slide("every view open and in sight, 1366 x 5200", TALL, true);
    browse(core_alone(), DESK, async |page| {
        page.visit("").await;
        println!("\nthe core alone, in WASM                                 median      95 %   longest");
        row("one point from nothing", &timed(page, "core.solve()", 40).await);
        row("one point from a neighbour", &timed(page, "core.step(i)", 200).await);
        row("sweep of 41 points over the vanes", &timed(page, "core.sweep(41)", 20).await);
        let intervals = 2000;
        let march = timed(page, &format!("core.march({intervals}) - core.march(0)"), 10).await;
        let simulated_s = page.core(&format!("return core.march({intervals});")).await.as_f64().expect("a time");
        row(&format!("{intervals} firing intervals in time"), &march);
        let median_ms = percentile(&march, 0.5);
        println!(
            "one firing interval {:.1} µs, {:.0} times faster than real time",
            1000.0 * median_ms / f64::from(intervals),
            1000.0 * simulated_s / median_ms
        );
    });
}

/// Times each slider in a window, with or without everything opened.
fn slide(what: &str, view: View, open: bool) {
    browse(dist(), view, async |page| {
        page.open("").await;
        if open {
            let height = page.run(OPEN).await;
            page.rested().await;
            println!("the page is {height} px high");
        }
        println!("{what}: slider event to painted page, {COUNT} events each");
        println!("                                                          median      95 %   longest");
        for id in ["vane", "load", "speed"] {
            let ends = format!("['min', 'max', 'step'].map((end) => Number(document.getElementById('{id}')[end]))");
            let [min, max, step] = numbers(&page.value(&ends).await)[..] else { panic!("{id} is no slider") };
            let steps = ((max - min) / step).floor();
            // First step by step up and down the middle half of the slider, as a hand drags it. Then by the golden ratio of its
            // length, which jumps all over it.
            let drag = (0..COUNT).map(|i| (0.25 * steps).round() + triangle(i as f64, (0.5 * steps).round()));
            let jump = (0..COUNT).map(|i| ((i as f64 * 0.618_033_988_75).fract() * steps).round());
            for (how, places) in
                [("dragged step by step", drag.collect::<Vec<_>>()), ("thrown from end to end", jump.collect())]
            {
                let positions: Vec<f64> = places.iter().map(|place| min + place * step).collect();
                let answer = page.run_async(EVENTS, vec![json!(id), json!(positions)]).await;
                let times = numbers(&answer[0]);
                let followed = times.len() == COUNT && answer[1].as_u64() > Some(COUNT as u64 / 4);
                assert!(followed, "the readings did not follow {id}: {answer}");
                row(&format!("{id}, {how}"), &times);
                row("  of which script: core, numbers, drawings", &numbers(&answer[2]));
            }
        }
    });
}

/// `0, 1, 2 … top … 2, 1, 0, 1 …`
fn triangle(at: f64, top: f64) -> f64 {
    top - (at.rem_euclid(2.0 * top) - top).abs()
}

/// Times an expression of the core's module, in ms.
async fn timed(page: &Page, expression: &str, times: usize) -> Vec<f64> {
    let body = format!(
        "const times = []; for (let i = 0; i < {times}; i++) {{ const begun = performance.now(); {expression}; times.push(performance.now() - begun); }} return times;"
    );
    numbers(&page.core(&body).await)
}

fn numbers(list: &Value) -> Vec<f64> {
    let list = list.as_array().unwrap_or_else(|| panic!("no times: {list}"));
    list.iter().filter_map(Value::as_f64).collect()
}

fn row(what: &str, times_ms: &[f64]) {
    let at = |share| percentile(times_ms, share);
    println!("{what:<52} {:>8.1}  {:>8.1}  {:>8.1} ms", at(0.5), at(0.95), at(1.0));
}

fn percentile(times_ms: &[f64], share: f64) -> f64 {
    let mut sorted = times_ms.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}

/// A picture of the README: its name, the window, the link, what is done there, and what is then scrolled to (empty for the top).
struct Shown {
    name: &'static str,
    view: View,
    link: &'static str,
    does: &'static str,
    at: &'static str,
}

const WIDE: View = View { width: 1920, height: 1080, dark: false };
const OPENING: Shown = Shown { name: "bench-1366x768", view: DESK, link: "", does: "", at: "" };

/// The main states.
const PICTURES: [Shown; 9] = [
    OPENING,
    Shown { name: "bench-1366x768-dark", view: DESK_DARK, ..OPENING },
    Shown { name: "bench-1920x1080", view: WIDE, ..OPENING },
    Shown { name: "bench-390x844", view: PHONE, ..OPENING },
    Shown { name: "past-a-limit", link: "#v=1&engine=harbour-six&vane=12&fuel_kg=0.00016&speed=1900", ..OPENING },
    Shown {
        name: "ledger",
        link: "#v=1&engine=harbour-six&vane=80&fuel_kg=0.00012&speed=1500",
        does: "document.getElementById('pin').click();
               const vane = document.getElementById('vane');
               vane.value = 30;
               vane.dispatchEvent(new Event('input', { bubbles: true }));",
        at: "#pins",
        ..OPENING
    },
    Shown {
        name: "load-step",
        link: "#v=1&engine=harbour-six&vane=40&torque=200&speed=1400",
        does: "const pace = document.getElementById('time-pace');
               pace.value = '2';
               pace.dispatchEvent(new Event('change', { bubbles: true }));
               document.getElementById('time-load').click();
               setTimeout(() => document.getElementById('time-play').click(), 4000);",
        at: "#time-figure",
        ..OPENING
    },
    Shown { name: "lesson", link: "#v=1&lesson=what-vanes-do&variant=7", ..OPENING },
    Shown {
        name: "instructor",
        link: "desk.html",
        does: "for (const add of [...document.querySelectorAll('[data-add]')].slice(0, 3)) add.click();",
        ..OPENING
    },
];

fn pictures() {
    let folder = root().join("web/pictures");
    fs::create_dir_all(&folder).expect("a folder for the pictures");
    for shown in PICTURES {
        browse(dist(), shown.view, async |page| {
            if shown.link.ends_with(".html") {
                page.visit(shown.link).await;
                page.wait("the desk is there", "document.querySelector('[data-add]')").await;
            } else {
                page.open(shown.link).await;
            }
            page.wait("the type is there", "document.fonts.status === 'loaded'").await;
            page.run(shown.does).await;
            // A run in time takes a few seconds, and the views below draw when it has come to rest.
            let patience_s = if shown.does.contains("setTimeout") { 6 } else { 1 };
            for _ in 0..patience_s {
                page.rested().await;
            }
            if !shown.at.is_empty() {
                let look = "document.querySelector(arguments[0]).scrollIntoView({ block: 'center' });";
                page.run_with(look, vec![json!(shown.at)]).await;
                page.rested().await;
            }
            let name = format!("{}.png", shown.name);
            fs::write(folder.join(&name), page.picture().await).expect("a picture");
            println!("web/pictures/{name}");
        });
    }
}

/// Draws `web/icon.svg` as the pictures of the manifest. Systems may cut a maskable picture to any shape that leaves its middle
/// four fifths. So there the drawing is smaller, on a full ground of its own colour.
fn icons() {
    const DRAW: &str = "
        const [size, share, done] = arguments;
        const icon = new Image();
        icon.onload = () => {
            const canvas = Object.assign(document.createElement('canvas'), { width: size, height: size });
            const pen = canvas.getContext('2d');
            if (share < 1) {
                pen.fillStyle = '#fbf8f0';
                pen.fillRect(0, 0, size, size);
            }
            const margin = size * (1 - share) / 2;
            pen.drawImage(icon, margin, margin, size * share, size * share);
            canvas.toBlob(async (blob) => done([...new Uint8Array(await blob.arrayBuffer())]), 'image/png');
        };
        icon.onerror = () => done([]);
        icon.src = 'icon.svg';";
    browse(dist(), DESK, async |page| {
        page.visit("").await;
        for (name, size, share) in [("icon-192", 192, 1.0), ("icon-512", 512, 1.0), ("icon-maskable-512", 512, 0.75)] {
            let answer = page.run_async(DRAW, vec![json!(size), json!(share)]).await;
            let bytes: Vec<u8> = numbers(&answer).into_iter().map(|byte| byte as u8).collect();
            assert!(bytes.starts_with(b"\x89PNG"), "no picture of {name}");
            fs::write(root().join(format!("web/{name}.png")), bytes).expect("a picture");
            println!("web/{name}.png");
        }
    });
}

fn size() {
    browse(dist(), DESK, async |page| {
        let mut before = Vec::new();
        for (what, look_below) in [("a first visit", false), ("a look at what stands below", true)] {
            if look_below {
                page.open("").await;
            } else {
                page.open_first_view("").await;
            }
            page.wait("the type is there", "document.fonts.status === 'loaded'").await;
            let files = page.transferred(&dist().root).await;
            let new: Vec<_> = files.iter().filter(|file| !before.contains(*file)).collect();
            println!("     bytes transferred by {what}");
            for (name, bytes, sent) in &new {
                println!("{bytes:>10} {sent:>10}  {name}");
            }
            println!("{:>21}  in all", new.iter().map(|(_, _, sent)| sent).sum::<usize>());
            before = files;
        }
    });
}
