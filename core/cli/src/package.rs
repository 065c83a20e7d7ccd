//! `volute package`: lessons for a learning management system.

use crate::args::{PackageArgs, PackageKind};
use crate::{Answered, Failure};
use std::fmt::Display;
use std::fs;
use std::io::Write;
use std::path::Path;
use volute_lessons::assignment::{self, Assignment, BEGIN, Item, Numbers};
use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::catalog;
use volute_lessons::seed::Seed;
use volute_package::moodle::{self, Wording};
use volute_package::site::PAGE;
use volute_package::zip::Entry;
use volute_package::{Contents, Kind, pack};
use walkdir::WalkDir;

/// Level of the compressor: it makes the files as small as it can.
const SMALLEST: u8 = 10;
/// Largest folder that is read, in bytes: a wrong folder is noticed before it is all in memory.
const LARGEST_SITE: u64 = 64 << 20;

/// Makes the package and says what is in it.
pub fn run(args: &PackageArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    refuse_unused(args)?;
    let assignment = assignment(args)?;
    let (package, what) = match args.kind {
        PackageKind::Scorm12 => site_package(Kind::Scorm12, &assignment, args)?,
        PackageKind::Cmi5 => site_package(Kind::Cmi5, &assignment, args)?,
        PackageKind::MoodleXml => questions(&assignment, args)?,
    };
    let (path, size) = (args.out.display(), package.len().div_ceil(1000));
    fs::write(&args.out, &package).map_err(|error| Failure::bad(format_args!("`--out {path}`: {error}")))?;
    let (format, rest) = what;
    writeln!(out, "{path}: {format}, {size} kB, {rest}")?;
    Ok(Answered::Yes)
}

/// Refuses the options that a package of this kind has no use for.
fn refuse_unused(args: &PackageArgs) -> Result<(), Failure> {
    let xml = args.kind == PackageKind::MoodleXml;
    let only_xml = "only `--kind moodle-xml` takes it";
    let unused = [
        (!xml && args.variants.is_some(), "--variants", only_xml),
        (!xml && args.page.is_some(), "--page", only_xml),
        (xml && args.site.is_some(), "--site", "questions as Moodle XML hold no page"),
        (xml && args.pass.is_some(), "--pass", "the pass mark is set in Moodle's quiz"),
        (xml && args.title.is_some(), "--title", "Moodle's questions are named for their lessons"),
    ];
    match unused.iter().find(|(given, ..)| *given) {
        Some((_, option, why)) => Err(Failure::bad(format_args!("`{option}` is not allowed here: {why}"))),
        None => Ok(()),
    }
}

/// What was made: its bytes, its format, and what else to say of it.
type Made = (Vec<u8>, (String, String));

/// The page in a zip.
fn site_package(kind: Kind, assignment: &Assignment, args: &PackageArgs) -> Result<Made, Failure> {
    let folder = args.site.as_deref().ok_or_else(|| {
        Failure::bad(format_args!(
            "a {kind} package holds the page: add `--site` with the folder that `cargo xtask build` writes"
        ))
    })?;
    let contents = Contents::of(assignment, catalog(), &args.language);
    let package = pack(kind, read_site(folder)?, &contents).map_err(Failure::bad)?;
    let pass = contents.pass_pct.map_or_else(|| "no pass mark".into(), |pct| format!("passes at {pct} %"));
    Ok((package, (kind.to_string(), format!("\u{201c}{}\u{201d}, {pass}", contents.title))))
}

/// Questions as Moodle XML.
fn questions(assignment: &Assignment, args: &PackageArgs) -> Result<Made, Failure> {
    if let Some(page) = args.page.as_deref().filter(|page| !good_address(page)) {
        return Err(Failure::bad(format_args!(
            "`--page {page}`: allowed is an address that begins with https:// and has no # and no spaces"
        )));
    }
    let first = match (args.seed, assignment.numbers) {
        (Some(seed), _) | (None, Numbers::Same(Seed(seed))) => seed,
        _ => 1,
    };
    let count = u64::from(args.variants.unwrap_or(1));
    let last = first.checked_add(count - 1).ok_or_else(|| {
        Failure::bad(format_args!("`--seed {first}` and {count} variants go beyond the last one, {}", u64::MAX))
    })?;
    let seeds: Vec<Seed> = (first..=last).map(Seed).collect();
    let lessons = assignment.lessons().into_iter().filter_map(|id| catalog().lesson(id));
    let wording = Wording { page: args.page.as_deref(), ..Wording::default() };
    let wanted = |lesson: &str, id: &str| assignment.asks(lesson, id);
    let xml = moodle::questions(lessons, &seeds, wanted, wording, &mut CoreSolver::default()).map_err(Failure::bad)?;
    let questions = xml.matches("<idnumber>").count();
    Ok((xml.into_bytes(), ("Moodle XML".into(), format!("{questions} questions, variants {first} to {last}"))))
}

fn good_address(page: &str) -> bool {
    page.strip_prefix("https://").is_some_and(|rest| !rest.is_empty())
        && !page.contains(|c: char| c == '#' || c.is_whitespace() || c.is_control())
}

/// What the command line asks for, all of it known to this build.
fn assignment(args: &PackageArgs) -> Result<Assignment, Failure> {
    let mut assignment = match &args.assignment {
        Some(link) => {
            // In a whole link the page's address stands before it, and perhaps a state of the bench.
            let text = link.find(BEGIN).map_or(link.as_str(), |at| &link[at..]);
            assignment::decode(text).map_err(|error| Failure::bad(format_args!("`--assignment`: {error}")))?
        }
        None => {
            let items = args.lessons.iter().map(|text| match text.trim().split_once('/') {
                Some((lesson, only)) => Item::single(lesson, only),
                None => Item::lesson(text.trim()),
            });
            Assignment::of(items.collect())
        }
    };
    if let Some(title) = &args.title {
        assignment.title.clone_from(title);
    }
    if let Some(pass) = args.pass {
        assignment.pass_pct = pass;
    }
    if let Some(seed) = args.seed {
        assignment.numbers = Numbers::Same(Seed(seed));
    }
    let unknown: Vec<String> = assignment.unknown(catalog()).iter().map(ToString::to_string).collect();
    if !unknown.is_empty() {
        let known: Vec<&str> = catalog().lessons.iter().map(|lesson| lesson.id.as_str()).collect();
        return Err(Failure::bad(format_args!("{}; lessons are {}", unknown.join("; "), known.join(", "))));
    }
    assignment.check().map_err(|error| Failure::bad(format_args!("this makes no assignment: {error}")))?;
    Ok(assignment)
}

/// Every file of the built page, with its deflate stream.
fn read_site(folder: &Path) -> Result<Vec<Entry>, Failure> {
    let refused = |why: &dyn Display| Failure::bad(format_args!("`--site {}`: {why}", folder.display()));
    if !folder.join(PAGE).is_file() {
        return Err(refused(&format_args!(
            "there is no `{PAGE}`; allowed is the folder that `cargo xtask build` writes"
        )));
    }
    let mut files = Vec::new();
    let mut room = LARGEST_SITE;
    for entry in WalkDir::new(folder).follow_links(true).sort_by_file_name() {
        let entry = entry.map_err(|error| refused(&error))?;
        if entry.file_type().is_dir() {
            continue;
        }
        let path = entry.path();
        let length = entry.metadata().map_err(|error| refused(&error))?.len();
        room = room.checked_sub(length).ok_or_else(|| {
            let (most, path) = (LARGEST_SITE >> 20, path.display());
            refused(&format_args!("more than {most} MB up to `{path}`; this is not the built page"))
        })?;
        let bytes = fs::read(path).map_err(|error| refused(&format_args!("{}: {error}", path.display())))?;
        let steps = path.strip_prefix(folder).unwrap_or(path).components();
        let steps: Vec<_> = steps.map(|step| step.as_os_str().to_string_lossy()).collect();
        let deflated = Some(miniz_oxide::deflate::compress_to_vec(&bytes, SMALLEST));
        files.push(Entry { name: steps.join("/"), bytes, deflated });
    }
    Ok(files)
}
