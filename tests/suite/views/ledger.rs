//! The ledger between two readings: its parts sum to the change.

use crate::point::steady::holding;
use volute_core::point::reading::{Outcome, Reading};
use volute_core::point::steady::solve;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};
use volute_core::views::ledger::{Currency, Entry, Ledger, Quantity, ledger};

fn part(account: &Ledger, entry: Entry) -> f64 {
    account.rows.iter().find(|row| row.entry == entry).map_or(0.0, |row| row.part)
}

/// What the parts miss of the change, as a share of the larger of the two amounts.
fn miss(account: &Ledger, pin: &Reading, now: &Reading) -> f64 {
    let sum: f64 = account.rows.iter().map(|row| row.part).sum();
    let size = |r: &Reading| match account.currency {
        Currency::Torque => r.brake.torque_n_m.abs() + r.indicated.gross_mep_pa * r.displacement_m3 / 12.0,
        Currency::Fuel => r.fuel_flow_kg_s,
    };
    (sum - (account.to - account.from)).abs() / size(pin).max(size(now))
}

#[test]
fn identity_the_parts_of_a_ledger_sum_to_the_change() {
    let readings: Vec<&Reading> = holding().0.iter().map(|(_, _, reading)| reading).collect();
    let (mut torque, mut fuel, mut speeds) = (0, 0, 0);
    // The steps have no common factor with those of the grid, so the pairs differ in engine, speed, load, vanes and day.
    for (i, pin) in readings.iter().enumerate() {
        for step in [1, 7, 31, 58] {
            let now = readings[(i * 3 + step) % readings.len()];
            let account = ledger(pin, now);
            assert!(miss(&account, pin, now) < 1e-12, "{account:?}");
            assert!(account.rows.iter().all(|row| row.part.is_finite()));
            speeds += usize::from(pin.settings.speed_rpm != now.settings.speed_rpm);
            let held = now.settings.torque_n_m.is_some() && now.outcome == Outcome::Matched;
            let (currency, from, to) = if held {
                fuel += 1;
                (Currency::Fuel, pin.fuel_flow_kg_s, now.fuel_flow_kg_s)
            } else {
                torque += 1;
                (Currency::Torque, pin.brake.torque_n_m, now.brake.torque_n_m)
            };
            assert_eq!((account.currency, account.from, account.to), (currency, from, to));
        }
    }
    assert!(torque > 20 && fuel > 200 && speeds > 200, "{torque} {fuel} {speeds}");
}

#[test]
fn by_hand_a_ledger_between_equal_readings_is_zero() {
    for (_, _, reading) in holding().0.iter().step_by(11) {
        let account = ledger(reading, reading);
        assert!(account.rows.iter().all(|row| row.part == 0.0 && row.entry != Entry::Load), "{account:?}");
        assert!(account.rows.iter().flat_map(|row| &row.causes).all(|cause| cause.from == cause.to));
    }
}

#[test]
fn identity_a_ledger_the_other_way_has_the_opposite_signs() {
    let readings: Vec<&Reading> = holding().0.iter().map(|(_, _, reading)| reading).collect();
    for (pin, now) in readings.iter().zip(&readings[9..]) {
        let (forth, back) = (ledger(pin, now), ledger(now, pin));
        if forth.currency == back.currency {
            for row in &forth.rows {
                approx::assert_relative_eq!(row.part, -part(&back, row.entry), max_relative = 1e-9, epsilon = 1e-18);
            }
        }
    }
}

#[test]
fn by_hand_closing_the_vanes_at_rated_fuel_costs_pumping_torque() {
    let engine = volute_core::engine::built_in::engine("harbour-six").unwrap();
    let at = |vane_open_pct, load| {
        let settings = Settings { speed_rpm: 2_400.0, load, vane_open_pct, ambient: REFERENCE_DAY };
        solve(&engine, &settings).unwrap().reading
    };
    let fuel = Load::Fuel { fuel_kg_per_cycle: 126e-6 };
    let (pin, now) = (at(100.0, fuel), at(77.0, fuel));
    let account = ledger(&pin, &now);
    assert_eq!(account.currency, Currency::Torque);
    let pumping = pin.indicated.pumping_torque_n_m - now.indicated.pumping_torque_n_m;
    approx::assert_relative_eq!(part(&account, Entry::Pumping), pumping, max_relative = 1e-12);
    assert!(pumping < -30.0 && part(&account, Entry::GasWork) > -0.3 * pumping.abs(), "{account:?}");
    let throat = account.rows.iter().flat_map(|row| &row.causes).find(|cause| cause.quantity == Quantity::ThroatArea);
    let throat = throat.unwrap();
    assert_eq!((throat.from, throat.to), (pin.turbine.throat_area_m2, now.turbine.throat_area_m2));

    // The same with torque held: the ledger is in fuel, and it has no row for the load.
    let torque = Load::Torque { torque_n_m: 900.0 };
    let account = ledger(&at(100.0, torque), &at(77.0, torque));
    assert_eq!(account.currency, Currency::Fuel);
    assert!(account.rows.iter().all(|row| row.entry != Entry::Load));
    assert!(part(&account, Entry::Pumping) > 0.5 * (account.to - account.from) && account.to > account.from);

    // More torque: the part of the load is its power times the mean fuel for a unit of work.
    let more = at(100.0, Load::Torque { torque_n_m: 950.0 });
    let pin = at(100.0, torque);
    let account = ledger(&pin, &more);
    let price = |r: &Reading| r.fuel_flow_kg_s / (r.indicated.gross_mep_pa * r.displacement_m3 * 2_400.0 / 120.0);
    let power_w = 50.0 * 2_400.0 * core::f64::consts::PI / 30.0;
    let expected = power_w * 0.5 * (price(&pin) + price(&more));
    // The search meets torque within 7e-5.
    approx::assert_relative_eq!(part(&account, Entry::Load), expected, max_relative = 1e-4);
}
