//! The bench from a terminal.
fn main() {}
