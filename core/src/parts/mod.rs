//! The physical parts of an engine and its turbocharger.
//!
//! Each part has a module of its own: its parameters with their ranges, its own check, and what it does. A part never names
//! another part; what two of them share stands below, in `gas`.

pub mod combustion;
pub mod compressor;
pub mod coolant;
pub mod cooler;
pub mod crank;
pub mod filter;
pub mod friction;
pub mod fuel;
pub mod limits;
pub mod manifold;
pub mod pipe;
pub mod range;
pub mod shaft;
pub mod turbine;
pub mod valve;
pub mod vanes;
pub mod wall_heat;
