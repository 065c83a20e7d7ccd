//! The small web server, for `cargo xtask serve` and for the browser tests. The commands are in `main.rs`.

pub mod server;
