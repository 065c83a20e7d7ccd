//! Entropy along the air path: it rises wherever the second law says so.

use crate::point::steady::holding;
use volute_core::gas::humidity::vapour_mole_fraction;
use volute_core::point::reading::Station;
use volute_core::views::entropy::{GasState, Process, entropy};
use volute_tests::species::{Mixture, Species};

/// One machine against Cantera's entropies and the reading's own efficiency.
fn check(species: &Species, mixture: &Mixture, m: &Process, from: &Station, to: &Station, efficiency: f64, at: &str) {
    let drawn = [(m.inlet, from.p_pa, from.t_k), (m.outlet, to.p_pa, to.t_k)];
    for (state, p_pa, t_k) in drawn {
        assert_eq!((state.p_pa, state.t_k), (p_pa, t_k), "{at}");
    }
    assert_eq!((m.inlet.s_j_kg_k, m.ideal.p_pa), (0.0, to.p_pa), "{at}");
    assert!(m.ideal.s_j_kg_k.abs() < 1e-6, "2s or 4s: {} J/(kg K), {at}", m.ideal.s_j_kg_k);
    let ideal_k = species.isentropic_t_k(mixture, from.t_k, to.p_pa / from.p_pa);
    assert!((m.ideal.t_k - ideal_k).abs() < 0.02, "{} K, {ideal_k} K by the table, {at}", m.ideal.t_k);
    let own = |state: &GasState| {
        species.s_j_kg_k(mixture, state.t_k)
            - species.s_j_kg_k(mixture, from.t_k)
            - mixture.r_j_kg_k() * (state.p_pa / from.p_pa).ln()
    };
    // A joule and a bit at 1000 K, where the two halves of the polynomials meet with a step.
    assert!((m.outlet.s_j_kg_k - own(&m.outlet)).abs() < 0.05, "{} and {}, {at}", m.outlet.s_j_kg_k, own(&m.outlet));
    // Second law: entropy rises as far as the efficiency is below one, and only then.
    assert_eq!(m.outlet.s_j_kg_k > 0.0, efficiency < 1.0, "{} J/(kg K), {efficiency}, {at}", m.outlet.s_j_kg_k);
    for isobar in &m.isobars {
        let low = isobar.states.first().unwrap().t_k;
        let high = isobar.states.last().unwrap().t_k;
        assert!(isobar.states.windows(2).all(|two| two[0].s_j_kg_k < two[1].s_j_kg_k), "{at}");
        for state in &isobar.states {
            assert_eq!(state.p_pa, isobar.p_pa);
            assert!((state.s_j_kg_k - own(state)).abs() < 0.05, "{at}");
        }
        for state in [&m.inlet, &m.ideal, &m.outlet].into_iter().filter(|state| state.p_pa == isobar.p_pa) {
            assert!(low < state.t_k && state.t_k < high, "{at}");
        }
    }
}

#[test]
fn identity_entropy_rises_where_it_must_over_a_grid() {
    let species = Species::read();
    let (mut rising, mut pulsed) = (0, 0);
    for (engine, settings, r) in &holding().0 {
        let at = format!("{} {settings:?}", engine.name);
        let air = &r.ambient;
        let vapour = vapour_mole_fraction(air.p_pa, air.t_k, air.relative_humidity).unwrap();
        let (s, drawn) = (&r.stations, entropy(engine, r));
        let humid = Mixture::burnt(vapour, engine.fuel.hydrogen_to_carbon, 0.0);
        check(
            &species,
            &humid,
            &drawn.compressor,
            &s.compressor_inlet,
            &s.compressor_outlet,
            r.compressor.efficiency,
            &at,
        );
        assert!(drawn.compressor.outlet.s_j_kg_k > 0.0, "{at}");
        let burnt = Mixture::burnt(vapour, engine.fuel.hydrogen_to_carbon, s.turbine_inlet.burned_fuel_fraction);
        check(&species, &burnt, &drawn.turbine, &s.turbine_inlet, &s.turbine_outlet, r.turbine.efficiency, &at);
        *if r.turbine.efficiency < 1.0 { &mut rising } else { &mut pulsed } += 1;
    }
    println!("entropy rises through the turbine at {rising} points; {pulsed} have a mean-state efficiency above 1");
    assert!(rising > 100);
}
