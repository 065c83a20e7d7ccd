//! What practice sees on engines of this kind. It is common knowledge of the trade, and no source is cited. The bounds are
//! chosen for the two invented engines of Volute, whose files were fitted to meet them. Pressures are absolute.

use crate::support::{self, held};
use volute_core::engine::Engine;
use volute_core::point::reading::{Outcome, Reading};
use volute_core::point::transient::Transient;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

/// The points at which an engine's behaviour is tested: speed in 1/min, and torque in N m.
struct Duty {
    engine: Engine,
    /// Mid speed and moderate load.
    middle: (f64, f64),
    /// Speed and load rising together at open vanes, slowest first.
    rising: &'static [(f64, f64)],
    /// Speeds between which compressor outlet and exhaust manifold become equal.
    equal_rpm: (f64, f64),
    /// Rated speed and load.
    rated: (f64, f64),
    /// Bounds of exhaust manifold over compressor outlet at the rated point, in bar.
    rated_above_bar: (f64, f64),
    /// The least of the same with the vanes a quarter closed.
    closed_above_bar: f64,
    /// Low speed, moderate load.
    low: (f64, f64),
    /// A load step at low speed: speed, torque before and after.
    step: (f64, f64, f64),
}

fn duties() -> [Duty; 2] {
    let mut engines = support::engines().into_iter();
    let six = engines.next().unwrap();
    let four = engines.next().unwrap();
    assert_eq!((six.name.as_str(), four.name.as_str()), ("harbour-six", "van-four"));
    [
        Duty {
            engine: six,
            middle: (1_400.0, 900.0),
            rising: &[
                (1_400.0, 700.0),
                (1_600.0, 800.0),
                (1_800.0, 880.0),
                (2_000.0, 930.0),
                (2_200.0, 970.0),
                (2_400.0, 995.0),
            ],
            equal_rpm: (1_700.0, 2_000.0),
            rated: (2_400.0, 995.0),
            rated_above_bar: (0.5, 0.8),
            closed_above_bar: 1.4,
            low: (1_000.0, 500.0),
            step: (1_000.0, 150.0, 800.0),
        },
        Duty {
            engine: four,
            middle: (1_800.0, 220.0),
            rising: &[(1_800.0, 200.0), (2_200.0, 230.0), (2_600.0, 260.0), (3_000.0, 280.0), (3_600.0, 290.0)],
            equal_rpm: (2_400.0, 2_900.0),
            rated: (3_600.0, 290.0),
            rated_above_bar: (0.5, 0.9),
            closed_above_bar: 1.2,
            low: (1_500.0, 150.0),
            step: (1_500.0, 50.0, 260.0),
        },
    ]
}

fn torque(speed_rpm: f64, torque_n_m: f64, vane_open_pct: f64) -> Settings {
    Settings { speed_rpm, load: Load::Torque { torque_n_m }, vane_open_pct, ambient: REFERENCE_DAY }
}

fn fuel(speed_rpm: f64, fuel_kg_per_cycle: f64, vane_open_pct: f64) -> Settings {
    Settings { load: Load::Fuel { fuel_kg_per_cycle }, ..torque(speed_rpm, 0.0, vane_open_pct) }
}

#[track_caller]
fn reading(engine: &Engine, settings: &Settings) -> Reading {
    held(engine, settings).reading
}

fn bar(pa: f64) -> f64 {
    pa / 1e5
}

#[test]
fn behaviour_1_mid_speed_the_compressor_outlet_stands_above_the_exhaust_manifold() {
    for Duty { engine, middle: (speed, load), .. } in duties() {
        let r = reading(&engine, &torque(speed, load, 100.0));
        let above = bar(r.pressure_balance_pa);
        assert!((0.1..0.4).contains(&above), "{}: {above} bar", engine.name);
        assert_eq!(r.outcome, Outcome::Matched);
    }
}

#[test]
fn behaviour_2_with_speed_and_load_rising_the_two_become_equal() {
    for Duty { engine, rising, equal_rpm, .. } in duties() {
        let balances: Vec<f64> = rising
            .iter()
            .map(|(speed, load)| bar(reading(&engine, &torque(*speed, *load, 100.0)).pressure_balance_pa))
            .collect();
        let crossing = (1..rising.len()).find(|i| balances[i - 1] > 0.0 && balances[*i] <= 0.0);
        let i = crossing.unwrap_or_else(|| panic!("{}: never equal, {balances:?} bar", engine.name));
        let share = balances[i - 1] / (balances[i - 1] - balances[i]);
        let speed = rising[i - 1].0 + share * (rising[i].0 - rising[i - 1].0);
        assert!(equal_rpm.0 <= speed && speed <= equal_rpm.1, "{}: equal at {speed} 1/min", engine.name);
        // From there on the exhaust manifold only rises further above the compressor outlet.
        assert!(balances[i - 1..].windows(2).all(|pair| pair[1] < pair[0]), "{}: {balances:?}", engine.name);
    }
}

#[test]
fn behaviour_3_at_rated_speed_and_load_the_exhaust_manifold_stands_above() {
    for Duty { engine, rated: (speed, load), rated_above_bar: (least, most), .. } in duties() {
        let r = reading(&engine, &torque(speed, load, 100.0));
        let above = -bar(r.pressure_balance_pa);
        assert!(least <= above && above <= most, "{}: {above} bar", engine.name);
        assert!(r.indicated.pumping_torque_n_m > 0.0 && r.outcome == Outcome::Matched);
    }
}

#[test]
fn behaviour_4_at_rated_fuel_closing_the_vanes_raises_boost_and_costs_torque() {
    for Duty { engine, rated: (speed, load), closed_above_bar, .. } in duties() {
        let open = reading(&engine, &torque(speed, load, 100.0));
        let closed = reading(&engine, &fuel(speed, open.fuel_kg_per_cycle, 75.0));
        let name = &engine.name;
        approx::assert_relative_eq!(closed.fuel_flow_kg_s, open.fuel_flow_kg_s, max_relative = 2e-4);
        let tip_m_s = closed.compressor.tip_speed_m_s;
        assert!(tip_m_s > 0.97 * engine.limits.tip_speed_m_s, "{name}: tip speed {tip_m_s} m/s");
        let above = -bar(closed.pressure_balance_pa);
        assert!(above >= closed_above_bar, "{name}: exhaust manifold {above} bar above");
        let air = closed.air_flow_kg_s / open.air_flow_kg_s - 1.0;
        assert!(air.abs() < 0.03, "{name}: air {air:+.3}");
        let pumping = closed.indicated.pumping_mep_pa / open.indicated.pumping_mep_pa;
        assert!((1.5..2.2).contains(&pumping), "{name}: pumping x {pumping}");
        assert!(closed.stations.turbine_inlet.t_k > open.stations.turbine_inlet.t_k + 5.0, "{name}: turbine inlet");
        assert!(closed.stations.compressor_outlet.t_k > open.stations.compressor_outlet.t_k + 10.0, "{name}: T2");
        assert!(closed.compressor.efficiency < open.compressor.efficiency - 0.02, "{name}: efficiency");
        assert!(closed.boost_pa > open.boost_pa, "{name}: boost {} from {}", closed.boost_pa, open.boost_pa);
        let lost = 1.0 - closed.brake.torque_n_m / open.brake.torque_n_m;
        assert!((0.02..0.10).contains(&lost), "{name}: torque lost {lost}");
    }
}

#[test]
fn behaviour_5a_at_low_speed_closing_the_vanes_raises_boost_strongly() {
    for Duty { engine, low: (speed, load), .. } in duties() {
        let boost = |vane| reading(&engine, &torque(speed, load, vane)).boost_pa;
        let (open, half, closed) = (boost(100.0), boost(50.0), boost(20.0));
        assert!(half > 1.8 * open && closed > 1.5 * half, "{}: {open} {half} {closed} Pa", engine.name);
    }
}

#[test]
fn behaviour_5b_there_is_a_best_vane_position_for_each_speed_and_load() {
    for Duty { engine, low: (speed, load), middle, .. } in duties() {
        let best = |speed: f64, load: f64| {
            // The least fuel for the torque.
            let of = |vane: u32| reading(&engine, &torque(speed, load, f64::from(vane))).fuel_kg_per_cycle;
            (2..=10).map(|tenth| 10 * tenth).min_by(|a, b| of(*a).total_cmp(&of(*b))).unwrap()
        };
        let (at_low, at_middle) = (best(speed, load), best(middle.0, middle.1));
        assert!((40..100).contains(&at_low), "{}: {at_low} % at low speed", engine.name);
        assert!((40..=100).contains(&at_middle), "{}: {at_middle} % at mid speed", engine.name);
        // More load wants more boost: the best position moves toward closed.
        let at_more = best(speed, 1.4 * load);
        assert!(at_more <= at_low, "{}: {at_more} % with more load, {at_low} % with less", engine.name);
    }
}

/// Seconds until 90 % of the torque of a load step is reached, and the greatest pumping in the first 0.3 s. The vanes go from
/// `before` to `after` at the step.
fn step(at: &Duty, before: f64, after: f64) -> (f64, f64) {
    let (speed, low, high) = at.step;
    let mut march = Transient::start(&held(&at.engine, &torque(speed, low, before)));
    let mut start_s = 0.0;
    for _ in 0..20 {
        start_s = march.advance().time_s;
    }
    march.set(&torque(speed, high, after)).unwrap();
    let mut pumping_pa = 0.0_f64;
    let mut reached_s = None;
    loop {
        let sample = march.advance();
        let since_s = sample.time_s - start_s;
        if since_s < 0.3 {
            pumping_pa = pumping_pa.max(sample.pumping_mep_pa);
        }
        if reached_s.is_none() && sample.torque_n_m >= 0.9 * high {
            reached_s = Some(since_s);
        }
        if let (Some(reached_s), true) = (reached_s, since_s > 0.3) {
            return (reached_s, pumping_pa);
        }
        assert!(since_s < 10.0, "{}: never reaches the torque from vanes at {before} %", at.engine.name);
    }
}

#[test]
fn behaviour_5c_vanes_that_are_closed_already_answer_a_load_step_faster() {
    for at in duties() {
        let name = at.engine.name.clone();
        let ((open_s, open_pa), (half_s, _), (slammed_s, slammed_pa)) =
            (step(&at, 100.0, 100.0), step(&at, 55.0, 55.0), step(&at, 100.0, 10.0));
        let ratio = open_s / half_s;
        assert!((1.7..3.5).contains(&ratio), "{name}: {open_s} s open, {half_s} s half closed");
        // Vanes that slam shut at the step first raise pumping, and reach the torque later than vanes that were closed before.
        assert!(slammed_pa > 2.0 * open_pa, "{name}: pumping {slammed_pa} Pa against {open_pa} Pa");
        assert!(slammed_s > half_s, "{name}: {slammed_s} s slammed, {half_s} s standing half closed");
    }
}

#[test]
fn behaviour_5d_fully_shut_vanes_answer_no_faster_than_nearly_shut_ones() {
    // Only the six: on the four, this step with shut vanes would pass the shaft's limit.
    let [six, _] = duties();
    let (nearly_s, nearly_pa) = step(&six, 10.0, 10.0);
    let (shut_s, shut_pa) = step(&six, 0.0, 0.0);
    assert!(shut_s > nearly_s, "{shut_s} s shut, {nearly_s} s nearly shut");
    assert!(shut_pa > 1.3 * nearly_pa);
}

#[test]
fn behaviour_6_density_rises_less_than_pressure_and_much_less_without_a_cooler() {
    for Duty { engine, middle, rated, .. } in duties() {
        for (speed, load) in [middle, (0.9 * rated.0, 0.8 * rated.1)] {
            let r = reading(&engine, &torque(speed, load, 100.0));
            let mut bare = engine.clone();
            bare.set("charge_cooler.fitted", 0.0).unwrap();
            let b = reading(&bare, &torque(speed, load, 100.0));
            let (with, without) =
                (r.density_ratio / r.compressor.pressure_ratio, b.density_ratio / b.compressor.pressure_ratio);
            assert!((0.85..1.0).contains(&with), "{}: {with} of the pressure ratio", engine.name);
            assert!(without < with - 0.1, "{}: {without} without, {with} with", engine.name);
            assert!(r.compressor.density_ratio < r.compressor.pressure_ratio);
        }
    }
}

#[test]
fn behaviour_7_a_wider_exhaust_pipe_pays_at_rated_load_once_the_vanes_are_set_again() {
    for Duty { engine, rated, middle, .. } in duties() {
        let name = &engine.name;
        let mut wide = engine.clone();
        wide.set("exhaust_pipe.bore_m", 1.25 * engine.exhaust_pipe.bore_m).unwrap();
        // Next to nothing at part load.
        let part = reading(&engine, &torque(middle.0, 0.4 * middle.1, 80.0));
        let part_wide = reading(&wide, &fuel(middle.0, part.fuel_kg_per_cycle, 80.0));
        let gain = part_wide.brake.torque_n_m / part.brake.torque_n_m - 1.0;
        assert!(gain.abs() < 0.01, "{name}: {gain} at part load");
        // At the rated point with the vanes as they were, the shaft runs faster.
        let narrow = reading(&engine, &torque(rated.0, rated.1, 90.0));
        let held_fuel = narrow.fuel_kg_per_cycle;
        let same_vanes = reading(&wide, &fuel(rated.0, held_fuel, 90.0));
        assert!(same_vanes.shaft.speed_rad_s > 1.003 * narrow.shaft.speed_rad_s, "{name}: shaft");
        // With the vanes opened until the boost is what it was, the torque is higher.
        let (mut low, mut high) = (90.0, 100.0);
        for _ in 0..12 {
            let vane = 0.5 * (low + high);
            if reading(&wide, &fuel(rated.0, held_fuel, vane)).boost_pa > narrow.boost_pa {
                low = vane
            } else {
                high = vane
            }
        }
        let set_again = reading(&wide, &fuel(rated.0, held_fuel, 0.5 * (low + high)));
        let gained = set_again.brake.torque_n_m / narrow.brake.torque_n_m - 1.0;
        assert!((0.002..0.03).contains(&gained), "{name}: {gained} of the torque, vanes at {low} %");
        assert!(set_again.brake.torque_n_m > same_vanes.brake.torque_n_m, "{name}: setting the vanes again must pay");
    }
}
