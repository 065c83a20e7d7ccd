//! Reads an expression: operators and brackets, from the loosest to the tightest. Names are in [`super::names`].

use super::tree::{Compare, Expr, Node};
use super::types::{DEEPEST, ExprProblem, ExprProblemKind, LONGEST, Scope, Type, is_point};
use crate::units::{self, Dim};

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
}

pub(super) struct Parser<'a> {
    pub(super) text: &'a str,
    pub(super) at: usize,
    pub(super) depth: u32,
    pub(super) scope: &'a Scope,
}

pub(super) type Parsed = Result<(Node, Type), ExprProblem>;

impl<'a> Parser<'a> {
    pub(super) fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    pub(super) fn space(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    pub(super) fn problem(&self, at: usize, kind: ExprProblemKind) -> ExprProblem {
        ExprProblem { at, kind }
    }

    pub(super) fn unexpected(&self, expected: &'static str) -> ExprProblem {
        let word: String = self.rest().split_whitespace().next().unwrap_or("").chars().take(20).collect();
        let found = if word.is_empty() { "the end".into() } else { word };
        self.problem(self.at, ExprProblemKind::Unexpected { found, expected })
    }

    pub(super) fn symbol(&mut self, symbols: &[&str]) -> Option<usize> {
        self.space();
        let i = symbols.iter().position(|symbol| self.rest().starts_with(symbol))?;
        self.at += symbols[i].len();
        Some(i)
    }

    pub(super) fn word(&mut self, word: &str) -> bool {
        self.space();
        let Some(rest) = self.rest().strip_prefix(word) else { return false };
        let whole = !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_' || c == '.');
        if whole {
            self.at += word.len();
        }
        whole
    }

    pub(super) fn deeper(&mut self) -> Result<(), ExprProblem> {
        self.depth += 1;
        if self.depth > DEEPEST { Err(self.problem(self.at, ExprProblemKind::TooDeep)) } else { Ok(()) }
    }

    pub(super) fn expect(&self, at: usize, found: Type, expected: Type) -> Result<(), ExprProblem> {
        if std::mem::discriminant(&found) == std::mem::discriminant(&expected) {
            return Ok(());
        }
        let expected = if matches!(expected, Type::Quantity { .. }) { "a number".into() } else { expected.name() };
        Err(self.problem(at, ExprProblemKind::WrongType { expected, found: found.name() }))
    }

    pub(super) fn any_of(&mut self) -> Parsed {
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
    pub(super) fn choice(&mut self, start: usize) -> Parsed {
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
    pub(super) fn same(&self, at: usize, left: Type, right: Type) -> Result<Type, ExprProblem> {
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

    pub(super) fn all_of(&mut self) -> Parsed {
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

    pub(super) fn negation(&mut self) -> Parsed {
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

    pub(super) fn comparison(&mut self) -> Parsed {
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
    pub(super) fn agree(&self, at: usize, left: Type, right: Type, doing: &'static str) -> Result<Dim, ExprProblem> {
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

    pub(super) fn sum(&mut self) -> Parsed {
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

    pub(super) fn product(&mut self) -> Parsed {
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

    pub(super) fn sign(&mut self) -> Parsed {
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

    pub(super) fn power(&mut self) -> Parsed {
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
    pub(super) fn literal_offset(&self, at: usize) -> f64 {
        let text = &self.text[at..self.at];
        let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | 'e' | 'E' | ' '));
        units::prefix(unit).map_or(0.0, |(measure, _)| measure.unit.offset)
    }

    pub(super) fn primary(&mut self) -> Parsed {
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

    pub(super) fn literal(&mut self) -> Parsed {
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
        Ok((Node::Number(measure.unit.to_si(value)), Type::in_unit(measure.unit, measure.reference)))
    }

    pub(super) fn open(&mut self) -> Result<(), ExprProblem> {
        self.deeper()?;
        if self.symbol(&["("]).is_some() { Ok(()) } else { Err(self.unexpected("an opening bracket")) }
    }

    pub(super) fn close(&mut self) -> Result<(), ExprProblem> {
        self.depth -= 1;
        if self.symbol(&[")"]).is_some() { Ok(()) } else { Err(self.unexpected("a closing bracket")) }
    }
}
