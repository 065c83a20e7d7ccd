//! An engine that runs in time: traces of its readings, one firing interval after the other, and its response to a step.

use super::axis::Axis;
use super::chart::{At, Chart, Mark, MarkKind, Panel, Series, Style};
use crate::language::{msg, t, tf};
use crate::units::{Quantity, UnitSystem, number};
use volute_core::point::transient::Sample;

/// One number of a sample.
#[derive(Debug, Clone, Copy)]
pub struct Trace {
    /// Short name.
    pub key: &'static str,
    /// As the page names it.
    pub name: &'static str,
    quantity: Quantity,
    of: fn(&Sample) -> f64,
    style: Style,
}

const fn trace(
    key: &'static str,
    name: &'static str,
    quantity: Quantity,
    style: Style,
    of: fn(&Sample) -> f64,
) -> Trace {
    Trace { key, name, quantity, of, style }
}

/// Everything that can be traced.
pub const TRACES: &[Trace] = &[
    trace("torque", "torque", Quantity::Torque, Style::Ink, |s| s.torque_n_m),
    trace("p2", "p2 compressor outlet", Quantity::PressureAbs, Style::Intake, |s| s.p2_pa),
    trace("p3", "p3 exhaust manifold", Quantity::PressureAbs, Style::Exhaust, |s| s.p3_pa),
    trace("shaft", "shaft speed", Quantity::ShaftSpeed, Style::Ink, |s| s.shaft_rad_s),
    trace("t3", "turbine-inlet temperature", Quantity::Temperature, Style::Exhaust, |s| s.t3_k),
    trace("air", "air flow", Quantity::GasFlow, Style::Intake, |s| s.air_flow_kg_s),
    trace("fuel", "fuel per cycle", Quantity::FuelPerCycle, Style::Ink, |s| s.fuel_kg_per_cycle),
    trace("smoke", "fuel that the smoke limit allows", Quantity::FuelPerCycle, Style::Chain, |s| s.smoke_limit_fuel_kg),
    trace("afr", "air–fuel ratio", Quantity::RatioCoarse, Style::Ink, |s| s.air_fuel_ratio),
    trace("vane", "vane position", Quantity::VanePosition, Style::Ink, |s| s.vane_open_pct),
    trace("pmep", "pumping mean pressure", Quantity::PressureDifference, Style::Exhaust, |s| s.pumping_mep_pa),
];

impl Trace {
    /// What its axis is called: both pressures stand on one.
    fn axis(&self) -> &'static str {
        match self.quantity {
            Quantity::PressureAbs => t("pressure"),
            _ => t(self.name),
        }
    }
}

/// The trace of a key.
pub fn find(key: &str) -> Option<&'static Trace> {
    TRACES.iter().find(|trace| trace.key == key)
}

/// A load step: its time, the torque before it, and the torque asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadStep {
    /// When, in s.
    pub at_s: f64,
    /// Torque before, in N m.
    pub from_n_m: f64,
    /// Torque asked for, in N m.
    pub to_n_m: f64,
    /// Time from the step until nine tenths of it were there, once they are, in s: it is told for longer than its samples are kept.
    pub took_s: Option<f64>,
}

impl LoadStep {
    /// A step that the engine has not answered yet.
    pub fn new(at_s: f64, from_n_m: f64, to_n_m: f64) -> Self {
        Self { at_s, from_n_m, to_n_m, took_s: None }
    }

    /// Nine tenths of the way, in N m.
    fn level_n_m(&self) -> f64 {
        self.from_n_m + 0.9 * (self.to_n_m - self.from_n_m)
    }

    fn meet(&mut self, s: &Sample) {
        let there = (s.torque_n_m >= self.level_n_m()) == (self.to_n_m > self.from_n_m);
        if self.took_s.is_none() && s.time_s > self.at_s && there {
            self.took_s = Some(s.time_s - self.at_s);
        }
    }
}

/// One run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct History {
    /// Sample after sample.
    pub samples: Vec<Sample>,
    /// The last load step.
    pub step: Option<LoadStep>,
}

impl History {
    /// Adds what the engine read next.
    pub fn push(&mut self, sample: Sample) {
        if let Some(step) = &mut self.step {
            step.meet(&sample);
        }
        self.samples.push(sample);
    }

    /// Drops samples that are older than so many seconds.
    pub fn keep_last(&mut self, time_s: f64) {
        let end = self.samples.last().map_or(0.0, |s| s.time_s);
        let old = self.samples.partition_point(|s| s.time_s < end - time_s);
        self.samples.drain(..old);
    }
}

/// Most points of a trace that are drawn: more points than pixels would show nothing more.
const MOST_POINTS: usize = 1200;

/// The chart of a run, with another laid under it so that their steps coincide. `at_s` is where it is read back.
pub fn chart(run: &History, other: Option<&History>, keys: &[&str], at_s: Option<f64>, units: UnitSystem) -> Chart {
    let end = run.samples.last().map_or(0.0, |s| s.time_s);
    let begin = run.samples.first().map_or(0.0, |s| s.time_s);
    let x = Axis::new(t("time"), "s", begin.floor(), end.max(begin + 1.0).ceil(), 2);
    let mut panels: Vec<Panel> = Vec::new();
    for trace in keys.iter().filter_map(|k| find(k)) {
        let unit = units.unit(trace.quantity);
        let line = |h: &History, shift: f64| -> Vec<At> {
            let every = h.samples.len().div_ceil(MOST_POINTS).max(1);
            h.samples.iter().step_by(every).map(|s| (s.time_s + shift, unit.shown((trace.of)(s)))).collect()
        };
        let own = line(run, 0.0);
        let shift = match (run.step, other.and_then(|o| o.step)) {
            (Some(a), Some(b)) => a.at_s - b.at_s,
            _ => 0.0,
        };
        let under = other.map(|o| line(o, shift));
        let values: Vec<f64> = own.iter().chain(under.iter().flatten()).map(|a| a.1).collect();
        // Traces of one quantity share their axes.
        let same = panels.iter_mut().find(|p| p.y.unit == unit.symbol && !unit.symbol.is_empty());
        let fresh = Axis::around(trace.axis(), unit.symbol, values.iter().copied(), unit.decimals);
        let panel = match same {
            Some(panel) => {
                panel.y.from = panel.y.from.min(fresh.from);
                panel.y.to = panel.y.to.max(fresh.to);
                panel
            }
            None => {
                panels.push(Panel::new(fresh));
                let last = panels.len() - 1;
                &mut panels[last]
            }
        };
        if let Some(under) = under {
            panel
                .series
                .push(Series::new(tf("{trace}, kept run", &[("trace", t(trace.name))]), Style::Pin, under).quiet());
        }
        if let Some(last) = own.last() {
            panel.marks.push(Mark { at: *last, kind: MarkKind::Now });
        }
        if trace.key == "torque"
            && let Some(step) = run.step
            && let Some(there_s) = step.took_s.map(|took_s| step.at_s + took_s).filter(|there_s| *there_s >= begin)
        {
            panel.marks.push(Mark { at: (there_s, unit.shown(step.level_n_m())), kind: MarkKind::Event("90 %") });
        }
        panel.series.push(Series::new(t(trace.name), trace.style, own));
    }
    if panels.is_empty() {
        panels.push(Panel::new(Axis::new("", "", 0.0, 1.0, 0)));
    }
    Chart { x, panels, cursor: at_s.or(run.step.map(|s| s.at_s)) }
}

/// What a run shows, in a sentence.
pub fn sentence(run: &History, other: Option<&History>, units: UnitSystem) -> String {
    let Some(last) = run.samples.last() else { return t(crate::words::NO_RUN).into() };
    let torque = units.unit(Quantity::Torque);
    let speed = units.unit(Quantity::ShaftSpeed);
    let state = tf(
        "At {time} s: torque {torque}, shaft {speed}.",
        &[
            ("time", &number(last.time_s, 1)),
            ("torque", &torque.text(last.torque_n_m)),
            ("speed", &speed.text(last.shaft_rad_s)),
        ],
    );
    let took = |step: LoadStep| step.took_s.map(|s| number(s, 2));
    let mut told: Vec<String> = Vec::new();
    if let Some(step) = run.step {
        let own = took(step);
        let says = match own {
            Some(_) => msg("Step from {from} to {to}: nine tenths of it after {time} s."),
            None => msg("Step from {from} to {to}: nine tenths of it are not there yet."),
        };
        let (from, to) = (torque.number(step.from_n_m), torque.text(step.to_n_m));
        told.push(tf(says, &[("from", &from), ("to", &to), ("time", own.as_deref().unwrap_or_default())]));
        if let Some(step) = other.and_then(|other| other.step) {
            told.push(match took(step) {
                Some(time) => tf("In the kept run it took {time} s.", &[("time", &time)]),
                None => t("In the kept run it was not there yet.").into(),
            });
        }
    }
    told.push(state);
    told.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder;
    use crate::run;
    use crate::state::BenchSettings;
    use volute_core::point::transient::Transient;
    use volute_core::settings::Load;

    #[test]
    fn by_hand_a_load_step_is_timed_and_drawn() {
        let mut bench = BenchSettings::open();
        bench.settings.load = Load::Torque { torque_n_m: 300.0 };
        let point = run::point(&bench, None).shown.unwrap();
        let mut engine = Transient::start(&point);
        let mut history = History::default();
        for i in 0..400 {
            if i == 60 {
                bench.settings.load = Load::Torque { torque_n_m: 900.0 };
                engine.set(&bench.settings).unwrap();
                let at_s = history.samples.last().map_or(0.0, |s: &Sample| s.time_s);
                history.step = Some(LoadStep::new(at_s, 300.0, 900.0));
            }
            history.push(engine.advance());
        }
        let response = history.step.unwrap().took_s.unwrap();
        assert!((0.01..5.0).contains(&response), "{response}");
        let chart = chart(&history, Some(&history), &["torque", "p2", "p3"], None, UnitSystem::Si);
        assert_eq!(chart.panels.len(), 2, "p2 and p3 share their axes");
        assert_eq!(chart.panels[1].y.label(), "pressure, kPa abs", "which is that of neither alone");
        assert!(
            sentence(&history, None, UnitSystem::Si).starts_with("Step from 300 to 900 N·m: nine tenths of it after")
        );
        assert!(!chart.is_empty());
    }

    /// The record is shorter than a long run; what was read off it stays, and nothing is drawn where it no longer reaches.
    #[test]
    fn regress_a_response_outlives_its_samples() {
        let point = run::point(&BenchSettings::open(), None).shown.unwrap();
        let sample = Transient::start(&point).advance();
        let mut history = History { step: Some(LoadStep::new(1.0, 200.0, 800.0)), ..History::default() };
        for tenth in 0..1000 {
            let time_s = 0.1 * f64::from(tenth);
            // By hand: 740 N m, nine tenths of the way from 200 to 800, are there at 2.5 s.
            let torque_n_m = if time_s < 2.45 { 739.0 } else { 741.0 };
            history.push(Sample { time_s, torque_n_m, ..sample });
            history.keep_last(60.0);
        }
        assert!(history.samples.first().unwrap().time_s > 39.0);
        assert!((history.step.unwrap().took_s.unwrap() - 1.5).abs() < 1e-9);
        assert!(
            sentence(&history, None, UnitSystem::Si)
                .starts_with("Step from 200 to 800 N·m: nine tenths of it after 1.50 s.")
        );
        let chart = chart(&history, None, &["torque"], None, UnitSystem::Si);
        assert!(chart.panels[0].marks.iter().all(|mark| mark.at.0 >= chart.x.from));
        let drawn = |chart: &Chart| recorder::drawn(chart, (700, 400), 1).0.points;
        assert!(chart.cursor.is_some_and(|at_s| at_s < chart.x.from));
        assert_eq!(drawn(&chart), drawn(&Chart { cursor: None, ..chart.clone() }), "a line stands off the axis");
    }

    #[test]
    fn by_hand_no_run_is_said() {
        assert_eq!(sentence(&History::default(), None, UnitSystem::Si), crate::words::NO_RUN);
        assert!(chart(&History::default(), None, &["torque"], None, UnitSystem::Si).is_empty());
    }
}
