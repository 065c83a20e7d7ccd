//! Air filter: what it costs to draw air through it.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Air filter and inlet pipe.
    pub struct Filter in "filter" {
        /// Pressure loss `k W^2 / rho`.
        loss_1_m4: "1/m4", 0.0, 2.0e6;
    }
}

/// Pressure loss, in Pa: `k W |W| / rho`. It has the sign of the flow.
#[inline(always)]
pub fn loss_pa(filter: &Filter, flow_kg_s: f64, density_kg_m3: f64) -> f64 {
    filter.loss_1_m4 * flow_kg_s * math::fabs(flow_kg_s) / density_kg_m3
}
