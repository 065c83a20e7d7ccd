//! Reads prose: a small subset of Markdown.
//!
//! Allowed: paragraphs, headings of level 2 and 3, emphasis, strong, code, ordered and unordered lists, quotes, line breaks,
//! links to https addresses and to lessons, and values `{{expression | unit | decimals}}`. All else is refused when the file
//! is read, raw HTML first of all.
//!
//! The reader is our own because the page carries it: a full Markdown library weighs as much in WASM as the whole of the
//! core, and brings tables of entities that no lesson may use.

use crate::expr::{Scope, Shown, ShownProblem};
use crate::ids::good_id;
use crate::problem::{Origin, ProblemKind, Problems};
use crate::text::{Inline, Prose, Target};
use std::cell::Cell;

const ALLOWED: &str =
    "paragraphs, headings ## and ###, *emphasis*, **strong**, `code`, lists, quotes, links and {{values}}";
/// How deep lists, quotes and marks may stand in each other.
const DEEPEST: usize = 6;
/// Letters of the longest address.
const LONGEST_ADDRESS: usize = 2000;

/// Reads `text`, which stands at `origin` in the file.
pub(crate) fn markdown(text: &str, origin: Origin, scope: &Scope, problems: &mut Problems) -> Vec<Prose> {
    let mut reader = Reader { origin, scope, problems, depth: 0 };
    let mut lines = Vec::new();
    let mut at = 0;
    for text in text.split('\n') {
        lines.push(Line { at, text: text.strip_suffix('\r').unwrap_or(text) });
        at += text.len() + 1;
    }
    reader.blocks(&lines)
}

struct Reader<'a, 't> {
    origin: Origin,
    scope: &'a Scope,
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

/// Blocks.
impl Reader<'_, '_> {
    fn refuse(&mut self, at: usize, what: &'static str) {
        self.problems.push(self.origin.byte(at), ProblemKind::Markdown { what, allowed: ALLOWED });
    }

    fn blocks(&mut self, lines: &[Line]) -> Vec<Prose> {
        let mut blocks = Vec::new();
        let mut i = 0;
        while let Some(&line) = lines.get(i) {
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
                        inner.push(lines[i].later(lines[i].indent() + 1).outdented(1));
                        i += 1;
                    }
                    blocks.push(Prose::Quote(self.deeper(&inner, start)));
                }
                Opens::Item { first, .. } => {
                    let (items, next) = self.list(lines, i, first.is_some());
                    blocks.push(Prose::List { first, items });
                    i = next;
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
                    blocks.push(Prose::Paragraph(self.inlines(&lines[from..i])));
                }
                other => i = self.refused(other, lines, i),
            }
        }
        blocks
    }

    /// The items of the list that begins at line `i`, and the line behind it.
    fn list(&mut self, lines: &[Line], mut i: usize, numbered: bool) -> (Vec<Vec<Prose>>, usize) {
        let mut items = Vec::new();
        while i < lines.len() {
            let Opens::Item { first, skip } = opens(lines[i]) else { break };
            if first.is_some() != numbered {
                break;
            }
            let mut inner = vec![lines[i].later(skip)];
            let at = lines[i].at + lines[i].indent();
            i += 1;
            while i < lines.len() && belongs(&lines[i..], skip, inner.last().is_some_and(|line| line.is_blank())) {
                inner.push(lines[i].outdented(skip));
                i += 1;
            }
            items.push(self.deeper(&inner, at));
            // Items may stand apart.
            if let Some(more) = lines[i..].iter().position(|line| !line.is_blank())
                && matches!(opens(lines[i + more]), Opens::Item { .. })
            {
                i += more;
            }
        }
        (items, i)
    }

    /// Reports a block that no lesson may have, and steps over it.
    fn refused(&mut self, block: Opens, lines: &[Line], mut i: usize) -> usize {
        let start = lines[i].at + lines[i].indent();
        match block {
            Opens::Rule => self.refuse(start, "a horizontal rule"),
            Opens::Html => self.problems.push(self.origin.byte(start), ProblemKind::Html),
            Opens::Indented => self.refuse(start, "an indented block"),
            _ => self.refuse(start, "this kind of block"),
        }
        i += 1;
        if !matches!(block, Opens::Rule) {
            while i < lines.len() && !lines[i].is_blank() {
                i += 1;
            }
        }
        i
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
}

/// Whether the first of these lines belongs to a list item whose text is indented by `skip`.
fn belongs(lines: &[Line], skip: usize, after_gap: bool) -> bool {
    let next = lines[0];
    if next.is_blank() {
        // A gap belongs to an item only if what follows still stands under it.
        return lines.iter().find(|line| !line.is_blank()).is_some_and(|line| line.indent() >= skip.min(4));
    }
    next.indent() >= skip || (!after_gap && matches!(opens(next), Opens::Text))
}

/// Pieces of a line. Each function below reads what begins at byte `at`, and gives the byte behind it.
impl Reader<'_, '_> {
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
        self.pieces(&span, 0, span.text.len())
    }

    /// The pieces between two bytes of a span.
    fn pieces(&mut self, span: &Span, mut at: usize, end: usize) -> Vec<Inline> {
        let mut into = Vec::new();
        while let Some(c) = span.text[at..end].chars().next() {
            let rest = &span.text[at..end];
            let after = at + c.len_utf8();
            let read = match c {
                '\\' if rest[1..].starts_with('\n') => {
                    into.push(Inline::Break);
                    Some(at + 2)
                }
                '\\' if rest[1..].starts_with(|c: char| c.is_ascii_punctuation()) && !rest[1..].starts_with("{{") => {
                    push_text(&mut into, &rest[1..2]);
                    Some(at + 2)
                }
                '\n' => {
                    line_end(&mut into);
                    Some(after)
                }
                '{' if rest.starts_with("{{") => self.value(span, at, end, &mut into),
                '`' => self.code(span, at, end, &mut into),
                '*' | '_' => self.emphasis(span, at, end, &mut into),
                '[' => self.link(span, at, end, &mut into),
                '!' if rest.starts_with("![") => self.link(span, at, end, &mut into),
                '<' if begins_html(rest) => {
                    self.problems.push(self.origin.byte(span.source(at)), ProblemKind::Html);
                    Some(rest.find('>').map_or(end, |i| at + i + 1))
                }
                _ => None,
            };
            // What begins nothing is text; a run of marks as a whole.
            at = read.unwrap_or_else(|| {
                let run = if matches!(c, '`' | '*' | '_') { rest.len() - rest.trim_start_matches(c).len() } else { 0 };
                let next = after.max(at + run);
                push_text(&mut into, &span.text[at..next]);
                next
            });
        }
        into
    }

    fn value(&mut self, span: &Span, at: usize, end: usize, into: &mut Vec<Inline>) -> Option<usize> {
        let place = self.origin.later(span.source(at));
        let Some(close) = end_of_value(&span.text[..end], at) else {
            self.problems.push(place.byte(0), ProblemKind::OpenBraces);
            push_text(into, "{{");
            return Some(at + 2);
        };
        match Shown::parse(&span.text[at + 2..close - 2], self.scope) {
            Ok(shown) => into.push(Inline::Value(shown)),
            Err(ShownProblem::Expr(problem)) => self.problems.expression(place.later(2), problem),
            Err(problem) => self.problems.push(place.byte(0), ProblemKind::Shown(problem)),
        }
        Some(close)
    }

    fn code(&mut self, span: &Span, at: usize, end: usize, into: &mut Vec<Inline>) -> Option<usize> {
        let rest = &span.text[at..end];
        let ticks = rest.len() - rest.trim_start_matches('`').len();
        let close = span.close_of(CODE, at + ticks, end, |s, i| closes_code(s, i, ticks))?;
        let code = span.text[at + ticks..close].replace('\n', " ");
        if code.contains("{{") {
            self.refuse(span.source(at), "a {{value}} inside `code`");
        }
        let bare = code.strip_prefix(' ').and_then(|c| c.strip_suffix(' '));
        into.push(Inline::Code(bare.filter(|b| !b.trim().is_empty()).unwrap_or(&code).to_string()));
        Some(close + ticks)
    }

    fn emphasis(&mut self, span: &Span, at: usize, end: usize, into: &mut Vec<Inline>) -> Option<usize> {
        let rest = &span.text[at..end];
        let c = rest.chars().next()?;
        let run = rest.len() - rest.trim_start_matches(c).len();
        let width = run.min(2);
        let open = rest[run..].starts_with(|c: char| !c.is_whitespace())
            && (c == '*' || !span.text[..at].ends_with(|c: char| c.is_alphanumeric()));
        if !open || run > 3 {
            return None;
        }
        let kind = if width == 2 { STRONG } else { EMPHASIS };
        let close = span.close_of(kind, at + run, end, |s, i| closes_mark(s, i, c, width))?;
        // `***both***`: the inner mark ends first.
        let tail = span.text[close..end].bytes().take_while(|b| *b == c as u8).count();
        let close = if width == 2 && run == 3 && tail == 3 { close + 1 } else { close };
        if let Some(inner) = self.nested(span, at, at + width, close) {
            into.push(if width == 2 { Inline::Strong(inner) } else { Inline::Emphasis(inner) });
        }
        Some(close + width)
    }

    fn link(&mut self, span: &Span, at: usize, end: usize, into: &mut Vec<Inline>) -> Option<usize> {
        let image = span.text[at..].starts_with('!');
        let label = at + 1 + usize::from(image);
        let close = span.close_of(LINK, label, end, closes_label)?;
        let to = close + 2;
        let done = to + end_of_address(&span.text[to..end])?;
        if image {
            self.refuse(span.source(at), "an image");
        } else if self.depth == DEEPEST {
            self.refuse(span.source(at), "a mark nested this deep");
        } else {
            let target = self.target(&span.text[to..done], span.source(at));
            let inner = self.nested(span, at, label, close).unwrap_or_default();
            match target {
                Some(to) => into.push(Inline::Link { to, text: inner }),
                None => into.extend(inner),
            }
        }
        Some(done + 1)
    }

    /// The pieces inside a mark that stands at `at`; nothing if it is nested too deep.
    fn nested(&mut self, span: &Span, at: usize, from: usize, to: usize) -> Option<Vec<Inline>> {
        if self.depth == DEEPEST {
            self.refuse(span.source(at), "a mark nested this deep");
            return None;
        }
        self.depth += 1;
        let inner = self.pieces(span, from, to);
        self.depth -= 1;
        Some(inner)
    }

    fn target(&mut self, to: &str, at: usize) -> Option<Target> {
        let clean = !to.chars().any(|c| c.is_whitespace() || c.is_control()) && !to.contains("{{");
        if clean && to.starts_with("https://") && to.len() > "https://".len() {
            return Some(Target::Web(to.to_string()));
        }
        if let Some(id) = to.strip_prefix("lesson:").filter(|id| good_id(id)) {
            return Some(Target::Lesson(id.into()));
        }
        self.problems.push(self.origin.byte(at), ProblemKind::Link { to: to.chars().take(80).collect() });
        None
    }
}

/// A line end inside a paragraph: a space, or a break behind two spaces.
fn line_end(into: &mut Vec<Inline>) {
    let Some(Inline::Text(text)) = into.last_mut() else { return push_text(into, " ") };
    let breaks = text.ends_with("  ");
    text.truncate(text.trim_end_matches(' ').len());
    if !breaks {
        return text.push(' ');
    }
    if text.is_empty() {
        into.pop();
    }
    into.push(Inline::Break);
}

/// The byte behind the value that begins at byte `at`; it ends in the same line.
fn end_of_value(text: &str, at: usize) -> Option<usize> {
    let line = text[at..].split('\n').next()?;
    line.get(2..)?.find("}}").map(|close| at + 2 + close + 2)
}

/// The byte at which an address ends, before its closing bracket. Brackets in an address come in pairs.
fn end_of_address(text: &str) -> Option<usize> {
    let mut open = 0_usize;
    for (at, c) in text.char_indices().take(LONGEST_ADDRESS) {
        match c {
            '\n' => return None,
            '(' => open += 1,
            ')' if open == 0 => return Some(at),
            ')' => open -= 1,
            _ => {}
        }
    }
    None
}

const CODE: usize = 0;
const EMPHASIS: usize = 1;
const STRONG: usize = 2;
const LINK: usize = 3;

/// The text of a heading or paragraph, lines joined, with the way back to the file.
struct Span {
    text: String,
    /// Byte in `text` and byte in the file at which each line begins.
    starts: Vec<(usize, usize)>,
    /// From where on each kind of mark is known to have no end. Without this, a line that holds nothing but openings would be
    /// searched to its end from each of them.
    closed: [Cell<usize>; 4],
}

impl Span {
    fn source(&self, at: usize) -> usize {
        let line = self.starts.partition_point(|(start, _)| *start <= at).saturating_sub(1);
        let (start, source) = self.starts.get(line).copied().unwrap_or((0, 0));
        source + at - start
    }

    /// The first byte between two at which `closes` says that a mark ends; escaped letters and values are stepped over.
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
            let value = bytes[at..end].starts_with(b"{{");
            if bytes[at] == b'\\' && kind != CODE && !bytes[at + 1..end].starts_with(b"{{") {
                at += 2;
                continue;
            }
            if let Some(close) = if value { end_of_value(&self.text[..end], at) } else { None } {
                at = close;
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
        // The search reached the end of everything: whatever begins later ends no sooner.
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
