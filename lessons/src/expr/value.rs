//! What an expression is worth, once states, sweeps and runs are known.

use super::tree::{CURVE_FUNCTIONS, Compare, CurveFunction, CurveName, Expr, Function, Node, ReadingOf};
use crate::bench::Bench;
use crate::curves::{Curve, CurveKind, RunResult, SweepResult};
use crate::paths;
use crate::sheet::LogSheet;
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_core::gas::atmosphere::AtmosphereError;
use volute_core::math;
use volute_core::point::reading::{Outcome, Reading};

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

impl Expr {
    /// The number, in SI. Errors: a state without numbers, a result that is not finite.
    pub fn number(&self, env: &Env) -> Result<f64, EvalError> {
        let value = self.node.number(env)?;
        if value.is_finite() { Ok(value) } else { Err(EvalError::NotFinite { source_text: self.source.clone() }) }
    }

    /// Whether it is true. Errors as for a number.
    pub fn truth(&self, env: &Env) -> Result<bool, EvalError> {
        self.node.truth(env)
    }
}

impl Node {
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
                    ReadingOf::Bench => env.live.ok_or(EvalError::NoBench)?,
                    ReadingOf::State(name) => {
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

impl ReadingOf {
    fn reading<'a>(&self, env: &Env<'a>) -> Result<&'a Reading, EvalError> {
        match self {
            ReadingOf::Bench => env.bench.ok_or(EvalError::NoBench),
            ReadingOf::State(name) => {
                env.states.get(name).ok_or_else(|| EvalError::NotComputed { state: name.clone() })
            }
        }
    }

    fn numbers<'a>(&self, env: &Env<'a>) -> Result<&'a Reading, EvalError> {
        let reading = self.reading(env)?;
        if reading.holds {
            return Ok(reading);
        }
        let state = match self {
            ReadingOf::Bench => "bench".into(),
            ReadingOf::State(name) => name.clone(),
        };
        Err(EvalError::NoNumbers { state, outcome: reading.outcome })
    }
}
