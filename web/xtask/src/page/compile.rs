//! Compiling for the browser, and the programs that only some builds need.

use crate::run::{self, Failure, Result};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

const TARGET: &str = "wasm32-unknown-unknown";

/// The two ways to compile the page: profiles of the workspace's `Cargo.toml`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Profile {
    /// Small to transfer and slow to compile: what a host serves, and what the tests judge.
    Small,
    /// Quick to compile and large: what a developer looks at.
    Quick,
}

impl Profile {
    /// Its name in `Cargo.toml`, and that of its folder in `target/`.
    fn name(self) -> &'static str {
        match self {
            Self::Small => "release",
            Self::Quick => "quick",
        }
    }
}

/// Compiles one binary for the browser. Returns where it lies.
pub fn binary(manifest: &Path, bin: &str, features: &str, profile: Profile) -> Result<PathBuf> {
    ensure_target()?;
    let mut cargo = run::cargo();
    cargo.args(["rustc", "--profile", profile.name(), "--target", TARGET, "--bin", bin, "--features", features]);
    cargo.arg("--manifest-path").arg(manifest);
    // Leptos with one type for all views instead of one for each shape of markup: it compiles faster and is 4 % smaller.
    let mut flags = vec!["--cfg".into(), "erase_components".into()];
    if profile == Profile::Small {
        flags.extend(without_home());
        // What is split afterwards must still know where its addresses stand.
        cargo.args(["--", "-Clink-arg=--emit-relocs"]);
    }
    cargo.env("CARGO_ENCODED_RUSTFLAGS", flags.join("\u{1f}"));
    run::to_end(&mut cargo)?;
    Ok(run::target_folder().join(TARGET).join(profile.name()).join(format!("{bin}.wasm")))
}

/// Flags that keep the path of the builder's home out of the messages of a panic, so that every machine builds the same bytes.
fn without_home() -> Vec<String> {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| std::env::home_dir().map(|home| home.join(".cargo")));
    // One folder for each registry; where there is none, nothing was downloaded and nothing needs a new name.
    let registries = home.and_then(|home| fs::read_dir(home.join("registry/src")).ok());
    let registries = registries.into_iter().flatten().flatten();
    registries.map(|registry| format!("--remap-path-prefix={}=", registry.path().display())).collect()
}

/// Installs the standard library for the browser by rustup where it is missing.
fn ensure_target() -> Result<()> {
    let mut rustc = run::command("rustc");
    rustc.args(["--print", "target-libdir", "--target", TARGET]);
    let library = run::output(&mut rustc)?;
    if Path::new(library.trim()).is_dir() {
        return Ok(());
    }
    println!("Installing Rust's library for the browser by rustup: a download of about 20 MB.");
    let mut rustup = run::command("rustup");
    rustup.args(["target", "add", TARGET]);
    run::to_end(&mut rustup).map_err(|failure| {
        Failure(format!(
            "{failure}\nRust's library for the browser is missing. Add the target `{TARGET}` to this toolchain."
        ))
    })
}

/// A program of this package that stands in `src/bin`, with the feature of its name. It is apart from the main program because
/// not every task needs what it brings along.
pub fn program(name: &str) -> Command {
    let mut cargo = run::cargo();
    cargo.args(["run", "--package", "xtask", "--no-default-features", "--features", name, "--bin", name]);
    // It reads a few texts and solves nothing: to optimise the core for it takes longer than it saves.
    cargo.args(["--config", "profile.dev.package.volute-core.opt-level=0"]);
    cargo.arg("--");
    cargo
}
