//! What the commands in `main.rs` share with the browser tests: the small web server, and the list of a build's files that
//! the page's service worker keeps.

pub mod keep;
pub mod server;
