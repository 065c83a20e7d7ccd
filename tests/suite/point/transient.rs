//! The march in time: it rests where the steady point is, and keeps the smoke limit.

use crate::support::{self, held, settings};
use volute_core::point::transient::Transient;
use volute_core::settings::Settings;

#[test]
fn identity_a_steady_point_stays_where_it_is_when_time_runs() {
    for engine in support::engines() {
        for (speed, load, vane) in [(0.45, 0.5, 60.0), (0.6, 0.2, 30.0), (0.7, 0.7, 100.0), (0.8, 0.6, 90.0)] {
            support::check_at_rest(&engine, &settings(&engine, speed, load, vane));
        }
    }
}

#[test]
fn by_hand_time_runs_in_firing_intervals_and_the_vanes_lag() {
    for engine in support::engines() {
        let settings = settings(&engine, 0.6, 0.4, 80.0);
        let mut march = Transient::start(&held(&engine, &settings));
        let interval_s = 120.0 / (settings.speed_rpm * engine.cylinders.count);
        approx::assert_relative_eq!(march.interval_s(), interval_s, max_relative = 1e-12);
        march.set(&Settings { vane_open_pct: 60.0, ..settings }).unwrap();
        for count in 1..=40 {
            let sample = march.advance();
            approx::assert_relative_eq!(sample.time_s, f64::from(count) * interval_s, max_relative = 1e-9);
            let lagging = 60.0 + 20.0 * (-sample.time_s / engine.vanes.actuator_time_s).exp();
            approx::assert_relative_eq!(sample.vane_open_pct, lagging, max_relative = 1e-6);
        }
    }
}

#[test]
fn by_hand_the_smoke_limit_holds_the_fuel_of_a_load_step() {
    for engine in support::engines() {
        let low = settings(&engine, 0.4, 0.1, 100.0);
        let mut march = Transient::start(&held(&engine, &low));
        march.set(&settings(&engine, 0.4, 0.8, 100.0)).unwrap();
        let mut limited = 0;
        for _ in 0..200 {
            let sample = march.advance();
            assert!(sample.fuel_kg_per_cycle <= sample.smoke_limit_fuel_kg * (1.0 + 1e-12));
            assert!(sample.fuel_kg_per_cycle <= engine.combustion.injector_limit_kg);
            if sample.fuel_kg_per_cycle > 0.999 * sample.smoke_limit_fuel_kg {
                approx::assert_relative_eq!(
                    sample.air_fuel_ratio,
                    engine.combustion.smoke_limit_afr,
                    max_relative = 2e-3
                );
                limited += 1;
            }
        }
        assert!(limited > 5, "{}: the step never met the limit", engine.name);
    }
}

#[test]
fn by_hand_settings_outside_their_range_are_refused_and_the_engine_runs_on() {
    let engine = &support::engines()[0];
    let settings = settings(engine, 0.6, 0.4, 80.0);
    let mut march = Transient::start(&held(engine, &settings));
    let error = march.set(&Settings { vane_open_pct: f64::NAN, ..settings }).unwrap_err();
    assert!(error.to_string().contains("vane_open_pct"), "{error}");
    assert_eq!(march.settings(), &settings);
    assert!(march.advance().torque_n_m.is_finite());
}
