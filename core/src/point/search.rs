//! The search for a steady point, firing interval by firing interval.
//!
//! Each round integrates one firing interval, measures from it what a mean-value model needs, matches flow, shaft, exhaust
//! pressure and fuel with that ([`crate::point::matching`]), and scales the state to the match. Anderson's mixing of the last
//! rounds takes out what the scaling leaves. The point is found when nothing changes from one interval to the next and mass,
//! energy, shaft power and load balance.

use crate::cycle::{GasExchange, Machine, Means, Recorder};
use crate::point::answer;
use crate::point::balance::Misses;
use crate::point::iterate::{Iterate, interval};
use crate::point::matching::{Factors, FuelBy, Matched, Matching};
use crate::point::mixing::Mixer;
use crate::point::operating_point::{Options, Point};
use crate::point::reading::Outcome;
use crate::settings::Settings;
use alloc::sync::Arc;

/// Surge margin below which a point is in doubt. Chosen: twice what any engine here needed.
pub(crate) const SURGE_DOUBT: f64 = 0.35;

/// Intervals after which the search becomes patient: it then leaves the cycle to itself and matches only now and then.
/// Chosen: nearly every point that is found at all is found before that, and bold steps do not find the others.
const PATIENT_FROM: u32 = 24;
/// A patient search matches once in so many intervals. Chosen: the cycle then has three
/// intervals to itself between two matches.
const PATIENT_EVERY: u32 = 4;
/// Times that the state may go astray. Chosen: a sixth of the everyday effort.
const MOST_ASTRAY: u32 = 20;
/// The shaft runs away when match and state are beyond these shares of its limit, for so many intervals running, after so
/// many in all. Chosen: just beyond the 1.1 times the limit up to which a point is shown; further out several solutions exist
/// (`MODEL.md`). The first intervals of a search overshoot, so they do not count.
const RUNAWAY: (f64, f64, u32, u32) = (1.12, 1.08, 3, 6);
/// The compressor surges when the mean flow coefficient is below this share of its surge line's slope, for so many intervals
/// running. Chosen: a flow that is nearly zero over a whole interval, four times, is no pulse.
const SURGING: (f64, u32) = (0.25, 4);
/// Steps of Newton's method and the residual at which it ends: from a neighbour's match, and from the last interval's.
const NEAR: (usize, f64) = (15, 1e-6);
const ROUND: (usize, f64) = (6, 1e-7);

/// How the search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Found,
    Runaway,
    Surge,
    Lost,
}

/// A search as it stands.
struct Search<'a> {
    machine: &'a Arc<Machine>,
    settings: &'a Settings,
    options: &'a Options,
    vane: f64,
    limit_rad_s: f64,
    factors: Factors,
    matched: Matched,
    iterate: Iterate,
    misses: Misses,
    mixer: Mixer,
    recorder: Option<Recorder>,
    intervals: u32,
    /// Intervals running in which the shaft was too fast, and in which the flow was nearly zero.
    fast: u32,
    reversed: u32,
    astray: u32,
    /// Whether the flow ever stood still.
    flow_stood: bool,
    /// The best interval so far.
    best: Option<(Iterate, Misses, Matched)>,
}

/// The steady point of a machine, from a neighbour or from nothing.
pub(crate) fn search(machine: &Arc<Machine>, settings: &Settings, near: Option<&Point>, options: &Options) -> Point {
    let mut search = Search::begin(machine, settings, near, options);
    let (end, found) = search.run();
    search.finish(end, found)
}

impl<'a> Search<'a> {
    fn begin(machine: &'a Arc<Machine>, settings: &'a Settings, near: Option<&Point>, options: &'a Options) -> Self {
        let engine = &machine.plant.engine;
        let vane = engine.vanes.position(settings.vane_open_pct);
        let factors = near.map_or_else(|| Factors::typical(machine), |point| point.factors);
        let matching = Matching::new(machine, &factors, settings.load, vane);
        let (iterate, matched) = match near {
            Some(point) => {
                let matched = matching.solve(&point.matched, NEAR.0, NEAR.1);
                let mut iterate = point.iterate.clone();
                iterate.state.vane = vane;
                iterate.scale(machine, &point.matched, &matched);
                (iterate, matched)
            }
            None => {
                let matched = matching.solve_cold();
                (Iterate::cold(machine, &matched, vane), matched)
            }
        };
        Self {
            machine,
            settings,
            options,
            vane,
            limit_rad_s: engine.shaft_limit_rad_s(),
            factors,
            matched,
            iterate,
            misses: Misses { state: 1.0, ..Misses::default() },
            mixer: Mixer::new(),
            recorder: options.trace.then(|| Recorder::new(machine)),
            intervals: 0,
            fast: 0,
            reversed: 0,
            astray: 0,
            flow_stood: false,
            best: None,
        }
    }

    /// Rounds until the search ends; the means are those of the interval that is the point.
    fn run(&mut self) -> (End, Option<Means>) {
        while self.intervals < self.options.effort.intervals {
            let (state, means) = interval(self.machine, &self.iterate, self.recorder.as_mut());
            self.intervals += 1;
            self.flow_stood |= means.least_flow_kg_s <= 0.0;
            let measured = Factors::measure(self.machine, &state, &means, self.iterate.fuel_kg);
            let usable = means.drawn.m_kg.is_finite() && means.turbine.u_j.is_finite();
            if !usable || !measured.sane() {
                self.astray += 1;
                if self.astray > MOST_ASTRAY {
                    break;
                }
                self.recover(state, usable);
                continue;
            }
            self.factors = measured;
            let matching = Matching::new(self.machine, &self.factors, self.settings.load, self.vane);
            self.matched = matching.solve(&self.matched, ROUND.0, ROUND.1);
            self.misses = Misses::of(self.machine, &self.iterate, &state, &means, &self.matched);
            if self.best.as_ref().is_none_or(|(_, least, _)| self.misses.worst() < least.worst()) {
                self.best = Some((self.iterate.clone(), self.misses, self.matched));
            }
            if self.misses.within(&self.options.effort) {
                return (End::Found, Some(means));
            }
            if let Some(end) = self.hopeless(&means) {
                return (end, None);
            }
            self.next(state, &means);
        }
        (End::Lost, None)
    }

    /// After an interval that went astray: a state that still has numbers runs one interval on its own, so that its swings
    /// can die away. One that has none is begun again from the last match.
    fn recover(&mut self, state: GasExchange, usable: bool) {
        self.mixer = Mixer::new();
        if usable && state.flow_kg_s.is_finite() {
            self.iterate.state = state;
        } else {
            self.iterate = Iterate::cold(self.machine, &self.matched, self.vane);
        }
    }

    /// Whether the shaft has run away or the compressor surges.
    fn hopeless(&mut self, means: &Means) -> Option<End> {
        let (matched_share, state_share, running, after) = RUNAWAY;
        let too_fast = self.matched.shaft_rad_s > matched_share * self.limit_rad_s
            && self.iterate.state.shaft_rad_s > state_share * self.limit_rad_s;
        self.fast = if too_fast { self.fast + 1 } else { 0 };
        let least = SURGING.0 * self.machine.plant.turbocharger.compressor.surge_flow_slope;
        self.reversed = if means.flow_coefficient < least { self.reversed + 1 } else { 0 };
        if self.fast >= running && self.intervals > after {
            Some(End::Runaway)
        } else if self.reversed >= SURGING.1 {
            Some(End::Surge)
        } else {
            None
        }
    }

    /// The iterate of the next interval, from the state at the end of this one.
    fn next(&mut self, state: GasExchange, means: &Means) {
        let mut next = Iterate { state, fuel_kg: self.iterate.fuel_kg };
        let patient = self.intervals > PATIENT_FROM;
        if !patient || self.intervals.is_multiple_of(PATIENT_EVERY) {
            next.rescale(self.machine, means, &self.matched);
        }
        if !patient {
            let mixed = self.mixer.next(&self.iterate.pack(), &next.pack());
            next.unpack(self.machine, &mixed);
        }
        self.iterate = next;
    }

    /// Why a search without a point has none.
    fn reason(&self) -> End {
        let plant = &self.machine.plant;
        let line = plant.speed_line(self.matched.shaft_rad_s);
        let inlet = plant.inlet_at(self.matched.flow_kg_s);
        let surge_kg_s = line.flow_kg_s(&plant.turbocharger.compressor, &inlet, line.surge_flow);
        if self.matched.shaft_rad_s.max(self.iterate.state.shaft_rad_s) > self.limit_rad_s {
            End::Runaway
        } else if self.flow_stood || self.matched.flow_kg_s < (1.0 + SURGE_DOUBT) * surge_kg_s {
            End::Surge
        } else {
            End::Lost
        }
    }

    /// The point. Its numbers are those of the converged interval itself; where none converged, of the best one, run again.
    fn finish(mut self, mut end: End, found: Option<Means>) -> Point {
        if end == End::Lost {
            if let Some(best) = self.best.take() {
                (self.iterate, self.misses, self.matched) = best;
            }
            end = self.reason();
        }
        let means = found.unwrap_or_else(|| self.last_means());
        let outcome = match end {
            End::Found if self.iterate.state.shaft_rad_s > self.limit_rad_s => Outcome::Overspeed,
            End::Found => match self.matched.fuel_by {
                FuelBy::Load => Outcome::Matched,
                FuelBy::Smoke => Outcome::SmokeLimited,
                FuelBy::Injector => Outcome::InjectorLimited,
                FuelBy::Least => Outcome::LeastFuel,
            },
            End::Runaway => Outcome::Overspeed,
            End::Surge => Outcome::Surge,
            End::Lost => Outcome::NoSolution,
        };
        let found = answer::Found { outcome, holds: end == End::Found, intervals: self.intervals, misses: self.misses };
        let reading =
            answer::reading(self.machine, self.settings, &self.iterate, &means, &found, self.recorder.as_ref());
        Point {
            reading,
            last_good: None,
            settings: *self.settings,
            machine: self.machine.clone(),
            iterate: self.iterate,
            factors: self.factors,
            matched: self.matched,
        }
    }

    /// The means of one more interval; those of a machine at rest where not even that has numbers.
    fn last_means(&mut self) -> Means {
        let means = interval(self.machine, &self.iterate, self.recorder.as_mut()).1;
        if means.is_finite() {
            return means;
        }
        self.iterate = Iterate::cold(self.machine, &self.matched, self.vane);
        self.iterate.state.shaft_rad_s = self.matched.shaft_rad_s;
        self.recorder = None;
        Means::at_rest(self.machine)
    }
}
