//! Lessons on the page: what is open, what it frees, hides and marks, and the sheet that reads it.
//!
//! The lessons crate reads, draws, computes and marks; here it is shown, answered and kept. `desk` is what the page knows of
//! lessons, `hand` asks the core in small portions, `session` holds what needs no browser; the rest is one view a block.

pub mod block;
pub mod checkpoint;
pub mod contents;
pub mod desk;
pub mod draft;
pub mod hand;
pub mod input;
pub mod keep;
pub mod library;
pub mod open;
pub mod order;
pub mod predict;
pub mod prose;
pub mod reader;
pub mod reveal;
pub mod session;
pub mod sketch;
pub mod strip;
pub mod task;
