//! Which controls differ between two benches, and whether a learner may move them so.

use crate::bench::Bench;
use crate::lesson::{Control, Free, Lesson, Task};
use std::collections::BTreeSet;
use std::fmt;
use volute_core::gas::atmosphere;
use volute_core::settings::{Ambient, Load};

/// Controls that differ, and where they stand then, in words.
pub(super) fn moved(from: &Bench, to: &Bench) -> Vec<(Control, String)> {
    let (a, b) = (&from.settings, &to.settings);
    let mut all = Vec::new();
    if a.vane_open_pct != b.vane_open_pct {
        all.push((Control::Vane, format!("{} %", b.vane_open_pct)));
    }
    if a.speed_rpm != b.speed_rpm {
        all.push((Control::Speed, format!("{} 1/min", b.speed_rpm)));
    }
    if std::mem::discriminant(&a.load) != std::mem::discriminant(&b.load) {
        all.push((Control::Hold, if matches!(b.load, Load::Fuel { .. }) { "fuel" } else { "torque" }.into()));
    }
    if a.load != b.load {
        let value = match b.load {
            Load::Torque { torque_n_m } => format!("{torque_n_m} N m"),
            Load::Fuel { fuel_kg_per_cycle } => format!("{} mg", fuel_kg_per_cycle * 1.0e6),
        };
        all.push((Control::Load, value));
    }
    if a.ambient != b.ambient {
        let Ambient { p_pa, t_k, relative_humidity } = b.ambient;
        all.push((Control::Ambient, format!("{p_pa} Pa, {t_k} K, humidity {relative_humidity}")));
    }
    for path in from.parts.keys().chain(to.parts.keys()).collect::<BTreeSet<_>>() {
        if from.parts.get(path) != to.parts.get(path)
            && let Ok(key) = volute_core::engine::key(path)
        {
            let value = to.parts.get(path).map_or("its own value".into(), f64::to_string);
            all.push((Control::part(key), value));
        }
    }
    all
}

impl Task {
    /// What the learner may move in this task: its own list, or that of the lesson.
    pub fn free<'l>(&'l self, lesson: &'l Lesson) -> &'l [Free] {
        if self.layout.free.is_empty() { &lesson.start.layout.free } else { &self.layout.free }
    }
}

impl Free {
    /// Whether this lets `control` go from where it stands in `from` to where it stands in `to`.
    pub fn allows(&self, control: Control, from: &Bench, to: &Bench) -> bool {
        let s = &to.settings;
        let value_si = match control {
            Control::Vane => s.vane_open_pct / 100.0,
            Control::Speed => s.speed_rpm / 60.0,
            Control::Load => match s.load {
                Load::Torque { torque_n_m } => torque_n_m,
                Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
            },
            Control::Part { group, name } => to.parts.get(&format!("{group}.{name}")).copied().unwrap_or(f64::NAN),
            Control::Ambient => {
                // An altitude is a pressure and a temperature that go together.
                let altitude = self.control == Control::Altitude
                    && from.settings.ambient.relative_humidity == s.ambient.relative_humidity;
                let Some(altitude_m) = altitude.then(|| standard_altitude_m(&s.ambient)).flatten() else {
                    return self.control == Control::Ambient;
                };
                altitude_m
            }
            Control::Altitude | Control::Hold | Control::Parts => 0.0,
        };
        let same = self.control == control
            || (self.control == Control::Altitude && control == Control::Ambient)
            || (self.control == Control::Parts && matches!(control, Control::Part { .. }));
        let slack = 1.0e-9 * value_si.abs();
        same && self.range_si.is_none_or(|(low, high)| low - slack <= value_si && value_si <= high + slack)
    }
}

/// The altitude at which the standard atmosphere has this pressure and temperature, in m.
fn standard_altitude_m(ambient: &Ambient) -> Option<f64> {
    let sea_k = atmosphere::temperature_k(0.0).ok()?;
    let lapse_k_m = sea_k - atmosphere::temperature_k(1.0).ok()?;
    let altitude_m = (sea_k - ambient.t_k) / lapse_k_m;
    let pressure_pa = atmosphere::pressure_pa(altitude_m).ok()?;
    ((pressure_pa / ambient.p_pa - 1.0).abs() < 1.0e-9).then_some(altitude_m)
}

impl fmt::Display for Free {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.control.name())?;
        match self.range_si {
            Some((low, high)) => write!(out, " from {low} to {high} (SI)"),
            None => Ok(()),
        }
    }
}
