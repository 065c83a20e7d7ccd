//! What the command line may say.

use clap::{Args, Parser, Subcommand};

/// Stands below every answer for people, and below every help text.
pub const CAUTION: &str =
    "A teaching model, not a tuning instruction. Real engines: the maker's limits, local codes, licensed practice.";

const ABOUT: &str = "A teaching bench for diesel engines with a variable-vane turbocharger.";

const LONG_ABOUT: &str = "\
A teaching bench for diesel engines with a variable-vane turbocharger.

A dynamometer holds the engine's speed. You hold the load (a torque, or an amount of fuel), the position of the \
turbine's vanes, and the air outside. The bench answers with the matched operating point: a whole engine cycle, \
resolved by crank angle, in balance with the turbocharger shaft. Pressures are absolute unless the line says gauge.";

const EXAMPLES: &str = "\
Examples:
  volute point --speed-rpm 1500 --torque-nm 700 --vane 60
  volute point --speed-rpm 2400 --fuel-mg 145 --vane 80 --set exhaust_pipe.bore_m=0.125
  volute sweep --over vane --from 0 --to 100 --points 41 --speed-rpm 1500 --torque-nm 700
  volute step --speed-rpm 1200 --torque-nm 100 --vane 60 --to-torque-nm 700 --duration-s 6
  volute engines --keys

Exit code: 0 an answer, 2 a question that is not allowed, 3 no steady state exists there.
";

const POINT_EXAMPLES: &str = "\
Examples:
  volute point --speed-rpm 1500 --torque-nm 700 --vane 60
      The brake holds 700 N m; the fuel is found.
  volute point --speed-rpm 2400 --fuel-mg 145 --vane 60
      145 mg in each cylinder and cycle; the torque results.
  volute point --engine van-four --speed-rpm 2000 --torque-nm 200 --vane 40 --altitude-m 2000
  volute point --speed-rpm 2400 --torque-nm 900 --vane 90 --set charge_cooler.fitted=0 --json

Where no steady state exists, the exit code is 3 and `holds` is false in the JSON. Its numbers are then those of the last \
attempt, and `last_good` is the nearest point with wider vanes that holds, if there is one.
";

const SWEEP_EXAMPLES: &str = "\
Examples:
  volute sweep --over vane --from 0 --to 100 --points 41 --speed-rpm 1500 --torque-nm 700
  volute sweep --over torque --from 0 --to 900 --points 19 \\
      --speed-rpm 1500 --vane 70 --csv > load.csv
  volute sweep --over speed --from 900 --to 2400 --points 16 --fuel-mg 100 --vane 70 --json
  volute sweep --over altitude --from 0 --to 4000 --points 9 \\
      --speed-rpm 1800 --torque-nm 700 --vane 60
  volute sweep --over exhaust_pipe.bore_m --from 0.08 --to 0.14 --points 7 \\
      --speed-rpm 2400 --fuel-mg 120 --vane 80

In CSV, a point without a steady state has its settings and its outcome, and nothing else. The exit code is 3 only if no \
point of the sweep has a state.
";

const STEP_EXAMPLES: &str = "\
Examples:
  volute step --speed-rpm 1200 --torque-nm 100 --vane 60 --to-torque-nm 700
  volute step --speed-rpm 1200 --torque-nm 100 --vane 100 --to-torque-nm 700 --to-vane 30 --json
  volute step --engine van-four --speed-rpm 1500 --fuel-mg 8 --vane 30 --to-fuel-mg 30

The answer has one row for each firing of a cylinder; time 0 is the step. A governor seeks the torque within the smoke \
limit. The vanes follow with the lag of their actuator, and the shaft with its inertia. The brake holds the speed.
";

const ENGINES_EXAMPLES: &str = "\
Examples:
  volute engines
  volute engines --keys
  volute engines --file harbour-six > my-engine.toml
  volute engines --file van-four --set turbine.tip_diameter_m=0.045 > wider.toml
  volute check my-engine.toml
";

const CHECK_EXAMPLES: &str = "\
Examples:
  volute check my-engine.toml
  volute check lessons/content
      Every lesson of the folder, and every translation against its lesson.
  volute check --seeds 20 lessons/content/absolute-first.md

The command reads a lesson, and then tries it with the core for many learners: the start must not pass a task and the \
answer must, no misconception may be too near to the right value, and every number must exist. Each line says file, \
line, column, what is wrong, and what is allowed.
";

const PACKAGE_EXAMPLES: &str = "\
Examples:
  volute package --kind scorm12 --site dist --lessons more-boost-less-torque --out lesson.zip
  volute package --kind cmi5 --site dist --pass 80 --out week3.zip \\
      --assignment 'https://school.example/bench/#assignment=1&title=Week+3&do=more-boost-less-torque&end'
  volute package --kind moodle-xml --lessons more-boost-less-torque --seed 1 --variants 20 --out questions.xml

`--site` is the folder that `cargo xtask build` writes. Upload a zip as it is: the platform unpacks it. Moodle XML holds \
the questions that ask for a number or a choice, which Moodle can mark. Each is a category with its variants in it.

A learner's browser can forge what it reports: give credit for practice, never for an examination.
";

/// The whole command line.
#[derive(Debug, Parser)]
#[command(name = "volute", version, about = ABOUT, long_about = LONG_ABOUT, after_help = format!("{EXAMPLES}\n{CAUTION}"))]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// One steady operating point
    #[command(after_help = format!("{POINT_EXAMPLES}\n{CAUTION}"))]
    Point(PointArgs),
    /// Many steady points, one setting or engine parameter varied
    #[command(after_help = format!("{SWEEP_EXAMPLES}\n{CAUTION}"))]
    Sweep(SweepArgs),
    /// A load step or vane step in time, from a steady point
    #[command(after_help = format!("{STEP_EXAMPLES}\n{CAUTION}"))]
    Step(StepArgs),
    /// The engines that come with Volute, their files, and every parameter
    #[command(after_help = format!("{ENGINES_EXAMPLES}\n{CAUTION}"))]
    Engines(EnginesArgs),
    /// Read files and say everything that is wrong with them
    #[command(after_help = format!("{CHECK_EXAMPLES}\n{CAUTION}"))]
    Check(CheckArgs),
    /// Lessons as a package for a learning management system
    #[command(after_help = format!("{PACKAGE_EXAMPLES}\n{CAUTION}"))]
    Package(PackageArgs),
}

/// Engine and air.
#[derive(Debug, Args)]
pub struct BenchArgs {
    /// Engine: one of `volute engines`, or the path of an engine file
    #[arg(long, value_name = "NAME|FILE", default_value = "harbour-six")]
    pub engine: String,
    /// Height above sea level on a standard day, dry, in m; without it 100 kPa and 25 °C
    #[arg(long, value_name = "H", value_parser = number, allow_hyphen_values = true)]
    pub altitude_m: Option<f64>,
    /// Change one parameter of the engine or of the air (`ambient.p_pa`, `ambient.t_k`, `ambient.relative_humidity`),
    /// in its SI unit; may be repeated. `volute engines --keys` lists them all
    #[arg(long = "set", value_name = "KEY=VALUE", value_parser = assignment)]
    pub set: Vec<Assignment>,
}

/// The load: a torque or an amount of fuel.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub struct LoadArgs {
    /// Torque that the brake holds, in N m; the fuel is found
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true)]
    pub torque_nm: Option<f64>,
    /// Fuel that is held, in mg for each cylinder and cycle; the torque results
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true)]
    pub fuel_mg: Option<f64>,
}

/// What is held at one point.
#[derive(Debug, Args)]
pub struct HeldArgs {
    /// Engine speed, held by the brake, in 1/min
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true)]
    pub speed_rpm: f64,
    #[command(flatten)]
    #[allow(missing_docs, reason = "clap would show a sentence here as that of the command")]
    pub load: LoadArgs,
    /// Vane position in per cent: 0 at the tightest stop, 100 fully open
    #[arg(long, value_name = "P", value_parser = number, allow_hyphen_values = true)]
    pub vane: f64,
}

/// `volute point`.
#[derive(Debug, Args)]
#[allow(missing_docs, reason = "clap would show a sentence on a flattened group as that of the command")]
pub struct PointArgs {
    #[command(flatten)]
    pub held: HeldArgs,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Print the whole reading as JSON, in SI units, pressures absolute
    #[arg(long)]
    pub json: bool,
    /// Add one cylinder over the whole cycle, by crank angle
    #[arg(long)]
    pub trace: bool,
}

/// `volute sweep`.
#[derive(Debug, Args)]
#[allow(missing_docs, reason = "clap would show a sentence on a flattened group as that of the command")]
pub struct SweepArgs {
    /// What varies: `vane` (%), `torque` (N m), `fuel` (mg), `speed` (1/min), `altitude` (m), or a key as for --set
    #[arg(long, value_name = "WHAT")]
    pub over: String,
    /// First value
    #[arg(long, value_name = "X", value_parser = number, allow_hyphen_values = true)]
    pub from: f64,
    /// Last value
    #[arg(long, value_name = "X", value_parser = number, allow_hyphen_values = true)]
    pub to: f64,
    /// Number of points, evenly spaced, both ends included, 2 to 20000
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(2..=20_000), allow_hyphen_values = true)]
    pub points: u32,
    /// Engine speed, held by the brake, in 1/min
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true)]
    pub speed_rpm: Option<f64>,
    /// Torque that the brake holds, in N m; the fuel is found
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true, conflicts_with = "fuel_mg")]
    pub torque_nm: Option<f64>,
    /// Fuel that is held, in mg for each cylinder and cycle; the torque results
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true)]
    pub fuel_mg: Option<f64>,
    /// Vane position in per cent: 0 at the tightest stop, 100 fully open
    #[arg(long, value_name = "P", value_parser = number, allow_hyphen_values = true)]
    pub vane: Option<f64>,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Print every quantity as comma-separated values, in SI units, pressures absolute
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Print the readings as JSON, in SI units, pressures absolute
    #[arg(long)]
    pub json: bool,
}

/// `volute step`.
#[derive(Debug, Args)]
#[allow(missing_docs, reason = "clap would show a sentence on a flattened group as that of the command")]
pub struct StepArgs {
    #[command(flatten)]
    pub held: HeldArgs,
    /// Torque asked for from time 0 on, in N m
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true, conflicts_with = "to_fuel_mg")]
    pub to_torque_nm: Option<f64>,
    /// Fuel from time 0 on, in mg for each cylinder and cycle
    #[arg(long, value_name = "N", value_parser = number, allow_hyphen_values = true)]
    pub to_fuel_mg: Option<f64>,
    /// Vane position asked for from time 0 on, in per cent
    #[arg(long, value_name = "P", value_parser = number, allow_hyphen_values = true)]
    pub to_vane: Option<f64>,
    /// Time to run after the step, in s, 0.01 to 120
    #[arg(long, value_name = "S", value_parser = between(0.01, 120.0), allow_hyphen_values = true, default_value = "5")]
    pub duration_s: f64,
    /// Time to run before the step, in s, 0 to 10; its rows have negative times
    #[arg(long, value_name = "S", value_parser = between(0.0, 10.0), allow_hyphen_values = true, default_value = "0.2")]
    pub before_s: f64,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Print JSON instead of comma-separated values
    #[arg(long)]
    pub json: bool,
}

/// `volute engines`.
#[derive(Debug, Args)]
pub struct EnginesArgs {
    /// Explain every parameter: key, unit, allowed range, meaning
    #[arg(long, conflicts_with_all = ["file", "set"])]
    pub keys: bool,
    /// Print the file of an engine (a name or a path), as a start for one of your own
    #[arg(long, value_name = "NAME|FILE")]
    pub file: Option<String>,
    /// Change a parameter in the file that is printed; may be repeated
    #[arg(long = "set", value_name = "KEY=VALUE", value_parser = assignment, requires = "file")]
    pub set: Vec<Assignment>,
}

/// `volute check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Engine files (.toml), lesson files (.md), or folders of lessons
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<std::path::PathBuf>,
    /// Learners for whom every answer of a lesson is tried: seeds 0 to N - 1
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub seeds: u32,
}

/// `volute package`.
#[derive(Debug, Args)]
pub struct PackageArgs {
    /// What to make: a SCORM 1.2 zip, a cmi5 zip, or questions as Moodle XML
    #[arg(long, value_enum)]
    pub kind: PackageKind,
    /// Folder of the built page, for a zip
    #[arg(long, value_name = "DIR")]
    pub site: Option<std::path::PathBuf>,
    /// Lessons by their ids, with commas between; `lesson/checkpoint` for one checkpoint
    #[arg(
        long,
        value_name = "IDS",
        value_delimiter = ',',
        required_unless_present = "assignment",
        conflicts_with = "assignment"
    )]
    pub lessons: Vec<String>,
    /// An assignment: a link that the page's composer made, or what stands behind its #
    #[arg(long, value_name = "LINK")]
    pub assignment: Option<String>,
    /// Title, in place of the assignment's
    #[arg(long, value_name = "TEXT")]
    pub title: Option<String>,
    /// Share of the points that passes, in per cent, in place of the assignment's; 0 for none
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=100), allow_hyphen_values = true)]
    pub pass: Option<u32>,
    /// The variant whose numbers everybody gets; without it each learner has others. For Moodle XML the first variant (1)
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    pub seed: Option<u64>,
    /// How many variants of each question, counted up from --seed, for Moodle XML, 1 to 1000
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000), allow_hyphen_values = true)]
    pub variants: Option<u32>,
    /// Address of the page (https://…), for a link in each question that opens the bench, for Moodle XML
    #[arg(long, value_name = "URL")]
    pub page: Option<String>,
    /// Language of title and texts, such as en or de
    #[arg(long, value_name = "TAG", default_value = "en")]
    pub language: String,
    /// File to write
    #[arg(long, value_name = "FILE")]
    pub out: std::path::PathBuf,
}

/// What `volute package` makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum PackageKind {
    /// A zip for any platform that takes SCORM 1.2
    Scorm12,
    /// A zip for a platform with cmi5 (xAPI)
    Cmi5,
    /// Questions for a Moodle question bank
    MoodleXml,
}

/// `KEY=VALUE` of `--set`.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    /// `group.name`.
    pub key: String,
    /// In the key's unit.
    pub value: f64,
}

/// A finite number. Its range is checked later, when the engine is known.
fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err("this must be a finite number".to_owned()),
        Err(_) if text.trim().is_empty() => Err("this is empty; a number belongs here".to_owned()),
        Err(_) if text.replacen(',', ".", 1).trim().parse::<f64>().is_ok() => {
            Err("write it with a decimal point, not a comma".to_owned())
        }
        Err(_) => Err("this is not a number; write it as 12, 0.5 or 1.5e-4, without a unit".to_owned()),
    }
}

/// A number of seconds in a range.
fn between(min: f64, max: f64) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |text| match number(text)? {
        value if min <= value && value <= max => Ok(value),
        _ => Err(format!("outside {min} to {max} s")),
    }
}

fn assignment(text: &str) -> Result<Assignment, String> {
    let (key, value) = text.split_once('=').ok_or("write it as KEY=VALUE, such as exhaust_pipe.bore_m=0.125")?;
    if key.trim().is_empty() {
        return Err("the key before the = is missing; `volute engines --keys` lists them".to_owned());
    }
    Ok(Assignment { key: key.trim().to_owned(), value: number(value)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_the_command_line_is_well_formed() {
        use clap::CommandFactory;
        Cli::command().debug_assert();
    }

    #[test]
    fn by_hand_numbers_are_finite() {
        assert_eq!(number(" 1.5e-4 "), Ok(1.5e-4));
        for bad in ["", " ", "nan", "NaN", "inf", "-inf", "1e999", "0,5", "12 mm", "--vane", "0x10"] {
            assert!(number(bad).is_err(), "{bad}");
        }
        assert!(number("0,5").is_err_and(|why| why.contains("decimal point")));
    }

    #[test]
    fn by_hand_an_assignment_has_a_key_and_a_number() {
        assert_eq!(assignment("a.b = 2"), Ok(Assignment { key: "a.b".to_owned(), value: 2.0 }));
        for bad in ["a.b", "=2", "a.b=", "a.b=x", "a.b=nan", "a.b==2"] {
            assert!(assignment(bad).is_err(), "{bad}");
        }
    }
}
