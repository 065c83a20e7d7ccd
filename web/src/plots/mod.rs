//! Plots: charts as data, what draws, reads and tabulates them, and one file for each family of charts.
//!
//! `scale`, `ticks`, `clip`, `hatch` and `thin` are geometry; `axis` and `chart` are data; `placing`, `lettering` and `draw` put a
//! chart on a `surface`; `read_off` and `table` say what it holds. `canvas`, `svg`, `inks` and `figure` need a browser, nothing
//! else here does.

pub mod axis;
pub mod canvas;
pub mod chart;
pub mod clip;
pub mod cycle;
pub mod draw;
#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod figure;
pub mod hatch;
pub mod inks;
mod lettering;
pub mod map_charts;
pub mod placing;
pub mod read_off;
#[cfg(test)]
mod recorder;
pub mod scale;
pub mod surface;
pub mod svg;
pub mod sweep_curve;
mod table;
pub mod thin;
pub mod ticks;
pub mod traces;
