//! A lesson as it was read: prose, and between it what the bench is set to, what is asked, and what is kept back until then.

use crate::expr::Expr;
use crate::paths::{self, Quantity, RunQuantity};
use crate::problem::Place;
use crate::seed::SeedRange;
use crate::text::{Inline, Prose};
use crate::units::{Measure, Unit};
use std::collections::BTreeMap;
use std::fmt;
use volute_core::engine;
use volute_core::keys::Key;
use volute_core::point::reading::Outcome;

/// A lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// Never changes: links point here.
    pub id: String,
    /// What it is called.
    pub title: Vec<Inline>,
    /// The course it belongs to, of [`crate::parse::COURSES`].
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
    pub places: BTreeMap<String, Place>,
}

/// What is drawn and computed: for the whole lesson, or for one block on top of that.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Setup {
    /// Numbers that are drawn: `seed.name`.
    pub seeds: Vec<SeedRange>,
    /// Named states: `pins.name`. A pin comes after the one it starts from.
    pub pins: Vec<Pin>,
    /// Sweeps: `sweeps.name`.
    pub sweeps: Vec<Sweep>,
    /// Runs in time: `runs.name`.
    pub runs: Vec<Run>,
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

/// What a learner may move and sees on the bench.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Layout {
    /// Controls that the learner may move; all others are locked. In a task or stage, an empty list leaves those of the lesson.
    pub free: Vec<Free>,
    /// Quantities that are not shown.
    pub hide: Vec<&'static Quantity>,
    /// If not empty, the only quantities that are shown.
    pub only: Vec<&'static Quantity>,
    /// Views that are opened, of [`VIEWS`].
    pub views: Vec<&'static str>,
    /// What is marked.
    pub mark: Vec<Marked>,
}

/// Views of the bench that a lesson can open, by the names that links have for them.
pub const VIEWS: [&str; 8] = ["loop", "cycle", "cycle-log", "angle", "compressor", "turbine", "entropy", "sweep"];

/// Something on the bench that a lesson points at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Marked {
    /// A control.
    Control(Control),
    /// A quantity.
    Quantity(&'static Quantity),
}

impl Layout {
    /// Whether `quantity` is kept back.
    pub fn hides(&self, quantity: &Quantity) -> bool {
        self.hide.contains(&quantity) || (!self.only.is_empty() && !self.only.contains(&quantity))
    }
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
    /// Altitude: ambient pressure and temperature together, by the standard atmosphere.
    Altitude,
    /// Whether torque or fuel is held.
    Hold,
    /// All parts of the engine.
    Parts,
    /// One parameter of the engine.
    Part {
        /// Its group, such as `exhaust_pipe`.
        group: &'static str,
        /// Its name, such as `bore_m`.
        name: &'static str,
    },
}

impl Control {
    /// As lesson files write it.
    pub fn name(self) -> String {
        match self {
            Control::Vane => "vane".into(),
            Control::Load => "load".into(),
            Control::Speed => "speed".into(),
            Control::Ambient => "ambient".into(),
            Control::Altitude => "altitude".into(),
            Control::Hold => "hold".into(),
            Control::Parts => "parts".into(),
            Control::Part { group, name } => format!("parts.{group}.{name}"),
        }
    }

    /// The control of a name as lesson files write it.
    pub fn of(name: &str) -> Option<Control> {
        let named = Control::ALL.into_iter().find(|control| control.name() == name);
        named.or_else(|| engine::key(name.strip_prefix("parts.")?).ok().map(Control::part))
    }

    pub(crate) fn part(key: &Key) -> Control {
        Control::Part { group: key.group, name: key.name }
    }

    /// All but the single parts.
    pub const ALL: [Control; 7] = [
        Control::Vane,
        Control::Load,
        Control::Speed,
        Control::Ambient,
        Control::Altitude,
        Control::Hold,
        Control::Parts,
    ];
}

/// A control that the learner may move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Free {
    /// Which.
    pub control: Control,
    /// Narrower ends than the bench has, in SI (a vane position as a share, a speed in 1/s, an altitude in m).
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
    /// Altitude: pressure and temperature of the standard atmosphere, unless they are given beside it.
    pub altitude: Option<Expr>,
    /// Ambient pressure.
    pub pressure: Option<Expr>,
    /// Ambient temperature.
    pub temperature: Option<Expr>,
    /// Relative humidity.
    pub humidity: Option<Expr>,
    /// Parameters of the engine by their path in core, such as `exhaust_pipe.bore_m`, in SI.
    pub parts: Vec<(String, Expr)>,
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
    /// The state that it starts from: `start`, or another pin.
    pub of: String,
    /// Short name of a built-in engine: then it starts from nothing, on the reference day.
    pub engine: Option<String>,
    /// How it differs from that.
    pub set: Change,
    /// How the core may find that it ends; `matched` unless the file says more.
    pub ends: Vec<Outcome>,
}

/// A row of states along one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// Its name.
    pub name: String,
    /// The state to begin from: `start`, a pin, or [`LIVE`] in a task.
    pub of: String,
    /// Changes on top of that.
    pub set: Change,
    /// The setting that is swept.
    pub over: Swept,
    /// First and last setting, in SI.
    pub ends_si: (f64, f64),
    /// Unit in which the file gives them.
    pub unit: &'static Unit,
    /// How many states, 2 to 61.
    pub points: u32,
}

/// As `of` in a task: the bench as it stands.
pub const LIVE: &str = "bench";

/// A setting that can be swept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Swept {
    /// Vane position.
    Vane,
    /// Torque held.
    Torque,
    /// Fuel held.
    Fuel,
    /// Engine speed.
    Speed,
    /// Altitude.
    Altitude,
    /// Ambient temperature.
    Temperature,
    /// One parameter of the engine.
    Part {
        /// Its group.
        group: &'static str,
        /// Its name.
        name: &'static str,
    },
}

/// A load step or another change, in time.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Its name.
    pub name: String,
    /// The state before the step: `start`, a pin, or [`LIVE`] in a task.
    pub of: String,
    /// What changes at time zero.
    pub to: Change,
    /// How long it is watched, in s, at most 10.
    pub for_s: f64,
}

/// A test sheet that the core writes, with a seeded fault and noise if the file wants them.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// Its name: `logs.name.channel.1`.
    pub name: String,
    /// How its rows come about. Its name is that of the log.
    pub sweep: Sweep,
    /// Its columns.
    pub channels: Vec<Channel>,
}

/// A column of a test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Its name in expressions.
    pub name: String,
    /// The heading as a tester would write it.
    pub heading: String,
    /// The unit as the sheet says it, which need not be true.
    pub measure: Measure,
    /// Decimals that are written down.
    pub decimals: u8,
    /// The value; bare names are the reading of the row.
    pub value: Expr,
    /// Standard deviation of the noise, SI.
    pub noise: Option<Expr>,
}

/// Which curves a name can stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CurveKind {
    /// A sweep.
    Sweep,
    /// A run in time.
    Run,
}

/// A curve: `sweeps.vanes.p3`, `runs.slam.torque`.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveRef {
    /// Sweep or run.
    pub kind: CurveKind,
    /// Its name.
    pub of: String,
    /// The quantity, of [`crate::paths::QUANTITIES`] or [`crate::paths::RUN_QUANTITIES`].
    pub quantity: &'static str,
}

impl CurveRef {
    /// Whether it is a temperature and not a difference of two.
    pub fn is_point(&self) -> bool {
        match self.kind {
            CurveKind::Sweep => paths::quantity(self.quantity).is_some_and(Quantity::is_point),
            CurveKind::Run => paths::run_quantity(self.quantity).is_some_and(RunQuantity::is_point),
        }
    }
}

impl fmt::Display for CurveRef {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = if self.kind == CurveKind::Sweep { "sweeps" } else { "runs" };
        write!(out, "{kind}.{}.{}", self.of, self.quantity)
    }
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
    pub answer: Prediction,
}

/// How a prediction is answered.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "a lesson has one or two of them, and they are never moved about")]
pub enum Prediction {
    /// One of these.
    Choice(Vec<Choice>),
    /// In the learner's own words; shown again beside the reveal, not judged.
    Short,
    /// A curve, drawn.
    Sketch(SketchQuestion),
    /// Items in an order.
    Order(OrderQuestion),
    /// A number with its unit.
    Number(NumberPrediction),
}

/// A number that is predicted.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberPrediction {
    /// The unit it is asked in.
    pub measure: Measure,
    /// How the core gets it.
    pub answer: Expr,
    /// Why it is what it is.
    pub because: Vec<Prose>,
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
    /// The state that shows it on the bench; that of the block when nothing is said.
    pub show: Option<String>,
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
    pub kind: CheckpointKind,
}

/// How a checkpoint is answered.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "a lesson has five of them, and they are never moved about")]
pub enum CheckpointKind {
    /// A number with its unit.
    Number(NumberQuestion),
    /// One of these.
    Choice(Vec<Choice>),
    /// All that are true of these.
    Choices(Vec<Choice>),
    /// Items in an order.
    Order(OrderQuestion),
    /// A curve, drawn.
    Sketch(SketchQuestion),
    /// In the learner's own words, kept for the instructor; not scored.
    Words(WordsQuestion),
}

impl CheckpointKind {
    /// As lesson files write it.
    pub fn name(&self) -> &'static str {
        match self {
            CheckpointKind::Number(_) => "number",
            CheckpointKind::Choice(_) => "choice",
            CheckpointKind::Choices(_) => "choices",
            CheckpointKind::Order(_) => "order",
            CheckpointKind::Sketch(_) => "sketch",
            CheckpointKind::Words(_) => "words",
        }
    }

    /// Whether it counts: all but free text.
    pub fn is_scored(&self) -> bool {
        !matches!(self, CheckpointKind::Words(_))
    }
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
    /// The state that shows it on the bench; that of the block when nothing is said.
    pub show: Option<String>,
}

/// Items to be put in an order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderQuestion {
    /// The items, in the order of the file.
    pub items: Vec<Item>,
    /// Which way the values of `by` go; nothing when the order of the file is the right one.
    pub order: Option<Direction>,
    /// Values closer than this are drawn again, SI.
    pub apart_si: f64,
    /// Orders that come from a known misconception.
    pub misconceptions: Vec<WrongOrder>,
}

/// Something to be put in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Its name.
    pub id: String,
    /// What it says.
    pub text: Vec<Inline>,
    /// What it is sorted by.
    pub by: Option<Expr>,
}

/// Which way values go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// The least first.
    Rising,
    /// The greatest first.
    Falling,
}

/// An order that comes from a known misconception.
#[derive(Debug, Clone, PartialEq)]
pub struct WrongOrder {
    /// How to know it.
    pub when: OrderSign,
    /// What is behind it.
    pub because: Vec<Prose>,
    /// The state that shows it on the bench; that of the block when nothing is said.
    pub show: Option<String>,
}

/// How a wrong order is known.
#[derive(Debug, Clone, PartialEq)]
pub enum OrderSign {
    /// The items are sorted by other values, one an item.
    By(Vec<Expr>, Direction),
    /// This item, by its place in the file, stands first.
    First(usize),
    /// The first of these stands before the second.
    Before(usize, usize),
}

/// A curve to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct SketchQuestion {
    /// The true curve.
    pub of: CurveRef,
    /// Unit of the upright axis.
    pub measure: Measure,
    /// Lower end of the axis, in that unit.
    pub low: f64,
    /// Upper end of the axis, in that unit.
    pub high: f64,
    /// A second curve of the same sweep or run, shown while drawing.
    pub given: Option<CurveRef>,
    /// Whether the first point is fixed at the truth.
    pub start_given: bool,
    /// Why the true curve is as it is.
    pub because: Vec<Prose>,
    /// Shapes that come from a known misconception; the first that fits is said.
    pub misconceptions: Vec<WrongSketch>,
}

/// A shape that comes from a known misconception.
#[derive(Debug, Clone, PartialEq)]
pub struct WrongSketch {
    /// How it looks; any if nothing is said.
    pub shape: Option<Shape>,
    /// How it crosses the given curve; any if nothing is said.
    pub crosses: Option<Crosses>,
    /// What is behind it.
    pub because: Vec<Prose>,
    /// The state that shows it on the bench; that of the block when nothing is said.
    pub show: Option<String>,
}

/// How a curve looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Higher at the end than at the beginning, no peak or trough between.
    Rises,
    /// Lower at the end.
    Falls,
    /// Level all along.
    Flat,
    /// Up, then down.
    Peak,
    /// Down, then up.
    Trough,
    /// Rising or falling by the ruler.
    Straight,
}

/// How a sketch crosses the given curve, against the true one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crosses {
    /// Not at all.
    Never,
    /// Before the true curve does.
    Early,
    /// After the true curve does.
    Late,
}

/// A question that is answered in the learner's own words.
#[derive(Debug, Clone, PartialEq)]
pub struct WordsQuestion {
    /// What a good answer considers, shown after the learner has written one.
    pub consider: Vec<Prose>,
    /// Least number of characters.
    pub at_least: u32,
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

/// What a piece of text in a lesson is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Prose of the lesson, a safety callout, a reveal.
    Prose,
    /// What is asked.
    Ask,
    /// An option, an item, what a button says, a heading: part of the question.
    Label,
    /// A hint.
    Hint,
    /// Why an answer is right or wrong.
    Because,
    /// The worked answer.
    Worked,
    /// Said when a task is done.
    Done,
    /// What a good answer considers.
    Consider,
}

/// A piece of text in a lesson.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Words<'l> {
    /// Paragraphs.
    Prose(&'l [Prose]),
    /// One line.
    Line(&'l [Inline]),
}

impl<'l> Words<'l> {
    /// Every piece of it.
    pub fn visit(self, see: &mut dyn FnMut(&'l Inline)) {
        match self {
            Words::Prose(prose) => crate::text::visit(prose, see),
            Words::Line(line) => crate::text::visit_inline(line, see),
        }
    }
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
                match &predict.answer {
                    Prediction::Choice(options) => choice_words(options, &mut all),
                    Prediction::Short => {}
                    Prediction::Sketch(sketch) => sketch_words(sketch, &mut all),
                    Prediction::Order(order) => order_words(order, &mut all),
                    Prediction::Number(number) => all.push((Role::Because, Words::Prose(&number.because))),
                }
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
                match &c.kind {
                    CheckpointKind::Number(number) => {
                        all.extend(number.misconceptions.iter().map(|m| (Role::Because, Words::Prose(&m.because))));
                    }
                    CheckpointKind::Choice(options) | CheckpointKind::Choices(options) => {
                        choice_words(options, &mut all)
                    }
                    CheckpointKind::Order(order) => order_words(order, &mut all),
                    CheckpointKind::Sketch(sketch) => sketch_words(sketch, &mut all),
                    CheckpointKind::Words(words) => all.push((Role::Consider, Words::Prose(&words.consider))),
                }
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

fn choice_words<'l>(options: &'l [Choice], all: &mut Vec<(Role, Words<'l>)>) {
    for option in options {
        all.push((Role::Label, Words::Line(&option.text)));
        all.push((Role::Because, Words::Prose(&option.because)));
    }
}

fn order_words<'l>(order: &'l OrderQuestion, all: &mut Vec<(Role, Words<'l>)>) {
    all.extend(order.items.iter().map(|item| (Role::Label, Words::Line(&item.text))));
    all.extend(order.misconceptions.iter().map(|m| (Role::Because, Words::Prose(&m.because))));
}

fn sketch_words<'l>(sketch: &'l SketchQuestion, all: &mut Vec<(Role, Words<'l>)>) {
    all.push((Role::Because, Words::Prose(&sketch.because)));
    all.extend(sketch.misconceptions.iter().map(|m| (Role::Because, Words::Prose(&m.because))));
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

    /// Test sheets of this lesson.
    pub fn logs(&self) -> impl Iterator<Item = &Log> {
        self.steps.iter().filter_map(|step| if let Step::Log(log) = step { Some(log) } else { None })
    }
}
