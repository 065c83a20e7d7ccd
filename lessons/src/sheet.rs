//! A test sheet: columns with the units that they claim, and rows as they were written down.

use crate::csv::Table;
use crate::units::{self, Decimal, Measure, Style};

/// A test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LogSheet {
    /// Its columns.
    pub columns: Vec<LogColumn>,
    /// Its rows, SI by the unit that the sheet claims, rounded to what it writes down.
    pub rows: Vec<Vec<f64>>,
}

/// A column of a test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LogColumn {
    /// Its name in expressions.
    pub name: String,
    /// Its heading.
    pub heading: String,
    /// The unit that it claims.
    pub measure: Measure,
    /// Decimals that are written down.
    pub decimals: u8,
    /// Whether it is a temperature and not a difference of two.
    pub point: bool,
}

impl LogColumn {
    /// The value as the sheet writes it down, in SI again.
    pub(crate) fn written(&self, si: f64) -> f64 {
        let unit = self.measure.unit;
        let value = self.in_unit(si);
        let text = format!("{value:.*}", usize::from(self.decimals));
        let value: f64 = text.parse().unwrap_or(value);
        if self.point { unit.to_si(value) } else { unit.difference_to_si(value) }
    }

    /// A value of a row in the unit that the sheet claims.
    pub fn in_unit(&self, si: f64) -> f64 {
        let unit = self.measure.unit;
        if self.point { unit.of_si(si) } else { unit.difference_of_si(si) }
    }
}

impl LogSheet {
    /// The column of a name, from 0.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name == name)
    }

    /// As a table of texts: headings with their units, then the rows.
    pub fn table(&self, style: Style) -> (Vec<String>, Vec<Vec<String>>) {
        let heads = self.columns.iter().map(|column| {
            let unit = column.measure.text(style);
            if unit.is_empty() { column.heading.clone() } else { format!("{} [{unit}]", column.heading) }
        });
        let row = |row: &Vec<f64>| {
            let cells = row.iter().zip(&self.columns);
            cells.map(|(si, column)| units::number(column.in_unit(*si), column.decimals, style.decimal)).collect()
        };
        (heads.collect(), self.rows.iter().map(row).collect())
    }

    /// As CSV: a row of headings, a row of units, then numbers. With a decimal comma, semicolons stand between the fields.
    pub fn csv(&self, decimal: Decimal) -> String {
        let mut table = Table::new(decimal);
        self.columns.iter().for_each(|column| _ = table.text(&column.heading));
        table.end();
        self.columns.iter().for_each(|column| _ = table.text(&column.measure.to_string()));
        table.end();
        for row in &self.rows {
            for (si, column) in row.iter().zip(&self.columns) {
                table.fixed(column.in_unit(*si), column.decimals);
            }
            table.end();
        }
        table.finish()
    }
}
