//! The rise of the coolant against a computed table.

use volute_core::parts::coolant::rise_k;
use volute_tests::reference::Table;

#[test]
fn published_rise_of_coolant() {
    let table = Table::read("coolprop8_coolant_rise.csv");
    for row in table.rows() {
        let [q, flow, density, c] =
            ["heat_w", "flow_m3_s", "density_kg_m3", "heat_capacity_j_kg_k"].map(|c| row.get(c));
        row.check("rise_k", rise_k(q, flow, density, c).unwrap(), table.tolerance());
    }
}
