//! Units that people write: in lesson files and in answers. Inside, every number is SI.
//!
//! A unit belongs to a [`Family`], which is finer than its dimension: a torque is not an energy although both are N m.
//! Whether a pressure counts from vacuum or from the air outside is not part of the unit but stands beside it
//! ([`Reference`]), as UCUM (section 6) and NIST SP 811 (7.4, from memory) want it: `kPa abs`, `psig`.

use crate::said::{self, Place, Sentence};
use std::fmt;

/// Exponents of kilogram, metre, second and kelvin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Dim {
    /// Kilogram.
    pub kg: i8,
    /// Metre.
    pub m: i8,
    /// Second.
    pub s: i8,
    /// Kelvin.
    pub k: i8,
}

impl Dim {
    /// A plain number.
    pub const NONE: Dim = Dim::new(0, 0, 0, 0);
    /// Temperature, a point or a difference.
    pub const TEMPERATURE: Dim = Dim::new(0, 0, 0, 1);
    /// Pressure.
    pub const PRESSURE: Dim = Dim::new(1, -1, -2, 0);

    /// Exponents in the order kg, m, s, K.
    pub const fn new(kg: i8, m: i8, s: i8, k: i8) -> Self {
        Self { kg, m, s, k }
    }

    /// Dimension of a product.
    pub fn times(self, other: Dim) -> Dim {
        self.zip(other, i8::saturating_add)
    }

    /// Dimension of a quotient.
    pub fn over(self, other: Dim) -> Dim {
        self.zip(other, i8::saturating_sub)
    }

    /// Dimension of a square root, or nothing when an exponent is odd.
    pub fn sqrt(self) -> Option<Dim> {
        let Dim { kg, m, s, k } = self;
        [kg, m, s, k].iter().all(|e| e % 2 == 0).then(|| Dim::new(kg / 2, m / 2, s / 2, k / 2))
    }

    fn zip(self, other: Dim, f: fn(i8, i8) -> i8) -> Dim {
        Dim::new(f(self.kg, other.kg), f(self.m, other.m), f(self.s, other.s), f(self.k, other.k))
    }
}

impl fmt::Display for Dim {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(family) = Family::ALL.iter().find(|family| family.dim() == *self) {
            return out.write_str(family.name());
        }
        let mut gap = "";
        for (symbol, exponent) in [("kg", self.kg), ("m", self.m), ("s", self.s), ("K", self.k)] {
            match exponent {
                0 => continue,
                1 => write!(out, "{gap}{symbol}")?,
                _ => write!(out, "{gap}{symbol}^{exponent}")?,
            }
            gap = " ";
        }
        Ok(())
    }
}

macro_rules! families {
    ($($family:ident, $name:literal, ($kg:literal, $m:literal, $s:literal, $k:literal);)+) => {
        /// What a unit measures.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[allow(missing_docs, reason = "the names are the quantities")]
        pub enum Family { $($family),+ }

        impl Family {
            /// All of them. Where two share a dimension, the commoner comes first.
            pub const ALL: &'static [Family] = &[$(Family::$family),+];

            /// In words, for a message.
            pub fn name(self) -> &'static str {
                match self { $(Family::$family => $name),+ }
            }

            /// Exponents of the SI base units.
            pub const fn dim(self) -> Dim {
                match self { $(Family::$family => Dim::new($kg, $m, $s, $k)),+ }
            }
        }
    };
}

families! {
    Ratio, "a plain number", (0, 0, 0, 0);
    Pressure, "a pressure", (1, -1, -2, 0);
    Temperature, "a temperature", (0, 0, 0, 1);
    Torque, "a torque", (1, 2, -2, 0);
    Energy, "an energy", (1, 2, -2, 0);
    Power, "a power", (1, 2, -3, 0);
    MassFlow, "a mass flow", (1, 0, -1, 0);
    Mass, "a mass", (1, 0, 0, 0);
    Length, "a length", (0, 1, 0, 0);
    Area, "an area", (0, 2, 0, 0);
    Volume, "a volume", (0, 3, 0, 0);
    Time, "a time", (0, 0, 1, 0);
    Speed, "a speed", (0, 1, -1, 0);
    Rotation, "a speed of rotation", (0, 0, -1, 0);
    Density, "a density", (1, -3, 0, 0);
    Inertia, "a moment of inertia", (1, 2, 0, 0);
    HeatCapacity, "a heat capacity", (0, 2, -2, -1);
    SpecificFuel, "a specific fuel consumption", (0, -2, 2, 0);
    VolumeFlow, "a volume flow", (0, 3, -1, 0);
}

/// A unit: `si = value * factor + offset`.
#[derive(Debug, PartialEq)]
pub struct Unit {
    /// As we print it.
    pub name: &'static str,
    /// Other spellings that we read. Spaces, middle dots and case are tried loosely by [`read`].
    pub also: &'static [&'static str],
    /// What it measures.
    pub family: Family,
    /// SI units in one of it.
    pub factor: f64,
    /// SI value at its zero.
    pub offset: f64,
    /// Decimals that a reading is shown with.
    pub decimals: u8,
    /// The unit that stands for it when customary units are shown; itself if there is none.
    pub customary: &'static str,
}

impl Unit {
    /// SI value of `value` in this unit.
    pub fn to_si(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// SI value of a difference of `value` in this unit: the offset of a thermometer's zero plays no part.
    pub fn difference_to_si(&self, value: f64) -> f64 {
        value * self.factor
    }

    /// Value in this unit of an SI value.
    pub fn of_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    /// Value in this unit of a difference in SI.
    pub fn difference_of_si(&self, si: f64) -> f64 {
        si / self.factor
    }

    /// The unit that stands for this one when customary units are shown.
    pub fn customary(&self) -> &'static Unit {
        exact(self.customary).or_else(|| exact(self.name)).unwrap_or(PLAIN)
    }
}

const fn unit(
    name: &'static str,
    also: &'static [&'static str],
    family: Family,
    factor: f64,
    decimals: u8,
    customary: &'static str,
) -> Unit {
    Unit { name, also, family, factor, offset: 0.0, decimals, customary }
}

const LB_KG: f64 = 0.453_592_37;
const FT_M: f64 = 0.3048;
/// One pound-force, in N: the pound times standard gravity.
const LBF_N: f64 = LB_KG * 9.806_65;
const PSI_PA: f64 = LBF_N / (0.0254 * 0.0254);

/// A plain number.
pub const PLAIN: &Unit = &UNITS[0];

/// Every unit. Factors are the exact definitions (NIST SP 811, appendix B; from memory: foot, pound, standard gravity and
/// conventional mercury), the metric horsepower 75 kgf m/s.
pub static UNITS: &[Unit] = &[
    unit("", &[], Family::Ratio, 1.0, 2, ""),
    unit("%", &["percent", "per cent", "pct"], Family::Ratio, 0.01, 0, "%"),
    unit("Pa", &["pascal"], Family::Pressure, 1.0, 0, "psi"),
    unit("hPa", &[], Family::Pressure, 100.0, 0, "psi"),
    unit("kPa", &["kilopascal"], Family::Pressure, 1000.0, 0, "psi"),
    unit("MPa", &[], Family::Pressure, 1.0e6, 1, "psi"),
    unit("mbar", &["millibar"], Family::Pressure, 100.0, 0, "psi"),
    unit("bar", &["bars"], Family::Pressure, 1.0e5, 2, "psi"),
    unit("psi", &["lb/in2", "lbf/in2", "lb/sq in"], Family::Pressure, PSI_PA, 1, "psi"),
    unit("inHg", &["in Hg", "\"Hg"], Family::Pressure, 3386.389, 1, "inHg"),
    unit("mmHg", &["mm Hg"], Family::Pressure, 133.322_387_415, 0, "psi"),
    unit("K", &["kelvin"], Family::Temperature, 1.0, 0, "K"),
    Unit {
        name: "degC",
        also: &["°C", "ºC", "C", "℃", "deg C", "celsius"],
        family: Family::Temperature,
        factor: 1.0,
        offset: 273.15,
        decimals: 0,
        customary: "degF",
    },
    Unit {
        name: "degF",
        also: &["°F", "ºF", "F", "℉", "deg F", "fahrenheit"],
        family: Family::Temperature,
        factor: 5.0 / 9.0,
        offset: 459.67 * 5.0 / 9.0,
        decimals: 0,
        customary: "degF",
    },
    unit("N m", &["N·m", "Nm", "N-m", "newton metre", "newton meter"], Family::Torque, 1.0, 0, "lb ft"),
    unit("kN m", &["kN·m", "kNm"], Family::Torque, 1000.0, 2, "lb ft"),
    unit(
        "lb ft",
        &["lb·ft", "lbf ft", "lb-ft", "lbft", "ft lb", "ft-lb", "ft lbf", "ftlb", "lbs ft", "ft lbs", "ft-lbs"],
        Family::Torque,
        LBF_N * FT_M,
        0,
        "lb ft",
    ),
    unit("J", &["joule"], Family::Energy, 1.0, 0, "J"),
    unit("kJ", &[], Family::Energy, 1000.0, 1, "kJ"),
    unit("MJ", &[], Family::Energy, 1.0e6, 2, "MJ"),
    unit("W", &["watt"], Family::Power, 1.0, 0, "hp"),
    unit("kW", &["kilowatt"], Family::Power, 1000.0, 1, "hp"),
    unit("MW", &[], Family::Power, 1.0e6, 2, "hp"),
    unit("hp", &["HP", "bhp"], Family::Power, 550.0 * LBF_N * FT_M, 0, "hp"),
    unit("PS", &["metric hp", "ch", "cv"], Family::Power, 75.0 * 9.806_65, 0, "hp"),
    unit("kg/s", &["kg s^-1"], Family::MassFlow, 1.0, 3, "lb/min"),
    unit("g/s", &[], Family::MassFlow, 1.0e-3, 1, "lb/min"),
    unit("kg/h", &["kg/hr"], Family::MassFlow, 1.0 / 3600.0, 0, "lb/h"),
    unit("kg/min", &[], Family::MassFlow, 1.0 / 60.0, 1, "lb/min"),
    unit("lb/min", &[], Family::MassFlow, LB_KG / 60.0, 1, "lb/min"),
    unit("lb/h", &["lb/hr"], Family::MassFlow, LB_KG / 3600.0, 0, "lb/h"),
    unit("kg", &["kilogram"], Family::Mass, 1.0, 2, "lb"),
    unit("g", &["gram"], Family::Mass, 1.0e-3, 1, "g"),
    unit("mg", &["milligram"], Family::Mass, 1.0e-6, 0, "mg"),
    unit("lb", &["lbs"], Family::Mass, LB_KG, 2, "lb"),
    unit("m", &["metre", "meter"], Family::Length, 1.0, 2, "ft"),
    unit("km", &[], Family::Length, 1000.0, 1, "ft"),
    unit("cm", &[], Family::Length, 0.01, 1, "in"),
    unit("mm", &[], Family::Length, 1.0e-3, 0, "in"),
    unit("in", &["inch", "\""], Family::Length, 0.0254, 2, "in"),
    unit("ft", &["feet", "foot"], Family::Length, FT_M, 0, "ft"),
    unit("m2", &["m²", "m^2"], Family::Area, 1.0, 4, "m2"),
    unit("cm2", &["cm²", "cm^2"], Family::Area, 1.0e-4, 1, "in2"),
    unit("mm2", &["mm²", "mm^2"], Family::Area, 1.0e-6, 0, "in2"),
    unit("in2", &["in²", "in^2", "sq in"], Family::Area, 0.0254 * 0.0254, 2, "in2"),
    unit("m3", &["m³", "m^3"], Family::Volume, 1.0, 4, "m3"),
    unit("L", &["l", "litre", "liter", "dm3", "dm³", "dm^3"], Family::Volume, 1.0e-3, 1, "L"),
    unit("s", &["sec", "second", "seconds"], Family::Time, 1.0, 2, "s"),
    unit("ms", &[], Family::Time, 1.0e-3, 0, "ms"),
    unit("m/s", &["m s^-1"], Family::Speed, 1.0, 0, "ft/s"),
    unit("km/h", &["kph"], Family::Speed, 1.0 / 3.6, 0, "ft/s"),
    unit("ft/s", &[], Family::Speed, FT_M, 0, "ft/s"),
    unit(
        "1/min",
        &["rpm", "min^-1", "min⁻¹", "/min", "r/min", "rev/min", "U/min"],
        Family::Rotation,
        1.0 / 60.0,
        0,
        "1/min",
    ),
    unit("1/s", &["rps", "rev/s", "r/s", "s^-1", "s⁻¹"], Family::Rotation, 1.0, 1, "1/s"),
    unit("g/(kW h)", &["g/kWh", "g/kW/h", "g/(kWh)"], Family::SpecificFuel, 1.0e-3 / 3.6e6, 0, "lb/(hp h)"),
    unit("lb/(hp h)", &["lb/hph"], Family::SpecificFuel, LB_KG / (550.0 * LBF_N * FT_M * 3600.0), 3, "lb/(hp h)"),
    unit("L/min", &["l/min", "litre/min"], Family::VolumeFlow, 1.0e-3 / 60.0, 0, "L/min"),
    unit("L/s", &["l/s"], Family::VolumeFlow, 1.0e-3, 2, "L/s"),
    unit("m3/s", &["m³/s", "m^3/s"], Family::VolumeFlow, 1.0, 5, "m3/s"),
    unit("m3/h", &["m³/h", "m^3/h"], Family::VolumeFlow, 1.0 / 3600.0, 1, "m3/h"),
    unit("kg/m3", &["kg/m³", "kg/m^3"], Family::Density, 1.0, 2, "kg/m3"),
    unit("kg m2", &["kg m²", "kg m^2"], Family::Inertia, 1.0, 6, "kg m2"),
    unit("J/(kg K)", &["J/kg/K", "J/kgK"], Family::HeatCapacity, 1.0, 0, "J/(kg K)"),
    unit("kJ/(kg K)", &["kJ/kg/K", "kJ/kgK"], Family::HeatCapacity, 1000.0, 3, "kJ/(kg K)"),
];

/// What a pressure counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reference {
    /// Vacuum.
    Absolute,
    /// The air outside.
    Gauge,
}

impl Reference {
    /// As it stands behind a unit.
    pub fn name(self) -> &'static str {
        match self {
            Reference::Absolute => "abs",
            Reference::Gauge => "gauge",
        }
    }
}

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
        let symbol = printed(self.unit.name);
        let [absolute, gauge] = style.references;
        match self.reference {
            Some(Reference::Absolute) => absolute.replace("{unit}", symbol),
            Some(Reference::Gauge) => gauge.replace("{unit}", symbol),
            None => symbol.into(),
        }
    }

    /// The same to stand in a sentence.
    pub fn said(&self) -> Place {
        let symbol = printed(self.unit.name);
        match self.reference {
            Some(Reference::Absolute) => Sentence::new(said::ABSOLUTE).with("unit", symbol).into(),
            Some(Reference::Gauge) => Sentence::new(said::GAUGE).with("unit", symbol).into(),
            None => symbol.into(),
        }
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(printed(self.unit.name))?;
        match self.reference {
            Some(reference) => write!(out, " {}", reference.name()),
            None => Ok(()),
        }
    }
}

/// The unit's symbol in print: degrees and middle dots where the plain name has letters.
fn printed(name: &'static str) -> &'static str {
    match name {
        "degC" => "°C",
        "degF" => "°F",
        "N m" => "N·m",
        "kN m" => "kN·m",
        "lb ft" => "lb·ft",
        "m2" => "m²",
        "cm2" => "cm²",
        "mm2" => "mm²",
        "in2" => "in²",
        "m3" => "m³",
        "kg/m3" => "kg/m³",
        "m3/s" => "m³/s",
        "m3/h" => "m³/h",
        "g/(kW h)" => "g/(kW·h)",
        "lb/(hp h)" => "lb/(hp·h)",
        "kg m2" => "kg·m²",
        "J/(kg K)" => "J/(kg·K)",
        "kJ/(kg K)" => "kJ/(kg·K)",
        other => other,
    }
}

/// The unit of exactly this name.
pub fn exact(name: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.name == name)
}

/// The longest unit name or other spelling that begins `text` and ends at a word's end, with its length in bytes.
/// For expressions in lesson files, where a unit follows a number directly.
pub(crate) fn prefix(text: &str) -> Option<(Measure, usize)> {
    let mut best: Option<(Measure, usize)> = None;
    for unit in &UNITS[1..] {
        // One-letter and quote spellings are for answers: in an expression they would swallow names.
        let spellings = unit.also.iter().filter(|also| also.len() > 1 && !also.contains('"'));
        for name in std::iter::once(&unit.name).chain(spellings) {
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
    let names = |unit: &'static Unit| std::iter::once(&unit.name).chain(unit.also);
    let find =
        |same: &dyn Fn(&str) -> bool| UNITS[1..].iter().find(|unit| names(unit).any(|name| same(&squeeze(name))));
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
        for (i, unit) in UNITS.iter().enumerate() {
            for other in &UNITS[i + 1..] {
                let names =
                    |u: &Unit| std::iter::once(u.name).chain(u.also.iter().copied()).map(squeeze).collect::<Vec<_>>();
                for name in names(unit) {
                    assert!(!names(other).contains(&name), "{name} is both {} and {}", unit.name, other.name);
                }
            }
            assert_eq!(exact(unit.customary).map(|c| c.family), Some(unit.family), "{}", unit.name);
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
    fn published_customary_factors() {
        // NIST SP 811, appendix B.8: psi 6.894 757 E+03 Pa; lbf ft 1.355 818 N m; hp (550 ft lbf/s) 7.456 999 E+02 W.
        for (name, si) in [("psi", 6894.757), ("lb ft", 1.355_818), ("hp", 745.6999)] {
            let factor = exact(name).map_or(f64::NAN, |u| u.factor);
            assert!((factor / si - 1.0).abs() < 1e-6, "{name} {factor}");
        }
        let f = exact("degF").map_or(f64::NAN, |u| u.to_si(32.0));
        assert!((f - 273.15).abs() < 1e-9, "{f}");
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
