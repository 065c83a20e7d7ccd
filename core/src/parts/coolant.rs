//! Coolant: how much the flow through the engine warms up.
//!
//! A steady flow without boiling, of constant density and heat capacity. The caller sums up where the heat comes from.

use crate::keys::parameters;

parameters! {
    /// Coolant circuit.
    pub struct Coolant in "coolant" {
        /// Flow at 2000 1/min; the pump turns with the engine.
        flow_m3_s: "m3/s", 5.0e-5, 0.05;
        /// Density.
        density_kg_m3: "kg/m3", 800.0, 1200.0;
        /// Heat capacity.
        heat_capacity_j_kg_k: "J/(kg K)", 2500.0, 4500.0;
        /// Temperature at the engine's inlet.
        inlet_k: "K", 300.0, 390.0;
    }
}

/// Speed at which the engine's coolant flow is given, in 1/min.
pub const REFERENCE_SPEED_RPM: f64 = 2_000.0;

/// Flow at an engine speed, in m3/s: the pump turns with the engine, so flow is in proportion to speed.
///
/// Valid while the circuit's resistance is of the square kind and the thermostat stands open (common practice).
pub fn flow_m3_s(reference_flow_m3_s: f64, speed_rpm: f64) -> f64 {
    reference_flow_m3_s * speed_rpm / REFERENCE_SPEED_RPM
}

/// Temperature rise of the coolant, in K; negative if `heat_w` is.
///
/// `Q / (V rho c)`.
/// Valid below boiling; a flow of zero has no steady rise.
/// Source: energy balance of a steady flow.
/// Errors: `NoFlow` unless flow, density and heat capacity are all above zero.
pub fn rise_k(heat_w: f64, flow_m3_s: f64, density_kg_m3: f64, heat_capacity_j_kg_k: f64) -> Result<f64, CoolantError> {
    let conductance_w_k = flow_m3_s * density_kg_m3 * heat_capacity_j_kg_k;
    if 0.0 < flow_m3_s && 0.0 < density_kg_m3 && 0.0 < heat_capacity_j_kg_k && heat_w.is_finite() {
        Ok(heat_w / conductance_w_k)
    } else {
        Err(CoolantError::NoFlow { heat_w, flow_m3_s, density_kg_m3, heat_capacity_j_kg_k })
    }
}

/// What can be wrong with a coolant circuit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CoolantError {
    /// Nothing that could carry the heat away.
    #[error(
        "{heat_w} W into {flow_m3_s} m3/s of {density_kg_m3} kg/m3 and {heat_capacity_j_kg_k} J/(kg K) has no steady temperature rise: flow, density and heat capacity must be above zero"
    )]
    NoFlow {
        /// Heat, in W.
        heat_w: f64,
        /// Flow, in m3/s.
        flow_m3_s: f64,
        /// Density, in kg/m3.
        density_kg_m3: f64,
        /// Heat capacity, in J/(kg K).
        heat_capacity_j_kg_k: f64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_one_litre_of_water_a_second_takes_4_2_kw_for_each_kelvin() {
        assert_eq!(rise_k(42_000.0, 1.0e-3, 1_000.0, 4_200.0), Ok(10.0));
        assert_eq!(flow_m3_s(2.0e-3, 1_000.0), 1.0e-3);
    }

    #[test]
    fn by_hand_no_flow_is_an_error() {
        for flow in [0.0, -1.0, f64::NAN] {
            assert!(matches!(rise_k(1.0, flow, 1_000.0, 4_200.0), Err(CoolantError::NoFlow { .. })));
        }
        assert!(rise_k(f64::NAN, 1.0, 1_000.0, 4_200.0).is_err());
    }
}
