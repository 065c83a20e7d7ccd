//! Heat release: how much of the fuel has burned at a crank angle.
//!
//! A premixed and a mixing-controlled part, each of Wiebe's form, with start, durations and shares that depend on speed and
//! fuel. Both parts are scaled so that all fuel burns. Left out: injection as such, ignition delay as a process, spray and
//! wall, dissociation, unburnt fuel.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Injection and heat release: a premixed and a mixing-controlled part, each of Wiebe form.
    pub struct Combustion in "combustion" {
        /// Start of combustion at 1500 1/min, after top dead centre; negative is before.
        start_deg: "deg", -25.0, 15.0;
        /// Change of the start for each 1000 1/min more.
        start_per_1000_rpm_deg: "deg", -10.0, 5.0;
        /// Injection moved later by this much; negative is earlier. A what-if.
        timing_shift_deg: "deg", -10.0, 10.0;
        /// Premixed share of the fuel at the least fuel.
        premixed_share: "", 0.0, 0.6;
        /// Drop of the premixed share at the reference fuel; the share never falls below 0.03.
        premixed_share_drop: "", 0.0, 0.6;
        /// Reference fuel mass of a cylinder and cycle, for the two correlations that depend on fuel.
        reference_fuel_kg: "kg", 5.0e-6, 1.5e-3;
        /// Duration of the premixed part.
        premixed_duration_deg: "deg", 4.0, 40.0;
        /// Wiebe exponent of the premixed part.
        premixed_exponent: "", 0.5, 4.0;
        /// Duration of the mixing-controlled part without the two terms below.
        main_duration_deg: "deg", 15.0, 90.0;
        /// Longer main part for each 1000 1/min.
        main_duration_per_1000_rpm_deg: "deg", 0.0, 20.0;
        /// Longer main part at the reference fuel, in proportion to fuel.
        main_duration_at_reference_fuel_deg: "deg", 0.0, 60.0;
        /// Wiebe exponent of the main part.
        main_exponent: "", 0.3, 4.0;
        /// Wiebe completeness: 6.9 burns 99.9 % by the end; both parts are scaled so that all fuel burns.
        completeness: "", 2.0, 10.0;
        /// Smoke limit: the least air-fuel ratio that the injection allows when torque is held.
        smoke_limit_afr: "", 15.5, 40.0;
        /// Most fuel that the injector gives to a cylinder in a cycle.
        injector_limit_kg: "kg", 5.0e-6, 2.0e-3;
        /// Least fuel that the injector gives.
        least_fuel_kg: "kg", 1.0e-7, 1.0e-4;
    }
}

impl Combustion {
    /// Checks what no single range can say. Errors: `FuelRange`.
    pub fn check(&self) -> Result<(), CombustionError> {
        let (least_kg, most_kg) = (self.least_fuel_kg, self.injector_limit_kg);
        if least_kg >= most_kg { Err(CombustionError::FuelRange { least_kg, most_kg }) } else { Ok(()) }
    }
}

/// What can be wrong with an injection whose numbers are each allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the message says what the numbers are")]
pub enum CombustionError {
    #[error("`combustion`: least_fuel_kg = {least_kg} is not below injector_limit_kg = {most_kg}")]
    FuelRange { least_kg: f64, most_kg: f64 },
}

/// Wiebe's burned fraction at the share `y` of the duration: `1 - exp(-a y^(m + 1))`, not scaled.
/// Source: HEYWOOD1988, eq. 9.27; WIEBE1970.
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
