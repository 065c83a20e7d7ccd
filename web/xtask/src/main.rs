//! What a developer does with the workspace, as `cargo xtask …`. No tool needs to be installed for it.

mod browser;
mod bundle;
mod lighthouse;
mod run;

use bundle::Profile;
use run::{Failure, Result};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;
use xtask::server::{Options, Server};

const HELP: &str = "\
cargo xtask build    the page, into dist/: copy that folder to any static host
cargo xtask serve    build it quickly and not small, then serve it on this machine
    --port N         on this port (8017, or a free one)
    --folder NAME    below this folder instead of at the top
    --wasm-type T    send WASM with this content type, as some hosts do
cargo xtask test     everything: layout, lints, native tests, browser tests
    native           only what needs no browser
    browser [NAME]   only the browser tests, or those with NAME in their name
    browser NAME --quick   those with NAME on the page that `serve` builds, for a first look while
                     developing; what counts is the small page, which all other tests use
cargo xtask size         what a first visit transfers
cargo xtask bench-page   timings of the page in a browser
cargo xtask soak         the page under random hands, to see whether it stays quiet and of one size
    --minutes N      for so long (20)
    --seed N         other hands (1)
cargo xtask lighthouse   Lighthouse's scores of the page; comes from npm into target/
cargo xtask pictures     pictures of the page, into web/pictures/
cargo xtask icons        the manifest's pictures, drawn from web/icon.svg";

/// The port of `serve` unless another is asked for.
const PORT: u16 = 8017;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match command(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("xtask: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn command(arguments: &[String]) -> Result<()> {
    let (name, rest) = arguments.split_first().map_or(("help", &[][..]), |(name, rest)| (name.as_str(), rest));
    match name {
        "serve" => return serve(rest),
        "test" => return test(rest),
        "soak" => return soak(rest),
        _ => {}
    }
    if let Some(extra) = rest.first() {
        return Err(Failure(format!("`{name}` takes no `{extra}`\n\n{HELP}")));
    }
    match name {
        "build" => build(),
        "size" => browser_tool(&["size"]),
        "bench-page" => browser_tool(&["bench"]),
        "pictures" => browser_tool(&["pictures"]),
        "icons" => browser_tool(&["icons"]),
        "lighthouse" => build().and_then(|()| lighthouse::judge(&dist())),
        "help" | "--help" | "-h" => {
            println!("{HELP}");
            Ok(())
        }
        other => Err(Failure(format!("there is no task `{other}`\n\n{HELP}"))),
    }
}

/// Where the small build of the page is: the one for a host.
fn dist() -> PathBuf {
    run::root().join("dist")
}

/// Where the quick build of the page is: apart from `dist`, so that nobody takes it to a host.
fn quick_dist() -> PathBuf {
    run::target_folder().join("quick-page")
}

fn build() -> Result<()> {
    println!("Building the small page into dist/. This takes about 4 minutes the first time.");
    pages(&dist(), Profile::Small)
}

fn build_quick() -> Result<()> {
    println!("Building the quick page. This takes about 2 minutes the first time, then under 20 seconds.");
    pages(&quick_dist(), Profile::Quick)
}

fn pages(folder: &Path, profile: Profile) -> Result<()> {
    let begun = Instant::now();
    bundle::pages(&run::root(), &bundle::SHELLS, folder, profile)?;
    println!("{} is ready after {:.1} s", folder.display(), begun.elapsed().as_secs_f64());
    Ok(())
}

fn serve(arguments: &[String]) -> Result<()> {
    let mut options = Options::new(quick_dist());
    let mut port = None;
    for pair in arguments.chunks(2) {
        let [flag, value] = pair else { return Err(Failure(format!("`{}` needs a value\n\n{HELP}", pair.concat()))) };
        match flag.as_str() {
            "--port" => {
                port = Some(
                    value.parse().map_err(|_| Failure(format!("`--port {value}`: a whole number from 0 to 65535")))?,
                )
            }
            "--folder" => options.folder = value.clone(),
            "--wasm-type" => options.wasm_type = value.clone(),
            other => return Err(Failure(format!("`serve` has no `{other}`\n\n{HELP}"))),
        }
    }
    build_quick()?;
    let on = |port| Server::start(Options { port, ..options.clone() });
    let server = match port {
        Some(port) => on(port).map_err(Failure::other(&format!("port {port}")))?,
        None => on(PORT).or_else(|_| on(0)).map_err(Failure::other("server"))?,
    };
    println!("Open {} (stop with Ctrl-C)", server.url());
    server.wait();
    Ok(())
}

fn test(arguments: &[String]) -> Result<()> {
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        [] => {
            // First of all what may be missing, so that nobody waits ten minutes to hear of it.
            let driver = browser::Driver::start()?;
            native_tests()?;
            browser_tests(&driver, "", Profile::Small)
        }
        ["native"] => native_tests(),
        ["browser"] => browser_tests(&browser::Driver::start()?, "", Profile::Small),
        ["browser", name] => browser_tests(&browser::Driver::start()?, name, Profile::Small),
        ["browser", name, "--quick"] => browser_tests(&browser::Driver::start()?, name, Profile::Quick),
        _ => Err(Failure(format!("`test` takes nothing, `native`, or `browser`, a name and `--quick`\n\n{HELP}"))),
    }
}

fn native_tests() -> Result<()> {
    // A toolchain may come without these two; the tests themselves need neither.
    if run::output(run::cargo().args(["fmt", "--version"])).is_ok() {
        heading("layout");
        run::to_end(run::cargo().args(["fmt", "--all", "--check"]))?;
    } else {
        println!("rustfmt is not installed: no check of the layout");
    }
    if run::output(run::cargo().args(["clippy", "--version"])).is_ok() {
        heading("lints");
        run::to_end(run::cargo().args([
            "clippy",
            "--quiet",
            "--workspace",
            "--all-targets",
            "--features",
            "volute-tests/browser",
            "--",
            "-D",
            "warnings",
        ]))?;
    } else {
        println!("clippy is not installed: no lints");
    }
    heading("native tests");
    run::to_end(run::cargo().args(["test", "--workspace"]))
}

fn browser_tests(driver: &browser::Driver, name: &str, profile: Profile) -> Result<()> {
    heading("page");
    match profile {
        Profile::Small => build()?,
        Profile::Quick => build_quick()?,
    }
    core_alone(profile)?;
    heading("browser tests");
    let mut cargo = run::cargo();
    // Of the whole workspace, as the native tests are: the same features of what is shared, so nothing is built twice.
    cargo.args([
        "test",
        "--workspace",
        "--features",
        "volute-tests/browser",
        "--test",
        "browser",
        name,
        "--",
        "--test-threads=2",
    ]);
    if profile == Profile::Quick {
        cargo.env("VOLUTE_PAGE", quick_dist());
    }
    driver.lend(&mut cargo);
    run::to_end(&mut cargo)
}

fn soak(arguments: &[String]) -> Result<()> {
    let (mut minutes, mut seed) = (20.0_f64, 1_u64);
    for pair in arguments.chunks(2) {
        let [flag, value] = pair else { return Err(Failure(format!("`{}` needs a value\n\n{HELP}", pair.concat()))) };
        let wrong = |allowed: &str| Failure(format!("`{flag} {value}`: {allowed}"));
        match flag.as_str() {
            "--minutes" => {
                minutes = value.parse().map_err(|_| wrong("a number of minutes"))?;
                if !(0.5..=1440.0).contains(&minutes) {
                    return Err(wrong("from 0.5 to 1440 minutes"));
                }
            }
            "--seed" => seed = value.parse().map_err(|_| wrong("a whole number from 0"))?,
            other => return Err(Failure(format!("`soak` has no `{other}`\n\n{HELP}"))),
        }
    }
    browser_tool(&["soak", &minutes.to_string(), &seed.to_string()])
}

fn browser_tool(task: &[&str]) -> Result<()> {
    let driver = browser::Driver::start()?;
    build()?;
    core_alone(Profile::Small)?;
    let mut cargo = run::cargo();
    cargo.args(["run", "--quiet", "--package", "volute-tests", "--features", "browser", "--bin", "browser-tools"]);
    cargo.args(task);
    driver.lend(&mut cargo);
    run::to_end(&mut cargo)
}

/// The core's own module for the browser, where the tests look for it.
fn core_alone(profile: Profile) -> Result<()> {
    let folder = run::root().join("target/answers");
    bundle::pages(&run::root().join("tests/browser"), &["answers.html"], &folder, profile)
}

fn heading(what: &str) {
    println!("\n== {what}");
}
