//! Helpers that more than one module of the suite needs.

use crate::balance::Books;
use core::fmt;
use std::collections::BTreeMap;
use volute_core::engine::Engine;
use volute_core::engine::engine_file;
use volute_core::point::reading::Reading;
use volute_core::point::steady::{Effort, Options, Point, solve, solve_with};
use volute_core::point::transient::Transient;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

/// The engines that come with Volute.
pub fn engines() -> Vec<Engine> {
    engine_file::BUILT_IN.iter().map(|(_, text)| engine_file::parse(text).unwrap()).collect()
}

/// On the reference day, speed and torque as shares of the engine's largest.
pub fn settings(engine: &Engine, speed_share: f64, load_share: f64, vane_open_pct: f64) -> Settings {
    Settings {
        speed_rpm: (speed_share * engine.range.speed_max_rpm).round(),
        load: Load::Torque { torque_n_m: load_share * engine.range.torque_max_n_m },
        vane_open_pct,
        ambient: REFERENCE_DAY,
    }
}

/// A point that must hold.
#[track_caller]
pub fn held(engine: &Engine, settings: &Settings) -> Point {
    let point = solve(engine, settings).unwrap();
    assert!(point.reading.holds, "{} does not hold: {:?} at {settings:?}", engine.name, point.reading.outcome);
    point
}

/// Fails unless a steady point stays where it is when time runs with its fuel held. The march fires in true order and its
/// shaft is free; the steady solver does neither.
#[track_caller]
pub fn check_at_rest(engine: &Engine, settings: &Settings) {
    // Found more exactly than the bench needs, because the shaft multiplies what its balance misses.
    let effort = Effort { state: 2e-5, balance: 1e-5, intervals: 200 };
    let options = Options { effort, diagnose: false, ..Options::default() };
    let point = solve_with(engine, settings, None, &options).unwrap();
    let r = &point.reading;
    assert!(r.holds, "{} {settings:?}: {:?}", engine.name, r.outcome);
    let mut march = Transient::start(&point);
    march.set(&Settings { load: Load::Fuel { fuel_kg_per_cycle: r.fuel_kg_per_cycle }, ..*settings }).unwrap();
    let sample = (0..=120).map(|_| march.advance()).last().unwrap();
    for (what, now, steady) in [
        ("torque", sample.torque_n_m, r.brake.torque_n_m),
        ("shaft", sample.shaft_rad_s, r.shaft.speed_rad_s),
        ("air", sample.air_flow_kg_s, r.air_flow_kg_s),
        ("p2", sample.p2_pa, r.stations.compressor_outlet.p_pa),
        ("p3", sample.p3_pa, r.stations.turbine_inlet.p_pa),
        ("t3", sample.t3_k, r.stations.turbine_inlet.t_k),
        ("intake", sample.intake_manifold_pa, r.stations.intake_manifold.p_pa),
    ] {
        let drift = now / steady - 1.0;
        // The shaft is read at the end of an interval, within which it swings by a thousandth.
        let allowed = if what == "shaft" { 2e-3 } else { 2e-4 };
        assert!(drift.abs() < allowed, "{what} drifts by {drift:e}: {} {settings:?}", engine.name);
    }
}

/// How many points ended how.
#[derive(Default)]
pub struct Tally(BTreeMap<String, usize>);

impl Tally {
    pub fn count(&mut self, reading: &Reading) {
        let holds = if reading.holds { "" } else { ", does not hold" };
        self.add(&format!("{}{holds}", reading.outcome.name()));
    }

    pub fn add(&mut self, what: &str) {
        *self.0.entry(what.to_string()).or_default() += 1;
    }

    pub fn of(&self, what: &str) -> usize {
        self.0.iter().filter(|(name, _)| name.starts_with(what)).map(|(_, count)| count).sum()
    }

    pub fn total(&self) -> usize {
        self.0.values().sum()
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} points:", self.total())?;
        self.0.iter().try_for_each(|(name, count)| write!(f, " {count} {name};"))
    }
}

/// Every balance that the bench promises for a point that holds: its name, what it misses, and what is allowed. Mass must
/// balance within 1e-4 of the air flow, energy within 1e-4 of the fuel's, shaft power within 2e-4 of the compressor's, and
/// every power must be flow times enthalpy difference.
pub fn misses(books: &Books) -> Vec<(&'static str, f64, f64)> {
    let r = books.reading;
    let s = &r.stations;
    let (turbine_kg_s, leak_kg_s) = (s.turbine_inlet.mass_flow_kg_s, r.exhaust_leak_kg_s);
    let exhaust_kg_s = turbine_kg_s + leak_kg_s;
    let burned_kg_s =
        turbine_kg_s * s.turbine_inlet.burned_fuel_fraction + leak_kg_s * s.exhaust_leak.burned_fuel_fraction;
    let (fuel_w, compressor_w) = (books.fuel_w(), r.compressor.power_w);
    let energy = books.energy_miss_w() / fuel_w;
    let own_energy = energy - books.shaft_miss_w() / fuel_w;
    vec![
        ("air behind the compressor", s.compressor_outlet.mass_flow_kg_s / r.air_flow_kg_s - 1.0, 1e-12),
        ("air behind the cooler", s.charge_cooler_outlet.mass_flow_kg_s / r.air_flow_kg_s - 1.0, 1e-12),
        ("air into the cylinders", s.intake_manifold.mass_flow_kg_s / r.air_flow_kg_s - 1.0, 1e-4),
        ("mass", (exhaust_kg_s - r.air_flow_kg_s - r.fuel_flow_kg_s) / r.air_flow_kg_s, 1e-4),
        ("mass behind the turbine", s.turbine_outlet.mass_flow_kg_s / turbine_kg_s - 1.0, 1e-12),
        ("leak", s.exhaust_leak.mass_flow_kg_s - leak_kg_s, 0.0),
        // Measured by the fuel, which is a twentieth of the air or less. Three balances of 7e-5 each add up in it.
        ("burned fuel", burned_kg_s / r.fuel_flow_kg_s - 1.0, 2.1e-4),
        ("energy", energy, 1e-4),
        ("exhaust energy", books.exhaust_miss_w() / fuel_w, 1e-6),
        ("leaking energy", books.leak_miss_w() / fuel_w, 1e-6),
        ("shaft", books.shaft_miss_w() / compressor_w, 2e-4),
        ("compressor", books.compressor_miss_w() / compressor_w, 1e-6),
        ("turbine", books.turbine_miss_w() / r.turbine.power_w, 1e-6),
        ("charge cooler", books.cooler_miss_w() / (compressor_w + r.heat.charge_cooler_w.abs()), 1e-6),
        // What the reading itself says about its closure, where compressor and turbine balance separately.
        ("reported energy closure", r.convergence.energy_closure - own_energy, 1e-6),
        ("reported shaft closure", r.convergence.shaft_closure - books.shaft_miss_w() / compressor_w.min(fuel_w), 1e-9),
    ]
}

/// Fails where a miss is more than allowed.
#[track_caller]
pub fn check_balances(books: &Books, at: &str) {
    for (what, miss, allowed) in misses(books) {
        let outcome = books.reading.outcome;
        assert!(miss.abs() <= allowed, "{what}: off by {miss:e}, allowed {allowed:e}, at {at} {outcome:?}");
    }
}
