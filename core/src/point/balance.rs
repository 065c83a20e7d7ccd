//! What a firing interval misses of being a steady point.

use crate::cycle::{GasExchange, Machine, Means};
use crate::math;
use crate::point::iterate::Iterate;
use crate::point::matching::Matched;
use crate::point::operating_point::Effort;

/// What the shaft may miss, over what energy, flow and load may. Chosen: the shaft's promise is twice theirs, and its balance
/// is a small difference of two pulsating powers, so it comes last.
const SHAFT: f64 = 1.5;
/// The same for burned fuel, counted as a share of the fuel. Chosen: it reaches the balances of mass and energy only as that
/// small share of the gas.
const BURNED: f64 = 2.0;

/// What an interval misses of being a steady point, each as a share.
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
    pub(crate) fn of(machine: &Machine, from: &Iterate, to: &GasExchange, means: &Means, matched: &Matched) -> Self {
        let relative = |a: f64, b: f64| math::fabs(a - b) / math::fabs(b).max(1e-12);
        let start = &from.state;
        let mut state = 0.0_f64;
        for (a, b) in [(&to.intake, &start.intake), (&to.exhaust, &start.exhaust)] {
            state = state.max(relative(a.content.m_kg, b.content.m_kg)).max(relative(a.t_k, b.t_k));
        }
        for (a, b) in to.cylinders.iter().zip(&start.cylinders) {
            state = state.max(relative(a.content.m_kg, b.content.m_kg)).max(relative(a.t_k, b.t_k));
        }
        let (drawn, given, fuel_kg) = (&means.drawn, &means.given, means.strokes.fuel_kg);
        let flow_scale = math::fabs(drawn.m_kg).max(1e-9);
        let out_kg = means.turbine.m_kg + means.leak.m_kg;
        let flow = (math::fabs(drawn.m_kg - means.air.m_kg) / flow_scale)
            .max(math::fabs(out_kg - given.m_kg) / flow_scale)
            .max(math::fabs(given.m_kg - drawn.m_kg - fuel_kg) / flow_scale)
            .max(math::fabs(out_kg - means.air.m_kg - fuel_kg) / flow_scale);
        let (energy, shaft) = (energy_miss(machine, means), shaft_miss(machine, start.shaft_rad_s, means));
        let load = math::fabs(matched.fuel_kg / from.fuel_kg - 1.0);
        let fuel = fuel_kg.max(1e-12);
        let burned = (math::fabs(drawn.x_kg) / fuel)
            .max(math::fabs(given.x_kg - fuel_kg) / fuel)
            .max(math::fabs(means.turbine.x_kg + means.leak.x_kg - given.x_kg) / fuel);
        Self { state, flow, energy: math::fabs(energy), shaft: math::fabs(shaft), load, burned }
    }

    pub(crate) fn worst(&self) -> f64 {
        self.state.max(self.flow).max(self.energy).max(self.shaft).max(self.load).max(self.burned)
    }

    pub(crate) fn within(&self, effort: &Effort) -> bool {
        self.state < effort.state
            && self.flow < effort.balance
            && self.energy < effort.balance
            && self.shaft < SHAFT * effort.balance
            && self.load < effort.balance
            && self.burned < BURNED * effort.balance
    }
}

/// Energy that the interval's balance misses, as a share of the fuel energy.
pub(crate) fn energy_miss(machine: &Machine, means: &Means) -> f64 {
    let plant = &machine.plant;
    let strokes = &means.strokes;
    let fuel_j = strokes.fuel_kg * plant.engine.fuel.lhv_j_kg;
    let into = means.air.m_kg * plant.ambient_h_j_kg + means.compressor_j + strokes.fuel_kg * plant.gas.fuel_h_j_kg;
    let out = means.cooler_j
        + strokes.walls_j
        + strokes.gross_j
        + strokes.exchange_j
        + means.exhaust_loss_j
        + means.turbine.u_j
        + means.leak.u_j;
    (into - out) / fuel_j.max(1e-9)
}

/// Power that the shaft's balance misses, as a share of the compressor's, or of the fuel's where that is less.
pub(crate) fn shaft_miss(machine: &Machine, shaft_rad_s: f64, means: &Means) -> f64 {
    let engine = &machine.plant.engine;
    let bearing_j = engine.shaft.bearing_loss_w(shaft_rad_s) * means.time_s;
    let scale_j = means.compressor_j.min(means.strokes.fuel_kg * engine.fuel.lhv_j_kg);
    (means.turbine_j - means.compressor_j - bearing_j) / scale_j.max(1e-9)
}
