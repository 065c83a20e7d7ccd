//! How fast the core is: `cargo bench -p volute-core`.
//!
//! It prints the least and the median of many runs, since other work on the machine only adds time. Compare ratios between
//! machines: to real time, or to a plain sum of square roots.

use std::hint::black_box;
use std::time::Instant;
use volute_core::engine::Engine;
use volute_core::engine::built_in;
use volute_core::point::steady::{self, Options};
use volute_core::point::transient::Transient;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

fn timed(runs: usize, mut work: impl FnMut()) -> (f64, f64) {
    let mut times: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .collect();
    times.sort_by(f64::total_cmp);
    (times[0], times[runs / 2])
}

fn at(engine: &Engine, speed_rpm: f64, share: f64, vane_open_pct: f64) -> Settings {
    let torque_n_m = share * engine.range.torque_max_n_m;
    Settings { speed_rpm, load: Load::Torque { torque_n_m }, vane_open_pct, ambient: REFERENCE_DAY }
}

fn main() {
    let (unit, _) = timed(200, || {
        black_box((1..100_000).map(|i| f64::from(i).sqrt()).sum::<f64>());
    });
    println!("unit: 100 000 square roots summed, {:.3} ms", unit * 1e3);
    for name in ["harbour-six", "van-four"] {
        let Some(engine) = built_in::engine(name) else { continue };
        let top = engine.range.speed_max_rpm;
        println!("{name}");
        for speed in [0.42, 0.6, 0.8, 0.96].map(|share| (share * top).round()) {
            let settings = at(&engine, speed, 0.7, 85.0);
            let Ok(point) = steady::solve(&engine, &settings) else { continue };
            let mut run = Transient::start(&point);
            let (least, median) = timed(400, || {
                black_box(run.advance());
            });
            let real = run.interval_s();
            println!(
                "  {speed:5} 1/min: firing interval {:.4} ms (median {:.4}), {:.3} units, {:.0} times real time",
                least * 1e3,
                median * 1e3,
                least / unit,
                real / least
            );
            let quick = Options { diagnose: false, ..Options::default() };
            let (cold, cold_median) = timed(40, || {
                black_box(steady::solve_with(&engine, &settings, None, &quick).ok());
            });
            let near = at(&engine, speed, 0.74, 80.0);
            let (warm, warm_median) = timed(40, || {
                black_box(steady::solve_with(&engine, &near, Some(&point), &quick).ok());
            });
            println!(
                "              steady cold {:.3} ms (median {:.3}), warm {:.3} ms (median {:.3})",
                cold * 1e3,
                cold_median * 1e3,
                warm * 1e3,
                warm_median * 1e3
            );
        }
    }
}
