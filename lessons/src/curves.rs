//! What the core answers along a setting or in time, and the curves that are read from it.

use crate::paths::{Quantity, RunQuantity};
use crate::units::Unit;
use volute_core::point::reading::Reading;
use volute_core::point::transient::Sample;

/// A setting that can be swept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Swept {
    /// Vane position.
    Vane,
    /// Torque held.
    Torque,
    /// Fuel held.
    Fuel,
    /// Engine speed.
    Speed,
    /// Altitude.
    Altitude,
    /// Ambient temperature.
    Temperature,
    /// One parameter of the engine.
    Part {
        /// Its group.
        group: &'static str,
        /// Its name.
        name: &'static str,
    },
}

/// Which curves a name can stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CurveKind {
    /// A sweep.
    Sweep,
    /// A run in time.
    Run,
}

/// What the core answered along a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepResult {
    /// The setting.
    pub over: Swept,
    /// The unit in which the file gives it.
    pub unit: &'static Unit,
    /// The settings in the order of the file, SI.
    pub settings_si: Vec<f64>,
    /// The readings.
    pub readings: Vec<Reading>,
}

/// What the core answered in time.
#[derive(Debug, Clone, PartialEq)]
pub struct RunResult {
    /// Torque before the step, in N m.
    pub before_n_m: f64,
    /// Torque that is asked for after the step, in N m; nothing while fuel is held.
    pub asked_n_m: Option<f64>,
    /// Ambient pressure, in Pa.
    pub p_amb_pa: f64,
    /// One for each firing.
    pub samples: Vec<Sample>,
}

/// A curve, in SI.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// The swept setting, or time in s; as the file has it, so perhaps falling.
    pub x: Vec<f64>,
    /// The quantity.
    pub y: Vec<f64>,
}

impl SweepResult {
    /// A quantity along the sweep; points without numbers are left out.
    pub fn curve(&self, quantity: &Quantity) -> Curve {
        let points = self.settings_si.iter().zip(&self.readings).filter(|(_, reading)| reading.holds);
        let points = points.map(|(x, reading)| (*x, (quantity.of)(reading))).filter(|(_, y)| y.is_finite());
        let (x, y) = points.unzip();
        Curve { x, y }
    }
}

impl RunResult {
    /// A quantity in time.
    pub fn curve(&self, quantity: &RunQuantity) -> Curve {
        let points = self.samples.iter().map(|sample| (sample.time_s, (quantity.of)(sample, self.p_amb_pa)));
        let (x, y) = points.filter(|(_, y)| y.is_finite()).unzip();
        Curve { x, y }
    }

    /// Time until the torque has made nine tenths of its way to what is asked for, in s: the response time of the page. Nothing if
    /// it never does, or if fuel is held.
    pub fn t90_s(&self) -> Option<f64> {
        let asked = self.asked_n_m?;
        let level = self.before_n_m + 0.9 * (asked - self.before_n_m);
        let there = |sample: &&Sample| {
            if asked >= self.before_n_m { sample.torque_n_m >= level } else { sample.torque_n_m <= level }
        };
        self.samples.iter().find(there).map(|sample| sample.time_s)
    }

    /// Whether air flowed backwards through the compressor.
    pub fn reversed(&self) -> bool {
        self.samples.iter().any(|sample| sample.least_air_flow_kg_s < 0.0)
    }
}

impl Curve {
    /// The value at `x`, by straight lines between the points; nothing outside of them, but for a hair of rounding.
    pub fn at(&self, x: f64) -> Option<f64> {
        let (first, last) = (*self.x.first()?, *self.x.last()?);
        let hair = 1.0e-9 * (last - first).abs();
        let end = [first, last].into_iter().find(|end| (end - x).abs() <= hair);
        let x = end.unwrap_or(x);
        self.pairs().find_map(|((x0, y0), (x1, y1))| {
            let inside = (x0 <= x && x <= x1) || (x1 <= x && x <= x0);
            let share = if x1 == x0 { 0.0 } else { (x - x0) / (x1 - x0) };
            inside.then_some(y0 + share * (y1 - y0))
        })
    }

    /// Where it first passes `value`.
    pub fn crosses(&self, value: f64) -> Option<f64> {
        self.pairs().find_map(|((x0, y0), (x1, y1))| {
            let (a, b) = (y0 - value, y1 - value);
            let passes = (a <= 0.0 && b > 0.0) || (a >= 0.0 && b < 0.0);
            passes.then(|| x0 + (x1 - x0) * a / (a - b))
        })
    }

    /// The least point: x and y.
    pub fn least(&self) -> Option<(f64, f64)> {
        self.points().reduce(|best, point| if point.1 < best.1 { point } else { best })
    }

    /// The greatest point: x and y.
    pub fn most(&self) -> Option<(f64, f64)> {
        self.points().reduce(|best, point| if point.1 > best.1 { point } else { best })
    }

    /// The points.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> {
        self.x.iter().copied().zip(self.y.iter().copied())
    }

    fn pairs(&self) -> impl Iterator<Item = ((f64, f64), (f64, f64))> {
        self.points().zip(self.points().skip(1))
    }
}
