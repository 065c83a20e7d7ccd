//! A bench that a lesson sets: an engine with changed parts, and settings; and who solves it.

use crate::curves::{RunResult, Swept};
use crate::units;
use std::collections::{BTreeMap, HashMap};
use std::hash::Hash;
use std::sync::{Mutex, OnceLock, PoisonError};
use volute_core::engine::built_in;
use volute_core::engine::{self, Engine};
use volute_core::gas::atmosphere::{self, AtmosphereError};
use volute_core::keys::KeyError;
use volute_core::point::reading::Reading;
use volute_core::point::steady::{self, Point};
use volute_core::point::transient::{Sample, Transient};
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

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
    Part(#[from] KeyError),
    #[error(transparent)]
    Core(#[from] steady::BenchError),
    #[error(transparent)]
    Altitude(#[from] AtmosphereError),
    #[error("a run cannot change {what} on the way: they are fixed while the engine turns")]
    Fixed { what: &'static str },
    /// For a solver that is stopped between two answers, such as that of the page.
    #[error("the solver was stopped before it had an answer")]
    Stopped,
}

/// Gives the reading of a bench. The page has a solver that keeps results; tests have one that calls the core each time. A
/// closure is a solver too.
pub trait Solve {
    /// The steady reading. Errors: a bench that cannot be set.
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError>;

    /// The steady reading of a point of a sweep. It is not tried whether the point would stay there near surge; the page's own
    /// sweeps do not try it either. Errors as for [`Solve::solve`].
    fn solve_in_sweep(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        bench.quick_reading()
    }

    /// What happens in `for_s` seconds when `to` is set while `from` has settled. Errors: a bench that cannot be set, another
    /// engine or other parts.
    fn run(&mut self, from: &Bench, to: &Bench, for_s: f64) -> Result<RunResult, BenchError> {
        from.run(to, for_s)
    }
}

impl<F: FnMut(&Bench) -> Result<Reading, BenchError>> Solve for F {
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        self(bench)
    }
}

/// Calls the core for every bench and keeps the answers. A bench is known by its bits. So a thousand learners whose numbers
/// come from a few values cost no more than those few values.
#[derive(Debug, Default)]
pub struct CoreSolver(SharedSolver);

/// A [`CoreSolver`] that many threads share.
#[derive(Debug, Default)]
pub struct SharedSolver {
    readings: Kept<Key, Reading>,
    quick: Kept<Key, Reading>,
    runs: Kept<(Key, Key, u64), RunResult>,
}

/// Answers that are kept by what was asked.
#[derive(Debug)]
struct Kept<K, V>(Mutex<HashMap<K, V>>);

impl<K, V> Default for Kept<K, V> {
    fn default() -> Self {
        Kept(Mutex::default())
    }
}

impl<K: Eq + Hash, V: Clone> Kept<K, V> {
    /// The kept answer, or that of `ask`, which is kept then. Of more than `most` answers all are forgotten. Errors: those of
    /// `ask`.
    fn get<E>(&self, key: K, most: usize, ask: impl FnOnce() -> Result<V, E>) -> Result<V, E> {
        // A thread that panicked leaves at worst one answer less.
        let kept = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(answer) = kept().get(&key) {
            return Ok(answer.clone());
        }
        let answer = ask()?;
        let mut all = kept();
        if all.len() >= most {
            all.clear();
        }
        all.insert(key, answer.clone());
        Ok(answer)
    }
}

/// A bench by its bits.
type Key = (Option<String>, Vec<(String, u64)>, [u64; 7]);

impl Bench {
    fn key(&self) -> Key {
        let s = &self.settings;
        let (kind, load) = match s.load {
            Load::Torque { torque_n_m } => (0, torque_n_m),
            Load::Fuel { fuel_kg_per_cycle } => (1, fuel_kg_per_cycle),
        };
        let a = &s.ambient;
        let settings = [s.speed_rpm, load, s.vane_open_pct, a.p_pa, a.t_k, a.relative_humidity].map(f64::to_bits);
        let [speed, load, vane, p, t, humidity] = settings;
        let parts = self.parts.iter().map(|(path, value)| (path.clone(), value.to_bits())).collect();
        (self.engine.clone(), parts, [kind, speed, load, vane, p, t, humidity])
    }
}

/// Readings that [`CoreSolver`] keeps before it forgets all of them. Chosen: some 100 MB at most, and far more than one lesson
/// needs.
const MOST_READINGS: usize = 60_000;
/// Runs that [`CoreSolver`] keeps. Chosen: a run is some 200 times as large as a reading.
const MOST_RUNS: usize = MOST_READINGS / 200;

impl Solve for &SharedSolver {
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        self.readings.get(bench.key(), MOST_READINGS, || bench.reading())
    }

    fn solve_in_sweep(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        self.quick.get(bench.key(), MOST_READINGS, || bench.quick_reading())
    }

    fn run(&mut self, from: &Bench, to: &Bench, for_s: f64) -> Result<RunResult, BenchError> {
        self.runs.get((from.key(), to.key(), for_s.to_bits()), MOST_RUNS, || from.run(to, for_s))
    }
}

impl Solve for CoreSolver {
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        (&self.0).solve(bench)
    }

    fn solve_in_sweep(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        (&self.0).solve_in_sweep(bench)
    }

    fn run(&mut self, from: &Bench, to: &Bench, for_s: f64) -> Result<RunResult, BenchError> {
        (&self.0).run(from, to, for_s)
    }
}

impl Bench {
    /// A bench on the reference day. Everything else is still to be set.
    pub(crate) fn reference(engine: Option<String>) -> Bench {
        let settings = Settings {
            speed_rpm: 0.0,
            load: Load::Torque { torque_n_m: 0.0 },
            vane_open_pct: 100.0,
            ambient: REFERENCE_DAY,
        };
        Bench { engine, parts: BTreeMap::new(), settings }
    }

    /// This bench with one setting elsewhere, SI. Errors: an altitude outside the standard atmosphere.
    pub fn swept(&self, over: Swept, si: f64) -> Result<Bench, BenchError> {
        let mut bench = self.clone();
        let s = &mut bench.settings;
        match over {
            Swept::Vane => s.vane_open_pct = tidy(si * 100.0),
            Swept::Torque => s.load = Load::Torque { torque_n_m: tidy(si) },
            Swept::Fuel => s.load = Load::Fuel { fuel_kg_per_cycle: tidy(si) },
            Swept::Speed => s.speed_rpm = tidy(si * 60.0),
            Swept::Altitude => {
                let day = atmosphere::ambient_at(tidy(si))?;
                (s.ambient.p_pa, s.ambient.t_k) = (day.p_pa, day.t_k);
            }
            Swept::Temperature => s.ambient.t_k = tidy(si),
            Swept::Part { group, name } => {
                bench.parts.insert(format!("{group}.{name}"), tidy(si));
            }
        }
        Ok(bench)
    }

    /// The engine as its file has it. Errors: no such engine.
    fn base(&self) -> Result<&'static Engine, BenchError> {
        static ENGINES: OnceLock<Vec<Engine>> = OnceLock::new();
        let engines = ENGINES.get_or_init(|| built_in::names().filter_map(built_in::engine).collect());
        let named = |engine: &&Engine| self.engine.as_deref().is_none_or(|wanted| wanted == engine.name);
        engines.iter().find(named).ok_or_else(|| {
            let known = built_in::names().collect();
            BenchError::NoSuchEngine { name: self.engine.clone().unwrap_or_default(), known }
        })
    }

    /// A parameter of the engine as it stands on this bench, in SI (a speed of rotation in 1/s). Errors: no such engine, no
    /// such parameter.
    pub fn parameter(&self, path: &str) -> Result<f64, BenchError> {
        let value = match self.parts.get(path) {
            Some(value) => *value,
            None => self.base()?.get(path)?,
        };
        // Keys are in SI, except for speeds of rotation.
        let unit = units::exact(engine::key(path)?.unit);
        Ok(unit.map_or(value, |unit| unit.to_si(value)))
    }

    /// The engine with its parts changed. Errors: no such engine, a part that does not exist or is out of range.
    pub fn engine(&self) -> Result<Engine, BenchError> {
        let mut engine = self.base()?.clone();
        for (path, value) in &self.parts {
            engine.set(path, *value)?;
        }
        engine.check().map_err(steady::BenchError::Engine)?;
        Ok(engine)
    }

    fn point(&self, diagnose: bool) -> Result<Point, BenchError> {
        let options = steady::Options { trace: false, diagnose, ..steady::Options::default() };
        Ok(steady::solve_with(&self.engine()?, &self.settings, None, &options)?)
    }

    /// The steady reading, by the core, without its trace over the crank angle. Near surge it is tried whether the point would
    /// stay there, as on the page. The search begins from nothing, so the reading does not depend on what was asked before.
    /// Errors: as for [`Bench::engine`], a setting out of range.
    pub fn reading(&self) -> Result<Reading, BenchError> {
        Ok(self.point(true)?.reading)
    }

    /// The same without the trial near surge. Errors as for [`Bench::reading`].
    pub fn quick_reading(&self) -> Result<Reading, BenchError> {
        Ok(self.point(false)?.reading)
    }

    /// What happens in `for_s` seconds when `to` is set while this bench has settled. Errors: as for [`Bench::reading`],
    /// another engine or other parts.
    pub fn run(&self, to: &Bench, for_s: f64) -> Result<RunResult, BenchError> {
        if self.engine != to.engine || self.parts != to.parts {
            return Err(BenchError::Fixed { what: "engine and parts" });
        }
        let point = self.point(false)?;
        let mut engine = Transient::start(&point);
        engine.set(&to.settings)?;
        let mut samples = Vec::new();
        // A firing interval takes at least a millisecond. The count ends the loop even if the clock stood still.
        while samples.len() < MOST_SAMPLES && samples.last().is_none_or(|last: &Sample| last.time_s < for_s) {
            samples.push(engine.advance());
        }
        let asked_n_m = match to.settings.load {
            Load::Torque { torque_n_m } => Some(torque_n_m),
            Load::Fuel { .. } => None,
        };
        Ok(RunResult {
            before_n_m: point.reading.brake.torque_n_m,
            asked_n_m,
            p_amb_pa: to.settings.ambient.p_pa,
            samples,
        })
    }
}

/// Samples of a run at most: 10 s of eight cylinders at 8000 1/min have 5333.
const MOST_SAMPLES: usize = 12_000;

/// Twelve figures: 2350 1/min by way of 1/s is 2350 again, so that links and labels show what the author wrote.
pub(crate) fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}
