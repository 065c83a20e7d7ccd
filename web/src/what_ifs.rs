//! What-ifs: the changes to air, engine and turbocharger that a learner may try, as sliders on a bench.
//!
//! The table of settings stands in [`volute_quantities`]. A setting that the core does not know gets no slider. Everything counts
//! against the engine as it came, which the caller keeps: for a built-in engine its file, for an own one the text that was read.
//! No browser here: plain tests reach it.

use crate::language::{msg, t};
use crate::state::{BenchSettings, Origin};
use crate::units::UnitSystem;
use std::sync::Arc;
use volute_core::engine::Engine;
use volute_core::engine::built_in;
use volute_core::gas::atmosphere::{self, AtmosphereError};
use volute_core::keys::KeyError;
use volute_core::point::steady::BenchError;
use volute_core::settings::{Ambient, Load, REFERENCE_DAY};
use volute_quantities::settings::{ALTITUDE, ALTITUDE_M, Reach, parameter};
pub use volute_quantities::settings::{GROUPS, Group, Scale as Shown, Setting as WhatIf};

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

/// Every text of the panel, as its table has them.
pub fn texts() -> Vec<&'static str> {
    let of_group = |group: &Group| {
        let labels = group.parts.iter().map(|part| part.label);
        [group.name, group.says].into_iter().chain(labels).collect::<Vec<_>>()
    };
    GROUPS.iter().flat_map(of_group).collect()
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

/// The value of a setting on the bench, SI; nothing if the core does not know it.
pub fn get(key: &str, bench: &BenchSettings) -> Option<f64> {
    read(key, &bench.engine, &bench.settings.ambient)
}

fn read(key: &str, engine: &Engine, air: &Ambient) -> Option<f64> {
    match key.strip_prefix("ambient.") {
        Some(name) => air.get(name),
        None => engine.get(key).ok(),
    }
}

/// Writes a setting, SI. Errors: a setting that the core does not know, a value out of its range.
pub fn set(key: &str, bench: &mut BenchSettings, si: f64) -> Result<(), KeyError> {
    if key.starts_with("ambient.") {
        bench.settings.ambient.set(key, si)
    } else {
        Arc::make_mut(&mut bench.engine).set(key, si)
    }
}

/// The value of a part on the bench, SI; nothing if the core does not know it.
pub fn value(part: &WhatIf, bench: &BenchSettings) -> Option<f64> {
    get(part.key, bench)
}

/// The value of a part as the engine came, on the reference day.
fn own(part: &WhatIf, came: &Engine) -> Option<f64> {
    read(part.key, came, &REFERENCE_DAY)
}

/// A scale between SI and the page: `shown = (si - zero) / per_unit`, or that of a share which follows from transfer units.
struct Scale {
    symbol: &'static str,
    spoken: &'static str,
    per_unit: f64,
    zero_si: f64,
    decimals: usize,
    step: f64,
    effectiveness: bool,
}

impl Scale {
    fn of(shown: Shown, own: f64, units: UnitSystem) -> Self {
        let plain = |symbol, spoken, per_unit, decimals, step| Self {
            symbol,
            spoken,
            per_unit,
            zero_si: 0.0,
            decimals,
            step,
            effectiveness: shown == Shown::Effectiveness,
        };
        match shown {
            Shown::Switch => plain("", "", 1.0, 0, 1.0),
            Shown::OfOwn => plain("×", msg("times"), own, 1, 0.1),
            Shown::Effectiveness => plain("%", msg("per cent"), 0.01, 0, 1.0),
            Shown::In(kind, si_step, customary_step) => {
                let (customary, step) = if units == UnitSystem::Si { (false, si_step) } else { (true, customary_step) };
                let in_unit = kind.shown(customary);
                let unit = in_unit.unit;
                let scale = plain(in_unit.symbol, in_unit.spoken, unit.factor, in_unit.decimals.into(), step);
                Self { zero_si: unit.offset, ..scale }
            }
        }
    }

    fn shown(&self, si: f64) -> f64 {
        // The cooler's own law at its reference flow, see `volute_core::parts::cooler`; a test holds the two together.
        let si = if self.effectiveness { -(-si).exp_m1() } else { si };
        (si - self.zero_si) / self.per_unit
    }

    fn si(&self, shown: f64) -> f64 {
        let si = shown * self.per_unit + self.zero_si;
        if self.effectiveness { -(-si).ln_1p() } else { si }
    }

    /// Whole steps between two values in SI: the slider never stands where the core would refuse.
    fn slider(&self, value: f64, min_si: f64, max_si: f64) -> Slider {
        let (a, b) = (self.shown(min_si), self.shown(max_si));
        Slider {
            value,
            min: clean((a.min(b) / self.step - 1e-9).ceil() * self.step),
            max: clean((a.max(b) / self.step + 1e-9).floor() * self.step),
            step: self.step,
            decimals: self.decimals,
            symbol: t(self.symbol),
            spoken: t(self.spoken),
        }
    }
}

/// The slider of a part; nothing if the core does not know it, or if it counts in multiples of a value that is zero.
pub fn slider(part: &WhatIf, bench: &BenchSettings, came: &Engine, units: UnitSystem) -> Option<Slider> {
    let (key, now, own) = (parameter(part.key)?, value(part, bench)?, own(part, came)?);
    let (min, max) = match part.reach {
        Reach::Between(min, max) => (min, max),
        Reach::OfOwn(_, _) if own == 0.0 => return None,
        Reach::OfOwn(from, to) => (from * own, to * own),
        Reach::AroundOwn(by) => (own - by, own + by),
        Reach::Dial => (key.min, key.max),
    };
    // A value from a link or an own file may lie further out than the slider would go by itself.
    let (min, max) = (min.max(key.min).min(own).min(now), max.min(key.max).max(own).max(now));
    let scale = Scale::of(part.shown, own, units);
    let slider = scale.slider(clean(scale.shown(now)), min, max);
    (slider.min < slider.max).then_some(slider)
}

/// Without the noise that a change of units leaves in the last digits.
fn clean(value: f64) -> f64 {
    // A zero without its sign: an input would show "-0".
    (value * 1e6).round() / 1e6 + 0.0
}

/// Two values of a part, SI, as numbers on its slider, the lesser first; nothing where there is no slider.
pub fn ends(part: &WhatIf, came: &Engine, units: UnitSystem, from_si: f64, to_si: f64) -> Option<(f64, f64)> {
    let scale = Scale::of(part.shown, own(part, came)?, units);
    let (a, b) = (scale.shown(from_si), scale.shown(to_si));
    Some((a.min(b), a.max(b)))
}

/// What a number on the part's slider is in SI; nothing where there is no slider. Past the ends it is the end's value.
pub fn si(part: &WhatIf, came: &Engine, units: UnitSystem, shown: f64) -> Option<f64> {
    let (key, own) = (parameter(part.key)?, own(part, came)?);
    let value = Scale::of(part.shown, own, units).si(shown);
    (!value.is_nan()).then(|| value.clamp(key.min, key.max))
}

/// The bench with one parameter changed, SI. Errors: a value or a combination that the core refuses.
pub fn with(part: &WhatIf, bench: &BenchSettings, si: f64) -> Result<BenchSettings, BenchError> {
    let mut next = bench.clone();
    set(part.key, &mut next, si)?;
    finish(bench, next)
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
            && set(part.key, &mut next, own).is_err()
        {
            return bench.clone();
        }
    }
    finish(bench, next).unwrap_or_else(|_| bench.clone())
}

/// The slider of the altitude helper. It only sets: a pressure may come from the weather, so no altitude stands for it, and the
/// slider opens at sea level.
pub fn altitude(units: UnitSystem) -> Slider {
    Scale::of(ALTITUDE, 1.0, units).slider(0.0, ALTITUDE_M.0, ALTITUDE_M.1)
}

/// The altitude in m that a number on that slider stands for.
pub fn altitude_m(units: UnitSystem, shown: f64) -> f64 {
    Scale::of(ALTITUDE, 1.0, units).si(shown)
}

/// The bench with pressure and temperature of the standard atmosphere at an altitude; humidity stays.
/// Errors: `AltitudeOutOfRange`, also for what the bench's air pressure does not reach.
pub fn at_altitude(bench: &BenchSettings, altitude_m: f64) -> Result<BenchSettings, AtmosphereError> {
    let (min_m, max_m) = ALTITUDE_M;
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
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), GROUPS.len());
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
        let (shown, reach) = (Shown::Switch, Reach::Between(0.0, 1.0));
        let nowhere = WhatIf { key: "turbine.colour", label: "Colour", shown, reach };
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
