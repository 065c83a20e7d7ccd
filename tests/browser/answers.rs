//! The core's answers, for a browser to compute.

mod agree;

use wasm_bindgen::prelude::wasm_bindgen;

/// [`agree::answers`].
#[wasm_bindgen]
pub fn answers() -> String {
    agree::answers()
}

fn main() {}
