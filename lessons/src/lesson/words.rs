//! The pieces of text in a lesson, and what each is for.

use crate::text::{Inline, Prose, visit, visit_inline};

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
            Words::Prose(prose) => visit(prose, see),
            Words::Line(line) => visit_inline(line, see),
        }
    }
}
