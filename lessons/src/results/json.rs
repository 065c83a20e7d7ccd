//! Writes a report as JSON, with a checksum at its end.
//!
//! The writer is our own because the checksum is made from these very bytes: one key a line, lists of numbers in one line, these
//! escapes and no others. Files that learners have kept must stay intact, whatever a library changes in its way of writing.

use super::report::{ItemReport, Report};
use crate::fnv::fnv;
use std::fmt::Write;

/// Largest result file, in bytes. A learner with every lesson and many tries stays below a tenth of it.
pub const LARGEST: usize = 1 << 20;

/// What the file says it is.
pub(super) const FORMAT: &str = "volute-result";

/// The version that is written.
pub(super) const VERSION: u64 = 1;

/// What stands in every file for whoever opens one.
pub(super) const NOTE: &str = "Written by the learner's own browser. The checksum shows accidents, not honesty.";

impl Report {
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
    pub(super) fn checksum(&self) -> String {
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
