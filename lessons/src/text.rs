//! Prose: a small subset of Markdown as a tree that a view can show without trusting it.
//!
//! Allowed: paragraphs, headings of level 2 and 3, emphasis, strong, code, ordered and unordered lists, quotes, line breaks,
//! links to https addresses and to lessons, and values `{{expression | unit | decimals}}`. All else is refused when the file
//! is read, raw HTML first of all.
//!
//! The reader is our own because the page carries it: a full Markdown library weighs as much in WASM as the whole of the
//! core, and brings tables of entities that no lesson may use.

use crate::expr::{Env, EvalError, Scope, Shown, ShownProblem};
use crate::problem::{Origin, ProblemKind, Problems};
use crate::units::Style;
use std::cell::Cell;

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
    let mut lines = Vec::new();
    let mut at = 0;
    for text in masked.split('\n') {
        lines.push(Line { at, text: text.strip_suffix('\r').unwrap_or(text) });
        at += text.len() + 1;
    }
    reader.blocks(&lines)
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

/// A line without the marks of the lists and quotes around it, and where it begins in the text.
#[derive(Clone, Copy)]
struct Line<'t> {
    at: usize,
    text: &'t str,
}

impl<'t> Line<'t> {
    /// The line without its first `bytes`.
    fn later(self, bytes: usize) -> Self {
        Self { at: self.at + bytes, text: &self.text[bytes..] }
    }

    fn is_blank(self) -> bool {
        self.text.trim().is_empty()
    }

    fn indent(self) -> usize {
        self.text.len() - self.text.trim_start_matches(' ').len()
    }

    /// The line without up to `spaces` leading spaces.
    fn outdented(self, spaces: usize) -> Self {
        self.later(self.indent().min(spaces))
    }
}

/// What a line begins.
enum Opens {
    Heading {
        level: usize,
        skip: usize,
    },
    Quote,
    /// The first number of an ordered list, and how many bytes its mark takes.
    Item {
        first: Option<u64>,
        skip: usize,
    },
    Rule,
    Html,
    Fence,
    Indented,
    Text,
}

fn opens(line: Line) -> Opens {
    let indent = line.indent();
    if indent >= 4 {
        return Opens::Indented;
    }
    let text = &line.text[indent..];
    let bytes = text.as_bytes();
    let hashes = bytes.iter().take_while(|b| **b == b'#').count();
    if hashes > 0 && (bytes.len() == hashes || bytes[hashes] == b' ') {
        return Opens::Heading { level: hashes, skip: indent + hashes };
    }
    if bytes.first() == Some(&b'>') {
        return Opens::Quote;
    }
    let bare: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    if bare.len() >= 3 && ['-', '*', '_'].iter().any(|mark| bare.chars().all(|c| c == *mark)) {
        return Opens::Rule;
    }
    if let [b'-' | b'*' | b'+', b' ', ..] = bytes {
        return Opens::Item { first: None, skip: indent + 2 };
    }
    let digits = bytes.iter().take_while(|b| b.is_ascii_digit()).count();
    if (1..=9).contains(&digits)
        && let Some([b'.' | b')', b' ']) = bytes.get(digits..digits + 2)
    {
        return Opens::Item { first: text[..digits].parse().ok(), skip: indent + digits + 2 };
    }
    if text.starts_with("```") || text.starts_with("~~~") {
        return Opens::Fence;
    }
    if begins_html(text) { Opens::Html } else { Opens::Text }
}

/// Whether text begins what a browser would take for markup.
fn begins_html(text: &str) -> bool {
    let mut bytes = text.bytes();
    bytes.next() == Some(b'<')
        && bytes.next().is_some_and(|b| b.is_ascii_alphabetic() || matches!(b, b'/' | b'!' | b'?'))
}

impl Reader<'_, '_> {
    fn refuse(&mut self, at: usize, what: &'static str) {
        self.problems.push(self.origin.byte(at), ProblemKind::Markdown { what, allowed: ALLOWED });
    }

    fn blocks(&mut self, lines: &[Line]) -> Vec<Prose> {
        let mut blocks = Vec::new();
        let mut i = 0;
        while i < lines.len() {
            let line = lines[i];
            if line.is_blank() {
                i += 1;
                continue;
            }
            let start = line.at + line.indent();
            match opens(line) {
                Opens::Heading { level, skip } => {
                    if !(2..=3).contains(&level) {
                        self.refuse(start, "a heading of this level");
                    }
                    let text = self.inlines(&[line.later(skip)]);
                    blocks.push(Prose::Heading { level: if level == 2 { 2 } else { 3 }, text });
                    i += 1;
                }
                Opens::Quote => {
                    let mut inner = Vec::new();
                    while i < lines.len() && matches!(opens(lines[i]), Opens::Quote) {
                        let rest = lines[i].later(lines[i].indent() + 1);
                        inner.push(rest.outdented(1));
                        i += 1;
                    }
                    blocks.push(Prose::Quote(self.deeper(&inner, start)));
                }
                Opens::Item { first, .. } => {
                    let mut items = Vec::new();
                    while i < lines.len() {
                        let Opens::Item { first: number, skip } = opens(lines[i]) else { break };
                        if number.is_some() != first.is_some() {
                            break;
                        }
                        let mut inner = vec![lines[i].later(skip)];
                        let at = lines[i].at + lines[i].indent();
                        i += 1;
                        while i < lines.len() {
                            let next = lines[i];
                            let belongs = if next.is_blank() {
                                // A gap inside an item only if what follows still stands under it.
                                lines[i..].iter().find(|l| !l.is_blank()).is_some_and(|l| l.indent() >= skip.min(4))
                            } else {
                                next.indent() >= skip
                                    || (!inner.last().is_some_and(|l: &Line| l.is_blank())
                                        && matches!(opens(next), Opens::Text))
                            };
                            if !belongs {
                                break;
                            }
                            inner.push(next.outdented(skip));
                            i += 1;
                        }
                        items.push(self.deeper(&inner, at));
                        // Items may stand apart.
                        if let Some(more) = lines[i..].iter().position(|l| !l.is_blank())
                            && matches!(opens(lines[i + more]), Opens::Item { .. })
                        {
                            i += more;
                        }
                    }
                    blocks.push(Prose::List { first, items });
                }
                other @ (Opens::Rule | Opens::Html | Opens::Fence | Opens::Indented) => {
                    match other {
                        Opens::Rule => self.refuse(start, "a horizontal rule"),
                        Opens::Html => self.problems.push(self.origin.byte(start), ProblemKind::Html),
                        Opens::Indented => self.refuse(start, "an indented block"),
                        _ => self.refuse(start, "this kind of block"),
                    }
                    i += 1;
                    if !matches!(other, Opens::Rule) {
                        while i < lines.len() && !lines[i].is_blank() {
                            i += 1;
                        }
                    }
                }
                Opens::Text => {
                    let from = i;
                    i += 1;
                    // An indented line goes on with the paragraph, as a wrapped one does.
                    while i < lines.len()
                        && !lines[i].is_blank()
                        && matches!(opens(lines[i]), Opens::Text | Opens::Indented)
                    {
                        i += 1;
                    }
                    let text = self.inlines(&lines[from..i]);
                    blocks.push(Prose::Paragraph(text));
                }
            }
        }
        blocks
    }

    fn deeper(&mut self, lines: &[Line], at: usize) -> Vec<Prose> {
        if self.depth == DEEPEST {
            self.refuse(at, "a list or quote nested this deep");
            return Vec::new();
        }
        self.depth += 1;
        let blocks = self.blocks(lines);
        self.depth -= 1;
        blocks
    }

    /// The pieces of a heading or a paragraph.
    fn inlines(&mut self, lines: &[Line]) -> Vec<Inline> {
        let mut span = Span { text: String::new(), starts: Vec::new(), closed: [const { Cell::new(usize::MAX) }; 4] };
        for (i, line) in lines.iter().enumerate() {
            let indent = line.text.len() - line.text.trim_start().len();
            let line = line.later(indent);
            let last = i + 1 == lines.len();
            span.starts.push((span.text.len(), line.at));
            span.text.push_str(if last { line.text.trim_end() } else { line.text });
            if !last {
                span.text.push('\n');
            }
        }
        let mut into = Vec::new();
        let end = span.text.len();
        self.pieces(&span, 0, end, &mut into);
        into
    }

    /// The pieces between two bytes of a span.
    fn pieces(&mut self, span: &Span, mut at: usize, end: usize, into: &mut Vec<Inline>) {
        let mut plain = String::new();
        while at < end {
            let rest = &span.text[at..end];
            let Some(c) = rest.chars().next() else { break };
            let after = at + c.len_utf8();
            match c {
                '\\' if rest[1..].starts_with('\n') => {
                    self.flush(&mut plain, into);
                    into.push(Inline::Break);
                    at += 2;
                }
                '\\' if rest[1..].starts_with(|c: char| c.is_ascii_punctuation()) => {
                    plain.push_str(&rest[1..2]);
                    at += 2;
                }
                '\n' => {
                    if plain.ends_with("  ") {
                        plain.truncate(plain.trim_end_matches(' ').len());
                        self.flush(&mut plain, into);
                        into.push(Inline::Break);
                    } else {
                        plain.truncate(plain.trim_end_matches(' ').len());
                        plain.push(' ');
                    }
                    at = after;
                }
                '`' => {
                    let ticks = rest.len() - rest.trim_start_matches('`').len();
                    match span.close_of(CODE, at + ticks, end, |s, i| closes_code(s, i, ticks)) {
                        Some(close) => {
                            self.flush(&mut plain, into);
                            let code = span.text[at + ticks..close].replace('\n', " ");
                            if code.contains(|c| MARKS.contains(&c)) {
                                self.refuse(span.source(at), "a {{value}} inside `code`");
                            }
                            let bare = code.strip_prefix(' ').and_then(|c| c.strip_suffix(' '));
                            into.push(Inline::Code(bare.filter(|b| !b.trim().is_empty()).unwrap_or(&code).to_string()));
                            at = close + ticks;
                        }
                        None => {
                            plain.push_str(&rest[..ticks]);
                            at += ticks;
                        }
                    }
                }
                '*' | '_' => {
                    let run = rest.len() - rest.trim_start_matches(c).len();
                    let width = run.min(2);
                    let open = rest[run..].starts_with(|c: char| !c.is_whitespace())
                        && (c == '*' || !span.text[..at].ends_with(|c: char| c.is_alphanumeric()));
                    let kind = if width == 2 { STRONG } else { EMPHASIS };
                    let close = if open && run <= 3 {
                        span.close_of(kind, at + run, end, |s, i| closes_mark(s, i, c, width))
                    } else {
                        None
                    };
                    let Some(close) = close else {
                        plain.push_str(&rest[..run]);
                        at += run;
                        continue;
                    };
                    // `***both***`: the inner mark ends first.
                    let tail = span.text[close..end].bytes().take_while(|b| *b == c as u8).count();
                    let close = if width == 2 && run == 3 && tail == 3 { close + 1 } else { close };
                    self.flush(&mut plain, into);
                    if self.depth == DEEPEST {
                        self.refuse(span.source(at), "a mark nested this deep");
                    } else {
                        self.depth += 1;
                        let mut inner = Vec::new();
                        self.pieces(span, at + width, close, &mut inner);
                        self.depth -= 1;
                        into.push(if width == 2 { Inline::Strong(inner) } else { Inline::Emphasis(inner) });
                    }
                    at = close + width;
                }
                '[' | '!' if c == '[' || rest[1..].starts_with('[') => {
                    let image = c == '!';
                    let label = at + 1 + usize::from(image);
                    let close = span.close_of(LINK, label, end, closes_label);
                    let target = close.and_then(|close| {
                        let to = close + 2;
                        // Parentheses in an address come in pairs.
                        let mut open = 0_usize;
                        let mut length = 0;
                        let found = span.text[to..end].chars().take(LONGEST_ADDRESS).any(|c| {
                            length += c.len_utf8();
                            match c {
                                '(' => open += 1,
                                ')' if open == 0 => return true,
                                ')' => open -= 1,
                                _ => {}
                            }
                            false
                        });
                        let done = to + length.saturating_sub(1);
                        (found && !span.text[to..done].contains('\n')).then_some((close, to, done))
                    });
                    let Some((close, to, done)) = target else {
                        plain.push(c);
                        at = after;
                        continue;
                    };
                    self.flush(&mut plain, into);
                    if image {
                        self.refuse(span.source(at), "an image");
                    } else if self.depth == DEEPEST {
                        self.refuse(span.source(at), "a mark nested this deep");
                    } else {
                        let address = span.text[to..done].to_string();
                        let target = self.target(&address, span.source(at));
                        self.depth += 1;
                        let mut inner = Vec::new();
                        self.pieces(span, label, close, &mut inner);
                        self.depth -= 1;
                        match target {
                            Some(to) => into.push(Inline::Link { to, text: inner }),
                            None => into.extend(inner),
                        }
                    }
                    at = done + 1;
                }
                '<' if begins_html(rest) => {
                    self.problems.push(self.origin.byte(span.source(at)), ProblemKind::Html);
                    at = rest.find('>').map_or(end, |i| at + i + 1);
                }
                _ => {
                    plain.push(c);
                    at = after;
                }
            }
        }
        self.flush(&mut plain, into);
    }

    fn flush(&mut self, plain: &mut String, into: &mut Vec<Inline>) {
        let text = std::mem::take(plain);
        self.text(&text, into);
    }

    fn target(&mut self, to: &str, at: usize) -> Option<Target> {
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

/// Letters of the longest address.
const LONGEST_ADDRESS: usize = 2000;

const CODE: usize = 0;
const EMPHASIS: usize = 1;
const STRONG: usize = 2;
const LINK: usize = 3;

/// The text of a heading or paragraph, lines joined, with the way back to the file.
struct Span {
    text: String,
    /// Byte in `text` and byte in the file at which each line begins.
    starts: Vec<(usize, usize)>,
    /// From where on each kind of mark is known to have no end: without it, a line of nothing but openings would be searched
    /// to its end from each of them.
    closed: [Cell<usize>; 4],
}

impl Span {
    fn source(&self, at: usize) -> usize {
        let line = self.starts.partition_point(|(start, _)| *start <= at).saturating_sub(1);
        let (start, source) = self.starts.get(line).copied().unwrap_or((0, 0));
        source + at - start
    }

    /// The first byte between two at which `closes` says that a mark ends; escaped letters and code are stepped over.
    fn close_of(
        &self,
        kind: usize,
        from: usize,
        end: usize,
        closes: impl Fn(&str, usize) -> Option<bool>,
    ) -> Option<usize> {
        if from >= self.closed[kind].get() {
            return None;
        }
        let bytes = self.text.as_bytes();
        let (mut at, mut depth) = (from, 0_usize);
        while at < end {
            if bytes[at] == b'\\' && kind != CODE {
                at += 2;
                continue;
            }
            match closes(&self.text[..end], at) {
                Some(true) if depth == 0 => return Some(at),
                Some(true) => depth -= 1,
                Some(false) => depth += 1,
                None => {}
            }
            // A run of ticks or stars counts as a whole.
            let run = bytes[at];
            at += 1;
            while kind != LINK && matches!(run, b'`' | b'*' | b'_') && at < end && bytes[at] == run {
                at += 1;
            }
        }
        // Searched to the end of everything in vain: whatever begins later ends no sooner.
        if end == self.text.len() {
            self.closed[kind].set(self.closed[kind].get().min(from));
        }
        None
    }
}

/// Whether a run of exactly `ticks` begins at byte `at`.
fn closes_code(text: &str, at: usize, ticks: usize) -> Option<bool> {
    let rest = text.as_bytes().get(at..)?;
    let run = rest.iter().take_while(|b| **b == b'`').count();
    (run == ticks).then_some(true)
}

/// Whether emphasis by `width` of `mark` ends at the run that begins at byte `at`, or one more begins there.
fn closes_mark(text: &str, at: usize, mark: char, width: usize) -> Option<bool> {
    let bytes = text.as_bytes();
    if bytes[at] != mark as u8 {
        return None;
    }
    let run = bytes[at..].iter().take_while(|b| **b == mark as u8).count();
    if run != width && run != 3 {
        return None;
    }
    let word = |c: char| c.is_alphanumeric();
    let after_text = text[..at].ends_with(|c: char| !c.is_whitespace());
    let before_text = text[at + run..].starts_with(|c: char| !c.is_whitespace());
    if after_text && !(mark == '_' && text[at + run..].starts_with(word)) {
        Some(true)
    } else if before_text {
        Some(false)
    } else {
        None
    }
}

/// Whether a link's label ends at byte `at`: `](`; a `[` opens one more.
fn closes_label(text: &str, at: usize) -> Option<bool> {
    match text.as_bytes()[at] {
        b']' if text.as_bytes().get(at + 1) == Some(&b'(') => Some(true),
        b'[' => Some(false),
        _ => None,
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
