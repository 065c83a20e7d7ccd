//! `volute step`: from a steady point into new settings, in time.

use crate::args::StepArgs;
use crate::bench;
use crate::point::{PointJson, words};
use crate::print;
use crate::{Answered, Failure};
use serde::Serialize;
use std::io::{IsTerminal, Write};
use volute_core::engine::Engine;
use volute_core::point::steady::{self, Options};
use volute_core::point::transient::{Sample, Transient};
use volute_core::settings::{Load, Settings};

const DURATION_S: (f64, f64) = (0.01, 120.0);
const BEFORE_S: (f64, f64) = (0.0, 10.0);

/// A load step in JSON. Times count from the step.
#[derive(Debug, Serialize)]
struct StepJson<'a> {
    engine: &'a str,
    before: Settings,
    after: Settings,
    start: PointJson,
    /// Time after which 90 % of a torque step is reached, in s; nothing where none was asked or it is not reached.
    t90_s: Option<f64>,
    samples: &'a [Sample],
}

/// Marches and prints a step.
pub fn run(args: &StepArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let (engine, before) = bench::prepare(&args.held, &args.bench)?;
    let after = after(args, &before)?;
    bench::check(&engine, &after).map_err(|failure| Failure::BadInput(format!("after the step: {failure}")))?;
    for (option, value, (min, max)) in
        [("--duration-s", args.duration_s, DURATION_S), ("--before-s", args.before_s, BEFORE_S)]
    {
        if !(min <= value && value <= max) {
            return Err(Failure::BadInput(format!("`{option} {value}`: outside {min} to {max} s")));
        }
    }

    let options = Options { trace: false, ..Options::default() };
    let point =
        steady::solve_with(&engine, &before, None, &options).map_err(|error| bench::bench_failure(&error, &engine))?;
    if !point.reading.holds {
        // On standard error, so that a file made of the output stays empty rather than wrong.
        eprintln!("no steady state to start from: {}. {}", words(&point.reading), point.reading.meaning);
        if let Some(good) = point.last_good.as_deref() {
            eprintln!(
                "The nearest point with wider vanes that holds has them {:.1} % open.",
                good.settings.vane_open_pct
            );
        }
        return Ok(Answered::NoState);
    }

    let mut transient = Transient::start(&point);
    let mut samples = march(&mut transient, args.before_s);
    let step_s = samples.last().map_or(0.0, |last| last.time_s);
    transient.set(&after).map_err(|error| bench::bench_failure(&error, &engine))?;
    samples.extend(march(&mut transient, args.duration_s));
    for sample in &mut samples {
        sample.time_s -= step_s;
    }

    let from_n_m = point.reading.brake.torque_n_m;
    let t90_s = match after.load {
        Load::Torque { torque_n_m } => time_to_share(&samples, from_n_m, torque_n_m, 0.9),
        Load::Fuel { .. } => None,
    };
    if args.json {
        let start = PointJson::new(&point);
        let json = StepJson { engine: &engine.name, before, after, start, t90_s, samples: &samples };
        serde_json::to_writer_pretty(&mut *out, &json)?;
        writeln!(out)?;
    } else {
        write_csv(&samples, out)?;
        if std::io::stderr().is_terminal() {
            summary(&engine, &before, &after, t90_s, from_n_m);
        }
    }
    Ok(Answered::Yes)
}

/// The settings from time 0 on.
fn after(args: &StepArgs, before: &Settings) -> Result<Settings, Failure> {
    let load = bench::load(args.to_torque_nm, args.to_fuel_mg);
    if load.is_none() && args.to_vane.is_none() {
        return Err(Failure::BadInput(
            "nothing changes at time 0: add --to-torque-nm, --to-fuel-mg or --to-vane".to_owned(),
        ));
    }
    Ok(Settings {
        load: load.unwrap_or(before.load),
        vane_open_pct: args.to_vane.unwrap_or(before.vane_open_pct),
        ..*before
    })
}

/// Firing intervals until `span_s` has passed.
fn march(transient: &mut Transient, span_s: f64) -> Vec<Sample> {
    // Counted ahead: the speed is held, so all intervals are equally long.
    let intervals = (span_s / transient.interval_s()).ceil();
    (0..intervals as u64).map(|_| transient.advance()).collect()
}

/// Time of the first sample that has come `share` of the way; a step of less than 1 N m is none.
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

fn write_csv(samples: &[Sample], out: &mut impl Write) -> Result<(), Failure> {
    for (index, sample) in samples.iter().enumerate() {
        let serde_json::Value::Object(map) = serde_json::to_value(sample)? else { continue };
        if index == 0 {
            writeln!(out, "{}", map.keys().map(String::as_str).collect::<Vec<_>>().join(","))?;
        }
        let cells: Vec<String> =
            map.values().map(|value| if value.is_null() { String::new() } else { value.to_string() }).collect();
        writeln!(out, "{}", cells.join(","))?;
    }
    Ok(())
}

/// For somebody at a terminal, beside the numbers.
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
