//! Flow through a restriction against published tables of isentropic and choked flow.

use volute_core::gas::flow::{critical_ratio, flow_function};
use volute_tests::reference::Table;

fn mass_flow_kg_s(area_m2: f64, p_pa: f64, t_k: f64, r_j_kg_k: f64, ratio: f64, gamma: f64) -> f64 {
    area_m2 * p_pa / (r_j_kg_k * t_k).sqrt() * flow_function(ratio, gamma)
}

#[test]
fn published_critical_ratio_and_choked_flow() {
    let table = Table::read("naca1135_choked_flow.csv");
    for row in table.rows() {
        let gamma = row.get("gamma");
        row.check("critical_pressure_ratio", critical_ratio(gamma), table.tolerance());
        row.check("flow_function", flow_function(critical_ratio(gamma), gamma), table.tolerance());
        row.check("flow_function", flow_function(0.2, gamma), table.tolerance());
    }
}

#[test]
fn published_isentropic_flow_up_to_choking() {
    let table = Table::read("naca1135_isentropic_flow.csv");
    for row in table.rows().filter(|row| row.get("mach") <= 1.0) {
        let gamma = row.get("gamma");
        // Flow through an area at a Mach number: that of the throat over A/A*.
        let area_ratio = flow_function(0.2, gamma) / flow_function(row.get("p_over_total"), gamma);
        row.check("area_over_throat", area_ratio, table.tolerance());
    }
}

#[test]
fn published_flow_through_openings() {
    let table = Table::read("heywood1988_nozzle_flow.csv");
    for row in table.rows() {
        let [area, p, t, down, gamma, r] =
            ["area_m2", "p_total_pa", "t_total_k", "p_downstream_pa", "gamma", "r_j_kg_k"].map(|c| row.get(c));
        row.check("mass_flow_kg_s", mass_flow_kg_s(area, p, t, r, down / p, gamma), table.tolerance());
        assert_eq!(row.text("choked") == "yes", down / p <= critical_ratio(gamma));
    }
}

#[test]
fn published_textbook_nozzle() {
    let table = Table::read("textbook_examples.csv");
    let rows = table.rows_where("key", "nozzle");
    let t_k = 873.0 + 150.0 * 150.0 / (2.0 * 1005.0);
    let p_pa = 1.0e6 * (t_k / 873.0_f64).powf(3.5);
    for (row, back_pa) in rows.iter().zip([0.7e6, 0.4e6]) {
        let flow = mass_flow_kg_s(50e-4, p_pa, t_k, 287.0, back_pa / p_pa, 1.4);
        row.check("value", flow, row.get("tolerance"));
    }
}

#[test]
fn identity_flow_grows_as_the_outlet_pressure_falls() {
    for gamma in [1.25, 1.3, 1.36, 1.4] {
        let mut previous = 0.0;
        for step in 1..=1000 {
            let ratio = 1.0 - step as f64 / 1000.0;
            let flow = flow_function(ratio, gamma);
            assert!(flow >= previous, "{gamma}, {ratio}");
            previous = flow;
        }
    }
}
