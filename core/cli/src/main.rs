//! The bench from a terminal: operating points, sweeps, load steps, engine files; and packages of lessons.
//!
//! Answers go to standard output; questions that cannot be answered, and progress, to standard error. Nothing is
//! computed here: numbers come from `volute_core`, this crate asks and prints.

mod args;
mod bench;
mod check;
mod engines;
mod package;
mod point;
mod print;
mod step;
mod sweep;

use clap::Parser;
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

/// How a question ended that was understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answered {
    /// With numbers.
    Yes,
    /// No state exists at these settings: exit code 3.
    NoState,
    /// A file that was checked is bad; what is wrong has been said: exit code 2.
    Rejected,
}

/// Why a question has no answer.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// What was asked is not allowed; the text says what, where and what is. Exit code 2.
    #[error("{0}")]
    BadInput(String),
    /// Standard output could not be written. Exit code 1.
    #[error("the answer could not be written: {0}")]
    Output(#[from] io::Error),
    /// An answer could not be turned into JSON. Exit code 1.
    #[error("the answer could not be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

fn main() -> ExitCode {
    let command = args::Cli::parse().command;
    let mut out = BufWriter::new(io::stdout().lock());
    let answered = match command {
        args::Command::Point(args) => point::run(&args, &mut out),
        args::Command::Sweep(args) => sweep::run(&args, &mut out),
        args::Command::Step(args) => step::run(&args, &mut out),
        args::Command::Engines(args) => engines::run(&args, &mut out),
        args::Command::Check(args) => check::run(&args, &mut out),
        args::Command::Package(args) => package::run(&args, &mut out),
    };
    match answered.and_then(|answered| out.flush().map(|()| answered).map_err(Failure::from)) {
        Ok(Answered::Yes) => ExitCode::SUCCESS,
        Ok(Answered::NoState) => ExitCode::from(3),
        Ok(Answered::Rejected) => ExitCode::from(2),
        // The reader, `head` for one, has seen enough.
        Err(Failure::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(Failure::Json(error)) if error.io_error_kind() == Some(io::ErrorKind::BrokenPipe) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("error: {failure}");
            ExitCode::from(if matches!(failure, Failure::BadInput(_)) { 2 } else { 1 })
        }
    }
}
