//! From a lesson and a seed to numbers: draws, states, sweeps, runs and test sheets, each computed by the core.

use crate::bench::{Bench, BenchError, Solve};
use crate::expr::{Env, EvalError};
use crate::lesson::*;
use crate::paths::{Quantity, RunQuantity};
use crate::seed::Seed;
use crate::units::{self, Decimal, Measure, Style, Unit};
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_core::point::reading::{Outcome, Reading};
use volute_core::point::transient::Sample;
use volute_core::settings::Settings;

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

/// A test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LogSheet {
    /// Its columns.
    pub columns: Vec<LogColumn>,
    /// Its rows, SI by the unit that the sheet claims, rounded to what it writes down.
    pub rows: Vec<Vec<f64>>,
}

/// A column of a test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LogColumn {
    /// Its name in expressions.
    pub name: String,
    /// Its heading.
    pub heading: String,
    /// The unit that it claims.
    pub measure: Measure,
    /// Decimals that are written down.
    pub decimals: u8,
    /// Whether it is a temperature and not a difference of two.
    pub point: bool,
}

/// A curve, in SI.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// The swept setting, or time in s; as the file has it, so perhaps falling.
    pub x: Vec<f64>,
    /// The quantity.
    pub y: Vec<f64>,
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

impl WorkError {
    /// The same as a reason to draw again, where another draw may help: a value that does not exist, not a bench that cannot
    /// be set.
    fn unfair(self) -> Result<Unfair, WorkError> {
        match self {
            WorkError::Eval(
                error @ (EvalError::NoNumbers { .. } | EvalError::NoPoint { .. } | EvalError::NotFinite { .. }),
            ) => Ok(Unfair::Missing(error)),
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

impl LogColumn {
    /// The value as the sheet writes it down, in SI again.
    fn written(&self, si: f64) -> f64 {
        let unit = self.measure.unit;
        let value = if self.point { unit.of_si(si) } else { unit.difference_of_si(si) };
        let text = format!("{value:.*}", usize::from(self.decimals));
        let value: f64 = text.parse().unwrap_or(value);
        if self.point { unit.to_si(value) } else { unit.difference_to_si(value) }
    }

    /// A value of a row in the unit that the sheet claims.
    pub fn in_unit(&self, si: f64) -> f64 {
        let unit = self.measure.unit;
        if self.point { unit.of_si(si) } else { unit.difference_of_si(si) }
    }
}

impl LogSheet {
    /// The column of a name, from 0.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name == name)
    }

    /// As a table of texts: headings with their units, then the rows.
    pub fn table(&self, style: Style) -> (Vec<String>, Vec<Vec<String>>) {
        let heads = self.columns.iter().map(|column| {
            let unit = column.measure.text(style);
            if unit.is_empty() { column.heading.clone() } else { format!("{} [{unit}]", column.heading) }
        });
        let row = |row: &Vec<f64>| {
            let cells = row.iter().zip(&self.columns);
            cells.map(|(si, column)| units::number(column.in_unit(*si), column.decimals, style.decimal)).collect()
        };
        (heads.collect(), self.rows.iter().map(row).collect())
    }

    /// As CSV: a row of headings, a row of units, then numbers. With a decimal comma, semicolons stand between the fields.
    pub fn csv(&self, decimal: Decimal) -> String {
        let (separator, sign) = match decimal {
            Decimal::Point => (",", '.'),
            Decimal::Comma => (";", ','),
        };
        // Headings come from a file that anybody may have written: a field that a spreadsheet would run is defused.
        let field = |text: &str| {
            let defused =
                if text.starts_with(['=', '+', '-', '@', '\t']) { format!("'{text}") } else { text.to_string() };
            format!("\"{}\"", defused.replace('"', "\"\""))
        };
        let mut lines = vec![
            self.columns.iter().map(|column| field(&column.heading)).collect::<Vec<_>>().join(separator),
            self.columns.iter().map(|column| field(&column.measure.to_string())).collect::<Vec<_>>().join(separator),
        ];
        for row in &self.rows {
            let cells = row.iter().zip(&self.columns).map(|(si, column)| {
                format!("{:.*}", usize::from(column.decimals), column.in_unit(*si)).replace('.', &sign.to_string())
            });
            lines.push(cells.collect::<Vec<_>>().join(separator));
        }
        lines.join("\r\n") + "\r\n"
    }
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
        at: (&Lesson, &Worked, &str, u32),
        solver: &mut dyn Solve,
        fair: Fair<K>,
    ) -> Result<(Worked, K, u32), WorkError> {
        let (lesson, worked, block, draw) = at;
        let draws = if self.seeds.is_empty() { 1 } else { DRAWS };
        let mut last = Unfair::Options { right: 0 };
        for attempt in 0..draws {
            let number = draw.wrapping_mul(DRAWS).wrapping_add(attempt);
            let mut own = worked.clone();
            own.seeds.extend(self.draw(worked.seed, &lesson.id, block, number));
            let mut one = || {
                own.add_setup(self, None, solver)?;
                if let Some(unfair) = self.pins.iter().find_map(|pin| own.ends(&pin.name, &pin.ends)) {
                    return Ok(Err(unfair));
                }
                fair(&own, solver)
            };
            match one() {
                Ok(Ok(key)) => return Ok((own, key, attempt)),
                Ok(Err(unfair)) => last = unfair,
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

/// Gives the key of a draw, or says why it is not fair.
pub(crate) type Fair<'f, K> = &'f mut dyn FnMut(&Worked, &mut dyn Solve) -> Result<Result<K, Unfair>, WorkError>;

/// Draws that are tried before a question is given up. Chosen: a range of which half is unfair then fails once in 4e9.
pub const DRAWS: u32 = 32;
