//! The charge cooler: temperature and density behind it against a table, and its limits by hand.

use volute_core::engine::ChargeCooler;
use volute_core::parts::compressor::{CompressorInlet, isentropic_work_j_kg};
use volute_core::parts::cooler::{effectiveness, loss_pa};
use volute_tests::reference::Table;

const COOLER: ChargeCooler = ChargeCooler {
    fitted: 1.0,
    transfer_units: 2.0,
    reference_flow_kg_s: 0.3,
    flow_exponent: 0.45,
    sink_k: 298.15,
    loss_1_m4: 1.0e5,
};

#[test]
fn published_density_ratio_behind_compressor_and_cooler() {
    let table = Table::read("watson1982_density_ratio.csv");
    let inlet = CompressorInlet { p_pa: 1.0e5, t_k: 298.15, r_j_kg_k: 287.0, cp_j_kg_k: 3.5 * 287.0 };
    for row in table.rows() {
        let ratio = row.get("pressure_ratio");
        let t2_k = 298.15 + isentropic_work_j_kg(&inlet, ratio) / row.get("efficiency") / inlet.cp_j_kg_k;
        row.check("t2_k", t2_k, table.tolerance());
        // At the reference flow the effectiveness is 1 - exp(-NTU).
        let wanted = row.get("effectiveness");
        let cooler = ChargeCooler { transfer_units: -(1.0 - wanted).ln(), ..COOLER };
        let cooled_k = t2_k - effectiveness(&cooler, 0.3) * (t2_k - cooler.sink_k);
        row.check("t_cooled_k", cooled_k, table.tolerance());
        row.check("density_ratio", ratio * 298.15 / cooled_k, table.tolerance());
    }
}

#[test]
fn by_hand_effectiveness_falls_with_flow_and_is_none_without_a_cooler() {
    approx::assert_relative_eq!(effectiveness(&COOLER, 0.3), 1.0 - (-2.0_f64).exp(), max_relative = 1e-12);
    assert!(effectiveness(&COOLER, 0.5) < effectiveness(&COOLER, 0.3));
    assert_eq!(effectiveness(&ChargeCooler { fitted: 0.0, ..COOLER }, 0.3), 0.0);
    for flow in [0.0, -0.3, 1e3] {
        assert!((0.0..=1.0).contains(&effectiveness(&COOLER, flow)));
    }
}

#[test]
fn by_hand_loss_has_the_sign_of_the_flow() {
    approx::assert_relative_eq!(loss_pa(&COOLER, 0.3, 2.0), 1.0e5 * 0.09 / 2.0, max_relative = 1e-12);
    assert_eq!(loss_pa(&COOLER, -0.3, 2.0), -loss_pa(&COOLER, 0.3, 2.0));
}
