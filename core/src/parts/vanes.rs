//! Vanes of the turbine: where they stand and how fast they follow.

use crate::keys::parameters;

parameters! {
    /// Drive of the vanes.
    pub struct Vanes in "vanes" {
        /// First-order lag of the actuator.
        actuator_time_s: "s", 0.005, 5.0;
        /// 1: the vanes stand where the next line says, whatever is asked of them; 0: they follow. A what-if.
        stuck: "", 0.0, 1.0;
        /// Vane position at which they are stuck, 0 tightest, 100 fully open.
        stuck_open_pct: "%", 0.0, 100.0;
    }
}

impl Vanes {
    /// Whether the vanes stand still, whatever is asked of them.
    pub fn are_stuck(&self) -> bool {
        0.5 <= self.stuck
    }

    /// Where the vanes come to stand when `asked_open_pct` is asked of them, in per cent open.
    pub fn open_pct(&self, asked_open_pct: f64) -> f64 {
        if self.are_stuck() { self.stuck_open_pct } else { asked_open_pct }
    }

    /// Where the vanes come to stand when `asked_open_pct` is asked of them, from 0 (tightest) to 1 (fully open).
    pub fn position(&self, asked_open_pct: f64) -> f64 {
        position(self.open_pct(asked_open_pct))
    }
}

/// Vane position from 0 to 1, as the turbine takes it, of one in per cent open, as people write it.
pub fn position(open_pct: f64) -> f64 {
    open_pct / 100.0
}

/// Vane position in per cent open of one from 0 to 1.
pub fn open_pct(position: f64) -> f64 {
    100.0 * position
}
