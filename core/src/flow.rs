//! Gas through a restriction: the isentropic orifice of valves, nozzles and vanes.
//!
//! Saint-Venant and Wantzel's law for an ideal gas, exact up to choking and beyond. Left out: inertia of the gas in the
//! restriction; contraction, which the effective area carries.

use crate::math;

/// `sqrt(R T) W / (A p)` of an isentropic orifice at downstream-over-upstream pressure `pressure_ratio`.
///
/// `psi^2 = 2 g/(g - 1) (r^(2/g) - r^((g + 1)/g))`, constant below the critical ratio. Valid for `gamma` from 1.2 to 1.67
/// and ratios from 0 to 1. Source: Heywood, Internal Combustion Engine Fundamentals, appendix C; NACA Report 1135.
#[inline(always)]
pub fn flow_function(pressure_ratio: f64, gamma: f64) -> f64 {
    math::sqrt(flow_function_squared(pressure_ratio, gamma))
}

/// Square of [`flow_function`].
#[inline(always)]
pub fn flow_function_squared(pressure_ratio: f64, gamma: f64) -> f64 {
    // No gas of the cycle is critical above 0.58 or flows freely below 0.48, so the critical ratio is seldom asked.
    let critical = if pressure_ratio > 0.58 { 0.0 } else { critical_ratio(gamma) };
    let r = pressure_ratio.max(critical);
    // r^(1/gamma) serves both powers: r^(2/g) - r^((g+1)/g) = a (a - r).
    let a = math::exp(math::ln(r) / gamma);
    2.0 * gamma / (gamma - 1.0) * a * (a - r)
}

/// Downstream-over-upstream pressure at which the flow chokes: `(2/(g + 1))^(g/(g - 1))`.
#[inline(always)]
pub fn critical_ratio(gamma: f64) -> f64 {
    math::exp(gamma / (gamma - 1.0) * math::ln(2.0 / (gamma + 1.0)))
}

/// [`flow_function`] with the square root rounded off at vanishing pressure difference.
///
/// At equal pressures the exact law has a vertical tangent, which no step of finite length survives. Multiplying by
/// `(d^2/(d^2 + d0^2))^(1/4)`, `d = 1 - r`, makes it linear there; at `d = 5 d0` it is 1 % low, above that nothing.
#[inline(always)]
pub fn rounded_flow_function(pressure_ratio: f64, gamma: f64, d0: f64) -> f64 {
    let d = 1.0 - pressure_ratio;
    math::sqrt(flow_function_squared(pressure_ratio, gamma) * (d / math::sqrt(d * d + d0 * d0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_no_difference_no_flow() {
        assert_eq!(rounded_flow_function(1.0, 1.35, 0.005), 0.0);
        assert!(flow_function(1.0, 1.4).abs() < 1e-7);
    }

    #[test]
    fn identity_choked_flow_is_constant() {
        let choked = flow_function(0.3, 1.33);
        assert_eq!(choked, flow_function(0.0, 1.33));
        // sqrt(g) (2/(g+1))^((g+1)/(2(g-1)))
        let closed_form = libm::sqrt(1.33) * libm::pow(2.0 / 2.33, 2.33 / 0.66);
        assert!((choked / closed_form - 1.0).abs() < 1e-12);
    }
}
