//! Shaft of the turbocharger: what it stores and what its bearings take.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Shaft of the turbocharger.
    pub struct Shaft in "shaft" {
        /// Moment of inertia of the rotor.
        inertia_kg_m2: "kg m2", 1.0e-7, 0.02;
        /// Bearing loss `k omega^2`.
        bearing_loss_w_s2: "W s2", 0.0, 1.0e-3;
    }
}

impl Shaft {
    /// Power that the bearings take at a shaft speed, in W.
    #[inline(always)]
    pub fn bearing_loss_w(&self, shaft_rad_s: f64) -> f64 {
        self.bearing_loss_w_s2 * shaft_rad_s * shaft_rad_s
    }
}

/// Shaft speed after a net work on a rotor of this moment of inertia, in rad/s.
///
/// The balance is one of energy, not of torque: it is exact for any step, and the shaft cannot turn backwards. Chosen: the
/// slowest shaft turns at 1 rad/s, so that nothing divides by zero.
#[inline(always)]
pub fn speed_after_rad_s(inertia_kg_m2: f64, shaft_rad_s: f64, net_work_j: f64) -> f64 {
    let square = shaft_rad_s * shaft_rad_s + 2.0 * net_work_j / inertia_kg_m2;
    math::sqrt(square.max(1.0))
}
