//! Units as people write them: in lesson files and in answers. The units themselves stand in [`volute_quantities::units`].

use crate::said::{self, Filling, Sentence};
use std::fmt;
use volute_quantities::units as table;
pub use volute_quantities::units::{Dim, Family, Reference, UNITS, Unit, exact};

/// A plain number.
pub const PLAIN: &Unit = &table::PLAIN;

/// A unit, and for pressures perhaps what they count from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// The unit.
    pub unit: &'static Unit,
    /// Said to be absolute or gauge; nothing if not said, or for a difference of pressures.
    pub reference: Option<Reference>,
}

impl Measure {
    /// The unit as a text of this style has it: `kPa gauge`, or what that is in its language.
    pub fn text(&self, style: Style) -> String {
        let symbol = self.unit.symbol;
        let [absolute, gauge] = style.references;
        match self.reference {
            Some(Reference::Absolute) => absolute.replace("{unit}", symbol),
            Some(Reference::Gauge) => gauge.replace("{unit}", symbol),
            None => symbol.into(),
        }
    }

    /// The same to stand in a sentence.
    pub fn said(&self) -> Filling {
        let symbol = self.unit.symbol;
        match self.reference {
            Some(Reference::Absolute) => Sentence::new(said::ABSOLUTE).with("unit", symbol).into(),
            Some(Reference::Gauge) => Sentence::new(said::GAUGE).with("unit", symbol).into(),
            None => symbol.into(),
        }
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.unit.symbol)?;
        match self.reference {
            Some(reference) => write!(out, " {}", reference.name()),
            None => Ok(()),
        }
    }
}

/// Every unit with all its spellings, its name first; the plain number has none.
fn spellings() -> impl Iterator<Item = (&'static Unit, impl Iterator<Item = &'static str>)> {
    let rows = UNITS.iter().zip(table::SPELLINGS).skip(1);
    rows.map(|(unit, also)| (*unit, std::iter::once(unit.name).chain(also.iter().copied())))
}

/// The longest unit name or other spelling that begins `text` and ends at a word's end, with its length in bytes.
/// For expressions in lesson files, where a unit follows a number directly.
pub(crate) fn prefix(text: &str) -> Option<(Measure, usize)> {
    let mut best: Option<(Measure, usize)> = None;
    for (unit, names) in spellings() {
        // One-letter and quote spellings are for answers: in an expression they would swallow names.
        for name in names.filter(|name| *name == unit.name || (name.len() > 1 && !name.contains('"'))) {
            let Some(rest) = text.strip_prefix(name) else { continue };
            let ends_word = name.ends_with(|c: char| !c.is_alphanumeric())
                || !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_');
            if ends_word && best.is_none_or(|(_, length)| length < name.len()) {
                best = Some((Measure { unit, reference: None }, name.len()));
            }
        }
    }
    let (mut measure, mut length) = best?;
    if measure.unit.family == Family::Pressure {
        for (word, reference) in [(" abs", Reference::Absolute), (" gauge", Reference::Gauge)] {
            if let Some(rest) = text[length..].strip_prefix(word)
                && !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_')
            {
                measure.reference = Some(reference);
                length += word.len();
                break;
            }
        }
    }
    Some((measure, length))
}

/// Reads a unit as people write it: any of its spellings, spaces and middle dots loosely, `abs`, `(a)`, `psig`.
/// Case decides only where it must (`mPa` and `MPa`, `kg` and `KG`): first as written, then without case.
pub fn read(text: &str) -> Option<Measure> {
    let text = squeeze(text);
    if text.is_empty() {
        return Some(Measure { unit: PLAIN, reference: None });
    }
    if let Some(unit) = spelled(&text) {
        return Some(Measure { unit, reference: None });
    }
    const MARKS: &[(&str, Reference)] = &[
        ("(absolute)", Reference::Absolute),
        ("absolute", Reference::Absolute),
        ("(abs)", Reference::Absolute),
        ("abs.", Reference::Absolute),
        ("abs", Reference::Absolute),
        ("(a)", Reference::Absolute),
        ("(gauge)", Reference::Gauge),
        ("gauge", Reference::Gauge),
        ("gage", Reference::Gauge),
        // In German.
        ("absolut", Reference::Absolute),
        ("überdruck", Reference::Gauge),
        ("Überdruck", Reference::Gauge),
        ("(ü)", Reference::Gauge),
        ("ü", Reference::Gauge),
        ("(g)", Reference::Gauge),
        ("a", Reference::Absolute),
        ("g", Reference::Gauge),
    ];
    MARKS.iter().find_map(|(mark, reference)| {
        let cut = text.len().checked_sub(mark.len())?;
        if !text.is_char_boundary(cut) || !text[cut..].eq_ignore_ascii_case(mark) {
            return None;
        }
        let unit = spelled(&text[..cut])?;
        (unit.family == Family::Pressure).then_some(Measure { unit, reference: Some(*reference) })
    })
}

/// A spelling without its spaces, dots and multiplication signs.
fn squeeze(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '·' | '⋅' | '*' | '\u{2060}' | '\u{200b}')).collect()
}

fn spelled(text: &str) -> Option<&'static Unit> {
    let find = |same: &dyn Fn(&str) -> bool| {
        spellings().find_map(|(unit, mut names)| names.any(|name| same(&squeeze(name))).then_some(unit))
    };
    // Without case, `mPa` must not become megapascal: a unit that differs only in case is then left unread.
    let loose = || {
        let unit = find(&|name| name.eq_ignore_ascii_case(text))?;
        let one_case = text.bytes().all(|b| !b.is_ascii_uppercase()) || text.bytes().all(|b| !b.is_ascii_lowercase());
        let another_prefix = matches!(unit.name, "MPa" | "hPa" | "MJ" | "MW" | "mg" | "ms") && !one_case;
        // A lone k is a thousand to many.
        (!another_prefix && unit.name != "K").then_some(unit)
    };
    find(&|name| name == text).or_else(loose)
}

/// The sign between whole and decimal places.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Decimal {
    /// `1.85`.
    #[default]
    Point,
    /// `1,85`.
    Comma,
}

/// How numbers in a text are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// The decimal sign.
    pub decimal: Decimal,
    /// Customary units in place of SI.
    pub customary: bool,
    /// How the unit of an absolute and of a gauge pressure is written, in the language of the text: `{unit} gauge`.
    pub references: [&'static str; 2],
}

impl Style {
    /// English, in SI.
    pub const ENGLISH: Style =
        Style { decimal: Decimal::Point, customary: false, references: [said::ABSOLUTE, said::GAUGE] };
}

impl Default for Style {
    fn default() -> Self {
        Style::ENGLISH
    }
}

/// A number with `decimals` places: true minus, narrow no-break spaces between thousands from 10 000 on.
pub fn number(value: f64, decimals: u8, decimal: Decimal) -> String {
    let plain = format!("{:.*}", usize::from(decimals.min(9)), value.abs());
    let (whole, part) = plain.split_once('.').unwrap_or((&plain, ""));
    let zero = plain.bytes().all(|b| matches!(b, b'0' | b'.'));
    let mut text = String::new();
    if value < 0.0 && !zero {
        text.push('−');
    }
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && whole.len() > 4 && (whole.len() - i).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    if !part.is_empty() {
        text.push(match decimal {
            Decimal::Point => '.',
            Decimal::Comma => ',',
        });
        text.push_str(part);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_each_name_is_one_unit() {
        let all: Vec<(&str, Vec<String>)> =
            spellings().map(|(unit, names)| (unit.name, names.map(squeeze).collect())).collect();
        for (i, (unit, names)) in all.iter().enumerate() {
            for (other, others) in &all[i + 1..] {
                assert!(names.iter().all(|name| !others.contains(name)), "{unit} and {other} share a name");
            }
        }
    }

    #[test]
    fn by_hand_units_are_read_as_people_write_them() {
        let rows = [
            ("kPa", "kPa", None),
            ("KPA", "kPa", None),
            ("kpa", "kPa", None),
            ("kPa abs", "kPa", Some(Reference::Absolute)),
            ("kPa(g)", "kPa", Some(Reference::Gauge)),
            ("psia", "psi", Some(Reference::Absolute)),
            ("psig", "psi", Some(Reference::Gauge)),
            ("bar gauge", "bar", Some(Reference::Gauge)),
            ("kPa Überdruck", "kPa", Some(Reference::Gauge)),
            ("bar(ü)", "bar", Some(Reference::Gauge)),
            ("kPa absolut", "kPa", Some(Reference::Absolute)),
            ("bara", "bar", Some(Reference::Absolute)),
            ("°C", "degC", None),
            ("C", "degC", None),
            ("N·m", "N m", None),
            ("Nm", "N m", None),
            ("ft-lb", "lb ft", None),
            ("RPM", "1/min", None),
            ("1/min", "1/min", None),
            ("kg/h", "kg/h", None),
            ("g", "g", None),
            ("%", "%", None),
        ];
        for (text, name, reference) in rows {
            let measure = read(text);
            assert_eq!(measure.map(|m| (m.unit.name, m.reference)), Some((name, reference)), "{text}");
        }
        for text in ["mPa", "furlong", "kPa kPa", "Kg abs", "k", "\u{0}", "ºC abs"] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn by_hand_what_a_pressure_counts_from_is_said_in_the_language_of_the_text() {
        let german =
            Style { decimal: Decimal::Comma, references: ["{unit} absolut", "{unit} Überdruck"], ..Style::ENGLISH };
        for (text, english, other) in [
            ("kPa gauge", "kPa gauge", "kPa Überdruck"),
            ("psi abs", "psi abs", "psi absolut"),
            ("kPa", "kPa", "kPa"),
            ("N m", "N·m", "N·m"),
        ] {
            let measure = read(text).unwrap();
            assert_eq!((measure.text(Style::ENGLISH).as_str(), measure.to_string().as_str()), (english, english));
            assert_eq!(measure.text(german), other);
            let sentence = Sentence::new(said::UNIT_MISSING).with_place("asked", measure.said());
            let said = sentence.filled(|text| match text {
                said::GAUGE => "{unit} Überdruck".into(),
                said::ABSOLUTE => "{unit} absolut".into(),
                _ => "{asked}!".into(),
            });
            assert_eq!(said, format!("{other}!"));
        }
    }

    #[test]
    fn by_hand_numbers_in_print() {
        let rows = [
            (1234.5, 1, Decimal::Point, "1234.5"),
            (12345.0, 0, Decimal::Point, "12\u{202f}345"),
            (-0.04, 1, Decimal::Point, "0.0"),
            (-62.96, 1, Decimal::Comma, "−63,0"),
            (1_234_567.0, 0, Decimal::Comma, "1\u{202f}234\u{202f}567"),
        ];
        for (value, decimals, decimal, text) in rows {
            assert_eq!(number(value, decimals, decimal), text);
        }
    }
}
