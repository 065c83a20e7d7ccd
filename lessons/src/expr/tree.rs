//! An expression as it was read: a tree of nodes that passed the check of dimensions.

use super::types::Type;
use crate::curves::CurveKind;
use crate::units::Dim;
use std::fmt;
use volute_core::point::reading::{LimitName, Outcome};

/// A checked expression.
#[derive(Debug, Clone, PartialEq)]
pub struct Expr {
    pub(super) node: Node,
    pub(super) kind: Type,
    pub(super) source: String,
}

impl Expr {
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
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Node {
    Number(f64),
    Outcome(Outcome),
    Seed(String),
    Quantity(ReadingOf, &'static str),
    OutcomeOf(ReadingOf),
    /// A parameter of the engine, by its path.
    Part(ReadingOf, String),
    Margin(ReadingOf, LimitName),
    Crossed(ReadingOf, Option<LimitName>),
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
pub(super) enum CurveName {
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
pub(super) enum CurveFunction {
    Least,
    Most,
    WhereLeast,
    WhereMost,
    Crosses,
    At,
    WidestStep,
}

pub(super) const CURVE_FUNCTIONS: [(&str, CurveFunction); 7] = [
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
pub(super) enum ReadingOf {
    Bench,
    State(String),
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Compare {
    Less,
    AtMost,
    More,
    AtLeast,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Function {
    Abs,
    Min,
    Max,
    Sqrt,
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
}
