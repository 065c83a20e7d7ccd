//! A chart as a table and as a CSV file: the only writer of CSV for what the page draws.

use super::chart::{Chart, Panel, Series};
use crate::language::{decimal, t};
use crate::units::{self, number};

impl Chart {
    /// The chart as a table: a column for each line where all share the axis, else one row for each point.
    pub fn table(&self) -> (Vec<String>, Vec<Vec<String>>) {
        let lines: Vec<(&Panel, &Series)> =
            self.panels.iter().flat_map(|p| p.series.iter().map(move |s| (p, s))).collect();
        let along = |s: &Series| s.points().map(|at| at.0).collect::<Vec<_>>();
        let Some(first) = lines.iter().max_by_key(|(_, s)| s.points().count()) else { return (Vec::new(), Vec::new()) };
        let shared = along(first.1);
        let x_text = |v: f64| number(v, self.x.decimals);
        if lines.iter().all(|(_, s)| along(s) == shared) {
            let mut columns = vec![self.x.label()];
            columns.extend(lines.iter().map(|(p, s)| {
                let unit = if p.y.unit.is_empty() { String::new() } else { format!(", {}", p.y.unit) };
                format!("{}{unit}", s.name)
            }));
            let rows = shared.iter().enumerate().map(|(i, x)| {
                let mut row = vec![x_text(*x)];
                row.extend(
                    lines.iter().map(|(p, s)| s.points().nth(i).map_or(String::new(), |at| number(at.1, p.y.decimals))),
                );
                row
            });
            return (columns, rows.collect());
        }
        let y_labels: Vec<String> = self.panels.iter().map(|p| p.y.label()).collect();
        let columns = vec![t("line").into(), self.x.label(), y_labels.join("; ")];
        let rows = lines.iter().flat_map(|(p, s)| {
            s.points().map(move |at| vec![s.name.clone(), x_text(at.0), number(at.1, p.y.decimals)])
        });
        (columns, rows.collect())
    }

    /// The chart as CSV (RFC 4180) with full numbers: line, along, value. Where the decimal mark is a comma, spreadsheets expect
    /// it in files too, and a semicolon between the cells.
    pub fn csv(&self) -> String {
        let mut out = String::new();
        let full = |value: f64| value.to_string().replace('.', decimal().encode_utf8(&mut [0; 4]));
        let mut row = |cells: &[String]| {
            let cells: Vec<String> = cells.iter().map(|c| csv_cell(c)).collect();
            out.push_str(&cells.join(if decimal() == ',' { ";" } else { "," }));
            out.push_str("\r\n");
        };
        row(&[t("line").into(), self.x.label(), t("quantity").into(), t("value").into()]);
        for panel in &self.panels {
            for series in &panel.series {
                for at in series.points() {
                    row(&[series.name.clone(), full(at.0), panel.y.label(), full(at.1)]);
                }
            }
        }
        out
    }
}

/// A cell of CSV: quoted where it must be, and no spreadsheet takes it for a formula.
fn csv_cell(text: &str) -> String {
    let is_number = units::parse(&text.replacen(',', ".", 1)).is_some();
    let text =
        if !is_number && text.starts_with(['=', '+', '-', '@', '\t']) { format!("'{text}") } else { text.into() };
    let between = if decimal() == ',' { ';' } else { ',' };
    if text.contains([between, '"', '\n', '\r']) || (!is_number && text.contains([',', ';'])) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::chart;

    #[test]
    fn identity_table_plot_and_file_say_the_same() {
        let chart = chart();
        let (columns, rows) = chart.table();
        assert_eq!(columns, ["vane position, % open", "p2, kPa abs", "p3, kPa abs"]);
        assert_eq!((rows.len(), rows[3].as_slice()), (11, ["30", "160", "240"].map(String::from).as_slice()));
        let csv = chart.csv();
        assert!(csv.contains("\r\np3,30,\"pressure, kPa abs\",240\r\n"), "{csv}");
    }

    #[test]
    fn by_hand_a_cell_is_no_formula() {
        assert_eq!(csv_cell("=1+1"), "'=1+1");
        assert_eq!(csv_cell("-5"), "-5");
        assert_eq!(csv_cell("a,\"b\""), "\"a,\"\"b\"\"\"");
    }
}
