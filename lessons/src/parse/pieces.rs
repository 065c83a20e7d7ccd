//! Cuts a lesson file into front matter, prose and fenced blocks.

use crate::problem::{ProblemKind, Problems};
use toml::de::DeTable;

pub(super) const BLOCKS: &str =
    "bench, pin, sweep, run, log, stage, predict, task, checkpoint, reveal, safety, transfer, teacher";
/// Blocks whose content is prose; all others are TOML.
pub(super) const PROSE_BLOCKS: [&str; 2] = ["reveal", "safety"];

/// Blocks that are called by `name`; the others by `id`.
pub(super) const NAMED: [&str; 5] = ["pin", "sweep", "run", "log", "stage"];

/// A stretch of the file.
pub(super) struct Piece<'t> {
    /// The word behind the fence; nothing for prose.
    pub(super) block: Option<&'t str>,
    /// Words behind that.
    pub(super) attributes: &'t str,
    /// Where the fence or the prose begins.
    pub(super) at: usize,
    /// What stands inside.
    pub(super) body: &'t str,
    pub(super) body_at: usize,
}

fn offset(whole: &str, part: &str) -> usize {
    part.as_ptr() as usize - whole.as_ptr() as usize
}

/// The front matter and what follows it. Nothing if either is not where it must be.
pub(super) fn front_matter<'t>(text: &'t str, problems: &mut Problems) -> Option<(&'t str, &'t str)> {
    let Some(rest) = text.strip_prefix("+++\n") else {
        problems.push(0, ProblemKind::NoFrontMatter);
        return None;
    };
    let front = if rest.starts_with("+++\n") || rest == "+++" { Some(0) } else { rest.find("\n+++\n").map(|i| i + 1) };
    let front = front.or_else(|| rest.strip_suffix("\n+++").map(|front| front.len() + 1));
    let Some(front) = front else {
        problems.push(0, ProblemKind::NotClosed { what: "the front matter", end: "+++" });
        return None;
    };
    let after = rest[front..].find('\n').map_or(rest.len(), |i| front + i + 1);
    Some((&rest[..front], &rest[after..]))
}

/// Cuts the body into prose and fenced blocks.
pub(super) fn pieces<'t>(text: &str, body: &'t str, problems: &mut Problems) -> Vec<Piece<'t>> {
    let mut pieces = Vec::new();
    let mut prose = 0;
    let mut at = 0;
    let push_prose = |pieces: &mut Vec<Piece<'t>>, range: &'t str| {
        if !range.trim().is_empty() {
            let at = offset(text, range);
            pieces.push(Piece { block: None, attributes: "", at, body: range, body_at: at });
        }
    };
    while at < body.len() {
        let line_end = end_of_line(body, at);
        let Some(info) = body[at..line_end].trim_end().strip_prefix("```") else {
            at = line_end;
            continue;
        };
        push_prose(&mut pieces, &body[prose..at]);
        let fence_at = offset(text, &body[at..]);
        let Some((inner_end, next)) = closing_fence(body, line_end) else {
            problems.push(fence_at, ProblemKind::NotClosed { what: "the block", end: "```" });
            return pieces;
        };
        let info = info.trim();
        let (word, attributes) = info.split_once(char::is_whitespace).unwrap_or((info, ""));
        if BLOCKS.split(", ").any(|known| known == word) {
            let inner = &body[line_end..inner_end];
            let (attributes, body_at) = (attributes.trim(), offset(text, inner));
            pieces.push(Piece { block: Some(word), attributes, at: fence_at, body: inner, body_at });
        } else {
            let word = word.chars().take(30).collect();
            problems.push(fence_at, ProblemKind::UnknownBlock { word, allowed: BLOCKS });
        }
        at = next;
        prose = next;
    }
    push_prose(&mut pieces, &body[prose..]);
    pieces
}

fn end_of_line(text: &str, at: usize) -> usize {
    text[at..].find('\n').map_or(text.len(), |i| at + i + 1)
}

/// Where the line of the closing fence begins and ends.
fn closing_fence(body: &str, from: usize) -> Option<(usize, usize)> {
    let mut at = from;
    while at < body.len() {
        let next = end_of_line(body, at);
        if body[at..next].trim_end() == "```" {
            return Some((at, next));
        }
        at = next;
    }
    None
}

/// The TOML of a block.
pub(super) fn table<'t>(text: &str, part: &'t str, problems: &mut Problems) -> Option<DeTable<'t>> {
    match DeTable::parse(part) {
        Ok(table) => Some(table.into_inner()),
        Err(error) => {
            let at = offset(text, part) + error.span().map_or(0, |span| span.start);
            problems.push(at, ProblemKind::Toml { message: error.message().replace('\n', " ") });
            None
        }
    }
}
