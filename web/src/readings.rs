//! Every number of a reading that the page can plot, compare or list: one table for sweeps, pins, time traces and tables.

use crate::language::t;
use crate::units::{Quantity, UnitSystem, number};
use volute_core::point::reading::Reading;

/// One number of a reading.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// Short name, as links and lessons have it.
    pub key: &'static str,
    /// Name, as the page writes it.
    pub name: &'static str,
    /// What kind of number it is.
    pub quantity: Quantity,
    /// The number, SI.
    pub of: fn(&Reading) -> f64,
}

const fn entry(key: &'static str, name: &'static str, quantity: Quantity, of: fn(&Reading) -> f64) -> Entry {
    Entry { key, name, quantity, of }
}

/// All of them, in the order in which people ask.
pub const ENTRIES: &[Entry] = &[
    entry("torque", "torque", Quantity::Torque, |r| r.brake.torque_n_m),
    entry("power", "brake power", Quantity::Power, |r| r.brake.power_w),
    entry("fuel", "fuel per cycle", Quantity::FuelPerCycle, |r| r.fuel_kg_per_cycle),
    entry("fuel_flow", "fuel flow", Quantity::FuelFlow, |r| r.fuel_flow_kg_s),
    entry("brake_efficiency", "brake efficiency", Quantity::ShareFine, |r| r.brake.efficiency),
    entry("boost", "boost", Quantity::PressureGauge, |r| r.boost_pa),
    entry("p2", "compressor outlet p2", Quantity::PressureAbs, |r| r.stations.compressor_outlet.p_pa),
    entry("p3", "exhaust manifold p3", Quantity::PressureAbs, |r| r.stations.turbine_inlet.p_pa),
    entry("balance", "balance p2 − p3", Quantity::PressureDifference, |r| r.pressure_balance_pa),
    entry("pumping_torque", "pumping loss", Quantity::Torque, |r| r.indicated.pumping_torque_n_m),
    entry("pmep", "pumping mean pressure", Quantity::PressureDifference, |r| r.indicated.pumping_mep_pa),
    entry("gross_mep", "gross work, mean pressure", Quantity::PressureDifference, |r| r.indicated.gross_mep_pa),
    entry("fmep", "friction mean pressure", Quantity::PressureDifference, |r| r.indicated.friction_mep_pa),
    entry("t2", "compressor-outlet temperature", Quantity::Temperature, |r| r.stations.compressor_outlet.t_k),
    entry("t_im", "charge temperature", Quantity::Temperature, |r| r.stations.intake_manifold.t_k),
    entry("t3", "turbine-inlet temperature", Quantity::Temperature, |r| r.stations.turbine_inlet.t_k),
    entry("t4", "turbine-outlet temperature", Quantity::Temperature, |r| r.stations.turbine_outlet.t_k),
    entry("p4", "turbine-outlet pressure p4", Quantity::PressureAbs, |r| r.stations.turbine_outlet.p_pa),
    entry("density_ratio", "density ratio", Quantity::Ratio, |r| r.density_ratio),
    entry("pressure_ratio", "pressure ratio", Quantity::Ratio, |r| r.compressor.pressure_ratio),
    entry("expansion_ratio", "expansion ratio", Quantity::Ratio, |r| r.turbine.expansion_ratio),
    entry("air_flow", "air flow", Quantity::GasFlow, |r| r.air_flow_kg_s),
    entry("exhaust_leak", "exhaust leak", Quantity::GasFlow, |r| r.exhaust_leak_kg_s),
    entry("afr", "air–fuel ratio", Quantity::RatioCoarse, |r| r.air_fuel_ratio),
    entry("shaft", "shaft speed", Quantity::ShaftSpeed, |r| r.shaft.speed_rad_s),
    entry("tip_speed", "compressor tip speed", Quantity::TipSpeed, |r| r.compressor.tip_speed_m_s),
    entry("compressor_efficiency", "compressor efficiency", Quantity::ShareFine, |r| r.compressor.efficiency),
    entry("turbine_efficiency", "turbine efficiency", Quantity::ShareFine, |r| r.turbine.cycle_efficiency),
    entry("compressor_power", "compressor power", Quantity::Power, |r| r.compressor.power_w),
    entry("surge_margin", "surge margin", Quantity::Share, |r| r.compressor.surge_margin),
    entry("choke_margin", "choke margin", Quantity::Share, |r| r.compressor.choke_margin),
    entry("peak_pressure", "peak cylinder pressure", Quantity::CylinderPressure, |r| r.indicated.peak_pressure_pa),
    entry("residual", "residual gas", Quantity::ShareFine, |r| r.indicated.residual_fraction),
    entry("volumetric_efficiency", "volumetric efficiency", Quantity::Share, |r| r.indicated.volumetric_efficiency),
    entry("coolant_heat", "heat to coolant", Quantity::Power, |r| r.heat.coolant_w),
    entry("coolant_rise", "coolant rise", Quantity::TemperatureDifferenceFine, |r| r.heat.coolant_rise_k),
];

/// The entry of a key.
pub fn find(key: &str) -> Option<&'static Entry> {
    ENTRIES.iter().find(|e| e.key == key)
}

/// Every number of a reading, in the order of [`ENTRIES`], SI.
pub fn all(reading: &Reading) -> Vec<f64> {
    ENTRIES.iter().map(|e| (e.of)(reading)).collect()
}

impl Entry {
    /// The value of a reading with its unit.
    pub fn text(&self, reading: &Reading, units: UnitSystem) -> String {
        units.unit(self.quantity).text((self.of)(reading))
    }

    /// Name with unit, as over a column.
    pub fn label(&self, units: UnitSystem) -> String {
        let symbol = units.unit(self.quantity).symbol;
        if symbol.is_empty() { t(self.name).into() } else { format!("{}, {symbol}", t(self.name)) }
    }

    /// The change from one reading to another with sign and unit; differences of absolute quantities lose `abs`.
    pub fn change(&self, from: &Reading, to: &Reading, units: UnitSystem) -> String {
        let unit = units.unit(self.quantity);
        let (a, b) = (unit.shown((self.of)(from)), unit.shown((self.of)(to)));
        let n = crate::units::signed(b - a, unit.decimals);
        match unit.bare() {
            "" => n,
            symbol => format!("{n} {symbol}"),
        }
    }

    /// The change as a share of the first, in per cent; nothing where the first is about zero or a temperature.
    pub fn share(&self, from: &Reading, to: &Reading) -> Option<String> {
        let (a, b) = ((self.of)(from), (self.of)(to));
        let apt = !matches!(
            self.quantity,
            Quantity::Temperature | Quantity::PressureDifference | Quantity::Share | Quantity::ShareFine
        );
        (apt && a.abs() > 1e-9).then(|| format!("{} %", crate::units::signed(100.0 * (b - a) / a.abs(), 1)))
    }
}

/// A number as a table writes it, for an entry.
pub fn cell(entry: &Entry, si: f64, units: UnitSystem) -> String {
    let unit = units.unit(entry.quantity);
    number(unit.shown(si), unit.decimals)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn identity_keys_are_single_and_values_are_numbers() {
        for (i, entry) in ENTRIES.iter().enumerate() {
            assert!(ENTRIES.iter().skip(i + 1).all(|other| other.key != entry.key && other.name != entry.name));
            let value = (entry.of)(&sample::hinders());
            assert!(value.is_finite(), "{}", entry.key);
            assert_eq!(find(entry.key).map(|e| e.name), Some(entry.name));
        }
    }

    #[test]
    fn by_hand_changes() {
        let (a, b) = (sample::helps(), sample::hinders());
        let p3 = find("p3").unwrap();
        assert_eq!(p3.change(&a, &b, UnitSystem::Si), "+122 kPa");
        assert_eq!(p3.share(&a, &b).as_deref(), Some("+61.6 %"));
        let t3 = find("t3").unwrap();
        assert_eq!((t3.change(&a, &b, UnitSystem::Customary).as_str(), t3.share(&a, &b)), ("0 °F", None));
    }
}
