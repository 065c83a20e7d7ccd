//! How far a learner is in one lesson: what is locked, what may be seen, which tries are left, what was answered.
//!
//! It is a value and not a store: the page keeps it where it likes, and a package writes it into its report. It has two forms
//! as text: the whole record, and a short one for the resume data of an LMS, in which long answers are cut.

mod record;
mod text;

pub use record::{Attempt, LockError, Locked, MOST_ATTEMPTS, Progress, TRIES, TaskState, Tries};
pub use text::ReadProgressError;

#[cfg(test)]
mod tests;
