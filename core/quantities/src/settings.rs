//! Every number that a person can set: what an engine is held at, and what of it and of the air can be changed.
//!
//! The name, the range, the unit and the meaning of a parameter are those of the core ([`Key`]), which engine files and the
//! terminal's `--set` use. A row here adds how the page offers it: where it stands in the panel of what-ifs, its label, its
//! unit there, the step and the ends of its slider, and how a sweep goes over it. To offer a parameter, add a row.

use crate::kinds::Kind;
use crate::quantities::{Quantity, quantity};
use volute_core::engine;
use volute_core::keys::Key;
use volute_core::settings::Ambient;

/// A number that the bench is held at, and that each way of asking names in its own way.
#[derive(Debug, PartialEq)]
pub struct Held {
    /// Its name in `--over`, in links and in lessons.
    pub key: &'static str,
    /// Its key in the core's messages; empty for a height, which sets the air.
    pub core: &'static str,
    /// What kind of number it is, as the core counts it.
    pub kind: Kind,
    /// Its column in tables of the terminal. The name ends in the unit.
    pub column: &'static str,
    /// The terminal's option.
    pub option: &'static str,
    /// The unit of that option.
    pub unit: &'static str,
    /// How many of that unit make one of the core's.
    pub per_core: f64,
}

/// All of them.
pub static HELD: &[Held] = &[
    held("vane", "settings.vane_open_pct", Kind::VanePosition, "vane_open_pct", "--vane", "% open", 1.0),
    held("torque", "settings.torque_n_m", Kind::Torque, "torque_n_m", "--torque-nm", "N m", 1.0),
    held(
        "fuel",
        "settings.fuel_kg_per_cycle",
        Kind::FuelPerCycle,
        "fuel_mg",
        "--fuel-mg",
        "mg for each cylinder and cycle",
        1.0e6,
    ),
    held("speed", "settings.speed_rpm", Kind::EngineSpeed, "speed_rpm", "--speed-rpm", "1/min", 1.0),
    held("altitude", "", Kind::Altitude, "altitude_m", "--altitude-m", "m", 1.0),
];

const fn held(
    key: &'static str,
    core: &'static str,
    kind: Kind,
    column: &'static str,
    option: &'static str,
    unit: &'static str,
    per_core: f64,
) -> Held {
    Held { key, core, kind, column, option, unit, per_core }
}

/// Settings that belong together in the panel of what-ifs.
#[derive(Debug, PartialEq)]
pub struct Group {
    /// Short name, for links and for hooks of the page.
    pub id: &'static str,
    /// As the page writes it.
    pub name: &'static str,
    /// What it is for, in a sentence.
    pub says: &'static str,
    /// The settings.
    pub parts: &'static [Setting],
}

/// One setting that can be changed.
#[derive(Debug, PartialEq)]
pub struct Setting {
    /// `group.name`, as engine files, `--set` and links write it.
    pub key: &'static str,
    /// As the page writes it.
    pub label: &'static str,
    /// How it is shown.
    pub shown: Scale,
    /// How far its slider goes, within what the core allows.
    pub reach: Reach,
}

/// How a setting is shown on its slider.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// On or off: 1 or 0.
    Switch,
    /// In the unit of its kind; then the step of the slider in SI and in customary units.
    In(Kind, f64, f64),
    /// As a multiple of the engine's own value.
    OfOwn,
    /// Transfer units of a cooler, as its effectiveness at the reference flow.
    Effectiveness,
}

/// How far a slider or a sweep goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// As far as the slider of the bench itself goes.
    Dial,
    /// Between two values, in the unit of the core.
    Between(f64, f64),
    /// From and to these multiples of the engine's own value. A value of zero has no multiples, and then there is no slider.
    OfOwn(f64, f64),
    /// So much below and above the engine's own value, in the unit of the core.
    AroundOwn(f64),
}

/// What a sweep can go over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    /// `vane`, `load`, `speed`, or the key of a setting.
    pub key: &'static str,
    /// As the axis names it.
    pub name: &'static str,
    /// What kind of number it is; for the load, while torque is held.
    pub kind: Kind,
    /// How far the sweep goes.
    pub reach: Reach,
}

/// The parameter of the core behind a setting, with its range; nothing if the core does not know it.
pub fn parameter(key: &str) -> Option<&'static Key> {
    match key.strip_prefix("ambient.") {
        Some(name) => Ambient::KEYS.iter().find(|key| key.name == name),
        None => engine::key(key).ok(),
    }
}

/// Whether a parameter is a temperature, and not a difference of two as the limit of a rise is.
pub fn is_temperature(key: &Key) -> bool {
    key.unit == "K" && quantity(key.name.trim_end_matches("_k")).is_none_or(Quantity::is_point)
}

/// How the altitude helper is shown.
pub const ALTITUDE: Scale = Scale::In(Kind::Altitude, 50.0, 200.0);

/// Altitudes in m that the helper goes to: what the air pressure of the bench reaches.
pub const ALTITUDE_M: (f64, f64) = (0.0, 5500.0);

/// A group: its id, name and sentence. A row: key, label, how it is shown, how far the slider goes; `swept` names it as the axis
/// of a sweep. Sweeps stand in a table of their own: the page needs them first, and the panel later.
macro_rules! settings {
    (dials { $($dial:literal $dial_name:literal $dial_kind:ident;)+ }
    $($id:literal $group:literal $says:literal {
        $($key:literal $label:literal $shown:expr, $reach:expr $(, swept $name:literal $kind:ident $swept:expr)?;)+
    })+) => {
        /// What-ifs in groups, from the air outside to the valves.
        pub static GROUPS: &[Group] = &[$(Group {
            id: $id,
            name: $group,
            says: $says,
            parts: &[$(Setting { key: $key, label: $label, shown: $shown, reach: $reach }),+],
        }),+];

        /// Every axis of a sweep: the dials of the bench, then what-ifs.
        pub static AXES: &[Axis] = &[
            $(Axis { key: $dial, name: $dial_name, kind: Kind::$dial_kind, reach: Reach::Dial },)+
            $($($(Axis { key: $key, name: $name, kind: Kind::$kind, reach: $swept },)?)+)+
        ];
    };
}

use Kind::{Bore, FuelPerCycle, Length, PressureAbs, Share, Temperature};
use Reach::{AroundOwn, Between, OfOwn};
use Scale::{Effectiveness, In, Switch};

settings! {
    dials {
        "vane" "vane position" VanePosition;
        "load" "load" Torque;
        "speed" "engine speed" EngineSpeed;
    }

    "weather" "Weather and altitude"
        "The air that the engine breathes: its pressure, its temperature and the water in it." {
        "ambient.p_pa" "Air pressure outside" In(PressureAbs, 1.0, 0.1), Between(5.0e4, 1.1e5),
            swept "ambient pressure" PressureAbs Between(6.0e4, 1.06e5);
        "ambient.t_k" "Air temperature outside" In(Temperature, 1.0, 1.0), Between(233.15, 328.15),
            swept "ambient temperature" Temperature Between(253.15, 318.15);
        "ambient.relative_humidity" "Relative humidity" In(Share, 1.0, 1.0), Between(0.0, 1.0);
    }

    "filter" "Air filter"
        "A filter that clogs holds the air back ahead of the compressor." {
        "filter.loss_1_m4" "Resistance against the clean filter" Scale::OfOwn, OfOwn(0.5, 10.0),
            swept "filter loss coefficient" LossCoefficient OfOwn(0.0, 12.0);
    }

    "cooler" "Charge cooler"
        "Cold air is denser: fit the cooler or take it out, foul it outside, block it inside, warm its coolant." {
        "charge_cooler.fitted" "Charge cooler fitted" Switch, Between(0.0, 1.0);
        // Effectiveness 0 to 0.982.
        "charge_cooler.transfer_units" "Effectiveness at the reference flow" Effectiveness, Between(0.0, 4.0),
            swept "size of the charge cooler" Ratio OfOwn(0.0, 2.0);
        "charge_cooler.loss_1_m4" "Pressure loss against the clean cooler" Scale::OfOwn, OfOwn(0.2, 6.0);
        "charge_cooler.sink_k" "Temperature of its coolant" In(Temperature, 1.0, 1.0), Between(273.15, 353.15),
            swept "cooler's coolant temperature" Temperature Between(278.15, 353.15);
    }

    "exhaust" "Exhaust pipe"
        "Whatever stands behind the turbine takes part of the expansion away from it." {
        "exhaust_pipe.bore_m" "Bore" In(Bore, 1.0, 0.05), OfOwn(0.6, 1.5),
            swept "exhaust-pipe bore" Bore OfOwn(0.55, 1.6);
        "exhaust_pipe.length_m" "Length" In(Length, 0.1, 0.5), OfOwn(0.2, 4.0),
            swept "exhaust-pipe length" Length OfOwn(0.2, 4.0);
        "exhaust_pipe.bends" "Bends" In(Kind::Bends, 1.0, 1.0), Between(0.0, 20.0);
        "exhaust_pipe.silencer_loss_1_m4" "Silencer, loss against its own" Scale::OfOwn, OfOwn(0.0, 8.0);
    }

    "injection" "Injection"
        "When the fuel burns, how long it takes, and how much of it is allowed." {
        "combustion.timing_shift_deg" "Injection later" In(Kind::CrankDelay, 0.5, 0.5), Between(-10.0, 10.0),
            swept "injection later by" CrankAngleFine Between(-8.0, 8.0);
        "combustion.main_duration_deg" "Duration of the main burn" In(Kind::CrankDuration, 0.5, 0.5), OfOwn(0.7, 1.5);
        "combustion.smoke_limit_afr" "Smoke limit, least air–fuel ratio" In(Kind::AirFuelRatio, 0.5, 0.5), Between(15.5, 30.0);
        "combustion.injector_limit_kg" "Most fuel that the injector gives" In(FuelPerCycle, 1.0, 1.0), OfOwn(0.5, 1.3);
    }

    "wear" "Turbocharger wear"
        "A fouled compressor, a worn turbine, tight or dry bearings: what the shaft loses before it breaks." {
        "compressor.head_factor" "Compressor head, share of new" In(Share, 1.0, 1.0), Between(0.8, 1.0),
            swept "compressor wear factor" Share Between(0.8, 1.0);
        "turbine.efficiency_factor" "Turbine efficiency, share of new" In(Share, 1.0, 1.0), Between(0.7, 1.0),
            swept "turbine wear factor" Share Between(0.7, 1.0);
        "shaft.bearing_loss_w_s2" "Bearing loss against new" Scale::OfOwn, OfOwn(0.5, 6.0);
    }

    "sizes" "Turbocharger sizes"
        "A larger or smaller compressor or turbine of the same kind." {
        "compressor.size_factor" "Compressor, share of its own size" In(Share, 1.0, 1.0), Between(0.75, 1.3),
            swept "size of the compressor" Share Between(0.75, 1.3);
        "turbine.size_factor" "Turbine, share of its own size" In(Share, 1.0, 1.0), Between(0.75, 1.3),
            swept "size of the turbine" Share Between(0.75, 1.3);
    }

    "faults" "Faults"
        "A leak ahead of the turbine, or vanes that stay where they are whatever the slider asks." {
        "manifolds.exhaust_leak_m2" "Leak of the exhaust manifold" In(Kind::AreaFine, 1.0, 0.002), Between(0.0, 1.0e-4),
            swept "area of an exhaust leak" AreaFine Between(0.0, 2.0e-4);
        "vanes.stuck" "Vanes stuck" Switch, Between(0.0, 1.0);
        "vanes.stuck_open_pct" "Where they are stuck" In(Kind::VanePosition, 1.0, 1.0), Between(0.0, 100.0);
    }

    "coolant" "Coolant"
        "The same heat into less coolant is a larger rise." {
        "coolant.flow_m3_s" "Coolant flow" In(Kind::CoolantFlow, 1.0, 0.5), OfOwn(0.3, 1.5);
    }

    "valves" "Valve events"
        "When the valves open and close: how much burnt gas stays, how much charge is held, what the overlap lets through." {
        "valves.exhaust_opens_deg" "Exhaust opens" In(Kind::BeforeBottom, 1.0, 1.0), AroundOwn(20.0);
        "valves.intake_opens_deg" "Intake opens" In(Kind::BeforeTop, 1.0, 1.0), AroundOwn(20.0);
        "valves.exhaust_closes_deg" "Exhaust closes" In(Kind::AfterTop, 1.0, 1.0), AroundOwn(20.0);
        "valves.intake_closes_deg" "Intake closes" In(Kind::AfterBottom, 1.0, 1.0), AroundOwn(20.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_core::engine::built_in;

    #[test]
    fn identity_every_setting_is_a_parameter_and_stands_once() {
        let keys = || GROUPS.iter().flat_map(|group| group.parts).map(|setting| setting.key);
        for (i, key) in keys().enumerate() {
            assert!(parameter(key).is_some(), "{key}");
            assert!(keys().skip(i + 1).all(|other| other != key), "{key}");
        }
        for (i, axis) in AXES.iter().enumerate() {
            assert!(AXES.iter().skip(i + 1).all(|other| other.key != axis.key), "{}", axis.key);
            assert_eq!(axis.reach == Reach::Dial, parameter(axis.key).is_none(), "{}", axis.key);
        }
        assert!(parameter("turbine.colour").is_none() && parameter("ambient.colour").is_none());
    }

    #[test]
    fn identity_sliders_and_sweeps_stay_where_the_core_allows() {
        let rows = GROUPS.iter().flat_map(|group| group.parts).map(|s| (s.key, s.reach));
        for (key, reach) in rows.chain(AXES.iter().map(|axis| (axis.key, axis.reach))) {
            if let (Reach::Between(from, to), Some(parameter)) = (reach, parameter(key)) {
                assert!(parameter.min <= from && from < to && to <= parameter.max, "{key}: {from} to {to}");
            }
        }
    }

    /// The unit that a setting is shown in measures what the unit of the core measures.
    #[test]
    fn identity_units_fit_those_of_the_core() {
        let shown = GROUPS.iter().flat_map(|group| group.parts).filter_map(|setting| match setting.shown {
            Scale::In(kind, ..) => Some((setting.key, kind)),
            _ => None,
        });
        for (key, kind) in shown.chain(AXES.iter().map(|axis| (axis.key, axis.kind))) {
            let Some(parameter) = parameter(key) else { continue };
            assert_eq!(crate::units::dim_of(parameter.unit), Some(kind.family().dim()), "{key}");
        }
    }

    #[test]
    fn identity_the_core_names_what_is_held_as_the_table_does() {
        use volute_core::keys::KeyError;
        use volute_core::settings::{Load, REFERENCE_DAY, Settings};
        let engine = built_in::opening();
        let good = Settings {
            speed_rpm: engine.range.speed_min_rpm,
            load: Load::Torque { torque_n_m: 0.0 },
            vane_open_pct: 50.0,
            ambient: REFERENCE_DAY,
        };
        let named = |settings: Settings| match settings.check(&engine) {
            Err(KeyError::OutOfRange { key, .. }) => HELD.iter().any(|held| held.core == key),
            _ => false,
        };
        assert!(named(Settings { speed_rpm: -1.0, ..good }) && named(Settings { vane_open_pct: -1.0, ..good }));
        assert!(named(Settings { load: Load::Torque { torque_n_m: -1.0 }, ..good }));
        assert!(named(Settings { load: Load::Fuel { fuel_kg_per_cycle: -1.0 }, ..good }));
    }
}
