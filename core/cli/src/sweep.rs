//! `volute sweep`: many steady points, one quantity varied, on all cores.

use crate::args::SweepArgs;
use crate::bench::{self, Bench, MG_PER_KG, nine_figures};
use crate::output::{self, Row};
use crate::point::{PointJson, words};
use crate::print::Column::{Left, Right};
use crate::print::{self, Table};
use crate::{Answered, Failure};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use serde::Serialize;
use std::io::Write;
use std::time::{Duration, Instant};
use volute_core::keys::Key;
use volute_core::point::reading::Reading;
use volute_core::settings::{Load, Settings};
use volute_quantities::settings::{HELD, Held};

/// Time after which a progress bar appears.
const SHOW_PROGRESS_AFTER: Duration = Duration::from_secs(1);

/// What a sweep varies: something that the bench is held at, or a parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Over {
    Held(&'static Held),
    Key(&'static Key),
}

impl Over {
    fn parse(text: &str) -> Result<Self, Failure> {
        if let Some(held) = HELD.iter().find(|held| held.key == text) {
            return Ok(Self::Held(held));
        }
        bench::known_key(text).map(Self::Key).map_err(|failure| {
            let names: Vec<&str> = HELD.iter().map(|held| held.key).collect();
            Failure::bad(format_args!("`--over {text}`: {failure}; or one of {}", names.join(", ")))
        })
    }

    /// Whether it is this one of what the bench is held at.
    fn is(self, key: &str) -> bool {
        matches!(self, Self::Held(held) if held.key == key)
    }

    /// Whether it is the load, as a torque or as fuel.
    fn is_load(self) -> bool {
        self.is("torque") || self.is("fuel")
    }

    /// Whether the air outside changes.
    fn moves_air(self) -> bool {
        self.is("altitude") || matches!(self, Self::Key(key) if bench::is_air(key))
    }

    /// Name of the first column. It ends in its unit, as the keys do.
    fn column(self) -> String {
        match self {
            Self::Held(held) => held.column.to_owned(),
            Self::Key(key) => key.path(),
        }
    }

    /// The options that this sweep sets by itself.
    fn option(self) -> String {
        match self {
            Self::Held(_) if self.is_load() => "--torque-nm and --fuel-mg".to_owned(),
            Self::Held(held) => held.option.to_owned(),
            Self::Key(key) => format!("--set {}", key.path()),
        }
    }
}

/// One point to be solved.
struct Asked {
    value: f64,
    bench: Bench,
    settings: Settings,
}

/// A point of the sweep in JSON.
#[derive(Debug, Serialize)]
struct PointOfSweep<'a> {
    value: f64,
    reading: &'a PointJson,
}

/// A sweep in JSON.
#[derive(Debug, Serialize)]
struct SweepJson<'a> {
    engine: &'a str,
    over: String,
    points: Vec<PointOfSweep<'a>>,
}

/// Solves and prints a sweep.
pub fn run(args: &SweepArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let over = Over::parse(&args.over)?;
    let asked = plan(args, over)?;
    let points = solve(&asked)?;
    let any = points.iter().any(|point| point.reading.holds);
    if args.json {
        let points = asked
            .iter()
            .zip(&points)
            .map(|(asked, point)| PointOfSweep { value: asked.value, reading: point })
            .collect();
        let engine = asked.first().map_or("", |first| first.bench.engine.name.as_str());
        output::json(&SweepJson { engine, over: over.column(), points }, out)?;
    } else if args.csv {
        output::csv(asked.iter().zip(&points).map(|(asked, point)| csv_row(over, asked, point)), out)?;
    } else {
        write_table(over, &asked, &points, out)?;
    }
    Ok(if any { Answered::Yes } else { Answered::NoState })
}

/// Every point. Errors: a point that is not allowed, found before the first is solved.
fn plan(args: &SweepArgs, over: Over) -> Result<Vec<Asked>, Failure> {
    let load_given = args.torque_nm.is_some() || args.fuel_mg.is_some();
    let given_twice = over.is("vane") && args.vane.is_some()
        || over.is_load() && load_given
        || over.is("speed") && args.speed_rpm.is_some()
        || over.is("altitude") && args.bench.altitude_m.is_some()
        || matches!(over, Over::Key(key) if args.bench.set.iter().any(|one| one.key == key.path()));
    if given_twice {
        let (over, option) = (&args.over, over.option());
        return Err(Failure::bad(format_args!("`--over {over}` sets that itself: leave {option} out")));
    }
    if args.from == args.to {
        return Err(Failure::bad(format_args!("`--from` and `--to` are both {}: a sweep needs two ends", args.from)));
    }
    let missing =
        |what: &str, option: &str| Failure::bad(format_args!("{what} is missing: add {option}, or sweep over it"));
    // A quantity that the sweep sets has the first value of the sweep until then.
    let stand_in = |own: bool, given: Option<f64>| if own { Some(args.from) } else { given };
    let speed_rpm =
        stand_in(over.is("speed"), args.speed_rpm).ok_or_else(|| missing("the engine speed", "--speed-rpm"))?;
    let vane_open_pct = stand_in(over.is("vane"), args.vane).ok_or_else(|| missing("the vane position", "--vane"))?;
    let load = bench::load(stand_in(over.is("torque"), args.torque_nm), stand_in(over.is("fuel"), args.fuel_mg))
        .ok_or_else(|| missing("the load", "--torque-nm or --fuel-mg"))?;

    let base = Bench { engine: bench::engine(&args.bench.engine)?, ambient: bench::ambient(args.bench.altitude_m)? };
    (0..args.points)
        .map(|index| {
            let value = value_at(args.from, args.to, index, args.points);
            let mut bench = base.clone();
            if over.is("altitude") {
                bench.ambient = bench::ambient(Some(value))?;
            }
            bench.set_all(&args.bench.set)?;
            if let Over::Key(key) = over {
                bench.set(&key.path(), value)?;
            }
            let mut settings = Settings { speed_rpm, load, vane_open_pct, ambient: bench.ambient };
            match over {
                Over::Held(Held { key: "vane", .. }) => settings.vane_open_pct = value,
                Over::Held(Held { key: "speed", .. }) => settings.speed_rpm = value,
                Over::Held(Held { key: "torque", .. }) => settings.load = Load::Torque { torque_n_m: value },
                Over::Held(Held { key: "fuel", .. }) => {
                    settings.load = Load::Fuel { fuel_kg_per_cycle: value / MG_PER_KG };
                }
                Over::Held(_) | Over::Key(_) => {}
            }
            bench.check(&settings)?;
            Ok(Asked { value, bench, settings })
        })
        .collect()
}

/// Evenly spaced values. The ends are exact, because a rounding error beyond them may be out of range.
fn value_at(from: f64, to: f64, index: u32, points: u32) -> f64 {
    if index + 1 == points { to } else { from + (to - from) * f64::from(index) / f64::from(points - 1) }
}

/// Solves every point from nothing and not from its neighbour, so that the answer does not depend on how many cores there are.
/// Only the readings are kept, because a point carries the tables of its engine.
fn solve(asked: &[Asked]) -> Result<Vec<PointJson>, Failure> {
    let bar = ProgressBar::with_draw_target(Some(asked.len() as u64), ProgressDrawTarget::hidden());
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos} of {len} points, {eta} left") {
        bar.set_style(style);
    }
    let begun = Instant::now();
    let points = asked
        .par_iter()
        .map(|asked| {
            let point = asked.bench.solve(&asked.settings, false).map(|point| PointJson::new(&point));
            if bar.is_hidden() && begun.elapsed() > SHOW_PROGRESS_AFTER {
                // The bar draws nothing if standard error is not a terminal.
                bar.set_draw_target(ProgressDrawTarget::stderr());
            }
            bar.inc(1);
            point
        })
        .collect();
    bar.finish_and_clear();
    points
}

/// Every number of the reading in a column that is named as in the JSON.
fn csv_row(over: Over, asked: &Asked, point: &PointJson) -> Result<Row, Failure> {
    let mut row = vec![(format!("over.{}", over.column()), asked.value.to_string())];
    for (name, cell) in output::cells(&point.reading)? {
        // The outcome says what the sentence says, and the name of a limit stands in the head.
        if name == "meaning" || name.starts_with("limits.") && name.ends_with(".name") {
            continue;
        }
        // Numbers of an attempt that found nothing are not results.
        let kept = point.reading.holds
            || ["settings.", "ambient.", "outcome", "holds"].iter().any(|part| name.starts_with(part));
        row.push((name, if kept { cell } else { String::new() }));
    }
    Ok(row)
}

fn write_table(over: Over, asked: &[Asked], points: &[PointJson], out: &mut impl Write) -> Result<(), Failure> {
    let Some(first) = asked.first() else { return Ok(()) };
    let column = over.column();
    let held: Vec<String> = print::settings_parts(&first.settings)
        .into_iter()
        .zip([over.is("speed"), over.is_load(), over.is("vane"), over.moves_air()])
        .filter_map(|(part, varied)| (!varied).then_some(part))
        .collect();
    writeln!(out, "{}: {}", first.bench.engine.name, first.bench.engine.title)?;
    writeln!(out, "{}; over {column}. Pressures are absolute, boost is gauge.\n", held.join(", "))?;
    let mut table = Table::new([
        Right(column.as_str()),
        Right("N m"),
        Right("fuel mg"),
        Right("boost kPa"),
        Right("p2 kPa"),
        Right("p3 kPa"),
        Right("p2-p3 kPa"),
        Right("T3 °C"),
        Right("1000/min"),
        Right("AFR"),
        Right("PMEP kPa"),
        Left("outcome, limits crossed"),
    ]);
    for (asked, point) in asked.iter().zip(points) {
        table.row(row(asked, &point.reading));
    }
    table.write(out)?;
    if let Some(sentence) = best_vane(over, asked, points) {
        writeln!(out, "\n{sentence}")?;
    }
    writeln!(out, "\n{}", crate::args::CAUTION)?;
    Ok(())
}

fn row(asked: &Asked, r: &Reading) -> Vec<String> {
    let mut cells = vec![nine_figures(asked.value).to_string()];
    if r.holds {
        cells.extend([
            print::fixed(r.brake.torque_n_m, 1),
            format!("{:.2}", r.fuel_kg_per_cycle * MG_PER_KG),
            print::kpa(r.boost_pa),
            print::kpa(r.stations.compressor_outlet.p_pa),
            print::kpa(r.stations.turbine_inlet.p_pa),
            print::kpa(r.pressure_balance_pa),
            print::celsius(r.stations.turbine_inlet.t_k),
            print::thousand_rpm(r.shaft.speed_rad_s),
            format!("{:.1}", r.air_fuel_ratio),
            print::kpa(r.indicated.pumping_mep_pa),
        ]);
        let crossed: Vec<&str> =
            r.limits.iter().filter(|limit| limit.crossed).map(|limit| print::limit_words(limit.name)).collect();
        let crossed = if crossed.is_empty() { String::new() } else { format!("; past {}", crossed.join(", ")) };
        cells.push(format!("{}{crossed}", words(r)));
    } else {
        cells.extend(std::iter::repeat_n("-".to_owned(), 10));
        cells.push(words(r));
    }
    cells
}

/// The vane position with the least fuel for the torque, or the most torque for the fuel.
fn best_vane(over: Over, asked: &[Asked], points: &[PointJson]) -> Option<String> {
    if !over.is("vane") {
        return None;
    }
    let holding = asked.iter().zip(points).filter(|(_, point)| point.reading.holds);
    match asked.first()?.settings.load {
        Load::Torque { torque_n_m } => {
            // Where a limit holds the fuel back, less fuel gives less torque, which is no gain.
            let carried = holding.filter(|(_, point)| point.reading.brake.torque_n_m > 0.999 * torque_n_m);
            let fuel = |point: &PointJson| point.reading.fuel_kg_per_cycle;
            let (asked, point) = carried.min_by(|(_, a), (_, b)| fuel(a).total_cmp(&fuel(b)))?;
            Some(format!(
                "Least fuel for this torque: {:.2} mg, with the vanes {} % open.",
                fuel(point) * MG_PER_KG,
                asked.value
            ))
        }
        Load::Fuel { .. } => {
            let torque = |point: &PointJson| point.reading.brake.torque_n_m;
            let (asked, point) = holding.max_by(|(_, a), (_, b)| torque(a).total_cmp(&torque(b)))?;
            Some(format!(
                "Most torque from this fuel: {:.1} N m, with the vanes {} % open.",
                torque(point),
                asked.value
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_sweep_begins_and_ends_where_it_was_told() {
        let values: Vec<f64> = (0..11).map(|index| value_at(0.0, 0.3, index, 11)).collect();
        assert_eq!((values.first(), values.last(), values.len()), (Some(&0.0), Some(&0.3), 11));
        assert_eq!(value_at(700.0, 2500.0, 1, 19), 800.0);
        assert_eq!(value_at(5.0, 1.0, 1, 3), 3.0);
    }
}
