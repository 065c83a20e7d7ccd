//! The linter: what a lesson promises, tried with the core for many learners.
//!
//! The parser sees to form; here is what only numbers can tell. A lesson with a finding does not ship.

use crate::bench::{Bench, BenchError, Solve};
use crate::expr::{Env, EvalError};
use crate::lesson::*;
use crate::mark::{TaskMark, wanted};
use crate::seed::Seed;
use crate::text::{self, Inline, Prose};
use crate::units::{self, Style};
use std::collections::BTreeSet;

/// Misconceptions that a checkpoint with a number needs at least.
pub const LEAST_MISCONCEPTIONS: usize = 2;
/// Share of draws that may be thrown away. Chosen: more means that the ranges are wrong.
pub const MOST_THROWN_AWAY: f64 = 0.5;

/// One thing that a lesson does not keep.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{place}{}: {kind}", .seed.map(|seed| format!(", seed {}", seed.0)).unwrap_or_default())]
pub struct Finding {
    /// The block, by id, or a part of the lesson.
    pub place: String,
    /// The seed that shows it, when it depends on one.
    pub seed: Option<Seed>,
    /// What.
    pub kind: FindingKind,
}

/// What a lesson does not keep.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum FindingKind {
    #[error("the lesson has no {what}")]
    Missing { what: &'static str },
    #[error("the prediction has no reveal")]
    NoReveal,
    #[error("`{state}` cannot be set: {error}")]
    Bench { state: String, error: BenchError },
    #[error("{0}")]
    Unfair(Unfair),
    #[error("cannot be worked out: {0}")]
    Eval(EvalError),
    #[error("the start passes the task already")]
    StartPasses,
    #[error("the answer does not pass the task{}", .because.as_ref().map(|b| format!(": {b}")).unwrap_or_default())]
    AnswerFails { because: Option<String> },
    #[error("the answer moves `{control}`, which the lesson locks or keeps in a narrower range")]
    AnswerLocked { control: &'static str },
    #[error(
        "{found} misconceptions; a checkpoint with a number needs at least {LEAST_MISCONCEPTIONS}, each with its own explanation"
    )]
    FewMisconceptions { found: usize },
    #[error("`{because}` explains two different mistakes; each needs its own explanation")]
    SameExplanation { because: String },
    #[error("no draw out of {tried} is fair: {last}")]
    NoFairDraw { tried: u32, last: Unfair },
    #[error("{thrown_away} of {drawn} draws were not fair; narrow the ranges")]
    ManyThrownAway { thrown_away: u32, drawn: u32 },
    #[error("`{text}` is typed; let the core give it: {{{{expression | unit}}}}")]
    TypedNumber { text: String },
    #[error("shows `{quantity}`, which the bench keeps back until the prediction is locked")]
    GivesAway { quantity: &'static str },
}

/// Holds `lesson` against what it promises, for every seed given. `solver` answers for the core. An empty list is a pass.
pub fn check(lesson: &Lesson, seeds: impl IntoIterator<Item = Seed>, solver: &mut dyn Solve) -> Vec<Finding> {
    let mut checker = Checker { lesson, solver, findings: Vec::new() };
    checker.form();
    let (mut thrown_away, mut drawn) = (vec![0; lesson.checkpoints().count()], 0);
    for seed in seeds {
        drawn += 1;
        checker.seed(seed, &mut thrown_away);
    }
    for (checkpoint, thrown_away) in lesson.checkpoints().zip(thrown_away) {
        let all = thrown_away + drawn;
        if f64::from(thrown_away) > MOST_THROWN_AWAY * f64::from(all) {
            checker.add(&checkpoint.id, None, FindingKind::ManyThrownAway { thrown_away, drawn: all });
        }
    }
    checker.findings
}

struct Checker<'c> {
    lesson: &'c Lesson,
    solver: &'c mut dyn Solve,
    findings: Vec<Finding>,
}

impl Checker<'_> {
    fn add(&mut self, place: &str, seed: Option<Seed>, kind: FindingKind) {
        // One seed is enough to show a thing.
        let known = |finding: &Finding| {
            finding.place == place
                && std::mem::discriminant(&finding.kind) == std::mem::discriminant(&kind)
                && finding.seed.is_some()
        };
        if seed.is_none() || !self.findings.iter().any(known) {
            self.findings.push(Finding { place: place.into(), seed, kind });
        }
    }

    /// What needs no core.
    fn form(&mut self) {
        let lesson = self.lesson;
        let has = |test: fn(&Step) -> bool| lesson.steps.iter().any(test);
        for (there, what) in [
            (has(|step| matches!(step, Step::Predict(_))), "prediction"),
            (has(|step| matches!(step, Step::Task(_))), "task"),
            (has(|step| matches!(step, Step::Checkpoint(_))), "checkpoint"),
            (has(|step| matches!(step, Step::Safety(_))), "safety callout"),
            (has(|step| matches!(step, Step::Transfer(_))), "transfer question"),
        ] {
            if !there {
                self.add("the lesson", None, FindingKind::Missing { what });
            }
        }
        for predict in lesson.predictions() {
            let revealed =
                lesson.steps.iter().any(|step| matches!(step, Step::Reveal(reveal) if reveal.after == predict.id));
            if !revealed {
                self.add(&predict.id, None, FindingKind::NoReveal);
            }
            if let Prediction::Choice(options) = &predict.answer {
                self.explanations(&predict.id, options.iter().map(|option| option.because.as_slice()));
            }
        }
        for task in lesson.tasks() {
            self.explanations(&task.id, task.misconceptions.iter().map(|m| m.because.as_slice()));
        }
        for checkpoint in lesson.checkpoints() {
            match &checkpoint.kind {
                CheckpointKind::Number(question) => {
                    let found = question.misconceptions.len();
                    if found < LEAST_MISCONCEPTIONS {
                        self.add(&checkpoint.id, None, FindingKind::FewMisconceptions { found });
                    }
                    self.explanations(&checkpoint.id, question.misconceptions.iter().map(|m| m.because.as_slice()));
                }
                CheckpointKind::Choice(options) => {
                    self.explanations(&checkpoint.id, options.iter().map(|option| option.because.as_slice()));
                }
            }
        }
        self.typed_numbers();
        self.given_away();
    }

    fn explanations<'p>(&mut self, place: &str, all: impl Iterator<Item = &'p [Prose]>) {
        let mut seen: Vec<&[Prose]> = Vec::new();
        for because in all {
            if seen.contains(&because) {
                let because = words(because);
                self.add(place, None, FindingKind::SameExplanation { because });
            }
            seen.push(because);
        }
    }

    fn typed_numbers(&mut self) {
        let mut found: Vec<(String, String)> = Vec::new();
        each_inline(self.lesson, &mut |place, inline| {
            if let Inline::Text(text) = inline {
                found.extend(typed_quantities(text).into_iter().map(|quantity| (place.to_string(), quantity)));
            }
        });
        for (place, text) in found {
            self.add(&place, None, FindingKind::TypedNumber { text });
        }
    }

    /// What is on the page before the hiding ends must not hold a hidden quantity.
    fn given_away(&mut self) {
        let lesson = self.lesson;
        let Some(until) = &lesson.start.hide_until else { return };
        let mut found: BTreeSet<(String, &'static str)> = BTreeSet::new();
        let hidden = |inline: &Inline| match inline {
            Inline::Value(shown) => {
                shown.expr.quantities().into_iter().find(|name| lesson.start.hide.iter().any(|q| q.name == *name))
            }
            _ => None,
        };
        for step in &lesson.steps {
            let mut see = |place: &str, prose: &[Prose]| {
                text::visit(prose, &mut |inline| found.extend(hidden(inline).map(|name| (place.to_string(), name))));
            };
            match step {
                // All that follows waits for the prediction.
                Step::Reveal(reveal) if reveal.after == *until => break,
                Step::Prose(prose) => see("prose", prose),
                Step::Safety(prose) => see("safety", prose),
                Step::Reveal(reveal) => see("reveal", &reveal.text),
                Step::Transfer(transfer) => see(&transfer.id, &transfer.ask),
                Step::Task(task) => {
                    [&task.ask, &task.hint, &task.done].into_iter().for_each(|prose| see(&task.id, prose))
                }
                Step::Checkpoint(c) => [&c.ask, &c.hint].into_iter().for_each(|prose| see(&c.id, prose)),
                Step::Predict(predict) => {
                    see(&predict.id, &predict.ask);
                    if let Prediction::Choice(options) = &predict.answer {
                        for option in options {
                            text::visit_inline(&option.text, &mut |inline| {
                                found.extend(hidden(inline).map(|name| (predict.id.clone(), name)));
                            });
                        }
                    }
                }
            }
        }
        for (place, quantity) in found {
            self.add(&place, None, FindingKind::GivesAway { quantity });
        }
    }

    /// What one learner meets.
    fn seed(&mut self, seed: Seed, thrown_away: &mut [u32]) {
        let lesson = self.lesson;
        let worked = match lesson.work_out(seed, &mut *self.solver) {
            Ok(worked) => worked,
            Err(error) => return self.work_error("the bench", seed, error),
        };
        for (state, ends) in wanted(lesson) {
            if let Some(unfair) = worked.ends(state, ends) {
                self.add(state, Some(seed), FindingKind::Unfair(unfair));
            }
        }
        for step in &lesson.steps {
            match step {
                Step::Prose(prose) => self.prose("prose", seed, prose, &worked.env()),
                Step::Safety(prose) => self.prose("safety", seed, prose, &worked.env()),
                Step::Reveal(reveal) => self.prose("reveal", seed, &reveal.text, &worked.env()),
                Step::Transfer(t) => {
                    [&t.ask, &t.consider].into_iter().for_each(|p| self.prose(&t.id, seed, p, &worked.env()))
                }
                Step::Predict(predict) => self.predict(predict, seed, &worked),
                Step::Task(task) => self.task(task, seed, &worked),
                Step::Checkpoint(_) => {}
            }
        }
        for (checkpoint, thrown_away) in lesson.checkpoints().zip(thrown_away) {
            match checkpoint.work_out(lesson, &worked, 0, &mut *self.solver) {
                Ok(asked) => {
                    *thrown_away += asked.thrown_away;
                    let env = asked.env();
                    for prose in [&checkpoint.ask, &checkpoint.hint, &checkpoint.worked] {
                        self.prose(&checkpoint.id, seed, prose, &env);
                    }
                    match &checkpoint.kind {
                        CheckpointKind::Number(question) => {
                            question
                                .misconceptions
                                .iter()
                                .for_each(|m| self.prose(&checkpoint.id, seed, &m.because, &env));
                        }
                        CheckpointKind::Choice(options) => self.options(&checkpoint.id, seed, options, &env),
                    }
                }
                Err(error) => self.work_error(&checkpoint.id, seed, error),
            }
        }
    }

    fn work_error(&mut self, place: &str, seed: Seed, error: WorkError) {
        let kind = match error {
            WorkError::Bench { state, error } => FindingKind::Bench { state, error },
            WorkError::Eval(error) => FindingKind::Eval(error),
            WorkError::NoFairDraw { tried, last } => FindingKind::NoFairDraw { tried, last },
        };
        self.add(place, Some(seed), kind);
    }

    fn prose(&mut self, place: &str, seed: Seed, prose: &[Prose], env: &Env) {
        if let Err(error) = text::plain(prose, env, Style::default()) {
            self.add(place, Some(seed), FindingKind::Eval(error));
        }
    }

    fn options(&mut self, place: &str, seed: Seed, options: &[Choice], env: &Env) {
        for option in options {
            self.prose(place, seed, &option.because, env);
            if let Err(error) = text::plain_inline(&option.text, env, Style::default()) {
                self.add(place, Some(seed), FindingKind::Eval(error));
            }
        }
    }

    fn predict(&mut self, predict: &Predict, seed: Seed, worked: &Worked) {
        let env = worked.env();
        self.prose(&predict.id, seed, &predict.ask, &env);
        let Prediction::Choice(options) = &predict.answer else { return };
        self.options(&predict.id, seed, options, &env);
        let right = options.iter().map(|option| option.when.truth(&env)).collect::<Result<Vec<bool>, EvalError>>();
        match right {
            Ok(right) => {
                let right = right.into_iter().filter(|right| *right).count();
                if right != 1 {
                    self.add(&predict.id, Some(seed), FindingKind::Unfair(Unfair::Options { right }));
                }
            }
            Err(error) => self.add(&predict.id, Some(seed), FindingKind::Eval(error)),
        }
    }

    fn task(&mut self, task: &Task, seed: Seed, worked: &Worked) {
        for prose in [&task.ask, &task.hint, &task.done] {
            self.prose(&task.id, seed, prose, &worked.env());
        }
        let Some(start) = worked.readings.get("start") else { return };
        match task.judge(worked, start) {
            Ok(TaskMark::Done(_)) => self.add(&task.id, Some(seed), FindingKind::StartPasses),
            Ok(_) => {}
            Err(error) => self.add(&task.id, Some(seed), FindingKind::Eval(error)),
        }
        for misconception in &task.misconceptions {
            self.prose(&task.id, seed, &misconception.because, &worked.env_with(start));
        }
        let Some(bench) = worked.benches.get("start") else { return };
        let answer = match bench.changed(&task.answer, &worked.seeds) {
            Ok(answer) => answer,
            Err(error) => return self.add(&task.id, Some(seed), FindingKind::Eval(error)),
        };
        for control in Control::ALL {
            if !self.lesson.start.may_set(control, bench, &answer) {
                self.add(&task.id, Some(seed), FindingKind::AnswerLocked { control: control.name() });
            }
        }
        match self.solver.solve(&answer) {
            Err(error) => self.add(&task.id, Some(seed), FindingKind::Bench { state: "answer".into(), error }),
            Ok(reading) => match task.judge(worked, &reading) {
                Ok(TaskMark::Done(_)) => {}
                Ok(TaskMark::Misconception(because)) => {
                    self.add(&task.id, Some(seed), FindingKind::AnswerFails { because: Some(words(because)) });
                }
                Ok(TaskMark::NotYet) => self.add(&task.id, Some(seed), FindingKind::AnswerFails { because: None }),
                Ok(TaskMark::NoNumbers(outcome)) => {
                    self.add(
                        &task.id,
                        Some(seed),
                        FindingKind::AnswerFails { because: Some(outcome.meaning().into()) },
                    );
                }
                Err(error) => self.add(&task.id, Some(seed), FindingKind::Eval(error)),
            },
        }
    }
}

impl Start {
    /// Whether a learner may bring `control` from where it stands in `from` to where it stands in `to`.
    pub fn may_set(&self, control: Control, from: &Bench, to: &Bench) -> bool {
        use volute_core::settings::Load;
        let (a, b) = (&from.settings, &to.settings);
        let (moved, value_si) = match control {
            Control::Vane => (a.vane_open_pct != b.vane_open_pct, b.vane_open_pct / 100.0),
            Control::Speed => (a.speed_rpm != b.speed_rpm, b.speed_rpm / 60.0),
            Control::Load => {
                let value = match b.load {
                    Load::Torque { torque_n_m } => torque_n_m,
                    Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
                };
                (a.load != b.load, value)
            }
            Control::Ambient => (a.ambient != b.ambient, 0.0),
            Control::Parts => (from.parts != to.parts, 0.0),
        };
        let allowed = self.free.iter().any(|free| {
            free.control == control
                && free
                    .range_si
                    .is_none_or(|(low, high)| low * (1.0 - 1e-9) <= value_si && value_si <= high * (1.0 + 1e-9))
        });
        !moved || allowed
    }
}

/// Every piece of a lesson's lines and prose, with the block it stands in.
fn each_inline<'l>(lesson: &'l Lesson, see: &mut dyn FnMut(&str, &'l Inline)) {
    for (place, line) in [("title", &lesson.title), ("teaches", &lesson.teaches), ("not_here", &lesson.not_here)] {
        text::visit_inline(line, &mut |inline| see(place, inline));
    }
    for (place, prose) in lesson.all_prose() {
        text::visit(prose, &mut |inline| see(place, inline));
    }
    for step in &lesson.steps {
        let (place, options) = match step {
            Step::Predict(Predict { id, answer: Prediction::Choice(options), .. }) => (id, options),
            Step::Checkpoint(Checkpoint { id, kind: CheckpointKind::Choice(options), .. }) => (id, options),
            _ => continue,
        };
        for option in options {
            text::visit_inline(&option.text, &mut |inline| see(place, inline));
        }
    }
}

/// Numbers with a unit behind them, as they stand in `text`.
fn typed_quantities(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut previous = ' ';
    let mut skip_to = 0;
    for (at, c) in text.char_indices() {
        if at >= skip_to && c.is_ascii_digit() && !previous.is_alphanumeric() {
            let number = text[at..]
                .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')))
                .map_or(text.len(), |n| at + n);
            skip_to = number;
            let rest = text[number..].trim_start_matches([' ', '\u{a0}', '\u{202f}']);
            // "2 in three" is no length; the few inches of a lesson can be written in words as well.
            if let Some((measure, length)) = units::prefix(rest)
                && measure.unit.name != "in"
            {
                let end = text.len() - rest.len() + length;
                found.push(text[at..end].to_string());
                skip_to = end;
            }
        }
        previous = c;
    }
    found
}

/// The first words of an explanation.
fn words(prose: &[Prose]) -> String {
    let mut text = String::new();
    text::visit(prose, &mut |inline| {
        if let Inline::Text(piece) = inline {
            text.push_str(piece);
        }
    });
    text.chars().take(60).collect()
}

#[cfg(test)]
mod tests;
