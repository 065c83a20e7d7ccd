//! A lesson with all its numbers and answers for one variant, as it goes on paper or beside an author's text. No browser here.
//!
//! Everything is worked out once and held as text, so that whatever shows it needs no core.

use crate::language::{t, t_any, tf};
use crate::lessons::session::bench_settings;
use crate::share::{self, Shared};
use crate::units::{Quantity, UnitSystem};
use volute_core::settings::Load;
use volute_lessons::bench::{Bench, Solve};
use volute_lessons::curves::{CurveKind, Swept};
use volute_lessons::expr::{self, Env};
use volute_lessons::lesson::*;
use volute_lessons::mark::{Asked, Key, NumberKey, OrderKey, Predicted, Set};
use volute_lessons::seed::Seed;
use volute_lessons::sketch::SketchKey;
use volute_lessons::text::{Inline, Prose, Target};
use volute_lessons::units::Style;
use volute_lessons::work::{WorkError, Worked};

/// A lesson for one variant.
#[derive(Debug, Clone, PartialEq)]
pub struct Printout {
    /// Its id.
    pub id: String,
    /// What it is called.
    pub title: Vec<Inline>,
    /// The course, a letter.
    pub course: String,
    /// Minutes that it takes.
    pub minutes: u32,
    /// Whose numbers.
    pub variant: u64,
    /// What it teaches.
    pub teaches: Vec<Inline>,
    /// What it leaves out.
    pub not_here: Vec<Inline>,
    /// How the bench stands at the start: name and value of each setting.
    pub settings: Vec<(String, String)>,
    /// The start as a fragment of a link.
    pub bench: Option<String>,
    /// Everything in the order of the lesson.
    pub entries: Vec<Entry>,
    /// For the instructor.
    pub teacher: Option<Notes>,
}

/// One thing of the lesson.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Entry {
    /// Kind of block, as lesson files write it.
    pub kind: &'static str,
    /// How it is answered, as lesson files write it; empty for what is not asked.
    pub sort: &'static str,
    /// Its id; empty for prose.
    pub id: String,
    /// What is asked or said.
    pub text: Vec<Prose>,
    /// Options, or items as they are shown at first.
    pub options: Vec<Vec<Inline>>,
    /// Axes of a curve.
    pub axes: Option<Axes>,
    /// The right answer.
    pub answer: String,
    /// How far off is still right.
    pub tolerance: String,
    /// How to get it.
    pub worked: Vec<Prose>,
    /// Hints.
    pub hints: Vec<Vec<Prose>>,
    /// Wrong answers, and what is behind each.
    pub wrong: Vec<(String, Vec<Prose>)>,
    /// The bench of the question as a fragment of a link.
    pub bench: Option<String>,
    /// A test sheet: headings and rows.
    pub table: Option<(Vec<String>, Vec<Vec<String>>)>,
    /// Why it could not be worked out.
    pub fault: Option<String>,
}

/// Axes of a curve, and what is true on them.
#[derive(Debug, Clone, PartialEq)]
pub struct Axes {
    /// What lies along.
    pub along: String,
    /// Its ends.
    pub ends: (String, String),
    /// What stands upright.
    pub upright: String,
    /// Its ends.
    pub low_high: (String, String),
    /// Heights of the true curve as shares of the axis, evenly spaced.
    pub truth: Vec<f64>,
    /// Heights of the curve that is given.
    pub given: Vec<f64>,
    /// Height of the first point, where it is given.
    pub start: Option<f64>,
}

impl Axes {
    /// Without names and numbers, for curves of which no more is known.
    pub fn bare() -> Self {
        let none = || (String::new(), String::new());
        Axes {
            along: String::new(),
            ends: none(),
            upright: String::new(),
            low_high: none(),
            truth: Vec::new(),
            given: Vec::new(),
            start: None,
        }
    }
}

/// What the lesson has for the instructor.
#[derive(Debug, Clone, PartialEq)]
pub struct Notes {
    /// What the results show.
    pub sees: Vec<Prose>,
    /// Questions for the discussion.
    pub prompts: Vec<Vec<Inline>>,
    /// Minutes and what is done.
    pub plan: Vec<(u32, Vec<Inline>)>,
}

/// Works everything out. A question that cannot be worked out says so in its place. Errors: the lesson itself cannot be.
pub fn printout(
    lesson: &Lesson,
    seed: Seed,
    units: UnitSystem,
    style: Style,
    solver: &mut dyn Solve,
) -> Result<Printout, WorkError> {
    let worked = lesson.work_out(seed, solver)?;
    let env = worked.env();
    let say = Say { env: &env, style };
    let entries = lesson.steps.iter().map(|step| entry(lesson, step, &worked, units, style, solver)).collect();
    let start = worked.benches.get("start");
    Ok(Printout {
        id: lesson.id.clone(),
        title: say.line(&lesson.title),
        course: lesson.course.clone(),
        minutes: lesson.minutes,
        variant: seed.0,
        teaches: say.line(&lesson.teaches),
        not_here: say.line(&lesson.not_here),
        settings: start.map_or_else(Vec::new, |bench| settings(bench, units)),
        bench: start.and_then(|bench| fragment(bench, units)),
        entries,
        teacher: lesson.teacher.as_ref().map(|teacher| Notes {
            sees: say.prose(&teacher.sees),
            prompts: teacher.prompts.iter().map(|prompt| say.line(prompt)).collect(),
            plan: teacher.plan.iter().map(|step| (step.minutes, say.line(&step.act))).collect(),
        }),
    })
}

fn entry(
    lesson: &Lesson,
    step: &Step,
    worked: &Worked,
    units: UnitSystem,
    style: Style,
    solver: &mut dyn Solve,
) -> Entry {
    let env = worked.env();
    let say = Say { env: &env, style };
    let blank = Entry { kind: step.kind(), id: step.id().unwrap_or_default().into(), ..Entry::default() };
    match step {
        Step::Prose(prose) | Step::Safety(prose) => Entry { text: say.prose(prose), ..blank },
        Step::Reveal(reveal) => {
            // It sees what its prediction sees.
            let predict = lesson.predictions().find(|predict| predict.id == reveal.after);
            let predicted = predict.and_then(|predict| predict.work_out(lesson, worked, solver).ok());
            let own = predicted.as_ref().map(|predicted| predicted.env());
            let say = Say { env: own.as_ref().unwrap_or(&env), style };
            Entry { text: say.prose(&reveal.text), ..blank }
        }
        Step::Stage(stage) => Entry {
            text: vec![Prose::Paragraph(say.line(&stage.say))],
            bench: worked.bench(&stage.bench).and_then(|bench| fragment(bench, units)),
            ..blank
        },
        Step::Log(log) => Entry { table: worked.logs.get(&log.name).map(|sheet| sheet.table(style)), ..blank },
        Step::Transfer(transfer) => {
            Entry { sort: "words", text: say.prose(&transfer.ask), worked: say.prose(&transfer.consider), ..blank }
        }
        Step::Predict(predict) => match predict.work_out(lesson, worked, solver) {
            Err(error) => Entry { text: say.prose(&predict.ask), fault: Some(error.to_string()), ..blank },
            Ok(predicted) => prediction(blank, lesson, &predicted, style),
        },
        Step::Task(task) => match task.work_out(lesson, worked, solver) {
            Err(error) => Entry { text: say.prose(&task.ask), fault: Some(error.to_string()), ..blank },
            Ok(set) => task_entry(blank, task, &set, units, style, solver),
        },
        Step::Checkpoint(checkpoint) => match checkpoint.work_out(lesson, worked, 0, solver) {
            Err(error) => Entry { text: say.prose(&checkpoint.ask), fault: Some(error.to_string()), ..blank },
            Ok(asked) => {
                let env = asked.env();
                let say = Say { env: &env, style };
                let mut entry = Entry {
                    sort: checkpoint.question.name(),
                    text: say.prose(&checkpoint.ask),
                    worked: say.prose(&checkpoint.worked),
                    hints: checkpoint.hints.iter().map(|hint| say.prose(hint)).collect(),
                    bench: asked.bench().and_then(|bench| fragment(bench, units)),
                    ..blank
                };
                answer(&mut entry, lesson, &asked, say);
                entry
            }
        },
    }
}

fn prediction(blank: Entry, lesson: &Lesson, predicted: &Predicted, style: Style) -> Entry {
    let predict = predicted.predict;
    let env = predicted.env();
    let say = Say { env: &env, style };
    let mut entry = Entry { text: say.prose(&predict.ask), ..blank };
    match (&predict.question, &predicted.key) {
        (Question::Choice(options), Key::Choice(right)) => {
            entry.sort = "choice";
            choice(&mut entry, options, |i| i == *right, say);
        }
        (Question::Words(_), _) => entry.sort = "words",
        (Question::Sketch(question), Key::Sketch(key)) => {
            sketch(&mut entry, lesson, &predict.setup, question, key, say)
        }
        (Question::Order(question), Key::Order(key)) => order(&mut entry, question, key, say),
        (Question::Number(question), _) => {
            entry.sort = "number";
            entry.answer = predicted.answer_in_print(style).unwrap_or_default();
            entry.worked = say.prose(&question.because);
        }
        _ => {}
    }
    entry
}

fn task_entry(blank: Entry, task: &Task, set: &Set, units: UnitSystem, style: Style, solver: &mut dyn Solve) -> Entry {
    let env = set.env();
    let say = Say { env: &env, style };
    let benches = set.answer().unwrap_or_default();
    let last = benches.last();
    // What is said when it is done, and why a turn is wrong, may speak of the bench as it then stands.
    let live = last.and_then(|bench| Some((solver.solve(bench).ok()?, set.live(bench, solver).ok()?)));
    let live_env = live.as_ref().map(|(reading, worked)| worked.env_with(reading));
    let say_live = Say { env: live_env.as_ref().unwrap_or(&env), style };
    let steps = benches.iter().map(|bench| setting_line(set.start(), bench, units));
    let wrong = task.misconceptions.iter().map(|m| (m.when.source().to_string(), bare_numbers(&m.because)));
    Entry {
        sort: "task",
        text: say.prose(&task.ask),
        answer: steps.collect::<Vec<_>>().join(" → "),
        worked: say_live.prose(&task.done),
        hints: task.hints.iter().map(|hint| say.prose(hint)).collect(),
        wrong: wrong.collect(),
        bench: last.and_then(|bench| fragment(bench, units)),
        ..blank
    }
}

fn answer(entry: &mut Entry, lesson: &Lesson, asked: &Asked, say: Say) {
    let setup = &asked.checkpoint.setup;
    match (&asked.checkpoint.question, &asked.key) {
        (Question::Number(question), Key::Number(NumberKey { wrong_si, .. })) => {
            entry.answer = asked.answer_in_print(say.style).unwrap_or_default();
            entry.tolerance = asked.tolerance_in_print(say.style).unwrap_or_default();
            let print = |si: &f64| expr::in_print(*si, question.measure, question.is_point(), None, say.style);
            let values = question.misconceptions.iter().zip(wrong_si);
            entry.wrong = values.map(|(m, si)| (print(si), say.prose(&m.because))).collect();
        }
        (Question::Choice(options), Key::Choice(right)) => choice(entry, options, |i| i == *right, say),
        (Question::Choices(options), Key::Choices(right)) => {
            choice(entry, options, |i| right.get(i).copied().unwrap_or(false), say);
        }
        (Question::Order(question), Key::Order(key)) => order(entry, question, key, say),
        (Question::Sketch(question), Key::Sketch(key)) => sketch(entry, lesson, setup, question, key, say),
        (Question::Words(question), _) => entry.worked = say.prose(&question.consider),
        _ => {}
    }
}

fn choice(entry: &mut Entry, options: &[Choice], right: impl Fn(usize) -> bool, say: Say) {
    entry.options = options.iter().map(|option| say.line(&option.text)).collect();
    let texts: Vec<String> = options.iter().map(|option| say.plain(&option.text)).collect();
    let (good, bad): (Vec<usize>, Vec<usize>) = (0..options.len()).partition(|i| right(*i));
    entry.answer = good.iter().map(|i| texts[*i].clone()).collect::<Vec<_>>().join("; ");
    for i in good {
        entry.worked.extend(say.prose(&options[i].because));
    }
    entry.wrong = bad.into_iter().map(|i| (texts[i].clone(), say.prose(&options[i].because))).collect();
}

fn order(entry: &mut Entry, question: &OrderQuestion, key: &OrderKey, say: Say) {
    entry.sort = "order";
    let text = |i: &usize| question.items.get(*i).map_or_else(String::new, |item| say.plain(&item.text));
    let listed = |order: &[usize]| order.iter().map(text).collect::<Vec<_>>().join(" → ");
    entry.options = key.shown.iter().filter_map(|i| Some(say.line(&question.items.get(*i)?.text))).collect();
    entry.answer = listed(&key.right);
    entry.wrong = question
        .misconceptions
        .iter()
        .enumerate()
        .map(|(i, m)| {
            let sign = match &m.when {
                OrderSign::By(..) => key.wrong.get(i).and_then(Option::as_deref).map_or_else(String::new, listed),
                OrderSign::First(item) => tf("first: {item}", &[("item", &text(item))]),
                OrderSign::Before(a, b) => tf("{a} before {b}", &[("a", &text(a)), ("b", &text(b))]),
            };
            (sign, say.prose(&m.because))
        })
        .collect();
}

/// The axes of a prediction that is drawn, with the true curve of a variant; nothing for one that is answered otherwise. Errors: the
/// lesson or the prediction cannot be worked out.
pub fn predicted(
    lesson: &Lesson,
    predict: &str,
    seed: Seed,
    solver: &mut dyn Solve,
) -> Result<Option<Axes>, WorkError> {
    let drawn = lesson.predictions().find(|p| p.id == predict && matches!(p.question, Question::Sketch(_)));
    let Some(predict) = drawn else { return Ok(None) };
    let worked = lesson.work_out(seed, solver)?;
    let predicted = predict.work_out(lesson, &worked, solver)?;
    Ok(match (&predict.question, &predicted.key) {
        (Question::Sketch(question), Key::Sketch(key)) => Some(axes(lesson, &predict.setup, question, key)),
        _ => None,
    })
}

fn sketch(entry: &mut Entry, lesson: &Lesson, setup: &Setup, question: &SketchQuestion, key: &SketchKey, say: Say) {
    entry.sort = "sketch";
    entry.axes = Some(axes(lesson, setup, question, key));
    entry.worked.extend(say.prose(&question.because));
    entry.wrong = question.misconceptions.iter().map(|m| (shape(m), say.prose(&m.because))).collect();
}

fn axes(lesson: &Lesson, setup: &Setup, question: &SketchQuestion, key: &SketchKey) -> Axes {
    let sweeps = || setup.sweeps.iter().chain(&lesson.setup.sweeps);
    let sweep = sweeps().find(|sweep| question.of.kind == CurveKind::Sweep && sweep.name == question.of.of);
    let (along, ends) = match sweep {
        Some(sweep) => {
            let unit = sweep.unit;
            let end = |si: f64| crate::units::number(unit.of_si(si), if unit.of_si(si).abs() < 10.0 { 2 } else { 0 });
            (format!("{} [{}]", swept(sweep.over), unit.name), (end(key.ends_si.0), end(key.ends_si.1)))
        }
        None => {
            let end = |s: f64| crate::units::number(s, 1);
            (t("time [s]").to_string(), (end(key.ends_si.0), end(key.ends_si.1)))
        }
    };
    let size = (question.high - question.low).abs();
    let height = |value: f64| crate::units::number(value, if size < 10.0 { 1 } else { 0 });
    let about = volute_lessons::paths::quantity(question.of.quantity)
        .map(|q| q.about())
        .or_else(|| volute_lessons::paths::run_quantity(question.of.quantity).map(|q| q.about_in_time()));
    Axes {
        along,
        ends,
        upright: format!(
            "{} [{}]",
            about.map_or_else(|| question.of.quantity.to_string(), crate::language::t_any),
            question.measure
        ),
        low_high: (height(question.low), height(question.high)),
        truth: key.truth.to_vec(),
        given: key.given.map_or_else(Vec::new, |given| given.to_vec()),
        start: question.start_given.then(|| key.truth[0]),
    }
}

fn shape(wrong: &WrongSketch) -> String {
    let shape = wrong.shape.map(|shape| match shape {
        Shape::Rises => t("rises"),
        Shape::Falls => t("falls"),
        Shape::Flat => t("stays level"),
        Shape::Peak => t("has a peak"),
        Shape::Trough => t("has a trough"),
        Shape::Straight => t("is straight"),
    });
    let crosses = wrong.crosses.map(|crosses| match crosses {
        Crosses::Never => t("never crosses the given curve"),
        Crosses::Early => t("crosses the given curve too early"),
        Crosses::Late => t("crosses the given curve too late"),
    });
    [shape, crosses].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn swept(over: Swept) -> String {
    match over {
        Swept::Vane => t("vane position").into(),
        Swept::Torque => t("torque").into(),
        Swept::Fuel => t("fuel of one cylinder in one cycle").into(),
        Swept::Speed => t("engine speed").into(),
        Swept::Altitude => t("altitude").into(),
        Swept::Temperature => t("ambient temperature").into(),
        Swept::Part { group, name } => format!("{group}.{name}").replace('_', " "),
    }
}

/// A bench as a fragment of a link; nothing for one that cannot be set.
fn fragment(bench: &Bench, units: UnitSystem) -> Option<String> {
    Some(share::encode(&Shared::plain(bench_settings(bench).ok()?, units)))
}

/// The settings of a bench, each with its name.
fn settings(bench: &Bench, units: UnitSystem) -> Vec<(String, String)> {
    let s = &bench.settings;
    let text = |quantity: Quantity, si: f64| units.unit(quantity).text(si);
    let engine = bench_settings(bench).map(|b| t_any(&b.engine.title)).unwrap_or_default();
    let load = match s.load {
        Load::Torque { torque_n_m } => (t("torque, held"), text(Quantity::Torque, torque_n_m)),
        Load::Fuel { fuel_kg_per_cycle } => (t("fuel, held"), text(Quantity::FuelPerCycle, fuel_kg_per_cycle)),
    };
    let mut all = vec![
        (t("engine").to_string(), engine),
        (t("engine speed").into(), text(Quantity::EngineSpeed, s.speed_rpm)),
        (load.0.into(), load.1),
        (t("vanes open").into(), text(Quantity::VanePosition, s.vane_open_pct)),
        (
            t("ambient").into(),
            format!("{}, {}", text(Quantity::PressureAbs, s.ambient.p_pa), text(Quantity::Temperature, s.ambient.t_k)),
        ),
    ];
    all.extend(bench.parts.iter().map(|(path, value)| (path.replace(['.', '_'], " "), value.to_string())));
    all
}

/// How a bench differs from the one before, in a line.
fn setting_line(before: Option<&Bench>, bench: &Bench, units: UnitSystem) -> String {
    let was = before.map_or_else(Vec::new, |before| settings(before, units));
    let now = settings(bench, units);
    let new: Vec<String> =
        now.iter().filter(|pair| !was.contains(pair)).map(|(name, value)| format!("{name} {value}")).collect();
    if new.is_empty() { t("as it stands").into() } else { new.join(", ") }
}

/// Prose with the values in it worked out.
#[derive(Clone, Copy)]
struct Say<'a> {
    env: &'a Env<'a>,
    style: Style,
}

impl Say<'_> {
    fn prose(self, blocks: &[Prose]) -> Vec<Prose> {
        blocks.iter().map(|block| each(block, &|line| self.line(line))).collect()
    }

    fn line(self, inlines: &[Inline]) -> Vec<Inline> {
        // A value that has no number here says why in its place.
        let value = |shown: &volute_lessons::expr::Shown| match shown.text(self.env, self.style) {
            Ok(text) => text,
            Err(reason) => format!("({reason})"),
        };
        inlines.iter().map(|inline| piece(inline, &value)).collect()
    }

    fn plain(self, inlines: &[Inline]) -> String {
        volute_lessons::text::bare_line(&self.line(inlines))
    }
}

/// Prose with an ellipsis for each value: for what depends on where the learner stands.
fn bare_numbers(blocks: &[Prose]) -> Vec<Prose> {
    let line = |inlines: &[Inline]| inlines.iter().map(|inline| piece(inline, &|_| "…".into())).collect();
    blocks.iter().map(|block| each(block, &line)).collect()
}

fn each(block: &Prose, line: &dyn Fn(&[Inline]) -> Vec<Inline>) -> Prose {
    let all = |blocks: &[Prose]| blocks.iter().map(|block| each(block, line)).collect();
    match block {
        Prose::Heading { level, text } => Prose::Heading { level: *level, text: line(text) },
        Prose::Paragraph(text) => Prose::Paragraph(line(text)),
        Prose::Quote(inner) => Prose::Quote(all(inner)),
        Prose::List { first, items } => {
            Prose::List { first: *first, items: items.iter().map(|item| all(item)).collect() }
        }
    }
}

fn piece(inline: &Inline, value: &dyn Fn(&volute_lessons::expr::Shown) -> String) -> Inline {
    let all = |inlines: &[Inline]| inlines.iter().map(|inline| piece(inline, value)).collect();
    match inline {
        Inline::Value(shown) => Inline::Text(value(shown)),
        Inline::Emphasis(inner) => Inline::Emphasis(all(inner)),
        Inline::Strong(inner) => Inline::Strong(all(inner)),
        // Printout leads nowhere, and the desk has no lessons to open.
        Inline::Link { to: Target::Lesson(_), text } => Inline::Emphasis(all(text)),
        Inline::Link { to, text } => Inline::Link { to: to.clone(), text: all(text) },
        other => other.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_lessons::bench::CoreSolver;
    use volute_lessons::catalog::catalog;
    use volute_lessons::mark::{Answer, Typed};
    use volute_lessons::units::Decimal;

    const STYLE: Style = Style::ENGLISH;

    #[test]
    fn lesson_every_one_goes_on_paper() {
        let mut solver = CoreSolver::default();
        for lesson in &catalog().lessons {
            let sheet = printout(lesson, Seed(3), UnitSystem::Si, STYLE, &mut solver).unwrap();
            assert_eq!(sheet.entries.len(), lesson.steps.len());
            assert!(sheet.bench.is_some() && sheet.settings.len() >= 5, "{}", lesson.id);
            for entry in &sheet.entries {
                assert_eq!(entry.fault, None, "{}/{}", lesson.id, entry.id);
                let scored = matches!(entry.sort, "number" | "choice" | "choices" | "order" | "task");
                assert_eq!(scored, !entry.answer.is_empty(), "{}/{}", lesson.id, entry.id);
                assert_eq!(entry.sort == "sketch", entry.axes.is_some(), "{}/{}", lesson.id, entry.id);
                assert!(entry.wrong.iter().all(|(what, why)| !what.is_empty() && !why.is_empty()), "{}", entry.id);
                let values = format!("{:?}", (&entry.text, &entry.worked, &entry.wrong));
                assert!(!values.contains("Value("), "{values}");
                assert!(!values.contains("has not been computed") && !values.contains("no bench reading"), "{values}");
            }
        }
    }

    #[test]
    fn by_hand_the_key_is_what_the_checkpoint_marks_as_right() {
        let lesson = catalog().lesson("more-boost-less-torque").unwrap();
        let mut solver = CoreSolver::default();
        let sheet = printout(lesson, Seed(8), UnitSystem::Si, STYLE, &mut solver).unwrap();
        let worked = lesson.work_out(Seed(8), &mut solver).unwrap();
        let mut seen = 0;
        for checkpoint in lesson.checkpoints().filter(|c| c.question.name() == "number") {
            let asked = checkpoint.work_out(lesson, &worked, 0, &mut solver).unwrap();
            let entry = sheet.entries.iter().find(|entry| entry.id == checkpoint.id).unwrap();
            let typed = |text: &str| Answer::Number(Typed { text: text.into(), decimal: Decimal::Point });
            assert!(asked.mark(&typed(&entry.answer)).unwrap().right, "{}: {}", checkpoint.id, entry.answer);
            for (wrong, _) in &entry.wrong {
                assert!(asked.mark(&typed(wrong)).unwrap().misconception.is_some(), "{wrong}");
                seen += 1;
            }
        }
        assert!(seen >= 4);
    }
}
