//! The page that the device keeps: without a network, through an update, and in browsers that refuse to keep it.

use crate::{LINK, headline};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use volute_tests::browser::{Copy, DESK, Page, browse, dist};
use xtask::keep::{self, WORKER, files_in};
use xtask::server::Options;

/// Waits until a build is kept. A worker becomes ready only when all files of the build are there.
async fn kept(page: &Page) {
    page.run_async("navigator.serviceWorker.ready.then(() => arguments[0](null));", vec![]).await;
}

/// Every address that is kept, below the folder of the page.
async fn addresses(page: &Page) -> BTreeSet<String> {
    let script = "const done = arguments[0];
        (async () => {
            const all = [];
            for (const name of await caches.keys()) {
                for (const request of await (await caches.open(name)).keys()) all.push(request.url);
            }
            return all;
        })().then(done, (e) => done([String(e)]));";
    let all = page.run_async(script, vec![]).await;
    let all = all.as_array().expect("addresses").iter().map(|address| address.as_str().expect("an address"));
    let here = page.url();
    all.map(|address| address.strip_prefix(&here).unwrap_or(address).to_string()).collect()
}

/// The version of the page that is open.
async fn version(page: &Page) -> String {
    let version = page.value("new URL(document.getElementById('boot').src).searchParams.get('v')").await;
    version.as_str().expect("a version").to_string()
}

/// Changes a copied page in place into a later build, as an upload does: with another version and another title.
fn update(copy: &Copy, old: &str, new: &str) {
    for file in files_in(copy.root()).expect("the page") {
        if matches!(file.extension().and_then(|ending| ending.to_str()), Some("html" | "css" | "js" | "webmanifest")) {
            edit(&file, old, new);
        }
    }
    edit(&copy.root().join("index.html"), "<title>", "<title>Later. ");
    keep::write_list(copy.root(), new).expect("the list");
}

fn edit(file: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(file).expect("text");
    fs::write(file, text.replace(from, to)).expect("written");
}

#[test]
fn opens_without_a_network_after_one_visit() {
    // The page stands below a folder, and the host does not know WASM.
    let options = Options { folder: "school/course-7".into(), wasm_type: "application/octet-stream".into(), ..dist() };
    browse(options, DESK, async |page| {
        page.open(LINK).await;
        kept(page).await;
        let before = [headline(page, "boost").await, headline(page, "p3").await];
        // All files of the build are kept, and nothing else. Each has the one address by which the page asks for it.
        let version = version(page).await;
        let root = dist().root;
        let expected = files_in(&root).expect("the page").into_iter().filter_map(|file| {
            let name = file.strip_prefix(&root).expect("inside").to_str().expect("text").to_string();
            match name.as_str() {
                WORKER => None,
                "index.html" => Some(String::new()),
                _ => Some(format!("{name}?v={version}")),
            }
        });
        assert_eq!(addresses(page).await, expected.collect());
        page.cut_off();
        page.requests().await;
        page.open(LINK).await;
        assert_eq!([headline(page, "boost").await, headline(page, "p3").await], before);
        page.drag("#vane", 0.5, 0.8).await;
        page.settled().await;
        assert_ne!(headline(page, "p3").await, before[1], "the bench answers");
        page.wait("the type is there", "document.fonts.status === 'loaded'").await;
        page.assert_quiet().await;
        // A file that is not part of the build is not answered from the cache.
        let missing = "fetch('elsewhere.txt').then(() => 'answered', () => 'no network').then(arguments[0]);";
        assert_eq!(page.run_async(missing, vec![]).await, json!("no network"));
    });
}

#[test]
fn a_newer_build_takes_over_at_the_next_load_and_not_before() {
    let copy = Copy::new("update");
    browse(Options { folder: "volute".into(), ..Options::new(copy.root()) }, DESK, async |page| {
        page.open(LINK).await;
        kept(page).await;
        // From now on the worker serves the page.
        page.open(LINK).await;
        let (old, new) = (version(page).await, "feedfacefeedface");
        let before = [headline(page, "boost").await, headline(page, "p3").await];
        page.run("document.addEventListener('volute-newer', () => { window.told = (window.told ?? 0) + 1; });").await;
        update(&copy, &old, new);
        page.run("navigator.serviceWorker.getRegistration().then((r) => r.update());").await;
        page.wait("the page is told", "window.told === 1 && 'newer' in document.documentElement.dataset").await;
        // The open page goes on with exactly its own build, although the host has another.
        let style = "fetch('kit.css?v=' + arguments[0]).then((r) => r.text()).then(arguments[1]);";
        let text = page.run_async(style, vec![json!(old)]).await;
        assert!(text.as_str().is_some_and(|css| css.contains(&old) && !css.contains(new)), "{text}");
        page.keys("#vane", "\u{e014}").await;
        page.wait("the address follows", "location.hash.includes('vane=64')").await;
        page.keys("#vane", "\u{e012}").await;
        page.wait("the address follows", "location.hash.includes('vane=63')").await;
        // The newer build comes when the user asks for it, or at any next load.
        page.run("location.reload();").await;
        page.wait("the newer build is open", "document.title.startsWith('Later. ')").await;
        page.wait("the bench is there", "!document.getElementById('start') && document.getElementById('vane')").await;
        page.settled().await;
        assert_eq!(version(page).await, new);
        assert_eq!([headline(page, "boost").await, headline(page, "p3").await], before, "the settings are kept");
        let script =
            "performance.getEntriesByType('resource').map((e) => e.name).filter((name) => name.includes('?v='))";
        let asked = page.value(script).await;
        let asked = asked.as_array().expect("addresses");
        let new_only = asked.iter().all(|to| to.as_str().is_some_and(|to| to.ends_with(new)));
        assert!(3 < asked.len() && new_only, "two builds: {asked:#?}");
        // The older build goes when no page is left that could need it.
        let gone = "window.builds === 1 || (caches.keys().then((k) => { window.builds = k.length; }), false)";
        page.wait("the older build is gone", gone).await;
        assert_eq!(page.value("'newer' in document.documentElement.dataset").await, json!(false));
        assert!(addresses(page).await.iter().all(|address| address.is_empty() || address.ends_with(new)));
        page.cut_off();
        page.open(LINK).await;
        assert_eq!(version(page).await, new);
        assert_eq!([headline(page, "boost").await, headline(page, "p3").await], before);
        page.assert_quiet().await;
    });
}

#[test]
fn half_an_upload_is_not_kept() {
    let copy = Copy::new("half");
    // The list belongs to one build, and a file to another.
    fs::write(copy.root().join("boot.css"), "/* another */").expect("written");
    browse(Options::new(copy.root()), DESK, async |page| {
        page.open(LINK).await;
        let script = "const done = arguments[0];
            navigator.serviceWorker.register('service-worker.js').then((registration) => {
                const worker = registration.installing;
                worker.onstatechange = () => done(worker.state);
            }, (e) => done(String(e)));";
        assert_eq!(page.run_async(script, vec![]).await, json!("redundant"));
        assert_eq!(addresses(page).await, BTreeSet::new());
        page.open(LINK).await;
        headline(page, "boost").await;
    });
}

#[test]
fn what_cannot_start_is_not_kept() {
    browse(dist(), DESK, async |page| {
        page.open(LINK).await;
        kept(page).await;
        // The kept WASM is damaged.
        let damage = "const done = arguments[0];
            (async () => {
                const cache = await caches.open((await caches.keys())[0]);
                const wasm = (await cache.keys()).find((request) => request.url.includes('volute-web_bg.wasm'));
                await cache.put(wasm, new Response('rot', { headers: { 'content-type': 'application/wasm' } }));
            })().then(() => done(null), (e) => done(String(e)));";
        assert_eq!(page.run_async(damage, vec![]).await, Value::Null);
        page.visit(LINK).await;
        page.wait("the note is shown", "!document.getElementById('failed').hidden").await;
        // We load the page again, as the note says.
        page.open(LINK).await;
        headline(page, "boost").await;
    });
}

#[test]
fn works_in_a_frame_and_keeps_nothing_there() {
    let copy = Copy::new("frame");
    let outer = "<!doctype html><title>A school</title><link rel=\"icon\" href=\"icon.svg\"><iframe src=\"./#v=1&vane=63\"></iframe>";
    fs::write(copy.root().join("outer.html"), outer).expect("written");
    browse(Options::new(copy.root()), DESK, async |page| {
        page.visit("outer.html").await;
        page.wait("the bench is in the frame", "frames[0]?.document.querySelector('[data-q=boost] .headline-value')")
            .await;
        // This is long after the page would have asked for it if it stood alone.
        page.run_async("frames[0].requestIdleCallback(() => setTimeout(arguments[0], 500));", vec![]).await;
        let script = "navigator.serviceWorker.getRegistrations().then((all) => arguments[0](all.length));";
        assert_eq!(page.run_async(script, vec![]).await, json!(0));
        page.assert_quiet().await;
    });
}

#[test]
fn works_where_nothing_may_be_kept() {
    for refused in [
        // A frame without an origin throws, plain HTTP has no workers, and a private window may refuse later.
        "Object.defineProperty(Navigator.prototype, 'serviceWorker', { get() { throw new DOMException('', 'SecurityError'); } });",
        "Object.defineProperty(Navigator.prototype, 'serviceWorker', { value: undefined });",
        "if (navigator.serviceWorker) navigator.serviceWorker.register = () => { window.asked = true; return Promise.reject(new DOMException('', 'SecurityError')); };",
    ] {
        browse(dist(), DESK, async |page| {
            page.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": refused })).await;
            page.open(LINK).await;
            if refused.contains("asked") {
                page.wait("the page has tried", "window.asked").await;
            }
            headline(page, "boost").await;
            page.assert_quiet().await;
        });
    }
}
