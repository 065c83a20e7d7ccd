//! Sweep over the vanes at otherwise equal settings: torque or fuel above, p2 and p3 below, cursor at the slider.

use super::clip::clipped;
use super::hatch::{Hatch, Place};
use super::paper::{Drawn, Letter, Paper, Strokes, Tone, dashes};
use super::scale::Scale;
use super::ticks::{Ticks, round_ends, ticks};
use crate::run::SweepPoint;
use crate::units::{Quantity, UnitSystem, number};

/// What the upper curve shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Result {
    /// Fuel is held: torque results.
    Torque,
    /// Torque is held: fuel is found.
    Fuel,
}

impl Result {
    fn quantity(self) -> Quantity {
        match self {
            Result::Torque => Quantity::Torque,
            Result::Fuel => Quantity::FuelPerCycle,
        }
    }

    fn of(self, point: &SweepPoint) -> f64 {
        match self {
            Result::Torque => point.torque_n_m,
            Result::Fuel => point.fuel_kg_per_cycle,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Result::Torque => "torque",
            Result::Fuel => "fuel",
        }
    }
}

/// The point of the bench now, drawn over the sweep.
#[derive(Debug, Clone, Copy)]
pub struct Now {
    /// Where the slider stands.
    pub vane_open_pct: f64,
    /// Torque or fuel, p2 and p3, in SI; nothing where no point holds.
    pub values: Option<(f64, f64, f64)>,
}

/// Runs of neighbouring points that hold.
fn runs(points: &[SweepPoint]) -> Vec<&[SweepPoint]> {
    points.chunk_by(|a, b| a.holds == b.holds).filter(|run| run[0].holds).collect()
}

/// Stretches of vane position without a point, from edge to edge of what holds.
fn gaps(points: &[SweepPoint]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    let mut i = 0;
    for run in points.chunk_by(|a, b| a.holds == b.holds) {
        if !run[0].holds {
            let end = (i + run.len()).min(points.len() - 1);
            out.push((run[0].vane_open_pct, points[end].vane_open_pct));
        }
        i += run.len();
    }
    out
}

/// Draws a sweep.
pub fn draw<DB: Strokes>(
    paper: &Paper<DB>,
    points: &[SweepPoint],
    result: Result,
    now: Now,
    units: UnitSystem,
) -> Drawn {
    paper.clear()?;
    let held: Vec<&SweepPoint> = points.iter().filter(|p| p.holds).collect();
    if held.is_empty() {
        return Ok(());
    }
    let text = paper.text_px();
    let (unit, pressure) = (units.unit(result.quantity()), units.unit(Quantity::PressureAbs));
    let ends = |of: &dyn Fn(&SweepPoint) -> f64| {
        let values = held.iter().map(|p| of(p));
        (values.clone().fold(f64::INFINITY, f64::min), values.fold(f64::NEG_INFINITY, f64::max))
    };
    let (least, most) = ends(&|p| unit.shown(result.of(p)));
    // A flat curve is drawn flat: the scale spans at least a twentieth of the value.
    let pad = (0.15 * (most - least)).max(0.05 * most.abs()).max(1e-9);
    let (low, high) = round_ends(least - pad, most + pad, 8);
    // p3 climbs without bound as the vanes close: beyond two and a half times the highest p2 it leaves at the top.
    let (highest_p2, highest_p3) = (ends(&|p| pressure.shown(p.p2_pa)).1, ends(&|p| pressure.shown(p.p3_pa)).1);
    let (_, top) = round_ends(0.0, 1.08 * highest_p3.min(2.5 * highest_p2).max(highest_p2), 8);

    let left = 4.2 * text;
    let right = paper.width - 18.0;
    let bottom = paper.height - 3.1 * text;
    let middle = 0.46 * paper.height;
    let x = Scale { from: 0.0, to: 100.0, start: left, end: right };
    let y = Scale { from: low, to: high, start: middle - 0.9 * text, end: 1.9 * text };
    let z = Scale { from: 0.0, to: top, start: bottom, end: middle + 1.5 * text };
    let none = Ticks { values: Vec::new(), decimals: 0 };

    for (from, to) in gaps(points) {
        for scale in [&y, &z] {
            paper.hatched(
                &[(x.at(from), scale.end), (x.at(to), scale.end), (x.at(to), scale.start), (x.at(from), scale.start)],
                Hatch::Limit,
            )?;
        }
    }
    paper.axes((&x, &none, ""), (&y, &ticks(low, high, 4), &format!("{}, {}", result.word(), unit.symbol)))?;
    paper.axes((&x, &ticks(0.0, 100.0, 5), "vane position, % open"), (&z, &ticks(0.0, top, 4), pressure.symbol))?;

    for run in runs(points) {
        let curve = |of: &dyn Fn(&SweepPoint) -> f64| {
            run.iter().map(|p| (p.vane_open_pct, pressure.shown(of(p)))).collect::<Vec<_>>()
        };
        let place = |s: &(f64, f64)| -> Place { (x.at(s.0), z.at(s.1.min(top))) };
        let (p2_line, p3_line) = (curve(&|p| p.p2_pa), curve(&|p| p.p3_pa));
        let (p2, p3): (Vec<Place>, Vec<Place>) =
            (p2_line.iter().map(place).collect(), p3_line.iter().map(place).collect());
        // Between the two curves, cut where they cross.
        let mut start = 0;
        for i in 1..=run.len() {
            let helps = |i: usize| run[i].p2_pa >= run[i].p3_pa;
            if i == run.len() || helps(i) != helps(start) {
                let end = i.min(run.len() - 1);
                let mut polygon = p2[start..=end].to_vec();
                polygon.extend(p3[start..=end].iter().rev());
                paper.hatched(&polygon, if helps(start) { Hatch::Helps } else { Hatch::Hinders })?;
                start = end;
            }
        }
        paper.dashed(&p2, Tone::Intake, 2.0, dashes::INTAKE)?;
        for part in clipped(&p3_line, top) {
            paper.line(&part.iter().map(place).collect::<Vec<_>>(), Tone::Exhaust, 2.0)?;
        }
        let upper: Vec<Place> = run.iter().map(|p| (x.at(p.vane_open_pct), y.at(unit.shown(result.of(p))))).collect();
        paper.line(&upper, Tone::Ink, 2.0)?;
    }

    for (from, to) in gaps(points) {
        let (a, b) = (x.at(from), x.at(to));
        let letter = Letter { patch: true, ..Letter::plain(Tone::Caution) };
        let width = paper.text_width("no point", &letter)?;
        if b - a > width + 8.0 {
            paper.text((0.5 * (a + b) - 0.5 * width, 0.5 * (y.start + y.end)), "no point", letter)?;
        }
    }

    // Each curve is named on its own free side, where that side is widest and away from the cursor.
    let cursor_at = x.at(now.vane_open_pct);
    let mut taken: Option<(f64, f64, f64)> = None;
    for (name, is_p3, tone) in
        [("p3 exhaust manifold", true, Tone::Exhaust), ("p2 compressor outlet", false, Tone::Intake)]
    {
        let letter = Letter { patch: false, ..Letter::name(tone) };
        let half = paper.text_width(name, &letter)? / 2.0 + 3.0;
        let mut best: Option<(f64, f64, f64)> = None;
        for step in 0..=40 {
            let middle = x.start + half + 4.0 + (x.end - x.start - 2.0 * half - 8.0) * f64::from(step) / 40.0;
            let under: Vec<&SweepPoint> =
                held.iter().copied().filter(|p| (x.at(p.vane_open_pct) - middle).abs() <= half + 6.0).collect();
            let all_there = under.len() as f64 * 100.0 / (points.len().max(2) - 1) as f64
                >= 0.8 * 2.0 * half / (x.end - x.start) * 100.0;
            let above = under.iter().all(|p| (p.p3_pa >= p.p2_pa) == is_p3);
            let below = under.iter().all(|p| (p.p3_pa <= p.p2_pa) == is_p3);
            if under.is_empty() || !all_there || !(above || below) {
                continue;
            }
            let edge = |p: &&SweepPoint| {
                let (a, b) = (z.at(pressure.shown(p.p2_pa).min(top)), z.at(pressure.shown(p.p3_pa).min(top)));
                if above { a.min(b) } else { a.max(b) }
            };
            let edges = under.iter().map(edge);
            let (height, room) = if above {
                let line = edges.fold(f64::INFINITY, f64::min);
                (line - 0.85 * text, line - (z.end + 0.3 * text))
            } else {
                let line = edges.fold(0.0, f64::max);
                (line + 0.9 * text, (z.start - 0.3 * text) - line)
            };
            // A name over the cursor would be struck through; one over the other name could not be read.
            let struck = (middle - cursor_at).abs() < half + 8.0;
            let clash = taken.is_some_and(|(from, to, at)| {
                middle - half < to && from < middle + half && (height - at).abs() < 1.3 * text
            });
            let worth =
                room.min(3.0 * text) - if struck { 2.0 * text } else { 0.0 } - if clash { 100.0 * text } else { 0.0 };
            if room >= 1.4 * text && !clash && best.is_none_or(|b| b.2 < worth) {
                best = Some((middle, height, worth));
            }
        }
        // Without room anywhere the line style and the caption still tell the two apart.
        if let Some((middle, height, _)) = best {
            taken = Some((middle - half, middle + half, height));
            paper.text((middle, height), name, letter)?;
        }
    }

    let cursor = cursor_at;
    paper.line(&[(cursor, y.end), (cursor, z.start)], Tone::Ink, 1.0)?;
    if let Some((value, p2, p3)) = now.values {
        let inside = |scale: &Scale, v: f64| scale.at(v).clamp(scale.end, scale.start);
        for at in [inside(&y, unit.shown(value)), inside(&z, pressure.shown(p2)), inside(&z, pressure.shown(p3))] {
            paper.dot((cursor, at))?;
        }
    }
    Ok(())
}

/// The sweep in a sentence.
pub fn sentence(points: &[SweepPoint], result: Result, units: UnitSystem) -> String {
    let held: Vec<&SweepPoint> = points.iter().filter(|p| p.holds).collect();
    let unit = units.unit(result.quantity());
    let better = |a: &&&SweepPoint, b: &&&SweepPoint| match result {
        Result::Torque => a.torque_n_m.total_cmp(&b.torque_n_m),
        Result::Fuel => b.fuel_kg_per_cycle.total_cmp(&a.fuel_kg_per_cycle),
    };
    let Some(best) = held.iter().max_by(better) else {
        return "At no vane position does a point hold with this load and speed.".into();
    };
    let crossing = held.windows(2).find(|w| (w[0].p2_pa < w[0].p3_pa) != (w[1].p2_pa < w[1].p3_pa));
    let balance = match crossing {
        Some(w) => format!("p2 and p3 cross at about {} % open.", number(w[0].vane_open_pct, 0)),
        None if held[0].p2_pa < held[0].p3_pa => "p3 stands above p2 throughout.".into(),
        None => "p2 stands above p3 throughout.".into(),
    };
    let superlative = if result == Result::Torque { "greatest" } else { "least" };
    format!(
        "{} is {superlative} at {} % open: {}. {balance}",
        capital(result.word()),
        number(best.vane_open_pct, 0),
        unit.text(result.of(best))
    )
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|c| c.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// Rows of the table that says the same.
pub fn table(points: &[SweepPoint], units: UnitSystem) -> Vec<[String; 5]> {
    let (p, t, f) =
        (units.unit(Quantity::PressureAbs), units.unit(Quantity::Torque), units.unit(Quantity::FuelPerCycle));
    points
        .iter()
        .map(|s| {
            let or = |text: String| if s.holds { text } else { "no point".into() };
            [
                number(s.vane_open_pct, 1),
                or(p.number(s.p2_pa)),
                or(p.number(s.p3_pa)),
                or(t.number(s.torque_n_m)),
                or(f.number(s.fuel_kg_per_cycle)),
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::{Record, Recorder, check};
    use plotters::drawing::IntoDrawingArea;
    use std::cell::RefCell;
    use std::rc::Rc;

    fn points(first_that_holds: usize) -> Vec<SweepPoint> {
        (0..41)
            .map(|i| {
                let u = i as f64 / 40.0;
                SweepPoint {
                    vane_open_pct: 100.0 * u,
                    holds: i >= first_that_holds,
                    past_limit: false,
                    p2_pa: 3.5e5 - 1.6e5 * u,
                    p3_pa: 5.8e5 - 4.4e5 * u,
                    torque_n_m: 960.0 - 150.0 * (u - 0.7) * (u - 0.7),
                    fuel_kg_per_cycle: 1.1e-4,
                }
            })
            .collect()
    }

    #[test]
    fn identity_the_sweep_stays_on_its_sheet() {
        for first in [0, 9, 40] {
            for size in [(340u32, 330u32), (640, 330)] {
                for units in [UnitSystem::Si, UnitSystem::Customary] {
                    let record = Rc::new(RefCell::new(Record::default()));
                    let pixels = (2 * size.0, 2 * size.1);
                    let area = Recorder { size: pixels, record: record.clone() }.into_drawing_area();
                    let palette = super::super::paper::Palette::from_tokens(|_| (0, 0, 0));
                    let now = Now { vane_open_pct: 55.0, values: Some((900.0, 2.8e5, 3.2e5)) };
                    draw(&Paper::new(area, 2.0, palette, 13.0), &points(first), Result::Torque, now, units).unwrap();
                    check(&record.borrow(), pixels);
                }
            }
        }
    }

    #[test]
    fn by_hand_gaps_and_sentence() {
        assert_eq!(gaps(&points(9)), [(0.0, 22.5)]);
        assert_eq!(gaps(&points(0)), []);
        let text = sentence(&points(9), Result::Torque, UnitSystem::Si);
        assert!(text.contains("greatest at 70 % open: 960 N·m") && text.contains("cross at about 80 % open"), "{text}");
        let none = sentence(&points(41), Result::Torque, UnitSystem::Si);
        assert!(none.starts_with("At no vane position"));
    }
}
