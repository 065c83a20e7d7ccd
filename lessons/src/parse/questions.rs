//! Questions: predictions, tasks, checkpoints of every kind, transfers and reveals.

use super::*;

impl<'t> FileReader<'_, 't> {
    pub(super) fn choices(&self, f: &Fields<'_, 't>, scope: &Scope) -> Vec<Choice> {
        let options = self.tables(f, "option");
        if options.len() < 2 || options.len() > 8 {
            let about = "two to eight `[[option]]` tables";
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "option", about });
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

    pub(super) fn kind(&self, f: &Fields<'_, 't>, allowed: &[&'static str]) -> Option<&'static str> {
        let text = self.needed(f, "kind", "how it is answered")?;
        let kind = allowed.iter().find(|kind| **kind == text.value).copied();
        if kind.is_none() {
            let allowed = allowed.join(", ");
            self.push(text.origin.at, ProblemKind::NotAllowed { key: "kind".into(), word: text.value, allowed });
        }
        kind
    }

    /// A prediction, and what its reveal may name.
    pub(super) fn predict(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<(Predict, Scope)> {
        let id = self.id(f, "id");
        let kind = self.kind(f, &["choice", "short", "sketch", "order", "number"]);
        let (setup, scope, _) = self.setup(f, scope, false);
        let ask = self.needed_prose(f, "ask", "what is to be predicted", &scope);
        let answer = match kind? {
            "choice" => Some(Prediction::Choice(self.choices(f, &scope))),
            "sketch" => self.sketch(f, &scope).map(Prediction::Sketch),
            "order" => self.order(f, &scope).map(Prediction::Order),
            "number" => {
                let measure = self.unit(f, "the unit it is asked in, `1` for a plain number");
                let answer = self.measured(f, "answer", "how the core gets it, as an expression", &scope, measure);
                let because = self.needed_prose(f, "because", "why it is what it is", &scope);
                measure.zip(answer).zip(because).map(|((measure, answer), because)| {
                    Prediction::Number(NumberPrediction { measure, answer, because })
                })
            }
            _ => Some(Prediction::Short),
        };
        self.finish(f);
        Some((Predict { id: id?.0, ask: ask?, setup, answer: answer? }, scope))
    }

    pub(super) fn task(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Task> {
        let id = self.id(f, "id");
        let (setup, scope, all) = self.setup(f, scope, true);
        let live = Scope { bench: true, visited: true, ..all };
        let bench = self.state(f, "bench", &scope);
        let ask = self.needed_prose(f, "ask", "what to bring the bench to", &scope);
        let goal = self.truth(f, "goal", "when it is done, as a comparison of the bench as it stands", &live);
        let hints = self.hints(f, &scope);
        let done = self.needed_prose(f, "done", "what is said when it is done", &scope);
        let layout = self.layout(f);
        let answer = match self.inner(f, "answer", format!("the answer of {}", f.block)) {
            Some(inner) => {
                let mut visits = Vec::new();
                if inner.table.contains_key("visits") {
                    for visit in self.tables(&inner, "visits") {
                        visits.push(self.change(&visit, &scope));
                        self.finish(&visit);
                    }
                } else {
                    inner.asked.borrow_mut().push("visits");
                }
                let set = self.change(&inner, &scope);
                self.finish(&inner);
                Some(TaskAnswer { visits, set })
            }
            None => {
                if !f.table.contains_key("answer") {
                    let about = "settings that do it, such as { vane = \"80 %\" }";
                    self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "answer", about });
                }
                None
            }
        };
        let buy = self.inner(f, "buy", format!("`buy` of {}", f.block)).and_then(|inner| {
            let count = self.count(&inner, "count", 1, 20);
            let from = self.quantities(&inner, "from");
            if count.is_none() && !inner.table.contains_key("count") {
                let about = "how many readings may be uncovered";
                self.push(inner.at, ProblemKind::MissingKey { block: inner.block.clone(), key: "count", about });
            }
            self.finish(&inner);
            Some(Buy { count: count?, from })
        });
        let confidence = self.flag(f, "confidence");
        let misconceptions = self.tables(f, "misconception");
        let misconceptions = misconceptions
            .iter()
            .filter_map(|m| {
                let when = self.truth(m, "when", "how to know this wrong turn on the bench", &live);
                let because = self.needed_prose(m, "because", "what is behind it", &live);
                let show = self.show(m, &scope);
                self.finish(m);
                Some(WrongState { when: when?, because: because?, show })
            })
            .collect();
        self.finish(f);
        Some(Task {
            id: id?.0,
            ask: ask?,
            setup,
            bench: bench.map_or_else(|| "start".into(), |text| text.value),
            layout,
            buy,
            goal: goal?,
            hints,
            answer: answer?,
            done: done?,
            misconceptions,
            confidence,
        })
    }

    pub(super) fn checkpoint(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Checkpoint> {
        let id = self.id(f, "id");
        let kind = self.kind(f, &["number", "choice", "choices", "order", "sketch", "words"]);
        let (setup, scope, _) = self.setup(f, scope, false);
        let bench = self.state(f, "bench", &scope).map(|text| text.value);
        let ask = self.needed_prose(f, "ask", "what is asked", &scope);
        let hints = self.hints(f, &scope);
        let worked = if kind == Some("words") {
            Some(Vec::new())
        } else {
            self.needed_prose(f, "worked", "the worked answer, shown after the second try", &scope)
        };
        let kind = match kind? {
            "number" => self.number(f, &scope).map(CheckpointKind::Number),
            "order" => self.order(f, &scope).map(CheckpointKind::Order),
            "sketch" => self.sketch(f, &scope).map(CheckpointKind::Sketch),
            "words" => {
                let consider = self.needed_prose(f, "consider", "what a good answer considers", &scope);
                let at_least = self.count(f, "at_least", 1, 500).unwrap_or(40);
                consider.map(|consider| CheckpointKind::Words(WordsQuestion { consider, at_least }))
            }
            "choices" => Some(CheckpointKind::Choices(self.choices(f, &scope))),
            _ => Some(CheckpointKind::Choice(self.choices(f, &scope))),
        };
        self.finish(f);
        Some(Checkpoint { id: id?.0, ask: ask?, hints, worked: worked?, setup, bench, kind: kind? })
    }

    pub(super) fn flag(&self, f: &Fields<'_, 't>, key: &'static str) -> bool {
        match self.get(f, key) {
            Some((_, _, DeValue::Boolean(flag))) => *flag,
            Some((at, ..)) => {
                self.wrong(at, key, "true or false, without quotes", "true");
                false
            }
            None => false,
        }
    }

    pub(super) fn bare_number(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str) -> Option<f64> {
        let Some((at, _, value)) = self.get(f, key) else {
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key, about });
            return None;
        };
        let text = match value {
            DeValue::Float(float) => float.as_str(),
            DeValue::Integer(integer) => integer.as_str(),
            _ => "",
        };
        let number = text.replace('_', "").parse::<f64>().ok().filter(|number| number.is_finite());
        if number.is_none() {
            self.wrong(at, key, "a number without quotes, in the unit of the axis", "250");
        }
        number
    }

    pub(super) fn order(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<OrderQuestion> {
        let tables = self.tables(f, "item");
        if tables.len() < 2 || tables.len() > 12 {
            let about = "two to twelve `[[item]]` tables";
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "item", about });
        }
        let order = self.direction(f);
        let mut items: Vec<Item> = Vec::new();
        for table in &tables {
            let id = self.id(table, "id");
            let text = self.line(table, "text", "what the item says", scope);
            let by = match (order, table.table.contains_key("by")) {
                (Some(_), _) => self.sort_key(table, "by", items.first().and_then(|item| item.by.as_ref()), scope),
                (None, true) => {
                    let about = "`by` sorts by a value: say which way, \"rising\" or \"falling\"";
                    self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "order", about });
                    table.asked.borrow_mut().push("by");
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
        let sorted_by = items.first().and_then(|item| item.by.as_ref());
        let apart_si = self.text(f, "apart").and_then(|text| {
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
        });
        let misconceptions = self.tables(f, "misconception");
        let misconceptions = misconceptions
            .iter()
            .filter_map(|m| {
                let when = self.order_sign(m, &items, scope);
                let because = self.needed_prose(m, "because", "what is behind it", scope);
                let show = self.show(m, scope);
                self.finish(m);
                Some(WrongOrder { when: when?, because: because?, show })
            })
            .collect();
        Some(OrderQuestion { items, order, apart_si: apart_si.unwrap_or(0.0), misconceptions })
    }

    pub(super) fn direction(&self, f: &Fields<'_, 't>) -> Option<Direction> {
        let text = self.text(f, "order")?;
        match text.value.as_str() {
            "rising" => Some(Direction::Rising),
            "falling" => Some(Direction::Falling),
            _ => {
                let (key, word, allowed) = ("order".into(), text.value, "rising, falling".into());
                self.push(text.origin.at, ProblemKind::NotAllowed { key, word, allowed });
                None
            }
        }
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
                self.push(text.origin.at, ProblemKind::NoSuch { what: "item", name: text.value.clone(), known });
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
                    self.push(m.at, ProblemKind::NotAllowed { key: "by".into(), word, allowed });
                    return None;
                }
                let mut exprs: Vec<Expr> = Vec::new();
                for text in all {
                    let expr = self.sort_expr(text, exprs.first(), scope)?;
                    exprs.push(expr);
                }
                let Some(order) = order else {
                    let about = "which way these values go, \"rising\" or \"falling\"";
                    self.push(m.at, ProblemKind::MissingKey { block: m.block.clone(), key: "order", about });
                    return None;
                };
                Some(OrderSign::By(exprs, order))
            }
            _ => {
                let about = "how to know it: one of `by` with `order`, `first`, or `before` with two items";
                self.push(m.at, ProblemKind::MissingKey { block: m.block.clone(), key: "by", about });
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
                self.push(text.origin.at, ProblemKind::NoSuch { what: "curve", name, known });
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
            self.push(f.at, ProblemKind::NotAllowed { key: "low".into(), word: low.to_string(), allowed });
        }
        let given = self.text(f, "given").and_then(|text| {
            let of = of.as_ref()?;
            let kind = if of.kind == CurveKind::Sweep { "sweeps" } else { "runs" };
            let full = Text { value: format!("{kind}.{}.{}", of.of, text.value), origin: text.origin };
            let curve = self.curve(&full, scope)?;
            if let Some(measure) = measure
                && curve_dim(&curve) != measure.unit.family.dim()
            {
                let problem = ShownProblem::WrongUnit {
                    source_text: text.value,
                    found: curve_dim(&curve).to_string(),
                    unit: measure.to_string(),
                };
                self.push(text.origin.at, ProblemKind::Shown(problem));
            }
            Some(curve)
        });
        let start_given = self.flag(f, "start_given");
        let because = self.needed_prose(f, "because", "why the true curve is as it is", scope);
        let misconceptions = self.tables(f, "misconception");
        let misconceptions = misconceptions
            .iter()
            .filter_map(|m| {
                let shape = self.word(m, "shape", &SHAPES);
                let crosses = self.word(m, "crosses", &CROSSES);
                if crosses.is_some() && given.is_none() {
                    let about = "a second curve, which `crosses` is about";
                    self.push(m.at, ProblemKind::MissingKey { block: f.block.clone(), key: "given", about });
                }
                if !m.table.contains_key("shape") && !m.table.contains_key("crosses") {
                    let about = "how to know it: `shape`, `crosses`, or both";
                    self.push(m.at, ProblemKind::MissingKey { block: m.block.clone(), key: "shape", about });
                }
                let because = self.needed_prose(m, "because", "what is behind it", scope);
                let show = self.show(m, scope);
                self.finish(m);
                Some(WrongSketch { shape, crosses, because: because?, show })
            })
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

    /// One of a few words.
    pub(super) fn word<T: Copy>(&self, f: &Fields<'_, 't>, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(f, key)?;
        let found = words.iter().find(|(word, _)| *word == text.value).map(|(_, value)| *value);
        if found.is_none() {
            let allowed = words.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", ");
            self.push(text.origin.at, ProblemKind::NotAllowed { key: key.into(), word: text.value, allowed });
        }
        found
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
        let misconceptions = self.tables(f, "misconception");
        let misconceptions = misconceptions
            .iter()
            .filter_map(|m| {
                // A misconception may well be a gauge pressure taken for an absolute one: only the dimension must fit.
                let value = self.dimension(m, "value", "the value it gives, as an expression", scope, measure);
                let because = self.needed_prose(m, "because", "what is behind it", scope);
                let show = self.show(m, scope);
                self.finish(m);
                Some(WrongValue { value: value?, because: because?, show })
            })
            .collect();
        Some(NumberQuestion { measure: measure?, answer: answer?, tolerance: tolerance?, figures, misconceptions })
    }

    pub(super) fn transfer(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Transfer> {
        let id = self.id(f, "id");
        let ask = self.needed_prose(f, "ask", "what is asked", scope);
        let consider = self.needed_prose(f, "consider", "what a good answer considers", scope);
        self.finish(f);
        Some(Transfer { id: id?.0, ask: ask?, consider: consider? })
    }

    pub(super) fn reveal(
        &self,
        piece: &Piece<'t>,
        body: &Text,
        scope: &Scope,
        predictions: &[String],
    ) -> Option<Reveal> {
        let mut after = None;
        let mut compare = None;
        let mut plot = Vec::new();
        for word in piece.attributes.split_whitespace() {
            match word.split_once('=') {
                Some(("after", id)) => {
                    if !predictions.iter().any(|known| known == id) {
                        let kind =
                            ProblemKind::NoSuch { what: "prediction", name: id.into(), known: predictions.to_vec() };
                        self.push(piece.at, kind);
                    }
                    after = Some(id.to_string());
                }
                Some(("compare", pair)) => {
                    let (from, to) = pair.split_once(',').unwrap_or((pair, ""));
                    for name in [from, to] {
                        if !scope.states.iter().any(|known| known == name) {
                            let kind =
                                ProblemKind::NoSuch { what: "pin", name: name.into(), known: scope.states.clone() };
                            self.push(piece.at, kind);
                        }
                    }
                    compare = Some((from.to_string(), to.to_string()));
                }
                Some(("plot", curves)) => {
                    for name in curves.split(',') {
                        let text = Text { value: name.into(), origin: Origin { at: piece.at, exact: false } };
                        plot.extend(self.curve(&text, scope));
                    }
                }
                _ => {
                    let allowed = "after=a-prediction, compare=from,to, plot=sweeps.name.quantity,…";
                    self.push(piece.at, ProblemKind::UnknownAttribute { block: "reveal", word: word.into(), allowed });
                }
            }
        }
        if after.is_none() {
            let about = "the prediction that must be locked first: ```reveal after=its-id";
            self.push(piece.at, ProblemKind::MissingKey { block: "the reveal".into(), key: "after", about });
        }
        let text = self.prose(body, scope);
        Some(Reveal { after: after?, compare, plot, text })
    }
}
