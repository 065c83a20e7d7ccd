//! Engines as TOML text: read with every problem named by line, and written with every key explained.
//!
//! A file holds `name`, `title` and one table for each group of [`crate::engine::GROUPS`], every key present, values as
//! plain numbers in the unit that the key's name ends in. There are no defaults: nobody would have checked a number
//! that nobody wrote.

use crate::engine::{self, CrankError, Engine, EngineError, GROUPS, ValveError};
use crate::keys::{Key, KeyError, nearest};
use alloc::borrow::ToOwned;
use alloc::format;
use alloc::string::{String, ToString};
use alloc::vec::Vec;
use core::fmt;
use core::ops::Range;
use toml::de::{DeTable, DeValue};

/// The engines that come with Volute: short name and text of the file. [`crate::engine::built_in`] has the engines themselves.
pub const BUILT_IN: &[(&str, &str)] = &[
    ("harbour-six", include_str!("../../engines/harbour-six.toml")),
    ("van-four", include_str!("../../engines/van-four.toml")),
];

/// Longest file that is read, in bytes. Chosen: a full file has about 15 kB, so this leaves room for any comments.
pub const MAX_BYTES: usize = 256 * 1024;
/// Longest `name`, in characters.
pub const MAX_NAME_CHARS: usize = 40;
/// Longest `title`, in characters.
pub const MAX_TITLE_CHARS: usize = 120;
/// Problems that are listed; further ones are counted. Chosen: more than a person corrects in one go.
const MAX_PROBLEMS: usize = 30;
/// Quotes from a file are cut to this many characters. Chosen: enough to find the place.
const MAX_QUOTE_CHARS: usize = 60;

/// One thing that is wrong with an engine file, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Line, from 1; nothing when it is about the file as a whole.
    pub line: Option<usize>,
    /// What is wrong.
    pub fault: Fault,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "Line {line}, {}", self.fault),
            None => write!(f, "In the file: {}", self.fault),
        }
    }
}

/// What can be wrong with an engine file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// Nothing in it.
    #[error("nothing but white space and comments; an engine has `name`, `title` and {} tables of numbers", GROUPS.len())]
    Empty,
    /// Too long to be an engine.
    #[error("{bytes} bytes, which no engine needs; at most {max} are read")]
    TooLarge {
        /// Its length.
        bytes: usize,
        /// The longest allowed.
        max: usize,
    },
    /// Not TOML.
    #[error("`{quote}`: {what}{}", if *.comma { ". Write numbers with a decimal point, not a comma" } else { "" })]
    Syntax {
        /// The line of the file.
        quote: String,
        /// What the TOML reader says.
        what: String,
        /// Whether the line holds a number with a decimal comma.
        comma: bool,
    },
    /// A table or a single key at the top that no engine has.
    #[error("`{name}`: an engine has no such {}{}", if *.is_table { "table" } else { "key at the top" }, did_you_mean(.hint))]
    UnknownTop {
        /// What the file says.
        name: String,
        /// Whether it is a table.
        is_table: bool,
        /// What may be meant.
        hint: Option<Hint>,
    },
    /// A whole table is not there.
    #[error("the table `[{table}]` is missing, with its {keys} keys, from `{first}` on")]
    MissingTable {
        /// Its name.
        table: &'static str,
        /// How many keys it has.
        keys: usize,
        /// The first of them.
        first: &'static str,
    },
    /// A number is not there.
    #[error("`[{}]`: `{}` is missing. {} {}", .key.group, .key.name, .key.about, range_text(.key))]
    MissingKey {
        /// Which.
        key: Key,
    },
    /// `name` or `title` is not there.
    #[error("`{key}` is missing: {}", text_rule(.key))]
    MissingText {
        /// Which.
        key: &'static str,
    },
    /// `name` or `title` is empty, too long, or has characters that it may not have.
    #[error("`{key} = \"{value}\"`: {}", text_rule(.key))]
    BadText {
        /// Which.
        key: &'static str,
        /// What the file says, cut if long.
        value: String,
    },
    /// A value of another kind.
    #[error("`{key}` is {found}, but must be {wanted}")]
    WrongKind {
        /// Name of the table or key.
        key: String,
        /// What the file has.
        found: &'static str,
        /// What is allowed.
        wanted: Wanted,
    },
    /// An unknown key, or a value outside its range.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// Numbers that are each allowed but do not fit together.
    #[error(transparent)]
    Engine(#[from] EngineError),
}

/// Where a misplaced key or table may belong.
#[derive(Debug, Clone, PartialEq)]
pub enum Hint {
    /// Under this table.
    Under(&'static str),
    /// This table is the nearest by name.
    Nearest(String),
}

impl fmt::Display for Hint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Hint::Under(table) => write!(f, "it belongs under `[{table}]`"),
            Hint::Nearest(table) => write!(f, "the nearest table is `[{table}]`"),
        }
    }
}

/// What a place in the file must hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Wanted {
    /// Text in quotes.
    Text,
    /// This table, once.
    Table(&'static str),
    /// The number of this key.
    Number(Key),
}

impl fmt::Display for Wanted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Wanted::Text => f.write_str("text in quotes"),
            Wanted::Table(table) => write!(f, "one table, `[{table}]`"),
            Wanted::Number(key) => write!(f, "a number, {}", range_text(key).trim_end_matches('.')),
        }
    }
}

/// Everything that is wrong with an engine file, in the order of its lines; problems of the whole file come last.
#[derive(Debug, Clone, PartialEq)]
pub struct EngineFileError {
    /// At least one problem.
    pub problems: Vec<Problem>,
    /// Further problems that are not listed.
    pub more: usize,
}

impl fmt::Display for EngineFileError {
    /// One problem on each line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{problem}")?;
        }
        if self.more > 0 {
            write!(f, "\nand {} more", self.more)?;
        }
        Ok(())
    }
}

impl core::error::Error for EngineFileError {}

fn did_you_mean(hint: &Option<Hint>) -> String {
    hint.as_ref().map(|hint| format!("; {hint}")).unwrap_or_default()
}

/// How many tables of numbers an engine has.
pub fn tables() -> usize {
    GROUPS.len()
}

/// The allowed values of a key, such as `0.05 to 0.3 m`.
fn range_text(key: &Key) -> String {
    let space = if key.unit.is_empty() { "" } else { " " };
    format!("{} to {}{space}{}.", number_text(key.min), number_text(key.max), key.unit)
}

fn text_rule(key: &str) -> String {
    match key {
        "name" => format!(
            "the short name that the terminal takes, 1 to {MAX_NAME_CHARS} small letters, digits and hyphens, such as \"harbour-six\""
        ),
        _ => format!("a line that says what the engine is, 1 to {MAX_TITLE_CHARS} characters"),
    }
}

/// A number that TOML and `str::parse` read back to the same bits, with an exponent where zeros would be counted.
pub fn number_text(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || (1.0e-3..1.0e6).contains(&size) { format!("{value}") } else { format!("{value:e}") }
}

fn quote(text: &str) -> String {
    let mut cut: String = text.chars().take(MAX_QUOTE_CHARS).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(MAX_QUOTE_CHARS).is_some() {
        cut.push_str("...");
    }
    cut
}

/// Collects problems with their lines.
struct Report<'t> {
    text: &'t str,
    problems: Vec<Problem>,
    more: usize,
}

impl Report<'_> {
    fn add(&mut self, at: Option<usize>, fault: Fault) {
        if self.problems.len() >= MAX_PROBLEMS {
            self.more += 1;
            return;
        }
        let line = at.map(|offset| 1 + self.text.bytes().take(offset).filter(|byte| *byte == b'\n').count());
        // In the order of the file; what is about the whole of it comes last.
        let order = |line: Option<usize>| line.unwrap_or(usize::MAX);
        let place = self.problems.partition_point(|problem| order(problem.line) <= order(line));
        self.problems.insert(place, Problem { line, fault });
    }

    fn finish(self) -> EngineFileError {
        EngineFileError { problems: self.problems, more: self.more }
    }
}

/// Reads an engine from TOML text.
///
/// Errors: all problems of a kind at once, in this order: length, syntax, single keys, keys that must fit each other. A later
/// kind is looked for only when there is no problem of an earlier one, and of the last kind only the first is given.
pub fn parse(text: &str) -> Result<Engine, EngineFileError> {
    let mut report = Report { text, problems: Vec::new(), more: 0 };
    if text.len() > MAX_BYTES {
        report.add(None, Fault::TooLarge { bytes: text.len(), max: MAX_BYTES });
        return Err(report.finish());
    }
    let document = match DeTable::parse_recoverable(text) {
        (document, errors) if errors.is_empty() => document.into_inner(),
        (_, errors) => {
            for error in errors {
                let offset = error.span().map(|span| span.start.min(text.len()));
                report.add(offset, syntax(text, offset, error.message()));
            }
            return Err(report.finish());
        }
    };
    if document.is_empty() {
        report.add(None, Fault::Empty);
        return Err(report.finish());
    }

    for (name, value) in document.iter() {
        let known =
            matches!(&**name.get_ref(), "name" | "title") || GROUPS.iter().any(|(table, _)| table == name.get_ref());
        if !known {
            report.add(Some(name.span().start), unknown_top(name.get_ref(), value.get_ref()));
        }
    }
    let name = read_text(&document, "name", &mut report);
    let title = read_text(&document, "title", &mut report);
    let mut engine = Engine::blank(name, title);
    for (table_name, keys) in GROUPS {
        read_table(&document, table_name, keys, &mut engine, &mut report);
    }
    if report.problems.is_empty()
        && let Err(error) = engine.check()
    {
        let offset = place_of(&document, &error);
        report.add(offset, Fault::Engine(error));
    }
    if report.problems.is_empty() { Ok(engine) } else { Err(report.finish()) }
}

fn syntax(text: &str, offset: Option<usize>, what: &str) -> Fault {
    let offset = offset.unwrap_or(0);
    let before = text.get(..offset).unwrap_or("");
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let line = text.get(start..).unwrap_or("").lines().next().unwrap_or("").trim();
    let value = line.split_once('=').map_or("", |(_, value)| value.split('#').next().unwrap_or("").trim());
    let comma = value.split_once(',').is_some_and(|(whole, rest)| {
        let digits = |part: &str| part.bytes().next().is_some_and(|byte| byte.is_ascii_digit());
        digits(whole.trim_start_matches(['-', '+'])) && digits(rest)
    });
    Fault::Syntax { quote: quote(line), what: what.to_owned(), comma }
}

fn unknown_top(name: &str, value: &DeValue<'_>) -> Fault {
    let is_table = matches!(value, DeValue::Table(_));
    let home = engine::keys().find(|key| key.name == name).filter(|_| !is_table);
    let hint = match home {
        Some(key) => Some(Hint::Under(key.group)),
        None => {
            // `nearest` compares `group.name`: with no name on either side it compares the tables.
            let tables: Vec<Key> = GROUPS
                .iter()
                .map(|(group, _)| Key { group, name: "", unit: "", min: 0.0, max: 0.0, about: "" })
                .collect();
            nearest(&format!("{name}."), tables.iter()).map(|near| Hint::Nearest(near.trim_end_matches('.').to_owned()))
        }
    };
    Fault::UnknownTop { name: quote(name), is_table, hint }
}

fn read_text(document: &DeTable<'_>, key: &'static str, report: &mut Report<'_>) -> String {
    let Some((place, value)) = document.get_key_value(key) else {
        report.add(None, Fault::MissingText { key });
        return String::new();
    };
    let at = Some(place.span().start);
    let DeValue::String(text) = value.get_ref() else {
        let wanted = Wanted::Text;
        report.add(at, Fault::WrongKind { key: key.to_owned(), found: kind(value.get_ref()), wanted });
        return String::new();
    };
    let chars = text.chars().count();
    let fits = match key {
        "name" => {
            let allowed = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-';
            (1..=MAX_NAME_CHARS).contains(&chars) && text.bytes().all(allowed)
        }
        _ => (1..=MAX_TITLE_CHARS).contains(&chars) && !text.trim().is_empty() && !text.chars().any(char::is_control),
    };
    if !fits {
        report.add(at, Fault::BadText { key, value: quote(text) });
    }
    text.to_string()
}

fn read_table(
    document: &DeTable<'_>,
    table_name: &'static str,
    keys: &'static [Key],
    engine: &mut Engine,
    report: &mut Report<'_>,
) {
    let Some((place, value)) = document.get_key_value(table_name) else {
        let first = keys.first().map_or("", |key| key.name);
        report.add(None, Fault::MissingTable { table: table_name, keys: keys.len(), first });
        return;
    };
    let DeValue::Table(table) = value.get_ref() else {
        let wanted = Wanted::Table(table_name);
        let found = kind(value.get_ref());
        report.add(Some(place.span().start), Fault::WrongKind { key: table_name.to_owned(), found, wanted });
        return;
    };
    for (name, value) in table.iter() {
        let at = Some(name.span().start);
        let path = format!("{table_name}.{}", name.get_ref());
        let Some(key) = keys.iter().find(|key| key.name == name.get_ref()) else {
            let near = engine::key(&path).err().and_then(|error| match error {
                KeyError::Unknown { nearest, .. } => nearest,
                KeyError::OutOfRange { .. } => None,
            });
            report.add(at, Fault::Key(KeyError::Unknown { key: quote(&path), nearest: near }));
            continue;
        };
        match number(value.get_ref()) {
            Some(number) => {
                if let Err(error) = engine.set(&path, number) {
                    report.add(at, Fault::Key(error));
                }
            }
            None => {
                let wanted = Wanted::Number(*key);
                report.add(at, Fault::WrongKind { key: path, found: kind(value.get_ref()), wanted });
            }
        }
    }
    for key in keys.iter().filter(|key| !table.contains_key(key.name)) {
        report.add(Some(place.span().start), Fault::MissingKey { key: *key });
    }
}

/// A number as the file has it; one too large for `f64` becomes an infinity, which no range allows.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(float) => float.as_str().parse().ok(),
        DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().parse().ok(),
        DeValue::Integer(whole) => {
            Some(u64::from_str_radix(whole.as_str(), whole.radix()).map_or(f64::INFINITY, |value| value as f64))
        }
        _ => None,
    }
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text in quotes",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or a time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Where an error that concerns several keys is shown: at the key it names, or at the head of the table.
fn place_of(document: &DeTable<'_>, error: &EngineError) -> Option<usize> {
    let path = match error {
        EngineError::Key(KeyError::Unknown { key, .. } | KeyError::OutOfRange { key, .. }) => key.as_str(),
        EngineError::Crank(CrankError::Count { .. }) => "cylinders.count",
        EngineError::Crank(CrankError::RodTooShort { .. }) => "cylinders.conrod_m",
        EngineError::Valve(ValveError::WholeDegrees { key, .. }) => key,
        EngineError::Combustion(_) => "combustion",
        EngineError::Compressor(_) => "compressor.peak_head",
        EngineError::Turbine(_) => "turbine",
        EngineError::Range(_) => "range",
        EngineError::ClosedTooShort { .. } => "valves",
    };
    let (table_name, key_name) = path.split_once('.').unwrap_or((path, ""));
    let (place, value) = document.get_key_value(table_name)?;
    let within = match value.get_ref() {
        DeValue::Table(table) => table.get_key_value(key_name).map(|(name, _)| start(name.span())),
        _ => None,
    };
    within.or_else(|| Some(start(place.span())))
}

fn start(span: Range<usize>) -> usize {
    span.start
}

/// The engine as a file: every key with what it is, its unit and its range. [`parse`] reads it back to the same bits,
/// provided the engine passes [`Engine::check`] and its name and title are of the allowed form.
pub fn to_toml(engine: &Engine) -> String {
    let mut text = String::from(
        "# An engine with its turbocharger, for Volute. SI units, as the names of the keys say.\n\
         # Crank angles count from firing top dead centre, 0 to 720.\n\n",
    );
    text.push_str(&format!("name = {}\ntitle = {}\n", quoted(&engine.name), quoted(&engine.title)));
    for (table, keys) in GROUPS {
        text.push_str(&format!("\n[{table}]\n"));
        for key in *keys {
            // Every key of GROUPS is a field of the engine, so the zero is never written.
            let value = engine.get(&key.path()).unwrap_or(0.0);
            text.push_str(&format!("# {} {}\n{} = {}\n", key.about, range_text(key), key.name, number_text(value)));
        }
    }
    text
}

/// TOML basic string.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", c as u32)),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::built_in;

    const SIX: &str = BUILT_IN[0].1;

    /// The harbour six with one piece of its text changed; the piece must be there once.
    fn six_with(from: &str, to: &str) -> String {
        assert_eq!(SIX.matches(from).count(), 1, "`{from}` must stand once in the file");
        SIX.replacen(from, to, 1)
    }

    /// The line of the harbour six on which `start` stands at the beginning.
    fn line_of(start: &str) -> usize {
        1 + SIX.lines().position(|line| line.starts_with(start)).expect("that line is in the file")
    }

    fn message(text: &str) -> String {
        parse(text).expect_err("this file is bad").to_string()
    }

    fn only_fault(text: &str) -> Problem {
        let error = parse(text).expect_err("this file is bad");
        assert_eq!(error.problems.len(), 1, "{error}");
        error.problems.into_iter().next().expect("there is one")
    }

    #[test]
    fn by_hand_the_built_in_engines_are_good_and_carry_their_names() {
        for (name, text) in BUILT_IN {
            let engine = parse(text).unwrap_or_else(|error| panic!("{name}: {error}"));
            assert_eq!(engine.name, *name);
            assert_eq!(built_in::engine(name), Some(engine), "what the build script makes of it");
        }
        assert!(built_in::names().eq(BUILT_IN.iter().map(|(name, _)| *name)), "the same in the same order");
        assert_eq!(built_in::engine("no-such"), None);
    }

    #[test]
    fn by_hand_every_key_of_a_built_in_file_stands_under_what_it_is() {
        for (name, text) in BUILT_IN {
            for key in engine::keys() {
                let about = format!("# {} {}", key.about, range_text(key));
                let explained = text.split("\n\n").flat_map(|table| table.split_once(&about)).any(|(_, rest)| {
                    let below = rest.lines().skip(1).find(|line| !line.starts_with('#'));
                    below.and_then(|line| line.split_once(" = ")).is_some_and(|(written, _)| written == key.name)
                });
                assert!(explained, "{name}: {} is not under its sentence", key.path());
            }
        }
    }

    #[test]
    fn identity_what_is_written_is_read_back_to_the_same_bits() {
        for (name, text) in BUILT_IN {
            let engine = parse(text).unwrap_or_else(|error| panic!("{name}: {error}"));
            assert_eq!(parse(&to_toml(&engine)), Ok(engine));
        }
    }

    #[test]
    fn identity_every_single_key_survives_with_many_digits() {
        let six = parse(SIX).expect("good");
        for key in engine::keys().filter(|key| !matches!(key.unit, "deg") && key.name != "count") {
            let mut engine = six.clone();
            let path = key.path();
            // A hair above the value it has: many digits, and still an engine whose parts fit.
            let value = engine.get(&path).expect("known") * (1.0 + 1.0e-9) + 1.0e-17;
            if engine.set(&path, value).is_ok() && engine.check().is_ok() {
                let again = parse(&to_toml(&engine)).unwrap_or_else(|error| panic!("{path}: {error}"));
                assert_eq!(again.get(&path).expect("known").to_bits(), value.to_bits(), "{path}");
            }
        }
    }

    #[test]
    fn identity_numbers_are_written_so_that_they_read_back() {
        for value in [0.0, 1.0, -2.5, 0.1 + 0.2, 1.0e-7, 150e-6, 4.28e7, 20.5e6, 1.0e300, f64::MIN_POSITIVE, 999_999.5]
        {
            assert_eq!(number_text(value).parse::<f64>().map(f64::to_bits), Ok(value.to_bits()));
        }
    }

    #[test]
    fn identity_a_title_with_quotes_and_backslashes_survives() {
        let mut engine = parse(SIX).expect("good");
        engine.title = "My \"own\" \\ Motor, größer\u{7f}".to_owned();
        // The reader refuses control characters in a title, so only the text before it comes back.
        assert!(message(&to_toml(&engine)).contains("title"));
        engine.title.pop();
        assert_eq!(parse(&to_toml(&engine)), Ok(engine));
    }

    #[test]
    fn by_hand_whole_numbers_hexadecimals_and_underscores_are_numbers() {
        let text = six_with("speed_max_rpm = 2500", "speed_max_rpm = 2_500").replace("count = 6\n", "count = 0x6\n");
        assert_eq!(parse(&text), parse(SIX));
        assert_eq!(parse(&SIX.replace('\n', "\r\n")), parse(SIX));
        assert_eq!(parse(&format!("\u{feff}{SIX}")), parse(SIX));
    }

    #[test]
    fn by_hand_a_file_without_content_says_what_belongs_in_it() {
        for text in ["", " \n\t\n", "# nothing yet\n"] {
            assert_eq!(only_fault(text), Problem { line: None, fault: Fault::Empty });
        }
        assert!(message("").contains("`name`, `title` and 17 tables"), "{}", message(""));
    }

    #[test]
    fn by_hand_a_file_that_is_too_long_is_not_read() {
        let text = format!("{SIX}{}", "#".repeat(MAX_BYTES));
        assert_eq!(only_fault(&text).fault, Fault::TooLarge { bytes: text.len(), max: MAX_BYTES });
        let most = format!("{SIX}{}", "#".repeat(MAX_BYTES - SIX.len()));
        assert_eq!(parse(&most), parse(SIX));
    }

    #[test]
    fn by_hand_a_syntax_error_shows_its_line() {
        let problem = only_fault(&six_with("stroke_m = 0.132", "stroke_m 0.132"));
        assert_eq!(problem.line, Some(line_of("stroke_m")));
        assert!(problem.to_string().contains("`stroke_m 0.132`"), "{problem}");
    }

    #[test]
    fn by_hand_a_decimal_comma_is_named() {
        let error = parse(&six_with("stroke_m = 0.132", "stroke_m = 0,132")).expect_err("bad");
        assert_eq!(error.problems.first().and_then(|problem| problem.line), Some(line_of("stroke_m")));
        assert!(error.to_string().contains("decimal point"), "{error}");
    }

    #[test]
    fn by_hand_a_key_written_twice_is_an_error() {
        let problem = only_fault(&six_with("stroke_m = 0.132", "stroke_m = 0.132\nstroke_m = 0.140"));
        assert_eq!(problem.line, Some(line_of("stroke_m") + 1));
        assert!(problem.to_string().contains("duplicate key"), "{problem}");
        let twice = format!("{SIX}\n[shaft]\ninertia_kg_m2 = 1e-4\n");
        assert!(message(&twice).contains("duplicate key"), "{}", message(&twice));
    }

    #[test]
    fn by_hand_an_unknown_table_or_key_names_the_nearest() {
        let line = line_of("[cylinders]");
        let error = message(&six_with("[cylinders]", "[cylinder]"));
        assert!(
            error.contains(&format!(
                "Line {line}, `cylinder`: an engine has no such table; the nearest table is `[cylinders]`"
            )),
            "{error}"
        );
        assert!(error.contains("the table `[cylinders]` is missing, with its 5 keys, from `count` on"), "{error}");

        let line = line_of("stroke_m");
        let error = message(&six_with("stroke_m =", "strike_m ="));
        assert!(
            error.contains(&format!(
                "Line {line}, there is no `cylinders.strike_m`; the nearest name is `cylinders.stroke_m`"
            )),
            "{error}"
        );
        assert!(error.contains("`[cylinders]`: `stroke_m` is missing. Piston stroke. 0.05 to 0.4 m."), "{error}");

        let error = message(&six_with("name = \"harbour-six\"", "name = \"harbour-six\"\nstroke_m = 0.132"));
        assert!(
            error.contains("`stroke_m`: an engine has no such key at the top; it belongs under `[cylinders]`"),
            "{error}"
        );
        let error = message(&six_with("name = \"harbour-six\"", "name = \"harbour-six\"\nzzz = 1"));
        assert!(error.ends_with("`zzz`: an engine has no such key at the top"), "{error}");
    }

    #[test]
    fn by_hand_a_value_of_another_kind_says_what_is_wanted() {
        let wrong = |value: &str| only_fault(&six_with("stroke_m = 0.132", &format!("stroke_m = {value}"))).to_string();
        let line = line_of("stroke_m");
        for (value, found) in [
            ("\"0.132\"", "text in quotes"),
            ("true", "true or false"),
            ("[0.132]", "a list"),
            ("{ m = 0.132 }", "a table"),
            ("2024-05-01", "a date or a time"),
        ] {
            assert_eq!(
                wrong(value),
                format!("Line {line}, `cylinders.stroke_m` is {found}, but must be a number, 0.05 to 0.4 m")
            );
        }
        let error = message(&six_with("[shaft]", "[[shaft]]"));
        assert!(error.contains("`shaft` is a list, but must be one table, `[shaft]`"), "{error}");
        let error = message(&six_with("name = \"harbour-six\"", "name = 6"));
        assert!(error.contains("`name` is a number, but must be text in quotes"), "{error}");
    }

    #[test]
    fn by_hand_a_value_outside_its_range_guesses_the_unit() {
        let line = line_of("stroke_m");
        assert_eq!(
            message(&six_with("stroke_m = 0.132", "stroke_m = 132")),
            format!("Line {line}, `cylinders.stroke_m = 132`: outside 0.05 to 0.4 m. Is it in millimetres?")
        );
    }

    #[test]
    fn by_hand_what_is_not_a_number_is_outside_every_range() {
        for (value, shown) in [("nan", "NaN"), ("-nan", "NaN"), ("inf", "inf"), ("-inf", "-inf"), ("1e999", "inf")] {
            let error = message(&six_with("stroke_m = 0.132", &format!("stroke_m = {value}")));
            assert!(error.contains(&format!("`cylinders.stroke_m = {shown}`: outside 0.05 to 0.4 m")), "{error}");
        }
        let huge = six_with("count = 6\n", "count = 0xffffffffffffffffffff\n");
        assert!(parse(&huge).is_err());
    }

    #[test]
    fn by_hand_name_and_title_are_needed_and_short() {
        let long = "x".repeat(MAX_NAME_CHARS + 1);
        for name in ["", "Harbour six", "sechs-zylinder-grün", long.as_str()] {
            let problem = only_fault(&six_with("name = \"harbour-six\"", &format!("name = \"{name}\"")));
            assert!(matches!(problem.fault, Fault::BadText { key: "name", .. }), "{problem}");
            assert_eq!(problem.line, Some(line_of("name")));
        }
        let title = SIX.lines().find(|line| line.starts_with("title = ")).expect("has a title");
        for bad in [String::new(), "  ".to_owned(), "x".repeat(MAX_TITLE_CHARS + 1), "two\\nlines".to_owned()] {
            let problem = only_fault(&six_with(title, &format!("title = \"{bad}\"")));
            assert!(matches!(problem.fault, Fault::BadText { key: "title", .. }), "{problem}");
        }
        assert_eq!(only_fault(&six_with(title, "")).fault, Fault::MissingText { key: "title" });
    }

    #[test]
    fn by_hand_numbers_that_do_not_fit_each_other_are_shown_at_their_line() {
        for (from, to, at) in [
            ("count = 6\n", "count = 7\n", "count"),
            ("intake_closes_deg = 580", "intake_closes_deg = 580.5", "intake_closes_deg"),
            ("conrod_m = 0.214", "conrod_m = 0.08", "conrod_m"),
            ("shut_area_m2 = 190e-6", "shut_area_m2 = 2e-3", "[turbine]"),
            ("speed_min_rpm = 700", "speed_min_rpm = 2500", "[range]"),
            ("least_fuel_kg = 4e-6", "least_fuel_kg = 6e-6", "[combustion]"),
        ] {
            // 5 mg is a whole fuel range only above 4 mg of least fuel.
            let text = six_with(from, to).replace("injector_limit_kg = 175e-6", "injector_limit_kg = 5e-6");
            let problem = only_fault(&text);
            assert!(matches!(problem.fault, Fault::Engine(_)), "{problem}");
            assert_eq!(problem.line, Some(line_of(at)), "{problem}");
        }
        let text = six_with("count = 6\n", "count = 3\n")
            .replace("intake_closes_deg = 580", "intake_closes_deg = 640")
            .replace("exhaust_opens_deg = 130", "exhaust_opens_deg = 110");
        let problem = only_fault(&text);
        assert!(matches!(problem.fault, Fault::Engine(EngineError::ClosedTooShort { .. })), "{problem}");
        assert_eq!(problem.line, Some(line_of("[valves]")));
    }

    #[test]
    fn by_hand_all_problems_are_reported_in_the_order_of_their_lines() {
        let text = six_with("bore_m = 0.108", "bore_m = 108")
            .replace("stroke_m = 0.132", "strok_m = 0.132")
            .replace("title = ", "titel = ");
        let error = parse(&text).expect_err("bad");
        let lines: Vec<_> = error.problems.iter().map(|problem| problem.line).collect();
        let head = line_of("[cylinders]");
        let expected = [Some(line_of("title")), Some(head), Some(line_of("bore_m")), Some(line_of("stroke_m")), None];
        assert_eq!(lines, expected, "{error}");
    }

    #[test]
    fn by_hand_many_problems_are_counted_and_long_names_are_cut() {
        let name = "k".repeat(500);
        let text: String = (0..100).map(|index| format!("{name}{index} = 1\n")).collect();
        let error = parse(&text).expect_err("bad");
        assert_eq!((error.problems.len(), error.more), (MAX_PROBLEMS, 100 - MAX_PROBLEMS + 2 + GROUPS.len()));
        assert!(error.to_string().lines().all(|line| line.len() < 250), "{error}");
        assert!(error.to_string().ends_with("and 89 more"), "{error}");
    }

    #[test]
    fn by_hand_hostile_text_is_an_error_and_not_a_panic() {
        for piece in ["[", "[[", "{", "a.", "\"", "'''", "x=[", "=\n", "\u{0}", "é", "[a]\n", "a={b=", "\u{feff}"] {
            assert!(parse(&piece.repeat(2000)).is_err());
        }
        // Every beginning of a good file, cut at any byte near a line's end, is an answer too.
        for (cut, _) in SIX.char_indices().step_by(37) {
            assert!(parse(&SIX[..cut]).is_err());
        }
    }
}
