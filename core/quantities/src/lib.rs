//! One vocabulary of numbers for the page, the lessons and the terminal.
//!
//! * [`quantities`] has one row for each number that a reading or a run can give: its key, its kind, how it is read.
//! * [`kinds`] says how a kind of number is shown: its unit, symbol and decimals, in SI and in customary units.
//! * [`units`] has every unit with its factor and zero.
//! * [`settings`] has one row for each number that a person can set.
//!
//! Here are tables and no formatting: the page carries this crate in the module that it fetches first.

#![no_std]

pub mod kinds;
pub mod quantities;
pub mod settings;
pub mod units;

pub use kinds::Kind;
pub use quantities::{QUANTITIES, Quantity, RUN_QUANTITIES, RunQuantity};
