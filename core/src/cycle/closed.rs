//! A cylinder with shut valves: compression, combustion and expansion.

use crate::cycle::machine::Machine;
use crate::cycle::means::Strokes;
use crate::cycle::state::Cylinder;
use crate::cycle::trace::Recorder;
use crate::gas::Content;

impl Machine {
    /// Marks the closing of the intake: what Woschni's formula refers to, and the fuel of the cycle that begins.
    pub fn close_intake(&self, cylinder: &mut Cylinder, fuel_kg: f64) {
        let node = &self.nodes[self.start];
        let (m_kg, r) = (cylinder.content.m_kg, self.plant.gas.r_j_kg_k(cylinder.content.x()));
        cylinder.settle(&self.plant.gas);
        cylinder.closing_pa = m_kg * r * cylinder.t_k / node.volume_m3;
        cylinder.reference_k_per_pa = self.swept_m3 / (m_kg * r);
        cylinder.fuel_kg = fuel_kg;
        self.renew_wall(cylinder, cylinder.closing_pa, cylinder.t_k, node, 0.0);
    }

    /// Runs a cylinder with shut valves through `slots` slots, the first of them `slot`. Long because one
    /// step of Heun's method reads best in one piece.
    pub fn run_closed(
        &self,
        cylinder: &mut Cylinder,
        slot: usize,
        slots: usize,
        strokes: &mut Strokes,
        mut recorder: Option<&mut Recorder>,
    ) {
        let gas = &self.plant.gas;
        let per_cycle = self.per_cycle();
        let release = self.release(cylinder.fuel_kg);
        let end_deg = release.end_deg();
        let mut index = self.node(slot);
        let mut burned = release.burned(self.firing_deg(index));
        let mut amount = gas.amount(&cylinder.content, cylinder.t_k);
        for _ in 0..slots * self.steps {
            let (now, next) = (&self.nodes[index], &self.nodes[index + 1]);
            let from_deg = self.firing_deg(index);
            let to_deg = from_deg + self.step_deg;
            let firing = to_deg > release.start_deg;
            let fuel_kg = if firing && from_deg < end_deg {
                let after = release.burned(to_deg);
                let fuel_kg = cylinder.fuel_kg * (after - burned);
                burned = after;
                fuel_kg
            } else {
                0.0
            };
            let d_volume = next.volume_m3 - now.volume_m3;
            let burn_j = fuel_kg * gas.fuel_h_j_kg;

            // The second stage of the last step has worked this instant out except for its correction.
            let before = cylinder.content;
            let t0 = amount.moved_t_k(&before);
            let p0 = gas.mr_j_k(&before) * t0 * now.inverse_1_m3;
            let walls0 = self.wall_heat_j(cylinder, t0, now);
            let gain0 = burn_j - walls0 - p0 * d_volume;

            let after = before + Content { m_kg: fuel_kg, u_j: gain0, x_kg: fuel_kg };
            amount = gas.amount(&after, t0);
            let p1 = gas.mr_j_k(&after) * amount.t_k * next.inverse_1_m3;
            self.renew_wall(cylinder, p1, amount.t_k, next, if firing { 1.0 } else { 0.0 });
            let walls1 = self.wall_heat_j(cylinder, amount.t_k, next);
            let gain1 = burn_j - walls1 - p1 * d_volume;

            if let Some(record) = recorder.as_deref_mut() {
                record.cylinder(index, p0, t0);
            }
            if p0 > strokes.peak_pa {
                (strokes.peak_pa, strokes.peak_deg) = (p0, from_deg);
            }
            let work = 0.5 * (p0 + p1) * d_volume;
            strokes.gross_j += now.gross * work;
            strokes.exchange_j += (1.0 - now.gross) * work;
            strokes.walls_j += 0.5 * (walls0 + walls1);
            strokes.fuel_kg += fuel_kg;
            cylinder.content = Content { u_j: before.u_j + 0.5 * (gain0 + gain1), ..after };
            cylinder.t_k = amount.t_k;
            index += 1;
            if index == per_cycle {
                index = 0;
            }
        }
        cylinder.settle(gas);
    }
}
