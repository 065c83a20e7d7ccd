//! Results as tables for spreadsheets.
//!
//! Text is always in quotes, and text that a spreadsheet would take for a formula begins with an apostrophe (OWASP, CSV
//! injection): names and answers come from strangers. Our own numbers are whole and stay bare.

use super::{Report, class::Class};
use crate::units::Decimal;

/// Name of the first column of the table of answers; a file that begins with it is such a table.
pub(super) const FIRST_COLUMN: &str = "learner";

/// A table that is being written.
pub struct Table {
    out: String,
    separator: char,
    fresh: bool,
}

impl Table {
    /// An empty table. Spreadsheets that write a decimal comma expect semicolons between cells.
    pub fn new(decimal: Decimal) -> Self {
        let separator = if decimal == Decimal::Comma { ';' } else { ',' };
        Table { out: String::new(), separator, fresh: true }
    }

    fn cell(&mut self) {
        if !self.fresh {
            self.out.push(self.separator);
        }
        self.fresh = false;
    }

    /// A text: in quotes, and never a formula.
    pub fn text(&mut self, text: &str) -> &mut Self {
        self.cell();
        self.out.push('"');
        self.out.push_str(&guarded(text).replace('"', "\"\""));
        self.out.push('"');
        self
    }

    /// A whole number of ours.
    pub fn number(&mut self, number: impl Into<i64>) -> &mut Self {
        self.cell();
        self.out.push_str(&number.into().to_string());
        self
    }

    /// A number if there is one.
    pub fn maybe(&mut self, number: Option<impl Into<i64>>) -> &mut Self {
        match number {
            Some(number) => self.number(number),
            None => {
                self.cell();
                self
            }
        }
    }

    /// Cells with nothing in them.
    pub fn blank(&mut self, cells: usize) {
        (0..cells).for_each(|_| self.cell());
    }

    /// Ends the line.
    pub fn end(&mut self) {
        self.out.push_str("\r\n");
        self.fresh = true;
    }

    /// A line of headings, which are ours and plain.
    pub fn head(&mut self, names: &[&str]) {
        for name in names {
            self.cell();
            self.out.push_str(name);
        }
        self.end();
    }

    /// The table, with the mark that tells spreadsheets that it is UTF-8.
    pub fn finish(self) -> String {
        format!("\u{feff}{}", self.out)
    }
}

/// The text with an apostrophe ahead of it where a spreadsheet would calculate.
fn guarded(text: &str) -> String {
    // Some skip what comes before; some take the full-width signs as well.
    let first = text.trim_start_matches([' ', '\u{a0}', '\u{3000}', '\u{200b}', '\u{feff}']).chars().next();
    let live = text.starts_with(['\t', '\r', '\n', '\0'])
        || matches!(first, Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠' | '\u{2212}'));
    if live { format!("'{text}") } else { text.into() }
}

const ANSWERS: [&str; 20] = [
    FIRST_COLUMN,
    "file",
    "assignment",
    "saved",
    "lesson",
    "lesson_version",
    "variant",
    "lesson_seconds",
    "item",
    "kind",
    "item_points_pct",
    "done",
    "hints",
    "confidence_pct",
    "words",
    "try",
    "draw",
    "answer",
    "right",
    "points_pct",
];

/// One line for each try of each learner (one line for what was not tried), counting from 1 as people do.
pub fn answers<'r>(reports: impl IntoIterator<Item = (&'r str, &'r Report)>, decimal: Decimal) -> String {
    let mut table = Table::new(decimal);
    table.head(&[&ANSWERS[..], &["misconception", "wrong_turns", "uncovered", "picked", "curve_permille"]].concat());
    for (file, report) in reports {
        let assignment = report.assignment.as_ref().map_or(String::new(), |a| format!("{} {}", a.digest(), a.title));
        for (lesson, item) in report.items() {
            let blank = [None];
            let tries: Vec<Option<(usize, &super::Try)>> = item.tries.iter().enumerate().map(Some).collect();
            for made in if tries.is_empty() { &blank[..] } else { &tries[..] } {
                table.text(&report.learner).text(file).text(assignment.trim_end()).text(&report.saved);
                table.text(&lesson.id).text(&lesson.version).text(&lesson.seed.0.to_string());
                table.number(lesson.seconds).text(&item.id).text(item.kind.name());
                table.number(item.points_pct).number(i32::from(item.done)).number(item.hints);
                table.maybe(item.confidence_pct).text(&item.words);
                match made {
                    Some((i, made)) => {
                        table.number(*i as i64 + 1).number(made.draw).text(&made.answer).number(i32::from(made.right));
                        table.number(made.points_pct).maybe(made.misconception.map(|m| m + 1));
                    }
                    None => table.blank(6),
                }
                let turns: Vec<u32> = item.wrong_turns.iter().map(|m| m + 1).collect();
                table
                    .text(&spaced(&turns))
                    .text(&item.bought.join(" "))
                    .text(&spaced(&item.picked))
                    .text(&spaced(&item.curve));
                table.end();
            }
        }
    }
    table.finish()
}

fn spaced(list: &[impl ToString]) -> String {
    list.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

/// One line for each learner: points, time, and the points of every scored item.
pub fn class(class: &Class, decimal: Decimal) -> String {
    let mut table = Table::new(decimal);
    table.head(&["learner", "file", "intact", "assignment", "saved", "points_pct", "passed", "minutes"]);
    let columns = class.columns();
    let len = table.out.len();
    table.out.truncate(len - 2);
    table.fresh = false;
    for column in &columns {
        table.text(&format!("{}/{}", column.lesson, column.item));
    }
    table.end();
    for entry in class.entries() {
        let report = &entry.report;
        table.text(&report.learner).text(&entry.file).number(i32::from(entry.intact));
        table.text(&report.assignment.as_ref().map_or(String::new(), |a| a.digest())).text(&report.saved);
        table.maybe(report.points_pct()).maybe(report.passed().map(i32::from));
        table.number(i64::from(report.seconds()).div_euclid(60));
        for column in &columns {
            table.maybe(column.of(report).filter(|item| item.is_tried()).map(|item| item.points_pct));
        }
        table.end();
    }
    table.finish()
}
