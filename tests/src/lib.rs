//! What the tests share: the reference tables, and sums that are independent of the core.

pub mod reference;
pub mod species;
