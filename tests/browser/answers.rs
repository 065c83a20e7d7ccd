//! The core alone in a browser: its answers, which are compared with the native ones, and pieces of work that are timed.

mod agree;

use std::cell::RefCell;
use volute_core::engine::Engine;
use volute_core::engine::engine_file;
use volute_core::point::steady::{self, Point};
use volute_core::point::transient::Transient;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};
use wasm_bindgen::prelude::wasm_bindgen;

/// [`agree::answers`].
#[wasm_bindgen]
pub fn answers() -> String {
    agree::answers()
}

/// [`agree::lesson_answers`].
#[wasm_bindgen]
pub fn lesson_answers(lesson: usize, seed: u32) -> Option<String> {
    agree::lesson_answers(lesson, seed)
}

/// The first built-in engine at a third of its speed and three quarters of its fuel.
fn bench(vane_open_pct: f64) -> Result<(Engine, Settings), String> {
    let (_, text) = engine_file::BUILT_IN.first().ok_or("no engine")?;
    let engine = engine_file::parse(text).map_err(|error| error.to_string())?;
    let (slowest, fastest) = (engine.range.speed_min_rpm, engine.range.speed_max_rpm);
    let load = Load::Fuel { fuel_kg_per_cycle: 0.75 * engine.combustion.injector_limit_kg };
    let settings =
        Settings { speed_rpm: slowest + (fastest - slowest) / 3.0, load, vane_open_pct, ambient: REFERENCE_DAY };
    Ok((engine, settings))
}

fn solved(engine: &Engine, settings: &Settings, near: Option<&Point>) -> Result<Point, String> {
    let point = match near {
        Some(near) => steady::solve_near(engine, settings, near),
        None => steady::solve(engine, settings),
    };
    point.map_err(|error| error.to_string())
}

/// One operating point, solved without a first guess. Returns the boost, in Pa.
#[wasm_bindgen]
pub fn solve() -> Result<f64, String> {
    let (engine, settings) = bench(50.0)?;
    Ok(solved(&engine, &settings, None)?.reading.boost_pa)
}

thread_local! {
    static NEIGHBOUR: RefCell<Option<Point>> = const { RefCell::new(None) };
}

/// The point after one step of the vane slider, solved from the point before it. The vanes go up and down between 40 and 60 per
/// cent.
#[wasm_bindgen]
pub fn step(round: u32) -> Result<f64, String> {
    let (engine, settings) = bench(40.0 + f64::from((round % 40).abs_diff(20)))?;
    NEIGHBOUR.with_borrow_mut(|near| {
        let point = solved(&engine, &settings, near.as_ref())?;
        Ok(near.insert(point).reading.boost_pa)
    })
}

/// A sweep over the vanes from wide open to tight. Each point is solved from its neighbour. Returns how many points hold.
#[wasm_bindgen]
pub fn sweep(points: u32) -> Result<u32, String> {
    let (engine, settings) = bench(100.0)?;
    let (mut near, mut hold) = (None, 0);
    for i in 0..points {
        let vane_open_pct = 100.0 * (1.0 - f64::from(i) / f64::from(points - 1));
        let point = solved(&engine, &Settings { vane_open_pct, ..settings }, near.as_ref())?;
        if point.last_good.is_none() {
            hold += 1;
            near = Some(point);
        }
    }
    Ok(hold)
}

/// The engine in time, through a change of the vanes. Returns how long the engine ran, in s.
#[wasm_bindgen]
pub fn march(intervals: u32) -> Result<f64, String> {
    let (engine, settings) = bench(70.0)?;
    let mut run = Transient::start(&solved(&engine, &settings, None)?);
    run.set(&Settings { vane_open_pct: 50.0, ..settings }).map_err(|error| error.to_string())?;
    let mut time_s = 0.0;
    for _ in 0..intervals {
        time_s = run.advance().time_s;
    }
    Ok(time_s)
}

fn main() {}
