//! `cargo xtask test`: says what it will do, how far it is, and what came of it.

use crate::browser::Driver;
use crate::page::{self, Profile};
use crate::run::{self, Failure, Result};
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::Instant;

/// What a stage runs. It counts the tests as they end.
type Work<'a> = Box<dyn Fn(&mut Tally) -> Result<()> + 'a>;

/// A part of a run.
struct Stage<'a> {
    name: &'static str,
    /// What it does, and about how long that takes on two cores.
    about: &'static str,
    work: Work<'a>,
}

impl<'a> Stage<'a> {
    fn new(name: &'static str, about: &'static str, work: impl Fn(&mut Tally) -> Result<()> + 'a) -> Self {
        Self { name, about, work: Box::new(work) }
    }
}

/// What the tests of a stage came to.
#[derive(Debug, Default, PartialEq)]
struct Tally {
    passed: usize,
    ignored: usize,
    failed: Vec<String>,
}

/// Runs what the words after `test` ask for; nothing where they make no sense.
pub fn run(words: &[&str]) -> Option<Result<()>> {
    match *words {
        [] => Some(with_driver(|driver| follow(native().into_iter().chain(in_browser(driver, "", Profile::Small))))),
        ["native"] => Some(follow(native())),
        ["browser"] => Some(with_driver(|driver| follow(in_browser(driver, "", Profile::Small)))),
        ["browser", name] if name != "--quick" => {
            Some(with_driver(|driver| follow(in_browser(driver, name, Profile::Small))))
        }
        ["browser", name, "--quick"] => Some(with_driver(|driver| follow(in_browser(driver, name, Profile::Quick)))),
        _ => None,
    }
}

/// The driver comes first: where browser or driver is missing, nobody waits ten minutes to hear of it.
fn with_driver(work: impl FnOnce(&Driver) -> Result<()>) -> Result<()> {
    work(&Driver::start()?)
}

fn native<'a>() -> Vec<Stage<'a>> {
    // A toolchain may come without these two. The tests themselves need neither.
    let has = |tool: &str| run::output(run::cargo().args([tool, "--version"])).is_ok();
    let mut stages = Vec::new();
    if has("fmt") {
        let work = |_: &mut Tally| run::to_end(run::cargo().args(["fmt", "--all", "--check"]));
        stages.push(Stage::new("layout", "cargo fmt looks at every file: seconds", work));
    } else {
        println!("rustfmt is not installed: the layout is not checked");
    }
    if has("clippy") {
        let work = |_: &mut Tally| {
            let mut cargo = run::cargo();
            cargo.args([
                "clippy",
                "--quiet",
                "--workspace",
                "--all-targets",
                "--features",
                ALL,
                "--",
                "-D",
                "warnings",
            ]);
            run::to_end(&mut cargo)
        };
        stages.push(Stage::new("lints", "clippy reads all code: 1 minute, 4 the first time", work));
    } else {
        println!("clippy is not installed: there are no lints");
    }
    let work = |tally: &mut Tally| counted(run::cargo().args(["test", "--workspace", "--no-fail-fast"]), tally);
    stages.push(Stage::new("native tests", "every crate on this machine: 5 minutes, 9 the first time", work));
    stages
}

/// Every optional part of the workspace: what the lints read.
const ALL: &str = "volute-tests/browser,xtask/split,xtask/lessons";

/// How many browsers run at once.
const BROWSERS: &str = "--test-threads=2";

fn in_browser<'a>(driver: &'a Driver, name: &'a str, profile: Profile) -> Vec<Stage<'a>> {
    let build = move |_: &mut Tally| page::build(profile).and_then(|()| page::build_core_alone(profile));
    let tests = move |tally: &mut Tally| {
        let mut cargo = run::cargo();
        // Of the whole workspace, as the native tests are: shared crates get the same features, so nothing is built twice.
        cargo.args(["test", "--workspace", "--features", "volute-tests/browser", "--test", "browser", name]);
        cargo.args(["--", BROWSERS]).env("VOLUTE_PAGE", page::folder(profile));
        driver.lend(&mut cargo);
        counted(&mut cargo, tally)
    };
    let about =
        if name.is_empty() { "each in a fresh Chromium: 17 minutes" } else { "those with the name: a minute or two" };
    vec![
        Stage::new("page", "what the browser tests look at: 2 minutes, 5 the first time", build),
        Stage::new("browser tests", about, tests),
    ]
}

/// Runs the stages one after the other, up to the first that fails.
fn follow<'a>(stages: impl IntoIterator<Item = Stage<'a>>) -> Result<()> {
    let stages: Vec<Stage> = stages.into_iter().collect();
    println!("What will be done, with times on two cores:");
    stages.iter().enumerate().for_each(|(i, stage)| println!("  {}. {}: {}", i + 1, stage.name, stage.about));
    let (begun, mut lines, mut outcome) = (Instant::now(), Vec::new(), Ok(()));
    for (i, stage) in stages.iter().enumerate() {
        if outcome.is_err() {
            lines.push(format!("  {:<14} not run", stage.name));
            continue;
        }
        println!("\n== {} of {}: {}", i + 1, stages.len(), stage.name);
        let (at, mut tally) = (Instant::now(), Tally::default());
        outcome = (stage.work)(&mut tally);
        let state = if outcome.is_ok() { "passed" } else { "FAILED" };
        lines.push(format!("  {:<14} {state} after {:>4.0} s{}", stage.name, at.elapsed().as_secs_f64(), tally.text()));
        lines.extend(tally.failed.iter().map(|name| format!("    FAILED {name}")));
    }
    println!("\nSummary after {:.1} minutes:", begun.elapsed().as_secs_f64() / 60.0);
    lines.iter().for_each(|line| println!("{line}"));
    outcome
}

impl Tally {
    fn text(&self) -> String {
        match self {
            Self { passed: 0, ignored: 0, failed } if failed.is_empty() => String::new(),
            Self { passed, ignored, failed } => {
                format!(": {passed} tests passed, {} failed, {ignored} left out", failed.len())
            }
        }
    }

    /// Takes one line of a test program: `test NAME ... ok`. Returns whether a test is done.
    fn take(&mut self, line: &str) -> bool {
        let Some((name, result)) = line.strip_prefix("test ").and_then(|rest| rest.rsplit_once(" ... ")) else {
            return false;
        };
        match result.split(',').next() {
            Some("ok") => self.passed += 1,
            Some("ignored") => self.ignored += 1,
            Some("FAILED") => self.failed.push(name.into()),
            _ => return false,
        }
        true
    }
}

/// Runs tests to their end, passes on what they print and counts them. Before each test that is done stands how many of its
/// program are, and the minutes and seconds since the stage began.
fn counted(command: &mut Command, tally: &mut Tally) -> Result<()> {
    let begun = Instant::now();
    let mut child = command.stdout(Stdio::piped()).spawn().map_err(Failure::other("cargo"))?;
    let (mut done, mut all) = (0, String::new());
    for line in child.stdout.take().map(BufReader::new).into_iter().flat_map(BufRead::lines) {
        let line = line.map_err(Failure::other("tests"))?;
        if let Some(rest) = line.strip_prefix("running ") {
            (done, all) = (0, rest.split(' ').next().unwrap_or_default().into());
        }
        if tally.take(&line) {
            done += 1;
            let seconds = begun.elapsed().as_secs();
            println!("[{done} of {all}, {}:{:02}] {}", seconds / 60, seconds % 60, line.trim_start_matches("test "));
        } else {
            println!("{line}");
        }
    }
    let status = child.wait().map_err(Failure::other("cargo"))?;
    match tally.failed.len() {
        _ if status.success() => Ok(()),
        0 => Err(Failure(format!("the tests did not run to their end: {status}"))),
        many => Err(Failure(format!("{many} tests failed"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_lines_of_a_test_program_are_counted() {
        let mut tally = Tally::default();
        for (line, done) in [
            ("running 4 tests", false),
            ("test a::b ... ok", true),
            ("test c - should panic ... ok", true),
            ("test slow has been running for over 60 seconds", false),
            ("test core/src/lib.rs - (line 12) ... FAILED", true),
            ("test e ... ignored, takes an hour", true),
            ("test result: FAILED. 2 passed; 1 failed; 1 ignored", false),
        ] {
            assert_eq!(tally.take(line), done, "{line}");
        }
        assert_eq!(tally, Tally { passed: 2, ignored: 1, failed: vec!["core/src/lib.rs - (line 12)".into()] });
        assert_eq!(tally.text(), ": 2 tests passed, 1 failed, 1 left out");
    }
}
