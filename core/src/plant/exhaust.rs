//! Exhaust gas on its way out: through a hole in the manifold, and through the pipe behind the turbine.

use crate::gas::flow::{self, Upstream};
use crate::math;
use crate::parts::pipe;
use crate::plant::Plant;

/// Temperature below which the exhaust pipe's viscosity is held, in K. Chosen: colder than any exhaust gas.
const COLDEST_K: f64 = 200.0;

impl Plant {
    /// Mass that leaves by the exhaust manifold's hole in a time, in kg: isentropic orifice flow.
    ///
    /// Nothing flows in: the manifold's pressure is above the ambient air's, except at the bottom of a pulse.
    #[inline(always)]
    pub(crate) fn leak_kg(&self, exhaust: &Upstream, time_s: f64) -> f64 {
        let area_m2 = self.engine.manifolds.exhaust_leak_m2;
        if area_m2 > 0.0 && exhaust.p_pa > self.ambient.p_pa {
            flow::through(area_m2 * time_s, exhaust, self.ambient.p_pa)
        } else {
            0.0
        }
    }

    /// What the pressure behind the turbine tends to at a flow: ambient plus pipe and silencer, in Pa.
    pub(crate) fn back_pressure_pa(&self, flow_kg_s: f64, t4_k: f64, r_j_kg_k: f64, friction_factor: f64) -> f64 {
        let coefficient = pipe::loss_1_m4(&self.engine.exhaust_pipe, friction_factor);
        // With rho = p4/(R T4) the loss depends on its own result: p4 (p4 - p_amb) = c W^2 R T4, a quadratic.
        let half = 0.5 * self.ambient.p_pa;
        half + math::sqrt(half * half + coefficient * flow_kg_s * flow_kg_s * r_j_kg_k * t4_k)
    }

    /// Darcy friction factor of the exhaust pipe at a flow.
    pub(crate) fn pipe_friction_factor(&self, flow_kg_s: f64, t4_k: f64) -> f64 {
        let pipe = &self.engine.exhaust_pipe;
        let viscosity_pa_s = pipe::viscosity_pa_s(t4_k.max(COLDEST_K));
        let reynolds = 4.0 * math::fabs(flow_kg_s) / (core::f64::consts::PI * pipe.bore_m * viscosity_pa_s);
        pipe::friction_factor(reynolds.max(1.0), pipe.roughness_m / pipe.bore_m)
    }
}
