//! Lesson files: what is read from them, and which faults are reported.

use proptest::prelude::*;
use volute_lessons::expr::Env;
use volute_lessons::lesson::*;
use volute_lessons::parse::{LARGEST, parse};
use volute_lessons::text::{Inline, Prose, Target, plain};
use volute_lessons::units::Style;

const LESSON: &str = "+++
id = \"a-lesson\"
title = \"A lesson\"
course = \"A\"
minutes = 20
teaches = \"Something.\"
not_here = \"Something else.\"
seed = { n = \"1000..1200 step 50 1/min\" }
+++
```bench
speed = \"seed.n\"
torque = \"600 N m\"
vane = \"60 %\"
```
Prose with {{start.boost | kPa gauge}}.
```predict
id = \"guess\"
kind = \"short\"
ask = \"What?\"
```
```task
id = \"do-it\"
ask = \"Do it.\"
goal = \"boost > start.boost + 5 kPa\"
hint = \"Try.\"
answer = { vane = \"50 %\" }
done = \"Done.\"
```
```checkpoint
id = \"ask-it\"
kind = \"number\"
ask = \"How much?\"
hint = \"Think.\"
worked = \"So.\"
unit = \"kPa\"
answer = \"start.p3 - start.p2\"
tolerance = \"2 kPa\"
[[misconception]]
value = \"0 kPa\"
because = \"No.\"
```
```reveal after=guess
Look.
```
";

pub fn problems(text: &str) -> Vec<String> {
    match parse(text) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.iter().map(|problem| problem.to_string()).collect(),
    }
}

/// What is wrong with the answer to a change of the sample: it must give a problem that begins and goes on as given, and only
/// that one unless the slip cannot but show in `more` places.
fn miss(more: bool, from: &str, to: &str, begins: &str, says: &str) -> Option<String> {
    assert_eq!(LESSON.matches(from).count(), 1, "`{from}`");
    let got = problems(&LESSON.replacen(from, to, 1));
    let found = got.iter().any(|line| line.starts_with(begins) && line.contains(says));
    (!found || more != (got.len() > 1)).then(|| format!("`{to}` for `{begins}`: {got:#?}"))
}

#[test]
fn by_hand_the_sample_is_read() {
    let lesson = parse(LESSON).unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!((lesson.id.as_str(), lesson.minutes, lesson.steps.len()), ("a-lesson", 20, 5));
    assert_eq!(lesson.setup.seeds[0].count, 5);
    let speed = lesson.settings(volute_lessons::seed::Seed(1)).unwrap().speed_rpm;
    assert!([1000.0, 1050.0, 1100.0, 1150.0, 1200.0].contains(&speed), "{speed}");
    let windows = LESSON.replace('\n', "\r\n");
    assert_eq!(parse(&format!("\u{feff}{windows}")), Ok(lesson));
}

#[test]
fn by_hand_each_problem_says_where_what_and_what_is_allowed() {
    let (one, more) = (false, true);
    let rows = [
        (
            one,
            "id = \"a-lesson\"",
            "id = \"A lesson\"",
            "line 2, column 7: `A lesson`",
            "small letters, digits and hyphens",
        ),
        (one, "course = \"A\"", "course = \"D\"", "line 4, column 11: `D`", "allowed are A, B, C"),
        (one, "minutes = 20", "minutes = 0", "line 5, column 11: `minutes` = 0", "outside 1 to 180"),
        (one, "minutes = 20", "minutes = \"20\"", "line 5, column 11: `minutes` must be a whole number", "such as 3"),
        (one, "minutes = 20\n", "", "line 1, column 1: the front matter has no `minutes`", "how long"),
        (more, "minutes = 20", "minute = 20", "line 1, column 1: the front matter has no `minutes`", ""),
        (
            one,
            "not_here = \"Something else.\"",
            "not_here = \"  \"",
            "line 7, column 13: `not_here` is empty",
            "what it leaves out",
        ),
        (
            more,
            "1000..1200 step 50 1/min",
            "1000..1200 step 30 1/min",
            "line 8, column 14: `1000..1200 step 30 1/min` is not a range",
            "low..high step",
        ),
        (more, "{ n = \"1000", "{ N = \"1000", "line 8", "small letters, digits and underscores"),
        (
            one,
            "torque = \"600 N m\"",
            "torque = \"600 kPa\"",
            "line 12, column 11: `600 kPa` is a pressure",
            "a torque is needed",
        ),
        (
            one,
            "torque = \"600 N m\"",
            "torque = \"600 N m\"\nfuel = \"70 mg\"",
            "line 10, column 1",
            "torque and fuel together",
        ),
        (one, "torque = \"600 N m\"\n", "", "line 10, column 1: the bench has no `torque` or `fuel`", ""),
        (one, "vane = \"60 %\"", "vane = \"160 %\"", "line 10, column 1: `vane` = 160", "outside 0 to 100 %"),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nvain = 3",
            "line 14, column 1: `vain` is no key of the bench, did you mean `vane`",
            "allowed are",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nvane = \"61 %\"",
            "line 14, column 1: not readable as TOML",
            "duplicate key",
        ),
        (one, "vane = \"60 %\"", "vane = \"60 %", "line 13", "not readable as TOML"),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"start.vane\"",
            "line 13, column 9: there is no `start.vane`",
            "allowed are seed.n",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nengine = \"no-such\"",
            "line 14, column 11: there is no built-in engine called `no-such`",
            "harbour-six, van-four",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\ntemperature = \"20 K - 5 kPa\"",
            "line 14, column 16",
            "cannot be subtracted",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\npressure = \"100 kPa gauge\"",
            "line 14, column 13",
            "an absolute pressure is needed",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\npressure = \"1 kPa\"",
            "line 10, column 1: `pressure` = 1000",
            "outside 50000 to 110000 Pa",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nparts.exhaust_pipe.bor_m = 0.1",
            "line 14, column 20: there is no parameter",
            "exhaust_pipe.bore_m",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nparts.exhaust_pipe.bore_m = 100",
            "line 14, column 29: `exhaust_pipe.bore_m` = 100",
            "outside 0.03 to 0.3 m",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nfree = [\"van\"]",
            "line 14, column 10: `van` is not allowed for `free`",
            "vane, load, speed",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nfree = [\"vane 50..80 kPa\"]",
            "line 14, column 10",
            "vane with per cent",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nhide = [\"tork\"]\nhide_until = \"guess\"",
            "line 14, column 10: there is no quantity called `tork`",
            "torque",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nhide = [\"torque\"]",
            "line 10, column 1: the bench has no `hide_until`",
            "the prediction",
        ),
        (
            one,
            "vane = \"60 %\"",
            "vane = \"60 %\"\nends = [\"fine\"]",
            "line 14, column 10: `fine` is not allowed for `ends`",
            "matched",
        ),
        (one, "```bench\n", "```bench twice\n", "line 10, column 1: `twice` is not expected behind `bench`", "nothing"),
        (more, "```bench\n", "```bank\n", "line 10, column 1: `bank` is no kind of block", "bench, pin, sweep"),
        (
            one,
            "{{start.boost | kPa gauge}}",
            "{{start.boost | kPa}}",
            "line 15, column 12: `start.boost` is a pressure gauge",
            "write `| kPa gauge`",
        ),
        (
            one,
            "{{start.boost | kPa gauge}}",
            "{{start.bost | kPa}}",
            "line 15, column 14: there is no `start.bost`, did you mean `start.boost`",
            "",
        ),
        (
            one,
            "{{start.boost | kPa gauge}}",
            "{{boost | kPa}}",
            "line 15, column 14: `boost` is the bench as it stands",
            "a state must be named",
        ),
        (
            one,
            "{{start.boost | kPa gauge}}",
            "{{start.boost | kPa gauge",
            "line 15, column 12: a `{{` in this line is not closed",
            "}}",
        ),
        (more, "Prose with", "Prose <b>with</b>", "line 15, column 7: raw HTML", "Markdown"),
        (one, "Prose with", "<script>alert(1)</script>\n\nProse with", "line 15, column 1: raw HTML", "Markdown"),
        (
            one,
            "Prose with",
            "![x](https://a.b/c.png) with",
            "line 15, column 1: an image is not part",
            "paragraphs, headings",
        ),
        (
            one,
            "Prose with",
            "[x](javascript:alert(1)) with",
            "line 15, column 1: the address `javascript:alert(1)`",
            "https://",
        ),
        (one, "Prose with", "[x](http://a.b) with", "line 15, column 1: the address", "lesson:its-id"),
        (one, "Prose with", "# Title\n\nProse with", "line 15, column 1: a heading of this level", "## and ###"),
        (one, "Prose with", "    let x = 1;\n\nProse with", "line 15", "an indented block"),
        (one, "Prose with", "***\n\nProse with", "line 15, column 1: a horizontal rule", ""),
        (
            one,
            "kind = \"short\"",
            "kind = \"drawing\"",
            "line 18, column 9: `drawing` is not allowed for `kind`",
            "choice, short",
        ),
        (
            one,
            "kind = \"short\"",
            "kind = \"choice\"",
            "line 16, column 1: the prediction `guess` has no `option`",
            "two to eight",
        ),
        (one, "id = \"do-it\"", "id = \"guess\"", "line 21, column 1: `guess` is used twice", ""),
        (
            one,
            "goal = \"boost > start.boost + 5 kPa\"",
            "goal = \"boost + 5 kPa\"",
            "line 24, column 9: `boost + 5 kPa` is a pressure",
            "a comparison",
        ),
        (
            one,
            "goal = \"boost > start.boost + 5 kPa\"",
            "goal = \"boost > pins.a.boost\"",
            "line 24, column 17: there is no `pins.a.boost`",
            "start.…",
        ),
        (
            one,
            "goal = \"boost > start.boost + 5 kPa\"",
            "goal = \"boost > start.torque\"",
            "line 24, column 9",
            "cannot be compared",
        ),
        (
            one,
            "answer = { vane = \"50 %\" }\n",
            "",
            "line 21, column 1: the task `do-it` has no `answer`",
            "settings that do it",
        ),
        (one, "unit = \"kPa\"", "unit = \"furlong\"", "line 35, column 9: `furlong` is no unit", "kPa"),
        (
            more,
            "unit = \"kPa\"",
            "unit = \"K\"",
            "line 36, column 11: `start.p3 - start.p2` is a pressure",
            "no unit `K`",
        ),
        (
            one,
            "tolerance = \"2 kPa\"",
            "tolerance = \"2 K\"",
            "line 37, column 14: `2 K` is not a tolerance",
            "a share of the answer",
        ),
        (one, "tolerance = \"2 kPa\"", "tolerance = \"0 kPa\"", "line 37, column 14", "is not a tolerance"),
        (
            one,
            "value = \"0 kPa\"",
            "value = \"0 K\"",
            "line 39, column 10: `0 K` is a temperature",
            "a pressure is needed",
        ),
        (one, "because = \"No.\"", "because = \"\"", "line 40, column 11: `because` is empty", "what is behind it"),
        (
            one,
            "because = \"No.\"",
            "because = \"\"\"\nNo.\n{{start.p3 | kPa}}\n\"\"\"",
            "line 42, column 1: `start.p3` is a pressure abs",
            "",
        ),
        (
            one,
            "```reveal after=guess",
            "```reveal after=gess",
            "line 42, column 1: there is no prediction called `gess`",
            "known are guess",
        ),
        (one, "```reveal after=guess", "```reveal", "line 42, column 1: the reveal has no `after`", "must be locked"),
        (
            one,
            "```reveal after=guess",
            "```reveal after=guess compare=start,end",
            "line 42, column 1: there is no pin called `end`",
            "start",
        ),
        (
            one,
            "```reveal after=guess",
            "```reveal after=guess loud",
            "line 42, column 1: `loud` is not expected",
            "compare=from,to",
        ),
        (one, "Look.\n```\n", "Look.\n", "line 42, column 1: the block that begins here is not closed", "```"),
        (one, "Prose with", "Prose \u{1} with", "line 15, column 7: the character U+0001", "letters"),
        (one, "Prose with", "Prose \u{e000} with", "line 15, column 7: the character U+E000", "letters"),
    ];
    let misses: Vec<String> =
        rows.iter().filter_map(|(more, from, to, begins, says)| miss(*more, from, to, begins, says)).collect();
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[test]
fn by_hand_a_file_that_is_no_lesson() {
    for (text, says) in [
        ("", "begins with its front matter"),
        ("# Hello", "begins with its front matter"),
        ("+++\nid = \"a\"\n", "is not closed: a line `+++`"),
        ("+++\n+++\n", "the front matter has no `id`"),
        ("+++\nid = \n+++\n", "not readable as TOML"),
    ] {
        let got = problems(text);
        assert!(got.iter().any(|line| line.contains(says)), "{text:?}: {got:#?}");
    }
    let bench = LESSON.find("```bench").unwrap();
    let after = LESSON.find("Prose with").unwrap();
    let none = format!("{}{}", &LESSON[..bench], &LESSON[after..]);
    assert!(problems(&none).iter().any(|line| line.contains("a lesson needs a `bench` block")));
    let large = format!("{LESSON}{}", "x".repeat(LARGEST));
    assert_eq!(problems(&large).len(), 1);
    assert!(problems(&large)[0].contains("a lesson may have 262144"));
    let many = format!("{LESSON}{}", "{{x}} ".repeat(500));
    assert_eq!(problems(&many).len(), 51);
    assert!(problems(&many)[50].contains("more than 50 problems"));
}

#[test]
fn by_hand_nesting_has_an_end() {
    for (open, close) in [("*a **b ", " c** d*"), ("> ", ""), ("- ", ""), ("[", "](https://a.b)")] {
        let nested = format!("{}x{}", open.repeat(5000), close.repeat(5000));
        let got = problems(&LESSON.replace("Prose with", &nested));
        assert!(got.len() <= 51, "{open}");
        let deep = format!("{}x{}", open.repeat(20), close.repeat(20));
        let got = problems(&LESSON.replace("Prose with", &deep));
        assert!(open == "[" || got.iter().any(|line| line.contains("nested this deep")), "{open}: {got:#?}");
    }
    let got = problems(&LESSON.replace("minutes = 20", &format!("minutes = {}", "[".repeat(50_000))));
    assert!(got[0].contains("not readable as TOML"), "{got:#?}");
}

#[test]
fn by_hand_a_line_of_nothing_but_openings_is_read_in_one_pass() {
    // Searched to its end from every opening, this would take an hour.
    for opening in ["*a ", "**a ", "_a ", "`a ``b ", "[a ", "[a](", "![", "\\", "<a ", "- ", "> ", "1. "] {
        let text = opening.repeat(60_000 / opening.len());
        let _ = problems(&LESSON.replace("Prose with", &text));
    }
}

#[test]
fn by_hand_problems_come_in_the_order_of_the_file() {
    let text = LESSON
        .replace("kind = \"short\"", "kind = \"x\"")
        .replace("course = \"A\"", "course = \"x\"")
        .replace("Prose", "Prose {{x}}");
    let problems = parse(&text).unwrap_err();
    let lines: Vec<usize> = problems.iter().map(|problem| problem.place.line).collect();
    assert_eq!(lines, [4, 15, 18]);
}

#[test]
fn by_hand_prose_becomes_a_tree() {
    let text = "## *Two*\n\nOne **bold** `code` {{1 kPa * 2 | kPa}}, {{3 | | 0}}x [l](https://a.b/?q=1) [m](lesson:a-lesson).\\\nNext \\<b>\n\n- a {{4 | | 0}}\n- b\n\n  c\n\n3. x\n\n> q";
    let lesson = parse(&LESSON.replace("Prose with {{start.boost | kPa gauge}}.", text)).unwrap();
    let Step::Prose(prose) = &lesson.steps[0] else { panic!("{:?}", lesson.steps[0]) };
    let Prose::Heading { level: 2, text: heading } = &prose[0] else { panic!("{prose:?}") };
    assert_eq!(heading, &[Inline::Emphasis(vec![Inline::Text("Two".into())])]);
    let Prose::Paragraph(line) = &prose[1] else { panic!("{prose:?}") };
    let links: Vec<&Target> =
        line.iter().filter_map(|i| if let Inline::Link { to, .. } = i { Some(to) } else { None }).collect();
    assert_eq!(links, [&Target::Web("https://a.b/?q=1".into()), &Target::Lesson("a-lesson".into())]);
    assert_eq!(line.iter().filter(|i| matches!(i, Inline::Value(_))).count(), 2);
    let env = Env::EMPTY;
    let said = plain(prose, &env, Style::default()).unwrap();
    assert_eq!(said, "Two\nOne bold code 2\u{a0}kPa, 3x l m.\nNext <b>\n• a 4\n• b\nc\n3. x\nq");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn identity_no_text_breaks_the_parser(text in any::<String>()) {
        let _ = parse(&text);
        let _ = parse(&format!("+++\n{text}\n+++\n"));
        let _ = parse(&LESSON.replace("Prose", &text));
    }

    #[test]
    fn identity_no_cut_and_no_swap_breaks_the_parser(from in 0_usize..9000, length in 0_usize..400, word in "[`+={}\\[\\]\"|a-z0-9 \n]{0,6}") {
        let text = crate::sample::TEXT;
        let mut from = from.min(text.len());
        while !text.is_char_boundary(from) { from -= 1; }
        let mut to = (from + length).min(text.len());
        while !text.is_char_boundary(to) { to -= 1; }
        let changed = format!("{}{word}{}", &text[..from], &text[to.max(from)..]);
        if let Err(problems) = parse(&changed) {
            prop_assert!(!problems.is_empty());
        }
    }
}
