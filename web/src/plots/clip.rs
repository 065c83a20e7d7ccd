//! Curves that leave a plot at its top.

/// The parts of a line that stay under `top`, cut exactly there.
pub fn clipped(line: &[(f64, f64)], top: f64) -> Vec<Vec<(f64, f64)>> {
    let mut out = Vec::new();
    let mut run: Vec<(f64, f64)> = Vec::new();
    for (i, s) in line.iter().enumerate() {
        let before = i.checked_sub(1).map(|j| line[j]);
        if let Some(b) = before.filter(|b| (b.1 <= top) != (s.1 <= top)) {
            let t = (top - b.1) / (s.1 - b.1);
            run.push((b.0 + t * (s.0 - b.0), top));
            if b.1 <= top {
                out.push(core::mem::take(&mut run));
            }
        }
        if s.1 <= top {
            run.push(*s);
        }
    }
    out.push(run);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_line_is_cut_at_the_top() {
        let parts = clipped(&[(0.0, 0.0), (1.0, 2.0), (2.0, 0.0)], 1.0);
        assert_eq!(parts, vec![vec![(0.0, 0.0), (0.5, 1.0)], vec![(1.5, 1.0), (2.0, 0.0)]]);
    }
}
