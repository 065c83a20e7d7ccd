//! Marks answers: predictions, tasks and checkpoints. One file for each kind of question.
//!
//! The core computes every answer for the learner's own numbers. A lesson file holds expressions, never results.

mod answer;
mod asked;
mod choice;
mod curve;
mod key;
mod number;
mod order;
mod question;
mod task;

pub(crate) use answer::words_between;
pub use answer::{Answer, AnswerError, LONGEST_ANSWER, Typed};
pub use asked::{Asked, Predicted};
pub use key::{Detail, Key, Mark, OrderKey};
pub use number::{FIGURES, FiguresMark, MOST_FIGURES, NumberKey, NumberMark, UnitMark, ValueMark};
pub use task::{Set, Standing, TaskMark};
