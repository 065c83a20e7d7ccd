//! What a learner may move and sees on the bench.

use crate::paths::Quantity;
use volute_core::engine;
use volute_core::keys::Key;

/// What a learner may move and sees on the bench.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Layout {
    /// Controls that the learner may move; all others are locked. In a task or stage, an empty list leaves those of the lesson.
    pub free: Vec<Free>,
    /// Quantities that are not shown.
    pub hide: Vec<&'static Quantity>,
    /// If not empty, the only quantities that are shown.
    pub only: Vec<&'static Quantity>,
    /// Views that are opened, of [`VIEWS`].
    pub views: Vec<&'static str>,
    /// What is marked.
    pub mark: Vec<Marked>,
}

/// Views of the bench that a lesson can open, by the names that links have for them.
pub const VIEWS: [&str; 8] = ["loop", "cycle", "cycle-log", "angle", "compressor", "turbine", "entropy", "sweep"];

/// Something on the bench that a lesson points at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Marked {
    /// A control.
    Control(Control),
    /// A quantity.
    Quantity(&'static Quantity),
}

impl Layout {
    /// Whether `quantity` is kept back.
    pub fn hides(&self, quantity: &Quantity) -> bool {
        self.hide.contains(&quantity) || (!self.only.is_empty() && !self.only.contains(&quantity))
    }
}

/// A control of the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Control {
    /// Vane position.
    Vane,
    /// Torque or fuel, whichever is held.
    Load,
    /// Engine speed.
    Speed,
    /// Ambient pressure, temperature and humidity.
    Ambient,
    /// Altitude: ambient pressure and temperature together, by the standard atmosphere.
    Altitude,
    /// Whether torque or fuel is held.
    Hold,
    /// All parts of the engine.
    Parts,
    /// One parameter of the engine.
    Part {
        /// Its group, such as `exhaust_pipe`.
        group: &'static str,
        /// Its name, such as `bore_m`.
        name: &'static str,
    },
}

impl Control {
    /// As lesson files write it.
    pub fn name(self) -> String {
        match self {
            Control::Vane => "vane".into(),
            Control::Load => "load".into(),
            Control::Speed => "speed".into(),
            Control::Ambient => "ambient".into(),
            Control::Altitude => "altitude".into(),
            Control::Hold => "hold".into(),
            Control::Parts => "parts".into(),
            Control::Part { group, name } => format!("parts.{group}.{name}"),
        }
    }

    /// The control of a name as lesson files write it.
    pub fn of(name: &str) -> Option<Control> {
        let named = Control::ALL.into_iter().find(|control| control.name() == name);
        named.or_else(|| engine::key(name.strip_prefix("parts.")?).ok().map(Control::part))
    }

    pub(crate) fn part(key: &Key) -> Control {
        Control::Part { group: key.group, name: key.name }
    }

    /// All but the single parts.
    pub const ALL: [Control; 7] = [
        Control::Vane,
        Control::Load,
        Control::Speed,
        Control::Ambient,
        Control::Altitude,
        Control::Hold,
        Control::Parts,
    ];
}

/// A control that the learner may move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Free {
    /// Which.
    pub control: Control,
    /// Narrower ends than the bench has, in SI (a vane position as a share, a speed in 1/s, an altitude in m).
    pub range_si: Option<(f64, f64)>,
}
