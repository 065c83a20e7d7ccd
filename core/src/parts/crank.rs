//! Crank gear: where the piston is, how much room that leaves, and what torque a work gives.
//!
//! Left out: piston-pin offset, deformation, blow-by.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Cylinder block and crank gear.
    pub struct Cylinders in "cylinders" {
        /// Number of cylinders, evenly fired: 3, 4, 5, 6, 8, 9, 10 or 12.
        count: "", 3.0, 12.0;
        /// Cylinder bore.
        bore_m: "m", 0.05, 0.30;
        /// Piston stroke.
        stroke_m: "m", 0.05, 0.40;
        /// Length of the connecting rod between its eyes.
        conrod_m: "m", 0.08, 0.90;
        /// Geometric compression ratio.
        compression_ratio: "", 11.0, 24.0;
    }
}

/// Shortest connecting rod, over the stroke. Chosen: with a shorter one the piston would meet the crank webs, and at half a
/// stroke the crank cannot turn.
const LEAST_ROD: f64 = 0.7;

impl Cylinders {
    /// Checks what no single range can say. Errors: the first number that does not fit.
    pub fn check(&self) -> Result<(), CrankError> {
        if !matches!(self.count as u32, 3..=6 | 8..=10 | 12) || self.count as u32 as f64 != self.count {
            return Err(CrankError::Count { count: self.count });
        }
        if self.conrod_m < LEAST_ROD * self.stroke_m {
            return Err(CrankError::RodTooShort { conrod_m: self.conrod_m, least_m: LEAST_ROD * self.stroke_m });
        }
        Ok(())
    }
}

/// What can be wrong with a crank gear whose numbers are each allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the numbers are")]
pub enum CrankError {
    #[error(
        "`cylinders.count = {count}`: the firing interval must be whole degrees, so 3, 4, 5, 6, 8, 9, 10 or 12 cylinders"
    )]
    Count { count: f64 },
    #[error("`cylinders.conrod_m = {conrod_m}`: shorter than {least_m}, which is 0.7 of the stroke")]
    RodTooShort { conrod_m: f64, least_m: f64 },
}

/// Volume of one cylinder at a crank angle after top dead centre, in m3. Source: HEYWOOD1988, eq. 2.4.
pub fn volume_m3(gear: &Cylinders, angle_rad: f64) -> f64 {
    let swept_m3 = swept_m3(gear);
    swept_m3 / (gear.compression_ratio - 1.0) + piston_area_m2(gear) * travel_m(gear, angle_rad)
}

/// Distance of the piston from its top position, in m. Source: HEYWOOD1988, eq. 2.5.
pub fn travel_m(gear: &Cylinders, angle_rad: f64) -> f64 {
    let (crank_m, rod_m) = (0.5 * gear.stroke_m, gear.conrod_m);
    let side_m = crank_m * math::sin(angle_rad);
    crank_m * (1.0 - math::cos(angle_rad)) + rod_m - math::sqrt(rod_m * rod_m - side_m * side_m)
}

/// Area of the piston, in m2.
pub fn piston_area_m2(gear: &Cylinders) -> f64 {
    core::f64::consts::FRAC_PI_4 * gear.bore_m * gear.bore_m
}

/// Swept volume of one cylinder, in m3.
pub fn swept_m3(gear: &Cylinders) -> f64 {
    piston_area_m2(gear) * gear.stroke_m
}

/// Mean piston speed, in m/s. Source: HEYWOOD1988, eq. 2.9.
pub fn mean_piston_speed_m_s(gear: &Cylinders, speed_rpm: f64) -> f64 {
    2.0 * gear.stroke_m * speed_rpm / 60.0
}

/// Mean torque of a work that is done once a cycle (two turns of the crank), in N m: `W/(4 pi)`.
///
/// Source: HEYWOOD1988, eq. 2.19.
pub fn torque_n_m(work_j: f64) -> f64 {
    work_j / (4.0 * core::f64::consts::PI)
}

/// Work of a cycle that a mean torque does, in J: the inverse of [`torque_n_m`].
pub fn work_j(torque_n_m: f64) -> f64 {
    torque_n_m * (4.0 * core::f64::consts::PI)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_dead_centres() {
        let gear = Cylinders { count: 6.0, bore_m: 0.1, stroke_m: 0.115, conrod_m: 0.19, compression_ratio: 17.0 };
        let (top, bottom) = (volume_m3(&gear, 0.0), volume_m3(&gear, core::f64::consts::PI));
        assert!((bottom / top - 17.0).abs() < 1e-9);
        assert!((bottom - top - swept_m3(&gear)).abs() < 1e-15);
    }
}
