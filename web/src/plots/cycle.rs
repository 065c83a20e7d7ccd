//! One cylinder over its cycle: gas exchange with the pumping area hatched, the whole loop, pressures over the crank angle.

use super::axis::Axis;
use super::chart::{Area, At, Chart, Mark, MarkKind, Panel, Series, Style};
use super::clip::clipped;
use super::hatch::Hatch;
use super::ticks::round_ends;
use crate::language::{t, tf};
use crate::units::{Quantity, UnitSystem};
use volute_core::engine::Engine;
use volute_core::point::reading::{Reading, Trace};

/// A volume and a pressure.
type State = (f64, f64);

/// The trace of a cycle in units of the page, cut into what is drawn differently.
struct Cycle {
    /// Combustion and expansion to bottom dead centre.
    expansion: Vec<State>,
    /// Exhaust stroke.
    exhaust: Vec<State>,
    /// Intake stroke.
    intake: Vec<State>,
    /// Compression to firing dead centre.
    compression: Vec<State>,
}

impl Cycle {
    fn of(trace: &Trace, units: UnitSystem) -> Self {
        let (volume, pressure) = (units.unit(Quantity::Volume), units.unit(Quantity::PressureAbs));
        let within = |from: f64, to: f64| {
            let rows = trace.crank_angle_deg.iter().zip(trace.volume_m3.iter().zip(&trace.pressure_pa));
            rows.filter(|(angle, _)| from <= **angle && **angle <= to)
                .map(|(_, (v, p))| (volume.shown(*v), pressure.shown(*p)))
                .collect()
        };
        Self {
            expansion: within(0.0, 180.0),
            exhaust: within(180.0, 360.0),
            intake: within(360.0, 540.0),
            compression: within(540.0, 720.0),
        }
    }

    fn is_whole(&self) -> bool {
        [&self.expansion, &self.exhaust, &self.intake, &self.compression].into_iter().all(|part| part.len() > 4)
    }

    fn all(&self) -> impl Iterator<Item = &State> {
        self.expansion.iter().chain(&self.exhaust).chain(&self.intake).chain(&self.compression)
    }
}

/// Pressure of a stroke at a volume; the stroke runs one way, so volumes rise or fall throughout.
fn pressure_at(stroke: &[State], volume: f64) -> f64 {
    let rising = stroke.first().map(|s| s.0) <= stroke.last().map(|s| s.0);
    let after = stroke.partition_point(|s| if rising { s.0 < volume } else { s.0 > volume });
    let i = after.clamp(1, stroke.len().max(2) - 1);
    match (stroke.get(i - 1), stroke.get(i)) {
        (Some(a), Some(b)) if a.0 != b.0 => a.1 + ((volume - a.0) / (b.0 - a.0)).clamp(0.0, 1.0) * (b.1 - a.1),
        (Some(a), _) => a.1,
        _ => 0.0,
    }
}

/// A pinned reading, to be laid under the one now.
#[derive(Debug, Clone, Copy)]
pub struct Ghost<'a> {
    /// Its letter.
    pub letter: char,
    /// What was pinned.
    pub reading: &'a Reading,
}

impl Ghost<'_> {
    /// Its name in a legend.
    pub fn name(&self) -> String {
        pin_name(self.letter)
    }
}

/// The name of a pin's line.
fn pin_name(letter: char) -> String {
    tf("pin {letter}", &[("letter", &letter.to_string())])
}

fn traced(reading: &Reading, units: UnitSystem) -> Option<Cycle> {
    reading.trace.as_ref().map(|t| Cycle::of(t, units)).filter(Cycle::is_whole)
}

fn empty(x: Axis, y: Axis) -> Chart {
    Chart::single(x, Panel::new(y))
}

/// Gas exchange: the strokes that push out and draw in, the area between them hatched for what it does to the crank.
/// Empty without a trace.
pub fn exchange(reading: &Reading, engine: &Engine, ghosts: &[Ghost], units: UnitSystem) -> Chart {
    let (unit_v, unit_p) = (units.unit(Quantity::Volume), units.unit(Quantity::PressureAbs));
    let axis = |to: f64| Axis::new(t("cylinder volume"), unit_v.symbol, 0.0, to, unit_v.decimals.max(2));
    let pressure = |to: f64| Axis::new(t("pressure"), unit_p.symbol, 0.0, to, unit_p.decimals);
    let Some(cycle) = traced(reading, units) else { return empty(axis(1.0), pressure(1.0)) };
    let ends = |stroke: &[State]| {
        let volumes = stroke.iter().map(|s| s.0);
        (volumes.clone().fold(f64::INFINITY, f64::min), volumes.fold(0.0, f64::max))
    };
    let (least, swept_end) = ends(&cycle.exhaust);
    // Without this, blowdown at the end of the expansion would set the scale.
    let high = |cycle: &Cycle| {
        cycle.exhaust.iter().skip(cycle.exhaust.len() / 8).chain(&cycle.intake).map(|s| s.1).fold(0.0, f64::max)
    };
    let pinned: Vec<(char, Cycle)> =
        ghosts.iter().filter_map(|g| traced(g.reading, units).map(|c| (g.letter, c))).collect();
    let highest = pinned.iter().map(|(_, c)| high(c)).fold(high(&cycle), f64::max);
    let (_, top) = round_ends(0.0, 1.15 * highest, 9);

    let mut panel = Panel::new(pressure(top));
    panel.areas = pumping_areas(&cycle, (least, swept_end), top);
    for (letter, cycle) in &pinned {
        let name = pin_name(*letter);
        panel.series.push(
            Series {
                runs: vec![cycle.exhaust.clone(), cycle.intake.clone()],
                ..Series::new(name, Style::Pin, Vec::new())
            }
            .quiet(),
        );
    }
    panel.series.push(
        Series {
            runs: vec![cycle.expansion.clone(), cycle.compression.clone()],
            ..Series::new(t("expansion and compression"), Style::Ink, Vec::new())
        }
        .quiet(),
    );
    panel.series.push(Series::new(t("exhaust stroke"), Style::Exhaust, cycle.exhaust.clone()));
    panel.series.push(Series::new(t("intake stroke"), Style::Intake, cycle.intake.clone()));
    panel.marks = events(reading, engine, units);
    Chart::single(axis(1.05 * swept_end), panel)
}

/// The area between the two strokes of gas exchange, cut where they cross.
fn pumping_areas(cycle: &Cycle, (least, most): (f64, f64), top: f64) -> Vec<Area> {
    let steps = 160;
    let row = |i: usize| {
        let v = least + (most - least) * i as f64 / steps as f64;
        (v, pressure_at(&cycle.exhaust, v).min(top), pressure_at(&cycle.intake, v).min(top))
    };
    let mut out = Vec::new();
    let mut part: Vec<(f64, f64, f64)> = Vec::new();
    let mut flush = |part: &mut Vec<(f64, f64, f64)>, helps: bool| {
        let mut outline: Vec<At> = part.iter().map(|r| (r.0, r.1)).collect();
        outline.extend(part.iter().rev().map(|r| (r.0, r.2)));
        part.clear();
        let (hatch, word) = if helps { (Hatch::Helps, t("gives")) } else { (Hatch::Hinders, t("costs")) };
        out.push(Area { outline, hatch, word });
    };
    let mut helps = row(0).2 > row(0).1;
    for i in 0..=steps {
        let r = row(i);
        if (r.2 > r.1) != helps {
            part.push(r);
            flush(&mut part, helps);
            helps = !helps;
        }
        part.push(r);
    }
    flush(&mut part, helps);
    out
}

/// Where the valves open and close, as the trade shortens it.
fn events(reading: &Reading, engine: &Engine, units: UnitSystem) -> Vec<Mark> {
    let (volume, pressure) = (units.unit(Quantity::Volume), units.unit(Quantity::PressureAbs));
    let Some(trace) = &reading.trace else { return Vec::new() };
    let at = |deg: f64| {
        let i = trace.crank_angle_deg.iter().position(|a| *a >= deg - 1e-6)?;
        Some((volume.shown(*trace.volume_m3.get(i)?), pressure.shown(*trace.pressure_pa.get(i)?)))
    };
    valve_events(engine, at)
}

/// Opening and closing of the valves, each where `at` puts its crank angle.
fn valve_events(engine: &Engine, at: impl Fn(f64) -> Option<At>) -> Vec<Mark> {
    let v = &engine.valves;
    [
        (t("EVO"), v.exhaust_opens_deg),
        (t("IVO"), v.intake_opens_deg),
        (t("EVC"), v.exhaust_closes_deg),
        (t("IVC"), v.intake_closes_deg),
    ]
    .into_iter()
    .filter_map(|(name, deg)| at(deg).map(|at| Mark { at, kind: MarkKind::Event(name) }))
    .collect()
}

/// The whole cycle, on straight axes or by ratios. Empty without a trace.
pub fn whole(reading: &Reading, engine: &Engine, ghosts: &[Ghost], units: UnitSystem, log: bool) -> Chart {
    let (unit_v, unit_p) = (units.unit(Quantity::Volume), units.unit(Quantity::CylinderPressure));
    let per_page = units.unit(Quantity::PressureAbs);
    // The trace is in the page's pressure unit; peaks are easier to read in the unit of cylinder pressures.
    let peak_unit = |p: f64| unit_p.shown(per_page.si(p));
    let run = |cycle: &Cycle| cycle.all().map(|s| (s.0, peak_unit(s.1))).collect::<Vec<At>>();
    let runs: Vec<(Option<char>, Vec<At>)> = ghosts
        .iter()
        .map(|g| (Some(g.letter), g.reading))
        .chain([(None, reading)])
        .filter_map(|(letter, r)| traced(r, units).map(|c| (letter, run(&c))))
        .collect();
    let all = || runs.iter().flat_map(|(_, run)| run.iter());
    let most = |of: fn(&At) -> f64| all().map(of).fold(1e-9, f64::max);
    let least = |of: fn(&At) -> f64| all().map(of).fold(f64::INFINITY, f64::min);
    let x = Axis::new(t("cylinder volume"), unit_v.symbol, 0.0, 1.05 * most(|a| a.0), unit_v.decimals.max(2));
    let y = Axis::new(t("pressure"), unit_p.symbol, 0.0, round_ends(0.0, 1.05 * most(|a| a.1), 6).1, 1);
    let (x, y) = if log && least(|a| a.0).is_finite() {
        let wide = |axis: Axis, from: f64| Axis { from: 0.9 * from, ..axis }.log();
        (wide(x, least(|a| a.0)), wide(y, least(|a| a.1)))
    } else {
        (x, y)
    };
    let mut panel = Panel::new(y);
    for (letter, run) in runs {
        panel.series.push(match letter {
            Some(letter) => Series::new(pin_name(letter), Style::Pin, run).quiet(),
            None => Series::new(t("now"), Style::Ink, run).quiet(),
        });
    }
    panel.marks = events(reading, engine, units);
    for mark in &mut panel.marks {
        mark.at.1 = peak_unit(mark.at.1);
    }
    Chart::single(x, panel)
}

/// Cylinder and manifold pressures over the crank angle. Empty without a trace.
pub fn over_angle(reading: &Reading, engine: &Engine, ghosts: &[Ghost], units: UnitSystem) -> Chart {
    let (bar, unit) = (units.unit(Quantity::CylinderPressure), units.unit(Quantity::PressureAbs));
    let x = Axis::new(t("crank angle after firing dead centre"), "°", 0.0, 720.0, 0);
    let line = |t: &Trace, of: fn(&Trace) -> &Vec<f64>, unit: crate::units::Unit| -> Vec<At> {
        t.crank_angle_deg.iter().zip(of(t)).map(|(a, p)| (*a, unit.shown(*p))).collect()
    };
    let Some(trace) = &reading.trace else { return empty(x, Axis::new(t("pressure"), unit.symbol, 0.0, 1.0, 0)) };
    let mut upper: Vec<Series> = Vec::new();
    let mut lower: Vec<Series> = Vec::new();
    for ghost in ghosts {
        if let Some(t) = &ghost.reading.trace {
            upper.push(Series::new(ghost.name(), Style::Pin, line(t, |t| &t.pressure_pa, bar)).quiet());
            lower.push(Series::new(ghost.name(), Style::Pin, line(t, |t| &t.exhaust_manifold_pa, unit)).quiet());
        }
    }
    upper.push(Series::new(t("cylinder"), Style::Ink, line(trace, |t| &t.pressure_pa, bar)).quiet());
    let exhaust = line(trace, |t| &t.exhaust_manifold_pa, unit);
    let intake = line(trace, |t| &t.intake_manifold_pa, unit);
    // The low part of the cylinder's own pressure stands here too, for gas exchange.
    let highest = exhaust.iter().chain(&intake).map(|a| a.1).fold(0.0, f64::max);
    let low = line(trace, |t| &t.pressure_pa, unit);
    lower.push(
        Series { runs: clipped(&low, 1.5 * highest), ..Series::new(t("cylinder"), Style::Ink, Vec::new()) }.quiet(),
    );
    lower.push(Series::new(t("exhaust manifold"), Style::Exhaust, exhaust));
    lower.push(Series::new(t("intake manifold"), Style::Intake, intake));
    let peak = upper.iter().flat_map(|s| s.runs.iter().flatten()).map(|a| a.1).fold(1e-9, f64::max);
    let mut top = Panel::new(Axis::new(t("cylinder pressure"), bar.symbol, 0.0, round_ends(0.0, 1.05 * peak, 5).1, 0));
    top.series = upper;
    let low_end = lower.iter().flat_map(|s| s.runs.iter().flatten()).map(|a| a.1).fold(f64::INFINITY, f64::min);
    let values = [0.9 * low_end, 1.5 * highest].into_iter();
    let mut foot = Panel::new(Axis::around(t("manifold and cylinder pressure"), unit.symbol, values, 0));
    foot.series = lower;
    let at = |deg: f64| low.iter().find(|a| a.0 >= deg - 1e-6).map(|a| (a.0, a.1.min(1.5 * highest)));
    foot.marks = valve_events(engine, at);
    Chart { x, panels: vec![top, foot], cursor: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::check_drawn;
    use crate::sample;

    #[test]
    fn by_hand_pressure_along_a_stroke() {
        assert_eq!(pressure_at(&[(1.0, 10.0), (3.0, 30.0)], 2.0), 20.0);
        assert_eq!(pressure_at(&[(3.0, 30.0), (1.0, 10.0)], 2.0), 20.0);
        assert_eq!(pressure_at(&[(1.0, 10.0), (3.0, 30.0)], 9.0), 30.0);
    }

    #[test]
    fn identity_names_and_labels_never_collide() {
        let engine = sample::engine();
        for reading in [sample::hinders(), sample::helps(), sample::level()] {
            let other = sample::level();
            let ghosts = [Ghost { letter: 'A', reading: &other }];
            for size in [(340, 300), (380, 340), (520, 420), (300, 330)] {
                for units in [UnitSystem::Si, UnitSystem::Customary] {
                    for chart in [
                        exchange(&reading, &engine, &ghosts, units),
                        whole(&reading, &engine, &ghosts, units, false),
                        whole(&reading, &engine, &ghosts, units, true),
                        over_angle(&reading, &engine, &ghosts, units),
                    ] {
                        assert!(!chart.is_empty());
                        check_drawn(&chart, size);
                    }
                }
            }
        }
    }
}
