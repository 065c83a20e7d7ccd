//! An axis: what it shows, from where to where, its ticks, and where a number of it lies on a plot.

use super::scale::Scale;
use super::ticks::{Ticks, round_ends, ticks};
use crate::units::number;

/// One axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What it shows: `vane position`.
    pub name: String,
    /// Its unit; empty for a plain number.
    pub unit: &'static str,
    /// Least number shown.
    pub from: f64,
    /// Greatest number shown.
    pub to: f64,
    /// Whether equal ratios take equal lengths; both ends are then above zero.
    pub log: bool,
    /// Digits after the point when a value is read off.
    pub decimals: usize,
}

impl Axis {
    /// A straight axis from `from` to `to` as they are.
    pub fn new(name: impl Into<String>, unit: &'static str, from: f64, to: f64, decimals: usize) -> Self {
        Self { name: name.into(), unit, from, to, log: false, decimals }
    }

    /// A straight axis that holds all values between round ends; flat values get room around them.
    pub fn around(
        name: impl Into<String>,
        unit: &'static str,
        values: impl Iterator<Item = f64> + Clone,
        decimals: usize,
    ) -> Self {
        let values = values.filter(|v| v.is_finite());
        let low = values.clone().fold(f64::INFINITY, f64::min);
        let high = values.fold(f64::NEG_INFINITY, f64::max);
        if low > high {
            return Self::new(name, unit, 0.0, 1.0, decimals);
        }
        let pad = (0.08 * (high - low)).max(0.02 * high.abs().max(low.abs())).max(1e-9);
        // The axis of values that are all above zero does not go below zero.
        let floor = if low >= 0.0 { 0.0_f64.max(low - pad) } else { low - pad };
        let (from, to) = round_ends(floor, high + pad, 6);
        Self::new(name, unit, from, to, decimals)
    }

    /// The same axis with equal lengths for equal ratios.
    pub fn log(self) -> Self {
        Self { log: true, ..self }
    }

    /// Name and unit, as written at the axis and over a column.
    pub fn label(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) }
    }

    /// A value with its unit.
    pub fn text(&self, value: f64) -> String {
        let n = number(value, self.decimals);
        if self.unit.is_empty() { n } else { format!("{n} {}", self.unit) }
    }

    fn put(&self, value: f64) -> f64 {
        if self.log { value.max(1e-12).log10() } else { value }
    }

    /// Its scale between two places.
    pub(super) fn scale(&self, start: f64, end: f64) -> AxisScale {
        AxisScale { log: self.log, inner: Scale { from: self.put(self.from), to: self.put(self.to), start, end } }
    }

    /// Round numbers along it, about `most` of them.
    pub(super) fn ticks(&self, most: usize) -> Ticks {
        if !self.log {
            return ticks(self.from, self.to, most);
        }
        let (low, high) = (self.from.log10().floor() as i32, self.to.log10().ceil() as i32);
        let wide = high - low > 2;
        let values: Vec<f64> = (low..=high)
            .flat_map(|k| [1.0, 2.0, 5.0].map(|m| (m, m * 10f64.powi(k))))
            .filter(|(m, v)| (!wide || *m == 1.0) && self.from * 0.999 <= *v && *v <= self.to * 1.001)
            .map(|(_, v)| v)
            .collect();
        let decimals = values.first().map_or(0, |v| (-v.log10().floor()).max(0.0) as usize);
        Ticks { values, decimals }
    }
}

/// From a number of an axis to a place on a surface, straight or by ratios.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisScale {
    log: bool,
    inner: Scale,
}

impl AxisScale {
    /// The place of a value.
    pub fn at(&self, value: f64) -> f64 {
        self.inner.at(if self.log { value.max(1e-12).log10() } else { value })
    }

    /// The value at a place.
    pub fn value_at(&self, place: f64) -> f64 {
        let value = self.inner.value_at(place);
        if self.log { 10f64.powf(value) } else { value }
    }

    /// Places of both ends, least first.
    pub(super) fn ends(&self) -> (f64, f64) {
        (self.inner.start.min(self.inner.end), self.inner.start.max(self.inner.end))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_log_axis() {
        let axis = Axis::new("pressure", "bar", 0.8, 200.0, 0).log();
        let scale = axis.scale(0.0, 100.0);
        assert!((scale.value_at(scale.at(12.0)) - 12.0).abs() < 1e-9);
        assert_eq!(axis.ticks(5).values, [1.0, 10.0, 100.0]);
    }
}
