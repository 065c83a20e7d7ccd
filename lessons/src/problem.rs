//! What can be wrong with a lesson file: where, what, and what is allowed.

use crate::expr::{ExprProblemKind, ShownProblem};
use std::fmt;

/// A position in a lesson file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl Position {
    /// The position of byte `offset` in `text`.
    pub(crate) fn of(text: &str, offset: usize) -> Position {
        let mut offset = offset.min(text.len());
        while !text.is_char_boundary(offset) {
            offset -= 1;
        }
        let before = &text[..offset];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        Position { line: before.matches('\n').count() + 1, column: before[line_start..].chars().count() + 1 }
    }
}

impl fmt::Display for Position {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "line {}, column {}", self.line, self.column)
    }
}

/// One problem in a lesson file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{place}: {kind}")]
pub struct Problem {
    /// Where.
    pub place: Position,
    /// What, and what is allowed.
    pub kind: ProblemKind,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum ProblemKind {
    #[error("the file has {bytes} bytes; a lesson may have {most}")]
    TooLarge { bytes: usize, most: usize },
    #[error("more than {most} problems; the rest is not shown")]
    TooMany { most: usize },
    #[error(
        "the character U+{code:04X} is not allowed in a lesson; allowed are letters, signs, spaces, tabs and line ends"
    )]
    Character { code: u32 },
    #[error("a lesson begins with its front matter: a line `+++`, keys such as `id = \"…\"`, and a line `+++`")]
    NoFrontMatter,
    #[error("{what} that begins here is not closed: a line `{end}` is missing")]
    NotClosed { what: &'static str, end: &'static str },
    #[error("`{word}` is no kind of block; allowed are {allowed}")]
    UnknownBlock { word: String, allowed: &'static str },
    #[error("`{word}` is not expected behind `{block}`; allowed there: {allowed}")]
    UnknownAttribute { block: &'static str, word: String, allowed: &'static str },
    #[error("not readable as TOML: {message}")]
    Toml { message: String },
    #[error("`{key}` is no key of {block}{}; allowed are {allowed}", .nearest.as_ref().map(|n| format!(", did you mean `{n}`")).unwrap_or_default())]
    UnknownKey { block: String, key: String, nearest: Option<String>, allowed: String },
    #[error("{block} has no `{key}`: {about}")]
    MissingKey { block: String, key: &'static str, about: &'static str },
    #[error("`{key}` must be {expected}, such as {example}")]
    WrongType { key: String, expected: &'static str, example: &'static str },
    #[error("`{key}` is empty; it needs {about}")]
    Empty { key: String, about: &'static str },
    #[error("`{word}` is not allowed for `{key}`; allowed are {allowed}")]
    NotAllowed { key: String, word: String, allowed: String },
    #[error(
        "`{id}` is not a good name: small letters, digits and hyphens, beginning with a letter, at most 60 of them"
    )]
    BadId { id: String },
    #[error(
        "`{name}` is not a good name for a pin or a drawn number: small letters, digits and underscores, beginning with a letter, at most 60 of them"
    )]
    BadName { name: String },
    #[error("`{id}` is used twice; every block and pin needs a name of its own")]
    Twice { id: String },
    #[error("there is no {what} called `{name}`; {}", if .known.is_empty() { "there is none in this lesson".to_string() } else { format!("known are {}", .known.join(", ")) })]
    NoSuch { what: &'static str, name: String, known: Vec<String> },
    #[error("the pins {} start from each other in a circle; one must start from `start`", .names.join(", "))]
    Circle { names: Vec<String> },
    #[error("a lesson needs {what}")]
    Missing { what: &'static str },
    #[error("{what} may stand only once in a lesson")]
    OnlyOnce { what: &'static str },
    #[error("{0}")]
    Expression(ExprProblemKind),
    #[error(transparent)]
    Shown(ShownProblem),
    #[error("`{source_text}` is {found}; here {expected} is needed")]
    ExpressionType { source_text: String, found: String, expected: String },
    #[error(
        "`{text}` is not a range: write `low..high step distance unit`, such as `2300..2500 step 50 1/min`, with at most {most} values"
    )]
    Range { text: String, most: u32 },
    #[error(
        "`{text}` is not a tolerance: write a share of the answer, `3 %`, or a size in the answer's unit, such as `2 kPa`, or `4 points` for an answer in per cent"
    )]
    Tolerance { text: String },
    #[error("`{key}` = {value} is outside {min} to {max} {unit}")]
    OutOfRange { key: String, value: f64, min: f64, max: f64, unit: &'static str },
    #[error("a `{{{{` in this line is not closed by `}}}}`")]
    OpenBraces,
    #[error("raw HTML is not allowed; write Markdown, or `&lt;` for a less-than sign")]
    Html,
    #[error("{what} is not part of a lesson's Markdown; allowed are {allowed}")]
    Markdown { what: &'static str, allowed: &'static str },
    #[error("the address `{to}` is not allowed; allowed are https://… and lesson:its-id")]
    Link { to: String },
    #[error("`{key}` may be one paragraph only")]
    OneParagraph { key: String },
}

/// Collects problems in the order of the file, up to a number that a person can still read.
#[derive(Debug)]
pub(crate) struct Problems<'t> {
    text: &'t str,
    list: Vec<(usize, ProblemKind)>,
}

const MOST: usize = 50;

impl<'t> Problems<'t> {
    pub(crate) fn new(text: &'t str) -> Self {
        Self { text, list: Vec::new() }
    }

    /// Notes a problem at byte `at` of the file.
    pub(crate) fn push(&mut self, at: usize, kind: ProblemKind) {
        if self.list.len() <= MOST {
            self.list.insert(self.list.partition_point(|(other, _)| *other <= at), (at, kind));
        }
    }

    /// Notes a problem in an expression that begins at byte `at` of the file.
    pub(crate) fn expression(&mut self, at: Origin, problem: crate::expr::ExprProblem) {
        self.push(at.byte(problem.at), ProblemKind::Expression(problem.kind));
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// In the order of the file.
    pub(crate) fn finish(mut self) -> Vec<Problem> {
        let cut = self.list.len() > MOST;
        self.list.truncate(MOST);
        let mut problems: Vec<Problem> =
            self.list.into_iter().map(|(at, kind)| Problem { place: Position::of(self.text, at), kind }).collect();
        if cut && let Some(last) = problems.last() {
            problems.push(Problem { place: last.place, kind: ProblemKind::TooMany { most: MOST } });
        }
        problems
    }
}

/// Where a piece of text came from: exact if it stands in the file as it is, else only where it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Origin {
    pub(crate) at: usize,
    pub(crate) exact: bool,
}

impl Origin {
    pub(crate) fn byte(self, offset: usize) -> usize {
        if self.exact { self.at + offset } else { self.at }
    }

    pub(crate) fn later(self, offset: usize) -> Origin {
        Origin { at: self.byte(offset), exact: self.exact }
    }
}
