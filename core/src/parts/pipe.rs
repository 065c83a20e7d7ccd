//! A round pipe with bends: pressure loss of a steady flow.
//!
//! Wall friction, bends, entry and exit, and a silencer. Density is taken as constant along the pipe, which holds for
//! losses that are small beside the pressure (Mach below 0.3); waves and heat loss are left out.

use crate::keys::parameters;

parameters! {
    /// Exhaust pipe behind the turbine, with its silencer.
    pub struct ExhaustPipe in "exhaust_pipe" {
        /// Inner diameter.
        bore_m: "m", 0.03, 0.30;
        /// Length.
        length_m: "m", 0.2, 50.0;
        /// Roughness of the inner wall.
        roughness_m: "m", 0.0, 0.002;
        /// Number of bends.
        bends: "", 0.0, 30.0;
        /// Loss coefficient of each bend.
        bend_loss: "", 0.0, 2.0;
        /// Loss coefficients of entry and exit together.
        end_loss: "", 0.0, 5.0;
        /// Pressure loss `k W^2 / rho` of the silencer, whatever the bore.
        silencer_loss_1_m4: "1/m4", 0.0, 2.0e6;
        /// Time in which the pressure behind the turbine follows the flow.
        fill_time_s: "s", 0.001, 0.1;
    }
}

/// Dynamic viscosity of air, in Pa s. Exhaust gas of a lean engine is close to air.
///
/// `1.458e-6 T^1.5 / (T + 110.4)`.
/// Valid from 100 K; published up to 1900 K, but 2 % low at 600 K and 4 % low at 900 K against today's reference
/// equations, which moves the friction factor of a rough pipe by less than 0.3 %.
/// Source: USSA1976, equation 51 (Sutherland).
pub fn viscosity_pa_s(t_k: f64) -> f64 {
    1.458e-6 * t_k * libm::sqrt(t_k) / (t_k + 110.4)
}

/// End of the laminar law and beginning of the turbulent one, in Reynolds numbers.
const TRANSITION: (f64, f64) = (2_300.0, 4_000.0);

/// Darcy friction factor of a round pipe.
///
/// Laminar below Reynolds number 2300: `64/Re`. Turbulent above 4000, after Colebrook:
/// `1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f)))`, `e` the roughness over the diameter, solved by Newton's method
/// from Haaland's explicit form. Between: Chosen: a blend of both with continuous slope, since flow there is neither
/// and a solver cannot use a jump.
/// Valid for `reynolds > 0` and `relative_roughness` from 0 to 0.07; without bound as `reynolds` goes to 0.
/// Source: COLEBROOK1939; start value HAALAND1983.
pub fn friction_factor(reynolds: f64, relative_roughness: f64) -> f64 {
    let (laminar_end, turbulent_from) = TRANSITION;
    if reynolds <= laminar_end {
        return 64.0 / reynolds;
    }
    if turbulent_from <= reynolds {
        return colebrook(reynolds, relative_roughness);
    }
    let s = (reynolds - laminar_end) / (turbulent_from - laminar_end);
    let share = s * s * (3.0 - 2.0 * s);
    (1.0 - share) * 64.0 / reynolds + share * colebrook(reynolds, relative_roughness)
}

fn colebrook(reynolds: f64, relative_roughness: f64) -> f64 {
    let rough = relative_roughness / 3.7;
    let smooth = 2.51 / reynolds;
    let two_over_ln10 = 2.0 / core::f64::consts::LN_10;
    // y = 1/sqrt(f)
    let mut y = -1.8 * libm::log10(libm::pow(rough, 1.11) + 6.9 / reynolds);
    // Haaland is within 2 % and each step squares the error: the third leaves rounding only.
    for _ in 0..3 {
        let argument = rough + smooth * y;
        let residual = y + 2.0 * libm::log10(argument);
        y -= residual / (1.0 + two_over_ln10 * smooth / argument);
    }
    1.0 / (y * y)
}

/// Pressure loss of the pipe with its bends, ends and silencer, in Pa; it has the sign of the flow.
///
/// `(f L/D + n K_bend + K_ends) rho v^2/2 + k W^2/rho`, `v = W / (rho pi D^2/4)`.
/// Valid for a loss that is small beside the pressure; `density_kg_m3` and `t_k` above 0, the pipe as its ranges say.
/// Source: Darcy and Weisbach's equation, as in any book of fluid mechanics.
pub fn loss_pa(pipe: &ExhaustPipe, mass_flow_kg_s: f64, density_kg_m3: f64, t_k: f64) -> f64 {
    let magnitude_kg_s = libm::fabs(mass_flow_kg_s);
    if magnitude_kg_s == 0.0 {
        return 0.0;
    }
    let area_m2 = core::f64::consts::FRAC_PI_4 * pipe.bore_m * pipe.bore_m;
    let reynolds = magnitude_kg_s * pipe.bore_m / (area_m2 * viscosity_pa_s(t_k));
    let friction = friction_factor(reynolds, pipe.roughness_m / pipe.bore_m);
    loss_1_m4(pipe, friction) * mass_flow_kg_s * magnitude_kg_s / density_kg_m3
}

/// Loss coefficient `k` of `k W^2/rho`, in 1/m4, at a Darcy friction factor.
pub fn loss_1_m4(pipe: &ExhaustPipe, friction_factor: f64) -> f64 {
    let area_m2 = core::f64::consts::FRAC_PI_4 * pipe.bore_m * pipe.bore_m;
    let coefficients = friction_factor * pipe.length_m / pipe.bore_m + pipe.bends * pipe.bend_loss + pipe.end_loss;
    0.5 * coefficients / (area_m2 * area_m2) + pipe.silencer_loss_1_m4
}

#[cfg(test)]
mod tests {
    use super::*;

    const PIPE: ExhaustPipe = ExhaustPipe {
        bore_m: 0.1,
        length_m: 3.0,
        roughness_m: 1.5e-4,
        bends: 3.0,
        bend_loss: 0.3,
        end_loss: 1.0,
        silencer_loss_1_m4: 0.0,
        fill_time_s: 0.01,
    };

    #[test]
    fn published_friction_of_smooth_laminar_and_rough_pipes() {
        approx::assert_relative_eq!(friction_factor(1_000.0, 0.0), 0.064, max_relative = 1e-12);
        approx::assert_relative_eq!(friction_factor(4_000.0, 0.0), 0.039_907_01, max_relative = 1e-6);
        approx::assert_relative_eq!(friction_factor(4_000.0, 0.01), 0.049_082_27, max_relative = 1e-6);
    }

    #[test]
    fn identity_friction_solves_colebrook() {
        for exponent in 0..60 {
            let reynolds = 4.0e3 * libm::pow(10.0, 0.1 * exponent as f64);
            for roughness in [0.0, 1e-6, 1e-4, 1e-3, 0.01, 0.07] {
                let y = 1.0 / libm::sqrt(friction_factor(reynolds, roughness));
                let right = -2.0 * libm::log10(roughness / 3.7 + 2.51 * y / reynolds);
                approx::assert_relative_eq!(y, right, max_relative = 1e-12);
            }
        }
    }

    #[test]
    fn by_hand_the_blend_meets_both_laws() {
        approx::assert_relative_eq!(friction_factor(2_300.0, 0.001), 64.0 / 2_300.0);
        let step = friction_factor(4_000.0, 0.001) - friction_factor(4_000.0 - 1e-6, 0.001);
        assert!(libm::fabs(step) < 1e-9, "{step}");
    }

    #[test]
    fn by_hand_reverse_flow_loses_pressure_the_other_way() {
        let forward = loss_pa(&PIPE, 0.25, 0.5217391, 700.0);
        approx::assert_relative_eq!(forward, 2_538.685, max_relative = 1e-6);
        assert_eq!(loss_pa(&PIPE, -0.25, 0.5217391, 700.0), -forward);
        assert_eq!(loss_pa(&PIPE, 0.0, 0.5217391, 700.0), 0.0);
        assert!(loss_pa(&PIPE, 1e-300, 0.5217391, 700.0).is_finite());
    }
}
