//! The burn rate against the published function, and by hand.

use volute_core::engine::Combustion;
use volute_core::parts::combustion::{HeatRelease, wiebe};
use volute_tests::reference::Table;

#[test]
fn published_wiebe_function() {
    let table = Table::read("wiebe1970_burn.csv");
    for row in table.rows() {
        let [a, m, y] = ["completeness", "exponent", "progress"].map(|column| row.get(column));
        row.check("burned", wiebe(a, m, y), table.tolerance());
    }
}

/// Of no engine; every term of the correlations is at work.
const FORM: Combustion = Combustion {
    start_deg: -3.0,
    start_per_1000_rpm_deg: -2.0,
    timing_shift_deg: 1.0,
    premixed_share: 0.2,
    premixed_share_drop: 0.1,
    reference_fuel_kg: 1.0e-4,
    premixed_duration_deg: 10.0,
    premixed_exponent: 2.0,
    main_duration_deg: 40.0,
    main_duration_per_1000_rpm_deg: 8.0,
    main_duration_at_reference_fuel_deg: 30.0,
    main_exponent: 1.1,
    completeness: 6.9,
    smoke_limit_afr: 18.0,
    injector_limit_kg: 2.0e-4,
    least_fuel_kg: 5.0e-6,
};

#[test]
fn by_hand_start_shares_and_durations_at_a_speed_and_fuel() {
    let release = HeatRelease::new(&FORM, 2_500.0, 5.0e-5);
    approx::assert_relative_eq!(release.start_deg, -3.0 - 2.0 + 1.0);
    approx::assert_relative_eq!(release.premixed_share, 0.15);
    approx::assert_relative_eq!(release.main_deg, 40.0 + 20.0 + 15.0);
    approx::assert_relative_eq!(release.end_deg(), 71.0);
}

#[test]
fn identity_all_fuel_burns_and_the_burned_share_never_falls() {
    for (speed_rpm, fuel_kg, completeness) in [(600.0, 5e-6, 6.9), (1_500.0, 1e-4, 2.0), (2_500.0, 2e-4, 10.0)] {
        let release = HeatRelease::new(&Combustion { completeness, ..FORM }, speed_rpm, fuel_kg);
        assert_eq!(release.burned(release.start_deg - 1e-9), 0.0);
        assert_eq!(release.burned(release.end_deg()), 1.0);
        approx::assert_relative_eq!(release.burned(release.end_deg() - 1e-6), 1.0, max_relative = 1e-6);
        let mut previous = 0.0;
        for step in 0..=2000 {
            let angle = release.start_deg - 5.0 + 0.1 * step as f64;
            let burned = release.burned(angle);
            assert!(previous <= burned && burned <= 1.0 + 1e-12, "{burned} at {angle}");
            previous = burned;
        }
    }
}
