//! Whether the page stands in a package for a learning platform, and what the package says.

use crate::browser;
use volute_package::Kind;
use volute_package::site::{META_KIND, META_LINK};

/// What a packed page says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packed {
    /// For which kind of platform.
    pub kind: Kind,
    /// The fragment that it opens with, without `#`.
    pub link: String,
}

/// What the package says, if the page stands in one.
pub fn packed() -> Option<Packed> {
    let kind = browser::meta(META_KIND)?.parse().ok()?;
    Some(Packed { kind, link: browser::meta(META_LINK).unwrap_or_default() })
}
