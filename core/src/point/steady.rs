//! The matched operating point: periodic cycle and balanced shaft together.
//!
//! The questions that may be asked, and what is found out about a point that does not hold. How a point is found is in
//! `search`.

pub use crate::point::operating_point::{BenchError, EVERYDAY, Effort, Options, Point};

use crate::cycle::Machine;
use crate::engine::Engine;
use crate::math;
use crate::point::reading::{Outcome, Stability};
use crate::point::search::{SURGE_DOUBT, search};
use crate::point::stability::dies_out;
use crate::settings::Settings;
use alloc::boxed::Box;
use alloc::sync::Arc;

/// The steady point at `settings`, from nothing. Errors: a setting or an engine that is not allowed.
pub fn solve(engine: &Engine, settings: &Settings) -> Result<Point, BenchError> {
    solve_with(engine, settings, None, &Options::default())
}

/// The steady point at `settings`, starting from a neighbour: fewer firing intervals. Errors as for [`solve`].
pub fn solve_near(engine: &Engine, settings: &Settings, near: &Point) -> Result<Point, BenchError> {
    solve_with(engine, settings, Some(near), &Options::default())
}

/// The steady point with all options. Errors as for [`solve`].
pub fn solve_with(
    engine: &Engine,
    settings: &Settings,
    near: Option<&Point>,
    options: &Options,
) -> Result<Point, BenchError> {
    engine.check()?;
    settings.check(engine)?;
    let machine = machine_for(engine, settings, near, options.steps_per_degree);
    let near = near.filter(|point| {
        point.reading.holds
            && point.machine.slots() == machine.slots()
            && point.machine.open_slots() == machine.open_slots()
            && point.iterate.state.cylinders.len() == machine.open_slots()
    });
    let mut point = search(&machine, settings, near, options);
    if near.is_some() && !point.reading.holds {
        // A neighbour can lead astray, most of all across the surge line: ask again from nothing.
        point = search(&machine, settings, None, options);
    }
    if options.diagnose {
        diagnose(&mut point, engine, settings, options);
    }
    Ok(point)
}

/// The neighbour's tables where they still hold, else new ones.
fn machine_for(engine: &Engine, settings: &Settings, near: Option<&Point>, steps: Option<usize>) -> Arc<Machine> {
    if let Some(point) = near
        && point.machine.plant.engine == *engine
        && point.machine.plant.ambient == settings.ambient
        && steps.is_none_or(|steps| steps == point.machine.steps_per_degree)
    {
        if point.machine.speed_rpm == settings.speed_rpm {
            return point.machine.clone();
        }
        if let Some(machine) = point.machine.at_speed(settings.speed_rpm) {
            return Arc::new(machine);
        }
    }
    let (ambient, speed_rpm) = (&settings.ambient, settings.speed_rpm);
    Arc::new(match steps {
        Some(steps) => Machine::with_steps(engine, ambient, speed_rpm, engine.gas(ambient), steps),
        None => Machine::new(engine, ambient, speed_rpm),
    })
}

/// Near surge: does the point hold in time? Where a point does not hold: which is the nearest with wider vanes that does?
fn diagnose(point: &mut Point, engine: &Engine, settings: &Settings, options: &Options) {
    judge(point);
    if point.reading.stability == Stability::Unstable {
        point.reading.outcome = Outcome::Surge;
        point.reading.holds = false;
    }
    if !point.reading.holds {
        point.last_good = last_good(engine, settings, options).map(Box::new);
    }
}

/// Marches a point near surge in time and notes whether it is stable.
fn judge(point: &mut Point) {
    if point.reading.holds && point.reading.compressor.surge_margin < SURGE_DOUBT {
        point.reading.stability = if dies_out(point) { Stability::StableNearSurge } else { Stability::Unstable };
    }
}

/// The tightest vane position, wider than asked, at which everything else as asked gives a point that holds. Vanes that are
/// stuck have no other position.
fn last_good(engine: &Engine, settings: &Settings, options: &Options) -> Option<Point> {
    if engine.vanes.are_stuck() {
        return None;
    }
    let at = |vane_open_pct: f64, near: Option<&Point>| {
        let settings = Settings { vane_open_pct, ..*settings };
        let quick = Options { diagnose: false, ..*options };
        let mut point = solve_with(engine, &settings, near, &quick).ok()?;
        judge(&mut point);
        (point.reading.holds && point.reading.stability != Stability::Unstable).then_some(point)
    };
    let mut open = 100.0;
    let mut good = at(open, None)?;
    let mut shut = settings.vane_open_pct;
    while open - shut > 1.0 {
        let middle = math::round(0.5 * (open + shut));
        if middle >= open || middle <= shut {
            break;
        }
        match at(middle, Some(&good)) {
            Some(point) => (open, good) = (middle, point),
            None => shut = middle,
        }
    }
    Some(good)
}
