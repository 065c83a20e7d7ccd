//! What the learner holds, its history, and the engines to choose from. No browser here: plain tests reach it.

use std::sync::Arc;
use volute_core::engine::Engine;
use volute_core::engine::built_in;
use volute_core::engine::engine_file::{self, EngineFileError};
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

/// Where the engine on the bench comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Origin {
    /// One of `built_in::names`.
    BuiltIn(String),
    /// A file of the learner's own.
    Own,
}

/// What the learner holds: an engine and the settings on it.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchSettings {
    /// The engine, whole: what-ifs change it in place.
    pub engine: Arc<Engine>,
    /// Where it comes from.
    pub origin: Origin,
    /// Speed, load, vanes, ambient air.
    pub settings: Settings,
}

impl BenchSettings {
    /// The bench as it opens: the first built-in engine.
    pub fn open() -> Self {
        Self::with_engine(built_in::opening(), Origin::BuiltIn(built_in::first().into()))
    }

    /// A built-in engine at its opening settings.
    pub fn built_in(name: &str) -> Option<Self> {
        Some(Self::with_engine(built_in::engine(name)?, Origin::BuiltIn(name.into())))
    }

    /// An engine of the learner's own at its opening settings.
    pub fn own(text: &str) -> Result<Self, EngineFileError> {
        Ok(Self::with_engine(engine_file::parse(text)?, Origin::Own))
    }

    /// An engine with the settings that it opens with: a third of the way up its speed range, most of its fuel, vanes
    /// tighter than the best, so that the first look shows an exhaust that stands above the intake.
    pub fn with_engine(engine: Engine, origin: Origin) -> Self {
        let engine = Arc::new(engine);
        let speed = dial_speed(&engine);
        let fuel = dial_fuel(&engine);
        let settings = Settings {
            speed_rpm: speed.snap(speed.min + (speed.max - speed.min) / 3.0),
            load: Load::Fuel { fuel_kg_per_cycle: fuel.snap(0.75 * engine.combustion.injector_limit_kg) },
            vane_open_pct: 50.0,
            ambient: REFERENCE_DAY,
        };
        Self { engine, origin, settings }
    }

    /// The dial of the load, whichever way it is held.
    pub fn load_dial(&self) -> Dial {
        match self.settings.load {
            Load::Fuel { .. } => dial_fuel(&self.engine),
            Load::Torque { .. } => dial_torque(&self.engine),
        }
    }

    /// The load that is held, in SI.
    pub fn load_si(&self) -> f64 {
        match self.settings.load {
            Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
            Load::Torque { torque_n_m } => torque_n_m,
        }
    }
}

/// The reach of a slider, in SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dial {
    /// Least.
    pub min: f64,
    /// Greatest.
    pub max: f64,
    /// One press of an arrow key; PageUp is ten.
    pub step: f64,
}

impl Dial {
    /// The nearest value that the slider can stand at.
    pub fn snap(&self, value: f64) -> f64 {
        let steps = ((value - self.min) / self.step).round();
        // Counted from the decimal step, so that 110 mg prints as 0.00011 kg and a link keeps it to the last digit.
        let snapped = clean((self.min / self.step).round() + steps, self.step);
        snapped.clamp(self.min, self.max)
    }
}

/// `count * step` without the noise of binary fractions: both are short decimals.
fn clean(count: f64, step: f64) -> f64 {
    let inverse = (1.0 / step).round();
    if step < 1.0 && (inverse * step - 1.0).abs() < 1e-9 { count / inverse } else { count * step }
}

/// Vane position, per cent open.
pub const DIAL_VANE: Dial = Dial { min: 0.0, max: 100.0, step: 1.0 };

/// Engine speed, 1/min.
pub fn dial_speed(engine: &Engine) -> Dial {
    Dial { min: engine.range.speed_min_rpm, max: engine.range.speed_max_rpm, step: 10.0 }
}

/// Fuel of a cylinder and cycle, kg. Ends on whole steps of the slider.
pub fn dial_fuel(engine: &Engine) -> Dial {
    let c = &engine.combustion;
    let step = slider_step(c.injector_limit_kg);
    Dial {
        min: clean((c.least_fuel_kg / step).ceil().max(1.0), step),
        max: clean((c.injector_limit_kg / step).floor(), step),
        step,
    }
}

/// Torque, N m.
pub fn dial_torque(engine: &Engine) -> Dial {
    Dial { min: 0.0, max: engine.range.torque_max_n_m, step: slider_step(engine.range.torque_max_n_m) }
}

/// A round step that divides a span into one to three hundred.
fn slider_step(span: f64) -> f64 {
    let rough = span / 300.0;
    let power = rough.log10().floor() as i32;
    let base = 10f64.powi(power.abs());
    let unit = if power < 0 { 1.0 / base } else { base };
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| if power < 0 { m / base } else { m * unit })
        .find(|s| *s >= rough)
        .unwrap_or(10.0 * unit)
}

/// Undo and redo without end, of settled settings. A step takes a hundred bytes where it shares its engine with one of the
/// last steps, and a kilobyte more where a what-if has changed it.
#[derive(Debug, Clone, Default)]
pub struct History {
    past: Vec<BenchSettings>,
    future: Vec<BenchSettings>,
    settled: Option<BenchSettings>,
}

/// How many steps back the history looks for the same engine, to share it: links and the choice of engines make a new one each
/// time.
const SHARED: usize = 16;

impl History {
    /// The settings have come to rest at `now`.
    pub fn settle(&mut self, now: &BenchSettings) {
        if self.settled.as_ref() == Some(now) {
            return;
        }
        let recent = self.settled.iter().chain(self.past.iter().rev().take(SHARED));
        let same = recent.map(|step| &step.engine).find(|engine| **engine == now.engine);
        let engine = same.unwrap_or(&now.engine).clone();
        if let Some(before) = self.settled.replace(BenchSettings { engine, ..now.clone() }) {
            self.past.push(before);
            self.future.clear();
        }
    }

    /// One step back.
    pub fn undo(&mut self) -> Option<BenchSettings> {
        Self::step(&mut self.past, &mut self.future, &mut self.settled)
    }

    /// One step forward again.
    pub fn redo(&mut self) -> Option<BenchSettings> {
        Self::step(&mut self.future, &mut self.past, &mut self.settled)
    }

    fn step(
        from: &mut Vec<BenchSettings>,
        to: &mut Vec<BenchSettings>,
        now: &mut Option<BenchSettings>,
    ) -> Option<BenchSettings> {
        let target = from.pop()?;
        to.extend(now.replace(target.clone()));
        Some(target)
    }

    /// Whether there is something to undo, when the bench stands at `now`.
    pub fn can_undo(&self, now: &BenchSettings) -> bool {
        !self.past.is_empty() || self.settled.as_ref().is_some_and(|settled| settled != now)
    }

    /// Whether there is something to redo.
    pub fn can_redo(&self) -> bool {
        !self.future.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn by_hand_dials_stand_on_round_numbers() {
        let engine = sample::engine();
        let fuel = dial_fuel(&engine);
        assert_eq!((fuel.min, fuel.max, fuel.step), (4e-6, 1.75e-4, 1e-6));
        assert_eq!(fuel.snap(1.1e-4), 1.1e-4);
        assert_eq!(fuel.snap(1.0), fuel.max);
        let torque = dial_torque(&engine);
        assert_eq!(torque.snap(703.0) % torque.step, 0.0);
        assert_eq!(dial_speed(&engine).snap(1404.9), 1400.0);
    }

    #[test]
    fn identity_steps_share_engines_that_are_the_same() {
        let mut history = History::default();
        for name in ["harbour-six", "van-four"].into_iter().cycle().take(40) {
            history.settle(&BenchSettings::built_in(name).unwrap());
        }
        let mut engines: Vec<_> = history.past.iter().map(|step| Arc::as_ptr(&step.engine)).collect();
        engines.sort_unstable();
        engines.dedup();
        assert_eq!((history.past.len(), engines.len()), (39, 2));
    }

    #[test]
    fn identity_redo_takes_undo_back() {
        let at = |vane| {
            let mut s = BenchSettings::with_engine(sample::engine(), Origin::BuiltIn("sample".into()));
            s.settings.vane_open_pct = vane;
            s
        };
        let mut history = History::default();
        for vane in [10.0, 20.0, 20.0, 30.0] {
            history.settle(&at(vane));
        }
        assert_eq!(history.undo(), Some(at(20.0)));
        assert_eq!(history.undo(), Some(at(10.0)));
        assert_eq!(history.undo(), None);
        assert_eq!(history.redo(), Some(at(20.0)));
        assert_eq!(history.redo(), Some(at(30.0)));
        assert_eq!(history.redo(), None);
        assert_eq!(history.undo(), Some(at(20.0)));
        history.settle(&at(90.0));
        assert!(!history.can_redo());
        assert_eq!(history.undo(), Some(at(20.0)));
    }
}
