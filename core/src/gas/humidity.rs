//! Water vapour in the ambient air: from relative humidity to mole fraction.
//!
//! The part of the CIPM-2007 equation for the density of moist air that yields the mole fraction of vapour. Its
//! compressibility factor is left out, because the bench's gas is ideal: the density is then 4e-4 low at 15 degrees
//! Celsius and sea level, 7e-4 at -10.

/// Published validity: 15 to 27 degrees Celsius, 600 to 1100 hPa.
pub const PUBLISHED_T_K: (f64, f64) = (288.15, 300.15);
/// Range that this module answers in, in K: that of the bench. Chosen: the saturation pressure stays within 1e-4 of the
/// reference equation of state of water from 0 to 55 degrees Celsius, and within 0.6 % of a published equation for
/// under-cooled water down to -40, where saturated air holds less than 0.04 % of vapour.
pub const VALID_T_K: (f64, f64) = (233.15, 328.15);
/// Range that this module answers in, in Pa: that of the bench.
pub const VALID_P_PA: (f64, f64) = (5.0e4, 1.1e5);

/// Saturation pressure of water vapour over liquid water, in Pa.
///
/// `exp(A T^2 + B T + C + D/T)`.
/// Valid as [`VALID_T_K`] says; published for [`PUBLISHED_T_K`]. Any `t_k` above 0 gives a number.
/// Source: PICARD2008, equation A1.1.
pub fn saturation_pressure_pa(t_k: f64) -> f64 {
    libm::exp((1.237_884_7e-5 * t_k - 1.912_131_6e-2) * t_k + 33.937_110_47 - 6.343_164_5e3 / t_k)
}

/// Enhancement factor: how much more vapour saturated air holds than its saturation pressure alone says.
///
/// `1.00062 + 3.14e-8 p + 5.6e-7 t^2`, `t` in degrees Celsius.
/// Valid as [`vapour_mole_fraction`].
/// Source: PICARD2008, equation A1.2.
pub fn enhancement_factor(p_pa: f64, t_k: f64) -> f64 {
    let t_c = t_k - 273.15;
    1.000_62 + 3.14e-8 * p_pa + 5.6e-7 * t_c * t_c
}

/// Mole fraction of water vapour in air of relative humidity `relative_humidity` (0 to 1).
///
/// `x = h f(p, t) psv(t) / p`.
/// Valid as [`VALID_T_K`] and [`VALID_P_PA`] say; relative humidity is over liquid water, below freezing too, as
/// weather services give it.
/// Source: PICARD2008, equation A1.3.
/// Errors: `OutOfRange`, with the input that is outside.
pub fn vapour_mole_fraction(p_pa: f64, t_k: f64, relative_humidity: f64) -> Result<f64, HumidityError> {
    let inputs = [
        ("pressure", p_pa, VALID_P_PA, " Pa"),
        ("temperature", t_k, VALID_T_K, " K"),
        ("relative humidity", relative_humidity, (0.0, 1.0), ""),
    ];
    for (what, value, (min, max), unit) in inputs {
        if !(min <= value && value <= max) {
            return Err(HumidityError::OutOfRange { what, value, min, max, unit });
        }
    }
    Ok(relative_humidity * enhancement_factor(p_pa, t_k) * saturation_pressure_pa(t_k) / p_pa)
}

/// What can be wrong with a state of moist air.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HumidityError {
    /// An input is outside the range that this module answers in, or not a number.
    #[error("{what} {value}{unit} is outside {min}{unit} to {max}{unit}")]
    OutOfRange {
        /// Which input.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Least allowed.
        min: f64,
        /// Greatest allowed.
        max: f64,
        /// Unit, with a space before it.
        unit: &'static str,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_dry_air_holds_no_vapour() {
        assert_eq!(vapour_mole_fraction(1.0e5, 298.15, 0.0), Ok(0.0));
    }

    #[test]
    fn published_half_saturated_air_at_20_celsius() {
        // Computed from PICARD2008 by another program: psv 2339.163 Pa, x 0.01158934.
        approx::assert_relative_eq!(saturation_pressure_pa(293.15), 2_339.163, max_relative = 1e-6);
        let x = vapour_mole_fraction(101_325.0, 293.15, 0.5).unwrap();
        approx::assert_relative_eq!(x, 0.011_589_34, max_relative = 1e-6);
    }

    #[test]
    fn by_hand_each_input_outside_its_range_is_named() {
        for (p_pa, t_k, humidity, word) in [
            (4.9e4, 298.0, 0.5, "pressure"),
            (1.0e5, 400.0, 0.5, "temperature"),
            (1.0e5, 298.0, 1.5, "humidity"),
            (1.0e5, f64::NAN, 0.5, "temperature"),
        ] {
            let error = vapour_mole_fraction(p_pa, t_k, humidity).unwrap_err();
            assert!(alloc::format!("{error}").contains(word), "{error}");
        }
    }
}
