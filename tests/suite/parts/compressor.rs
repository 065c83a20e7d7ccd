//! The compressor: a printed example, the joints of its speed lines, and the second law.

use volute_core::engine::CompressorMap;
use volute_core::parts::compressor::{CompressorInlet, SpeedLine, isentropic_work_j_kg};
use volute_tests::reference::Table;

/// Of no wheel; every term of the map is at work.
const MAP: CompressorMap = CompressorMap {
    tip_diameter_m: 0.08,
    shutoff_head: 0.35,
    peak_head: 0.6,
    peak_head_slope: 0.05,
    peak_head_curve: -0.1,
    surge_flow: 0.01,
    surge_flow_slope: 0.03,
    choke_flow: 0.13,
    choke_flow_slope: 0.01,
    choke_flow_curve: -0.03,
    shape_exponent: 2.2,
    shape_exponent_slope: 0.5,
    tangent_from: 0.97,
    reverse_head: 40.0,
    work_input: 0.8,
    work_input_slope: 0.8,
    disc_friction: 0.002,
    head_factor: 1.0,
    size_factor: 1.0,
};
const INLET: CompressorInlet = CompressorInlet { p_pa: 1.0e5, t_k: 298.15, r_j_kg_k: 287.0, cp_j_kg_k: 1004.5 };

fn lines() -> impl Iterator<Item = SpeedLine> {
    (1..=14).map(|step| SpeedLine::at(&MAP, &INLET, 1_000.0 * step as f64))
}

#[test]
fn published_textbook_compressor() {
    // The example's wheel at its best point: head = efficiency * power input factor * slip, work = factor * slip.
    let table = Table::read("textbook_examples.csv");
    let inlet = CompressorInlet { p_pa: 1.0e5, t_k: 295.0, r_j_kg_k: 1005.0 / 3.5, cp_j_kg_k: 1005.0 };
    let map = CompressorMap {
        tip_diameter_m: 0.5,
        peak_head: 0.78 * 1.04 * 0.9,
        peak_head_slope: 0.0,
        peak_head_curve: 0.0,
        work_input: 1.04 * 0.9,
        work_input_slope: 0.0,
        disc_friction: 0.0,
        ..MAP
    };
    let line = SpeedLine::at(&map, &inlet, core::f64::consts::TAU * 290.0);
    let at_peak = line.point(&map, &inlet, line.flow_kg_s(&map, &inlet, line.surge_flow));
    let power_w = line.point(&map, &inlet, 9.0).power_w;
    for row in table.rows_where("key", "compressor") {
        let value = match row.text("quantity") {
            "pressure_ratio" => at_peak.pressure_ratio,
            "temperature_rise_k" => power_w / 9.0 / inlet.cp_j_kg_k,
            "power_w" => power_w,
            other => panic!("{other}"),
        };
        row.check("value", value, row.get("tolerance"));
    }
}

#[test]
fn by_hand_isentropic_work_without_compression_is_zero() {
    assert_eq!(isentropic_work_j_kg(&INLET, 1.0), 0.0);
    // cp T1 (2^(1/3.5) - 1) with 2^(2/7) = 1.219014.
    approx::assert_relative_eq!(isentropic_work_j_kg(&INLET, 2.0), 1004.5 * 298.15 * 0.219_013_65, max_relative = 1e-7);
}

#[test]
fn identity_head_and_slope_meet_at_every_joint() {
    for line in lines() {
        let tangent = line.surge_flow + MAP.tangent_from * (line.choke_flow - line.surge_flow);
        for joint in [0.0, line.surge_flow, tangent] {
            let (left, right) = (line.head(&MAP, joint - 1e-9), line.head(&MAP, joint + 1e-9));
            assert!((left.0 - right.0).abs() < 1e-6, "head at {joint}: {left:?} {right:?}");
            assert!((left.1 - right.1).abs() < 2e-3 * (1.0 + left.1.abs()), "slope at {joint}: {left:?} {right:?}");
        }
    }
}

#[test]
fn identity_slope_is_that_of_the_pressure() {
    for line in lines() {
        for step in -20..120 {
            let flow = 0.005 * step as f64 + 0.0013;
            let point = |flow| line.point(&MAP, &INLET, flow);
            let slope = (point(flow + 1e-6).pressure_ratio - point(flow - 1e-6).pressure_ratio) / 2e-6 * INLET.p_pa;
            let given = point(flow).slope_pa_s_kg;
            // Far beyond choke the head is held, so that the pressure stays above zero; the slope there is the head's.
            if point(flow).pressure_ratio < 0.02 {
                continue;
            }
            assert!((slope - given).abs() < 1e-4 * given.abs() + 2.0, "{slope} against {given} at {flow} kg/s");
        }
    }
}

#[test]
fn identity_no_gas_leaves_with_more_head_than_work() {
    // Second law: isentropic head never above the work put in, from no flow to choke, at every speed.
    for line in lines() {
        for step in 1..=200 {
            let phi = line.choke_flow * step as f64 / 200.0;
            let flow = line.flow_kg_s(&MAP, &INLET, phi);
            let point = line.point(&MAP, &INLET, flow);
            approx::assert_relative_eq!(point.flow_coefficient, phi, max_relative = 1e-12);
            let head_w = flow * isentropic_work_j_kg(&INLET, point.pressure_ratio);
            assert!(head_w < point.power_w, "phi {phi}: {head_w} W of {} W", point.power_w);
        }
    }
}

#[test]
fn behaviour_pressure_rises_with_speed_and_falls_to_the_right_of_the_surge_line() {
    // Common practice, no source.
    let mut last_peak = 1.0;
    for line in lines() {
        let point = |phi| line.point(&MAP, &INLET, line.flow_kg_s(&MAP, &INLET, phi));
        let peak = point(line.surge_flow).pressure_ratio;
        assert!(peak > last_peak);
        last_peak = peak;
        let mut last = peak;
        for step in 1..=50 {
            let phi = line.surge_flow + (line.choke_flow - line.surge_flow) * step as f64 / 50.0;
            let ratio = point(phi).pressure_ratio;
            assert!(ratio < last, "{ratio} at {phi}");
            last = ratio;
        }
    }
}

#[test]
fn by_hand_a_wheel_at_rest_has_finite_numbers() {
    let line = SpeedLine::at(&MAP, &INLET, 0.0);
    for flow in [-0.1, 0.0, 0.1] {
        let point = line.point(&MAP, &INLET, flow);
        let numbers = [point.pressure_ratio, point.power_w, point.slope_pa_s_kg, point.flow_coefficient];
        assert!(numbers.iter().all(|number| number.is_finite()), "{point:?}");
    }
}
