//! Settings, parts of the engine, drawn numbers, and how a state may end.

use super::fields::{Fields, FileReader, Text};
use super::words::{MOST_VALUES, seed_range};
use crate::expr::{Env, Expr, OUTCOMES, Scope, Type};
use crate::ids::good_name;
use crate::lesson::{Change, LoadChange};
use crate::problem::ProblemKind;
use crate::seed::SeedRange;
use crate::units::{self, Dim, Family, Reference};
use toml::de::DeValue;
use volute_core::engine;
use volute_core::keys::Key;
use volute_core::point::reading::Outcome;
use volute_core::settings::Ambient;

impl<'t> FileReader<'_, 't> {
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
        if f.has("torque") && f.has("fuel") {
            let allowed = "one of them: the brake holds torque, or the injection holds fuel".into();
            self.not_allowed(f.at, "torque", "torque and fuel together".into(), allowed);
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
                self.not_allowed(text.origin.at, "ends", text.value.clone(), allowed);
            }
            outcome
        };
        texts.iter().filter_map(known).collect()
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
                        self.no_such(at, "parameter of an engine", path, known);
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

    /// A built-in engine by its short name.
    pub(super) fn engine(&self, f: &Fields<'_, 't>) -> Option<String> {
        let engine = self.text(f, "engine")?;
        use volute_core::engine::built_in;
        if !built_in::names().any(|name| name == engine.value) {
            let known = built_in::names().map(String::from).collect();
            self.no_such(engine.origin.at, "built-in engine", engine.value.clone(), known);
        }
        Some(engine.value)
    }

    /// Speed, load and vane position must all be given.
    pub(super) fn complete(&self, f: &Fields<'_, 't>, set: &Change) {
        for (key, missing) in
            [("speed", set.speed.is_none()), ("vane", set.vane.is_none()), ("torque` or `fuel", set.load.is_none())]
        {
            if missing && !key.split("` or `").any(|key| f.has(key)) {
                let about = "the bench needs speed, load and vane position";
                self.missing(f, key, about);
            }
        }
    }
}
