//! How long core takes inside WASM, for the benchmarks: the page exports these and calls none of them.
//!
//! Each returns milliseconds, the median of `rounds`, on the first built-in engine at a point in the middle of its range.

use crate::browser::now_ms;
use crate::run;
use crate::state::BenchSettings;
use volute_core::point::steady::{self, Point};
use volute_core::point::transient::Transient;
use volute_core::settings::Settings;
use wasm_bindgen::prelude::wasm_bindgen;

fn middle() -> Option<(BenchSettings, Point)> {
    let bench = BenchSettings::open();
    let point = steady::solve(&bench.engine, &bench.settings).ok()?;
    Some((bench, point))
}

/// Median time of `what`, in ms. Where nothing could run it is NaN, which no benchmark takes for fast.
fn median(rounds: u32, mut what: impl FnMut(u32)) -> f64 {
    let mut times: Vec<f64> = Vec::new();
    for round in 0..rounds.clamp(1, 10_000) {
        let begun = now_ms();
        what(round);
        let took = now_ms() - begun;
        times.insert(times.partition_point(|t| *t < took), took);
    }
    times.get(times.len() / 2).copied().unwrap_or(f64::NAN)
}

/// The bench's settings with the vanes a few per cent from the middle, another few each round.
fn moved(bench: &BenchSettings, round: u32) -> Settings {
    Settings { vane_open_pct: 45.0 + f64::from(round * 7 % 21), ..bench.settings }
}

/// One firing interval of the engine in time.
#[wasm_bindgen]
pub fn time_interval_ms(rounds: u32) -> f64 {
    let Some((_, point)) = middle() else { return f64::NAN };
    let mut engine = Transient::start(&point);
    median(rounds, |_| {
        engine.advance();
    })
}

/// A steady point from nothing.
#[wasm_bindgen]
pub fn time_steady_cold_ms(rounds: u32) -> f64 {
    let Some((bench, _)) = middle() else { return f64::NAN };
    median(rounds, |round| {
        let _ = steady::solve(&bench.engine, &moved(&bench, round));
    })
}

/// A steady point from a neighbour, as a slider asks for it.
#[wasm_bindgen]
pub fn time_steady_warm_ms(rounds: u32) -> f64 {
    let Some((bench, mut point)) = middle() else { return f64::NAN };
    median(rounds, |round| {
        if let Ok(next) = steady::solve_near(&bench.engine, &moved(&bench, round), &point) {
            point = next;
        }
    })
}

/// All that core does for one movement of a slider: the point and its two neighbours.
#[wasm_bindgen]
pub fn time_slider_ms(rounds: u32) -> f64 {
    let Some((bench, _)) = middle() else { return f64::NAN };
    let mut before = run::point(&bench, None);
    median(rounds, |round| {
        let next = BenchSettings { settings: moved(&bench, round), ..bench.clone() };
        let mut answer = run::point(&next, Some(&before));
        run::look_ahead(&mut answer, Some(&before));
        before = answer;
    })
}

/// The vane sweep of 41 points.
#[wasm_bindgen]
pub fn time_sweep_ms(rounds: u32) -> f64 {
    let Some((bench, _)) = middle() else { return f64::NAN };
    let Some(over) = crate::sweeps::find("vane") else { return f64::NAN };
    let job = crate::sweeps::Job::new(over, &bench);
    median(rounds, |_| {
        crate::sweeps::run(&job);
    })
}

/// Seconds of engine time that a second of computing gives, over about two seconds of engine time.
#[wasm_bindgen]
pub fn transient_times_real_time() -> f64 {
    let Some((_, point)) = middle() else { return f64::NAN };
    let mut engine = Transient::start(&point);
    let (begun, mut simulated_s) = (now_ms(), 0.0);
    while simulated_s < 2.0 {
        simulated_s += engine.interval_s();
        engine.advance();
    }
    simulated_s / ((now_ms() - begun) / 1000.0)
}
