//! Running other programs, and saying what went wrong.

use std::fmt::{self, Display};
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What went wrong, for a person.
#[derive(Debug)]
pub struct Failure(pub String);

/// A task that may fail.
pub type Result<T> = std::result::Result<T, Failure>;

impl Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Failure {
    /// An error with this file or folder.
    pub fn file(path: &Path) -> impl Fn(io::Error) -> Self {
        move |error| Self(format!("{}: {error}", path.display()))
    }

    /// Says in which file something is wrong.
    pub fn in_file(path: &Path) -> impl Fn(Self) -> Self {
        move |failure| Self(format!("{}: {failure}", path.display()))
    }

    /// An error of this library.
    pub fn other<E: Display>(who: &str) -> impl Fn(E) -> Self {
        move |error| Self(format!("{who}: {error:#}"))
    }
}

/// The folder of the workspace.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).unwrap_or(here).to_path_buf()
}

/// Where cargo builds to.
pub fn target_folder() -> PathBuf {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(folder) => root().join(folder),
        None => root().join("target"),
    }
}

/// A program, run from the folder of the workspace.
pub fn command(program: &str) -> Command {
    let mut command = Command::new(program);
    command.current_dir(root()).stdin(Stdio::null());
    command
}

/// The cargo that runs us.
pub fn cargo() -> Command {
    command(&std::env::var("CARGO").unwrap_or_else(|_| "cargo".into()))
}

/// Runs a program to its end. Errors: it is missing, or it fails.
pub fn to_end(command: &mut Command) -> Result<()> {
    let status = command.status().map_err(|error| Failure(format!("{}: {error}", shown(command))))?;
    if status.success() { Ok(()) } else { Err(Failure(format!("`{}` failed: {status}", shown(command)))) }
}

/// What a program prints. Errors: it is missing, or it fails.
pub fn output(command: &mut Command) -> Result<String> {
    let output = command.output().map_err(|error| Failure(format!("{}: {error}", shown(command))))?;
    if !output.status.success() {
        return Err(Failure(format!(
            "`{}` failed: {}\n{}",
            shown(command),
            output.status,
            String::from_utf8_lossy(&output.stderr)
        )));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// A command as one would type it.
fn shown(command: &Command) -> String {
    let name = Path::new(command.get_program()).file_name().unwrap_or(command.get_program());
    let mut text = name.to_string_lossy().into_owned();
    for argument in command.get_args() {
        text.push(' ');
        text.push_str(&argument.to_string_lossy());
    }
    text
}
