//! The version behind every address of a build, so that no cache can mix two builds.

use crate::run::{Failure, Result};
use std::fs;
use std::path::Path;
use xtask::keep::files_in;

/// Puts the version behind every address of a file of the build in its page, style sheets and manifest. The boot script hands its own
/// on to glue and WASM. So a host may let browsers keep everything but the page itself, and no cache can mix two builds.
pub fn add_version(dist: &Path, version: &str) -> Result<()> {
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

#[cfg(test)]
mod tests {
    use super::*;

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
}
