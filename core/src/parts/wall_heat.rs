//! Heat from the cylinder's gas to its walls, after Woschni.
//!
//! The form is that of HEYWOOD1988, eq. 12.19, with 3.26 (kPa) and T^-0.55. The form with 130 (bar) and T^-0.53 gives 14 to
//! 16 % more at cylinder temperatures. Left out: swirl, soot radiation as such, local and changing wall temperatures.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Heat from the gas to the cylinder walls, after Woschni.
    pub struct WallHeat in "wall_heat" {
        /// Surface temperature of the head and the piston crown.
        head_k: "K", 350.0, 800.0;
        /// Surface temperature of the liner.
        liner_k: "K", 330.0, 600.0;
        /// Coefficient of the mean piston speed while a valve is open.
        exchange_speed_coefficient: "", 0.0, 15.0;
        /// Coefficient of the mean piston speed while the valves are closed.
        closed_speed_coefficient: "", 0.0, 8.0;
        /// Coefficient of the combustion term.
        combustion_coefficient_m_s_k: "m/(s K)", 0.0, 0.02;
        /// Multiplier on the whole coefficient.
        multiplier: "", 0.0, 3.0;
        /// Polytropic exponent of the motored pressure in the combustion term.
        motored_exponent: "", 1.2, 1.4;
    }
}

/// Heat-transfer coefficient, in W/(m2 K). `3.26 B^-0.2 p^0.8 T^-0.55 w^0.8`, p in kPa.
/// Source: WOSCHNI1967, in the form of HEYWOOD1988, eq. 12.19.
pub fn coefficient_w_m2_k(bore_m: f64, p_pa: f64, t_k: f64, gas_velocity_m_s: f64) -> f64 {
    scale(bore_m) * shape(p_pa, t_k, gas_velocity_m_s)
}

/// The part of [`coefficient_w_m2_k`] that an engine fixes once: `3.26 B^-0.2`, with the pressure unit taken in.
pub(crate) fn scale(bore_m: f64) -> f64 {
    3.26 * math::pow(bore_m, -0.2) * math::pow(1000.0, -0.8)
}

/// `p^0.8 T^-0.55 w^0.8`, p in Pa.
#[inline(always)]
pub(crate) fn shape(p_pa: f64, t_k: f64, gas_velocity_m_s: f64) -> f64 {
    // y^0.8 T^-0.55 as one root; y^16 stays far below the largest float.
    let y2 = (p_pa * gas_velocity_m_s) * (p_pa * gas_velocity_m_s);
    let y8 = (y2 * y2) * (y2 * y2);
    let t2 = t_k * t_k;
    let t4 = t2 * t2;
    math::twentieth_root(y8 * y8 / (t4 * t4 * t2 * t_k))
}

/// Mean gas velocity, in m/s: `C1 Sp + C2 (Vd Tr/(pr Vr)) (p - pm)`. Source: WOSCHNI1967; HEYWOOD1988, eq. 12.18.
///
/// `reference_k_per_pa` is `Vd Tr/(pr Vr)` at intake-valve closing, `firing_rise_pa` the pressure above the motored one.
#[inline(always)]
pub fn gas_velocity_m_s(
    speed_coefficient: f64,
    mean_piston_speed_m_s: f64,
    combustion_coefficient_m_s_k: f64,
    reference_k_per_pa: f64,
    firing_rise_pa: f64,
) -> f64 {
    speed_coefficient * mean_piston_speed_m_s + combustion_coefficient_m_s_k * reference_k_per_pa * firing_rise_pa
}
