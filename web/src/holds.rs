//! What a learner may move while a lesson is open. No browser here.

use crate::state::Dial;
use volute_lessons::lesson::{Control, Free};

/// How far a control may be moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// As far as the bench goes.
    Free,
    /// Between these ends, in SI of the dial.
    Within(f64, f64),
    /// Not at all.
    Held,
}

impl Reach {
    /// The dial as far as it may be moved.
    pub fn narrow(self, dial: Dial) -> Dial {
        match self {
            Reach::Within(min, max) => Dial { min: min.max(dial.min), max: max.min(dial.max), ..dial },
            _ => dial,
        }
    }

    /// A value as far as it may be moved to.
    pub fn hold(self, value: f64) -> f64 {
        match self {
            Reach::Within(min, max) => value.max(min).min(max),
            _ => value,
        }
    }
}

/// What the learner may move: everything without a lesson, else what is free in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Holds(Option<Vec<Free>>);

impl Holds {
    /// As the lesson says.
    pub fn of(free: &[Free]) -> Self {
        Self(Some(free.to_vec()))
    }

    fn reach(&self, control: Control, per_si: f64) -> Reach {
        let Some(free) = &self.0 else { return Reach::Free };
        match free.iter().find(|free| free.control == control) {
            None => Reach::Held,
            Some(free) => free.range_si.map_or(Reach::Free, |(min, max)| Reach::Within(min * per_si, max * per_si)),
        }
    }

    /// Vane position, per cent.
    pub fn vane(&self) -> Reach {
        self.reach(Control::Vane, 100.0)
    }

    /// Torque or fuel.
    pub fn load(&self) -> Reach {
        self.reach(Control::Load, 1.0)
    }

    /// Engine speed, 1/min.
    pub fn speed(&self) -> Reach {
        self.reach(Control::Speed, 60.0)
    }

    /// Torque for fuel, and back.
    pub fn hold(&self) -> bool {
        self.reach(Control::Hold, 1.0) != Reach::Held
    }

    /// Pressure, temperature and humidity of the air.
    pub fn ambient(&self) -> bool {
        self.reach(Control::Ambient, 1.0) != Reach::Held
    }

    /// Altitude, m.
    pub fn altitude(&self) -> Reach {
        if self.ambient() { Reach::Free } else { self.reach(Control::Altitude, 1.0) }
    }

    /// Another engine, or one of the learner's own.
    pub fn engine(&self) -> bool {
        self.0.is_none()
    }

    /// A setting of the what-ifs by its key, SI: `exhaust_pipe.bore_m`, `ambient.p_pa`.
    pub fn part(&self, key: &str) -> Reach {
        let free = |on: bool| if on { Reach::Free } else { Reach::Held };
        if key.starts_with("ambient.") {
            return free(self.ambient());
        }
        if self.reach(Control::Parts, 1.0) == Reach::Free {
            return Reach::Free;
        }
        Control::of(&format!("parts.{key}")).map_or(Reach::Held, |control| self.reach(control, 1.0))
    }

    /// Whether none of these what-ifs may be moved.
    pub fn holds_all<'k>(&self, mut keys: impl Iterator<Item = &'k str>) -> bool {
        keys.all(|key| self.part(key) == Reach::Held)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::DIAL_VANE;

    #[test]
    fn by_hand_what_a_lesson_leaves_free() {
        let free = |name: &str, range_si| Free { control: Control::of(name).unwrap(), range_si };
        let holds =
            Holds::of(&[free("vane", Some((0.6, 1.0))), free("parts.exhaust_pipe.bore_m", Some((0.08, 0.125)))]);
        assert_eq!((holds.load(), holds.speed(), holds.altitude()), (Reach::Held, Reach::Held, Reach::Held));
        assert_eq!(holds.vane().narrow(DIAL_VANE), Dial { min: 60.0, max: 100.0, step: 1.0 });
        assert_eq!(holds.part("exhaust_pipe.bore_m"), Reach::Within(0.08, 0.125));
        assert_eq!((holds.part("exhaust_pipe.length_m"), holds.part("ambient.p_pa")), (Reach::Held, Reach::Held));
        assert!(!holds.hold() && !holds.engine() && !holds.ambient());
        assert!(holds.holds_all(["ambient.t_k"].into_iter()) && !holds.holds_all(["exhaust_pipe.bore_m"].into_iter()));
        let none = Holds::default();
        assert!(
            none.engine() && none.hold() && none.part("filter.loss_1_m4") == Reach::Free && none.vane() == Reach::Free
        );
        assert_eq!(Reach::Within(1.0, 2.0).hold(3.0), 2.0);
    }
}
