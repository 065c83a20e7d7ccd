//! Expressions in lesson files: small, total, with units, no loops.
//!
//! `pins.closed.boost - start.boost`, `torque < 0.97 * start.torque and not limits.crossed`, `t3 between 600 degC and 700 degC`.
//! An expression is checked when the file is read: names exist, dimensions agree, a truth is not added to a number. What is
//! left for run time is a state that the core could not give, and a division by nothing.

use crate::lesson::CurveKind;
use crate::paths::{self, LIMITS, QUANTITIES, Quantity};
use crate::units::{self, Dim, Measure, PLAIN, Reference};
use crate::work::{Curve, LogSheet, RunResult, SweepResult};
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_core::atmosphere::AtmosphereError;
use volute_core::reading::{LimitName, Outcome, Reading};

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
    fn number(dim: Dim) -> Type {
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
    /// Whether a bare name, the bench as it stands, is allowed.
    pub bench: bool,
}

/// Values that an expression is worked out with.
#[derive(Debug, Clone, Copy)]
pub struct Env<'a> {
    /// The bench as it stands.
    pub bench: Option<&'a Reading>,
    /// States since the bench of the task was set.
    pub visited: &'a [Reading],
    /// Readings by state: `start` and pins.
    pub states: &'a BTreeMap<String, Reading>,
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
        states: &BTreeMap::new(),
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
}

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
        self.node.visit(&mut |node| {
            if let Node::Quantity(_, name) = node {
                names.push(*name);
            }
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
            | Node::Crossed(Place::State(name), _) = node
            {
                names.push(name.as_str());
            }
        });
        names
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
            | Node::Or(a, b) => {
                a.visit(see);
                b.visit(see);
            }
            Node::Between(a, b, c) => {
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
    Outcome::TorqueNotReachable,
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
        let start = self.at;
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
            _ => {
                let kind = ExprProblemKind::Unexpected {
                    found: symbols[symbol].into(),
                    expected: "numbers are compared with <, <=, >, >= or between, since two computed numbers are never quite equal",
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
            return self.primary();
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
                let kind = Type::Quantity { dim: q.dim(), point: q.is_point(), reference: q.reference };
                Ok((Node::Quantity(place, q.name), kind))
            }
            None => {
                let prefix = &name[..name.len() - path.len()];
                let mut names: Vec<String> =
                    QUANTITIES.iter().map(|q: &Quantity| format!("{prefix}{}", q.name)).collect();
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
        states.chain(seeds).chain(["abs", "min", "max", "sqrt", "pi"].map(String::from)).collect()
    }

    fn unknown(&self, at: usize, name: &str, names: Vec<String>) -> ExprProblem {
        let nearest = paths::nearest(name, names.iter().map(String::as_str)).map(String::from);
        let allowed = if names.is_empty() { "none in this place".into() } else { names.join(", ") };
        self.problem(at, ExprProblemKind::UnknownName { name: name.chars().take(60).collect(), nearest, allowed })
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
    let (unit, decimals) = if style.customary && measure.unit.customary != measure.unit.name {
        (measure.unit.customary(), measure.unit.customary().decimals)
    } else {
        (measure.unit, decimals.unwrap_or(measure.unit.decimals))
    };
    let value = if point { unit.of_si(si) } else { unit.difference_of_si(si) };
    let number = units::number(value, decimals, style.decimal);
    let unit = Measure { unit, reference: measure.reference }.to_string();
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

#[cfg(test)]
mod tests;
