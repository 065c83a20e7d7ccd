//! What a developer does with the workspace, as `cargo xtask …`. No tool needs to be installed for it.

mod browser;
mod lighthouse;
mod page;
mod run;
mod test;

use page::Profile;
use run::{Failure, Result};
use std::process::ExitCode;
use std::str::FromStr;
use xtask::server::{Options, Server};

const HELP: &str = "\
cargo xtask build    the small page, into dist/: copy that folder to any static host
cargo xtask serve    build the page quickly and not small, then serve it on this machine
    --port N         on this port (8017, or a free one)
    --folder NAME    below this folder instead of at the top
    --wasm-type T    send WASM with this content type, as some hosts do
cargo xtask test     everything: layout, lints, native tests, browser tests
    native           only what needs no browser
    browser [NAME]   only the browser tests, or those with NAME in their name
    browser NAME --quick   those on the page that `serve` builds: for a first look while you
                     develop. What counts is the small page, on which all other tests run
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
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match command(&words) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("xtask: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn command(words: &[&str]) -> Result<()> {
    match words {
        ["serve", options @ ..] => serve(options),
        ["test", what @ ..] => test::run(what).unwrap_or_else(|| {
            Err(Failure(format!("`test` takes nothing, `native`, or `browser` with NAME and `--quick`\n\n{HELP}")))
        }),
        ["soak", options @ ..] => soak(options),
        ["build"] => page::build(Profile::Small),
        ["size"] => browser_tool(&["size"]),
        ["bench-page"] => browser_tool(&["bench"]),
        ["pictures"] => browser_tool(&["pictures"]),
        ["icons"] => browser_tool(&["icons"]),
        ["lighthouse"] => page::build(Profile::Small).and_then(|()| lighthouse::judge(&page::folder(Profile::Small))),
        [] | ["help" | "--help" | "-h"] => {
            println!("{HELP}");
            Ok(())
        }
        other => Err(Failure(format!("there is no task `{}`\n\n{HELP}", other.join(" ")))),
    }
}

fn serve(options: &[&str]) -> Result<()> {
    let mut served = Options::new(page::folder(Profile::Quick));
    let mut port = None;
    each_option("serve", options, |flag, value| {
        match flag {
            "--port" => port = Some(parsed(flag, value, "a whole number from 0 to 65535")?),
            "--folder" => served.folder = value.into(),
            "--wasm-type" => served.wasm_type = value.into(),
            _ => return Ok(false),
        }
        Ok(true)
    })?;
    page::build(Profile::Quick)?;
    let on = |port| Server::start(Options { port, ..served.clone() });
    let server = match port {
        Some(port) => on(port).map_err(Failure::other(&format!("port {port}")))?,
        None => on(PORT).or_else(|_| on(0)).map_err(Failure::other("server"))?,
    };
    println!("Open {} (stop with Ctrl-C)", server.url());
    server.wait();
    Ok(())
}

fn soak(options: &[&str]) -> Result<()> {
    let (mut minutes, mut seed) = (20.0_f64, 1_u64);
    each_option("soak", options, |flag, value| {
        match flag {
            "--minutes" => minutes = parsed(flag, value, "a number of minutes")?,
            "--seed" => seed = parsed(flag, value, "a whole number from 0")?,
            _ => return Ok(false),
        }
        Ok(true)
    })?;
    if !(0.5..=1440.0).contains(&minutes) {
        return Err(Failure(format!("`--minutes {minutes}`: from 0.5 to 1440 minutes")));
    }
    browser_tool(&["soak", &minutes.to_string(), &seed.to_string()])
}

/// Hands each flag and its value to `take`, which says whether `task` knows the flag.
fn each_option(task: &str, options: &[&str], mut take: impl FnMut(&str, &str) -> Result<bool>) -> Result<()> {
    for pair in options.chunks(2) {
        let [flag, value] = pair else { return Err(Failure(format!("`{}` needs a value\n\n{HELP}", pair.concat()))) };
        if !take(flag, value)? {
            return Err(Failure(format!("`{task}` has no `{flag}`\n\n{HELP}")));
        }
    }
    Ok(())
}

fn parsed<T: FromStr>(flag: &str, value: &str, allowed: &str) -> Result<T> {
    value.parse().map_err(|_| Failure(format!("`{flag} {value}`: {allowed}")))
}

fn browser_tool(task: &[&str]) -> Result<()> {
    let driver = browser::Driver::start()?;
    page::build(Profile::Small)?;
    page::build_core_alone(Profile::Small)?;
    let mut cargo = run::cargo();
    cargo.args(["run", "--quiet", "--package", "volute-tests", "--features", "browser", "--bin", "browser-tools"]);
    cargo.args(task);
    driver.lend(&mut cargo);
    run::to_end(&mut cargo)
}
