//! A sweep drawn: any reading over any setting, p2 and p3 with the hatch between them, the slider's place and the best point.

use super::axis::Axis;
use super::chart::{Area, At, Chart, Mark, MarkKind, Panel, Series, Style};
use super::hatch::Hatch;
use crate::language::{msg, t, tf};
use crate::readings::{self, Entry};
use crate::state::BenchSettings;
use crate::sweeps::{OnBench, Over, POINTS, SweepPoint};
use crate::units::{Quantity, UnitSystem, number};
use volute_core::point::reading::Reading;
use volute_core::settings::Load;
use volute_quantities::quantities::Best;

/// A pin as a point on the chart. Its own sweep is not kept.
pub struct Pinned<'a> {
    /// Its letter.
    pub letter: char,
    /// Where it stands on the axis, SI.
    pub x: f64,
    /// What was pinned.
    pub reading: &'a Reading,
}

/// All that a sweep's chart is made from.
pub struct Scene<'a> {
    /// The axis.
    pub over: &'a Over,
    /// The reading in the upper panel.
    pub entry: &'a Entry,
    /// What has been computed, rising along the axis.
    pub points: &'a [SweepPoint],
    /// The bench now, for the axis' unit and place.
    pub bench: &'a BenchSettings,
    /// The reading now, where it holds.
    pub now: Option<&'a Reading>,
    /// Pins.
    pub pins: &'a [Pinned<'a>],
    /// Units of the page.
    pub units: UnitSystem,
}

impl Scene<'_> {
    fn axis(&self) -> (Axis, crate::units::Unit) {
        let unit = self.units.unit(self.over.quantity(self.bench));
        let (from, to) = self.over.ends(self.bench);
        let name = match (self.over.key, self.bench.settings.load) {
            ("load", Load::Fuel { .. }) => t("load, fuel held"),
            ("load", Load::Torque { .. }) => t("load, torque held"),
            _ => t(self.over.name),
        };
        let (from, to) = (unit.shown(from), unit.shown(to));
        (Axis::new(name, unit.symbol, from, to, unit.decimals.max(decimals(from, to))), unit)
    }

    /// The best point of the entry, if it has one.
    fn best(&self) -> Option<&SweepPoint> {
        let sign = match self.entry.best {
            Best::Most => 1.0,
            Best::Least => -1.0,
            Best::Neither => return None,
        };
        let value = |p: &SweepPoint| p.value(self.entry.key).unwrap_or(f64::NAN);
        let held = self.points.iter().filter(|p| p.holds);
        held.max_by(|a, b| (sign * value(a)).total_cmp(&(sign * value(b))))
    }

    /// The chart.
    pub fn chart(&self) -> Chart {
        let (x, x_unit) = self.axis();
        let runs = || self.points.chunk_by(|a, b| a.holds == b.holds).filter(|run| run[0].holds);
        let lines = |key: &str, quantity: Quantity| -> Vec<Vec<At>> {
            let unit = self.units.unit(quantity);
            let line = |run: &[SweepPoint]| {
                run.iter().filter_map(|p| Some((x_unit.shown(p.x), unit.shown(p.value(key)?)))).collect::<Vec<At>>()
            };
            runs().map(line).collect()
        };
        let unit = self.units.unit(self.entry.kind);
        let values = lines(self.entry.key, self.entry.kind);
        let pinned = self.pins.iter().map(|p| unit.shown((self.entry.of)(p.reading)));
        let all: Vec<f64> = values.iter().flatten().map(|a| a.1).chain(pinned).collect();
        let mut upper =
            Panel::new(Axis::around(t(self.entry.title), unit.symbol, all.iter().copied(), unit.decimals.max(1)));
        let series = Series { runs: values, ..Series::new(t(self.entry.title), Style::Ink, Vec::new()) };
        upper.series.push(series.quiet());
        if let Some(best) = self.best() {
            let at = (x_unit.shown(best.x), unit.shown(best.value(self.entry.key).unwrap_or(f64::NAN)));
            upper.marks.push(Mark { at, kind: MarkKind::Event(t("best")) });
        }
        self.mark(&mut upper, self.entry, x_unit);

        let pressure = self.units.unit(Quantity::PressureAbs);
        let (p2, p3) = (lines("p2", Quantity::PressureAbs), lines("p3", Quantity::PressureAbs));
        let most = |lines: &[Vec<At>]| lines.iter().flatten().map(|a| a.1).fold(0.0, f64::max);
        // p3 climbs without bound as the vanes close: beyond two and a half times the highest p2 it is cut off at the top.
        let top = most(&p3).min(2.5 * most(&p2)).max(most(&p2)).max(1e-6);
        let (_, top) = super::ticks::round_ends(0.0, 1.08 * top, 8);
        let mut lower = Panel::new(Axis::new(t("pressure"), pressure.symbol, 0.0, top, pressure.decimals));
        for (a, b) in p2.iter().zip(&p3) {
            lower.areas.extend(between(a, b));
        }
        lower.series.push(Series { runs: p2, ..Series::new(t("p2 compressor outlet"), Style::Intake, Vec::new()) });
        lower.series.push(Series { runs: p3, ..Series::new(t("p3 exhaust manifold"), Style::Exhaust, Vec::new()) });
        for key in ["p2", "p3"] {
            if let Some(entry) = readings::find(key) {
                self.mark(&mut lower, entry, x_unit);
            }
        }
        for panel in [&mut upper, &mut lower] {
            for (from, to) in self.gaps() {
                let (from, to) = (x_unit.shown(from), x_unit.shown(to));
                let (low, high) = (panel.y.from, panel.y.to);
                let outline = vec![(from, low), (to, low), (to, high), (from, high)];
                panel.areas.push(Area { outline, hatch: Hatch::Limit, word: t("no point") });
            }
        }
        Chart { x, panels: vec![upper, lower], cursor: Some(x_unit.shown(self.over.now(self.bench))) }
    }

    fn mark(&self, panel: &mut Panel, entry: &Entry, x_unit: crate::units::Unit) {
        let unit = self.units.unit(entry.kind);
        // Where p2 and p3 of a pin lie close, two letters would cover each other, so only one is drawn.
        for pin in self.pins.iter().filter(|_| entry.key != "p2") {
            let at = (x_unit.shown(pin.x), unit.shown((entry.of)(pin.reading)));
            panel.marks.push(Mark { at, kind: MarkKind::Pin(pin.letter) });
        }
        if let Some(now) = self.now {
            let at = (x_unit.shown(self.over.now(self.bench)), unit.shown((entry.of)(now)));
            panel.marks.push(Mark { at, kind: MarkKind::Now });
        }
    }

    /// Stretches without a point, from edge to edge of what holds.
    fn gaps(&self) -> Vec<(f64, f64)> {
        let (points, mut i, mut out) = (self.points, 0, Vec::new());
        for run in points.chunk_by(|a, b| a.holds == b.holds) {
            if !run[0].holds {
                let end = (i + run.len()).min(points.len() - 1);
                out.push((run[0].x, points[end].x));
            }
            i += run.len();
        }
        out
    }

    /// The sweep in a sentence.
    pub fn sentence(&self) -> String {
        let held: Vec<&SweepPoint> = self.points.iter().filter(|p| p.holds).collect();
        let (axis, x_unit) = self.axis();
        let unit = self.units.unit(self.entry.kind);
        let (Some(first), Some(last)) = (held.first(), held.last()) else {
            return tf("Nowhere along {axis} does a point hold, all else as it stands.", &[("axis", &axis.name)]);
        };
        let place = |p: &SweepPoint| axis.text(x_unit.shown(p.x));
        let value = |p: &SweepPoint| unit.text(p.value(self.entry.key).unwrap_or(f64::NAN));
        let reading = crate::language::capital(t(self.entry.title));
        let lead = match self.best() {
            Some(best) => {
                let least = self.entry.best == Best::Least;
                let says = if least {
                    msg("{reading} is least at {place}: {value}.")
                } else {
                    msg("{reading} is greatest at {place}: {value}.")
                };
                tf(says, &[("reading", &reading), ("place", &place(best)), ("value", &value(best))])
            }
            None => tf(
                "{reading} runs from {first} at {from} to {last} at {to}.",
                &[
                    ("reading", &reading),
                    ("first", &value(first)),
                    ("from", &place(first)),
                    ("last", &value(last)),
                    ("to", &place(last)),
                ],
            ),
        };
        let above = |p: &SweepPoint| p.value("p2") >= p.value("p3");
        let balance = match held.windows(2).find(|w| above(w[0]) != above(w[1])) {
            Some(w) => tf("p2 and p3 cross at about {place}.", &[("place", &place(w[0]))]),
            None if !above(first) => t("p3 stands above p2 throughout.").into(),
            None => t("p2 stands above p3 throughout.").into(),
        };
        format!("{lead} {balance}")
    }
}

/// Digits after the point with which a place of a sweep is written to a tenth of the way to the next.
fn decimals(from: f64, to: f64) -> usize {
    let step = (to - from).abs() / (POINTS - 1) as f64;
    (0..4).find(|digits| 0.5 * 0.1_f64.powi(*digits) <= 0.1 * step).unwrap_or(4) as usize
}

/// The area between two lines over the same points, cut where they cross.
fn between(p2: &[At], p3: &[At]) -> Vec<Area> {
    let mut out = Vec::new();
    let helps = |i: usize| p2[i].1 >= p3[i].1;
    let count = p2.len().min(p3.len());
    let mut start = 0;
    for i in 1..=count {
        if i == count || helps(i) != helps(start) {
            let end = i.min(count - 1);
            let mut outline = p2[start..=end].to_vec();
            outline.extend(p3[start..=end].iter().rev());
            out.push(Area { outline, hatch: if helps(start) { Hatch::Helps } else { Hatch::Hinders }, word: "" });
            start = end;
        }
    }
    out
}

/// Where a sweep stands while it is computed.
pub fn progress(done: usize, total: usize) -> String {
    let (done, total) = (number(done as f64, 0), number(total as f64, 0));
    tf("{done} of {total} points", &[("done", &done), ("total", &total)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::check_drawn;
    use crate::sample;
    use crate::state::Origin;
    use crate::sweeps;

    fn points() -> Vec<SweepPoint> {
        let reading = sample::hinders();
        let point = |i: u32| {
            let x = 2.5 * f64::from(i);
            let holds = x > 20.0;
            let mut values = readings::all(&reading);
            let mut put = |key: &str, v: f64| values[readings::ENTRIES.iter().position(|e| e.key == key).unwrap()] = v;
            put("p2", 3.4e5 - 1.6e3 * x);
            put("p3", 4.6e5 - 3.4e3 * x);
            put("torque", 1100.0 - 0.1 * (x - 75.0) * (x - 75.0));
            SweepPoint { x, holds, past_limit: x < 30.0, values: if holds { values } else { Vec::new() } }
        };
        (0..=40).map(point).collect()
    }

    #[test]
    fn by_hand_places_are_written_finely_enough() {
        // Steps of 2.5, of 45 and of 0.025.
        assert_eq!([decimals(0.0, 100.0), decimals(700.0, 2500.0), decimals(1.0, 0.0)], [1, 0, 3]);
    }

    #[test]
    fn by_hand_the_sentence_names_best_and_crossing() {
        let bench = BenchSettings::with_engine(sample::engine(), Origin::Own);
        let points = points();
        let scene = |key: &str| Scene {
            over: sweeps::find("vane").unwrap(),
            entry: readings::find(key).unwrap(),
            points: &points,
            bench: &bench,
            now: None,
            pins: &[],
            units: UnitSystem::Si,
        };
        assert_eq!(
            scene("torque").sentence(),
            "Torque is greatest at 75.0 % open: 1100 N·m. p2 and p3 cross at about 65.0 % open."
        );
        assert_eq!(
            scene("p2").sentence(),
            "Compressor outlet p2 runs from 304 kPa abs at 22.5 % open to 180 kPa abs at 100.0 % open. p2 and p3 cross at about 65.0 % open."
        );
        let none = Scene { points: &[], ..scene("torque") };
        assert_eq!(none.sentence(), "Nowhere along vane position does a point hold, all else as it stands.");
        assert!(none.chart().is_empty());
    }

    #[test]
    fn identity_names_and_labels_never_collide() {
        let bench = BenchSettings::with_engine(sample::engine(), Origin::Own);
        let (points, now) = (points(), sample::hinders());
        let pinned = sample::helps();
        for key in ["torque", "afr", "surge_margin"] {
            for size in [(330, 300), (700, 420)] {
                let scene = Scene {
                    over: sweeps::find("vane").unwrap(),
                    entry: readings::find(key).unwrap(),
                    points: &points,
                    bench: &bench,
                    now: Some(&now),
                    pins: &[Pinned { letter: 'A', x: 60.0, reading: &pinned }],
                    units: UnitSystem::Customary,
                };
                check_drawn(&scene.chart(), size);
            }
        }
    }
}
