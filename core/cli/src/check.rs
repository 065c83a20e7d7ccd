//! `volute check`: files, each with everything that is wrong with it.

use crate::args::CheckArgs;
use crate::bench::read_text;
use crate::{Answered, Failure};
use std::io::Write;
use std::path::Path;
use volute_core::engine_file;

/// Checks every file and says of each what it is or what is wrong.
pub fn run(args: &CheckArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let mut answered = Answered::Yes;
    for path in &args.files {
        match check(path) {
            Ok(what) => writeln!(out, "{}: good. {what}", path.display())?,
            Err(Failure::BadInput(why)) => {
                answered = Answered::Rejected;
                for line in why.lines() {
                    writeln!(out, "{}: {line}", path.display())?;
                }
            }
            Err(other) => return Err(other),
        }
    }
    Ok(answered)
}

/// What the file is; a `BadInput` has one problem on each line.
fn check(path: &Path) -> Result<String, Failure> {
    // By extension, since a bad file's kind cannot be told from what is in it.
    match path.extension().and_then(|extension| extension.to_str()) {
        Some("toml") => check_engine(path),
        _ => {
            Err(Failure::BadInput("not a kind of file that can be checked; an engine's name ends in .toml".to_owned()))
        }
    }
}

fn check_engine(path: &Path) -> Result<String, Failure> {
    let text = read_text(path, engine_file::MAX_BYTES).map_err(|failure| match failure {
        // The path is printed with every line anyway.
        Failure::BadInput(why) => {
            Failure::BadInput(why.trim_start_matches(&format!("file {}: ", path.display())).to_owned())
        }
        other => other,
    })?;
    let engine = engine_file::parse(&text).map_err(|error| Failure::BadInput(error.to_string()))?;
    Ok(format!("Engine {}: {}", engine.name, engine.title))
}
