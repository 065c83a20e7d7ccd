//! Units of the page: how an SI number is written, in SI or in customary units.
//!
//! The core counts in Pa, K and m3; a person reads kPa, °C and L, or psi, °F and in³. The units stand in [`volute_quantities`];
//! here a number gets its text. Gauge and absolute are two kinds of number, and the unit always says which one it is.

use crate::language::t;
pub use crate::language::{number, parse, signed};
pub use volute_quantities::Kind as Quantity;
use volute_quantities::kinds::Counts;

/// Which family of units the page shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// kPa, °C, N·m.
    #[default]
    Si,
    /// psi, °F, lb·ft.
    Customary,
}

/// A unit as shown: symbol, spoken name, and how it comes from SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// As printed beside a number; empty for a plain number.
    pub symbol: &'static str,
    bare: &'static str,
    /// As a screen reader says it.
    pub spoken: &'static str,
    /// Digits after the point.
    pub decimals: usize,
    per_unit: f64,
    zero_si: f64,
}

impl UnitSystem {
    /// The unit that this system shows `quantity` in.
    pub fn unit(self, quantity: Quantity) -> Unit {
        let shown = quantity.shown(self == UnitSystem::Customary);
        let symbol = t(shown.symbol);
        Unit {
            symbol,
            bare: if quantity.reference().is_some() { shown.unit.symbol } else { symbol },
            spoken: t(shown.spoken),
            decimals: shown.decimals.into(),
            per_unit: shown.unit.factor,
            zero_si: if quantity.counts() == Counts::Between { 0.0 } else { shown.unit.offset },
        }
    }

    /// The other system.
    pub fn other(self) -> Self {
        match self {
            UnitSystem::Si => UnitSystem::Customary,
            UnitSystem::Customary => UnitSystem::Si,
        }
    }
}

impl Unit {
    /// An SI number in this unit.
    pub fn shown(&self, si: f64) -> f64 {
        (si - self.zero_si) / self.per_unit
    }

    /// A number of this unit in SI.
    pub fn si(&self, shown: f64) -> f64 {
        shown * self.per_unit + self.zero_si
    }

    /// The number without its unit.
    pub fn number(&self, si: f64) -> String {
        number(self.shown(si), self.decimals)
    }

    /// The number with its unit.
    pub fn text(&self, si: f64) -> String {
        self.join(self.number(si))
    }

    /// The number with sign and unit.
    pub fn signed(&self, si: f64) -> String {
        self.join(signed(self.shown(si), self.decimals))
    }

    /// As [`Unit::text`], with a digit more where the number is below ten: for differences.
    pub fn join_fine(&self, si: f64) -> String {
        let shown = self.shown(si);
        let decimals = if shown.abs() < 9.95 { self.decimals.max(1) } else { self.decimals };
        self.join(number(shown, decimals))
    }

    /// The unit without `abs` or `gauge`, where a word beside it already says which.
    pub fn bare(&self) -> &'static str {
        self.bare
    }

    fn join(&self, number: String) -> String {
        if self.symbol.is_empty() { number } else { format!("{number} {}", self.symbol) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_numbers_are_written_as_the_page_writes_them() {
        for (value, decimals, text) in [
            (0.0, 0, "0"),
            (-0.4, 0, "0"),
            (-37.2, 0, "−37"),
            (2.664, 2, "2.66"),
            (9999.0, 0, "9999"),
            (103_000.4, 0, "103\u{2009}000"),
            (-1_234_567.0, 0, "−1\u{2009}234\u{2009}567"),
            (f64::NAN, 0, "–"),
            (f64::INFINITY, 1, "–"),
        ] {
            assert_eq!(number(value, decimals), text, "{value}");
        }
        assert_eq!(signed(3.2, 0), "+3");
        assert_eq!(signed(0.2, 0), "0");
        assert_eq!(signed(-3.2, 0), "−3");
    }

    #[test]
    fn by_hand_known_conversions() {
        let us = UnitSystem::Customary;
        let si = UnitSystem::Si;
        for (system, quantity, si_value, shown) in [
            (us, Quantity::PressureAbs, 101_325.0, 14.695_948_775),
            (us, Quantity::Temperature, 273.15, 32.0),
            (us, Quantity::Temperature, 373.15, 212.0),
            (us, Quantity::TemperatureDifference, 100.0, 180.0),
            (us, Quantity::Torque, 1.355_817_948_331_400_4, 1.0),
            (us, Quantity::GasFlow, 0.453_592_37, 60.0),
            (us, Quantity::Volume, 1e-3, 61.023_744_09),
            (si, Quantity::Temperature, 298.15, 25.0),
            (si, Quantity::ShaftSpeed, 10_000.0, 95_492.965_855),
            (si, Quantity::FuelPerCycle, 1.1e-4, 110.0),
            (si, Quantity::CylinderPressure, 1.46e7, 146.0),
        ] {
            let got = system.unit(quantity).shown(si_value);
            assert!((got - shown).abs() < 1e-8 * shown.abs(), "{quantity:?}: {got} against {shown}");
        }
    }

    #[test]
    fn identity_a_number_survives_the_way_to_the_page_and_back() {
        for system in [UnitSystem::Si, UnitSystem::Customary] {
            for quantity in Quantity::ALL {
                let unit = system.unit(*quantity);
                for si in [0.0, 1e-6, 0.37, 298.15, 2.5e5] {
                    assert!((unit.si(unit.shown(si)) - si).abs() <= 1e-12 * si.abs().max(300.0), "{quantity:?} {si}");
                }
            }
        }
    }
}
