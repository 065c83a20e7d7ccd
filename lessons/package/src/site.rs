//! The built page as it goes into a package.

use crate::Kind;
use crate::xml::escape;
use crate::zip::Entry;

/// Name of the page's file.
pub const PAGE: &str = "index.html";
/// Name of the `meta` element that says what kind of package the page is in.
pub const META_KIND: &str = "volute-package";
/// Name of the `meta` element that holds the fragment with which the page opens.
pub const META_LINK: &str = "volute-link";

/// Files that only serve to install the page on a device. A package is never installed: its address belongs to the platform,
/// and we must not keep anything for it.
const ONLY_INSTALLED: [&str; 3] = ["service-worker.js", "manifest.webmanifest", "files.json"];
/// The instructor's desk. It shows answers, so no learner's package holds it.
const DESK: [&str; 2] = ["desk.html", "desk.css"];
/// Endings of the compressed copies that a host keeps beside its files.
const BESIDE: [&str; 2] = [".br", ".gz"];

/// Why these files are not the built page.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum SiteError {
    #[error("there is no `{PAGE}`; a package is made from the folder that `cargo xtask build` writes")]
    NoPage,
    #[error("`{PAGE}` is not text in UTF-8")]
    NotText,
    #[error("`{PAGE}` has no `{missing}`; a package is made from the page that `cargo xtask build` writes")]
    NotOurs { missing: &'static str },
    #[error("`{PAGE}` is in a package already; take the page itself")]
    Packed,
}

/// The files that a package needs. The page among them is changed: it says that it is in a package, and what it opens.
pub fn in_package(site: Vec<Entry>, kind: Kind, link: &str) -> Result<Vec<Entry>, SiteError> {
    let found = site.iter().find(|file| file.name == PAGE).ok_or(SiteError::NoPage)?;
    let html = std::str::from_utf8(&found.bytes).map_err(|_| SiteError::NotText)?;
    let page = page(html, kind, link)?;
    let icon_unused = |name: &str| name.starts_with("icon") && !page.contains(&format!("\"{name}"));
    let mut files: Vec<Entry> = site
        .into_iter()
        .filter(|file| {
            let name = file.name.as_str();
            !ONLY_INSTALLED.contains(&name)
                && !DESK.contains(&name)
                && !BESIDE.iter().any(|end| name.ends_with(end))
                && !icon_unused(name)
                && name != PAGE
        })
        .collect();
    files.push(Entry::stored(PAGE, page));
    Ok(files)
}

/// The page with its two `meta` elements and without its manifest. For cmi5 it may also speak to the platform's record store,
/// which may stand on another host.
fn page(html: &str, kind: Kind, link: &str) -> Result<String, SiteError> {
    if html.contains(META_KIND) {
        return Err(SiteError::Packed);
    }
    let mut lines: Vec<&str> = html.lines().collect();
    lines.retain(|line| !line.trim_start().starts_with("<link rel=\"manifest\""));
    let mut html = lines.join("\n");
    html.push('\n');
    const END: &str = "</head>";
    let marks = format!(
        "<meta name=\"{META_KIND}\" content=\"{kind}\">\n<meta name=\"{META_LINK}\" content=\"{}\">\n{END}",
        escape(link)
    );
    html = replaced(&html, END, &marks)?;
    match kind {
        Kind::Scorm12 => Ok(html),
        Kind::Cmi5 => replaced(&html, "connect-src 'self'", "connect-src 'self' https: http:"),
    }
}

fn replaced(html: &str, from: &'static str, to: &str) -> Result<String, SiteError> {
    let (before, after) = html.split_once(from).ok_or(SiteError::NotOurs { missing: from })?;
    Ok([before, to, after].concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    const HTML: &str = "<!doctype html>\n<head>\n<meta content=\"a; connect-src 'self'; b\">\n<link rel=\"manifest\" href=\"manifest.webmanifest?v=1\">\n<link href=\"icon-192.png?v=1\">\n</head>\n<body></body>";

    fn site(html: &str) -> Vec<Entry> {
        let names = [
            "a.css",
            "a.css.br",
            "service-worker.js",
            "manifest.webmanifest",
            "files.json",
            "icon-192.png",
            "icon-512.png",
            "desk.html",
            "desk.css",
        ];
        names.iter().map(|name| Entry::stored(*name, *name)).chain([Entry::stored(PAGE, html)]).collect()
    }

    #[test]
    fn by_hand_a_package_holds_only_what_it_needs() {
        for kind in [Kind::Scorm12, Kind::Cmi5] {
            let files = in_package(site(HTML), kind, "a=\"1\"&b").unwrap();
            let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
            assert_eq!(names, ["a.css", "icon-192.png", PAGE]);
            let page = std::str::from_utf8(&files[2].bytes).unwrap();
            assert!(page.contains(&format!("<meta name=\"volute-package\" content=\"{kind}\">")), "{page}");
            assert!(page.contains("<meta name=\"volute-link\" content=\"a=&quot;1&quot;&amp;b\">\n</head>"), "{page}");
            assert!(!page.contains("manifest"), "{page}");
            assert_eq!(page.contains("connect-src 'self' https: http:; b"), kind == Kind::Cmi5, "{page}");
        }
    }

    #[test]
    fn by_hand_a_site_that_is_not_the_page_is_refused_with_a_reason() {
        let fault = |site: Vec<Entry>| in_package(site, Kind::Cmi5, "").unwrap_err();
        assert_eq!(fault(vec![]), SiteError::NoPage);
        assert_eq!(fault(vec![Entry::stored(PAGE, [0xff])]), SiteError::NotText);
        assert_eq!(fault(site("<p>other</p>")), SiteError::NotOurs { missing: "</head>" });
        assert_eq!(fault(site("<head></head>")), SiteError::NotOurs { missing: "connect-src 'self'" });
        let once = in_package(site(HTML), Kind::Scorm12, "").unwrap();
        assert_eq!(fault(once), SiteError::Packed);
    }
}
