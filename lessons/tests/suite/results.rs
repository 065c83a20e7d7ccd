//! Result files and the tables of a class.

use proptest::prelude::*;
use volute_lessons::assignment::{Assignment, Item};
use volute_lessons::results::class::{Added, Class};
use volute_lessons::results::*;
use volute_lessons::seed::Seed;
use volute_lessons::units::Decimal;

fn tried(answer: &str, right: bool, misconception: Option<u32>) -> Try {
    Try { draw: 0, answer: answer.into(), right, points_pct: if right { 100 } else { 0 }, misconception, seconds: 30 }
}

fn report(learner: &str, tries: &[Try]) -> Report {
    let mut number = ItemReport::new("rise", Kind::Number);
    tries.iter().for_each(|made| number.push(made.clone()));
    number.done = true;
    let mut guess = ItemReport::new("guess", Kind::Predict);
    guess.curve = vec![0, 500, 1000, -20];
    guess.picked = vec![2];
    guess.done = true;
    let mut words = ItemReport::new("worn", Kind::Transfer);
    words.words = "=HYPERLINK(\"http://x\")\nand <script>alert(1)</script>".into();
    words.confidence_pct = Some(80);
    let lesson = LessonReport {
        id: "more-boost-less-torque".into(),
        version: version_of("text"),
        seed: Seed(u64::MAX),
        complete: true,
        seconds: 700,
        items: vec![guess, number, ItemReport::new("how-far", Kind::Task), words],
    };
    let assignment =
        Assignment { title: "Mönday".into(), ..Assignment::of(vec![Item::lesson("more-boost-less-torque")]) };
    Report {
        learner: learner.into(),
        assignment: Some(assignment),
        page: "abc".into(),
        saved: "2026-12-01T18:30Z".into(),
        lessons: vec![lesson],
    }
}

fn ann() -> Report {
    report("Ann", &[tried("63 kPa", false, Some(1)), tried("81 kPa", true, None)])
}

#[test]
fn identity_what_is_written_is_read() {
    let text = ann().json();
    assert_eq!(read(&text), Ok(Sealed { report: ann(), intact: true }), "{text}");
    assert!(!text.contains('<'), "{text}");
    // Spaces and line ends are no tampering; a byte-order mark neither.
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert!(read(&value.to_string()).unwrap().intact);
    assert!(read(&format!("\u{feff}{}", text.replace('\n', "\r\n"))).unwrap().intact);
}

#[test]
fn regress_files_are_read_for_ever() {
    // Pinned by choice: people have such files. The checksum was computed by a few lines in another language.
    let text = r#"{"format":"volute-result","version":1,"learner":"Ann","page":"p","saved":"s","lessons":[{"id":"a","lesson_version":"0","seed":"7","complete":false,"seconds":5,"items":[{"id":"q","kind":"number","points_pct":50,"done":true,"hints":1,"tries":[{"draw":0,"answer":"1,5 bar","right":false,"points_pct":50,"misconception":0}]}]}],"checksum":"fnv1a64:51d7a1443fb7ae7c"}"#;
    let sealed = read(text).unwrap();
    assert_eq!(sealed.report.lessons[0].items[0].tries[0].answer, "1,5 bar");
    assert!(sealed.intact);
}

#[test]
fn by_hand_a_changed_file_is_seen() {
    let text = ann().json();
    for (from, to) in
        [("\"points_pct\": 100", "\"points_pct\": 99"), ("Ann", "Bob"), ("81 kPa", "82 kPa"), ("fnv1a64:", "fnv1a64:0")]
    {
        let changed = text.replacen(from, to, 1);
        assert_ne!(changed, text);
        assert!(!read(&changed).unwrap().intact, "{from}");
    }
}

#[test]
fn by_hand_whatever_a_learner_typed_can_be_read() {
    let mut own = ann();
    own.learner = format!("\u{202e}A\u{7}nn{}", "x".repeat(100));
    own.lessons[0].items[1].tries[0].answer = format!("5\0{}", "9".repeat(5000));
    own.lessons[0].items[0].curve = vec![1; 500];
    let read = read(&own.json()).unwrap();
    assert!(read.intact && read.report.learner.starts_with("Annxx"));
    assert_eq!(read.report.lessons[0].items[1].tries[0].answer.len(), LONGEST_TEXT);
}

#[test]
fn by_hand_points_are_the_mean_of_what_is_scored() {
    // The number is right, the task was not tried; prediction and words do not count.
    assert_eq!(ann().points_pct(), Some(50));
    assert_eq!(ann().passed(), Some(false));
    assert_eq!(Report::default().points_pct(), None);
    assert_eq!(ann().lessons[0].items[1].points_pct, 100);
    assert!(ann().lessons[0].items[1].is_right());
}

#[test]
fn by_hand_what_is_wrong_is_said_with_its_place() {
    let good = ann().json();
    for (from, to, cause) in [
        (
            "\"kind\": \"number\"",
            "\"kind\": \"essay\"",
            "`lessons[0].items[1].kind` is “essay”; allowed is predict, task",
        ),
        ("\"seed\": \"18446744073709551615\"", "\"seed\": 5", "`lessons[0].seed` is 5; allowed is a text"),
        (
            "\"seed\": \"18446744073709551615\"",
            "\"seed\": \"-5\"",
            "`lessons[0].seed` is “-5”; allowed is a whole number",
        ),
        ("\"points_pct\": 100", "\"points_pct\": 1e3", "`lessons[0].items[1].points_pct` is 1000"),
        ("\"points_pct\": 100", "\"points_pct\": 100.5", "is 100.5; allowed is a whole number from 0 to 100"),
        ("\"hints\": 0", "\"hints\": -1", "`lessons[0].items[0].hints` is -1"),
        (
            "[0, 500, 1000, -20]",
            "[0, 1e9]",
            "`lessons[0].items[0].curve` is a list of 2; allowed is a list of at most 101",
        ),
        ("\"id\": \"rise\"", "\"id\": \"<b>\"", "`lessons[0].items[1].id` is “<b>”; allowed is small letters"),
        ("\"learner\": \"Ann\"", "\"learner\": {}", "`learner` is an object; allowed is a text of at most 80"),
        ("\"learner\": \"Ann\"", "\"learner\": \"A\\u202en\"", "`learner` is a text with the character U+202E"),
        ("\"learner\": \"Ann\",", "", "`learner` is missing"),
        ("\"version\": 1", "\"version\": 2", "it is of version 2"),
        ("volute-result", "another", "no result of this bench"),
        ("assignment=1&", "assignment=9&", "its assignment cannot be read: it is of version `9`"),
    ] {
        let text = good.replacen(from, to, 1);
        assert_ne!(text, good, "{from}");
        let error = read(&text).expect_err(to).to_string();
        assert!(error.contains(cause), "{to}: {error}");
    }
}

#[test]
fn by_hand_hostile_files_give_a_message() {
    let deep = format!("{}{}", "[".repeat(200_000), "]".repeat(200_000));
    let wide = format!("{{\"format\":\"volute-result\",\"version\":1,\"learner\":\"{}\"}}", "x".repeat(900_000));
    let many = format!(
        "{{\"format\":\"volute-result\",\"version\":1,\"learner\":\"\",\"page\":\"\",\"saved\":\"\",\"lessons\":[{}{{}}]}}",
        "{},".repeat(100_000)
    );
    for (text, cause) in [
        ("", "not readable as JSON, at line 1"),
        ("<script>alert(1)</script>", "not readable as JSON"),
        ("=1+1", "not readable as JSON"),
        ("null", "no result of this bench"),
        ("[]", "no result of this bench"),
        ("{\"__proto__\":{\"format\":\"volute-result\"}}", "no result of this bench"),
        ("learner,file\r\nAnn,a.json", "table for spreadsheets"),
        ("\u{feff}learner;file", "table for spreadsheets"),
        (&deep, "not readable as JSON, at line 1, column 128: recursion limit"),
        (&wide, "`learner` is “xxxx"),
        (&many, "`lessons` is a list of 100001; allowed is a list of at most 60"),
    ] {
        let error = read(text).expect_err("refused").to_string();
        assert!(error.contains(cause) && error.len() < 400, "{error}");
    }
    let large = "x".repeat(LARGEST + 1);
    assert_eq!(read(&large), Err(ReadError::TooLarge { bytes: LARGEST as u64 + 1 }));
    assert!(ReadError::by_size(100 << 20).is_err() && ReadError::by_size(10).is_ok());
    // Cut anywhere, a file is refused.
    let good = ann().json();
    let end = good.trim_end().len();
    for at in 0..end {
        if good.is_char_boundary(at) {
            assert!(read(&good[..at]).is_err(), "cut at {at}");
        }
    }
}

fn class() -> Class {
    let mut class = Class::default();
    for (name, tries) in [
        ("Cem", vec![tried("63", false, Some(1)), tried("70", false, None)]),
        ("Ann", vec![tried("63", false, Some(1)), tried("81", true, None)]),
        ("Bob", vec![tried("81", true, None)]),
        ("Dee", vec![]),
        ("Eva", vec![tried("x", false, Some(0)), tried("63", false, Some(1)), tried("63", false, Some(1))]),
    ] {
        assert_eq!(
            class.add(&format!("{name}.json"), Sealed { report: report(name, &tries), intact: true }),
            Added::In
        );
    }
    class
}

#[test]
fn by_hand_a_class_is_counted() {
    let mut class = class();
    assert_eq!(class.add("again.json", Sealed { report: report("Dee", &[]), intact: true }), Added::Again);
    let names: Vec<&str> = class.entries().iter().map(|e| e.report.learner.as_str()).collect();
    assert_eq!(names, ["Ann", "Bob", "Cem", "Dee", "Eva"]);
    let columns = class.columns();
    assert_eq!(columns.iter().map(|c| c.item.as_str()).collect::<Vec<_>>(), ["rise", "how-far"]);
    let sum = class.summary(&columns[0]);
    assert_eq!((sum.asked, sum.tried, sum.right, sum.right_at_once, sum.tries), (5, 5, 2, 1, 8));
    assert_eq!(sum.misconceptions, [(1, 3), (0, 1)], "each learner counts once");
    assert_eq!(sum.versions.len(), 1);
    class.remove(0);
    assert_eq!(class.entries().len(), 4);
}

#[test]
fn by_hand_full_is_full() {
    let mut class = Class::default();
    for i in 0..class::MOST {
        class.add("f", Sealed { report: report(&i.to_string(), &[]), intact: true });
    }
    assert_eq!(class.add("f", Sealed { report: ann(), intact: true }), Added::Full);
}

#[test]
fn by_hand_tables_hold_no_formula_and_plain_numbers() {
    let mut class = class();
    let names = ["=1+1", "+1", "-1", "@x", "\tx", "  =1", "＝1", "a\"b", "a,b", "a;b", "x\n=1"];
    for name in names {
        class.add("=cmd|' /C calc'!A0.json", Sealed { report: report(name, &[]), intact: false });
    }
    for decimal in [Decimal::Point, Decimal::Comma] {
        let separator = if decimal == Decimal::Comma { ';' } else { ',' };
        let answers = tables::answers(class.entries().iter().map(|e| (e.file.as_str(), &e.report)), decimal);
        for text in [tables::class(&class, decimal), answers] {
            let rows = parse(text.strip_prefix('\u{feff}').unwrap(), separator);
            let width = rows[0].len();
            for row in &rows {
                assert_eq!(row.len(), width, "{row:?}");
                for (cell, quoted) in row {
                    let bare = !quoted && !cell.is_empty();
                    assert!(!bare || cell.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_'), "bare `{cell}`");
                    let first = cell.trim_start_matches(' ').chars().next();
                    assert!(!matches!(first, Some('=' | '+' | '-' | '@' | '\t' | '＝')), "`{cell}`");
                }
            }
            for name in ["'=1+1", "'-1", "'  =1", "a\"b", "a,b", "a;b", "x\n=1"] {
                assert!(rows.iter().any(|row| row[0].0 == name), "{name}");
            }
        }
    }
}

/// A reader of RFC 4180 of its own: cells, and whether they were quoted.
fn parse(text: &str, separator: char) -> Vec<Vec<(String, bool)>> {
    let (mut rows, mut row, mut cell, mut quoted, mut inside) = (Vec::new(), Vec::new(), String::new(), false, false);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if inside && chars.peek() == Some(&'"') => {
                chars.next();
                cell.push('"');
            }
            '"' => {
                inside = !inside;
                quoted = true;
            }
            c if !inside && c == separator => row.push((std::mem::take(&mut cell), std::mem::take(&mut quoted))),
            '\r' if !inside => {}
            '\n' if !inside => {
                row.push((std::mem::take(&mut cell), std::mem::take(&mut quoted)));
                rows.push(std::mem::take(&mut row));
            }
            c => cell.push(c),
        }
    }
    rows
}

fn any_report() -> impl Strategy<Value = Report> {
    let made =
        (any::<u32>(), "\\PC{0,30}", any::<bool>(), 0_u32..=100, proptest::option::of(0_u32..1000), any::<u32>())
            .prop_map(|(draw, answer, right, points_pct, misconception, seconds)| Try {
                draw,
                answer,
                right,
                points_pct,
                misconception,
                seconds,
            });
    let item = (
        ("[a-z][a-z0-9-]{0,10}", 0..Kind::ALL.len(), proptest::collection::vec(made, 0..5)),
        (0_u32..1000, 0_u32..=100, any::<bool>(), proptest::option::of(0_u32..=100)),
        (
            "[ -~äß→\n\t]{0,80}",
            proptest::collection::vec(0_u32..1000, 0..5),
            proptest::collection::vec(-100_000..100_000, 0..9),
        ),
    )
        .prop_map(|((id, kind, tries), (hints, points_pct, done, confidence_pct), (words, picked, curve))| {
            ItemReport {
                id,
                kind: Kind::ALL[kind],
                tries,
                hints,
                points_pct,
                done,
                confidence_pct,
                words,
                picked: picked.clone(),
                curve,
                wrong_turns: picked,
                bought: vec!["p3".into(), "t3".into()],
            }
        });
    let lesson = (
        ("[a-z][a-z0-9-]{0,10}", "[0-9a-f]{8}", any::<u64>()),
        (any::<bool>(), any::<u32>()),
        proptest::collection::vec(item, 0..5),
    )
        .prop_map(|((id, version, seed), (complete, seconds), items)| LessonReport {
            id,
            version,
            seed: Seed(seed),
            complete,
            seconds,
            items,
        });
    ("[^\\p{Cc}\\x{202a}-\\x{202e}\\x{2066}-\\x{2069}]{0,80}", proptest::collection::vec(lesson, 0..4)).prop_map(
        |(learner, lessons)| Report { learner, assignment: None, page: "p".into(), saved: "s".into(), lessons },
    )
}

proptest! {
    #[test]
    fn identity_any_report_comes_back(report in any_report()) {
        prop_assert_eq!(read(&report.json()), Ok(Sealed { report, intact: true }));
    }

    #[test]
    fn identity_damage_gives_a_message_or_a_broken_seal(report in any_report(), at in any::<prop::sample::Index>(), byte in any::<u8>()) {
        let good = report.json();
        let mut bytes = good.clone().into_bytes();
        let at = at.index(bytes.len());
        bytes[at] = byte;
        if let Ok(text) = String::from_utf8(bytes) {
            match read(&text) {
                Err(error) => prop_assert!(!error.to_string().is_empty()),
                // Spaces, and the note for people, may change.
                Ok(sealed) => prop_assert!(!sealed.intact || sealed.report == read(&good).map(|s| s.report).unwrap_or_default()),
            }
        }
    }

    #[test]
    fn identity_no_text_makes_it_panic(text in "\\PC{0,300}") {
        let _ = read(&text);
    }
}

#[test]
fn by_hand_progress_becomes_a_report() {
    use volute_lessons::mark::{Answer, Detail, Mark, Typed};
    use volute_lessons::progress::Progress;
    let lesson = crate::sample::lesson();
    let mut progress = Progress::new(Seed(5));
    progress.spent_s = 90;
    let predict = lesson.predictions().next().unwrap();
    progress.lock(predict, Answer::Choice(0)).unwrap();
    let task = lesson.tasks().next().unwrap();
    progress.task_missed(&task.id, 0);
    progress.take_hint(&task.id, 1);
    progress.task_done(&task.id);
    let checkpoint = lesson.checkpoints().next().unwrap();
    let typed = |text: &str| Answer::Number(Typed { text: text.into(), decimal: Decimal::Comma });
    let mark = |right, misconception| Mark {
        right,
        points: if right { 1.0 } else { 0.0 },
        misconception,
        because: Vec::new(),
        show: None,
        detail: Detail::Choice,
    };
    progress.answered(&checkpoint.id, typed("63 kPa"), &mark(false, Some(1)));
    progress.answered(&checkpoint.id, typed("81,5 kPa"), &mark(true, None));
    let report = LessonReport::of(lesson, "v", &progress, None);
    let item = |id: &str| report.items.iter().find(|item| item.id == id).unwrap();
    assert_eq!((report.seconds, report.seed, report.complete), (90, Seed(5), false));
    let guess = item(&predict.id);
    assert_eq!((guess.kind, guess.done, guess.picked.as_slice()), (Kind::Predict, true, &[0][..]));
    assert_eq!(guess.words, "Rise by about as large a share as the boost.");
    let did = item(&task.id);
    assert_eq!((did.points_pct, did.hints, did.is_right(), did.is_right_at_once()), (90, 1, true, false));
    assert_eq!(did.misconceptions(), [0]);
    let asked = item(&checkpoint.id);
    assert_eq!((asked.points_pct, asked.done, asked.tries.len()), (100, true, 2));
    assert_eq!((asked.tries[1].answer.as_str(), asked.misconceptions()), ("81,5 kPa", vec![1]));
    assert_eq!(report.items.len(), 6, "a prediction, two tasks, two checkpoints, a transfer question");
    // What an assignment asks one by one.
    let only = LessonReport::of(lesson, "v", &progress, Some(&[checkpoint.id.as_str()]));
    assert_eq!(only.items.iter().map(|item| item.id.as_str()).collect::<Vec<_>>(), [checkpoint.id.as_str()]);
    assert!(only.complete);
    let whole = Report { lessons: vec![report], ..ann() };
    assert_eq!(read(&whole.json()), Ok(Sealed { report: whole, intact: true }));
}
