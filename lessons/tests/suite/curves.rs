//! Powers, choices, and what is taken from sweeps, runs, sheets, visited states and parts.

use crate::sample;
use std::sync::OnceLock;
use volute_core::point::reading::Reading;
use volute_lessons::bench::{Bench, CoreSolver};
use volute_lessons::curves::Swept;
use volute_lessons::expr::{Env, EvalError, Expr, LogNames, Scope, Type};
use volute_lessons::seed::Seed;
use volute_lessons::units;
use volute_lessons::work::Worked;

struct Place {
    worked: Worked,
    scope: Scope,
}

fn place() -> &'static Place {
    static PLACE: OnceLock<Place> = OnceLock::new();
    PLACE.get_or_init(|| {
        let lesson = sample::every_kind();
        let worked = lesson.work_out(Seed(5), &mut CoreSolver::default()).unwrap();
        let scope = Scope {
            states: worked.readings.keys().cloned().collect(),
            seeds: vec![("rpm".into(), units::exact("1/min").unwrap()), ("k".into(), units::PLAIN)],
            sweeps: vec![("vanes".into(), Swept::Vane)],
            runs: vec!["step".into()],
            logs: vec![LogNames {
                name: "sheet".into(),
                channels: vec![("torque".into(), Type::number(units::Family::Torque.dim()))],
                rows: 3,
            }],
            bench: true,
            visited: true,
        };
        Place { worked, scope }
    })
}

fn visited() -> Vec<Reading> {
    let sweep = &place().worked.sweeps["vanes"].readings;
    [0, 1, 3, 2].map(|i| sweep[i].clone()).into()
}

fn with<T>(see: impl FnOnce(&Env) -> T) -> T {
    let (worked, visited) = (&place().worked, visited());
    let mut seeds = worked.seeds.clone();
    seeds.insert("k".into(), 2.0);
    let live: &Bench = &worked.benches["start"];
    let env = Env { seeds: &seeds, visited: &visited, live: Some(live), ..worked.env_with(&worked.readings["start"]) };
    see(&env)
}

fn number(text: &str) -> Result<f64, EvalError> {
    let expr = Expr::parse(text, &place().scope).unwrap_or_else(|problem| panic!("{text}: {problem}"));
    with(|env| expr.number(env))
}

fn truth(text: &str) -> Result<bool, EvalError> {
    let expr = Expr::parse(text, &place().scope).unwrap_or_else(|problem| panic!("{text}: {problem}"));
    with(|env| expr.truth(env))
}

#[test]
fn by_hand_powers_and_choices() {
    for (text, want) in [
        ("2 ^ 3", 8.0),
        ("2 ^ 3 ^ 2", 512.0),
        ("-2 ^ 2", -4.0),
        ("2 ^ -1", 0.5),
        ("3 * 2 ^ 2", 12.0),
        ("4 ^ 0.5", 2.0),
        ("if 1 < 2 then 3 else 4", 3.0),
        ("(if 1 > 2 then 3 else 4) * 2", 8.0),
        ("if 1 > 2 then 3 else if 2 > 1 then 5 else 6", 5.0),
        ("pick(seed.k, 10, 20, 30)", 20.0),
        ("pick(1, 25 degC, 30 degC)", 298.15),
        ("if start.p3 > 1 bar abs then 1 kPa else 2 kPa", 1000.0),
    ] {
        // A power is an exponential of a logarithm: right to some thirteen figures.
        let got = number(text).unwrap();
        assert!((got - want).abs() <= 1e-13 * want.abs(), "{text}: {got}");
    }
    for (text, want) in [
        ("1 == 1", true),
        ("0.1 + 0.2 == 0.3", true),
        ("1 == 1.00001", false),
        ("1 != 2", true),
        ("pick(seed.k, 1 > 2, 2 > 1)", true),
        ("if seed.k == 2 then 1 < 2 else 1 > 2", true),
    ] {
        assert_eq!(truth(text), Ok(want), "{text}");
    }
    assert!(matches!(number("pick(4, 1, 2, 3)"), Err(EvalError::NoPoint { .. })));
    assert!(matches!(number("pick(1.5, 1, 2, 3)"), Err(EvalError::NoPoint { .. })));
}

#[test]
fn by_hand_what_curves_give() {
    let sweep = &place().worked.sweeps["vanes"];
    let p3: Vec<f64> = sweep.readings.iter().map(|reading| reading.stations.turbine_inlet.p_pa).collect();
    assert_eq!(number("least(sweeps.vanes.p3)"), Ok(p3[0]));
    assert_eq!(number("most(sweeps.vanes.p3)"), Ok(p3[6]));
    assert_eq!(number("where_most(sweeps.vanes.p3)"), Ok(0.4));
    assert_eq!(number("where_least(sweeps.vanes.p3)"), Ok(1.0));
    let between = number("at(sweeps.vanes.p3, 95 %)").unwrap();
    assert!((between - 0.5 * (p3[0] + p3[1])).abs() < 1e-6, "{between}");
    let level = 0.5 * (p3[2] + p3[3]);
    let crossing = number(&format!("crosses(sweeps.vanes.p3, {level} Pa)")).unwrap();
    assert!((crossing - 0.75).abs() < 1e-9, "{crossing}");
    assert!(matches!(number("crosses(sweeps.vanes.p3, 1 MPa)"), Err(EvalError::NoPoint { .. })));
    assert!(matches!(number("at(sweeps.vanes.p3, 20 %)"), Err(EvalError::NoPoint { .. })));

    let run = &place().worked.runs["step"];
    assert_eq!(number("runs.step.t90"), Ok(run.t90_s().unwrap()));
    assert_eq!(truth("runs.step.reversed"), Ok(false));
    assert!(number("where_most(runs.step.torque)").unwrap() > number("runs.step.t90").unwrap());
    assert!(number("crosses(runs.step.torque, 500 N m)").unwrap() < number("runs.step.t90").unwrap());

    assert_eq!(number("logs.sheet.torque.2"), Ok(place().worked.logs["sheet"].rows[1][0]));
}

#[test]
fn by_hand_visited_states_and_parts() {
    let vane = |reading: &Reading| reading.settings.vane_open_pct;
    assert_eq!(visited().iter().map(vane).collect::<Vec<_>>(), [100.0, 90.0, 70.0, 80.0]);
    assert_eq!(number("count(visited)"), Ok(4.0));
    assert_eq!(number("most(visited.vane)"), Ok(1.0));
    assert_eq!(number("least(visited.vane)"), Ok(0.7));
    assert!((number("widest_step(visited.vane)").unwrap() - 0.2).abs() < 1e-12);
    let crossed = visited().iter().any(|reading| reading.limits.iter().any(|limit| limit.crossed));
    assert_eq!(truth("visited.crossed"), Ok(crossed));
    assert_eq!(truth("visited.cylinder_pressure.crossed"), Ok(false));

    assert_eq!(number("start.parts.exhaust_pipe.bore_m"), Ok(0.1));
    assert_eq!(number("parts.exhaust_pipe.bore_m"), Ok(0.1));
    let six = place().worked.benches["start"].engine().unwrap();
    assert_eq!(number("start.parts.charge_cooler.sink_k"), Ok(six.charge_cooler.sink_k));
    // Effectiveness, from the readings and the coolant's temperature.
    let text = "(start.t2 - start.t_cooler) / (start.t2 - start.parts.charge_cooler.sink_k)";
    let effectiveness = number(text).unwrap();
    let flow = place().worked.readings["start"].air_flow_kg_s;
    let part = volute_core::parts::cooler::effectiveness(&six.charge_cooler, flow);
    // The flow pulses through the cooler, so the means of the stations give it to a few per cent only.
    assert!((effectiveness - part).abs() < 0.03, "{effectiveness} {part}");
}

#[test]
fn by_hand_what_is_wrong_with_curves() {
    for (text, at, says) in [
        ("2 kPa ^ 2", 0, "a plain number on either side of ^"),
        ("2 ^ 1 s", 4, "a plain number on either side of ^"),
        ("if 1 then 2 else 3", 3, "expected true or false"),
        ("if 1 < 2 then 3", 15, "`else`"),
        ("if 1 < 2 3", 9, "`then`"),
        ("if 1 < 2 then 3 kPa else 3 s", 0, "a pressure and a time cannot be chosen from"),
        ("pick(seed.k)", 11, "a comma"),
        ("pick(1 kPa, 2)", 5, "1 for the first"),
        ("pick(seed.k, 1 kPa, 2 s)", 20, "cannot be chosen from"),
        ("sweeps.vanes.p3", 0, "is a curve: take a number from it, with one of least"),
        ("runs.step.torque > 1 N m", 0, "is a curve"),
        ("visited.t3 > 3 degC", 0, "least, most, widest_step"),
        ("least(p3)", 6, "allowed are sweeps.vanes.…, runs.step.…, visited.…"),
        ("least(sweeps.vane.p3)", 6, "there is no `sweeps.vane.p3`"),
        ("least(sweeps.vanes.p33)", 6, "did you mean `sweeps.vanes.p3`"),
        ("most(runs.step.t4)", 5, "did you mean `runs.step.t3`"),
        ("runs.step.t95", 0, "did you mean `runs.step.t90`"),
        ("at(sweeps.vanes.p3, 3 kPa)", 3, "cannot be compared"),
        ("crosses(sweeps.vanes.p3, 60 %)", 8, "cannot be compared"),
        ("crosses(sweeps.vanes.p3)", 23, "a comma"),
        ("where_least(visited.p3)", 12, "visited states only have"),
        ("logs.sheet.torque.4", 0, "logs.sheet.torque.1…3"),
        ("logs.sheet.p3.1", 0, "logs.sheet.torque"),
        ("start.parts.exhaust_pipe.bor_m", 0, "did you mean `start.parts.exhaust_pipe.bore_m`"),
        ("start.parts.exhaust_pipe.bore_m > 1 kPa", 0, "a length and a pressure"),
    ] {
        let problem = Expr::parse(text, &place().scope).map(|_| ()).expect_err(text);
        assert!(problem.to_string().contains(says), "{text}: {problem}");
        assert_eq!(problem.at, at, "{text}: {problem}");
    }
    let no_task = Scope { visited: false, ..place().scope.clone() };
    for text in ["count(visited) > 1", "most(visited.t3) > 1 degC", "visited.crossed"] {
        let problem = Expr::parse(text, &no_task).unwrap_err();
        assert!(problem.to_string().contains("only where a task is judged"), "{text}: {problem}");
    }
}
