//! From the integrals of one firing interval to a reading.

use crate::cycle::{Machine, Means, Recorder};
use crate::gas::flow;
use crate::math;
use crate::parts::{coolant, friction, turbine};
use crate::point::balance::{Misses, energy_miss, shaft_miss};
use crate::point::iterate::Iterate;
use crate::point::matching::turbine_inlet;
use crate::point::reading::{
    BrakeReading, CompressorReading, Convergence, HeatReading, IndicatedReading, LimitName, LimitReading, Outcome,
    Reading, SettingsReading, ShaftReading, Stability, Station, Stations, TurbineReading,
};
use crate::settings::Settings;
use alloc::vec;
use alloc::vec::Vec;

/// How the search ended, for the reading.
pub(crate) struct Found {
    pub outcome: Outcome,
    pub holds: bool,
    pub intervals: u32,
    pub misses: Misses,
}

/// One interval, from which the reading is worked out part by part.
struct Answer<'a> {
    machine: &'a Machine,
    settings: &'a Settings,
    means: &'a Means,
    /// Intervals in a second.
    rate: f64,
    shaft_rad_s: f64,
    vane: f64,
    /// Ahead of the turbine: temperature of the flux-mean enthalpy, and burned-fuel fraction.
    t3_k: f64,
    x3: f64,
}

/// The reading of one firing interval.
pub(crate) fn reading(
    machine: &Machine,
    settings: &Settings,
    iterate: &Iterate,
    means: &Means,
    found: &Found,
    recorder: Option<&Recorder>,
) -> Reading {
    let engine = &machine.plant.engine;
    let ambient = machine.plant.ambient;
    let (shaft_rad_s, vane) = (iterate.state.shaft_rad_s, iterate.state.vane);
    let (t3_k, x3) = turbine_inlet(machine, means);
    let answer = Answer { machine, settings, means, rate: 1.0 / means.time_s, shaft_rad_s, vane, t3_k, x3 };
    let stations = answer.stations();
    let compressor = answer.compressor(&stations);
    let (brake, indicated) = answer.crank(&stations);
    let bearing_loss_w = engine.shaft.bearing_loss_w(shaft_rad_s);
    let heat = answer.heat(&stations, &indicated);
    let air_flow_kg_s = means.air.m_kg * answer.rate;
    let fuel_flow_kg_s = answer.fuel_kg_s();
    let air_fuel_ratio = air_flow_kg_s / nonzero(fuel_flow_kg_s);
    Reading {
        settings: SettingsReading::of(settings, engine.cylinder_count()),
        outcome: found.outcome,
        holds: found.holds,
        ambient,
        stations,
        air_flow_kg_s,
        fuel_flow_kg_s,
        exhaust_leak_kg_s: means.leak.m_kg * answer.rate,
        fuel_kg_per_cycle: means.strokes.fuel_kg,
        fuel_lhv_j_kg: engine.fuel.lhv_j_kg,
        air_fuel_ratio,
        boost_pa: means.intake_pa - ambient.p_pa,
        pressure_balance_pa: means.p2_pa - means.p3_pa,
        density_ratio: stations.intake_manifold.density_kg_m3 / stations.compressor_inlet.density_kg_m3,
        compressor,
        turbine: answer.turbine(),
        shaft: ShaftReading { speed_rad_s: shaft_rad_s, bearing_loss_w },
        heat,
        brake,
        indicated,
        displacement_m3: engine.displacement_m3(),
        limits: limits(machine, &stations, &compressor, &indicated, &heat, air_fuel_ratio, shaft_rad_s),
        stability: Stability::Stable,
        convergence: Convergence {
            firing_intervals: found.intervals,
            residual: found.misses.worst(),
            energy_closure: energy_miss(machine, means),
            shaft_closure: shaft_miss(machine, shaft_rad_s, means),
        },
        trace: recorder.map(|record| record.trace(machine)),
    }
}

impl Answer<'_> {
    fn fuel_kg_s(&self) -> f64 {
        self.means.strokes.fuel_kg * self.rate
    }

    fn compressor_work_j_kg(&self) -> f64 {
        self.means.compressor_j / nonzero(self.means.air.m_kg)
    }

    /// Burned-fuel fraction of what leaks.
    fn leak_x(&self) -> f64 {
        if self.means.leak.m_kg > 0.0 { self.means.leak.x() } else { self.x3 }
    }

    /// The stations. Temperatures are those of the flux-mean enthalpy at the flux-mean composition.
    fn stations(&self) -> Stations {
        let (means, plant, rate) = (self.means, &self.machine.plant, self.rate);
        let (gas, t3_k, x3) = (&plant.gas, self.t3_k, self.x3);
        let station = |p_pa: f64, t_k: f64, mass_flow_kg_s: f64, x: f64| Station {
            p_pa,
            t_k,
            mass_flow_kg_s,
            burned_fuel_fraction: x,
            density_kg_m3: p_pa / (gas.r_j_kg_k(x) * t_k),
        };
        let air = means.air.m_kg * rate;
        let t1_k = plant.ambient.t_k;
        let hot_j_kg = plant.ambient_h_j_kg + self.compressor_work_j_kg();
        let t2_k = gas.t_of_h_k(hot_j_kg, 0.0, t1_k + 50.0);
        let cooled_k = gas.t_of_h_k(hot_j_kg - means.cooler_j / nonzero(means.air.m_kg), 0.0, t1_k + 20.0);
        let drawn_kg = nonzero(means.drawn.m_kg);
        let drawn_x = means.drawn.x_kg / drawn_kg;
        let drawn_k = gas.t_of_h_k(means.drawn.u_j / drawn_kg, drawn_x, cooled_k);
        let turbine_kg = nonzero(means.turbine.m_kg);
        let t4_k = gas.t_of_h_k((means.turbine.u_j - means.turbine_j) / turbine_kg, x3, t3_k - 50.0);
        let turbine_flow = means.turbine.m_kg * rate;
        let leak_x = self.leak_x();
        let leak_k = if means.leak.m_kg > 0.0 { gas.t_of_h_k(means.leak.j_kg(), leak_x, t3_k) } else { t3_k };
        Stations {
            compressor_inlet: station(means.p1_pa, t1_k, air, 0.0),
            compressor_outlet: station(means.p2_pa, t2_k, air, 0.0),
            charge_cooler_outlet: station(means.cooler_out_pa, cooled_k, air, 0.0),
            intake_manifold: station(means.intake_pa, drawn_k, means.drawn.m_kg * rate, drawn_x.max(0.0)),
            turbine_inlet: station(means.p3_pa, t3_k, turbine_flow, x3),
            turbine_outlet: station(means.p4_pa, t4_k, turbine_flow, x3),
            exhaust_leak: station(means.p3_pa, leak_k, means.leak.m_kg * rate, leak_x),
        }
    }

    fn compressor(&self, stations: &Stations) -> CompressorReading {
        let (means, plant) = (self.means, &self.machine.plant);
        let pressure_ratio = means.p2_pa / means.p1_pa;
        let ideal_k = plant.gas.isentropic_t_k(plant.ambient.t_k, 0.0, pressure_ratio);
        let ideal_j_kg = plant.gas.h_j_kg(ideal_k, 0.0) - plant.ambient_h_j_kg;
        let line = plant.speed_line(self.shaft_rad_s);
        CompressorReading {
            power_w: means.compressor_j * self.rate,
            efficiency: ideal_j_kg / nonzero(self.compressor_work_j_kg()),
            pressure_ratio,
            density_ratio: stations.compressor_outlet.density_kg_m3 / stations.compressor_inlet.density_kg_m3,
            surge_margin: means.flow_coefficient / line.surge_flow - 1.0,
            choke_margin: 1.0 - means.flow_coefficient / line.choke_flow,
            tip_speed_m_s: line.tip_speed_m_s,
        }
    }

    /// The turbine, of the mean states.
    fn turbine(&self) -> TurbineReading {
        let (means, engine, gas) = (self.means, &self.machine.plant.engine, &self.machine.plant.gas);
        let (t3_k, x3) = (self.t3_k, self.x3);
        let expansion_ratio = means.p3_pa / means.p4_pa;
        let ideal4_k = gas.isentropic_t_k(t3_k, x3, 1.0 / expansion_ratio);
        let drop_j_kg = (gas.h_j_kg(t3_k, x3) - gas.h_j_kg(ideal4_k, x3)).max(1.0);
        let gamma3 = 1.0 + gas.r_j_kg_k(x3) / gas.cv_j_kg_k(t3_k, x3);
        let tip_speed_m_s = engine.turbine.tip_speed_m_s(self.shaft_rad_s);
        TurbineReading {
            power_w: means.turbine_j * self.rate,
            efficiency: means.turbine_j / nonzero(means.turbine.m_kg) / drop_j_kg,
            cycle_efficiency: means.turbine_j / nonzero(means.turbine_ideal_j),
            expansion_ratio,
            vane_open_pct: engine.vanes.open_pct(self.settings.vane_open_pct),
            throat_area_m2: turbine::area_m2(&engine.turbine, self.vane),
            blade_speed_ratio: tip_speed_m_s / turbine::spouting_velocity_m_s(drop_j_kg),
            flow_parameter: means.turbine.m_kg * self.rate * math::sqrt(t3_k) / means.p3_pa,
            choked: math::sqrt(1.0 / expansion_ratio) <= flow::critical_ratio(gamma3),
        }
    }

    fn crank_rad_s(&self) -> f64 {
        self.machine.speed_rpm * core::f64::consts::PI / 30.0
    }

    /// At the crank, and inside the cylinders.
    fn crank(&self, stations: &Stations) -> (BrakeReading, IndicatedReading) {
        let (means, machine, engine) = (self.means, self.machine, &self.machine.plant.engine);
        let (strokes, swept) = (&means.strokes, machine.swept_m3);
        let gross_mep_pa = strokes.gross_j / swept;
        let pumping_mep_pa = -strokes.exchange_j / swept;
        let friction_mep_pa = friction::mep_pa(&engine.friction, strokes.peak_pa, machine.piston_speed_m_s);
        let crank_rad_s = self.crank_rad_s();
        let brake_mep_pa = gross_mep_pa - pumping_mep_pa - friction_mep_pa;
        let torque_n_m = engine.torque_n_m(brake_mep_pa);
        let brake = BrakeReading {
            torque_n_m,
            power_w: torque_n_m * crank_rad_s,
            mep_pa: brake_mep_pa,
            efficiency: torque_n_m * crank_rad_s / nonzero(self.fuel_kg_s() * engine.fuel.lhv_j_kg),
        };
        let filling_kg = swept * means.intake_pa / (machine.plant.gas.r_j_kg_k(0.0) * stations.intake_manifold.t_k);
        let pumping_torque_n_m = engine.torque_n_m(pumping_mep_pa);
        let indicated = IndicatedReading {
            gross_mep_pa,
            pumping_mep_pa,
            friction_mep_pa,
            pumping_torque_n_m,
            pumping_power_w: pumping_torque_n_m * crank_rad_s,
            peak_pressure_pa: strokes.peak_pa,
            peak_pressure_deg: strokes.peak_deg,
            residual_fraction: if self.x3 > 0.0 { means.trapped_x / self.x3 } else { 0.0 },
            volumetric_efficiency: means.drawn.m_kg / filling_kg,
        };
        (brake, indicated)
    }

    fn heat(&self, stations: &Stations, indicated: &IndicatedReading) -> HeatReading {
        let (means, plant, rate) = (self.means, &self.machine.plant, self.rate);
        let (engine, c) = (&plant.engine, &plant.engine.coolant);
        let friction_w = engine.torque_n_m(indicated.friction_mep_pa) * self.crank_rad_s();
        let walls_w = means.strokes.walls_j * rate;
        let exhaust_manifold_w = means.exhaust_loss_j * rate;
        let coolant_w = walls_w
            + engine.friction.coolant_share * friction_w
            + engine.manifolds.exhaust_coolant_share * exhaust_manifold_w;
        let coolant_flow = coolant::flow_m3_s(c.flow_m3_s, self.machine.speed_rpm);
        // The engine's ranges exclude a pump that stands still, which is all that can be wrong here.
        let coolant_rise_k =
            coolant::rise_k(coolant_w, coolant_flow, c.density_kg_m3, c.heat_capacity_j_kg_k).unwrap_or(f64::INFINITY);
        // Of the ambient air's state: air as it came, and fuel that has given off its heating value.
        let burned_h_j_kg = plant.gas.fuel_h_j_kg - engine.fuel.lhv_j_kg;
        let leak_x = self.leak_x();
        let leak_h_j_kg = (1.0 - leak_x) * plant.ambient_h_j_kg + leak_x * burned_h_j_kg;
        let exhaust_leak_w = (means.leak.u_j - means.leak.m_kg * leak_h_j_kg) * rate;
        let exhaust_gas_w = (means.turbine.u_j - means.turbine_j + means.leak.u_j) * rate
            - stations.compressor_inlet.mass_flow_kg_s * plant.ambient_h_j_kg
            - self.fuel_kg_s() * burned_h_j_kg
            - exhaust_leak_w;
        HeatReading {
            coolant_w,
            coolant_rise_k,
            walls_w,
            charge_cooler_w: means.cooler_j * rate,
            exhaust_manifold_w,
            friction_w,
            exhaust_gas_w,
            exhaust_leak_w,
        }
    }
}

/// The number, or the least that may divide.
fn nonzero(x: f64) -> f64 {
    if math::fabs(x) < 1e-12 { 1e-12 } else { x }
}

/// How near every limit is.
fn limits(
    machine: &Machine,
    stations: &Stations,
    compressor: &CompressorReading,
    indicated: &IndicatedReading,
    heat: &HeatReading,
    air_fuel_ratio: f64,
    shaft_rad_s: f64,
) -> Vec<LimitReading> {
    let (engine, ambient) = (&machine.plant.engine, &machine.plant.ambient);
    let l = &engine.limits;
    // The margin of a quantity that must stay below its limit is what is left of it, counted from a base at which nothing is
    // used up.
    let below = |name, value: f64, limit: f64, unit, base: f64| LimitReading {
        name,
        value,
        limit,
        unit,
        margin: (limit - value) / (limit - base),
        crossed: value > limit,
    };
    let above = |name, value: f64, limit: f64| LimitReading {
        name,
        value,
        limit,
        unit: "",
        margin: value - limit,
        crossed: value < limit,
    };
    let smoke = engine.combustion.smoke_limit_afr;
    let (t2_k, turbine_inlet) = (stations.compressor_outlet.t_k, &stations.turbine_inlet);
    vec![
        below(LimitName::ShaftSpeed, shaft_rad_s, engine.shaft_limit_rad_s(), "rad/s", 0.0),
        above(LimitName::SurgeMargin, compressor.surge_margin, l.surge_margin),
        above(LimitName::ChokeMargin, compressor.choke_margin, l.choke_margin),
        below(LimitName::TurbineInletTemperature, turbine_inlet.t_k, l.turbine_inlet_k, "K", ambient.t_k),
        below(LimitName::CompressorOutletTemperature, t2_k, l.compressor_outlet_k, "K", ambient.t_k),
        below(LimitName::CylinderPressure, indicated.peak_pressure_pa, l.cylinder_pressure_pa, "Pa", 0.0),
        below(LimitName::ExhaustManifoldPressure, turbine_inlet.p_pa, l.exhaust_manifold_pa, "Pa", ambient.p_pa),
        // At the limit itself the fuel is being held there, which the outcome says: crossed is only what lies beyond.
        LimitReading {
            margin: air_fuel_ratio / smoke - 1.0,
            crossed: air_fuel_ratio < smoke * (1.0 - 1e-3),
            ..above(LimitName::AirFuelRatio, air_fuel_ratio, smoke)
        },
        below(LimitName::CoolantRise, heat.coolant_rise_k, l.coolant_rise_k, "K", 0.0),
    ]
}
