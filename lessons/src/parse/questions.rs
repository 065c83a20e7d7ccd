//! Questions of every kind, for predictions and checkpoints.

use super::fields::{Fields, FileReader, Text};
use super::words::{CROSSES, SHAPES, curve_measure, curve_ref, curve_type, tolerance};
use crate::curves::CurveKind;
use crate::expr::{self, Env, Expr, Scope, ShownProblem, Type};
use crate::lesson::{
    Choice, CurveRef, Direction, Item, NumberQuestion, OrderQuestion, OrderSign, Question, SketchQuestion, Tolerance,
    WordsQuestion, WrongOrder, WrongSketch, WrongValue,
};
use crate::problem::ProblemKind;
use crate::text::Prose;
use crate::units::{Dim, Measure};

impl<'t> FileReader<'_, 't> {
    pub(super) fn kind(&self, f: &Fields<'_, 't>, allowed: &[&'static str]) -> Option<&'static str> {
        let text = self.needed(f, "kind", "how it is answered")?;
        let kind = allowed.iter().find(|kind| **kind == text.value).copied();
        if kind.is_none() {
            let allowed = allowed.join(", ");
            self.not_allowed(text.origin.at, "kind", text.value, allowed);
        }
        kind
    }

    /// The question of a prediction or checkpoint of this kind.
    pub(super) fn question(&self, f: &Fields<'_, 't>, kind: &str, scope: &Scope) -> Option<Question> {
        match kind {
            "number" => self.number(f, scope).map(Question::Number),
            "order" => self.order(f, scope).map(Question::Order),
            "sketch" => self.sketch(f, scope).map(Question::Sketch),
            "choice" => Some(Question::Choice(self.choices(f, scope))),
            "choices" => Some(Question::Choices(self.choices(f, scope))),
            _ => {
                let consider = self.needed_prose(f, "consider", "what a good answer considers", scope);
                let at_least = self.count(f, "at_least", 1, 500).unwrap_or(40);
                consider.map(|consider| Question::Words(WordsQuestion { consider, at_least }))
            }
        }
    }

    /// A number that is predicted: nothing is marked, so there is no tolerance.
    pub(super) fn predicted_number(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Question> {
        let measure = self.unit(f, "the unit it is asked in, `1` for a plain number");
        let answer = self.measured(f, "answer", "how the core gets it, as an expression", scope, measure);
        let because = self.needed_prose(f, "because", "why it is what it is", scope);
        Some(Question::Number(NumberQuestion {
            measure: measure?,
            answer: answer?,
            tolerance: Tolerance::Size(0.0),
            figures: None,
            misconceptions: Vec::new(),
            because: because?,
        }))
    }

    /// The misconceptions of a question. `read` gives how each is known; its explanation and the state that shows it are
    /// common to all kinds.
    pub(super) fn misconceptions<T>(
        &self,
        f: &Fields<'_, 't>,
        (scope, states): (&Scope, &Scope),
        read: impl Fn(&Fields<'_, 't>) -> Option<T>,
    ) -> Vec<(T, Vec<Prose>, Option<String>)> {
        let tables = self.tables(f, "misconception");
        let one = |m: &Fields<'_, 't>| {
            let when = read(m);
            let because = self.needed_prose(m, "because", "what is behind it", scope);
            let show = self.show(m, states);
            self.finish(m);
            Some((when?, because?, show))
        };
        tables.iter().filter_map(one).collect()
    }

    pub(super) fn number(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<NumberQuestion> {
        let measure = self.unit(f, "the unit it is asked in, `1` for a plain number");
        let answer = self.measured(f, "answer", "how the core gets it, as an expression", scope, measure);
        let tolerance = self.needed(f, "tolerance", "how far off is still right").and_then(|text| {
            let tolerance = tolerance(&text.value, measure);
            if tolerance.is_none() {
                self.push(text.origin.at, ProblemKind::Tolerance { text: text.value.chars().take(40).collect() });
            }
            tolerance
        });
        let figures = self.count(f, "figures", 1, 6).map(|n| n as u8);
        let misconceptions = self.misconceptions(f, (scope, scope), |m| {
            // A misconception may well be a gauge pressure taken for an absolute one: only the dimension must fit.
            self.dimension(m, "value", "the value it gives, as an expression", scope, measure)
        });
        let misconceptions =
            misconceptions.into_iter().map(|(value, because, show)| WrongValue { value, because, show }).collect();
        Some(NumberQuestion {
            measure: measure?,
            answer: answer?,
            tolerance: tolerance?,
            figures,
            misconceptions,
            because: Vec::new(),
        })
    }

    pub(super) fn measured(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        about: &'static str,
        scope: &Scope,
        measure: Option<Measure>,
    ) -> Option<Expr> {
        let text = self.needed(f, key, about)?;
        let expr = self.expression(&text, scope)?;
        if let Some(measure) = measure
            && let Err(problem) = expr::check_measure(&expr, measure)
        {
            self.push(text.origin.at, ProblemKind::Shown(problem));
            return None;
        }
        Some(expr)
    }

    pub(super) fn choices(&self, f: &Fields<'_, 't>, scope: &Scope) -> Vec<Choice> {
        let options = self.tables(f, "option");
        if options.len() < 2 || options.len() > 8 {
            let about = "two to eight `[[option]]` tables";
            self.missing(f, "option", about);
        }
        options
            .iter()
            .filter_map(|option| {
                let text = self.line(option, "text", "what the option says", scope);
                let when = self.truth(option, "when", "when it is right, as a comparison that the core decides", scope);
                let because = self.needed_prose(option, "because", "why it is right or wrong", scope);
                let show = self.show(option, scope);
                self.finish(option);
                Some(Choice { text: text?, when: when?, because: because?, show })
            })
            .collect()
    }

    pub(super) fn order(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<OrderQuestion> {
        let tables = self.tables(f, "item");
        if tables.len() < 2 || tables.len() > 12 {
            let about = "two to twelve `[[item]]` tables";
            self.missing(f, "item", about);
        }
        let order = self.direction(f);
        let items = self.items(f, &tables, order, scope);
        let apart_si = self.apart(f, items.first().and_then(|item| item.by.as_ref()));
        let misconceptions = self.misconceptions(f, (scope, scope), |m| self.order_sign(m, &items, scope));
        let misconceptions =
            misconceptions.into_iter().map(|(when, because, show)| WrongOrder { when, because, show }).collect();
        Some(OrderQuestion { items, order, apart_si: apart_si.unwrap_or(0.0), misconceptions })
    }

    fn items(
        &self,
        f: &Fields<'_, 't>,
        tables: &[Fields<'_, 't>],
        order: Option<Direction>,
        scope: &Scope,
    ) -> Vec<Item> {
        let mut items: Vec<Item> = Vec::new();
        for table in tables {
            let id = self.id(table, "id");
            let text = self.line(table, "text", "what the item says", scope);
            let by = match (order, table.has("by")) {
                (Some(_), _) => self.sort_key(table, "by", items.first().and_then(|item| item.by.as_ref()), scope),
                (None, true) => {
                    let about = "`by` sorts by a value: say which way, \"rising\" or \"falling\"";
                    self.missing(f, "order", about);
                    table.allow("by");
                    None
                }
                (None, false) => None,
            };
            self.finish(table);
            if let (Some((id, at)), Some(text)) = (id, text) {
                if items.iter().any(|known| known.id == id) {
                    self.push(at, ProblemKind::Twice { id: id.clone() });
                }
                items.push(Item { id, text, by });
            }
        }
        items
    }

    /// How far apart the values of neighbours must be, in SI.
    fn apart(&self, f: &Fields<'_, 't>, sorted_by: Option<&Expr>) -> Option<f64> {
        let text = self.text(f, "apart")?;
        let expr = self.expression(&text, &Scope::default())?;
        let same = match (expr.kind(), sorted_by.map(Expr::kind)) {
            (Type::Quantity { dim, .. }, Some(Type::Quantity { dim: other, .. })) => dim == other,
            (Type::Quantity { .. }, None) => true,
            _ => false,
        };
        if !same {
            let expected = sorted_by.map_or("a number".into(), |by| by.kind().name());
            self.expect(&text, &expr, expected);
        }
        expr.number(&Env::EMPTY).ok()
    }

    pub(super) fn direction(&self, f: &Fields<'_, 't>) -> Option<Direction> {
        self.word(f, "order", &[("rising", Direction::Rising), ("falling", Direction::Falling)])
    }

    /// A number to sort by, of the same dimension as the first.
    pub(super) fn sort_key(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        first: Option<&Expr>,
        scope: &Scope,
    ) -> Option<Expr> {
        let text = self.needed(f, key, "the value that it is sorted by, as an expression")?;
        self.sort_expr(&text, first, scope)
    }

    pub(super) fn sort_expr(&self, text: &Text, first: Option<&Expr>, scope: &Scope) -> Option<Expr> {
        let expr = self.expression(text, scope)?;
        let expected = match (expr.kind(), first.map(Expr::kind)) {
            (Type::Quantity { .. }, None) => return Some(expr),
            (Type::Quantity { dim, .. }, Some(Type::Quantity { dim: other, .. })) if dim == other => return Some(expr),
            (_, Some(first)) => format!("{}, as for the first item,", first.name()),
            (_, None) => "a number".into(),
        };
        self.expect(text, &expr, expected);
        None
    }

    pub(super) fn order_sign(&self, m: &Fields<'_, 't>, items: &[Item], scope: &Scope) -> Option<OrderSign> {
        let by = self.texts(m, "by", "[\"10 kPa\", \"start.boost\"]");
        let order = self.direction(m);
        let first = self.text(m, "first");
        let before = self.texts(m, "before", "[\"this-item\", \"that-item\"]");
        let place = |text: &Text| {
            let place = items.iter().position(|item| item.id == text.value);
            if place.is_none() {
                let known = items.iter().map(|item| item.id.clone()).collect();
                self.no_such(text.origin.at, "item", text.value.clone(), known);
            }
            place
        };
        match (by.as_slice(), &first, before.as_slice()) {
            ([], Some(first), []) => place(first).map(OrderSign::First),
            ([], None, [a, b]) => place(a).zip(place(b)).map(|(a, b)| OrderSign::Before(a, b)),
            (all, None, []) if !all.is_empty() => {
                if all.len() != items.len() {
                    let allowed = format!("{} expressions, one for each item in the order of the file", items.len());
                    let word = format!("{} expressions", all.len());
                    self.not_allowed(m.at, "by", word, allowed);
                    return None;
                }
                let mut exprs: Vec<Expr> = Vec::new();
                for text in all {
                    let expr = self.sort_expr(text, exprs.first(), scope)?;
                    exprs.push(expr);
                }
                let Some(order) = order else {
                    let about = "which way these values go, \"rising\" or \"falling\"";
                    self.missing(m, "order", about);
                    return None;
                };
                Some(OrderSign::By(exprs, order))
            }
            _ => {
                let about = "how to know it: one of `by` with `order`, `first`, or `before` with two items";
                self.missing(m, "by", about);
                None
            }
        }
    }

    /// A curve by its name.
    pub(super) fn curve(&self, text: &Text, scope: &Scope) -> Option<CurveRef> {
        match curve_ref(text.value.trim(), scope) {
            Ok(curve) => Some(curve),
            Err(known) => {
                let name = text.value.chars().take(60).collect();
                self.no_such(text.origin.at, "curve", name, known);
                None
            }
        }
    }

    pub(super) fn sketch(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<SketchQuestion> {
        let of_text = self.needed(f, "of", "the true curve, such as \"sweeps.vanes.p3\"");
        let of = of_text.as_ref().and_then(|text| self.curve(text, scope));
        let measure = self.unit(f, "the unit of the upright axis");
        if let (Some(of), Some(text), Some(measure)) = (&of, &of_text, measure)
            && let Err(problem) = curve_measure(of, measure)
        {
            self.push(text.origin.at, ProblemKind::Shown(problem));
        }
        let low = self.bare_number(f, "low", "the lower end of the axis, in its unit");
        let high = self.bare_number(f, "high", "the upper end of the axis, in its unit");
        if let (Some(low), Some(high)) = (low, high)
            && low >= high
        {
            let allowed = format!("less than `high`, {high}");
            self.not_allowed(f.at, "low", low.to_string(), allowed);
        }
        let given = self.given(f, of.as_ref(), measure, scope);
        let start_given = self.flag(f, "start_given");
        let because = self.needed_prose(f, "because", "why the true curve is as it is", scope);
        let misconceptions = self.misconceptions(f, (scope, scope), |m| {
            let shape = self.word(m, "shape", &SHAPES);
            let crosses = self.word(m, "crosses", &CROSSES);
            if crosses.is_some() && given.is_none() {
                let about = "a second curve, which `crosses` is about";
                self.push(m.at, ProblemKind::MissingKey { block: f.block.clone(), key: "given", about });
            }
            if !m.has("shape") && !m.has("crosses") {
                self.missing(m, "shape", "how to know it: `shape`, `crosses`, or both");
            }
            Some((shape, crosses))
        });
        let misconceptions = misconceptions
            .into_iter()
            .map(|((shape, crosses), because, show)| WrongSketch { shape, crosses, because, show })
            .collect();
        Some(SketchQuestion {
            of: of?,
            measure: measure?,
            low: low?,
            high: high?,
            given,
            start_given,
            because: because?,
            misconceptions,
        })
    }

    /// The second curve of a sketch, shown while drawing: of the same sweep or run as the true one.
    fn given(
        &self,
        f: &Fields<'_, 't>,
        of: Option<&CurveRef>,
        measure: Option<Measure>,
        scope: &Scope,
    ) -> Option<CurveRef> {
        let text = self.text(f, "given")?;
        let of = of?;
        let kind = if of.kind == CurveKind::Sweep { "sweeps" } else { "runs" };
        let full = Text { value: format!("{kind}.{}.{}", of.of, text.value), origin: text.origin };
        let curve = self.curve(&full, scope)?;
        // Gauge or absolute is that of the axis; only the dimension must fit.
        let dim = |kind| if let Type::Quantity { dim, .. } = kind { dim } else { Dim::NONE };
        let found = dim(curve_type(&curve));
        if let Some(measure) = measure.filter(|measure| measure.unit.family.dim() != found) {
            let (source_text, found, unit) = (text.value, found.to_string(), measure.to_string());
            let problem = ShownProblem::WrongUnit { source_text, found, unit };
            self.push(text.origin.at, ProblemKind::Shown(problem));
        }
        Some(curve)
    }
}
