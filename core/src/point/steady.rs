//! The matched operating point: periodic cycle and balanced shaft together.
//!
//! Each round integrates one firing interval of the whole engine, measures from it what a mean-value model needs, matches
//! flow, shaft, exhaust pressure and fuel with that ([`crate::point::matching`]), and scales the state to the match; Anderson's
//! mixing of the last rounds takes out what the scaling leaves. The point is found when nothing changes from one interval
//! to the next and mass, energy, shaft power and load balance.

use crate::cycle::{Cylinder, Machine, Means, Recorder, State, Volume};
use crate::engine::{Engine, EngineError};
use crate::gas::Gas;
use crate::keys::KeyError;
use crate::math;
use crate::parts::compressor::SpeedLine;
use crate::point::answer;
use crate::point::matching::{Factors, FuelBy, Matched, Problem, turbine_inlet};
use crate::point::mixing::Mixer;
use crate::point::reading::{Outcome, Reading, Stability};
use crate::point::transient::Transient;
use crate::settings::Settings;
use alloc::boxed::Box;
use alloc::sync::Arc;
use alloc::vec::Vec;

/// A steady point: the reading, and what a later solve may start from.
#[derive(Debug, Clone)]
pub struct Point {
    /// What was found. Where `reading.holds` is false, the numbers are of the last iterate and not to be shown.
    pub reading: Reading,
    /// Where the point does not hold and the vanes are not stuck: the nearest point with wider vanes that does.
    pub last_good: Option<Box<Point>>,
    /// The settings of this point.
    pub settings: Settings,
    pub(crate) machine: Arc<Machine>,
    pub(crate) iterate: Iterate,
    factors: Factors,
    matched: Matched,
}

impl Point {
    /// The state at the beginning of a firing interval (its cylinders are those of the coupled slots), and the fuel of the
    /// cylinder that fires next: for whoever wants to integrate on by other means.
    pub fn cycle_state(&self) -> (&State, f64) {
        (&self.iterate.state, self.iterate.fuel_kg)
    }
}

/// What can be wrong with a question.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BenchError {
    /// A setting is outside its range.
    #[error(transparent)]
    Setting(#[from] KeyError),
    /// The engine's parameters do not fit together.
    #[error(transparent)]
    Engine(#[from] EngineError),
}

/// State at the beginning of a firing interval, with the fuel of the cylinder that fires next.
#[derive(Debug, Clone)]
pub(crate) struct Iterate {
    /// Its cylinders are those of the coupled slots only.
    pub state: State,
    pub fuel_kg: f64,
}

/// How exactly a point is found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Greatest relative change of any state over an interval.
    pub state: f64,
    /// Greatest miss of energy (of the fuel's), shaft power (of the compressor's), flow and load.
    pub balance: f64,
    /// Firing intervals after which the search is given up.
    pub intervals: u32,
}

/// Intervals after which the search turns from bold to patient. Chosen: nearly every point that comes at all has come.
const PATIENCE_FROM: u32 = 24;

/// What the bench uses: balances well below the promised 1e-4 of the fuel energy and 2e-4 of the shaft power.
pub const EVERYDAY: Effort = Effort { state: 5e-4, balance: 7e-5, intervals: 120 };

/// Everything a question can vary beyond engine and settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// How exactly.
    pub effort: Effort,
    /// Whether to record one cylinder over the cycle.
    pub trace: bool,
    /// Whether to look for the nearest point that holds when this one does not, and for stability near surge.
    pub diagnose: bool,
    /// Steps in a degree; chosen by speed when nothing is given.
    pub steps_per_degree: Option<usize>,
}

impl Default for Options {
    fn default() -> Self {
        Self { effort: EVERYDAY, trace: true, diagnose: true, steps_per_degree: None }
    }
}

/// The steady point at `settings`, from nothing. Errors: a setting or an engine that is not allowed.
pub fn solve(engine: &Engine, settings: &Settings) -> Result<Point, BenchError> {
    solve_with(engine, settings, None, &Options::default())
}

/// The steady point at `settings`, starting from a neighbour: fewer firing intervals. Errors as for [`solve`].
pub fn solve_near(engine: &Engine, settings: &Settings, near: &Point) -> Result<Point, BenchError> {
    solve_with(engine, settings, Some(near), &Options::default())
}

/// The steady point with all options. Errors as for [`solve`].
pub fn solve_with(
    engine: &Engine,
    settings: &Settings,
    near: Option<&Point>,
    options: &Options,
) -> Result<Point, BenchError> {
    engine.check()?;
    settings.check(engine)?;
    let machine = machine_for(engine, settings, near, options.steps_per_degree);
    let near = near.filter(|point| {
        point.reading.holds
            && point.machine.slots() == machine.slots()
            && point.machine.open_slots() == machine.open_slots()
            && point.iterate.state.cylinders.len() == machine.open_slots()
    });
    let mut point = search(&machine, settings, near, options);
    if near.is_some() && !point.reading.holds {
        // A neighbour can lead astray, most of all across the surge line: ask again from nothing.
        point = search(&machine, settings, None, options);
    }
    if options.diagnose {
        diagnose(&mut point, engine, settings, options);
    }
    Ok(point)
}

/// The neighbour's tables where they still hold.
fn machine_for(engine: &Engine, settings: &Settings, near: Option<&Point>, steps: Option<usize>) -> Arc<Machine> {
    if let Some(point) = near
        && point.machine.engine == *engine
        && point.machine.ambient == settings.ambient
        && steps.is_none_or(|steps| steps == point.machine.steps_per_degree)
    {
        if point.machine.speed_rpm == settings.speed_rpm {
            return point.machine.clone();
        }
        if let Some(machine) = point.machine.at_speed(settings.speed_rpm) {
            return Arc::new(machine);
        }
    }
    let machine = Machine::new(engine, &settings.ambient, settings.speed_rpm);
    Arc::new(match steps {
        Some(steps) => {
            let gas: Gas = machine.gas.clone();
            Machine::with_steps(engine, &settings.ambient, settings.speed_rpm, gas, steps)
        }
        None => machine,
    })
}

/// Runs one firing interval of the repeating cycle: the coupled cylinders, then the one whose intake has just closed
/// through all its closed slots at once. That takes the delay of the closed cylinders out of the iteration.
pub(crate) fn interval(machine: &Machine, from: &Iterate, mut recorder: Option<&mut Recorder>) -> (State, Means) {
    let mut state = from.state.clone();
    let mut means = Means::default();
    machine.run_coupled(&mut state, 0, false, &mut means, recorder.as_deref_mut());
    if let Some(mut newest) = state.cylinders.pop() {
        means.trapped_kg = newest.m_kg;
        means.trapped_x = newest.x_kg / newest.m_kg;
        machine.close_intake(&mut newest, from.fuel_kg);
        machine.run_closed(&mut newest, 0, machine.closed_slots, &mut means, recorder);
        state.cylinders.insert(0, newest);
    }
    (state, means)
}

/// What an interval misses of being a steady point.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Misses {
    pub state: f64,
    pub flow: f64,
    pub energy: f64,
    pub shaft: f64,
    pub load: f64,
    pub burned: f64,
}

impl Misses {
    fn of(machine: &Machine, from: &Iterate, to: &State, means: &Means, matched: &Matched) -> Self {
        let relative = |a: f64, b: f64| math::fabs(a - b) / math::fabs(b).max(1e-12);
        let start = &from.state;
        let mut state = 0.0_f64;
        for (a, b) in [(&to.intake, &start.intake), (&to.exhaust, &start.exhaust)] {
            state = state.max(relative(a.m_kg, b.m_kg)).max(relative(a.t_k, b.t_k));
        }
        for (a, b) in to.cylinders.iter().zip(&start.cylinders) {
            state = state.max(relative(a.m_kg, b.m_kg)).max(relative(a.t_k, b.t_k));
        }
        let flow_scale = math::fabs(means.in_kg).max(1e-9);
        let flow = (math::fabs(means.in_kg - means.air_kg) / flow_scale)
            .max(math::fabs(means.turbine_kg + means.leak_kg - means.out_kg) / flow_scale)
            .max(math::fabs(means.out_kg - means.in_kg - means.fuel_kg) / flow_scale)
            .max(math::fabs(means.turbine_kg + means.leak_kg - means.air_kg - means.fuel_kg) / flow_scale);
        let (energy, shaft) = (energy_miss(machine, means), shaft_miss(machine, start.shaft_rad_s, means));
        let load = math::fabs(matched.fuel_kg / from.fuel_kg - 1.0);
        let fuel = means.fuel_kg.max(1e-12);
        let burned = (math::fabs(means.in_x_kg) / fuel)
            .max(math::fabs(means.out_x_kg - means.fuel_kg) / fuel)
            .max(math::fabs(means.turbine_x_kg + means.leak_x_kg - means.out_x_kg) / fuel);
        Self { state, flow, energy: math::fabs(energy), shaft: math::fabs(shaft), load, burned }
    }

    pub(crate) fn worst(&self) -> f64 {
        self.state.max(self.flow).max(self.energy).max(self.shaft).max(self.load).max(self.burned)
    }

    fn within(&self, effort: &Effort) -> bool {
        self.state < effort.state
            && self.flow < effort.balance
            && self.energy < effort.balance
            && self.shaft < 1.5 * effort.balance
            && self.load < effort.balance
            && self.burned < 2.0 * effort.balance
    }
}

/// Energy that the interval's balance misses, as a share of the fuel energy.
pub(crate) fn energy_miss(machine: &Machine, means: &Means) -> f64 {
    let fuel_j = means.fuel_kg * machine.engine.fuel.lhv_j_kg;
    let into = means.air_kg * machine.ambient_h_j_kg() + means.compressor_j + means.fuel_kg * machine.gas.fuel_h_j_kg;
    let out = means.cooler_j
        + means.walls_j
        + means.gross_j
        + means.exchange_j
        + means.exhaust_loss_j
        + means.turbine_h_j
        + means.leak_h_j;
    (into - out) / fuel_j.max(1e-9)
}

/// Power that the shaft's balance misses, as a share of the compressor's, or of the fuel's where that is less.
pub(crate) fn shaft_miss(machine: &Machine, shaft_rad_s: f64, means: &Means) -> f64 {
    let bearing_j = machine.engine.shaft.bearing_loss_w_s2 * shaft_rad_s * shaft_rad_s * means.time_s;
    let scale_j = means.compressor_j.min(means.fuel_kg * machine.engine.fuel.lhv_j_kg);
    (means.turbine_j - means.compressor_j - bearing_j) / scale_j.max(1e-9)
}

/// How the search ended.
enum End {
    Found,
    Runaway,
    Surge,
    Lost,
}

fn search(machine: &Arc<Machine>, settings: &Settings, near: Option<&Point>, options: &Options) -> Point {
    let engine = &machine.engine;
    let vane = engine.vanes.open_pct(settings.vane_open_pct) / 100.0;
    let limit = engine.shaft_limit_rad_s();
    let mut factors = near.map_or_else(|| Factors::typical(machine), |point| point.factors);
    let (mut iterate, mut matched) = match near {
        Some(point) => {
            let matched = Problem::new(machine, &factors, settings.load, vane).solve(&point.matched, 15, 1e-6);
            let mut iterate = point.iterate.clone();
            iterate.state.vane = vane;
            scale(machine, &mut iterate, &point.matched, &matched);
            (iterate, matched)
        }
        None => {
            let matched = Problem::new(machine, &factors, settings.load, vane).solve_cold();
            (cold_iterate(machine, &matched, vane), matched)
        }
    };
    let mut mixer = Mixer::new();
    let (mut fast, mut reversed, mut astray) = (0, 0, 0);
    let mut intervals = 0;
    let mut end = End::Lost;
    let mut best: Option<(Iterate, Misses, Matched)> = None;
    let mut misses = Misses { state: 1.0, ..Misses::default() };
    let mut flow_stood = false;
    let mut recorder = options.trace.then(|| Recorder::new(machine));
    let mut found_means = None;
    while intervals < options.effort.intervals {
        let (state, means) = interval(machine, &iterate, recorder.as_mut());
        intervals += 1;
        // A point that has not come by then will not come by boldness: match every fourth interval only, and leave the
        // cycle to itself in between.
        let patient = intervals > PATIENCE_FROM;
        flow_stood |= means.least_flow_kg_s <= 0.0;
        let measured = Factors::measure(machine, &state, &means, iterate.fuel_kg);
        if !means.in_kg.is_finite() || !means.turbine_h_j.is_finite() || !measured.sane() {
            // Gone astray. A state that is still one is left to itself for an interval, so that what rings can die away;
            // one that is not is begun again from the last match.
            mixer = Mixer::new();
            astray += 1;
            if astray > 20 {
                break;
            }
            let usable = means.in_kg.is_finite() && means.turbine_h_j.is_finite() && state.flow_kg_s.is_finite();
            iterate = if usable {
                Iterate { state, fuel_kg: iterate.fuel_kg }
            } else {
                cold_iterate(machine, &matched, vane)
            };
            continue;
        }
        factors = measured;
        let problem = Problem::new(machine, &factors, settings.load, vane);
        let target = problem.solve(&matched, 6, 1e-7);
        misses = Misses::of(machine, &iterate, &state, &means, &target);
        matched = target;
        if best.as_ref().is_none_or(|(_, m, _)| misses.worst() < m.worst()) {
            best = Some((iterate.clone(), misses, matched));
        }
        if misses.within(&options.effort) {
            end = End::Found;
            found_means = Some(means);
            break;
        }
        fast =
            if matched.shaft_rad_s > 1.12 * limit && iterate.state.shaft_rad_s > 1.08 * limit { fast + 1 } else { 0 };
        reversed = if means.flow_coefficient < 0.25 * engine.compressor.surge_flow_slope { reversed + 1 } else { 0 };
        if fast >= 3 && intervals > 6 {
            end = End::Runaway;
            break;
        }
        if reversed >= 4 {
            end = End::Surge;
            break;
        }
        let before = pack(&iterate);
        let mut next = Iterate { state, fuel_kg: iterate.fuel_kg };
        if patient {
            if intervals % 4 == 0 {
                rescale(machine, &mut next, &means, &matched);
            }
            iterate = next;
            continue;
        }
        rescale(machine, &mut next, &means, &matched);
        let mixed = mixer.next(&before, &pack(&next));
        unpack(machine, &mut next, &mixed);
        iterate = next;
    }
    if let (End::Lost, Some((state, least, fit))) = (&end, best) {
        (iterate, misses, matched) = (state, least, fit);
    }
    if let End::Lost = end {
        let line = SpeedLine::at(&engine.compressor, &machine.inlet, matched.shaft_rad_s);
        let inlet = machine.inlet_at(matched.flow_kg_s);
        let surge_kg_s = line.flow_kg_s(&engine.compressor, &inlet, line.surge_flow);
        if matched.shaft_rad_s.max(iterate.state.shaft_rad_s) > limit {
            end = End::Runaway;
        } else if flow_stood || matched.flow_kg_s < (1.0 + SURGE_DOUBT) * surge_kg_s {
            end = End::Surge;
        }
    }
    // The numbers are those of the converged interval itself; where none converged, of the best one, run once more.
    let means = found_means.unwrap_or_else(|| {
        let means = interval(machine, &iterate, recorder.as_mut()).1;
        if means.is_finite() {
            return means;
        }
        // Not even one interval stays in numbers: show a machine at rest rather than anything else.
        (iterate, recorder) = (cold_iterate(machine, &matched, vane), None);
        iterate.state.shaft_rad_s = matched.shaft_rad_s;
        Means::at_rest(machine)
    });
    let outcome = match end {
        End::Found if iterate.state.shaft_rad_s > limit => Outcome::Overspeed,
        End::Found => match matched.fuel_by {
            FuelBy::Load => Outcome::Matched,
            FuelBy::Smoke => Outcome::SmokeLimited,
            FuelBy::Injector => Outcome::InjectorLimited,
            FuelBy::Least => Outcome::LeastFuel,
        },
        End::Runaway => Outcome::Overspeed,
        End::Surge => Outcome::Surge,
        End::Lost => Outcome::NoSolution,
    };
    let holds = matches!(end, End::Found);
    let found = answer::Found { outcome, holds, intervals, misses };
    let reading = answer::reading(machine, settings, &iterate, &means, &found, recorder.as_ref());
    Point { reading, last_good: None, settings: *settings, machine: machine.clone(), iterate, factors, matched }
}

/// Near surge: does the point hold in time? Where a point does not hold: which is the nearest with wider vanes that does?
fn diagnose(point: &mut Point, engine: &Engine, settings: &Settings, options: &Options) {
    let reading = &mut point.reading;
    let near_surge = reading.holds && reading.compressor.surge_margin < SURGE_DOUBT;
    if near_surge {
        let stable = Transient::dies_out(point);
        let reading = &mut point.reading;
        reading.stability = if stable { Stability::StableNearSurge } else { Stability::Unstable };
        if !stable {
            reading.outcome = Outcome::Surge;
            reading.meaning = Outcome::Surge.meaning();
            reading.holds = false;
        }
    }
    if !point.reading.holds {
        point.last_good = last_good(engine, settings, options).map(Box::new);
    }
}

/// Surge margin below which a point is marched in time before it is called stable. Chosen: twice what any engine here needed.
const SURGE_DOUBT: f64 = 0.35;

/// The tightest vane position, wider than asked, at which everything else as asked gives a point that holds. Vanes that are
/// stuck know no other.
fn last_good(engine: &Engine, settings: &Settings, options: &Options) -> Option<Point> {
    if engine.vanes.are_stuck() {
        return None;
    }
    let at = |vane_open_pct: f64, near: Option<&Point>| {
        let settings = Settings { vane_open_pct, ..*settings };
        let quick = Options { diagnose: false, ..*options };
        let mut point = solve_with(engine, &settings, near, &quick).ok()?;
        if point.reading.holds && point.reading.compressor.surge_margin < SURGE_DOUBT {
            point.reading.stability =
                if Transient::dies_out(&point) { Stability::StableNearSurge } else { Stability::Unstable };
        }
        (point.reading.holds && point.reading.stability != Stability::Unstable).then_some(point)
    };
    let mut open = 100.0;
    let mut good = at(open, None)?;
    let mut shut = settings.vane_open_pct;
    while open - shut > 1.0 {
        let middle = math::round(0.5 * (open + shut));
        if middle >= open || middle <= shut {
            break;
        }
        match at(middle, Some(&good)) {
            Some(point) => (open, good) = (middle, point),
            None => shut = middle,
        }
    }
    Some(good)
}

/// A state for a match from nothing: manifolds at their means, cylinders where their slots would put them.
fn cold_iterate(machine: &Machine, matched: &Matched, vane: f64) -> Iterate {
    let gas = &machine.gas;
    let engine = &machine.engine;
    let filled = |p_pa: f64, t_k: f64, x: f64, size_m3: f64| {
        let m_kg = p_pa * size_m3 / (gas.r_j_kg_k(x) * t_k);
        (m_kg, m_kg * gas.u_j_kg(t_k, x), m_kg * x)
    };
    let volume = |p_pa: f64, t_k: f64, x: f64, size_m3: f64| {
        let (m_kg, u_j, x_kg) = filled(p_pa, t_k, x, size_m3);
        Volume { m_kg, u_j, x_kg, t_k }
    };
    let cylinder = |p_pa: f64, t_k: f64, x: f64, size_m3: f64| {
        let (m_kg, u_j, x_kg) = filled(p_pa, t_k, x, size_m3);
        Cylinder { m_kg, u_j, x_kg, t_k, fuel_kg: matched.fuel_kg, ..Cylinder::default() }
    };
    let cycles_per_s = machine.speed_rpm / 120.0 * engine.cylinders.count;
    let charge_kg = matched.flow_kg_s / cycles_per_s;
    let charge_k = matched.intake_k + 35.0;
    let x_charge = 0.03 * matched.x3;
    let mut newest = Cylinder {
        m_kg: charge_kg * 1.03,
        u_j: charge_kg * 1.03 * gas.u_j_kg(charge_k, x_charge),
        x_kg: charge_kg * 1.03 * x_charge,
        t_k: charge_k,
        ..Cylinder::default()
    };
    machine.close_intake(&mut newest, matched.fuel_kg);
    machine.run_closed(&mut newest, 0, machine.closed_slots, &mut Means::default(), None);
    let mut cylinders: Vec<Cylinder> = Vec::with_capacity(machine.open_slots());
    cylinders.push(newest);
    for slot in machine.closed_slots + 1..machine.slots() {
        let size_m3 = machine.volume_at_slot_m3(slot);
        cylinders.push(if machine.slot_deg(slot) < 365.0 {
            cylinder(1.04 * matched.p3_pa, 1.03 * matched.t3_k, matched.x3, size_m3)
        } else {
            cylinder(0.98 * matched.intake_pa, charge_k, x_charge, size_m3)
        });
    }
    let state = State {
        intake: volume(matched.intake_pa, matched.intake_k, 1e-4 * matched.x3, engine.manifolds.intake_volume_m3),
        exhaust: volume(matched.p3_pa, matched.t3_k, matched.x3, engine.manifolds.exhaust_volume_m3),
        flow_kg_s: matched.flow_kg_s,
        shaft_rad_s: matched.shaft_rad_s,
        p4_pa: matched.p4_pa,
        t4_k: 0.88 * matched.t3_k,
        vane,
        cylinders,
    };
    Iterate { state, fuel_kg: matched.fuel_kg }
}

/// Ratios by which a state is to be scaled.
struct Ratios {
    intake_pa: f64,
    intake_k: f64,
    p3: f64,
    t3: f64,
    x3: f64,
    p4: f64,
}

/// Scales a neighbour's state from its own match to the new one.
fn scale(machine: &Machine, iterate: &mut Iterate, from: &Matched, to: &Matched) {
    let ratios = Ratios {
        intake_pa: to.intake_pa / from.intake_pa,
        intake_k: to.intake_k / from.intake_k,
        p3: to.p3_pa / from.p3_pa,
        t3: to.t3_k / from.t3_k,
        x3: to.x3 / from.x3,
        p4: to.p4_pa / from.p4_pa,
    };
    apply(machine, iterate, &ratios, to);
    iterate.state.flow_kg_s = to.flow_kg_s;
}

/// Scales the end of an interval from what was measured in it to the match.
fn rescale(machine: &Machine, iterate: &mut Iterate, means: &Means, matched: &Matched) {
    let (t3_k, x3) = turbine_inlet(machine, means);
    let measured_flow = means.air_kg / means.time_s;
    let ratios = Ratios {
        intake_pa: matched.intake_pa / means.intake_pa,
        intake_k: matched.intake_k / means.intake_k,
        p3: matched.p3_pa / means.p3_pa,
        t3: matched.t3_k / t3_k,
        x3: matched.x3 / x3.max(1e-9),
        p4: matched.p4_pa / means.p4_pa,
    };
    // At a steady point nothing burned may enter the manifold on balance: put it where that is so.
    let intake = &mut iterate.state.intake;
    let x_before = intake.x_kg;
    let x_wanted = (intake.x_kg / intake.m_kg - means.in_x_kg / means.in_kg).clamp(0.0, 0.06) * intake.m_kg;
    intake.u_j += (x_wanted - x_before) * slope_of_energy(machine, intake.t_k);
    intake.x_kg = x_wanted;
    apply(machine, iterate, &ratios, matched);
    iterate.state.flow_kg_s += matched.flow_kg_s - measured_flow;
}

/// Change of internal energy with burned fuel at constant temperature and mass, in J/kg.
fn slope_of_energy(machine: &Machine, t_k: f64) -> f64 {
    (machine.gas.u_j_kg(t_k, 0.01) - machine.gas.u_j_kg(t_k, 0.0)) / 0.01
}

fn apply(machine: &Machine, iterate: &mut Iterate, ratios: &Ratios, matched: &Matched) {
    let gas = &machine.gas;
    let bounded = |ratio: f64| if ratio.is_finite() { ratio.clamp(0.5, 2.0) } else { 1.0 };
    let state = &mut iterate.state;
    let scaled = |m_kg: f64, t_k: f64, x: f64, mass: f64, heat: f64, burned: f64| {
        let (m_kg, t_k, x) =
            (m_kg * bounded(mass), (t_k * bounded(heat)).clamp(210.0, 3000.0), (x * bounded(burned)).clamp(0.0, 0.065));
        (m_kg, m_kg * gas.u_j_kg(t_k, x), m_kg * x, t_k)
    };
    let im = &mut state.intake;
    (im.m_kg, im.u_j, im.x_kg, im.t_k) =
        scaled(im.m_kg, im.t_k, im.x_kg / im.m_kg, ratios.intake_pa / ratios.intake_k, ratios.intake_k, 1.0);
    let em = &mut state.exhaust;
    (em.m_kg, em.u_j, em.x_kg, em.t_k) =
        scaled(em.m_kg, em.t_k, em.x_kg / em.m_kg, ratios.p3 / ratios.t3, ratios.t3, ratios.x3);
    state.shaft_rad_s = matched.shaft_rad_s;
    state.p4_pa *= bounded(ratios.p4);
    state.t4_k *= bounded(ratios.t3);
    let first = machine.closed_slots;
    for (i, c) in state.cylinders.iter_mut().enumerate() {
        let deg = machine.slot_deg(first + i);
        let x = c.x_kg / c.m_kg;
        let (m_kg, u_j, x_kg, t_k) = if i == 0 {
            let mass = ratios.intake_pa / ratios.intake_k;
            c.closing_pa *= bounded(ratios.intake_pa);
            c.reference_k_per_pa /= bounded(mass);
            scaled(c.m_kg, c.t_k, x, mass, ratios.t3, ratios.x3)
        } else if deg < 365.0 {
            scaled(c.m_kg, c.t_k, x, ratios.p3 / ratios.t3, ratios.t3, ratios.x3)
        } else {
            scaled(c.m_kg, c.t_k, x, ratios.intake_pa / ratios.intake_k, ratios.intake_k, ratios.x3)
        };
        (c.m_kg, c.u_j, c.x_kg, c.t_k) = (m_kg, u_j, x_kg, t_k);
        c.fuel_kg = matched.fuel_kg;
    }
    iterate.fuel_kg = matched.fuel_kg;
}

/// Weight of burned-fuel fractions beside logarithms in the mixing. Chosen: a relative change of exhaust gas then weighs about
/// as much as one of its mass; twice as much or half costs an interval.
const COMPOSITION: f64 = 25.0;

/// The iterate as numbers of comparable size, for mixing: logarithms, and plain where zero is possible.
fn pack(iterate: &Iterate) -> Vec<f64> {
    let s = &iterate.state;
    let mut z = Vec::with_capacity(9 + 3 * s.cylinders.len());
    for v in [&s.intake, &s.exhaust] {
        z.extend([math::ln(v.m_kg), math::ln(v.t_k), COMPOSITION * v.x_kg / v.m_kg]);
    }
    z.extend([s.flow_kg_s, math::ln(s.shaft_rad_s), math::ln(s.p4_pa)]);
    for c in &s.cylinders {
        z.extend([math::ln(c.m_kg), math::ln(c.t_k), COMPOSITION * c.x_kg / c.m_kg]);
    }
    z.push(math::ln(iterate.fuel_kg));
    z
}

fn unpack(machine: &Machine, iterate: &mut Iterate, z: &[f64]) {
    let s = &mut iterate.state;
    let mut values = z.iter().copied();
    let mut next = || values.next().unwrap_or(0.0);
    for v in [&mut s.intake, &mut s.exhaust] {
        v.m_kg = math::exp(next());
        v.t_k = math::exp(next()).clamp(210.0, 3400.0);
        let x = (next() / COMPOSITION).clamp(0.0, 0.065);
        v.x_kg = x * v.m_kg;
        v.u_j = v.m_kg * machine.gas.u_j_kg(v.t_k, x);
    }
    s.flow_kg_s = next();
    s.shaft_rad_s = math::exp(next());
    s.p4_pa = math::exp(next());
    for c in &mut s.cylinders {
        c.m_kg = math::exp(next());
        c.t_k = math::exp(next()).clamp(210.0, 3400.0);
        let x = (next() / COMPOSITION).clamp(0.0, 0.065);
        c.x_kg = x * c.m_kg;
        c.u_j = c.m_kg * machine.gas.u_j_kg(c.t_k, x);
    }
    iterate.fuel_kg = math::exp(next());
}
