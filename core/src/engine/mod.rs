//! An engine: all parts together, with the names of all their parameters.
//!
//! An [`Engine`] is read from a file by [`engine_file`], changed one key at a time by [`Engine::set`], and never changes
//! while it runs. Each part brings its own parameters and its own check; what two parts must keep between them is checked
//! here. `lib.rs` says which numbers are not SI.

pub mod built_in;
pub mod engine_file;
mod turbocharger;

pub use turbocharger::Turbocharger;

pub use crate::parts::combustion::{Combustion, CombustionError};
pub use crate::parts::compressor::{CompressorError, CompressorMap};
pub use crate::parts::coolant::Coolant;
pub use crate::parts::cooler::ChargeCooler;
pub use crate::parts::crank::{CrankError, Cylinders};
pub use crate::parts::filter::Filter;
pub use crate::parts::friction::Friction;
pub use crate::parts::fuel::Fuel;
pub use crate::parts::limits::Limits;
pub use crate::parts::manifold::Manifolds;
pub use crate::parts::pipe::ExhaustPipe;
pub use crate::parts::range::{Range, RangeError};
pub use crate::parts::shaft::Shaft;
pub use crate::parts::turbine::{Turbine, TurbineError};
pub use crate::parts::valve::{ValveError, Valves};
pub use crate::parts::vanes::Vanes;
pub use crate::parts::wall_heat::WallHeat;

use crate::gas::{Ambient, Gas};
use crate::keys::{Key, KeyError, nearest};
use crate::parts::crank;
use alloc::string::{String, ToString};

/// An engine with its turbocharger: everything that its maker fixed.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[allow(missing_docs, reason = "each group's type carries the documentation")]
pub struct Engine {
    /// Short name, as the terminal takes it.
    pub name: String,
    /// A line that says what it is.
    pub title: String,
    pub cylinders: Cylinders,
    pub valves: Valves,
    pub fuel: Fuel,
    pub combustion: Combustion,
    pub wall_heat: WallHeat,
    pub friction: Friction,
    pub manifolds: Manifolds,
    pub filter: Filter,
    pub charge_cooler: ChargeCooler,
    pub exhaust_pipe: ExhaustPipe,
    pub compressor: CompressorMap,
    pub turbine: Turbine,
    pub shaft: Shaft,
    pub vanes: Vanes,
    pub coolant: Coolant,
    pub limits: Limits,
    pub range: Range,
}

/// Calls a macro with every group: field and type.
macro_rules! for_each_group {
    ($with:ident) => {
        $with! {
            cylinders: Cylinders, valves: Valves, fuel: Fuel, combustion: Combustion, wall_heat: WallHeat,
            friction: Friction, manifolds: Manifolds, filter: Filter, charge_cooler: ChargeCooler,
            exhaust_pipe: ExhaustPipe, compressor: CompressorMap, turbine: Turbine, shaft: Shaft, vanes: Vanes,
            coolant: Coolant, limits: Limits, range: Range
        }
    };
}

macro_rules! group_access {
    ($($field:ident: $group:ident),+) => {
        /// The tables of an engine file, in order: name and keys.
        pub const GROUPS: &[(&str, &[Key])] = &[ $( (stringify!($field), $group::KEYS), )+ ];

        impl Engine {
            /// The value of `group.name`. Errors: `Unknown`.
            pub fn get(&self, path: &str) -> Result<f64, KeyError> {
                let (group, name) = path.split_once('.').unwrap_or((path, ""));
                match group {
                    $( stringify!($field) => self.$field.get(name), )+
                    _ => None,
                }
                .ok_or_else(|| unknown(path))
            }

            fn slot(&mut self, path: &str) -> Result<&mut f64, KeyError> {
                let (group, name) = path.split_once('.').unwrap_or((path, ""));
                match group {
                    $( stringify!($field) => self.$field.slot(name), )+
                    _ => None,
                }
                .ok_or_else(|| unknown(path))
            }

            fn check_ranges(&self) -> Result<(), KeyError> {
                $( self.$field.check_ranges()?; )+
                Ok(())
            }

            /// An engine whose every parameter is zero: only for a reader that fills in all of them.
            pub(crate) fn blank(name: String, title: String) -> Self {
                Self { name, title, $( $field: $group::blank(), )+ }
            }
        }
    };
}
for_each_group!(group_access);

/// Every parameter of an engine, in file order.
pub fn keys() -> impl Iterator<Item = &'static Key> {
    GROUPS.iter().flat_map(|(_, keys)| keys.iter())
}

/// The parameter `group.name`. Errors: `Unknown`, with the nearest name.
pub fn key(path: &str) -> Result<&'static Key, KeyError> {
    let named = |(group, name)| keys().find(|key| key.group == group && key.name == name);
    path.split_once('.').and_then(named).ok_or_else(|| unknown(path))
}

fn unknown(path: &str) -> KeyError {
    KeyError::Unknown { key: path.to_string(), nearest: nearest(path, keys()) }
}

impl Engine {
    /// Sets one parameter, by `group.name`, after its range check. What two parameters must keep between them is
    /// checked by [`Engine::check`]. Errors: `Unknown`, `OutOfRange`; the engine is then unchanged.
    pub fn set(&mut self, path: &str, value: f64) -> Result<(), KeyError> {
        let value = key(path)?.check(value)?;
        *self.slot(path)? = value;
        Ok(())
    }

    /// Number of cylinders.
    pub fn cylinder_count(&self) -> usize {
        self.cylinders.count as usize
    }

    /// Swept volume of all cylinders, in m3.
    pub fn displacement_m3(&self) -> f64 {
        let c = &self.cylinders;
        c.count * core::f64::consts::FRAC_PI_4 * c.bore_m * c.bore_m * c.stroke_m
    }

    /// Torque of a mean effective pressure in all cylinders, in N m.
    pub fn torque_n_m(&self, mep_pa: f64) -> f64 {
        crank::torque_n_m(mep_pa * self.displacement_m3())
    }

    /// The working gas of this engine on a day: the ambient air with its vapour, and what this fuel burns to.
    pub fn gas(&self, ambient: &Ambient) -> Gas {
        ambient.gas(self.fuel.lhv_j_kg, self.fuel.hydrogen_to_carbon)
    }

    /// The turbocharger of this engine.
    pub fn turbocharger(&self) -> Turbocharger {
        Turbocharger { compressor: self.compressor, turbine: self.turbine, shaft: self.shaft }
    }

    /// Shaft speed at which the compressor wheel reaches its tip-speed limit, in rad/s.
    pub fn shaft_limit_rad_s(&self) -> f64 {
        self.compressor.shaft_rad_s(self.limits.tip_speed_m_s)
    }

    /// Checks all ranges, every part for itself, and what two parts must keep between them. Errors: the first misfit.
    pub fn check(&self) -> Result<(), EngineError> {
        self.check_ranges()?;
        self.cylinders.check()?;
        self.valves.check()?;
        self.combustion.check()?;
        self.compressor.check()?;
        self.turbine.check()?;
        self.range.check()?;
        let (closed_deg, interval_deg) = (self.valves.closed_deg(), 720.0 / self.cylinders.count);
        if closed_deg < interval_deg {
            return Err(EngineError::ClosedTooShort { closed_deg, interval_deg });
        }
        Ok(())
    }
}

/// Parameters that are each allowed but do not fit together.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the numbers are")]
pub enum EngineError {
    #[error(transparent)]
    Key(#[from] KeyError),
    #[error(transparent)]
    Crank(#[from] CrankError),
    #[error(transparent)]
    Valve(#[from] ValveError),
    #[error(transparent)]
    Combustion(#[from] CombustionError),
    #[error(transparent)]
    Compressor(#[from] CompressorError),
    #[error(transparent)]
    Turbine(#[from] TurbineError),
    #[error(transparent)]
    Range(#[from] RangeError),
    #[error(
        "`valves`: closed for {closed_deg} degrees, shorter than the firing interval of {interval_deg}; close the intake earlier or open the exhaust later"
    )]
    ClosedTooShort { closed_deg: f64, interval_deg: f64 },
}
