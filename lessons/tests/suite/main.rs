//! The crate as its users see it: one binary, one module for each part. What a test's prefix means stands in DEVELOPERS.md.

mod curves;
mod expressions;
mod files;
mod findings;
mod golden;
mod kinds;
mod marks;
mod results;
mod sample;
mod slips;
mod translation;
mod working_out;
