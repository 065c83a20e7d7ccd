//! Reads result files. Every number has its range and every list its length, and what is wrong is said with its place.

use super::json::{FORMAT, LARGEST, VERSION};
use super::report::{
    ItemReport, Kind, LONGEST_NAME, LONGEST_TEXT, LessonReport, MOST_ITEMS, MOST_LESSONS, MOST_POINTS, MOST_TRIES,
    Report, Try, is_refused,
};
use crate::assignment::{self, AssignmentError, decode};
use crate::ids::good_id;
use crate::said::{self, Filling, Sentence};
use crate::seed::Seed;
use serde_json::{Map, Value};
use std::fmt;

/// Name of the first column of the table of answers; a file that begins with it is such a table.
pub(super) const FIRST_COLUMN: &str = "learner";

/// Why a file is no result.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum ReadError {
    TooLarge { bytes: u64 },
    Table,
    Json { line: usize, column: usize, what: String },
    Format,
    Version { found: Filling },
    Missing { place: String },
    Value { place: String, found: Filling, allowed: Filling },
    Assignment(AssignmentError),
}

impl fmt::Display for ReadError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.sentence().fmt(out)
    }
}

impl std::error::Error for ReadError {}

/// A result and whether its checksum fits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    /// What the learner did.
    pub report: Report,
    /// Whether the file is as the page wrote it, spaces apart.
    pub intact: bool,
}

impl ReadError {
    /// What is wrong, as a template for a page in another language.
    pub fn sentence(&self) -> Sentence {
        use ReadError::*;
        match self {
            TooLarge { bytes } => Sentence::new(said::RESULT_LARGE).with("bytes", bytes).with("most", LARGEST),
            Table => Sentence::new(said::RESULT_TABLE),
            Json { line, column, what } => {
                Sentence::new(said::RESULT_JSON).with("line", line).with("column", column).with("what", what)
            }
            Format => Sentence::new(said::RESULT_NONE).with("format", FORMAT),
            Version { found } => {
                Sentence::new(said::OF_VERSION).with_place("found", found.clone()).with("version", VERSION)
            }
            Missing { place } => Sentence::new(said::RESULT_MISSING).with("place", place),
            Value { place, found, allowed } => Sentence::new(said::RESULT_VALUE)
                .with("place", place)
                .with_place("found", found.clone())
                .with_place("allowed", allowed.clone()),
            Assignment(why) => Sentence::new(said::RESULT_ASSIGNMENT).with_place("why", why.sentence()),
        }
    }

    /// Refuses a file by its size, before it is read.
    pub fn by_size(bytes: u64) -> Result<(), ReadError> {
        if bytes > LARGEST as u64 { Err(ReadError::TooLarge { bytes }) } else { Ok(()) }
    }
}

/// Reads a result file. Errors: what is wrong, where, and what is allowed.
pub fn read(text: &str) -> Result<Sealed, ReadError> {
    ReadError::by_size(text.len() as u64)?;
    let text = text.trim_start_matches('\u{feff}');
    if text.trim_start().starts_with(FIRST_COLUMN) || text.trim_start().starts_with('"') {
        return Err(ReadError::Table);
    }
    let value: Value = serde_json::from_str(text).map_err(|error| {
        let what = error.to_string();
        let what = what.split(" at line ").next().unwrap_or_default().to_string();
        ReadError::Json { line: error.line(), column: error.column(), what }
    })?;
    let top = Object { name: String::new(), map: value.as_object().ok_or(ReadError::Format)? };
    if top.map.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(ReadError::Format);
    }
    match top.get("version")?.as_u64() {
        Some(VERSION) => {}
        _ => return Err(ReadError::Version { found: shown(top.get("version")?) }),
    }
    let assignment = match top.map.get("assignment") {
        Some(_) => Some(decode(&top.text("assignment", assignment::LONGEST)?).map_err(ReadError::Assignment)?),
        None => None,
    };
    let report = Report {
        learner: top.text("learner", LONGEST_NAME)?,
        assignment,
        page: top.text("page", 80)?,
        saved: top.text("saved", 80)?,
        lessons: top.list("lessons", MOST_LESSONS, lesson)?,
    };
    let intact = top.map.get("checksum").and_then(Value::as_str) == Some(&report.checksum());
    Ok(Sealed { report, intact })
}

fn lesson(at: &Object) -> Result<LessonReport, ReadError> {
    let seed = at.text("seed", 20)?;
    let number = seed.parse().ok().filter(|_| seed.bytes().all(|b| b.is_ascii_digit()));
    Ok(LessonReport {
        id: at.id()?,
        version: at.text("lesson_version", 80)?,
        seed: Seed(number.ok_or_else(|| at.refuse("seed", Sentence::new(said::ALLOWED_QUOTED)))?),
        complete: at.flag("complete")?,
        seconds: at.whole("seconds", u32::MAX)?,
        items: at.list("items", MOST_ITEMS, item)?,
    })
}

fn item(at: &Object) -> Result<ItemReport, ReadError> {
    let kind = Kind::of(&at.text("kind", 20)?);
    let names = || Kind::ALL.iter().map(|kind| kind.name()).collect::<Vec<_>>().join(", ");
    Ok(ItemReport {
        id: at.id()?,
        kind: kind.ok_or_else(|| at.refuse("kind", names()))?,
        points_pct: at.whole("points_pct", 100)?,
        done: at.flag("done")?,
        hints: at.whole("hints", 1000)?,
        confidence_pct: at.has("confidence_pct").then(|| at.whole("confidence_pct", 100)).transpose()?,
        words: if at.has("words") { at.text("words", LONGEST_TEXT)? } else { String::new() },
        picked: at.numbers("picked", 0, 1000)?.into_iter().map(i32::unsigned_abs).collect(),
        curve: at.numbers("curve", -100_000, 100_000)?,
        wrong_turns: at.numbers("wrong_turns", 0, 1000)?.into_iter().map(i32::unsigned_abs).collect(),
        bought: match at.has("bought") {
            true => at.text("bought", LONGEST_TEXT)?.split_whitespace().map(String::from).collect(),
            false => Vec::new(),
        },
        tries: at.list("tries", MOST_TRIES, |at| {
            Ok(Try {
                draw: at.whole("draw", u32::MAX)?,
                answer: at.text("answer", LONGEST_TEXT)?,
                right: at.flag("right")?,
                points_pct: at.whole("points_pct", 100)?,
                misconception: at.has("misconception").then(|| at.whole("misconception", 1000)).transpose()?,
                seconds: if at.has("seconds") { at.whole("seconds", u32::MAX)? } else { 0 },
            })
        })?,
    })
}

/// An object of the file, and how to find it: `lessons[2].items[0]`.
struct Object<'v> {
    name: String,
    map: &'v Map<String, Value>,
}

impl Object<'_> {
    fn under(&self, key: &str) -> String {
        if self.name.is_empty() { key.into() } else { format!("{}.{key}", self.name) }
    }

    fn has(&self, key: &str) -> bool {
        self.map.contains_key(key)
    }

    fn get(&self, key: &str) -> Result<&Value, ReadError> {
        self.map.get(key).ok_or_else(|| ReadError::Missing { place: self.under(key) })
    }

    fn refuse(&self, key: &str, allowed: impl Into<Filling>) -> ReadError {
        let found = self.map.get(key).map_or_else(|| "".into(), shown);
        ReadError::Value { place: self.under(key), found, allowed: allowed.into() }
    }

    fn text(&self, key: &str, most: usize) -> Result<String, ReadError> {
        let text = self.get(key)?.as_str().filter(|text| text.chars().count() <= most);
        let text = text.ok_or_else(|| self.refuse(key, Sentence::new(said::ALLOWED_TEXT).with("most", most)))?;
        match text.chars().find(|c| is_refused(*c)) {
            Some(c) => Err(ReadError::Value {
                place: self.under(key),
                found: Sentence::new(said::FOUND_SIGN).with("code", format!("{:04X}", u32::from(c))).into(),
                allowed: Sentence::new(said::ALLOWED_SIGNS).into(),
            }),
            None => Ok(text.into()),
        }
    }

    fn id(&self) -> Result<String, ReadError> {
        let id = self.text("id", 60)?;
        if good_id(&id) { Ok(id) } else { Err(self.refuse("id", Sentence::new(said::ALLOWED_ID))) }
    }

    fn whole(&self, key: &str, most: u32) -> Result<u32, ReadError> {
        let number = self.get(key)?.as_u64().and_then(|n| u32::try_from(n).ok()).filter(|n| *n <= most);
        number.ok_or_else(|| self.refuse(key, Sentence::new(said::ALLOWED_WHOLE).with("least", 0).with("most", most)))
    }

    fn flag(&self, key: &str) -> Result<bool, ReadError> {
        self.get(key)?.as_bool().ok_or_else(|| self.refuse(key, Sentence::new(said::ALLOWED_FLAG)))
    }

    /// A list of whole numbers; none if the key is left out.
    fn numbers(&self, key: &str, least: i32, most: i32) -> Result<Vec<i32>, ReadError> {
        if !self.has(key) {
            return Ok(Vec::new());
        }
        let allowed = || Sentence::new(said::ALLOWED_WHOLES).with("count", MOST_POINTS);
        let fault = || self.refuse(key, allowed().with("least", least).with("most", most));
        let list = self.get(key)?.as_array().filter(|list| list.len() <= MOST_POINTS).ok_or_else(fault)?;
        let number = |v: &Value| v.as_i64().and_then(|n| i32::try_from(n).ok()).filter(|n| (least..=most).contains(n));
        list.iter().map(|value| number(value).ok_or_else(fault)).collect()
    }

    fn list<T>(
        &self,
        key: &str,
        most: usize,
        read: impl Fn(&Object) -> Result<T, ReadError>,
    ) -> Result<Vec<T>, ReadError> {
        let list = self.get(key)?.as_array().filter(|list| list.len() <= most);
        let list = list.ok_or_else(|| self.refuse(key, Sentence::new(said::ALLOWED_LIST).with("most", most)))?;
        let one = |(i, value): (usize, &Value)| {
            let name = format!("{}[{i}]", self.under(key));
            match value.as_object() {
                Some(map) => read(&Object { name, map }),
                None => Err(ReadError::Value {
                    place: name,
                    found: shown(value),
                    allowed: Sentence::new(said::FOUND_OBJECT).into(),
                }),
            }
        };
        list.iter().enumerate().map(one).collect()
    }
}

/// A value of the file, short enough for a message.
fn shown(value: &Value) -> Filling {
    match value {
        Value::Null => "null".into(),
        Value::Bool(_) | Value::Number(_) => value.to_string().chars().take(40).collect::<String>().into(),
        Value::String(text) => {
            let head: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
            format!("“{head}{}”", if head.len() < text.len() { "…" } else { "" }).into()
        }
        Value::Array(list) => Sentence::new(said::FOUND_LIST).with("count", list.len()).into(),
        Value::Object(_) => Sentence::new(said::FOUND_OBJECT).into(),
    }
}
