//! The bench from a terminal: operating points, sweeps, load steps, engine files; and packages of lessons.
//!
//! Answers go to standard output; messages and progress go to standard error. Nothing is computed here: the numbers come
//! from `volute_core`, and this crate asks and prints. `bench` turns arguments into an engine and settings, each command
//! has a file of its own, `print` writes for people and `output` writes for programs.

mod args;
mod bench;
mod check;
mod engines;
mod output;
mod package;
mod point;
mod print;
mod step;
mod sweep;

use clap::Parser;
use std::fmt::Display;
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

/// How a question ended whose input was good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answered {
    /// With numbers.
    Yes,
    /// No state exists at these settings: exit code 3.
    NoState,
    /// A file that was checked is bad, and the output says why: exit code 2.
    Rejected,
}

/// Why a question has no answer.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The question is not allowed. The text says what is wrong, where, and what is allowed. Exit code 2.
    #[error("{0}")]
    BadInput(String),
    /// Standard output could not be written. Exit code 1.
    #[error("the answer could not be written: {0}")]
    Output(#[from] io::Error),
}

impl Failure {
    /// Bad input, with this text.
    pub fn bad(text: impl Display) -> Self {
        Self::BadInput(text.to_string())
    }
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
        // The reader has seen enough, as `head` has after ten lines.
        Err(Failure::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("error: {failure}");
            ExitCode::from(if matches!(failure, Failure::BadInput(_)) { 2 } else { 1 })
        }
    }
}
