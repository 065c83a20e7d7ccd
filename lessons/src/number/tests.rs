use super::*;
use crate::units::number as print;
use proptest::prelude::*;

/// What a row expects: a value with unit, or the name of the error.
enum Want<'a> {
    Value(f64, &'a str),
    Error(&'a str),
}
use Want::{Error, Value};

fn error_name(error: &ReadError) -> &'static str {
    match error {
        ReadError::Empty => "empty",
        ReadError::TooLong { .. } => "too long",
        ReadError::NotANumber { .. } => "not a number",
        ReadError::Ambiguous { .. } => "ambiguous",
        ReadError::Separators { .. } => "separators",
        ReadError::OneNumber { .. } => "one number",
        ReadError::NotFinite { .. } => "not finite",
        ReadError::UnknownUnit { .. } => "unknown unit",
    }
}

fn check(text: &str, decimal: Decimal, want: &Want) {
    let got = read(text, decimal, None);
    match (want, &got) {
        (Value(value, unit), Ok(written)) => {
            assert_eq!(written.value, *value, "{text:?} {decimal:?}");
            assert_eq!(written.measure.map_or("", |m| m.unit.name), *unit, "{text:?} {decimal:?}");
        }
        (Error(name), Err(error)) => assert_eq!(error_name(error), *name, "{text:?} {decimal:?}"),
        _ => panic!("{text:?} {decimal:?}: {got:?}"),
    }
}

/// A text of the table, its invisible marks unescaped.
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("\\u{") {
        let (code, tail) = after.split_once('}').unwrap();
        out.push_str(before);
        out.push(char::from_u32(u32::from_str_radix(code, 16).unwrap()).unwrap());
        rest = tail;
    }
    out + rest
}

#[test]
fn by_hand_the_table_of_answers_in_two_locales() {
    let table = include_str!("../../samples/answers.tsv");
    let mut rows = 0;
    for row in table.lines().filter(|line| !line.starts_with('#')) {
        let fields: Vec<&str> = row.split('\t').collect();
        let [text, point, comma] = fields.as_slice() else { panic!("{row:?}") };
        for (reading, decimal) in [(point, Decimal::Point), (comma, Decimal::Comma)] {
            let want = match reading.strip_prefix("? ") {
                Some(reason) => Want::Error(reason),
                None => {
                    let (value, unit) = reading.split_once('|').unwrap();
                    Want::Value(value.parse().unwrap(), unit)
                }
            };
            check(&unescaped(text), decimal, &want);
        }
        rows += 1;
    }
    assert!(rows >= 200, "{rows} rows");
}

#[test]
fn by_hand_answers_that_read_the_same_with_point_and_comma() {
    let rows = [
        ("185", Value(185.0, "")),
        ("185.", Value(185.0, "")),
        ("1,85", Value(1.85, "")),
        ("1.85", Value(1.85, "")),
        ("1.85e0", Value(1.85, "")),
        ("1,85E+0", Value(1.85, "")),
        ("185e-2", Value(1.85, "")),
        ("185E−2", Value(1.85, "")),
        ("185*10^-2", Value(1.85, "")),
        ("185·10^−2", Value(1.85, "")),
        ("185 × 10⁻²", Value(1.85, "")),
        ("1,85 x 10^2 kPa", Value(185.0, "kPa")),
        ("1.85×10² kPa", Value(185.0, "kPa")),
        ("185*10**-2", Value(1.85, "")),
        ("10^3 Pa", Value(1000.0, "Pa")),
        ("10³", Value(1000.0, "")),
        ("185 kPa", Value(185.0, "kPa")),
        ("185kPa", Value(185.0, "kPa")),
        ("185 kPa.", Value(185.0, "kPa")),
        ("185 kPa abs", Value(185.0, "kPa")),
        ("1.85 bar", Value(1.85, "bar")),
        ("1,85 bar", Value(1.85, "bar")),
        ("26.8 psi", Value(26.8, "psi")),
        ("26,8 psig", Value(26.8, "psi")),
        ("= 185 kPa", Value(185.0, "kPa")),
        ("+185", Value(185.0, "")),
        ("-63", Value(-63.0, "")),
        ("−63 kPa", Value(-63.0, "kPa")),
        ("– 63 kPa", Value(-63.0, "kPa")),
        ("-0", Value(0.0, "")),
        (".85", Value(0.85, "")),
        (",85", Value(0.85, "")),
        ("0.850", Value(0.85, "")),
        ("0,850", Value(0.85, "")),
        ("1234.567", Value(1234.567, "")),
        ("1234,567", Value(1234.567, "")),
        ("1.8505", Value(1.8505, "")),
        ("1,8505", Value(1.8505, "")),
        ("1.850,5", Value(1850.5, "")),
        ("1,850.5", Value(1850.5, "")),
        ("1,850,000", Value(1_850_000.0, "")),
        ("1.850.000", Value(1_850_000.0, "")),
        ("118 000", Value(118_000.0, "")),
        ("118\u{2009}000 1/min", Value(118_000.0, "1/min")),
        ("118\u{202f}232\u{a0}1/min", Value(118_232.0, "1/min")),
        ("118’232 rpm", Value(118_232.0, "1/min")),
        ("1 850,5 kPa", Value(1850.5, "kPa")),
        ("2400 1/min", Value(2400.0, "1/min")),
        ("2400 min⁻¹", Value(2400.0, "1/min")),
        ("2400 /min", Value(2400.0, "1/min")),
        ("102 %", Value(102.0, "%")),
        ("102%", Value(102.0, "%")),
        ("25 °C", Value(25.0, "degC")),
        ("-5°C", Value(-5.0, "degC")),
        ("990 N·m", Value(990.0, "N m")),
        ("990 Nm", Value(990.0, "N m")),
        ("730 ft-lb", Value(730.0, "lb ft")),
        ("1083 kg/h", Value(1083.0, "kg/h")),
        ("  185\u{200b} kPa \n", Value(185.0, "kPa")),
        ("\u{202d}185\u{202c} kPa", Value(185.0, "kPa")),
        ("1e308", Value(1e308, "")),
        ("", Error("empty")),
        (" \u{2009} ", Error("empty")),
        ("=", Error("empty")),
        ("NaN", Error("not finite")),
        ("nan kPa", Error("not finite")),
        ("inf", Error("not finite")),
        ("-Infinity", Error("not finite")),
        ("∞", Error("not finite")),
        ("1e999", Error("not finite")),
        ("-1e999", Error("not finite")),
        ("1e-999", Error("not finite")),
        ("1e99999999999999999999", Error("not finite")),
        ("kPa", Error("not a number")),
        ("abc", Error("not a number")),
        ("one", Error("not a number")),
        ("about 5", Error("not a number")),
        ("~5", Error("not a number")),
        ("--5", Error("not a number")),
        ("1 85", Error("one number")),
        ("1850 100", Error("one number")),
        ("5-6", Error("one number")),
        ("5 ± 1", Error("one number")),
        ("1/2", Error("one number")),
        ("5;6", Error("unknown unit")),
        ("5 furlongs", Error("unknown unit")),
        ("185 mPa", Error("unknown unit")),
        ("185 kPa kPa", Error("unknown unit")),
        ("0x1F", Error("unknown unit")),
        ("5<script>", Error("unknown unit")),
        ("5\u{0}", Error("unknown unit")),
        ("1,85.0", Error("separators")),
        ("1.2.3", Error("separators")),
        ("1,2,3", Error("separators")),
        ("1,,5", Error("separators")),
        ("1..5", Error("separators")),
        ("12,34,567", Error("separators")),
        ("1,850.5.5", Error("separators")),
        ("185,", Error("separators")),
        ("٣", Error("not a number")),
    ];
    for (text, want) in &rows {
        for decimal in [Decimal::Point, Decimal::Comma] {
            check(text, decimal, want);
        }
    }
}

#[test]
fn by_hand_what_could_be_thousands_is_asked_back() {
    for (text, point, comma) in [
        ("1,850", Error("ambiguous"), Value(1.85, "")),
        ("1.850", Value(1.85, ""), Error("ambiguous")),
        ("-12,500 kPa", Error("ambiguous"), Value(-12.5, "kPa")),
        ("118.232 1/min", Value(118.232, "1/min"), Error("ambiguous")),
        ("118,232", Error("ambiguous"), Value(118.232, "")),
    ] {
        check(text, Decimal::Point, &point);
        check(text, Decimal::Comma, &comma);
    }
    let asked = read("1,850", Decimal::Point, None).unwrap_err();
    assert_eq!(asked.to_string(), "“1,850” can be read in two ways: write 1.85 or 1850.");
    let asked = read("2.000", Decimal::Comma, None).unwrap_err();
    assert_eq!(asked.to_string(), "“2.000” can be read in two ways: write 2 or 2000.");
}

#[test]
fn by_hand_a_megabyte_is_refused_at_once() {
    let long = "9".repeat(1 << 20);
    assert_eq!(read(&long, Decimal::Point, None), Err(ReadError::TooLong { bytes: 1 << 20 }));
    let just = "9".repeat(LONGEST);
    assert!(read(&just, Decimal::Point, None).is_ok());
}

#[test]
fn by_hand_figures() {
    for (text, figures) in [
        ("185", (3, 3)),
        ("0.0185", (3, 3)),
        ("1.850e2", (4, 4)),
        ("1850", (3, 4)),
        ("90", (1, 2)),
        ("90.0", (3, 3)),
        ("0", (1, 1)),
        ("118 000", (3, 6)),
    ] {
        assert_eq!(read(text, Decimal::Point, None).map(|w| w.figures), Ok(figures), "{text}");
    }
}

#[test]
fn by_hand_an_unknown_unit_is_answered_with_units_that_would_do() {
    let error = read("5 furlongs", Decimal::Point, units::read("kPa")).unwrap_err();
    assert_eq!(
        error.to_string(),
        "“furlongs” is no unit that is known here; such as Pa, hPa, kPa, MPa, mbar would do."
    );
}

proptest! {
    #[test]
    fn identity_nothing_that_is_typed_can_break_the_reader(text in any::<String>()) {
        for decimal in [Decimal::Point, Decimal::Comma] {
            if let Ok(written) = read(&text, decimal, None) {
                prop_assert!(written.value.is_finite());
            }
        }
    }

    #[test]
    fn identity_number_like_text_neither(text in "[-−+=]{0,2}[0-9.,' \u{2009}]{0,12}[eE*x×^⁻²10 ]{0,6}[a-zA-Z%/·² ]{0,8}") {
        for decimal in [Decimal::Point, Decimal::Comma] {
            if let Ok(written) = read(&text, decimal, None) {
                prop_assert!(written.value.is_finite());
            }
        }
    }

    #[test]
    fn identity_what_we_print_is_read_back(value in -1.0e9..1.0e9_f64, decimals in 0_u8..=6) {
        for decimal in [Decimal::Point, Decimal::Comma] {
            let text = print(value, decimals, decimal);
            let written = read(&format!("{text}\u{a0}kPa"), decimal, None).map_err(|e| TestCaseError::fail(e.to_string()))?;
            let exact: f64 = format!("{value:.*}", usize::from(decimals)).parse().unwrap();
            prop_assert_eq!(written.value, exact, "{}", text);
        }
    }
}
