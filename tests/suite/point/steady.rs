//! Steady points over a grid: balances, derived numbers, limits, and the effort of the search.

use crate::balance::{Books, torque_n_m};
use crate::support::{self, Tally};
use core::f64::consts::PI;
use std::sync::OnceLock;
use volute_core::engine::Engine;
use volute_core::parts::{cooler, pipe, turbine};
use volute_core::point::reading::{LimitName, Outcome, Reading};
use volute_core::point::steady::{Options, Point, solve, solve_near, solve_with};
use volute_core::settings::{Ambient, Load, REFERENCE_DAY, Settings};
use volute_tests::reference::{Row, Table};
use volute_tests::species::Species;

/// Options without the search for the nearest point that holds: these tests ask only for the point itself.
const PLAIN: Options =
    Options { effort: volute_core::point::steady::EVERYDAY, trace: true, diagnose: false, steps_per_degree: None };

/// Both engines over speed, load and vanes, then other days and held fuel.
fn grid() -> Vec<(Engine, Settings)> {
    let mut points = Vec::new();
    for engine in support::engines() {
        let range = &engine.range;
        let speed = |share: f64| range.speed_min_rpm + (range.speed_max_rpm - range.speed_min_rpm) * share;
        let base = Settings {
            speed_rpm: speed(0.5),
            load: Load::Torque { torque_n_m: 0.5 * range.torque_max_n_m },
            vane_open_pct: 60.0,
            ambient: REFERENCE_DAY,
        };
        for speed_share in [0.15, 0.4, 0.6, 0.8, 1.0] {
            for load_share in [0.1, 0.4, 0.7, 0.95] {
                for vane_open_pct in [10.0, 35.0, 60.0, 80.0, 100.0] {
                    let load = Load::Torque { torque_n_m: load_share * range.torque_max_n_m };
                    points.push((
                        engine.clone(),
                        Settings { speed_rpm: speed(speed_share), load, vane_open_pct, ..base },
                    ));
                }
            }
        }
        for (p_pa, t_k, relative_humidity) in
            [(7.0e4, 253.15, 0.5), (1.013e5, 308.15, 0.9), (9.0e4, 318.15, 0.3), (1.05e5, 263.15, 1.0)]
        {
            points.push((engine.clone(), Settings { ambient: Ambient { p_pa, t_k, relative_humidity }, ..base }));
        }
        for share in [0.2, 0.5, 0.8] {
            let load = Load::Fuel { fuel_kg_per_cycle: share * engine.combustion.injector_limit_kg };
            points.push((engine.clone(), Settings { load, vane_open_pct: 80.0, ..base }));
        }
    }
    points
}

/// Engine, settings and reading of points, and how many of each outcome there were.
pub type Holding = (Vec<(Engine, Settings, Reading)>, Tally);

/// Every point of the grid that holds, and how many of each outcome there were.
pub fn holding() -> &'static Holding {
    static HOLDING: OnceLock<Holding> = OnceLock::new();
    HOLDING.get_or_init(solve_grid)
}

fn solve_grid() -> Holding {
    let mut tally = Tally::default();
    let mut points = Vec::new();
    for (engine, settings) in grid() {
        let Point { reading, .. } = solve_with(&engine, &settings, None, &PLAIN).unwrap();
        tally.count(&reading);
        if reading.holds {
            points.push((engine, settings, reading));
        }
    }
    (points, tally)
}

#[test]
fn identity_mass_energy_and_power_balance_at_every_point_of_a_grid() {
    let species = Species::read();
    let (points, tally) = holding();
    println!("{tally}");
    assert!(points.len() > 120, "too few points hold: {tally}");
    for (engine, settings, reading) in points {
        support::check_balances(&Books::new(engine, reading, &species), &format!("{} {settings:?}", engine.name));
    }
}

#[test]
fn identity_the_trace_gives_the_indicated_work() {
    let species = Species::read();
    for (engine, settings, reading) in &holding().0 {
        let (gross_pa, pumping_pa) = Books::new(engine, reading, &species).trace_mep_pa();
        let allowed_pa = 2e-4 * reading.indicated.gross_mep_pa;
        let off_pa = (gross_pa - reading.indicated.gross_mep_pa, pumping_pa - reading.indicated.pumping_mep_pa);
        assert!(
            off_pa.0.abs() < allowed_pa && off_pa.1.abs() < allowed_pa,
            "{off_pa:?} Pa: {} {settings:?}",
            engine.name
        );
        let trace = reading.trace.as_ref().unwrap();
        let (first, last) = (0, trace.crank_angle_deg.len() - 1);
        assert_eq!((trace.crank_angle_deg[first], trace.crank_angle_deg[last]), (0.0, 720.0));
        for column in [&trace.volume_m3, &trace.pressure_pa, &trace.temperature_k] {
            assert_eq!(column[first], column[last], "first and last row are one instant");
        }
        let peak_pa = trace.pressure_pa.iter().copied().fold(0.0, f64::max);
        approx::assert_relative_eq!(peak_pa, reading.indicated.peak_pressure_pa, max_relative = 1e-12);
    }
}

#[test]
fn identity_every_derived_number_follows_from_the_others() {
    let species = Species::read();
    for (engine, settings, r) in &holding().0 {
        let books = Books::new(engine, r, &species);
        let s = &r.stations;
        let same = |what: &str, a: f64, b: f64, tolerance: f64| {
            let scale = a.abs().max(b.abs()).max(1e-300);
            assert!((a - b).abs() <= tolerance * scale, "{what}: {a} and {b}, {} {settings:?}", engine.name);
        };
        for station in [
            &s.compressor_inlet,
            &s.compressor_outlet,
            &s.charge_cooler_outlet,
            &s.intake_manifold,
            &s.turbine_inlet,
            &s.turbine_outlet,
        ] {
            same("density", station.density_kg_m3, books.density_kg_m3(station), 1e-9);
        }
        same("displacement", r.displacement_m3, engine.displacement_m3(), 1e-12);
        let crank_rad_s = settings.speed_rpm * PI / 30.0;
        same("torque", r.brake.torque_n_m, torque_n_m(r.brake.mep_pa, r.displacement_m3), 1e-9);
        same("power", r.brake.power_w, r.brake.torque_n_m * crank_rad_s, 1e-9);
        let i = &r.indicated;
        let net_pa = i.gross_mep_pa - i.pumping_mep_pa - i.friction_mep_pa;
        assert!((r.brake.mep_pa - net_pa).abs() < 1e-9 * i.gross_mep_pa);
        same("efficiency", r.brake.efficiency, r.brake.power_w / books.fuel_w(), 1e-9);
        same("pumping torque", i.pumping_torque_n_m, torque_n_m(i.pumping_mep_pa, r.displacement_m3), 1e-9);
        same("pumping power", i.pumping_power_w, i.pumping_torque_n_m * crank_rad_s, 1e-9);
        same("friction", r.heat.friction_w, torque_n_m(i.friction_mep_pa, r.displacement_m3) * crank_rad_s, 1e-9);
        let piston_speed = 2.0 * engine.cylinders.stroke_m * settings.speed_rpm / 60.0;
        let f = &engine.friction;
        let friction_pa = f.constant_pa
            + f.peak_pressure_share * i.peak_pressure_pa
            + f.speed_pa_s_m * piston_speed
            + f.speed_squared_pa_s2_m2 * piston_speed * piston_speed;
        same("friction mep", i.friction_mep_pa, friction_pa, 1e-9);
        same("fuel", r.fuel_flow_kg_s, r.fuel_kg_per_cycle * engine.cylinders.count * settings.speed_rpm / 120.0, 1e-9);
        same("air-fuel ratio", r.air_fuel_ratio, r.air_flow_kg_s / r.fuel_flow_kg_s, 1e-9);
        same("boost", r.boost_pa, s.intake_manifold.p_pa - r.ambient.p_pa, 1e-9);
        let balance_pa = s.compressor_outlet.p_pa - s.turbine_inlet.p_pa;
        assert!((r.pressure_balance_pa - balance_pa).abs() < 1e-6);
        same(
            "density ratio",
            r.density_ratio,
            s.intake_manifold.density_kg_m3 / s.compressor_inlet.density_kg_m3,
            1e-9,
        );
        let c = &r.compressor;
        same("pressure ratio", c.pressure_ratio, s.compressor_outlet.p_pa / s.compressor_inlet.p_pa, 1e-9);
        same(
            "compressor density ratio",
            c.density_ratio,
            s.compressor_outlet.density_kg_m3 / s.compressor_inlet.density_kg_m3,
            1e-9,
        );
        same("tip speed", c.tip_speed_m_s, 0.5 * engine.compressor.wheel_m() * r.shaft.speed_rad_s, 1e-9);
        same("compressor efficiency", c.efficiency, books.compressor_efficiency(), 5e-5);
        let t = &r.turbine;
        let drop = books.turbine_drop_j_kg();
        same("expansion ratio", t.expansion_ratio, s.turbine_inlet.p_pa / s.turbine_outlet.p_pa, 1e-9);
        same("turbine efficiency", t.efficiency, t.power_w / s.turbine_inlet.mass_flow_kg_s / drop, 5e-5);
        let tip_m_s = 0.5 * engine.turbine.wheel_m() * r.shaft.speed_rad_s;
        same("blade-speed ratio", t.blade_speed_ratio, tip_m_s / (2.0 * drop).sqrt(), 5e-5);
        let flow_parameter = s.turbine_inlet.mass_flow_kg_s * s.turbine_inlet.t_k.sqrt() / s.turbine_inlet.p_pa;
        same("flow parameter", t.flow_parameter, flow_parameter, 1e-9);
        same("bearing", r.shaft.bearing_loss_w, engine.shaft.bearing_loss_w_s2 * r.shaft.speed_rad_s.powi(2), 1e-9);
        let h = &r.heat;
        let coolant_w = h.walls_w
            + engine.friction.coolant_share * h.friction_w
            + engine.manifolds.exhaust_coolant_share * h.exhaust_manifold_w;
        same("coolant", h.coolant_w, coolant_w, 1e-9);
        let q = &engine.coolant;
        let capacity = q.flow_m3_s * settings.speed_rpm / 2_000.0 * q.density_kg_m3 * q.heat_capacity_j_kg_k;
        same("coolant rise", h.coolant_rise_k, coolant_w / capacity, 1e-9);
    }
}

#[test]
fn identity_a_load_that_is_matched_is_the_load_asked_for() {
    for (engine, settings, reading) in &holding().0 {
        let at = format!("{} {settings:?}", engine.name);
        match settings.load {
            Load::Torque { torque_n_m: asked } if reading.outcome == Outcome::Matched => {
                // The solver is held to 7e-5 of the fuel, which is that share of the gross work.
                let gross_n_m = torque_n_m(reading.indicated.gross_mep_pa, reading.displacement_m3);
                assert!(
                    (reading.brake.torque_n_m - asked).abs() < 2e-4 * gross_n_m,
                    "{} for {asked}: {at}",
                    reading.brake.torque_n_m
                );
            }
            Load::Torque { torque_n_m: asked } if reading.outcome == Outcome::SmokeLimited => {
                assert!(reading.brake.torque_n_m < asked, "{at}");
                let limit = engine.combustion.smoke_limit_afr;
                approx::assert_relative_eq!(reading.air_fuel_ratio, limit, max_relative = 5e-4);
            }
            Load::Fuel { fuel_kg_per_cycle: asked } if reading.outcome == Outcome::Matched => {
                approx::assert_relative_eq!(reading.fuel_kg_per_cycle, asked, max_relative = 2e-4);
            }
            _ => {}
        }
    }
}

#[test]
fn identity_every_limit_is_listed_and_crossed_only_beyond_its_value() {
    use LimitName::*;
    let all = [
        ShaftSpeed,
        SurgeMargin,
        ChokeMargin,
        TurbineInletTemperature,
        CompressorOutletTemperature,
        CylinderPressure,
        ExhaustManifoldPressure,
        AirFuelRatio,
        CoolantRise,
    ];
    let mut crossed = 0;
    for (engine, settings, reading) in &holding().0 {
        assert_eq!(reading.limits.iter().map(|limit| limit.name).collect::<Vec<_>>(), all);
        for limit in &reading.limits {
            let least = matches!(limit.name, SurgeMargin | ChokeMargin | AirFuelRatio);
            let beyond = if least { limit.limit - limit.value } else { limit.value - limit.limit };
            // At the smoke limit the fuel is held back, so a thousandth of slack is allowed there, and none elsewhere.
            let slack = if limit.name == AirFuelRatio { 1e-3 * limit.limit } else { 0.0 };
            assert_eq!(limit.crossed, beyond > slack, "{limit:?}: {} {settings:?}", engine.name);
            assert_eq!(limit.margin < 0.0, beyond > 0.0, "{limit:?}");
            crossed += usize::from(limit.crossed);
        }
        assert_eq!(reading.outcome == Outcome::Overspeed, reading.limit(ShaftSpeed).unwrap().crossed);
        let s = &reading.stations;
        assert_eq!(reading.limit(TurbineInletTemperature).unwrap().value, s.turbine_inlet.t_k);
        assert_eq!(reading.limit(CompressorOutletTemperature).unwrap().value, s.compressor_outlet.t_k);
        assert_eq!(reading.limit(CylinderPressure).unwrap().value, reading.indicated.peak_pressure_pa);
        assert_eq!(reading.limit(ExhaustManifoldPressure).unwrap().value, s.turbine_inlet.p_pa);
    }
    assert!(crossed > 10, "the grid crosses too few limits to say anything: {crossed}");
}

#[test]
fn identity_no_part_is_better_than_the_second_law() {
    for (engine, settings, r) in &holding().0 {
        let at = format!("{} {settings:?}", engine.name);
        assert!(r.compressor.efficiency < 1.0, "{at}");
        assert!(r.turbine.efficiency < 1.0, "{at}");
        assert!(0.0 < r.brake.efficiency && r.brake.efficiency < 0.55, "{at}");
        // Carnot's bound for the charge cooler: no colder than its coolant.
        assert!(
            r.stations.charge_cooler_outlet.t_k
                > engine.charge_cooler.sink_k.min(r.stations.compressor_outlet.t_k) - 1e-6
        );
        assert!((0.0..0.3).contains(&r.indicated.residual_fraction), "{at}: {}", r.indicated.residual_fraction);
        assert!((0.5..1.3).contains(&r.indicated.volumetric_efficiency), "{at}: {}", r.indicated.volumetric_efficiency);
    }
}

#[test]
fn identity_a_point_is_the_same_from_nothing_and_from_a_neighbour() {
    for engine in support::engines() {
        let range = &engine.range;
        let base = Settings {
            speed_rpm: 0.65 * range.speed_max_rpm,
            load: Load::Torque { torque_n_m: 0.5 * range.torque_max_n_m },
            vane_open_pct: 80.0,
            ambient: REFERENCE_DAY,
        };
        let from = solve(&engine, &base).unwrap();
        assert!(from.reading.holds);
        for settings in [
            Settings { vane_open_pct: 70.0, ..base },
            Settings { speed_rpm: 0.7 * range.speed_max_rpm, ..base },
            Settings { load: Load::Torque { torque_n_m: 0.6 * range.torque_max_n_m }, ..base },
            Settings { ambient: Ambient { p_pa: 9.5e4, ..REFERENCE_DAY }, ..base },
        ] {
            let cold = solve(&engine, &settings).unwrap().reading;
            let warm = solve_near(&engine, &settings, &from).unwrap().reading;
            assert!(cold.holds && warm.holds && cold.outcome == warm.outcome);
            for (what, a, b) in [
                ("air", cold.air_flow_kg_s, warm.air_flow_kg_s),
                ("p3", cold.stations.turbine_inlet.p_pa, warm.stations.turbine_inlet.p_pa),
                ("t3", cold.stations.turbine_inlet.t_k, warm.stations.turbine_inlet.t_k),
                ("fuel", cold.fuel_kg_per_cycle, warm.fuel_kg_per_cycle),
                ("shaft", cold.shaft.speed_rad_s, warm.shaft.speed_rad_s),
            ] {
                assert!((a / b - 1.0).abs() < 1e-3, "{what}: {a} from nothing, {b} from a neighbour: {settings:?}");
            }
        }
    }
}

#[test]
fn published_mep_and_torque() {
    let table = Table::read("heywood1988_mep_torque.csv");
    for row in table.rows() {
        let (displacement, torque) = (row.get("displacement_m3"), row.get("torque_n_m"));
        row.check("torque_n_m", torque_n_m(row.get("mep_pa"), displacement), table.tolerance());
        row.check("power_w", torque * row.get("speed_rpm") * PI / 30.0, table.tolerance());
    }
}

#[test]
fn published_coolant_of_the_engine_files() {
    let table = Table::read("coolprop8_coolant.csv");
    for engine in support::engines() {
        let inlet_celsius = engine.coolant.inlet_k - 273.15;
        let apart = |row: &Row| (row.get("t_celsius") - inlet_celsius).abs();
        let row = table.rows().min_by(|a, b| apart(a).total_cmp(&apart(b))).unwrap();
        row.check("density_50_50_kg_m3", engine.coolant.density_kg_m3, table.tolerance());
        row.check("heat_capacity_50_50_j_kg_k", engine.coolant.heat_capacity_j_kg_k, table.tolerance());
    }
}

#[test]
fn identity_pressures_between_the_parts_are_their_losses() {
    for (engine, settings, r) in &holding().0 {
        let s = &r.stations;
        let at = format!("{} {settings:?}", engine.name);
        let close = |what: &str, loss_pa: f64, of_mean_flow_pa: f64, pulsation: f64| {
            let share = loss_pa / of_mean_flow_pa / pulsation;
            assert!(
                (share - 1.0).abs() < 0.03,
                "{what}: {loss_pa} Pa, {of_mean_flow_pa} Pa of the mean flow x {pulsation}, {at}"
            );
        };
        // The flow in the duct pulses little, so the loss, which goes with the square of the flow, is that of the mean flow.
        let ambient_kg_m3 = r.ambient.p_pa * s.compressor_inlet.density_kg_m3 / s.compressor_inlet.p_pa;
        let square = r.air_flow_kg_s * r.air_flow_kg_s;
        close(
            "filter",
            r.ambient.p_pa - s.compressor_inlet.p_pa,
            engine.filter.loss_1_m4 * square / ambient_kg_m3,
            1.0,
        );
        let cooler_pa = cooler::loss_pa(&engine.charge_cooler, r.air_flow_kg_s, s.compressor_outlet.density_kg_m3);
        close("cooler", s.compressor_outlet.p_pa - s.charge_cooler_outlet.p_pa, cooler_pa, 1.0);
        // The flow through the turbine pulses with the pressure ahead of it.
        let exhaust = &s.turbine_outlet;
        let pipe_pa = pipe::loss_pa(&engine.exhaust_pipe, exhaust.mass_flow_kg_s, exhaust.density_kg_m3, exhaust.t_k);
        close("exhaust pipe", exhaust.p_pa - r.ambient.p_pa, pipe_pa, pulsation(engine, r));
        if engine.charge_cooler.fitted == 1.0 {
            let given = (s.compressor_outlet.t_k - s.charge_cooler_outlet.t_k)
                / (s.compressor_outlet.t_k - engine.charge_cooler.sink_k);
            let wanted = cooler::effectiveness(&engine.charge_cooler, r.air_flow_kg_s);
            let far = (s.compressor_outlet.t_k - engine.charge_cooler.sink_k).abs() > 20.0;
            assert!(!far || (given - wanted).abs() < 0.01, "effectiveness {given}, {wanted} of the mean flow, {at}");
        }
    }
}

/// Mean square of the flow through the turbine over the square of its mean, from the exhaust-manifold pressure in the trace.
fn pulsation(engine: &Engine, r: &Reading) -> f64 {
    let mean = &r.stations.turbine_inlet;
    let gamma = 1.34;
    let setting = turbine::Nozzle::at(&engine.turbine, r.settings.vane_open_pct / 100.0);
    let flows: Vec<f64> = r
        .trace
        .as_ref()
        .unwrap()
        .exhaust_manifold_pa
        .iter()
        .map(|p_pa| {
            let t_k = mean.t_k * (p_pa / mean.p_pa).powf((gamma - 1.0) / gamma);
            let inlet = turbine::TurbineInlet { p_pa: *p_pa, t_k, r_j_kg_k: 287.0, gamma };
            setting.point(&inlet, r.stations.turbine_outlet.p_pa, 0.0).flow_kg_s
        })
        .collect();
    let count = flows.len() as f64;
    let (sum, squares) = flows.iter().fold((0.0, 0.0), |(sum, squares), w| (sum + w, squares + w * w));
    squares * count / (sum * sum)
}

/// Median and 90th percentile.
fn middle_and_tail(mut counts: Vec<u32>) -> (u32, u32) {
    counts.sort_unstable();
    (counts[counts.len() / 2], counts[counts.len() * 9 / 10])
}

#[test]
fn by_hand_a_steady_point_takes_few_firing_intervals() {
    for (engine, cold_most, warm_most) in
        // For the six, these are the intervals that the bench promises. Those of the van are pinned by choice.
        support::engines()
            .iter()
            .zip([(10, 6), (11, 8)])
            .map(|(engine, (cold, warm))| (engine.clone(), cold, warm))
    {
        let range = &engine.range;
        let (mut cold, mut warm) = (Vec::new(), Vec::new());
        let found = |settings: &Settings, near: Option<&Point>| {
            let point = solve_with(&engine, settings, near, &PLAIN).unwrap();
            point.reading.holds.then_some(point)
        };
        for speed_step in 0..10 {
            for load_step in 0..5 {
                for vane_step in 0..10 {
                    let speed_rpm =
                        range.speed_min_rpm + (range.speed_max_rpm - range.speed_min_rpm) * f64::from(speed_step) / 9.0;
                    let torque_n_m = range.torque_max_n_m * (0.1 + 0.2 * f64::from(load_step));
                    let vane_open_pct = 100.0 - 10.0 * f64::from(vane_step);
                    let load = Load::Torque { torque_n_m };
                    let settings = Settings { speed_rpm, load, vane_open_pct, ambient: REFERENCE_DAY };
                    let Some(point) = found(&settings, None) else { continue };
                    cold.push(point.reading.convergence.firing_intervals);
                    // As far as a slider moves in one frame, and further.
                    let faster = Settings { speed_rpm: (speed_rpm + 100.0).min(range.speed_max_rpm), ..settings };
                    let heavier = Load::Torque { torque_n_m: (1.15 * torque_n_m).min(range.torque_max_n_m) };
                    let tighter = Settings { vane_open_pct: (vane_open_pct - 7.0).max(0.0), ..settings };
                    for near in [faster, Settings { load: heavier, ..settings }, tighter] {
                        if let Some(next) = found(&near, Some(&point)) {
                            warm.push(next.reading.convergence.firing_intervals);
                        }
                    }
                }
            }
        }
        let points = (cold.len(), warm.len());
        let (cold, warm) = (middle_and_tail(cold), middle_and_tail(warm));
        println!(
            "{}: {points:?} points, cold median {} (90 %: {}), warm {} ({})",
            engine.name, cold.0, cold.1, warm.0, warm.1
        );
        assert!(points.0 > 200, "{points:?}");
        assert!(cold.0 <= cold_most && warm.0 <= warm_most, "{}: cold {cold:?}, warm {warm:?}", engine.name);
    }
}
