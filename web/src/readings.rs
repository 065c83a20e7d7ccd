//! Every number of a reading that the page can plot, compare or list, as texts. The table stands in [`volute_quantities`].

use crate::language::t;
use crate::units::{Quantity, UnitSystem, number, signed};
use volute_core::point::reading::Reading;
pub use volute_quantities::quantities::{LISTED as ENTRIES, Quantity as Entry};

/// The entry of a key, or of the key that it had in older links.
pub fn find(key: &str) -> Option<&'static Entry> {
    let key = if key == "gross_mep" { "imep" } else { key };
    ENTRIES.iter().find(|e| e.key == key)
}

/// Every number of a reading, in the order of [`ENTRIES`], SI.
pub fn all(reading: &Reading) -> Vec<f64> {
    ENTRIES.iter().map(|e| (e.of)(reading)).collect()
}

/// An entry as texts.
pub trait Texts {
    /// The value of a reading with its unit.
    fn text(&self, reading: &Reading, units: UnitSystem) -> String;

    /// Name with unit, as over a column.
    fn label(&self, units: UnitSystem) -> String;

    /// The change from one reading to another with sign and unit; differences of absolute quantities lose `abs`.
    fn change(&self, from: &Reading, to: &Reading, units: UnitSystem) -> String;

    /// The change as a share of the first, in per cent; nothing where the first is about zero or a temperature.
    fn share(&self, from: &Reading, to: &Reading) -> Option<String>;
}

impl Texts for Entry {
    fn text(&self, reading: &Reading, units: UnitSystem) -> String {
        units.unit(self.kind).text((self.of)(reading))
    }

    fn label(&self, units: UnitSystem) -> String {
        let symbol = units.unit(self.kind).symbol;
        if symbol.is_empty() { t(self.title).into() } else { format!("{}, {symbol}", t(self.title)) }
    }

    fn change(&self, from: &Reading, to: &Reading, units: UnitSystem) -> String {
        let unit = units.unit(self.kind);
        let n = signed(unit.shown((self.of)(to)) - unit.shown((self.of)(from)), unit.decimals);
        match unit.bare() {
            "" => n,
            symbol => format!("{n} {symbol}"),
        }
    }

    fn share(&self, from: &Reading, to: &Reading) -> Option<String> {
        let (a, b) = ((self.of)(from), (self.of)(to));
        let apt = !matches!(
            self.kind,
            Quantity::Temperature | Quantity::PressureDifference | Quantity::Share | Quantity::ShareFine
        );
        (apt && a.abs() > 1e-9).then(|| format!("{} %", signed(100.0 * (b - a) / a.abs(), 1)))
    }
}

/// A number as a table writes it, for an entry.
pub fn cell(entry: &Entry, si: f64, units: UnitSystem) -> String {
    let unit = units.unit(entry.kind);
    number(unit.shown(si), unit.decimals)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn identity_keys_are_single_and_values_are_numbers() {
        for entry in ENTRIES {
            assert!((entry.of)(&sample::hinders()).is_finite(), "{}", entry.key);
            assert_eq!(find(entry.key), Some(entry));
        }
        assert_eq!(find("gross_mep").map(|e| e.key), Some("imep"));
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
