//! The only caller of core's solvers. Keeps the last point that holds beside an answer that does not.

use crate::describe;
use crate::state::BenchSettings;
use std::sync::Arc;
use volute_core::parts::turbine;
use volute_core::point::reading::{Outcome, Reading};
use volute_core::point::steady::{self, BenchError, Effort, Options, Point};
use volute_core::settings::{Load, Settings};

/// How far the verdict looks to either side, per cent of vane.
const LOOK_AHEAD_PCT: f64 = 5.0;

/// How carefully the two neighbours are solved while a slider moves. The page tells only differences to them, and none below
/// 0.15 %, so each needs a few intervals less, no trace of the cycle, and no search for a better answer where none holds.
const GLANCE: Options = Options {
    effort: Effort { state: 1.5e-3, balance: 2.5e-4, intervals: 30 },
    trace: false,
    diagnose: false,
    steps_per_degree: None,
};

/// How carefully the neighbours are solved once the bench rests: then the page tells every digit.
const CAREFUL: Options = Options { effort: steady::EVERYDAY, trace: false, diagnose: false, steps_per_degree: None };

/// What core answered to the settings on the bench.
#[derive(Debug, Clone)]
pub struct Run {
    /// The settings that were asked.
    pub bench: BenchSettings,
    /// How they ended; none when core refused the question.
    pub outcome: Option<Outcome>,
    /// Whether the point drawn is of these settings.
    pub holds: bool,
    /// What core read at these settings where no point holds: how it failed, and how far it came.
    pub failed: Option<Arc<Reading>>,
    /// Why core refused.
    pub refused: Option<BenchError>,
    /// The point that is drawn: of these settings, or the last that holds.
    pub shown: Option<Arc<Point>>,
    /// Whether core began from nothing, and not from the answer before.
    pub fresh: bool,
    /// The same question with the vanes a step to either side.
    pub sides: Sides,
}

/// The same question with the vanes a step to either side; none where they are at their stop or stuck.
#[derive(Debug, Clone, Default)]
pub struct Sides {
    /// Tighter.
    pub tighter: Option<Arc<Point>>,
    /// Wider.
    pub wider: Option<Arc<Point>>,
}

impl Sides {
    /// For a verdict.
    pub fn sight(&self) -> describe::Sides<'_> {
        describe::Sides {
            tighter: self.tighter.as_deref().map(|p| &p.reading),
            wider: self.wider.as_deref().map(|p| &p.reading),
        }
    }
}

/// A step of vane to either side, asked with full care once the bench has come to rest.
#[derive(Debug, Clone)]
pub struct Steps {
    /// The bench that they belong to.
    pub bench: BenchSettings,
    /// With the load as it is held.
    pub held: Sides,
    /// With the other quantity held: torque where the bench holds fuel, and fuel where it holds torque.
    pub other: Sides,
}

impl Run {
    /// The reading that is drawn.
    pub fn reading(&self) -> Option<&Reading> {
        self.shown.as_deref().map(|point| &point.reading)
    }

    /// The reading of these settings, whether it holds or not; none where core refused the question.
    pub fn answer(&self) -> Option<&Reading> {
        self.failed.as_deref().or(self.reading().filter(|_| self.holds))
    }

    /// What the verdict is made from; `steps` count where they belong to these settings.
    pub fn sight<'a>(&'a self, steps: Option<&'a Steps>) -> describe::Sight<'a> {
        let vanes = &self.bench.engine.vanes;
        let steps = steps.filter(|s| s.bench == self.bench);
        describe::Sight {
            shown: self.reading(),
            outcome: self.outcome,
            holds: self.holds,
            sides: steps.map_or_else(|| self.sides.sight(), |s| s.held.sight()),
            other: steps.map(|s| s.other.sight()).unwrap_or_default(),
            stuck_open_pct: vanes.are_stuck().then_some(vanes.stuck_open_pct),
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
        failed: None,
        refused: None,
        shown: None,
        fresh: near.is_none(),
        sides: Sides::default(),
    };
    let kept = || before.and_then(|run| run.shown.clone());
    match answer {
        Ok(point) => {
            let (outcome, holds) = (point.reading.outcome, point.reading.holds);
            if holds {
                return Run { outcome: Some(outcome), holds, shown: Some(Arc::new(point)), ..blank };
            }
            let shown = point.last_good.map(|good| Arc::new(*good)).or_else(kept);
            Run { outcome: Some(outcome), failed: Some(Arc::new(point.reading)), shown, ..blank }
        }
        Err(refused) => Run { refused: Some(refused), shown: kept(), ..blank },
    }
}

/// Adds the points with the vanes a little tighter and a little wider, for the verdict. After a small step it starts from
/// those that it found `before`.
pub fn look_ahead(run: &mut Run, before: Option<&Run>) {
    let near = before.filter(|before| before.bench.engine == run.bench.engine).and_then(|before| {
        let (then, now) = (before.shown.as_deref()?, run.shown.as_deref()?);
        // A neighbour that did not hold is no point to start from.
        let nearer = |side: &Option<Arc<Point>>| {
            side.clone().filter(|side| side.reading.holds && apart(then, now) < apart(then, side))
        };
        Some(Sides { tighter: nearer(&before.sides.tighter), wider: nearer(&before.sides.wider) })
    });
    // Where a limit holds the fuel back, the load asked for stays the question.
    run.sides = sides(run, run.bench.settings.load, &GLANCE, &near.unwrap_or_default());
}

/// How far two points are apart, as a share: by what the search has to move.
fn apart(a: &Point, b: &Point) -> f64 {
    let of = |p: &Point| {
        let r = &p.reading;
        [r.air_flow_kg_s, r.shaft.speed_rad_s, r.stations.turbine_inlet.p_pa, r.fuel_kg_per_cycle]
    };
    of(a).into_iter().zip(of(b)).map(|(a, b)| (a / b).ln().abs()).fold(0.0, f64::max)
}

/// The neighbours with full care: with the load as it is held, and with the other of fuel and torque held as it stands now.
pub fn steps(run: &Run) -> Steps {
    let other = run.reading().map(|r| match run.bench.settings.load {
        Load::Fuel { .. } => Load::Torque { torque_n_m: r.brake.torque_n_m },
        Load::Torque { .. } => Load::Fuel { fuel_kg_per_cycle: r.fuel_kg_per_cycle },
    });
    Steps {
        bench: run.bench.clone(),
        held: sides(run, run.bench.settings.load, &CAREFUL, &Sides::default()),
        other: other.map_or_else(Sides::default, |load| sides(run, load, &CAREFUL, &Sides::default())),
    }
}

/// Asks to either side, from the points given or from the one between.
fn sides(run: &Run, load: Load, options: &Options, near: &Sides) -> Sides {
    let Some(here) = run.shown.as_deref().filter(|_| run.holds && !run.bench.engine.vanes.are_stuck()) else {
        return Sides::default();
    };
    let vane = run.bench.settings.vane_open_pct;
    let ask = |by: f64, near: &Option<Arc<Point>>| {
        let settings = Settings { vane_open_pct: (vane + by).clamp(0.0, 100.0), load, ..run.bench.settings };
        let moved = (settings.vane_open_pct - vane).abs() >= 1.0;
        moved
            .then(|| {
                steady::solve_with(&run.bench.engine, &settings, Some(near.as_deref().unwrap_or(here)), options).ok()
            })
            .flatten()
            .map(Arc::new)
    };
    Sides { tighter: ask(-LOOK_AHEAD_PCT, &near.tighter), wider: ask(LOOK_AHEAD_PCT, &near.wider) }
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

/// Where the vanes stand, per cent open: at the slider, even when no point holds there, or where they are stuck.
pub fn vanes_open_pct(bench: &BenchSettings) -> f64 {
    bench.engine.vanes.open_pct(bench.settings.vane_open_pct)
}

/// Effective nozzle area with the vanes where they stand, over that with the vanes wide open: for their drawing.
pub fn throat_share(bench: &BenchSettings) -> f64 {
    throat_area_m2(bench) / turbine::area_m2(&bench.engine.turbine, 1.0)
}

/// Effective nozzle area with the vanes where they stand.
pub fn throat_area_m2(bench: &BenchSettings) -> f64 {
    turbine::area_m2(&bench.engine.turbine, vanes_open_pct(bench) / 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is told of a neighbour does not depend on where the search for it began: within the care that a glance takes.
    #[test]
    fn identity_neighbours_are_the_same_from_near_and_from_between() {
        let mut bench = BenchSettings::open();
        let mut run = point(&bench, None);
        look_ahead(&mut run, None);
        for _ in 0..10 {
            bench.settings.vane_open_pct += 1.0;
            let mut next = point(&bench, Some(&run));
            look_ahead(&mut next, Some(&run));
            let mut between = next.clone();
            look_ahead(&mut between, None);
            for (near, between) in
                [(&next.sides.tighter, &between.sides.tighter), (&next.sides.wider, &between.sides.wider)]
            {
                let of = |p: &Option<Arc<Point>>| p.as_ref().unwrap().reading.clone();
                let (near, between) = (of(near), of(between));
                let torque = near.brake.torque_n_m / between.brake.torque_n_m - 1.0;
                assert!(torque.abs() < GLANCE.effort.state, "torque differs by {torque}");
                assert!(near.convergence.firing_intervals <= between.convergence.firing_intervals);
            }
            run = next;
        }
    }
}
