//! Writes tables for spreadsheets (RFC 4180, or semicolons where a decimal comma is written).
//!
//! Text is always in quotes, and text that a spreadsheet would take for a formula begins with an apostrophe (OWASP, CSV
//! injection): names, answers and headings come from strangers. Our own numbers need no quotes.
//!
//! The writer is our own because of that guard, and because the crate `csv` brings a reader along that the page never calls.

use crate::units::Decimal;

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

    /// A number of ours with this many decimals, with the decimal sign of the table.
    pub fn fixed(&mut self, number: f64, decimals: u8) -> &mut Self {
        self.cell();
        let text = format!("{number:.*}", usize::from(decimals));
        self.out.push_str(&if self.separator == ';' { text.replace('.', ",") } else { text });
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

    /// Headings, which are ours and need no quotes.
    pub fn head(&mut self, names: &[&str]) -> &mut Self {
        for name in names {
            self.cell();
            self.out.push_str(name);
        }
        self
    }

    /// The table.
    pub fn finish(self) -> String {
        self.out
    }

    /// The table, with the mark that tells spreadsheets that it is UTF-8.
    pub fn marked(self) -> String {
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
