//! `volute point`: one steady operating point.

use crate::args::{CAUTION, PointArgs};
use crate::bench::Bench;
use crate::print::Column::Right;
use crate::print::{self, Table};
use crate::{Answered, Failure, output};
use serde::Serialize;
use std::io::Write;
use volute_core::point::reading::{Reading, Trace};
use volute_core::point::steady::Point;

/// A point as JSON: the reading, and beside it the nearest point that holds where this one does not.
#[derive(Debug, Serialize)]
pub struct PointJson {
    /// The numbers; those of the last attempt if it does not hold.
    #[serde(flatten)]
    pub reading: Reading,
    #[serde(skip_serializing_if = "Option::is_none")]
    last_good: Option<LastGood>,
}

/// The nearest point with wider vanes that holds.
#[derive(Debug, Serialize)]
struct LastGood {
    vane_open_pct: f64,
    reading: Reading,
}

impl PointJson {
    /// The readings of a point, with a trace if the point was solved with one.
    pub fn new(point: &Point) -> Self {
        Self {
            reading: point.reading.clone(),
            last_good: point
                .last_good
                .as_deref()
                .map(|good| LastGood { vane_open_pct: good.settings.vane_open_pct, reading: good.reading.clone() }),
        }
    }
}

/// Solves and prints a point.
pub fn run(args: &PointArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let bench = Bench::new(&args.bench)?;
    let settings = bench.settings(&args.held)?;
    let point = bench.solve(&settings, args.trace)?;
    let reading = &point.reading;
    let answered = if reading.holds { Answered::Yes } else { Answered::NoState };
    if args.json {
        output::json(&PointJson::new(&point), out)?;
        return Ok(answered);
    }
    print::head(&bench.engine, &settings, out)?;
    writeln!(out, "\nOutcome: {}. {}", words(reading), reading.outcome.meaning())?;
    if reading.holds {
        writeln!(out, "{}", print::verdict(reading))?;
        print::reading(reading, out)?;
        if let Some(trace) = &reading.trace {
            print_trace(trace, out)?;
        }
    }
    if let Some(good) = point.last_good.as_deref() {
        writeln!(
            out,
            "\nThe nearest point with wider vanes that holds has them {:.1} % open{}",
            good.settings.vane_open_pct,
            if reading.holds { "." } else { ":" }
        )?;
        if !reading.holds {
            writeln!(out, "{}", print::verdict(&good.reading))?;
            print::reading(&good.reading, out)?;
        }
    }
    writeln!(out, "\n{CAUTION}")?;
    Ok(answered)
}

/// The outcome's name in words.
pub fn words(reading: &Reading) -> String {
    reading.outcome.name().replace('_', " ")
}

/// One row for each 15 degrees, so that the table fits on a screen.
fn print_trace(trace: &Trace, out: &mut impl Write) -> Result<(), Failure> {
    const EVERY_DEG: f64 = 15.0;
    writeln!(out, "\nOne cylinder over a cycle, every {EVERY_DEG} degrees (all of it in --json; pressures absolute)")?;
    let mut table = Table::new([
        Right("degrees after firing"),
        Right("volume cm3"),
        Right("cylinder kPa"),
        Right("gas °C"),
        Right("intake manifold kPa"),
        Right("exhaust manifold kPa"),
    ]);
    for (index, angle_deg) in trace.crank_angle_deg.iter().enumerate().filter(|(_, angle)| *angle % EVERY_DEG == 0.0) {
        let at = |column: &[f64], show: &dyn Fn(f64) -> String| {
            column.get(index).map_or(String::new(), |value| show(*value))
        };
        table.row(vec![
            format!("{angle_deg:.0}"),
            at(&trace.volume_m3, &|m3| format!("{:.1}", m3 * 1.0e6)),
            at(&trace.pressure_pa, &print::kpa),
            at(&trace.temperature_k, &print::celsius),
            at(&trace.intake_manifold_pa, &print::kpa),
            at(&trace.exhaust_manifold_pa, &print::kpa),
        ]);
    }
    table.write(out)?;
    Ok(())
}
