//! Questions that the core answers natively and in the browser, so that the answers can be compared: every engine, both ways to
//! hold the load, corners and middles of the settings, and a load step in time.

use serde_json::{Value, json};
use std::cell::RefCell;
use volute_core::engine::engine_file;
use volute_core::point::{steady, transient::Transient};
use volute_core::settings::{Ambient, Load, REFERENCE_DAY, Settings};
use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::catalog;
use volute_lessons::golden;
use volute_lessons::seed::Seed;

/// A hot, humid day on a mountain.
const MOUNTAIN: Ambient = Ambient { p_pa: 7.0e4, t_k: 308.15, relative_humidity: 0.8 };

/// Firing intervals of the load step.
const INTERVALS: usize = 120;

thread_local! {
    /// What was solved for earlier learners. Many learners share their numbers.
    static SOLVER: RefCell<CoreSolver> = RefCell::default();
}

/// The answers of one lesson for one learner. `None` if the list has no lesson at that place.
pub fn lesson_answers(lesson: usize, seed: u32) -> Option<String> {
    let lesson = catalog().lessons.get(lesson)?;
    Some(SOLVER.with_borrow_mut(|solver| golden::answers(lesson, Seed(seed.into()), solver)))
}

/// Every answer as JSON, with the last digit of every number. A refusal is an answer too.
pub fn answers() -> String {
    let mut all = Vec::new();
    for (name, text) in engine_file::BUILT_IN {
        let engine = match engine_file::parse(text) {
            Ok(engine) => engine,
            Err(error) => {
                all.push(json!({ "engine": name, "error": error.to_string() }));
                continue;
            }
        };
        let between = |least: f64, most: f64, share: f64| least + share * (most - least);
        let fuel = |share| Load::Fuel {
            fuel_kg_per_cycle: between(engine.combustion.least_fuel_kg, engine.combustion.injector_limit_kg, share),
        };
        let torque = |share: f64| Load::Torque { torque_n_m: share * engine.range.torque_max_n_m };
        let speed = |share| between(engine.range.speed_min_rpm, engine.range.speed_max_rpm, share);
        for (speed_share, load, vane_open_pct, ambient) in [
            (0.0, fuel(0.3), 30.0, REFERENCE_DAY),
            (0.3, fuel(0.75), 50.0, REFERENCE_DAY),
            (0.3, fuel(0.75), 51.0, REFERENCE_DAY),
            (0.3, torque(0.7), 60.0, REFERENCE_DAY),
            (0.5, torque(0.4), 80.0, MOUNTAIN),
            (0.5, torque(1.4), 40.0, REFERENCE_DAY),
            (0.7, fuel(1.0), 0.0, REFERENCE_DAY),
            (1.0, fuel(1.0), 100.0, MOUNTAIN),
            (1.0, fuel(0.0), 20.0, REFERENCE_DAY),
            (1.0, torque(0.8), f64::NAN, REFERENCE_DAY),
        ] {
            let settings = Settings { speed_rpm: speed(speed_share), load, vane_open_pct, ambient };
            all.push(match steady::solve(&engine, &settings) {
                Ok(point) => json!({ "engine": name, "reading": point.reading, "last_good": point.last_good.map(|good| good.reading) }),
                Err(error) => json!({ "engine": name, "error": error.to_string() }),
            });
        }
        let begin = Settings { speed_rpm: speed(0.4), load: torque(0.3), vane_open_pct: 60.0, ambient: REFERENCE_DAY };
        let step = Settings { load: torque(0.7), vane_open_pct: 40.0, ..begin };
        all.push(match steady::solve(&engine, &begin) {
            Ok(point) => {
                let mut run = Transient::start(&point);
                let accepted = run.set(&step).map_err(|error| error.to_string());
                json!({ "engine": name, "accepted": accepted, "samples": (0..INTERVALS).map(|_| run.advance()).collect::<Vec<_>>() })
            }
            Err(error) => json!({ "engine": name, "error": error.to_string() }),
        });
    }
    Value::Array(all).to_string()
}
