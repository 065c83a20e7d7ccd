//! What the terminal answers: exit codes, the names in the JSON, and that all forms of an answer say the same.

mod common;

use common::volute;
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error} in\n{text}"))
}

/// The number at a dotted place.
fn number(value: &Value, place: &str) -> f64 {
    let found = place.split('.').fold(value, |value, name| &value[name]);
    found.as_f64().unwrap_or_else(|| panic!("`{place}` is {found}"))
}

/// The point that most tests look at: mid speed, moderate load.
const MODERATE: &str = "point --speed-rpm 1500 --torque-nm 700 --vane 60";
/// Low speed, high load, vanes nearly shut: the compressor cannot hold its flow, or the shaft its speed.
const HOPELESS: &str = "point --speed-rpm 900 --fuel-mg 120 --vane 0";

#[test]
fn by_hand_the_json_has_every_name_that_was_promised() {
    let ran = volute(&format!("{MODERATE} --json"));
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let reading = json(&ran.out);
    assert_eq!(reading["outcome"], "matched");
    let gas = ["p_pa", "t_k", "mass_flow_kg_s", "burned_fuel_fraction"];
    let stations = [
        "compressor_inlet",
        "compressor_outlet",
        "charge_cooler_outlet",
        "intake_manifold",
        "turbine_inlet",
        "turbine_outlet",
        "exhaust_leak",
    ];
    for station in stations {
        for name in gas {
            number(&reading, &format!("stations.{station}.{name}"));
        }
    }
    for place in [
        "settings.speed_rpm",
        "settings.torque_n_m",
        "settings.vane_open_pct",
        "ambient.p_pa",
        "ambient.t_k",
        "ambient.relative_humidity",
        "air_flow_kg_s",
        "fuel_flow_kg_s",
        "exhaust_leak_kg_s",
        "fuel_lhv_j_kg",
        "air_fuel_ratio",
        "compressor.power_w",
        "compressor.efficiency",
        "compressor.pressure_ratio",
        "compressor.density_ratio",
        "turbine.power_w",
        "turbine.efficiency",
        "turbine.expansion_ratio",
        "turbine.vane_open_pct",
        "shaft.speed_rad_s",
        "shaft.bearing_loss_w",
        "heat.coolant_w",
        "heat.coolant_rise_k",
        "heat.walls_w",
        "heat.charge_cooler_w",
        "heat.exhaust_manifold_w",
        "heat.friction_w",
        "heat.exhaust_gas_w",
        "heat.exhaust_leak_w",
        "brake.torque_n_m",
        "brake.power_w",
        "indicated.gross_mep_pa",
        "indicated.pumping_mep_pa",
        "indicated.friction_mep_pa",
        "displacement_m3",
        "convergence.firing_intervals",
        "convergence.residual",
    ] {
        number(&reading, place);
    }
    assert!(reading["settings"]["fuel_kg_s"].is_null());
    assert!(reading["limits"].as_array().is_some_and(|limits| limits.len() >= 8), "{}", reading["limits"]);
    assert!(reading.get("trace").is_none() && reading.get("last_good").is_none());
}

#[test]
fn by_hand_the_trace_covers_the_cycle_and_the_swept_volume() {
    let ran = volute(&format!("{MODERATE} --json --trace"));
    let reading = json(&ran.out);
    let column = |name: &str| -> Vec<f64> {
        let list = reading["trace"][name].as_array().unwrap_or_else(|| panic!("no {name}"));
        list.iter().map(|value| value.as_f64().expect("a number")).collect()
    };
    let (angle, volume, pressure) = (column("crank_angle_deg"), column("volume_m3"), column("pressure_pa"));
    assert_eq!((angle.len(), angle.len()), (volume.len(), pressure.len()));
    assert_eq!((angle.first(), angle.last()), (Some(&0.0), Some(&720.0)));
    let most = volume.iter().copied().fold(f64::MIN, f64::max);
    let least = volume.iter().copied().fold(f64::MAX, f64::min);
    let swept = number(&reading, "displacement_m3") / 6.0;
    assert!(((most - least) / swept - 1.0).abs() < 1e-9, "{most} {least} {swept}");
    let peak = pressure.iter().copied().fold(f64::MIN, f64::max);
    assert!((peak / number(&reading, "indicated.peak_pressure_pa") - 1.0).abs() < 0.01);
}

#[test]
fn identity_fuel_that_was_found_gives_the_torque_that_was_held() {
    let held = json(&volute(&format!("{MODERATE} --json")).out);
    let fuel_mg = number(&held, "fuel_kg_per_cycle") * 1e6;
    let ran = volute(&format!("point --speed-rpm 1500 --fuel-mg {fuel_mg} --vane 60 --json"));
    let found = json(&ran.out);
    assert_eq!(ran.code, Some(0));
    assert!((number(&found, "brake.torque_n_m") - 700.0).abs() < 0.5, "{}", found["brake"]);
    // Six cylinders, each once in two turns.
    let flow = fuel_mg * 1e-6 * 6.0 * 1500.0 / 120.0;
    assert!((number(&found, "settings.fuel_kg_s") / flow - 1.0).abs() < 1e-9);
    assert!(found["settings"]["torque_n_m"].is_null());
}

#[test]
fn by_hand_the_readable_form_says_what_is_gauge_and_what_absolute() {
    let ran = volute(MODERATE);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    for word in
        ["Outcome: matched", "kPa abs", "boost (gauge", "surge margin", "turbine-inlet temperature", "teaching model"]
    {
        assert!(ran.out.contains(word), "should say `{word}`:\n{}", ran.out);
    }
    for bad in ["NaN", "inf"] {
        assert!(!ran.out.contains(bad), "{}", ran.out);
    }
}

#[test]
fn by_hand_where_no_state_exists_the_code_is_3_and_no_number_is_shown() {
    let ran = volute(HOPELESS);
    assert_eq!(ran.code, Some(3), "{}{}", ran.out, ran.err);
    let before_last_good = ran.out.split("The nearest point").next().unwrap_or_default();
    assert!(!before_last_good.contains("brake torque"), "{}", ran.out);

    let ran = volute(&format!("{HOPELESS} --json"));
    assert_eq!(ran.code, Some(3), "{}", ran.err);
    let answer = json(&ran.out);
    assert_eq!(answer["holds"], false);
    assert!(number(&answer, "last_good.vane_open_pct") > 0.0);
    assert_eq!(answer["last_good"]["reading"]["holds"], true);
}

#[test]
fn by_hand_a_parameter_that_is_set_reaches_the_physics() {
    let with = |set: &str| json(&volute(&format!("{MODERATE} --json {set}")).out);
    let bare = with("");
    assert_eq!(with("--set exhaust_pipe.bore_m=0.1"), bare, "that is the value it has");
    let wide = with("--set exhaust_pipe.bore_m=0.125");
    assert!(number(&wide, "stations.turbine_outlet.p_pa") < number(&bare, "stations.turbine_outlet.p_pa"));
    let hot = with("--set ambient.t_k=318.15");
    assert_eq!(number(&hot, "ambient.t_k"), 318.15);
    assert!(number(&hot, "air_flow_kg_s") < number(&bare, "air_flow_kg_s"));
    // USSA1976, equations 23 and 33a at a geopotential height of 2000 m: 275.15 K, 79 495 Pa.
    let high = with("--altitude-m 2000");
    assert!(
        (number(&high, "ambient.p_pa") - 79_495.2).abs() < 10.0 && (number(&high, "ambient.t_k") - 275.15).abs() < 0.01
    );
    let both = with("--altitude-m 2000 --set ambient.t_k=298.15");
    assert_eq!(number(&both, "ambient.t_k"), 298.15);
}

#[test]
fn by_hand_a_leak_and_stuck_vanes_show_in_both_forms() {
    let changed =
        format!("{MODERATE} --set manifolds.exhaust_leak_m2=5e-5 --set vanes.stuck=1 --set vanes.stuck_open_pct=70");
    let reading = json(&volute(&format!("{changed} --json")).out);
    assert_eq!((number(&reading, "settings.vane_open_pct"), number(&reading, "turbine.vane_open_pct")), (60.0, 70.0));
    let leak_kg_s = number(&reading, "exhaust_leak_kg_s");
    assert!(leak_kg_s > 0.0 && leak_kg_s == number(&reading, "stations.exhaust_leak.mass_flow_kg_s"));
    let text = volute(&changed).out;
    for shown in [format!("{:.1} g/s", leak_kg_s * 1000.0), "70.0 % open".into(), "exhaust gas that leaks".into()] {
        assert!(text.contains(&shown), "`{shown}` is not in\n{text}");
    }
    assert!(text.contains("exhaust leak, to the ambient air"), "{text}");
    assert!(!volute(MODERATE).out.contains("to the ambient air"));
}

#[test]
fn agrees_an_engine_file_with_the_engine_of_that_name() {
    let path = std::path::PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("copy.toml");
    std::fs::write(&path, volute("engines --file harbour-six").out).expect("can be written");
    let by_file = volute(&format!("{MODERATE} --json --engine {}", path.display()));
    assert_eq!(by_file.out, volute(&format!("{MODERATE} --json")).out);
}

#[test]
fn agrees_a_sweep_with_its_single_points() {
    let sweep = "sweep --over vane --from 50 --to 70 --points 3 --speed-rpm 1500 --torque-nm 700";
    let answer = json(&volute(&format!("{sweep} --json")).out);
    assert_eq!((&answer["engine"], &answer["over"]), (&Value::from("harbour-six"), &Value::from("vane_open_pct")));
    let points = answer["points"].as_array().expect("points");
    assert_eq!(points.iter().map(|point| number(point, "value")).collect::<Vec<_>>(), [50.0, 60.0, 70.0]);
    assert_eq!(points[1]["reading"], json(&volute(&format!("{MODERATE} --json")).out));

    let csv = volute(&format!("{sweep} --csv")).out;
    let rows: Vec<Vec<&str>> = csv.lines().map(|line| line.split(',').collect()).collect();
    assert_eq!(rows.len(), 4, "{csv}");
    assert!(rows.iter().all(|row| row.len() == rows[0].len()), "{csv}");
    assert_eq!(rows[0][0], "over.vane_open_pct");
    let column = rows[0].iter().position(|name| *name == "stations.turbine_inlet.p_pa").expect("named as in the JSON");
    assert_eq!(rows[2][column].parse::<f64>().ok(), Some(number(&points[1]["reading"], "stations.turbine_inlet.p_pa")));

    let table = volute(sweep);
    assert_eq!(table.code, Some(0));
    assert!(table.out.contains("Least fuel for this torque") && table.out.contains("p2-p3 kPa"), "{}", table.out);
}

#[test]
fn by_hand_a_sweep_reaches_every_kind_of_setting() {
    for (over, column) in [
        ("torque --from 300 --to 600 --vane 60 --speed-rpm 1500", "over.torque_n_m"),
        ("fuel --from 50 --to 80 --vane 60 --speed-rpm 1500", "over.fuel_mg"),
        ("speed --from 1400 --to 1600 --vane 60 --torque-nm 600", "over.speed_rpm"),
        ("altitude --from 0 --to 1000 --vane 60 --torque-nm 600 --speed-rpm 1500", "over.altitude_m"),
        ("ambient.t_k --from 290 --to 300 --vane 60 --torque-nm 600 --speed-rpm 1500", "over.ambient.t_k"),
        (
            "exhaust_pipe.bore_m --from 0.1 --to 0.12 --vane 60 --torque-nm 600 --speed-rpm 1500",
            "over.exhaust_pipe.bore_m",
        ),
    ] {
        let ran = volute(&format!("sweep --points 2 --csv --over {over}"));
        assert_eq!(ran.code, Some(0), "{over}: {}", ran.err);
        assert!(ran.out.starts_with(&format!("{column},settings.speed_rpm,")), "{}", ran.out);
        let rows: Vec<&str> = ran.out.lines().skip(1).collect();
        assert_eq!(rows.len(), 2);
        // The first column is what was asked; the rest must differ too, or nothing was varied.
        let rest: Vec<_> = rows.iter().filter_map(|row| row.split_once(',')).map(|(_, rest)| rest).collect();
        assert_ne!(rest[0], rest[1], "{over}");
    }
}

#[test]
fn by_hand_a_point_without_a_state_has_no_numbers_in_the_csv() {
    let ran = volute("sweep --over vane --from 0 --to 60 --points 2 --speed-rpm 900 --fuel-mg 120 --csv");
    let rows: Vec<Vec<&str>> = ran.out.lines().map(|line| line.split(',').collect()).collect();
    let at = |name: &str| rows[0].iter().position(|head| *head == name).unwrap_or_else(|| panic!("no {name}"));
    assert_eq!(rows[1][at("holds")], "false", "{}", ran.out);
    assert_eq!(rows[1][at("settings.speed_rpm")], "900.0");
    for name in ["brake.torque_n_m", "stations.turbine_inlet.p_pa", "limits.shaft_speed.value", "convergence.residual"]
    {
        assert_eq!(rows[1][at(name)], "", "{name}");
    }
}

#[test]
fn by_hand_a_load_step_goes_from_its_steady_point_to_the_torque() {
    let step = "step --speed-rpm 1500 --torque-nm 300 --vane 60 --to-torque-nm 700 --duration-s 4 --before-s 0.2";
    let ran = volute(&format!("{step} --json"));
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let answer = json(&ran.out);
    let samples = answer["samples"].as_array().expect("samples");
    // 75 firings a second: 15 before and 300 after.
    assert_eq!(samples.len(), 315);
    let before = &samples[14];
    assert!(number(before, "time_s").abs() < 1e-9, "{before}");
    assert!((number(before, "torque_n_m") - 300.0).abs() < 3.0, "{before}");
    let last = &samples[314];
    assert!((number(last, "torque_n_m") - 700.0).abs() < 7.0, "{last}");
    let t90_s = number(&answer, "t90_s");
    assert!(0.0 < t90_s && t90_s < 4.0);
    assert_eq!(number(&answer, "before.load.torque_n_m"), 300.0);
    assert_eq!(number(&answer, "after.load.torque_n_m"), 700.0);
    assert_eq!(answer["start"]["outcome"], "matched");

    let csv = volute(step).out;
    assert_eq!(csv.lines().count(), 316);
    assert!(csv.starts_with("time_s,torque_n_m,fuel_kg_per_cycle,"), "{csv}");
}

#[test]
fn by_hand_a_step_without_a_state_to_start_from_has_code_3_and_no_rows() {
    let ran = volute(&HOPELESS.replace("point", "step").replace("--vane 0", "--vane 0 --to-vane 50"));
    assert_eq!((ran.code, ran.out.as_str()), (Some(3), ""), "{}", ran.err);
    assert!(ran.err.contains("no steady state to start from"), "{}", ran.err);
}

#[test]
fn agrees_the_same_question_twice() {
    let sweep = "sweep --over torque --from 300 --to 600 --points 7 --vane 60 --speed-rpm 1500 --csv";
    assert_eq!(volute(sweep).out, volute(sweep).out);
}
