//! Writes the list of lessons and their texts, as the page fetches them: `lessons FOLDER`.

use std::fs;
use std::io;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1) else {
        eprintln!("lessons: the argument is the folder of the page");
        return ExitCode::FAILURE;
    };
    match write(Path::new(&folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("lessons: {}: {why}", Path::new(&folder).display());
            ExitCode::FAILURE
        }
    }
}

fn write(folder: &Path) -> io::Result<()> {
    for (address, text) in volute_lessons::index::files() {
        let path = folder.join(address);
        fs::create_dir_all(path.parent().unwrap_or(folder))?;
        fs::write(path, text)?;
    }
    Ok(())
}
