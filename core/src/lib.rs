//! The physics of Volute: a crank-angle-resolved diesel engine with a vaned turbocharger. Numbers in, numbers out.
//!
//! One way in, one way out: an [`engine::Engine`] and [`settings::Settings`] go in, a [`point::reading::Reading`] comes out,
//! by [`point::steady`] for the matched operating point or by [`point::transient`] for the march in time. No file, clock, randomness or
//! browser; `MODEL.md` beside this crate says what is computed and from which sources.

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
