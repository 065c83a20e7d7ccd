//! Rubbing friction and auxiliaries, after Chen and Flynn.
//!
//! Left out: oil temperature, wear, running-in. The constants are each engine file's own.

use crate::keys::parameters;

parameters! {
    /// Rubbing friction and auxiliaries, after Chen and Flynn.
    pub struct Friction in "friction" {
        /// Constant part.
        constant_pa: "Pa", 0.0, 2.0e5;
        /// Share of the peak cylinder pressure.
        peak_pressure_share: "", 0.0, 0.02;
        /// Part in proportion to mean piston speed.
        speed_pa_s_m: "Pa s/m", 0.0, 3.0e4;
        /// Part in proportion to the square of mean piston speed.
        speed_squared_pa_s2_m2: "Pa s2/m2", 0.0, 1000.0;
        /// Share of the friction power that reaches the coolant.
        coolant_share: "", 0.0, 1.0;
    }
}

/// Friction mean effective pressure, in Pa: `A + B p_max + C Sp + D Sp^2`.
/// Source: CHEN1965 for the form; the quadratic term is later practice.
pub fn mep_pa(f: &Friction, peak_pressure_pa: f64, mean_piston_speed_m_s: f64) -> f64 {
    f.constant_pa
        + f.peak_pressure_share * peak_pressure_pa
        + f.speed_pa_s_m * mean_piston_speed_m_s
        + f.speed_squared_pa_s2_m2 * mean_piston_speed_m_s * mean_piston_speed_m_s
}
