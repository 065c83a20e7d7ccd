//! The same engine marched in time: load steps, moving vanes, real shaft inertia.

use crate::engine::Engine;
use crate::settings::Settings;
use crate::steady::{BenchError, Point};
use serde::Serialize;

/// Means over one firing interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sample {
    /// End of the interval, in s since the start.
    pub time_s: f64,
    /// Torque at the crank, in N m.
    pub torque_n_m: f64,
    /// Fuel given to the cylinder that fired, in kg.
    pub fuel_kg_per_cycle: f64,
    /// Fuel that the smoke limit would allow it, in kg.
    pub smoke_limit_fuel_kg: f64,
    /// Vane position as it stands (the actuator lags), in per cent open.
    pub vane_open_pct: f64,
    /// Compressor outlet, absolute, in Pa.
    pub p2_pa: f64,
    /// Intake manifold, absolute, in Pa.
    pub intake_manifold_pa: f64,
    /// Exhaust manifold, absolute, in Pa.
    pub p3_pa: f64,
    /// Turbine-inlet temperature, in K.
    pub t3_k: f64,
    /// Turbocharger shaft, in rad/s.
    pub shaft_rad_s: f64,
    /// Flow through the compressor, in kg/s; negative runs backwards.
    pub air_flow_kg_s: f64,
    /// Least flow through the compressor within the interval.
    pub least_air_flow_kg_s: f64,
    /// Pumping mean effective pressure, in Pa; positive when it costs torque.
    pub pumping_mep_pa: f64,
    /// Air that the firing cylinder had trapped, over its fuel.
    pub air_fuel_ratio: f64,
}

/// An engine running in time.
#[derive(Debug, Clone)]
pub struct Transient {}

impl Transient {
    /// Begins at a steady point that has a state.
    pub fn start(_engine: &Engine, _point: &Point) -> Self {
        todo!()
    }

    /// New settings, from the next firing on: the vanes then move with their actuator's lag, torque is sought by the
    /// governor within the smoke limit. Errors as for a steady point.
    pub fn set(&mut self, _settings: &Settings) -> Result<(), BenchError> {
        todo!()
    }

    /// Runs one firing interval.
    pub fn advance(&mut self) -> Sample {
        todo!()
    }

    /// Length of one firing interval at the present speed, in s.
    pub fn interval_s(&self) -> f64 {
        todo!()
    }
}
