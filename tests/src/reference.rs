//! Reads a table of `tests/reference/`.
//!
//! A file has a head of `#` lines, then a line of column names, then rows. The tolerance is taken from the head, so a
//! test cannot quietly allow more than its table says.

use std::fs;
use std::path::Path;

/// One table. Every method panics with the name of the file if the table is not as expected: only tests use it.
#[derive(Debug)]
pub struct Table {
    file: String,
    head: Vec<String>,
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of a [`Table`].
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    table: &'a Table,
    cells: &'a [String],
}

impl Table {
    /// Reads `tests/reference/<file>`.
    pub fn read(file: &str) -> Table {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(file);
        let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{file}: {error}"));
        let (head, body): (Vec<&str>, Vec<&str>) = text.lines().partition(|line| line.starts_with('#'));
        let mut lines = body.into_iter().map(cells);
        let columns = lines.next().unwrap_or_else(|| panic!("{file}: no column names"));
        let rows: Vec<_> = lines.collect();
        assert!(!rows.is_empty(), "{file}: no rows");
        for (index, row) in rows.iter().enumerate() {
            assert_eq!(row.len(), columns.len(), "{file}, row {}: cells", index + 1);
        }
        Table { file: file.into(), head: head.into_iter().map(String::from).collect(), columns, rows }
    }

    /// What the head says after `# name: `.
    pub fn head(&self, name: &str) -> &str {
        let start = format!("# {name}: ");
        let line = self.head.iter().find_map(|line| line.strip_prefix(&start));
        line.unwrap_or_else(|| panic!("{}: the head has no `{start}`", self.file))
    }

    /// The relative tolerance of the head: the first number of its line.
    pub fn tolerance(&self) -> f64 {
        self.tolerances()[0]
    }

    /// Every relative tolerance that the head names, in its order.
    pub fn tolerances(&self) -> Vec<f64> {
        let text = self.head("tolerance");
        // A tolerance is written with an exponent, so that neither a year nor a key is taken for one.
        let is_tolerance = |word: &&str| word.contains("e-");
        let found: Vec<f64> = text.split([' ', ';', ',']).filter(is_tolerance).filter_map(|w| w.parse().ok()).collect();
        assert!(!found.is_empty(), "{}: no number in the tolerance `{text}`", self.file);
        found
    }

    /// Every row, in the file's order.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|cells| Row { table: self, cells })
    }

    /// The rows whose column `name` reads `value`: at least one.
    pub fn rows_where<'a>(&'a self, name: &str, value: &str) -> Vec<Row<'a>> {
        let found: Vec<_> = self.rows().filter(|row| row.text(name) == value).collect();
        assert!(!found.is_empty(), "{}: no row with {name} = {value}", self.file);
        found
    }
}

impl<'a> Row<'a> {
    /// The text of a cell.
    pub fn text(&self, column: &str) -> &'a str {
        let index = self.table.columns.iter().position(|name| name == column);
        &self.cells[index.unwrap_or_else(|| panic!("{}: no column `{column}`", self.table.file))]
    }

    /// A cell as a number.
    pub fn get(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{}, `{column}`: `{text}` is not a number", self.table.file))
    }

    /// Fails unless `actual` lies within `tolerance` of the cell, in proportion to it. Where the cell is zero, the tolerance
    /// is absolute.
    #[track_caller]
    pub fn check(&self, column: &str, actual: f64, tolerance: f64) {
        let expected = self.get(column);
        let allowed = tolerance * if expected == 0.0 { 1.0 } else { expected.abs() };
        let difference = actual - expected;
        assert!(
            difference.abs() <= allowed,
            "{}: {column} is {actual}, expected {expected}; off by {difference:e}, allowed {allowed:e}, in row {:?}",
            self.table.file,
            self.cells
        );
    }
}

/// Cells of one line; a quoted cell may hold commas.
fn cells(line: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => found.push(String::new()),
            _ => found.last_mut().expect("never empty").push(letter),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_quoted_cell_keeps_its_commas() {
        assert_eq!(cells("a,\"b, c\",1"), ["a", "b, c", "1"]);
    }

    #[test]
    fn identity_every_table_has_a_whole_head() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference");
        let sources = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("SOURCES.md")).unwrap();
        let mut seen = 0;
        for entry in fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            if !name.ends_with(".csv") {
                continue;
            }
            let table = Table::read(&name);
            for part in ["source", "how", "licence", "tolerance"] {
                assert!(!table.head(part).is_empty(), "{name}: {part}");
            }
            assert!(sources.contains(&format!("`{name}`")), "SOURCES.md does not list {name}");
            seen += 1;
        }
        assert!(seen > 20, "{seen} tables");
    }

    #[test]
    #[should_panic(expected = "off by")]
    fn by_hand_a_value_beyond_the_tolerance_fails() {
        let table = Table::read("ussa1976_atmosphere.csv");
        let row = table.rows().next().unwrap();
        row.check("p_pa", row.get("p_pa") * (1.0 + 2.0 * table.tolerance()), table.tolerance());
    }
}
