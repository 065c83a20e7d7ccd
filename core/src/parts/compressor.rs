//! Centrifugal compressor: pressure and power at a flow and a shaft speed, smooth everywhere.
//!
//! The map is dimensionless. With tip speed U, inlet density rho1 and tip diameter D, the flow coefficient is
//! `phi = W/(rho1 U D^2)` and the head coefficient `psi` is isentropic enthalpy rise over U^2. To the right of the surge
//! line a speed line is a generalised ellipse that falls to no head at choke; to the left a cubic; for reverse flow a
//! parabola. Power comes from a work-input line, so efficiency is a result and stays finite at no flow.
//! Sources: LEUFVEN2013 for the ellipse, GRAVDAHL1999 for the cubic and the reverse branch; each engine file has its own
//! numbers. Left out: inlet swirl, heat from the turbine side, blade geometry as such.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Compressor map in dimensionless form. `M` is tip speed over inlet speed of sound, `phi` flow coefficient
    /// `W / (rho1 U D^2)`, `psi` isentropic head over `U^2`.
    pub struct CompressorMap in "compressor" {
        /// Tip diameter of the wheel.
        tip_diameter_m: "m", 0.02, 0.25;
        /// Head coefficient at no flow.
        shutoff_head: "", 0.05, 0.6;
        /// Greatest head coefficient at `M = 1`.
        peak_head: "", 0.3, 0.9;
        /// Change of the greatest head for each `M - 1`.
        peak_head_slope: "", -0.3, 0.3;
        /// Change of the greatest head for each `(M - 1)^2`.
        peak_head_curve: "", -0.5, 0.2;
        /// Flow coefficient of the greatest head (the surge line) at rest.
        surge_flow: "", 0.0, 0.05;
        /// Growth of that flow coefficient with `M`.
        surge_flow_slope: "", 0.0, 0.1;
        /// Choke flow coefficient at `M = 1`.
        choke_flow: "", 0.06, 0.35;
        /// Change of the choke flow for each `M - 1`.
        choke_flow_slope: "", -0.2, 0.2;
        /// Change of the choke flow for each `(M - 1)^2`.
        choke_flow_curve: "", -0.3, 0.1;
        /// Exponent of the speed lines at `M = 1`: 2 is an ellipse.
        shape_exponent: "", 1.5, 5.0;
        /// Change of the exponent for each `M - 1`.
        shape_exponent_slope: "", -1.0, 2.0;
        /// Share of the way to choke from which a speed line goes on along its tangent.
        tangent_from: "", 0.8, 0.995;
        /// Head coefficient of reverse flow for each `phi^2`.
        reverse_head: "", 5.0, 300.0;
        /// Work-input coefficient at no flow.
        work_input: "", 0.4, 1.0;
        /// Fall of the work input with `phi` (back-swept blades).
        work_input_slope: "", 0.0, 3.0;
        /// Disc friction and recirculation: power `k rho U^3 D^2`.
        disc_friction: "", 0.0, 0.02;
        /// Multiplier on the head at equal work, for a worn or fouled wheel. A what-if.
        head_factor: "", 0.7, 1.0;
        /// Multiplier on the wheel's diameter: at equal tip speed flow grows with its square. A what-if.
        size_factor: "", 0.7, 1.4;
    }
}

/// Mach number of the tip from which the polynomials of the map are held. Chosen: no wheel turns that fast, and the fits mean
/// nothing beyond it.
const FASTEST_MACH: f64 = 2.2;
/// Least head coefficient, flow coefficient of surge, width of a speed line, and exponent of its ellipse. Chosen: far below
/// any wheel's; they only keep the map finite and its lines in order where an invented set of numbers would not.
const LEAST_HEAD: f64 = 0.1;
const LEAST_SURGE_FLOW: f64 = 0.004;
const LEAST_WIDTH: f64 = 0.01;
const LEAST_EXPONENT: f64 = 1.2;
/// Least flow that counts as one unit of the flow coefficient, in kg/s. Chosen: a standing wheel then divides by no zero.
const LEAST_UNIT_FLOW_KG_S: f64 = 1e-9;
/// Least `1 + psi U^2/(cp T1)`. Chosen: far beyond choke the pressure ratio stays above zero.
const LEAST_BASE: f64 = 0.3;

impl CompressorMap {
    /// Tip diameter of the wheel as it turns, size factor included, in m.
    #[inline(always)]
    pub fn wheel_m(&self) -> f64 {
        self.tip_diameter_m * self.size_factor
    }

    /// Tip speed of the wheel at a shaft speed, in m/s.
    #[inline(always)]
    pub fn tip_speed_m_s(&self, shaft_rad_s: f64) -> f64 {
        0.5 * self.wheel_m() * shaft_rad_s
    }

    /// Shaft speed at a tip speed of the wheel, in rad/s.
    pub fn shaft_rad_s(&self, tip_speed_m_s: f64) -> f64 {
        2.0 * tip_speed_m_s / self.wheel_m()
    }

    /// Head coefficient of the surge line at a Mach number of the tip; the head factor is not in it.
    #[inline(always)]
    fn head_at_surge(&self, mach: f64) -> f64 {
        let dm = mach - 1.0;
        self.peak_head + dm * (self.peak_head_slope + dm * self.peak_head_curve)
    }

    /// Flow coefficient of the surge line at a Mach number of the tip.
    #[inline(always)]
    fn flow_at_surge(&self, mach: f64) -> f64 {
        self.surge_flow + self.surge_flow_slope * mach
    }

    /// Checks what no single range can say: no wheel raises the head by more than its work. Errors: `HeadBeatsWork`.
    pub fn check(&self) -> Result<(), CompressorError> {
        for mach in [0.5, 1.0, 1.5] {
            let (head, flow) = (self.head_at_surge(mach), self.flow_at_surge(mach));
            let work = self.work_input - self.work_input_slope * flow + self.disc_friction / flow.max(1e-3);
            // Chosen: an efficiency of 0.95 is beyond any wheel.
            if head > 0.95 * work {
                return Err(CompressorError::HeadBeatsWork { mach, head, work });
            }
        }
        Ok(())
    }
}

/// What can be wrong with a map whose numbers are each allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the message says what the numbers are")]
pub enum CompressorError {
    #[error(
        "`compressor`: at Mach number {mach} the head coefficient of the surge line is {head:.3}, more than 0.95 of the work input {work:.3}; lower `peak_head` or raise `work_input`"
    )]
    HeadBeatsWork { mach: f64, head: f64, work: f64 },
}

/// Gas at the compressor inlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompressorInlet {
    /// Absolute pressure.
    pub p_pa: f64,
    /// Temperature.
    pub t_k: f64,
    /// Gas constant.
    pub r_j_kg_k: f64,
    /// Heat capacity at constant pressure.
    pub cp_j_kg_k: f64,
}

impl CompressorInlet {
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
    pub fn at(map: &CompressorMap, inlet: &CompressorInlet, shaft_rad_s: f64) -> Self {
        let tip_speed_m_s = map.tip_speed_m_s(shaft_rad_s);
        let gamma = inlet.cp_j_kg_k / (inlet.cp_j_kg_k - inlet.r_j_kg_k);
        let mach = tip_speed_m_s / math::sqrt(gamma * inlet.r_j_kg_k * inlet.t_k);
        let mach = mach.min(FASTEST_MACH);
        let dm = mach - 1.0;
        let peak_head = map.head_at_surge(mach).max(LEAST_HEAD) * map.head_factor;
        let surge_flow = map.flow_at_surge(mach).max(LEAST_SURGE_FLOW);
        let choke_flow =
            (map.choke_flow + dm * (map.choke_flow_slope + dm * map.choke_flow_curve)).max(surge_flow + LEAST_WIDTH);
        let exponent = (map.shape_exponent + map.shape_exponent_slope * dm).max(LEAST_EXPONENT);
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
    pub fn point(&self, map: &CompressorMap, inlet: &CompressorInlet, flow_kg_s: f64) -> CompressorPoint {
        let (u, d2) = (self.tip_speed_m_s, map.wheel_m() * map.wheel_m());
        let unit_flow_kg_s = inlet.density_kg_m3() * u * d2;
        let phi = flow_kg_s / unit_flow_kg_s.max(LEAST_UNIT_FLOW_KG_S);
        let (psi, dpsi) = self.head(map, phi);
        let unit = u * u / (inlet.cp_j_kg_k * inlet.t_k);
        let base = (1.0 + psi * unit).max(LEAST_BASE);
        let exponent = inlet.cp_j_kg_k / inlet.r_j_kg_k;
        let pressure_ratio = math::exp(exponent * math::ln(base));
        let size = math::fabs(phi);
        let work = size * (map.work_input - map.work_input_slope * size).max(0.0) + map.disc_friction;
        CompressorPoint {
            pressure_ratio,
            slope_pa_s_kg: inlet.p_pa * pressure_ratio * exponent * unit * dpsi
                / (base * unit_flow_kg_s.max(LEAST_UNIT_FLOW_KG_S)),
            power_w: unit_flow_kg_s * u * u * work,
            flow_coefficient: phi,
        }
    }

    /// Flow of a flow coefficient, in kg/s.
    pub fn flow_kg_s(&self, map: &CompressorMap, inlet: &CompressorInlet, phi: f64) -> f64 {
        phi * inlet.density_kg_m3() * self.tip_speed_m_s * map.wheel_m() * map.wheel_m()
    }
}

/// Isentropic head of a pressure ratio at constant heat capacity, in J/kg: `cp T1 (pr^(R/cp) - 1)`.
/// Source: SARAVANAMUTTOO2009, eq. 4.5 (rearranged).
pub fn isentropic_work_j_kg(inlet: &CompressorInlet, pressure_ratio: f64) -> f64 {
    inlet.cp_j_kg_k * inlet.t_k * (math::pow(pressure_ratio, inlet.r_j_kg_k / inlet.cp_j_kg_k) - 1.0)
}
