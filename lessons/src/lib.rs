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
pub mod escape;
pub mod expr;
pub mod fnv;
pub mod golden;
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
pub mod sketch;
pub mod text;
pub mod translation;
pub mod units;
pub mod work;

/// A lesson that stays as it is, whatever becomes of the lessons that ship.
#[cfg(test)]
pub(crate) mod sample {
    use crate::lesson::Lesson;
    use std::sync::OnceLock;

    pub(crate) const TEXT: &str = include_str!("../samples/more-boost.md");

    pub(crate) fn lesson() -> &'static Lesson {
        static LESSON: OnceLock<Lesson> = OnceLock::new();
        LESSON.get_or_init(|| crate::parse::parse(TEXT).unwrap_or_else(|problems| panic!("{}", problems[0])))
    }

    pub(crate) const EVERY_KIND: &str = include_str!("../samples/every-kind.md");

    /// A lesson with one of everything.
    pub(crate) fn every_kind() -> &'static Lesson {
        static LESSON: OnceLock<Lesson> = OnceLock::new();
        LESSON.get_or_init(|| crate::parse::parse(EVERY_KIND).unwrap_or_else(|problems| panic!("{}", problems[0])))
    }
}
