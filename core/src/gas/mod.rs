//! Gas: what it is made of, how it flows through a restriction, the vapour in it, and the standard atmosphere.

pub mod atmosphere;
pub mod flow;
pub mod humidity;
mod mixture;

pub use mixture::*;
