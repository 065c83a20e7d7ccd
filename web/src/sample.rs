//! Readings written by hand, for tests of views and sentences: what core would answer at three kinds of point.

use volute_core::engine::Engine;
use volute_core::engine::built_in;
use volute_core::point::reading::*;
use volute_core::settings::REFERENCE_DAY;

/// The first built-in engine.
pub fn engine() -> Engine {
    built_in::opening()
}

/// Exhaust 37 kPa above the intake; the numbers of one point of the look's static mock.
pub fn hinders() -> Reading {
    reading(2.83e5, 3.20e5, 34.2)
}

/// Intake 14 kPa above the exhaust, pumping gives back.
pub fn helps() -> Reading {
    reading(2.12e5, 1.98e5, -2.3)
}

/// Level within a line's width.
pub fn level() -> Reading {
    reading(2.40e5, 2.38e5, 5.0)
}

fn reading(p2_pa: f64, p3_pa: f64, pumping_torque_n_m: f64) -> Reading {
    let station = |p_pa: f64, t_k: f64| Station {
        p_pa,
        t_k,
        mass_flow_kg_s: 0.243,
        burned_fuel_fraction: 0.0,
        density_kg_m3: p_pa / (287.0 * t_k),
    };
    let intake = p2_pa - 4e3;
    let limit = |name, value: f64, limit: f64, unit, margin| LimitReading {
        name,
        value,
        limit,
        unit,
        margin,
        crossed: margin < 0.0,
    };
    Reading {
        settings: SettingsReading { speed_rpm: 1400.0, torque_n_m: None, fuel_kg_s: Some(7.7e-3), vane_open_pct: 55.0 },
        outcome: Outcome::Matched,
        holds: true,
        ambient: REFERENCE_DAY,
        stations: Stations {
            compressor_inlet: station(9.9e4, 298.0),
            compressor_outlet: station(p2_pa, 433.0),
            charge_cooler_outlet: station(intake, 313.5),
            intake_manifold: station(intake, 313.5),
            turbine_inlet: station(p3_pa, 814.2),
            turbine_outlet: station(1.06e5, 696.0),
            exhaust_leak: Station { mass_flow_kg_s: 0.0, ..station(p3_pa, 814.2) },
        },
        air_flow_kg_s: 0.243,
        fuel_flow_kg_s: 7.7e-3,
        exhaust_leak_kg_s: 0.0,
        fuel_kg_per_cycle: 1.1e-4,
        fuel_lhv_j_kg: 42.8e6,
        air_fuel_ratio: 31.6,
        boost_pa: intake - 1e5,
        pressure_balance_pa: p2_pa - p3_pa,
        density_ratio: 2.66,
        compressor: CompressorReading {
            power_w: 33.0e3,
            efficiency: 0.75,
            pressure_ratio: 2.86,
            density_ratio: 1.94,
            surge_margin: 0.59,
            choke_margin: 0.4,
            tip_speed_m_s: 421.0,
        },
        turbine: TurbineReading {
            power_w: 33.9e3,
            efficiency: 0.6,
            expansion_ratio: 3.0,
            vane_open_pct: 55.0,
            throat_area_m2: 5.7e-4,
            blade_speed_ratio: 0.6,
            flow_parameter: 2.2e-5,
            choked: true,
            ..TurbineReading::default()
        },
        shaft: ShaftReading { speed_rad_s: 10_786.0, bearing_loss_w: 870.0 },
        heat: HeatReading::default(),
        brake: BrakeReading { torque_n_m: 928.0, power_w: 136.0e3, mep_pa: 16.1e5, efficiency: 0.41 },
        indicated: IndicatedReading {
            gross_mep_pa: 18.5e5,
            pumping_mep_pa: pumping_torque_n_m / 5.77e-4,
            friction_mep_pa: 1.6e5,
            pumping_torque_n_m,
            pumping_power_w: pumping_torque_n_m * 146.6,
            peak_pressure_pa: 1.46e7,
            peak_pressure_deg: 8.0,
            residual_fraction: 0.03,
            volumetric_efficiency: 0.92,
        },
        displacement_m3: 7.255e-3,
        limits: vec![
            limit(LimitName::ShaftSpeed, 10_786.0, 13_600.0, "rad/s", 0.207),
            limit(LimitName::SurgeMargin, 0.59, 0.1, "", 4.9),
            limit(LimitName::TurbineInletTemperature, 814.0, 1023.15, "K", 0.29),
            limit(LimitName::CylinderPressure, 1.46e7, 2.05e7, "Pa", 0.288),
            limit(LimitName::ExhaustManifoldPressure, p3_pa, 5.5e5, "Pa", 0.4),
            limit(LimitName::AirFuelRatio, 31.6, 18.0, "", 0.75),
        ],
        stability: Stability::Stable,
        convergence: Convergence::default(),
        trace: Some(trace(intake, p3_pa)),
    }
}

/// A plausible cycle: polytropic arms, an exhaust stroke that swings, a flat intake stroke. Only for drawing.
fn trace(intake_pa: f64, exhaust_pa: f64) -> Trace {
    let mut t = Trace::default();
    let (clearance, swept) = (7.56e-5, 1.2093e-3);
    let volume = |deg: f64| clearance + swept * (1.0 - deg.to_radians().cos()) / 2.0;
    for i in 0..=360 {
        let angle = 2.0 * f64::from(i);
        let v = volume(angle);
        let arm = |p: f64, v0: f64, n: f64| p * (v0 / v).powf(n);
        let pressure = match angle {
            a if a < 130.0 => arm(1.46e7, clearance, 1.28),
            a if a < 180.0 => {
                let t = (a - 130.0) / 50.0;
                arm(1.46e7, clearance, 1.28) * (1.0 - t) + 1.1 * exhaust_pa * t
            }
            a if a < 360.0 => exhaust_pa * (1.0 + 0.1 * ((a - 180.0) / 25.0).cos()),
            a if a < 376.0 => exhaust_pa + (intake_pa - exhaust_pa) * (a - 360.0) / 16.0,
            a if a < 560.0 => intake_pa * (1.0 - 0.03 * ((a - 376.0) / 60.0).sin()),
            _ => arm(intake_pa, volume(560.0), 1.35),
        };
        t.crank_angle_deg.push(angle);
        t.volume_m3.push(v);
        t.pressure_pa.push(pressure);
        t.temperature_k.push(400.0);
        t.intake_manifold_pa.push(intake_pa);
        t.exhaust_manifold_pa.push(exhaust_pa);
    }
    t
}
