//! Charge cooler: what share of the possible heat it takes from the air, and what pressure that costs.
//!
//! A heat exchanger against a coolant of fixed temperature. Left out: condensation, the coolant's own warming, warm-up.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Charge cooler between compressor and intake manifold.
    pub struct ChargeCooler in "charge_cooler" {
        /// 1: fitted; 0: no heat exchange.
        fitted: "", 0.0, 1.0;
        /// Number of transfer units at the reference flow.
        transfer_units: "", 0.0, 10.0;
        /// Reference flow of the line above.
        reference_flow_kg_s: "kg/s", 0.005, 5.0;
        /// Transfer units fall with flow to this power.
        flow_exponent: "", 0.0, 1.0;
        /// Temperature of the coolant that enters the cooler.
        sink_k: "K", 250.0, 370.0;
        /// Pressure loss `k W^2 / rho` of cooler and pipes.
        loss_1_m4: "1/m4", 0.0, 2.0e7;
    }
}

/// Effectiveness: the heat that the air gives off, over what it would give off if it left at the coolant's temperature.
///
/// `1 - exp(-NTU)`; NTU falls with flow.
/// Source: CENGEL1998 has the energy balance; the formula is that of an exchanger with one fixed temperature in any text on
/// heat transfer (effectiveness-NTU method, ratio of capacities zero). The power law of NTU is chosen: the air's film
/// coefficient grows more slowly than its flow.
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

/// The same loss for each square of the flow, in Pa/(kg/s)^2: what the cycle holds from one look at the map to the next.
pub fn loss_pa_s2_kg2(c: &ChargeCooler, density_kg_m3: f64) -> f64 {
    c.loss_1_m4 / density_kg_m3
}
