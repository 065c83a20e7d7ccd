//! What moves: the gas in cylinders and manifolds, the flow in the duct, and the shaft.

use crate::gas::{Content, Gas};
use alloc::vec::Vec;

/// Gas in one cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cylinder {
    /// Mass, internal energy and burned fuel.
    pub content: Content,
    /// Temperature of the last evaluation, in K: where the next one starts from.
    pub t_k: f64,
    /// Pressure when the intake valves closed, in Pa.
    pub closing_pa: f64,
    /// Woschni's reference `Vd Tr/(pr Vr)` at that moment, in K/Pa times m3/m3.
    pub reference_k_per_pa: f64,
    /// Fuel for this cycle, in kg.
    pub fuel_kg: f64,
    /// Heat-transfer coefficient at the last evaluation, in W/(m2 K). The end of one step is the beginning of the next, so a
    /// step evaluates it once at most.
    pub wall_w_m2_k: f64,
}

/// Gas in a manifold.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Volume {
    /// Mass, internal energy and burned fuel.
    pub content: Content,
    /// Temperature of the last evaluation, in K.
    pub t_k: f64,
}

impl Cylinder {
    /// Takes the temperature from the integrator's running guess to that of the energy.
    pub(crate) fn settle(&mut self, gas: &Gas) {
        self.t_k = gas.t_of_u_k(self.content.j_kg(), self.content.x(), self.t_k);
    }
}

impl Volume {
    /// Takes the temperature from the integrator's running guess to that of the energy.
    pub(crate) fn settle(&mut self, gas: &Gas) {
        self.t_k = gas.t_of_u_k(self.content.j_kg(), self.content.x(), self.t_k);
    }
}

/// Gas exchange alone, at the beginning of a firing interval: manifolds, turbocharger, and the cylinders that are coupled to
/// the manifolds during the interval.
#[derive(Debug, Clone, PartialEq)]
pub struct GasExchange {
    /// Intake manifold with cooler tank and pipes.
    pub intake: Volume,
    /// Exhaust manifold.
    pub exhaust: Volume,
    /// Flow in the duct from the compressor, in kg/s.
    pub flow_kg_s: f64,
    /// Shaft speed, in rad/s.
    pub shaft_rad_s: f64,
    /// Pressure behind the turbine, in Pa.
    pub p4_pa: f64,
    /// Temperature behind the turbine, in K.
    pub t4_k: f64,
    /// Vane position, 0 to 1.
    pub vane: f64,
    /// The coupled cylinders by slot: the one whose exhaust opens first comes first.
    pub cylinders: Vec<Cylinder>,
}

/// The whole engine at the beginning of a firing interval: gas exchange, and the cylinders whose valves stay shut.
#[derive(Debug, Clone, PartialEq)]
pub struct WholeEngine {
    /// Manifolds, turbocharger and coupled cylinders.
    pub exchange: GasExchange,
    /// The cylinders with shut valves by slot: the one whose intake has just closed comes first.
    pub closed: Vec<Cylinder>,
}

impl WholeEngine {
    /// After an interval every cylinder is in the next slot.
    pub(crate) fn turn(&mut self) {
        let open = &mut self.exchange.cylinders;
        if let Some(newest) = open.pop() {
            self.closed.insert(0, newest);
        }
        if let Some(opening) = self.closed.pop() {
            open.insert(0, opening);
        }
    }

    /// The cylinder whose intake has just closed.
    pub(crate) fn newest(&mut self) -> &mut Cylinder {
        match self.closed.first_mut() {
            Some(newest) => newest,
            None => &mut self.exchange.cylinders[0],
        }
    }

    /// All cylinders.
    pub(crate) fn cylinders_mut(&mut self) -> impl Iterator<Item = &mut Cylinder> {
        self.closed.iter_mut().chain(&mut self.exchange.cylinders)
    }
}
