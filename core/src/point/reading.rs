//! What the core answers: one reading of the whole bench, SI, pressures absolute.
//!
//! The field names are those of the terminal's JSON. A view shows a reading; it never computes one.

pub use crate::cycle::Trace;
use crate::settings::{Ambient, Load, Settings};
use alloc::vec::Vec;
use serde::Serialize;

/// How a steady point ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Cycle periodic, shaft balanced, load as asked.
    Matched,
    /// Matched with less fuel than the load asks for: the air allows no more.
    SmokeLimited,
    /// Matched with less fuel than the load asks for: the injector gives no more.
    InjectorLimited,
    /// Matched with the least fuel, which already makes more torque than the load takes.
    LeastFuel,
    /// Matched, but the compressor wheel is past its tip-speed limit.
    Overspeed,
    /// The compressor cannot hold its flow: no steady point.
    Surge,
    /// No steady point was found within the step budget.
    NoSolution,
}

impl Outcome {
    /// The name as the JSON writes it.
    pub fn name(self) -> &'static str {
        match self {
            Outcome::Matched => "matched",
            Outcome::SmokeLimited => "smoke_limited",
            Outcome::InjectorLimited => "injector_limited",
            Outcome::LeastFuel => "least_fuel",
            Outcome::Overspeed => "overspeed",
            Outcome::Surge => "surge",
            Outcome::NoSolution => "no_solution",
        }
    }

    /// What it means, in a sentence for a learner.
    pub fn meaning(self) -> &'static str {
        match self {
            Outcome::Matched => "The cycle repeats and the turbocharger shaft is in balance at the load asked for.",
            Outcome::SmokeLimited => {
                "There is not enough air for the fuel that this load needs: the smoke limit holds the fuel back."
            }
            Outcome::InjectorLimited => "The injector gives no more fuel: this load is out of its reach.",
            Outcome::LeastFuel => "Even the least fuel makes more torque than this load takes.",
            Outcome::Overspeed => "The shaft would run past its speed limit: a real wheel can burst.",
            Outcome::Surge => {
                "The compressor cannot hold its flow against the pressure: it surges, and no steady point exists."
            }
            Outcome::NoSolution => "No steady point was found at these settings.",
        }
    }
}

/// Gas at one station of the air path: flux means over the cycle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct Station {
    /// Absolute pressure, mean over the cycle, in Pa.
    pub p_pa: f64,
    /// Temperature of the flux-mean enthalpy, in K.
    pub t_k: f64,
    /// Flow of total gas, in kg/s.
    pub mass_flow_kg_s: f64,
    /// Burned fuel in the gas, kg for each kg.
    pub burned_fuel_fraction: f64,
    /// Density at this pressure and temperature, in kg/m3.
    pub density_kg_m3: f64,
}

/// The stations, in the order of the flow.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct Stations {
    /// Station 1, behind the filter.
    pub compressor_inlet: Station,
    /// Station 2, behind the compressor.
    pub compressor_outlet: Station,
    /// Behind the charge cooler.
    pub charge_cooler_outlet: Station,
    /// Intake manifold, as the cylinders draw from it.
    pub intake_manifold: Station,
    /// Station 3, the exhaust manifold.
    pub turbine_inlet: Station,
    /// Station 4, behind the turbine.
    pub turbine_outlet: Station,
    /// Exhaust gas ahead of a hole in the manifold; without a hole the state of station 3, and no flow.
    pub exhaust_leak: Station,
}

/// Compressor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct CompressorReading {
    /// Power into the gas, in W.
    pub power_w: f64,
    /// Isentropic efficiency, total to total, from the entropy of the two stations.
    pub efficiency: f64,
    /// p2/p1.
    pub pressure_ratio: f64,
    /// rho2/rho1.
    pub density_ratio: f64,
    /// Flow coefficient over that of the surge line, minus one; negative is beyond surge.
    pub surge_margin: f64,
    /// One minus flow coefficient over that of choke.
    pub choke_margin: f64,
    /// Tip speed of the wheel, in m/s.
    pub tip_speed_m_s: f64,
}

/// Turbine.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct TurbineReading {
    /// Power out of the gas, in W.
    pub power_w: f64,
    /// Isentropic efficiency, total to static, of the mean states of the two stations (not the mean over the cycle).
    pub efficiency: f64,
    /// Isentropic efficiency over the cycle: work over what an isentropic turbine would have done with the pulsating gas,
    /// instant by instant. The one above can pass 1 where strong pulses meet a small expansion ratio; this one cannot.
    pub cycle_efficiency: f64,
    /// p3/p4.
    pub expansion_ratio: f64,
    /// Where the vanes stand, in per cent open: as asked, unless they are stuck.
    pub vane_open_pct: f64,
    /// Effective nozzle area at this vane position, in m2.
    pub throat_area_m2: f64,
    /// Blade-speed ratio U/C0 of the mean states.
    pub blade_speed_ratio: f64,
    /// `W sqrt(T3)/p3`, in kg/s sqrt(K)/Pa.
    pub flow_parameter: f64,
    /// Whether the vane nozzle is choked at the mean state.
    pub choked: bool,
}

/// Turbocharger shaft.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct ShaftReading {
    /// Speed, in rad/s.
    pub speed_rad_s: f64,
    /// Bearing loss, in W.
    pub bearing_loss_w: f64,
}

/// Where heat goes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct HeatReading {
    /// To the coolant: walls, its share of friction and of the exhaust ports, in W.
    pub coolant_w: f64,
    /// Temperature rise of the coolant through the engine, in K.
    pub coolant_rise_k: f64,
    /// Gas to cylinder walls, in W.
    pub walls_w: f64,
    /// Charge air to the charge cooler, in W.
    pub charge_cooler_w: f64,
    /// Exhaust ports and manifold, in W.
    pub exhaust_manifold_w: f64,
    /// Friction and auxiliaries, in W.
    pub friction_w: f64,
    /// Exhaust gas above the ambient air's state, in W: what leaves behind the turbine.
    pub exhaust_gas_w: f64,
    /// Leaking exhaust gas above the ambient air's state, in W.
    pub exhaust_leak_w: f64,
}

/// At the crank.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct BrakeReading {
    /// Torque, in N m.
    pub torque_n_m: f64,
    /// Power, in W.
    pub power_w: f64,
    /// Mean effective pressure, in Pa.
    pub mep_pa: f64,
    /// Brake efficiency: power over fuel flow times lower heating value.
    pub efficiency: f64,
}

/// Inside the cylinders.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct IndicatedReading {
    /// Work of compression and expansion strokes for each m3 swept, in Pa.
    pub gross_mep_pa: f64,
    /// Work that the two gas-exchange strokes take, in Pa; positive when it costs torque.
    pub pumping_mep_pa: f64,
    /// Friction and auxiliaries, in Pa.
    pub friction_mep_pa: f64,
    /// Pumping as torque at the crank, in N m; positive when it costs.
    pub pumping_torque_n_m: f64,
    /// Pumping as power, in W; positive when it costs.
    pub pumping_power_w: f64,
    /// Greatest pressure in the cylinder, in Pa.
    pub peak_pressure_pa: f64,
    /// Crank angle of it, in degrees after firing top dead centre.
    pub peak_pressure_deg: f64,
    /// Left-over burnt gas in the trapped charge, kg for each kg.
    pub residual_fraction: f64,
    /// Air that enters over what would fill the swept volume at intake-manifold density.
    pub volumetric_efficiency: f64,
}

/// A quantity that the bench watches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names are the quantities")]
pub enum LimitName {
    ShaftSpeed,
    SurgeMargin,
    ChokeMargin,
    TurbineInletTemperature,
    CompressorOutletTemperature,
    CylinderPressure,
    ExhaustManifoldPressure,
    AirFuelRatio,
    CoolantRise,
}

/// How near one limit is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LimitReading {
    /// Which limit.
    pub name: LimitName,
    /// The value now, in the unit of the limit (SI).
    pub value: f64,
    /// The limit.
    pub limit: f64,
    /// Unit of both; empty for a plain number.
    pub unit: &'static str,
    /// Distance to the limit as a share of it (of the ambient-to-limit span for temperatures); negative is crossed.
    pub margin: f64,
    /// Whether it is crossed.
    pub crossed: bool,
}

/// How the point was found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct Convergence {
    /// Firing intervals that were integrated.
    pub firing_intervals: u32,
    /// Greatest relative change of any state, flow or power over the last interval.
    pub residual: f64,
    /// Energy that the whole engine's balance misses, as a share of the fuel energy.
    pub energy_closure: f64,
    /// Power that the shaft balance misses, as a share of the compressor power or the fuel power, whichever is less.
    pub shaft_closure: f64,
}

/// Whether the point holds in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stability {
    /// Far from surge: not in doubt.
    Stable,
    /// Near surge, marched in time with a disturbance: it dies out.
    StableNearSurge,
    /// Near surge, marched in time with a disturbance: it grows. The steady numbers would not stay.
    Unstable,
}

/// What the user held, as the JSON writes it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SettingsReading {
    /// Engine speed in 1/min.
    pub speed_rpm: f64,
    /// Torque asked for; nothing when fuel is held.
    pub torque_n_m: Option<f64>,
    /// Fuel flow asked for; nothing when torque is held.
    pub fuel_kg_s: Option<f64>,
    /// Vane position, 0 tightest, 100 fully open.
    pub vane_open_pct: f64,
}

impl SettingsReading {
    /// Echo of what was asked of an engine with `cylinders` cylinders.
    pub fn of(settings: &Settings, cylinders: usize) -> Self {
        let (torque_n_m, fuel_kg_s) = match settings.load {
            Load::Torque { torque_n_m } => (Some(torque_n_m), None),
            Load::Fuel { fuel_kg_per_cycle } => {
                (None, Some(fuel_kg_per_cycle * cylinders as f64 * settings.speed_rpm / 120.0))
            }
        };
        Self { speed_rpm: settings.speed_rpm, torque_n_m, fuel_kg_s, vane_open_pct: settings.vane_open_pct }
    }
}

/// Writes an outcome together with its meaning.
fn with_meaning<S: serde::Serializer>(outcome: &Outcome, to: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Ended {
        outcome: Outcome,
        meaning: &'static str,
    }
    Ended { outcome: *outcome, meaning: outcome.meaning() }.serialize(to)
}

/// One reading of the whole bench.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// What was asked.
    pub settings: SettingsReading,
    /// How it ended. The JSON adds what that means.
    #[serde(flatten, serialize_with = "with_meaning")]
    pub outcome: Outcome,
    /// Whether the numbers below are a steady state at the settings asked for. Where they are not, they are those of the
    /// last iterate: not to be shown as a result.
    pub holds: bool,
    /// The air outside.
    pub ambient: Ambient,
    /// The air path.
    pub stations: Stations,
    /// Fresh air, in kg/s.
    pub air_flow_kg_s: f64,
    /// Fuel, in kg/s.
    pub fuel_flow_kg_s: f64,
    /// Exhaust gas that leaves through a hole in the manifold, in kg/s; it never sees the turbine.
    pub exhaust_leak_kg_s: f64,
    /// Fuel of one cylinder in one cycle, in kg.
    pub fuel_kg_per_cycle: f64,
    /// Lower heating value of the fuel, in J/kg.
    pub fuel_lhv_j_kg: f64,
    /// Air flow over fuel flow.
    pub air_fuel_ratio: f64,
    /// Intake-manifold pressure above ambient, in Pa: what a boost gauge shows.
    pub boost_pa: f64,
    /// p2 - p3, in Pa: above zero helps the pistons breathe.
    pub pressure_balance_pa: f64,
    /// Density in the intake manifold over that at the compressor inlet.
    pub density_ratio: f64,
    /// Compressor.
    pub compressor: CompressorReading,
    /// Turbine.
    pub turbine: TurbineReading,
    /// Turbocharger shaft.
    pub shaft: ShaftReading,
    /// Where heat goes.
    pub heat: HeatReading,
    /// At the crank.
    pub brake: BrakeReading,
    /// Inside the cylinders.
    pub indicated: IndicatedReading,
    /// Swept volume of all cylinders, in m3.
    pub displacement_m3: f64,
    /// Every limit, crossed or not.
    pub limits: Vec<LimitReading>,
    /// Whether the point holds in time.
    pub stability: Stability,
    /// How it was found.
    pub convergence: Convergence,
    /// One cylinder over a cycle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trace: Option<Trace>,
}

impl Reading {
    /// The reading of one limit.
    pub fn limit(&self, name: LimitName) -> Option<&LimitReading> {
        self.limits.iter().find(|limit| limit.name == name)
    }
}
