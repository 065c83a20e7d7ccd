//! The right answer to a question, and the mark of an answer: what all kinds have in common.

use super::number::{NumberKey, NumberMark};
use crate::sketch::{SketchKey, SketchMark};
use crate::text::Prose;

/// The right answer.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "one a question, and it is never moved")]
pub enum Key {
    /// A number.
    Number(NumberKey),
    /// The option with this index.
    Choice(usize),
    /// Whether each option is right.
    Choices(Vec<bool>),
    /// Items.
    Order(OrderKey),
    /// A curve.
    Sketch(SketchKey),
    /// The learner's own words: no answer is right or wrong.
    Words,
}

/// The right order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderKey {
    /// Items by their place in the file, in the right order.
    pub right: Vec<usize>,
    /// The same as they are shown at first.
    pub shown: Vec<usize>,
    /// What each item was sorted by, SI, in the order of the file; empty when the file gives the order.
    pub values_si: Vec<f64>,
    /// The order of each misconception that sorts by other values.
    pub wrong: Vec<Option<Vec<usize>>>,
}

/// How an answer was marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark<'l> {
    /// Whether the checkpoint is passed.
    pub right: bool,
    /// Points, 0 to 1, before hints.
    pub points: f64,
    /// The misconception that explains the answer, by its place in the file; for a choice the option.
    pub misconception: Option<usize>,
    /// Explanations: of the misconception, of the option, of every option judged wrongly, of the true curve.
    pub because: Vec<&'l [Prose]>,
    /// The state that "show it on the bench" sets, by name; see [`Asked::show`].
    pub show: Option<&'l str>,
    /// What there is beyond that.
    pub detail: Detail<'l>,
}

/// What a kind of question has to say beyond right and wrong.
#[derive(Debug, Clone, PartialEq)]
pub enum Detail<'l> {
    /// Value, unit and figures.
    Number(NumberMark<'l>),
    /// Nothing more.
    Choice,
    /// Whether each option was judged rightly.
    Choices(Vec<bool>),
    /// Whether each place holds the right item.
    Order(Vec<bool>),
    /// Feature by feature.
    Sketch(SketchMark),
    /// Kept for the instructor.
    Words,
}

impl<'l> Mark<'l> {
    /// A mark that explains and gives no points.
    pub(super) fn explained(right: bool, because: &'l [Prose]) -> Self {
        Mark { right, points: 0.0, misconception: None, because: vec![because], show: None, detail: Detail::Words }
    }
}
