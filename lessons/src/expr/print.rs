//! A value in print: `expression | unit | decimals`.

use super::tree::Expr;
use super::types::{ExprProblem, Scope, Type, is_point};
use super::value::{Env, EvalError};
use crate::units::{self, Measure, PLAIN};

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
    check_type(expr.source().to_string(), expr.kind(), measure)
}

/// Whether a value of this kind can be shown in `measure`.
pub(crate) fn check_type(source_text: String, kind: Type, measure: Measure) -> Result<(), ShownProblem> {
    let unit = measure.unit;
    match kind {
        Type::Quantity { dim, .. } if dim != unit.family.dim() => {
            let unit = if unit == PLAIN { "(none)".into() } else { measure.to_string() };
            Err(ShownProblem::WrongUnit { source_text, found: dim.to_string(), unit })
        }
        Type::Quantity { point: false, .. } if unit.offset != 0.0 => {
            Err(ShownProblem::DifferenceInDegrees { unit: unit.name })
        }
        Type::Quantity { reference: Some(is), .. } if measure.reference != Some(is) => {
            Err(ShownProblem::SayReference { source_text, unit: unit.name, is: is.name() })
        }
        Type::Quantity { .. } => Ok(()),
        _ => Err(ShownProblem::WrongUnit { source_text, found: kind.name(), unit: measure.to_string() }),
    }
}
