//! Anderson's mixing: a fixed-point iteration that learns from its last steps.
//!
//! Source: ANDERSON1965; WALKER2011, algorithm AA.

use crate::math;
use alloc::collections::VecDeque;
use alloc::vec;
use alloc::vec::Vec;

/// Steps remembered. Chosen: 5 to 8 made no difference in intervals needed.
const WINDOW: usize = 6;
/// Longest step that mixing may propose, as a multiple of the plain step: beyond it the plain step is taken. Chosen: a longer
/// one comes from changes that say nearly the same, and leads astray.
const LONGEST: f64 = 6.0;

/// The memory of one iteration.
pub(crate) struct Mixer {
    /// Pairs of changes: of the residual, and of the map's value.
    changes: VecDeque<(Vec<f64>, Vec<f64>)>,
    last: Option<(Vec<f64>, Vec<f64>)>,
}

impl Mixer {
    pub(crate) fn new() -> Self {
        Self { changes: VecDeque::new(), last: None }
    }

    /// The next point, from the last one and what the map made of it.
    pub(crate) fn next(&mut self, point: &[f64], mapped: &[f64]) -> Vec<f64> {
        let residual: Vec<f64> = mapped.iter().zip(point).map(|(g, z)| g - z).collect();
        if let Some((last_residual, last_mapped)) = self.last.take() {
            let change = |now: &[f64], then: &[f64]| now.iter().zip(then).map(|(a, b)| a - b).collect::<Vec<f64>>();
            self.changes.push_back((change(&residual, &last_residual), change(mapped, &last_mapped)));
            if self.changes.len() > WINDOW {
                self.changes.pop_front();
            }
        }
        self.last = Some((residual.clone(), mapped.to_vec()));
        let mut next = mapped.to_vec();
        if let Some(weights) = least_squares(&self.changes, &residual) {
            let mut step = vec![0.0; next.len()];
            for (weight, (_, change)) in weights.iter().zip(&self.changes) {
                for (s, c) in step.iter_mut().zip(change) {
                    *s -= weight * c;
                }
            }
            let size = |v: &[f64]| math::sqrt(v.iter().map(|x| x * x).sum::<f64>());
            if size(&step) <= LONGEST * size(&residual) {
                for (n, s) in next.iter_mut().zip(&step) {
                    *n += s;
                }
            }
        }
        next
    }
}

/// Weights that bring the remembered changes of the residual nearest to the residual, by normal equations with a little
/// damping; nothing if there is nothing to learn from.
fn least_squares(changes: &VecDeque<(Vec<f64>, Vec<f64>)>, residual: &[f64]) -> Option<Vec<f64>> {
    let n = changes.len();
    if n == 0 {
        return None;
    }
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let mut rows = vec![vec![0.0; n + 1]; n];
    for i in 0..n {
        for j in 0..n {
            rows[i][j] = dot(&changes[i].0, &changes[j].0);
        }
        rows[i][n] = dot(&changes[i].0, residual);
    }
    for (i, row) in rows.iter_mut().enumerate() {
        // Chosen: enough to keep nearly equal changes solvable, too little to slow the others down.
        row[i] *= 1.0 + 1e-8;
    }
    math::solve_linear(&mut rows, 1e-300).then(|| rows.iter().map(|row| row[n]).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_linear_map_is_solved_in_as_many_steps_as_it_has_dimensions() {
        let map = |z: &[f64]| vec![0.9 * z[0] + 0.2 * z[1] + 1.0, -0.3 * z[0] + 0.8 * z[1] - 2.0];
        let mut mixer = Mixer::new();
        let mut z = vec![0.0, 0.0];
        for _ in 0..4 {
            let mapped = map(&z);
            z = mixer.next(&z, &mapped);
        }
        let mapped = map(&z);
        assert!(math::fabs(mapped[0] - z[0]) < 1e-6 && math::fabs(mapped[1] - z[1]) < 1e-6, "{z:?}");
    }
}
