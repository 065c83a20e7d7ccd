//! Gas: what it is made of, how it flows through a restriction, the vapour in it, the air outside, and the standard atmosphere.

pub mod ambient;
pub mod atmosphere;
mod content;
pub mod flow;
pub mod humidity;
mod mixture;

pub use ambient::{Ambient, REFERENCE_DAY};
pub use content::Content;
pub use mixture::*;
