//! Temperature and entropy of the gas through compressor and turbine, for drawing.
//!
//! From the NASA polynomials, at the composition of the station: humid air in the compressor, burnt gas in the turbine. The
//! states are the means of a reading, so pulsation is not in it: where strong pulses meet a small expansion ratio, the
//! turbine's efficiency of the mean states passes 1 (see `MODEL.md`, "Definitions"), and state 4 then stands left of 3.

use crate::engine::Engine;
use crate::gas::{Composition, Gas};
use crate::math;
use crate::point::reading::{Reading, Station};
use alloc::vec::Vec;
use serde::Serialize;

/// A state of the gas, as the diagram shows it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GasState {
    /// Absolute pressure, in Pa.
    pub p_pa: f64,
    /// Temperature, in K.
    pub t_k: f64,
    /// Specific entropy above that of the inlet, in J/(kg K).
    pub s_j_kg_k: f64,
}

/// A line of constant pressure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Isobar {
    /// Its pressure, in Pa.
    pub p_pa: f64,
    /// States of rising temperature.
    pub states: Vec<GasState>,
}

/// A compression or an expansion, from inlet to outlet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Process {
    /// Station 1 or 3: the reference, so its entropy is zero.
    pub inlet: GasState,
    /// 2s or 4s: the outlet pressure at the inlet's entropy.
    pub ideal: GasState,
    /// Station 2 or 4.
    pub outlet: GasState,
    /// Through the inlet and through the outlet.
    pub isobars: [Isobar; 2],
}

/// Compressor and turbine of a reading. Entropies are of each one's own gas, above station 1 and above station 3.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Entropy {
    /// 1, 2s, 2.
    pub compressor: Process,
    /// 3, 4s, 4.
    pub turbine: Process,
}

/// States on each isobar. Chosen: straight pieces between are then within a thousandth of the height drawn.
const STATES: usize = 33;

/// How far an isobar goes on beyond the outermost states, as a share of the temperatures between.
const BEYOND: f64 = 0.15;

/// Temperature and entropy through compressor and turbine of a reading of `engine`.
pub fn entropy(engine: &Engine, reading: &Reading) -> Entropy {
    let gas = engine.gas(&reading.ambient);
    let s = &reading.stations;
    Entropy {
        compressor: process(&gas, &s.compressor_inlet, &s.compressor_outlet),
        turbine: process(&gas, &s.turbine_inlet, &s.turbine_outlet),
    }
}

fn process(gas: &Gas, inlet: &Station, outlet: &Station) -> Process {
    let x = inlet.burned_fuel_fraction;
    let mix = gas.composition(x);
    let state = |p_pa: f64, t_k: f64| GasState { p_pa, t_k, s_j_kg_k: above(&mix, inlet, p_pa, t_k) };
    let ideal_k = gas.isentropic_t_k(inlet.t_k, x, outlet.p_pa / inlet.p_pa);
    let (low_k, high_k) = [ideal_k, outlet.t_k].iter().fold((inlet.t_k, inlet.t_k), |(a, b), t| (a.min(*t), b.max(*t)));
    let margin_k = (BEYOND * (high_k - low_k)).max(5.0);
    let (from_k, to_k) = ((low_k - margin_k).max(200.0), high_k + margin_k);
    let isobar = |p_pa: f64| Isobar {
        p_pa,
        states: (0..STATES).map(|i| state(p_pa, from_k + (to_k - from_k) * i as f64 / (STATES - 1) as f64)).collect(),
    };
    Process {
        inlet: state(inlet.p_pa, inlet.t_k),
        ideal: state(outlet.p_pa, ideal_k),
        outlet: state(outlet.p_pa, outlet.t_k),
        isobars: [isobar(inlet.p_pa), isobar(outlet.p_pa)],
    }
}

/// `s(T) - s(T1) - R ln(p/p1)`, in J/(kg K).
fn above(mix: &Composition, inlet: &Station, p_pa: f64, t_k: f64) -> f64 {
    mix.s_j_kg_k(t_k) - mix.s_j_kg_k(inlet.t_k) - mix.r_j_kg_k() * math::ln(p_pa / inlet.p_pa)
}
