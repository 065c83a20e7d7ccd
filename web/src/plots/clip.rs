//! Lines, frames and outlines: what lies inside, what crosses, and what is cut off.

use super::hatch::Point;

/// A rectangle: left, top, right, bottom.
pub type Frame = (f64, f64, f64, f64);

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

/// The piece of a straight line inside a frame (left, top, right, bottom), after Liang and Barsky.
pub fn cut(a: Point, b: Point, frame: Frame) -> Option<(Point, Point)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    if !(dx.is_finite() && dy.is_finite()) {
        return None;
    }
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q) in [(-dx, a.0 - frame.0), (dx, frame.2 - a.0), (-dy, a.1 - frame.1), (dy, frame.3 - a.1)] {
        if p == 0.0 {
            if q < -1e-9 {
                return None;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    let at = |t: f64| (a.0 + t * dx, a.1 + t * dy);
    (enter <= leave).then(|| (if enter == 0.0 { a } else { at(enter) }, if leave == 1.0 { b } else { at(leave) }))
}

/// The least rectangle around places.
pub fn around(places: &[Point]) -> Frame {
    let none = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
    places.iter().fold(none, |b, p| (b.0.min(p.0), b.1.min(p.1), b.2.max(p.0), b.3.max(p.1)))
}

/// Whether two rectangles share a place, edges included.
pub fn overlap(a: Frame, b: Frame) -> bool {
    a.0 <= b.2 && b.0 <= a.2 && a.1 <= b.3 && b.1 <= a.3
}

/// Whether a place lies inside an outline: a line from it to one side crosses the outline an odd number of times.
pub fn encloses(outline: &[Point], (x, y): Point) -> bool {
    let next = outline.iter().cycle().skip(1);
    let crossed = outline
        .iter()
        .zip(next)
        .filter(|(a, b)| (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
    crossed.count() % 2 == 1
}

/// Whether a straight line runs through a frame.
pub fn crosses(a: Point, b: Point, (left, top, right, bottom): Frame) -> bool {
    // Nearly every piece of a line lies wholly to one side of a name, and that is quicker to test.
    let aside = (a.0 < left && b.0 < left) || (a.0 > right && b.0 > right);
    let above = (a.1 < top && b.1 < top) || (a.1 > bottom && b.1 > bottom);
    !aside && !above && cut(a, b, (left, top, right, bottom)).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_line_is_cut_at_the_top() {
        let parts = clipped(&[(0.0, 0.0), (1.0, 2.0), (2.0, 0.0)], 1.0);
        assert_eq!(parts, vec![vec![(0.0, 0.0), (0.5, 1.0)], vec![(1.5, 1.0), (2.0, 0.0)]]);
    }

    #[test]
    fn by_hand_a_line_is_cut_at_the_frame() {
        let frame = (0.0, 0.0, 10.0, 10.0);
        assert_eq!(cut((-5.0, 5.0), (5.0, 5.0), frame), Some(((0.0, 5.0), (5.0, 5.0))));
        assert_eq!(cut((-5.0, 5.0), (-1.0, 5.0), frame), None);
        assert_eq!(cut((1.0, 1.0), (2.0, 2.0), frame), Some(((1.0, 1.0), (2.0, 2.0))));
        assert_eq!(cut((f64::NAN, 1.0), (2.0, 2.0), frame), None);
    }

    #[test]
    fn by_hand_inside_an_outline() {
        let corner = [(0.0, 0.0), (10.0, 0.0), (10.0, 4.0), (4.0, 4.0), (4.0, 10.0), (0.0, 10.0)];
        assert!(encloses(&corner, (2.0, 8.0)) && encloses(&corner, (8.0, 2.0)));
        assert!(!encloses(&corner, (8.0, 8.0)) && !encloses(&corner, (-1.0, 2.0)) && !encloses(&[], (0.0, 0.0)));
    }
}
