//! What a lesson draws and computes: numbers, states, sweeps, runs and test sheets.

use crate::curves::Swept;
use crate::expr::Expr;
use crate::seed::SeedRange;
use crate::units::{Measure, Unit};
use volute_core::point::reading::Outcome;

/// What is drawn and computed: for the whole lesson, or for one block on top of that.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Setup {
    /// Numbers that are drawn: `seed.name`.
    pub seeds: Vec<SeedRange>,
    /// Named states: `pins.name`. A pin comes after the one it starts from.
    pub pins: Vec<Pin>,
    /// Sweeps: `sweeps.name`.
    pub sweeps: Vec<Sweep>,
    /// Runs in time: `runs.name`.
    pub runs: Vec<Run>,
}

/// Settings that differ from those they begin with. Expressions use numbers and `seed.…` only.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Change {
    /// Engine speed.
    pub speed: Option<Expr>,
    /// Torque or fuel.
    pub load: Option<LoadChange>,
    /// Vane position.
    pub vane: Option<Expr>,
    /// Altitude: pressure and temperature of the standard atmosphere, unless they are given beside it.
    pub altitude: Option<Expr>,
    /// Ambient pressure.
    pub pressure: Option<Expr>,
    /// Ambient temperature.
    pub temperature: Option<Expr>,
    /// Relative humidity.
    pub humidity: Option<Expr>,
    /// Parameters of the engine by their path in core, such as `exhaust_pipe.bore_m`, in SI.
    pub parts: Vec<(String, Expr)>,
}

/// Torque or fuel.
#[derive(Debug, Clone, PartialEq)]
pub enum LoadChange {
    /// Torque held.
    Torque(Expr),
    /// Fuel held, of one cylinder in one cycle.
    Fuel(Expr),
}

/// A named state.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Its name.
    pub name: String,
    /// The state that it starts from: `start`, or another pin.
    pub of: String,
    /// Short name of a built-in engine: then it starts from nothing, on the reference day.
    pub engine: Option<String>,
    /// How it differs from that.
    pub set: Change,
    /// How the core may find that it ends; `matched` unless the file says more.
    pub ends: Vec<Outcome>,
}

/// A row of states along one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// Its name.
    pub name: String,
    /// The state to begin from: `start`, a pin, or [`LIVE`] in a task.
    pub of: String,
    /// Changes on top of that.
    pub set: Change,
    /// The setting that is swept.
    pub over: Swept,
    /// First and last setting, in SI.
    pub ends_si: (f64, f64),
    /// Unit in which the file gives them.
    pub unit: &'static Unit,
    /// How many states, 2 to 61.
    pub points: u32,
}

/// As `of` in a task: the bench as it stands.
pub const LIVE: &str = "bench";

/// A load step or another change, in time.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Its name.
    pub name: String,
    /// The state before the step: `start`, a pin, or [`LIVE`] in a task.
    pub of: String,
    /// What changes at time zero.
    pub to: Change,
    /// How long it is watched, in s, at most 10.
    pub for_s: f64,
}

/// A test sheet that the core writes, with a seeded fault and noise if the file wants them.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// Its name: `logs.name.channel.1`.
    pub name: String,
    /// How its rows come about. Its name is that of the log.
    pub sweep: Sweep,
    /// Its columns.
    pub channels: Vec<Channel>,
}

/// A column of a test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Its name in expressions.
    pub name: String,
    /// The heading as a tester would write it.
    pub heading: String,
    /// The unit as the sheet says it, which need not be true.
    pub measure: Measure,
    /// Decimals that are written down.
    pub decimals: u8,
    /// The value; bare names are the reading of the row.
    pub value: Expr,
    /// Standard deviation of the noise, SI.
    pub noise: Option<Expr>,
}

impl Sweep {
    /// The settings, in the order of the file, SI.
    pub fn settings_si(&self) -> Vec<f64> {
        let (first, last) = self.ends_si;
        let steps = self.points.max(2) - 1;
        let at = |i| if i == steps { last } else { first + (last - first) * f64::from(i) / f64::from(steps) };
        (0..=steps).map(at).collect()
    }
}
