//! How the curves of a lesson are called: names, units and axes, for the sketch and for what the bench shows.

use super::sketch_pad::Axis;
use crate::language::{t, t_any};
use volute_lessons::curves::{CurveKind, Swept};
use volute_lessons::lesson::CurveRef;
use volute_lessons::paths;
use volute_lessons::units::{Reference, Unit};
use volute_lessons::work::Worked;
use volute_quantities::quantities::Side;

/// Digits after the point with which an axis of this length is read.
pub fn decimals(span: f64) -> usize {
    let span = span.abs();
    if span >= 60.0 {
        0
    } else if span >= 6.0 {
        1
    } else {
        2
    }
}

/// What a curve shows, for its axis.
pub fn quantity_name(of: &CurveRef) -> String {
    let about = match of.kind {
        CurveKind::Sweep => paths::quantity(of.quantity).map(|q| q.about()),
        CurveKind::Run => paths::run_quantity(of.quantity).map(|q| q.about_in_time()),
    };
    about.map_or_else(|| of.quantity.into(), t_any)
}

/// The same, short enough to stand at the end of a line.
pub fn short_name(of: &CurveRef) -> String {
    t_any(&of.quantity.replace('_', " "))
}

/// On which side of the engine a quantity is, as the style sheet names it: cool, warm or neither.
pub fn side(key: &str) -> &'static str {
    let side = paths::quantity(key).map(|q| q.side).or_else(|| paths::run_quantity(key).map(|q| q.side));
    match side {
        Some(Side::Intake) => "in",
        Some(Side::Exhaust) => "ex",
        _ => "ink",
    }
}

/// The axis along a sweep, or time.
pub fn axis_along(of: &CurveRef, worked: &Worked, ends_si: (f64, f64)) -> Axis {
    let sweep = worked.sweeps.get(&of.of).filter(|_| of.kind == CurveKind::Sweep);
    match sweep {
        Some(sweep) => {
            let name = match sweep.over {
                Swept::Vane => t("vane position").to_string(),
                Swept::Torque => t("torque").into(),
                Swept::Fuel => t("fuel per injection").into(),
                Swept::Speed => t("engine speed").into(),
                Swept::Altitude => t("altitude").into(),
                Swept::Temperature => t("temperature outside").into(),
                Swept::Part { name, .. } => part_name(name),
            };
            let (from, to) = (sweep.unit.of_si(ends_si.0), sweep.unit.of_si(ends_si.1));
            Axis { name, unit: symbol(sweep.unit, None).into(), from, to, decimals: decimals(to - from) }
        }
        None => Axis { name: t("time").into(), unit: "s".into(), from: ends_si.0, to: ends_si.1, decimals: 2 },
    }
}

/// A parameter's name with its unit behind it, as files have it: `bore_m` is a bore in metres.
fn part_name(name: &str) -> String {
    t_any(&name.replace('_', " "))
}

/// The symbol of a unit with what a pressure counts from, as the page's plots write it.
pub fn symbol(unit: &'static Unit, reference: Option<Reference>) -> &'static str {
    match (unit.name, reference) {
        ("kPa", Some(Reference::Absolute)) => t("kPa abs"),
        ("kPa", Some(Reference::Gauge)) => t("kPa gauge"),
        ("psi", Some(Reference::Absolute)) => t("psia"),
        ("psi", Some(Reference::Gauge)) => t("psi gauge"),
        _ => unit.symbol,
    }
}
