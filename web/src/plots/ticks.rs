//! Round numbers along an axis.

/// Ticks of an axis: round values, and how many digits after the point they need.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// Rising, evenly spaced.
    pub values: Vec<f64>,
    /// Digits after the point.
    pub decimals: usize,
}

/// A step of 1, 2 or 5 times a power of ten that cuts `span` into at most `most` parts.
pub fn step(span: f64, most: usize) -> f64 {
    let raw = span / most.max(1) as f64;
    if !(raw > 0.0 && raw.is_finite()) {
        return 1.0;
    }
    let power = 10f64.powi(raw.log10().floor() as i32);
    // The small slack keeps a span that divides evenly from jumping to the next coarser step by rounding.
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= raw * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// Ticks between `from` and `to`, about `most` parts.
pub fn ticks(from: f64, to: f64, most: usize) -> Ticks {
    if !(from.is_finite() && to.is_finite() && from < to) {
        return Ticks { values: Vec::new(), decimals: 0 };
    }
    let step = step(to - from, most);
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    let first = (from / step - 1e-9).ceil() as i64;
    let last = (to / step + 1e-9).floor() as i64;
    Ticks { values: (first..=last).map(|i| i as f64 * step).collect(), decimals }
}

/// Ends that hold `from` and `to` and fall on ticks.
pub fn round_ends(from: f64, to: f64, most: usize) -> (f64, f64) {
    let step = step(to - from, most);
    ((from / step + 1e-9).floor() * step, (to / step - 1e-9).ceil() * step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_ticks_are_round() {
        assert_eq!(ticks(0.0, 500.0, 5).values, [0.0, 100.0, 200.0, 300.0, 400.0, 500.0]);
        let fine = ticks(0.0, 1.35, 4);
        assert_eq!((fine.values.len(), fine.decimals), (3, 1));
        assert_eq!(ticks(873.0, 961.0, 5).values, [880.0, 900.0, 920.0, 940.0, 960.0]);
        assert!(ticks(1.0, 1.0, 5).values.is_empty());
        assert!(ticks(f64::NAN, 1.0, 5).values.is_empty());
        assert_eq!(round_ends(873.0, 961.0, 5), (860.0, 980.0));
        assert_eq!(round_ends(0.0, 500.0, 5), (0.0, 500.0));
    }

    #[test]
    fn identity_ticks_stay_inside_and_never_crowd() {
        for scale in [1e-6, 0.03, 1.0, 7.0, 460.0, 2.2e5] {
            for most in 2..12 {
                let t = ticks(-0.3 * scale, 1.1 * scale, most);
                assert!(t.values.len() <= most + 1 && t.values.len() >= most / 3);
                assert!(t.values.iter().all(|v| -0.31 * scale <= *v && *v <= 1.11 * scale));
            }
        }
    }
}
