//! The physics of Volute: a crank-angle-resolved diesel engine with a vaned turbocharger. Numbers in, numbers out.
//!
//! An [`engine::Engine`] and [`settings::Settings`] go in, a [`point::reading::Reading`] comes out: [`point::steady`] finds
//! the matched operating point, [`point::transient`] marches in time.
//!
//! ```
//! use volute_core::engine::built_in;
//! use volute_core::point::steady;
//! use volute_core::settings::{Load, REFERENCE_DAY, Settings};
//!
//! let engine = built_in::opening();
//! let load = Load::Torque { torque_n_m: 600.0 };
//! let settings = Settings { speed_rpm: 1400.0, load, vane_open_pct: 80.0, ambient: REFERENCE_DAY };
//! let reading = steady::solve(&engine, &settings)?.reading;
//! assert!(reading.holds && (reading.brake.torque_n_m - 600.0).abs() < 0.1);
//! assert!(reading.boost_pa > 0.0);
//! # Ok::<(), steady::BenchError>(())
//! ```
//!
//! # Rooms
//!
//! Each may use those to its left: [`math`], [`keys`] ← [`gas`] ← [`parts`] ← [`engine`] ← [`settings`] ← [`plant`] ← [`cycle`]
//! ← [`point`] ← [`views`]. There is no file, clock, randomness or browser; `MODEL.md` beside this crate says what is computed
//! and from which sources.
//!
//! # Units
//!
//! All numbers are SI and the end of a name says the unit; pressures are absolute. Three names are the trade's instead, since
//! that is how everybody writes and reads these quantities: `_rpm` for speeds of the engine (1/min), `_deg` for crank angles
//! (whole degrees, of which the integration grid is made; 0 is firing top dead centre, up to 720), and `_pct` for vane
//! positions (0 tightest, 100 fully open).

#![no_std]
extern crate alloc;
// Only for the square root, which `core` does not have yet: see `math::sqrt`.
#[cfg(target_arch = "wasm32")]
extern crate std;

pub mod cycle;
pub mod engine;
pub mod gas;
pub mod keys;
pub mod math;
pub mod parts;
pub mod plant;
pub mod point;
pub mod settings;
pub mod views;
