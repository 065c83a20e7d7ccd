//! Gas through a restriction: the isentropic orifice of valves, nozzles and vanes.
//!
//! Saint-Venant and Wantzel's law for an ideal gas, exact up to choking and beyond. Left out: inertia of the gas in the
//! restriction; contraction, which the effective area carries.

use crate::math;

/// `sqrt(R T) W / (A p)` of an isentropic orifice at downstream-over-upstream pressure `pressure_ratio`.
///
/// `psi^2 = 2 g/(g - 1) (r^(2/g) - r^((g + 1)/g))`, constant below the critical ratio. Valid for `gamma` from 1.2 to 1.67
/// and ratios from 0 to 1. Source: HEYWOOD1988, appendix C; NACA1135.
#[inline(always)]
pub fn flow_function(pressure_ratio: f64, gamma: f64) -> f64 {
    math::sqrt(flow_function_squared(pressure_ratio, gamma))
}

/// Square of [`flow_function`].
#[inline(always)]
pub fn flow_function_squared(pressure_ratio: f64, gamma: f64) -> f64 {
    // No gas of the cycle is critical above 0.58 or flows freely below 0.48, so the critical ratio is seldom worked out.
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

/// Square of [`flow_function`] by the reciprocal of gamma, for the inner loop: within 3e-8 of the exact law, seldom with a
/// logarithm. Valid for gamma from 1.2 to 1.42, which is every gas of the cycle.
///
/// Small differences: `psi^2 = 2 d (1 - 3/2 g d + ...)`, `d = 1 - r`, `g = 1/gamma`, its coefficients fitted by least squares
/// for d up to 0.25. Choked: a constant by the critical ratio. Between: the exact law.
#[inline(always)]
pub(crate) fn quick_squared(pressure_ratio: f64, inverse_gamma: f64) -> f64 {
    let d = 1.0 - pressure_ratio;
    if d < 0.25 {
        let g = inverse_gamma - 0.77;
        let g2 = g * g;
        let a1 = -1.155_000_028_4 - 1.500_000_086_8 * g;
        let a2 = 5.005_209_425_6e-2 + 9.633_395_712_8e-1 * g + 1.166_653_345_2 * g2;
        if d < 0.02 {
            // The next term is below 3e-8 here, and most of the gas exchange happens here.
            let a3 = 3.127_793_188_7e-2 + 2.939_952_507_5e-1 * g;
            return 2.0 * d * (1.0 + d * (a1 + d * (a2 + d * a3)));
        }
        let a3 = (3.127_793_188_7e-2 + 2.939_952_507_5e-1 * g) + g2 * (-1.515_759_271_2e-1 - 6.251_014_994_8e-1 * g);
        let a4 = (1.920_240_085_5e-2 + 1.232_662_508_4e-1 * g) + g2 * (-2.155_623_683_7e-1 - 2.365_779_640_0e-1 * g);
        let a5 = (8.751_260_992_4e-3 + 5.021_758_860_6e-2 * g) + g2 * (-1.216_319_001_6e-1 - 8.052_860_515_6e-2 * g);
        let a6 = (1.626_594_944_2e-2 + 5.603_814_948_0e-2 * g) + g2 * (-2.438_647_821_9e-1 + 7.061_983_522_5e-2 * g);
        let d2 = d * d;
        2.0 * d * (1.0 + d * (a1 + d * a2) + d2 * d * ((a3 + d * a4) + d2 * (a5 + d * a6)))
    } else {
        let gamma = 1.0 / inverse_gamma;
        let critical = quick_critical_ratio(gamma);
        if pressure_ratio <= critical {
            0.5 * gamma * (gamma + 1.0) * critical * critical
        } else {
            let a = math::exp(math::ln(pressure_ratio) * inverse_gamma);
            2.0 * gamma / (gamma - 1.0) * a * (a - pressure_ratio)
        }
    }
}

/// [`critical_ratio`] as a polynomial, within 2e-10 for gamma from 1.2 to 1.42.
#[inline(always)]
pub(crate) fn quick_critical_ratio(gamma: f64) -> f64 {
    let x = gamma - 1.31;
    5.439_270_376_456e-1
        + x * (-1.794_252_957_840e-1
            + x * (6.419_163_137_980e-2
                + x * (-2.402_273_203_088e-2 + x * (9.276_301_774_237e-3 - x * 3.641_538_657_069e-3))))
}

/// Gas ahead of an opening, with the reciprocals that the inner loop has at hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Upstream {
    pub p_pa: f64,
    pub inverse_1_pa: f64,
    /// `1/(R T)`.
    pub inverse_kg_j: f64,
    /// Reciprocal of the ratio of heat capacities.
    pub inverse_gamma: f64,
}

/// Rounds off the flow law of valves and holes near equal pressures, as a relative pressure difference. Chosen: a larger one
/// costs pumping work that is not there, a smaller one needs shorter steps. See `MODEL.md`, "Steps".
const ROUNDING: f64 = 0.004;

/// Mass through an opening to a lower pressure, by its area times a time.
#[inline(always)]
pub(crate) fn through(area_m2_s: f64, from: &Upstream, to_pa: f64) -> f64 {
    let ratio = to_pa * from.inverse_1_pa;
    let psi2 = quick_squared(ratio, from.inverse_gamma);
    let (up, down) = rounding(1.0 - ratio, ROUNDING);
    area_m2_s * from.p_pa * math::sqrt(psi2 * up * from.inverse_kg_j / down)
}

/// What rounds off the square root at vanishing pressure difference: a factor on `psi^2`, given as numerator and
/// denominator so that the caller divides once.
///
/// At equal pressures the exact law has a vertical tangent, which no step of finite length survives. The factor
/// `d (d + d0)/(d^2 + d d0 + d0^2)` makes the flow linear there; at `d = 5 d0` it is 1.6 % low, at `20 d0` 0.1 %.
#[inline(always)]
pub(crate) fn rounding(d: f64, d0: f64) -> (f64, f64) {
    let numerator = d * (d + d0);
    (numerator, numerator + d0 * d0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_no_difference_no_flow() {
        assert_eq!(quick_squared(1.0, 1.0 / 1.35), 0.0);
        assert_eq!(rounding(0.0, 0.005).0, 0.0);
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

    #[test]
    fn identity_the_inner_loops_form_follows_the_exact_law() {
        for i in 0..=40 {
            let gamma = 1.2 + 0.0055 * f64::from(i);
            assert!((quick_critical_ratio(gamma) / critical_ratio(gamma) - 1.0).abs() < 2e-10);
            for k in 1..1000 {
                let r = f64::from(k) / 1000.0;
                let error = quick_squared(r, 1.0 / gamma) / flow_function_squared(r, gamma) - 1.0;
                // Next to equal pressures the exact form subtracts two equal numbers; its own rounding shows there.
                assert!(error.abs() < 3e-8, "ratio {r}, gamma {gamma}: {error:e}");
            }
        }
    }
}
