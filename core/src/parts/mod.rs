//! The physical parts of an engine and its turbocharger. A part never names another part.

pub mod combustion;
pub mod compressor;
pub mod coolant;
pub mod cooler;
pub mod crank;
pub mod friction;
pub mod pipe;
pub mod turbine;
pub mod valve;
pub mod wall_heat;
