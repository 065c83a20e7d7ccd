//! Parameters that a person may write: every one has a unit, an allowed range and a sentence, in one place.
//!
//! Engine files, the terminal's `--set`, the page's what-ifs and the documentation all read the same table, so a
//! parameter that is added in `engine` or `settings` appears everywhere with its range check.

use alloc::string::{String, ToString};

/// One parameter: where it lives, what it may be, what it means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// The table of the engine file it stands in, such as `cylinders`.
    pub group: &'static str,
    /// The name with its unit, such as `bore_m`.
    pub name: &'static str,
    /// The unit as printed; empty for a plain number.
    pub unit: &'static str,
    /// Least allowed value.
    pub min: f64,
    /// Greatest allowed value.
    pub max: f64,
    /// What it is, in a sentence.
    pub about: &'static str,
}

impl Key {
    /// `group.name`, as `--set` takes it.
    pub fn path(&self) -> String {
        let mut path = self.group.to_string();
        path.push('.');
        path.push_str(self.name);
        path
    }

    /// The value if it lies in the allowed range. Errors: `OutOfRange`, NaN and infinities included.
    pub fn check(&self, value: f64) -> Result<f64, KeyError> {
        if self.min <= value && value <= self.max {
            Ok(value)
        } else {
            Err(KeyError::OutOfRange { key: self.path(), value, min: self.min, max: self.max, unit: self.unit })
        }
    }
}

/// What can be wrong with a parameter that somebody wrote.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum KeyError {
    /// No parameter of that name.
    #[error("there is no `{key}`{}", match .nearest { Some(near) => alloc::format!("; the nearest name is `{near}`"), None => String::new() })]
    Unknown {
        /// What was asked for.
        key: String,
        /// The known name that is closest, if one is close.
        nearest: Option<String>,
    },
    /// Outside the allowed range, or not a number.
    #[error("`{key} = {value}`: outside {min} to {max}{}{unit}{}", if .unit.is_empty() { "" } else { " " }, unit_guess(.value, .min, .max, .unit))]
    OutOfRange {
        /// The parameter.
        key: String,
        /// The value that was given.
        value: f64,
        /// Least allowed.
        min: f64,
        /// Greatest allowed.
        max: f64,
        /// Its unit.
        unit: &'static str,
    },
}

impl KeyError {
    /// The unit in which a value outside its range would fit, if there is one that people often write instead.
    pub fn likely_unit(&self) -> Option<&'static str> {
        match self {
            KeyError::Unknown { .. } => None,
            KeyError::OutOfRange { value, min, max, unit, .. } => likely_unit(*value, *min, *max, unit),
        }
    }
}

fn unit_guess(value: &f64, min: &f64, max: &f64, unit: &str) -> String {
    likely_unit(*value, *min, *max, unit).map_or(String::new(), |unit| alloc::format!(". Is it in {unit}?"))
}

fn likely_unit(value: f64, min: f64, max: f64, unit: &str) -> Option<&'static str> {
    let fits = |scaled: f64| min <= scaled && scaled <= max;
    Some(match unit {
        "m" if fits(value / 1000.0) => "millimetres",
        "Pa" if fits(value * 1000.0) => "kilopascals",
        "Pa" if fits(value * 1.0e5) => "bar",
        "K" if fits(value + 273.15) => "degrees Celsius",
        "m3" if fits(value / 1000.0) => "litres",
        "m2" if fits(value / 1.0e4) => "square centimetres",
        "m2" if fits(value / 1.0e6) => "square millimetres",
        "kg" if fits(value / 1.0e6) => "milligrams",
        "J/kg" if fits(value * 1.0e6) => "megajoules",
        "m3/s" if fits(value / 60_000.0) => "litres per minute",
        _ => return None,
    })
}

/// Declares groups of parameters: a struct of `f64`, and the table of [`Key`]s that describes it.
///
/// ```ignore
/// parameters! {
///     /// Cylinder block.
///     pub struct Cylinders in "cylinders" {
///         /// Cylinder bore.
///         bore_m: "m", 0.05, 0.30;
///     }
/// }
/// ```
macro_rules! parameters {
    ($(
        $(#[doc = $group_doc:literal])+
        pub struct $group:ident in $table:literal {
            $( $(#[doc = $doc:literal])+ $field:ident : $unit:literal, $min:expr, $max:expr ; )+
        }
    )+) => {$(
        $(#[doc = $group_doc])+
        #[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
        pub struct $group { $( $(#[doc = $doc])+ pub $field: f64, )+ }

        impl $group {
            /// Every parameter of this group, in file order.
            pub const KEYS: &'static [$crate::keys::Key] = &[ $( $crate::keys::Key {
                group: $table, name: stringify!($field), unit: $unit, min: $min, max: $max,
                about: $crate::keys::trim_start(concat!($($doc),+)),
            }, )+ ];

            /// The value of the parameter `name`, or nothing if there is none.
            pub fn get(&self, name: &str) -> Option<f64> {
                [ $( self.$field, )+ ].get($crate::keys::place(Self::KEYS, name)?).copied()
            }

            /// A place to write the parameter `name`; the caller checks the range.
            pub(crate) fn slot(&mut self, name: &str) -> Option<&mut f64> {
                let place = $crate::keys::place(Self::KEYS, name)?;
                [ $( &mut self.$field, )+ ].into_iter().nth(place)
            }

            /// The first parameter that is outside its range.
            pub(crate) fn check_ranges(&self) -> Result<(), $crate::keys::KeyError> {
                $crate::keys::check_all(Self::KEYS, &[ $( self.$field, )+ ])
            }

            /// All zero: for a reader that then fills in every key.
            #[allow(dead_code, reason = "the ambient air is never read from a file")]
            pub(crate) const fn blank() -> Self { Self { $( $field: 0.0, )+ } }
        }
    )+};
}
pub(crate) use parameters;

/// Where a parameter stands in its group. One search for all groups keeps the page small.
pub(crate) fn place(keys: &[Key], name: &str) -> Option<usize> {
    keys.iter().position(|key| key.name == name)
}

/// The first of `values` that is outside its key's range.
pub(crate) fn check_all(keys: &[Key], values: &[f64]) -> Result<(), KeyError> {
    for (key, value) in keys.iter().zip(values) {
        if !(key.min <= *value && *value <= key.max) {
            key.check(*value)?;
        }
    }
    Ok(())
}

/// Doc comments begin with a space; sentences on a screen do not.
pub(crate) const fn trim_start(text: &'static str) -> &'static str {
    match text.as_bytes() {
        [b' ', ..] => text.split_at(1).1,
        _ => text,
    }
}

/// The known path that looks most like `asked`, by shared letter pairs, if it is close enough to be a slip. Chosen: 0.55 of
/// the pairs.
pub(crate) fn nearest<'a>(asked: &str, known: impl Iterator<Item = &'a Key>) -> Option<String> {
    let pairs = |word: &str| -> alloc::vec::Vec<(u8, u8)> { word.bytes().zip(word.bytes().skip(1)).collect() };
    let wanted = pairs(asked.get(..asked.len().min(80)).unwrap_or(""));
    known
        .map(|key| {
            let path = key.path();
            let have = pairs(&path);
            let shared = wanted.iter().filter(|pair| have.contains(pair)).count();
            let likeness = 2.0 * shared as f64 / (wanted.len() + have.len()).max(1) as f64;
            (likeness, path)
        })
        .filter(|(likeness, _)| *likeness > 0.55)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, path)| path)
}
