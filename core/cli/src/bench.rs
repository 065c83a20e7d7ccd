//! From arguments to an engine and settings that are allowed, or to a sentence that says why not.

use crate::Failure;
use crate::args::{Assignment, BenchArgs, HeldArgs};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use volute_core::engine::{self, Engine};
use volute_core::engine::{built_in, engine_file};
use volute_core::gas::atmosphere;
use volute_core::keys::{Key, KeyError};
use volute_core::point::steady::BenchError;
use volute_core::settings::{Ambient, Load, REFERENCE_DAY, Settings};

/// Heights at which the standard day lies within the range of `ambient.p_pa` (a test holds the two together).
const ALTITUDE_M: (f64, f64) = (-690.0, 5570.0);

/// Milligrams in a kilogram.
pub const MG_PER_KG: f64 = 1.0e6;

/// An engine by its name or by the path of its file.
pub fn engine(name_or_path: &str) -> Result<Engine, Failure> {
    if let Some(engine) = built_in::engine(name_or_path) {
        return Ok(engine);
    }
    let path = Path::new(name_or_path);
    if name_or_path.trim().is_empty() || !path.exists() {
        let known: Vec<_> = built_in::names().map(|name| format!("`{name}`")).collect();
        return Err(Failure::BadInput(format!(
            "there is no engine `{name_or_path}`, and no file of that name; the engines that come with Volute are {}",
            known.join(" and ")
        )));
    }
    let text = read_text(path, engine_file::MAX_BYTES)?;
    engine_file::parse(&text).map_err(|error| Failure::BadInput(format!("engine file {}:\n{error}", path.display())))
}

/// The text of a file of at most `max_bytes`.
pub fn read_text(path: &Path, max_bytes: usize) -> Result<String, Failure> {
    let shown = path.display();
    let bad = |why: String| Failure::BadInput(format!("file {shown}: {why}"));
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(max_bytes as u64 + 1).read_to_end(&mut bytes))
        .map_err(|error| bad(format!("it cannot be read: {error}")))?;
    if bytes.len() > max_bytes {
        return Err(bad(format!("longer than the {max_bytes} bytes that are allowed")));
    }
    String::from_utf8(bytes).map_err(|error| {
        let valid = error.utf8_error().valid_up_to();
        let line = 1 + error.as_bytes()[..valid].iter().filter(|byte| **byte == b'\n').count();
        bad(format!("line {line}, a character is not UTF-8; save the file as UTF-8 text"))
    })
}

/// The air outside at a height on a standard day, or the bench's reference day.
pub fn ambient(altitude_m: Option<f64>) -> Result<Ambient, Failure> {
    let Some(altitude_m) = altitude_m else { return Ok(REFERENCE_DAY) };
    let (min_m, max_m) = ALTITUDE_M;
    let air = atmosphere::ambient_at(altitude_m).ok().filter(|_| min_m <= altitude_m && altitude_m <= max_m);
    air.ok_or_else(|| {
        Failure::BadInput(format!(
            "`--altitude-m {altitude_m}`: outside {min_m} to {max_m} m, where the air has 50 to 110 kPa"
        ))
    })
}

/// The load from two options of which clap lets one through.
pub fn load(torque_nm: Option<f64>, fuel_mg: Option<f64>) -> Option<Load> {
    match (torque_nm, fuel_mg) {
        (Some(torque_n_m), _) => Some(Load::Torque { torque_n_m }),
        (None, Some(fuel_mg)) => Some(Load::Fuel { fuel_kg_per_cycle: fuel_mg / MG_PER_KG }),
        (None, None) => None,
    }
}

/// What a single point is asked at.
pub fn settings(held: &HeldArgs, ambient: Ambient) -> Result<Settings, Failure> {
    let load = load(held.load.torque_nm, held.load.fuel_mg)
        .ok_or_else(|| Failure::BadInput("the load is missing: --torque-nm or --fuel-mg".to_owned()))?;
    Ok(Settings { speed_rpm: held.speed_rpm, load, vane_open_pct: held.vane, ambient })
}

/// Engine and settings of a point, every `--set` applied, all of it checked.
pub fn prepare(held: &HeldArgs, args: &BenchArgs) -> Result<(Engine, Settings), Failure> {
    let mut engine = engine(&args.engine)?;
    let mut settings = settings(held, ambient(args.altitude_m)?)?;
    apply(&args.set, &mut engine, &mut settings)?;
    check(&engine, &settings)?;
    Ok((engine, settings))
}

/// Applies every `--set`.
pub fn apply(set: &[Assignment], engine: &mut Engine, settings: &mut Settings) -> Result<(), Failure> {
    set.iter().try_for_each(|one| assign(&one.key, one.value, engine, settings))
}

/// Sets one parameter of the engine or of the air.
pub fn assign(key: &str, value: f64, engine: &mut Engine, settings: &mut Settings) -> Result<(), Failure> {
    let known = known_key(key)?;
    let result = if known.group == AMBIENT { settings.set_ambient(key, value) } else { engine.set(key, value) };
    result.map_err(|error| Failure::BadInput(error.to_string()))
}

/// Group of the keys of the air outside.
pub const AMBIENT: &str = "ambient";

/// Every key that `--set` and `--over` reach.
pub fn settable_keys() -> impl Iterator<Item = &'static Key> {
    engine::keys().chain(Ambient::KEYS)
}

/// The key of that path, or what may be meant.
pub fn known_key(path: &str) -> Result<&'static Key, Failure> {
    if let Some(key) = settable_keys().find(|key| key.path() == path) {
        return Ok(key);
    }
    let without_group = settable_keys().find(|key| key.name == path).map(Key::path);
    let mut air =
        Settings { speed_rpm: 0.0, load: Load::Torque { torque_n_m: 0.0 }, vane_open_pct: 0.0, ambient: REFERENCE_DAY };
    let nearest = |error: KeyError| match error {
        KeyError::Unknown { nearest, .. } => nearest,
        KeyError::OutOfRange { .. } => None,
    };
    let hint = without_group
        .or_else(|| air.set_ambient(path, 0.0).err().and_then(nearest))
        .or_else(|| engine::key(path).err().and_then(nearest));
    let hint = hint.map_or(String::new(), |near| format!("; the nearest is `{near}`"));
    Err(Failure::BadInput(format!("there is no parameter `{path}`{hint}. `volute engines --keys` lists them all")))
}

/// Engine and settings against their ranges and against each other.
pub fn check(engine: &Engine, settings: &Settings) -> Result<(), Failure> {
    engine.check().map_err(|error| Failure::BadInput(error.to_string()))?;
    settings.check(engine).map_err(|error| Failure::BadInput(setting_text(&error, engine)))
}

/// An error of the core in the words of the command line.
pub fn bench_failure(error: &BenchError, engine: &Engine) -> Failure {
    Failure::BadInput(match error {
        BenchError::Setting(error) => setting_text(error, engine),
        BenchError::Engine(error) => error.to_string(),
    })
}

/// A setting out of range, by the name and in the unit of its option.
fn setting_text(error: &KeyError, engine: &Engine) -> String {
    let KeyError::OutOfRange { key, value, min, max, .. } = error else { return error.to_string() };
    let (option, unit, scale) = match key.as_str() {
        "settings.speed_rpm" => ("--speed-rpm", "1/min", 1.0),
        "settings.vane_open_pct" => ("--vane", "% open", 1.0),
        "settings.torque_n_m" => ("--torque-nm", "N m", 1.0),
        "settings.fuel_kg_per_cycle" => ("--fuel-mg", "mg for each cylinder and cycle", MG_PER_KG),
        _ => return error.to_string(),
    };
    // Rounded to nine figures, so that 72e-6 kg is 72 mg and not 71.99999999999999 mg.
    let shown = |kg: f64| format!("{:.9e}", kg * scale).parse().unwrap_or(kg * scale);
    let (value, min, max): (f64, f64, f64) = (shown(*value), shown(*min), shown(*max));
    let whose = if option == "--vane" { String::new() } else { format!(" for {}", engine.name) };
    format!("`{option} {value}`: outside {min} to {max} {unit}{whose}")
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
