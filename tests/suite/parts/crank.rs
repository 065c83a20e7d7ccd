//! Cylinder volume and piston speed against the slider-crank equations.

use volute_core::engine::Cylinders;
use volute_core::parts::crank;
use volute_tests::reference::Table;

#[test]
fn published_slider_crank() {
    let table = Table::read("heywood1988_slider_crank.csv");
    for row in table.rows() {
        let [bore_m, stroke_m, conrod_m, compression_ratio] =
            ["bore_m", "stroke_m", "conrod_m", "compression_ratio"].map(|column| row.get(column));
        let gear = Cylinders { count: 6.0, bore_m, stroke_m, conrod_m, compression_ratio };
        let angle_rad = row.get("crank_angle_deg").to_radians();
        row.check("volume_m3", crank::volume_m3(&gear, angle_rad), table.tolerance());
        row.check("travel_m", crank::travel_m(&gear, angle_rad), table.tolerance());
    }
}

#[test]
fn identity_volume_is_periodic_and_even() {
    let gear = Cylinders { count: 4.0, bore_m: 0.083, stroke_m: 0.092, conrod_m: 0.145, compression_ratio: 16.5 };
    for step in 0..360 {
        let angle_rad = (step as f64 + 0.3).to_radians();
        let volume = crank::volume_m3(&gear, angle_rad);
        approx::assert_relative_eq!(volume, crank::volume_m3(&gear, -angle_rad), max_relative = 1e-13);
        let turned = crank::volume_m3(&gear, angle_rad + 2.0 * core::f64::consts::TAU);
        approx::assert_relative_eq!(volume, turned, max_relative = 1e-12);
    }
}

#[test]
fn by_hand_mean_piston_speed() {
    let gear = Cylinders { count: 6.0, bore_m: 0.1, stroke_m: 0.115, conrod_m: 0.19, compression_ratio: 17.0 };
    approx::assert_relative_eq!(crank::mean_piston_speed_m_s(&gear, 1_500.0), 5.75, max_relative = 1e-14);
}
