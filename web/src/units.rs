//! People's units: how an SI number is written on the page, in SI or in customary units.
//!
//! Core speaks Pa, K, m3; a person reads kPa, °C, L, or psi, °F, in³. Every conversion is here, with how many digits
//! the model deserves. Gauge and absolute are two quantities with two names: the unit never hides which one it is.

use crate::language::t;

pub use crate::language::{number, parse, signed};

/// Which family of units the page shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// kPa, °C, N·m.
    #[default]
    Si,
    /// psi, °F, lb·ft.
    Customary,
}

/// What kind of number it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Absolute pressure.
    PressureAbs,
    /// Pressure above ambient.
    PressureGauge,
    /// Difference of two pressures.
    PressureDifference,
    /// Pressure in the cylinder, absolute: bar, because hundreds of them.
    CylinderPressure,
    /// Temperature.
    Temperature,
    /// Difference of two temperatures.
    TemperatureDifference,
    /// Torque at the crank.
    Torque,
    /// Torque, with a digit after the point: for sums.
    TorqueFine,
    /// Power.
    Power,
    /// Nozzle area.
    Area,
    /// Flow of air or gas.
    GasFlow,
    /// Flow of fuel.
    FuelFlow,
    /// Flow of fuel, with digits enough for sums.
    FuelFlowFine,
    /// Fuel of a cylinder and cycle.
    FuelPerCycle,
    /// Cylinder volume.
    Volume,
    /// Speed of the turbocharger shaft, from rad/s.
    ShaftSpeed,
    /// Speed of the crank: 1/min on both sides.
    EngineSpeed,
    /// Tip speed of a wheel.
    TipSpeed,
    /// A share, shown in per cent.
    Share,
    /// A share, shown in per cent with a digit after the point.
    ShareFine,
    /// A plain number.
    Ratio,
    /// A plain number above ten.
    RatioCoarse,
    /// Difference of two temperatures of a few degrees.
    TemperatureDifferenceFine,
    /// Length of a pipe.
    Length,
    /// Bore of a pipe.
    Bore,
    /// Specific entropy.
    Entropy,
    /// Time.
    Time,
    /// Vane position, per cent open.
    VanePosition,
    /// Loss coefficient of a pipe part over flow squared.
    LossCoefficient,
    /// Area of a small hole.
    AreaFine,
    /// Angle of the crank, with a digit after the point.
    CrankAngleFine,
    /// Angle of the crank.
    CrankAngle,
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

// Exact by definition: pound 0.453 592 37 kg, inch 0.0254 m, standard gravity 9.806 65 m/s2 (NIST SP 811, from memory).
const PSI_PA: f64 = 6_894.757_293_168_361;
const LB_FT_N_M: f64 = 1.355_817_948_331_400_4;
const HP_W: f64 = 745.699_871_582_270_2;
const LB_KG: f64 = 0.453_592_37;
const INCH_M: f64 = 0.0254;

impl UnitSystem {
    /// The unit that this system shows `quantity` in.
    pub fn unit(self, quantity: Quantity) -> Unit {
        let plain = |symbol, spoken, decimals, per_unit| Unit {
            symbol,
            bare: symbol,
            spoken,
            decimals,
            per_unit,
            zero_si: 0.0,
        };
        let said =
            |bare, symbol, spoken, decimals, per_unit| Unit { bare, ..plain(symbol, spoken, decimals, per_unit) };
        let si = self == UnitSystem::Si;
        match quantity {
            Quantity::PressureAbs if si => said("kPa", t("kPa abs"), t("kilopascal absolute"), 0, 1e3),
            Quantity::PressureAbs => said("psi", t("psia"), t("pounds per square inch absolute"), 1, PSI_PA),
            Quantity::PressureGauge if si => said("kPa", t("kPa gauge"), t("kilopascal gauge"), 0, 1e3),
            Quantity::PressureGauge => said("psi", t("psi gauge"), t("pounds per square inch gauge"), 1, PSI_PA),
            Quantity::PressureDifference if si => plain("kPa", t("kilopascal"), 0, 1e3),
            Quantity::PressureDifference => plain("psi", t("pounds per square inch"), 1, PSI_PA),
            Quantity::CylinderPressure if si => plain("bar", "bar", 0, 1e5),
            Quantity::CylinderPressure => said("psi", t("psia"), t("pounds per square inch absolute"), 0, PSI_PA),
            Quantity::Temperature if si => Unit { zero_si: 273.15, ..plain("°C", t("degrees Celsius"), 0, 1.0) },
            Quantity::Temperature => {
                Unit { zero_si: 273.15 - 32.0 / 1.8, ..plain("°F", t("degrees Fahrenheit"), 0, 1.0 / 1.8) }
            }
            Quantity::TemperatureDifference if si => plain("°C", t("degrees Celsius"), 0, 1.0),
            Quantity::TemperatureDifference => plain("°F", t("degrees Fahrenheit"), 0, 1.0 / 1.8),
            Quantity::Torque if si => plain("N·m", t("newton metres"), 0, 1.0),
            Quantity::Torque => plain("lb·ft", t("pound feet"), 0, LB_FT_N_M),
            Quantity::TorqueFine => Unit { decimals: 1, ..self.unit(Quantity::Torque) },
            Quantity::FuelFlowFine => Unit { decimals: if si { 3 } else { 2 }, ..self.unit(Quantity::FuelFlow) },
            Quantity::Power if si => plain("kW", t("kilowatts"), 1, 1e3),
            Quantity::Power => plain("hp", t("horsepower"), 1, HP_W),
            Quantity::Area if si => plain("cm²", t("square centimetres"), 1, 1e-4),
            Quantity::Area => plain("in²", t("square inches"), 2, INCH_M * INCH_M),
            Quantity::GasFlow if si => plain("g/s", t("grams per second"), 0, 1e-3),
            Quantity::GasFlow => plain("lb/min", t("pounds per minute"), 1, LB_KG / 60.0),
            Quantity::FuelFlow if si => plain("g/s", t("grams per second"), 1, 1e-3),
            Quantity::FuelFlow => plain("lb/h", t("pounds per hour"), 1, LB_KG / 3600.0),
            Quantity::FuelPerCycle => plain(t("mg/cycle"), t("milligrams per cylinder and cycle"), 1, 1e-6),
            Quantity::Volume if si => plain("L", t("litres"), 2, 1e-3),
            Quantity::Volume => plain("in³", t("cubic inches"), 0, INCH_M * INCH_M * INCH_M),
            Quantity::ShaftSpeed => plain("1/min", t("revolutions per minute"), 0, core::f64::consts::PI / 30.0),
            Quantity::EngineSpeed => plain("1/min", t("revolutions per minute"), 0, 1.0),
            Quantity::TipSpeed if si => plain("m/s", t("metres per second"), 0, 1.0),
            Quantity::TipSpeed => plain("ft/s", t("feet per second"), 0, 12.0 * INCH_M),
            Quantity::Share => plain("%", t("per cent"), 0, 0.01),
            Quantity::ShareFine => plain("%", t("per cent"), 1, 0.01),
            Quantity::Ratio => plain("", "", 2, 1.0),
            Quantity::RatioCoarse => plain("", "", 1, 1.0),
            Quantity::TemperatureDifferenceFine if si => plain("°C", t("degrees Celsius"), 1, 1.0),
            Quantity::TemperatureDifferenceFine => plain("°F", t("degrees Fahrenheit"), 1, 1.0 / 1.8),
            Quantity::Length if si => plain("m", t("metres"), 1, 1.0),
            Quantity::Length => plain("ft", t("feet"), 1, 12.0 * INCH_M),
            Quantity::Bore if si => plain("mm", t("millimetres"), 0, 1e-3),
            Quantity::Bore => plain("in", t("inches"), 2, INCH_M),
            Quantity::Entropy if si => plain("kJ/(kg·K)", t("kilojoules per kilogram and kelvin"), 2, 1e3),
            Quantity::Entropy => plain("BTU/(lb·°F)", t("British thermal units per pound and degree"), 3, 4186.8),
            Quantity::Time => plain("s", t("seconds"), 2, 1.0),
            Quantity::CrankAngle => plain("°", t("degrees"), 0, 1.0),
            Quantity::CrankAngleFine => plain("°", t("degrees"), 1, 1.0),
            Quantity::VanePosition => plain(t("% open"), t("per cent open"), 0, 1.0),
            Quantity::LossCoefficient => plain("1/m⁴", t("per metre to the fourth"), 0, 1.0),
            Quantity::AreaFine if si => plain("mm²", t("square millimetres"), 0, 1e-6),
            Quantity::AreaFine => plain("in²", t("square inches"), 3, INCH_M * INCH_M),
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
        use Quantity::*;
        for system in [UnitSystem::Si, UnitSystem::Customary] {
            for quantity in [
                PressureAbs,
                PressureGauge,
                PressureDifference,
                CylinderPressure,
                Temperature,
                TemperatureDifference,
                Torque,
                Power,
                Area,
                GasFlow,
                FuelFlow,
                FuelPerCycle,
                Volume,
                ShaftSpeed,
                EngineSpeed,
                TipSpeed,
                Share,
                Ratio,
            ] {
                let unit = system.unit(quantity);
                for si in [0.0, 1e-6, 0.37, 298.15, 2.5e5] {
                    assert!((unit.si(unit.shown(si)) - si).abs() <= 1e-12 * si.abs().max(300.0), "{quantity:?} {si}");
                }
            }
        }
    }
}
