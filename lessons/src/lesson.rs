//! A lesson as it was read: prose, and between it what the bench is set to, what is asked, and what is kept back until then.

use crate::bench::{Bench, BenchError, Solve};
use crate::expr::{Env, EvalError, Expr};
use crate::paths::Quantity;
use crate::seed::{Seed, SeedRange};
use crate::text::{Inline, Prose};
use crate::units::Measure;
use std::collections::BTreeMap;
use volute_core::reading::{Outcome, Reading};
use volute_core::settings::Settings;

/// A lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// Never changes: links point here.
    pub id: String,
    /// What it is called.
    pub title: Vec<Inline>,
    /// The course it belongs to, a letter.
    pub course: String,
    /// Minutes that it takes.
    pub minutes: u32,
    /// Lessons that come before it, by id.
    pub needs: Vec<String>,
    /// What it teaches, in a sentence.
    pub teaches: Vec<Inline>,
    /// What it leaves out.
    pub not_here: Vec<Inline>,
    /// Numbers that are drawn for the whole lesson.
    pub seeds: Vec<SeedRange>,
    /// The bench at the start: the state `start`.
    pub start: Start,
    /// Named states that the core computes: `pins.name`.
    pub pins: Vec<Pin>,
    /// Everything in the order of the page.
    pub steps: Vec<Step>,
}

/// One thing on the page.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "a lesson has a dozen of them, and they are never moved about")]
pub enum Step {
    /// Prose.
    Prose(Vec<Prose>),
    /// A prediction, to be locked before what it is about is shown.
    Predict(Predict),
    /// Bring the bench to a state.
    Task(Task),
    /// A question that is marked.
    Checkpoint(Checkpoint),
    /// Shown once a prediction is locked.
    Reveal(Reveal),
    /// What would happen to real hardware and to people near it.
    Safety(Vec<Prose>),
    /// The same thought on another engine or place; not marked.
    Transfer(Transfer),
}

/// How the bench stands when the lesson begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// Short name of a built-in engine; the first one if nothing is said.
    pub engine: Option<String>,
    /// The settings.
    pub set: Change,
    /// Controls that the learner may move; all others are locked.
    pub free: Vec<Free>,
    /// Quantities that are not shown until the prediction `hide_until` is locked.
    pub hide: Vec<&'static Quantity>,
    /// The prediction that shows them.
    pub hide_until: Option<String>,
    /// How the core may find that it ends; `matched` unless the file says more.
    pub ends: Vec<Outcome>,
}

/// A control of the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Control {
    /// Vane position.
    Vane,
    /// Torque or fuel, whichever is held.
    Load,
    /// Engine speed.
    Speed,
    /// Ambient pressure, temperature and humidity.
    Ambient,
    /// Parts of the engine.
    Parts,
}

impl Control {
    /// As lesson files write it.
    pub fn name(self) -> &'static str {
        match self {
            Control::Vane => "vane",
            Control::Load => "load",
            Control::Speed => "speed",
            Control::Ambient => "ambient",
            Control::Parts => "parts",
        }
    }

    pub(crate) const ALL: [Control; 5] =
        [Control::Vane, Control::Load, Control::Speed, Control::Ambient, Control::Parts];
}

/// A control that the learner may move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Free {
    /// Which.
    pub control: Control,
    /// Narrower ends than the bench has, in SI (a vane position as a share, a speed in 1/s).
    pub range_si: Option<(f64, f64)>,
}

/// Settings that differ from those they begin with. Expressions use numbers and `seed.…` only.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Change {
    /// Engine speed.
    pub speed: Option<Expr>,
    /// Torque or fuel.
    pub load: Option<LoadChange>,
    /// Vane position.
    pub vane: Option<Expr>,
    /// Ambient pressure.
    pub pressure: Option<Expr>,
    /// Ambient temperature.
    pub temperature: Option<Expr>,
    /// Relative humidity.
    pub humidity: Option<Expr>,
    /// Parameters of the engine by their path in core, such as `exhaust_pipe.bore_m`, in SI.
    pub parts: Vec<(String, f64)>,
}

/// Torque or fuel.
#[derive(Debug, Clone, PartialEq)]
pub enum LoadChange {
    /// Torque held.
    Torque(Expr),
    /// Fuel held, of one cylinder in one cycle.
    Fuel(Expr),
}

/// A named state.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Its name.
    pub name: String,
    /// How it differs from the start.
    pub set: Change,
    /// How the core may find that it ends; `matched` unless the file says more.
    pub ends: Vec<Outcome>,
}

/// A prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Predict {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub ask: Vec<Prose>,
    /// How it is answered.
    pub answer: Prediction,
}

/// How a prediction is answered.
#[derive(Debug, Clone, PartialEq)]
pub enum Prediction {
    /// One of these.
    Choice(Vec<Choice>),
    /// In the learner's own words; shown again beside the reveal, not judged.
    Short,
}

/// One of several answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// What it says.
    pub text: Vec<Inline>,
    /// True when it is right: the core decides, not the file.
    pub when: Expr,
    /// Why it is right or wrong.
    pub because: Vec<Prose>,
}

/// Bring the bench to a state.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// Its name.
    pub id: String,
    /// What to do.
    pub ask: Vec<Prose>,
    /// True when it is done: judged on the bench as it stands.
    pub goal: Expr,
    /// The cause without the number.
    pub hint: Vec<Prose>,
    /// Settings that do it: for "show me", and for the linter.
    pub answer: Change,
    /// What is said when it is done.
    pub done: Vec<Prose>,
    /// Wrong turns, each with its own explanation; the first that is true is said.
    pub misconceptions: Vec<WrongState>,
}

/// A state that tells why the goal is missed.
#[derive(Debug, Clone, PartialEq)]
pub struct WrongState {
    /// How to know it.
    pub when: Expr,
    /// What is behind it.
    pub because: Vec<Prose>,
}

/// A question that is marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Checkpoint {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub ask: Vec<Prose>,
    /// The cause without the number.
    pub hint: Vec<Prose>,
    /// The worked answer, shown after the second try.
    pub worked: Vec<Prose>,
    /// Numbers that are drawn for it.
    pub seeds: Vec<SeedRange>,
    /// States of its own: the start of the lesson with changes.
    pub pins: Vec<Pin>,
    /// The pin that "set the bench" brings, if there is one.
    pub bench: Option<String>,
    /// How it is answered.
    pub kind: CheckpointKind,
}

/// How a checkpoint is answered.
#[derive(Debug, Clone, PartialEq)]
pub enum CheckpointKind {
    /// A number with its unit.
    Number(NumberQuestion),
    /// One of these.
    Choice(Vec<Choice>),
}

/// A number with its unit.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberQuestion {
    /// The unit it is asked in.
    pub measure: Measure,
    /// How the core gets it.
    pub answer: Expr,
    /// How far off is still right.
    pub tolerance: Tolerance,
    /// Significant figures that are asked for; nothing if any will do.
    pub figures: Option<u8>,
    /// Values that come from a known misconception.
    pub misconceptions: Vec<WrongValue>,
}

/// A value that comes from a known misconception.
#[derive(Debug, Clone, PartialEq)]
pub struct WrongValue {
    /// How the core gets it.
    pub value: Expr,
    /// What is behind it.
    pub because: Vec<Prose>,
}

/// How far off an answer may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tolerance {
    /// A share of the answer.
    Share(f64),
    /// In SI.
    Size(f64),
}

impl Tolerance {
    /// In SI, for this answer.
    pub fn size_si(self, answer_si: f64) -> f64 {
        match self {
            Tolerance::Share(share) => share * answer_si.abs(),
            Tolerance::Size(size_si) => size_si,
        }
    }
}

/// Prose that waits for a prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Reveal {
    /// The prediction that must be locked.
    pub after: String,
    /// Two states whose ledger goes with it: from, to.
    pub compare: Option<(String, String)>,
    /// What it says.
    pub text: Vec<Prose>,
}

/// The same thought elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Transfer {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub ask: Vec<Prose>,
    /// What a good answer considers, shown after the learner has written one.
    pub consider: Vec<Prose>,
}

/// A lesson with its numbers drawn and its states computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Worked {
    /// Whose numbers.
    pub seed: Seed,
    /// Drawn numbers by name, SI.
    pub seeds: BTreeMap<String, f64>,
    /// How the bench is set for each state: `start` and pins.
    pub benches: BTreeMap<String, Bench>,
    /// What the core answered for each.
    pub readings: BTreeMap<String, Reading>,
}

/// Why a lesson or checkpoint could not be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum WorkError {
    #[error("the state `{state}`: {error}")]
    Bench { state: String, error: BenchError },
    #[error(transparent)]
    Eval(#[from] EvalError),
    #[error("no draw out of {tried} gave a fair question: {last}")]
    NoFairDraw { tried: u32, last: Unfair },
}

/// Why a draw is not fair.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum Unfair {
    #[error("the misconception `{value}` lies within three tolerances of the answer")]
    Near { value: String },
    #[error("the state `{state}` ends as `{outcome}`")]
    NotMatched { state: String, outcome: &'static str },
    #[error("{right} options are right; exactly one must be")]
    Options { right: usize },
}

impl Worked {
    /// What expressions of the lesson see: its states and numbers, and no bench.
    pub fn env(&self) -> Env<'_> {
        Env { bench: None, states: &self.readings, seeds: &self.seeds }
    }

    /// The same with the bench as it stands.
    pub fn env_with<'a>(&'a self, bench: &'a Reading) -> Env<'a> {
        Env { bench: Some(bench), ..self.env() }
    }
}

impl Lesson {
    /// Draws the lesson's own numbers, SI.
    pub fn draw(&self, seed: Seed) -> BTreeMap<String, f64> {
        let mut drawn = BTreeMap::new();
        for range in &self.seeds {
            drawn.insert(range.name.clone(), range.draw_si(seed, &self.id, "", 0));
        }
        drawn
    }

    /// How the bench stands at the start, for this learner. Errors: a setting that is no finite number.
    pub fn bench(&self, seed: Seed) -> Result<Bench, EvalError> {
        let blank = Bench::reference(self.start.engine.clone());
        blank.changed(&self.start.set, &self.draw(seed))
    }

    /// The settings at the start, for this learner. Errors as for [`Lesson::bench`].
    pub fn settings(&self, seed: Seed) -> Result<Settings, EvalError> {
        Ok(self.bench(seed)?.settings)
    }

    /// Draws the numbers and computes `start` and every pin. Errors: a state that cannot be set or solved. A state that the
    /// core answers without numbers (surge) is kept: prose that needs its numbers says so.
    pub fn work_out(&self, seed: Seed, solver: &mut dyn Solve) -> Result<Worked, WorkError> {
        let seeds = self.draw(seed);
        let start = self.bench(seed)?;
        let mut worked = Worked { seed, seeds, benches: BTreeMap::new(), readings: BTreeMap::new() };
        worked.add("start", start.clone(), solver)?;
        for pin in &self.pins {
            let bench = start.changed(&pin.set, &worked.seeds)?;
            worked.add(&pin.name, bench, solver)?;
        }
        Ok(worked)
    }

    /// Every piece of prose that the lesson holds, feedback included, with where it stands.
    pub fn all_prose(&self) -> Vec<(&str, &[Prose])> {
        let mut all: Vec<(&str, &[Prose])> = Vec::new();
        for step in &self.steps {
            match step {
                Step::Prose(prose) => all.push(("prose", prose)),
                Step::Safety(prose) => all.push(("safety", prose)),
                Step::Reveal(reveal) => all.push(("reveal", &reveal.text)),
                Step::Predict(predict) => {
                    all.push((&predict.id, &predict.ask));
                    if let Prediction::Choice(options) = &predict.answer {
                        all.extend(options.iter().map(|option| (predict.id.as_str(), option.because.as_slice())));
                    }
                }
                Step::Task(task) => {
                    all.extend([&task.ask, &task.hint, &task.done].map(|prose| (task.id.as_str(), prose.as_slice())));
                    all.extend(task.misconceptions.iter().map(|m| (task.id.as_str(), m.because.as_slice())));
                }
                Step::Checkpoint(c) => {
                    all.extend([&c.ask, &c.hint, &c.worked].map(|prose| (c.id.as_str(), prose.as_slice())));
                    match &c.kind {
                        CheckpointKind::Number(number) => {
                            all.extend(number.misconceptions.iter().map(|m| (c.id.as_str(), m.because.as_slice())));
                        }
                        CheckpointKind::Choice(options) => {
                            all.extend(options.iter().map(|option| (c.id.as_str(), option.because.as_slice())));
                        }
                    }
                }
                Step::Transfer(t) => all.extend([&t.ask, &t.consider].map(|prose| (t.id.as_str(), prose.as_slice()))),
            }
        }
        all
    }

    /// Lessons that the prose links to, by id.
    pub fn linked_lessons(&self) -> Vec<&str> {
        let mut ids = Vec::new();
        for (_, prose) in self.all_prose() {
            crate::text::visit(prose, &mut |inline| {
                if let Inline::Link { to: crate::text::Target::Lesson(id), .. } = inline {
                    ids.push(id.as_str());
                }
            });
        }
        ids
    }

    /// Predictions of this lesson.
    pub fn predictions(&self) -> impl Iterator<Item = &Predict> {
        self.steps.iter().filter_map(|step| if let Step::Predict(predict) = step { Some(predict) } else { None })
    }

    /// Tasks of this lesson.
    pub fn tasks(&self) -> impl Iterator<Item = &Task> {
        self.steps.iter().filter_map(|step| if let Step::Task(task) = step { Some(task) } else { None })
    }

    /// Checkpoints of this lesson.
    pub fn checkpoints(&self) -> impl Iterator<Item = &Checkpoint> {
        self.steps
            .iter()
            .filter_map(|step| if let Step::Checkpoint(checkpoint) = step { Some(checkpoint) } else { None })
    }
}

impl Worked {
    pub(crate) fn add(&mut self, state: &str, bench: Bench, solver: &mut dyn Solve) -> Result<(), WorkError> {
        let reading = solver.solve(&bench).map_err(|error| WorkError::Bench { state: state.into(), error })?;
        self.benches.insert(state.into(), bench);
        self.readings.insert(state.into(), reading);
        Ok(())
    }
}
