//! Sweeps: one setting walks through its range, and everything else stays as it is. The worker computes them point by point; the
//! page draws what has come so far. No browser here. The axes stand in [`volute_quantities`].

use crate::readings;
use crate::share::{self, Shared};
use crate::state::{BenchSettings, DIAL_VANE, dial_speed};
use crate::units::{Quantity, UnitSystem};
use crate::what_ifs;
use volute_core::point::steady::{self, Options, Point};
use volute_core::settings::{Load, Settings};
pub use volute_quantities::settings::{AXES as OVER, Axis as Over};
use volute_quantities::settings::{Reach, parameter};

/// For points of a sweep: no trace of the cycle, no search for a better answer where none holds.
const QUICK: Options = Options { effort: steady::EVERYDAY, trace: false, diagnose: false, steps_per_degree: None };

/// Points of a sweep.
pub const POINTS: usize = 41;

/// The axis of a key.
pub fn find(key: &str) -> Option<&'static Over> {
    OVER.iter().find(|o| o.key == key)
}

/// What an axis means on a bench. Values are those of the core: vane position in per cent, speed in 1/min, all else SI.
pub trait OnBench {
    /// Whether the engine on the bench has this setting.
    fn applies(&self, bench: &BenchSettings) -> bool;

    /// What kind of number the axis has: the load's depends on what is held.
    fn quantity(&self, bench: &BenchSettings) -> Quantity;

    /// Where the bench stands on this axis.
    fn now(&self, bench: &BenchSettings) -> f64;

    /// Ends of the axis.
    fn ends(&self, bench: &BenchSettings) -> (f64, f64);

    /// The bench with this setting at a value; nothing where the engine refuses it.
    fn at(&self, bench: &BenchSettings, value: f64) -> Option<BenchSettings>;
}

impl OnBench for Over {
    fn applies(&self, bench: &BenchSettings) -> bool {
        self.reach == Reach::Dial || what_ifs::get(self.key, bench).is_some()
    }

    fn quantity(&self, bench: &BenchSettings) -> Quantity {
        match (self.key, bench.settings.load) {
            ("load", Load::Fuel { .. }) => Quantity::FuelPerCycle,
            _ => self.kind,
        }
    }

    fn now(&self, bench: &BenchSettings) -> f64 {
        match self.key {
            "vane" => bench.settings.vane_open_pct,
            "load" => bench.load_si(),
            "speed" => bench.settings.speed_rpm,
            key => what_ifs::get(key, bench).unwrap_or(f64::NAN),
        }
    }

    fn ends(&self, bench: &BenchSettings) -> (f64, f64) {
        let dial = match self.key {
            "vane" => DIAL_VANE,
            "speed" => dial_speed(&bench.engine),
            _ => bench.load_dial(),
        };
        match self.reach {
            Reach::Dial => (dial.min, dial.max),
            Reach::Between(from, to) => (from, to),
            Reach::AroundOwn(by) => (self.now(bench) - by, self.now(bench) + by),
            Reach::OfOwn(from, to) => {
                let own = share::base(&bench.origin).get(self.key).ok();
                let own = own.filter(|v| *v > 0.0).unwrap_or_else(|| self.now(bench));
                let (least, most) = parameter(self.key).map_or((f64::NEG_INFINITY, f64::INFINITY), |k| (k.min, k.max));
                ((own * from).max(least), (own * to).min(most))
            }
        }
    }

    fn at(&self, bench: &BenchSettings, value: f64) -> Option<BenchSettings> {
        let mut next = bench.clone();
        match (self.key, &mut next.settings.load) {
            ("vane", _) => next.settings.vane_open_pct = value,
            ("speed", _) => next.settings.speed_rpm = value,
            ("load", Load::Fuel { fuel_kg_per_cycle: load } | Load::Torque { torque_n_m: load }) => *load = value,
            (key, _) => {
                what_ifs::set(key, &mut next, value).ok()?;
                next.engine.check().ok()?;
            }
        }
        Some(next)
    }
}

/// One point of a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepPoint {
    /// Where on the axis, SI.
    pub x: f64,
    /// Whether a point holds there; the values are empty where not.
    pub holds: bool,
    /// Whether a limit is crossed there.
    pub past_limit: bool,
    /// Every number of [`readings::ENTRIES`], SI.
    pub values: Vec<f64>,
}

impl SweepPoint {
    /// Numbers of a point, for the way between worker and page.
    pub const WIDTH: usize = 3 + readings::ENTRIES.len();

    /// The value of an entry; nothing where no point holds.
    pub fn value(&self, key: &str) -> Option<f64> {
        let i = readings::ENTRIES.iter().position(|e| e.key == key)?;
        self.values.get(i).copied()
    }

    /// The point as a row of numbers.
    pub fn row(&self) -> Vec<f64> {
        let flag = |on: bool| if on { 1.0 } else { 0.0 };
        let mut row = vec![self.x, flag(self.holds), flag(self.past_limit)];
        row.extend(&self.values);
        row.resize(Self::WIDTH, f64::NAN);
        row
    }

    /// The point of a row.
    pub fn of_row(row: &[f64]) -> Option<Self> {
        let [x, holds, past, values @ ..] = row else { return None };
        let holds = *holds > 0.5;
        Some(Self { x: *x, holds, past_limit: *past > 0.5, values: if holds { values.to_vec() } else { Vec::new() } })
    }
}

/// A sweep that is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Key of the axis.
    pub over: &'static str,
    /// All else.
    pub bench: BenchSettings,
}

impl Job {
    /// The job with the swept setting taken out, so that two jobs with the same answer are equal.
    pub fn new(over: &'static Over, bench: &BenchSettings) -> Self {
        let (from, _) = over.ends(bench);
        Self { over: over.key, bench: over.at(bench, from).unwrap_or_else(|| bench.clone()) }
    }

    /// As text, for the worker.
    pub fn encode(&self) -> String {
        let shared = Shared::plain(self.bench.clone(), UnitSystem::Si);
        format!("{} {}", self.over, share::encode(&shared))
    }

    /// From text. Nothing for what no page has written.
    pub fn decode(text: &str) -> Option<Self> {
        let (over, fragment) = text.split_once(' ')?;
        let shared = share::decode(fragment).ok()??;
        Some(Self { over: find(over)?.key, bench: shared.bench })
    }
}

/// A sweep under way.
#[derive(Debug)]
pub struct Walk {
    over: &'static Over,
    bench: BenchSettings,
    left: Vec<f64>,
    near: Option<Point>,
}

impl Walk {
    /// Begins a job. The vanes are walked from wide open, where a point holds soonest; all else upwards.
    pub fn new(job: &Job) -> Option<Self> {
        let over = find(job.over)?;
        let (from, to) = over.ends(&job.bench);
        let mut left: Vec<f64> = (0..POINTS).map(|i| from + (to - from) * i as f64 / (POINTS - 1) as f64).collect();
        if over.key != "vane" {
            left.reverse();
        }
        Some(Self { over, bench: job.bench.clone(), left, near: None })
    }

    /// The next point, each from its neighbour; nothing at the end.
    pub fn advance(&mut self) -> Option<SweepPoint> {
        let x = self.left.pop()?;
        let none = SweepPoint { x, holds: false, past_limit: false, values: Vec::new() };
        let Some(bench) = self.over.at(&self.bench, x) else { return Some(none) };
        // A neighbour with another engine is still near: only its state is taken, not its parts.
        let settings: &Settings = &bench.settings;
        let answer = steady::solve_with(&bench.engine, settings, self.near.as_ref(), &QUICK);
        Some(match answer {
            Ok(point) if point.reading.holds => {
                let r = &point.reading;
                let found = SweepPoint {
                    holds: true,
                    past_limit: r.limits.iter().any(|l| l.crossed),
                    values: readings::all(r),
                    ..none
                };
                self.near = Some(point);
                found
            }
            _ => none,
        })
    }
}

/// The whole sweep at once, in rising order.
pub fn run(job: &Job) -> Vec<SweepPoint> {
    let mut points = Vec::new();
    if let Some(mut walk) = Walk::new(job) {
        while let Some(point) = walk.advance() {
            points.push(point);
        }
    }
    in_order(points)
}

/// In rising order of the axis, as they may come in any.
pub fn in_order(points: Vec<SweepPoint>) -> Vec<SweepPoint> {
    let mut out: Vec<SweepPoint> = Vec::with_capacity(points.len());
    for point in points {
        out.insert(out.partition_point(|p| p.x < point.x), point);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_every_axis_holds_the_bench_and_gives_points() {
        let bench = BenchSettings::open();
        for over in OVER.iter().filter(|o| o.applies(&bench)) {
            let (from, to) = over.ends(&bench);
            assert!(from < to, "{}: {from} to {to}", over.key);
            assert!((from..=to).contains(&over.now(&bench)), "{}", over.key);
            let mut walk = Walk::new(&Job::new(over, &bench)).unwrap();
            walk.left = vec![to, 0.5 * (from + to), over.now(&bench)];
            let points: Vec<SweepPoint> = std::iter::from_fn(|| walk.advance()).collect();
            assert!(points[0].holds, "{} where the bench stands", over.key);
            assert_eq!(points.len(), 3);
        }
    }

    #[test]
    fn identity_a_sweep_passes_through_the_point_of_the_bench() {
        let bench = BenchSettings::open();
        let points = run(&Job::new(find("vane").unwrap(), &bench));
        assert!(points.windows(2).all(|w| w[0].x < w[1].x) && points.len() == POINTS);
        let here = points.iter().find(|p| p.x == bench.settings.vane_open_pct).unwrap();
        let alone = steady::solve(&bench.engine, &bench.settings).unwrap().reading;
        for (entry, value) in readings::ENTRIES.iter().zip(&here.values) {
            let own = (entry.of)(&alone);
            assert!((value - own).abs() <= 1e-3 * own.abs().max(1e-6), "{}: {value} {own}", entry.key);
        }
    }

    #[test]
    fn identity_jobs_and_rows_survive_the_way_to_the_worker() {
        let bench = BenchSettings::open();
        for over in OVER.iter().filter(|o| o.applies(&bench)) {
            let job = Job::new(over, &bench);
            assert_eq!(Job::decode(&job.encode()), Some(job));
        }
        assert_eq!(Job::decode("no-such v=1"), None);
        let point = SweepPoint { x: 3.0, holds: true, past_limit: true, values: vec![1.0; readings::ENTRIES.len()] };
        assert_eq!(SweepPoint::of_row(&point.row()), Some(point));
    }
}
