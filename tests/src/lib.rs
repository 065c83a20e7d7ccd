//! What the tests share: the reference tables and how they are read.

pub mod reference;
