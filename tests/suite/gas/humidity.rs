//! The vapour in moist air against a published formula and a reference equation.

use volute_core::gas::humidity::{enhancement_factor, saturation_pressure_pa, vapour_mole_fraction};
use volute_tests::reference::Table;

#[test]
fn published_vapour_follows_cipm_2007() {
    let table = Table::read("picard2008_moist_air.csv");
    let tolerance = table.tolerance();
    for row in table.rows() {
        let (p_pa, t_k, humidity) = (row.get("p_pa"), row.get("t_celsius") + 273.15, row.get("relative_humidity"));
        row.check("saturation_pressure_pa", saturation_pressure_pa(t_k), tolerance);
        row.check("enhancement_factor", enhancement_factor(p_pa, t_k), tolerance);
        row.check("vapour_mole_fraction", vapour_mole_fraction(p_pa, t_k, humidity).unwrap(), tolerance);
    }
}

#[test]
fn published_saturation_pressure_follows_the_reference_equation_of_water() {
    let table = Table::read("coolprop8_saturation_pressure.csv");
    for row in table.rows() {
        let t_k = row.get("t_celsius") + 273.15;
        row.check("saturation_pressure_pa", saturation_pressure_pa(t_k), table.tolerance());
    }
}

#[test]
fn identity_vapour_stays_a_share_over_the_whole_range_of_the_bench() {
    for t_step in 0..=95 {
        for p_step in 0..=12 {
            let (t_k, p_pa) = (233.15 + t_step as f64, 5.0e4 + 5.0e3 * p_step as f64);
            let half = vapour_mole_fraction(p_pa, t_k, 0.5).unwrap();
            let full = vapour_mole_fraction(p_pa, t_k, 1.0).unwrap();
            assert!(0.0 < full && full < 0.33, "{full} at {t_k} K, {p_pa} Pa");
            approx::assert_relative_eq!(2.0 * half, full, max_relative = 1e-12);
        }
    }
}
