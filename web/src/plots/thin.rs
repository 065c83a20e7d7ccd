//! Lines with fewer points that look the same.

use super::hatch::Point;

/// A line without the points that lie no farther than `within` from the line through those that stay. Its ends stay.
///
/// It needs one pass. Seen from the last point kept, every following point allows a range of directions. As long as all these
/// ranges share one direction, the points between can go.
pub fn thinned(line: &[Point], within: f64) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::new();
    // The directions that are still allowed, about the first of them, and the point that was seen last with its distance.
    let mut sleeve: Option<Sleeve> = None;
    for p in line {
        let Some(from) = kept.last().copied() else {
            kept.push(*p);
            continue;
        };
        sleeve = match sleeve.take().map(|s| s.narrowed(from, *p, within)) {
            Some(Ok(narrower)) => Some(narrower),
            Some(Err(last)) => {
                kept.push(last);
                Sleeve::of(last, *p, within)
            }
            None => Sleeve::of(from, *p, within),
        };
    }
    match (sleeve, line.last()) {
        (Some(sleeve), _) => kept.push(sleeve.last),
        // Every later point is the same as the last point that was kept.
        (None, Some(last)) if kept.last() != Some(last) => kept.push(*last),
        _ => {}
    }
    kept
}

struct Sleeve {
    /// Of the first point in it.
    middle: f64,
    /// From there, least and greatest, in radians.
    turn: (f64, f64),
    last: Point,
    distance: f64,
}

impl Sleeve {
    /// The sleeve of one point; none where it lies on the other.
    fn of(from: Point, p: Point, within: f64) -> Option<Self> {
        let (x, y) = (p.0 - from.0, p.1 - from.1);
        let distance = x.hypot(y);
        let half = half(distance, within);
        (distance > within).then(|| Self { middle: y.atan2(x), turn: (-half, half), last: p, distance })
    }

    /// The sleeve with one more point. Errors: the last point before it, where the line turns away or back.
    fn narrowed(self, from: Point, p: Point, within: f64) -> Result<Self, Point> {
        use core::f64::consts::{PI, TAU};
        let (x, y) = (p.0 - from.0, p.1 - from.1);
        let distance = x.hypot(y);
        let turn = (y.atan2(x) - self.middle + PI).rem_euclid(TAU) - PI;
        let inside = self.turn.0 <= turn && turn <= self.turn.1;
        if !inside || distance < self.distance || !distance.is_finite() {
            return Err(self.last);
        }
        let half = half(distance, within);
        let turn = (self.turn.0.max(turn - half), self.turn.1.min(turn + half));
        Ok(Self { turn, last: p, distance, ..self })
    }
}

/// Half the angle that a circle of radius `within` fills at a distance.
fn half(distance: f64, within: f64) -> f64 {
    (within / distance.max(within)).asin()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// How far a point lies from a stretch.
    fn off(p: Point, (a, b): (Point, Point)) -> f64 {
        let (x, y) = (b.0 - a.0, b.1 - a.1);
        let share = (((p.0 - a.0) * x + (p.1 - a.1) * y) / (x * x + y * y).max(1e-12)).clamp(0.0, 1.0);
        (p.0 - a.0 - share * x).hypot(p.1 - a.1 - share * y)
    }

    #[test]
    fn by_hand_a_corner_stays_and_what_lies_between_goes() {
        let line: Vec<Point> =
            (0..=50).map(|i| (f64::from(i), 0.0)).chain((1..=50).map(|i| (50.0, f64::from(i)))).collect();
        assert_eq!(thinned(&line, 0.1), [(0.0, 0.0), (50.0, 0.0), (50.0, 50.0)]);
        assert_eq!(thinned(&[(0.0, 0.0), (9.0, 0.0), (3.0, 0.0)], 0.1), [(0.0, 0.0), (9.0, 0.0), (3.0, 0.0)]);
        assert_eq!(thinned(&[(1.0, 1.0)], 0.1), [(1.0, 1.0)]);
        assert_eq!(thinned(&[], 0.1), []);
        assert_eq!(thinned(&[(0.0, 0.0), (0.05, 0.0)], 0.1), [(0.0, 0.0), (0.05, 0.0)]);
    }

    /// A circle of radius 100: chords that leave it by 0.1 are 8.9 long, so there are 70 of them, or more where greed ends early.
    #[test]
    fn by_hand_a_circle_keeps_as_many_points_as_it_needs() {
        let circle: Vec<Point> = (0..=3600)
            .map(|i| f64::from(i) * core::f64::consts::TAU / 3600.0)
            .map(|a| (100.0 * a.cos(), 100.0 * a.sin()))
            .collect();
        let kept = thinned(&circle, 0.1).len();
        assert!((60..160).contains(&kept), "{kept}");
    }

    proptest! {
        #[test]
        fn identity_what_goes_lies_on_what_stays(
            steps in prop::collection::vec((-3.0..3.0_f64, -3.0..3.0_f64), 1..200),
            smooth in 0.0..0.99_f64,
        ) {
            let (mut at, mut step) = ((0.0, 0.0), (0.0, 0.0));
            let line: Vec<Point> = steps
                .into_iter()
                .map(|(x, y)| {
                    step = (smooth * step.0 + (1.0 - smooth) * x, smooth * step.1 + (1.0 - smooth) * y);
                    at = (at.0 + step.0, at.1 + step.1);
                    at
                })
                .collect();
            let kept = thinned(&line, 0.1);
            prop_assert_eq!((kept.first(), kept.last()), (line.first(), line.last()));
            let mut stretches = kept.windows(2);
            let mut stretch = stretches.next();
            for p in &line {
                let Some(pair) = stretch else { break };
                prop_assert!(off(*p, (pair[0], pair[1])) <= 0.1 + 1e-9);
                if *p == pair[1] {
                    stretch = stretches.next();
                }
            }
        }
    }
}
