//! `volute sweep`: many steady points, one quantity varied, on all cores.

use crate::args::SweepArgs;
use crate::bench::{self, MG_PER_KG};
use crate::point::{PointJson, words};
use crate::print::{self, Align, Table};
use crate::{Answered, Failure};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use serde::Serialize;
use serde_json::Value;
use std::io::Write;
use std::time::{Duration, Instant};
use volute_core::engine::Engine;
use volute_core::keys::Key;
use volute_core::point::reading::Reading;
use volute_core::point::steady::{self, Options};
use volute_core::settings::{Load, Settings};

/// Work that ends sooner needs no progress bar.
const SHOW_PROGRESS_AFTER: Duration = Duration::from_secs(1);

/// What a sweep varies.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Over {
    Vane,
    Torque,
    Fuel,
    Speed,
    Altitude,
    Key(&'static Key),
}

impl Over {
    fn parse(text: &str) -> Result<Self, Failure> {
        Ok(match text {
            "vane" => Self::Vane,
            "torque" => Self::Torque,
            "fuel" => Self::Fuel,
            "speed" => Self::Speed,
            "altitude" => Self::Altitude,
            path => Self::Key(bench::known_key(path).map_err(|failure| {
                Failure::BadInput(format!("`--over {path}`: {failure}; or vane, torque, fuel, speed or altitude"))
            })?),
        })
    }

    /// Name of the first column; a name of ours ends in its unit, as the keys do.
    fn column(self) -> String {
        match self {
            Self::Vane => "vane_open_pct".to_owned(),
            Self::Torque => "torque_n_m".to_owned(),
            Self::Fuel => "fuel_mg".to_owned(),
            Self::Speed => "speed_rpm".to_owned(),
            Self::Altitude => "altitude_m".to_owned(),
            Self::Key(key) => key.path(),
        }
    }

    /// Whether the air outside changes.
    fn moves_air(self) -> bool {
        self == Self::Altitude || matches!(self, Self::Key(key) if key.group == bench::AMBIENT)
    }

    /// The option that this sweep sets by itself, if any.
    fn option(self) -> Option<&'static str> {
        match self {
            Self::Vane => Some("--vane"),
            Self::Torque | Self::Fuel => Some("--torque-nm and --fuel-mg"),
            Self::Speed => Some("--speed-rpm"),
            Self::Altitude => Some("--altitude-m"),
            Self::Key(_) => None,
        }
    }
}

/// One point to be solved.
struct Asked {
    value: f64,
    engine: Engine,
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
        let engine = asked.first().map_or("", |first| first.engine.name.as_str());
        serde_json::to_writer_pretty(&mut *out, &SweepJson { engine, over: over.column(), points })?;
        writeln!(out)?;
    } else if args.csv {
        write_csv(over, &asked, &points, out)?;
    } else {
        write_table(over, &asked, &points, out)?;
    }
    Ok(if any { Answered::Yes } else { Answered::NoState })
}

/// Every point, checked before the first is solved.
fn plan(args: &SweepArgs, over: Over) -> Result<Vec<Asked>, Failure> {
    let given_twice = match over {
        Over::Vane => args.vane.is_some(),
        Over::Torque | Over::Fuel => args.torque_nm.is_some() || args.fuel_mg.is_some(),
        Over::Speed => args.speed_rpm.is_some(),
        Over::Altitude => args.bench.altitude_m.is_some(),
        Over::Key(key) => args.bench.set.iter().any(|one| one.key == key.path()),
    };
    if given_twice {
        let option = over.option().map_or_else(|| format!("--set {}", args.over), str::to_owned);
        return Err(Failure::BadInput(format!("`--over {}` sets that itself: leave {option} out", args.over)));
    }
    if args.from == args.to {
        return Err(Failure::BadInput(format!("`--from` and `--to` are both {}: a sweep needs two ends", args.from)));
    }
    let missing =
        |what: &str, option: &str| Failure::BadInput(format!("{what} is missing: add {option}, or sweep over it"));
    // Where the sweep sets a quantity, its first value stands in until then.
    let stand_in = |own: bool, given: Option<f64>| if own { Some(args.from) } else { given };
    let speed_rpm =
        stand_in(over == Over::Speed, args.speed_rpm).ok_or_else(|| missing("the engine speed", "--speed-rpm"))?;
    let vane_open_pct =
        stand_in(over == Over::Vane, args.vane).ok_or_else(|| missing("the vane position", "--vane"))?;
    let load = bench::load(stand_in(over == Over::Torque, args.torque_nm), stand_in(over == Over::Fuel, args.fuel_mg))
        .ok_or_else(|| missing("the load", "--torque-nm or --fuel-mg"))?;

    let engine = bench::engine(&args.bench.engine)?;
    let ambient = bench::ambient(args.bench.altitude_m)?;
    (0..args.points)
        .map(|index| {
            let value = value_at(args.from, args.to, index, args.points);
            let mut engine = engine.clone();
            let mut settings = Settings { speed_rpm, load, vane_open_pct, ambient };
            match over {
                Over::Vane => settings.vane_open_pct = value,
                Over::Torque => settings.load = Load::Torque { torque_n_m: value },
                Over::Fuel => settings.load = Load::Fuel { fuel_kg_per_cycle: value / MG_PER_KG },
                Over::Speed => settings.speed_rpm = value,
                Over::Altitude => settings.ambient = bench::ambient(Some(value))?,
                Over::Key(_) => {}
            }
            bench::apply(&args.bench.set, &mut engine, &mut settings)?;
            if let Over::Key(key) = over {
                bench::assign(&key.path(), value, &mut engine, &mut settings)?;
            }
            bench::check(&engine, &settings)?;
            Ok(Asked { value, engine, settings })
        })
        .collect()
}

/// Evenly spaced, and at the ends exactly what was asked, since a hair beyond may be out of range.
fn value_at(from: f64, to: f64, index: u32, points: u32) -> f64 {
    if index + 1 == points { to } else { from + (to - from) * f64::from(index) / f64::from(points - 1) }
}

/// Every point from nothing, not from its neighbour: the answer must not depend on how many cores there are. Only the
/// readings are kept, since a point carries the tables of its engine.
fn solve(asked: &[Asked]) -> Result<Vec<PointJson>, Failure> {
    let bar = ProgressBar::with_draw_target(Some(asked.len() as u64), ProgressDrawTarget::hidden());
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos} of {len} points, {eta} left") {
        bar.set_style(style);
    }
    let options = Options { trace: false, ..Options::default() };
    let begun = Instant::now();
    let points = asked
        .par_iter()
        .map(|asked| {
            let point = steady::solve_with(&asked.engine, &asked.settings, None, &options)
                .map(|point| PointJson::new(&point))
                .map_err(|error| bench::bench_failure(&error, &asked.engine));
            if bar.is_hidden() && begun.elapsed() > SHOW_PROGRESS_AFTER {
                // Draws nothing where standard error is no terminal.
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
fn write_csv(over: Over, asked: &[Asked], points: &[PointJson], out: &mut impl Write) -> Result<(), Failure> {
    let mut head = Vec::new();
    for (asked, point) in asked.iter().zip(points) {
        let reading = &point.reading;
        let mut cells = Vec::new();
        flatten("", &serde_json::to_value(reading)?, &mut cells);
        // A sentence that the outcome has already told, and names that the columns carry.
        cells.retain(|(name, _)| name != "meaning" && !(name.starts_with("limits.") && name.ends_with(".name")));
        if head.is_empty() {
            head = cells.iter().map(|(name, _)| name.clone()).collect();
            let names: Vec<String> = head.iter().map(|name| field(name)).collect();
            writeln!(out, "{},{}", field(&format!("over.{}", over.column())), names.join(","))?;
        }
        let holds = reading.holds;
        let row: Vec<String> = cells
            .iter()
            .map(|(name, cell)| {
                // Numbers of an attempt that found nothing are not results.
                let kept =
                    holds || ["settings.", "ambient.", "outcome", "holds"].iter().any(|part| name.starts_with(part));
                if kept { field(cell) } else { String::new() }
            })
            .collect();
        writeln!(out, "{},{}", asked.value, row.join(","))?;
    }
    Ok(())
}

/// Dotted names and values of everything in a JSON value; a limit goes by its name.
fn flatten(prefix: &str, value: &Value, cells: &mut Vec<(String, String)>) {
    let join = |name: &str| if prefix.is_empty() { name.to_owned() } else { format!("{prefix}.{name}") };
    match value {
        Value::Object(map) => map.iter().for_each(|(name, value)| flatten(&join(name), value, cells)),
        Value::Array(list) => {
            for (index, value) in list.iter().enumerate() {
                let name = value.get("name").and_then(Value::as_str).map_or_else(|| index.to_string(), str::to_owned);
                flatten(&join(&name), value, cells);
            }
        }
        Value::Null => cells.push((prefix.to_owned(), String::new())),
        Value::String(text) => cells.push((prefix.to_owned(), text.clone())),
        other => cells.push((prefix.to_owned(), other.to_string())),
    }
}

/// A field of a CSV row, in quotes where it needs them.
fn field(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() }
}

fn write_table(over: Over, asked: &[Asked], points: &[PointJson], out: &mut impl Write) -> Result<(), Failure> {
    let Some(first) = asked.first() else { return Ok(()) };
    let column = over.column();
    let held: Vec<String> = print::settings_parts(&first.settings)
        .into_iter()
        .zip([over == Over::Speed, matches!(over, Over::Torque | Over::Fuel), over == Over::Vane, over.moves_air()])
        .filter_map(|(part, varied)| (!varied).then_some(part))
        .collect();
    writeln!(out, "{}: {}", first.engine.name, first.engine.title)?;
    writeln!(out, "{}; over {column}. Pressures are absolute, boost is gauge.\n", held.join(", "))?;
    let mut table = Table::new(&[
        (column.as_str(), Align::Right),
        ("N m", Align::Right),
        ("fuel mg", Align::Right),
        ("boost kPa", Align::Right),
        ("p2 kPa", Align::Right),
        ("p3 kPa", Align::Right),
        ("p2-p3 kPa", Align::Right),
        ("T3 °C", Align::Right),
        ("1000/min", Align::Right),
        ("AFR", Align::Right),
        ("PMEP kPa", Align::Right),
        ("outcome, limits crossed", Align::Left),
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
    // Nine figures: the steps of a sweep are rarely round in binary.
    let value = format!("{:.9e}", asked.value).parse::<f64>().unwrap_or(asked.value);
    let mut cells = vec![value.to_string()];
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
    if over != Over::Vane {
        return None;
    }
    let holding = asked.iter().zip(points).filter(|(_, point)| point.reading.holds);
    match asked.first()?.settings.load {
        Load::Torque { torque_n_m } => {
            // Where a limit holds the fuel back, less fuel is less torque and no gain.
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

    #[test]
    fn by_hand_names_are_dotted_and_limits_go_by_name() {
        let value = serde_json::json!({
            "outcome": "matched", "a": { "b": 1.5, "c": null }, "limits": [{ "name": "surge_margin", "margin": -0.25 }]
        });
        let mut cells = Vec::new();
        flatten("", &value, &mut cells);
        let expected = [
            ("outcome", "matched"),
            ("a.b", "1.5"),
            ("a.c", ""),
            ("limits.surge_margin.name", "surge_margin"),
            ("limits.surge_margin.margin", "-0.25"),
        ];
        let cells: Vec<(&str, &str)> = cells.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        assert_eq!(cells, expected);
    }

    #[test]
    fn by_hand_a_field_with_a_comma_stands_in_quotes() {
        assert_eq!(field("plain"), "plain");
        assert_eq!(field("a, \"b\""), "\"a, \"\"b\"\"\"");
    }
}
