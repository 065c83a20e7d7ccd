//! Reads what an expression names: states, quantities, functions, curves, cells of a sheet.

use super::grammar::{Parsed, Parser};
use super::tree::{CURVE_FUNCTIONS, CurveFunction, CurveName, Function, Node, OUTCOMES, ReadingOf};
use super::types::{ExprProblem, ExprProblemKind, Type, part_type};
use crate::curves::CurveKind;
use crate::paths::{self, LIMITS, QUANTITIES, Quantity};
use crate::units::{self, Dim};
use volute_core::engine;

fn curve_functions() -> String {
    CURVE_FUNCTIONS[..6].iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
}

fn is_path(name: &str) -> bool {
    name == "outcome" || name.starts_with("limits.") || paths::quantity(name).is_some()
}

/// As much of a name as fits into a message.
fn clip(name: &str) -> String {
    name.chars().take(60).collect()
}

impl<'a> Parser<'a> {
    /// The name that stands here, with its points.
    fn long_name(&mut self) -> &'a str {
        let rest = self.rest();
        let ends = |c: char| !(c.is_ascii_alphanumeric() || matches!(c, '_' | '.'));
        let name = &rest[..rest.find(ends).unwrap_or(rest.len())];
        self.at += name.len();
        name
    }

    pub(super) fn name(&mut self) -> Parsed {
        let start = self.at;
        let name = self.long_name();
        match name {
            "abs" => return self.call(Function::Abs),
            "min" => return self.call(Function::Min),
            "max" => return self.call(Function::Max),
            "sqrt" => return self.call(Function::Sqrt),
            "pick" => return self.pick(),
            "count" => return self.count(),
            "pi" => return Ok((Node::Number(std::f64::consts::PI), Type::number(Dim::NONE))),
            _ => {}
        }
        if let Some((_, function)) = CURVE_FUNCTIONS.iter().find(|(known, _)| *known == name) {
            return self.curve_call(*function);
        }
        match name.split_once('.') {
            Some(("runs", path)) => return self.run_path(start, name, path),
            Some(("logs", path)) => return self.cell(start, name, path),
            Some(("visited", path)) => return self.visited_path(start, name, path),
            Some(("seed", seed)) => return self.seed(start, name, seed),
            Some(("sweeps", _)) => return Err(self.curve_alone(start, name, curve_functions())),
            _ => {}
        }
        if let Some(outcome) = OUTCOMES.iter().find(|outcome| outcome.name() == name) {
            return Ok((Node::Outcome(*outcome), Type::Outcome));
        }
        let (place, path) = self.place(start, name)?;
        self.path(start, name, place, path)
    }

    fn seed(&self, at: usize, name: &str, seed: &str) -> Parsed {
        match self.scope.seeds.iter().find(|(known, _)| known == seed) {
            Some((_, unit)) => Ok((Node::Seed(seed.into()), Type::in_unit(unit, None))),
            None => Err(self.unknown(at, name, self.scope.seeds.iter().map(|(n, _)| format!("seed.{n}")).collect())),
        }
    }

    fn curve_alone(&self, at: usize, name: &str, functions: String) -> ExprProblem {
        self.problem(at, ExprProblemKind::CurveAlone { name: clip(name), functions })
    }

    /// Splits `start.boost`, `pins.closed.boost` and `boost`.
    pub(super) fn place<'n>(&self, at: usize, name: &'n str) -> Result<(ReadingOf, &'n str), ExprProblem> {
        let (state, path) = if let Some(path) = name.strip_prefix("start.") {
            ("start", path)
        } else if let Some((pin, path)) = name.strip_prefix("pins.").and_then(|rest| rest.split_once('.')) {
            (pin, path)
        } else if self.scope.bench {
            return Ok((ReadingOf::Bench, name));
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
        Ok((ReadingOf::State(state.into()), path))
    }

    pub(super) fn path(&self, at: usize, name: &str, place: ReadingOf, path: &str) -> Parsed {
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
            Some(q) => Ok((Node::Quantity(place, q.key), Type::of(q))),
            None => {
                let prefix = &name[..name.len() - path.len()];
                let mut names: Vec<String> =
                    QUANTITIES.iter().map(|q: &Quantity| format!("{prefix}{}", q.key)).collect();
                names.extend(LIMITS.iter().map(|(n, _)| format!("{prefix}limits.{n}.margin")));
                names.extend([format!("{prefix}outcome"), format!("{prefix}limits.crossed")]);
                // The state's name would make every path look alike.
                let bare = names.iter().map(|known| &known[prefix.len()..]);
                let nearest = paths::nearest(path, bare).map(|near| format!("{prefix}{near}"));
                let kind = ExprProblemKind::UnknownName { name: clip(name), nearest, allowed: names.join(", ") };
                Err(self.problem(at, kind))
            }
        }
    }

    pub(super) fn names(&self) -> Vec<String> {
        let states =
            self.scope.states.iter().map(|s| if s == "start" { "start.…".into() } else { format!("pins.{s}.…") });
        let seeds = self.scope.seeds.iter().map(|(s, _)| format!("seed.{s}"));
        states.chain(seeds).chain(["abs", "min", "max", "sqrt", "pi", "pick"].map(String::from)).collect()
    }

    pub(super) fn unknown(&self, at: usize, name: &str, names: Vec<String>) -> ExprProblem {
        let nearest = paths::nearest(name, names.iter().map(String::as_str)).map(String::from);
        let allowed = if names.is_empty() { "none in this place".into() } else { names.join(", ") };
        self.problem(at, ExprProblemKind::UnknownName { name: clip(name), nearest, allowed })
    }

    /// `pick(k, a, b, …)`.
    pub(super) fn pick(&mut self) -> Parsed {
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
    pub(super) fn count(&mut self) -> Parsed {
        self.open()?;
        let at = self.at;
        if !self.word("visited") {
            return Err(self.unexpected("`visited`"));
        }
        self.may_visit(at, "visited")?;
        self.close()?;
        Ok((Node::VisitedCount, Type::number(Dim::NONE)))
    }

    pub(super) fn may_visit(&self, at: usize, name: &str) -> Result<(), ExprProblem> {
        if self.scope.visited {
            return Ok(());
        }
        Err(self.problem(at, ExprProblemKind::NotVisited { name: clip(name) }))
    }

    /// `least(sweeps.vanes.fuel_flow)`, `crosses(runs.slam.torque, 500 N m)`.
    pub(super) fn curve_call(&mut self, function: CurveFunction) -> Parsed {
        self.open()?;
        self.space();
        let at = self.at;
        let name = self.long_name();
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
    pub(super) fn curve(&self, at: usize, name: &str) -> Result<(CurveName, Type, Type), ExprProblem> {
        if let Some(path) = name.strip_prefix("visited.") {
            self.may_visit(at, name)?;
            let quantity = self.quantity_of(at, name, path)?;
            return Ok((CurveName::Visited(quantity.key), Type::number(Dim::NONE), Type::of(quantity)));
        }
        if let Some((of, path)) = name.strip_prefix("sweeps.").and_then(|rest| rest.split_once('.'))
            && let Some((_, over)) = self.scope.sweeps.iter().find(|(known, _)| known == of)
        {
            let quantity = self.quantity_of(at, name, path)?;
            let along = over.kind();
            return Ok((CurveName::Of(CurveKind::Sweep, of.into(), quantity.key), along, Type::of(quantity)));
        }
        if let Some((of, path)) = name.strip_prefix("runs.").and_then(|rest| rest.split_once('.'))
            && self.scope.runs.iter().any(|known| known == of)
        {
            let Some(quantity) = paths::run_quantity(path) else {
                let prefix = &name[..name.len() - path.len()];
                let names = paths::RUN_QUANTITIES.iter().map(|q| format!("{prefix}{}", q.key)).collect();
                return Err(self.unknown(at, name, names));
            };
            let along = Type::number(units::Family::Time.dim());
            return Ok((CurveName::Of(CurveKind::Run, of.into(), quantity.key), along, Type::of(quantity)));
        }
        let sweeps = self.scope.sweeps.iter().map(|(name, _)| format!("sweeps.{name}.…"));
        let runs = self.scope.runs.iter().map(|name| format!("runs.{name}.…"));
        let visited = self.scope.visited.then(|| "visited.…".to_string());
        Err(self.unknown(at, name, sweeps.chain(runs).chain(visited).collect()))
    }

    pub(super) fn quantity_of(&self, at: usize, name: &str, path: &str) -> Result<&'static Quantity, ExprProblem> {
        paths::quantity(path).ok_or_else(|| {
            let prefix = &name[..name.len() - path.len()];
            let bare = QUANTITIES.iter().map(|q| q.key);
            let nearest = paths::nearest(path, bare.clone()).map(|near| format!("{prefix}{near}"));
            let allowed = bare.map(|q| format!("{prefix}{q}")).collect::<Vec<_>>().join(", ");
            self.problem(at, ExprProblemKind::UnknownName { name: clip(name), nearest, allowed })
        })
    }

    /// `runs.slam.t90`, `runs.slam.reversed`.
    pub(super) fn run_path(&self, at: usize, name: &str, path: &str) -> Parsed {
        let (of, what) = path.split_once('.').unwrap_or((path, ""));
        if !self.scope.runs.iter().any(|known| known == of) {
            let names = self.scope.runs.iter().map(|run| format!("runs.{run}.t90")).collect();
            return Err(self.unknown(at, name, names));
        }
        match what {
            "t90" => Ok((Node::T90(of.into()), Type::number(units::Family::Time.dim()))),
            "reversed" => Ok((Node::Reversed(of.into()), Type::Truth)),
            _ if paths::run_quantity(what).is_some() => Err(self.curve_alone(at, name, curve_functions())),
            _ => {
                let names = ["t90", "reversed"].map(|what| format!("runs.{of}.{what}")).into();
                Err(self.unknown(at, name, names))
            }
        }
    }

    /// `logs.sheet.p3.1`.
    pub(super) fn cell(&self, at: usize, name: &str, path: &str) -> Parsed {
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
    pub(super) fn visited_path(&self, at: usize, name: &str, path: &str) -> Parsed {
        self.may_visit(at, name)?;
        if path == "crossed" {
            return Ok((Node::VisitedCrossed(None), Type::Truth));
        }
        let limit = path.strip_suffix(".crossed");
        if let Some((_, limit)) = limit.and_then(|limit| LIMITS.iter().find(|(known, _)| *known == limit)) {
            return Ok((Node::VisitedCrossed(Some(*limit)), Type::Truth));
        }
        if paths::quantity(path).is_some() {
            return Err(self.curve_alone(at, name, "least, most, widest_step".into()));
        }
        let mut names = vec!["visited.crossed".to_string()];
        names.extend(LIMITS.iter().map(|(limit, _)| format!("visited.{limit}.crossed")));
        Err(self.unknown(at, name, names))
    }

    pub(super) fn call(&mut self, function: Function) -> Parsed {
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
