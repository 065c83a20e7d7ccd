//! The everyday step against a tight-tolerance integrator.
//!
//! The equations below are written out a second time, from the parts and the published forms: exact orifice flow, Woschni's
//! formula as printed, Wiebe's function, and the maps of compressor and turbine at every instant. They have none of the core's
//! shortcuts (polynomials, coefficients held over a step, the map read once in four steps, temperatures carried over). DOP853
//! (Hairer, Norsett and Wanner; crate `ode_solvers`) integrates them to 1e-9 through one firing interval, from the point that
//! the core finds with steps of a sixteenth of a degree. That interval must end where it began. The everyday step must give the
//! same work: torque within 0.05 %, pumping within 0.3 kPa.

use crate::support;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{DVector, Dop853, System};
use std::cell::Cell;
use std::f64::consts::PI;
use volute_core::cycle::{Cylinder, Machine};
use volute_core::engine::Engine;
use volute_core::gas::flow;
use volute_core::gas::{Content, Gas};
use volute_core::parts::combustion::HeatRelease;
use volute_core::parts::compressor::SpeedLine;
use volute_core::parts::valve::ValveSet;
use volute_core::parts::{compressor, cooler, crank, friction, pipe, turbine, wall_heat};
use volute_core::point::reading::Reading;
use volute_core::point::steady::{Effort, Options, Point, solve_with};
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

type State = DVector<f64>;

/// The core rounds the flow law of valves and nozzle near equal pressures. That is part of the model, so it is the same here.
const ROUNDING: (f64, f64) = (0.004, 0.002);

fn rounded(ratio: f64, gamma: f64, d0: f64) -> f64 {
    let d = 1.0 - ratio;
    flow::flow_function(ratio, gamma) * (d * (d + d0) / (d * d + d * d0 + d0 * d0)).sqrt()
}

/// The state of the gas in a volume.
struct Inside {
    p_pa: f64,
    t_k: f64,
    x: f64,
    h_j_kg: f64,
    r: f64,
    gamma: f64,
}

struct Model<'a> {
    engine: &'a Engine,
    gas: Gas,
    speed_rpm: f64,
    vane: f64,
    shaft_rad_s: f64,
    friction_factor: f64,
    t4_k: Cell<f64>,
}

/// One cylinder as this interval meets it.
#[derive(Clone, Copy)]
struct CylinderStart {
    /// Crank angle at the beginning of the interval, 0 to 720.
    from_deg: f64,
    closing_pa: f64,
    reference_k_per_pa: f64,
    fuel_kg: f64,
}

impl Model<'_> {
    fn inside(&self, m_kg: f64, u_j: f64, x_kg: f64, size_m3: f64) -> Inside {
        let (x, u) = (x_kg / m_kg, u_j / m_kg);
        let t_k = self.gas.t_of_u_k(u, x, 700.0);
        let r = self.gas.r_j_kg_k(x);
        let gamma = 1.0 + r / self.gas.cv_j_kg_k(t_k, x);
        Inside { p_pa: m_kg * r * t_k / size_m3, t_k, x, h_j_kg: u + r * t_k, r, gamma }
    }

    fn through(area_m2: f64, a: &Inside, b: &Inside) -> [f64; 3] {
        let (from, to, sign) = if a.p_pa >= b.p_pa { (a, b, 1.0) } else { (b, a, -1.0) };
        let mass = sign * area_m2 * from.p_pa / (from.r * from.t_k).sqrt()
            * rounded(to.p_pa / from.p_pa, from.gamma, ROUNDING.0);
        [mass, mass * from.h_j_kg, mass * from.x]
    }

    /// Rates of one cylinder, each second: mass, energy, burned fuel, then gross work, gas-exchange work, wall heat; and what
    /// leaves the intake manifold and enters the exhaust manifold.
    fn cylinder(
        &self,
        place: &CylinderStart,
        since_deg: f64,
        y: &[f64],
        manifolds: Option<(&Inside, &Inside)>,
    ) -> ([f64; 6], [f64; 3], [f64; 3]) {
        let (gear, v, w) = (&self.engine.cylinders, &self.engine.valves, &self.engine.wall_heat);
        let deg = (place.from_deg + since_deg) % 720.0;
        let rad = deg.to_radians();
        let size_m3 = crank::volume_m3(gear, rad);
        let g = self.inside(y[0], y[1], y[2], size_m3);
        let rad_s = self.speed_rpm * PI / 30.0;
        // dV/dt of the slider crank.
        let (crank_m, rod_m) = (0.5 * gear.stroke_m, gear.conrod_m);
        let swing = (rod_m * rod_m - (crank_m * rad.sin()).powi(2)).sqrt();
        let piston_m_s = rad_s * crank_m * rad.sin() * (1.0 + crank_m * rad.cos() / swing);
        let work_w = g.p_pa * crank::piston_area_m2(gear) * piston_m_s;

        let closed = deg >= v.intake_closes_deg || deg < v.exhaust_opens_deg;
        let release = HeatRelease::new(&self.engine.combustion, self.speed_rpm, place.fuel_kg);
        let after = if deg > 500.0 { deg - 720.0 } else { deg };
        let piston_speed = crank::mean_piston_speed_m_s(gear, self.speed_rpm);
        let firing = closed && after >= release.start_deg;
        let motored_pa = if closed {
            let closing_m3 = crank::volume_m3(gear, v.intake_closes_deg.to_radians());
            place.closing_pa * (closing_m3 / size_m3).powf(w.motored_exponent)
        } else {
            0.0
        };
        let velocity = wall_heat::gas_velocity_m_s(
            if closed { w.closed_speed_coefficient } else { w.exchange_speed_coefficient },
            piston_speed,
            w.combustion_coefficient_m_s_k,
            place.reference_k_per_pa,
            if firing { (g.p_pa - motored_pa).max(0.0) } else { 0.0 },
        );
        let alpha = w.multiplier
            * 3.26
            * gear.bore_m.powf(-0.2)
            * (g.p_pa / 1000.0).powf(0.8)
            * g.t_k.powf(-0.55)
            * velocity.powf(0.8);
        let liner_m2 = PI * gear.bore_m * crank::travel_m(gear, rad);
        let head_m2 = 2.0 * crank::piston_area_m2(gear);
        let walls_w = alpha * (head_m2 * (g.t_k - w.head_k) + liner_m2 * (g.t_k - w.liner_k));

        // Burn rate by a central difference of Wiebe's function, good to 1e-9 of the fuel.
        let h = 1e-4;
        let burn_kg_s =
            place.fuel_kg * (release.burned(after + h) - release.burned(after - h)) / (2.0 * h) * 6.0 * self.speed_rpm;

        let mut rates = [burn_kg_s, burn_kg_s * self.gas.fuel_h_j_kg - work_w - walls_w, burn_kg_s, 0.0, 0.0, walls_w];
        rates[if (180.0..540.0).contains(&deg) { 4 } else { 3 }] = work_w;
        let (mut drawn, mut given) = ([0.0; 3], [0.0; 3]);
        if let Some((im, em)) = manifolds {
            drawn = Self::through(ValveSet::intake(v).effective_area_m2(deg), im, &g);
            given = Self::through(ValveSet::exhaust(v).effective_area_m2(deg), &g, em);
            for q in 0..3 {
                rates[q] += drawn[q] - given[q];
            }
        }
        (rates, drawn, given)
    }
}

/// Intake m U X, exhaust m U X, duct flow, p4, turbine flow and its enthalpy as integrals; then six for each cylinder.
const FIRST: usize = 10;

struct Coupled<'a> {
    model: &'a Model<'a>,
    places: Vec<CylinderStart>,
}

impl System<f64, State> for Coupled<'_> {
    fn system(&self, deg: f64, y: &State, dy: &mut State) {
        let (m, e) = (self.model, self.model.engine);
        let y = y.as_slice();
        let im = m.inside(y[0], y[1], y[2], e.manifolds.intake_volume_m3);
        let em = m.inside(y[3], y[4], y[5], e.manifolds.exhaust_volume_m3);
        let (w, p4) = (y[6], y[7]);

        // Compressor, cooler, duct.
        let r = m.gas.r_j_kg_k(0.0);
        let t1 = REFERENCE_DAY.t_k;
        let cp = m.gas.cp_j_kg_k(t1, 0.0);
        let ambient = compressor::CompressorInlet { p_pa: REFERENCE_DAY.p_pa, t_k: t1, r_j_kg_k: r, cp_j_kg_k: cp };
        let p1 = REFERENCE_DAY.p_pa - e.filter.loss_1_m4 * w * w.abs() / (REFERENCE_DAY.p_pa / (r * t1));
        let inlet = compressor::CompressorInlet { p_pa: p1, ..ambient };
        let point = SpeedLine::at(&e.compressor, &ambient, m.shaft_rad_s).point(&e.compressor, &inlet, w);
        let p2 = p1 * point.pressure_ratio;
        let work = point.power_w / w;
        let hot = m.gas.h_j_kg(t1, 0.0) + work;
        let sink = m.gas.h_j_kg(e.charge_cooler.sink_k, 0.0);
        let air_h = hot - cooler::effectiveness(&e.charge_cooler, w) * (hot - sink);
        let rho2 = p2 / (r * (t1 + work / cp));
        let loss = cooler::loss_pa(&e.charge_cooler, w, rho2);

        // Turbine and pipe; the outlet temperature closes a small loop that three rounds settle.
        let tip = 0.5 * e.turbine.wheel_m() * m.shaft_rad_s;
        let (mut flow_kg_s, mut power_w, mut t4) = (0.0, 0.0, m.t4_k.get());
        for _ in 0..4 {
            let gamma = 1.0 + em.r / m.gas.cv_j_kg_k(0.5 * (em.t_k + t4), em.x);
            let ratio = (p4 / em.p_pa).min(1.0);
            flow_kg_s = turbine::area_m2(&e.turbine, m.vane) * em.p_pa / (em.r * em.t_k).sqrt()
                * rounded(ratio.sqrt(), gamma, ROUNDING.1);
            let inlet = turbine::TurbineInlet { p_pa: em.p_pa, t_k: em.t_k, r_j_kg_k: em.r, gamma };
            let drop = turbine::isentropic_drop_j_kg(&inlet, ratio);
            let ratio_u = tip / turbine::spouting_velocity_m_s(drop);
            power_w = flow_kg_s * turbine::efficiency(&e.turbine, m.vane, ratio_u) * drop;
            t4 = em.t_k - power_w / (flow_kg_s * m.gas.cp_j_kg_k(em.t_k, em.x));
        }
        m.t4_k.set(t4);
        let _ = power_w;
        let k = pipe::loss_1_m4(&e.exhaust_pipe, m.friction_factor);
        let half = 0.5 * REFERENCE_DAY.p_pa;
        let target = half + (half * half + k * flow_kg_s * flow_kg_s * em.r * t4).sqrt();

        let per_deg = 1.0 / (6.0 * m.speed_rpm);
        let mut rates = vec![0.0; y.len()];
        let em_loss = e.manifolds.exhaust_loss_w_k * (em.t_k - e.manifolds.exhaust_sink_k);
        rates[0] = w;
        rates[1] = w * air_h;
        rates[3] = -flow_kg_s;
        rates[4] = -flow_kg_s * em.h_j_kg - em_loss;
        rates[5] = -flow_kg_s * em.x;
        // The hole in the exhaust manifold, outward only.
        if em.p_pa > REFERENCE_DAY.p_pa {
            let around = Inside { p_pa: REFERENCE_DAY.p_pa, t_k: t1, x: 0.0, h_j_kg: 0.0, r, gamma: 1.4 };
            let leak = Model::through(e.manifolds.exhaust_leak_m2, &em, &around);
            for q in 0..3 {
                rates[3 + q] -= leak[q];
            }
        }
        rates[6] = e.manifolds.duct_area_m2 / e.manifolds.duct_length_m * (p2 - loss - im.p_pa);
        rates[7] = (target - p4) / e.exhaust_pipe.fill_time_s;
        rates[8] = flow_kg_s;
        rates[9] = flow_kg_s * em.h_j_kg;
        for (i, place) in self.places.iter().enumerate() {
            let at = FIRST + 6 * i;
            let (own, drawn, given) = m.cylinder(place, deg, &y[at..at + 6], Some((&im, &em)));
            rates[at..at + 6].copy_from_slice(&own);
            for q in 0..3 {
                rates[q] -= drawn[q];
                rates[3 + q] += given[q];
            }
        }
        for (to, rate) in dy.iter_mut().zip(rates) {
            *to = rate * per_deg;
        }
    }
}

struct ClosedCylinder<'a> {
    model: &'a Model<'a>,
    place: CylinderStart,
}

impl System<f64, State> for ClosedCylinder<'_> {
    fn system(&self, deg: f64, y: &State, dy: &mut State) {
        let per_deg = 1.0 / (6.0 * self.model.speed_rpm);
        let (rates, _, _) = self.model.cylinder(&self.place, deg, y.as_slice(), None);
        for (to, rate) in dy.iter_mut().zip(rates) {
            *to = rate * per_deg;
        }
    }
}

/// Integrates degree by degree, so that valve events and the start of combustion fall on ends of a piece.
fn through_degrees<S: System<f64, State> + Clone>(system: &S, breaks: &[f64], mut y: State) -> State {
    for piece in breaks.windows(2) {
        let width = piece[1] - piece[0];
        // The crate's own parameters, without its test for stiffness, which could only make it give up.
        let mut solver = Dop853::from_param(
            system.clone(),
            piece[0],
            piece[1],
            width,
            y,
            1e-9,
            1e-12,
            0.9,
            0.0,
            0.333,
            6.0,
            width,
            0.0,
            1_000_000,
            u32::MAX,
            OutputType::Sparse,
        );
        solver.integrate().expect("the tight integrator must get through");
        y = solver.y_out().last().unwrap().clone();
    }
    y
}

impl Clone for Coupled<'_> {
    fn clone(&self) -> Self {
        Self { model: self.model, places: self.places.clone() }
    }
}

impl Clone for ClosedCylinder<'_> {
    fn clone(&self) -> Self {
        Self { model: self.model, place: self.place }
    }
}

/// What one interval of the tight integrator gives.
struct Tight {
    torque_n_m: f64,
    pumping_pa: f64,
    t3_k: f64,
    /// Greatest relative difference of any mass or energy from where the interval began.
    drift: f64,
}

fn tight(engine: &Engine, fine: &Point) -> Tight {
    let (state, fuel_kg) = fine.cycle_state();
    let reading = &fine.reading;
    let speed_rpm = reading.settings.speed_rpm;
    let machine = Machine::new(engine, &REFERENCE_DAY, speed_rpm);
    let gas = Gas::new(0.0, engine.fuel.lhv_j_kg, engine.fuel.hydrogen_to_carbon);
    // The friction factor of the pipe is one number for the whole interval, from the flow at its beginning.
    let viscosity = pipe::viscosity_pa_s(state.t4_k);
    let reynolds = 4.0 * state.flow_kg_s / (PI * engine.exhaust_pipe.bore_m * viscosity);
    let roughness = engine.exhaust_pipe.roughness_m / engine.exhaust_pipe.bore_m;
    let model = Model {
        engine,
        gas,
        speed_rpm,
        vane: state.vane,
        shaft_rad_s: state.shaft_rad_s,
        friction_factor: pipe::friction_factor(reynolds, roughness),
        t4_k: Cell::new(state.t4_k),
    };
    let (slots, open) = (machine.slots(), machine.open_slots());
    let interval_deg = 720.0 / slots as f64;
    let place = |slot: usize, c: &Cylinder| CylinderStart {
        from_deg: (engine.valves.intake_closes_deg + slot as f64 * interval_deg) % 720.0,
        closing_pa: c.closing_pa,
        reference_k_per_pa: c.reference_k_per_pa,
        fuel_kg: c.fuel_kg,
    };
    let first = slots - open;
    let places: Vec<CylinderStart> = state.cylinders.iter().enumerate().map(|(i, c)| place(first + i, c)).collect();
    let mut y = vec![
        state.intake.content.m_kg,
        state.intake.content.u_j,
        state.intake.content.x_kg,
        state.exhaust.content.m_kg,
        state.exhaust.content.u_j,
        state.exhaust.content.x_kg,
        state.flow_kg_s,
        state.p4_pa,
        0.0,
        0.0,
    ];
    for c in &state.cylinders {
        let Content { m_kg, u_j, x_kg } = c.content;
        y.extend([m_kg, u_j, x_kg, 0.0, 0.0, 0.0]);
    }
    let begin = y.clone();
    let whole: Vec<f64> = (0..=interval_deg as usize).map(|deg| deg as f64).collect();
    let end = through_degrees(&Coupled { model: &model, places }, &whole, State::from_vec(y));
    let end = end.as_slice();

    // The cylinder whose intake has just closed, through its closed slots.
    let last = FIRST + 6 * (open - 1);
    let content = Content { m_kg: end[last], u_j: end[last + 1], x_kg: end[last + 2] };
    let mut newest = Cylinder { content, t_k: 380.0, ..Cylinder::default() };
    machine.close_intake(&mut newest, fuel_kg);
    let closed = ClosedCylinder { model: &model, place: place(0, &newest) };
    let start_deg = HeatRelease::new(&engine.combustion, speed_rpm, fuel_kg).start_deg;
    let mut breaks: Vec<f64> = (0..=(first as f64 * interval_deg) as usize).map(|deg| deg as f64).collect();
    breaks.push(720.0 - engine.valves.intake_closes_deg + start_deg);
    breaks.sort_by(f64::total_cmp);
    breaks.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let fired = through_degrees(
        &closed,
        &breaks,
        State::from_vec(vec![content.m_kg, content.u_j, content.x_kg, 0.0, 0.0, 0.0]),
    );

    let sum = |k: usize| (0..open).map(|i| end[FIRST + 6 * i + k]).sum::<f64>() + fired[k];
    let swept = crank::swept_m3(&engine.cylinders);
    let (gross_pa, pumping_pa) = (sum(3) / swept, -sum(4) / swept);
    // Peak pressure only enters friction, by less than a hundredth: the core's own will do.
    let friction_pa = friction::mep_pa(
        &engine.friction,
        reading.indicated.peak_pressure_pa,
        crank::mean_piston_speed_m_s(&engine.cylinders, speed_rpm),
    );
    let torque_n_m = (gross_pa - pumping_pa - friction_pa) * engine.displacement_m3() / (4.0 * PI);
    let mut drift = 0.0_f64;
    for q in [0, 1, 3, 4, 6, 7] {
        drift = drift.max((end[q] / begin[q] - 1.0).abs());
    }
    for i in 1..open {
        for q in 0..2 {
            drift = drift.max((end[FIRST + 6 * (i - 1) + q] / begin[FIRST + 6 * i + q] - 1.0).abs());
        }
    }
    for q in 0..2 {
        drift = drift.max((fired[q] / begin[FIRST + q] - 1.0).abs());
    }
    let x3 = reading.stations.turbine_inlet.burned_fuel_fraction;
    Tight { torque_n_m, pumping_pa, t3_k: model.gas.t_of_h_k(end[9] / end[8], x3, 800.0), drift }
}

#[test]
fn identity_the_everyday_step_follows_a_tight_integrator() {
    let engines = support::engines();
    let points = [
        (0, 2_400.0, 126e-6, 100.0, 0.0),
        (0, 1_500.0, 80e-6, 75.0, 0.0),
        (0, 1_000.0, 71e-6, 30.0, 0.0),
        (0, 800.0, 60e-6, 60.0, 0.0),
        (1, 1_000.0, 25e-6, 60.0, 0.0),
        (1, 1_500.0, 35e-6, 70.0, 0.0),
        (1, 3_400.0, 52e-6, 100.0, 0.0),
        (0, 1_800.0, 100e-6, 50.0, 1e-4),
        (1, 1_500.0, 35e-6, 40.0, 4e-5),
    ];
    let exact = Effort { state: 1e-6, balance: 3e-7, intervals: 200 };
    println!("everyday step less tight integrator:");
    for (index, speed_rpm, fuel_kg_per_cycle, vane_open_pct, leak_m2) in points {
        let mut engine: Engine = engines[index].clone();
        engine.set("manifolds.exhaust_leak_m2", leak_m2).unwrap();
        let engine = &engine;
        let load = Load::Fuel { fuel_kg_per_cycle };
        let settings = Settings { speed_rpm, load, vane_open_pct, ambient: REFERENCE_DAY };
        let at = |steps_per_degree| {
            let options = Options { effort: exact, trace: false, diagnose: false, steps_per_degree };
            solve_with(engine, &settings, None, &options).unwrap()
        };
        let fine = at(Some(16));
        let everyday: Reading = at(None).reading;
        let reference = tight(engine, &fine);
        let torque = everyday.brake.torque_n_m / reference.torque_n_m - 1.0;
        let pumping_pa = everyday.indicated.pumping_mep_pa - reference.pumping_pa;
        let t3_k = everyday.stations.turbine_inlet.t_k - reference.t3_k;
        println!(
            "{} {speed_rpm} 1/min, hole {leak_m2:e} m2: torque {:+.4} %, pumping {:+.4} kPa, T3 {t3_k:+.2} K; the tight interval returns to {:.1e}",
            engine.name,
            100.0 * torque,
            pumping_pa / 1e3,
            reference.drift
        );
        assert!(
            reference.drift < 1e-4,
            "{}: the tight integrator does not come back: {}",
            engine.name,
            reference.drift
        );
        assert!(torque.abs() < 5e-4, "{}: torque {torque:+e}", engine.name);
        assert!(pumping_pa.abs() < 300.0, "{}: pumping {pumping_pa} Pa", engine.name);
    }
}
