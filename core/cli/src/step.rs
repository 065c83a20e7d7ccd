//! `volute step`: from a steady point into new settings, in time.

use crate::args::StepArgs;
use crate::bench::{self, Bench};
use crate::point::{PointJson, words};
use crate::{Answered, Failure, output, print};
use serde::Serialize;
use std::io::{IsTerminal, Write};
use volute_core::engine::Engine;
use volute_core::point::steady::Point;
use volute_core::point::transient::{Sample, Transient};
use volute_core::settings::{Load, Settings};

/// A load step in JSON. Times count from the step.
#[derive(Debug, Serialize)]
struct StepJson<'a> {
    engine: &'a str,
    before: Settings,
    after: Settings,
    start: PointJson,
    /// Time after which 90 % of a torque step is reached, in s. Nothing where no step was asked for, or it is not reached.
    t90_s: Option<f64>,
    samples: &'a [Sample],
}

/// Marches and prints a step.
pub fn run(args: &StepArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let bench = Bench::new(&args.bench)?;
    let before = bench.settings(&args.held)?;
    let after = after(args, &before)?;
    let start = bench.solve(&before, false)?;
    if !start.reading.holds {
        say_no_start(&start);
        return Ok(Answered::NoState);
    }
    let mut transient = Transient::start(&start);
    let mut samples = march(&mut transient, args.before_s);
    let step_s = samples.last().map_or(0.0, |last| last.time_s);
    transient.set(&after).map_err(|error| Failure::bad(format_args!("after the step: {}", bench.refuse(&error))))?;
    samples.extend(march(&mut transient, args.duration_s));
    for sample in &mut samples {
        sample.time_s -= step_s;
    }

    let from_n_m = start.reading.brake.torque_n_m;
    let t90_s = match after.load {
        Load::Torque { torque_n_m } => time_to_share(&samples, from_n_m, torque_n_m, 0.9),
        Load::Fuel { .. } => None,
    };
    if args.json {
        let start = PointJson::new(&start);
        output::json(&StepJson { engine: &bench.engine.name, before, after, start, t90_s, samples: &samples }, out)?;
    } else {
        output::csv(samples.iter().map(output::cells), out)?;
        if std::io::stderr().is_terminal() {
            summary(&bench.engine, &before, &after, t90_s, from_n_m);
        }
    }
    Ok(Answered::Yes)
}

/// Says on standard error that the step has no point to start from, so that a file made of the output stays empty.
fn say_no_start(start: &Point) {
    eprintln!("no steady state to start from: {}. {}", words(&start.reading), start.reading.outcome.meaning());
    if let Some(good) = start.last_good.as_deref() {
        eprintln!("The nearest point with wider vanes that holds has them {:.1} % open.", good.settings.vane_open_pct);
    }
}

/// The settings from time 0 on.
fn after(args: &StepArgs, before: &Settings) -> Result<Settings, Failure> {
    let load = bench::load(args.to_torque_nm, args.to_fuel_mg);
    if load.is_none() && args.to_vane.is_none() {
        return Err(Failure::bad("nothing changes at time 0: add --to-torque-nm, --to-fuel-mg or --to-vane"));
    }
    Ok(Settings {
        load: load.unwrap_or(before.load),
        vane_open_pct: args.to_vane.unwrap_or(before.vane_open_pct),
        ..*before
    })
}

/// Firing intervals until `span_s` has passed.
fn march(transient: &mut Transient, span_s: f64) -> Vec<Sample> {
    // The brake holds the speed, so all intervals are equally long.
    let intervals = (span_s / transient.interval_s()).ceil();
    (0..intervals as u64).map(|_| transient.advance()).collect()
}

/// Time of the first sample that has come `share` of the way. A step of less than 1 N m counts as none.
fn time_to_share(samples: &[Sample], from_n_m: f64, to_n_m: f64, share: f64) -> Option<f64> {
    let way_n_m = to_n_m - from_n_m;
    if way_n_m.abs() < 1.0 {
        return None;
    }
    samples
        .iter()
        .find(|sample| sample.time_s > 0.0 && (sample.torque_n_m - from_n_m) / way_n_m >= share)
        .map(|sample| sample.time_s)
}

/// Tells a person at a terminal, beside the numbers, what the step was and how long it took.
fn summary(engine: &Engine, before: &Settings, after: &Settings, t90_s: Option<f64>, from_n_m: f64) {
    eprintln!("{}: from {}", engine.name, print::settings_line(before));
    eprintln!("to {}", print::settings_line(after));
    match (after.load, t90_s) {
        (Load::Torque { torque_n_m }, Some(t90_s)) => {
            eprintln!("90 % of the way from {from_n_m:.0} to {torque_n_m} N m after {t90_s:.2} s.");
        }
        (Load::Torque { torque_n_m }, None) if (torque_n_m - from_n_m).abs() >= 1.0 => {
            eprintln!("90 % of the way from {from_n_m:.0} to {torque_n_m} N m is not reached in this time.");
        }
        _ => {}
    }
    eprintln!("{}", crate::args::CAUTION);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(time_s: f64, torque_n_m: f64) -> Sample {
        Sample {
            time_s,
            torque_n_m,
            fuel_kg_per_cycle: 0.0,
            smoke_limit_fuel_kg: 0.0,
            vane_open_pct: 0.0,
            p2_pa: 0.0,
            intake_manifold_pa: 0.0,
            p3_pa: 0.0,
            t3_k: 0.0,
            shaft_rad_s: 0.0,
            air_flow_kg_s: 0.0,
            least_air_flow_kg_s: 0.0,
            pumping_mep_pa: 0.0,
            air_fuel_ratio: 0.0,
        }
    }

    #[test]
    fn by_hand_nine_tenths_of_the_way_up_and_down() {
        let rising =
            [sample(-0.1, 200.0), sample(0.1, 150.0), sample(0.2, 189.0), sample(0.3, 190.0), sample(0.4, 200.0)];
        assert_eq!(time_to_share(&rising, 100.0, 200.0, 0.9), Some(0.3));
        let falling = [sample(0.1, 111.0), sample(0.2, 109.0)];
        assert_eq!(time_to_share(&falling, 200.0, 100.0, 0.9), Some(0.2));
        assert_eq!(time_to_share(&rising, 100.0, 300.0, 0.9), None);
        assert_eq!(time_to_share(&rising, 100.0, 100.5, 0.9), None);
    }
}
