//! The physics of Volute: a crank-angle-resolved diesel engine with a vaned turbocharger. Numbers in, numbers out.
//!
//! One way in, one way out: an [`engine::Engine`] and [`settings::Settings`] go in, a [`reading::Reading`] comes out,
//! by [`steady`] for the matched operating point or by [`transient`] for the march in time. No file, clock, randomness or
//! browser; `MODEL.md` beside this crate says what is computed and from which sources.

#![no_std]
extern crate alloc;
// Only for the square root, which `core` does not have yet: see `math::sqrt`.
#[cfg(target_arch = "wasm32")]
extern crate std;

mod answer;
pub mod atmosphere;
pub mod built_in;
pub mod chart;
pub mod combustion;
pub mod compressor;
pub mod coolant;
pub mod cooler;
pub mod crank;
pub mod cycle;
pub mod energy;
pub mod engine;
pub mod engine_file;
pub mod entropy;
pub mod flow;
pub mod friction;
pub mod gas;
pub mod humidity;
pub mod keys;
pub mod ledger;
mod matching;
pub mod math;
mod mixing;
pub mod pipe;
pub mod reading;
pub mod settings;
pub mod steady;
pub mod transient;
pub mod turbine;
pub mod valve;
pub mod wall_heat;
