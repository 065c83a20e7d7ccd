//! One cylinder over a whole cycle, as it is recorded and as it is shown.

use crate::cycle::machine::Machine;
use alloc::vec;
use alloc::vec::Vec;

/// One cylinder over a whole cycle, from firing top dead centre; first and last row are the same instant of the cycle.
#[derive(Debug, Clone, PartialEq, serde::Serialize, Default)]
pub struct Trace {
    /// Crank angle, 0 to 720.
    pub crank_angle_deg: Vec<f64>,
    /// Cylinder volume.
    pub volume_m3: Vec<f64>,
    /// Cylinder pressure, absolute.
    pub pressure_pa: Vec<f64>,
    /// Gas temperature in the cylinder.
    pub temperature_k: Vec<f64>,
    /// Pressure in the intake manifold at the same instant.
    pub intake_manifold_pa: Vec<f64>,
    /// Pressure in the exhaust manifold at the same instant.
    pub exhaust_manifold_pa: Vec<f64>,
}

/// Cylinder and manifold pressures along one cycle, as the integrator writes them down.
#[derive(Debug, Clone, Default)]
pub struct Recorder {
    cylinder_pa: Vec<f64>,
    cylinder_k: Vec<f64>,
    intake_pa: Vec<f64>,
    exhaust_pa: Vec<f64>,
}

impl Recorder {
    /// Room for one cycle of a machine.
    pub fn new(machine: &Machine) -> Self {
        let of_cylinder = vec![0.0; machine.per_cycle()];
        let of_manifold = vec![0.0; machine.steps];
        Self {
            cylinder_pa: of_cylinder.clone(),
            cylinder_k: of_cylinder,
            intake_pa: of_manifold.clone(),
            exhaust_pa: of_manifold,
        }
    }

    /// Writes down a cylinder at a node of the cycle.
    pub(super) fn cylinder(&mut self, node: usize, p_pa: f64, t_k: f64) {
        (self.cylinder_pa[node], self.cylinder_k[node]) = (p_pa, t_k);
    }

    /// Writes down both manifolds at a step of the interval.
    pub(super) fn manifolds(&mut self, step: usize, intake_pa: f64, exhaust_pa: f64) {
        (self.intake_pa[step], self.exhaust_pa[step]) = (intake_pa, exhaust_pa);
    }

    /// The record as a trace from firing top dead centre on, closed at 720 degrees.
    pub fn trace(&self, machine: &Machine) -> Trace {
        let per_cycle = machine.per_cycle();
        let mut trace = Trace::default();
        for i in 0..=per_cycle {
            let node = i % per_cycle;
            // Every firing interval is alike, so an instant of it stands for the same instant of each.
            let step = (node + per_cycle - machine.start % per_cycle) % machine.steps;
            trace.crank_angle_deg.push(i as f64 / machine.steps_per_degree as f64);
            trace.volume_m3.push(machine.nodes[node].volume_m3);
            trace.pressure_pa.push(self.cylinder_pa[node]);
            trace.temperature_k.push(self.cylinder_k[node]);
            trace.intake_manifold_pa.push(self.intake_pa[step]);
            trace.exhaust_manifold_pa.push(self.exhaust_pa[step]);
        }
        trace
    }
}
