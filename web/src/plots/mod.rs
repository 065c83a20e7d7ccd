//! Plots: scales, ticks, hatches and what is drawn with them. Everything but `canvas` and `svg` works without a browser.

pub mod canvas;
pub mod chart;
pub mod clip;
pub mod cycle;
pub mod hatch;
pub mod maps;
pub mod paper;
#[cfg(test)]
mod recorder;
pub mod scale;
pub mod svg;
pub mod sweep;
pub mod thin;
pub mod ticks;
pub mod time;
