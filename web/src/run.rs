//! The only caller of core's solvers. Keeps the last point that holds beside an answer that does not.

use crate::state::BenchSettings;
use std::sync::Arc;
use volute_core::reading::{Outcome, Reading};
use volute_core::settings::{Load, Settings};
use volute_core::steady::{self, BenchError, Effort, Options, Point};
use volute_core::turbine;

/// How far the verdict looks to either side, per cent of vane.
const LOOK_AHEAD_PCT: f64 = 5.0;

/// For points of a sweep: no trace of the cycle, no search for a better answer where none holds.
const QUICK: Options = Options { effort: steady::EVERYDAY, trace: false, diagnose: false, steps_per_degree: None };

/// For the two neighbours, of which only differences are told, and none below 0.15 %: a few intervals less each.
const GLANCE: Options = Options { effort: Effort { state: 1.5e-3, balance: 2.5e-4, intervals: 30 }, ..QUICK };

/// What core answered to the settings on the bench.
#[derive(Debug, Clone)]
pub struct Run {
    /// The settings that were asked.
    pub bench: BenchSettings,
    /// How they ended; nothing when core refused the question.
    pub outcome: Option<Outcome>,
    /// Whether the point drawn is of these settings.
    pub holds: bool,
    /// Why core refused.
    pub refused: Option<BenchError>,
    /// The point that is drawn: of these settings, or the last that holds.
    pub shown: Option<Arc<Point>>,
    /// The same settings with the vanes tighter.
    pub tighter: Option<Arc<Point>>,
    /// The same settings with the vanes wider.
    pub wider: Option<Arc<Point>>,
}

impl Run {
    /// The reading that is drawn.
    pub fn reading(&self) -> Option<&Reading> {
        self.shown.as_deref().map(|point| &point.reading)
    }

    /// What the verdict is made from.
    pub fn sight(&self) -> crate::describe::Sight<'_> {
        crate::describe::Sight {
            shown: self.reading(),
            outcome: self.outcome,
            holds: self.holds,
            tighter: self.tighter.as_deref().map(|point| &point.reading),
            wider: self.wider.as_deref().map(|point| &point.reading),
        }
    }
}

/// Asks core for the point of `bench`, starting from the one before where that helps.
pub fn point(bench: &BenchSettings, before: Option<&Run>) -> Run {
    let near = before.filter(|run| run.bench.engine == bench.engine).and_then(|run| run.shown.as_deref());
    let answer = match near {
        Some(near) => steady::solve_near(&bench.engine, &bench.settings, near),
        None => steady::solve(&bench.engine, &bench.settings),
    };
    let blank = Run {
        bench: bench.clone(),
        outcome: None,
        holds: false,
        refused: None,
        shown: None,
        tighter: None,
        wider: None,
    };
    let kept = || before.and_then(|run| run.shown.clone());
    match answer {
        Ok(point) => {
            let (outcome, holds) = (point.reading.outcome, point.reading.holds);
            let shown =
                if holds { Some(Arc::new(point)) } else { point.last_good.map(|good| Arc::new(*good)).or_else(kept) };
            Run { outcome: Some(outcome), holds, shown, ..blank }
        }
        Err(refused) => Run { refused: Some(refused), shown: kept(), ..blank },
    }
}

/// Adds what the verdict says about the vanes a little tighter and a little wider.
pub fn look_ahead(run: &mut Run) {
    let Some(here) = run.shown.clone().filter(|_| run.holds) else { return };
    // "At the same fuel or torque": where a limit holds the fuel back, the load asked for stays the question.
    let ask = |vane_open_pct: f64| {
        let settings = Settings { vane_open_pct: vane_open_pct.clamp(0.0, 100.0), ..run.bench.settings };
        let moved = (settings.vane_open_pct - run.bench.settings.vane_open_pct).abs() >= 1.0;
        moved
            .then(|| steady::solve_with(&run.bench.engine, &settings, Some(&here), &GLANCE).ok())
            .flatten()
            .map(Arc::new)
    };
    let vane = run.bench.settings.vane_open_pct;
    let (tighter, wider) = (ask(vane - LOOK_AHEAD_PCT), ask(vane + LOOK_AHEAD_PCT));
    run.tighter = tighter;
    run.wider = wider;
}

/// Holds the other quantity at what the bench reads now, so that switching moves nothing.
pub fn swap_load(run: &Run) -> Load {
    match (run.bench.settings.load, run.reading()) {
        (Load::Fuel { .. }, Some(r)) => {
            let dial = crate::state::dial_torque(&run.bench.engine);
            Load::Torque { torque_n_m: dial.snap(r.brake.torque_n_m) }
        }
        (Load::Fuel { .. }, None) => Load::Torque { torque_n_m: 0.5 * run.bench.engine.range.torque_max_n_m },
        (Load::Torque { .. }, Some(r)) => {
            let dial = crate::state::dial_fuel(&run.bench.engine);
            Load::Fuel { fuel_kg_per_cycle: dial.snap(r.fuel_kg_per_cycle) }
        }
        (Load::Torque { .. }, None) => {
            Load::Fuel { fuel_kg_per_cycle: 0.5 * run.bench.engine.combustion.injector_limit_kg }
        }
    }
}

/// Effective nozzle area with the vanes at the slider, over that with the vanes wide open: for the drawing of the vanes,
/// which stand where the slider stands even when no point holds there.
pub fn throat_share(bench: &BenchSettings) -> f64 {
    throat_area_m2(bench) / turbine::area_m2(&bench.engine.turbine, 1.0)
}

/// Effective nozzle area with the vanes at the slider.
pub fn throat_area_m2(bench: &BenchSettings) -> f64 {
    turbine::area_m2(&bench.engine.turbine, bench.settings.vane_open_pct / 100.0)
}

/// Points of a sweep over the vanes.
pub const SWEEP_POINTS: usize = 41;

/// One point of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweepPoint {
    /// Vane position.
    pub vane_open_pct: f64,
    /// Whether a point holds there; the rest is nothing where not.
    pub holds: bool,
    /// Whether a limit is crossed there.
    pub past_limit: bool,
    /// Compressor outlet.
    pub p2_pa: f64,
    /// Exhaust manifold.
    pub p3_pa: f64,
    /// Torque at the crank.
    pub torque_n_m: f64,
    /// Fuel of a cylinder and cycle.
    pub fuel_kg_per_cycle: f64,
}

impl SweepPoint {
    /// Numbers of a point, for the way between worker and page.
    pub const WIDTH: usize = 7;

    /// The point as a row of numbers.
    pub fn row(&self) -> [f64; Self::WIDTH] {
        let flag = |on: bool| if on { 1.0 } else { 0.0 };
        [
            self.vane_open_pct,
            flag(self.holds),
            flag(self.past_limit),
            self.p2_pa,
            self.p3_pa,
            self.torque_n_m,
            self.fuel_kg_per_cycle,
        ]
    }

    /// The point of a row.
    pub fn of_row(row: &[f64]) -> Option<Self> {
        let [vane_open_pct, holds, past, p2_pa, p3_pa, torque_n_m, fuel_kg_per_cycle] = *row else { return None };
        Some(Self {
            vane_open_pct,
            holds: holds > 0.5,
            past_limit: past > 0.5,
            p2_pa,
            p3_pa,
            torque_n_m,
            fuel_kg_per_cycle,
        })
    }
}

/// The whole reach of the vanes at otherwise equal settings. Starts wide open, where a point holds soonest, and walks to
/// tight, each point from its neighbour.
pub fn sweep(bench: &BenchSettings) -> Vec<SweepPoint> {
    let mut near: Option<Point> = None;
    let mut out: Vec<SweepPoint> = (0..SWEEP_POINTS)
        .rev()
        .map(|i| {
            let vane_open_pct = 100.0 * i as f64 / (SWEEP_POINTS - 1) as f64;
            let settings = Settings { vane_open_pct, ..bench.settings };
            let answer = steady::solve_with(&bench.engine, &settings, near.as_ref(), &QUICK);
            let empty = SweepPoint {
                vane_open_pct,
                holds: false,
                past_limit: false,
                p2_pa: 0.0,
                p3_pa: 0.0,
                torque_n_m: 0.0,
                fuel_kg_per_cycle: 0.0,
            };
            match answer {
                Ok(point) if point.reading.holds => {
                    let r = &point.reading;
                    let found = SweepPoint {
                        holds: true,
                        past_limit: r.limits.iter().any(|l| l.crossed),
                        p2_pa: r.stations.compressor_outlet.p_pa,
                        p3_pa: r.stations.turbine_inlet.p_pa,
                        torque_n_m: r.brake.torque_n_m,
                        fuel_kg_per_cycle: r.fuel_kg_per_cycle,
                        ..empty
                    };
                    near = Some(point);
                    found
                }
                _ => empty,
            }
        })
        .collect();
    out.reverse();
    out
}
