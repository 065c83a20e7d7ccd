//! From a lesson and a seed to numbers: draws, states, sweeps, runs and test sheets, each computed by the core.

use crate::bench::{Bench, BenchError, Solve, tidy};
use crate::curves::{Curve, RunResult, SweepResult};
use crate::expr::{Env, EvalError, Expr};
use crate::lesson::*;
use crate::seed::Seed;
use crate::sheet::{LogColumn, LogSheet};
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_core::gas::atmosphere;
use volute_core::point::reading::{Outcome, Reading};
use volute_core::settings::{Load, Settings};

/// A lesson with its numbers drawn and its states computed; or a block with its own on top of those.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Worked {
    /// Whose numbers.
    pub seed: Seed,
    /// Drawn numbers by name, SI.
    pub seeds: BTreeMap<String, f64>,
    /// How the bench is set for each state: `start` and pins.
    pub benches: BTreeMap<String, Bench>,
    /// What the core answered for each.
    pub readings: BTreeMap<String, Reading>,
    /// Sweeps by name.
    pub sweeps: BTreeMap<String, Arc<SweepResult>>,
    /// Runs by name.
    pub runs: BTreeMap<String, Arc<RunResult>>,
    /// Test sheets by name.
    pub logs: BTreeMap<String, Arc<LogSheet>>,
}

/// All settled states since the bench of a task was set.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Visited {
    readings: Vec<Reading>,
}

/// States that [`Visited`] keeps. Chosen: more than anybody sets by hand in one task.
const MOST_VISITED: usize = 400;

impl Visited {
    /// Adds a settled state; one that equals the last is not a new one.
    pub fn push(&mut self, reading: &Reading) {
        if self.readings.last().is_some_and(|last| last.settings == reading.settings && last.ambient == reading.ambient)
        {
            self.readings.pop();
        }
        if self.readings.len() < MOST_VISITED {
            self.readings.push(reading.clone());
        }
    }

    /// The states, in order.
    pub fn readings(&self) -> &[Reading] {
        &self.readings
    }
}

/// Why a lesson or checkpoint could not be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum WorkError {
    #[error("the state `{state}`: {error}")]
    Bench { state: String, error: BenchError },
    #[error(transparent)]
    Eval(#[from] EvalError),
    #[error(transparent)]
    Unfair(#[from] Unfair),
    #[error("no draw out of {tried} gave a fair question: {last}")]
    NoFairDraw { tried: u32, last: Unfair },
}

/// Why a draw is not fair.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum Unfair {
    #[error("the misconception `{value}` lies within three tolerances of the answer")]
    Near { value: String },
    #[error("the state `{state}` ends as `{outcome}`")]
    NotMatched { state: String, outcome: &'static str },
    #[error("{right} options are right; exactly one must be")]
    Options { right: usize },
    #[error("no option is right; at least one must be")]
    NoOption,
    #[error("the items `{first}` and `{second}` are closer than `apart`")]
    Close { first: String, second: String },
    #[error("the order of misconception {number} is the right one")]
    RightOrder { number: usize },
    #[error("the shape of misconception {number} is that of the true curve")]
    RightShape { number: usize },
    #[error("the curve `{curve}` leaves the axis: {least} to {most} {unit}")]
    OffAxis { curve: String, least: String, most: String, unit: &'static str },
    #[error("{0}")]
    Missing(EvalError),
    #[error("the bench that the task begins from passes already")]
    StartPasses,
}

/// Applies what a lesson file changes.
impl Bench {
    /// This bench with a change. Errors: a setting that is no finite number, an altitude outside the standard atmosphere.
    pub fn changed(&self, change: &Change, seeds: &BTreeMap<String, f64>) -> Result<Bench, EvalError> {
        let env = Env { seeds, ..Env::EMPTY };
        let number = |expr: &Option<Expr>, old: f64, per_si: f64| match expr {
            Some(expr) => expr.number(&env).map(|si| tidy(si * per_si)),
            None => Ok(old),
        };
        let mut bench = self.clone();
        let s = &mut bench.settings;
        s.speed_rpm = number(&change.speed, s.speed_rpm, 60.0)?;
        s.vane_open_pct = number(&change.vane, s.vane_open_pct, 100.0)?;
        if let Some(altitude) = &change.altitude {
            let day = atmosphere::ambient_at(tidy(altitude.number(&env)?)).map_err(EvalError::Altitude)?;
            (s.ambient.p_pa, s.ambient.t_k) = (day.p_pa, day.t_k);
        }
        s.ambient.p_pa = number(&change.pressure, s.ambient.p_pa, 1.0)?;
        s.ambient.t_k = number(&change.temperature, s.ambient.t_k, 1.0)?;
        s.ambient.relative_humidity = number(&change.humidity, s.ambient.relative_humidity, 1.0)?;
        match &change.load {
            Some(LoadChange::Torque(expr)) => s.load = Load::Torque { torque_n_m: tidy(expr.number(&env)?) },
            Some(LoadChange::Fuel(expr)) => s.load = Load::Fuel { fuel_kg_per_cycle: tidy(expr.number(&env)?) },
            None => {}
        }
        for (path, expr) in &change.parts {
            bench.parts.insert(path.clone(), tidy(expr.number(&env)?));
        }
        Ok(bench)
    }
}

impl WorkError {
    /// The same as a reason to draw again, where another draw may help: a value that does not exist, not a bench that cannot
    /// be set.
    fn unfair(self) -> Result<Unfair, WorkError> {
        match self {
            WorkError::Eval(
                error @ (EvalError::NoNumbers { .. } | EvalError::NoPoint { .. } | EvalError::NotFinite { .. }),
            ) => Ok(Unfair::Missing(error)),
            WorkError::Unfair(unfair) => Ok(unfair),
            error => Err(error),
        }
    }
}

impl Worked {
    /// What expressions of the lesson see: its states and numbers, and no bench.
    pub fn env(&self) -> Env<'_> {
        Env {
            bench: None,
            visited: &[],
            live: None,
            states: &self.readings,
            benches: &self.benches,
            seeds: &self.seeds,
            sweeps: &self.sweeps,
            runs: &self.runs,
            logs: &self.logs,
        }
    }

    /// The same with the bench as it stands.
    pub fn env_with<'a>(&'a self, bench: &'a Reading) -> Env<'a> {
        Env { bench: Some(bench), ..self.env() }
    }

    /// The curve behind a name, points without numbers left out. Errors: a sweep or run that was not computed.
    pub fn curve(&self, curve: &CurveRef) -> Result<Curve, EvalError> {
        self.env().curve(curve.kind, &curve.of, curve.quantity)
    }

    /// How `state` is set, and `start` where it is not known.
    pub fn bench(&self, state: &str) -> Option<&Bench> {
        self.benches.get(state).or_else(|| self.benches.get("start"))
    }

    /// Why `state` does not end as wanted, if so.
    pub(crate) fn ends(&self, state: &str, wanted: &[Outcome]) -> Option<Unfair> {
        let outcome = self.readings.get(state)?.outcome;
        (!wanted.contains(&outcome)).then(|| Unfair::NotMatched { state: state.into(), outcome: outcome.name() })
    }

    fn add(&mut self, state: &str, bench: Bench, solver: &mut dyn Solve) -> Result<(), WorkError> {
        let reading = solver.solve(&bench).map_err(|error| WorkError::Bench { state: state.into(), error })?;
        self.benches.insert(state.into(), bench);
        self.readings.insert(state.into(), reading);
        Ok(())
    }

    /// Computes pins, sweeps and runs of `setup`, whose numbers are drawn already. What begins from [`LIVE`] is left out
    /// unless `live` says how the bench stands.
    fn add_setup(&mut self, setup: &Setup, live: Option<&Bench>, solver: &mut dyn Solve) -> Result<(), WorkError> {
        if live.is_none() {
            for pin in &setup.pins {
                let bench = self.pin(pin)?;
                self.add(&pin.name, bench, solver)?;
            }
        }
        let wanted = |of: &str| (of == LIVE) == live.is_some();
        for sweep in setup.sweeps.iter().filter(|sweep| wanted(&sweep.of)) {
            let result = self.sweep(sweep, live, solver)?;
            self.sweeps.insert(sweep.name.clone(), Arc::new(result));
        }
        for run in setup.runs.iter().filter(|run| wanted(&run.of)) {
            let result = self.run(run, live, solver)?;
            self.runs.insert(run.name.clone(), Arc::new(result));
        }
        Ok(())
    }

    fn from<'a>(&'a self, state: &str, live: Option<&'a Bench>) -> Result<&'a Bench, WorkError> {
        if let (LIVE, Some(live)) = (state, live) {
            return Ok(live);
        }
        Ok(self.benches.get(state).ok_or_else(|| EvalError::NotComputed { state: state.into() })?)
    }

    fn pin(&self, pin: &Pin) -> Result<Bench, WorkError> {
        Ok(match &pin.engine {
            Some(engine) => Bench::reference(Some(engine.clone())).changed(&pin.set, &self.seeds)?,
            None => self.from(&pin.of, None)?.changed(&pin.set, &self.seeds)?,
        })
    }

    fn sweep(&self, sweep: &Sweep, live: Option<&Bench>, solver: &mut dyn Solve) -> Result<SweepResult, WorkError> {
        let base = self.from(&sweep.of, live)?.changed(&sweep.set, &self.seeds)?;
        let settings_si = sweep.settings_si();
        let mut readings = Vec::with_capacity(settings_si.len());
        for si in &settings_si {
            let bench =
                base.swept(sweep.over, *si).map_err(|error| WorkError::Bench { state: sweep.name.clone(), error })?;
            readings.push(
                solver.solve_in_sweep(&bench).map_err(|error| WorkError::Bench { state: sweep.name.clone(), error })?,
            );
        }
        Ok(SweepResult { over: sweep.over, unit: sweep.unit, settings_si, readings })
    }

    fn run(&self, run: &Run, live: Option<&Bench>, solver: &mut dyn Solve) -> Result<RunResult, WorkError> {
        let from = self.from(&run.of, live)?;
        let to = from.changed(&run.to, &self.seeds)?;
        let outcome =
            solver.run(from, &to, run.for_s).map_err(|error| WorkError::Bench { state: run.name.clone(), error })?;
        Ok(outcome)
    }

    fn log(&self, log: &Log, lesson: &str, solver: &mut dyn Solve) -> Result<LogSheet, WorkError> {
        let swept = self.sweep(&log.sweep, None, solver)?;
        let columns: Vec<LogColumn> = log
            .channels
            .iter()
            .map(|channel| LogColumn {
                name: channel.name.clone(),
                heading: channel.heading.clone(),
                measure: channel.measure,
                decimals: channel.decimals,
                point: crate::expr::is_point(channel.value.kind()),
            })
            .collect();
        let mut rows = Vec::new();
        for (row, reading) in swept.readings.iter().enumerate() {
            let env = self.env_with(reading);
            let mut values = Vec::new();
            for (channel, column) in log.channels.iter().zip(&columns) {
                let mut si = channel.value.number(&env)?;
                if let Some(noise) = &channel.noise {
                    let block = format!("{}.{}.{row}", log.name, channel.name);
                    si += noise.number(&env)? * crate::seed::normal(self.seed, lesson, &block);
                }
                values.push(column.written(si));
            }
            rows.push(values);
        }
        Ok(LogSheet { columns, rows })
    }
}

impl Lesson {
    /// Draws the lesson's own numbers, SI.
    pub fn draw(&self, seed: Seed) -> BTreeMap<String, f64> {
        self.setup.draw(seed, &self.id, "", 0)
    }

    /// How the bench stands at the start, for this learner. Errors: a setting that is no finite number.
    pub fn bench(&self, seed: Seed) -> Result<Bench, EvalError> {
        let blank = Bench::reference(self.start.engine.clone());
        blank.changed(&self.start.set, &self.draw(seed))
    }

    /// The settings at the start, for this learner. Errors as for [`Lesson::bench`].
    pub fn settings(&self, seed: Seed) -> Result<Settings, EvalError> {
        Ok(self.bench(seed)?.settings)
    }

    /// Draws the numbers and computes `start`, every pin, sweep, run and test sheet. Errors: a state that cannot be set or
    /// solved. A state that the core answers without numbers (surge) is kept: prose that needs its numbers says so.
    pub fn work_out(&self, seed: Seed, solver: &mut dyn Solve) -> Result<Worked, WorkError> {
        let mut worked = Worked { seed, seeds: self.draw(seed), ..Worked::default() };
        worked.add("start", self.bench(seed)?, solver)?;
        worked.add_setup(&self.setup, None, solver)?;
        for log in self.logs() {
            let sheet = worked.log(log, &self.id, solver)?;
            worked.logs.insert(log.name.clone(), Arc::new(sheet));
        }
        Ok(worked)
    }
}

impl Setup {
    fn draw(&self, seed: Seed, lesson: &str, block: &str, draw: u32) -> BTreeMap<String, f64> {
        let drawn = |range: &crate::seed::SeedRange| (range.name.clone(), range.draw_si(seed, lesson, block, draw));
        self.seeds.iter().map(drawn).collect()
    }

    /// Draws until a draw is fair, in an order that the seed fixes: computes the setup and asks `fair` for the key. A draw is
    /// thrown away when a pin does not end as the file wants it, when `fair` says so, and when a value does not exist.
    /// Returns what was worked out, the key, and how many draws were thrown away.
    pub(crate) fn work_out<K>(
        &self,
        at: Draw,
        solver: &mut dyn Solve,
        fair: Fair<K>,
    ) -> Result<(Worked, K, u32), WorkError> {
        let draws = if self.seeds.is_empty() { 1 } else { DRAWS };
        let mut last = Unfair::Options { right: 0 };
        for attempt in 0..draws {
            let number = at.number.wrapping_mul(DRAWS).wrapping_add(attempt);
            let mut own = at.worked.clone();
            own.seeds.extend(self.draw(own.seed, &at.lesson.id, at.block, number));
            let mut one = || {
                own.add_setup(self, None, solver)?;
                if let Some(unfair) = self.pins.iter().find_map(|pin| own.ends(&pin.name, &pin.ends)) {
                    return Err(unfair.into());
                }
                fair(&own, solver)
            };
            match one() {
                Ok(key) => return Ok((own, key, attempt)),
                Err(error) => last = error.unfair()?,
            }
        }
        Err(WorkError::NoFairDraw { tried: draws, last })
    }

    /// Whether anything begins from the bench as it stands.
    pub fn needs_live(&self) -> bool {
        self.sweeps.iter().any(|sweep| sweep.of == LIVE) || self.runs.iter().any(|run| run.of == LIVE)
    }

    /// What begins from the bench as it stands, on top of `worked`. Errors: a bench that cannot be set.
    pub(crate) fn live(&self, worked: &Worked, bench: &Bench, solver: &mut dyn Solve) -> Result<Worked, WorkError> {
        let mut own = worked.clone();
        own.add_setup(self, Some(bench), solver)?;
        Ok(own)
    }
}

/// Gives the key of a draw. Errors: a value that does not exist, a draw that is not fair.
pub(crate) type Fair<'f, K> = &'f mut dyn FnMut(&Worked, &mut dyn Solve) -> Result<K, WorkError>;

/// Which numbers of a block are drawn.
#[derive(Clone, Copy)]
pub(crate) struct Draw<'a> {
    /// The lesson.
    pub lesson: &'a Lesson,
    /// Its own states and numbers.
    pub worked: &'a Worked,
    /// The id of the block.
    pub block: &'a str,
    /// How often the block was drawn anew, from 0.
    pub number: u32,
}

/// Draws that are tried before a question is given up. Chosen: a range of which half is unfair then fails once in 4e9.
pub const DRAWS: u32 = 32;
