//! The matched operating point: periodic cycle and balanced shaft together.

use crate::engine::{Engine, EngineError};
use crate::keys::KeyError;
use crate::reading::Reading;
use crate::settings::Settings;
use alloc::boxed::Box;

/// A steady point: the reading, and what a later solve may start from.
#[derive(Debug, Clone)]
pub struct Point {
    /// What was found. Where `outcome.has_state()` is false, the numbers are of the last iterate and not to be shown.
    pub reading: Reading,
    /// Where no state exists or the shaft is past its limit: the nearest point with wider vanes that holds.
    pub last_good: Option<Box<Point>>,
    /// The settings of this point.
    pub settings: Settings,
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

/// The steady point at `settings`, from nothing.
pub fn solve(_engine: &Engine, _settings: &Settings) -> Result<Point, BenchError> {
    todo!()
}

/// The steady point at `settings`, starting from a neighbour: fewer firing intervals.
pub fn solve_near(_engine: &Engine, _settings: &Settings, _near: &Point) -> Result<Point, BenchError> {
    todo!()
}
