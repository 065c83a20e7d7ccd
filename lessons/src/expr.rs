//! Expressions in lesson files: small, with units, without loops. Every expression ends.
//!
//! `pins.closed.boost - start.boost`, `torque < 0.97 * start.torque and not limits.crossed`, `t3 between 600 degC and 700 degC`.
//! An expression is checked when the file is read: names exist, dimensions agree, a truth is not added to a number. At run
//! time only two things can still fail: a state for which the core has no numbers, and a division by zero.

mod grammar;
mod names;
mod print;
mod tree;
mod types;
mod value;

pub use print::{Shown, ShownProblem, in_print};
pub(crate) use print::{check_measure, check_type};
pub use tree::Expr;
pub(crate) use tree::OUTCOMES;
pub(crate) use types::is_point;
pub use types::{ExprProblem, ExprProblemKind, LogNames, Scope, Type};
pub use value::{Env, EvalError};
