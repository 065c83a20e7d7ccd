//! Energy flow of a reading: where the fuel's power goes.
//!
//! This is bookkeeping on what a reading says. The base is the ambient air's state and the fuel's lower heating value at 298.15 K, so
//! the fuel's power is all that comes in. What the reading's own balances miss is an item of its own, never spread over the
//! others.

use crate::point::reading::Reading;
use alloc::vec::Vec;
use serde::Serialize;

/// Where power goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sink {
    /// To the brake. Negative where the brake drives the engine.
    Crank,
    /// To the coolant: walls, its shares of friction and exhaust ports. Negative only in an engine that is driven.
    Coolant,
    /// To the charge cooler. Negative where its coolant is warmer than the charge.
    ChargeCooler,
    /// With the exhaust gas behind the turbine, above the ambient air's state.
    ExhaustGas,
    /// With what leaks from the exhaust manifold, above the ambient air's state; an item only where there is a hole.
    ExhaustLeak,
    /// To the surroundings: friction and exhaust-manifold heat that do not reach the coolant, bearing loss. Negative only
    /// where the exhaust is colder than what the manifold stands in.
    Other,
    /// What the balances of the point miss.
    Remainder,
}

/// Power to one sink.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Item {
    /// Where it goes.
    pub sink: Sink,
    /// Power, in W.
    pub power_w: f64,
    /// Power over the fuel's power.
    pub share: f64,
}

/// The fuel's power and where it goes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EnergyFlow {
    /// Fuel flow times lower heating value, in W.
    pub fuel_w: f64,
    /// The sinks: they sum to the fuel's power, remainder included.
    pub items: Vec<Item>,
}

impl EnergyFlow {
    /// Power to a sink, in W; none where it has no item.
    pub fn power_w(&self, sink: Sink) -> f64 {
        self.items.iter().find(|item| item.sink == sink).map_or(0.0, |item| item.power_w)
    }
}

/// Where the fuel's power goes at a reading that holds.
pub fn energy_flow(reading: &Reading) -> EnergyFlow {
    let heat = &reading.heat;
    let fuel_w = reading.fuel_flow_kg_s * reading.fuel_lhv_j_kg;
    // Walls give all their heat to the coolant, friction and exhaust manifold a share of theirs. This is what is left over.
    let around_w = heat.walls_w + heat.friction_w + heat.exhaust_manifold_w - heat.coolant_w;
    let mut sinks = Vec::from([
        (Sink::Crank, reading.brake.power_w),
        (Sink::Coolant, heat.coolant_w),
        (Sink::ChargeCooler, heat.charge_cooler_w),
        (Sink::ExhaustGas, heat.exhaust_gas_w),
    ]);
    if reading.exhaust_leak_kg_s > 0.0 {
        sinks.push((Sink::ExhaustLeak, heat.exhaust_leak_w));
    }
    sinks.push((Sink::Other, around_w + reading.shaft.bearing_loss_w));
    let known_w: f64 = sinks.iter().map(|(_, power_w)| power_w).sum();
    sinks.push((Sink::Remainder, fuel_w - known_w));
    let share = |power_w: f64| if fuel_w > 0.0 { power_w / fuel_w } else { 0.0 };
    let items = sinks.into_iter().map(|(sink, power_w)| Item { sink, power_w, share: share(power_w) }).collect();
    EnergyFlow { fuel_w, items }
}
