//! Hatching and dashing as line segments, so that any backend can draw them.
//!
//! One hatch, one meaning: single slanted lines give to the crank, crossed lines take from it.

/// A place on a surface, in CSS pixels.
pub type Point = (f64, f64);

/// Which hatch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hatch {
    /// Single slanted lines, cool: gives to the crank.
    Helps,
    /// Crossed lines, warm: takes from the crank.
    Hinders,
    /// Slanted lines in amber: past a limit, or no point.
    Limit,
}

impl Hatch {
    /// Whether its lines run both ways.
    pub fn crossed(self) -> bool {
        self == Hatch::Hinders
    }
}

/// The segments of a hatch inside a polygon, from one line to the next `pitch` along either axis.
pub fn hatch(polygon: &[Point], hatch: Hatch, pitch: f64) -> Vec<(Point, Point)> {
    let mut lines = slanted(polygon, pitch, 1.0);
    if hatch.crossed() {
        lines.extend(slanted(polygon, pitch, -1.0));
    }
    lines
}

/// Lines `x + slope y = const` clipped to the polygon by the even-odd rule. The constants are multiples of the pitch,
/// so that neighbouring areas and the next frame continue the same lines.
fn slanted(polygon: &[Point], pitch: f64, slope: f64) -> Vec<(Point, Point)> {
    let mut out = Vec::new();
    if polygon.len() < 3 || pitch <= 0.0 || polygon.iter().any(|p| !(p.0.is_finite() && p.1.is_finite())) {
        return out;
    }
    let height = |p: &Point| p.0 + slope * p.1;
    let low = polygon.iter().map(height).fold(f64::INFINITY, f64::min);
    let high = polygon.iter().map(height).fold(f64::NEG_INFINITY, f64::max);
    let mut k = (low / pitch).ceil();
    while k * pitch < high {
        let level = k * pitch;
        let mut cuts: Vec<Point> = Vec::new();
        for (i, a) in polygon.iter().enumerate() {
            let b = &polygon[(i + 1) % polygon.len()];
            let (ha, hb) = (height(a) - level, height(b) - level);
            if (ha < 0.0) != (hb < 0.0) {
                let t = ha / (ha - hb);
                let cut = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
                cuts.insert(cuts.partition_point(|c| c.0 < cut.0), cut);
            }
        }
        out.extend(cuts.chunks_exact(2).map(|pair| (pair[0], pair[1])));
        k += 1.0;
    }
    out
}

/// Cuts a line into dashes: `pattern` is drawn, gap, drawn, gap…
pub fn dash(line: &[Point], pattern: &[f64]) -> Vec<Vec<Point>> {
    let mut out = Vec::new();
    if pattern.is_empty() || pattern.iter().any(|d| *d <= 0.0) {
        return vec![line.to_vec()];
    }
    let (mut part, mut left) = (0, pattern[0]);
    let mut run: Vec<Point> = line.first().copied().into_iter().collect();
    for pair in line.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left || !length.is_finite() {
                left -= length.min(left);
                run.push(to);
                break;
            }
            let t = left / length;
            let cut = (from.0 + t * (to.0 - from.0), from.1 + t * (to.1 - from.1));
            run.push(cut);
            if part % 2 == 0 {
                out.push(core::mem::take(&mut run));
            }
            part = (part + 1) % pattern.len();
            left = pattern[part];
            run = vec![cut];
            from = cut;
        }
    }
    if part % 2 == 0 && run.len() > 1 {
        out.push(run);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_square_is_hatched_evenly() {
        let square = [(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)];
        let single = hatch(&square, Hatch::Helps, 8.0);
        let crossed = hatch(&square, Hatch::Hinders, 8.0);
        // x + y runs from 0 to 120 and x - y from -60 to 60: the multiples of 8 strictly between.
        assert_eq!(single.len(), 14);
        assert_eq!(crossed.len(), single.len() + 15);
        for (a, b) in single {
            for p in [a, b] {
                assert!((-1e-9..=60.0 + 1e-9).contains(&p.0) && (-1e-9..=60.0 + 1e-9).contains(&p.1));
            }
        }
        assert!(hatch(&square[..2], Hatch::Helps, 6.0).is_empty());
        assert!(hatch(&[(0.0, f64::NAN), (1.0, 1.0), (2.0, 0.0)], Hatch::Helps, 6.0).is_empty());
    }

    #[test]
    fn by_hand_dashes() {
        let dashes = dash(&[(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)], &[9.0, 3.0]);
        assert_eq!(dashes, vec![vec![(0.0, 0.0), (9.0, 0.0)], vec![(12.0, 0.0), (20.0, 0.0)]]);
    }
}
