//! The page in a package: inside an emulated SCORM 1.2 platform, inside cmi5 with a record store, and without any platform.

mod rules;
mod store;

use serde_json::{Value, json};
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use store::{Host, Store};
use volute_lessons::assignment::{Assignment, Item, Numbers};
use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::catalog;
use volute_lessons::lesson::{Checkpoint, Lesson, Predict, Question};
use volute_lessons::mark::{Key, NumberKey};
use volute_lessons::seed::Seed;
use volute_lessons::units::Style;
use volute_package::zip::Entry;
use volute_package::{Contents, Kind, pack};
use volute_tests::browser::{DESK, Page, browse, dist, exists};
use xtask::keep::files_in;
use xtask::server::Options;

/// Whose numbers.
const SEED: Seed = Seed(31);

const STYLE: Style = Style::ENGLISH;

/// A folder with a package, unpacked as a platform does it. The folder is removed after the test.
struct Unpacked(PathBuf);

impl Unpacked {
    /// Packs the built page with this assignment and unpacks it into `package/`. The emulator is put beside it.
    fn new(name: &str, kind: Kind, assignment: &Assignment) -> Self {
        let root = std::env::temp_dir().join(format!("volute-{}-{name}", std::process::id()));
        let site = dist().root;
        let files = files_in(&site).expect("no page: run `cargo xtask test`");
        let entries = files.iter().map(|file| {
            let inside = file.strip_prefix(&site).expect("inside").to_str().expect("a name").replace('\\', "/");
            Entry::stored(inside, fs::read(file).expect("a file"))
        });
        let package = pack(kind, entries.collect(), &Contents::of(assignment, catalog(), "en")).expect("a package");
        unzip(package, &root.join("package"));
        for (name, text) in [
            ("platform.html", include_str!("lms/platform.html")),
            ("platform.js", include_str!("lms/platform.js")),
            ("frames.html", include_str!("lms/frames.html")),
            ("scorm12.min.js", include_str!("vendor/scorm-again/scorm12.min.js")),
        ] {
            fs::write(root.join(name), text).expect("a file");
        }
        Self(root)
    }

    /// How to serve it: below a folder, and with a content type for WASM from which no browser compiles.
    fn served(&self) -> Options {
        let wasm_type = "application/octet-stream".into();
        Options { folder: "school/courses/41".into(), wasm_type, ..Options::new(&self.0) }
    }
}

impl Drop for Unpacked {
    fn drop(&mut self) {
        // What is left behind lies in the system's own temporary folder.
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn unzip(package: Vec<u8>, to: &Path) {
    let mut archive = zip::ZipArchive::new(Cursor::new(package)).expect("a zip");
    for i in 0..archive.len() {
        let mut file = archive.by_index(i).expect("an entry");
        let path = to.join(file.enclosed_name().expect("a name that stays inside"));
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).expect("sound");
        fs::write(path, bytes).expect("a file");
    }
}

fn lesson() -> &'static Lesson {
    // It has one prediction, a choice, and then a number. Nothing else must be answered before the question is drawn.
    catalog().lesson("after-the-turbine").expect("the lesson")
}

/// One whole lesson, with the same numbers for everybody.
fn assignment(pass_pct: u32) -> Assignment {
    Assignment { pass_pct, numbers: Numbers::Same(SEED), ..Assignment::of(vec![Item::lesson(&lesson().id)]) }
}

/// One checkpoint of it.
fn one_checkpoint(pass_pct: u32) -> Assignment {
    Assignment { items: vec![Item::single(&lesson().id, &number().id)], ..assignment(pass_pct) }
}

/// The first question with a number.
fn number() -> &'static Checkpoint {
    let found = lesson().checkpoints().find(|c| matches!(c.question, Question::Number(_)));
    found.expect("a number")
}

/// The right answer and the answer of the first misconception, as they are typed.
fn answers() -> [String; 2] {
    let mut solver = CoreSolver::default();
    let worked = lesson().work_out(SEED, &mut solver).expect("states");
    let asked = number().work_out(lesson(), &worked, 0, &mut solver).expect("a draw");
    let (Question::Number(question), Key::Number(NumberKey { wrong_si, .. })) = (&number().question, &asked.key) else {
        unreachable!()
    };
    let wrong = volute_lessons::expr::in_print(wrong_si[0], question.measure, question.is_point(), Some(3), STYLE);
    [asked.answer_in_print(STYLE).expect("a number"), wrong]
}

/// Answers a prediction of any kind and locks it.
async fn predict(page: &Page, predict: &Predict) {
    let id = &predict.id;
    let form = format!("[data-predict='{id}']");
    page.wait("the prediction is drawn", &exists(&format!("{form} [data-lock]"))).await;
    match &predict.question {
        Question::Choice(_) | Question::Choices(_) => page.click(&format!("{form} [data-option='0']")).await,
        Question::Words(_) => page.keys(&format!("{form} textarea"), "The same on both sides.").await,
        Question::Number(_) => page.keys(&format!("#{id}-answer"), "17").await,
        Question::Order(_) => {}
        Question::Sketch(_) => {
            let draw =
                "for (const handle of document.querySelectorAll('#' + arguments[0] + '-sketch .sketch-handle')) {
                    if (handle.disabled) continue;
                    handle.value = 90;
                    handle.dispatchEvent(new Event('input', { bubbles: true }));
                }";
            page.run_with(draw, vec![json!(id)]).await;
        }
    }
    page.settled().await;
    page.click(&format!("{form} [data-lock]")).await;
    page.wait("it is locked", &format!("!({})", exists(&format!("{form} [data-lock]")))).await;
}

/// The type of interaction by which a SCORM platform hears the answer to a prediction.
fn sort_of(predict: &Predict) -> &'static str {
    match &predict.question {
        Question::Choice(_) | Question::Choices(_) => "choice",
        Question::Order(_) => "sequencing",
        Question::Sketch(_) => "performance",
        Question::Words(_) | Question::Number(_) => "fill-in",
    }
}

/// Types an answer and has it checked.
async fn answer(page: &Page, text: &str) {
    let id = &number().id;
    let ready = format!("document.querySelector(\"[data-checkpoint='{id}']\")?.dataset.ready === 'true'");
    page.wait("the question is drawn", &ready).await;
    let field = format!("#{id}-answer");
    page.find(&field).await.clear().await.expect("an empty field");
    page.keys(&field, text).await;
    page.click(&format!("[data-checkpoint='{id}'] [data-check]")).await;
    page.settled().await;
}

/// Opens the lesson of the assignment, if it is not open already.
async fn open_lesson(page: &Page) {
    page.wait(
        "the bench is there",
        "document.getElementById('start') === null && document.getElementById('vane') !== null",
    )
    .await;
    let open = format!("[data-open='{}']", lesson().id);
    page.wait("the lesson, or the way to it", &format!("{} || {}", exists("[data-variant]"), exists(&open))).await;
    if page.count("[data-variant]").await == 0 {
        page.click(&open).await;
    }
    page.wait("the lesson is open", &exists("[data-variant]")).await;
}

/// What the emulator has of an element.
async fn value(page: &Page, element: &str) -> Value {
    page.value(&format!("value('{element}')")).await
}

/// Checks that nothing that was said to the platform is against the standard.
async fn assert_strict(page: &Page) {
    assert_eq!(page.value("faults").await, json!([]));
    let refused = "calls.filter(([name, , , answer]) => name === 'LMSSetValue' && answer !== 'true')";
    assert_eq!(page.value(refused).await, json!([]));
    // This must not pass because nothing was said at all.
    assert!(page.value("calls.length").await.as_u64().expect("a number") > 5);
}

/// Opens the page of the platform with its settings.
async fn platform(page: &Page, settings: Value) {
    page.visit("platform.html").await;
    page.run_with("sessionStorage.setItem('settings', JSON.stringify(arguments[0]));", vec![settings]).await;
    page.run("location.reload();").await;
    page.wait("the emulator is there", "window.ready === true").await;
}

/// Launches the package in two frames and goes into the inner one.
async fn launch(page: &Page) {
    page.run(
        "const frame = document.createElement('iframe');
         Object.assign(frame, { src: 'frames.html', title: 'course', width: 1340, height: 740 });
         document.body.append(frame);",
    )
    .await;
    page.wait("the frames are there", "frames[0]?.frames[0]?.document.getElementById('vane')").await;
    page.enter(&[0, 0]).await;
}

/// Closes the lesson as a platform does, and comes back to it.
async fn close(page: &Page) {
    page.enter(&[]).await;
    page.run("frames[0].location.replace('about:blank');").await;
    page.wait("the session is ended", "calls.some(([name]) => name === 'LMSFinish')").await;
    assert_strict(page).await;
    page.run("location.reload();").await;
    page.wait("the emulator is there", "window.ready === true").await;
}

#[test]
fn scorm12_launch_answer_close_relaunch() {
    let package = Unpacked::new("scorm12", Kind::Scorm12, &assignment(70));
    let [right, wrong] = answers();
    browse(package.served(), DESK, async |page| {
        platform(page, json!({ "mastery": "70" })).await;
        launch(page).await;
        assert_eq!(page.value("document.getElementById('platform').dataset.bond").await, "told");
        open_lesson(page).await;
        assert_eq!(page.value("document.querySelector('[data-variant]').dataset.variant").await, SEED.0.to_string());
        let mut told = Vec::new();
        for asked in lesson().predictions() {
            predict(page, asked).await;
            told.push((&asked.id, sort_of(asked), "neutral"));
        }
        answer(page, &wrong).await;
        answer(page, &right).await;
        page.enter(&[]).await;
        assert_strict(page).await;
        let id = |item: &str| json!(format!("{}_{item}", lesson().id));
        told.extend([(&number().id, "fill-in", "wrong"), (&number().id, "fill-in", "correct")]);
        for (n, (item, sort, result)) in told.iter().enumerate() {
            assert_eq!(value(page, &format!("cmi.interactions.{n}.id")).await, id(item));
            for (part, wanted) in [("type", sort), ("result", result)] {
                let said = format!("calls.find(([, element]) => element === 'cmi.interactions.{n}.{part}')?.[2]");
                assert_eq!(page.value(&said).await, *wanted, "{n}.{part}");
            }
        }
        let last = format!("cmi.interactions.{}.student_response", told.len() - 1);
        assert_eq!(value(page, &last).await, right.as_str());
        assert_eq!(value(page, "cmi.core.lesson_status").await, "incomplete");
        let commits = "calls.filter(([name]) => name === 'LMSCommit').length";
        assert!(page.value(commits).await.as_u64().expect("a number") >= 5, "one at the launch, one each answer");
        page.enter(&[0, 0]).await;
        close(page).await;
        // Another day.
        launch(page).await;
        open_lesson(page).await;
        let state = format!("document.querySelector(\"[data-checkpoint='{}']\")", number().id);
        page.wait("the answer is still there", &format!("{state}?.dataset.over === 'true'")).await;
        assert_eq!(page.value(&format!("{state}.dataset.right")).await, "true");
        for asked in lesson().predictions() {
            assert_eq!(page.count(&format!("[data-predict='{}'].locked", asked.id)).await, 1, "{}", asked.id);
        }
        page.enter(&[]).await;
        assert_strict(page).await;
        let again = "calls.filter(([, element]) => String(element).startsWith('cmi.interactions.') && !element.includes('_')).length";
        assert_eq!(page.value(again).await, 0, "what was told is not told again");
        close(page).await;
        assert_eq!(page.value("calls.length").await, 0, "the platform is ready for a third launch");
        page.assert_quiet().await;
    });
}

#[test]
fn scorm12_one_checkpoint_passes_and_fails() {
    let [right, wrong] = answers();
    for (name, typed, status, score) in
        [("passes", vec![&right], "passed", "100"), ("fails", vec![&wrong, &wrong], "failed", "0")]
    {
        let package = Unpacked::new(&format!("scorm12-{name}"), Kind::Scorm12, &one_checkpoint(60));
        browse(package.served(), DESK, async |page| {
            platform(page, json!({ "mastery": "60" })).await;
            launch(page).await;
            open_lesson(page).await;
            for text in typed {
                answer(page, text).await;
            }
            page.enter(&[]).await;
            assert_eq!(value(page, "cmi.core.lesson_status").await, status);
            assert_eq!(value(page, "cmi.core.score.raw").await, score);
            // It stays so after a relaunch, and after the platform's own judgement at the end.
            close(page).await;
            assert_eq!(value(page, "cmi.core.lesson_status").await, status);
            launch(page).await;
            open_lesson(page).await;
            close(page).await;
            assert_eq!(value(page, "cmi.core.lesson_status").await, status);
            page.assert_quiet().await;
        });
    }
}

#[test]
fn scorm12_a_second_look_writes_nothing() {
    let package = Unpacked::new("scorm12-review", Kind::Scorm12, &one_checkpoint(60));
    let [right, _] = answers();
    browse(package.served(), DESK, async |page| {
        for mode in ["review", "browse"] {
            platform(page, json!({ "mode": mode })).await;
            launch(page).await;
            assert_eq!(page.value("document.getElementById('platform').dataset.bond").await, "looking");
            open_lesson(page).await;
            answer(page, &right).await;
            page.enter(&[]).await;
            let writes = "calls.filter(([name]) => name === 'LMSSetValue' || name === 'LMSCommit').length";
            assert_eq!(page.value(writes).await, 0, "{mode}");
            assert_eq!(page.value("faults").await, json!([]));
        }
        page.assert_quiet().await;
    });
}

#[test]
fn scorm12_in_a_window_of_its_own() {
    let package = Unpacked::new("scorm12-window", Kind::Scorm12, &one_checkpoint(60));
    browse(package.served(), DESK, async |page| {
        platform(page, json!({})).await;
        page.run("window.child = window.open('package/index.html');").await;
        page.wait("it has begun", "calls.some(([name]) => name === 'LMSInitialize')").await;
        page.wait("the bench is there", "child.document.getElementById('vane')").await;
        assert_eq!(page.value("child.document.getElementById('platform').dataset.bond").await, "told");
        page.run("child.close();").await;
        page.wait("it is ended", "calls.some(([name]) => name === 'LMSFinish')").await;
        assert_strict(page).await;
        page.assert_quiet().await;
    });
}

#[test]
fn a_package_without_a_platform_works_and_keeps_nothing_for_offline() {
    for kind in [Kind::Scorm12, Kind::Cmi5] {
        let package = Unpacked::new(&format!("alone-{kind}"), kind, &one_checkpoint(60));
        let [right, _] = answers();
        browse(package.served(), DESK, async |page| {
            page.requests().await;
            page.visit("package/index.html").await;
            open_lesson(page).await;
            assert_eq!(page.value("document.getElementById('platform').dataset.bond").await, "alone");
            answer(page, &right).await;
            let done =
                format!("document.querySelector(\"[data-checkpoint='{}']\").dataset.right === 'true'", number().id);
            page.wait("it is right", &done).await;
            // The device keeps the progress, as it does everywhere.
            page.run("location.reload();").await;
            open_lesson(page).await;
            page.wait("it is still there", &done.replace(").dataset", ")?.dataset")).await;
            page.rested().await;
            assert_eq!(page.value("navigator.serviceWorker.controller === null").await, true);
            let kept = page
                .run_async("navigator.serviceWorker.getRegistrations().then((r) => arguments[0](r.length));", vec![])
                .await;
            assert_eq!(kept, 0, "no service worker");
            let outside: Vec<String> = page
                .requests()
                .await
                .into_iter()
                .filter(|a| !a.starts_with(&page.url()) && !a.starts_with("about:") && !a.starts_with("data:"))
                .collect();
            assert!(outside.is_empty(), "{outside:?}");
            page.assert_quiet().await;
        });
    }
}

#[test]
fn a_platform_that_refuses_is_named() {
    let package = Unpacked::new("scorm12-refuses", Kind::Scorm12, &one_checkpoint(60));
    browse(package.served(), DESK, async |page| {
        page.visit("frames.html").await;
        page.run("").await;
        page.devtools(
            "Page.addScriptToEvaluateOnNewDocument",
            json!({ "source": "if (window.top === window) window.API = { LMSInitialize: () => 'false', LMSGetLastError: () => '101', LMSGetErrorString: () => 'General exception' };" }),
        )
        .await;
        page.visit("frames.html").await;
        page.wait("the bench is there", "frames[0]?.document.getElementById('vane')").await;
        page.enter(&[0]).await;
        let said = page.text("#platform").await;
        assert!(said.contains("101 General exception") && said.contains("on this device only"), "{said}");
        page.assert_quiet().await;
    });
}

/// What a platform leaves for a unit.
fn launch_data(mastery: Option<f64>, return_url: Option<String>) -> Value {
    let mut data = json!({
        "contextTemplate": {
            "contextActivities": { "grouping": [{ "objectType": "Activity", "id": "urn:uuid:c54c36c5-c09e-854b-965a-4eb0fc7f3659" }] },
            "extensions": {},
        },
        "launchMode": "Normal", "launchMethod": "AnyWindow", "moveOn": "Passed",
    });
    if let Some(mastery) = mastery {
        data["masteryScore"] = json!(mastery);
    }
    if let Some(address) = return_url {
        data["returnURL"] = json!(address);
    }
    data
}

/// Waits until the store has this many statements of the session.
async fn statements(store: &Store, count: usize) -> Vec<String> {
    let begun = std::time::Instant::now();
    while store.verbs().len() < count && begun.elapsed().as_secs() < 30 {
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    let faults = store.held.lock().expect("held").faults.clone();
    assert!(faults.is_empty(), "{faults:#?}");
    store.verbs()
}

/// Rules of xAPI 1.0.3 that others wrote. The file is part of the repository, so that no test needs the network.
const XAPI: &str = include_str!("vendor/xapi-validation/xapi-validation.min.js");

#[test]
fn cmi5_statements_from_launch_to_return() {
    let package = Unpacked::new("cmi5", Kind::Cmi5, &one_checkpoint(60));
    let host = Host::of_files(package.0.join("package"));
    let back = host.url("/back");
    let store = Store::new(launch_data(Some(0.6), Some(back.clone())));
    let [right, wrong] = answers();
    browse(package.served(), DESK, async |page| {
        page.go(&host.url(&format!("/content/41/index.html?{}", store.launch("Normal")))).await;
        open_lesson(page).await;
        assert_eq!(page.value("document.getElementById('platform').dataset.bond").await, "told");
        assert_eq!(statements(&store, 1).await, ["initialized"]);
        answer(page, &wrong).await;
        assert_eq!(statements(&store, 2).await, ["initialized", "answered"]);
        page.click("#leave").await;
        page.wait("back at the platform", &format!("location.href === '{back}'")).await;
        assert_eq!(statements(&store, 3).await, ["initialized", "answered", "terminated"]);
        assert!(!satisfied(&store, "Passed"));
        // In another session of the same enrolment the wrong answer is still there, and the right one passes.
        page.go(&host.url(&format!("/content/41/index.html?{}", store.launch("Normal")))).await;
        open_lesson(page).await;
        let said = format!("document.querySelector(\"[data-said='{}']\")", number().id);
        page.wait("what was answered is explained again", &said).await;
        answer(page, &right).await;
        assert_eq!(statements(&store, 4).await, ["initialized", "answered", "completed", "passed"]);
        assert!(satisfied(&store, "Passed") && satisfied(&store, "CompletedAndPassed"));
        // The page just goes away.
        page.go("about:blank").await;
        assert_eq!(statements(&store, 5).await, ["initialized", "answered", "completed", "passed", "terminated"]);
        // A third session says neither of the two again.
        page.go(&host.url(&format!("/content/41/index.html?{}", store.launch("Normal")))).await;
        open_lesson(page).await;
        page.go("about:blank").await;
        assert_eq!(statements(&store, 2).await, ["initialized", "terminated"]);
        assert_nothing_but_a_first_visit(page).await;
        assert_valid_xapi(page, &store, 10).await;
    });
}

/// A validator of xAPI that is not ours finds no fault in the statements of all sessions. To be sure, it must find one in a
/// wrong statement.
async fn assert_valid_xapi(page: &Page, store: &Store, count: usize) {
    let mut all: Vec<Value> = {
        let held = store.held.lock().expect("held");
        held.earlier.iter().chain(&held.statements).cloned().collect()
    };
    assert!(all.len() >= count, "{} statements", all.len());
    page.run(XAPI).await;
    let judge = "return arguments[0].flatMap((statement) => xapiFaults(statement));";
    assert_eq!(page.run_with(judge, vec![json!(all)]).await, json!([]));
    let passed = all.iter_mut().find(|s| s["result"]["score"]["scaled"].is_number()).expect("a score");
    passed["result"]["score"]["scaled"] = json!(1.5);
    passed["result"]["duration"] = json!("5:10");
    let found = page.run_with(judge, vec![json!([passed])]).await;
    assert_eq!(found.as_array().map(Vec::len), Some(2), "{found}");
}

/// The browser itself reports an answer 404 in the console: at the first launch nothing is kept yet.
async fn assert_nothing_but_a_first_visit(page: &Page) {
    let said = page.console().await;
    let first = |line: &String| line.contains("stateId=volute.progress") && line.contains("404");
    assert!(said.iter().all(first), "{said:#?}");
}

#[test]
fn cmi5_failing_looking_and_a_store_that_is_down() {
    let package = Unpacked::new("cmi5-more", Kind::Cmi5, &one_checkpoint(60));
    let host = Host::of_files(package.0.join("package"));
    let [right, wrong] = answers();
    browse(package.served(), DESK, async |page| {
        let open = async |store: &Store, mode: &str| {
            page.go(&host.url(&format!("/content/41/index.html?{}", store.launch(mode)))).await;
            open_lesson(page).await;
        };
        // No try is left, so the unit is failed. That is the last statement but one.
        let store = Store::new(launch_data(Some(0.6), None));
        open(&store, "Normal").await;
        assert_eq!(page.count("#leave").await, 0, "nowhere to go back to");
        answer(page, &wrong).await;
        answer(page, &wrong).await;
        assert_eq!(statements(&store, 4).await, ["initialized", "answered", "answered", "completed"]);
        page.go("about:blank").await;
        assert_eq!(statements(&store, 6).await[4..], ["failed", "terminated"]);
        assert!(!satisfied(&store, "Passed") && satisfied(&store, "Completed"));
        // A learner who only looks sends the beginning and the end.
        for mode in ["Browse", "Review"] {
            let store = Store::new(launch_data(Some(0.6), None));
            open(&store, mode).await;
            assert_eq!(page.value("document.getElementById('platform').dataset.bond").await, "looking");
            answer(page, &right).await;
            page.go("about:blank").await;
            assert_eq!(statements(&store, 2).await, ["initialized", "terminated"]);
            assert!(store.held.lock().expect("held").documents.is_empty());
        }
        assert_nothing_but_a_first_visit(page).await;
        // Nothing is lost while the store is down: the page says so and tries again.
        let store = Store::new(launch_data(None, None));
        open(&store, "Normal").await;
        statements(&store, 1).await;
        store.held.lock().expect("held").down = 1;
        answer(page, &right).await;
        assert_eq!(statements(&store, 4).await, ["initialized", "answered", "completed", "passed"]);
        page.go("about:blank").await;
        statements(&store, 5).await;
        // The browser itself reports the answer 503 in the console.
        let said = page.console().await;
        let known = |line: &String| line.contains("503") || line.contains("stateId=volute.progress");
        assert!(said.iter().all(known) && said.iter().any(|line| line.contains("503")), "{said:#?}");
    });
}

fn satisfied(store: &Store, move_on: &str) -> bool {
    let held = store.held.lock().expect("held");
    let all: Vec<Value> = held.earlier.iter().chain(&held.statements).cloned().collect();
    rules::satisfied(move_on, &all)
}

#[test]
fn cmi5_a_broken_launch_is_named() {
    let package = Unpacked::new("cmi5-broken", Kind::Cmi5, &one_checkpoint(60));
    let host = Host::of_files(package.0.join("package"));
    browse(package.served(), DESK, async |page| {
        let store = Store::new(launch_data(None, None));
        let query = store.launch("Normal");
        let without: Vec<&str> = query.split('&').filter(|part| !part.starts_with("registration")).collect();
        page.go(&host.url(&format!("/content/41/index.html?{}", without.join("&")))).await;
        page.wait("the bench is there", "document.getElementById('vane')").await;
        let said = page.text("#platform").await;
        assert!(said.contains("`registration` is missing") && said.contains("on this device only"), "{said}");
        // Somebody has already fetched this token.
        page.go(&host.url(&format!("/content/41/index.html?{query}"))).await;
        page.wait("the bench is there", "document.getElementById('vane')").await;
        page.go(&host.url(&format!("/content/41/index.html?{query}"))).await;
        page.wait("the bench is there", "document.getElementById('vane')").await;
        let said = page.text("#platform").await;
        assert!(said.contains("already in use"), "{said}");
    });
}
