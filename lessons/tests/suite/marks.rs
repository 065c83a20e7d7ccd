//! Marks of numbers, choices and tasks.

use volute_core::point::reading::{Outcome, Reading};
use volute_lessons::bench::{Bench, BenchError, CoreSolver, Solve};
use volute_lessons::expr::Env;
use volute_lessons::lesson::*;
use volute_lessons::mark::*;
use volute_lessons::number::ReadError;
use volute_lessons::parse::parse;
use volute_lessons::seed::Seed;
use volute_lessons::text::plain;
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::{Visited, Worked};

/// The first checkpoint of the first lesson for one learner, and the marks for a text.
fn with_checkpoint(id: &str, seed: u64, test: impl FnOnce(&Asked, f64, f64)) {
    let lesson = crate::sample::lesson();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(seed), &mut solver).unwrap();
    let checkpoint = lesson.checkpoints().find(|c| c.id == id).unwrap();
    let asked = checkpoint.work_out(lesson, &worked, 0, &mut solver).unwrap();
    let Key::Number(NumberKey { answer_si, tolerance_si, .. }) = asked.key else { panic!("a number") };
    test(&asked, answer_si, tolerance_si);
}

fn number_mark<'a>(asked: &'a Asked, text: &str, decimal: Decimal) -> Result<NumberMark<'a>, AnswerError> {
    match asked.mark(&Answer::Number(Typed { text: text.into(), decimal }))?.detail {
        Detail::Number(mark) => Ok(mark),
        other => panic!("{text}: {other:?}"),
    }
}

fn mark<'a>(asked: &'a Asked, text: &str) -> NumberMark<'a> {
    number_mark(asked, text, Decimal::Point).unwrap_or_else(|error| panic!("{text}: {error}"))
}

#[test]
fn by_hand_value_unit_and_figures_apart() {
    with_checkpoint("pressure-rise", 3, |asked, answer_si, tolerance_si| {
        let kpa = answer_si / 1000.0;
        let t = tolerance_si / 1000.0;
        let rows: Vec<(String, ValueMark, UnitMark, f64, bool)> = vec![
            (format!("{kpa:.3} kPa"), ValueMark::Right, UnitMark::Right, 1.0, true),
            (format!("{:.4} kPa", kpa + 0.99 * t), ValueMark::Right, UnitMark::Right, 0.9, true),
            (format!("{:.3} kPa", kpa - 0.99 * t), ValueMark::Right, UnitMark::Right, 1.0, true),
            (format!("{:.3} kPa", kpa + 1.02 * t), ValueMark::Off { high: true }, UnitMark::Right, 0.0, false),
            (format!("{:.3} kPa", kpa - 1.02 * t), ValueMark::Off { high: false }, UnitMark::Right, 0.0, false),
            (format!("{:.3}", kpa), ValueMark::Right, UnitMark::Missing, 0.8, true),
            (format!("{:.4} bar", kpa / 100.0), ValueMark::Right, UnitMark::Converted, 1.0, true),
            (format!("{:.2} psi", kpa / 6.894_757), ValueMark::Right, UnitMark::Converted, 1.0, true),
            (format!("{:.3} mbar", kpa * 10.0), ValueMark::Right, UnitMark::Converted, 1.0, true),
            (format!("{:.5} MPa", kpa / 1000.0), ValueMark::Right, UnitMark::Converted, 1.0, true),
            (format!("{kpa:.3} kPa gauge"), ValueMark::Right, UnitMark::Right, 1.0, true),
            (format!("{kpa:.3} kg"), ValueMark::Right, UnitMark::WrongKind, 0.5, false),
            (
                format!("{kpa:.3} bar"),
                ValueMark::RightInAskedUnit { written: volute_lessons::units::read("bar").unwrap() },
                UnitMark::NotMeant,
                0.5,
                false,
            ),
            (format!("−{kpa:.3} kPa"), ValueMark::Sign, UnitMark::Right, 0.0, false),
            (format!("{:.4} kPa", kpa / 10.0), ValueMark::PowerOfTen { power: 1 }, UnitMark::Right, 0.0, false),
            (format!("{:.1} kPa", kpa * 1000.0), ValueMark::PowerOfTen { power: -3 }, UnitMark::Right, 0.0, false),
            ("0 kPa".into(), ValueMark::Off { high: false }, UnitMark::Right, 0.0, false),
            ("1e300 kPa".into(), ValueMark::Off { high: true }, UnitMark::Right, 0.0, false),
        ];
        for (text, value, unit, points, right) in rows {
            let mark = mark(asked, &text);
            assert_eq!(mark.value, value, "{text} for {kpa} ± {t}");
            assert_eq!((mark.unit, mark.right), (unit, right), "{text}");
            // Figures are tested on their own: digits that pad the test must not decide it.
            let digits = mark.written.figures.0;
            let figures = if digits > MOST_FIGURES { FIGURES } else { 0.0 };
            let full = if points == 0.9 { 1.0 } else { points };
            let expected = if value == ValueMark::Right && unit != UnitMark::WrongKind { full - figures } else { full };
            assert!((mark.points - expected).abs() < 1e-12, "{text}: {} for {expected}", mark.points);
        }
        let error = |text, decimal| number_mark(asked, text, decimal).unwrap_err();
        assert!(matches!(error("1,850", Decimal::Point), AnswerError::Read(ReadError::Ambiguous { .. })));
        assert!(matches!(error("", Decimal::Comma), AnswerError::Read(ReadError::Empty)));
        assert_eq!(asked.mark(&Answer::Choice(0)), Err(AnswerError::WrongKind));
        let comma = format!("{kpa:.2} kPa").replace('.', ",");
        assert!(number_mark(asked, &comma, Decimal::Comma).unwrap().right, "{comma}");
    });
}

#[test]
fn by_hand_each_misconception_has_its_own_explanation() {
    for id in ["pressure-rise", "pumping-share"] {
        with_checkpoint(id, 11, |asked, _, _| {
            let Question::Number(question) = &asked.checkpoint.question else { panic!("a number") };
            let Key::Number(NumberKey { wrong_si, .. }) = &asked.key else { panic!("a number") };
            for (index, (wrong, misconception)) in wrong_si.iter().zip(&question.misconceptions).enumerate() {
                let text = format!("{:.4} {}", question.measure.unit.of_si(*wrong), question.measure.unit.name);
                let mark = mark(asked, &text);
                let because = misconception.because.as_slice();
                assert_eq!(mark.value, ValueMark::Misconception { index, because }, "{text}");
                assert!(!mark.right && mark.points == 0.0);
                let said = plain(&misconception.because, &asked.env(), Style::default()).unwrap();
                assert!(said.len() > 40, "{said}");
            }
        });
    }
}

#[test]
fn by_hand_a_share_may_be_written_plainly() {
    with_checkpoint("pumping-share", 5, |asked, answer_si, _| {
        let plain = mark(asked, &format!("{answer_si:.3}"));
        assert_eq!((plain.value, plain.unit, plain.right), (ValueMark::Right, UnitMark::Missing, true));
        let per_cent = mark(asked, &format!("{:.1} %", answer_si * 100.0));
        assert_eq!((per_cent.value, per_cent.unit, per_cent.points), (ValueMark::Right, UnitMark::Right, 1.0));
        let bare = mark(asked, &format!("{:.1}", answer_si * 100.0));
        assert_eq!((bare.value, bare.unit), (ValueMark::Right, UnitMark::Missing));
    });
}

/// A lesson with one checkpoint whose answer is written with literals.
fn literal(unit: &str, answer: &str, tolerance: &str, more: &str) -> Lesson {
    let text = format!(
        "+++\nid = \"t\"\ntitle = \"T\"\ncourse = \"A\"\nminutes = 1\nteaches = \"T\"\nnot_here = \"N\"\n+++\n\
         ```bench\nspeed = \"2400 1/min\"\nfuel = \"126 mg\"\nvane = \"100 %\"\n```\n\
         ```checkpoint\nid = \"c\"\nkind = \"number\"\nask = \"A\"\nhint = \"H\"\nworked = \"W\"\nunit = \"{unit}\"\nanswer = \"{answer}\"\n\
         tolerance = \"{tolerance}\"\n{more}\n```\n"
    );
    parse(&text).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

/// Marks without a core: the lesson has no states that matter.
fn literal_mark(lesson: &Lesson, text: &str, test: impl FnOnce(&NumberMark, &Asked)) {
    let bench = lesson.bench(Seed(0)).unwrap();
    let mut refuse = |_: &Bench| -> Result<Reading, BenchError> { panic!("nothing to solve") };
    let worked = Worked { benches: [("start".to_string(), bench)].into(), ..Worked::default() };
    let checkpoint = lesson.checkpoints().next().unwrap();
    let asked = checkpoint.work_out(lesson, &worked, 0, &mut refuse).unwrap();
    test(&mark(&asked, text), &asked);
}

#[test]
fn by_hand_gauge_and_absolute_are_told_apart() {
    let lesson = literal("kPa abs", "234 kPa abs", "1 kPa", "");
    for (text, unit, right) in [
        ("234 kPa", UnitMark::Right, true),
        ("234 kPa abs", UnitMark::Right, true),
        ("2.34 bara", UnitMark::Converted, true),
        ("33.94 psia", UnitMark::Converted, true),
        ("234 kPa gauge", UnitMark::WrongReference, false),
        ("33.94 psig", UnitMark::WrongReference, false),
    ] {
        literal_mark(&lesson, text, |mark, _| {
            assert_eq!((&mark.value, mark.unit, mark.right), (&ValueMark::Right, unit, right), "{text}");
        });
    }
}

#[test]
fn by_hand_temperatures_and_their_differences() {
    let point = literal("degC", "150 degC", "3 K", "");
    let difference = literal("K", "30 degC - 10 degC", "5 %", "");
    for (lesson, text, right) in [
        (&point, "150 °C", true),
        (&point, "152.9 C", true),
        (&point, "302 °F", true),
        (&point, "423 K", true),
        (&point, "150 K", false),
        (&difference, "20 K", true),
        (&difference, "20 °C", true),
        (&difference, "36 °F", true),
        (&difference, "293 K", false),
    ] {
        literal_mark(lesson, text, |mark, _| assert_eq!(mark.right, right, "{text}: {mark:?}"));
    }
}

#[test]
fn by_hand_figures_are_judged_last_and_cost_little() {
    let lesson = literal("1", "2.345", "2 %", "figures = 3");
    for (text, figures, points) in [
        ("2.35", FiguresMark::Right, 1.0),
        ("2.345", FiguresMark::Right, 1.0),
        ("2.3", FiguresMark::TooFew { asked: 3 }, 0.9),
        ("2.3450001", FiguresMark::TooMany, 0.9),
        ("9", FiguresMark::TooFew { asked: 3 }, 0.0),
    ] {
        literal_mark(&lesson, text, |mark, _| {
            assert_eq!(mark.figures, figures, "{text}");
            assert!((mark.points - points).abs() < 1e-12, "{text}: {}", mark.points);
        });
    }
    // A round number may have been read to all its figures: in doubt for the learner.
    literal_mark(&literal("1", "200", "2 %", "figures = 3"), "200", |mark, _| {
        assert_eq!(mark.figures, FiguresMark::Right)
    });
}

#[test]
fn by_hand_answer_and_tolerance_in_print() {
    let style = Style::default();
    let rows = [
        ("kPa abs", "234.56 kPa abs", "1 kPa", "235\u{a0}kPa abs", "± 1\u{a0}kPa"),
        ("kPa", "80.04 kPa", "3 %", "80\u{a0}kPa", "± 2.4\u{a0}kPa"),
        ("bar", "1.8 bar", "1 %", "1.80\u{a0}bar", "± 0.018\u{a0}bar"),
        ("%", "97 %", "4 points", "97\u{a0}%", "± 4 points"),
        ("1", "1.56", "2 %", "1.56", "± 0.031"),
    ];
    for (unit, answer, tolerance, answer_text, tolerance_text) in rows {
        literal_mark(&literal(unit, answer, tolerance, ""), "1", |_, asked| {
            assert_eq!(asked.answer_in_print(style).as_deref(), Some(answer_text), "{answer}");
            assert_eq!(asked.tolerance_in_print(style).as_deref(), Some(tolerance_text), "{answer}");
        });
    }
}

/// Judges a state that nothing was set before.
fn judge<'a>(set: &'a Set, reading: &Reading) -> TaskMark<'a> {
    let bench = set.start().unwrap();
    let mut visited = Visited::default();
    visited.push(reading);
    let stands = Standing { bench, reading, visited: &visited };
    set.judge(&stands, &mut CoreSolver::default()).unwrap()
}

#[test]
fn by_hand_a_task_is_judged_on_the_state() {
    let lesson = crate::sample::lesson();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(0), &mut solver).unwrap();
    let task = lesson.tasks().find(|task| task.id == "how-far").unwrap();
    let set = task.work_out(lesson, &worked, &mut solver).unwrap();
    let mut at = |vane_open_pct: f64| {
        let mut bench = worked.benches["start"].clone();
        bench.settings.vane_open_pct = vane_open_pct;
        solver.solve(&bench).unwrap()
    };
    let said = |reading: &Reading| match judge(&set, reading) {
        TaskMark::Done(done) => format!("done: {}", plain(done, &worked.env(), Style::default()).unwrap()),
        TaskMark::Misconception { because, .. } => plain(because, &worked.env_with(reading), Style::default()).unwrap(),
        TaskMark::NotYet => "not yet".into(),
        TaskMark::NoNumbers(outcome) => outcome.meaning().into(),
    };
    assert!(said(&at(91.0)).starts_with("done: "));
    assert!(said(&at(100.0)).starts_with("Safe, but"));
    assert!(said(&at(85.0)).starts_with("Too close"));
    assert!(said(&at(70.0)).starts_with("The shaft is past its limit"));
    let mut lost = at(91.0);
    (lost.holds, lost.outcome) = (false, Outcome::Surge);
    assert_eq!(said(&lost), Outcome::Surge.meaning());
}

#[test]
fn by_hand_the_core_finds_the_right_prediction() {
    let lesson = crate::sample::lesson();
    let worked = lesson.work_out(Seed(0), &mut CoreSolver::default()).unwrap();
    let predict = lesson.predictions().next().unwrap();
    let Question::Choice(options) = &predict.question else { panic!("a choice") };
    let right = predict.right(&worked).unwrap().unwrap();
    assert_eq!(plain_option(&options[right]), "Fall.");
}

fn plain_option(option: &Choice) -> String {
    volute_lessons::text::plain_inline(&option.text, &Env::EMPTY, Style::default()).unwrap()
}

#[test]
fn by_hand_choices_are_marked_with_their_explanation() {
    let lesson = parse(&crate::sample::TEXT.replace(
        "```transfer\n",
        "```checkpoint\nid = \"c\"\nkind = \"choice\"\nask = \"A\"\nhint = \"H\"\nworked = \"W\"\n[[option]]\ntext = \"Up\"\nwhen = \
         \"pins.closed.p3 > start.p3\"\nbecause = \"B\"\n[[option]]\ntext = \"Down\"\nwhen = \"pins.closed.p3 <= start.p3\"\nbecause = \"C\"\n```\n\n```transfer\n",
    ))
    .unwrap();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(0), &mut solver).unwrap();
    let checkpoint = lesson.checkpoints().find(|c| c.id == "c").unwrap();
    let asked = checkpoint.work_out(&lesson, &worked, 0, &mut solver).unwrap();
    assert_eq!(asked.key, Key::Choice(0));
    assert!(asked.mark(&Answer::Choice(0)).unwrap().right);
    let wrong = asked.mark(&Answer::Choice(1)).unwrap();
    assert_eq!((wrong.right, wrong.points), (false, 0.0));
    assert_eq!(plain(wrong.because[0], &asked.env(), Style::default()).as_deref(), Ok("C"));
    assert_eq!(asked.mark(&Answer::Choice(2)), Err(AnswerError::NoOption { options: 2 }));
    assert_eq!(number_mark(&asked, "1", Decimal::Point), Err(AnswerError::WrongKind));
}

#[test]
fn by_hand_another_draw_asks_for_other_numbers() {
    let lesson = crate::sample::lesson();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(2), &mut solver).unwrap();
    let checkpoint = lesson.checkpoints().next().unwrap();
    let mut seen = std::collections::BTreeSet::new();
    for draw in 0..20 {
        let asked = checkpoint.work_out(lesson, &worked, draw, &mut solver).unwrap();
        seen.insert(format!("{:?}", asked.worked.seeds));
        let again = checkpoint.work_out(lesson, &worked, draw, &mut solver).unwrap();
        assert_eq!(asked, again);
    }
    assert!(seen.len() > 8, "{}", seen.len());
}
