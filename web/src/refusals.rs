//! The one way from an error to a sentence in the page's language: [`Says`].
//!
//! The lessons crate gives its errors as templates with places, which the catalog translates. Core has no templates: what it
//! refuses is worded here once more, and in English the words are core's own, which a test holds. Names of keys, and what a file
//! says, stay as they are.

use crate::language::{decimal, msg, say, t, t_any, tf};
use crate::units::number;
use volute_core::engine::engine_file::{self, EngineFileError, Fault, Hint, Wanted};
use volute_core::engine::{
    CombustionError, CompressorError, CrankError, EngineError, RangeError, TurbineError, ValveError,
};
use volute_core::gas::atmosphere::AtmosphereError;
use volute_core::keys::{Key, KeyError};
use volute_core::point::steady::BenchError;
use volute_lessons::assignment::AssignmentError;
use volute_lessons::mark::AnswerError;
use volute_lessons::progress::LockError;
use volute_lessons::results::ReadError;

/// An error that can be said to a learner.
pub trait Says {
    /// What is wrong, in the page's language.
    fn says(&self) -> String;
}

macro_rules! says {
    ($($error:ty => $how:expr;)+) => {$(
        impl Says for $error {
            fn says(&self) -> String {
                let how: fn(&$error) -> String = $how;
                how(self)
            }
        }
    )+};
}

says! {
    KeyError => key;
    EngineError => engine;
    BenchError => bench;
    AtmosphereError => altitude;
    EngineFileError => file;
    AnswerError => |e| say(&e.sentence());
    LockError => |e| say(&e.sentence());
    AssignmentError => |e| say(&e.sentence());
    ReadError => |e| say(&e.sentence());
}

/// A number with all its digits and the decimal mark of the page.
fn full(value: f64) -> String {
    marked(value.to_string())
}

fn marked(number: String) -> String {
    number.replace('.', decimal().encode_utf8(&mut [0; 4]))
}

/// A parameter that does not exist or is outside its range.
fn key(error: &KeyError) -> String {
    match error {
        KeyError::Unknown { key, nearest: None } => tf("there is no `{key}`", &[("key", key)]),
        KeyError::Unknown { key, nearest: Some(near) } => {
            tf("there is no `{key}`; the nearest name is `{near}`", &[("key", key), ("near", near)])
        }
        KeyError::OutOfRange { key, value, min, max, unit } => {
            let places = [
                ("key", key.as_str()),
                ("value", &value.to_string()),
                ("min", &full(*min)),
                ("max", &with_unit(*max, unit)),
            ];
            let outside = tf("`{key} = {value}`: outside {min} to {max}", &places);
            match error.likely_unit() {
                Some(unit) => {
                    format!("{outside}. {}", tf("Is it in {unit}?", &[("unit", &t_any(unit))]))
                }
                None => outside,
            }
        }
    }
}

fn with_unit(value: f64, unit: &str) -> String {
    if unit.is_empty() { full(value) } else { format!("{} {unit}", full(value)) }
}

/// Parameters of an engine that do not fit together.
fn engine(error: &EngineError) -> String {
    match error {
        EngineError::Key(error) => key(error),
        EngineError::Crank(CrankError::Count { count }) => tf(
            "`cylinders.count = {count}`: the firing interval must be whole degrees, so 3, 4, 5, 6, 8, 9, 10 or 12 cylinders",
            &[("count", &count.to_string())],
        ),
        EngineError::Valve(ValveError::WholeDegrees { key, angle_deg }) => tf(
            "`{key} = {angle}`: valve events are whole degrees, since the integration steps end there",
            &[("key", key), ("angle", &angle_deg.to_string())],
        ),
        EngineError::ClosedTooShort { closed_deg, interval_deg } => tf(
            "`valves`: closed for {closed} degrees, shorter than the firing interval of {interval}; close the intake earlier or open the exhaust later",
            &[("closed", &full(*closed_deg)), ("interval", &full(*interval_deg))],
        ),
        EngineError::Crank(CrankError::RodTooShort { conrod_m, least_m }) => tf(
            "`cylinders.conrod_m = {rod}`: shorter than {least}, which is 0.7 of the stroke",
            &[("rod", &conrod_m.to_string()), ("least", &full(*least_m))],
        ),
        EngineError::Compressor(CompressorError::HeadBeatsWork { mach, head, work }) => tf(
            "`compressor`: at Mach number {mach} the head coefficient of the surge line is {head}, more than 0.95 of the work input {work}; lower `peak_head` or raise `work_input`",
            &[("mach", &full(*mach)), ("head", &number(*head, 3)), ("work", &number(*work, 3))],
        ),
        EngineError::Turbine(TurbineError::VanesDoNotOpen { shut_area_m2, open_area_m2 }) => tf(
            "`turbine`: {open} m2 open is not at least 1.5 times {shut} m2 shut, or the area does not grow all the way",
            &[("open", &full(*open_area_m2)), ("shut", &full(*shut_area_m2))],
        ),
        EngineError::Range(RangeError::SpeedRange { min_rpm, max_rpm }) => tf(
            "`range`: speed_min_rpm = {min} is not below speed_max_rpm = {max}",
            &[("min", &min_rpm.to_string()), ("max", &max_rpm.to_string())],
        ),
        EngineError::Combustion(CombustionError::FuelRange { least_kg, most_kg }) => tf(
            "`combustion`: least_fuel_kg = {least} is not below injector_limit_kg = {most}",
            &[("least", &least_kg.to_string()), ("most", &most_kg.to_string())],
        ),
    }
}

/// A question that makes no sense.
fn bench(error: &BenchError) -> String {
    match error {
        BenchError::Setting(error) => key(error),
        BenchError::Engine(error) => engine(error),
    }
}

/// An altitude that the standard atmosphere or the bench does not reach.
fn altitude(error: &AtmosphereError) -> String {
    let AtmosphereError::AltitudeOutOfRange { altitude_m, min_m, max_m } = error;
    tf(
        "altitude {altitude} m is outside {min} m to {max} m",
        &[("altitude", &full(*altitude_m)), ("min", &full(*min_m)), ("max", &full(*max_m))],
    )
}

/// Everything that is wrong with an engine file, each on a line.
fn file(error: &EngineFileError) -> String {
    let mut lines: Vec<String> = Vec::new();
    for problem in &error.problems {
        let what = fault(&problem.fault);
        lines.push(match problem.line {
            Some(line) => tf("Line {line}, {what}", &[("line", &line.to_string()), ("what", &what)]),
            None => tf("In the file: {what}", &[("what", &what)]),
        });
    }
    if error.more > 0 {
        lines.push(tf("and {n} more", &[("n", &error.more.to_string())]));
    }
    lines.join("\n")
}

fn fault(fault: &Fault) -> String {
    match fault {
        Fault::Empty => tf(
            "nothing but white space and comments; an engine has `name`, `title` and {tables} tables of numbers",
            &[("tables", &engine_file::tables().to_string())],
        ),
        Fault::TooLarge { bytes, max } => tf(
            "{bytes} bytes, which no engine needs; at most {max} are read",
            &[("bytes", &bytes.to_string()), ("max", &max.to_string())],
        ),
        Fault::Syntax { quote, what, comma } => {
            let told = tf("`{quote}`: {what}", &[("quote", quote), ("what", what)]);
            if *comma { format!("{told}. {}", t("Write numbers with a decimal point, not a comma")) } else { told }
        }
        Fault::UnknownTop { name, is_table, hint } => {
            let says = match is_table {
                true => msg("`{name}`: an engine has no such table"),
                false => msg("`{name}`: an engine has no such key at the top"),
            };
            let told = tf(says, &[("name", name)]);
            match hint {
                Some(Hint::Under(table)) => {
                    format!("{told}; {}", tf("it belongs under `[{table}]`", &[("table", table)]))
                }
                Some(Hint::Nearest(table)) => {
                    format!("{told}; {}", tf("the nearest table is `[{table}]`", &[("table", table)]))
                }
                None => told,
            }
        }
        Fault::MissingTable { table, keys, first } => tf(
            "the table `[{table}]` is missing, with its {keys} keys, from `{first}` on",
            &[("table", table), ("keys", &keys.to_string()), ("first", first)],
        ),
        Fault::MissingKey { key } => tf(
            "`[{group}]`: `{name}` is missing. {about} {range}.",
            &[("group", key.group), ("name", key.name), ("about", t(key.about)), ("range", &range(key))],
        ),
        Fault::MissingText { key } => tf("`{key}` is missing: {rule}", &[("key", key), ("rule", &text_rule(key))]),
        Fault::BadText { key, value } => format!("`{key} = \"{value}\"`: {}", text_rule(key)),
        Fault::WrongKind { key, found, wanted } => {
            let wanted = match wanted {
                Wanted::Text => t("text in quotes").into(),
                Wanted::Table(table) => tf("one table, `[{table}]`", &[("table", table)]),
                Wanted::Number(key) => tf("a number, {range}", &[("range", &range(key))]),
            };
            let found = t_any(found);
            tf("`{key}` is {found}, but must be {wanted}", &[("key", key), ("found", &found), ("wanted", &wanted)])
        }
        Fault::Key(error) => key(error),
        Fault::Engine(error) => engine(error),
    }
}

/// The allowed values of a key, such as `0.05 to 0.3 m`.
fn range(key: &Key) -> String {
    let number = |value: f64| marked(engine_file::number_text(value));
    let places = [("min", number(key.min)), ("max", number(key.max))];
    let text = tf("{min} to {max}", &places.each_ref().map(|(name, value)| (*name, value.as_str())));
    if key.unit.is_empty() { text } else { format!("{text} {}", key.unit) }
}

fn text_rule(key: &str) -> String {
    match key {
        "name" => tf(
            "the short name that the terminal takes, 1 to {most} small letters, digits and hyphens, such as \"harbour-six\"",
            &[("most", &engine_file::MAX_NAME_CHARS.to_string())],
        ),
        _ => tf(
            "a line that says what the engine is, 1 to {most} characters",
            &[("most", &engine_file::MAX_TITLE_CHARS.to_string())],
        ),
    }
}

/// What can be found in a place of a file, and the units that [`KeyError::likely_unit`] names: for the catalogs.
#[cfg(test)]
pub const WORDS_OF_CORE: [&str; 16] = [
    "text in quotes",
    "a number",
    "true or false",
    "a date or a time",
    "a list",
    "a table",
    "millimetres",
    "kilopascals",
    "bar",
    "degrees Celsius",
    "litres",
    "square centimetres",
    "square millimetres",
    "milligrams",
    "megajoules",
    "litres per minute",
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::BenchSettings;

    /// In English the page says what core says, whatever is wrong.
    #[test]
    fn identity_the_words_are_those_of_core() {
        let (_, good) = engine_file::BUILT_IN[0];
        let without = |line: &str| good.lines().filter(|l| !l.starts_with(line)).collect::<Vec<_>>().join("\n");
        let with = |from: &str, to: &str| {
            let changed: Vec<String> =
                good.lines().map(|l| if l.starts_with(from) { to.to_string() } else { l.to_string() }).collect();
            changed.join("\n")
        };
        let files = [
            String::new(),
            "x".repeat(engine_file::MAX_BYTES + 1),
            with("bore_m", "bore_m = 0,108"),
            with("bore_m", "bore_m = = 3"),
            with("bore_m", "bore_m = 108"),
            with("bore_m", "bore_m = \"wide\""),
            with("bore_m", "boar_m = 0.1"),
            with("bore_m", "zzzz = 0.1"),
            with("title", "title = 3"),
            with("name", "name = \"Not A Name\""),
            with("count", "count = 7"),
            with("conrod_m", "conrod_m = 0.09"),
            with("exhaust_opens_deg", "exhaust_opens_deg = 120.5"),
            without("name"),
            without("title"),
            without("bore_m"),
            without("[turbine]"),
            format!("stroke_m = 0.1\n[cylinder]\na = 1\n{good}"),
            "[cylinders]\n".repeat(40),
            format!("cylinders = 3\n{}", "a = 1\n".replace('a', "b")),
        ];
        let mut seen = 0;
        for text in &files {
            let error = engine_file::parse(text).unwrap_err();
            assert_eq!(file(&error), error.to_string());
            seen += error.problems.len();
        }
        assert!(seen > files.len(), "{seen}");
        let high = volute_core::gas::atmosphere::ambient_at(2.0e4).unwrap_err();
        assert_eq!(altitude(&high), high.to_string());
        let mut bad = BenchSettings::open();
        bad.settings.speed_rpm = 1.0;
        let refused = crate::run::point(&bad, None).refused.unwrap();
        assert_eq!(bench(&refused), refused.to_string());
        for error in [
            EngineError::ClosedTooShort { closed_deg: 60.5, interval_deg: 120.0 },
            EngineError::Compressor(CompressorError::HeadBeatsWork { mach: 1.25, head: 0.75, work: 0.5 }),
            EngineError::Turbine(TurbineError::VanesDoNotOpen { shut_area_m2: 1.0e-3, open_area_m2: 1.2e-3 }),
            EngineError::Range(RangeError::SpeedRange { min_rpm: 900.0, max_rpm: 800.0 }),
            EngineError::Combustion(CombustionError::FuelRange { least_kg: 2.0e-4, most_kg: 1.0e-4 }),
        ] {
            assert_eq!(engine(&error), error.to_string());
        }
    }
}
