//! The instructor's desk: we put an assignment together, read the results of a class, print sheets, and write a lesson.

use base64::prelude::{BASE64_STANDARD, Engine as _};
use serde_json::json;
use volute_lessons::assignment::{Assignment, Item, Numbers};
use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::{SOURCES, catalog};
use volute_lessons::mark::Key;
use volute_lessons::results::{ItemReport, Kind, LessonReport, Report, Try, version_of};
use volute_lessons::seed::Seed;
use volute_lessons::units::Style;
use volute_tests::browser::{DESK, DESK_DARK, PHONE, Page, View, browse, dist};

/// The lesson that the made-up class has done.
const LESSON: &str = "more-boost-less-torque";

const STYLE: Style = Style::ENGLISH;

/// The text of a lesson.
fn english(id: &str) -> &'static str {
    let source = SOURCES.iter().find(|source| source.id == id && source.language == "en");
    source.expect("the lesson").text
}

/// Opens a sheet of the desk.
async fn open(page: &Page, sheet: &str) {
    page.visit(&format!("desk.html#{sheet}")).await;
    page.wait("the desk is there", "document.getElementById('start') === null && document.getElementById('desk')")
        .await;
    page.settled().await;
}

/// Sets the value of a field as if it were typed.
async fn fill(page: &Page, id: &str, value: &str) {
    let script = "const e = document.getElementById(arguments[0]); e.value = arguments[1];
        for (const kind of ['input', 'change']) e.dispatchEvent(new Event(kind, { bubbles: true }));";
    page.run_with(script, vec![json!(id), json!(value)]).await;
    page.settled().await;
}

/// Chooses files in a file field.
async fn choose(page: &Page, id: &str, files: &[(&str, String)]) {
    let script = "const [id, files] = arguments, data = new DataTransfer();
        for (const [name, text] of files) data.items.add(new File([text], name));
        const input = document.getElementById(id);
        input.files = data.files;
        input.dispatchEvent(new Event('change', { bubbles: true }));";
    page.run_with(script, vec![json!(id), json!(files)]).await;
}

/// A learner's result: right or wrong at the first checkpoint.
fn result(learner: &str, misconceptions: &[u32], right: bool) -> Report {
    let lesson = catalog().lesson(LESSON).expect("the lesson");
    let mut items = Vec::new();
    let predict = lesson.predictions().next().expect("a prediction");
    let mut guess = ItemReport::new(&predict.id, Kind::Predict);
    guess.picked = vec![if right { 3 } else { 0 }];
    guess.curve = vec![100, 500, if right { 900 } else { 200 }];
    guess.done = true;
    items.push(guess);
    for (i, checkpoint) in lesson.checkpoints().take(2).enumerate() {
        let mut item = ItemReport::new(&checkpoint.id, Kind::Number);
        if i == 0 {
            let made = |right, misconception| Try {
                draw: 0,
                answer: "=1+1".into(),
                right,
                points_pct: if right { 100 } else { 0 },
                misconception,
                seconds: 0,
            };
            misconceptions.iter().for_each(|m| item.push(made(false, Some(*m))));
            if right {
                item.push(made(true, None));
            }
            item.done = true;
        }
        items.push(item);
    }
    let mut words = ItemReport::new("worn-turbine", Kind::Transfer);
    words.words = format!("<img src=x onerror=\"window.hit=1\"> {learner} says: measure p3.");
    words.done = true;
    items.push(words);
    Report {
        learner: learner.into(),
        assignment: Some(Assignment::of(vec![Item::lesson(LESSON)])),
        page: "test".into(),
        saved: "2026-12-01T10:00Z".into(),
        lessons: vec![LessonReport {
            id: LESSON.into(),
            version: version_of(english(LESSON)),
            seed: Seed(31),
            complete: false,
            seconds: 600,
            items,
        }],
    }
}

#[test]
fn an_assignment_becomes_a_link_and_a_code() {
    browse(dist(), DESK, async |page| {
        open(page, "compose").await;
        assert_eq!(page.count("#a-link").await, 0, "nothing to send yet");
        page.click(&format!("[data-add='{LESSON}']")).await;
        page.run("document.querySelectorAll('.compose-shelf details').forEach((d) => { d.open = true; })").await;
        page.click(&format!("[data-add='{LESSON}/how-far']")).await;
        fill(page, "a-title", "Monday <b>class</b>").await;
        fill(page, "a-message", "First line.\nSecond & last.").await;
        fill(page, "a-day", "2026-12-01").await;
        fill(page, "a-time", "18:30").await;
        fill(page, "a-pass", "80").await;
        fill(page, "a-attempts", "2").await;
        page.click("#a-hints").await;
        page.click("input[name=numbers][value=same]").await;
        fill(page, "a-variant", "4711").await;
        page.settled().await;
        let link = page.value("document.getElementById('a-link').value").await;
        let link = link.as_str().expect("a link");
        let (address, fragment) = link.split_once('#').expect("a fragment");
        assert_eq!(address, page.url());
        let read = volute_lessons::assignment::decode(fragment).expect("an assignment");
        assert_eq!(read.title, "Monday <b>class</b>");
        assert_eq!(read.message, "First line.\nSecond & last.");
        assert_eq!(read.closes.map(|due| due.to_string()).as_deref(), Some("2026-12-01T18:30"));
        assert_eq!((read.pass_pct, read.attempts, read.hints), (80, Some(2), false));
        assert_eq!(read.seed(Seed(1), 0), Seed(4711));
        assert_eq!(read.items, [Item::lesson(LESSON), Item::single(LESSON, "how-far")]);
        // The order changes. The focus stays with the line that moved.
        page.click("#down-0").await;
        page.settled().await;
        assert_eq!(page.value("document.activeElement.closest('li').dataset.item").await, json!(LESSON));
        let first = page.value("document.querySelector('#chosen li').dataset.item").await;
        assert_eq!(first, json!(format!("{LESSON}/how-far")));
        // The device keeps the assignment, even if the page is loaded again.
        open(page, "compose").await;
        assert_eq!(page.value("document.getElementById('a-title').value").await, json!("Monday <b>class</b>"));
        page.run("document.getElementById('a-qr').open = true").await;
        assert!(page.count("#a-qr svg .qr-dark").await == 1);
        // A long message makes a code that no camera can read. The page says so.
        fill(page, "a-message", &"long ".repeat(390)).await;
        assert!(page.text("#a-dense").await.contains("dense code"), "{}", page.text("#a-dense").await);
        page.assert_quiet().await;
    });
}

/// Catches the next file that the page offers.
const CATCH: &str = "window.saved = []; const make = URL.createObjectURL;
    URL.createObjectURL = (blob) => { window.saved.push(blob); return make.call(URL, blob); };";

/// The text of the file that was offered last.
async fn caught(page: &Page) -> String {
    page.wait("a file is offered", "window.saved.length > 0").await;
    let text = page.run_async("const done = arguments[0]; window.saved.pop().text().then(done);", vec![]).await;
    text.as_str().expect("a text").to_string()
}

#[test]
fn a_learner_answers_an_assignment_and_the_result_comes_back() {
    let lesson = catalog().lesson(LESSON).expect("the lesson");
    let checkpoint = lesson.checkpoints().find(|c| c.question.name() == "number").expect("a number");
    let mut given = Assignment::of(vec![Item::single(LESSON, &checkpoint.id)]);
    given.numbers = Numbers::Same(Seed(31));
    given.title = "Monday <i>class</i>".into();
    given.message = "Take your time.".into();
    given.hints = false;
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(31), &mut solver).expect("worked out");
    let asked = checkpoint.work_out(lesson, &worked, 0, &mut solver).expect("a draw");
    let answer = asked.answer_in_print(STYLE).expect("a number");
    browse(dist(), DESK, async |page| {
        page.open(&format!("#{}", given.encode())).await;
        page.wait("the front page is there", "document.querySelector('[data-open]') !== null").await;
        let front = page.text("#lesson").await;
        assert!(front.contains("Monday <i>class</i>") && front.contains("Take your time."), "{front}");
        assert!(front.contains("variant 31") && front.contains("No hints this time."), "{front}");
        page.click(&format!("[data-open='{LESSON}']")).await;
        let form = format!("[data-checkpoint='{}']", checkpoint.id);
        page.wait("the question is there", &format!("document.querySelector(\"{form} input\") !== null")).await;
        page.wait(
            "the link keeps the assignment",
            "location.hash.includes('lesson=') && location.hash.includes('assignment=1')",
        )
        .await;
        page.keys(&format!("#{}-answer", checkpoint.id), &answer).await;
        page.run(&format!(
            "[...document.querySelectorAll(\"{form} button\")].find((b) => b.textContent.startsWith('Check')).click()"
        ))
        .await;
        page.wait("it is right", &format!("document.querySelector(\"{form}\").dataset.right === 'true'")).await;
        page.click("#all-lessons").await;
        page.wait("the front page is back", "document.getElementById('learner') !== null").await;
        page.keys("#learner", "Zoë").await;
        // While the host is away nothing is saved, and the page says so. When the host is back, everything is there.
        page.run("window.host = window.fetch; window.fetch = () => Promise.reject(new TypeError('away'));").await;
        let said = "document.getElementById('result-said').textContent";
        page.click("#save-result").await;
        page.wait("it is said", &format!("{said}.startsWith('This could not be saved: ')")).await;
        page.run("window.fetch = window.host;").await;
        page.run(CATCH).await;
        page.click("#save-result").await;
        let file = caught(page).await;
        page.wait("it is said", &format!("{said}.startsWith('Saved.')")).await;
        let sealed = volute_lessons::results::read(&file).expect("a result");
        assert!(sealed.intact && sealed.report.learner == "Zoë");
        assert_eq!(sealed.report.points_pct(), Some(100));
        assert_eq!(sealed.report.assignment.as_ref(), Some(&given));
        page.open(&format!("#{}", given.encode())).await;
        page.wait("the name is kept", "document.getElementById('learner')?.value === 'Zoë'").await;
        open(page, "results").await;
        choose(page, "result-files", &[("zoe.json", file)]).await;
        page.wait("the table shows it", "document.querySelectorAll('#class tbody tr').length === 1").await;
        let row = page.text("#class tbody tr").await;
        assert!(
            row.contains("Zoë") && row.contains("100 %") && row.contains("passed") && row.contains("fits"),
            "{row}"
        );
        page.assert_quiet().await;
    });
}

#[test]
fn a_damaged_assignment_gives_a_message_and_the_page_lives() {
    let long = format!("#assignment=1&do=a&message={}&end", "x".repeat(9000));
    for (broken, cause) in [
        ("#assignment=1&do=more-boost-less-torque", "cut off"),
        ("#assignment=7&do=a&end", "version"),
        ("#assignment=1&do=%3Cscript%3E&end", "list of lesson ids"),
        (long.as_str(), "allowed are 8192"),
    ] {
        browse(dist(), DESK, async |page| {
            page.open(broken).await;
            page.wait("it is told", "document.getElementById('notice') !== null").await;
            let notice = page.text("#notice").await;
            assert!(notice.contains("assignment") && notice.contains(cause), "{broken:.60}: {notice}");
            page.drag("#vane", 0.5, 0.9).await;
            page.settled().await;
            page.assert_quiet().await;
        });
    }
}

#[test]
fn what_an_assignment_asks_in_vain_is_named_and_the_rest_can_be_done() {
    let lesson = catalog().lesson(LESSON).expect("the lesson");
    let checkpoint = lesson.checkpoints().find(|c| c.question.name() == "number").expect("a number");
    let given = Assignment::of(vec![
        Item::lesson("no-such-lesson"),
        Item::single(LESSON, "no-such-question"),
        Item::single(LESSON, &checkpoint.id),
    ]);
    browse(dist(), DESK, async |page| {
        page.open(&format!("#{}", given.encode())).await;
        page.wait("the front page is there", "document.querySelector('[data-open]') !== null").await;
        let missing = page.text("#missing-lessons").await;
        assert!(missing.contains("“no-such-lesson”") && missing.contains("tell your instructor"), "{missing}");
        assert_eq!(page.count("[data-open]").await, 1);
        page.click(&format!("[data-open='{LESSON}']")).await;
        let form = format!("[data-checkpoint='{}']", checkpoint.id);
        page.wait("the question is there", &format!("document.querySelector(\"{form} input\") !== null")).await;
        let notice = page.text("#notice").await;
        assert!(notice.contains("“no-such-question”") && !notice.contains(&checkpoint.id), "{notice}");
        page.assert_quiet().await;
    });
}

#[test]
fn results_of_a_class_become_a_table() {
    browse(dist(), DESK, async |page| {
        open(page, "results").await;
        let class = [
            ("ann.json", result("Ann", &[0], true).json()),
            ("bob.json", result("Bob", &[0, 0], false).json()),
            ("cem.json", result("=Cem()", &[], true).json()),
            ("ann again.json", result("Ann", &[0], true).json()),
            ("touched.json", result("Dee", &[1], false).json().replace("Dee", "Eve")),
        ];
        choose(page, "result-files", &class).await;
        page.wait("all are read", "document.getElementById('results-said').textContent.includes('4')").await;
        let table = page
            .value(
                "[...document.querySelectorAll('#class tbody tr')].map((r) => [...r.cells].map((c) => c.textContent))",
            )
            .await;
        let rows: Vec<Vec<String>> = serde_json::from_value(table).expect("rows");
        assert_eq!(rows.iter().map(|row| row[0].as_str()).collect::<Vec<_>>(), ["=Cem()", "Ann", "Bob", "Eve"]);
        assert_eq!(rows[1], ["Ann", "50 %", "not passed", "10", "31", "fits", "✓2", "·"]);
        assert_eq!(rows[3][5], "does not fit", "a changed file is seen");
        let first = catalog().lesson(LESSON).expect("the lesson").checkpoints().next().expect("one").id.clone();
        let question = page.text(&format!("[data-question='{LESSON}/{first}']")).await;
        assert!(question.contains("2 of 4: That is the rise of the boost"), "{question}");
        assert!(question.contains("right in the end 50 %") && question.contains("4 of 4 tried"), "{question}");
        // Predicted curves are drawn over each other. Predictions in words are shown as words.
        assert_eq!(page.count(".results-overlay .graph-guess").await, 4);
        // The curve of the bench with the same numbers is drawn over them, to a tenth of a unit of the drawing.
        page.wait("the bench's curve is there", "document.querySelector('[data-truth]') !== null").await;
        assert_eq!(page.count(".results-overlay .graph-truth").await, 1, "all of them had the same numbers");
        assert!(page.text(".results-overlay").await.contains("torque at the crank ["), "its axes say what they are");
        let lesson = catalog().lesson(LESSON).expect("the lesson");
        let (predict, mut solver) = (lesson.predictions().next().expect("one"), CoreSolver::default());
        let worked = lesson.work_out(Seed(31), &mut solver).expect("worked out");
        let predicted = predict.work_out(lesson, &worked, &mut solver).expect("a draw");
        let Key::Sketch(key) = &predicted.key else { panic!("it is drawn") };
        let path = page.value("document.querySelector('.results-overlay .graph-truth').getAttribute('d')").await;
        let drawn = path.as_str().expect("a path").split(['M', 'L']).skip(1);
        let heights: Vec<f64> =
            drawn.map(|point| point.split(' ').nth(1).and_then(|y| y.parse().ok()).expect("y")).collect();
        assert_eq!(heights.len(), key.truth.len());
        for (y, share) in heights.iter().zip(&key.truth) {
            let wanted = 6.0 + 130.0 * (1.0 - share);
            assert!((y - wanted).abs() < 0.1, "{y} for {wanted}");
        }
        assert_eq!(page.count("#writings .results-quote").await, 4);
        assert!(page.text("#writings").await.contains("<img src=x onerror="), "text stays text");
        assert_eq!(page.value("window.hit === undefined").await, json!(true));
        // A file for a spreadsheet has no formula in it.
        page.run(CATCH).await;
        for (button, rows) in [("class-csv", 5), ("answers-csv", 19)] {
            page.click(&format!("#{button}")).await;
            let text = caught(page).await;
            assert!(text.contains("\"'=Cem()\"") && !text.contains("\"=Cem"), "{text}");
            assert!(button == "class-csv" || text.contains("\"'=1+1\""), "{text}");
            assert!(text.matches("\r\n").count() >= rows, "{button}: {text}");
        }
        page.assert_quiet().await;
    });
}

#[test]
fn hostile_results_give_a_message_and_nothing_runs() {
    browse(dist(), DESK, async |page| {
        open(page, "results").await;
        let good = result("Ann", &[], true).json();
        let deep = format!("{}{}", "[".repeat(300_000), "]".repeat(300_000));
        let files = [
            ("<script>alert(1)</script>.json", "<script>window.hit=1</script>".to_string()),
            ("deep.json", deep),
            ("cut.json", good[..good.len() / 2].to_string()),
            ("line.json", format!("{{\"format\":\"volute-result\",\"learner\":\"{}\"}}", "x".repeat(1_000_000))),
            ("large.json", " ".repeat(1_100_000)),
            ("proto.json", "{\"__proto__\":{\"format\":\"volute-result\"},\"constructor\":1}".to_string()),
            ("turn.json", good.replace("Ann", "A\\u202enn")),
            ("table.csv", "learner,file\r\nAnn,x".to_string()),
            ("number.json", good.replace("\"seconds\": 600", "\"seconds\": 1e999")),
        ];
        choose(page, "result-files", &files).await;
        page.wait("all are refused", &format!("document.querySelectorAll('#refusals li').length === {}", files.len()))
            .await;
        let said = page.text("#refusals").await;
        for cause in [
            "not readable as JSON",
            "recursion limit",
            "it has 1100000 bytes; a result has at most 1048576",
            "no result of this bench",
            "U+202E",
            "it is a table for spreadsheets",
        ] {
            assert!(said.contains(cause), "{cause}: {said}");
        }
        assert_eq!(page.count("#class").await, 0);
        assert_eq!(page.value("window.hit === undefined").await, json!(true));
        // The page still works.
        choose(page, "result-files", &[("ann.json", good)]).await;
        page.wait("one is read", "document.querySelectorAll('#class tbody tr').length === 1").await;
        // A file of a hundred megabytes is refused by its size, before it is read.
        page.run(
            "const data = new DataTransfer(), part = 'x'.repeat(1 << 20);
             data.items.add(new File(Array(100).fill(part), 'huge.json'));
             const input = document.getElementById('result-files');
             input.files = data.files;
             window.begun = performance.now();
             input.dispatchEvent(new Event('change', { bubbles: true }));",
        )
        .await;
        page.wait("it is refused", "document.getElementById('refusals').textContent.includes('104857600 bytes')").await;
        page.assert_quiet().await;
    });
}

/// The text with plain spaces in place of those that keep a number and its unit on one line.
fn plain(text: &str) -> String {
    text.replace(['\u{a0}', '\u{202f}'], " ")
}

/// Fails if the job sheet of a lesson does not stay on its page, or if its type is too small to read.
async fn assert_job_sheets_fit(page: &Page) {
    let sheets = "[...document.querySelectorAll('.paper-job')].map((job) => [job.dataset.lesson, job.scrollHeight - job.clientHeight, \
                  parseFloat(getComputedStyle(job).fontSize) * 72 / 96])";
    let sheets = page.value(sheets).await;
    assert_eq!(sheets.as_array().map(Vec::len), Some(catalog().lessons.len()));
    for sheet in sheets.as_array().expect("sheets") {
        assert!(sheet[1].as_i64().is_some_and(|over| over <= 0), "{sheet}: px too high");
        // Pinned by choice.
        assert!(sheet[2].as_f64().is_some_and(|size_pt| size_pt >= 6.5), "{sheet}: too small a type");
    }
}

/// The sheets in German, which is the longer language.
#[test]
fn sheets_in_german_stay_on_their_page() {
    browse(dist(), DESK, async |page| {
        page.prefers("de").await;
        open(page, "print").await;
        page.run(
            "document.querySelectorAll('.paper-choice input').forEach((box) => { if (!box.checked) box.click(); })",
        )
        .await;
        let lessons = catalog().lessons.len();
        page.wait(
            "every sheet is worked out",
            &format!("document.querySelectorAll('.paper-job').length === {lessons}"),
        )
        .await;
        page.rested().await;
        assert_job_sheets_fit(page).await;
        // Each sheet takes one page, on A4 and on Letter, in any window.
        for (window, width, height) in [(DESK, 8.27, 11.69), (DESK, 8.5, 11.0), (PHONE, 8.27, 11.69)] {
            page.look(window).await;
            // The sheets are made again, so that they are measured in this window.
            page.run("const box = document.getElementById('p-job'); box.click(); box.click();").await;
            page.wait("they are there again", &format!("document.querySelectorAll('.paper-job').length === {lessons}"))
                .await;
            page.rested().await;
            let paper = json!({ "paperWidth": width, "paperHeight": height, "preferCSSPageSize": false });
            let printed = page.devtools("Page.printToPDF", paper).await;
            let printed = BASE64_STANDARD.decode(printed["data"].as_str().expect("a document")).expect("base64");
            let pages = printed.windows(12).filter(|w| w.starts_with(b"/Type /Page") && w[11] != b's').count();
            assert_eq!(pages, lessons, "{window:?}, {width} in wide");
            // The sheet is as wide as A4 inside its margins.
            page.look(View { width: 718, ..DESK }).await;
            page.devtools("Emulation.setEmulatedMedia", json!({ "media": "print" })).await;
            assert_job_sheets_fit(page).await;
            page.devtools("Emulation.setEmulatedMedia", json!({ "media": "" })).await;
        }
        page.look(DESK).await;
        let heads = page.text(".paper-logged thead").await;
        assert!(heads.contains("[kPa Überdruck]") && !heads.contains("gauge"), "{heads}");
        page.assert_quiet().await;
    });
}

/// Fails if a printer gets anything but the whole sheets.
async fn assert_printed_whole(page: &Page) {
    // A printer gets the sheets and nothing else, on A4 and on Letter. No sheet is blank.
    for (width, height) in [(8.27, 11.69), (8.5, 11.0)] {
        let printed = page
            .devtools(
                "Page.printToPDF",
                json!({ "paperWidth": width, "paperHeight": height, "preferCSSPageSize": false }),
            )
            .await;
        let data = printed["data"].as_str().expect("a document");
        assert!(data.len() > 20_000, "{} letters of base64", data.len());
    }
    page.devtools("Emulation.setEmulatedMedia", json!({ "media": "print" })).await;
    assert_eq!(page.value("getComputedStyle(document.querySelector('.office-head')).display").await, json!("none"));
    // Chosen: the shortest sheet is a plan. The least of them is 285 px high and has 745 letters.
    let blank = page
        .value(
            "[...document.querySelectorAll('.paper')].filter((p) => p.getBoundingClientRect().height < 200 \
             || p.innerText.length < 400).map((p) => `${p.className} ${p.dataset.lesson}`)",
        )
        .await;
    assert_eq!(blank, json!([]), "these are blank");
    let breaks = page
        .value("[...document.querySelectorAll('.paper-job')].every((p) => getComputedStyle(p).breakAfter === 'page')")
        .await;
    assert_eq!(breaks, json!(true), "one page a lesson");
    // A key and a plan may go on over the page, but they end with what they say: a class of the bench's plots once cut them
    // off.
    let cut = page
        .value(
            "[...document.querySelectorAll('.paper-key, .paper-plan')].filter((p) => getComputedStyle(p).display !== 'block' \
             || p.lastElementChild.getBoundingClientRect().bottom > p.getBoundingClientRect().bottom + 1).map((p) => p.dataset.lesson)",
        )
        .await;
    assert_eq!(cut, json!([]), "these are cut off");
}

#[test]
fn sheets_go_on_paper() {
    browse(dist(), DESK, async |page| {
        open(page, "print").await;
        page.run(
            "document.querySelectorAll('.paper-choice input').forEach((box) => { if (!box.checked) box.click(); })",
        )
        .await;
        page.click("#p-key").await;
        page.click("#p-plan").await;
        let lessons = catalog().lessons.len();
        page.wait(
            "every sheet is worked out",
            &format!("['.paper-job', '.paper-key', '.paper-plan'].every((kind) => document.querySelectorAll(kind).length === {lessons})"),
        )
        .await;
        page.rested().await;
        // Each job sheet stays on its page and shows no answer.
        assert_job_sheets_fit(page).await;
        // The driver reads no text from a sheet that is out of sight, so the page reads it.
        let sheet = async |kind: &str| {
            let text = format!("document.querySelector(\".paper-{kind}[data-lesson='{LESSON}']\").innerText");
            plain(page.value(&text).await.as_str().expect("a text"))
        };
        let (job, key) = (sheet("job").await, sheet("key").await);
        assert!(job.contains("What surprised me") && job.contains("variant 1"), "{job}");
        // The answer key has the answers that the lessons crate works out.
        let lesson = catalog().lesson(LESSON).expect("the lesson");
        let mut solver = CoreSolver::default();
        let worked = lesson.work_out(Seed(1), &mut solver).expect("worked out");
        assert!(key.contains("Answer key"), "{key}");
        for checkpoint in lesson.checkpoints() {
            let asked = checkpoint.work_out(lesson, &worked, 0, &mut solver).expect("a draw");
            let (answer, tolerance) = (asked.answer_in_print(STYLE), asked.tolerance_in_print(STYLE));
            for part in [answer, tolerance].into_iter().flatten() {
                let part = plain(&part);
                assert!(key.contains(&part), "{}: {part}", checkpoint.id);
                assert!(!job.contains(&format!(" {part}\n")), "{}: {part} is on the job sheet", checkpoint.id);
            }
        }
        assert!(page.count(&format!(".paper-key[data-lesson='{LESSON}'] .paper-wrongs tbody tr")).await >= 7);
        assert_printed_whole(page).await;
        page.assert_quiet().await;
    });
}

#[test]
fn an_author_sees_the_lesson_and_its_mistakes() {
    browse(dist(), DESK, async |page| {
        open(page, "author").await;
        let source = english(LESSON);
        fill(page, "l-text", source).await;
        page.wait("the lesson is shown", "document.querySelector('#preview .paper-entry') !== null").await;
        page.wait("it was tried", "document.getElementById('l-said').textContent.includes('Nothing to say')").await;
        assert_eq!(page.count("#l-messages li").await, 0);
        // The page names a mistake with its line, and still shows the lesson.
        let line = 1 + source.lines().position(|line| line.starts_with("goal = ")).expect("a goal");
        let broken = source.replacen("goal = \"boost", "goal = \"bost", 1);
        assert_ne!(broken, source);
        fill(page, "l-text", &broken).await;
        page.wait("it is said", "document.querySelectorAll('#l-messages li').length === 1").await;
        let said = page.text("#l-messages li").await;
        assert!(said.contains(&format!("line {line}, column")) && said.contains("bost"), "{said}");
        assert!(page.count("#preview .paper-entry").await > 0);
        // A click on the message leads to the mistake.
        page.click("#l-messages button").await;
        page.settled().await;
        assert!(page.text("#l-caret").await.starts_with(&format!("line {line}, ")), "{}", page.text("#l-caret").await);
        // The device keeps the text.
        open(page, "author").await;
        let kept = page.value("document.getElementById('l-text').value").await;
        assert_eq!(kept.as_str(), Some(broken.as_str()));
        // A hostile text gives a message. It is not executed, and the page does not freeze.
        let deep = format!("{}{}", source, "> ".repeat(20_000));
        let wide = format!("+++\nid = \"{}\"\n+++\n", "x".repeat(250_000));
        for (text, cause) in [
            ("<script>window.hit = 1</script>".to_string(), "front matter"),
            (
                source.replacen("Somebody in", "<img src=x onerror='window.hit=1'>", 1).replacen("## ", "## <b>", 1),
                "HTML",
            ),
            (deep, "line"),
            (wide, "line"),
            ("x".repeat(300_000), "300000 bytes; a lesson may have 262144"),
            ("\u{0}".repeat(10), "U+0000"),
        ] {
            fill(page, "l-text", &text).await;
            page.wait(
                &format!("{cause} is said"),
                &format!("document.getElementById('l-messages').textContent.includes({})", json!(cause)),
            )
            .await;
        }
        assert_eq!(page.value("window.hit === undefined").await, json!(true));
        page.assert_quiet().await;
    });
}

/// Everything that the device keeps of lessons, by name.
async fn kept_of_lessons(page: &Page) -> serde_json::Value {
    page.value("Object.keys(localStorage).filter((k) => k.startsWith('volute.lesson.')).sort().map((k) => [k, localStorage.getItem(k)])").await
}

/// Opens the bench with the draft, as the link on the desk does, and waits for `done`.
async fn open_draft(page: &Page, done: &str) {
    page.visit("").await;
    page.visit("#v=1&lesson=~draft").await;
    page.run("location.reload()").await;
    page.wait("the draft is answered", done).await;
}

#[test]
fn an_author_tries_a_draft_as_a_learner_and_nothing_of_it_is_kept() {
    browse(dist(), DESK, async |page| {
        // First the real lesson with the same id is answered.
        let predict = catalog().lesson(LESSON).expect("the lesson").predictions().next().expect("one").id.clone();
        let ready = format!("document.querySelector(\"[data-predict='{predict}'] [data-lock]\")");
        let locked = format!("document.querySelector(\"[data-predict='{predict}'].locked\")");
        let answer = async || {
            page.wait("the question is drawn", &ready).await;
            page.run_with(
                "for (const handle of document.querySelectorAll(`#${arguments[0]}-sketch .sketch-handle:enabled`)) {
                     handle.value = handle.max / 2;
                     handle.dispatchEvent(new Event('input', { bubbles: true }));
                 }
                 document.querySelector(`[data-predict='${arguments[0]}'] [data-lock]`).click();",
                vec![json!(predict)],
            )
            .await;
            page.wait("the answer is locked", &locked).await;
            page.rested().await;
        };
        page.open(&format!("#v=1&lesson={LESSON}&variant=31")).await;
        answer().await;
        let before = kept_of_lessons(page).await;
        assert_eq!(before.as_array().map(Vec::len), Some(1), "{before}");
        // The draft is the same lesson under another title.
        open(page, "author").await;
        let title = english(LESSON).lines().find(|line| line.starts_with("title = ")).expect("a title");
        let draft = english(LESSON).replacen(title, "title = \"Not there yet\"", 1);
        fill(page, "l-text", &draft).await;
        let link = page.value("document.getElementById('l-try').href").await;
        assert_eq!(link.as_str(), Some(format!("{}#v=1&lesson=~draft", page.url()).as_str()));
        page.click("#l-try").await;
        page.newest_tab().await;
        page.wait("the draft is open", "document.getElementById('draft')").await;
        assert!(page.text("#draft").await.starts_with("Draft: nothing of this is kept."));
        assert_eq!(page.text("#l-h").await, "Not there yet");
        assert_eq!(page.count(".locked").await, 0, "what was answered in the real lesson is not in the draft");
        let first = page.value("document.querySelector('[data-variant]').dataset.variant").await;
        answer().await;
        assert_eq!(kept_of_lessons(page).await, before);
        // The draft begins again with other numbers whenever it is opened: by its button, and when the page is loaded.
        let fresh = format!("{} && {ready} && !{locked}", "document.getElementById('draft')");
        page.click("#draft-again").await;
        page.wait("it is read again", &fresh).await;
        let second = page.value("document.querySelector('[data-variant]').dataset.variant").await;
        page.rested().await;
        let fragment = page.value("location.hash").await;
        assert!(fragment.as_str().is_some_and(|f| f.contains("lesson=~draft")), "{fragment}");
        page.run("location.reload()").await;
        page.wait("it is read again", &fresh).await;
        let third = page.value("document.querySelector('[data-variant]').dataset.variant").await;
        assert!(first != second && second != third && first != third, "{first}, {second}, {third}");
        page.click("#all-lessons").await;
        page.settled().await;
        assert_eq!(kept_of_lessons(page).await, before);
        page.assert_quiet().await;
    });
}

#[test]
fn a_draft_that_is_none_gives_a_sentence() {
    browse(dist(), DESK, async |page| {
        open_draft(page, "document.querySelector('#lesson [role=alert]')").await;
        assert!(page.text("#lesson [role=alert]").await.starts_with("There is no draft in this browser"));
        // The desk does not hand a broken draft over to the bench.
        open(page, "author").await;
        let source = english(LESSON);
        let broken = source.replacen("goal = \"boost", "goal = \"bost", 1);
        let long = format!("{source}\n{}", "x".repeat(262_144));
        for (text, cause) in [("", "nothing to try"), (broken.as_str(), "mistakes"), (long.as_str(), "at most 256 kB")]
        {
            fill(page, "l-text", text).await;
            page.click("#l-try").await;
            page.settled().await;
            let said = page.text("#l-kept-back").await;
            assert!(said.contains(cause), "{said}");
        }
        // It also hands nothing over if the browser has no room for the draft.
        fill(page, "l-text", source).await;
        page.wait("it was tried", "document.getElementById('l-said').textContent.includes('Nothing to say')").await;
        page.run("Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }").await;
        page.click("#l-try").await;
        page.wait(
            "it is said",
            "document.getElementById('l-kept-back').textContent.includes('does not keep the text')",
        )
        .await;
        assert_eq!(page.tabs().await, 1, "no tab was opened");
        // If the kept draft is broken or damaged, the bench says so and goes on.
        open(page, "author").await;
        fill(page, "l-text", &broken).await;
        page.wait("it is kept", "localStorage.getItem('volute.lesson-draft').includes('bost')").await;
        let alert = "document.querySelector('#lesson [role=alert]')";
        open_draft(page, alert).await;
        let said = page.text("#lesson [role=alert]").await;
        assert!(said.starts_with("The draft cannot be read: line ") && said.contains("bost"), "{said}");
        page.run("localStorage.setItem('volute.lesson-draft', '1:0:<img src=x onerror=window.hit=1>')").await;
        open_draft(page, alert).await;
        let said = page.text("#lesson [role=alert]").await;
        assert!(said.contains("lesson-draft") && said.contains("damaged"), "{said}");
        assert_eq!(page.value("window.hit === undefined").await, json!(true));
        page.drag("#vane", 0.5, 0.9).await;
        page.settled().await;
        page.assert_quiet().await;
    });
}

#[test]
fn axe_finds_nothing_on_the_desk_and_nothing_scrolls_sideways() {
    browse(dist(), DESK, async |page| {
        for sheet in ["compose", "results", "print", "author"] {
            open(page, sheet).await;
            match sheet {
                "compose" => {
                    page.click(&format!("[data-add='{LESSON}']")).await;
                    page.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })").await;
                }
                "results" => {
                    let class =
                        [("ann.json", result("Ann", &[0], true).json()), ("b.json", result("Bob", &[1], false).json())];
                    choose(page, "result-files", &class).await;
                    page.wait("both are read", "document.querySelectorAll('#class tbody tr').length === 2").await;
                }
                "print" => {
                    page.click("#p-key").await;
                    page.wait("the key is there", "document.querySelector('.paper-key') !== null").await;
                }
                _ => {
                    fill(page, "l-text", english(LESSON)).await;
                    page.wait("the lesson is shown", "document.querySelector('#preview .paper-entry') !== null").await;
                }
            }
            for view in [DESK, DESK_DARK, PHONE, View { dark: true, ..PHONE }] {
                page.look(view).await;
                page.settled().await;
                let findings = page.axe().await;
                assert!(findings.is_empty(), "{sheet}, {view:?}: {findings:#?}");
            }
            for width in [320, 390, 768, 1366] {
                page.look(View { width, height: 844, dark: false }).await;
                page.settled().await;
                let wide = page.value("document.documentElement.scrollWidth").await;
                assert!(wide.as_u64().is_some_and(|wide| wide <= u64::from(width)), "{sheet} at {width}: {wide}");
            }
            page.look(DESK).await;
        }
        page.assert_quiet().await;
    });
}

#[test]
fn the_desk_asks_no_other_host() {
    browse(dist(), DESK, async |page| {
        open(page, "compose").await;
        let requests = page.requests().await;
        assert!(requests.iter().any(|address| address.contains("split_desk.wasm")), "{requests:#?}");
        for other in ["split_below.wasm", "split_lesson.wasm"] {
            assert!(!requests.iter().any(|address| address.contains(other)), "the desk does without {other}");
        }
        let own = [page.url(), "data:".into(), "blob:".into(), "about:".into()];
        let foreign: Vec<&String> = requests.iter().filter(|a| !own.iter().any(|start| a.starts_with(start))).collect();
        assert!(foreign.is_empty(), "{foreign:#?}");
        page.assert_quiet().await;
    });
}
