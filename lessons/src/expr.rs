//! Expressions in lesson files: small, total, with units, no loops.
//!
//! `pins.closed.boost - start.boost`, `torque < 0.97 * start.torque and not limits.crossed`, `t3 between 600 degC and 700 degC`.
//! An expression is checked when the file is read: names exist, dimensions agree, a truth is not added to a number. What is
//! left for run time is a state that the core could not give, and a division by nothing.

use crate::bench::Bench;
use crate::lesson::{CurveKind, Swept};
use crate::paths::{self, LIMITS, QUANTITIES, Quantity};
use crate::units::{self, Dim, Measure, PLAIN, Reference};
use crate::work::{Curve, LogSheet, RunResult, SweepResult};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;
use volute_core::gas::atmosphere::AtmosphereError;
use volute_core::keys::Key;
use volute_core::point::reading::{LimitName, Outcome, Reading};
use volute_core::{engine, math};
use volute_quantities::settings::is_temperature;
use volute_quantities::units::dim_of;

/// Longest expression, in bytes.
pub const LONGEST: usize = 400;
/// Deepest nesting of brackets and signs.
const DEEPEST: u32 = 32;

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

/// What cannot be worked out at run time.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum EvalError {
    #[error("there is no bench reading here")]
    NoBench,
    #[error("the state `{state}` has not been computed")]
    NotComputed { state: String },
    #[error("the state `{state}` has no numbers: {}", .outcome.meaning())]
    NoNumbers { state: String, outcome: Outcome },
    #[error("`{source_text}` is not a finite number (a division by zero, or the root of a negative number)")]
    NotFinite { source_text: String },
    #[error("the reading has no limit of that name")]
    NoLimit,
    #[error("`{what}` has no such point")]
    NoPoint { what: String },
    #[error(transparent)]
    Altitude(AtmosphereError),
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

/// Values that an expression is worked out with.
#[derive(Debug, Clone, Copy)]
pub struct Env<'a> {
    /// The bench as it stands.
    pub bench: Option<&'a Reading>,
    /// States since the bench of the task was set.
    pub visited: &'a [Reading],
    /// How the bench stands.
    pub live: Option<&'a Bench>,
    /// Readings by state: `start` and pins.
    pub states: &'a BTreeMap<String, Reading>,
    /// How the bench is set for each state.
    pub benches: &'a BTreeMap<String, Bench>,
    /// Drawn numbers, SI.
    pub seeds: &'a BTreeMap<String, f64>,
    /// Sweeps.
    pub sweeps: &'a BTreeMap<String, Arc<SweepResult>>,
    /// Runs.
    pub runs: &'a BTreeMap<String, Arc<RunResult>>,
    /// Test sheets.
    pub logs: &'a BTreeMap<String, Arc<LogSheet>>,
}

impl Env<'_> {
    /// Nothing to refer to.
    pub const EMPTY: Env<'static> = Env {
        bench: None,
        visited: &[],
        live: None,
        states: &BTreeMap::new(),
        benches: &BTreeMap::new(),
        seeds: &BTreeMap::new(),
        sweeps: &BTreeMap::new(),
        runs: &BTreeMap::new(),
        logs: &BTreeMap::new(),
    };

    /// A curve by its name. Errors: a sweep or run that was not computed.
    pub fn curve(&self, kind: CurveKind, of: &str, quantity: &str) -> Result<Curve, EvalError> {
        let missing = || EvalError::NotComputed { state: of.into() };
        let curve = match kind {
            CurveKind::Sweep => paths::quantity(quantity).zip(self.sweeps.get(of)).map(|(q, sweep)| sweep.curve(q)),
            CurveKind::Run => paths::run_quantity(quantity).zip(self.runs.get(of)).map(|(q, run)| run.curve(q)),
        };
        curve.ok_or_else(missing)
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Node {
    Number(f64),
    Outcome(Outcome),
    Seed(String),
    Quantity(Place, &'static str),
    OutcomeOf(Place),
    /// A parameter of the engine, by its path.
    Part(Place, String),
    Margin(Place, LimitName),
    Crossed(Place, Option<LimitName>),
    Negative(Box<Node>),
    Not(Box<Node>),
    Arithmetic(char, Box<Node>, Box<Node>),
    Compare(Compare, Box<Node>, Box<Node>),
    Same(bool, Box<Node>, Box<Node>),
    Between(Box<Node>, Box<Node>, Box<Node>),
    And(Box<Node>, Box<Node>),
    Or(Box<Node>, Box<Node>),
    Call(Function, Vec<Node>),
    Power(Box<Node>, Box<Node>),
    Equal(bool, Box<Node>, Box<Node>),
    Pick(Box<Node>, Vec<Node>),
    If(Box<Node>, Box<Node>, Box<Node>),
    Curve(CurveFunction, CurveName, Option<Box<Node>>),
    Reversed(String),
    T90(String),
    Cell(String, String, usize),
    VisitedCount,
    VisitedCrossed(Option<LimitName>),
}

/// What a function of a curve works on.
#[derive(Debug, Clone, PartialEq)]
enum CurveName {
    Of(CurveKind, String, &'static str),
    Visited(&'static str),
}

impl fmt::Display for CurveName {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CurveName::Of(CurveKind::Sweep, of, quantity) => write!(out, "sweeps.{of}.{quantity}"),
            CurveName::Of(CurveKind::Run, of, quantity) => write!(out, "runs.{of}.{quantity}"),
            CurveName::Visited(quantity) => write!(out, "visited.{quantity}"),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum CurveFunction {
    Least,
    Most,
    WhereLeast,
    WhereMost,
    Crosses,
    At,
    WidestStep,
}

const CURVE_FUNCTIONS: [(&str, CurveFunction); 7] = [
    ("least", CurveFunction::Least),
    ("most", CurveFunction::Most),
    ("where_least", CurveFunction::WhereLeast),
    ("where_most", CurveFunction::WhereMost),
    ("crosses", CurveFunction::Crosses),
    ("at", CurveFunction::At),
    ("widest_step", CurveFunction::WidestStep),
];

/// Which reading a name refers to.
#[derive(Debug, Clone, PartialEq)]
enum Place {
    Bench,
    State(String),
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Compare {
    Less,
    AtMost,
    More,
    AtLeast,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Function {
    Abs,
    Min,
    Max,
    Sqrt,
}

/// A checked expression.
#[derive(Debug, Clone, PartialEq)]
pub struct Expr {
    node: Node,
    kind: Type,
    source: String,
}

impl Expr {
    /// Reads and checks `text`. Errors: the first problem, with its offset.
    pub fn parse(text: &str, scope: &Scope) -> Result<Expr, ExprProblem> {
        if text.len() > LONGEST {
            return Err(ExprProblem { at: 0, kind: ExprProblemKind::TooLong { bytes: text.len() } });
        }
        let mut parser = Parser { text, at: 0, depth: 0, scope };
        let (node, kind) = parser.any_of()?;
        parser.space();
        if parser.at < text.len() {
            return Err(parser.unexpected("an operator such as + or `and`, or the end"));
        }
        Ok(Expr { node, kind, source: text.trim().into() })
    }

    /// A plain number.
    pub(crate) fn constant(value: f64) -> Expr {
        Expr { node: Node::Number(value), kind: Type::number(Dim::NONE), source: value.to_string() }
    }

    /// What kind of value it has.
    pub fn kind(&self) -> Type {
        self.kind
    }

    /// As it was written.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The number, in SI. Errors: a state without numbers, a result that is not finite.
    pub fn number(&self, env: &Env) -> Result<f64, EvalError> {
        let value = self.node.number(env)?;
        if value.is_finite() { Ok(value) } else { Err(EvalError::NotFinite { source_text: self.source.clone() }) }
    }

    /// Whether it is true. Errors as for a number.
    pub fn truth(&self, env: &Env) -> Result<bool, EvalError> {
        self.node.truth(env)
    }

    /// Quantities that it reads, of the bench or of any state.
    pub fn quantities(&self) -> Vec<&'static str> {
        let mut names = Vec::new();
        self.node.visit(&mut |node| match node {
            Node::Quantity(_, name) | Node::Curve(_, CurveName::Of(_, _, name) | CurveName::Visited(name), _) => {
                names.push(*name)
            }
            _ => {}
        });
        names
    }

    /// States that it reads, by name.
    pub fn states(&self) -> Vec<&str> {
        let mut names = Vec::new();
        self.node.visit(&mut |node| {
            if let Node::Quantity(Place::State(name), _)
            | Node::OutcomeOf(Place::State(name))
            | Node::Margin(Place::State(name), _)
            | Node::Part(Place::State(name), _)
            | Node::Crossed(Place::State(name), _) = node
            {
                names.push(name.as_str());
            }
        });
        names
    }
}

impl Expr {
    /// Sweeps and runs that it reads, by name.
    pub fn curves(&self) -> Vec<(CurveKind, &str)> {
        let mut names = Vec::new();
        self.node.visit(&mut |node| match node {
            Node::Curve(_, CurveName::Of(kind, of, _), _) => names.push((*kind, of.as_str())),
            Node::Reversed(of) | Node::T90(of) => names.push((CurveKind::Run, of.as_str())),
            _ => {}
        });
        names
    }
}

/// `base ^ exponent`, not a number where there is none. The core's power is for positive numbers only.
fn power(base: f64, exponent: f64) -> f64 {
    if base.is_normal() && base > 0.0 {
        return math::pow(base, exponent);
    }
    if !base.is_finite() {
        return f64::NAN;
    }
    if base.abs() < f64::MIN_POSITIVE {
        return if exponent > 0.0 {
            0.0
        } else if exponent == 0.0 {
            1.0
        } else {
            f64::NAN
        };
    }
    let size = math::pow(-base, exponent);
    // Below zero only whole exponents have a value, and the sign of odd ones is that of the base.
    match exponent % 2.0 {
        0.0 => size,
        1.0 | -1.0 => -size,
        _ => f64::NAN,
    }
}

impl Node {
    fn visit<'a>(&'a self, see: &mut impl FnMut(&'a Node)) {
        see(self);
        match self {
            Node::Negative(a) | Node::Not(a) => a.visit(see),
            Node::Arithmetic(_, a, b)
            | Node::Compare(_, a, b)
            | Node::Same(_, a, b)
            | Node::And(a, b)
            | Node::Or(a, b)
            | Node::Power(a, b)
            | Node::Equal(_, a, b) => {
                a.visit(see);
                b.visit(see);
            }
            Node::Pick(a, nodes) => {
                a.visit(see);
                nodes.iter().for_each(|node| node.visit(see));
            }
            Node::Curve(_, _, Some(a)) => a.visit(see),
            Node::Between(a, b, c) | Node::If(a, b, c) => {
                a.visit(see);
                b.visit(see);
                c.visit(see);
            }
            Node::Call(_, nodes) => nodes.iter().for_each(|node| node.visit(see)),
            _ => {}
        }
    }

    fn number(&self, env: &Env) -> Result<f64, EvalError> {
        Ok(match self {
            Node::Number(value) => *value,
            Node::Seed(name) => {
                *env.seeds.get(name).ok_or_else(|| EvalError::NotComputed { state: format!("seed.{name}") })?
            }
            Node::Quantity(place, name) => {
                let reading = place.numbers(env)?;
                paths::quantity(name).map_or(f64::NAN, |quantity| (quantity.of)(reading))
            }
            Node::Part(place, path) => {
                let bench = match place {
                    Place::Bench => env.live.ok_or(EvalError::NoBench)?,
                    Place::State(name) => {
                        env.benches.get(name).ok_or_else(|| EvalError::NotComputed { state: name.clone() })?
                    }
                };
                bench.parameter(path).map_err(|_| EvalError::NotComputed { state: path.clone() })?
            }
            Node::Margin(place, limit) => place.numbers(env)?.limit(*limit).ok_or(EvalError::NoLimit)?.margin,
            Node::Negative(a) => -a.number(env)?,
            Node::Arithmetic(operator, a, b) => {
                let (a, b) = (a.number(env)?, b.number(env)?);
                match operator {
                    '+' => a + b,
                    '-' => a - b,
                    '*' => a * b,
                    _ => a / b,
                }
            }
            Node::Call(function, nodes) => {
                let mut values = nodes.iter().map(|node| node.number(env));
                let first = values.next().unwrap_or(Ok(f64::NAN))?;
                match function {
                    Function::Abs => first.abs(),
                    Function::Sqrt => first.sqrt(),
                    Function::Min => values.try_fold(first, |a, b| b.map(|b| if b < a { b } else { a }))?,
                    Function::Max => values.try_fold(first, |a, b| b.map(|b| if b > a { b } else { a }))?,
                }
            }
            Node::Power(a, b) => power(a.number(env)?, b.number(env)?),
            Node::Pick(which, nodes) => picked(which, nodes, env)?.number(env)?,
            Node::If(when, a, b) => if when.truth(env)? { a } else { b }.number(env)?,
            Node::Curve(function, name, x) => curve_number(*function, name, x.as_deref(), env)?,
            Node::T90(name) => {
                let run = env.runs.get(name).ok_or_else(|| EvalError::NotComputed { state: format!("runs.{name}") })?;
                run.t90_s().ok_or_else(|| EvalError::NoPoint { what: format!("runs.{name}.t90") })?
            }
            Node::Cell(log, channel, row) => {
                let name = || format!("logs.{log}.{channel}.{row}");
                let sheet = env.logs.get(log).ok_or_else(|| EvalError::NotComputed { state: name() })?;
                let cell = sheet.column(channel).and_then(|column| sheet.rows.get(row - 1)?.get(column));
                *cell.ok_or_else(|| EvalError::NoPoint { what: name() })?
            }
            Node::VisitedCount => env.visited.len() as f64,
            // The checker lets only numbers through to here.
            _ => f64::NAN,
        })
    }

    fn truth(&self, env: &Env) -> Result<bool, EvalError> {
        let finite = |node: &Node| {
            let value = node.number(env)?;
            if value.is_finite() {
                Ok(value)
            } else {
                Err(EvalError::NotFinite { source_text: "a side of the comparison".into() })
            }
        };
        Ok(match self {
            Node::Compare(compare, a, b) => {
                let (a, b) = (finite(a)?, finite(b)?);
                match compare {
                    Compare::Less => a < b,
                    Compare::AtMost => a <= b,
                    Compare::More => a > b,
                    Compare::AtLeast => a >= b,
                }
            }
            Node::Between(x, low, high) => {
                let x = finite(x)?;
                finite(low)? <= x && x <= finite(high)?
            }
            Node::Same(wanted, a, b) => (a.outcome(env)? == b.outcome(env)?) == *wanted,
            Node::Not(a) => !a.truth(env)?,
            Node::And(a, b) => a.truth(env)? && b.truth(env)?,
            Node::Or(a, b) => a.truth(env)? || b.truth(env)?,
            Node::Crossed(place, Some(limit)) => place.numbers(env)?.limit(*limit).ok_or(EvalError::NoLimit)?.crossed,
            Node::Crossed(place, None) => place.numbers(env)?.limits.iter().any(|limit| limit.crossed),
            Node::Equal(wanted, a, b) => {
                let (a, b) = (finite(a)?, finite(b)?);
                ((a - b).abs() <= EQUAL * a.abs().max(1.0)) == *wanted
            }
            Node::Pick(which, nodes) => picked(which, nodes, env)?.truth(env)?,
            Node::If(when, a, b) => if when.truth(env)? { a } else { b }.truth(env)?,
            Node::Reversed(name) => {
                env.runs.get(name).ok_or_else(|| EvalError::NotComputed { state: format!("runs.{name}") })?.reversed()
            }
            // A state without numbers crossed something, whatever it was.
            Node::VisitedCrossed(limit) => env.visited.iter().any(|reading| {
                !reading.holds || reading.limits.iter().any(|l| l.crossed && limit.is_none_or(|limit| limit == l.name))
            }),
            _ => false,
        })
    }

    fn outcome(&self, env: &Env) -> Result<Outcome, EvalError> {
        match self {
            Node::Outcome(outcome) => Ok(*outcome),
            Node::OutcomeOf(place) => Ok(place.reading(env)?.outcome),
            _ => Err(EvalError::NoBench),
        }
    }
}

/// Plain numbers closer than this are equal, and a drawn number is a whole one.
const EQUAL: f64 = 1.0e-9;

fn picked<'n>(which: &Node, nodes: &'n [Node], env: &Env) -> Result<&'n Node, EvalError> {
    let number = which.number(env)?;
    let chosen = nodes.iter().enumerate().find(|(i, _)| (number - (*i as f64 + 1.0)).abs() <= EQUAL);
    chosen.map(|(_, node)| node).ok_or_else(|| EvalError::NoPoint { what: format!("pick({number}, …)") })
}

fn curve_number(function: CurveFunction, name: &CurveName, x: Option<&Node>, env: &Env) -> Result<f64, EvalError> {
    let curve = match name {
        CurveName::Of(kind, of, quantity) => env.curve(*kind, of, quantity)?,
        CurveName::Visited(quantity) => {
            let of = paths::quantity(quantity).ok_or(EvalError::NoBench)?.of;
            let held = env.visited.iter().filter(|reading| reading.holds);
            let (x, y) = held.enumerate().map(|(i, reading)| (i as f64, of(reading))).unzip();
            Curve { x, y }
        }
    };
    let x = x.map(|x| x.number(env)).transpose()?.unwrap_or(f64::NAN);
    let found = match function {
        CurveFunction::Least => curve.least().map(|(_, y)| y),
        CurveFunction::Most => curve.most().map(|(_, y)| y),
        CurveFunction::WhereLeast => curve.least().map(|(x, _)| x),
        CurveFunction::WhereMost => curve.most().map(|(x, _)| x),
        CurveFunction::Crosses => curve.crosses(x),
        CurveFunction::At => curve.at(x),
        CurveFunction::WidestStep => Some(curve.y.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f64::max)),
    };
    found.ok_or_else(|| {
        let function = CURVE_FUNCTIONS.iter().find(|(_, known)| *known == function).map_or("", |(name, _)| *name);
        EvalError::NoPoint { what: format!("{function}({name})") }
    })
}

impl Place {
    fn reading<'a>(&self, env: &Env<'a>) -> Result<&'a Reading, EvalError> {
        match self {
            Place::Bench => env.bench.ok_or(EvalError::NoBench),
            Place::State(name) => env.states.get(name).ok_or_else(|| EvalError::NotComputed { state: name.clone() }),
        }
    }

    fn numbers<'a>(&self, env: &Env<'a>) -> Result<&'a Reading, EvalError> {
        let reading = self.reading(env)?;
        if reading.holds {
            return Ok(reading);
        }
        let state = match self {
            Place::Bench => "bench".into(),
            Place::State(name) => name.clone(),
        };
        Err(EvalError::NoNumbers { state, outcome: reading.outcome })
    }
}

pub(crate) const OUTCOMES: &[Outcome] = &[
    Outcome::Matched,
    Outcome::SmokeLimited,
    Outcome::InjectorLimited,
    Outcome::LeastFuel,
    Outcome::Overspeed,
    Outcome::Surge,
    Outcome::NoSolution,
];

struct Parser<'a> {
    text: &'a str,
    at: usize,
    depth: u32,
    scope: &'a Scope,
}

type Parsed = Result<(Node, Type), ExprProblem>;

impl<'a> Parser<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn space(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    fn problem(&self, at: usize, kind: ExprProblemKind) -> ExprProblem {
        ExprProblem { at, kind }
    }

    fn unexpected(&self, expected: &'static str) -> ExprProblem {
        let word: String = self.rest().split_whitespace().next().unwrap_or("").chars().take(20).collect();
        let found = if word.is_empty() { "the end".into() } else { word };
        self.problem(self.at, ExprProblemKind::Unexpected { found, expected })
    }

    fn symbol(&mut self, symbols: &[&str]) -> Option<usize> {
        self.space();
        let i = symbols.iter().position(|symbol| self.rest().starts_with(symbol))?;
        self.at += symbols[i].len();
        Some(i)
    }

    fn word(&mut self, word: &str) -> bool {
        self.space();
        let Some(rest) = self.rest().strip_prefix(word) else { return false };
        let whole = !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_' || c == '.');
        if whole {
            self.at += word.len();
        }
        whole
    }

    fn deeper(&mut self) -> Result<(), ExprProblem> {
        self.depth += 1;
        if self.depth > DEEPEST { Err(self.problem(self.at, ExprProblemKind::TooDeep)) } else { Ok(()) }
    }

    fn expect(&self, at: usize, found: Type, expected: Type) -> Result<(), ExprProblem> {
        if std::mem::discriminant(&found) == std::mem::discriminant(&expected) {
            return Ok(());
        }
        let expected = if matches!(expected, Type::Quantity { .. }) { "a number".into() } else { expected.name() };
        Err(self.problem(at, ExprProblemKind::WrongType { expected, found: found.name() }))
    }

    fn any_of(&mut self) -> Parsed {
        self.space();
        let start = self.at;
        if self.word("if") {
            return self.choice(start);
        }
        let (mut node, kind) = self.all_of()?;
        while self.word("or") {
            let at = self.at;
            let (right, right_kind) = self.all_of()?;
            self.expect(start, kind, Type::Truth)?;
            self.expect(at, right_kind, Type::Truth)?;
            node = Node::Or(node.into(), right.into());
        }
        Ok((node, kind))
    }

    /// `if condition then a else b`, behind the `if`.
    fn choice(&mut self, start: usize) -> Parsed {
        self.deeper()?;
        self.space();
        let at = self.at;
        let (when, when_kind) = self.any_of()?;
        self.expect(at, when_kind, Type::Truth)?;
        if !self.word("then") {
            return Err(self.unexpected("`then`, as in `if a > b then c else d`"));
        }
        let (yes, yes_kind) = self.any_of()?;
        if !self.word("else") {
            return Err(self.unexpected("`else`, as in `if a > b then c else d`"));
        }
        let (no, no_kind) = self.any_of()?;
        self.depth -= 1;
        let kind = self.same(start, yes_kind, no_kind)?;
        Ok((Node::If(when.into(), yes.into(), no.into()), kind))
    }

    /// The common type of two values of which one is taken.
    fn same(&self, at: usize, left: Type, right: Type) -> Result<Type, ExprProblem> {
        if let (
            Type::Quantity { dim, point, reference },
            Type::Quantity { dim: other, point: other_point, reference: other_reference },
        ) = (left, right)
            && dim == other
            && point == other_point
        {
            let reference = if reference == other_reference { reference } else { None };
            return Ok(Type::Quantity { dim, point, reference });
        }
        if left == right {
            return Ok(left);
        }
        Err(self
            .problem(at, ExprProblemKind::Mismatch { left: left.name(), right: right.name(), doing: "chosen from" }))
    }

    fn all_of(&mut self) -> Parsed {
        let start = self.at;
        let (mut node, kind) = self.negation()?;
        while self.word("and") {
            let at = self.at;
            let (right, right_kind) = self.negation()?;
            self.expect(start, kind, Type::Truth)?;
            self.expect(at, right_kind, Type::Truth)?;
            node = Node::And(node.into(), right.into());
        }
        Ok((node, kind))
    }

    fn negation(&mut self) -> Parsed {
        if !self.word("not") {
            return self.comparison();
        }
        self.deeper()?;
        let at = self.at;
        let (node, kind) = self.negation()?;
        self.depth -= 1;
        self.expect(at, kind, Type::Truth)?;
        Ok((Node::Not(node.into()), Type::Truth))
    }

    fn comparison(&mut self) -> Parsed {
        self.space();
        let start = self.at;
        let (left, left_kind) = self.sum()?;
        if self.word("between") {
            let (low, low_kind) = self.sum()?;
            if !self.word("and") {
                return Err(self.unexpected("`and` between the two bounds"));
            }
            let (high, high_kind) = self.sum()?;
            for bound in [low_kind, high_kind] {
                self.agree(start, left_kind, bound, "compared")?;
            }
            return Ok((Node::Between(left.into(), low.into(), high.into()), Type::Truth));
        }
        let symbols = ["==", "!=", "≠", "<=", "≤", ">=", "≥", "<", ">"];
        let Some(symbol) = self.symbol(&symbols) else { return Ok((left, left_kind)) };
        let (right, right_kind) = self.sum()?;
        let (left, right) = (Box::new(left), Box::new(right));
        if left_kind == Type::Outcome && right_kind == Type::Outcome && symbol <= 2 {
            return Ok((Node::Same(symbol == 0, left, right), Type::Truth));
        }
        self.agree(start, left_kind, right_kind, "compared")?;
        let compare = match symbol {
            3 | 4 => Compare::AtMost,
            5 | 6 => Compare::AtLeast,
            7 => Compare::Less,
            8 => Compare::More,
            _ if matches!(left_kind, Type::Quantity { dim: Dim::NONE, .. }) => {
                return Ok((Node::Equal(symbol == 0, left, right), Type::Truth));
            }
            _ => {
                let kind = ExprProblemKind::Unexpected {
                    found: symbols[symbol].into(),
                    expected: "quantities are compared with <, <=, >, >= or between, since two computed numbers are never quite equal; == is for plain numbers",
                };
                return Err(self.problem(start, kind));
            }
        };
        Ok((Node::Compare(compare, left, right), Type::Truth))
    }

    /// Two numbers of the same dimension, and not one gauge and one absolute pressure.
    fn agree(&self, at: usize, left: Type, right: Type, doing: &'static str) -> Result<Dim, ExprProblem> {
        if let (Type::Quantity { dim: a, reference: ra, .. }, Type::Quantity { dim: b, reference: rb, .. }) =
            (left, right)
            && a == b
        {
            let mixed = matches!((ra, rb), (Some(x), Some(y)) if x != y);
            if !mixed || doing != "compared" {
                return Ok(a);
            }
            let kind =
                ExprProblemKind::Mismatch { left: "an absolute".into(), right: "a gauge pressure".into(), doing };
            return Err(self.problem(at, kind));
        }
        Err(self.problem(at, ExprProblemKind::Mismatch { left: left.name(), right: right.name(), doing }))
    }

    fn sum(&mut self) -> Parsed {
        self.space();
        let start = self.at;
        let (mut node, mut kind) = self.product()?;
        while let Some(symbol) = self.symbol(&["+", "-", "−"]) {
            let (right, right_kind) = self.product()?;
            let dim = self.agree(start, kind, right_kind, if symbol == 0 { "added" } else { "subtracted" })?;
            let points = (is_point(kind), is_point(right_kind));
            let point = match (symbol, points) {
                (0, (true, true)) => {
                    let kind = ExprProblemKind::Mismatch {
                        left: "a temperature".into(),
                        right: "a temperature".into(),
                        doing: "added",
                    };
                    return Err(self.problem(start, kind));
                }
                (0, (a, b)) => a || b,
                (_, (a, b)) => a && !b,
            };
            kind = Type::Quantity { dim, point, reference: None };
            node = Node::Arithmetic(if symbol == 0 { '+' } else { '-' }, node.into(), right.into());
        }
        Ok((node, kind))
    }

    fn product(&mut self) -> Parsed {
        self.space();
        let start = self.at;
        let (mut node, mut kind) = self.sign()?;
        while let Some(symbol) = self.symbol(&["*", "×", "·", "/", "÷"]) {
            let at = self.at;
            let (right, right_kind) = self.sign()?;
            let (Type::Quantity { dim: a, .. }, Type::Quantity { dim: b, .. }) = (kind, right_kind) else {
                self.expect(start, kind, Type::number(Dim::NONE))?;
                self.expect(at, right_kind, Type::number(Dim::NONE))?;
                return Err(self.unexpected("numbers on both sides"));
            };
            let times = symbol < 3;
            kind = Type::number(if times { a.times(b) } else { a.over(b) });
            node = Node::Arithmetic(if times { '*' } else { '/' }, node.into(), right.into());
        }
        Ok((node, kind))
    }

    fn sign(&mut self) -> Parsed {
        if self.symbol(&["-", "−"]).is_none() {
            return self.power();
        }
        self.deeper()?;
        let at = self.at;
        let (node, kind) = self.sign()?;
        self.depth -= 1;
        let Type::Quantity { dim, .. } = kind else {
            self.expect(at, kind, Type::number(Dim::NONE))?;
            return Err(self.unexpected("a number"));
        };
        // −5 degC is a reading below zero, not minus one times 278.15 K.
        if let (Node::Number(si), true) = (&node, is_point(kind)) {
            let zero_si = self.literal_offset(at);
            return Ok((Node::Number(2.0 * zero_si - si), kind));
        }
        Ok((Node::Negative(node.into()), Type::number(dim)))
    }

    fn power(&mut self) -> Parsed {
        self.space();
        let start = self.at;
        let (base, kind) = self.primary()?;
        if self.symbol(&["^"]).is_none() {
            return Ok((base, kind));
        }
        self.deeper()?;
        self.space();
        let at = self.at;
        let (exponent, exponent_kind) = self.sign()?;
        self.depth -= 1;
        for (at, kind) in [(start, kind), (at, exponent_kind)] {
            if !matches!(kind, Type::Quantity { dim: Dim::NONE, .. }) {
                let expected = "a plain number on either side of ^".into();
                return Err(self.problem(at, ExprProblemKind::WrongType { expected, found: kind.name() }));
            }
        }
        Ok((Node::Power(base.into(), exponent.into()), Type::number(Dim::NONE)))
    }

    /// The zero of the thermometer scale that the literal at `at` is written in.
    fn literal_offset(&self, at: usize) -> f64 {
        let text = &self.text[at..self.at];
        let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | 'e' | 'E' | ' '));
        units::prefix(unit).map_or(0.0, |(measure, _)| measure.unit.offset)
    }

    fn primary(&mut self) -> Parsed {
        self.space();
        if self.symbol(&["("]).is_some() {
            self.deeper()?;
            let inner = self.any_of()?;
            self.depth -= 1;
            return if self.symbol(&[")"]).is_some() { Ok(inner) } else { Err(self.unexpected("a closing bracket")) };
        }
        match self.rest().chars().next() {
            Some(c) if c.is_ascii_digit() || c == '.' => self.literal(),
            Some(c) if c.is_ascii_alphabetic() => self.name(),
            _ => Err(self.unexpected("a number, a name or a bracket")),
        }
    }

    fn literal(&mut self) -> Parsed {
        let rest = self.rest();
        let bytes = rest.as_bytes();
        let mut length = bytes.iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
        if let Some(b'e' | b'E') = bytes.get(length) {
            let sign = usize::from(matches!(bytes.get(length + 1), Some(b'+' | b'-')));
            let digits =
                bytes[(length + 1 + sign).min(bytes.len())..].iter().take_while(|b| b.is_ascii_digit()).count();
            if digits > 0 {
                length += 1 + sign + digits;
            }
        }
        let text = &rest[..length];
        let value = match text.parse::<f64>() {
            Ok(value) if value.is_finite() => value,
            _ => {
                return Err(self.problem(self.at, ExprProblemKind::BadNumber { text: text.chars().take(30).collect() }));
            }
        };
        self.at += length;
        let gap = self.rest().len() - self.rest().trim_start_matches(' ').len();
        let Some((measure, unit_length)) = units::prefix(&self.rest()[gap..]) else {
            return Ok((Node::Number(value), Type::number(Dim::NONE)));
        };
        self.at += gap + unit_length;
        let unit = measure.unit;
        let kind = Type::Quantity { dim: unit.family.dim(), point: unit.offset != 0.0, reference: measure.reference };
        Ok((Node::Number(unit.to_si(value)), kind))
    }

    fn name(&mut self) -> Parsed {
        let start = self.at;
        let rest = self.rest();
        let length =
            rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.')).len();
        let name = &rest[..length];
        self.at += length;
        if let Some(function) = match name {
            "abs" => Some(Function::Abs),
            "min" => Some(Function::Min),
            "max" => Some(Function::Max),
            "sqrt" => Some(Function::Sqrt),
            _ => None,
        } {
            return self.call(function);
        }
        if let Some((_, function)) = CURVE_FUNCTIONS.iter().find(|(known, _)| *known == name) {
            return self.curve_call(*function);
        }
        match name {
            "pick" => return self.pick(),
            "count" => return self.count(),
            _ => {}
        }
        if let Some(path) = name.strip_prefix("runs.") {
            return self.run_path(start, name, path);
        }
        if let Some(path) = name.strip_prefix("logs.") {
            return self.cell(start, name, path);
        }
        if let Some(path) = name.strip_prefix("visited.") {
            return self.visited_path(start, name, path);
        }
        if name.starts_with("sweeps.") {
            let kind =
                ExprProblemKind::CurveAlone { name: name.chars().take(60).collect(), functions: curve_functions() };
            return Err(self.problem(start, kind));
        }
        if name == "pi" {
            return Ok((Node::Number(std::f64::consts::PI), Type::number(Dim::NONE)));
        }
        if let Some(outcome) = OUTCOMES.iter().find(|outcome| outcome.name() == name) {
            return Ok((Node::Outcome(*outcome), Type::Outcome));
        }
        if let Some(seed) = name.strip_prefix("seed.") {
            let Some((_, unit)) = self.scope.seeds.iter().find(|(known, _)| known == seed) else {
                return Err(self.unknown(
                    start,
                    name,
                    self.scope.seeds.iter().map(|(n, _)| format!("seed.{n}")).collect(),
                ));
            };
            let kind = Type::Quantity { dim: unit.family.dim(), point: unit.offset != 0.0, reference: None };
            return Ok((Node::Seed(seed.into()), kind));
        }
        let (place, path) = self.place(start, name)?;
        self.path(start, name, place, path)
    }

    /// Splits `start.boost`, `pins.closed.boost` and `boost`.
    fn place<'n>(&self, at: usize, name: &'n str) -> Result<(Place, &'n str), ExprProblem> {
        let (state, path) = if let Some(path) = name.strip_prefix("start.") {
            ("start", path)
        } else if let Some((pin, path)) = name.strip_prefix("pins.").and_then(|rest| rest.split_once('.')) {
            (pin, path)
        } else if self.scope.bench {
            return Ok((Place::Bench, name));
        } else if is_path(name) {
            return Err(self.problem(at, ExprProblemKind::NoBenchHere { name: name.into() }));
        } else {
            return Err(self.unknown(at, name, self.names()));
        };
        let known =
            self.scope.states.iter().any(|known| known == state) && (state != "start" || name.starts_with("start."));
        if !known {
            return Err(self.unknown(at, name, self.names()));
        }
        Ok((Place::State(state.into()), path))
    }

    fn path(&self, at: usize, name: &str, place: Place, path: &str) -> Parsed {
        if path == "outcome" {
            return Ok((Node::OutcomeOf(place), Type::Outcome));
        }
        if let Some(part) = path.strip_prefix("parts.") {
            return match engine::key(part) {
                Ok(key) => Ok((Node::Part(place, part.into()), part_type(key))),
                Err(_) => {
                    let prefix = &name[..name.len() - part.len()];
                    let group = part.split('.').next().unwrap_or("");
                    let keys = engine::keys().filter(|key| key.group == group || part.len() < 2);
                    Err(self.unknown(at, name, keys.map(|key| format!("{prefix}{}", key.path())).collect()))
                }
            };
        }
        if path == "limits.crossed" {
            return Ok((Node::Crossed(place, None), Type::Truth));
        }
        if let Some((limit, what)) = path.strip_prefix("limits.").and_then(|rest| rest.split_once('.'))
            && let Some((_, limit)) = LIMITS.iter().find(|(known, _)| *known == limit)
        {
            match what {
                "margin" => return Ok((Node::Margin(place, *limit), Type::number(Dim::NONE))),
                "crossed" => return Ok((Node::Crossed(place, Some(*limit)), Type::Truth)),
                _ => {}
            }
        }
        match paths::quantity(path) {
            Some(q) => {
                let kind = Type::Quantity { dim: q.dim(), point: q.is_point(), reference: q.reference() };
                Ok((Node::Quantity(place, q.key), kind))
            }
            None => {
                let prefix = &name[..name.len() - path.len()];
                let mut names: Vec<String> =
                    QUANTITIES.iter().map(|q: &Quantity| format!("{prefix}{}", q.key)).collect();
                names.extend(LIMITS.iter().map(|(n, _)| format!("{prefix}limits.{n}.margin")));
                names.extend([format!("{prefix}outcome"), format!("{prefix}limits.crossed")]);
                // The state's name would make every path look alike.
                let bare = names.iter().map(|known| &known[prefix.len()..]);
                let nearest = paths::nearest(path, bare).map(|near| format!("{prefix}{near}"));
                let kind = ExprProblemKind::UnknownName {
                    name: name.chars().take(60).collect(),
                    nearest,
                    allowed: names.join(", "),
                };
                Err(self.problem(at, kind))
            }
        }
    }

    fn names(&self) -> Vec<String> {
        let states =
            self.scope.states.iter().map(|s| if s == "start" { "start.…".into() } else { format!("pins.{s}.…") });
        let seeds = self.scope.seeds.iter().map(|(s, _)| format!("seed.{s}"));
        states.chain(seeds).chain(["abs", "min", "max", "sqrt", "pi", "pick"].map(String::from)).collect()
    }

    fn unknown(&self, at: usize, name: &str, names: Vec<String>) -> ExprProblem {
        let nearest = paths::nearest(name, names.iter().map(String::as_str)).map(String::from);
        let allowed = if names.is_empty() { "none in this place".into() } else { names.join(", ") };
        self.problem(at, ExprProblemKind::UnknownName { name: name.chars().take(60).collect(), nearest, allowed })
    }

    fn open(&mut self) -> Result<(), ExprProblem> {
        self.deeper()?;
        if self.symbol(&["("]).is_some() { Ok(()) } else { Err(self.unexpected("an opening bracket")) }
    }

    fn close(&mut self) -> Result<(), ExprProblem> {
        self.depth -= 1;
        if self.symbol(&[")"]).is_some() { Ok(()) } else { Err(self.unexpected("a closing bracket")) }
    }

    /// `pick(k, a, b, …)`.
    fn pick(&mut self) -> Parsed {
        self.open()?;
        self.space();
        let at = self.at;
        let (which, kind) = self.sum()?;
        if !matches!(kind, Type::Quantity { dim: Dim::NONE, .. }) {
            let expected = "a plain number, 1 for the first".into();
            return Err(self.problem(at, ExprProblemKind::WrongType { expected, found: kind.name() }));
        }
        let mut nodes = Vec::new();
        let mut common = None;
        while self.symbol(&[","]).is_some() {
            self.space();
            let at = self.at;
            let (node, kind) = self.any_of()?;
            common = Some(match common {
                None => kind,
                Some(common) => self.same(at, common, kind)?,
            });
            nodes.push(node);
        }
        let Some(kind) = common else { return Err(self.unexpected("a comma and what to pick from")) };
        self.close()?;
        Ok((Node::Pick(which.into(), nodes), kind))
    }

    /// `count(visited)`.
    fn count(&mut self) -> Parsed {
        self.open()?;
        let at = self.at;
        if !self.word("visited") {
            return Err(self.unexpected("`visited`"));
        }
        self.may_visit(at, "visited")?;
        self.close()?;
        Ok((Node::VisitedCount, Type::number(Dim::NONE)))
    }

    fn may_visit(&self, at: usize, name: &str) -> Result<(), ExprProblem> {
        if self.scope.visited {
            return Ok(());
        }
        Err(self.problem(at, ExprProblemKind::NotVisited { name: name.chars().take(60).collect() }))
    }

    /// `least(sweeps.vanes.fuel_flow)`, `crosses(runs.slam.torque, 500 N m)`.
    fn curve_call(&mut self, function: CurveFunction) -> Parsed {
        self.open()?;
        self.space();
        let at = self.at;
        let rest = self.rest();
        let length =
            rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.')).len();
        let name = &rest[..length];
        self.at += length;
        let (curve, x_kind, y_kind) = self.curve(at, name)?;
        let x = match function {
            CurveFunction::Crosses | CurveFunction::At => {
                if self.symbol(&[","]).is_none() {
                    return Err(self.unexpected("a comma and the value"));
                }
                let (node, kind) = self.sum()?;
                let wanted = if function == CurveFunction::At { x_kind } else { y_kind };
                self.agree(at, wanted, kind, "compared")?;
                Some(Box::new(node))
            }
            _ => None,
        };
        self.close()?;
        let visited = matches!(curve, CurveName::Visited(_));
        let along = matches!(function, CurveFunction::Least | CurveFunction::Most | CurveFunction::WidestStep);
        if visited && !along {
            let expected = "visited states only have `least`, `most` and `widest_step`";
            return Err(self.problem(at, ExprProblemKind::Unexpected { found: name.into(), expected }));
        }
        let kind = match (function, y_kind) {
            (CurveFunction::WhereLeast | CurveFunction::WhereMost | CurveFunction::Crosses, _) => x_kind,
            (CurveFunction::WidestStep, Type::Quantity { dim, .. }) => Type::number(dim),
            _ => y_kind,
        };
        Ok((Node::Curve(function, curve, x), kind))
    }

    /// The curve of a name, with the types along and upright.
    fn curve(&self, at: usize, name: &str) -> Result<(CurveName, Type, Type), ExprProblem> {
        let upright = |quantity: &Quantity| Type::Quantity {
            dim: quantity.dim(),
            point: quantity.is_point(),
            reference: quantity.reference(),
        };
        if let Some(path) = name.strip_prefix("visited.") {
            self.may_visit(at, name)?;
            let quantity = self.quantity_of(at, name, path)?;
            return Ok((CurveName::Visited(quantity.key), Type::number(Dim::NONE), upright(quantity)));
        }
        if let Some((of, path)) = name.strip_prefix("sweeps.").and_then(|rest| rest.split_once('.'))
            && let Some((_, over)) = self.scope.sweeps.iter().find(|(known, _)| known == of)
        {
            let quantity = self.quantity_of(at, name, path)?;
            let along = over.kind();
            return Ok((CurveName::Of(CurveKind::Sweep, of.into(), quantity.key), along, upright(quantity)));
        }
        if let Some((of, path)) = name.strip_prefix("runs.").and_then(|rest| rest.split_once('.'))
            && self.scope.runs.iter().any(|known| known == of)
        {
            let Some(quantity) = paths::run_quantity(path) else {
                let prefix = &name[..name.len() - path.len()];
                let names = paths::RUN_QUANTITIES.iter().map(|q| format!("{prefix}{}", q.key)).collect();
                return Err(self.unknown(at, name, names));
            };
            let (dim, point, reference) = (quantity.dim(), quantity.is_point(), quantity.reference());
            let upright = Type::Quantity { dim, point, reference };
            let along = Type::number(units::Family::Time.dim());
            return Ok((CurveName::Of(CurveKind::Run, of.into(), quantity.key), along, upright));
        }
        let sweeps = self.scope.sweeps.iter().map(|(name, _)| format!("sweeps.{name}.…"));
        let runs = self.scope.runs.iter().map(|name| format!("runs.{name}.…"));
        let visited = self.scope.visited.then(|| "visited.…".to_string());
        Err(self.unknown(at, name, sweeps.chain(runs).chain(visited).collect()))
    }

    fn quantity_of(&self, at: usize, name: &str, path: &str) -> Result<&'static Quantity, ExprProblem> {
        paths::quantity(path).ok_or_else(|| {
            let prefix = &name[..name.len() - path.len()];
            let bare = QUANTITIES.iter().map(|q| q.key);
            let nearest = paths::nearest(path, bare.clone()).map(|near| format!("{prefix}{near}"));
            let allowed = bare.map(|q| format!("{prefix}{q}")).collect::<Vec<_>>().join(", ");
            self.problem(at, ExprProblemKind::UnknownName { name: name.chars().take(60).collect(), nearest, allowed })
        })
    }

    /// `runs.slam.t90`, `runs.slam.reversed`.
    fn run_path(&self, at: usize, name: &str, path: &str) -> Parsed {
        let (of, what) = path.split_once('.').unwrap_or((path, ""));
        if !self.scope.runs.iter().any(|known| known == of) {
            let names = self.scope.runs.iter().map(|run| format!("runs.{run}.t90")).collect();
            return Err(self.unknown(at, name, names));
        }
        match what {
            "t90" => Ok((Node::T90(of.into()), Type::number(units::Family::Time.dim()))),
            "reversed" => Ok((Node::Reversed(of.into()), Type::Truth)),
            _ if paths::run_quantity(what).is_some() => {
                let name = name.chars().take(60).collect();
                Err(self.problem(at, ExprProblemKind::CurveAlone { name, functions: curve_functions() }))
            }
            _ => {
                let names = ["t90", "reversed"].map(|what| format!("runs.{of}.{what}")).into();
                Err(self.unknown(at, name, names))
            }
        }
    }

    /// `logs.sheet.p3.1`.
    fn cell(&self, at: usize, name: &str, path: &str) -> Parsed {
        let mut parts = path.splitn(3, '.');
        let (log, channel, row) = (parts.next().unwrap_or(""), parts.next().unwrap_or(""), parts.next().unwrap_or(""));
        let Some(known) = self.scope.logs.iter().find(|known| known.name == log) else {
            let names = self.scope.logs.iter().map(|log| format!("logs.{}.channel.1", log.name)).collect();
            return Err(self.unknown(at, name, names));
        };
        let row = row.parse::<u32>().ok().filter(|row| (1..=known.rows).contains(row));
        let column = known.channels.iter().find(|(known, _)| known == channel);
        match (column, row) {
            (Some((_, kind)), Some(row)) => Ok((Node::Cell(log.into(), channel.into(), row as usize), *kind)),
            _ => {
                let names = known.channels.iter().map(|(c, _)| format!("logs.{log}.{c}.1…{}", known.rows)).collect();
                Err(self.unknown(at, name, names))
            }
        }
    }

    /// `visited.crossed`, `visited.shaft_speed.crossed`.
    fn visited_path(&self, at: usize, name: &str, path: &str) -> Parsed {
        self.may_visit(at, name)?;
        if path == "crossed" {
            return Ok((Node::VisitedCrossed(None), Type::Truth));
        }
        let limit = path.strip_suffix(".crossed");
        if let Some((_, limit)) = limit.and_then(|limit| LIMITS.iter().find(|(known, _)| *known == limit)) {
            return Ok((Node::VisitedCrossed(Some(*limit)), Type::Truth));
        }
        if paths::quantity(path).is_some() {
            let name = name.chars().take(60).collect();
            return Err(
                self.problem(at, ExprProblemKind::CurveAlone { name, functions: "least, most, widest_step".into() })
            );
        }
        let mut names = vec!["visited.crossed".to_string()];
        names.extend(LIMITS.iter().map(|(limit, _)| format!("visited.{limit}.crossed")));
        Err(self.unknown(at, name, names))
    }

    fn call(&mut self, function: Function) -> Parsed {
        self.deeper()?;
        if self.symbol(&["("]).is_none() {
            return Err(self.unexpected("an opening bracket"));
        }
        let start = self.at;
        let (first, kind) = self.sum()?;
        self.expect(start, kind, Type::number(Dim::NONE))?;
        let mut nodes = vec![first];
        if matches!(function, Function::Min | Function::Max) {
            while self.symbol(&[","]).is_some() {
                let (node, next) = self.sum()?;
                self.agree(start, kind, next, "compared")?;
                nodes.push(node);
            }
        }
        if self.symbol(&[")"]).is_none() {
            return Err(self.unexpected("a closing bracket"));
        }
        self.depth -= 1;
        let kind = match (function, kind) {
            (Function::Sqrt, Type::Quantity { dim, .. }) => Type::number(
                dim.sqrt().ok_or_else(|| self.problem(start, ExprProblemKind::OddRoot { dim: dim.to_string() }))?,
            ),
            (Function::Abs, Type::Quantity { dim, .. }) => Type::number(dim),
            _ => kind,
        };
        Ok((Node::Call(function, nodes), kind))
    }
}

/// What a parameter of the engine measures.
fn part_type(key: &Key) -> Type {
    let dim = dim_of(key.unit).unwrap_or(Dim::NONE);
    let point = is_temperature(key);
    let reference = (dim == Dim::PRESSURE && key.group == "limits").then_some(Reference::Absolute);
    Type::Quantity { dim, point, reference }
}

fn curve_functions() -> String {
    CURVE_FUNCTIONS[..6].iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
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

fn is_path(name: &str) -> bool {
    name == "outcome" || name.starts_with("limits.") || paths::quantity(name).is_some()
}

/// A value shown in a unit: `expression | unit | decimals`.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// What.
    pub expr: Expr,
    /// In which unit.
    pub measure: Measure,
    /// With how many decimals.
    pub decimals: u8,
}

/// What is wrong with a value in prose.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum ShownProblem {
    #[error(transparent)]
    Expr(#[from] ExprProblem),
    #[error("`{unit}` is no unit; allowed are {}", unit_names())]
    UnknownUnit { unit: String },
    #[error("`{source_text}` is {found}, which has no unit `{unit}`")]
    WrongUnit { source_text: String, found: String, unit: String },
    #[error("`{source_text}` is a pressure {is}: write `| {unit} {is}`, so that a reader knows what it counts from")]
    SayReference { source_text: String, unit: &'static str, is: &'static str },
    #[error("a difference of temperatures is shown in K, not in {unit}")]
    DifferenceInDegrees { unit: &'static str },
    #[error("`{decimals}` decimals: a whole number from 0 to 6 is allowed")]
    Decimals { decimals: String },
}

pub(crate) fn unit_names() -> String {
    units::UNITS[1..].iter().map(|unit| unit.name).collect::<Vec<_>>().join(", ")
}

impl Shown {
    /// Reads `expression | unit | decimals`; unit and decimals may be left out.
    pub fn parse(text: &str, scope: &Scope) -> Result<Shown, ShownProblem> {
        let mut parts = text.splitn(3, '|');
        let expr = Expr::parse(parts.next().unwrap_or(""), scope)?;
        let unit = parts.next().unwrap_or("").trim();
        let measure =
            units::read(unit).ok_or_else(|| ShownProblem::UnknownUnit { unit: unit.chars().take(30).collect() })?;
        check_measure(&expr, measure)?;
        let decimals = match parts.next().map(str::trim) {
            None => measure.unit.decimals,
            Some(text) => match text.parse::<u8>() {
                Ok(n) if n <= 6 => n,
                _ => return Err(ShownProblem::Decimals { decimals: text.chars().take(10).collect() }),
            },
        };
        Ok(Shown { expr, measure, decimals })
    }

    /// The value in print, with its unit. Errors: as for its expression.
    pub fn text(&self, env: &Env, style: units::Style) -> Result<String, EvalError> {
        let si = self.expr.number(env)?;
        Ok(in_print(si, self.measure, is_point(self.expr.kind()), Some(self.decimals), style))
    }
}

/// A number in a unit, in print: `163 kPa gauge`.
pub fn in_print(si: f64, measure: Measure, point: bool, decimals: Option<u8>, style: units::Style) -> String {
    let (unit, decimals) = if style.customary && measure.unit.customary != measure.unit {
        (measure.unit.customary, measure.unit.customary.decimals)
    } else {
        (measure.unit, decimals.unwrap_or(measure.unit.decimals))
    };
    let value = if point { unit.of_si(si) } else { unit.difference_of_si(si) };
    let number = units::number(value, decimals, style.decimal);
    let unit = Measure { unit, reference: measure.reference }.text(style);
    // A no-break space keeps number and unit on one line.
    if unit.is_empty() { number } else { format!("{number}\u{a0}{unit}") }
}

/// Whether `expr` can be shown in `measure`.
pub(crate) fn check_measure(expr: &Expr, measure: Measure) -> Result<(), ShownProblem> {
    let source_text = expr.source().to_string();
    let Type::Quantity { dim, point, reference } = expr.kind() else {
        return Err(ShownProblem::WrongUnit { source_text, found: expr.kind().name(), unit: measure.to_string() });
    };
    if dim != measure.unit.family.dim() {
        let unit = if measure.unit == PLAIN { "(none)".into() } else { measure.to_string() };
        return Err(ShownProblem::WrongUnit { source_text, found: dim.to_string(), unit });
    }
    if measure.unit.offset != 0.0 && !point {
        return Err(ShownProblem::DifferenceInDegrees { unit: measure.unit.name });
    }
    match reference {
        Some(is) if measure.reference != Some(is) => {
            Err(ShownProblem::SayReference { source_text, unit: measure.unit.name, is: is.name() })
        }
        _ => Ok(()),
    }
}
