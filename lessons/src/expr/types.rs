//! What an expression may name, what kind of value it has, and what can be wrong with it.

use crate::curves::Swept;
use crate::units::{self, Dim, Reference, Unit};
use volute_core::engine;
use volute_core::keys::Key;
use volute_quantities::quantities::Measured;
use volute_quantities::settings::is_temperature;
use volute_quantities::units::dim_of;

/// Longest expression, in bytes.
pub const LONGEST: usize = 400;

/// Deepest nesting of brackets and signs.
pub(super) const DEEPEST: u32 = 32;

/// What kind of value an expression has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Type {
    /// A number with a dimension.
    Quantity {
        /// Its dimension.
        dim: Dim,
        /// A temperature that counts from absolute zero, as against a difference of two.
        point: bool,
        /// For a pressure taken straight from a reading or a number: what it counts from.
        reference: Option<Reference>,
    },
    /// True or false.
    Truth,
    /// How a state ended.
    Outcome,
}

impl Type {
    /// A number with a dimension that is no temperature on a scale and counts from nothing.
    pub fn number(dim: Dim) -> Type {
        Type::Quantity { dim, point: false, reference: None }
    }

    /// That of a quantity of a reading or a run.
    pub fn of<F>(quantity: &Measured<F>) -> Type {
        Type::Quantity { dim: quantity.dim(), point: quantity.is_point(), reference: quantity.reference() }
    }

    /// That of a number in a unit.
    pub fn in_unit(unit: &Unit, reference: Option<Reference>) -> Type {
        Type::Quantity { dim: unit.family.dim(), point: unit.offset != 0.0, reference }
    }

    /// In words.
    pub fn name(self) -> String {
        match self {
            Type::Quantity { dim, .. } => dim.to_string(),
            Type::Truth => "true or false".into(),
            Type::Outcome => "an outcome".into(),
        }
    }
}

/// What is wrong with an expression, and where.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{kind}")]
pub struct ExprProblem {
    /// Byte offset in the expression.
    pub at: usize,
    /// What.
    pub kind: ExprProblemKind,
}

/// What can be wrong with an expression.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum ExprProblemKind {
    #[error("the expression is {bytes} bytes long; allowed are {LONGEST}")]
    TooLong { bytes: usize },
    #[error("brackets and signs are nested deeper than {DEEPEST}")]
    TooDeep,
    #[error("`{found}` is not expected here; {expected}")]
    Unexpected { found: String, expected: &'static str },
    #[error("`{text}` is not a number")]
    BadNumber { text: String },
    #[error("there is no `{name}`{}; allowed are {allowed}", hint(.nearest))]
    UnknownName { name: String, nearest: Option<String>, allowed: String },
    #[error(
        "`{name}` is the bench as it stands, which differs from moment to moment; here a state must be named: `start.{name}` or `pins.….{name}`"
    )]
    NoBenchHere { name: String },
    #[error("{left} and {right} cannot be {doing}")]
    Mismatch { left: String, right: String, doing: &'static str },
    #[error("expected {expected}, found {found}")]
    WrongType { expected: String, found: String },
    #[error("the square root of {dim} has no unit")]
    OddRoot { dim: String },
    #[error("`{name}` is a curve: take a number from it, with one of {functions}")]
    CurveAlone { name: String, functions: String },
    #[error("`{name}` is known only where a task is judged: in its `goal` and the `when` of its misconceptions")]
    NotVisited { name: String },
}

fn hint(nearest: &Option<String>) -> String {
    nearest.as_ref().map(|near| format!(", did you mean `{near}`")).unwrap_or_default()
}

/// Names that an expression may use.
#[derive(Debug, Clone, Default)]
pub struct Scope {
    /// States: `start`, and pins by their own name.
    pub states: Vec<String>,
    /// Drawn numbers and what they measure: `seed.name`.
    pub seeds: Vec<(String, &'static units::Unit)>,
    /// Sweeps, and what they go along: `sweeps.name.quantity`.
    pub sweeps: Vec<(String, Swept)>,
    /// Runs: `runs.name.quantity`.
    pub runs: Vec<String>,
    /// Test sheets: `logs.name.channel.1`.
    pub logs: Vec<LogNames>,
    /// Whether a bare name, the bench as it stands, is allowed.
    pub bench: bool,
    /// Whether `visited` is allowed.
    pub visited: bool,
}

/// What an expression may name of a test sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LogNames {
    /// The name of the sheet.
    pub name: String,
    /// Its channels and their units.
    pub channels: Vec<(String, Type)>,
    /// How many rows it has.
    pub rows: u32,
}

/// What a parameter of the engine measures.
pub(super) fn part_type(key: &Key) -> Type {
    let dim = dim_of(key.unit).unwrap_or(Dim::NONE);
    let point = is_temperature(key);
    let reference = (dim == Dim::PRESSURE && key.group == "limits").then_some(Reference::Absolute);
    Type::Quantity { dim, point, reference }
}

impl Swept {
    /// The type of its settings.
    pub fn kind(self) -> Type {
        match self {
            Swept::Vane => Type::number(Dim::NONE),
            Swept::Torque => Type::number(units::Family::Torque.dim()),
            Swept::Fuel => Type::number(units::Family::Mass.dim()),
            Swept::Speed => Type::number(units::Family::Rotation.dim()),
            Swept::Altitude => Type::number(units::Family::Length.dim()),
            Swept::Temperature => Type::Quantity { dim: Dim::TEMPERATURE, point: true, reference: None },
            Swept::Part { group, name } => {
                engine::key(&format!("{group}.{name}")).map_or(Type::number(Dim::NONE), part_type)
            }
        }
    }
}

/// Whether the value is a temperature and not a difference of two.
pub(crate) fn is_point(kind: Type) -> bool {
    matches!(kind, Type::Quantity { point: true, .. })
}
