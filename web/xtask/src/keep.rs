//! The list by which `web/service-worker.js` keeps a build on the device: every file with a digest of its content.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The file that is given the list. It is not on it: the browser looks after it by itself.
pub const WORKER: &str = "service-worker.js";

/// The file that names every other one, for the page that makes packages of itself.
pub const NAMES: &str = "files.json";

/// Writes the names of all files of a build, but for the worker's and its own. Errors: a file cannot be read or written.
pub fn write_names(dist: &Path) -> io::Result<()> {
    let names: Vec<String> = files_in(dist)?.iter().map(|file| name_in(dist, file)).collect();
    let names: Vec<_> = names.iter().filter(|name| ![WORKER, NAMES].contains(&name.as_str())).collect();
    fs::write(dist.join(NAMES), serde_json::to_string(&names)? + "\n")
}

/// A name for exactly this content: sixteen hexadecimal digits.
pub fn version_of(dist: &Path) -> io::Result<String> {
    let mut all = Sha256::new();
    for file in files_in(dist)? {
        all.update(name_in(dist, &file));
        all.update([0]);
        all.update(Sha256::digest(fs::read(&file)?));
    }
    Ok(hex(&all.finalize()[..8]))
}

/// Writes version and list into the service worker of a finished build; nothing where it has none. Errors: a file cannot be
/// read or written, or the worker has no place for them.
pub fn write_list(dist: &Path, version: &str) -> io::Result<()> {
    let worker = dist.join(WORKER);
    if !worker.exists() {
        return Ok(());
    }
    let mut files = BTreeMap::new();
    for file in files_in(dist)?.iter().filter(|file| **file != worker) {
        files.insert(name_in(dist, file), hex(&Sha256::digest(fs::read(file)?)));
    }
    let mut script = fs::read_to_string(&worker)?;
    let values = [serde_json::to_string(version)?, serde_json::to_string(&files)?];
    for (start, value) in ["const BUILD = ", "const FILES = "].into_iter().zip(values) {
        let line = script.lines().find(|line| line.starts_with(start)).map(str::to_string);
        let missing = || io::Error::new(io::ErrorKind::InvalidData, format!("{WORKER} has no line `{start}…`"));
        script = script.replacen(&line.ok_or_else(missing)?, &format!("{start}{value};"), 1);
    }
    fs::write(worker, script)
}

/// Every file of a folder and its sub-folders, in the order of their names.
pub fn files_in(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() { found.extend(files_in(&path)?) } else { found.push(path) }
    }
    found.sort();
    Ok(found)
}

/// A file's address below the folder of the build.
fn name_in(dist: &Path, file: &Path) -> String {
    let steps = file.strip_prefix(dist).unwrap_or(file).components();
    steps.map(|step| step.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_names_every_file_but_the_worker_and_can_be_written_again() {
        let dist = std::env::temp_dir().join(format!("volute-keep-{}", std::process::id()));
        fs::create_dir_all(dist.join("fonts")).unwrap();
        fs::write(dist.join("index.html"), "abc").unwrap();
        fs::write(dist.join("fonts/a.woff2"), "").unwrap();
        let before = version_of(&dist).unwrap();
        write_list(&dist, "no worker, no list").unwrap();
        assert_eq!(version_of(&dist).unwrap(), before, "nothing was written");
        write_names(&dist).unwrap();
        assert_eq!(fs::read_to_string(dist.join(NAMES)).unwrap(), "[\"fonts/a.woff2\",\"index.html\"]\n");
        fs::remove_file(dist.join(NAMES)).unwrap();
        fs::write(dist.join(WORKER), "// keeps\nconst BUILD = \"\";\nconst FILES = {};\nrest();\n").unwrap();
        write_list(&dist, "old").unwrap();
        write_list(&dist, "new").unwrap();
        // The digests of nothing and of `abc` are those printed with the standard, FIPS 180-4.
        let expected = "// keeps\nconst BUILD = \"new\";\nconst FILES = {\
            \"fonts/a.woff2\":\"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\",\
            \"index.html\":\"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\"};\nrest();\n";
        assert_eq!(fs::read_to_string(dist.join(WORKER)).unwrap(), expected);
        fs::write(dist.join(WORKER), "rest();").unwrap();
        assert!(write_list(&dist, "x").unwrap_err().to_string().contains("const BUILD"));
        fs::write(dist.join("index.html"), "abd").unwrap();
        assert_ne!(version_of(&dist).unwrap(), before);
        fs::remove_dir_all(dist).unwrap();
    }
}
