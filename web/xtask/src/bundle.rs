//! From the workspace to a folder that any static host can serve.

use crate::run::{self, Failure, Result};
use std::collections::HashMap;
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use wasm_bindgen_cli_support::Bindgen;
use xtask::keep::{self, files_in};
use xtask::language::Catalog;
use xtask::style;

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

/// Pages of a build: the bench, and the instructor's desk.
pub const SHELLS: [&str; 2] = ["index.html", "web/desk.html"];

/// Builds what the pages `shells` in `root` and their links name into `dist`, which is emptied first. The first becomes the page
/// of the folder; what several name is built once. Every address inside is relative, and so is every link of a page to `root`.
pub fn pages(root: &Path, shells: &[&str], dist: &Path, profile: Profile) -> Result<()> {
    let (mut pages, mut wanted) = (Vec::new(), Vec::new());
    for (i, name) in shells.iter().enumerate() {
        let shell = root.join(name);
        let html = fs::read_to_string(&shell).map_err(Failure::file(&shell))?;
        let (html, links) = read_links(&html).map_err(Failure::in_file(&shell))?;
        let beside = if i == 0 { "index.html".into() } else { file_name(&shell)?.to_owned() };
        pages.push((beside, html));
        for link in links {
            if !wanted.contains(&link) {
                wanted.push(link);
            }
        }
    }
    // Compile before the old page goes: a mistake in code, catalog or style sheet leaves it in place.
    let mut glue = Vec::new();
    for link in &wanted {
        if let Link::Rust { manifest, bin, features } = link {
            glue.push((compile(&root.join(manifest), bin, features, profile)?, bin.clone()));
        }
        if let Link::Style(path) = link {
            style::joined(&root.join(path)).map_err(Failure::other("style sheets"))?;
        }
        if let Link::Folder(folder) = link {
            let files = files_in(&root.join(folder)).map_err(Failure::file(folder))?;
            files.iter().filter(|file| is_catalog(file)).try_for_each(|file| catalog(file).map(|_| ()))?;
        }
    }
    if dist.exists() {
        fs::remove_dir_all(dist).map_err(Failure::file(dist))?;
    }
    fs::create_dir_all(dist).map_err(Failure::file(dist))?;
    for (binary, bin) in glue {
        assemble(&binary, &bin, dist, profile)?;
    }
    for link in &wanted {
        match link {
            Link::Rust { .. } => {}
            Link::File(path) => copy_file(&root.join(path), &dist.join(file_name(path)?))?,
            Link::Style(path) => {
                let sheet = style::joined(&root.join(path)).map_err(Failure::other("style sheets"))?;
                fs::write(dist.join(file_name(path)?), sheet).map_err(Failure::file(path))?;
            }
            Link::Folder(path) => copy_folder(&root.join(path), &dist.join(file_name(path)?))?,
        }
    }
    for (address, text) in volute_lessons::index::files() {
        let path = dist.join(address);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(Failure::file(folder))?;
        }
        fs::write(&path, text).map_err(Failure::file(&path))?;
    }
    for (name, html) in pages {
        let page = dist.join(name);
        fs::write(&page, html).map_err(Failure::file(&page))?;
    }
    // The name of exactly this content: the same sources give the same build.
    let version = keep::version_of(dist).map_err(Failure::file(dist))?;
    version_addresses(dist, &version)?;
    keep::write_names(dist).map_err(Failure::file(dist))?;
    keep::write_list(dist, &version).map_err(Failure::file(dist))
}

/// Puts the version behind every address of a file of the build in its page, style sheets and manifest. The boot script hands its own
/// on to glue and WASM. So a host may let browsers keep everything but the page itself, and no cache can mix two builds.
fn version_addresses(dist: &Path, version: &str) -> Result<()> {
    for file in files_in(dist).map_err(Failure::file(dist))? {
        let ways: &[(&str, &str)] = match file.extension().and_then(|ending| ending.to_str()) {
            Some("html") => &[("href=\"", "\""), ("src=\"", "\"")],
            Some("css") => &[("url(", ")")],
            Some("webmanifest") => &[("\"src\": \"", "\"")],
            // The modules name each other: by the same version as the page names them, or each would be loaded twice.
            Some("js") => &[("from \"./", "\""), ("new URL(\"./", "\"")],
            _ => continue,
        };
        let mut text = fs::read_to_string(&file).map_err(Failure::file(&file))?;
        let beside = file.parent().unwrap_or(dist);
        for (open, close) in ways {
            text = versioned(&text, open, close, version, |name| beside.join(name).is_file());
        }
        fs::write(&file, text).map_err(Failure::file(&file))?;
    }
    Ok(())
}

/// Appends the version to every name between `open` and `close` that `is_ours`.
fn versioned(text: &str, open: &str, close: &str, version: &str, is_ours: impl Fn(&str) -> bool) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, tail)) = rest.split_once(open) {
        let name = tail.split(close).next().unwrap_or_default();
        out.extend([before, open, name]);
        if is_ours(name) {
            out.extend(["?v=", version]);
        }
        rest = &tail[name.len()..];
    }
    out + rest
}

/// Compiles one binary for the browser. Returns where it lies.
fn compile(manifest: &Path, bin: &str, features: &str, profile: Profile) -> Result<PathBuf> {
    ensure_target()?;
    let mut cargo = run::cargo();
    cargo.args(["build", "--profile", profile.name(), "--target", TARGET, "--bin", bin, "--features", features]);
    cargo.arg("--manifest-path").arg(manifest);
    cargo.env("CARGO_ENCODED_RUSTFLAGS", compiler_flags().join("\u{1f}"));
    run::to_end(&mut cargo)?;
    Ok(run::target_folder().join(TARGET).join(profile.name()).join(format!("{bin}.wasm")))
}

/// The file that fetches the modules split off the main one.
const LOADER: &str = "__wasm_split.js";

/// Splits a binary into the module of the first view and those that come later, and writes all with their glue.
fn assemble(binary: &Path, bin: &str, dist: &Path, profile: Profile) -> Result<()> {
    let whole = fs::read(binary).map_err(Failure::file(binary))?;
    let (main, glue) = (binary.with_extension("main.wasm"), format!("./{bin}.js"));
    let mut options = wasm_split_cli_support::Options::new(&whole);
    options.output_dir = dist;
    options.main_out_path = &main;
    options.main_module = &glue;
    wasm_split_cli_support::transform(options).map_err(|e| Failure(format!("splitting {bin}: {e:#}")))?;
    let mut bindgen = Bindgen::new();
    bindgen.web(true).map_err(Failure::other("wasm-bindgen"))?;
    bindgen.input_path(&main).out_name(bin).typescript(false).keep_lld_exports(true);
    bindgen.remove_name_section(profile == Profile::Small).remove_producers_section(true);
    bindgen.generate(dist).map_err(Failure::other("wasm-bindgen"))?;
    number_imports(dist, &dist.join(format!("{bin}.js")))?;
    let path = dist.join(LOADER);
    let script = fs::read_to_string(&path).map_err(Failure::file(&path))?;
    // Streaming compilation insists on the right content type, which some hosts do not send.
    let script = script.replace(
        "WebAssembly.instantiateStreaming(src, imports)",
        "WebAssembly.instantiate(await (await src).arrayBuffer(), imports)",
    );
    fs::write(&path, script).map_err(Failure::file(&path))
}

/// Puts numbers in place of the hashes behind the names that glue and modules share: some two hundred of them, sixteen digits each,
/// are 1 % of what is transferred. A number is as long as its hash, so that nothing in a module moves.
fn number_imports(dist: &Path, glue: &Path) -> Result<()> {
    let script = fs::read(glue).map_err(Failure::file(glue))?;
    let mut numbers = HashMap::new();
    for name in hashed_names(&script) {
        let next = numbers.len();
        numbers.entry(script[name].to_vec()).or_insert(next);
    }
    for path in files_in(dist).map_err(Failure::file(dist))? {
        let mut file = fs::read(&path).map_err(Failure::file(&path))?;
        for name in hashed_names(&file) {
            if let Some(number) = numbers.get(&file[name.clone()]) {
                let digits = format!("{number:0HASH$}");
                file[name.end - HASH..name.end].copy_from_slice(digits.as_bytes());
            }
        }
        fs::write(&path, file).map_err(Failure::file(&path))?;
    }
    Ok(())
}

/// Digits of a hash.
const HASH: usize = 16;

/// Where names such as `__wbg_focus_885197ce680db9e0` stand.
fn hashed_names(file: &[u8]) -> Vec<Range<usize>> {
    const BEGIN: &[u8] = b"__wbg_";
    let of_name = |byte: &u8| byte.is_ascii_alphanumeric() || *byte == b'_';
    let begins = (0..file.len()).filter(|at| file[*at..].starts_with(BEGIN));
    let names = begins.filter_map(|at| {
        // In a module a letter may follow by chance: the name ends with its first hash.
        let rest = &file[at..at + file[at..].iter().take_while(|byte| of_name(byte)).count()];
        let is_hash = |end: &usize| {
            let (before, hash) = rest[..*end].split_at(end - HASH);
            before.ends_with(b"_") && hash.iter().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        };
        let end = (BEGIN.len() + HASH..=rest.len()).find(is_hash)?;
        Some(at..at + end)
    });
    names.collect()
}

/// Leptos with one type for all views instead of one for each shape of markup: 4 % less to transfer. And no path of the
/// builder's home in the messages of a panic, so that every machine builds the same bytes.
fn compiler_flags() -> Vec<String> {
    // What is split afterwards must still know where its addresses stand.
    let mut flags = vec!["--cfg".into(), "erase_components".into(), "-Clink-arg=--emit-relocs".into()];
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

/// What a `data-trunk` link asks for.
#[derive(Debug, PartialEq)]
enum Link {
    Rust {
        manifest: PathBuf,
        bin: String,
        features: String,
    },
    File(PathBuf),
    /// A style sheet with all that it imports.
    Style(PathBuf),
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
                page.push_str(&format!("<link rel=\"{rel}\" type=\"{sort}\" href=\"{name}\">"));
                wanted.push(if kind == "css" { Link::Style(href) } else { Link::File(href) });
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
    Ok((page, wanted))
}

fn file_name(path: &Path) -> Result<&std::ffi::OsStr> {
    path.file_name().ok_or_else(|| Failure(format!("`{}` names no file", path.display())))
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
    fn links_become_relative_links_to_copies() {
        let html = "<head>\n<link data-trunk rel=\"css\" href=\"web/a.css\">\n<link data-trunk rel=\"rust\" href=\"web/Cargo.toml\" \
                    data-bin=\"page\">\n<link data-trunk rel=\"copy-dir\" href=\"web/fonts\">\n<script src=\"boot.js\"></script>";
        let (page, wanted) = read_links(html).unwrap();
        assert_eq!(
            page,
            "<head>\n<link rel=\"stylesheet\" type=\"text/css\" href=\"a.css\">\n<script src=\"boot.js\"></script>"
        );
        assert_eq!(
            wanted,
            [
                Link::Style("web/a.css".into()),
                Link::Rust { manifest: "web/Cargo.toml".into(), bin: "page".into(), features: String::new() },
                Link::Folder("web/fonts".into())
            ]
        );
    }

    #[test]
    fn names_with_a_hash_are_found_and_numbered_alike() {
        let folder = std::env::temp_dir().join(format!("volute-names-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let write = |name: &str, text: &str| fs::write(folder.join(name), text).unwrap();
        let glue = "__wbg_a_b_0123456789abcdef: x, __wbg_a_b_fedcba9876543210() __wbg_get(__wbg_a_b_0123456789abcdef) __wbg_c_0123";
        write("page.js", glue);
        // In a module the next byte may be a letter, and a name that the glue does not know is left.
        write(
            "page.wasm",
            "\u{1}__wbg_a_b_fedcba9876543210e\u{2}__wbg_z_00000000000000ff\u{3}__wbg_a_b_0123456789abcdef__wbg_",
        );
        number_imports(&folder, &folder.join("page.js")).unwrap();
        let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
        assert_eq!(
            read("page.js"),
            "__wbg_a_b_0000000000000000: x, __wbg_a_b_0000000000000001() __wbg_get(__wbg_a_b_0000000000000000) __wbg_c_0123"
        );
        assert_eq!(
            read("page.wasm"),
            "\u{1}__wbg_a_b_0000000000000001e\u{2}__wbg_z_00000000000000ff\u{3}__wbg_a_b_0000000000000000__wbg_"
        );
        fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn only_files_of_the_build_get_a_version() {
        let ours = |name: &str| matches!(name, "boot.js" | "a.css");
        let html = "<link href=\"a.css\"><script src=\"boot.js\"></script><a href=\"#top\" id=\"a.css\"><a href=\"b.html\"><a href=\"";
        let html = versioned(&versioned(html, "href=\"", "\"", "7", ours), "src=\"", "\"", "7", ours);
        assert_eq!(
            html,
            "<link href=\"a.css?v=7\"><script src=\"boot.js?v=7\"></script><a href=\"#top\" id=\"a.css\"><a href=\"b.html\"><a href=\""
        );
        let css = versioned("a{src:url(f/a.woff2) b}c{d:url(data:x)}", "url(", ")", "7", |name| name == "f/a.woff2");
        assert_eq!(css, "a{src:url(f/a.woff2?v=7) b}c{d:url(data:x)}");
    }

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
        let (_, wanted) = read_links(&page).unwrap();
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
    fn a_link_that_says_too_little_is_named() {
        let message = |html: &str| read_links(html).unwrap_err().0;
        assert!(message("<link data-trunk rel=\"css\">").contains("has no `href`"));
        assert!(message("<link data-trunk rel=\"sass\" href=\"a\">").contains("`rel=\"sass\"`"));
        assert!(message("<link data-trunk rel=\"rust\" href=\"a\">").contains("has no `data-bin`"));
        assert!(message("<link data-trunk rel=").contains("no `>`"));
    }

    #[test]
    fn the_shell_page_names_files_that_exist_and_no_inline_code() {
        for name in SHELLS {
            let html = fs::read_to_string(run::root().join(name)).unwrap();
            let (page, wanted) = read_links(&html).unwrap();
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
