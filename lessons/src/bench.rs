//! A bench that a lesson sets: an engine with changed parts, and settings; and who solves it.

use crate::expr::{Env, EvalError, Expr};
use crate::lesson::{Change, LoadChange};
use std::collections::BTreeMap;
use volute_core::engine::Engine;
use volute_core::engine_file::{self, BUILT_IN, EngineFileError};
use volute_core::keys::KeyError;
use volute_core::reading::Reading;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};
use volute_core::steady;

/// An engine with changed parts, and settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// Short name of a built-in engine; the first one if nothing is said.
    pub engine: Option<String>,
    /// Parameters of the engine that differ from its file, by path, SI.
    pub parts: BTreeMap<String, f64>,
    /// The settings.
    pub settings: Settings,
}

/// Why a bench has no reading.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum BenchError {
    #[error("there is no built-in engine `{name}`; known are {}", .known.join(", "))]
    NoSuchEngine { name: String, known: Vec<&'static str> },
    #[error(transparent)]
    EngineFile(#[from] EngineFileError),
    #[error(transparent)]
    Part(#[from] KeyError),
    #[error(transparent)]
    Core(#[from] steady::BenchError),
}

/// Gives the reading of a bench. The page has one that keeps results, tests have one that calls the core each time; a closure
/// will do.
pub trait Solve {
    /// The steady reading. Errors: a bench that cannot be set.
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError>;
}

impl<F: FnMut(&Bench) -> Result<Reading, BenchError>> Solve for F {
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        self(bench)
    }
}

/// Calls the core for every bench, and keeps what it answered.
#[derive(Debug, Default)]
pub struct CoreSolver {
    kept: Vec<(Bench, Reading)>,
}

/// Readings that [`CoreSolver`] keeps: a lesson has a handful, so the oldest goes first.
const KEPT: usize = 64;

impl Solve for CoreSolver {
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        if let Some((_, reading)) = self.kept.iter().find(|(known, _)| known == bench) {
            return Ok(reading.clone());
        }
        let reading = bench.reading()?;
        if self.kept.len() == KEPT {
            self.kept.remove(0);
        }
        self.kept.push((bench.clone(), reading.clone()));
        Ok(reading)
    }
}

impl Bench {
    /// On the reference day, with everything else still to be set.
    pub(crate) fn reference(engine: Option<String>) -> Bench {
        let settings = Settings {
            speed_rpm: 0.0,
            load: Load::Torque { torque_n_m: 0.0 },
            vane_open_pct: 100.0,
            ambient: REFERENCE_DAY,
        };
        Bench { engine, parts: BTreeMap::new(), settings }
    }

    /// This bench with a change. Errors: a setting that is no finite number.
    pub fn changed(&self, change: &Change, seeds: &BTreeMap<String, f64>) -> Result<Bench, EvalError> {
        let states = BTreeMap::new();
        let env = Env { bench: None, states: &states, seeds };
        let number = |expr: &Option<Expr>, old: f64, per_si: f64| match expr {
            Some(expr) => expr.number(&env).map(|si| tidy(si * per_si)),
            None => Ok(old),
        };
        let mut bench = self.clone();
        let s = &mut bench.settings;
        s.speed_rpm = number(&change.speed, s.speed_rpm, 60.0)?;
        s.vane_open_pct = number(&change.vane, s.vane_open_pct, 100.0)?;
        s.ambient.p_pa = number(&change.pressure, s.ambient.p_pa, 1.0)?;
        s.ambient.t_k = number(&change.temperature, s.ambient.t_k, 1.0)?;
        s.ambient.relative_humidity = number(&change.humidity, s.ambient.relative_humidity, 1.0)?;
        match &change.load {
            Some(LoadChange::Torque(expr)) => s.load = Load::Torque { torque_n_m: tidy(expr.number(&env)?) },
            Some(LoadChange::Fuel(expr)) => s.load = Load::Fuel { fuel_kg_per_cycle: tidy(expr.number(&env)?) },
            None => {}
        }
        bench.parts.extend(change.parts.iter().cloned());
        Ok(bench)
    }

    /// The engine with its parts changed. Errors: no such engine, a part that does not exist or is out of range.
    pub fn engine(&self) -> Result<Engine, BenchError> {
        let named = |(name, _): &&(&str, &str)| self.engine.as_deref().is_none_or(|wanted| wanted == *name);
        let Some((_, text)) = BUILT_IN.iter().find(named) else {
            let known = BUILT_IN.iter().map(|(name, _)| *name).collect();
            return Err(BenchError::NoSuchEngine { name: self.engine.clone().unwrap_or_default(), known });
        };
        let mut engine = engine_file::parse(text)?;
        for (path, value) in &self.parts {
            engine.set(path, *value)?;
        }
        engine.check().map_err(steady::BenchError::Engine)?;
        Ok(engine)
    }

    /// The steady reading, by the core, without its trace over the crank angle. Errors: as for [`Bench::engine`], a setting out of range.
    pub fn reading(&self) -> Result<Reading, BenchError> {
        let options = steady::Options { trace: false, diagnose: false, ..steady::Options::default() };
        Ok(steady::solve_with(&self.engine()?, &self.settings, None, &options)?.reading)
    }
}

/// Twelve figures: 2350 1/min by way of 1/s is 2350 again, so that links and labels show what the author wrote.
fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}
