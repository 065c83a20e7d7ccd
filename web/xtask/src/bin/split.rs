//! Splits a linked page into the module of the first view and those that are fetched later:
//! `split LINKED MAIN FOLDER GLUE` writes the first module to `MAIN`, and the others and their loader into `FOLDER`.

use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let outcome = match &arguments[..] {
        [linked, main, folder, glue] => split(Path::new(linked), Path::new(main), Path::new(folder), glue),
        _ => Err("the arguments are `LINKED MAIN FOLDER GLUE`".into()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("split: {why}");
            ExitCode::FAILURE
        }
    }
}

fn split(linked: &Path, main: &Path, folder: &Path, glue: &str) -> Result<(), String> {
    let whole = std::fs::read(linked).map_err(|why| format!("{}: {why}", linked.display()))?;
    let mut options = wasm_split_cli_support::Options::new(&whole);
    (options.output_dir, options.main_out_path, options.main_module) = (folder, main, glue);
    wasm_split_cli_support::transform(options).map(|_| ()).map_err(|why| format!("{}: {why:#}", linked.display()))
}
