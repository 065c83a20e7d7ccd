//! Prose as a tree that a view can show without trusting it.

use crate::expr::{Env, EvalError, Shown};
use crate::units::Style;

/// A block of prose.
#[derive(Debug, Clone, PartialEq)]
pub enum Prose {
    /// Level 2 or 3.
    Heading {
        /// 2 or 3.
        level: u8,
        /// What it says.
        text: Vec<Inline>,
    },
    /// A paragraph.
    Paragraph(Vec<Inline>),
    /// A list.
    List {
        /// The first number; nothing for bullets.
        first: Option<u64>,
        /// Its items.
        items: Vec<Vec<Prose>>,
    },
    /// A quote.
    Quote(Vec<Prose>),
}

/// A piece of a line.
#[derive(Debug, Clone, PartialEq)]
pub enum Inline {
    /// Plain text.
    Text(String),
    /// Emphasis.
    Emphasis(Vec<Inline>),
    /// Strong.
    Strong(Vec<Inline>),
    /// Code.
    Code(String),
    /// A link.
    Link {
        /// Where it leads.
        to: Target,
        /// What it says.
        text: Vec<Inline>,
    },
    /// A value that the core computes.
    Value(Shown),
    /// A line break.
    Break,
}

/// Where a link leads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// An address beginning with `https://`.
    Web(String),
    /// Another lesson, by its id.
    Lesson(String),
}

/// Prose as plain text, values worked out, paragraphs apart by a line break: for labels that are spoken, for tests, for text
/// files. Errors: the first value that cannot be worked out.
pub fn plain(prose: &[Prose], env: &Env, style: Style) -> Result<String, EvalError> {
    let mut text = String::new();
    for block in prose {
        if !text.is_empty() {
            text.push('\n');
        }
        match block {
            Prose::Heading { text: inlines, .. } | Prose::Paragraph(inlines) => {
                text.push_str(&plain_inline(inlines, env, style)?)
            }
            Prose::Quote(inner) => text.push_str(&plain(inner, env, style)?),
            Prose::List { first, items } => {
                for (i, item) in items.iter().enumerate() {
                    if i > 0 {
                        text.push('\n');
                    }
                    match first {
                        Some(first) => text.push_str(&format!("{}. ", first.saturating_add(i as u64))),
                        None => text.push_str("• "),
                    }
                    text.push_str(&plain(item, env, style)?);
                }
            }
        }
    }
    Ok(text)
}

/// A line as plain text. Errors as for [`plain`].
pub fn plain_inline(inlines: &[Inline], env: &Env, style: Style) -> Result<String, EvalError> {
    let mut text = String::new();
    for inline in inlines {
        match inline {
            Inline::Text(piece) | Inline::Code(piece) => text.push_str(piece),
            Inline::Emphasis(inner) | Inline::Strong(inner) | Inline::Link { text: inner, .. } => {
                text.push_str(&plain_inline(inner, env, style)?);
            }
            Inline::Value(shown) => text.push_str(&shown.text(env, style)?),
            Inline::Break => text.push('\n'),
        }
    }
    Ok(text)
}

/// Calls `see` with every piece of `prose`, inner ones included.
pub fn visit<'p>(prose: &'p [Prose], see: &mut dyn FnMut(&'p Inline)) {
    for block in prose {
        match block {
            Prose::Heading { text, .. } | Prose::Paragraph(text) => visit_inline(text, see),
            Prose::Quote(inner) => visit(inner, see),
            Prose::List { items, .. } => items.iter().for_each(|item| visit(item, see)),
        }
    }
}

pub(crate) fn visit_inline<'p>(inlines: &'p [Inline], see: &mut dyn FnMut(&'p Inline)) {
    for inline in inlines {
        see(inline);
        match inline {
            Inline::Emphasis(inner) | Inline::Strong(inner) | Inline::Link { text: inner, .. } => {
                visit_inline(inner, see)
            }
            _ => {}
        }
    }
}

/// A line in which an ellipsis stands for each value: those differ from learner to learner.
pub fn bare_line(inlines: &[Inline]) -> String {
    let mut out = String::new();
    push(inlines, &mut out);
    out
}

fn push(inlines: &[Inline], out: &mut String) {
    for inline in inlines {
        match inline {
            Inline::Text(text) | Inline::Code(text) => out.push_str(text),
            Inline::Emphasis(inner) | Inline::Strong(inner) | Inline::Link { text: inner, .. } => push(inner, out),
            Inline::Value(_) => out.push('…'),
            Inline::Break => out.push(' '),
        }
    }
}

/// Prose in a line, in which an ellipsis stands for each value.
pub fn bare(blocks: &[Prose]) -> String {
    let mut out = String::new();
    for block in blocks {
        if !out.is_empty() {
            out.push(' ');
        }
        match block {
            Prose::Heading { text, .. } | Prose::Paragraph(text) => push(text, &mut out),
            Prose::Quote(inner) => out.push_str(&bare(inner)),
            Prose::List { items, .. } => {
                out.push_str(&items.iter().map(|item| bare(item)).collect::<Vec<_>>().join("; "));
            }
        }
    }
    out
}
