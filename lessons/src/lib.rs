//! The lessons of Volute: reads lesson files, draws each learner's numbers, has the core compute every number and answer,
//! marks, and checks that a lesson holds what it promises.
//!
//! Nothing here opens a file, knows a browser or keeps a secret: text and seeds go in, trees, marks and problems come out.
//!
//! The way of a lesson: [`parse::parse`] gives a [`lesson::Lesson`]; [`lesson::Lesson::work_out`] draws its numbers and has a
//! [`bench::Solve`] compute its states; prose is shown with [`expr::Shown::text`] or [`text::plain`]. Predictions, tasks and
//! checkpoints are worked out on top of that ([`mark`]) and give a key and, for an answer, a mark.

pub mod assignment;
pub mod bench;
pub mod catalog;
pub mod check;
pub mod cover;
pub mod csv;
pub mod curves;
pub mod escape;
pub mod expr;
pub mod fnv;
pub mod golden;
mod ids;
pub mod index;
pub mod lesson;
pub mod mark;
pub mod number;
pub mod parse;
pub mod paths;
pub mod problem;
pub mod progress;
pub mod results;
pub mod said;
pub mod seed;
pub mod sheet;
pub mod sketch;
pub mod text;
pub mod translation;
pub mod units;
pub mod work;
