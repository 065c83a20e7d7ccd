//! Skeleton.

#[cfg(feature = "browser")]
#[path = "../browser/harness.rs"]
pub mod browser;
