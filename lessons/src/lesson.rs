//! A lesson as it was read: prose, and between it what the bench is set to, what is asked, and what is kept back until then.

mod layout;
mod question;
mod setup;
mod words;

pub use layout::{Control, Free, Layout, Marked, VIEWS};
pub use question::{
    Choice, Crosses, CurveRef, Direction, Item, NumberQuestion, OrderQuestion, OrderSign, Question, Shape,
    SketchQuestion, Tolerance, WordsQuestion, WrongOrder, WrongSketch, WrongValue,
};
pub use setup::{Change, Channel, LIVE, LoadChange, Log, Pin, Run, Setup, Sweep};
pub use words::{Role, Words};

use crate::expr::Expr;
use crate::paths::Quantity;
use crate::problem::Position;
use crate::text::{Inline, Prose, Target};
use std::collections::BTreeMap;
use volute_core::point::reading::Outcome;

/// A lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// Never changes: links point here.
    pub id: String,
    /// What it is called.
    pub title: Vec<Inline>,
    /// The course it belongs to, of those that `parse` knows.
    pub course: String,
    /// Minutes that it takes.
    pub minutes: u32,
    /// Lessons that come before it, by id.
    pub needs: Vec<String>,
    /// What it teaches, in a sentence.
    pub teaches: Vec<Inline>,
    /// What it leaves out.
    pub not_here: Vec<Inline>,
    /// The bench at the start: the state `start`.
    pub start: Start,
    /// Numbers, states, sweeps and runs of the whole lesson.
    pub setup: Setup,
    /// For the instructor only; never shown to a learner.
    pub teacher: Option<Teacher>,
    /// Everything in the order of the page.
    pub steps: Vec<Step>,
    /// Where blocks begin in the file, by id or name; and the first of each kind, by kind.
    pub places: BTreeMap<String, Position>,
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
    /// A button that sets the bench, its free controls and marks.
    Stage(Stage),
    /// A test sheet that the core writes.
    Log(Log),
    /// Shown once a prediction is locked.
    Reveal(Reveal),
    /// What would happen to real hardware and to people near it.
    Safety(Vec<Prose>),
    /// The same thought on another engine or place; not marked.
    Transfer(Transfer),
}

/// A button that sets the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// Its name.
    pub id: String,
    /// The state that it sets: `start` or a pin.
    pub bench: String,
    /// What the button says.
    pub say: Vec<Inline>,
    /// What the learner may move and see while it is on.
    pub layout: Layout,
}

/// A prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Predict {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub ask: Vec<Prose>,
    /// What is drawn and computed for it.
    pub setup: Setup,
    /// How it is answered.
    pub question: Question,
}

/// Bring the bench to a state.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// Its name.
    pub id: String,
    /// What to do.
    pub ask: Vec<Prose>,
    /// What is drawn and computed for it. Sweeps and runs of [`LIVE`] are worked out when it is judged.
    pub setup: Setup,
    /// The state that the task begins from: `start` or a pin.
    pub bench: String,
    /// What the learner may move and see until it is done.
    pub layout: Layout,
    /// Hidden readings that the learner may uncover.
    pub buy: Option<Buy>,
    /// True when it is done: judged on the bench as it stands.
    pub goal: Expr,
    /// Hints, the cause without the number, each costing [`HINT_COST`].
    pub hints: Vec<Vec<Prose>>,
    /// Settings that do it: for "show me", and for the linter.
    pub answer: TaskAnswer,
    /// What is said when it is done.
    pub done: Vec<Prose>,
    /// Wrong turns, each with its own explanation; the first that is true is said.
    pub misconceptions: Vec<WrongState>,
    /// Whether it asks how sure the learner is; kept, not scored.
    pub confidence: bool,
}

/// Share of the points that each hint costs.
pub const HINT_COST: f64 = 0.1;

/// Hidden readings that a learner may uncover.
#[derive(Debug, Clone, PartialEq)]
pub struct Buy {
    /// How many.
    pub count: u32,
    /// Of these.
    pub from: Vec<&'static Quantity>,
}

/// Settings that do a task.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TaskAnswer {
    /// States to go through, each a change of the one before.
    pub visits: Vec<Change>,
    /// The last change.
    pub set: Change,
}

/// A state that tells why the goal is missed.
#[derive(Debug, Clone, PartialEq)]
pub struct WrongState {
    /// How to know it.
    pub when: Expr,
    /// What is behind it.
    pub because: Vec<Prose>,
    /// The state that shows it on the bench; that of the task when nothing is said.
    pub show: Option<String>,
}

/// A question that is marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Checkpoint {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub ask: Vec<Prose>,
    /// Hints, the cause without the number, each costing [`HINT_COST`].
    pub hints: Vec<Vec<Prose>>,
    /// The worked answer, shown after the second try; empty for free text.
    pub worked: Vec<Prose>,
    /// What is drawn and computed for it.
    pub setup: Setup,
    /// The pin that "set the bench" brings, if there is one.
    pub bench: Option<String>,
    /// How it is answered.
    pub question: Question,
}

/// Prose that waits for a prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Reveal {
    /// The prediction that must be locked.
    pub after: String,
    /// Two states whose ledger goes with it: from, to.
    pub compare: Option<(String, String)>,
    /// Curves that are drawn, under the learner's own sketch if the prediction is one.
    pub plot: Vec<CurveRef>,
    /// What it says.
    pub text: Vec<Prose>,
}

/// For the instructor.
#[derive(Debug, Clone, PartialEq)]
pub struct Teacher {
    /// What the results show.
    pub sees: Vec<Prose>,
    /// Questions for the discussion.
    pub prompts: Vec<Vec<Inline>>,
    /// The plan of a class of [`CLASS_MINUTES`].
    pub plan: Vec<PlanStep>,
}

/// Minutes of a class.
pub const CLASS_MINUTES: u32 = 45;

/// A part of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanStep {
    /// How long.
    pub minutes: u32,
    /// What is done.
    pub act: Vec<Inline>,
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

/// How the bench stands when the lesson begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// Short name of a built-in engine; the first one if nothing is said.
    pub engine: Option<String>,
    /// The settings.
    pub set: Change,
    /// What the learner may move and see. `hide` and `only` hold until the prediction `hide_until` is locked.
    pub layout: Layout,
    /// The prediction that shows what is hidden.
    pub hide_until: Option<String>,
    /// How the core may find that it ends; `matched` unless the file says more.
    pub ends: Vec<Outcome>,
}

impl Step {
    /// The name that links and results use; nothing for prose.
    pub fn id(&self) -> Option<&str> {
        match self {
            Step::Prose(_) | Step::Safety(_) | Step::Reveal(_) => None,
            Step::Predict(Predict { id, .. })
            | Step::Task(Task { id, .. })
            | Step::Checkpoint(Checkpoint { id, .. })
            | Step::Stage(Stage { id, .. })
            | Step::Transfer(Transfer { id, .. }) => Some(id),
            Step::Log(log) => Some(&log.name),
        }
    }

    /// Kind of block, as lesson files write it; `prose` for what stands between the blocks.
    pub fn kind(&self) -> &'static str {
        match self {
            Step::Prose(_) => "prose",
            Step::Predict(_) => "predict",
            Step::Task(_) => "task",
            Step::Checkpoint(_) => "checkpoint",
            Step::Stage(_) => "stage",
            Step::Log(_) => "log",
            Step::Reveal(_) => "reveal",
            Step::Safety(_) => "safety",
            Step::Transfer(_) => "transfer",
        }
    }

    /// Every piece of text in it, feedback included.
    pub fn words(&self) -> Vec<(Role, Words<'_>)> {
        let mut all = Vec::new();
        match self {
            Step::Prose(prose) | Step::Safety(prose) => all.push((Role::Prose, Words::Prose(prose))),
            Step::Reveal(reveal) => all.push((Role::Prose, Words::Prose(&reveal.text))),
            Step::Stage(stage) => all.push((Role::Label, Words::Line(&stage.say))),
            Step::Log(_) => {}
            Step::Predict(predict) => {
                all.push((Role::Ask, Words::Prose(&predict.ask)));
                all.extend(predict.question.words());
            }
            Step::Task(task) => {
                all.push((Role::Ask, Words::Prose(&task.ask)));
                all.extend(task.hints.iter().map(|hint| (Role::Hint, Words::Prose(hint))));
                all.push((Role::Done, Words::Prose(&task.done)));
                all.extend(task.misconceptions.iter().map(|m| (Role::Because, Words::Prose(&m.because))));
            }
            Step::Checkpoint(c) => {
                all.push((Role::Ask, Words::Prose(&c.ask)));
                all.extend(c.hints.iter().map(|hint| (Role::Hint, Words::Prose(hint))));
                all.extend(c.question.words());
                all.push((Role::Worked, Words::Prose(&c.worked)));
            }
            Step::Transfer(t) => {
                all.push((Role::Ask, Words::Prose(&t.ask)));
                all.push((Role::Consider, Words::Prose(&t.consider)));
            }
        }
        all
    }
}

impl Lesson {
    /// Every piece of text that a learner may meet, feedback included, with the block it stands in.
    pub fn words(&self) -> Vec<(&str, Role, Words<'_>)> {
        let head = [("title", &self.title), ("teaches", &self.teaches), ("not_here", &self.not_here)];
        let mut all: Vec<_> = head.map(|(place, line)| (place, Role::Label, Words::Line(line.as_slice()))).into();
        for step in &self.steps {
            let place = step.id().unwrap_or(step.kind());
            all.extend(step.words().into_iter().map(|(role, words)| (place, role, words)));
        }
        all
    }

    /// Lessons that the prose links to, by id.
    pub fn linked_lessons(&self) -> Vec<&str> {
        let mut ids = Vec::new();
        for (_, _, words) in self.words() {
            words.visit(&mut |inline| {
                if let Inline::Link { to: Target::Lesson(id), .. } = inline {
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

    /// Test sheets of this lesson.
    pub fn logs(&self) -> impl Iterator<Item = &Log> {
        self.steps.iter().filter_map(|step| if let Step::Log(log) = step { Some(log) } else { None })
    }
}
