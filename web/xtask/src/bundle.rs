//! From the workspace to a folder that any static host can serve.

use crate::run::{self, Failure, Result};
use std::fs;
use std::hash::{DefaultHasher, Hasher};
use std::path::{Path, PathBuf};
use wasm_bindgen_cli_support::Bindgen;

const TARGET: &str = "wasm32-unknown-unknown";

/// Builds what `shell` and its links name into `dist`, which is emptied first. Every address inside is relative.
pub fn page(shell: &Path, dist: &Path) -> Result<()> {
    let root = shell.parent().unwrap_or(shell);
    let html = fs::read_to_string(shell).map_err(Failure::file(shell))?;
    let (html, wanted) = read_links(&html).map_err(Failure::in_file(shell))?;
    // Compile before the old page goes: a mistake in the code leaves it in place.
    let mut glue = Vec::new();
    for link in &wanted {
        if let Link::Rust { manifest, bin, features } = link {
            glue.push(compile(&root.join(manifest), bin, features)?);
        }
    }
    if dist.exists() {
        fs::remove_dir_all(dist).map_err(Failure::file(dist))?;
    }
    fs::create_dir_all(dist).map_err(Failure::file(dist))?;
    for mut bindgen in glue {
        bindgen.generate(dist).map_err(Failure::other("wasm-bindgen"))?;
    }
    for link in &wanted {
        match link {
            Link::Rust { .. } => {}
            Link::File(path) => copy_file(&root.join(path), &dist.join(file_name(path)?))?,
            Link::Folder(path) => copy_folder(&root.join(path), &dist.join(file_name(path)?))?,
        }
    }
    let html = html.replace(VERSION, &version_of(dist)?);
    let page = dist.join("index.html");
    fs::write(&page, html).map_err(Failure::file(&page))
}

/// Compiles one binary for the browser.
fn compile(manifest: &Path, bin: &str, features: &str) -> Result<Bindgen> {
    ensure_target()?;
    let mut cargo = run::cargo();
    cargo
        .args(["build", "--release", "--target", TARGET, "--bin", bin, "--features", features, "--manifest-path"])
        .arg(manifest);
    cargo.env("CARGO_ENCODED_RUSTFLAGS", compiler_flags().join("\u{1f}"));
    run::to_end(&mut cargo)?;
    let binary = run::target_folder().join(TARGET).join("release").join(format!("{bin}.wasm"));
    let mut bindgen = Bindgen::new();
    bindgen.web(true).map_err(Failure::other("wasm-bindgen"))?;
    bindgen.input_path(binary).out_name(bin).typescript(false).remove_name_section(true).remove_producers_section(true);
    Ok(bindgen)
}

/// Leptos with one type for all views instead of one for each shape of markup: 4 % less to transfer. And no path of the
/// builder's home in the messages of a panic, so that every machine builds the same bytes.
fn compiler_flags() -> Vec<String> {
    let mut flags = vec!["--cfg".into(), "erase_components".into()];
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| std::env::home_dir().map(|home| home.join(".cargo")));
    // One folder for each registry; where there is none, nothing was downloaded and nothing needs a new name.
    let registries = home.and_then(|home| fs::read_dir(home.join("registry/src")).ok());
    for registry in registries.into_iter().flatten().flatten() {
        flags.push(format!("--remap-path-prefix={}=", registry.path().display()));
    }
    flags
}

/// The standard library for the browser, by rustup where it is missing.
fn ensure_target() -> Result<()> {
    let mut rustc = run::command("rustc");
    rustc.args(["--print", "target-libdir", "--target", TARGET]);
    let library = run::output(&mut rustc)?;
    if Path::new(library.trim()).is_dir() {
        return Ok(());
    }
    let mut rustup = run::command("rustup");
    rustup.args(["target", "add", TARGET]);
    run::to_end(&mut rustup).map_err(|failure| {
        Failure(format!(
            "{failure}\nRust's library for the browser is missing. Add the target `{TARGET}` to this toolchain."
        ))
    })
}

/// Stands in the page for the version until every file is there to make it from.
const VERSION: &str = "?v=VERSION";

/// What a `data-trunk` link asks for.
#[derive(Debug, PartialEq)]
enum Link {
    Rust { manifest: PathBuf, bin: String, features: String },
    File(PathBuf),
    Folder(PathBuf),
}

/// Turns the `data-trunk` links into links to the copies, and lists what is to be copied.
fn read_links(html: &str) -> Result<(String, Vec<Link>)> {
    let (mut page, mut wanted) = (String::new(), Vec::new());
    let mut rest = html;
    while let Some(at) = rest.find("<link data-trunk ") {
        let (before, tail) = rest.split_at(at);
        let end = tail.find('>').ok_or_else(|| Failure(format!("no `>` after `{tail:.60}`")))?;
        let (tag, tail) = tail.split_at(end + 1);
        page.push_str(before);
        let attribute = |name: &str| {
            let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
            tag[from..].split_once('"').map(|(value, _)| value)
        };
        let missing = |name: &str| Failure(format!("`{tag}` has no `{name}`"));
        let href = PathBuf::from(attribute("href").ok_or_else(|| missing("href"))?);
        let kind = attribute("rel").ok_or_else(|| missing("rel"))?;
        match kind {
            "rust" => {
                let bin = attribute("data-bin").ok_or_else(|| missing("data-bin"))?.into();
                let features = attribute("data-cargo-features").unwrap_or_default().into();
                wanted.push(Link::Rust { manifest: href, bin, features });
            }
            "copy-file" => wanted.push(Link::File(href)),
            "copy-dir" => wanted.push(Link::Folder(href)),
            "css" | "icon" => {
                let (rel, sort) = if kind == "css" { ("stylesheet", "text/css") } else { ("icon", "image/svg+xml") };
                let name = file_name(&href)?.to_string_lossy().into_owned();
                page.push_str(&format!("<link rel=\"{rel}\" type=\"{sort}\" href=\"{name}{VERSION}\">"));
                wanted.push(Link::File(href));
            }
            other => {
                return Err(Failure(format!(
                    "`rel=\"{other}\"` in `{tag}` is none of rust, css, icon, copy-file, copy-dir"
                )));
            }
        }
        // A link that leaves nothing behind takes its line along.
        rest = if matches!(kind, "css" | "icon") { tail } else { tail.strip_prefix('\n').unwrap_or(tail) };
    }
    page.push_str(rest);
    // The boot script hands its version on to the glue and the WASM.
    Ok((page.replace("src=\"boot.js\"", &format!("src=\"boot.js{VERSION}\"")), wanted))
}

/// A name for exactly this content: the same build gives the same name.
fn version_of(dist: &Path) -> Result<String> {
    let mut hasher = DefaultHasher::new();
    for file in files_in(dist)? {
        hasher.write(&fs::read(&file).map_err(Failure::file(&file))?);
    }
    Ok(format!("?v={:016x}", hasher.finish()))
}

/// Every file of a folder and its sub-folders, in the order of their names.
pub fn files_in(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).map_err(Failure::file(folder))? {
        let path = entry.map_err(Failure::file(folder))?.path();
        if path.is_dir() { found.extend(files_in(&path)?) } else { found.push(path) }
    }
    found.sort();
    Ok(found)
}

fn file_name(path: &Path) -> Result<&std::ffi::OsStr> {
    path.file_name().ok_or_else(|| Failure(format!("`{}` names no file", path.display())))
}

fn copy_file(from: &Path, to: &Path) -> Result<()> {
    fs::copy(from, to).map(|_| ()).map_err(Failure::file(from))
}

fn copy_folder(from: &Path, to: &Path) -> Result<()> {
    fs::create_dir_all(to).map_err(Failure::file(to))?;
    for file in files_in(from)? {
        let inside = file.strip_prefix(from).map_err(Failure::other("copy"))?;
        let copy = to.join(inside);
        if let Some(parent) = copy.parent() {
            fs::create_dir_all(parent).map_err(Failure::file(parent))?;
        }
        copy_file(&file, &copy)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_become_copies_with_relative_versioned_names() {
        let html = "<head>\n<link data-trunk rel=\"css\" href=\"web/a.css\">\n<link data-trunk rel=\"rust\" href=\"web/Cargo.toml\" \
                    data-bin=\"page\">\n<link data-trunk rel=\"copy-dir\" href=\"web/fonts\">\n<script src=\"boot.js\"></script>";
        let (page, wanted) = read_links(html).unwrap();
        assert_eq!(
            page,
            "<head>\n<link rel=\"stylesheet\" type=\"text/css\" href=\"a.css?v=VERSION\">\n<script src=\"boot.js?v=VERSION\"></script>"
        );
        assert_eq!(
            wanted,
            [
                Link::File("web/a.css".into()),
                Link::Rust { manifest: "web/Cargo.toml".into(), bin: "page".into(), features: String::new() },
                Link::Folder("web/fonts".into())
            ]
        );
    }

    #[test]
    fn a_link_that_says_too_little_is_named() {
        let message = |html: &str| read_links(html).unwrap_err().0;
        assert!(message("<link data-trunk rel=\"css\">").contains("has no `href`"));
        assert!(message("<link data-trunk rel=\"sass\" href=\"a\">").contains("`rel=\"sass\"`"));
        assert!(message("<link data-trunk rel=\"rust\" href=\"a\">").contains("has no `data-bin`"));
        assert!(message("<link data-trunk rel=").contains("no `>`"));
    }

    #[test]
    fn the_shell_page_names_files_that_exist_and_no_inline_code() {
        let html = fs::read_to_string(run::root().join("index.html")).unwrap();
        let (page, wanted) = read_links(&html).unwrap();
        for link in wanted {
            if let Link::File(path) | Link::Folder(path) = link {
                assert!(run::root().join(&path).exists(), "{}", path.display());
            }
        }
        assert!(!page.contains("<style") && !page.contains(" style=") && !page.contains(" onclick="), "{page}");
        assert_eq!(page.matches("<script").count(), 1, "one script, and it has a file");
        // The server adds what only a header can say; the rest must be the same text.
        let shared = xtask::server::CONTENT_SECURITY_POLICY.strip_suffix("; frame-ancestors 'self'").unwrap();
        assert!(page.contains(&format!("content=\"{shared}\"")), "policy of page and server differ");
    }
}
