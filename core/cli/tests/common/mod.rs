//! Running the program.

use std::process::Command;

/// How it ended.
pub struct Ran {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

/// Runs `volute` with arguments that are separated by spaces.
pub fn volute(arguments: &str) -> Ran {
    volute_with(&arguments.split_whitespace().collect::<Vec<_>>())
}

/// Runs `volute` with these arguments.
pub fn volute_with(arguments: &[&str]) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_volute")).args(arguments).output().expect("the program starts");
    Ran {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).expect("the answer is text"),
        err: String::from_utf8(output.stderr).expect("the message is text"),
    }
}
