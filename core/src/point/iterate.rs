//! The unknown of the search: the state at the beginning of a firing interval that is to repeat.

use crate::cycle::{Cylinder, GasExchange, Machine, Means, Recorder, Strokes, Volume};
use crate::gas::{Content, Gas};
use crate::math;
use crate::point::matching::{Matched, turbine_inlet};
use alloc::vec::Vec;

/// State at the beginning of a firing interval, with the fuel of the cylinder that fires next.
#[derive(Debug, Clone)]
pub(crate) struct Iterate {
    pub state: GasExchange,
    pub fuel_kg: f64,
}

/// Temperatures that the solver itself may set, in K. Chosen: wider than any engine's, inside the gas table.
const RANGE_K: (f64, f64) = (210.0, 3000.0);
/// The same for mixing, which may go as far as burning gas.
const MIXED_RANGE_K: (f64, f64) = (210.0, 3400.0);
/// Most burned fuel in a kilogram of gas: above the stoichiometric 0.064, where combustion ends.
const MOST_BURNED: f64 = 0.065;
/// The same for the intake manifold, which holds less.
const MOST_BURNED_INTAKE: f64 = 0.06;
/// One scaling halves or doubles a state at most. Chosen: a match far off must not throw the cycle off.
const SCALE: (f64, f64) = (0.5, 2.0);
/// Crank angle until which an open cylinder is scaled with the exhaust manifold, after that with the intake manifold. Chosen:
/// just past gas-exchange top dead centre, where the intake takes over.
const EXHAUST_UNTIL_DEG: f64 = 365.0;

/// First state of a search from nothing. Chosen, all of them: typical of engines of this kind, so that the first interval is
/// a cycle and not a shock; the search forgets them within a few intervals.
mod cold {
    /// Charge above the intake manifold's temperature, by walls and left-over gas, in K.
    pub const CHARGE_RISE_K: f64 = 35.0;
    /// Charge over the air that flows through a cylinder: left-over gas.
    pub const CHARGE: f64 = 1.03;
    /// Burned fuel in the charge, and in the intake manifold, over that of the exhaust.
    pub const CHARGE_BURNED: f64 = 0.03;
    pub const INTAKE_BURNED: f64 = 1e-4;
    /// Pressure and temperature of a cylinder that exhausts, over those of the exhaust manifold.
    pub const EXHAUSTING_PA: f64 = 1.04;
    pub const EXHAUSTING_K: f64 = 1.03;
    /// Pressure of a cylinder that draws, over that of the intake manifold.
    pub const DRAWING_PA: f64 = 0.98;
    /// Temperature behind the turbine over that ahead of it.
    pub const T4_OVER_T3: f64 = 0.88;
}

/// Runs one firing interval of the repeating cycle: the coupled cylinders, then the one whose intake has just closed
/// through all its closed slots at once. That takes the delay of the closed cylinders out of the iteration.
pub(crate) fn interval(machine: &Machine, from: &Iterate, mut recorder: Option<&mut Recorder>) -> (GasExchange, Means) {
    let mut state = from.state.clone();
    let mut means = machine.run_exchange(&mut state, recorder.as_deref_mut());
    if let Some(mut newest) = state.cylinders.pop() {
        means.trapped_x = newest.content.x();
        machine.close_intake(&mut newest, from.fuel_kg);
        machine.run_closed(&mut newest, 0, machine.closed_slots, &mut means.strokes, recorder);
        state.cylinders.insert(0, newest);
    }
    (state, means)
}

/// Gas of a state that fills a volume.
fn filled(gas: &Gas, p_pa: f64, t_k: f64, x: f64, size_m3: f64) -> Content {
    let m_kg = p_pa * size_m3 / (gas.r_j_kg_k(x) * t_k);
    Content::of(m_kg, gas.u_j_kg(t_k, x), x)
}

/// A ratio that one scaling may apply.
fn bounded(ratio: f64) -> f64 {
    if ratio.is_finite() { ratio.clamp(SCALE.0, SCALE.1) } else { 1.0 }
}

/// Gas with mass, temperature and burned fraction scaled, and its temperature.
fn scaled(gas: &Gas, content: &Content, t_k: f64, mass: f64, heat: f64, burned: f64) -> (Content, f64) {
    let t_k = (t_k * bounded(heat)).clamp(RANGE_K.0, RANGE_K.1);
    let x = (content.x() * bounded(burned)).clamp(0.0, MOST_BURNED);
    (Content::of(content.m_kg * bounded(mass), gas.u_j_kg(t_k, x), x), t_k)
}

impl Iterate {
    /// A state for a match from nothing: manifolds at their means, cylinders where their slots would put them.
    pub(crate) fn cold(machine: &Machine, matched: &Matched, vane: f64) -> Self {
        let (gas, manifolds) = (&machine.plant.gas, &machine.plant.engine.manifolds);
        let volume =
            |p_pa: f64, t_k: f64, x: f64, size_m3: f64| Volume { content: filled(gas, p_pa, t_k, x, size_m3), t_k };
        let cylinder = |p_pa: f64, t_k: f64, x: f64, size_m3: f64| Cylinder {
            content: filled(gas, p_pa, t_k, x, size_m3),
            t_k,
            fuel_kg: matched.fuel_kg,
            ..Cylinder::default()
        };
        let charge_kg = matched.flow_kg_s / machine.cycles_per_s() * cold::CHARGE;
        let charge_k = matched.intake_k + cold::CHARGE_RISE_K;
        let x_charge = cold::CHARGE_BURNED * matched.x3;
        let content = Content::of(charge_kg, gas.u_j_kg(charge_k, x_charge), x_charge);
        let mut newest = Cylinder { content, t_k: charge_k, ..Cylinder::default() };
        machine.close_intake(&mut newest, matched.fuel_kg);
        machine.run_closed(&mut newest, 0, machine.closed_slots, &mut Strokes::default(), None);
        let mut cylinders: Vec<Cylinder> = Vec::with_capacity(machine.open_slots());
        cylinders.push(newest);
        for slot in machine.closed_slots + 1..machine.slots() {
            let size_m3 = machine.volume_at_slot_m3(slot);
            cylinders.push(if machine.slot_deg(slot) < EXHAUST_UNTIL_DEG {
                let (p_pa, t_k) = (cold::EXHAUSTING_PA * matched.p3_pa, cold::EXHAUSTING_K * matched.t3_k);
                cylinder(p_pa, t_k, matched.x3, size_m3)
            } else {
                cylinder(cold::DRAWING_PA * matched.intake_pa, charge_k, x_charge, size_m3)
            });
        }
        let x_intake = cold::INTAKE_BURNED * matched.x3;
        let state = GasExchange {
            intake: volume(matched.intake_pa, matched.intake_k, x_intake, manifolds.intake_volume_m3),
            exhaust: volume(matched.p3_pa, matched.t3_k, matched.x3, manifolds.exhaust_volume_m3),
            flow_kg_s: matched.flow_kg_s,
            shaft_rad_s: matched.shaft_rad_s,
            p4_pa: matched.p4_pa,
            t4_k: cold::T4_OVER_T3 * matched.t3_k,
            vane,
            cylinders,
        };
        Self { state, fuel_kg: matched.fuel_kg }
    }

    /// Scales a neighbour's state from its own match to the new one.
    pub(crate) fn scale(&mut self, machine: &Machine, from: &Matched, to: &Matched) {
        self.apply(machine, from, to);
        self.state.flow_kg_s = to.flow_kg_s;
    }

    /// Scales the end of an interval from what was measured in it to the match.
    pub(crate) fn rescale(&mut self, machine: &Machine, means: &Means, matched: &Matched) {
        let (t3_k, x3) = turbine_inlet(machine, means);
        let Means { intake_pa, intake_k, p3_pa, p4_pa, .. } = *means;
        let measured = Matched { intake_pa, intake_k, p3_pa, t3_k, x3: x3.max(1e-9), p4_pa, ..*matched };
        let measured_flow = means.air.m_kg / means.time_s;
        // At a steady point nothing burned may enter the manifold on balance: put it where that is so.
        let intake = &mut self.state.intake;
        let content = &mut intake.content;
        let wanted_x = (content.x() - means.drawn.x()).clamp(0.0, MOST_BURNED_INTAKE);
        let wanted_kg = wanted_x * content.m_kg;
        content.u_j += (wanted_kg - content.x_kg) * slope_of_energy(machine, intake.t_k);
        content.x_kg = wanted_kg;
        self.apply(machine, &measured, matched);
        self.state.flow_kg_s += matched.flow_kg_s - measured_flow;
    }

    /// Scales pressures, temperatures and burned fuel by the ratios of two matches; shaft and fuel are those of the second.
    fn apply(&mut self, machine: &Machine, from: &Matched, to: &Matched) {
        let gas = &machine.plant.gas;
        let state = &mut self.state;
        let (intake_pa, intake_k) = (to.intake_pa / from.intake_pa, to.intake_k / from.intake_k);
        let (t3, x3) = (to.t3_k / from.t3_k, to.x3 / from.x3);
        let (intake_mass, exhaust_mass) = (intake_pa / intake_k, to.p3_pa / from.p3_pa / t3);
        let im = &mut state.intake;
        (im.content, im.t_k) = scaled(gas, &im.content, im.t_k, intake_mass, intake_k, 1.0);
        let em = &mut state.exhaust;
        (em.content, em.t_k) = scaled(gas, &em.content, em.t_k, exhaust_mass, t3, x3);
        state.shaft_rad_s = to.shaft_rad_s;
        state.p4_pa *= bounded(to.p4_pa / from.p4_pa);
        state.t4_k *= bounded(t3);
        for (i, c) in state.cylinders.iter_mut().enumerate() {
            let (mass, heat) = if i == 0 {
                c.closing_pa *= bounded(intake_pa);
                c.reference_k_per_pa /= bounded(intake_mass);
                (intake_mass, t3)
            } else if machine.slot_deg(machine.closed_slots + i) < EXHAUST_UNTIL_DEG {
                (exhaust_mass, t3)
            } else {
                (intake_mass, intake_k)
            };
            (c.content, c.t_k) = scaled(gas, &c.content, c.t_k, mass, heat, x3);
            c.fuel_kg = to.fuel_kg;
        }
        self.fuel_kg = to.fuel_kg;
    }

    /// The iterate as numbers of comparable size, for mixing: logarithms, and plain where zero is possible.
    pub(crate) fn pack(&self) -> Vec<f64> {
        let s = &self.state;
        let mut z = Vec::with_capacity(10 + 3 * s.cylinders.len());
        let of = |c: &Content, t_k: f64| [math::ln(c.m_kg), math::ln(t_k), COMPOSITION * c.x_kg / c.m_kg];
        z.extend(of(&s.intake.content, s.intake.t_k));
        z.extend(of(&s.exhaust.content, s.exhaust.t_k));
        z.extend([s.flow_kg_s, math::ln(s.shaft_rad_s), math::ln(s.p4_pa)]);
        z.extend(s.cylinders.iter().flat_map(|c| of(&c.content, c.t_k)));
        z.push(math::ln(self.fuel_kg));
        z
    }

    /// The inverse of [`Iterate::pack`], within possible temperatures and compositions.
    pub(crate) fn unpack(&mut self, machine: &Machine, z: &[f64]) {
        let mut values = z.iter().copied();
        let mut next = || values.next().unwrap_or(0.0);
        let gas = |next: &mut dyn FnMut() -> f64| {
            let m_kg = math::exp(next());
            let t_k = math::exp(next()).clamp(MIXED_RANGE_K.0, MIXED_RANGE_K.1);
            let x = (next() / COMPOSITION).clamp(0.0, MOST_BURNED);
            (Content::of(m_kg, machine.plant.gas.u_j_kg(t_k, x), x), t_k)
        };
        let s = &mut self.state;
        for v in [&mut s.intake, &mut s.exhaust] {
            (v.content, v.t_k) = gas(&mut next);
        }
        s.flow_kg_s = next();
        s.shaft_rad_s = math::exp(next());
        s.p4_pa = math::exp(next());
        for c in &mut s.cylinders {
            (c.content, c.t_k) = gas(&mut next);
        }
        self.fuel_kg = math::exp(next());
    }
}

/// Change of internal energy with burned fuel at constant temperature and mass, in J/kg.
fn slope_of_energy(machine: &Machine, t_k: f64) -> f64 {
    (machine.plant.gas.u_j_kg(t_k, 0.01) - machine.plant.gas.u_j_kg(t_k, 0.0)) / 0.01
}

/// Weight of burned-fuel fractions beside logarithms in the mixing. Chosen: a relative change of exhaust gas then weighs about
/// as much as one of its mass; twice as much or half costs an interval.
const COMPOSITION: f64 = 25.0;
