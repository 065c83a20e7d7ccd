//! Heat release: how much of the fuel has burned at a crank angle.
//!
//! A premixed and a mixing-controlled part, each of Wiebe's form, with start, durations and shares that depend on speed and
//! fuel. Both parts are scaled so that all fuel burns. Left out: injection as such, ignition delay as a process, spray and
//! wall, dissociation, unburnt fuel.

use crate::engine::Combustion;
use crate::math;

/// Wiebe's burned fraction at the share `y` of the duration: `1 - exp(-a y^(m + 1))`, not scaled.
/// Source: Heywood, eq. 9.27 (Wiebe function).
pub fn wiebe(completeness: f64, exponent: f64, y: f64) -> f64 {
    if y <= 0.0 {
        return 0.0;
    }
    1.0 - math::exp(-completeness * math::pow(y, exponent + 1.0))
}

/// The heat release of one injection.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatRelease {
    /// Start of combustion, in degrees after firing top dead centre.
    pub start_deg: f64,
    /// Premixed share of the fuel.
    pub premixed_share: f64,
    /// Duration of the premixed part.
    pub premixed_deg: f64,
    /// Duration of the mixing-controlled part.
    pub main_deg: f64,
    premixed_exponent: f64,
    main_exponent: f64,
    completeness: f64,
    scale: f64,
}

impl HeatRelease {
    /// At a speed, for a fuel mass of one cylinder and cycle.
    pub fn new(c: &Combustion, speed_rpm: f64, fuel_kg: f64) -> Self {
        let load = fuel_kg / c.reference_fuel_kg;
        let thousands = speed_rpm / 1000.0;
        Self {
            start_deg: c.start_deg + c.start_per_1000_rpm_deg * (thousands - 1.5) + c.timing_shift_deg,
            premixed_share: (c.premixed_share - c.premixed_share_drop * load).clamp(0.03, 1.0),
            premixed_deg: c.premixed_duration_deg,
            main_deg: c.main_duration_deg
                + c.main_duration_per_1000_rpm_deg * thousands
                + c.main_duration_at_reference_fuel_deg * load,
            premixed_exponent: c.premixed_exponent,
            main_exponent: c.main_exponent,
            completeness: c.completeness,
            scale: 1.0 / (1.0 - math::exp(-c.completeness)),
        }
    }

    /// Where the last of the fuel has burned, in degrees after firing top dead centre.
    pub fn end_deg(&self) -> f64 {
        self.start_deg + self.main_deg.max(self.premixed_deg)
    }

    /// Share of the fuel that has burned at `angle_deg` after firing top dead centre (negative before it).
    pub fn burned(&self, angle_deg: f64) -> f64 {
        let since = angle_deg - self.start_deg;
        let part = |duration_deg: f64, exponent: f64| {
            if since >= duration_deg {
                1.0
            } else {
                self.scale * wiebe(self.completeness, exponent, since / duration_deg)
            }
        };
        self.premixed_share * part(self.premixed_deg, self.premixed_exponent)
            + (1.0 - self.premixed_share) * part(self.main_deg, self.main_exponent)
    }
}
