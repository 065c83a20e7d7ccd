//! A turbocharger: a compressor and a turbine on one shaft.
//!
//! It is a value, so that an engine can have several of them: whatever is computed of a turbocharger takes this value and
//! asks no engine for it.

use crate::parts::compressor::CompressorMap;
use crate::parts::shaft::Shaft;
use crate::parts::turbine::Turbine;

/// A compressor and a turbine on one shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turbocharger {
    /// What presses the air.
    pub compressor: CompressorMap,
    /// What drives the shaft.
    pub turbine: Turbine,
    /// What joins the two.
    pub shaft: Shaft,
}

impl Turbocharger {
    /// Moment of inertia of the rotor, in kg m2: that of the file times the fifth power of the turbine's size factor.
    ///
    /// The rule is that of similar bodies of one material. The turbine's wheel, of nickel, is most of the rotor, so the
    /// compressor's wheel counts as scaled with it. Chosen: the compressor's own size factor leaves the inertia alone.
    pub fn inertia_kg_m2(&self) -> f64 {
        let size = self.turbine.size_factor;
        let square = size * size;
        self.shaft.inertia_kg_m2 * square * square * size
    }
}
