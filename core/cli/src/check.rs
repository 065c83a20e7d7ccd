//! `volute check`: reads files and says everything that is wrong with them.

use crate::args::CheckArgs;
use crate::bench::read_text;
use crate::{Answered, Failure};
use rayon::prelude::*;
use std::io::Write;
use std::path::{Path, PathBuf};
use volute_core::engine::engine_file;
use volute_lessons::bench::SharedSolver;
use volute_lessons::check::{self, Tally};
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::parse;
use volute_lessons::problem::Problem;
use volute_lessons::seed::Seed;
use volute_lessons::translation;
use walkdir::WalkDir;

/// Largest file that is read, in bytes.
const LARGEST: usize = volute_lessons::parse::LARGEST + 1;

/// Checks every file and says of each what it is or what is wrong.
pub fn run(args: &CheckArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let mut answered = Answered::Yes;
    for path in files(&args.files)? {
        match check(&path, args.seeds) {
            Ok(what) => writeln!(out, "{}: good. {what}", path.display())?,
            Err(Failure::BadInput(why)) => {
                answered = Answered::Rejected;
                for line in why.lines() {
                    // A line that begins with its place follows the colon of the path directly.
                    let gap = if line.starts_with(|c: char| c.is_ascii_digit()) { "" } else { " " };
                    writeln!(out, "{}:{gap}{line}", path.display())?;
                }
            }
            Err(other) => return Err(other),
        }
        out.flush()?;
    }
    Ok(answered)
}

/// Every file, with the lessons of folders. A translation comes after the lesson that it translates.
fn files(asked: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut all = Vec::new();
    for path in asked {
        if !path.is_dir() {
            all.push(path.clone());
            continue;
        }
        let mut found = Vec::new();
        for entry in WalkDir::new(path).follow_links(true) {
            let entry = entry.map_err(|error| Failure::bad(format_args!("folder {}: {error}", path.display())))?;
            if entry.file_type().is_file() && entry.path().extension().is_some_and(|extension| extension == "md") {
                found.push(entry.into_path());
            }
        }
        if found.is_empty() {
            let folder = path.display();
            return Err(Failure::bad(format_args!(
                "folder {folder}: there is no lesson in it; a lesson's name ends in .md"
            )));
        }
        found.sort_by_key(|path| (path.components().count(), path.clone()));
        all.extend(found);
    }
    Ok(all)
}

/// What the file is; a `BadInput` has one problem on each line.
fn check(path: &Path, seeds: u32) -> Result<String, Failure> {
    // The extension decides, because the content of a bad file does not show its kind.
    match path.extension().and_then(|extension| extension.to_str()) {
        Some("toml") => check_engine(path),
        Some("md") => check_lesson(path, seeds),
        _ => Err(Failure::bad(
            "not a kind of file that can be checked; an engine's name ends in .toml, a lesson's in .md",
        )),
    }
}

fn read_lesson(path: &Path) -> Result<(Lesson, String), Failure> {
    let text = read_text(path, LARGEST)?;
    let lesson = parse(&text).map_err(|problems| {
        let line = |p: &Problem| format!("{}:{}: {}", p.place.line, p.place.column, p.kind);
        Failure::bad(problems.iter().map(line).collect::<Vec<_>>().join("\n"))
    })?;
    Ok((lesson, text))
}

fn check_lesson(path: &Path, seeds: u32) -> Result<String, Failure> {
    let (lesson, text) = read_lesson(path)?;
    let mut lines = Vec::new();
    if path.file_stem().is_some_and(|stem| stem != lesson.id.as_str()) {
        lines.push(format!("1:1: the id is `{}`; the name of the file must be {}.md", lesson.id, lesson.id));
    }
    if let Some(english) = english_of(path) {
        // If the English file cannot be read, its own lines say why.
        if let Ok((english, _)) = read_lesson(&english) {
            lines.extend(translation::differences(&english, &lesson).into_iter().map(|line| format!("1:1: {line}")));
        }
    }
    let solver = SharedSolver::default();
    let tally = (0..seeds)
        .into_par_iter()
        .map(|seed| check::check_seed(&lesson, Seed(seed.into()), &mut &solver))
        .fold(Tally::default, |mut tally, met| {
            tally.add(met);
            tally
        })
        .reduce(Tally::default, Tally::join);
    for finding in check::form(&lesson).into_iter().chain(tally.finish()) {
        let place = finding.at(&lesson, &text);
        let seed = finding.seed.map(|seed| format!(" (seed {})", seed.0)).unwrap_or_default();
        lines.push(format!("{}:{}: {}: {}{seed}", place.line, place.column, finding.place, finding.kind));
    }
    if lines.is_empty() {
        let scored = lesson.checkpoints().filter(|checkpoint| checkpoint.question.is_scored()).count();
        let (tasks, pins) = (lesson.tasks().count(), lesson.setup.pins.len());
        return Ok(format!(
            "Lesson {}: {tasks} tasks, {scored} scored checkpoints, {pins} pins of its own, tried with {seeds} seeds",
            lesson.id
        ));
    }
    Err(Failure::bad(lines.join("\n")))
}

/// For a lesson in a folder of translations: the file that it translates.
fn english_of(path: &Path) -> Option<PathBuf> {
    let folder = path.canonicalize().ok()?.parent()?.to_path_buf();
    let language = folder.file_name()?.to_str()?;
    let english = folder.parent()?.join(path.file_name()?);
    (language.len() == 2 && english.is_file()).then_some(english)
}

fn check_engine(path: &Path) -> Result<String, Failure> {
    let text = read_text(path, engine_file::MAX_BYTES)?;
    let engine = engine_file::parse(&text).map_err(Failure::bad)?;
    Ok(format!("Engine {}: {}", engine.name, engine.title))
}
