//! What the tests share: the reference tables, sums that are independent of the core, and a browser that tests control.

#[cfg(feature = "browser")]
#[path = "../browser/harness.rs"]
pub mod browser;
pub mod reference;
pub mod species;
