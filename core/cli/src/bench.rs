//! From arguments to an engine, the air outside it and settings, or to a sentence that says what is wrong.

use crate::Failure;
use crate::args::{Assignment, BenchArgs, HeldArgs};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use volute_core::engine::{self, Engine, built_in, engine_file};
use volute_core::gas::atmosphere;
use volute_core::keys::{Key, KeyError};
use volute_core::point::steady::{self, BenchError, Options, Point};
use volute_core::settings::{Ambient, Load, REFERENCE_DAY, Settings};
use volute_quantities::settings::HELD;

/// Heights at which the pressure of the standard day is in the range of `ambient.p_pa`. A test checks that the two agree.
const ALTITUDE_M: (f64, f64) = (-690.0, 5570.0);

/// Milligrams in a kilogram.
pub const MG_PER_KG: f64 = 1.0e6;

/// Group of the keys of the air outside.
const AMBIENT: &str = "ambient";

/// What `--engine`, `--altitude-m` and `--set` say: an engine, and the air outside it.
#[derive(Debug, Clone)]
pub struct Bench {
    pub engine: Engine,
    pub ambient: Ambient,
}

impl Bench {
    /// The engine and the air, with every `--set` applied.
    pub fn new(args: &BenchArgs) -> Result<Self, Failure> {
        let mut bench = Self { engine: engine(&args.engine)?, ambient: ambient(args.altitude_m)? };
        bench.set_all(&args.set)?;
        Ok(bench)
    }

    /// Sets many parameters, in their order.
    pub fn set_all(&mut self, set: &[Assignment]) -> Result<(), Failure> {
        set.iter().try_for_each(|one| self.set(&one.key, one.value))
    }

    /// Sets one parameter of the engine or of the air.
    pub fn set(&mut self, key: &str, value: f64) -> Result<(), Failure> {
        if is_air(known_key(key)?) { self.ambient.set(key, value) } else { self.engine.set(key, value) }
            .map_err(Failure::bad)
    }

    /// What is held at a single point.
    pub fn settings(&self, held: &HeldArgs) -> Result<Settings, Failure> {
        let load = load(held.load.torque_nm, held.load.fuel_mg)
            .ok_or_else(|| Failure::bad("the load is missing: add --torque-nm or --fuel-mg"))?;
        Ok(Settings { speed_rpm: held.speed_rpm, load, vane_open_pct: held.vane, ambient: self.ambient })
    }

    /// The steady point at these settings. Errors: an engine whose parameters do not fit together, or a setting out of range.
    pub fn solve(&self, settings: &Settings, trace: bool) -> Result<Point, Failure> {
        let options = Options { trace, ..Options::default() };
        steady::solve_with(&self.engine, settings, None, &options).map_err(|error| self.refuse(&error))
    }

    /// Whether the core would take engine and settings, without solving anything. Errors as for `solve`.
    pub fn check(&self, settings: &Settings) -> Result<(), Failure> {
        self.engine.check().map_err(Failure::bad)?;
        settings.check(&self.engine).map_err(|error| self.refuse(&BenchError::Setting(error)))
    }

    /// An error of the core in the words of the command line: a setting by the name and in the unit of its option.
    pub fn refuse(&self, error: &BenchError) -> Failure {
        let BenchError::Setting(KeyError::OutOfRange { key, value, min, max, .. }) = error else {
            return Failure::bad(error);
        };
        let Some(held) = HELD.iter().find(|held| held.core == key) else { return Failure::bad(error) };
        let (option, unit) = (held.option, held.unit);
        let [value, min, max] = [value, min, max].map(|number| nine_figures(number * held.per_core));
        let whose = if option == "--vane" { String::new() } else { format!(" for {}", self.engine.name) };
        Failure::bad(format_args!("`{option} {value}`: outside {min} to {max} {unit}{whose}"))
    }
}

/// Rounded to nine figures, so that 72e-6 kg is 72 mg and not 71.99999999999999 mg.
pub fn nine_figures(value: f64) -> f64 {
    format!("{value:.9e}").parse().unwrap_or(value)
}

/// An engine by its name or by the path of its file.
pub fn engine(name_or_path: &str) -> Result<Engine, Failure> {
    if let Some(engine) = built_in::engine(name_or_path) {
        return Ok(engine);
    }
    let path = Path::new(name_or_path);
    if name_or_path.trim().is_empty() || !path.exists() {
        let known: Vec<_> = built_in::names().map(|name| format!("`{name}`")).collect();
        return Err(Failure::bad(format_args!(
            "there is no engine `{name_or_path}`, and no file of that name; the engines that come with Volute are {}",
            known.join(" and ")
        )));
    }
    let file = path.display();
    let text =
        read_text(path, engine_file::MAX_BYTES).map_err(|why| Failure::bad(format_args!("file {file}: {why}")))?;
    engine_file::parse(&text).map_err(|error| Failure::bad(format_args!("engine file {file}:\n{error}")))
}

/// The text of a file of at most `max_bytes`. Errors: why there is none, without the name of the file.
pub fn read_text(path: &Path, max_bytes: usize) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(max_bytes as u64 + 1).read_to_end(&mut bytes))
        .map_err(|error| Failure::bad(format_args!("it cannot be read: {error}")))?;
    if bytes.len() > max_bytes {
        return Err(Failure::bad(format_args!("it is longer than the {max_bytes} bytes that are allowed")));
    }
    String::from_utf8(bytes).map_err(|error| {
        let valid = error.utf8_error().valid_up_to();
        let line = 1 + error.as_bytes()[..valid].iter().filter(|byte| **byte == b'\n').count();
        Failure::bad(format_args!("line {line}, a character is not UTF-8; save the file as UTF-8 text"))
    })
}

/// The air outside: at a height on a standard day, or without a height that of the reference day.
pub fn ambient(altitude_m: Option<f64>) -> Result<Ambient, Failure> {
    let Some(altitude_m) = altitude_m else { return Ok(REFERENCE_DAY) };
    let (min_m, max_m) = ALTITUDE_M;
    let air = atmosphere::ambient_at(altitude_m).ok().filter(|_| min_m <= altitude_m && altitude_m <= max_m);
    air.ok_or_else(|| {
        Failure::bad(format_args!(
            "`--altitude-m {altitude_m}`: outside {min_m} to {max_m} m, the heights at which the air has 50 to 110 kPa"
        ))
    })
}

/// The load from two options, of which the parser lets one through.
pub fn load(torque_nm: Option<f64>, fuel_mg: Option<f64>) -> Option<Load> {
    match (torque_nm, fuel_mg) {
        (Some(torque_n_m), _) => Some(Load::Torque { torque_n_m }),
        (None, Some(fuel_mg)) => Some(Load::Fuel { fuel_kg_per_cycle: fuel_mg / MG_PER_KG }),
        (None, None) => None,
    }
}

/// Whether the key is one of the air outside.
pub fn is_air(key: &Key) -> bool {
    key.group == AMBIENT
}

/// Every key that `--set` and `--over` reach.
pub fn settable_keys() -> impl Iterator<Item = &'static Key> {
    engine::keys().chain(Ambient::KEYS)
}

/// The key of that path. Errors: an unknown key, with the nearest one.
pub fn known_key(path: &str) -> Result<&'static Key, Failure> {
    if let Some(key) = settable_keys().find(|key| key.path() == path) {
        return Ok(key);
    }
    let without_group = settable_keys().find(|key| key.name == path).map(Key::path);
    let hint = without_group.or_else(|| {
        [Ambient::key(path), engine::key(path)].into_iter().find_map(|asked| match asked {
            Err(KeyError::Unknown { nearest, .. }) => nearest,
            _ => None,
        })
    });
    let hint = hint.map_or(String::new(), |near| format!("; the nearest is `{near}`"));
    Err(Failure::bad(format_args!("there is no parameter `{path}`{hint}. `volute engines --keys` lists them all")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_the_heights_are_those_with_allowed_air() {
        let (min_m, max_m) = ALTITUDE_M;
        for height_m in [min_m, 0.0, max_m] {
            let air = ambient(Some(height_m)).expect("an allowed height");
            for key in Ambient::KEYS {
                key.check(air.get(key.name).expect("known")).expect("allowed air");
            }
        }
        for height_m in [min_m - 20.0, max_m + 20.0] {
            let air = atmosphere::ambient_at(height_m).expect("within the standard");
            assert!(Ambient::KEYS.iter().any(|key| key.check(air.get(key.name).expect("known")).is_err()));
            assert!(ambient(Some(height_m)).is_err());
        }
        assert!(ambient(Some(f64::NAN)).is_err());
        assert_eq!(ambient(None).ok(), Some(REFERENCE_DAY));
    }

    #[test]
    fn by_hand_an_unknown_key_names_the_nearest() {
        let text = |path: &str| known_key(path).expect_err("unknown").to_string();
        assert!(text("bore_m").contains("`cylinders.bore_m`"), "{}", text("bore_m"));
        assert!(text("cylinders.bor_m").contains("`cylinders.bore_m`"));
        assert!(text("ambient.p_p").contains("`ambient.p_pa`"));
        assert!(text("zzzz").starts_with("there is no parameter `zzzz`. "), "{}", text("zzzz"));
        assert_eq!(known_key("ambient.t_k").map(|key| key.unit).ok(), Some("K"));
    }
}
