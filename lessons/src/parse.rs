//! Reads lesson files.

mod blocks;
mod fields;
mod file;
mod layout;
mod markdown;
mod pieces;
mod questions;
mod settings;
mod states;
mod words;

pub use file::{LARGEST, parse};
pub use words::COURSES;
