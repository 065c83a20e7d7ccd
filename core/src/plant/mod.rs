//! What happens in one instant: compressor, cooler, turbine, leak and back pressure, each written once.
//!
//! The cycle, the matching and the maps all call these functions, so that they cannot drift apart. They take the compressor's
//! map, the vane nozzle or the gas as values; a second turbocharger is one more value.

pub mod deliver;
pub mod exhaust;
pub mod expand;

use crate::engine::{Engine, Turbocharger};
use crate::gas::{Ambient, Gas};
use crate::parts::compressor::CompressorInlet;

/// An engine on one day, with the states of air that the day alone decides.
#[derive(Debug, Clone)]
pub struct Plant {
    /// The engine.
    pub engine: Engine,
    /// Its turbocharger.
    pub turbocharger: Turbocharger,
    /// The air outside.
    pub ambient: Ambient,
    /// The working gas.
    pub gas: Gas,
    /// Compressor inlet without flow: the ambient air.
    pub inlet: CompressorInlet,
    /// Density of the ambient air.
    pub ambient_kg_m3: f64,
    /// Enthalpy of the ambient air.
    pub ambient_h_j_kg: f64,
    /// Enthalpy of air at the temperature of the charge cooler's coolant.
    cooler_sink_h_j_kg: f64,
}

impl Plant {
    /// An engine on a day.
    pub fn new(engine: &Engine, ambient: &Ambient) -> Self {
        Self::with_gas(engine, ambient, engine.gas(ambient))
    }

    /// An engine on a day with a gas of choice, such as the perfect gas of textbook cycles.
    pub fn with_gas(engine: &Engine, ambient: &Ambient, gas: Gas) -> Self {
        let r_j_kg_k = gas.r_j_kg_k(0.0);
        let cp_j_kg_k = gas.cp_j_kg_k(ambient.t_k, 0.0);
        Self {
            turbocharger: engine.turbocharger(),
            inlet: CompressorInlet { p_pa: ambient.p_pa, t_k: ambient.t_k, r_j_kg_k, cp_j_kg_k },
            ambient_kg_m3: ambient.p_pa / (r_j_kg_k * ambient.t_k),
            ambient_h_j_kg: gas.h_j_kg(ambient.t_k, 0.0),
            cooler_sink_h_j_kg: gas.h_j_kg(engine.charge_cooler.sink_k, 0.0),
            engine: engine.clone(),
            ambient: *ambient,
            gas,
        }
    }
}
