//! Scratch probe.
use volute_core::{engine_file, settings::*, steady};
fn main() {
    let e = engine_file::built_in("harbour-six").unwrap();
    let a: Vec<f64> = std::env::args().skip(1).map(|s| s.parse().unwrap()).collect();
    let rows: Vec<(f64, f64, f64)> = if a.len() == 3 { vec![(a[0], a[1], a[2])] } else {
        vec![(1000., 600., 60.), (1400., 938., 85.), (1800., 900., 100.), (2400., 995., 100.)]
    };
    for (n, t, v) in rows {
        let s = Settings { speed_rpm: n, load: Load::Torque { torque_n_m: t }, vane_open_pct: v, ambient: REFERENCE_DAY };
        let p = steady::solve(&e, &s).unwrap();
        let r = &p.reading;
        println!("{n} {t} {v}: {:?} holds {} iv {} res {:.1e} E {:.1e} S {:.1e} | torque {:.1} fuel {:.1} mg boost {:.1} bal {:.1} pmep {:.1} fmep {:.1} gmep {:.0} afr {:.1} T3 {:.0} N {:.0} etac {:.3} etat {:.3} ER {:.2} T2 {:.0} Tim {:.0} air {:.4} pmax {:.1} ηv {:.3} res {:.3} walls {:.1}kW sm {:.2} cm {:.2} stab {:?}",
            r.outcome, r.holds, r.convergence.firing_intervals, r.convergence.residual, r.convergence.energy_closure, r.convergence.shaft_closure,
            r.brake.torque_n_m, r.fuel_kg_per_cycle*1e6, r.boost_pa/1e3, r.pressure_balance_pa/1e3, r.indicated.pumping_mep_pa/1e3, r.indicated.friction_mep_pa/1e3, r.indicated.gross_mep_pa/1e3, r.air_fuel_ratio, r.stations.turbine_inlet.t_k-273.15,
            r.shaft.speed_rad_s*30./std::f64::consts::PI, r.compressor.efficiency, r.turbine.efficiency, r.turbine.expansion_ratio, r.stations.compressor_outlet.t_k, r.stations.intake_manifold.t_k, r.air_flow_kg_s, r.indicated.peak_pressure_pa/1e6, r.indicated.volumetric_efficiency, r.indicated.residual_fraction, r.heat.walls_w/1e3, r.compressor.surge_margin, r.compressor.choke_margin, r.stability);
    }
}
