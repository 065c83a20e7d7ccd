//! A steady point, what may be asked of it, and what can be wrong with the question.

use crate::cycle::{GasExchange, Machine};
use crate::engine::EngineError;
use crate::keys::KeyError;
use crate::point::iterate::Iterate;
use crate::point::matching::{Factors, Matched};
use crate::point::reading::Reading;
use crate::settings::Settings;
use alloc::boxed::Box;
use alloc::sync::Arc;

/// A steady point: the reading, and what a later solve may start from.
#[derive(Debug, Clone)]
pub struct Point {
    /// What was found. Where `reading.holds` is false, the numbers are of the last iterate and not to be shown.
    pub reading: Reading,
    /// Where the point does not hold and the vanes are not stuck: the nearest point with wider vanes that does.
    pub last_good: Option<Box<Point>>,
    /// The settings of this point.
    pub settings: Settings,
    pub(crate) machine: Arc<Machine>,
    pub(crate) iterate: Iterate,
    pub(crate) factors: Factors,
    pub(crate) matched: Matched,
}

impl Point {
    /// The state at the beginning of a firing interval, and the fuel of the cylinder that fires next.
    ///
    /// The tests start their own integrator from it.
    pub fn cycle_state(&self) -> (&GasExchange, f64) {
        (&self.iterate.state, self.iterate.fuel_kg)
    }
}

/// What can be wrong with a question.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BenchError {
    /// A setting is outside its range.
    #[error(transparent)]
    Setting(#[from] KeyError),
    /// The engine's parameters do not fit together.
    #[error(transparent)]
    Engine(#[from] EngineError),
}

/// How exactly a point is found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Greatest relative change of any state over an interval.
    pub state: f64,
    /// Greatest miss of energy (of the fuel's), flow and load. The shaft's balance (of the compressor's) may miss 1.5 times
    /// that, the balance of burned fuel (of the fuel) twice.
    pub balance: f64,
    /// Firing intervals after which the search is given up.
    pub intervals: u32,
}

/// What the bench uses: balances well below the promised 1e-4 of the fuel energy and 2e-4 of the shaft power.
pub const EVERYDAY: Effort = Effort { state: 5e-4, balance: 7e-5, intervals: 120 };

/// Everything a question can vary beyond engine and settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// How exactly.
    pub effort: Effort,
    /// Whether to record one cylinder over the cycle.
    pub trace: bool,
    /// Whether to look for the nearest point that holds when this one does not, and for stability near surge.
    pub diagnose: bool,
    /// Steps in a degree; chosen by speed when nothing is given.
    pub steps_per_degree: Option<usize>,
}

impl Default for Options {
    fn default() -> Self {
        Self { effort: EVERYDAY, trace: true, diagnose: true, steps_per_degree: None }
    }
}
