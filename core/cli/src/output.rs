//! Answers for programs: JSON, and comma-separated values (CSV).

use crate::Failure;
use serde::Serialize;
use serde_json::Value;
use std::io::{self, Write};

/// A row of CSV: the name of each column, and its cell.
pub type Row = Vec<(String, String)>;

/// An answer as JSON.
pub fn json(answer: &impl Serialize, out: &mut impl Write) -> Result<(), Failure> {
    serde_json::to_writer_pretty(&mut *out, answer).map_err(io::Error::from)?;
    Ok(writeln!(out)?)
}

/// Rows as CSV. The heads are the names of the first row.
pub fn csv(rows: impl IntoIterator<Item = Result<Row, Failure>>, out: &mut impl Write) -> Result<(), Failure> {
    let mut writer = csv::Writer::from_writer(out);
    let plain = |error: csv::Error| match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    };
    for (index, row) in rows.into_iter().enumerate() {
        let row = row?;
        if index == 0 {
            writer.write_record(row.iter().map(|(name, _)| name)).map_err(plain)?;
        }
        writer.write_record(row.iter().map(|(_, cell)| cell)).map_err(plain)?;
    }
    Ok(writer.flush()?)
}

/// Everything in an answer as cells of one row. The names are those of the JSON with dots between them; an item of a list
/// that has a name goes by it.
pub fn cells(answer: &impl Serialize) -> Result<Row, Failure> {
    let mut row = Row::new();
    flatten("", &serde_json::to_value(answer).map_err(io::Error::from)?, &mut row);
    Ok(row)
}

fn flatten(prefix: &str, value: &Value, row: &mut Row) {
    let join = |name: &str| if prefix.is_empty() { name.to_owned() } else { format!("{prefix}.{name}") };
    match value {
        Value::Object(map) => map.iter().for_each(|(name, value)| flatten(&join(name), value, row)),
        Value::Array(list) => {
            for (index, value) in list.iter().enumerate() {
                let name = value.get("name").and_then(Value::as_str).map_or_else(|| index.to_string(), str::to_owned);
                flatten(&join(&name), value, row);
            }
        }
        Value::Null => row.push((prefix.to_owned(), String::new())),
        Value::String(text) => row.push((prefix.to_owned(), text.clone())),
        other => row.push((prefix.to_owned(), other.to_string())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_names_are_dotted_and_limits_go_by_name() {
        let value = serde_json::json!({
            "outcome": "matched", "a": { "b": 1.5, "c": null }, "limits": [{ "name": "surge_margin", "margin": -0.25 }]
        });
        let expected = [
            ("outcome", "matched"),
            ("a.b", "1.5"),
            ("a.c", ""),
            ("limits.surge_margin.name", "surge_margin"),
            ("limits.surge_margin.margin", "-0.25"),
        ];
        assert_eq!(cells(&value).unwrap(), expected.map(|(name, cell)| (name.to_owned(), cell.to_owned())));
    }

    #[test]
    fn by_hand_a_cell_with_a_comma_or_a_quote_stands_in_quotes() {
        let row = |cell: &str| Ok(vec![("a".to_owned(), "plain".to_owned()), ("b".to_owned(), cell.to_owned())]);
        let mut out = Vec::new();
        csv([row("1, \"2\""), row("")], &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), "a,b\nplain,\"1, \"\"2\"\"\"\nplain,\n");
    }
}
