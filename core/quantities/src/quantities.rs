//! Every quantity that a reading or a run in time gives, one row each.
//!
//! A key means the same number wherever it stands: in a lesson, on the page, in a link, over a sweep, in a CSV. A row's values
//! are SI; speeds of rotation are in 1/s, shares run from 0 to 1. To add a quantity, add a row.

use crate::kinds::{Counts, Kind};
use crate::units::{Dim, Family, Reference};
use core::f64::consts::TAU;
use volute_core::point::reading::{LimitName, Reading};
use volute_core::point::transient::Sample;

/// On which side of the engine a quantity is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Ahead of the cylinders, where the gas is cool.
    Intake,
    /// Behind the cylinders, where the gas is hot.
    Exhaust,
    /// Neither.
    Neither,
}

/// Which end of a quantity is the best.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Best {
    /// The least.
    Least,
    /// The most.
    Most,
    /// Neither end.
    Neither,
}

/// Quantities that follow from one another and from what a learner sets. Who knows one of them knows all: they are hidden together,
/// and shown together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names are the quantities")]
pub enum Tied {
    Work,
    Fuel,
    Pumping,
    Shaft,
    Density,
    Turbine,
}

/// One quantity, read by `F`.
#[derive(Debug, Clone, Copy)]
pub struct Measured<F: 'static> {
    /// Its name in lessons, links and lists: `boost`.
    pub key: &'static str,
    /// Its short name in the page's lists; empty where the page does not list it.
    pub title: &'static str,
    /// What kind of number it is.
    pub kind: Kind,
    /// On which side of the engine it is.
    pub side: Side,
    /// Which end of it is the best.
    pub best: Best,
    /// What it is hidden and shown together with.
    pub tied: Option<Tied>,
    /// What could be told from it. A lesson that hides this quantity hides those too. A learner who may see this one need not
    /// be shown them.
    pub betrays: &'static [&'static str],
    /// Reads its SI value.
    pub of: F,
}

/// One quantity of a steady reading.
pub type Quantity = Measured<fn(&Reading) -> f64>;

/// One quantity of a run in time, as the mean over a firing interval: read from a sample and the ambient pressure in Pa.
pub type RunQuantity = Measured<fn(&Sample, f64) -> f64>;

impl<F> PartialEq for Measured<F> {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

impl<F> Measured<F> {
    const fn new(key: &'static str, title: &'static str, kind: Kind, of: F) -> Self {
        Self { key, title, kind, side: Side::Neither, best: Best::Neither, tied: None, betrays: &[], of }
    }

    /// What it is, for a list of allowed names.
    pub fn about(&self) -> &'static str {
        word(self.key).about
    }

    /// What it measures.
    pub fn family(&self) -> Family {
        self.kind.family()
    }

    /// For a pressure: what it counts from. Nothing for differences and mean effective pressures.
    pub fn reference(&self) -> Option<Reference> {
        self.kind.reference()
    }

    /// Whether it is a temperature and not a difference of two.
    pub fn is_point(&self) -> bool {
        self.kind.counts() == Counts::FromAbsoluteZero
    }

    /// Its dimension.
    pub fn dim(&self) -> Dim {
        self.family().dim()
    }
}

impl Quantity {
    /// The keys of what it is hidden and shown together with.
    pub fn tied_with(&self) -> impl Iterator<Item = &'static str> + use<> {
        let tied = self.tied;
        QUANTITIES.iter().filter(move |other| tied.is_some() && other.tied == tied).map(|other| other.key)
    }
}

impl RunQuantity {
    /// What it is in a run, for a list of allowed names.
    pub fn about_in_time(&self) -> &'static str {
        word(self.key).about_in_time
    }
}

/// What only lessons and tests need of a row. It stands apart, so that the page's first module does not carry it.
struct Word {
    key: &'static str,
    about: &'static str,
    about_in_time: &'static str,
    json: &'static str,
    per_si: f64,
}

fn word(key: &str) -> &'static Word {
    // Every row has its word, since one macro makes both.
    WORDS.iter().find(|word| word.key == key).unwrap_or(&WORDS[0])
}

/// Where a steady quantity stands in the terminal's JSON and over which column of its CSV, and how many of the numbers there make
/// one SI unit. Nothing for what is worked out from two numbers.
pub fn json_name(quantity: &Quantity) -> Option<(&'static str, f64)> {
    let word = word(quantity.key);
    word.json.get(1..).map(|name| (name, word.per_si))
}

macro_rules! reader {
    ($closure:ident { = $f:expr }) => { $f };
    (point { $($field:ident).+ $(/ $per_si:expr)? }) => { |r| r.$($field).+ $(/ $per_si)? };
    (sample { $($field:ident).+ $(/ $per_si:expr)? }) => { |s, _| s.$($field).+ $(/ $per_si)? };
}

macro_rules! json {
    (name { = $f:expr }) => { "" };
    (name { $($field:ident).+ $(/ $per_si:expr)? }) => { concat!($(".", stringify!($field)),+) };
    (per_si { = $f:expr }) => { 1.0 };
    (per_si { $($field:ident).+ }) => { 1.0 };
    (per_si { $($field:ident).+ / $per_si:expr }) => { $per_si };
}

/// The last of the texts that are there.
const fn last(texts: &[&'static str]) -> &'static str {
    texts[texts.len() - 1]
}

macro_rules! measured {
    ($row:ident, $key:literal $title:literal $kind:ident $of:expr, [$($field:ident: $value:expr),*]) => {
        Measured { $($field: $value,)* ..<$row>::new($key, $title, Kind::$kind, $of) }
    };
}

/// A row: key, title in the page's lists, what it is, kind, whatever else is known of it; `of` reads it from a steady reading;
/// `in_time` reads it from a sample of a run, and the text behind it says what it is there.
macro_rules! quantities {
    ($($key:literal $title:literal $about:literal $kind:ident $more:tt
        $(of $of:tt)? $(in_time $in_time:tt $($about_in_time:literal)?)?;)+) => {
        /// Every quantity of a steady reading. Those that the page lists come first, in the order in which people ask.
        pub static QUANTITIES: &[Quantity] =
            &[$($(measured!(Quantity, $key $title $kind reader!(point $of), $more),)?)+];

        /// Every quantity of a run in time.
        pub static RUN_QUANTITIES: &[RunQuantity] =
            &[$($(measured!(RunQuantity, $key $title $kind reader!(sample $in_time), $more),)?)+];

        static WORDS: &[Word] = &[$(Word {
            key: $key,
            about: $about,
            about_in_time: last(&[$about $($(, $about_in_time)?)?]),
            json: last(&["" $(, json!(name $of))?]),
            per_si: 1.0 $(* json!(per_si $of))?,
        }),+];
    };
}

use Best::{Least, Most};
use Side::{Exhaust, Intake};
use Tied::*;

quantities! {
    "torque" "torque" "torque at the crank" Torque [best: Most, tied: Some(Work)] of { brake.torque_n_m }
        in_time { torque_n_m };
    "power" "brake power" "power at the crank" Power [best: Most, tied: Some(Work)] of { brake.power_w };
    "fuel" "fuel per cycle" "fuel of one cylinder in one cycle" FuelPerCycle [best: Least, tied: Some(Fuel)]
        of { fuel_kg_per_cycle } in_time { fuel_kg_per_cycle } "fuel of the cylinder that fired";
    "fuel_flow" "fuel flow" "fuel flow" FuelFlow [best: Least, tied: Some(Fuel)] of { fuel_flow_kg_s };
    "brake_efficiency" "brake efficiency" "brake efficiency" ShareFine [best: Most, tied: Some(Work)]
        of { brake.efficiency };
    "boost" "boost" "intake-manifold pressure above ambient" PressureGauge [side: Intake, betrays: &["p_im"]]
        of { boost_pa } in_time { = |s, p_amb_pa| s.intake_manifold_pa - p_amb_pa };
    "p2" "compressor outlet p2" "compressor outlet pressure" PressureAbs [side: Intake, betrays: &["pressure_ratio"]]
        of { stations.compressor_outlet.p_pa } in_time { p2_pa };
    "p3" "exhaust manifold p3" "exhaust-manifold pressure" PressureAbs
        [side: Exhaust, betrays: &["balance", "expansion_ratio"]] of { stations.turbine_inlet.p_pa } in_time { p3_pa };
    "balance" "balance p2 − p3" "pressure balance p2 - p3" PressureDifference [betrays: &["p3", "expansion_ratio"]]
        of { pressure_balance_pa } in_time { = |s, _| s.p2_pa - s.p3_pa };
    "pumping_torque" "pumping loss" "pumping loss as torque, positive when it costs" Torque
        [side: Exhaust, best: Least, tied: Some(Pumping)] of { indicated.pumping_torque_n_m };
    "pmep" "pumping mean pressure" "pumping mean effective pressure, positive when it costs" PressureDifference
        [side: Exhaust, best: Least, tied: Some(Pumping)] of { indicated.pumping_mep_pa } in_time { pumping_mep_pa };
    "imep" "gross work, mean pressure" "indicated mean effective pressure, gross" PressureDifference []
        of { indicated.gross_mep_pa };
    "fmep" "friction mean pressure" "friction mean effective pressure" PressureDifference []
        of { indicated.friction_mep_pa };
    "t2" "compressor-outlet temperature" "compressor outlet temperature" Temperature [side: Intake]
        of { stations.compressor_outlet.t_k };
    "t_im" "charge temperature" "intake-manifold temperature" Temperature [side: Intake]
        of { stations.intake_manifold.t_k };
    "t3" "turbine-inlet temperature" "turbine-inlet temperature" Temperature [side: Exhaust]
        of { stations.turbine_inlet.t_k } in_time { t3_k };
    "t4" "turbine-outlet temperature" "turbine outlet temperature" Temperature [side: Exhaust]
        of { stations.turbine_outlet.t_k };
    "p4" "turbine-outlet pressure p4" "turbine outlet pressure" PressureAbs [side: Exhaust]
        of { stations.turbine_outlet.p_pa };
    "density_ratio" "density ratio" "density in the intake manifold over that at the compressor inlet" Ratio
        [side: Intake, best: Most, tied: Some(Density)] of { density_ratio };
    "pressure_ratio" "pressure ratio" "pressure ratio p2/p1" Ratio [] of { compressor.pressure_ratio };
    "expansion_ratio" "expansion ratio" "expansion ratio p3/p4" Ratio [side: Exhaust, betrays: &["p3", "balance"]]
        of { turbine.expansion_ratio };
    "air_flow" "air flow" "air flow" GasFlow [side: Intake, betrays: &["afr"]] of { air_flow_kg_s }
        in_time { air_flow_kg_s } "air flow through the compressor, below zero backwards";
    "exhaust_leak" "exhaust leak" "exhaust gas that leaks ahead of the turbine" GasFlow [] of { exhaust_leak_kg_s };
    "afr" "air–fuel ratio" "air-fuel ratio" RatioCoarse [betrays: &["air_flow"]] of { air_fuel_ratio }
        in_time { air_fuel_ratio } "air that the cylinder had trapped over its fuel";
    "shaft" "shaft speed" "shaft speed of the turbocharger" Rotation [tied: Some(Shaft)] of { shaft.speed_rad_s / TAU }
        in_time { shaft_rad_s / TAU };
    "tip_speed" "compressor tip speed" "tip speed of the compressor wheel" TipSpeed [tied: Some(Shaft)]
        of { compressor.tip_speed_m_s };
    "compressor_efficiency" "compressor efficiency" "compressor efficiency" ShareFine [best: Most]
        of { compressor.efficiency };
    "turbine_efficiency" "turbine efficiency" "turbine efficiency" ShareFine [best: Most, tied: Some(Turbine)]
        of { turbine.cycle_efficiency };
    "compressor_power" "compressor power" "compressor power" Power [] of { compressor.power_w };
    "surge_margin" "surge margin" "surge margin" Share [] of { compressor.surge_margin };
    "choke_margin" "choke margin" "choke margin" Share [] of { compressor.choke_margin };
    "peak_pressure" "peak cylinder pressure" "greatest cylinder pressure" CylinderPressure []
        of { indicated.peak_pressure_pa };
    "residual" "residual gas" "left-over burnt gas in the trapped charge" ShareFine []
        of { indicated.residual_fraction };
    "volumetric_efficiency" "volumetric efficiency" "volumetric efficiency" Share [best: Most]
        of { indicated.volumetric_efficiency };
    "coolant_heat" "heat to coolant" "heat to the coolant" Power [] of { heat.coolant_w };
    "coolant_rise" "coolant rise" "rise of the coolant temperature" TemperatureDifferenceFine []
        of { heat.coolant_rise_k };

    // Not in the page's lists.
    "speed" "" "engine speed" Rotation [] of { settings.speed_rpm / 60.0 };
    "vane" "" "vane position, 100 % fully open" VaneShare [] of { settings.vane_open_pct / 100.0 }
        in_time { vane_open_pct / 100.0 } "vane position as it stands";
    "p_amb" "" "ambient pressure" PressureAbs [] of { ambient.p_pa };
    "t_amb" "" "ambient temperature" Temperature [] of { ambient.t_k };
    "humidity" "" "relative humidity of the air outside" Share [] of { ambient.relative_humidity };
    "p1" "" "compressor inlet pressure" PressureAbs [side: Intake] of { stations.compressor_inlet.p_pa };
    "p_im" "" "intake-manifold pressure" PressureAbs [side: Intake, betrays: &["pressure_ratio"]]
        of { stations.intake_manifold.p_pa } in_time { intake_manifold_pa };
    "t1" "" "compressor inlet temperature" Temperature [side: Intake] of { stations.compressor_inlet.t_k };
    "t_cooler" "" "charge cooler outlet temperature" Temperature [side: Intake]
        of { stations.charge_cooler_outlet.t_k };
    "rho1" "" "density at the compressor inlet" Density [] of { stations.compressor_inlet.density_kg_m3 };
    "rho2" "" "density at the compressor outlet" Density [] of { stations.compressor_outlet.density_kg_m3 };
    "rho_im" "" "density in the intake manifold" Density [tied: Some(Density)]
        of { stations.intake_manifold.density_kg_m3 };
    "turbine_efficiency_of_means" "" "turbine efficiency of the mean states" ShareFine [tied: Some(Turbine)]
        of { turbine.efficiency };
    "turbine_power" "" "turbine power" Power [] of { turbine.power_w };
    "nozzle_area" "" "effective nozzle area" Area [] of { turbine.throat_area_m2 };
    "blade_speed_ratio" "" "blade-speed ratio U/C0" Ratio [] of { turbine.blade_speed_ratio };
    "bearing_loss" "" "bearing loss" Power [] of { shaft.bearing_loss_w };
    "fuel_consumption" "" "fuel for the work at the crank" FuelConsumption []
        of { = |r| r.fuel_flow_kg_s / r.brake.power_w };
    "bmep" "" "brake mean effective pressure" PressureDifference [tied: Some(Work)] of { brake.mep_pa };
    "pumping_power" "" "pumping loss as power, positive when it costs" Power [side: Exhaust, tied: Some(Pumping)]
        of { indicated.pumping_power_w };
    "displacement" "" "swept volume of all cylinders" Volume [] of { displacement_m3 };
    "cooler_heat" "" "heat taken by the charge cooler" Power [] of { heat.charge_cooler_w };

    // Only of a run in time.
    "fuel_allowed" "" "fuel that the smoke limit would allow it" FuelPerCycle [] in_time { smoke_limit_fuel_kg };
    "least_air_flow" "" "least air flow within the interval" GasFlow [side: Intake] in_time { least_air_flow_kg_s };
}

/// What the page lists, compares and sweeps: every steady quantity with a title.
pub static LISTED: &[Quantity] = listed(QUANTITIES);

const fn listed(all: &[Quantity]) -> &[Quantity] {
    let mut count = 0;
    while count < all.len() && !all[count].title.is_empty() {
        count += 1;
    }
    all.split_at(count).0
}

/// The steady quantity of this key.
pub fn quantity(key: &str) -> Option<&'static Quantity> {
    QUANTITIES.iter().find(|quantity| quantity.key == key)
}

/// The quantity of a run of this key.
pub fn run_quantity(key: &str) -> Option<&'static RunQuantity> {
    RUN_QUANTITIES.iter().find(|quantity| quantity.key == key)
}

/// The key of the quantity that a limit watches.
pub fn limit_key(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => "shaft",
        LimitName::SurgeMargin => "surge_margin",
        LimitName::ChokeMargin => "choke_margin",
        LimitName::TurbineInletTemperature => "t3",
        LimitName::CompressorOutletTemperature => "t2",
        LimitName::CylinderPressure => "peak_pressure",
        LimitName::ExhaustManifoldPressure => "p3",
        LimitName::AirFuelRatio => "afr",
        LimitName::CoolantRise => "coolant_rise",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_core::engine::built_in;
    use volute_core::point::steady;
    use volute_core::settings::{Load, REFERENCE_DAY, Settings};

    fn reading() -> Reading {
        let engine = built_in::opening();
        let speed_rpm = engine.range.speed_min_rpm.midpoint(engine.range.speed_max_rpm);
        let load = Load::Torque { torque_n_m: 0.5 * engine.range.torque_max_n_m };
        let settings = Settings { speed_rpm, load, vane_open_pct: 70.0, ambient: REFERENCE_DAY };
        steady::solve(&engine, &settings).unwrap().reading
    }

    /// A key is the number that the terminal writes under its name.
    #[test]
    fn identity_a_row_reads_what_the_terminal_writes() {
        let reading = reading();
        assert!(reading.holds);
        let json = serde_json::to_value(&reading).unwrap();
        let mut derived = 0;
        for quantity in QUANTITIES {
            let value = (quantity.of)(&reading);
            assert!(value.is_finite(), "{}", quantity.key);
            let Some((name, per_si)) = json_name(quantity) else {
                derived += 1;
                continue;
            };
            let written = name.split('.').try_fold(&json, |value, part| value.get(part)).and_then(|v| v.as_f64());
            assert_eq!(written.map(|written| written / per_si), Some(value), "{}: {name}", quantity.key);
        }
        assert_eq!(derived, 1, "only the fuel consumption is worked out from two numbers");
    }

    /// A run that changes nothing reads what the steady point reads: under one key stands one number.
    #[test]
    fn identity_a_run_and_a_point_mean_the_same_by_a_key() {
        let engine = built_in::opening();
        let load = Load::Torque { torque_n_m: 0.5 * engine.range.torque_max_n_m };
        let settings = Settings { speed_rpm: 1500.0, load, vane_open_pct: 70.0, ambient: REFERENCE_DAY };
        let point = steady::solve(&engine, &settings).unwrap();
        let mut run = volute_core::point::transient::Transient::start(&point);
        let samples: [Sample; 6] = core::array::from_fn(|_| run.advance());
        for quantity in RUN_QUANTITIES {
            let Some(steady) = self::quantity(quantity.key) else { continue };
            let at_rest = (steady.of)(&point.reading);
            let mean = samples.iter().map(|s| (quantity.of)(s, REFERENCE_DAY.p_pa)).sum::<f64>() / 6.0;
            // Chosen: a point is found within a thousandth; a boost or a balance is a difference of pressures of 2e5 Pa.
            let size = if quantity.family() == Family::Pressure { at_rest.abs().max(2.0e5) } else { at_rest.abs() };
            assert!((mean - at_rest).abs() < 5e-3 * size, "{}: {mean} against {at_rest}", quantity.key);
        }
    }

    #[test]
    fn identity_keys_are_single_and_lists_come_first() {
        for (i, a) in QUANTITIES.iter().enumerate() {
            assert!(
                QUANTITIES.iter().skip(i + 1).all(|b| b.key != a.key && (b.title != a.title || a.title.is_empty()))
            );
            assert_eq!(quantity(a.key), Some(a));
            assert!(!a.about().is_empty(), "{}", a.key);
        }
        assert!(QUANTITIES.iter().skip(LISTED.len()).all(|q| q.title.is_empty()));
        for quantity in RUN_QUANTITIES {
            assert_eq!(run_quantity(quantity.key), Some(quantity));
            assert!(self::quantity(quantity.key).is_none_or(|steady| steady.kind == quantity.kind));
        }
    }

    #[test]
    fn identity_what_betrays_another_names_a_quantity() {
        for quantity in QUANTITIES {
            for betrayed in quantity.betrays {
                assert!(
                    self::quantity(betrayed).is_some() && *betrayed != quantity.key,
                    "{}: {betrayed}",
                    quantity.key
                );
            }
        }
        for limit in reading().limits {
            assert!(quantity(limit_key(limit.name)).is_some(), "{:?}", limit.name);
        }
    }
}
