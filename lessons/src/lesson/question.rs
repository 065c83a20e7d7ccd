//! What is asked, kind by kind: the data of predictions and checkpoints.

use super::words::{Role, Words};
use crate::curves::CurveKind;
use crate::expr::Expr;
use crate::paths;
use crate::text::{Inline, Prose};
use crate::units::Measure;
use std::fmt;

/// How a prediction or a checkpoint is answered.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "a lesson has a few of them, and they are never moved")]
pub enum Question {
    /// A number with its unit.
    Number(NumberQuestion),
    /// One of these.
    Choice(Vec<Choice>),
    /// All that are true of these. Checkpoints only.
    Choices(Vec<Choice>),
    /// Items in an order.
    Order(OrderQuestion),
    /// A curve, drawn.
    Sketch(SketchQuestion),
    /// The learner's own words. They are kept and not scored.
    Words(WordsQuestion),
}

impl Question {
    /// The kind, as the file of a checkpoint writes it. In a prediction, own words are called `short`.
    pub fn name(&self) -> &'static str {
        match self {
            Question::Number(_) => "number",
            Question::Choice(_) => "choice",
            Question::Choices(_) => "choices",
            Question::Order(_) => "order",
            Question::Sketch(_) => "sketch",
            Question::Words(_) => "words",
        }
    }

    /// Whether a checkpoint with this question earns points: every kind but own words.
    pub fn is_scored(&self) -> bool {
        !matches!(self, Question::Words(_))
    }

    /// The options of a choice; none for another kind.
    pub fn options(&self) -> &[Choice] {
        match self {
            Question::Choice(options) | Question::Choices(options) => options,
            _ => &[],
        }
    }

    /// Every piece of text in it, with its role.
    pub fn words(&self) -> Vec<(Role, Words<'_>)> {
        let because = |prose| (Role::Because, Words::Prose(prose));
        match self {
            Question::Number(number) => {
                let own = (!number.because.is_empty()).then(|| because(&number.because));
                own.into_iter().chain(number.misconceptions.iter().map(|m| because(&m.because))).collect()
            }
            Question::Choice(options) | Question::Choices(options) => options
                .iter()
                .flat_map(|option| [(Role::Label, Words::Line(&option.text)), because(&option.because)])
                .collect(),
            Question::Order(order) => {
                let items = order.items.iter().map(|item| (Role::Label, Words::Line(&item.text)));
                items.chain(order.misconceptions.iter().map(|m| because(&m.because))).collect()
            }
            Question::Sketch(sketch) => {
                let wrong = sketch.misconceptions.iter().map(|m| because(&m.because));
                std::iter::once(because(&sketch.because)).chain(wrong).collect()
            }
            Question::Words(words) => vec![(Role::Consider, Words::Prose(&words.consider))],
        }
    }

    /// Takes every piece of text out, so that two languages can be compared.
    pub(crate) fn clear_words(&mut self) {
        match self {
            Question::Number(number) => {
                number.because.clear();
                number.misconceptions.iter_mut().for_each(|m| m.because.clear());
            }
            Question::Choice(options) | Question::Choices(options) => {
                for option in options {
                    option.text.clear();
                    option.because.clear();
                }
            }
            Question::Order(order) => {
                order.items.iter_mut().for_each(|item| item.text.clear());
                order.misconceptions.iter_mut().for_each(|m| m.because.clear());
            }
            Question::Sketch(sketch) => {
                sketch.because.clear();
                sketch.misconceptions.iter_mut().for_each(|m| m.because.clear());
            }
            Question::Words(words) => words.consider.clear(),
        }
    }
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

/// A number with its unit.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberQuestion {
    /// The unit it is asked in.
    pub measure: Measure,
    /// How the core gets it.
    pub answer: Expr,
    /// How far off is still right. Zero in a prediction, which is not marked.
    pub tolerance: Tolerance,
    /// Significant figures that are asked for; nothing if any will do.
    pub figures: Option<u8>,
    /// Values that come from a known misconception.
    pub misconceptions: Vec<WrongValue>,
    /// Why the answer is what it is. Predictions only: a checkpoint has a worked answer.
    pub because: Vec<Prose>,
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
    /// What a good answer considers, shown after the learner has written one. Empty in a prediction.
    pub consider: Vec<Prose>,
    /// Least number of characters. Zero in a prediction.
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
            CurveKind::Sweep => paths::quantity(self.quantity).is_some_and(|q| q.is_point()),
            CurveKind::Run => paths::run_quantity(self.quantity).is_some_and(|q| q.is_point()),
        }
    }
}

impl fmt::Display for CurveRef {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = if self.kind == CurveKind::Sweep { "sweeps" } else { "runs" };
        write!(out, "{kind}.{}.{}", self.of, self.quantity)
    }
}
