//! The standard atmosphere against its published table, and against the law of hydrostatics.

use volute_core::gas::atmosphere::{ambient_at, pressure_pa, temperature_k};
use volute_tests::reference::Table;

#[test]
fn published_pressure_and_temperature_follow_the_1976_atmosphere() {
    let table = Table::read("ussa1976_atmosphere.csv");
    for row in table.rows() {
        let altitude_m = row.get("altitude_m");
        row.check("t_k", temperature_k(altitude_m).unwrap(), table.tolerance());
        row.check("p_pa", pressure_pa(altitude_m).unwrap(), table.tolerance());
    }
}

#[test]
fn published_density_of_the_1976_atmosphere_is_that_of_dry_air() {
    let table = Table::read("ussa1976_atmosphere.csv");
    for row in table.rows() {
        let air = ambient_at(row.get("altitude_m")).unwrap();
        // The molar mass of the standard's air over its own gas constant.
        row.check("density_kg_m3", air.p_pa * 28.9644 / (8_314.32 * air.t_k), table.tolerance());
        assert_eq!(air.relative_humidity, 0.0);
    }
}

#[test]
fn identity_pressure_is_hydrostatic() {
    // dp/dh = -rho g0, by a central difference over 2 m.
    for step in 0..16 {
        let h_m = -4_900.0 + 1_000.0 * step as f64;
        let slope_pa_m = (pressure_pa(h_m + 1.0).unwrap() - pressure_pa(h_m - 1.0).unwrap()) / 2.0;
        let density = pressure_pa(h_m).unwrap() * 28.9644 / (8_314.32 * temperature_k(h_m).unwrap());
        approx::assert_relative_eq!(slope_pa_m, -density * 9.80665, max_relative = 1e-7);
    }
}
