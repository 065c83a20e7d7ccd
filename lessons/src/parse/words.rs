//! Short forms within a text: ranges, tolerances, curves, shapes.

use crate::curves::{CurveKind, Swept};
use crate::expr::{LogNames, Scope, ShownProblem, Type, check_type};
use crate::lesson::{Crosses, CurveRef, Shape, Tolerance};
use crate::paths::{self, QUANTITIES};
use crate::seed::SeedRange;
use crate::units::{self, Dim, Family, Measure, Unit};
use toml::de::{DeTable, DeValue};
use volute_core::engine;

/// Most values that a drawn number can have.
pub(super) const MOST_VALUES: u32 = 1_000_000;

/// Courses, in their order.
pub const COURSES: [&str; 4] = ["A", "B", "C", "capstone"];

pub(super) const SHAPES: [(&str, Shape); 6] = [
    ("rises", Shape::Rises),
    ("falls", Shape::Falls),
    ("flat", Shape::Flat),
    ("peak", Shape::Peak),
    ("trough", Shape::Trough),
    ("straight", Shape::Straight),
];

pub(super) const CROSSES: [(&str, Crosses); 3] =
    [("never", Crosses::Never), ("early", Crosses::Early), ("late", Crosses::Late)];

/// `vane 100..30 %`: the setting, its ends in SI and in the order of the file, and their unit.
pub(super) fn swept(text: &str) -> Option<(Swept, (f64, f64), &'static Unit)> {
    let (word, range) = text.trim().split_once(char::is_whitespace)?;
    let (over, family) = match word {
        "vane" => (Swept::Vane, Some(Family::Ratio)),
        "torque" => (Swept::Torque, Some(Family::Torque)),
        "fuel" => (Swept::Fuel, Some(Family::Mass)),
        "speed" => (Swept::Speed, Some(Family::Rotation)),
        "altitude" => (Swept::Altitude, Some(Family::Length)),
        "temperature" => (Swept::Temperature, Some(Family::Temperature)),
        _ => {
            let key = engine::key(word.strip_prefix("parts.")?).ok()?;
            (Swept::Part { group: key.group, name: key.name }, None)
        }
    };
    let (first, last, unit) = ends(range)?;
    let fits = family.map_or(unit == units::PLAIN, |family| unit.family == family && unit != units::PLAIN);
    let ends_si = (unit.to_si(first), unit.to_si(last));
    (fits && first != last).then_some((over, ends_si, unit))
}

/// What expressions may name of a test sheet, as far as its table can be read.
pub(super) fn log_names(name: String, table: &DeTable) -> LogNames {
    let rows = match table.get("points").map(|value| value.get_ref()) {
        Some(DeValue::Integer(rows)) => rows.as_str().parse().unwrap_or(0),
        _ => 0,
    };
    let mut channels = Vec::new();
    if let Some(DeValue::Array(list)) = table.get("channel").map(|value| value.get_ref()) {
        for channel in list {
            let DeValue::Table(channel) = channel.get_ref() else { continue };
            let text = |key: &str| match channel.get(key).map(|value| value.get_ref()) {
                Some(DeValue::String(text)) => Some(text.to_string()),
                _ => None,
            };
            let unit = text("unit").and_then(|unit| units::read(if unit == "1" { "" } else { &unit }));
            if let (Some(name), Some(measure)) = (text("name"), unit) {
                channels.push((name, Type::in_unit(measure.unit, measure.reference)));
            }
        }
    }
    LogNames { name, channels, rows }
}

/// The curve of a name. Errors: the names that there are.
pub(super) fn curve_ref(name: &str, scope: &Scope) -> Result<CurveRef, Vec<String>> {
    let curve = |kind, of: &str, quantity| CurveRef { kind, of: of.into(), quantity };
    if let Some((of, path)) = name.strip_prefix("sweeps.").and_then(|rest| rest.split_once('.'))
        && scope.sweeps.iter().any(|(known, _)| known == of)
    {
        let quantity = paths::quantity(path).map(|quantity| quantity.key);
        return quantity
            .map(|quantity| curve(CurveKind::Sweep, of, quantity))
            .ok_or_else(|| QUANTITIES.iter().map(|q| format!("sweeps.{of}.{}", q.key)).collect());
    }
    if let Some((of, path)) = name.strip_prefix("runs.").and_then(|rest| rest.split_once('.'))
        && scope.runs.iter().any(|known| known == of)
    {
        let quantity = paths::run_quantity(path).map(|quantity| quantity.key);
        return quantity
            .map(|quantity| curve(CurveKind::Run, of, quantity))
            .ok_or_else(|| paths::RUN_QUANTITIES.iter().map(|q| format!("runs.{of}.{}", q.key)).collect());
    }
    let sweeps = scope.sweeps.iter().map(|(name, _)| format!("sweeps.{name}.…"));
    Err(sweeps.chain(scope.runs.iter().map(|name| format!("runs.{name}.…"))).collect())
}

/// What kind of value a curve has.
pub(super) fn curve_type(curve: &CurveRef) -> Type {
    let quantity = match curve.kind {
        CurveKind::Sweep => paths::quantity(curve.quantity).map(Type::of),
        CurveKind::Run => paths::run_quantity(curve.quantity).map(Type::of),
    };
    quantity.unwrap_or(Type::number(Dim::NONE))
}

/// Whether a curve can stand over an axis in this unit.
pub(super) fn curve_measure(curve: &CurveRef, measure: Measure) -> Result<(), ShownProblem> {
    check_type(curve.to_string(), curve_type(curve), measure)
}

/// `first..last unit`, in either direction.
pub(super) fn ends(text: &str) -> Option<(f64, f64, &'static Unit)> {
    let (first, rest) = text.split_once("..")?;
    let rest = rest.trim_start();
    let end = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-')).len();
    let unit = units::read(&rest[end..])?.unit;
    let (first, last): (f64, f64) = (first.trim().parse().ok()?, rest[..end].parse().ok()?);
    (first.is_finite() && last.is_finite()).then_some((first, last, unit))
}

/// `low..high unit`.
pub(super) fn limits(text: &str) -> Option<(f64, f64, &'static Unit)> {
    ends(text).filter(|(low, high, _)| low < high)
}

/// `low..high step distance unit`.
pub(super) fn seed_range(name: &str, text: &str) -> Option<SeedRange> {
    let (bounds, step) = text.split_once("step")?;
    let (low, high, plain) = limits(bounds)?;
    let step = step.trim();
    let end = step.len() - step.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    let unit = units::read(&step[end..])?.unit;
    let step: f64 = step[..end].parse().ok()?;
    let steps = (high - low) / step;
    // The high end must be hit, or an author would wonder where it went.
    let whole = (steps - steps.round()).abs() < 1.0e-6;
    if plain.name.is_empty() && step > 0.0 && whole && steps.round() >= 1.0 && steps.round() < f64::from(MOST_VALUES) {
        Some(SeedRange { name: name.into(), low, step, count: steps.round() as u32 + 1, unit })
    } else {
        None
    }
}

/// `3 %`, `2 kPa`, `4 points`.
pub(super) fn tolerance(text: &str, measure: Option<Measure>) -> Option<Tolerance> {
    let text = text.trim();
    let end = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    let size: f64 = text[..end].parse().ok()?;
    let unit = text[end..].trim();
    if !(size.is_finite() && size > 0.0) {
        return None;
    }
    let family = measure.map(|measure| measure.unit.family);
    match unit {
        "%" if size <= 50.0 => Some(Tolerance::Share(size / 100.0)),
        "%" => None,
        "points" | "point" => (family == Some(Family::Ratio)).then_some(Tolerance::Size(size / 100.0)),
        _ => {
            let unit = units::read(unit)?.unit;
            let same = family.is_none_or(|family| family == unit.family);
            same.then(|| Tolerance::Size(unit.difference_to_si(size)))
        }
    }
}
