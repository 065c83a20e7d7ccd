//! The same engine marched in time: load steps, moving vanes, real shaft inertia.

use crate::cycle::{Cylinder, Machine, WholeEngine};
use crate::math;
use crate::parts::{crank, friction, vanes};
use crate::point::iterate::interval;
use crate::point::matching::{LEAST_EXCESS_AIR, turbine_inlet};
use crate::point::operating_point::{BenchError, Point};
use crate::settings::{Load, Settings};
use alloc::sync::Arc;
use alloc::vec::Vec;
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
/// The cylinders fire in turn, the shaft has its inertia, and the vanes lag behind their setting. The brake holds the speed.
/// With torque held, the governor sets the fuel of each cylinder when its intake closes. It gives the fuel that should make
/// the torque. It never gives more than the smoke limit allows for the fresh air in that cylinder.
#[derive(Debug, Clone)]
pub struct Transient {
    machine: Arc<Machine>,
    settings: Settings,
    engine: WholeEngine,
    time_s: f64,
    /// Gross indicated work for each J of fuel, of the last cycles: the governor's knowledge.
    gross: f64,
    /// Pumping and friction of the last interval, as mean effective pressure.
    losses_pa: f64,
}

/// Gross efficiencies that the governor believes. Chosen: outside them it has met a cycle that hardly fired.
const BELIEVED: (f64, f64) = (0.2, 0.65);
/// Share of the last cycle in what the governor knows. Chosen: it learns within a few cycles and does not swing.
const LEARNING: f64 = 0.5;
/// Heat of a cycle below which the governor learns nothing, in J. Chosen: below that of the least fuel of any engine.
const LEAST_HEAT_J: f64 = 1.0;
/// Burned fuel in the exhaust manifold below which left-over gas counts as air. Chosen: far below that of any fired engine.
const LEAST_BURNED: f64 = 1e-4;

/// What the governor gives one cylinder.
struct Injection {
    fuel_kg: f64,
    smoke_kg: f64,
    air_kg: f64,
}

impl Transient {
    /// Begins at a steady point.
    ///
    /// From a point that does not hold, only the beginning of the march is doubtful: the model leaves a state that no engine
    /// was ever in.
    pub fn start(point: &Point) -> Self {
        let machine = point.machine.clone();
        let (_, means) = interval(&machine, &point.iterate, None);
        // The cylinders with shut valves are not part of a steady state: the one whose intake has just closed is run on, and
        // where it comes to stand after each slot is where the older ones are now.
        let mut last = point.iterate.state.clone();
        machine.run_exchange(&mut last, None);
        let mut closed = Vec::with_capacity(machine.closed_slots);
        if let Some(mut newest) = last.cylinders.pop() {
            machine.close_intake(&mut newest, point.iterate.fuel_kg);
            for slot in 0..machine.closed_slots {
                closed.push(newest);
                machine.run_closed(&mut newest, slot, 1, &mut Default::default(), None);
            }
        }
        let reading = &point.reading;
        Self {
            settings: point.settings,
            engine: WholeEngine { exchange: point.iterate.state.clone(), closed },
            time_s: 0.0,
            gross: means.strokes.gross_j / (means.strokes.fuel_kg * machine.plant.engine.fuel.lhv_j_kg).max(1e-9),
            losses_pa: reading.indicated.pumping_mep_pa + reading.indicated.friction_mep_pa,
            machine,
        }
    }

    /// Begins at a steady point with its fuel held and the flow in the duct multiplied.
    pub(crate) fn disturbed(point: &Point, flow_factor: f64) -> Self {
        let mut run = Self::start(point);
        run.settings.load = Load::Fuel { fuel_kg_per_cycle: point.iterate.fuel_kg };
        run.engine.exchange.flow_kg_s *= flow_factor;
        run
    }

    /// New settings, from the next firing on. A new speed takes effect at once: the brake holds it. Errors as for a steady
    /// point; the engine then runs on as before.
    pub fn set(&mut self, settings: &Settings) -> Result<(), BenchError> {
        let engine = &self.machine.plant.engine;
        settings.check(engine)?;
        if settings.speed_rpm != self.settings.speed_rpm || settings.ambient != self.settings.ambient {
            let new = Machine::new(engine, &settings.ambient, settings.speed_rpm);
            // Other air has another energy of formation: what stands in the volumes keeps mass, temperature and pressure,
            // not that energy.
            let exchange = &mut self.engine.exchange;
            for v in [&mut exchange.intake, &mut exchange.exhaust] {
                v.content.u_j = v.content.m_kg * new.plant.gas.u_j_kg(v.t_k, v.content.x());
            }
            for c in self.engine.cylinders_mut() {
                c.content.u_j = c.content.m_kg * new.plant.gas.u_j_kg(c.t_k, c.content.x());
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
        let machine = self.machine.clone();
        let engine = &machine.plant.engine;
        let time_s = machine.interval_s();
        let lag = 1.0 - math::exp(-time_s / engine.vanes.actuator_time_s);
        let exchange = &mut self.engine.exchange;
        exchange.vane += lag * (engine.vanes.position(self.settings.vane_open_pct) - exchange.vane);
        let exhaust_x = exchange.exhaust.content.x();
        let newest = *self.engine.newest();
        let injection = self.govern(exhaust_x, &newest);
        machine.close_intake(self.engine.newest(), injection.fuel_kg);
        let means = machine.run_whole(&mut self.engine);
        self.time_s += time_s;

        let strokes = &means.strokes;
        let pumping_pa = -strokes.exchange_j / machine.swept_m3;
        let friction_pa = friction::mep_pa(&engine.friction, strokes.peak_pa, machine.piston_speed_m_s);
        let gross_pa = strokes.gross_j / machine.swept_m3;
        let burned_j = strokes.fuel_kg * engine.fuel.lhv_j_kg;
        if burned_j > LEAST_HEAT_J {
            self.gross += LEARNING * (strokes.gross_j / burned_j - self.gross);
        }
        self.losses_pa = pumping_pa + friction_pa;
        let (t3_k, _) = turbine_inlet(&machine, &means);
        let exchange = &self.engine.exchange;
        Sample {
            time_s: self.time_s,
            torque_n_m: engine.torque_n_m(gross_pa - pumping_pa - friction_pa),
            fuel_kg_per_cycle: injection.fuel_kg,
            smoke_limit_fuel_kg: injection.smoke_kg,
            vane_open_pct: vanes::open_pct(exchange.vane),
            p2_pa: means.p2_pa,
            intake_manifold_pa: means.intake_pa,
            p3_pa: means.p3_pa,
            t3_k,
            shaft_rad_s: exchange.shaft_rad_s,
            air_flow_kg_s: means.air.m_kg / time_s,
            least_air_flow_kg_s: means.least_flow_kg_s,
            pumping_mep_pa: pumping_pa,
            air_fuel_ratio: injection.air_kg / injection.fuel_kg.max(1e-12),
        }
    }

    /// Fuel for the cylinder whose intake has just closed.
    fn govern(&self, exhaust_x: f64, newest: &Cylinder) -> Injection {
        let engine = &self.machine.plant.engine;
        let combustion = &engine.combustion;
        let content = &newest.content;
        let left_over = if exhaust_x > LEAST_BURNED { (content.x() / exhaust_x).clamp(0.0, 1.0) } else { 0.0 };
        let air_kg = content.m_kg * (1.0 - left_over);
        let (asked_kg, least_ratio) = match self.settings.load {
            Load::Torque { torque_n_m } => {
                let brake_pa = crank::work_j(torque_n_m) / engine.displacement_m3();
                let gross = self.gross.clamp(BELIEVED.0, BELIEVED.1);
                let asked_j = (brake_pa + self.losses_pa) * self.machine.swept_m3;
                (asked_j / (gross * engine.fuel.lhv_j_kg), combustion.smoke_limit_afr)
            }
            Load::Fuel { fuel_kg_per_cycle } => {
                (fuel_kg_per_cycle, LEAST_EXCESS_AIR * self.machine.plant.gas.stoichiometric_ratio)
            }
        };
        let smoke_kg = air_kg / least_ratio;
        let fuel_kg = asked_kg.max(combustion.least_fuel_kg).min(combustion.injector_limit_kg).min(smoke_kg.max(0.0));
        Injection { fuel_kg, smoke_kg, air_kg }
    }
}
