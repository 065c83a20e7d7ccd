//! What a developer does with the workspace, as `cargo xtask …`. No tool needs to be installed for it.

mod bundle;
mod run;

use run::{Failure, Result};
use std::process::ExitCode;
use std::time::Instant;
use xtask::server::{Options, Server};

const HELP: &str = "\
cargo xtask build    the page, into dist/: copy that folder to any static host
cargo xtask serve    build, then serve it on this machine
    --port N         on this port (8017, or a free one)
    --folder NAME    below this folder instead of at the top
    --wasm-type T    send WASM with this content type, as some hosts do";

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
    if name == "serve" {
        return serve(rest);
    }
    if let Some(extra) = rest.first() {
        return Err(Failure(format!("`{name}` takes no `{extra}`\n\n{HELP}")));
    }
    match name {
        "build" => build(),
        "help" | "--help" | "-h" => {
            println!("{HELP}");
            Ok(())
        }
        other => Err(Failure(format!("there is no task `{other}`\n\n{HELP}"))),
    }
}

fn build() -> Result<()> {
    let begun = Instant::now();
    bundle::page(&run::root().join("dist"))?;
    println!("dist/ is ready after {:.1} s", begun.elapsed().as_secs_f64());
    Ok(())
}

fn serve(arguments: &[String]) -> Result<()> {
    let mut options = Options::new(run::root().join("dist"));
    let mut port = None;
    for pair in arguments.chunks(2) {
        let [flag, value] = pair else { return Err(Failure(format!("`{}` needs a value\n\n{HELP}", pair.concat()))) };
        match flag.as_str() {
            "--port" => port = Some(value.parse().map_err(|_| Failure(format!("`--port {value}`: a whole number from 0 to 65535")))?),
            "--folder" => options.folder = value.clone(),
            "--wasm-type" => options.wasm_type = value.clone(),
            other => return Err(Failure(format!("`serve` has no `{other}`\n\n{HELP}"))),
        }
    }
    build()?;
    let on = |port| Server::start(Options { port, ..options.clone() });
    let server = match port {
        Some(port) => on(port).map_err(Failure::other(&format!("port {port}")))?,
        None => on(PORT).or_else(|_| on(0)).map_err(Failure::other("server"))?,
    };
    println!("Open {} (stop with Ctrl-C)", server.url());
    server.wait();
    Ok(())
}
