//! The turbine: expansion against a table, and flow as that of a nozzle.

use volute_core::engine::Turbine;
use volute_core::gas::flow;
use volute_core::parts::turbine::{
    Nozzle, TurbineInlet, area_m2, efficiency, isentropic_drop_j_kg, peak_efficiency, spouting_velocity_m_s,
};
use volute_tests::reference::Table;

/// Of no wheel.
const TURBINE: Turbine = Turbine {
    tip_diameter_m: 0.08,
    shut_area_m2: 2.0e-4,
    area_slope_m2: 1.2e-3,
    area_curve_m2: -3.0e-4,
    peak_efficiency: 0.72,
    best_vane: 0.7,
    open_loss: 0.6,
    shut_loss: 0.5,
    best_speed_ratio: 0.7,
    efficiency_factor: 1.0,
    size_factor: 1.0,
};
const INLET: TurbineInlet = TurbineInlet { p_pa: 2.4e5, t_k: 850.0, r_j_kg_k: 287.0, gamma: 1.33 };

#[test]
fn published_expansion() {
    let table = Table::read("watson1982_turbine_expansion.csv");
    for row in table.rows() {
        let (gamma, cp, ratio) = (row.get("gamma"), row.get("cp_j_kg_k"), row.get("expansion_ratio"));
        let inlet = TurbineInlet {
            p_pa: 1.0e5 * ratio,
            t_k: row.get("t_total_k"),
            r_j_kg_k: cp * (gamma - 1.0) / gamma,
            gamma,
        };
        let drop = isentropic_drop_j_kg(&inlet, 1.0 / ratio);
        row.check("isentropic_drop_j_kg", drop, table.tolerance());
        row.check("spouting_velocity_m_s", spouting_velocity_m_s(drop), table.tolerance());
        // A stage with efficiency 0.70 at the blade-speed ratio where it is greatest.
        let stage = Turbine { peak_efficiency: 0.70, ..TURBINE };
        let tip_speed = stage.best_speed_ratio * spouting_velocity_m_s(drop);
        let point = Nozzle::at(&stage, stage.best_vane).point(&inlet, 1.0e5, tip_speed);
        approx::assert_relative_eq!(point.isentropic_drop_j_kg, drop, max_relative = 1e-12);
        let t_out_k = inlet.t_k - point.power_w / point.flow_kg_s / cp;
        row.check("t_out_at_efficiency_0_70_k", t_out_k, table.tolerance());
    }
}

#[test]
fn identity_power_is_flow_times_drop_times_efficiency() {
    for vane in [0.0, 0.3, 0.7, 1.0] {
        for ratio in [1.05, 1.5, 2.0, 3.5] {
            for tip_speed in [50.0, 200.0, 350.0, 600.0] {
                let point = Nozzle::at(&TURBINE, vane).point(&INLET, INLET.p_pa / ratio, tip_speed);
                let drop = isentropic_drop_j_kg(&INLET, 1.0 / ratio);
                let eta = efficiency(&TURBINE, vane, tip_speed / spouting_velocity_m_s(drop));
                approx::assert_relative_eq!(point.power_w, point.flow_kg_s * drop * eta, max_relative = 1e-10);
            }
        }
    }
}

#[test]
fn identity_flow_is_that_of_a_nozzle_with_half_the_expansion() {
    for vane in [0.0, 0.5, 1.0] {
        for ratio in [1.2, 1.6, 2.5, 5.0] {
            let point = Nozzle::at(&TURBINE, vane).point(&INLET, INLET.p_pa / ratio, 300.0);
            let nozzle_ratio = (1.0_f64 / ratio).sqrt();
            let exact = area_m2(&TURBINE, vane) * INLET.p_pa / (INLET.r_j_kg_k * INLET.t_k).sqrt()
                * flow::flow_function(nozzle_ratio, INLET.gamma);
            // Rounded off where the pressures meet, over a share of 0.002 of the pressure.
            let (d, d0) = (1.0 - nozzle_ratio, 0.002);
            let rounded = exact * (d * (d + d0) / (d * d + d * d0 + d0 * d0)).sqrt();
            approx::assert_relative_eq!(point.flow_kg_s, rounded, max_relative = 5e-9);
        }
    }
}

#[test]
fn identity_rounding_lowers_the_flow_only_near_equal_pressures() {
    let setting = Nozzle::at(&TURBINE, 0.5);
    let mut previous = 0.0;
    for step in 1..=4000 {
        let nozzle_ratio = 1.0 - 0.4 * step as f64 / 4000.0;
        let flow_kg_s = setting.point(&INLET, INLET.p_pa * nozzle_ratio * nozzle_ratio, 300.0).flow_kg_s;
        let exact = area_m2(&TURBINE, 0.5) * INLET.p_pa / (INLET.r_j_kg_k * INLET.t_k).sqrt()
            * flow::flow_function(nozzle_ratio, INLET.gamma);
        let share = flow_kg_s / exact;
        assert!(share < 1.0 + 5e-9 && (nozzle_ratio > 0.99 || share > 0.98), "{share} at {nozzle_ratio}");
        assert!(nozzle_ratio > 0.96 || share > 0.998, "{share} at {nozzle_ratio}");
        assert!(flow_kg_s > previous, "the flow must grow as the pressure behind falls: {nozzle_ratio}");
        previous = flow_kg_s;
    }
}

#[test]
fn by_hand_the_stage_chokes_at_the_square_of_the_critical_ratio() {
    let critical = flow::critical_ratio(INLET.gamma).powi(2);
    let setting = Nozzle::at(&TURBINE, 0.5);
    let flow = |ratio| setting.point(&INLET, INLET.p_pa * ratio, 300.0).flow_kg_s;
    approx::assert_relative_eq!(flow(0.99 * critical), flow(0.5 * critical), max_relative = 1e-5);
    assert!(flow(1.2 * critical) < 0.999 * flow(critical));
    // WATSON1982 (from memory): a radial stage's flow goes flat at expansion ratios of 2.5 to 3.5.
    assert!((2.5..=3.5).contains(&(1.0 / critical)));
}

#[test]
fn by_hand_without_expansion_there_is_no_flow_and_no_power() {
    for p4_pa in [INLET.p_pa, 1.5 * INLET.p_pa] {
        let point = Nozzle::at(&TURBINE, 0.5).point(&INLET, p4_pa, 300.0);
        assert_eq!((point.flow_kg_s, point.power_w), (0.0, 0.0));
    }
}

#[test]
fn behaviour_flow_rises_with_opening_vanes_and_efficiency_peaks_part_open() {
    // Common practice, no source. The slope shrinks as the vanes open when the area's curve is negative, as here.
    let flows: Vec<f64> =
        (0..=10).map(|step| Nozzle::at(&TURBINE, 0.1 * step as f64).point(&INLET, 1.0e5, 300.0).flow_kg_s).collect();
    for three in flows.windows(3) {
        assert!(three[0] < three[1] && three[2] - three[1] < three[1] - three[0]);
    }
    let efficiency_at = |percent: u32| peak_efficiency(&TURBINE, f64::from(percent) / 100.0);
    let best = (0..=100).max_by(|a, b| efficiency_at(*a).total_cmp(&efficiency_at(*b)));
    assert_eq!(best, Some(70));
}
