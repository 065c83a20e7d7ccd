//! Two lessons that stay as they are, whatever becomes of the lessons that ship.

use std::sync::OnceLock;
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::parse;

/// A short lesson.
pub const TEXT: &str = include_str!("../../samples/more-boost.md");

/// A lesson with one of everything.
pub const EVERY_KIND: &str = include_str!("../../samples/every-kind.md");

/// The short lesson, read.
pub fn lesson() -> &'static Lesson {
    static LESSON: OnceLock<Lesson> = OnceLock::new();
    LESSON.get_or_init(|| parse(TEXT).unwrap_or_else(|problems| panic!("{}", problems[0])))
}

/// The lesson with one of everything, read.
pub fn every_kind() -> &'static Lesson {
    static LESSON: OnceLock<Lesson> = OnceLock::new();
    LESSON.get_or_init(|| parse(EVERY_KIND).unwrap_or_else(|problems| panic!("{}", problems[0])))
}
