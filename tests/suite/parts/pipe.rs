//! The exhaust pipe: friction factor, viscosity and pressure loss against tables.

use volute_core::engine::ExhaustPipe;
use volute_core::parts::pipe::{friction_factor, loss_pa, viscosity_pa_s};
use volute_tests::reference::Table;

#[test]
fn published_friction_factor_follows_colebrook() {
    let table = Table::read("colebrook1939_friction_factor.csv");
    for row in table.rows() {
        let factor = friction_factor(row.get("reynolds"), row.get("relative_roughness"));
        row.check("darcy_factor", factor, table.tolerance());
    }
}

#[test]
fn published_viscosity_follows_the_1976_atmosphere_and_departs_from_today_as_stated() {
    let table = Table::read("ussa1976_air_viscosity.csv");
    let [own, coolprop] = table.tolerances()[..] else { panic!("two tolerances") };
    for row in table.rows() {
        row.check("viscosity_pa_s", viscosity_pa_s(row.get("t_k")), own);
        row.check("viscosity_coolprop_pa_s", viscosity_pa_s(row.get("t_k")), coolprop);
    }
}

#[test]
fn published_loss_of_a_pipe_with_bends() {
    let table = Table::read("darcy_pipe_loss.csv");
    for row in table.rows() {
        let pipe = ExhaustPipe {
            bore_m: row.get("bore_m"),
            length_m: row.get("length_m"),
            roughness_m: row.get("roughness_m"),
            bends: row.get("bends"),
            bend_loss: row.get("bend_loss"),
            end_loss: row.get("end_loss"),
            silencer_loss_1_m4: 0.0,
            fill_time_s: 0.004,
        };
        let loss = loss_pa(&pipe, row.get("mass_flow_kg_s"), row.get("density_kg_m3"), row.get("t_k"));
        row.check("loss_pa", loss, table.tolerance());
    }
}

#[test]
fn by_hand_a_silencer_adds_its_share_whatever_the_bore() {
    let pipe = |bore_m, silencer_loss_1_m4| ExhaustPipe {
        bore_m,
        length_m: 3.0,
        roughness_m: 1.5e-4,
        bends: 3.0,
        bend_loss: 0.3,
        end_loss: 1.0,
        silencer_loss_1_m4,
        fill_time_s: 0.004,
    };
    for bore_m in [0.08, 0.1, 0.125] {
        let added = loss_pa(&pipe(bore_m, 3.0e4), 0.3, 0.5, 700.0) - loss_pa(&pipe(bore_m, 0.0), 0.3, 0.5, 700.0);
        approx::assert_relative_eq!(added, 3.0e4 * 0.3 * 0.3 / 0.5, max_relative = 1e-12);
    }
}

#[test]
fn identity_friction_falls_with_flow_rises_with_roughness_and_has_no_jump() {
    // In the blend between laminar and turbulent flow the factor rises; everywhere else it falls.
    for roughness in [0.0, 1e-4, 1e-3, 1e-2] {
        let mut previous = friction_factor(100.0, roughness);
        for step in 1..=4000 {
            let reynolds = 100.0 * 10f64.powf(step as f64 / 1000.0);
            let factor = friction_factor(reynolds, roughness);
            let blend = 2_300.0 < reynolds && reynolds < 4_010.0;
            assert!(blend || factor < previous, "at {reynolds}");
            assert!((factor / previous - 1.0).abs() < 6e-3, "a jump at {reynolds}");
            assert!(factor <= friction_factor(reynolds, 2.0 * roughness));
            previous = factor;
        }
    }
}
