//! What the user holds: engine speed, load, vane position, and the air outside.

use crate::engine::Engine;
pub use crate::gas::{Ambient, REFERENCE_DAY};
use crate::keys::{Key, KeyError};

impl Ambient {
    /// The key of that path, such as `ambient.t_k`. Errors: `Unknown`, with the nearest name.
    pub fn key(path: &str) -> Result<&'static Key, KeyError> {
        Self::KEYS.iter().find(|key| key.path() == path).ok_or_else(|| KeyError::Unknown {
            key: path.into(),
            nearest: crate::keys::nearest(path, Self::KEYS.iter()),
        })
    }

    /// Sets the parameter of that path. Errors: `Unknown`, `OutOfRange`.
    pub fn set(&mut self, path: &str, value: f64) -> Result<(), KeyError> {
        let key = Self::key(path)?;
        let value = key.check(value)?;
        if let Some(slot) = self.slot(key.name) {
            *slot = value;
        }
        Ok(())
    }
}

/// How the load is held.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[serde(rename_all = "snake_case", tag = "hold")]
pub enum Load {
    /// The brake holds torque; fuel is found.
    Torque {
        /// Torque at the crank.
        torque_n_m: f64,
    },
    /// Fuel is held; torque results.
    Fuel {
        /// Fuel of one cylinder in one cycle.
        fuel_kg_per_cycle: f64,
    },
}

/// What the user holds.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Settings {
    /// Engine speed in 1/min, held by the brake.
    pub speed_rpm: f64,
    /// Torque or fuel.
    pub load: Load,
    /// Vane position: 0 at the tightest stop, 100 fully open.
    pub vane_open_pct: f64,
    /// The air outside.
    pub ambient: Ambient,
}

const SPEED: Key =
    Key { group: "settings", name: "speed_rpm", unit: "1/min", min: 300.0, max: 8000.0, about: "Engine speed." };
const VANE: Key = Key {
    group: "settings",
    name: "vane_open_pct",
    unit: "%",
    min: 0.0,
    max: 100.0,
    about: "Vane position, 0 tightest, 100 fully open.",
};
const TORQUE: Key =
    Key { group: "settings", name: "torque_n_m", unit: "N m", min: 0.0, max: 2.0e4, about: "Torque held." };
const FUEL: Key = Key {
    group: "settings",
    name: "fuel_kg_per_cycle",
    unit: "kg",
    min: 1.0e-7,
    max: 2.0e-3,
    about: "Fuel held, for a cylinder and cycle.",
};

impl Settings {
    /// Every number against its range, the engine's own speed range included. Errors: the first that is outside.
    pub fn check(&self, engine: &Engine) -> Result<(), KeyError> {
        let r = &engine.range;
        let speed =
            Key { min: SPEED.min.max(0.8 * r.speed_min_rpm), max: SPEED.max.min(1.2 * r.speed_max_rpm), ..SPEED };
        speed.check(self.speed_rpm)?;
        VANE.check(self.vane_open_pct)?;
        match self.load {
            Load::Torque { torque_n_m } => Key { max: 1.5 * r.torque_max_n_m, ..TORQUE }.check(torque_n_m)?,
            Load::Fuel { fuel_kg_per_cycle } => {
                let (min, max) = (engine.combustion.least_fuel_kg, 1.5 * engine.combustion.injector_limit_kg);
                Key { min, max, ..FUEL }.check(fuel_kg_per_cycle)?
            }
        };
        self.ambient.check_ranges()
    }
}
