//! Heat from the gas to the walls in one step.

use crate::cycle::machine::{Machine, Node};
use crate::cycle::state::Cylinder;
use crate::parts::wall_heat;

impl Machine {
    /// Renews a cylinder's heat-transfer coefficient. `firing` is 1 where Woschni's combustion term counts, else 0.
    #[inline(always)]
    pub(super) fn renew_wall(&self, cylinder: &mut Cylinder, p_pa: f64, t_k: f64, node: &Node, firing: f64) {
        let velocity_m_s = wall_heat::gas_velocity_m_s(
            node.speed_coefficient,
            self.piston_speed_m_s,
            self.plant.engine.wall_heat.combustion_coefficient_m_s_k,
            cylinder.reference_k_per_pa,
            firing * (p_pa - cylinder.closing_pa * node.motored).max(0.0),
        );
        cylinder.wall_w_m2_k = self.wall_scale * wall_heat::shape(p_pa, t_k, velocity_m_s);
    }

    /// Heat to the walls in one step, in J.
    #[inline(always)]
    pub(super) fn wall_heat_j(&self, cylinder: &Cylinder, t_k: f64, node: &Node) -> f64 {
        cylinder.wall_w_m2_k * self.dt_s * (t_k * node.wall_m2 - node.wall_m2_k)
    }
}
