//! The energy flows of a reading against the power of the fuel, over a grid.

use crate::balance::Books;
use crate::point::steady::holding;
use volute_core::views::energy::{Sink, energy_flow};
use volute_tests::species::Species;

#[test]
fn identity_the_energy_flows_sum_to_the_power_of_the_fuel() {
    let (mut worst, mut least_exhaust) = (0.0_f64, f64::INFINITY);
    for (engine, settings, r) in &holding().0 {
        let flow = energy_flow(r);
        let at = format!("{} {settings:?}: {flow:?}", engine.name);
        let sum: f64 = flow.items.iter().map(|item| item.power_w).sum();
        assert!((sum / flow.fuel_w - 1.0).abs() < 1e-14, "{at}");
        assert!((flow.items.iter().map(|item| item.share).sum::<f64>() - 1.0).abs() < 1e-14, "{at}");
        let remainder = flow.power_w(Sink::Remainder) / flow.fuel_w;
        worst = worst.max(remainder.abs());
        assert!(remainder.abs() <= 1e-4, "remainder {remainder:e}, {at}");
        // Under load nothing drives the engine, and exhaust and walls are warmer than what is around them.
        for sink in [Sink::Crank, Sink::Coolant, Sink::ExhaustGas, Sink::Other] {
            assert!(flow.power_w(sink) > 0.0, "{sink:?}, {at}");
        }
        let charge_is_warmer = r.stations.compressor_outlet.t_k > engine.charge_cooler.sink_k;
        assert_eq!(flow.power_w(Sink::ChargeCooler) > 0.0, charge_is_warmer, "{at}");
        least_exhaust = least_exhaust.min(flow.power_w(Sink::ExhaustGas) / flow.fuel_w);
    }
    println!("remainder at most {worst:.1e} of the fuel's power; exhaust gas at least {least_exhaust:.2}");
}

#[test]
fn identity_the_remainder_is_what_independent_enthalpies_miss() {
    let species = Species::read();
    for (engine, settings, r) in &holding().0 {
        let books = Books::new(engine, r, &species);
        let remainder = energy_flow(r).power_w(Sink::Remainder);
        let off = (remainder - books.energy_miss_w()) / books.fuel_w();
        assert!(off.abs() < 2e-6, "{off:e}, {} {settings:?}", engine.name);
        // What does not reach the coolant, from the engine's own shares.
        let around = (1.0 - engine.friction.coolant_share) * r.heat.friction_w
            + (1.0 - engine.manifolds.exhaust_coolant_share) * r.heat.exhaust_manifold_w
            + r.shaft.bearing_loss_w;
        approx::assert_relative_eq!(energy_flow(r).power_w(Sink::Other), around, max_relative = 1e-9);
    }
}
