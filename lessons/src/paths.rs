//! The names that lessons have for what a core reading holds.

use crate::units::{Dim, Family, Reference};
use crate::work::RunResult;
use volute_core::point::reading::{LimitName, Reading};
use volute_core::point::transient::Sample;

/// One named quantity of a reading.
#[derive(Debug)]
pub struct Quantity {
    /// As lessons write it: `boost`.
    pub name: &'static str,
    /// What it is, for a list of allowed names.
    pub about: &'static str,
    /// What it measures.
    pub family: Family,
    /// For a pressure: what it counts from. Nothing for differences and mean effective pressures.
    pub reference: Option<Reference>,
    /// SI value.
    pub of: fn(&Reading) -> f64,
}

impl PartialEq for Quantity {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Quantity {
    /// Whether it is a temperature and not a difference of two.
    pub fn is_point(&self) -> bool {
        self.family == Family::Temperature && self.name != "coolant_rise"
    }

    /// Its dimension.
    pub fn dim(&self) -> Dim {
        self.family.dim()
    }
}

macro_rules! quantities {
    ($($name:literal, $family:ident, $reference:expr, $about:literal, $of:expr;)+) => {
        /// Every quantity that a lesson can name.
        pub static QUANTITIES: &[Quantity] = &[$(
            Quantity { name: $name, about: $about, family: Family::$family, reference: $reference, of: $of },
        )+];
    };
}

const ABS: Option<Reference> = Some(Reference::Absolute);
const GAUGE: Option<Reference> = Some(Reference::Gauge);

quantities! {
    "speed", Rotation, None, "engine speed", |r| r.settings.speed_rpm / 60.0;
    "vane", Ratio, None, "vane position, 100 % fully open", |r| r.settings.vane_open_pct / 100.0;
    "fuel", Mass, None, "fuel of one cylinder in one cycle", |r| r.fuel_kg_per_cycle;
    "fuel_flow", MassFlow, None, "fuel flow", |r| r.fuel_flow_kg_s;
    "air_flow", MassFlow, None, "air flow", |r| r.air_flow_kg_s;
    "afr", Ratio, None, "air-fuel ratio", |r| r.air_fuel_ratio;
    "p_amb", Pressure, ABS, "ambient pressure", |r| r.ambient.p_pa;
    "t_amb", Temperature, None, "ambient temperature", |r| r.ambient.t_k;
    "humidity", Ratio, None, "relative humidity of the air outside", |r| r.ambient.relative_humidity;
    "boost", Pressure, GAUGE, "intake-manifold pressure above ambient", |r| r.boost_pa;
    "p1", Pressure, ABS, "compressor inlet pressure", |r| r.stations.compressor_inlet.p_pa;
    "p2", Pressure, ABS, "compressor outlet pressure", |r| r.stations.compressor_outlet.p_pa;
    "p_im", Pressure, ABS, "intake-manifold pressure", |r| r.stations.intake_manifold.p_pa;
    "p3", Pressure, ABS, "exhaust-manifold pressure", |r| r.stations.turbine_inlet.p_pa;
    "p4", Pressure, ABS, "turbine outlet pressure", |r| r.stations.turbine_outlet.p_pa;
    "balance", Pressure, None, "pressure balance p2 - p3", |r| r.pressure_balance_pa;
    "t1", Temperature, None, "compressor inlet temperature", |r| r.stations.compressor_inlet.t_k;
    "t2", Temperature, None, "compressor outlet temperature", |r| r.stations.compressor_outlet.t_k;
    "t_cooler", Temperature, None, "charge cooler outlet temperature", |r| r.stations.charge_cooler_outlet.t_k;
    "t_im", Temperature, None, "intake-manifold temperature", |r| r.stations.intake_manifold.t_k;
    "t3", Temperature, None, "turbine-inlet temperature", |r| r.stations.turbine_inlet.t_k;
    "t4", Temperature, None, "turbine outlet temperature", |r| r.stations.turbine_outlet.t_k;
    "rho1", Density, None, "density at the compressor inlet", |r| r.stations.compressor_inlet.density_kg_m3;
    "rho2", Density, None, "density at the compressor outlet", |r| r.stations.compressor_outlet.density_kg_m3;
    "rho_im", Density, None, "density in the intake manifold", |r| r.stations.intake_manifold.density_kg_m3;
    "density_ratio", Ratio, None, "density in the intake manifold over that at the compressor inlet", |r| r.density_ratio;
    "pressure_ratio", Ratio, None, "pressure ratio p2/p1", |r| r.compressor.pressure_ratio;
    "expansion_ratio", Ratio, None, "expansion ratio p3/p4", |r| r.turbine.expansion_ratio;
    "compressor_efficiency", Ratio, None, "compressor efficiency", |r| r.compressor.efficiency;
    "compressor_power", Power, None, "compressor power", |r| r.compressor.power_w;
    "surge_margin", Ratio, None, "surge margin", |r| r.compressor.surge_margin;
    "choke_margin", Ratio, None, "choke margin", |r| r.compressor.choke_margin;
    "tip_speed", Speed, None, "tip speed of the compressor wheel", |r| r.compressor.tip_speed_m_s;
    "turbine_efficiency", Ratio, None, "turbine efficiency", |r| r.turbine.efficiency;
    "turbine_power", Power, None, "turbine power", |r| r.turbine.power_w;
    "nozzle_area", Area, None, "effective nozzle area", |r| r.turbine.throat_area_m2;
    "blade_speed_ratio", Ratio, None, "blade-speed ratio U/C0", |r| r.turbine.blade_speed_ratio;
    "shaft", Rotation, None, "shaft speed of the turbocharger", |r| r.shaft.speed_rad_s / std::f64::consts::TAU;
    "bearing_loss", Power, None, "bearing loss", |r| r.shaft.bearing_loss_w;
    "torque", Torque, None, "torque at the crank", |r| r.brake.torque_n_m;
    "power", Power, None, "power at the crank", |r| r.brake.power_w;
    "fuel_consumption", SpecificFuel, None, "fuel for the work at the crank", |r| r.fuel_flow_kg_s / r.brake.power_w;
    "brake_efficiency", Ratio, None, "brake efficiency", |r| r.brake.efficiency;
    "bmep", Pressure, None, "brake mean effective pressure", |r| r.brake.mep_pa;
    "imep", Pressure, None, "indicated mean effective pressure, gross", |r| r.indicated.gross_mep_pa;
    "pmep", Pressure, None, "pumping mean effective pressure, positive when it costs", |r| r.indicated.pumping_mep_pa;
    "fmep", Pressure, None, "friction mean effective pressure", |r| r.indicated.friction_mep_pa;
    "pumping_torque", Torque, None, "pumping loss as torque, positive when it costs", |r| r.indicated.pumping_torque_n_m;
    "pumping_power", Power, None, "pumping loss as power, positive when it costs", |r| r.indicated.pumping_power_w;
    "peak_pressure", Pressure, ABS, "greatest cylinder pressure", |r| r.indicated.peak_pressure_pa;
    "residual", Ratio, None, "left-over burnt gas in the trapped charge", |r| r.indicated.residual_fraction;
    "volumetric_efficiency", Ratio, None, "volumetric efficiency", |r| r.indicated.volumetric_efficiency;
    "displacement", Volume, None, "swept volume of all cylinders", |r| r.displacement_m3;
    "coolant_heat", Power, None, "heat to the coolant", |r| r.heat.coolant_w;
    "coolant_rise", Temperature, None, "rise of the coolant temperature", |r| r.heat.coolant_rise_k;
    "cooler_heat", Power, None, "heat taken by the charge cooler", |r| r.heat.charge_cooler_w;
}

/// The quantity called `name`.
pub fn quantity(name: &str) -> Option<&'static Quantity> {
    QUANTITIES.iter().find(|quantity| quantity.name == name)
}

/// One named quantity of a run in time.
#[derive(Debug)]
pub struct RunQuantity {
    /// As lessons write it: `torque`.
    pub name: &'static str,
    /// What it is, for a list of allowed names.
    pub about: &'static str,
    /// What it measures.
    pub family: Family,
    /// For a pressure: what it counts from.
    pub reference: Option<Reference>,
    /// SI value.
    pub of: fn(&RunResult, &Sample) -> f64,
}

impl PartialEq for RunQuantity {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl RunQuantity {
    /// Whether it is a temperature and not a difference of two.
    pub fn is_point(&self) -> bool {
        self.family == Family::Temperature
    }

    /// Its dimension.
    pub fn dim(&self) -> Dim {
        self.family.dim()
    }
}

macro_rules! run_quantities {
    ($($name:literal, $family:ident, $reference:expr, $about:literal, $of:expr;)+) => {
        /// Every quantity that a curve over time can name: means over a firing interval.
        pub static RUN_QUANTITIES: &[RunQuantity] = &[$(
            RunQuantity { name: $name, about: $about, family: Family::$family, reference: $reference, of: $of },
        )+];
    };
}

run_quantities! {
    "torque", Torque, None, "torque at the crank", |_, s| s.torque_n_m;
    "fuel", Mass, None, "fuel of the cylinder that fired", |_, s| s.fuel_kg_per_cycle;
    "fuel_allowed", Mass, None, "fuel that the smoke limit would allow it", |_, s| s.smoke_limit_fuel_kg;
    "afr", Ratio, None, "air that the cylinder had trapped over its fuel", |_, s| s.air_fuel_ratio;
    "vane", Ratio, None, "vane position as it stands", |_, s| s.vane_open_pct / 100.0;
    "p2", Pressure, ABS, "compressor outlet pressure", |_, s| s.p2_pa;
    "p_im", Pressure, ABS, "intake-manifold pressure", |_, s| s.intake_manifold_pa;
    "boost", Pressure, GAUGE, "intake-manifold pressure above ambient", |run, s| s.intake_manifold_pa - run.p_amb_pa;
    "p3", Pressure, ABS, "exhaust-manifold pressure", |_, s| s.p3_pa;
    "balance", Pressure, None, "pressure balance p2 - p3", |_, s| s.p2_pa - s.p3_pa;
    "t3", Temperature, None, "turbine-inlet temperature", |_, s| s.t3_k;
    "shaft", Rotation, None, "shaft speed of the turbocharger", |_, s| s.shaft_rad_s / std::f64::consts::TAU;
    "air_flow", MassFlow, None, "air flow through the compressor, below zero backwards", |_, s| s.air_flow_kg_s;
    "least_air_flow", MassFlow, None, "least air flow within the interval", |_, s| s.least_air_flow_kg_s;
    "pmep", Pressure, None, "pumping mean effective pressure, positive when it costs", |_, s| s.pumping_mep_pa;
}

/// The quantity of a run called `name`.
pub fn run_quantity(name: &str) -> Option<&'static RunQuantity> {
    RUN_QUANTITIES.iter().find(|quantity| quantity.name == name)
}

/// The limits that `limits.…` can name.
pub static LIMITS: &[(&str, LimitName)] = &[
    ("shaft_speed", LimitName::ShaftSpeed),
    ("surge_margin", LimitName::SurgeMargin),
    ("choke_margin", LimitName::ChokeMargin),
    ("turbine_inlet_temperature", LimitName::TurbineInletTemperature),
    ("compressor_outlet_temperature", LimitName::CompressorOutletTemperature),
    ("cylinder_pressure", LimitName::CylinderPressure),
    ("exhaust_manifold_pressure", LimitName::ExhaustManifoldPressure),
    ("air_fuel_ratio", LimitName::AirFuelRatio),
    ("coolant_rise", LimitName::CoolantRise),
];

/// The word of `words` that looks most like `asked`, if it is close enough to be a slip.
pub(crate) fn nearest<'a>(asked: &str, words: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let asked: Vec<char> = asked.chars().take(40).collect();
    let best = words.into_iter().map(|word| (distance(&asked, word), word)).min_by_key(|(d, _)| *d);
    best.filter(|(d, word)| *d <= 1 + word.len() / 4).map(|(_, word)| word)
}

/// Letters to change, add or drop between the two (Levenshtein).
fn distance(a: &[char], b: &str) -> usize {
    let mut row: Vec<usize> = (0..=a.len()).collect();
    for (i, cb) in b.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, ca) in a.iter().enumerate() {
            let change = diagonal + usize::from(*ca != cb);
            diagonal = row[j + 1];
            row[j + 1] = change.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[a.len()]
}
