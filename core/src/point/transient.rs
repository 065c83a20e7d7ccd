//! The same engine marched in time: load steps, moving vanes, real shaft inertia.

use crate::cycle::{Machine, Means, State};
use crate::math;
use crate::parts::{crank, friction};
use crate::point::matching::{LEAST_EXCESS_AIR, turbine_inlet};
use crate::point::steady::{BenchError, Point, interval};
use crate::settings::{Load, Settings};
use alloc::sync::Arc;
use serde::Serialize;

/// Means over one firing interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sample {
    /// End of the interval, in s since the start.
    pub time_s: f64,
    /// Torque at the crank, in N m.
    pub torque_n_m: f64,
    /// Fuel given to the cylinder that fired, in kg.
    pub fuel_kg_per_cycle: f64,
    /// Fuel that the smoke limit would allow it, in kg.
    pub smoke_limit_fuel_kg: f64,
    /// Vane position as it stands (the actuator lags), in per cent open.
    pub vane_open_pct: f64,
    /// Compressor outlet, absolute, in Pa.
    pub p2_pa: f64,
    /// Intake manifold, absolute, in Pa.
    pub intake_manifold_pa: f64,
    /// Exhaust manifold, absolute, in Pa.
    pub p3_pa: f64,
    /// Turbine-inlet temperature, in K.
    pub t3_k: f64,
    /// Turbocharger shaft, in rad/s.
    pub shaft_rad_s: f64,
    /// Flow through the compressor, in kg/s; negative runs backwards.
    pub air_flow_kg_s: f64,
    /// Least flow through the compressor within the interval.
    pub least_air_flow_kg_s: f64,
    /// Pumping mean effective pressure, in Pa; positive when it costs torque.
    pub pumping_mep_pa: f64,
    /// Air that the firing cylinder had trapped, over its fuel.
    pub air_fuel_ratio: f64,
}

/// An engine running in time.
///
/// True order of firing, real shaft inertia, vanes that lag behind their setting. The brake holds the speed. With torque
/// held, the governor gives each cylinder, as its intake closes, the fuel that should make the torque, within the smoke
/// limit of the fresh air which that cylinder has trapped.
#[derive(Debug, Clone)]
pub struct Transient {
    machine: Arc<Machine>,
    settings: Settings,
    state: State,
    time_s: f64,
    /// Gross indicated work for each J of fuel, of the last cycles: the governor's knowledge.
    gross: f64,
    /// Pumping and friction of the last interval, as mean effective pressure.
    losses_pa: f64,
    last_air_fuel_ratio: f64,
}

/// Disturbance of the flow by which stability is judged. Chosen: small enough to stay on the map, large against rounding.
const NUDGE: f64 = 0.03;
/// Intervals for which a disturbed point is watched. Chosen: several periods of duct and manifold at every speed.
const WATCH: usize = 48;

impl Transient {
    /// Begins at a steady point. One that does not hold is no place to stand on: what follows is then only the model's way
    /// out of a state that it was in.
    pub fn start(point: &Point) -> Self {
        let machine = point.machine.clone();
        let (_, means) = interval(&machine, &point.iterate, None);
        let mut state = point.iterate.state.clone();
        // The closed slots, which the steady solver leaves out: the cylinder whose intake has just closed, and its elders.
        let mut coupled = state.clone();
        machine.run_coupled(&mut coupled, 0, false, &mut Means::default(), None);
        if let Some(mut closed) = coupled.cylinders.pop() {
            machine.close_intake(&mut closed, point.iterate.fuel_kg);
            for slot in 0..machine.closed_slots {
                state.cylinders.insert(slot, closed);
                machine.run_closed(&mut closed, slot, 1, &mut Means::default(), None);
            }
        }
        let reading = &point.reading;
        Self {
            settings: point.settings,
            state,
            time_s: 0.0,
            gross: means.gross_j / (means.fuel_kg * machine.engine.fuel.lhv_j_kg).max(1e-9),
            losses_pa: reading.indicated.pumping_mep_pa + reading.indicated.friction_mep_pa,
            last_air_fuel_ratio: reading.air_fuel_ratio,
            machine,
        }
    }

    /// New settings, from the next firing on. A new speed takes effect at once: the brake holds it. Errors as for a steady
    /// point; the engine then runs on as before.
    pub fn set(&mut self, settings: &Settings) -> Result<(), BenchError> {
        settings.check(&self.machine.engine)?;
        if settings.speed_rpm != self.settings.speed_rpm || settings.ambient != self.settings.ambient {
            let new = Machine::new(&self.machine.engine, &settings.ambient, settings.speed_rpm);
            // Other air has another energy of formation: what stands in the volumes keeps mass, temperature and pressure,
            // not that energy.
            let state = &mut self.state;
            for v in [&mut state.intake, &mut state.exhaust] {
                v.u_j = v.m_kg * new.gas.u_j_kg(v.t_k, v.x_kg / v.m_kg);
            }
            for c in &mut state.cylinders {
                c.u_j = c.m_kg * new.gas.u_j_kg(c.t_k, c.x_kg / c.m_kg);
            }
            self.machine = Arc::new(new);
        }
        self.settings = *settings;
        Ok(())
    }

    /// What it is set to.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Length of one firing interval at the present speed, in s.
    pub fn interval_s(&self) -> f64 {
        self.machine.interval_s()
    }

    /// Runs one firing interval.
    pub fn advance(&mut self) -> Sample {
        let machine = &self.machine;
        let engine = &machine.engine;
        let time_s = machine.interval_s();
        let lag = 1.0 - math::exp(-time_s / engine.vanes.actuator_time_s);
        self.state.vane += lag * (engine.vanes.open_pct(self.settings.vane_open_pct) / 100.0 - self.state.vane);

        let exhaust_x = self.state.exhaust.x_kg / self.state.exhaust.m_kg;
        let swept = crank::swept_m3(&engine.cylinders);
        let combustion = &engine.combustion;
        let newest = &mut self.state.cylinders[0];
        let left_over = if exhaust_x > 1e-4 { (newest.x_kg / newest.m_kg / exhaust_x).clamp(0.0, 1.0) } else { 0.0 };
        let air_kg = newest.m_kg * (1.0 - left_over);
        let (asked_kg, least_ratio) = match self.settings.load {
            Load::Torque { torque_n_m } => {
                let brake_pa = torque_n_m * 4.0 * core::f64::consts::PI / engine.displacement_m3();
                let gross = self.gross.clamp(0.2, 0.65);
                ((brake_pa + self.losses_pa) * swept / (gross * engine.fuel.lhv_j_kg), combustion.smoke_limit_afr)
            }
            Load::Fuel { fuel_kg_per_cycle } => {
                (fuel_kg_per_cycle, LEAST_EXCESS_AIR * machine.gas.stoichiometric_ratio)
            }
        };
        let smoke_kg = air_kg / least_ratio;
        let fuel_kg = asked_kg.max(combustion.least_fuel_kg).min(combustion.injector_limit_kg).min(smoke_kg.max(0.0));
        machine.close_intake(newest, fuel_kg);
        self.last_air_fuel_ratio = air_kg / fuel_kg.max(1e-12);

        let mut means = Means::default();
        for slot in 0..machine.closed_slots {
            machine.run_closed(&mut self.state.cylinders[slot], slot, 1, &mut means, None);
        }
        machine.run_coupled(&mut self.state, machine.closed_slots, true, &mut means, None);
        self.state.cylinders.rotate_right(1);
        self.time_s += time_s;

        let pumping_pa = -means.exchange_j / swept;
        let friction_pa = friction::mep_pa(&engine.friction, means.peak_pa, machine.piston_speed_m_s());
        let gross_pa = means.gross_j / swept;
        let burned_j = means.fuel_kg * engine.fuel.lhv_j_kg;
        if burned_j > 1.0 {
            self.gross += 0.5 * (means.gross_j / burned_j - self.gross);
        }
        self.losses_pa = pumping_pa + friction_pa;
        let (t3_k, _) = turbine_inlet(machine, &means);
        Sample {
            time_s: self.time_s,
            torque_n_m: (gross_pa - pumping_pa - friction_pa) * engine.displacement_m3()
                / (4.0 * core::f64::consts::PI),
            fuel_kg_per_cycle: fuel_kg,
            smoke_limit_fuel_kg: smoke_kg,
            vane_open_pct: 100.0 * self.state.vane,
            p2_pa: means.p2_pa,
            intake_manifold_pa: means.intake_pa,
            p3_pa: means.p3_pa,
            t3_k,
            shaft_rad_s: self.state.shaft_rad_s,
            air_flow_kg_s: means.air_kg / time_s,
            least_air_flow_kg_s: means.least_flow_kg_s,
            pumping_mep_pa: pumping_pa,
            air_fuel_ratio: self.last_air_fuel_ratio,
        }
    }

    /// Whether a small disturbance of the flow at a steady point dies out, with its fuel held.
    pub(crate) fn dies_out(point: &Point) -> bool {
        let mut run = Self::start(point);
        run.settings.load = Load::Fuel { fuel_kg_per_cycle: point.iterate.fuel_kg };
        let base = point.reading.air_flow_kg_s;
        run.state.flow_kg_s *= 1.0 - NUDGE;
        let mut early = 0.0_f64;
        let mut late = 0.0_f64;
        for i in 0..WATCH {
            let sample = run.advance();
            let off = math::fabs(sample.air_flow_kg_s / base - 1.0);
            if !off.is_finite() || sample.least_air_flow_kg_s < 0.0 {
                return false;
            }
            if i < WATCH / 4 {
                early = early.max(off);
            } else if i >= 3 * WATCH / 4 {
                late = late.max(off);
            }
        }
        late < early
    }
}
