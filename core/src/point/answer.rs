//! From the integrals of one firing interval to a reading.

use crate::cycle::{Machine, Means, Recorder};
use crate::gas::flow;
use crate::math;
use crate::parts::compressor::SpeedLine;
use crate::parts::{coolant, crank, friction, turbine};
use crate::point::matching::turbine_inlet;
use crate::point::reading::{
    BrakeReading, CompressorReading, Convergence, HeatReading, IndicatedReading, LimitName, LimitReading, Outcome,
    Reading, SettingsReading, ShaftReading, Stability, Station, Stations, TurbineReading,
};
use crate::point::steady::{Iterate, Misses, energy_miss, shaft_miss};
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

pub(crate) fn reading(
    machine: &Machine,
    settings: &Settings,
    iterate: &Iterate,
    means: &Means,
    found: &Found,
    recorder: Option<&Recorder>,
) -> Reading {
    let engine = &machine.engine;
    let gas = &machine.gas;
    let count = engine.cylinders.count;
    let time = means.time_s;
    let rate = 1.0 / time;
    let shaft_rad_s = iterate.state.shaft_rad_s;
    let swept = crank::swept_m3(&engine.cylinders);

    // Stations. Temperatures are those of the flux-mean enthalpy at the flux-mean composition.
    let station = |p_pa: f64, t_k: f64, mass_flow_kg_s: f64, x: f64| Station {
        p_pa,
        t_k,
        mass_flow_kg_s,
        burned_fuel_fraction: x,
        density_kg_m3: p_pa / (gas.r_j_kg_k(x) * t_k),
    };
    let air = means.air_kg * rate;
    let air_scale = nonzero(means.air_kg);
    let t1_k = machine.ambient.t_k;
    let work_j_kg = means.compressor_j / air_scale;
    let t2_k = gas.t_of_h_k(machine.ambient_h_j_kg() + work_j_kg, 0.0, t1_k + 50.0);
    let cooled_h = machine.ambient_h_j_kg() + work_j_kg - means.cooler_j / air_scale;
    let cooled_k = gas.t_of_h_k(cooled_h, 0.0, t1_k + 20.0);
    let in_x = (means.in_x_kg / nonzero(means.in_kg)).max(0.0);
    let in_k = gas.t_of_h_k(means.in_h_j / nonzero(means.in_kg), means.in_x_kg / nonzero(means.in_kg), cooled_k);
    let (t3_k, x3) = turbine_inlet(machine, means);
    let turbine_kg = nonzero(means.turbine_kg);
    let t4_k = gas.t_of_h_k((means.turbine_h_j - means.turbine_j) / turbine_kg, x3, t3_k - 50.0);
    let turbine_flow = means.turbine_kg * rate;
    let leak_flow = means.leak_kg * rate;
    let (leak_k, leak_x) = if means.leak_kg > 0.0 {
        let x = means.leak_x_kg / means.leak_kg;
        (gas.t_of_h_k(means.leak_h_j / means.leak_kg, x, t3_k), x)
    } else {
        (t3_k, x3)
    };
    let stations = Stations {
        compressor_inlet: station(means.p1_pa, t1_k, air, 0.0),
        compressor_outlet: station(means.p2_pa, t2_k, air, 0.0),
        charge_cooler_outlet: station(means.cooler_out_pa, cooled_k, air, 0.0),
        intake_manifold: station(means.intake_pa, in_k, means.in_kg * rate, in_x),
        turbine_inlet: station(means.p3_pa, t3_k, turbine_flow, x3),
        turbine_outlet: station(means.p4_pa, t4_k, turbine_flow, x3),
        exhaust_leak: station(means.p3_pa, leak_k, leak_flow, leak_x),
    };

    // Compressor.
    let pressure_ratio = means.p2_pa / means.p1_pa;
    let ideal_k = gas.isentropic_t_k(t1_k, 0.0, pressure_ratio);
    let ideal_j_kg = gas.h_j_kg(ideal_k, 0.0) - machine.ambient_h_j_kg();
    let line = SpeedLine::at(&engine.compressor, &machine.inlet, shaft_rad_s);
    let compressor = CompressorReading {
        power_w: means.compressor_j * rate,
        efficiency: ideal_j_kg / nonzero(work_j_kg),
        pressure_ratio,
        density_ratio: stations.compressor_outlet.density_kg_m3 / stations.compressor_inlet.density_kg_m3,
        surge_margin: means.flow_coefficient / line.surge_flow - 1.0,
        choke_margin: 1.0 - means.flow_coefficient / line.choke_flow,
        tip_speed_m_s: line.tip_speed_m_s,
    };

    // Turbine, of the mean states.
    let expansion_ratio = means.p3_pa / means.p4_pa;
    let ideal4_k = gas.isentropic_t_k(t3_k, x3, 1.0 / expansion_ratio);
    let drop_j_kg = (gas.h_j_kg(t3_k, x3) - gas.h_j_kg(ideal4_k, x3)).max(1.0);
    let r3 = gas.r_j_kg_k(x3);
    let gamma3 = 1.0 + r3 / gas.cv_j_kg_k(t3_k, x3);
    let tip3_m_s = 0.5 * engine.turbine.wheel_m() * shaft_rad_s;
    let turbine = TurbineReading {
        power_w: means.turbine_j * rate,
        efficiency: means.turbine_j / turbine_kg / drop_j_kg,
        cycle_efficiency: means.turbine_j / nonzero(means.turbine_ideal_j),
        expansion_ratio,
        vane_open_pct: engine.vanes.open_pct(settings.vane_open_pct),
        throat_area_m2: turbine::area_m2(&engine.turbine, iterate.state.vane),
        blade_speed_ratio: tip3_m_s / turbine::spouting_velocity_m_s(drop_j_kg),
        flow_parameter: turbine_flow * math::sqrt(t3_k) / means.p3_pa,
        choked: math::sqrt(1.0 / expansion_ratio) <= flow::critical_ratio(gamma3),
    };

    // Crank.
    let gross_mep_pa = means.gross_j / swept;
    let pumping_mep_pa = -means.exchange_j / swept;
    let piston_speed = machine.piston_speed_m_s();
    let friction_mep_pa = friction::mep_pa(&engine.friction, means.peak_pa, piston_speed);
    let displacement_m3 = engine.displacement_m3();
    let torque_of = |mep_pa: f64| mep_pa * displacement_m3 / (4.0 * core::f64::consts::PI);
    let crank_rad_s = machine.speed_rpm * core::f64::consts::PI / 30.0;
    let brake_mep_pa = gross_mep_pa - pumping_mep_pa - friction_mep_pa;
    let torque_n_m = torque_of(brake_mep_pa);
    let fuel_flow = means.fuel_kg * rate;
    let brake = BrakeReading {
        torque_n_m,
        power_w: torque_n_m * crank_rad_s,
        mep_pa: brake_mep_pa,
        efficiency: torque_n_m * crank_rad_s / nonzero(fuel_flow * engine.fuel.lhv_j_kg),
    };
    let r_air = gas.r_j_kg_k(0.0);
    let indicated = IndicatedReading {
        gross_mep_pa,
        pumping_mep_pa,
        friction_mep_pa,
        pumping_torque_n_m: torque_of(pumping_mep_pa),
        pumping_power_w: torque_of(pumping_mep_pa) * crank_rad_s,
        peak_pressure_pa: means.peak_pa,
        peak_pressure_deg: means.peak_deg,
        residual_fraction: if x3 > 0.0 { means.trapped_x / x3 } else { 0.0 },
        volumetric_efficiency: means.in_kg / (swept * means.intake_pa / (r_air * in_k)),
    };

    // Heat.
    let friction_w = torque_of(friction_mep_pa) * crank_rad_s;
    let walls_w = means.walls_j * rate;
    let exhaust_manifold_w = means.exhaust_loss_j * rate;
    let coolant_w = walls_w
        + engine.friction.coolant_share * friction_w
        + engine.manifolds.exhaust_coolant_share * exhaust_manifold_w;
    let c = &engine.coolant;
    let coolant_flow = coolant::flow_m3_s(c.flow_m3_s, machine.speed_rpm);
    // The engine's ranges exclude a pump that stands still, which is all that can be wrong here.
    let rise =
        coolant::rise_k(coolant_w, coolant_flow, c.density_kg_m3, c.heat_capacity_j_kg_k).unwrap_or(f64::INFINITY);
    let bearing_loss_w = engine.shaft.bearing_loss_w_s2 * shaft_rad_s * shaft_rad_s;
    // Of the ambient air's state: air as it came, and fuel that has given off its heating value.
    let burned_h_j_kg = gas.fuel_h_j_kg - engine.fuel.lhv_j_kg;
    let leak_h_j_kg = (1.0 - leak_x) * machine.ambient_h_j_kg() + leak_x * burned_h_j_kg;
    let exhaust_leak_w = (means.leak_h_j - means.leak_kg * leak_h_j_kg) * rate;
    let exhaust_gas_w = (means.turbine_h_j - means.turbine_j + means.leak_h_j) * rate
        - air * machine.ambient_h_j_kg()
        - fuel_flow * burned_h_j_kg
        - exhaust_leak_w;
    let heat = HeatReading {
        coolant_w,
        coolant_rise_k: rise,
        walls_w,
        charge_cooler_w: means.cooler_j * rate,
        exhaust_manifold_w,
        friction_w,
        exhaust_gas_w,
        exhaust_leak_w,
    };

    let air_fuel_ratio = air / nonzero(fuel_flow);
    let limits = limits(machine, &stations, &compressor, &indicated, &heat, air_fuel_ratio, shaft_rad_s);
    let trace = recorder.map(|record| record.trace(machine));
    Reading {
        settings: SettingsReading::of(settings, count as usize),
        outcome: found.outcome,
        meaning: found.outcome.meaning(),
        holds: found.holds,
        ambient: machine.ambient,
        stations,
        air_flow_kg_s: air,
        fuel_flow_kg_s: fuel_flow,
        exhaust_leak_kg_s: leak_flow,
        fuel_kg_per_cycle: means.fuel_kg,
        fuel_lhv_j_kg: engine.fuel.lhv_j_kg,
        air_fuel_ratio,
        boost_pa: means.intake_pa - machine.ambient.p_pa,
        pressure_balance_pa: means.p2_pa - means.p3_pa,
        density_ratio: stations.intake_manifold.density_kg_m3 / stations.compressor_inlet.density_kg_m3,
        compressor,
        turbine,
        shaft: ShaftReading { speed_rad_s: shaft_rad_s, bearing_loss_w },
        heat,
        brake,
        indicated,
        displacement_m3,
        limits,
        stability: Stability::Stable,
        convergence: Convergence {
            firing_intervals: found.intervals,
            residual: found.misses.worst(),
            energy_closure: energy_miss(machine, means),
            shaft_closure: shaft_miss(machine, shaft_rad_s, means),
        },
        trace,
    }
}

fn nonzero(x: f64) -> f64 {
    if math::fabs(x) < 1e-12 { 1e-12 } else { x }
}

fn limits(
    machine: &Machine,
    stations: &Stations,
    compressor: &CompressorReading,
    indicated: &IndicatedReading,
    heat: &HeatReading,
    air_fuel_ratio: f64,
    shaft_rad_s: f64,
) -> Vec<LimitReading> {
    let l = &machine.engine.limits;
    let t_amb = machine.ambient.t_k;
    // The margin of a quantity that must stay below its limit is what is left of it, counted from a base that means "none".
    let below = |name, value: f64, limit: f64, unit, base: f64| LimitReading {
        name,
        value,
        limit,
        unit,
        margin: (limit - value) / (limit - base),
        crossed: value > limit,
    };
    let above = |name, value: f64, limit: f64, margin: f64| LimitReading {
        name,
        value,
        limit,
        unit: "",
        margin,
        crossed: value < limit,
    };
    let smoke = machine.engine.combustion.smoke_limit_afr;
    vec![
        below(LimitName::ShaftSpeed, shaft_rad_s, machine.engine.shaft_limit_rad_s(), "rad/s", 0.0),
        above(
            LimitName::SurgeMargin,
            compressor.surge_margin,
            l.surge_margin,
            compressor.surge_margin - l.surge_margin,
        ),
        above(
            LimitName::ChokeMargin,
            compressor.choke_margin,
            l.choke_margin,
            compressor.choke_margin - l.choke_margin,
        ),
        below(LimitName::TurbineInletTemperature, stations.turbine_inlet.t_k, l.turbine_inlet_k, "K", t_amb),
        below(
            LimitName::CompressorOutletTemperature,
            stations.compressor_outlet.t_k,
            l.compressor_outlet_k,
            "K",
            t_amb,
        ),
        below(LimitName::CylinderPressure, indicated.peak_pressure_pa, l.cylinder_pressure_pa, "Pa", 0.0),
        below(
            LimitName::ExhaustManifoldPressure,
            stations.turbine_inlet.p_pa,
            l.exhaust_manifold_pa,
            "Pa",
            machine.ambient.p_pa,
        ),
        // At the limit itself the fuel is being held there, which the outcome says: crossed is only what lies beyond.
        LimitReading {
            crossed: air_fuel_ratio < smoke * (1.0 - 1e-3),
            ..above(LimitName::AirFuelRatio, air_fuel_ratio, smoke, air_fuel_ratio / smoke - 1.0)
        },
        below(LimitName::CoolantRise, heat.coolant_rise_k, l.coolant_rise_k, "K", 0.0),
    ]
}
