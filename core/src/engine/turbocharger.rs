//! A turbocharger: a compressor and a turbine on one shaft.
//!
//! It is a value, so that an engine can have several of them: whatever is computed of a turbocharger takes this value and
//! asks no engine for it.

use crate::math;
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

    /// Shaft speed after a net work on the rotor, in rad/s.
    ///
    /// The balance is one of energy, not of torque: it is exact for any step, and the shaft cannot turn backwards. Chosen:
    /// the slowest shaft turns at 1 rad/s, so that nothing divides by zero.
    #[inline(always)]
    pub fn speed_after_rad_s(&self, shaft_rad_s: f64, net_work_j: f64) -> f64 {
        let square = shaft_rad_s * shaft_rad_s + 2.0 * net_work_j / self.inertia_kg_m2();
        math::sqrt(square.max(1.0))
    }
}
