//! The names that lessons have for what a reading and a run hold. The quantities stand in [`volute_quantities`].

use volute_core::point::reading::LimitName;
pub use volute_quantities::quantities::{QUANTITIES, Quantity, RUN_QUANTITIES, RunQuantity, quantity, run_quantity};

/// The limits that `limits.…` can name.
pub static LIMITS: &[(&str, LimitName)] = &[
    ("shaft_speed", LimitName::ShaftSpeed),
    ("surge_margin", LimitName::SurgeMargin),
    ("choke_margin", LimitName::ChokeMargin),
    ("turbine_inlet_temperature", LimitName::TurbineInletTemperature),
    ("compressor_outlet_temperature", LimitName::CompressorOutletTemperature),
    ("cylinder_pressure", LimitName::CylinderPressure),
    ("exhaust_manifold_pressure", LimitName::ExhaustManifoldPressure),
    ("air_fuel_ratio", LimitName::AirFuelRatio),
    ("coolant_rise", LimitName::CoolantRise),
];

/// The word of `words` that looks most like `asked`, if it is close enough to be a slip.
pub(crate) fn nearest<'a>(asked: &str, words: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let asked: Vec<char> = asked.chars().take(40).collect();
    let best = words.into_iter().map(|word| (distance(&asked, word), word)).min_by_key(|(d, _)| *d);
    best.filter(|(d, word)| *d <= 1 + word.len() / 4).map(|(_, word)| word)
}

/// Letters to change, add or drop between the two (Levenshtein).
fn distance(a: &[char], b: &str) -> usize {
    let mut row: Vec<usize> = (0..=a.len()).collect();
    for (i, cb) in b.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, ca) in a.iter().enumerate() {
            let change = diagonal + usize::from(*ca != cb);
            diagonal = row[j + 1];
            row[j + 1] = change.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[a.len()]
}
