//! Heat transfer to the walls against the published correlation.

use volute_core::parts::wall_heat::{coefficient_w_m2_k, gas_velocity_m_s};
use volute_tests::reference::Table;

#[test]
fn published_coefficient_in_the_form_with_kilopascals_and_t_to_the_minus_0_55() {
    let table = Table::read("woschni1967_coefficient.csv");
    for row in table.rows() {
        let h = coefficient_w_m2_k(row.get("bore_m"), 1e3 * row.get("p_kpa"), row.get("t_k"), row.get("gas_speed_m_s"));
        row.check("h_w_m2_k", h, table.tolerance());
    }
}

#[test]
fn published_gas_speed() {
    let table = Table::read("woschni1967_gas_speed.csv");
    for row in table.rows() {
        let (c1, c2) = match row.text("phase") {
            "exchange" => (6.18, 0.0),
            "compression" => (2.28, 0.0),
            "combustion" => (2.28, 3.24e-3),
            other => panic!("{other}"),
        };
        let reference = row.get("swept_volume_m3") * row.get("t_reference_k")
            / (row.get("p_reference_pa") * row.get("volume_reference_m3"));
        let w = gas_velocity_m_s(c1, row.get("piston_speed_m_s"), c2, reference, row.get("p_above_motored_pa"));
        row.check("gas_speed_m_s", w, table.tolerance());
    }
}
