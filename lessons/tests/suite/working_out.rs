//! From a seed to states, sweeps, runs and test sheets.

use crate::sample;
use volute_core::settings::Load;
use volute_lessons::bench::CoreSolver;
use volute_lessons::curves::Curve;
use volute_lessons::paths::Quantity;
use volute_lessons::seed::Seed;
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::*;

fn worked() -> Worked {
    sample::every_kind().work_out(Seed(5), &mut CoreSolver::default()).unwrap()
}

#[test]
fn by_hand_pins_begin_from_what_they_name() {
    let worked = worked();
    let bench = |name: &str| worked.benches[name].clone();
    // `top` begins from `hill`, which stands below it in the file, and then has an altitude of its own.
    let (hill, top, start) = (bench("hill").settings.ambient, bench("top").settings.ambient, bench("start"));
    let day = volute_core::gas::atmosphere::ambient_at(1500.0).unwrap();
    assert_eq!((hill.p_pa, hill.t_k), (day.p_pa, 283.15), "the temperature beside the altitude wins");
    let day = volute_core::gas::atmosphere::ambient_at(3000.0).unwrap();
    assert_eq!((top.p_pa, top.t_k), (day.p_pa, day.t_k));
    assert_eq!((start.settings.ambient.p_pa, start.settings.ambient.t_k), (1.0e5, 298.15));
    // Another engine begins from nothing.
    let van = bench("van");
    assert_eq!((van.engine.as_deref(), van.settings.speed_rpm), (Some("van-four"), 2000.0));
    assert_eq!(van.settings.load, Load::Torque { torque_n_m: 200.0 });
    assert!(worked.readings["van"].holds);
}

#[test]
fn by_hand_a_sweep_is_what_its_points_are() {
    let worked = worked();
    let sweep = &worked.sweeps["vanes"];
    let vanes: Vec<f64> = sweep.readings.iter().map(|reading| reading.settings.vane_open_pct).collect();
    assert_eq!(vanes, [100.0, 90.0, 80.0, 70.0, 60.0, 50.0, 40.0]);
    let mut bench = worked.benches["start"].clone();
    bench.settings.load = Load::Fuel { fuel_kg_per_cycle: 1.05e-4 };
    bench.settings.vane_open_pct = 60.0;
    assert_eq!(bench.reading().unwrap(), sweep.readings[4]);
    let p3 = sweep.curve(paths("p3"));
    let there = sweep.readings[4].stations.turbine_inlet.p_pa;
    assert!((p3.at(0.6).unwrap() - there).abs() < 1e-9 * there);
    assert_eq!(p3.at(0.4 - 1e-12), Some(sweep.readings[6].stations.turbine_inlet.p_pa));
    assert_eq!(p3.at(0.39), None);
    assert_eq!(p3.most().unwrap().0, 0.4);
}

fn paths(name: &str) -> &'static Quantity {
    volute_lessons::paths::quantity(name).unwrap()
}

#[test]
fn by_hand_a_run_is_what_the_core_marches() {
    let worked = worked();
    let run = &worked.runs["step"];
    let t90 = run.t90_s().unwrap();
    let torque = run.curve(volute_lessons::paths::run_quantity("torque").unwrap());
    // By hand: from 150 to 1000 N m, so nine tenths of the way are there at 915.
    let first =
        torque.points().find(|(_, torque)| *torque >= run.before_n_m + 0.9 * (1000.0 - run.before_n_m)).unwrap();
    assert_eq!(first.0, t90);
    assert!(t90 > 0.1 && !run.reversed() && (run.before_n_m - 150.0).abs() < 1.0, "{t90} {}", run.before_n_m);
    let last = run.samples.last().unwrap().time_s;
    assert!((2.5..2.6).contains(&last), "{last}");
    let boost = run.curve(volute_lessons::paths::run_quantity("boost").unwrap());
    assert_eq!(boost.y[0], run.samples[0].intake_manifold_pa - 1.0e5);
}

#[test]
fn by_hand_a_sheet_is_rounded_noisy_and_the_same_for_the_same_seed() {
    let worked = worked();
    let sheet = &worked.logs["sheet"];
    assert_eq!((sheet.rows.len(), sheet.columns.len()), (3, 3));
    let torque: Vec<f64> = sheet.rows.iter().map(|row| row[0]).collect();
    assert_eq!(torque.iter().map(|t| t.round()).collect::<Vec<_>>(), [400.0, 650.0, 900.0]);
    // Written with one decimal of a kilopascal.
    let p3 = sheet.rows[0][1] / 100.0;
    assert!((p3 - p3.round()).abs() < 1e-6, "{p3}");
    let mut bench = worked.benches["start"].clone();
    bench.settings.load = Load::Torque { torque_n_m: 400.0 };
    let truth = bench.reading().unwrap();
    let off = (sheet.rows[0][1] - (truth.stations.turbine_inlet.p_pa - truth.ambient.p_pa)).abs();
    assert!(off > 0.0 && off < 6.0 * 500.0 + 50.0, "{off}");
    assert_eq!(worked.logs, self::worked().logs);
    let other = sample::every_kind().work_out(Seed(6), &mut CoreSolver::default()).unwrap();
    assert_ne!(other.logs["sheet"].rows[0][1], sheet.rows[0][1]);
    let (heads, rows) = sheet.table(Style { decimal: Decimal::Comma, ..Style::default() });
    assert_eq!(heads, ["M [N·m]", "p3 (manifold) [kPa gauge]", "t3 [°C]"]);
    assert!(rows[0][1].contains(',') && !rows[0][2].contains(','), "{rows:?}");
    let csv = sheet.csv(Decimal::Comma);
    assert!(csv.starts_with("\"M\";\"p3 (manifold)\";\"t3\"\r\n\"N·m\";\"kPa gauge\";\"°C\"\r\n"), "{csv}");
    assert_eq!(csv.lines().count(), 5);
}

#[test]
fn by_hand_a_heading_cannot_be_a_formula() {
    let mut sheet = (*worked().logs["sheet"]).clone();
    sheet.columns[0].heading = "=cmd|' /C calc'!A0".into();
    sheet.columns[1].heading = "a \"quoted\", heading".into();
    let csv = sheet.csv(Decimal::Point);
    assert!(csv.starts_with("\"'=cmd|' /C calc'!A0\",\"a \"\"quoted\"\", heading\","), "{csv}");
}

#[test]
fn by_hand_curves() {
    let curve = Curve { x: vec![3.0, 2.0, 1.0, 0.0], y: vec![1.0, 2.0, 4.0, 3.0] };
    assert_eq!(curve.at(1.5), Some(3.0));
    assert_eq!(curve.at(3.5), None);
    assert_eq!(curve.crosses(3.0), Some(1.5));
    assert_eq!(curve.crosses(5.0), None);
    assert_eq!((curve.least(), curve.most()), (Some((3.0, 1.0)), Some((1.0, 4.0))));
    assert_eq!(Curve::default().least(), None);
    // The start itself is no crossing: the curve must pass the value.
    let flat = Curve { x: vec![0.0, 1.0], y: vec![2.0, 2.0] };
    assert_eq!(flat.crosses(2.0), None);
}

#[test]
fn by_hand_visited_states() {
    let reading = worked().readings["start"].clone();
    let mut visited = Visited::default();
    visited.push(&reading);
    visited.push(&reading);
    assert_eq!(visited.readings().len(), 1, "the same state again is no new one");
    let mut other = reading.clone();
    other.settings.vane_open_pct = 50.0;
    for _ in 0..3 {
        visited.push(&other);
        visited.push(&reading);
    }
    assert_eq!(visited.readings().len(), 7);
}

#[test]
fn by_hand_a_parameter_is_that_of_the_state() {
    let mut bench = worked().benches["start"].clone();
    let before = bench.parameter("exhaust_pipe.bore_m").unwrap();
    bench.parts.insert("exhaust_pipe.bore_m".into(), 0.2);
    assert_eq!((before, bench.parameter("exhaust_pipe.bore_m").unwrap()), (0.1, 0.2));
    assert!(bench.parameter("exhaust_pipe.colour").is_err());
    // A speed of rotation in 1/min is turns per second in SI.
    let path = volute_core::engine::keys().find(|key| key.unit == "1/min").unwrap().path();
    let per_min = bench.engine().unwrap().get(&path).unwrap();
    assert!((bench.parameter(&path).unwrap() * 60.0 - per_min).abs() < 1e-9 * per_min);
}

#[test]
fn identity_two_solvers_give_the_same_bits() {
    let shared = volute_lessons::bench::SharedSolver::default();
    let lesson = sample::every_kind();
    let a = lesson.work_out(Seed(9), &mut &shared).unwrap();
    let b = lesson.work_out(Seed(9), &mut CoreSolver::default()).unwrap();
    assert_eq!(a, b);
    assert_eq!(a, lesson.work_out(Seed(9), &mut &shared).unwrap());
}
