//! Builds, serves and tests.
fn main() {}
