//! Centrifugal compressor: pressure and power at a flow and a shaft speed, smooth everywhere.
//!
//! The map is dimensionless. With tip speed U, inlet density rho1 and tip diameter D, the flow coefficient is
//! `phi = W/(rho1 U D^2)` and the head coefficient `psi` is isentropic enthalpy rise over U^2. To the right of the surge
//! line a speed line is a generalised ellipse that falls to no head at choke; to the left a cubic; for reverse flow a
//! parabola. Power comes from a work-input line, so efficiency is a result and stays finite at no flow.
//! Sources: ellipse form after Leufven and Eriksson (2013), cubic and reverse branch after Gravdahl and Egeland (1999); the
//! numbers are each engine file's own. Left out: inlet swirl, heat from the turbine side, blade geometry as such.

use crate::engine::CompressorMap;
use crate::math;

/// Gas at the compressor inlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet {
    /// Absolute pressure.
    pub p_pa: f64,
    /// Temperature.
    pub t_k: f64,
    /// Gas constant.
    pub r_j_kg_k: f64,
    /// Heat capacity at constant pressure.
    pub cp_j_kg_k: f64,
}

impl Inlet {
    fn density_kg_m3(&self) -> f64 {
        self.p_pa / (self.r_j_kg_k * self.t_k)
    }
}

/// One speed line: what the shaft speed alone decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpeedLine {
    /// Tip speed, in m/s.
    pub tip_speed_m_s: f64,
    /// Head coefficient at the surge line.
    pub peak_head: f64,
    /// Flow coefficient at the surge line.
    pub surge_flow: f64,
    /// Flow coefficient at choke (no head left).
    pub choke_flow: f64,
    exponent: f64,
    /// Value and slope of the ellipse where the tangent takes over.
    tangent: (f64, f64),
}

/// The compressor at one flow and speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompressorPoint {
    /// Outlet over inlet pressure.
    pub pressure_ratio: f64,
    /// Change of outlet pressure with flow at constant speed, in Pa s/kg.
    pub slope_pa_s_kg: f64,
    /// Power into the gas, in W.
    pub power_w: f64,
    /// Flow coefficient.
    pub flow_coefficient: f64,
}

impl SpeedLine {
    /// The line at a shaft speed.
    pub fn at(map: &CompressorMap, inlet: &Inlet, shaft_rad_s: f64) -> Self {
        let tip_speed_m_s = 0.5 * map.wheel_m() * shaft_rad_s;
        let gamma = inlet.cp_j_kg_k / (inlet.cp_j_kg_k - inlet.r_j_kg_k);
        let mach = tip_speed_m_s / math::sqrt(gamma * inlet.r_j_kg_k * inlet.t_k);
        // Beyond the fastest wheel the polynomials in Mach number mean nothing: hold their end values there.
        let dm = mach.min(2.2) - 1.0;
        let peak_head =
            (map.peak_head + dm * (map.peak_head_slope + dm * map.peak_head_curve)).max(0.1) * map.head_factor;
        let surge_flow = (map.surge_flow + map.surge_flow_slope * mach.min(2.2)).max(0.004);
        let choke_flow =
            (map.choke_flow + dm * (map.choke_flow_slope + dm * map.choke_flow_curve)).max(surge_flow + 0.01);
        let exponent = (map.shape_exponent + map.shape_exponent_slope * dm).max(1.2);
        let s = map.tangent_from;
        let power = math::pow(s, exponent);
        let value = math::pow(1.0 - power, 1.0 / exponent);
        let tangent = (value, -power / s * value / (1.0 - power));
        Self { tip_speed_m_s, peak_head, surge_flow, choke_flow, exponent, tangent }
    }

    /// Head coefficient and its slope with the flow coefficient.
    pub fn head(&self, map: &CompressorMap, phi: f64) -> (f64, f64) {
        let shutoff = map.shutoff_head * map.head_factor;
        if phi >= self.surge_flow {
            let width = self.choke_flow - self.surge_flow;
            let s = (phi - self.surge_flow) / width;
            let (value, slope) = if s <= 0.0 {
                (1.0, 0.0)
            } else if s < map.tangent_from {
                let power = math::exp(self.exponent * math::ln(s));
                let value = math::exp(math::ln(1.0 - power) / self.exponent);
                (value, -power / s * value / (1.0 - power))
            } else {
                (self.tangent.0 + self.tangent.1 * (s - map.tangent_from), self.tangent.1)
            };
            (self.peak_head * value, self.peak_head * slope / width)
        } else if phi >= 0.0 {
            let r = phi / self.surge_flow;
            let rise = self.peak_head - shutoff;
            (shutoff + rise * r * r * (3.0 - 2.0 * r), rise * 6.0 * r * (1.0 - r) / self.surge_flow)
        } else {
            (shutoff + map.reverse_head * phi * phi, 2.0 * map.reverse_head * phi)
        }
    }

    /// The point at a flow (negative runs backwards), in kg/s.
    pub fn point(&self, map: &CompressorMap, inlet: &Inlet, flow_kg_s: f64) -> CompressorPoint {
        let (u, d2) = (self.tip_speed_m_s, map.wheel_m() * map.wheel_m());
        let unit_flow_kg_s = inlet.density_kg_m3() * u * d2;
        let phi = flow_kg_s / unit_flow_kg_s.max(1e-9);
        let (psi, dpsi) = self.head(map, phi);
        let unit = u * u / (inlet.cp_j_kg_k * inlet.t_k);
        let base = (1.0 + psi * unit).max(0.3);
        let exponent = inlet.cp_j_kg_k / inlet.r_j_kg_k;
        let pressure_ratio = math::exp(exponent * math::ln(base));
        let size = math::fabs(phi);
        let work = size * (map.work_input - map.work_input_slope * size).max(0.0) + map.disc_friction;
        CompressorPoint {
            pressure_ratio,
            slope_pa_s_kg: inlet.p_pa * pressure_ratio * exponent * unit * dpsi / (base * unit_flow_kg_s.max(1e-9)),
            power_w: unit_flow_kg_s * u * u * work,
            flow_coefficient: phi,
        }
    }

    /// Flow of a flow coefficient, in kg/s.
    pub fn flow_kg_s(&self, map: &CompressorMap, inlet: &Inlet, phi: f64) -> f64 {
        phi * inlet.density_kg_m3() * self.tip_speed_m_s * map.wheel_m() * map.wheel_m()
    }
}

/// Isentropic head of a pressure ratio at constant heat capacity, in J/kg: `cp T1 (pr^(R/cp) - 1)`.
/// Source: Saravanamuttoo et al., Gas Turbine Theory, eq. 4.5 (rearranged).
pub fn isentropic_work_j_kg(inlet: &Inlet, pressure_ratio: f64) -> f64 {
    inlet.cp_j_kg_k * inlet.t_k * (math::pow(pressure_ratio, inlet.r_j_kg_k / inlet.cp_j_kg_k) - 1.0)
}
