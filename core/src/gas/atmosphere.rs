//! Ambient air at an altitude: pressure and temperature of the standard atmosphere.
//!
//! The layer next to the ground only, where temperature falls in proportion to height. Altitude is geopotential; the
//! difference to the height above sea level on a map is 0.03 % at 2 000 m. Standard air is dry: `humidity` adds water.

use crate::gas::ambient::Ambient;

/// Layer of constant lapse rate, geopotential, in m. The standard tabulates from -5 000 m.
pub const VALID_M: (f64, f64) = (-5_000.0, 11_000.0);

// USSA1976, tables 1, 2 and 4.
const P0_PA: f64 = 101_325.0;
const T0_K: f64 = 288.15;
const LAPSE_K_M: f64 = 0.0065;
const G0_M_S2: f64 = 9.806_65;
/// `R* / M0` with the gas constant of the standard, which is not today's: 8314.32 J/(kmol K).
const R_AIR_J_KG_K: f64 = 8_314.32 / 28.9644;

/// Temperature of the standard atmosphere, in K.
///
/// `T = T0 - L h`, with `h` the geopotential altitude.
/// Valid from -5 000 m to 11 000 m.
/// Source: USSA1976, equation 23.
/// Errors: `AltitudeOutOfRange` outside that layer, NaN included.
pub fn temperature_k(altitude_m: f64) -> Result<f64, AtmosphereError> {
    let (min_m, max_m) = VALID_M;
    if min_m <= altitude_m && altitude_m <= max_m {
        Ok(T0_K - LAPSE_K_M * altitude_m)
    } else {
        Err(AtmosphereError::AltitudeOutOfRange { altitude_m, min_m, max_m })
    }
}

/// Static pressure of the standard atmosphere, in Pa.
///
/// `p = p0 (T / T0)^(g0 M0 / (R* L))`, with `T` from [`temperature_k`].
/// Valid from -5 000 m to 11 000 m.
/// Source: USSA1976, equation 33a.
/// Errors: `AltitudeOutOfRange` outside that layer, NaN included.
pub fn pressure_pa(altitude_m: f64) -> Result<f64, AtmosphereError> {
    let t_k = temperature_k(altitude_m)?;
    Ok(P0_PA * libm::pow(t_k / T0_K, G0_M_S2 / (R_AIR_J_KG_K * LAPSE_K_M)))
}

/// The air outside at an altitude on a standard day, dry.
///
/// Valid as the two functions above; the bench itself takes [`Ambient`] down to 50 kPa, which is 5 574 m.
/// Errors: `AltitudeOutOfRange`.
pub fn ambient_at(altitude_m: f64) -> Result<Ambient, AtmosphereError> {
    Ok(Ambient { p_pa: pressure_pa(altitude_m)?, t_k: temperature_k(altitude_m)?, relative_humidity: 0.0 })
}

/// What can be wrong with an altitude.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AtmosphereError {
    /// Outside the layer that the equations were published for, or not a number.
    #[error("altitude {altitude_m} m is outside {min_m} m to {max_m} m")]
    AltitudeOutOfRange {
        /// What was asked for, in m.
        altitude_m: f64,
        /// Least, in m.
        min_m: f64,
        /// Greatest, in m.
        max_m: f64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_sea_level_is_the_standard_day() {
        let day = ambient_at(0.0).unwrap();
        assert_eq!((day.p_pa, day.t_k, day.relative_humidity), (101_325.0, 288.15, 0.0));
    }

    #[test]
    fn published_pressure_at_the_top_of_the_layer() {
        // USSA1976, table 4 and I: 226.32 hPa and 216.65 K at 11 km.
        approx::assert_relative_eq!(pressure_pa(11_000.0).unwrap(), 22_632.06, max_relative = 1e-6);
        approx::assert_relative_eq!(temperature_k(11_000.0).unwrap(), 216.65, max_relative = 1e-12);
    }

    #[test]
    fn by_hand_outside_the_layer_is_an_error_that_names_the_layer() {
        for altitude_m in [-5_000.1, 11_000.1, f64::NAN, f64::INFINITY] {
            let error = ambient_at(altitude_m).unwrap_err();
            assert!(alloc::format!("{error}").contains("outside -5000 m to 11000 m"), "{error}");
        }
    }
}
