//! `volute engines`: what engines there are, their files, and every parameter.

use crate::args::{CAUTION, EnginesArgs};
use crate::bench;
use crate::print::Column::{Left, Right};
use crate::print::Table;
use crate::{Answered, Failure};
use std::io::Write;
use volute_core::engine::GROUPS;
use volute_core::engine::engine_file::{self, BUILT_IN};
use volute_core::keys::Key;
use volute_core::settings::Ambient;

/// Lists engines, explains keys, or prints a file.
pub fn run(args: &EnginesArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    match &args.file {
        Some(name) => print_file(name, args, out)?,
        None if args.keys => print_keys(out)?,
        None => list(out)?,
    }
    Ok(Answered::Yes)
}

fn list(out: &mut impl Write) -> Result<(), Failure> {
    let mut table = Table::new([Left("name"), Right("litres"), Right("1/min"), Right("N m up to"), Left("what it is")]);
    for (name, _) in BUILT_IN {
        let engine = bench::engine(name)?;
        let range = &engine.range;
        table.row(vec![
            engine.name.clone(),
            format!("{:.2}", engine.displacement_m3() * 1000.0),
            format!("{} to {}", range.speed_min_rpm, range.speed_max_rpm),
            format!("{}", range.torque_max_n_m),
            engine.title.clone(),
        ]);
    }
    table.write(out)?;
    writeln!(
        out,
        "\nAll their numbers are invented. `volute engines --keys` explains each; `--file NAME` prints one."
    )?;
    writeln!(out, "{CAUTION}")?;
    Ok(())
}

fn print_keys(out: &mut impl Write) -> Result<(), Failure> {
    for (group, keys) in GROUPS.iter().chain([&("ambient", Ambient::KEYS)]) {
        writeln!(out, "{group}")?;
        let mut table = Table::new([Left("key"), Left("unit"), Left("allowed"), Left("what it is")]);
        for key in *keys {
            table.row(vec![
                key.path(),
                unit(key).to_owned(),
                format!("{} to {}", figure(key.min), figure(key.max)),
                key.about.to_owned(),
            ]);
        }
        table.write(out)?;
        writeln!(out)?;
    }
    Ok(())
}

fn unit(key: &Key) -> &str {
    if key.unit.is_empty() { "-" } else { key.unit }
}

/// A bound of a range, with an exponent where there would be many zeros.
fn figure(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || (1.0e-3..1.0e6).contains(&size) { format!("{value}") } else { format!("{value:e}") }
}

/// The file as it is if nothing is changed, so that its comments stay; otherwise a new one.
fn print_file(name: &str, args: &EnginesArgs, out: &mut impl Write) -> Result<(), Failure> {
    if args.set.is_empty()
        && let Some((_, text)) = BUILT_IN.iter().find(|(known, _)| known == &name)
    {
        write!(out, "{text}")?;
        return Ok(());
    }
    let mut engine = bench::engine(name)?;
    for one in &args.set {
        if bench::is_air(bench::known_key(&one.key)?) {
            return Err(Failure::bad(format_args!(
                "`--set {}`: the air outside is not part of an engine's file",
                one.key
            )));
        }
        engine.set(&one.key, one.value).map_err(Failure::bad)?;
    }
    engine.check().map_err(Failure::bad)?;
    write!(out, "{}", engine_file::to_toml(&engine))?;
    Ok(())
}
