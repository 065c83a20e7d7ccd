//! Any setting that the bench takes gives an outcome with a name and finite numbers.
//!
//! The samples are the same in every run. A longer run takes as many samples as you like, and another seed gives others:
//!
//!     VOLUTE_SAMPLES=100000 VOLUTE_SEED=7 cargo test --release -p volute-tests --test suite random -- --nocapture

use crate::balance::Books;
use crate::support::{self, Tally};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::env;
use std::panic::{AssertUnwindSafe, catch_unwind};
use volute_core::engine::{Engine, keys};
use volute_core::point::reading::{Outcome, Reading};
use volute_core::point::steady::{BenchError, EVERYDAY, Options, Point, solve, solve_with};
use volute_core::point::transient::Transient;
use volute_core::settings::{Ambient, Load, Settings};
use volute_tests::species::Species;

fn from_environment(name: &str) -> Option<u64> {
    env::var(name).ok().map(|text| text.parse().unwrap_or_else(|_| panic!("{name}={text}: not a whole number")))
}

/// Runs `test` on every sample of a strategy; the samples are the same every time. Returns a list of the failures, with a
/// count and the first sample for each kind; it is empty if all is well. A panic in the core is a failure like any other.
#[must_use]
fn run<S: Strategy>(samples: u32, strategy: S, test: impl Fn(S::Value) -> Result<(), Failure>) -> String
where
    S::Value: core::fmt::Debug + Clone,
{
    // VOLUTE_SAMPLES is the number for the longest test; the others take their share of it.
    let long = from_environment("VOLUTE_SAMPLES").map(|count| count * u64::from(samples) / 2_000);
    let cases = long.map_or(samples, |count| u32::try_from(count).unwrap()).max(1);
    let mut seed = [7_u8; 32];
    seed[..8].copy_from_slice(&from_environment("VOLUTE_SEED").unwrap_or(0).to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &seed);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let mut failures: BTreeMap<&str, (u32, String)> = BTreeMap::new();
    for _ in 0..cases {
        let sample = strategy.new_tree(&mut runner).unwrap().current();
        let shown = sample.clone();
        let failure = match catch_unwind(AssertUnwindSafe(|| test(sample))) {
            Ok(Ok(())) => continue,
            Ok(Err(failure)) => failure,
            Err(_) => Failure { kind: "panic", detail: "see above".into() },
        };
        let entry = failures.entry(failure.kind).or_insert_with(|| (0, format!("{}, at {shown:?}", failure.detail)));
        entry.0 += 1;
    }
    failures.iter().map(|(kind, (count, first))| format!("\n{count} of {cases} x {kind}; first: {first}")).collect()
}

/// What is wrong with a sample.
struct Failure {
    kind: &'static str,
    detail: String,
}

fn require(fact: bool, kind: &'static str, detail: impl FnOnce() -> String) -> Result<(), Failure> {
    if fact { Ok(()) } else { Err(Failure { kind, detail: detail() }) }
}

/// Where in its allowed range a setting lies, 0 to 1. The ends come often, because that is where things break.
fn share() -> impl Strategy<Value = f64> {
    prop_oneof![8 => 0.0..1.0_f64, 1 => Just(0.0), 1 => Just(1.0)]
}

fn at_share(low: f64, high: f64, share: f64) -> f64 {
    // At a share of 1 the sum can miss the end by a rounding error, and the range check would refuse it.
    if share == 1.0 { high } else { low + (high - low) * share }
}

/// Every setting over the whole range that `Settings::check` allows for an engine.
fn settings_of(engine: &Engine, shares: Shares) -> Settings {
    let range = &engine.range;
    let Shares([speed, load, vane, p, t, humidity], torque_held) = shares;
    let load = if torque_held {
        Load::Torque { torque_n_m: at_share(0.0, 1.5 * range.torque_max_n_m, load) }
    } else {
        let c = &engine.combustion;
        Load::Fuel { fuel_kg_per_cycle: at_share(c.least_fuel_kg, 1.5 * c.injector_limit_kg, load) }
    };
    Settings {
        speed_rpm: at_share((0.8 * range.speed_min_rpm).max(300.0), (1.2 * range.speed_max_rpm).min(8_000.0), speed),
        load,
        vane_open_pct: at_share(0.0, 100.0, vane),
        ambient: Ambient {
            p_pa: at_share(5.0e4, 1.1e5, p),
            t_k: at_share(233.15, 328.15, t),
            relative_humidity: humidity,
        },
    }
}

/// Settings as shares of their ranges, until the engine and so its ranges are known.
#[derive(Debug, Clone, Copy)]
struct Shares([f64; 6], bool);

fn shares() -> impl Strategy<Value = Shares> {
    ([share(), share(), share(), share(), share(), share()], any::<bool>())
        .prop_map(|(six, torque)| Shares(six, torque))
}

/// One of the engines that come with Volute, and settings of it.
fn point() -> impl Strategy<Value = (usize, Settings)> {
    let engines = support::engines();
    (0..engines.len(), shares()).prop_map(move |(index, shares)| (index, settings_of(&engines[index], shares)))
}

/// Paths of everything in a reading that is not a number. JSON, which the terminal prints, has `null` there.
fn numbers_that_are_none(reading: &Reading) -> Vec<String> {
    fn walk(value: &serde_json::Value, path: &str, found: &mut Vec<String>) {
        match value {
            serde_json::Value::Null => found.push(path.to_string()),
            serde_json::Value::Array(items) => {
                for (index, item) in items.iter().enumerate() {
                    walk(item, &format!("{path}[{index}]"), found);
                }
            }
            serde_json::Value::Object(fields) => {
                for (name, field) in fields {
                    walk(field, &format!("{path}.{name}"), found);
                }
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    walk(&serde_json::to_value(reading).unwrap(), "", &mut found);
    // One of the two loads is not held, and is meant to be empty.
    found.retain(|path| path != ".settings.torque_n_m" && path != ".settings.fuel_kg_s");
    found
}

/// What must be true of any point: its numbers are finite, its outcome and `holds` do not contradict each other, and if it
/// holds, it balances.
fn check(engine: &Engine, point: &Point, species: &Species) -> Result<(), Failure> {
    let r = &point.reading;
    let none = numbers_that_are_none(r);
    require(none.is_empty(), "not a number", || format!("{none:?}, {:?}", r.outcome))?;
    let never = matches!(r.outcome, Outcome::Surge | Outcome::NoSolution);
    require(!(never && r.holds), "cannot hold", || format!("{:?}", r.outcome))?;
    require(never || r.holds || r.outcome == Outcome::Overspeed, "does not hold", || format!("{:?}", r.outcome))?;
    if !r.holds {
        return Ok(());
    }
    for (kind, miss, allowed) in support::misses(&Books::new(engine, r, species)) {
        require(miss.abs() <= allowed, kind, || format!("{miss:e}, allowed {allowed:e}, {:?}", r.outcome))?;
    }
    let t3_k = r.stations.turbine_inlet.t_k;
    require((250.0..2_500.0).contains(&t3_k), "turbine-inlet temperature", || format!("{t3_k} K"))?;
    for (kind, efficiency) in
        [("compressor efficiency", r.compressor.efficiency), ("turbine efficiency", r.turbine.cycle_efficiency)]
    {
        // A map of random numbers may ask for more head than work somewhere. That is the fault of the numbers, not of the core.
        let any_map = support::engines().iter().all(|known| known.compressor != engine.compressor);
        require(efficiency < 1.0 || any_map, kind, || format!("{efficiency}, {:?}", r.outcome))?;
    }
    require(r.air_flow_kg_s > 0.0 && r.fuel_flow_kg_s > 0.0, "flow", || format!("{} kg/s", r.air_flow_kg_s))
}

const PLAIN: Options = Options { effort: EVERYDAY, trace: false, diagnose: false, steps_per_degree: None };

#[test]
fn identity_any_settings_give_a_point_with_a_name() {
    let (engines, species) = (support::engines(), Species::read());
    let tally = RefCell::new(Tally::default());
    let failures = run(2_000, point(), |(index, settings)| {
        let engine = &engines[index];
        let point = solve_with(engine, &settings, None, &PLAIN).unwrap();
        tally.borrow_mut().count(&point.reading);
        check(engine, &point, &species)
    });
    let tally = tally.into_inner();
    println!("any settings: {tally}");
    assert!(failures.is_empty(), "{failures}");
    // Where a state exists the bench must find it, and where none exists it must say why.
    let lost = tally.of("no_solution") as f64 / tally.total() as f64;
    assert!(lost < 0.002, "{lost} of the points are lost without a reason: {tally}");
}

#[test]
fn identity_a_point_that_does_not_hold_comes_with_one_that_does() {
    let (engines, species) = (support::engines(), Species::read());
    let tally = RefCell::new(Tally::default());
    let failures = run(200, point(), |(index, settings)| {
        let engine = &engines[index];
        let point = solve(engine, &settings).unwrap();
        let mut tally = tally.borrow_mut();
        tally.count(&point.reading);
        check(engine, &point, &species)?;
        if let Some(good) = &point.last_good {
            tally.add("(with a point that holds)");
            assert!(!point.reading.holds && good.reading.holds);
            assert!(good.settings.vane_open_pct > settings.vane_open_pct);
            assert_eq!(Settings { vane_open_pct: settings.vane_open_pct, ..good.settings }, settings);
            check(engine, good, &species)?;
        }
        Ok(())
    });
    println!("with diagnosis: {}", tally.into_inner());
    assert!(failures.is_empty(), "{failures}");
}

#[test]
fn identity_any_neighbour_to_start_from_gives_a_point_with_a_name() {
    let (engines, species) = (support::engines(), Species::read());
    let tally = RefCell::new(Tally::default());
    let failures = run(200, (point(), point()), |((index, settings), (other, elsewhere))| {
        let near = solve_with(&engines[other], &elsewhere, None, &PLAIN).unwrap();
        let engine = &engines[index];
        let point = solve_with(engine, &settings, Some(&near), &PLAIN).unwrap();
        tally.borrow_mut().count(&point.reading);
        check(engine, &point, &species)
    });
    println!("from any neighbour: {}", tally.into_inner());
    assert!(failures.is_empty(), "{failures}");
}

/// An engine with some of its numbers anywhere in their ranges, and settings of it.
#[derive(Clone)]
struct Altered {
    changes: Vec<(String, f64)>,
    engine: Engine,
    settings: Settings,
}

impl core::fmt::Debug for Altered {
    /// Shows only the changes, because all other numbers are those of the file.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} with {:?} at {:?}", self.engine.name, self.changes, self.settings)
    }
}

fn altered(changes: core::ops::Range<usize>) -> impl Strategy<Value = Altered> {
    let engines = support::engines();
    let all: Vec<_> = keys().collect();
    let change = (0..all.len(), share()).prop_map(move |(index, share)| {
        let key = all[index];
        let value = at_share(key.min, key.max, share);
        // Angles of valves, and the number of cylinders, are whole numbers.
        let whole = key.group == "valves" && key.unit == "deg" || key.name == "count";
        (key.path(), if whole { value.round() } else { value })
    });
    (0..engines.len(), prop::collection::vec(change, changes), shares()).prop_map(move |(index, changes, shares)| {
        let mut engine = engines[index].clone();
        for (path, value) in &changes {
            engine.set(path, *value).unwrap();
        }
        let settings = settings_of(&engine, shares);
        Altered { changes, engine, settings }
    })
}

fn check_altered(samples: u32, changes: core::ops::Range<usize>, what: &str) {
    let species = Species::read();
    let tally = RefCell::new(Tally::default());
    let failures = run(samples, altered(changes), |Altered { engine, settings, .. }| {
        match solve_with(&engine, &settings, None, &PLAIN) {
            Ok(point) => {
                tally.borrow_mut().count(&point.reading);
                check(&engine, &point, &species)
            }
            Err(BenchError::Engine(error)) => {
                tally.borrow_mut().add("refused, its parameters do not fit together");
                require(!error.to_string().is_empty(), "no message", String::new)
            }
            Err(BenchError::Setting(_)) => {
                // A change has put the upper end of the speed range below the lower one.
                tally.borrow_mut().add("refused, outside its range");
                Ok(())
            }
        }
    });
    let tally = tally.into_inner();
    println!("{what}: {tally}");
    assert!(failures.is_empty(), "{failures}");
    assert!(tally.of("refused") < tally.total(), "{what}: every engine was refused");
}

#[test]
fn identity_an_engine_with_a_few_other_numbers_gives_a_point_with_a_name() {
    check_altered(600, 1..5, "a few changes");
}

#[test]
fn identity_an_engine_of_any_numbers_gives_a_point_with_a_name() {
    check_altered(300, 20..160, "many changes");
}

#[test]
fn identity_any_march_in_time_has_finite_numbers() {
    let engines = support::engines();
    let tally = RefCell::new(Tally::default());
    let strategy = (point(), prop::collection::vec(shares(), 1..4));
    let failures = run(100, strategy, |((index, settings), steps)| {
        let engine = &engines[index];
        let from = solve_with(engine, &settings, None, &PLAIN).unwrap();
        tally.borrow_mut().count(&from.reading);
        let mut march = Transient::start(&from);
        for shares in steps {
            march.set(&settings_of(engine, shares)).unwrap();
            for _ in 0..60 {
                let sample = march.advance();
                let value = serde_json::to_value(sample).unwrap();
                for (name, number) in value.as_object().unwrap() {
                    require(!number.is_null(), "not a number", || format!("{name} of {sample:?}"))?;
                }
            }
        }
        Ok(())
    });
    println!("marches from: {}", tally.into_inner());
    assert!(failures.is_empty(), "{failures}");
}
