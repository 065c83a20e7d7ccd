//! Rubbing friction and auxiliaries, after Chen and Flynn.
//!
//! Left out: oil temperature, wear, running-in. The constants are each engine file's own.

use crate::engine::Friction;

/// Friction mean effective pressure, in Pa: `A + B p_max + C Sp + D Sp^2`.
/// Source: Chen and Flynn, SAE 650733 (form; quadratic term as in later practice).
pub fn mep_pa(f: &Friction, peak_pressure_pa: f64, mean_piston_speed_m_s: f64) -> f64 {
    f.constant_pa
        + f.peak_pressure_share * peak_pressure_pa
        + f.speed_pa_s_m * mean_piston_speed_m_s
        + f.speed_squared_pa_s2_m2 * mean_piston_speed_m_s * mean_piston_speed_m_s
}
