//! Lessons on the page: what is open, what it holds and covers, and the sheet that reads it.
//!
//! The lessons crate reads, draws, computes and marks; here it is shown and answered.

pub mod prose;
pub mod reader;
pub mod session;
