//! From the text of a lesson file to a [`Lesson`].
//!
//! Two passes: the first finds the blocks and which states and numbers they name, the second reads expressions and prose,
//! which may then name a pin that is declared further down.

mod fields;
mod layout;
mod questions;
mod states;
mod words;

use crate::expr::{self, Env, Expr, LogNames, OUTCOMES, Scope, ShownProblem, Type};
use crate::lesson::*;
use crate::paths::{self, QUANTITIES, Quantity, RunQuantity};
use crate::problem::{Origin, Place, Problem, ProblemKind, Problems};
use crate::seed::SeedRange;
use crate::text::{self, Inline, MARKS, Prose};
use crate::units::{self, Dim, Family, Measure, Reference, Unit};
use std::cell::RefCell;
use std::collections::BTreeMap;
use toml::de::{DeArray, DeTable, DeValue};
use volute_core::engine;
use volute_core::keys::Key;
use volute_core::point::reading::Outcome;
use volute_core::settings::Ambient;
use words::*;

/// Largest lesson file, in bytes.
pub const LARGEST: usize = 256 * 1024;
/// Most values that a drawn number can have.
const MOST_VALUES: u32 = 1_000_000;

const BLOCKS: &str = "bench, pin, sweep, run, log, stage, predict, task, checkpoint, reveal, safety, transfer, teacher";
/// Blocks whose content is prose; all others are TOML.
const PROSE_BLOCKS: [&str; 2] = ["reveal", "safety"];

/// Reads a lesson file. Errors: every problem found, with its line and column, in the order of the file.
pub fn parse(text: &str) -> Result<Lesson, Vec<Problem>> {
    if text.len() > LARGEST {
        let mut problems = Problems::new("");
        problems.push(0, ProblemKind::TooLarge { bytes: text.len(), most: LARGEST });
        return Err(problems.finish());
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    let mut problems = Problems::new(&text);
    let lesson = read(&text, &mut problems);
    match lesson {
        Some(lesson) if problems.is_empty() => Ok(lesson),
        _ => Err(problems.finish()),
    }
}

/// Whether `id` is small letters, digits and hyphens, beginning with a letter, at most 60.
pub(crate) fn good_id(id: &str) -> bool {
    id.len() <= 60
        && id.starts_with(|c: char| c.is_ascii_lowercase())
        && id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

/// Whether `name` can stand in an expression: small letters, digits and underscores, beginning with a letter, at most 60.
fn good_name(name: &str) -> bool {
    name.len() <= 60
        && name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}

/// A stretch of the file.
struct Piece<'t> {
    /// The word behind the fence; nothing for prose.
    block: Option<&'t str>,
    /// Words behind that.
    attributes: &'t str,
    /// Where the fence or the prose begins.
    at: usize,
    /// What stands inside.
    body: &'t str,
    body_at: usize,
}

fn offset(whole: &str, part: &str) -> usize {
    part.as_ptr() as usize - whole.as_ptr() as usize
}

fn read<'t>(text: &'t str, problems: &mut Problems<'t>) -> Option<Lesson> {
    for (at, c) in text.char_indices() {
        if (c.is_control() && !matches!(c, '\n' | '\t')) || MARKS.contains(&c) {
            problems.push(at, ProblemKind::Character { code: c as u32 });
            return None;
        }
    }
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
    let pieces = pieces(text, &rest[after..], problems);
    let head = table(text, &rest[..front], problems);
    let tables: Vec<Option<DeTable>> = pieces
        .iter()
        .map(|piece| match piece.block {
            Some(block) if !PROSE_BLOCKS.contains(&block) => table(text, piece.body, problems),
            _ => None,
        })
        .collect();
    let head = head?;
    let reader = FileReader { text, problems: RefCell::new(problems) };
    reader.lesson(&head, &pieces, &tables)
}

/// Cuts the body into prose and fenced blocks.
fn pieces<'t>(text: &str, body: &'t str, problems: &mut Problems) -> Vec<Piece<'t>> {
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
        let line_end = body[at..].find('\n').map_or(body.len(), |i| at + i + 1);
        let line = body[at..line_end].trim_end();
        let Some(info) = line.strip_prefix("```") else {
            at = line_end;
            continue;
        };
        push_prose(&mut pieces, &body[prose..at]);
        let info = info.trim();
        let (word, attributes) = info.split_once(char::is_whitespace).unwrap_or((info, ""));
        let fence_at = offset(text, &body[at..]);
        let mut end = line_end;
        let close = loop {
            if end >= body.len() {
                break None;
            }
            let next = body[end..].find('\n').map_or(body.len(), |i| end + i + 1);
            if body[end..next].trim_end() == "```" {
                break Some((end, next));
            }
            end = next;
        };
        let Some((inner_end, next)) = close else {
            problems.push(fence_at, ProblemKind::NotClosed { what: "the block", end: "```" });
            return pieces;
        };
        if !BLOCKS.split(", ").any(|known| known == word) {
            problems
                .push(fence_at, ProblemKind::UnknownBlock { word: word.chars().take(30).collect(), allowed: BLOCKS });
        } else {
            let inner = &body[line_end..inner_end];
            let attributes = attributes.trim();
            pieces.push(Piece {
                block: Some(word),
                attributes,
                at: fence_at,
                body: inner,
                body_at: offset(text, inner),
            });
        }
        at = next;
        prose = next;
    }
    push_prose(&mut pieces, &body[prose..]);
    pieces
}

fn table<'t>(text: &str, part: &'t str, problems: &mut Problems) -> Option<DeTable<'t>> {
    match DeTable::parse(part) {
        Ok(table) => Some(table.into_inner()),
        Err(error) => {
            let at = offset(text, part) + error.span().map_or(0, |span| span.start);
            problems.push(at, ProblemKind::Toml { message: error.message().replace('\n', " ") });
            None
        }
    }
}

/// A text value with the place it has in the file.
#[derive(Clone)]
struct Text {
    value: String,
    origin: Origin,
}

/// One table, and which keys were asked of it: those are the allowed ones.
struct Fields<'f, 't> {
    table: &'f DeTable<'t>,
    /// Of the TOML text within the file.
    base: usize,
    /// The TOML text.
    source: &'f str,
    /// Where the table begins in the file.
    at: usize,
    /// For messages: "the task `raise-boost`".
    block: String,
    asked: RefCell<Vec<&'static str>>,
}

struct FileReader<'a, 't> {
    text: &'t str,
    problems: RefCell<&'a mut Problems<'t>>,
}

impl<'t> FileReader<'_, 't> {
    fn lesson(&self, head: &DeTable<'t>, pieces: &[Piece<'t>], tables: &[Option<DeTable<'t>>]) -> Option<Lesson> {
        let front = &self.text["+++\n".len()..];
        let f = Fields {
            table: head,
            base: "+++\n".len(),
            source: front,
            at: 0,
            block: "the front matter".into(),
            asked: RefCell::default(),
        };
        let empty = Scope::default();
        let seeds = self.seeds(&f);
        let id = self.id(&f, "id");
        let title = self.line(&f, "title", "a title", &empty);
        let course = self.needed(&f, "course", "the course it belongs to: A, B, C or capstone");
        if let Some(course) = &course
            && !COURSES.contains(&course.value.as_str())
        {
            let kind = ProblemKind::NotAllowed {
                key: "course".into(),
                word: course.value.clone(),
                allowed: COURSES.join(", "),
            };
            self.push(course.origin.at, kind);
        }
        let minutes = self.count(&f, "minutes", 1, 180);
        if !head.contains_key("minutes") {
            self.push(
                0,
                ProblemKind::MissingKey { block: f.block.clone(), key: "minutes", about: "how long it takes" },
            );
        }
        let needs = self.texts(&f, "needs", "[\"absolute-first\"]");
        for need in &needs {
            if !good_id(&need.value) {
                self.push(need.origin.at, ProblemKind::BadId { id: need.value.clone() });
            }
        }
        let teaches = self.line(&f, "teaches", "what it teaches, in a sentence", &empty);
        let not_here = self.line(&f, "not_here", "what it leaves out", &empty);
        self.finish(&f);

        // First pass: names.
        // Each kind of block that has a name has names of its own; ids are common to all that have one.
        let mut names: Vec<(&str, String, usize)> = Vec::new();
        let mut scope = Scope { states: vec!["start".to_string()], ..Scope::default() };
        scope.seeds = seeds.iter().map(|range| (range.name.clone(), range.unit)).collect();
        let mut predictions = Vec::new();
        let mut places = BTreeMap::new();
        for (piece, table) in pieces.iter().zip(tables) {
            let Some(block) = piece.block else { continue };
            places.entry(block.to_string()).or_insert_with(|| Place::of(self.text, piece.at));
            let Some(table) = table else { continue };
            let key = if NAMED.contains(&block) { "name" } else { "id" };
            let words = |key: &str| match table.get(key).map(|v| v.get_ref()) {
                Some(DeValue::String(name)) => Some(name.to_string()),
                _ => None,
            };
            let Some(name) = words(key) else { continue };
            let kind = if NAMED.contains(&block) { block } else { "id" };
            if kind == "id" {
                places.insert(name.clone(), Place::of(self.text, piece.at));
            } else {
                places.entry(name.clone()).or_insert_with(|| Place::of(self.text, piece.at));
            }
            names.push((kind, name.clone(), piece.at));
            match block {
                "pin" => scope.states.push(name),
                "predict" => predictions.push(name),
                "sweep" => {
                    let over = words("over").and_then(|over| swept(&over)).map_or(Swept::Vane, |(over, ..)| over);
                    scope.sweeps.push((name, over));
                }
                "run" => scope.runs.push(name),
                "log" => scope.logs.push(log_names(name, table)),
                _ => {}
            }
        }
        let mut seen: Vec<(&str, &str)> = vec![("pin", "start"), ("pin", LIVE)];
        for (kind, name, at) in &names {
            if seen.contains(&(kind, name)) {
                self.push(*at, ProblemKind::Twice { id: name.clone() });
            }
            seen.push((kind, name));
        }

        // Second pass: contents.
        let mut start = None;
        let mut teacher = None;
        let mut pins: Vec<(Pin, usize)> = Vec::new();
        let mut setup = Setup { seeds, ..Setup::default() };
        let mut steps = Vec::new();
        let mut scopes: BTreeMap<String, Scope> = BTreeMap::new();
        for (piece, table) in pieces.iter().zip(tables) {
            let fields = |what: &str| {
                let table = table.as_ref()?;
                let name = ["id", "name"].iter().find_map(|key| match table.get(*key).map(|v| v.get_ref()) {
                    Some(DeValue::String(name)) => Some(format!(" `{name}`")),
                    _ => None,
                });
                let block = format!("the {what}{}", name.unwrap_or_default());
                let asked = RefCell::default();
                Some(Fields { table, base: piece.body_at, source: piece.body, at: piece.at, block, asked })
            };
            let body = Text { value: piece.body.into(), origin: Origin { at: piece.body_at, exact: true } };
            if let Some(block) = piece.block
                && block != "reveal"
                && !piece.attributes.is_empty()
            {
                let word = piece.attributes.chars().take(40).collect();
                let block = BLOCKS.split(", ").find(|known| *known == block).unwrap_or("");
                self.push(piece.at, ProblemKind::UnknownAttribute { block, word, allowed: "nothing" });
            }
            match piece.block {
                None => steps.push(Step::Prose(self.prose(&body, &scope))),
                Some("bench") => {
                    let Some(f) = fields("bench") else { continue };
                    if start.is_some() {
                        self.push(piece.at, ProblemKind::OnlyOnce { what: "a `bench` block" });
                    }
                    start = Some(self.start(&f, &scope, &predictions));
                }
                Some("teacher") => {
                    let Some(f) = fields("teacher block") else { continue };
                    if teacher.is_some() {
                        self.push(piece.at, ProblemKind::OnlyOnce { what: "a `teacher` block" });
                    }
                    teacher = self.teacher(&f, &scope).or(teacher);
                }
                Some("pin") => {
                    let Some(f) = fields("pin") else { continue };
                    let name = self.name(&f, "the name that expressions use, such as `closed` for `pins.closed.boost`");
                    let pin = self.pin(&f, name.clone().unwrap_or_default(), &scope);
                    if name.is_some() {
                        pins.push((pin, piece.at));
                    }
                }
                Some("sweep") => {
                    let Some(f) = fields("sweep") else { continue };
                    let name = self.name(&f, "the name that expressions use, such as `vanes` for `sweeps.vanes.p3`");
                    setup.sweeps.extend(self.sweep(&f, name.unwrap_or_default(), &scope, false));
                    self.finish(&f);
                }
                Some("run") => {
                    let Some(f) = fields("run") else { continue };
                    let name = self.name(&f, "the name that expressions use, such as `slam` for `runs.slam.torque`");
                    setup.runs.extend(self.run(&f, name.unwrap_or_default(), &scope, false));
                    self.finish(&f);
                }
                Some("log") => steps.extend(fields("log").and_then(|f| self.log(&f, &scope)).map(Step::Log)),
                Some("stage") => steps.extend(fields("stage").and_then(|f| self.stage(&f, &scope)).map(Step::Stage)),
                Some("predict") => {
                    let Some((predict, own)) = fields("prediction").and_then(|f| self.predict(&f, &scope)) else {
                        continue;
                    };
                    scopes.insert(predict.id.clone(), own);
                    steps.push(Step::Predict(predict));
                }
                Some("task") => steps.extend(fields("task").and_then(|f| self.task(&f, &scope)).map(Step::Task)),
                Some("checkpoint") => {
                    steps.extend(fields("checkpoint").and_then(|f| self.checkpoint(&f, &scope)).map(Step::Checkpoint));
                }
                Some("transfer") => {
                    steps.extend(fields("transfer").and_then(|f| self.transfer(&f, &scope)).map(Step::Transfer))
                }
                Some("reveal") => {
                    // A reveal sees what its prediction sees.
                    let after = piece.attributes.split_whitespace().find_map(|word| word.strip_prefix("after="));
                    let own = after.and_then(|after| scopes.get(after)).unwrap_or(&scope);
                    steps.extend(self.reveal(piece, &body, own, &predictions).map(Step::Reveal));
                }
                Some(_) => steps.push(Step::Safety(self.prose(&body, &scope))),
            }
        }
        setup.pins = self.in_order(pins, &["start".to_string()]);
        let Some(start) = start else {
            // A block that could not be read has been complained of already.
            if !pieces.iter().any(|piece| piece.block == Some("bench")) {
                self.push(0, ProblemKind::Missing { what: "a `bench` block: how the bench stands at the start" });
            }
            return None;
        };
        Some(Lesson {
            id: id?.0,
            title: title?,
            course: course?.value,
            minutes: minutes?,
            needs: needs.into_iter().map(|need| need.value).collect(),
            teaches: teaches?,
            not_here: not_here?,
            start,
            setup,
            teacher,
            steps,
            places,
        })
    }
}
