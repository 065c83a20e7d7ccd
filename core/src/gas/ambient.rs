//! The air outside: what the engine breathes, and what it breathes out into.

use crate::gas::humidity;
use crate::gas::mixture::Gas;
use crate::keys::parameters;

parameters! {
    /// The air outside.
    pub struct Ambient in "ambient" {
        /// Absolute pressure.
        p_pa: "Pa", 5.0e4, 1.1e5;
        /// Temperature.
        t_k: "K", 233.15, 328.15;
        /// Relative humidity, 0 to 1.
        relative_humidity: "", 0.0, 1.0;
    }
}

/// Standard reference day of the bench: 100 kPa, 25 degrees Celsius, dry.
pub const REFERENCE_DAY: Ambient = Ambient { p_pa: 1.0e5, t_k: 298.15, relative_humidity: 0.0 };

impl Ambient {
    /// The working gas on this day: this air with its vapour, and a fuel of this heating value and composition.
    pub fn gas(&self, lhv_j_kg: f64, hydrogen_to_carbon: f64) -> Gas {
        // The ranges above lie inside the formula's, so the fallback is never met.
        let vapour = humidity::vapour_mole_fraction(self.p_pa, self.t_k, self.relative_humidity).unwrap_or(0.0);
        Gas::new(vapour, lhv_j_kg, hydrogen_to_carbon)
    }
}
