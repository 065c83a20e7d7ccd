//! Prose: a small subset of Markdown as a tree that a view can show without trusting it.
//!
//! Allowed: paragraphs, headings of level 2 and 3, emphasis, strong, code, ordered and unordered lists, quotes, line breaks,
//! links to https addresses and to lessons, and values `{{expression | unit | decimals}}`. All else is refused when the file
//! is read, raw HTML first of all.

use crate::expr::{Env, EvalError, Scope, Shown, ShownProblem};
use crate::problem::{Origin, ProblemKind, Problems};
use crate::units::Style;
use pulldown_cmark::{CowStr, Event, HeadingLevel, Options, Parser, Tag, TagEnd};

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

const ALLOWED: &str =
    "paragraphs, headings ## and ###, *emphasis*, **strong**, `code`, lists, quotes, links and {{values}}";
/// Lists, quotes and marks in each other.
const DEEPEST: usize = 6;
/// Characters that stand for values while Markdown is read, one each; files that contain them are refused.
pub(crate) const MARKS: std::ops::RangeInclusive<char> = '\u{e000}'..='\u{f8ff}';

fn mark(index: usize) -> Option<char> {
    char::from_u32(*MARKS.start() as u32 + u32::try_from(index).ok()?).filter(|c| MARKS.contains(c))
}

/// A value, and how many letters pad its mark to the length it has in the file.
type Masked = (Option<Shown>, usize);

/// Reads `text`, which stands at `origin` in the file.
pub(crate) fn parse(text: &str, origin: Origin, scope: &Scope, problems: &mut Problems) -> Vec<Prose> {
    let (masked, values) = mask(text, origin, scope, problems);
    let mut reader = Reader { origin, values, problems, depth: 0 };
    let mut events = Parser::new_ext(&masked, Options::empty()).into_offset_iter();
    reader.blocks(&mut events, None)
}

/// Replaces every `{{…}}` by a mark of the same length, so that Markdown sees one word and offsets stay true.
fn mask(text: &str, origin: Origin, scope: &Scope, problems: &mut Problems) -> (String, Vec<Masked>) {
    let mut masked = String::with_capacity(text.len());
    let mut values = Vec::new();
    let mut at = 0;
    while let Some(open) = text[at..].find("{{") {
        let start = at + open;
        masked.push_str(&text[at..start]);
        let line_end = text[start..].find('\n').map_or(text.len(), |i| start + i);
        let Some(close) = text[start..line_end].find("}}") else {
            problems.push(origin.byte(start), ProblemKind::OpenBraces);
            at = start;
            masked.push_str("xx");
            at += 2;
            continue;
        };
        let inner = &text[start + 2..start + close];
        let shown = match Shown::parse(inner, scope) {
            Ok(shown) => Some(shown),
            Err(ShownProblem::Expr(problem)) => {
                problems.expression(origin.later(start + 2), problem);
                None
            }
            Err(problem) => {
                problems.push(origin.byte(start), ProblemKind::Shown(problem));
                None
            }
        };
        let length = close + 2;
        let Some(mark) = mark(values.len()) else {
            problems.push(
                origin.byte(start),
                ProblemKind::Markdown { what: "the 6401st value in one text", allowed: ALLOWED },
            );
            at = text.len();
            break;
        };
        let pad = length - mark.len_utf8();
        masked.push(mark);
        masked.push_str(&"x".repeat(pad));
        values.push((shown, pad));
        at = start + length;
    }
    masked.push_str(&text[at..]);
    (masked, values)
}

struct Reader<'a, 't> {
    origin: Origin,
    values: Vec<Masked>,
    problems: &'a mut Problems<'t>,
    depth: usize,
}

type Events<'e> = pulldown_cmark::OffsetIter<'e, pulldown_cmark::DefaultBrokenLinkCallback>;

impl Reader<'_, '_> {
    fn refuse(&mut self, at: usize, what: &'static str) {
        self.problems.push(self.origin.byte(at), ProblemKind::Markdown { what, allowed: ALLOWED });
    }

    /// Blocks up to the end tag `until`.
    fn blocks(&mut self, events: &mut Events, until: Option<TagEnd>) -> Vec<Prose> {
        let mut blocks = Vec::new();
        // A tight list item holds its text without a paragraph around it.
        let mut loose: Vec<Inline> = Vec::new();
        while let Some((event, range)) = events.next() {
            let inline_event = matches!(
                event,
                Event::Text(_)
                    | Event::Code(_)
                    | Event::SoftBreak
                    | Event::HardBreak
                    | Event::InlineHtml(_)
                    | Event::Start(Tag::Emphasis | Tag::Strong | Tag::Link { .. } | Tag::Image { .. })
            );
            if inline_event {
                self.inline(event, range.start, events, &mut loose);
                continue;
            }
            if !loose.is_empty() {
                blocks.push(Prose::Paragraph(std::mem::take(&mut loose)));
            }
            match event {
                Event::End(end) if Some(end) == until => return blocks,
                Event::Start(Tag::Paragraph) => {
                    let text = self.inlines(events, TagEnd::Paragraph);
                    blocks.push(Prose::Paragraph(text));
                }
                Event::Start(Tag::Heading { level, .. }) => {
                    let number = match level {
                        HeadingLevel::H2 => 2,
                        HeadingLevel::H3 => 3,
                        _ => {
                            self.refuse(range.start, "a heading of this level");
                            3
                        }
                    };
                    let text = self.inlines(events, TagEnd::Heading(level));
                    blocks.push(Prose::Heading { level: number, text });
                }
                Event::Start(Tag::List(first)) => {
                    let items = self.items(events, first.is_some());
                    blocks.push(Prose::List { first, items });
                }
                Event::Start(Tag::BlockQuote(kind)) => {
                    let inner = self.deeper(events, TagEnd::BlockQuote(kind), range.start);
                    blocks.push(Prose::Quote(inner));
                }
                Event::Start(Tag::HtmlBlock) => {
                    self.problems.push(self.origin.byte(range.start), ProblemKind::Html);
                    skip(events, TagEnd::HtmlBlock);
                }
                Event::Start(tag) => {
                    let what =
                        if matches!(tag, Tag::CodeBlock(_)) { "an indented block" } else { "this kind of block" };
                    self.refuse(range.start, what);
                    skip(events, tag.to_end());
                }
                Event::Rule => self.refuse(range.start, "a horizontal rule"),
                _ => {}
            }
        }
        if !loose.is_empty() {
            blocks.push(Prose::Paragraph(loose));
        }
        blocks
    }

    fn deeper(&mut self, events: &mut Events, until: TagEnd, at: usize) -> Vec<Prose> {
        if self.depth == DEEPEST {
            self.refuse(at, "a list or quote nested this deep");
            skip(events, until);
            return Vec::new();
        }
        self.depth += 1;
        let blocks = self.blocks(events, Some(until));
        self.depth -= 1;
        blocks
    }

    fn items(&mut self, events: &mut Events, ordered: bool) -> Vec<Vec<Prose>> {
        let mut items = Vec::new();
        while let Some((event, range)) = events.next() {
            match event {
                Event::Start(Tag::Item) => {
                    items.push(self.deeper(events, TagEnd::Item, range.start));
                }
                Event::End(TagEnd::List(end)) if end == ordered => break,
                _ => {}
            }
        }
        items
    }

    fn inlines(&mut self, events: &mut Events, until: TagEnd) -> Vec<Inline> {
        let mut inlines = Vec::new();
        while let Some((event, range)) = events.next() {
            if matches!(&event, Event::End(end) if *end == until) {
                break;
            }
            self.inline(event, range.start, events, &mut inlines);
        }
        inlines
    }

    fn inline(&mut self, event: Event, at: usize, events: &mut Events, into: &mut Vec<Inline>) {
        match event {
            Event::Text(text) => self.text(&text, into),
            Event::Code(code) => {
                if code.contains(|c| MARKS.contains(&c)) {
                    self.refuse(at, "a {{value}} inside `code`");
                }
                into.push(Inline::Code(code.to_string()));
            }
            Event::SoftBreak => push_text(into, " "),
            Event::HardBreak => into.push(Inline::Break),
            Event::InlineHtml(_) | Event::Html(_) => self.problems.push(self.origin.byte(at), ProblemKind::Html),
            Event::Start(tag @ (Tag::Emphasis | Tag::Strong | Tag::Link { .. })) if self.depth < DEEPEST => {
                self.depth += 1;
                let end = tag.to_end();
                let to = if let Tag::Link { dest_url, .. } = &tag { self.target(dest_url, at) } else { None };
                let inner = self.inlines(events, end);
                self.depth -= 1;
                match (tag, to) {
                    (Tag::Emphasis, _) => into.push(Inline::Emphasis(inner)),
                    (Tag::Strong, _) => into.push(Inline::Strong(inner)),
                    (_, Some(to)) => into.push(Inline::Link { to, text: inner }),
                    (_, None) => into.extend(inner),
                }
            }
            Event::Start(tag) => {
                let what = if matches!(tag, Tag::Image { .. }) { "an image" } else { "a mark nested this deep" };
                self.refuse(at, what);
                skip(events, tag.to_end());
            }
            _ => {}
        }
    }

    fn target(&mut self, to: &CowStr, at: usize) -> Option<Target> {
        let clean = !to.chars().any(|c| c.is_whitespace() || c.is_control() || MARKS.contains(&c));
        if clean && to.starts_with("https://") && to.len() > "https://".len() {
            return Some(Target::Web(to.to_string()));
        }
        if let Some(id) = to.strip_prefix("lesson:")
            && crate::parse::good_id(id)
        {
            return Some(Target::Lesson(id.into()));
        }
        self.problems.push(self.origin.byte(at), ProblemKind::Link { to: to.chars().take(80).collect() });
        None
    }

    /// Text with its marks turned back into values.
    fn text(&mut self, text: &str, into: &mut Vec<Inline>) {
        let mut rest = text;
        while let Some(at) = rest.find(|c| MARKS.contains(&c)) {
            push_text(into, &rest[..at]);
            let Some(mark) = rest[at..].chars().next() else { break };
            rest = &rest[at + mark.len_utf8()..];
            let index = (mark as u32 - *MARKS.start() as u32) as usize;
            if let Some((shown, pad)) = self.values.get(index) {
                rest = rest.get(*pad..).unwrap_or("");
                into.extend(shown.clone().map(Inline::Value));
            }
        }
        push_text(into, rest);
    }
}

fn push_text(into: &mut Vec<Inline>, text: &str) {
    if text.is_empty() {
        return;
    }
    match into.last_mut() {
        Some(Inline::Text(last)) => last.push_str(text),
        _ => into.push(Inline::Text(text.into())),
    }
}

fn skip(events: &mut Events, until: TagEnd) {
    let mut depth = 0_usize;
    for (event, _) in events.by_ref() {
        match event {
            Event::Start(tag) if tag.to_end() == until => depth += 1,
            Event::End(end) if end == until => {
                if depth == 0 {
                    return;
                }
                depth -= 1;
            }
            _ => {}
        }
    }
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
pub(crate) fn visit<'p>(prose: &'p [Prose], see: &mut dyn FnMut(&'p Inline)) {
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
