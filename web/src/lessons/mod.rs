//! Lessons on the page: the list of lessons, the one that is open, and what the learner has done in it.
//!
//! The lessons crate reads, draws, computes and marks; here a lesson is shown, answered and kept. `study` is the state that the
//! page holds of lessons; `open` opens a lesson and says what it frees, hides and marks; `library` fetches the texts; `stints`
//! asks the core in small portions; `record` is what the device keeps. `sheet` shows the list or the lesson, `reader` the
//! lesson, and the rest is one view for each block of it.

pub mod block;
pub mod checkpoint;
pub mod contents;
pub mod curve_names;
pub mod draft;
pub mod elsewhere;
pub mod hand_in;
pub mod head;
pub mod input;
pub mod library;
pub mod marks;
pub mod open;
pub mod order;
pub mod predict;
pub mod prose;
pub mod reader;
pub mod record;
pub mod reveal;
pub mod session;
pub mod sheet;
pub mod sketch_pad;
pub mod stints;
pub mod strip;
pub mod study;
pub mod task;
