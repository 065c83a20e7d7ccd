//! Radial turbine behind a ring of movable vanes.
//!
//! The vanes are a nozzle: their position sets its effective area; half of the expansion (in logarithm) is its share, so
//! the stage chokes near the square of the nozzle's critical ratio, as radial stages do. Efficiency is a parabola over the
//! blade-speed ratio U/C0, its height a parabola over vane position. Left out: pulses inside the wheel, heat through the
//! housing, incidence at the blades as such.
//! Source: WATSON1982 (nozzle with the square root of the pressure ratio; efficiency over U/C0); each engine file has its own
//! numbers.

use crate::gas::flow;
use crate::keys::parameters;
use crate::math;

parameters! {
    /// Turbine with a ring of movable vanes ahead of its wheel. `u` is the vane position, 0 shut to 1 fully open.
    pub struct Turbine in "turbine" {
        /// Tip diameter of the wheel.
        tip_diameter_m: "m", 0.02, 0.25;
        /// Effective nozzle area with the vanes at their tightest stop.
        shut_area_m2: "m2", 5.0e-6, 5.0e-3;
        /// Growth of the area with `u`.
        area_slope_m2: "m2", 1.0e-5, 2.0e-2;
        /// Growth of the area with `u^2`.
        area_curve_m2: "m2", -5.0e-3, 1.0e-2;
        /// Greatest total-to-static efficiency.
        peak_efficiency: "", 0.3, 0.9;
        /// Vane position of the greatest efficiency.
        best_vane: "", 0.0, 1.0;
        /// Relative loss of efficiency for each `(u - best)^2` toward open.
        open_loss: "", 0.0, 3.0;
        /// Relative loss of efficiency for each `(u - best)^2` toward shut.
        shut_loss: "", 0.0, 1.2;
        /// Blade-speed ratio `U/C0` of the greatest efficiency.
        best_speed_ratio: "", 0.5, 0.9;
        /// Multiplier on the efficiency, for a worn wheel. A what-if.
        efficiency_factor: "", 0.6, 1.0;
        /// Multiplier on the wheel's diameter: nozzle area grows with its square, the rotor's inertia with its fifth power.
        /// A what-if.
        size_factor: "", 0.7, 1.4;
    }
}

/// Rounds off the flow law where the two pressures meet; see `flow::rounding`. Chosen: half of what the valves need, since
/// the manifold that the turbine empties is the larger volume.
const ROUNDING: f64 = 0.002;

/// Least share of the peak efficiency that a vane position leaves. Chosen: below that the parabola over vane position means
/// nothing.
const LEAST_SHARE: f64 = 0.05;

impl Turbine {
    /// Tip diameter of the wheel as it turns, size factor included, in m.
    #[inline(always)]
    pub fn wheel_m(&self) -> f64 {
        self.tip_diameter_m * self.size_factor
    }

    /// Tip speed of the wheel at a shaft speed, in m/s.
    #[inline(always)]
    pub fn tip_speed_m_s(&self, shaft_rad_s: f64) -> f64 {
        0.5 * self.wheel_m() * shaft_rad_s
    }

    /// Checks what no single range can say. Errors: `VanesDoNotOpen`.
    pub fn check(&self) -> Result<(), TurbineError> {
        let shut_area_m2 = self.shut_area_m2;
        let open_area_m2 = shut_area_m2 + self.area_slope_m2 + self.area_curve_m2;
        // Chosen: with less than half as much again, the vanes would be no control.
        if self.area_slope_m2 + 2.0 * self.area_curve_m2 <= 0.0 || open_area_m2 < 1.5 * shut_area_m2 {
            return Err(TurbineError::VanesDoNotOpen { shut_area_m2, open_area_m2 });
        }
        Ok(())
    }
}

/// What can be wrong with a turbine whose numbers are each allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the message says what the numbers are")]
pub enum TurbineError {
    #[error(
        "`turbine`: {open_area_m2} m2 open is not at least 1.5 times {shut_area_m2} m2 shut, or the area does not grow all the way"
    )]
    VanesDoNotOpen { shut_area_m2: f64, open_area_m2: f64 },
}

/// Gas ahead of the turbine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbineInlet {
    /// Absolute pressure.
    pub p_pa: f64,
    /// Temperature.
    pub t_k: f64,
    /// Gas constant.
    pub r_j_kg_k: f64,
    /// Ratio of heat capacities at the mean temperature of the expansion.
    pub gamma: f64,
}

/// The turbine at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbinePoint {
    /// Flow, in kg/s; never backwards.
    pub flow_kg_s: f64,
    /// Power out of the gas, in W.
    pub power_w: f64,
    /// Isentropic enthalpy drop of the stage, in J/kg.
    pub isentropic_drop_j_kg: f64,
}

/// Effective nozzle area at a vane position from 0 (shut) to 1 (open), size factor included, in m2.
pub fn area_m2(t: &Turbine, vane: f64) -> f64 {
    (t.shut_area_m2 + vane * (t.area_slope_m2 + vane * t.area_curve_m2)) * (t.size_factor * t.size_factor)
}

/// Greatest efficiency over blade-speed ratio at a vane position.
pub fn peak_efficiency(t: &Turbine, vane: f64) -> f64 {
    let off = vane - t.best_vane;
    let loss = if off > 0.0 { t.open_loss } else { t.shut_loss };
    t.peak_efficiency * t.efficiency_factor * (1.0 - loss * off * off).max(LEAST_SHARE)
}

/// Efficiency at a blade-speed ratio, below zero past twice the best one (the wheel then drives the gas).
pub fn efficiency(t: &Turbine, vane: f64, blade_speed_ratio: f64) -> f64 {
    let b = blade_speed_ratio / t.best_speed_ratio;
    peak_efficiency(t, vane) * b * (2.0 - b)
}

/// Spouting velocity `sqrt(2 dh)`, in m/s.
pub fn spouting_velocity_m_s(isentropic_drop_j_kg: f64) -> f64 {
    math::sqrt(2.0 * isentropic_drop_j_kg)
}

/// Isentropic enthalpy drop at constant heat capacity, in J/kg: `cp T3 (1 - (p4/p3)^((g - 1)/g))`.
pub fn isentropic_drop_j_kg(inlet: &TurbineInlet, p4_over_p3: f64) -> f64 {
    let g = inlet.gamma;
    inlet.r_j_kg_k * g / (g - 1.0) * inlet.t_k * (1.0 - math::pow(p4_over_p3, (g - 1.0) / g))
}

/// The ring of vanes at one position: its area, and the efficiency that the wheel reaches behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nozzle {
    area_m2: f64,
    /// `em/b0` and `em/(2 b0^2)`, so that power needs no blade-speed ratio and stays finite without flow.
    linear: f64,
    square: f64,
}

impl Nozzle {
    /// At a vane position.
    pub fn at(t: &Turbine, vane: f64) -> Self {
        let peak = peak_efficiency(t, vane);
        Self {
            area_m2: area_m2(t, vane),
            linear: peak / t.best_speed_ratio,
            square: peak / (2.0 * t.best_speed_ratio * t.best_speed_ratio),
        }
    }

    /// Flow and power at an inlet state, an outlet pressure and a tip speed.
    #[inline(always)]
    pub fn point(&self, inlet: &TurbineInlet, p4_pa: f64, tip_speed_m_s: f64) -> TurbinePoint {
        let ratio = p4_pa / inlet.p_pa;
        if ratio >= 1.0 {
            return TurbinePoint { flow_kg_s: 0.0, power_w: 0.0, isentropic_drop_j_kg: 0.0 };
        }
        let nozzle_ratio = math::sqrt(ratio);
        let inverse_gamma = 1.0 / inlet.gamma;
        let rt = inlet.r_j_kg_k * inlet.t_k;
        // One power of the nozzle's ratio serves its flow and, squared, the expansion of the whole stage.
        let a = math::exp(math::ln(nozzle_ratio) * inverse_gamma);
        let gamma_term = 1.0 / (1.0 - inverse_gamma);
        let critical = flow::quick_critical_ratio(inlet.gamma);
        let psi2 = if nozzle_ratio > critical {
            2.0 * gamma_term * a * (a - nozzle_ratio)
        } else {
            0.5 * inlet.gamma * (inlet.gamma + 1.0) * critical * critical
        };
        let (up, down) = flow::rounding(1.0 - nozzle_ratio, ROUNDING);
        let flow_kg_s = self.area_m2 * inlet.p_pa * math::sqrt(psi2 * up / (rt * down));
        let drop = rt * gamma_term * (1.0 - ratio / (a * a));
        let power_w = flow_kg_s * tip_speed_m_s * (self.linear * math::sqrt(2.0 * drop) - self.square * tip_speed_m_s);
        TurbinePoint { flow_kg_s, power_w, isentropic_drop_j_kg: drop }
    }
}
