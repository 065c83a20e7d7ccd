//! From a number to a place on the surface.

/// A straight scale: `from` lies at `start`, `to` at `end`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Least number shown.
    pub from: f64,
    /// Greatest number shown.
    pub to: f64,
    /// Point of `from`, in CSS pixels.
    pub start: f64,
    /// Point of `to`, in CSS pixels.
    pub end: f64,
}

impl Scale {
    /// The place of `value`; outside the ends it runs on.
    pub fn at(&self, value: f64) -> f64 {
        let span = self.to - self.from;
        if span == 0.0 { self.start } else { self.start + (value - self.from) / span * (self.end - self.start) }
    }

    /// The number at a place.
    pub fn value_at(&self, place: f64) -> f64 {
        let span = self.end - self.start;
        if span == 0.0 { self.from } else { self.from + (place - self.start) / span * (self.to - self.from) }
    }
}

/// Where `value` lies between two ends, from 0 to 1.
pub fn share(value: f64, from: f64, to: f64) -> f64 {
    let share = (value - from) / (to - from);
    if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_places() {
        let scale = Scale { from: 0.0, to: 500.0, start: 200.0, end: 10.0 };
        assert_eq!(scale.at(0.0), 200.0);
        assert_eq!(scale.at(500.0), 10.0);
        assert_eq!(scale.at(250.0), 105.0);
        assert_eq!(scale.value_at(105.0), 250.0);
        assert_eq!(Scale { from: 1.0, to: 1.0, start: 3.0, end: 9.0 }.at(1.0), 3.0);
        assert_eq!(share(5.0, 0.0, 10.0), 0.5);
        assert_eq!(share(-5.0, 0.0, 10.0), 0.0);
        assert_eq!(share(1.0, 1.0, 1.0), 0.0);
    }
}
