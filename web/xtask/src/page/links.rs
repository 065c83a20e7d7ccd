//! What belongs to a page: the `data-trunk` links of its HTML, which the program `trunk` reads as well.

use crate::run::{Failure, Result};
use std::path::{Path, PathBuf};

/// What a `data-trunk` link asks for.
#[derive(Debug, PartialEq)]
pub enum Link {
    /// A binary of the package `manifest`, compiled for the browser.
    Rust { manifest: PathBuf, bin: String, features: String },
    /// A file to copy.
    File(PathBuf),
    /// A style sheet with all that it imports.
    Style(PathBuf),
    /// A folder to copy.
    Folder(PathBuf),
}

/// Turns the `data-trunk` links into links to the copies, and lists what is to be copied.
pub fn read(html: &str) -> Result<(String, Vec<Link>)> {
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

/// The last step of a path. Errors: it has none.
pub fn file_name(path: &Path) -> Result<&std::ffi::OsStr> {
    path.file_name().ok_or_else(|| Failure(format!("`{}` names no file", path.display())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_become_relative_links_to_copies() {
        let html = "<head>\n<link data-trunk rel=\"css\" href=\"web/a.css\">\n<link data-trunk rel=\"rust\" href=\"web/Cargo.toml\" \
                    data-bin=\"page\">\n<link data-trunk rel=\"copy-dir\" href=\"web/fonts\">\n<script src=\"boot.js\"></script>";
        let (page, wanted) = read(html).unwrap();
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
    fn a_link_that_says_too_little_is_named() {
        let message = |html: &str| read(html).unwrap_err().0;
        assert!(message("<link data-trunk rel=\"css\">").contains("has no `href`"));
        assert!(message("<link data-trunk rel=\"sass\" href=\"a\">").contains("`rel=\"sass\"`"));
        assert!(message("<link data-trunk rel=\"rust\" href=\"a\">").contains("has no `data-bin`"));
        assert!(message("<link data-trunk rel=").contains("no `>`"));
    }
}
