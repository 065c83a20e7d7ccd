//! The keys of a block: texts, numbers, prose, expressions, settings; each with where it stands.

use super::*;

impl<'t> FileReader<'_, 't> {
    pub(super) fn push(&self, at: usize, kind: ProblemKind) {
        self.problems.borrow_mut().push(at, kind);
    }

    pub(super) fn get<'f>(
        &self,
        f: &Fields<'f, 't>,
        key: &'static str,
    ) -> Option<(usize, std::ops::Range<usize>, &'f DeValue<'t>)> {
        f.asked.borrow_mut().push(key);
        let value = f.table.get(key)?;
        Some((f.base + value.span().start, value.span(), value.get_ref()))
    }

    pub(super) fn wrong(&self, at: usize, key: &str, expected: &'static str, example: &'static str) {
        self.push(at, ProblemKind::WrongType { key: key.into(), expected, example });
    }

    pub(super) fn text(&self, f: &Fields<'_, 't>, key: &'static str) -> Option<Text> {
        let (at, span, value) = self.get(f, key)?;
        let DeValue::String(value) = value else {
            self.wrong(at, key, "text in quotes", "\"closing the vanes\"");
            return None;
        };
        Some(self.located(f, at, span, value))
    }

    pub(super) fn located(&self, f: &Fields<'_, 't>, at: usize, span: std::ops::Range<usize>, value: &str) -> Text {
        let raw = f.source.get(span).unwrap_or("");
        let origin = match raw.find(value) {
            Some(inner) if !value.is_empty() => Origin { at: at + inner, exact: true },
            _ => Origin { at, exact: false },
        };
        Text { value: value.into(), origin }
    }

    pub(super) fn needed(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str) -> Option<Text> {
        if !f.table.contains_key(key) {
            f.asked.borrow_mut().push(key);
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key, about });
            return None;
        }
        let text = self.text(f, key)?;
        if text.value.trim().is_empty() {
            self.push(text.origin.at, ProblemKind::Empty { key: key.into(), about });
            return None;
        }
        Some(text)
    }

    pub(super) fn count(&self, f: &Fields<'_, 't>, key: &'static str, least: u32, most: u32) -> Option<u32> {
        let (at, _, value) = self.get(f, key)?;
        let number = if let DeValue::Integer(integer) = value {
            i64::from_str_radix(integer.as_str(), integer.radix()).ok()
        } else {
            None
        };
        let Some(number) = number else {
            self.wrong(at, key, "a whole number", "3");
            return None;
        };
        match u32::try_from(number) {
            Ok(n) if least <= n && n <= most => Some(n),
            _ => {
                let (min, max) = (f64::from(least), f64::from(most));
                self.push(at, ProblemKind::OutOfRange { key: key.into(), value: number as f64, min, max, unit: "" });
                None
            }
        }
    }

    pub(super) fn array<'f>(
        &self,
        f: &Fields<'f, 't>,
        key: &'static str,
        example: &'static str,
    ) -> Option<&'f DeArray<'t>> {
        let (at, _, value) = self.get(f, key)?;
        match value {
            DeValue::Array(array) => Some(array),
            _ => {
                self.wrong(at, key, "a list", example);
                None
            }
        }
    }

    pub(super) fn texts(&self, f: &Fields<'_, 't>, key: &'static str, example: &'static str) -> Vec<Text> {
        let mut texts = Vec::new();
        for value in self.array(f, key, example).into_iter().flatten() {
            match value.get_ref() {
                DeValue::String(text) => texts.push(self.located(f, f.base + value.span().start, value.span(), text)),
                _ => self.wrong(f.base + value.span().start, key, "a list of texts", example),
            }
        }
        texts
    }

    pub(super) fn inner<'f>(&self, f: &Fields<'f, 't>, key: &'static str, block: String) -> Option<Fields<'f, 't>> {
        let (at, _, value) = self.get(f, key)?;
        match value {
            DeValue::Table(table) => {
                Some(Fields { table, base: f.base, source: f.source, at, block, asked: RefCell::default() })
            }
            _ => {
                self.wrong(at, key, "a table", "{ vane = \"80 %\" }");
                None
            }
        }
    }

    pub(super) fn tables<'f>(&self, f: &Fields<'f, 't>, key: &'static str) -> Vec<Fields<'f, 't>> {
        let mut tables = Vec::new();
        let example = "[[option]] with its keys below";
        for value in self.array(f, key, example).into_iter().flatten() {
            let at = f.base + value.span().start;
            match value.get_ref() {
                DeValue::Table(table) => {
                    let block = format!("a `{key}` of {}", f.block);
                    tables.push(Fields { table, base: f.base, source: f.source, at, block, asked: RefCell::default() });
                }
                _ => self.wrong(at, key, "a list of tables", example),
            }
        }
        tables
    }

    /// Every key that nobody asked for is a slip.
    pub(super) fn finish(&self, f: &Fields<'_, 't>) {
        let asked = f.asked.borrow();
        for key in f.table.keys() {
            let name = key.get_ref().as_ref();
            if !asked.contains(&name) {
                let nearest = paths::nearest(name, asked.iter().copied()).map(String::from);
                let mut allowed: Vec<&str> = Vec::new();
                for name in asked.iter() {
                    if let Err(at) = allowed.binary_search(name) {
                        allowed.insert(at, name);
                    }
                }
                let kind = ProblemKind::UnknownKey {
                    block: f.block.clone(),
                    key: name.chars().take(40).collect(),
                    nearest,
                    allowed: allowed.join(", "),
                };
                self.push(f.base + key.span().start, kind);
            }
        }
    }

    pub(super) fn id(&self, f: &Fields<'_, 't>, key: &'static str) -> Option<(String, usize)> {
        let text = self.needed(f, key, "the name that links and results use")?;
        if !good_id(&text.value) {
            self.push(text.origin.at, ProblemKind::BadId { id: text.value.chars().take(70).collect() });
            return None;
        }
        Some((text.value, text.origin.at))
    }

    pub(super) fn prose(&self, text: &Text, scope: &Scope) -> Vec<Prose> {
        text::parse(&text.value, text.origin, scope, &mut self.problems.borrow_mut())
    }

    pub(super) fn needed_prose(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        about: &'static str,
        scope: &Scope,
    ) -> Option<Vec<Prose>> {
        self.needed(f, key, about).map(|text| self.prose(&text, scope))
    }

    pub(super) fn line(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        about: &'static str,
        scope: &Scope,
    ) -> Option<Vec<Inline>> {
        let text = self.needed(f, key, about)?;
        self.one_line(&text, key, scope)
    }

    pub(super) fn one_line(&self, text: &Text, key: &'static str, scope: &Scope) -> Option<Vec<Inline>> {
        let mut prose = self.prose(text, scope);
        match (prose.pop(), prose.is_empty()) {
            (Some(Prose::Paragraph(line)), true) => Some(line),
            _ => {
                self.push(text.origin.at, ProblemKind::OneParagraph { key: key.into() });
                None
            }
        }
    }

    pub(super) fn expression(&self, text: &Text, scope: &Scope) -> Option<Expr> {
        match Expr::parse(&text.value, scope) {
            Ok(expr) => Some(expr),
            Err(problem) => {
                self.problems.borrow_mut().expression(text.origin, problem);
                None
            }
        }
    }

    pub(super) fn expect(&self, text: &Text, expr: &Expr, expected: String) {
        let kind =
            ProblemKind::ExpressionType { source_text: expr.source().into(), found: expr.kind().name(), expected };
        self.push(text.origin.at, kind);
    }

    pub(super) fn truth(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        about: &'static str,
        scope: &Scope,
    ) -> Option<Expr> {
        let text = self.needed(f, key, about)?;
        let expr = self.expression(&text, scope)?;
        if expr.kind() != Type::Truth {
            self.expect(&text, &expr, "a comparison, true or false,".into());
            return None;
        }
        Some(expr)
    }

    /// A setting: numbers and `seed.…`.
    pub(super) fn setting(&self, f: &Fields<'_, 't>, key: &'static str, family: Family, scope: &Scope) -> Option<Expr> {
        let text = self.text(f, key)?;
        let scope = Scope { seeds: scope.seeds.clone(), ..Scope::default() };
        let expr = self.expression(&text, &scope)?;
        match expr.kind() {
            Type::Quantity { dim, point, reference } if dim == family.dim() => {
                if family == Family::Temperature && !point && !expr.source().ends_with('K') {
                    self.expect(&text, &expr, "a temperature such as \"25 degC\"".into());
                    return None;
                }
                if reference == Some(Reference::Gauge) {
                    self.expect(&text, &expr, "an absolute pressure".into());
                    return None;
                }
                Some(expr)
            }
            _ => {
                self.expect(&text, &expr, family.name().into());
                None
            }
        }
    }

    /// Settings in `f`; asks for all their keys.
    pub(super) fn change(&self, f: &Fields<'_, 't>, scope: &Scope) -> Change {
        let mut change = Change {
            speed: self.setting(f, "speed", Family::Rotation, scope),
            load: None,
            vane: self.setting(f, "vane", Family::Ratio, scope),
            pressure: self.setting(f, "pressure", Family::Pressure, scope),
            temperature: self.setting(f, "temperature", Family::Temperature, scope),
            humidity: self.setting(f, "humidity", Family::Ratio, scope),
            altitude: self.setting(f, "altitude", Family::Length, scope),
            parts: Vec::new(),
        };
        let torque = self.setting(f, "torque", Family::Torque, scope);
        let fuel = self.setting(f, "fuel", Family::Mass, scope);
        if f.table.contains_key("torque") && f.table.contains_key("fuel") {
            let allowed = "one of them: the brake holds torque, or the injection holds fuel".into();
            self.push(
                f.at,
                ProblemKind::NotAllowed { key: "torque".into(), word: "torque and fuel together".into(), allowed },
            );
        }
        change.load = torque.map(LoadChange::Torque).or(fuel.map(LoadChange::Fuel));
        // What no engine can change is checked here; an engine's own range is the linter's.
        let env = Env::EMPTY;
        let ambient = [
            ("pressure", &change.pressure, "p_pa"),
            ("temperature", &change.temperature, "t_k"),
            ("humidity", &change.humidity, "relative_humidity"),
        ];
        for (key, expr, name) in ambient {
            // An expression with a seed is out of reach here; the linter tries it with many.
            let Some(Ok(si)) = expr.as_ref().map(|expr| expr.number(&env)) else { continue };
            if let Some(range) = Ambient::KEYS.iter().find(|range| range.name == name) {
                self.range(f.at, key, si, range.min, range.max, range.unit);
            }
        }
        if let Some(vane) = &change.vane
            && let Ok(si) = vane.number(&env)
        {
            self.range(f.at, "vane", si * 100.0, 0.0, 100.0, "%");
        }
        if let Some(parts) = self.inner(f, "parts", format!("the parts of {}", f.block)) {
            self.parts(&parts, &mut change.parts, scope);
        }
        change
    }

    /// Outcomes that a state may end in.
    pub(super) fn ends(&self, f: &Fields<'_, 't>) -> Vec<Outcome> {
        let texts = self.texts(f, "ends", "[\"matched\", \"overspeed\"]");
        if texts.is_empty() {
            return vec![Outcome::Matched];
        }
        let known = |text: &Text| {
            let outcome = OUTCOMES.iter().find(|outcome| outcome.name() == text.value).copied();
            if outcome.is_none() {
                let allowed = OUTCOMES.iter().map(|outcome| outcome.name()).collect::<Vec<_>>().join(", ");
                self.push(
                    text.origin.at,
                    ProblemKind::NotAllowed { key: "ends".into(), word: text.value.clone(), allowed },
                );
            }
            outcome
        };
        texts.iter().filter_map(known).collect()
    }

    pub(super) fn range(&self, at: usize, key: &str, value: f64, min: f64, max: f64, unit: &'static str) {
        // A hair beyond the end is rounding of the unit conversion.
        let slack = 1.0e-9 * max.abs();
        if !(min - slack <= value && value <= max + slack) {
            self.push(at, ProblemKind::OutOfRange { key: key.into(), value, min, max, unit });
        }
    }

    pub(super) fn parts(&self, f: &Fields<'_, 't>, into: &mut Vec<(String, Expr)>, scope: &Scope) {
        for (group, value) in f.table.iter() {
            let at = f.base + group.span().start;
            let DeValue::Table(keys) = value.get_ref() else {
                self.wrong(at, group.get_ref(), "a group with its keys", "exhaust_pipe.bore_m = 0.125");
                continue;
            };
            for (name, value) in keys.iter() {
                let at = f.base + name.span().start;
                let path = format!("{}.{}", group.get_ref(), name.get_ref());
                let key = match engine::key(&path) {
                    Ok(key) => key,
                    Err(_) => {
                        let known = engine::keys()
                            .filter(|key| key.group == group.get_ref().as_ref())
                            .map(|key| key.path())
                            .collect();
                        self.push(at, ProblemKind::NoSuch { what: "parameter of an engine", name: path, known });
                        continue;
                    }
                };
                if let Some(expr) = self.part(f, key, value, scope) {
                    into.push((path, expr));
                }
            }
        }
    }

    /// A parameter of the engine: a number in the unit that its key names, or an expression in quotes.
    pub(super) fn part(
        &self,
        f: &Fields<'_, 't>,
        key: &Key,
        value: &toml::Spanned<DeValue<'t>>,
        scope: &Scope,
    ) -> Option<Expr> {
        let at = f.base + value.span().start;
        let path = key.path();
        let number = match value.get_ref() {
            DeValue::Float(float) => float.as_str().replace('_', "").parse::<f64>().ok(),
            DeValue::Integer(integer) => integer.as_str().replace('_', "").parse::<f64>().ok(),
            DeValue::String(text) => {
                let text = self.located(f, at, value.span(), text);
                let scope = Scope { seeds: scope.seeds.clone(), ..Scope::default() };
                let expr = self.expression(&text, &scope)?;
                let family = units::exact(key.unit).map(|unit| unit.family);
                match expr.kind() {
                    // A plain number is taken in the unit that the key names.
                    Type::Quantity { dim, .. }
                        if dim == Dim::NONE || family.is_some_and(|family| family.dim() == dim) => {}
                    _ => {
                        let unit = if key.unit.is_empty() {
                            "a plain number".into()
                        } else {
                            format!("a number in {}", key.unit)
                        };
                        self.expect(&text, &expr, unit);
                        return None;
                    }
                }
                if let Ok(si) = expr.number(&Env::EMPTY) {
                    self.range(at, &path, si, key.min, key.max, key.unit);
                }
                return Some(expr);
            }
            _ => None,
        };
        let Some(number) = number else {
            self.wrong(at, &path, "a number in the unit that the key names, or an expression in quotes", "0.125");
            return None;
        };
        self.range(at, &path, number, key.min, key.max, key.unit);
        Some(Expr::constant(number))
    }

    pub(super) fn seeds(&self, f: &Fields<'_, 't>) -> Vec<SeedRange> {
        let Some((at, _, value)) = self.get(f, "seed") else { return Vec::new() };
        let DeValue::Table(table) = value else {
            self.wrong(at, "seed", "a table", "{ speed = \"2300..2500 step 50 1/min\" }");
            return Vec::new();
        };
        let mut ranges = Vec::new();
        for (name, value) in table.iter() {
            let at = f.base + value.span().start;
            let key = name.get_ref().to_string();
            let DeValue::String(range) = value.get_ref() else {
                self.wrong(at, &key, "text in quotes", "\"2300..2500 step 50 1/min\"");
                continue;
            };
            if !good_name(&key) {
                self.push(f.base + name.span().start, ProblemKind::BadName { name: key });
                continue;
            }
            match seed_range(&key, range) {
                Some(range) => ranges.push(range),
                None => self.push(at, ProblemKind::Range { text: range.chars().take(60).collect(), most: MOST_VALUES }),
            }
        }
        ranges
    }
}
