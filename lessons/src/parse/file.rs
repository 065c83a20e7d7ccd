//! From the text of a lesson file to a [`Lesson`].
//!
//! Two passes. The first finds the blocks and which states and numbers they name. The second reads expressions and prose,
//! which may then name a pin that is declared further down.

use super::fields::{Fields, FileReader, Text};
use super::pieces::{BLOCKS, NAMED, PROSE_BLOCKS, Piece, front_matter, pieces, table};
use super::words::{COURSES, log_names, swept};
use crate::curves::Swept;
use crate::expr::Scope;
use crate::ids::good_id;
use crate::lesson::{LIVE, Lesson, Pin, Setup, Start, Step, Teacher};
use crate::problem::{Origin, Position, Problem, ProblemKind, Problems};
use crate::seed::SeedRange;
use crate::text::Inline;
use std::cell::RefCell;
use std::collections::BTreeMap;
use toml::de::{DeTable, DeValue};

/// Largest lesson file, in bytes.
pub const LARGEST: usize = 256 * 1024;

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

fn read<'t>(text: &'t str, problems: &mut Problems<'t>) -> Option<Lesson> {
    // Control characters and those without a meaning of their own would be shown differently everywhere.
    let refused = |c: char| (c.is_control() && !matches!(c, '\n' | '\t')) || ('\u{e000}'..='\u{f8ff}').contains(&c);
    if let Some((at, c)) = text.char_indices().find(|(_, c)| refused(*c)) {
        problems.push(at, ProblemKind::Character { code: c as u32 });
        return None;
    }
    let (front, body) = front_matter(text, problems)?;
    let pieces = pieces(text, body, problems);
    let head = table(text, front, problems);
    let blocks: Vec<Block> = pieces
        .into_iter()
        .map(|piece| {
            let toml = piece.block.is_some_and(|block| !PROSE_BLOCKS.contains(&block));
            let table = if toml { table(text, piece.body, problems) } else { None };
            Block { piece, table }
        })
        .collect();
    FileReader { text, problems: RefCell::new(problems) }.lesson(&head?, &blocks)
}

/// A stretch of the file, and its TOML if it is a block that has some.
struct Block<'t> {
    piece: Piece<'t>,
    table: Option<DeTable<'t>>,
}

impl Block<'_> {
    /// The word behind the fence; nothing for prose.
    fn word(&self) -> Option<&str> {
        self.piece.block
    }

    /// The text of a key.
    fn text(&self, key: &str) -> Option<String> {
        match self.table.as_ref()?.get(key)?.get_ref() {
            DeValue::String(text) => Some(text.to_string()),
            _ => None,
        }
    }
}

/// What the front matter says.
struct Front {
    id: String,
    title: Vec<Inline>,
    course: String,
    minutes: u32,
    needs: Vec<String>,
    teaches: Vec<Inline>,
    not_here: Vec<Inline>,
}

/// What the blocks name.
struct Names {
    scope: Scope,
    predictions: Vec<String>,
    places: BTreeMap<String, Position>,
}

/// What the blocks hold.
#[derive(Default)]
struct Contents {
    start: Option<Start>,
    teacher: Option<Teacher>,
    pins: Vec<(Pin, usize)>,
    setup: Setup,
    steps: Vec<Step>,
    /// What the reveal of each prediction may name.
    scopes: BTreeMap<String, Scope>,
}

impl<'t> FileReader<'_, 't> {
    fn lesson(&self, head: &DeTable<'t>, blocks: &[Block<'t>]) -> Option<Lesson> {
        let (seeds, front) = self.front(head);
        let names = self.names(blocks, &seeds);
        let mut contents = Contents { setup: Setup { seeds, ..Setup::default() }, ..Contents::default() };
        for block in blocks {
            self.block(block, &names, &mut contents);
        }
        let Contents { start, teacher, pins, mut setup, steps, .. } = contents;
        setup.pins = self.in_order(pins, &["start".to_string()]);
        // A block that could not be read has been reported already.
        if start.is_none() && !blocks.iter().any(|block| block.word() == Some("bench")) {
            self.push(0, ProblemKind::Missing { what: "a `bench` block: how the bench stands at the start" });
        }
        let Front { id, title, course, minutes, needs, teaches, not_here } = front?;
        let (start, places) = (start?, names.places);
        Some(Lesson { id, title, course, minutes, needs, teaches, not_here, start, setup, teacher, steps, places })
    }

    fn front(&self, head: &DeTable<'t>) -> (Vec<SeedRange>, Option<Front>) {
        let base = "+++\n".len();
        let (source, block, asked) = (&self.text[base..], "the front matter".into(), RefCell::default());
        let f = Fields { table: head, base, source, at: 0, block, asked };
        let empty = Scope::default();
        let seeds = self.seeds(&f);
        let id = self.id(&f, "id");
        let title = self.line(&f, "title", "a title", &empty);
        let course = self.needed(&f, "course", "the course it belongs to: A, B, C or capstone");
        if let Some(course) = &course
            && !COURSES.contains(&course.value.as_str())
        {
            self.not_allowed(course.origin.at, "course", course.value.clone(), COURSES.join(", "));
        }
        let minutes = self.count(&f, "minutes", 1, 180);
        if !f.has("minutes") {
            self.missing(&f, "minutes", "how long it takes");
        }
        let needs = self.texts(&f, "needs", "[\"absolute-first\"]");
        for need in needs.iter().filter(|need| !good_id(&need.value)) {
            self.push(need.origin.at, ProblemKind::BadId { id: need.value.clone() });
        }
        let teaches = self.line(&f, "teaches", "what it teaches, in a sentence", &empty);
        let not_here = self.line(&f, "not_here", "what it leaves out", &empty);
        self.finish(&f);
        let needs = needs.into_iter().map(|need| need.value).collect();
        let front = || {
            let (id, course) = (id?.0, course?.value);
            Some(Front { id, title: title?, course, minutes: minutes?, needs, teaches: teaches?, not_here: not_here? })
        };
        (seeds, front())
    }

    /// The first pass: what the blocks are called. Ids are common to all blocks that have one; pins, sweeps, runs, test sheets
    /// and stages have names of their own.
    fn names(&self, blocks: &[Block<'t>], seeds: &[SeedRange]) -> Names {
        let seeds = seeds.iter().map(|range| (range.name.clone(), range.unit)).collect();
        let mut scope = Scope { states: vec!["start".into()], seeds, ..Scope::default() };
        let (mut predictions, mut places) = (Vec::new(), BTreeMap::new());
        let mut seen = vec![("pin", "start".to_string()), ("pin", LIVE.to_string())];
        for block in blocks {
            let Some(word) = block.word() else { continue };
            let at = block.piece.at;
            places.entry(word.to_string()).or_insert_with(|| Position::of(self.text, at));
            let (key, kind) = if NAMED.contains(&word) { ("name", word) } else { ("id", "id") };
            let (Some(name), Some(table)) = (block.text(key), &block.table) else { continue };
            if kind == "id" {
                places.insert(name.clone(), Position::of(self.text, at));
            } else {
                places.entry(name.clone()).or_insert_with(|| Position::of(self.text, at));
            }
            if seen.contains(&(kind, name.clone())) {
                self.push(at, ProblemKind::Twice { id: name.clone() });
            }
            seen.push((kind, name.clone()));
            match word {
                "pin" => scope.states.push(name),
                "predict" => predictions.push(name),
                "sweep" => {
                    let over = block.text("over").and_then(|over| swept(&over)).map_or(Swept::Vane, |(over, ..)| over);
                    scope.sweeps.push((name, over));
                }
                "run" => scope.runs.push(name),
                "log" => scope.logs.push(log_names(name, table)),
                _ => {}
            }
        }
        Names { scope, predictions, places }
    }

    /// The second pass: what a block holds.
    fn block(&self, block: &Block<'t>, names: &Names, into: &mut Contents) {
        let piece = &block.piece;
        let body = Text { value: piece.body.into(), origin: Origin { at: piece.body_at, exact: true } };
        let Some(word) = block.word() else { return into.steps.push(Step::Prose(self.prose(&body, &names.scope))) };
        if word != "reveal" && !piece.attributes.is_empty() {
            let unexpected = piece.attributes.chars().take(40).collect();
            let block = BLOCKS.split(", ").find(|known| *known == word).unwrap_or("");
            self.push(piece.at, ProblemKind::UnknownAttribute { block, word: unexpected, allowed: "nothing" });
        }
        match word {
            "safety" => into.steps.push(Step::Safety(self.prose(&body, &names.scope))),
            "reveal" => {
                // A reveal sees what its prediction sees.
                let after = piece.attributes.split_whitespace().find_map(|word| word.strip_prefix("after="));
                let scope = after.and_then(|after| into.scopes.get(after)).unwrap_or(&names.scope);
                let reveal = self.reveal(piece, &body, scope, &names.predictions);
                into.steps.extend(reveal.map(Step::Reveal));
            }
            _ => {
                let Some(table) = &block.table else { return };
                let called = ["id", "name"].iter().find_map(|key| block.text(key)).map(|name| format!(" `{name}`"));
                let what = match word {
                    "predict" => "prediction",
                    "teacher" => "teacher block",
                    word => word,
                };
                let (block, asked) = (format!("the {what}{}", called.unwrap_or_default()), RefCell::default());
                let f = Fields { table, base: piece.body_at, source: piece.body, at: piece.at, block, asked };
                if !self.declaration(word, &f, names, into) {
                    self.step(word, &f, &names.scope, into);
                }
            }
        }
    }

    /// Reads a block that stands for the whole lesson; false if it is none.
    fn declaration(&self, word: &str, f: &Fields<'_, 't>, names: &Names, into: &mut Contents) -> bool {
        let scope = &names.scope;
        match word {
            "bench" => {
                if into.start.is_some() {
                    self.push(f.at, ProblemKind::OnlyOnce { what: "a `bench` block" });
                }
                into.start = Some(self.start(f, scope, &names.predictions));
            }
            "teacher" => {
                if into.teacher.is_some() {
                    self.push(f.at, ProblemKind::OnlyOnce { what: "a `teacher` block" });
                }
                into.teacher = self.teacher(f, scope).or(into.teacher.take());
            }
            "pin" => {
                let name = self.name(f, "the name that expressions use, such as `closed` for `pins.closed.boost`");
                let pin = self.pin(f, name.clone().unwrap_or_default(), scope);
                into.pins.extend(name.map(|_| (pin, f.at)));
            }
            "sweep" => {
                let name = self.name(f, "the name that expressions use, such as `vanes` for `sweeps.vanes.p3`");
                into.setup.sweeps.extend(self.sweep(f, name.unwrap_or_default(), scope, false));
                self.finish(f);
            }
            "run" => {
                let name = self.name(f, "the name that expressions use, such as `slam` for `runs.slam.torque`");
                into.setup.runs.extend(self.run(f, name.unwrap_or_default(), scope, false));
                self.finish(f);
            }
            _ => return false,
        }
        true
    }

    /// Reads a block that stands on the page.
    fn step(&self, word: &str, f: &Fields<'_, 't>, scope: &Scope, into: &mut Contents) {
        let step = match word {
            "log" => self.log(f, scope).map(Step::Log),
            "stage" => self.stage(f, scope).map(Step::Stage),
            "task" => self.task(f, scope).map(Step::Task),
            "checkpoint" => self.checkpoint(f, scope).map(Step::Checkpoint),
            "transfer" => self.transfer(f, scope).map(Step::Transfer),
            _ => self.predict(f, scope).map(|(predict, own)| {
                into.scopes.insert(predict.id.clone(), own);
                Step::Predict(predict)
            }),
        };
        into.steps.extend(step);
    }
}
