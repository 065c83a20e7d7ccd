//! What the commands in `main.rs` share with the tests: the small web server, the list of a build's files that the page's
//! service worker keeps, the catalogs of its languages, and its style sheets.

pub mod keep;
pub mod language;
pub mod server;
#[cfg(feature = "sources")]
pub mod sources;
pub mod style;
