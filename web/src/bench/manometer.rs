//! The balance of p2 and p3 as an inverted U with an evacuated bend.
//!
//! It is inverted so that the column under the higher pressure really stands higher, and each reads absolute pressure from
//! zero. In an upright U the higher pressure would have the lower column.

use super::drawing::{Svg, symbol};
use crate::describe::Stamp;
use crate::language::t;
use crate::plots::ticks;
use crate::units::{Quantity, UnitSystem, number, signed};
use volute_core::point::reading::Reading;

/// Foot and top of the columns, their middles, half their width.
const FOOT: f64 = 318.0;
const TOP: f64 = 128.0;
const P2_X: f64 = 312.0;
const P3_X: f64 = 362.0;
const HALF: f64 = 11.0;

/// Full scales to choose from: the columns use the least that holds both.
const FULL_KPA: [f64; 6] = [250.0, 400.0, 600.0, 1000.0, 1600.0, 4000.0];
const FULL_PSI: [f64; 6] = [40.0, 60.0, 100.0, 150.0, 250.0, 600.0];

fn tube() -> String {
    let (l, r, h, top) = (P2_X, P3_X, HALF, TOP);
    format!(
        "M{} {FOOT}V{}Q{} {} {} {}H{}Q{} {} {} {}V{FOOT}H{}V{top}Q{} {} {} {}H{}Q{} {} {} {top}V{FOOT}Z",
        l - h,
        top - 6.0,
        l - h,
        top - 26.0,
        l + 10.0,
        top - 26.0,
        r - 10.0,
        r + h,
        top - 26.0,
        r + h,
        top - 6.0,
        r - h,
        r - h,
        top - 5.0,
        r - h - 5.0,
        top - 5.0,
        l + h + 5.0,
        l + h,
        top - 5.0,
        l + h,
    )
}

/// The part that never moves: the tapping lines.
pub fn fixed(svg: &mut Svg) {
    svg.path(&format!("M258 60V328Q258 332 262 332H{P2_X}V{FOOT}"), "imp i");
    svg.path(&format!("M{P3_X} 342V{FOOT}"), "imp e");
    svg.circle(258.0, 59.5, 2.6, "liq i");
    svg.circle(P3_X, 342.5, 2.6, "liq e");
}

/// The empty glass, where a lesson covers the balance.
pub fn covered(svg: &mut Svg) {
    svg.path(&tube(), "mask");
    svg.path(&tube(), "glass");
    svg.text(P3_X + HALF + 8.0, 200.0, "lb v", t("covered by"));
    svg.text(P3_X + HALF + 8.0, 216.0, "lb v", t("the lesson"));
}

/// The columns, their scale, the gap and what it says.
pub fn moving(svg: &mut Svg, reading: &Reading, units: UnitSystem) {
    let unit = units.unit(Quantity::PressureAbs);
    let (p2, p3) =
        (unit.shown(reading.stations.compressor_outlet.p_pa), unit.shown(reading.stations.turbine_inlet.p_pa));
    let ambient = unit.shown(reading.ambient.p_pa);
    let scales = if units == UnitSystem::Si { FULL_KPA } else { FULL_PSI };
    let full = scales.into_iter().find(|full| p2.max(p3) * 1.04 < *full).unwrap_or(scales[scales.len() - 1]);
    let y = |p: f64| FOOT - (FOOT - TOP) * (p / full).clamp(0.0, 1.0);
    let (y2, y3) = (y(p2), y(p3));
    let (high, low) = (y2.min(y3), y2.max(y3));
    let gap = low - high;
    let stamp = Stamp::of(reading);
    let (hatch, tone) = if reading.pressure_balance_pa >= 0.0 { ("air-helps", "in") } else { ("air-hinders", "ex") };

    svg.path(&tube(), "mask");
    svg.rect(P2_X - HALF, y2, 2.0 * HALF, FOOT - y2, "liq i");
    svg.rect(P3_X - HALF, y3, 2.0 * HALF, FOOT - y3, "liq e");
    svg.path(&tube(), "glass");
    if gap > 1.0 {
        let (x, w) = (P2_X + HALF + 0.75, P3_X - P2_X - 2.0 * HALF - 1.5);
        svg.rect_filled(x, high, w, gap, hatch);
    }
    svg.path(&format!("M{} {y2:.1}H{}M{} {y3:.1}H{}", P2_X + HALF, P3_X - HALF, P2_X + HALF, P3_X - HALF), "dim");
    let marks = ticks::ticks(0.0, full, 5).values;
    svg.path(&marks.iter().map(|p| format!("M{} {:.1}h5", P2_X - HALF - 5.0, y(*p))).collect::<String>(), "axis");
    for p in marks {
        svg.text_end(P2_X - HALF - 8.0, y(p) + 4.5, "lb v", &number(p, 0));
    }
    svg.text_end(P2_X - HALF - 4.0, TOP - 26.0, "lb v", unit.bare());
    svg.text_end(P2_X - HALF - 4.0, TOP - 12.5, "lb v", t("abs"));
    svg.path_with(&format!("M{} {:.1}H{}", P2_X - HALF, y(ambient), P3_X + HALF + 5.0), "dim", ("data-amb", "1"));
    svg.text(P3_X + HALF + 8.0, y(ambient) + 4.5, "lb v", t("ambient"));
    svg.text(P3_X + HALF + 6.0, TOP - 10.0, "lb v", t("vacuum"));
    svg.text_mid(P2_X, FOOT - 7.0, "onliq", &symbol("p", "2"));
    svg.text_mid(P3_X, FOOT - 7.0, "onliq", &symbol("p", "3"));

    // A dimension as drafted: arrows inside a wide gap, outside a narrow one.
    let x = P3_X + 25.0;
    svg.path(&format!("M{} {y3:.1}H{}M{} {y2:.1}H{}", P3_X + HALF, x + 4.0, P3_X - HALF, x + 4.0), "dim");
    if gap > 16.0 {
        svg.path(&format!("M{x} {high:.1}V{low:.1}"), "dim");
        svg.path(&format!("M{x} {high:.1}l-2.6 7h5.2zM{x} {low:.1}l-2.6 -7h5.2z"), "dimh");
    } else {
        svg.path(&format!("M{x} {:.1}V{:.1}", high - 14.0, low + 14.0), "dim");
        svg.path(&format!("M{x} {high:.1}l-2.6 -7h5.2zM{x} {low:.1}l-2.6 7h5.2z"), "dimh");
    }
    let word = match stamp {
        Stamp::Helps => t("helps"),
        Stamp::Hinders => t("hinders"),
        _ => t("level"),
    };
    let gap_unit = units.unit(Quantity::PressureDifference);
    let middle = ((high + low) / 2.0).clamp(TOP + 34.0, (y(ambient) - 46.0).max(TOP + 34.0));
    svg.text(x + 9.0, middle - 13.0, "v", &format!("{} − {}", symbol("p", "2"), symbol("p", "3")));
    let balance = signed(gap_unit.shown(reading.pressure_balance_pa), gap_unit.decimals);
    let text = format!(r#"<tspan data-r="balance">{balance}</tspan><tspan class="sm v"> {}</tspan>"#, gap_unit.symbol);
    svg.text(x + 9.0, middle + 7.0, &format!("big {tone}"), &text);
    svg.text(x + 9.0, middle + 23.0, &format!("b v {tone}"), word);
}
