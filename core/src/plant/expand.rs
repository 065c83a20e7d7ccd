//! Exhaust gas through a turbine at one instant.

use crate::gas::Gas;
use crate::parts::turbine::{Nozzle, TurbineInlet, TurbinePoint};

/// Exhaust gas ahead of a turbine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ExhaustGas {
    /// Pressure.
    pub p_pa: f64,
    /// Temperature.
    pub t_k: f64,
    /// Gas constant.
    pub r_j_kg_k: f64,
    /// Burned-fuel fraction.
    pub x: f64,
}

impl ExhaustGas {
    /// The turbine's inlet, with the heat capacities at the mean temperature of an expansion to `t4_k`.
    #[inline(always)]
    pub(crate) fn inlet(&self, gas: &Gas, t4_k: f64) -> TurbineInlet {
        let mean_k = 0.5 * (self.t_k + t4_k);
        let gamma = 1.0 + self.r_j_kg_k / gas.cv_j_kg_k(mean_k, self.x);
        TurbineInlet { p_pa: self.p_pa, t_k: self.t_k, r_j_kg_k: self.r_j_kg_k, gamma }
    }
}

/// The turbine between exhaust gas and the pressure behind it. `t4_k` is the outlet temperature as last known.
#[inline(always)]
pub(crate) fn expand(
    nozzle: &Nozzle,
    tip_speed_m_s: f64,
    gas: &Gas,
    from: &ExhaustGas,
    p4_pa: f64,
    t4_k: f64,
) -> TurbinePoint {
    nozzle.point(&from.inlet(gas, t4_k), p4_pa, tip_speed_m_s)
}
