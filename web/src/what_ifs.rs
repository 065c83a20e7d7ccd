//! What-ifs: the changes to air, engine and turbocharger that a learner may try, as data for a panel.
//!
//! A part names a parameter as links do, `exhaust_pipe.bore_m` or `ambient.p_pa`, says in which unit it is shown and how
//! far its slider goes. Parameters that the core does not know are left out when the panel asks, not here. Everything is
//! counted against the engine as it came, which the caller keeps: for a built-in engine its file, for an own one the text
//! that was read. No browser here: plain tests reach it.

use crate::language::{msg, t};
use crate::state::{BenchSettings, Dial, Origin};
use crate::units::{Quantity, UnitSystem};
use std::sync::Arc;
use volute_core::engine::built_in;
use volute_core::engine::{self, Engine};
use volute_core::gas::atmosphere::{self, AtmosphereError};
use volute_core::keys::{Key, KeyError};
use volute_core::point::steady::BenchError;
use volute_core::settings::{Ambient, Load, REFERENCE_DAY};

/// What-ifs that belong together.
#[derive(Debug, PartialEq)]
pub struct Group {
    /// Short name, for links and hooks of the page.
    pub id: &'static str,
    /// As the page writes it.
    pub name: &'static str,
    /// What it is for, in a sentence.
    pub says: &'static str,
    /// The parameters.
    pub parts: &'static [WhatIf],
}

/// One parameter that can be moved.
#[derive(Debug, PartialEq)]
pub struct WhatIf {
    /// `group.name`, as links write it.
    pub key: &'static str,
    /// As the page writes it.
    pub label: &'static str,
    /// How it is shown.
    pub shown: Shown,
    /// How far its slider goes, within what the core allows.
    pub reach: Reach,
}

/// How a parameter is shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shown {
    /// On or off: 1 or 0.
    Switch,
    /// In the unit of a quantity; steps of the slider in the SI family's unit and in the customary one.
    In(Quantity, f64, f64),
    /// In units of its own: SI family, customary.
    Plain(Plain, Plain),
    /// As a multiple of the engine's own value.
    OfOwn,
    /// Transfer units of a cooler, as its effectiveness at the reference flow.
    Effectiveness,
}

/// A unit that only what-ifs need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plain {
    symbol: &'static str,
    spoken: &'static str,
    /// SI for each unit; negative where the scale runs the other way, such as degrees *before* a dead centre.
    per_unit: f64,
    /// SI value at nought.
    zero_si: f64,
    decimals: usize,
    step: f64,
}

/// How far a slider goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// Between two values, SI.
    Between(f64, f64),
    /// From and to these multiples of the engine's own value. A value of nought has no multiples: no slider then.
    OfOwn(f64, f64),
    /// So much below and above the engine's own value, SI.
    AroundOwn(f64),
}

/// A slider in the units of the page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slider {
    /// Where it stands.
    pub value: f64,
    /// Least.
    pub min: f64,
    /// Greatest.
    pub max: f64,
    /// One press of an arrow key.
    pub step: f64,
    /// Digits after the point.
    pub decimals: usize,
    /// Unit as printed; empty for a plain number.
    pub symbol: &'static str,
    /// Unit as a screen reader says it.
    pub spoken: &'static str,
}

impl Slider {
    /// The same between narrower ends, on its own steps; where it stands stays within reach.
    pub fn narrowed(self, low: f64, high: f64) -> Self {
        let min = clean((low / self.step - 1e-9).ceil() * self.step).max(self.min);
        let max = clean((high / self.step + 1e-9).floor() * self.step).min(self.max);
        Self { min: min.min(self.value), max: max.max(self.value), ..self }
    }
}

const INCH_M: f64 = 0.0254;
const FOOT_M: f64 = 0.3048;
/// Litre per minute in m3/s.
const L_MIN: f64 = 1e-3 / 60.0;
/// US gallon, 231 cubic inches, per minute in m3/s.
const GAL_MIN: f64 = 231.0 * INCH_M * INCH_M * INCH_M / 60.0;

const fn plain(symbol: &'static str, spoken: &'static str, per_unit: f64, decimals: usize, step: f64) -> Plain {
    Plain { symbol, spoken, per_unit, zero_si: 0.0, decimals, step }
}

const fn same(unit: Plain) -> Shown {
    Shown::Plain(unit, unit)
}

/// Degrees of crank angle before or after a dead centre that stands at `zero_deg`.
const fn crank(symbol: &'static str, spoken: &'static str, zero_deg: f64, sign: f64) -> Shown {
    same(Plain { zero_si: zero_deg, ..plain(symbol, spoken, sign, 0, 1.0) })
}

const fn part(key: &'static str, label: &'static str, shown: Shown, reach: Reach) -> WhatIf {
    WhatIf { key, label, shown, reach }
}

const LENGTH_MM: Shown = Shown::Plain(plain("mm", "millimetres", 1e-3, 0, 1.0), plain("in", "inches", INCH_M, 2, 0.05));
const LENGTH_M: Shown = Shown::Plain(plain("m", "metres", 1.0, 1, 0.1), plain("ft", "feet", FOOT_M, 1, 0.5));
const LEAK: Shown = Shown::Plain(
    plain("mm²", "square millimetres", 1e-6, 0, 1.0),
    plain("in²", "square inches", INCH_M * INCH_M, 3, 0.002),
);
const COOLANT_FLOW: Shown = Shown::Plain(
    plain("L/min at 2000 1/min", "litres per minute at 2000 revolutions", L_MIN, 0, 1.0),
    plain("gal/min at 2000 1/min", "US gallons per minute at 2000 revolutions", GAL_MIN, 1, 0.5),
);
const DEGREES: Plain = plain("°", "degrees of crank angle", 1.0, 1, 0.5);
const PER_CENT: Shown = Shown::In(Quantity::Share, 1.0, 1.0);
const WARMTH: Shown = Shown::In(Quantity::Temperature, 1.0, 1.0);

/// Altitudes that the bench's air pressure reaches, in m, and the units they are shown in.
const ALTITUDE_M: Dial = Dial { min: 0.0, max: 5500.0, step: 50.0 };
const ALTITUDE: (Plain, Plain) = (plain("m", "metres", 1.0, 0, 50.0), plain("ft", "feet", FOOT_M, 0, 200.0));

/// The groups, from the air outside to the coolant.
pub static GROUPS: &[Group] = &[
    Group {
        id: "weather",
        name: "Weather and altitude",
        says: "The air that the engine breathes: its pressure, its temperature and the water in it.",
        parts: &[
            part(
                "ambient.p_pa",
                "Air pressure outside",
                Shown::In(Quantity::PressureAbs, 1.0, 0.1),
                Reach::Between(5.0e4, 1.1e5),
            ),
            part("ambient.t_k", "Air temperature outside", WARMTH, Reach::Between(233.15, 328.15)),
            part("ambient.relative_humidity", "Relative humidity", PER_CENT, Reach::Between(0.0, 1.0)),
        ],
    },
    Group {
        id: "filter",
        name: "Air filter",
        says: "A filter that clogs holds the air back ahead of the compressor.",
        parts: &[part(
            "filter.loss_1_m4",
            "Resistance against the clean filter",
            Shown::OfOwn,
            Reach::OfOwn(0.5, 10.0),
        )],
    },
    Group {
        id: "cooler",
        name: "Charge cooler",
        says: "Cold air is denser: fit the cooler or take it out, foul it outside, block it inside, warm its coolant.",
        parts: &[
            part("charge_cooler.fitted", "Charge cooler fitted", Shown::Switch, Reach::Between(0.0, 1.0)),
            part(
                "charge_cooler.transfer_units",
                "Effectiveness at the reference flow",
                Shown::Effectiveness,
                // Effectiveness 0 to 0.982.
                Reach::Between(0.0, 4.0),
            ),
            part(
                "charge_cooler.loss_1_m4",
                "Pressure loss against the clean cooler",
                Shown::OfOwn,
                Reach::OfOwn(0.2, 6.0),
            ),
            part("charge_cooler.sink_k", "Temperature of its coolant", WARMTH, Reach::Between(273.15, 353.15)),
        ],
    },
    Group {
        id: "exhaust",
        name: "Exhaust pipe",
        says: "Whatever stands behind the turbine takes part of the expansion away from it.",
        parts: &[
            part("exhaust_pipe.bore_m", "Bore", LENGTH_MM, Reach::OfOwn(0.6, 1.5)),
            part("exhaust_pipe.length_m", "Length", LENGTH_M, Reach::OfOwn(0.2, 4.0)),
            part("exhaust_pipe.bends", "Bends", same(plain("", "bends", 1.0, 0, 1.0)), Reach::Between(0.0, 20.0)),
            part(
                "exhaust_pipe.silencer_loss_1_m4",
                "Silencer, loss against its own",
                Shown::OfOwn,
                Reach::OfOwn(0.0, 8.0),
            ),
        ],
    },
    Group {
        id: "injection",
        name: "Injection",
        says: "When the fuel burns, how long it takes, and how much of it is allowed.",
        parts: &[
            part(
                "combustion.timing_shift_deg",
                "Injection later",
                same(plain("° later", "degrees of crank angle later", 1.0, 1, 0.5)),
                Reach::Between(-10.0, 10.0),
            ),
            part("combustion.main_duration_deg", "Duration of the main burn", same(DEGREES), Reach::OfOwn(0.7, 1.5)),
            part(
                "combustion.smoke_limit_afr",
                "Smoke limit, least air–fuel ratio",
                same(plain("", "kilograms of air for each of fuel", 1.0, 1, 0.5)),
                Reach::Between(15.5, 30.0),
            ),
            part(
                "combustion.injector_limit_kg",
                "Most fuel that the injector gives",
                Shown::In(Quantity::FuelPerCycle, 1.0, 1.0),
                Reach::OfOwn(0.5, 1.3),
            ),
        ],
    },
    Group {
        id: "wear",
        name: "Turbocharger wear",
        says: "A fouled compressor, a worn turbine, tight or dry bearings: what the shaft loses before it breaks.",
        parts: &[
            part("compressor.head_factor", "Compressor head, share of new", PER_CENT, Reach::Between(0.8, 1.0)),
            part("turbine.efficiency_factor", "Turbine efficiency, share of new", PER_CENT, Reach::Between(0.7, 1.0)),
            part("shaft.bearing_loss_w_s2", "Bearing loss against new", Shown::OfOwn, Reach::OfOwn(0.5, 6.0)),
        ],
    },
    Group {
        id: "sizes",
        name: "Turbocharger sizes",
        says: "A larger or smaller compressor or turbine of the same kind.",
        parts: &[
            part("compressor.size_factor", "Compressor, share of its own size", PER_CENT, Reach::Between(0.75, 1.3)),
            part("turbine.size_factor", "Turbine, share of its own size", PER_CENT, Reach::Between(0.75, 1.3)),
        ],
    },
    Group {
        id: "faults",
        name: "Faults",
        says: "A leak ahead of the turbine, or vanes that stay where they are whatever the slider asks.",
        parts: &[
            part("manifolds.exhaust_leak_m2", "Leak of the exhaust manifold", LEAK, Reach::Between(0.0, 1.0e-4)),
            part("vanes.stuck", "Vanes stuck", Shown::Switch, Reach::Between(0.0, 1.0)),
            part(
                "vanes.stuck_open_pct",
                "Where they are stuck",
                same(plain("% open", "per cent open", 1.0, 0, 1.0)),
                Reach::Between(0.0, 100.0),
            ),
        ],
    },
    Group {
        id: "coolant",
        name: "Coolant",
        says: "The same heat into less coolant is a larger rise.",
        parts: &[part("coolant.flow_m3_s", "Coolant flow", COOLANT_FLOW, Reach::OfOwn(0.3, 1.5))],
    },
    Group {
        id: "valves",
        name: "Valve events",
        says: "When the valves open and close: how much burnt gas stays, how much charge is held, what the overlap lets through.",
        parts: &[
            part(
                "valves.exhaust_opens_deg",
                "Exhaust opens",
                crank("° before bottom", "degrees before bottom dead centre", 180.0, -1.0),
                Reach::AroundOwn(20.0),
            ),
            part(
                "valves.intake_opens_deg",
                "Intake opens",
                crank("° before top", "degrees before top dead centre", 360.0, -1.0),
                Reach::AroundOwn(20.0),
            ),
            part(
                "valves.exhaust_closes_deg",
                "Exhaust closes",
                crank("° after top", "degrees after top dead centre", 360.0, 1.0),
                Reach::AroundOwn(20.0),
            ),
            part(
                "valves.intake_closes_deg",
                "Intake closes",
                crank("° after bottom", "degrees after bottom dead centre", 540.0, 1.0),
                Reach::AroundOwn(20.0),
            ),
        ],
    },
];

/// Every text of the panel, units included, as its tables have them.
pub fn texts() -> Vec<&'static str> {
    let of_unit = |unit: &Plain| [unit.symbol, unit.spoken];
    let mut all: Vec<&str> = [&ALTITUDE.0, &ALTITUDE.1].into_iter().flat_map(of_unit).collect();
    for group in GROUPS {
        all.extend([group.name, group.says]);
        for part in group.parts {
            all.push(part.label);
            if let Shown::Plain(si, customary) = &part.shown {
                all.extend([si, customary].into_iter().flat_map(of_unit));
            }
        }
    }
    all
}

/// The engine as it came, where the bench alone tells: a built-in one. Of an own engine only the caller has the text.
pub fn as_it_came(origin: &Origin) -> Option<Engine> {
    let Origin::BuiltIn(name) = origin else { return None };
    built_in::engine(name)
}

/// The parts of a group that this core knows and this engine can move.
pub fn offered<'a>(group: &'a Group, bench: &'a BenchSettings, came: &'a Engine) -> impl Iterator<Item = &'a WhatIf> {
    group.parts.iter().filter(move |part| slider(part, bench, came, UnitSystem::Si).is_some())
}

/// The parameter's value on the bench, SI; nothing if the core does not know it.
pub fn value(part: &WhatIf, bench: &BenchSettings) -> Option<f64> {
    match part.key.strip_prefix("ambient.") {
        Some(name) => bench.settings.ambient.get(name),
        None => bench.engine.get(part.key).ok(),
    }
}

/// The parameter's value as the engine came, on the reference day.
fn own(part: &WhatIf, came: &Engine) -> Option<f64> {
    match part.key.strip_prefix("ambient.") {
        Some(name) => REFERENCE_DAY.get(name),
        None => came.get(part.key).ok(),
    }
}

fn key(part: &WhatIf) -> Option<&'static Key> {
    match part.key.strip_prefix("ambient.") {
        Some(name) => Ambient::KEYS.iter().find(|key| key.name == name),
        None => engine::key(part.key).ok(),
    }
}

/// A scale between SI and the page: `shown = (si - zero) / per_unit`, or the two that are not of that form.
struct Scale {
    unit: Plain,
    effectiveness: bool,
}

impl Scale {
    fn of(part: &WhatIf, own: f64, units: UnitSystem) -> Self {
        let si = units == UnitSystem::Si;
        let unit = match part.shown {
            Shown::Switch => plain("", "", 1.0, 0, 1.0),
            Shown::In(quantity, si_step, customary_step) => {
                let unit = units.unit(quantity);
                let zero_si = unit.si(0.0);
                Plain {
                    symbol: unit.symbol,
                    spoken: unit.spoken,
                    per_unit: unit.si(1.0) - zero_si,
                    zero_si,
                    decimals: unit.decimals,
                    step: if si { si_step } else { customary_step },
                }
            }
            Shown::Plain(metric, customary) => {
                if si {
                    metric
                } else {
                    customary
                }
            }
            Shown::OfOwn => plain("×", msg("times"), own, 1, 0.1),
            Shown::Effectiveness => plain("%", msg("per cent"), 0.01, 0, 1.0),
        };
        Self { unit, effectiveness: part.shown == Shown::Effectiveness }
    }

    fn shown(&self, si: f64) -> f64 {
        // The cooler's own law at its reference flow, see `volute_core::parts::cooler`; a test holds the two together.
        let si = if self.effectiveness { -(-si).exp_m1() } else { si };
        (si - self.unit.zero_si) / self.unit.per_unit
    }

    fn si(&self, shown: f64) -> f64 {
        let si = shown * self.unit.per_unit + self.unit.zero_si;
        if self.effectiveness { -(-si).ln_1p() } else { si }
    }
}

/// The slider of a part; nothing if the core does not know it, or if it counts in multiples of a value that is nought.
pub fn slider(part: &WhatIf, bench: &BenchSettings, came: &Engine, units: UnitSystem) -> Option<Slider> {
    let (key, now, own) = (key(part)?, value(part, bench)?, own(part, came)?);
    let (min, max) = match part.reach {
        Reach::Between(min, max) => (min, max),
        Reach::OfOwn(_, _) if own == 0.0 => return None,
        Reach::OfOwn(from, to) => (from * own, to * own),
        Reach::AroundOwn(by) => (own - by, own + by),
    };
    // A value from a link or an own file may lie further out than the slider would go by itself.
    let (min, max) = (min.max(key.min).min(own).min(now), max.min(key.max).max(own).max(now));
    let scale = Scale::of(part, own, units);
    let Plain { symbol, spoken, decimals, step, .. } = scale.unit;
    let ends = (scale.shown(min), scale.shown(max));
    let (low, high) = (ends.0.min(ends.1), ends.0.max(ends.1));
    // Whole steps, inside the ends: the slider never stands where the core would refuse.
    let min = clean((low / step - 1e-9).ceil() * step);
    let max = clean((high / step + 1e-9).floor() * step);
    (min < max).then(|| Slider {
        value: clean(scale.shown(now)),
        min,
        max,
        step,
        decimals,
        symbol: t(symbol),
        spoken: t(spoken),
    })
}

/// Without the noise that a change of units leaves in the last digits.
fn clean(value: f64) -> f64 {
    // A nought without its sign: an input would show "-0".
    (value * 1e6).round() / 1e6 + 0.0
}

/// Two values of a part, SI, as numbers on its slider, the lesser first; nothing where there is no slider.
pub fn ends(part: &WhatIf, came: &Engine, units: UnitSystem, from_si: f64, to_si: f64) -> Option<(f64, f64)> {
    let scale = Scale::of(part, own(part, came)?, units);
    let (a, b) = (scale.shown(from_si), scale.shown(to_si));
    Some((a.min(b), a.max(b)))
}

/// What a number on the part's slider is in SI; nothing where there is no slider. Past the ends it is the end's value.
pub fn si(part: &WhatIf, came: &Engine, units: UnitSystem, shown: f64) -> Option<f64> {
    let (key, own) = (key(part)?, own(part, came)?);
    let value = Scale::of(part, own, units).si(shown);
    (!value.is_nan()).then(|| value.clamp(key.min, key.max))
}

/// The bench with one parameter changed, SI. Errors: a value or a combination that the core refuses.
pub fn with(part: &WhatIf, bench: &BenchSettings, si: f64) -> Result<BenchSettings, BenchError> {
    let mut next = bench.clone();
    write(&mut next, part.key, si)?;
    finish(bench, next)
}

fn write(bench: &mut BenchSettings, key: &str, si: f64) -> Result<(), KeyError> {
    if key.starts_with("ambient.") {
        bench.settings.ambient.set(key, si)
    } else {
        Arc::make_mut(&mut bench.engine).set(key, si)
    }
}

/// Checks what was changed, and takes the load along when the end of its slider has moved past it.
fn finish(before: &BenchSettings, mut next: BenchSettings) -> Result<BenchSettings, BenchError> {
    next.engine.check()?;
    let (load, was, is) = (before.load_si(), before.load_dial(), next.load_dial());
    if load > is.max && (load <= was.max || next.settings.check(&next.engine).is_err()) {
        match &mut next.settings.load {
            Load::Fuel { fuel_kg_per_cycle } => *fuel_kg_per_cycle = is.max,
            Load::Torque { torque_n_m } => *torque_n_m = is.max,
        }
    }
    next.settings.check(&next.engine)?;
    Ok(next)
}

/// Whether anything in the group differs from the engine as it came and the reference day.
pub fn changed(group: &Group, bench: &BenchSettings, came: &Engine) -> bool {
    group.parts.iter().any(|part| value(part, bench) != own(part, came))
}

/// The bench with the group as the engine came, on the reference day; everything else stays. Where that does not fit what
/// else was changed, the bench stays as it is.
pub fn reset(group: &Group, bench: &BenchSettings, came: &Engine) -> BenchSettings {
    let mut next = bench.clone();
    for part in group.parts {
        if let Some(own) = own(part, came)
            && write(&mut next, part.key, own).is_err()
        {
            return bench.clone();
        }
    }
    finish(bench, next).unwrap_or_else(|_| bench.clone())
}

/// The slider of the altitude helper. It only sets: a pressure may come from the weather, so none stands for an altitude,
/// and the slider opens at sea level.
pub fn altitude(units: UnitSystem) -> Slider {
    let unit = if units == UnitSystem::Si { ALTITUDE.0 } else { ALTITUDE.1 };
    let end = |m: f64| clean((m / unit.per_unit / unit.step + 1e-9).floor() * unit.step);
    Slider {
        value: 0.0,
        min: end(ALTITUDE_M.min),
        max: end(ALTITUDE_M.max),
        step: unit.step,
        decimals: unit.decimals,
        symbol: t(unit.symbol),
        spoken: t(unit.spoken),
    }
}

/// The altitude in m that a number on that slider stands for.
pub fn altitude_m(units: UnitSystem, shown: f64) -> f64 {
    shown * if units == UnitSystem::Si { ALTITUDE.0.per_unit } else { ALTITUDE.1.per_unit }
}

/// The bench with pressure and temperature of the standard atmosphere at an altitude; humidity stays.
/// Errors: `AltitudeOutOfRange`, also for what the bench's air pressure does not reach.
pub fn at_altitude(bench: &BenchSettings, altitude_m: f64) -> Result<BenchSettings, AtmosphereError> {
    let Dial { min: min_m, max: max_m, .. } = ALTITUDE_M;
    if !(min_m <= altitude_m && altitude_m <= max_m) {
        return Err(AtmosphereError::AltitudeOutOfRange { altitude_m, min_m, max_m });
    }
    let day = atmosphere::ambient_at(altitude_m)?;
    let mut next = bench.clone();
    next.settings.ambient = Ambient { relative_humidity: bench.settings.ambient.relative_humidity, ..day };
    Ok(next)
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_core::parts::cooler;

    fn benches() -> Vec<BenchSettings> {
        built_in::names().map(|name| BenchSettings::built_in(name).unwrap()).collect()
    }

    fn find(key: &str) -> (&'static Group, &'static WhatIf) {
        let all = GROUPS.iter().flat_map(|g| g.parts.iter().map(move |p| (g, p)));
        all.into_iter().find(|(_, p)| p.key == key).unwrap()
    }

    #[test]
    fn identity_names_are_unique_and_texts_are_sentences() {
        let mut ids: Vec<&str> = GROUPS.iter().map(|g| g.id).collect();
        let mut keys: Vec<&str> = GROUPS.iter().flat_map(|g| g.parts).map(|p| p.key).collect();
        for names in [&mut ids, &mut keys] {
            let all = names.len();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), all);
        }
        for g in GROUPS {
            assert!(g.says.ends_with('.') && !g.says.contains("  ") && !g.parts.is_empty(), "{}", g.id);
            assert!(g.parts.iter().all(|p| !p.label.is_empty()), "{}", g.id);
        }
    }

    #[test]
    fn identity_every_key_is_known_and_unknown_ones_are_not_offered() {
        for bench in benches() {
            for part in GROUPS.iter().flat_map(|g| g.parts) {
                assert!(value(part, &bench).is_some(), "{}", part.key);
                for units in [UnitSystem::Si, UnitSystem::Customary] {
                    assert!(slider(part, &bench, &bench.engine, units).is_some(), "{}", part.key);
                }
            }
        }
        let nowhere = WhatIf { key: "turbine.colour", ..part("", "Colour", PER_CENT, Reach::Between(0.0, 1.0)) };
        let bench = BenchSettings::open();
        assert_eq!(slider(&nowhere, &bench, &bench.engine, UnitSystem::Si), None);
        assert_eq!(si(&nowhere, &bench.engine, UnitSystem::Si, 50.0), None);
        assert!(matches!(with(&nowhere, &bench, 0.5), Err(BenchError::Setting(KeyError::Unknown { .. }))));
    }

    #[test]
    fn identity_the_core_takes_every_end_of_every_slider() {
        for bench in benches() {
            for group in GROUPS {
                for part in offered(group, &bench, &bench.engine) {
                    for units in [UnitSystem::Si, UnitSystem::Customary] {
                        let s = slider(part, &bench, &bench.engine, units).unwrap();
                        assert!(s.min <= s.value && s.value <= s.max, "{}: {s:?}", part.key);
                        let steps = (s.max - s.min) / s.step;
                        assert!((1.0..=300.0).contains(&steps.round()), "{}: {s:?}", part.key);
                        assert!((steps - steps.round()).abs() < 1e-6, "{}: {s:?}", part.key);
                        for shown in [s.min, s.max] {
                            let si = si(part, &bench.engine, units, shown).unwrap();
                            let moved = with(part, &bench, si).unwrap_or_else(|e| panic!("{} {shown}: {e}", part.key));
                            let again = slider(part, &moved, &bench.engine, units).unwrap();
                            assert!((again.value - shown).abs() < 1e-5, "{}: {shown} {again:?}", part.key);
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn identity_reset_takes_a_change_back_and_nothing_else() {
        for bench in benches() {
            let came = as_it_came(&bench.origin).unwrap();
            assert_eq!(came, *bench.engine);
            for group in GROUPS {
                assert!(!changed(group, &bench, &came), "{}", group.id);
                for part in offered(group, &bench, &came) {
                    let s = slider(part, &bench, &came, UnitSystem::Si).unwrap();
                    let end = if s.value == s.max { s.min } else { s.max };
                    let mut moved = with(part, &bench, si(part, &came, UnitSystem::Si, end).unwrap()).unwrap();
                    moved.settings.vane_open_pct = 33.0;
                    for other in GROUPS {
                        assert_eq!(changed(other, &moved, &came), other == group, "{} {}", part.key, other.id);
                    }
                    let back = reset(group, &moved, &came);
                    let mut expected = bench.clone();
                    expected.settings.vane_open_pct = 33.0;
                    assert_eq!(back, expected, "{}", part.key);
                    assert_eq!(reset(&GROUPS[usize::from(group == &GROUPS[0])], &moved, &came), moved);
                }
            }
        }
    }

    #[test]
    fn by_hand_values_as_the_page_shows_them() {
        let bench = BenchSettings::built_in("harbour-six").unwrap();
        let shown = |key, units| {
            let s = slider(find(key).1, &bench, &bench.engine, units).unwrap();
            (s.value, s.symbol)
        };
        let (si, us) = (UnitSystem::Si, UnitSystem::Customary);
        // Of the file: 100 mm, 5.5 m, 2.6 L/s; opens 130, closes 580 after firing top dead centre; the reference day.
        assert_eq!(shown("exhaust_pipe.bore_m", si), (100.0, "mm"));
        assert!((shown("exhaust_pipe.bore_m", us).0 - 100.0 / 25.4).abs() < 1e-6);
        assert_eq!(shown("exhaust_pipe.length_m", si), (5.5, "m"));
        assert_eq!(shown("coolant.flow_m3_s", si).0, 156.0);
        assert!((shown("coolant.flow_m3_s", us).0 - 156.0 / 3.785_411_784).abs() < 1e-6);
        assert_eq!(shown("valves.exhaust_opens_deg", si), (50.0, "° before bottom"));
        assert_eq!(shown("valves.intake_closes_deg", si), (40.0, "° after bottom"));
        assert_eq!(shown("ambient.p_pa", si), (100.0, "kPa abs"));
        assert_eq!(shown("ambient.t_k", us), (77.0, "°F"));
        assert_eq!(shown("filter.loss_1_m4", si), (1.0, "×"));
    }

    #[test]
    fn identity_the_cooler_shows_the_effectiveness_that_core_computes() {
        for bench in benches() {
            let part = find("charge_cooler.transfer_units").1;
            for shown in [0.0, 40.0, 75.0, 98.0] {
                let moved = with(part, &bench, si(part, &bench.engine, UnitSystem::Si, shown).unwrap()).unwrap();
                let c = &moved.engine.charge_cooler;
                let core = cooler::effectiveness(c, c.reference_flow_kg_s);
                assert!((100.0 * core - shown).abs() < 1e-9, "{core} against {shown}");
            }
        }
    }

    #[test]
    fn by_hand_the_load_comes_along_when_the_injector_gives_less() {
        let bench = BenchSettings::open();
        let (group, part) = find("combustion.injector_limit_kg");
        let less = with(part, &bench, 0.9e-4).unwrap();
        assert_eq!((less.load_si(), bench.load_si() > 0.9e-4), (0.9e-4, true));
        // Back again, the fuel stays where it was taken to.
        assert_eq!(reset(group, &less, &bench.engine).load_si(), 0.9e-4);
    }

    #[test]
    fn by_hand_refused_values_say_why() {
        let bench = BenchSettings::open();
        let error = |key, value| with(find(key).1, &bench, value).unwrap_err().to_string();
        assert!(error("exhaust_pipe.bore_m", 100.0).contains("Is it in millimetres?"));
        assert!(error("ambient.p_pa", f64::NAN).contains("outside 50000 to 110000 Pa"));
        assert!(error("valves.intake_closes_deg", 580.5).contains("whole degrees"));
    }

    #[test]
    fn by_hand_an_engine_without_a_silencer_has_no_multiple_of_it() {
        let mut bench = BenchSettings::open();
        Arc::make_mut(&mut bench.engine).set("exhaust_pipe.silencer_loss_1_m4", 0.0).unwrap();
        let (group, part) = find("exhaust_pipe.silencer_loss_1_m4");
        assert!(offered(group, &bench, &bench.engine).all(|offered| offered != part));
        assert_eq!(as_it_came(&Origin::Own), None);
    }

    #[test]
    fn by_hand_altitude_sets_pressure_and_temperature_and_leaves_humidity() {
        let mut bench = BenchSettings::open();
        bench.settings.ambient.relative_humidity = 0.4;
        let sea = at_altitude(&bench, 0.0).unwrap().settings.ambient;
        assert_eq!((sea.p_pa, sea.t_k, sea.relative_humidity), (101_325.0, 288.15, 0.4));
        for units in [UnitSystem::Si, UnitSystem::Customary] {
            let s = altitude(units);
            let top = at_altitude(&bench, altitude_m(units, s.max)).unwrap();
            assert_eq!(top.settings.check(&top.engine), Ok(()));
        }
        assert_eq!(altitude(UnitSystem::Customary).max, 18_000.0);
        for height_m in [-1.0, 5_501.0, f64::NAN] {
            assert!(at_altitude(&bench, height_m).unwrap_err().to_string().contains("outside 0 m to 5500 m"));
        }
    }
}
