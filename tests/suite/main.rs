//! One binary, one module for each part of the core. `DEVELOPERS.md` says what the prefixes of the names mean.

mod atmosphere;
mod coolant;
mod humidity;
mod pipe;
