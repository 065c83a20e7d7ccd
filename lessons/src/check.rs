//! The linter: what a lesson promises, tried with the core for many learners.
//!
//! The parser sees to form; here is what only numbers can tell. A lesson with a finding does not ship.

use crate::bench::{Bench, BenchError, Solve};
use crate::expr::{Env, EvalError};
use crate::lesson::*;
use crate::mark::{Standing, TaskMark, wanted};
use crate::paths;
use crate::problem::Place;
use crate::seed::Seed;
use crate::text::{self, Inline};
use crate::units::{self, Style};
use crate::work::{Unfair, Visited, WorkError, Worked};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use volute_core::settings::{Ambient, Load};

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

impl Finding {
    /// Where the block stands in the file; where the typed number stands, if that is the matter.
    pub fn at(&self, lesson: &Lesson, text: &str) -> Place {
        let block = lesson.places.get(&self.place).copied();
        if let FindingKind::TypedNumber { text: typed } = &self.kind {
            let line = block.map_or(1, |place| place.line);
            let begin: usize = text.split_inclusive('\n').take(line - 1).map(str::len).sum();
            if let Some(at) = text.get(begin..).and_then(|rest| rest.find(typed.as_str())) {
                return Place::of(text, begin + at);
            }
        }
        block.unwrap_or(Place { line: 1, column: 1 })
    }
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
    #[error(
        "the answer moves `{control}` to {value}, which is locked there or kept in a narrower range; free it, or answer with what is free: {free}"
    )]
    AnswerLocked { control: String, value: String, free: String },
    #[error("{found} hints; at least one is needed: the cause without the number")]
    NoHint { found: usize },
    #[error("{found} misconceptions; {block} needs at least {least}, each with its own explanation")]
    FewMisconceptions { found: usize, block: &'static str, least: usize },
    #[error("`{because}` explains two different mistakes; each needs its own explanation")]
    SameExplanation { because: String },
    #[error("the class plan takes {minutes} minutes; it must take {CLASS_MINUTES}")]
    PlanMinutes { minutes: u32 },
    #[error("no draw out of {tried} is fair: {last}")]
    NoFairDraw { tried: u32, last: Unfair },
    #[error("{thrown_away} of {drawn} draws were not fair; narrow the ranges")]
    ManyThrownAway { thrown_away: u32, drawn: u32 },
    #[error("`{text}` is typed; let the core give it: {{{{expression | unit}}}}")]
    TypedNumber { text: String },
    #[error("shows `{quantity}`, which the bench keeps back until the prediction is locked")]
    GivesAway { quantity: &'static str },
    #[error("sells `{quantity}`, which the task does not hide: add it to `hide`, or leave it out of `only`")]
    SellsShown { quantity: &'static str },
}

/// Holds `lesson` against what it promises, for every seed given. `solver` answers for the core. An empty list is a pass.
pub fn check(lesson: &Lesson, seeds: impl IntoIterator<Item = Seed>, solver: &mut dyn Solve) -> Vec<Finding> {
    let mut findings = form(lesson);
    let mut tally = Tally::default();
    for seed in seeds {
        tally.add(check_seed(lesson, seed, solver));
    }
    findings.extend(tally.finish());
    findings
}

/// What many learners met, put together: findings, each once, and how many draws were thrown away.
#[derive(Debug, Default)]
pub struct Tally {
    findings: Vec<Finding>,
    /// By block: draws thrown away, and all draws.
    draws: BTreeMap<String, (u32, u32)>,
}

/// What one learner met.
#[derive(Debug, Default)]
pub struct Met {
    findings: Vec<Finding>,
    thrown_away: Vec<(String, u32)>,
}

impl Tally {
    /// Adds what one learner met.
    pub fn add(&mut self, met: Met) {
        for finding in met.findings {
            // One seed is enough to show a thing.
            let known = |other: &Finding| {
                other.place == finding.place
                    && std::mem::discriminant(&other.kind) == std::mem::discriminant(&finding.kind)
            };
            match self.findings.iter_mut().find(|other| known(other)) {
                // The least seed, so that the order in which threads come home does not show.
                Some(other) if finding.seed < other.seed => *other = finding,
                Some(_) => {}
                None => self.findings.push(finding),
            }
        }
        for (place, thrown_away) in met.thrown_away {
            let (away, all) = self.draws.entry(place).or_default();
            *away += thrown_away;
            *all += thrown_away + 1;
        }
    }

    /// What two groups of learners met.
    pub fn join(mut self, other: Tally) -> Tally {
        self.add(Met { findings: other.findings, thrown_away: Vec::new() });
        for (place, (thrown_away, drawn)) in other.draws {
            let (away, all) = self.draws.entry(place).or_default();
            *away += thrown_away;
            *all += drawn;
        }
        self
    }

    /// Everything found.
    pub fn finish(mut self) -> Vec<Finding> {
        self.findings.sort_by(|a, b| (&a.place, a.seed).cmp(&(&b.place, b.seed)));
        for (place, (thrown_away, drawn)) in self.draws {
            if f64::from(thrown_away) > MOST_THROWN_AWAY * f64::from(drawn) {
                let kind = FindingKind::ManyThrownAway { thrown_away, drawn };
                self.findings.push(Finding { place, seed: None, kind });
            }
        }
        self.findings
    }
}

/// What needs no core.
pub fn form(lesson: &Lesson) -> Vec<Finding> {
    let mut form = Form { lesson, findings: Vec::new() };
    form.all();
    form.findings
}

/// What one learner meets.
pub fn check_seed(lesson: &Lesson, seed: Seed, solver: &mut dyn Solve) -> Met {
    let mut checker = Checker { lesson, seed, solver, met: Met::default() };
    checker.all();
    checker.met
}

struct Form<'c> {
    lesson: &'c Lesson,
    findings: Vec<Finding>,
}

impl Form<'_> {
    fn add(&mut self, place: &str, kind: FindingKind) {
        self.findings.push(Finding { place: place.into(), seed: None, kind });
    }

    fn all(&mut self) {
        let lesson = self.lesson;
        let has = |test: fn(&Step) -> bool| lesson.steps.iter().any(test);
        for (there, what) in [
            (has(|step| matches!(step, Step::Predict(_))), "prediction"),
            (has(|step| matches!(step, Step::Task(_))), "task"),
            (has(|step| matches!(step, Step::Checkpoint(_))), "checkpoint"),
            (has(|step| matches!(step, Step::Safety(_))), "safety callout"),
            (has(|step| matches!(step, Step::Transfer(_))), "transfer question"),
            (lesson.teacher.is_some(), "`teacher` block with a plan of 45 minutes"),
        ] {
            if !there {
                self.add("the lesson", FindingKind::Missing { what });
            }
        }
        if let Some(teacher) = &lesson.teacher {
            let minutes = teacher.plan.iter().map(|step| step.minutes).sum();
            if minutes != CLASS_MINUTES {
                self.add("teacher", FindingKind::PlanMinutes { minutes });
            }
        }
        for step in &lesson.steps {
            match step {
                Step::Predict(predict) => self.predict(predict),
                Step::Task(task) => self.task(task),
                Step::Checkpoint(checkpoint) => self.checkpoint(checkpoint),
                _ => {}
            }
            let place = step.id().unwrap_or(step.kind());
            let because = step.words().into_iter().filter(|(role, _)| *role == Role::Because);
            let because: Vec<Words> = because.map(|(_, words)| words).collect();
            self.explanations(place, &because);
        }
        self.typed_numbers();
        self.given_away();
    }

    fn predict(&mut self, predict: &Predict) {
        let revealed = |step: &Step| matches!(step, Step::Reveal(reveal) if reveal.after == predict.id);
        if !self.lesson.steps.iter().any(revealed) {
            self.add(&predict.id, FindingKind::NoReveal);
        }
    }

    fn task(&mut self, task: &Task) {
        self.hints(&task.id, task.hints.len());
        for quantity in task.buy.iter().flat_map(|buy| &buy.from) {
            if !task.layout.hides(quantity) {
                self.add(&task.id, FindingKind::SellsShown { quantity: quantity.key });
            }
        }
    }

    fn hints(&mut self, place: &str, found: usize) {
        if found == 0 {
            self.add(place, FindingKind::NoHint { found });
        }
    }

    fn checkpoint(&mut self, checkpoint: &Checkpoint) {
        if checkpoint.kind.is_scored() {
            self.hints(&checkpoint.id, checkpoint.hints.len());
        }
        let (found, block, least) = match &checkpoint.kind {
            CheckpointKind::Number(question) => {
                (question.misconceptions.len(), "a checkpoint with a number", LEAST_MISCONCEPTIONS)
            }
            CheckpointKind::Order(question) => (question.misconceptions.len(), "an order", 1),
            CheckpointKind::Sketch(question) => (question.misconceptions.len(), "a sketch", 1),
            _ => return,
        };
        if found < least {
            self.add(&checkpoint.id, FindingKind::FewMisconceptions { found, block, least });
        }
    }

    fn explanations(&mut self, place: &str, all: &[Words]) {
        for (i, because) in all.iter().enumerate() {
            if all[..i].contains(because) {
                let because = first_words(*because);
                self.add(place, FindingKind::SameExplanation { because });
            }
        }
    }

    fn typed_numbers(&mut self) {
        let mut found: Vec<(String, String)> = Vec::new();
        for (place, _, words) in self.lesson.words() {
            words.visit(&mut |inline| {
                if let Inline::Text(text) = inline {
                    found.extend(typed_quantities(text).into_iter().map(|quantity| (place.to_string(), quantity)));
                }
            });
        }
        for (place, text) in found {
            self.add(&place, FindingKind::TypedNumber { text });
        }
    }

    /// What is on the page before the hiding ends must not hold a hidden quantity.
    fn given_away(&mut self) {
        let lesson = self.lesson;
        let Some(until) = &lesson.start.hide_until else { return };
        let mut found: BTreeSet<(String, &'static str)> = BTreeSet::new();
        let layout = &lesson.start.layout;
        // What a learner has set is known, whatever else `only` leaves out.
        let held = match &lesson.start.set.load {
            Some(LoadChange::Fuel(_)) => "fuel",
            _ => "torque",
        };
        let set = |name: &str| ["speed", "vane", "p_amb", "t_amb", "humidity", held].contains(&name);
        let hides = |name: &str| {
            paths::quantity(name)
                .is_some_and(|quantity| layout.hide.contains(&quantity) || (layout.hides(quantity) && !set(name)))
        };
        for step in &lesson.steps {
            // All that follows waits for the prediction.
            if matches!(step, Step::Reveal(reveal) if reveal.after == *until) {
                break;
            }
            let place = step.id().unwrap_or(step.kind());
            for (role, words) in step.words() {
                if matches!(role, Role::Because | Role::Worked | Role::Consider) {
                    continue;
                }
                words.visit(&mut |inline| {
                    if let Inline::Value(shown) = inline {
                        let hidden = shown.expr.quantities().into_iter().filter(|name| hides(name));
                        found.extend(hidden.map(|name| (place.to_string(), name)));
                    }
                });
            }
        }
        for (place, quantity) in found {
            self.add(&place, FindingKind::GivesAway { quantity });
        }
    }
}

struct Checker<'c> {
    lesson: &'c Lesson,
    seed: Seed,
    solver: &'c mut dyn Solve,
    met: Met,
}

impl Checker<'_> {
    fn add(&mut self, place: &str, kind: FindingKind) {
        self.met.findings.push(Finding { place: place.into(), seed: Some(self.seed), kind });
    }

    fn all(&mut self) {
        let lesson = self.lesson;
        let worked = match lesson.work_out(self.seed, &mut *self.solver) {
            Ok(worked) => worked,
            Err(error) => return self.work_error("the bench", error),
        };
        for (state, ends) in wanted(lesson) {
            if let Some(unfair) = worked.ends(state, ends) {
                self.add(state, FindingKind::Unfair(unfair));
            }
        }
        let mut known: BTreeMap<&str, Worked> = BTreeMap::new();
        for step in &lesson.steps {
            let place = step.id().unwrap_or(step.kind());
            match step {
                Step::Predict(predict) => match predict.work_out(lesson, &worked, &mut *self.solver) {
                    Ok(predicted) => {
                        self.met.thrown_away.push((predict.id.clone(), predicted.thrown_away));
                        self.words(place, &step.words(), &predicted.env());
                        known.insert(&predict.id, predicted.worked);
                    }
                    Err(error) => self.work_error(place, error),
                },
                Step::Checkpoint(checkpoint) => match checkpoint.work_out(lesson, &worked, 0, &mut *self.solver) {
                    Ok(asked) => {
                        self.met.thrown_away.push((checkpoint.id.clone(), asked.thrown_away));
                        self.words(place, &step.words(), &asked.env());
                    }
                    Err(error) => self.work_error(place, error),
                },
                Step::Task(task) => self.task(task, step, &worked),
                Step::Reveal(reveal) => {
                    // A reveal sees what its prediction sees.
                    let worked = known.get(reveal.after.as_str()).unwrap_or(&worked);
                    self.words(place, &step.words(), &worked.env());
                    for curve in &reveal.plot {
                        if let Err(error) = worked.curve(curve) {
                            self.add(place, FindingKind::Eval(error));
                        }
                    }
                }
                _ => self.words(place, &step.words(), &worked.env()),
            }
        }
    }

    fn work_error(&mut self, place: &str, error: WorkError) {
        let kind = match error {
            WorkError::Bench { state, error } => FindingKind::Bench { state, error },
            WorkError::Eval(error) => FindingKind::Eval(error),
            WorkError::NoFairDraw { last: Unfair::StartPasses, .. } => FindingKind::StartPasses,
            WorkError::NoFairDraw { tried: 1, last } => FindingKind::Unfair(last),
            WorkError::NoFairDraw { tried, last } => FindingKind::NoFairDraw { tried, last },
        };
        self.add(place, kind);
    }

    fn words(&mut self, place: &str, all: &[(Role, Words)], env: &Env) {
        for (_, words) in all {
            self.words_one(place, *words, env);
        }
    }

    fn words_one(&mut self, place: &str, words: Words, env: &Env) {
        let text = match words {
            Words::Prose(prose) => text::plain(prose, env, Style::default()).map(drop),
            Words::Line(line) => text::plain_inline(line, env, Style::default()).map(drop),
        };
        if let Err(error) = text {
            self.add(place, FindingKind::Eval(error));
        }
    }

    fn task(&mut self, task: &Task, step: &Step, worked: &Worked) {
        let set = match task.work_out(self.lesson, worked, &mut *self.solver) {
            Ok(set) => set,
            Err(error) => return self.work_error(&task.id, error),
        };
        self.met.thrown_away.push((task.id.clone(), set.thrown_away));
        let (live, plain): (Vec<_>, Vec<_>) = step.words().into_iter().partition(|(role, _)| *role == Role::Because);
        self.words(&task.id, &plain, &set.env());
        let Some(start) = set.start().cloned() else { return };
        let answer = match set.answer() {
            Ok(answer) => answer,
            Err(error) => return self.add(&task.id, FindingKind::Eval(error)),
        };
        let mut visited = Visited::default();
        let mut bench = &start;
        let mut last = None;
        for (i, next) in std::iter::once(&start).chain(&answer).enumerate() {
            if i > 0 {
                self.moves(task, bench, next);
            }
            bench = next;
            match self.solver.solve(bench) {
                Ok(reading) => {
                    visited.push(&reading);
                    last = Some(reading);
                }
                Err(error) => {
                    let state = if i == 0 { task.bench.clone() } else { "answer".into() };
                    return self.add(&task.id, FindingKind::Bench { state, error });
                }
            }
            if let (0, Some(reading)) = (i, &last) {
                // The explanations are tried on the start, where a learner is likeliest to meet them.
                let own = set.live(bench, &mut *self.solver).unwrap_or_else(|_| set.worked.clone());
                let env = Env { visited: visited.readings(), live: Some(bench), ..own.env_with(reading) };
                self.words(&task.id, &live, &env);
            }
        }
        let Some(reading) = last else { return };
        let stands = Standing { bench, reading: &reading, visited: &visited };
        let mark = set.judge(&stands, &mut *self.solver);
        let because = match mark {
            Ok(TaskMark::Done(_)) => return,
            Ok(TaskMark::Misconception { because, .. }) => Some(first_words(Words::Prose(because))),
            Ok(TaskMark::NotYet) => None,
            Ok(TaskMark::NoNumbers(outcome)) => Some(outcome.meaning().into()),
            Err(error) => return self.work_error(&task.id, error),
        };
        self.add(&task.id, FindingKind::AnswerFails { because });
    }

    /// Whether the step of an answer moves only what is free.
    fn moves(&mut self, task: &Task, from: &Bench, to: &Bench) {
        let free = task.free(self.lesson);
        for (control, value) in moved(from, to) {
            let allowed = free.iter().any(|free| free.allows(control, from, to));
            if !allowed {
                let free: Vec<String> = free.iter().map(Free::to_string).collect();
                let free = if free.is_empty() { "nothing".into() } else { free.join(", ") };
                self.add(&task.id, FindingKind::AnswerLocked { control: control.name(), value, free });
            }
        }
    }
}

/// Controls that differ, and where they stand then, in words.
fn moved(from: &Bench, to: &Bench) -> Vec<(Control, String)> {
    let (a, b) = (&from.settings, &to.settings);
    let mut all = Vec::new();
    if a.vane_open_pct != b.vane_open_pct {
        all.push((Control::Vane, format!("{} %", b.vane_open_pct)));
    }
    if a.speed_rpm != b.speed_rpm {
        all.push((Control::Speed, format!("{} 1/min", b.speed_rpm)));
    }
    if std::mem::discriminant(&a.load) != std::mem::discriminant(&b.load) {
        all.push((Control::Hold, if matches!(b.load, Load::Fuel { .. }) { "fuel" } else { "torque" }.into()));
    }
    if a.load != b.load {
        let value = match b.load {
            Load::Torque { torque_n_m } => format!("{torque_n_m} N m"),
            Load::Fuel { fuel_kg_per_cycle } => format!("{} mg", fuel_kg_per_cycle * 1.0e6),
        };
        all.push((Control::Load, value));
    }
    if a.ambient != b.ambient {
        let Ambient { p_pa, t_k, relative_humidity } = b.ambient;
        all.push((Control::Ambient, format!("{p_pa} Pa, {t_k} K, humidity {relative_humidity}")));
    }
    for path in from.parts.keys().chain(to.parts.keys()).collect::<BTreeSet<_>>() {
        if from.parts.get(path) != to.parts.get(path)
            && let Ok(key) = volute_core::engine::key(path)
        {
            let value = to.parts.get(path).map_or("its own value".into(), f64::to_string);
            all.push((Control::part(key), value));
        }
    }
    all
}

impl Task {
    /// What the learner may move in this task: its own list, or that of the lesson.
    pub fn free<'l>(&'l self, lesson: &'l Lesson) -> &'l [Free] {
        if self.layout.free.is_empty() { &lesson.start.layout.free } else { &self.layout.free }
    }
}

impl Free {
    /// Whether this lets `control` go from where it stands in `from` to where it stands in `to`.
    pub fn allows(&self, control: Control, from: &Bench, to: &Bench) -> bool {
        let s = &to.settings;
        let value_si = match control {
            Control::Vane => s.vane_open_pct / 100.0,
            Control::Speed => s.speed_rpm / 60.0,
            Control::Load => match s.load {
                Load::Torque { torque_n_m } => torque_n_m,
                Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
            },
            Control::Part { group, name } => to.parts.get(&format!("{group}.{name}")).copied().unwrap_or(f64::NAN),
            Control::Ambient => {
                // An altitude is a pressure and a temperature that go together.
                let altitude = self.control == Control::Altitude
                    && from.settings.ambient.relative_humidity == s.ambient.relative_humidity;
                let Some(altitude_m) = altitude.then(|| standard_altitude_m(&s.ambient)).flatten() else {
                    return self.control == Control::Ambient;
                };
                altitude_m
            }
            Control::Altitude | Control::Hold | Control::Parts => 0.0,
        };
        let same = self.control == control
            || (self.control == Control::Altitude && control == Control::Ambient)
            || (self.control == Control::Parts && matches!(control, Control::Part { .. }));
        let slack = 1.0e-9 * value_si.abs();
        same && self.range_si.is_none_or(|(low, high)| low - slack <= value_si && value_si <= high + slack)
    }
}

/// The altitude at which the standard atmosphere has this pressure and temperature, in m.
fn standard_altitude_m(ambient: &Ambient) -> Option<f64> {
    let sea_k = volute_core::gas::atmosphere::temperature_k(0.0).ok()?;
    let lapse_k_m = sea_k - volute_core::gas::atmosphere::temperature_k(1.0).ok()?;
    let altitude_m = (sea_k - ambient.t_k) / lapse_k_m;
    let pressure_pa = volute_core::gas::atmosphere::pressure_pa(altitude_m).ok()?;
    ((pressure_pa / ambient.p_pa - 1.0).abs() < 1.0e-9).then_some(altitude_m)
}

impl fmt::Display for Free {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.control.name())?;
        match self.range_si {
            Some((low, high)) => write!(out, " from {low} to {high} (SI)"),
            None => Ok(()),
        }
    }
}

/// Numbers with a unit behind them, as they stand in `text`.
pub fn typed_quantities(text: &str) -> Vec<String> {
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
fn first_words(words: Words) -> String {
    let mut text = String::new();
    words.visit(&mut |inline| {
        if let Inline::Text(piece) = inline {
            text.push_str(piece);
        }
    });
    text.chars().take(60).collect()
}
