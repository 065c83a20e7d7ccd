//! Air on its way in: filter, compressor and charge cooler at one flow.

use crate::math;
use crate::parts::compressor::{CompressorInlet, CompressorMap, CompressorPoint, SpeedLine};
use crate::parts::{cooler, filter};
use crate::plant::Plant;

/// The filter's loss leaves at least this share of the ambient pressure. Chosen: a search that tries an absurd flow then still
/// finds a pressure.
const LEAST_INLET: f64 = 0.3;

/// Air behind a compressor, at one flow and shaft speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Compressed {
    /// State ahead of the compressor.
    pub inlet: CompressorInlet,
    /// Where the compressor works on its map.
    pub point: CompressorPoint,
    /// Pressure behind it.
    pub p2_pa: f64,
}

/// Air behind a compressor that draws from `inlet`.
pub(crate) fn compress(map: &CompressorMap, line: &SpeedLine, inlet: CompressorInlet, flow_kg_s: f64) -> Compressed {
    let point = line.point(map, &inlet, flow_kg_s);
    Compressed { inlet, point, p2_pa: inlet.p_pa * point.pressure_ratio }
}

/// Air behind the charge cooler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Cooled {
    /// Its enthalpy.
    pub h_j_kg: f64,
    /// Heat that it has given off.
    pub heat_j_kg: f64,
}

impl Plant {
    /// The compressor's speed line at a shaft speed.
    pub(crate) fn speed_line(&self, shaft_rad_s: f64) -> SpeedLine {
        SpeedLine::at(&self.turbocharger.compressor, &self.inlet, shaft_rad_s)
    }

    /// Compressor inlet at a flow: the ambient air less the filter's loss.
    pub(crate) fn inlet_at(&self, flow_kg_s: f64) -> CompressorInlet {
        let loss_pa = filter::loss_pa(&self.engine.filter, flow_kg_s, self.ambient_kg_m3);
        CompressorInlet { p_pa: (self.ambient.p_pa - loss_pa).max(LEAST_INLET * self.ambient.p_pa), ..self.inlet }
    }

    /// Air behind the compressor at a flow through filter and compressor.
    pub(crate) fn compressed(&self, line: &SpeedLine, flow_kg_s: f64) -> Compressed {
        compress(&self.turbocharger.compressor, line, self.inlet_at(flow_kg_s), flow_kg_s)
    }

    /// Air behind the charge cooler, after a compressor's work in J/kg.
    ///
    /// The effectiveness is applied to enthalpy, which at these temperatures is within 0.1 % of temperature.
    pub(crate) fn cooled(&self, flow_kg_s: f64, work_j_kg: f64) -> Cooled {
        let effectiveness = cooler::effectiveness(&self.engine.charge_cooler, flow_kg_s);
        let hot_j_kg = self.ambient_h_j_kg + work_j_kg;
        let heat_j_kg = effectiveness * (hot_j_kg - self.cooler_sink_h_j_kg);
        Cooled { h_j_kg: hot_j_kg - heat_j_kg, heat_j_kg }
    }

    /// Density of air that a compressor has pressed to `p2_pa` by a work in J/kg, at the inlet's heat capacity.
    pub(crate) fn pressed_kg_m3(&self, p2_pa: f64, work_j_kg: f64) -> f64 {
        let inlet = &self.inlet;
        p2_pa / (inlet.r_j_kg_k * (inlet.t_k + work_j_kg / inlet.cp_j_kg_k))
    }

    /// Pressure loss of the charge cooler, in Pa.
    pub(crate) fn cooler_loss_pa(&self, p2_pa: f64, work_j_kg: f64, flow_kg_s: f64) -> f64 {
        cooler::loss_pa(&self.engine.charge_cooler, flow_kg_s, self.pressed_kg_m3(p2_pa, work_j_kg))
    }

    /// Pressure that the charge cooler costs more for each kg/s more, in Pa s/kg, and the same for each square of the flow.
    pub(crate) fn cooler_slope(&self, p2_pa: f64, work_j_kg: f64, flow_kg_s: f64) -> (f64, f64) {
        let loss_pa_s2_kg2 = cooler::loss_pa_s2_kg2(&self.engine.charge_cooler, self.pressed_kg_m3(p2_pa, work_j_kg));
        (2.0 * loss_pa_s2_kg2 * math::fabs(flow_kg_s), loss_pa_s2_kg2)
    }
}
