//! Charge cooler: how much of the heat it could take it does take, and what pressure that costs.
//!
//! A heat exchanger against a coolant of fixed temperature. Left out: condensation, the coolant's own warming, warm-up.

use crate::engine::ChargeCooler;
use crate::math;

/// Effectiveness: heat given off over what cooling to the coolant's temperature would give off.
/// `1 - exp(-NTU)`, NTU falling with flow. Source: any heat-transfer text (exchanger with one fixed temperature).
pub fn effectiveness(c: &ChargeCooler, flow_kg_s: f64) -> f64 {
    if c.fitted < 0.5 || c.transfer_units <= 0.0 {
        return 0.0;
    }
    let relative = (math::fabs(flow_kg_s) / c.reference_flow_kg_s).max(1e-3);
    1.0 - math::exp(-c.transfer_units * math::pow(relative, -c.flow_exponent))
}

/// Pressure loss, in Pa: `k W |W| / rho`, rho ahead of the cooler.
pub fn loss_pa(c: &ChargeCooler, flow_kg_s: f64, density_kg_m3: f64) -> f64 {
    c.loss_1_m4 * flow_kg_s * math::fabs(flow_kg_s) / density_kg_m3
}
