//! What a learner did, as a file that goes back to the instructor, and what a class did.
//!
//! A file is JSON that people can read, with a checksum at its end. The checksum shows that a file was damaged on its way or
//! changed by hand without much thought. It proves nothing: the page that writes it belongs to the learner, and so does its
//! answer. Numbers in a file are whole, so that reading and writing them never changes one.
//!
//! Files of strangers are read: everything has a limit, and what is wrong is said with its place.

pub mod class;
pub mod csv;
mod of;
mod read;

use crate::assignment::{self, Assignment};
use crate::fnv::fnv;
use crate::seed::Seed;
use std::fmt::Write;

pub use of::{bare, bare_line};
pub use read::{ReadError, Sealed, read};

/// Largest result file, in bytes. A learner with every lesson and many tries stays below a tenth of it.
pub const LARGEST: usize = 1 << 20;
/// Longest name of a learner, in characters.
pub const LONGEST_NAME: usize = 80;
/// Longest text of any other kind, in characters.
pub const LONGEST_TEXT: usize = 2000;
/// Most lessons in a file.
pub const MOST_LESSONS: usize = 60;
/// Most items of a lesson.
pub const MOST_ITEMS: usize = 100;
/// Most tries that are kept of an item: the last ones.
pub const MOST_TRIES: usize = 60;
/// Most points of a drawn curve.
pub const MOST_POINTS: usize = 101;
/// What the file says it is.
const FORMAT: &str = "volute-result";
/// The version that is written.
const VERSION: u64 = 1;
/// What stands in every file for whoever opens one.
const NOTE: &str = "Written by the learner's own browser. The checksum shows accidents, not honesty.";

/// What a learner did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Report {
    /// As the learner wrote it; may be empty.
    pub learner: String,
    /// What was to be done; nothing for a learner who went through lessons of their own accord.
    pub assignment: Option<Assignment>,
    /// The build of the page.
    pub page: String,
    /// When it was saved, by the learner's clock: `2026-12-01T18:30Z`.
    pub saved: String,
    /// Lessons in the order of the assignment.
    pub lessons: Vec<LessonReport>,
}

/// What a learner did in a lesson.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LessonReport {
    /// Its id.
    pub id: String,
    /// A digest of the text of the lesson: other digest, other questions.
    pub version: String,
    /// Whose numbers: with version and item, it brings any question back as the learner had it.
    pub seed: Seed,
    /// Whether everything that is asked was tried.
    pub complete: bool,
    /// Time spent, in s.
    pub seconds: u32,
    /// What is asked, in order, whether it was tried or not.
    pub items: Vec<ItemReport>,
}

/// What a learner did at one question.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ItemReport {
    /// Its id.
    pub id: String,
    /// What kind it is.
    pub kind: Kind,
    /// Every try, the first one first.
    pub tries: Vec<Try>,
    /// Hints taken.
    pub hints: u32,
    /// Best points, per cent.
    pub points_pct: u32,
    /// Whether it is done: right, locked, written, or out of tries.
    pub done: bool,
    /// How sure the learner was, per cent.
    pub confidence_pct: Option<u32>,
    /// The learner's own words; may be empty.
    pub words: String,
    /// Options picked, or the order of items, by index from 0: of a prediction, or of the last try.
    pub picked: Vec<u32>,
    /// Misconceptions that were met on the way of a task, by index from 0.
    pub wrong_turns: Vec<u32>,
    /// Readings that were uncovered in a task, by the lessons' names.
    pub bought: Vec<String>,
    /// A drawn curve: heights at even distances from left to right, thousandths of the axis, 0 at its lower end.
    pub curve: Vec<i32>,
}

/// One try.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Try {
    /// Which draw of the numbers, from 0.
    pub draw: u32,
    /// The answer, as it was typed or in words.
    pub answer: String,
    /// Whether it passes.
    pub right: bool,
    /// What it earned, per cent.
    pub points_pct: u32,
    /// The misconception or the wrong option behind it, by its index from 0 in the lesson's list.
    pub misconception: Option<u32>,
    /// Time spent on it, in s; nought where that was not measured.
    pub seconds: u32,
}

macro_rules! kinds {
    ($($(#[$mark:meta])? $kind:ident $name:literal $scored:literal $about:literal;)+) => {
        /// What kind of question an item is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub enum Kind {
            $(#[doc = $about] $(#[$mark])? $kind,)+
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &[Kind] = &[$(Kind::$kind),+];

            /// As files write it.
            pub fn name(self) -> &'static str {
                match self { $(Kind::$kind => $name,)+ }
            }

            /// Whether it earns points.
            pub fn is_scored(self) -> bool {
                match self { $(Kind::$kind => $scored,)+ }
            }
        }
    };
}

kinds! {
    #[default] Predict "predict" false "A prediction: kept, never scored.";
    Task "task" true "Bring the bench to a state.";
    Number "number" true "A number with its unit.";
    Choice "choice" true "One of several.";
    Choices "choices" true "All that apply.";
    Order "order" true "Put into order.";
    Sketch "sketch" true "A curve.";
    Words "words" false "Own words for the instructor: kept, never scored.";
    Transfer "transfer" false "The same thought elsewhere, in own words.";
}

impl Kind {
    fn of(name: &str) -> Option<Kind> {
        Kind::ALL.iter().copied().find(|kind| kind.name() == name)
    }
}

/// The digest of a lesson's text: what [`LessonReport::version`] holds.
pub fn version_of(text: &str) -> String {
    format!("{:08x}", fnv(text.bytes()) >> 32)
}

impl ItemReport {
    /// An item that nothing was done at yet.
    pub fn new(id: &str, kind: Kind) -> Self {
        ItemReport { id: id.into(), kind, ..ItemReport::default() }
    }

    /// Notes a try. Points are the best of all; of more than [`MOST_TRIES`] the oldest are dropped.
    pub fn push(&mut self, made: Try) {
        self.points_pct = self.points_pct.max(made.points_pct.min(100));
        if self.tries.len() == MOST_TRIES {
            self.tries.remove(0);
        }
        self.tries.push(made);
    }

    /// Whether any try was right; a task has no tries, only an end.
    pub fn is_right(&self) -> bool {
        self.tries.iter().any(|made| made.right) || (self.kind == Kind::Task && self.done)
    }

    /// Whether the first try was right; for a task, whether it was done without a wrong turn that is known.
    pub fn is_right_at_once(&self) -> bool {
        let task = self.kind == Kind::Task && self.done && self.wrong_turns.is_empty();
        task || self.tries.first().is_some_and(|made| made.right)
    }

    /// Whether anything was done here.
    pub fn is_tried(&self) -> bool {
        let kept = self.picked.len() + self.curve.len() + self.wrong_turns.len() + self.bought.len();
        self.done || !self.tries.is_empty() || !self.words.is_empty() || kept > 0
    }

    /// Misconceptions that showed in any try or on the way, each once.
    pub fn misconceptions(&self) -> Vec<u32> {
        let mut found: Vec<u32> = self.tries.iter().filter_map(|made| made.misconception).collect();
        found.extend(&self.wrong_turns);
        found.sort_unstable();
        found.dedup();
        found
    }
}

impl Report {
    /// Share of the points, per cent: the mean over everything that is scored, what was not tried counting nothing.
    /// Nothing when nothing is scored.
    pub fn points_pct(&self) -> Option<u32> {
        let points: Vec<u32> = self.scored().map(|(_, item)| item.points_pct).collect();
        let count = u32::try_from(points.len()).ok().filter(|n| *n > 0)?;
        Some((points.iter().sum::<u32>() + count / 2) / count)
    }

    /// Everything that is scored, with its lesson.
    pub fn scored(&self) -> impl Iterator<Item = (&LessonReport, &ItemReport)> {
        self.items().filter(|(_, item)| item.kind.is_scored())
    }

    /// Every item, with its lesson.
    pub fn items(&self) -> impl Iterator<Item = (&LessonReport, &ItemReport)> {
        self.lessons.iter().flat_map(|lesson| lesson.items.iter().map(move |item| (lesson, item)))
    }

    /// Whether the pass mark is reached; nothing when nothing is scored.
    pub fn passed(&self) -> Option<bool> {
        let pass = self.assignment.as_ref().map_or(assignment::USUAL_PASS_PCT, |a| a.pass_pct);
        self.points_pct().map(|points| pass <= points)
    }

    /// Time spent, in s.
    pub fn seconds(&self) -> u32 {
        self.lessons.iter().fold(0_u32, |sum, lesson| sum.saturating_add(lesson.seconds))
    }

    /// Cuts texts to what a file may hold. Called by [`Report::json`], so that whatever is written can be read.
    fn within_limits(&self) -> Report {
        let mut own = self.clone();
        own.learner = cut(&own.learner, LONGEST_NAME);
        for text in [&mut own.page, &mut own.saved] {
            *text = cut(text, 80);
        }
        own.lessons.truncate(MOST_LESSONS);
        for lesson in &mut own.lessons {
            lesson.items.truncate(MOST_ITEMS);
            for item in &mut lesson.items {
                item.words = cut(&item.words, LONGEST_TEXT);
                item.picked.truncate(MOST_POINTS);
                item.curve.truncate(MOST_POINTS);
                item.wrong_turns.truncate(MOST_POINTS);
                item.bought.truncate(MOST_POINTS);
                item.points_pct = item.points_pct.min(100);
                item.confidence_pct = item.confidence_pct.map(|pct| pct.min(100));
                for made in &mut item.tries {
                    made.answer = cut(&made.answer, LONGEST_TEXT);
                    made.points_pct = made.points_pct.min(100);
                }
            }
        }
        own
    }

    /// The file.
    pub fn json(&self) -> String {
        let own = self.within_limits();
        let body = own.body();
        let mut out = body.clone();
        // The checksum is the last key of the outermost object.
        out.truncate(out.trim_end_matches(['\n', '}']).len());
        // Writing to a string does not fail.
        let _ = writeln!(out, ",\n  \"checksum\": \"{}\"\n}}", sum_of(&body));
        out
    }

    /// The file without its checksum: from this the checksum is made, whatever spaces a mail program left in it.
    fn body(&self) -> String {
        let mut w = Json::default();
        w.open("", '{');
        w.text("format", FORMAT);
        w.plain("version", VERSION);
        w.text("note", NOTE);
        w.text("learner", &self.learner);
        if let Some(assignment) = &self.assignment {
            w.text("assignment", &assignment.encode());
        }
        w.text("page", &self.page);
        w.text("saved", &self.saved);
        w.open("lessons", '[');
        for lesson in &self.lessons {
            w.open("", '{');
            w.text("id", &lesson.id);
            w.text("lesson_version", &lesson.version);
            // As a text: other readers of JSON round numbers of this size.
            w.text("seed", &lesson.seed.0.to_string());
            w.plain("complete", lesson.complete);
            w.plain("seconds", lesson.seconds);
            w.open("items", '[');
            lesson.items.iter().for_each(|item| item.write(&mut w));
            w.close(']');
            w.close('}');
        }
        w.close(']');
        w.close('}');
        w.out.push('\n');
        w.out
    }

    /// What the file's checksum ought to be.
    fn checksum(&self) -> String {
        sum_of(&self.body())
    }
}

fn sum_of(body: &str) -> String {
    format!("fnv1a64:{:016x}", fnv(body.bytes()))
}

impl ItemReport {
    fn write(&self, w: &mut Json) {
        w.open("", '{');
        w.text("id", &self.id);
        w.text("kind", self.kind.name());
        w.plain("points_pct", self.points_pct);
        w.plain("done", self.done);
        w.plain("hints", self.hints);
        if let Some(pct) = self.confidence_pct {
            w.plain("confidence_pct", pct);
        }
        if !self.words.is_empty() {
            w.text("words", &self.words);
        }
        if !self.picked.is_empty() {
            w.list("picked", &self.picked);
        }
        if !self.curve.is_empty() {
            w.list("curve", &self.curve);
        }
        if !self.wrong_turns.is_empty() {
            w.list("wrong_turns", &self.wrong_turns);
        }
        if !self.bought.is_empty() {
            w.text("bought", &self.bought.join(" "));
        }
        w.open("tries", '[');
        for made in &self.tries {
            w.open("", '{');
            w.plain("draw", made.draw);
            w.text("answer", &made.answer);
            w.plain("right", made.right);
            w.plain("points_pct", made.points_pct);
            if let Some(misconception) = made.misconception {
                w.plain("misconception", misconception);
            }
            if made.seconds > 0 {
                w.plain("seconds", made.seconds);
            }
            w.close('}');
        }
        w.close(']');
        w.close('}');
    }
}

/// The first `most` characters, without those that [`read`] refuses.
fn cut(text: &str, most: usize) -> String {
    text.chars().filter(|c| !is_refused(*c)).take(most).collect()
}

/// Control characters, and marks that turn the writing about: with them a line could say something else than it holds.
fn is_refused(c: char) -> bool {
    (c.is_control() && c != '\n' && c != '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Writes JSON with one key a line.
#[derive(Default)]
struct Json {
    out: String,
    depth: usize,
    first: bool,
}

impl Json {
    fn key(&mut self, name: &str) {
        if self.depth > 0 {
            self.out.push_str(if self.first { "\n" } else { ",\n" });
            self.out.extend(std::iter::repeat_n("  ", self.depth));
        }
        self.first = false;
        if !name.is_empty() {
            quote(&mut self.out, name);
            self.out.push_str(": ");
        }
    }

    fn open(&mut self, name: &str, bracket: char) {
        self.key(name);
        self.out.push(bracket);
        self.depth += 1;
        self.first = true;
    }

    fn close(&mut self, bracket: char) {
        self.depth = self.depth.saturating_sub(1);
        if !self.first {
            self.out.push('\n');
            self.out.extend(std::iter::repeat_n("  ", self.depth));
        }
        self.first = false;
        self.out.push(bracket);
    }

    fn text(&mut self, name: &str, value: &str) {
        self.key(name);
        quote(&mut self.out, value);
    }

    fn plain(&mut self, name: &str, value: impl std::fmt::Display) {
        self.key(name);
        // Writing to a string does not fail.
        let _ = write!(self.out, "{value}");
    }

    fn list(&mut self, name: &str, values: &[impl std::fmt::Display]) {
        self.key(name);
        let values: Vec<String> = values.iter().map(ToString::to_string).collect();
        let _ = write!(self.out, "[{}]", values.join(", "));
    }
}

/// A JSON string. `<` is escaped as well, so that a file can stand inside a page without ending its script.
fn quote(out: &mut String, text: &str) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '<' | '\u{7f}' | '\u{2028}' | '\u{2029}' => {
                let _ = write!(out, "\\u{:04x}", u32::from(c));
            }
            c if c < ' ' => {
                let _ = write!(out, "\\u{:04x}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
}
