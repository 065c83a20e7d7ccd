//! `volute package`: lessons for a learning management system.

use crate::args::{PackageArgs, PackageKind};
use crate::{Answered, Failure};
use std::fs;
use std::io::Write;
use std::path::Path;
use volute_lessons::assignment::{self, Assignment, BEGIN, Item, Numbers};
use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::{Catalog, catalog};
use volute_lessons::seed::Seed;
use volute_package::moodle::{self, Wording};
use volute_package::site::PAGE;
use volute_package::zip::Entry;
use volute_package::{Contents, Kind, pack};

/// Level of the compressor: as small as it can.
const SMALLEST: u8 = 10;
/// Largest folder that is read, in bytes: a wrong folder is noticed before it is all in memory.
const LARGEST_SITE: u64 = 64 << 20;

/// Makes the package and says what is in it.
pub fn run(args: &PackageArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    let kind = match args.kind {
        PackageKind::Scorm12 => Kind::Scorm12,
        PackageKind::Cmi5 => Kind::Cmi5,
        PackageKind::MoodleXml => return questions(args, out),
    };
    for (given, name) in [(args.variants.is_some(), "--variants"), (args.page.is_some(), "--page")] {
        if given {
            return Err(Failure::BadInput(format!(
                "`{name}` belongs to `--kind moodle-xml`; a {kind} package takes none"
            )));
        }
    }
    let assignment = assignment(args)?;
    let folder = args.site.as_deref().ok_or_else(|| {
        Failure::BadInput(format!(
            "a {kind} package holds the page: `--site` and the folder that `cargo xtask build` writes are missing"
        ))
    })?;
    let contents = Contents::of(&assignment, catalog(), &args.language);
    let site = read_site(folder)?;
    let package = pack(kind, site, &contents).map_err(|error| Failure::BadInput(error.to_string()))?;
    write_file(&args.out, &package)?;
    let pass = contents.pass_pct.map_or_else(|| "no pass mark".into(), |pct| format!("passes at {pct} %"));
    writeln!(
        out,
        "{}: {kind}, {} kB, \u{201c}{}\u{201d}, {pass}",
        args.out.display(),
        package.len().div_ceil(1000),
        contents.title
    )?;
    Ok(Answered::Yes)
}

/// Questions as Moodle XML.
fn questions(args: &PackageArgs, out: &mut impl Write) -> Result<Answered, Failure> {
    for (given, name, why) in [
        (args.site.is_some(), "--site", "it holds no page"),
        (args.pass.is_some(), "--pass", "Moodle's quiz has the pass mark"),
        (args.title.is_some(), "--title", "questions are named for their lessons"),
    ] {
        if given {
            return Err(Failure::BadInput(format!("Moodle XML takes no `{name}`: {why}")));
        }
    }
    if let Some(page) = args.page.as_deref().filter(|page| !good_address(page)) {
        return Err(Failure::BadInput(format!(
            "`--page {page}`: allowed is an address that begins with https:// and has no # and no spaces"
        )));
    }
    let assignment = assignment(args)?;
    let first = match (args.seed, assignment.numbers) {
        (Some(seed), _) | (None, Numbers::Same(Seed(seed))) => seed,
        _ => 1,
    };
    let count = u64::from(args.variants.unwrap_or(1));
    let last = first.checked_add(count - 1).ok_or_else(|| {
        Failure::BadInput(format!("`--seed {first}` and {count} variants go beyond the last one, {}", u64::MAX))
    })?;
    let seeds: Vec<Seed> = (first..=last).map(Seed).collect();
    let lessons = assignment.lessons().into_iter().filter_map(|id| catalog().lesson(id));
    let wording = Wording { page: args.page.as_deref(), ..Wording::default() };
    let wanted = |lesson: &str, id: &str| assignment.asks(lesson, id);
    let xml = moodle::questions(lessons, &seeds, wanted, wording, &mut CoreSolver::default())
        .map_err(|error| Failure::BadInput(error.to_string()))?;
    write_file(&args.out, xml.as_bytes())?;
    let questions = xml.matches("<idnumber>").count();
    writeln!(
        out,
        "{}: Moodle XML, {} kB, {questions} questions, variants {first} to {last}",
        args.out.display(),
        xml.len().div_ceil(1000)
    )?;
    Ok(Answered::Yes)
}

fn good_address(page: &str) -> bool {
    page.strip_prefix("https://").is_some_and(|rest| !rest.is_empty())
        && !page.contains(|c: char| c == '#' || c.is_whitespace() || c.is_control())
}

/// What the command line asks for, all of it known to this build.
fn assignment(args: &PackageArgs) -> Result<Assignment, Failure> {
    let mut assignment = match &args.assignment {
        Some(link) => {
            // A whole link has the page's address before, and perhaps a state of the bench.
            let text = link.find(BEGIN).map_or(link.as_str(), |at| &link[at..]);
            assignment::decode(text).map_err(|error| Failure::BadInput(format!("`--assignment`: {error}")))?
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
        return Err(Failure::BadInput(format!("{}; lessons are {}", unknown.join("; "), ids(catalog()))));
    }
    assignment.check().map_err(|error| Failure::BadInput(format!("this makes no assignment: {error}")))?;
    Ok(assignment)
}

fn ids(catalog: &Catalog) -> String {
    let ids: Vec<&str> = catalog.lessons.iter().map(|lesson| lesson.id.as_str()).collect();
    ids.join(", ")
}

/// Every file of the built page, with its deflate stream.
fn read_site(folder: &Path) -> Result<Vec<Entry>, Failure> {
    if !folder.join(PAGE).is_file() {
        return Err(Failure::BadInput(format!(
            "`--site {}`: there is no `{PAGE}`; allowed is the folder that `cargo xtask build` writes",
            folder.display()
        )));
    }
    let mut files = Vec::new();
    let mut room = LARGEST_SITE;
    read_folder(folder, "", &mut room, &mut files)?;
    Ok(files)
}

fn read_folder(folder: &Path, prefix: &str, room: &mut u64, files: &mut Vec<Entry>) -> Result<(), Failure> {
    let fault = |path: &Path, error: std::io::Error| Failure::BadInput(format!("{}: {error}", path.display()));
    for entry in fs::read_dir(folder).map_err(|error| fault(folder, error))? {
        let path = entry.map_err(|error| fault(folder, error))?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let name = format!("{prefix}{name}");
        if path.is_dir() {
            read_folder(&path, &format!("{name}/"), room, files)?;
            continue;
        }
        let length = fs::metadata(&path).map_err(|error| fault(&path, error))?.len();
        *room = room.checked_sub(length).ok_or_else(|| {
            Failure::BadInput(format!(
                "`--site`: more than {} MB up to `{}`; this is not the built page",
                LARGEST_SITE >> 20,
                path.display()
            ))
        })?;
        let bytes = fs::read(&path).map_err(|error| fault(&path, error))?;
        let deflated = Some(miniz_oxide::deflate::compress_to_vec(&bytes, SMALLEST));
        files.push(Entry { name, bytes, deflated });
    }
    Ok(())
}

fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    fs::write(path, bytes).map_err(|error| Failure::BadInput(format!("`--out {}`: {error}", path.display())))
}
