//! Shaft of the turbocharger: what it stores and what its bearings take.

use crate::keys::parameters;

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
