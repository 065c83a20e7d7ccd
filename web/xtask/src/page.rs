//! From the workspace to a folder that any static host can serve.
//!
//! `links` says what belongs to a page, `compile` makes its WASM, `modules` turns that into what a browser loads, `addresses` gives
//! every address the version of the build.

mod addresses;
mod compile;
mod links;
mod modules;

pub use compile::Profile;

use crate::run::{self, Failure, Result};
use links::Link;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;
use xtask::keep::{self, files_in};
use xtask::language::Catalog;
use xtask::style;

/// Pages of a build: the bench, and the instructor's desk.
const SHELLS: [&str; 2] = ["index.html", "web/desk.html"];

/// Where this build of the page lies. The quick one lies apart from `dist/`, so that nobody takes it to a host.
pub fn folder(profile: Profile) -> PathBuf {
    match profile {
        Profile::Small => run::root().join("dist"),
        Profile::Quick => run::target_folder().join("quick-page"),
    }
}

/// Builds the page, and says how long that may take and how long it took.
pub fn build(profile: Profile) -> Result<()> {
    let (begun, folder) = (Instant::now(), folder(profile));
    match profile {
        Profile::Small => println!("Building the small page. On two cores: 4 minutes the first time, later up to 2."),
        Profile::Quick => {
            println!("Building the quick page. On two cores: 2 minutes the first time, later 20 seconds.")
        }
    }
    pages(&run::root(), &SHELLS, &folder, profile)?;
    println!("{} is ready after {:.0} s", folder.display(), begun.elapsed().as_secs_f64());
    Ok(())
}

/// Builds the core's own module for the browser, where the tests look for it.
pub fn build_core_alone(profile: Profile) -> Result<()> {
    println!("Building the core alone, which the tests compare with the native one: up to a minute.");
    pages(&run::root().join("tests/browser"), &["answers.html"], &run::root().join("target/answers"), profile)
}

/// Builds what the pages `shells` in `root` and their links name into `dist`, which is emptied first. The first page becomes the
/// page of the folder; what several pages name is built once. Every address in a page is relative to `root`.
fn pages(root: &Path, shells: &[&str], dist: &Path, profile: Profile) -> Result<()> {
    let (mut pages, mut wanted) = (Vec::new(), Vec::new());
    for (i, name) in shells.iter().enumerate() {
        let shell = root.join(name);
        let html = fs::read_to_string(&shell).map_err(Failure::file(&shell))?;
        let (html, links) = links::read(&html).map_err(Failure::in_file(&shell))?;
        let name = if i == 0 { "index.html".into() } else { links::file_name(&shell)?.to_owned() };
        pages.push((name, html));
        for link in links {
            if !wanted.contains(&link) {
                wanted.push(link);
            }
        }
    }
    // What may fail comes before the old page is removed: a mistake in code, catalog or style sheet leaves it in place.
    let mut binaries = Vec::new();
    for link in &wanted {
        match link {
            Link::Rust { manifest, bin, features } => {
                binaries.push((compile::binary(&root.join(manifest), bin, features, profile)?, bin));
            }
            Link::Folder(folder) => {
                let files = files_in(&root.join(folder)).map_err(Failure::file(folder))?;
                files.iter().filter(|file| is_catalog(file)).try_for_each(|file| catalog(file).map(|_| ()))?;
            }
            Link::Style(path) => sheet(&root.join(path)).map(|_| ())?,
            Link::File(_) => {}
        }
    }
    if dist.exists() {
        fs::remove_dir_all(dist).map_err(Failure::file(dist))?;
    }
    fs::create_dir_all(dist).map_err(Failure::file(dist))?;
    for (binary, bin) in binaries {
        modules::write(&binary, bin, dist, profile)?;
    }
    for link in &wanted {
        match link {
            Link::Rust { .. } => {}
            Link::File(path) => copy_file(&root.join(path), &dist.join(links::file_name(path)?))?,
            Link::Style(path) => {
                fs::write(dist.join(links::file_name(path)?), sheet(&root.join(path))?).map_err(Failure::file(path))?;
            }
            Link::Folder(path) => copy_folder(&root.join(path), &dist.join(links::file_name(path)?))?,
        }
    }
    run::to_end(compile::program("lessons").arg(dist))?;
    for (name, html) in pages {
        let page = dist.join(name);
        fs::write(&page, html).map_err(Failure::file(&page))?;
    }
    // The version is a digest of all content: the same sources give the same build.
    let version = keep::version_of(dist).map_err(Failure::file(dist))?;
    addresses::add_version(dist, &version)?;
    keep::write_names(dist).map_err(Failure::file(dist))?;
    keep::write_list(dist, &version).map_err(Failure::file(dist))
}

/// A style sheet with all that it imports.
fn sheet(file: &Path) -> Result<String> {
    style::joined(file).map_err(Failure::other("style sheets"))
}

fn copy_file(from: &Path, to: &Path) -> Result<()> {
    fs::copy(from, to).map(|_| ()).map_err(Failure::file(from))
}

fn copy_folder(from: &Path, to: &Path) -> Result<()> {
    fs::create_dir_all(to).map_err(Failure::file(to))?;
    for file in files_in(from).map_err(Failure::file(from))? {
        let inside = file.strip_prefix(from).map_err(Failure::other("copy"))?;
        let copy = to.join(inside);
        if let Some(parent) = copy.parent() {
            fs::create_dir_all(parent).map_err(Failure::file(parent))?;
        }
        if is_catalog(&file) {
            let copy = copy.with_extension("txt");
            fs::write(&copy, catalog(&file)?).map_err(Failure::file(&copy))?;
        } else {
            copy_file(&file, &copy)?;
        }
    }
    Ok(())
}

fn is_catalog(file: &Path) -> bool {
    file.extension().is_some_and(|ending| ending == "po")
}

/// A catalog as the page fetches it.
fn catalog(file: &Path) -> Result<String> {
    let po = fs::read_to_string(file).map_err(Failure::file(file))?;
    Ok(Catalog::read(&po).map_err(Failure::other(&file.display().to_string()))?.compact())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manifest_agrees_with_page_tokens_and_icons() {
        let read = |path: &str| fs::read_to_string(run::root().join(path)).unwrap();
        let (manifest, tokens, page) =
            (read("web/manifest.webmanifest"), read("web/style/tokens.css"), read("index.html"));
        let colours: Vec<&str> =
            tokens.split("--desk: #").skip(1).filter_map(|tail| tail.get(..6)).filter(|hex| *hex != "fff").collect();
        let (light, dark) = (colours[0], colours[1]);
        for key in ["background_color", "theme_color"] {
            assert!(manifest.contains(&format!("\"{key}\": \"#{light}\"")), "{key} is not --desk, #{light}");
        }
        for (scheme, colour) in [("light", light), ("dark", dark)] {
            let meta = format!("media=\"(prefers-color-scheme: {scheme})\" content=\"#{colour}\"");
            assert!(page.contains(&meta), "`{meta}` is missing");
        }
        // Every icon is there, in the size that the manifest promises: width and height stand at byte 16 of a PNG.
        let (_, wanted) = links::read(&page).unwrap();
        let sizes: Vec<(&str, u32)> = manifest
            .lines()
            .filter_map(|line| {
                let name = line.split_once("\"src\": \"")?.1.split_once('"')?.0;
                let size = line.split_once("\"sizes\": \"")?.1.split_once('x')?.0.parse().ok()?;
                Some((name, size))
            })
            .collect();
        assert_eq!(sizes.len(), 3);
        for (name, size) in sizes {
            let path = PathBuf::from(format!("web/{name}"));
            let png = fs::read(run::root().join(&path)).unwrap();
            assert_eq!(png[16..24], [size.to_be_bytes(), size.to_be_bytes()].concat(), "{name}");
            assert!(wanted.contains(&Link::File(path)), "{name} is not copied");
        }
        // An `id` would be read against the host, not against the folder: two benches on one host would be one app.
        assert!(!manifest.contains("\"id\"") && manifest.contains("\"start_url\": \"./\""));
    }

    #[test]
    fn the_shell_page_names_files_that_exist_and_no_inline_code() {
        for name in SHELLS {
            let html = fs::read_to_string(run::root().join(name)).unwrap();
            let (page, wanted) = links::read(&html).unwrap();
            for link in wanted {
                if let Link::File(path) | Link::Style(path) | Link::Folder(path) = link {
                    assert!(run::root().join(&path).exists(), "{}", path.display());
                }
            }
            assert!(!page.contains("<style") && !page.contains(" style=") && !page.contains(" onclick="), "{page}");
            assert_eq!(page.matches("<script").count(), 1, "one script, and it has a file");
            // The server adds what only a header can say; the rest must be the same text.
            let shared = xtask::server::CONTENT_SECURITY_POLICY.strip_suffix("; frame-ancestors *").unwrap();
            assert!(page.contains(&format!("content=\"{shared}\"")), "policy of {name} and server differ");
        }
    }
}
