//! Crank gear: where the piston is and how much room that leaves.
//!
//! Left out: piston-pin offset, deformation, blow-by.

use crate::engine::Cylinders;
use crate::math;

/// Volume of one cylinder at a crank angle after top dead centre, in m3. Source: Heywood, eq. 2.4.
pub fn volume_m3(gear: &Cylinders, angle_rad: f64) -> f64 {
    let swept_m3 = swept_m3(gear);
    swept_m3 / (gear.compression_ratio - 1.0) + piston_area_m2(gear) * travel_m(gear, angle_rad)
}

/// Way of the piston from its top position, in m. Source: Heywood, eq. 2.5.
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

/// Mean piston speed, in m/s. Source: Heywood, eq. 2.9.
pub fn mean_piston_speed_m_s(gear: &Cylinders, speed_rpm: f64) -> f64 {
    2.0 * gear.stroke_m * speed_rpm / 60.0
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
