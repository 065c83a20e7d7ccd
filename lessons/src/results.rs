//! What a learner did, as a file that goes back to the instructor, and what a class did.
//!
//! A file is JSON that people can read, with a checksum at its end. The checksum shows that a file was damaged on its way, or
//! changed by hand carelessly. It does not prove that the file is honest: the learner's own browser writes it. Numbers in a
//! file are whole, so that reading and writing never changes one.
//!
//! Files come from strangers: everything has a limit, and a message says what is wrong and where.

pub mod class;
mod json;
mod of;
mod read;
mod report;
pub mod tables;

pub use json::LARGEST;
pub use read::{ReadError, Sealed, read};
pub use report::{
    ItemReport, Kind, LONGEST_NAME, LONGEST_TEXT, LessonReport, MOST_ITEMS, MOST_LESSONS, MOST_POINTS, MOST_TRIES,
    Report, Try, version_of,
};
