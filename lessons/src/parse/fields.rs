//! The keys of a block: texts, numbers, prose, expressions; each with where it stands in the file.

use super::markdown::markdown;
use crate::expr::{Expr, Scope, Type};
use crate::ids::good_id;
use crate::paths;
use crate::problem::{Origin, ProblemKind, Problems};
use crate::text::{Inline, Prose};
use std::cell::RefCell;
use toml::de::{DeArray, DeTable, DeValue};

/// A text value with the place it has in the file.
#[derive(Clone)]
pub(super) struct Text {
    pub(super) value: String,
    pub(super) origin: Origin,
}

/// One table, and which keys were asked of it: those are the allowed ones.
pub(super) struct Fields<'f, 't> {
    pub(super) table: &'f DeTable<'t>,
    /// Of the TOML text within the file.
    pub(super) base: usize,
    /// The TOML text.
    pub(super) source: &'f str,
    /// Where the table begins in the file.
    pub(super) at: usize,
    /// For messages: "the task `raise-boost`".
    pub(super) block: String,
    pub(super) asked: RefCell<Vec<&'static str>>,
}

impl<'f, 't> Fields<'f, 't> {
    /// A table inside this one.
    pub(super) fn inner(&self, table: &'f DeTable<'t>, at: usize, block: String) -> Self {
        Fields { table, base: self.base, source: self.source, at, block, asked: RefCell::default() }
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Lets a key stand that is not read.
    pub(super) fn allow(&self, key: &'static str) {
        self.asked.borrow_mut().push(key);
    }
}

/// Reads the blocks of one file and collects what is wrong.
pub(super) struct FileReader<'a, 't> {
    pub(super) text: &'t str,
    pub(super) problems: RefCell<&'a mut Problems<'t>>,
}

impl<'t> FileReader<'_, 't> {
    pub(super) fn push(&self, at: usize, kind: ProblemKind) {
        self.problems.borrow_mut().push(at, kind);
    }

    /// Reports a key that a block needs.
    pub(super) fn missing(&self, f: &Fields, key: &'static str, about: &'static str) {
        self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key, about });
    }

    /// Reports a word that a key may not have.
    pub(super) fn not_allowed(&self, at: usize, key: &str, word: String, allowed: String) {
        self.push(at, ProblemKind::NotAllowed { key: key.into(), word, allowed });
    }

    /// Reports a name that does not exist.
    pub(super) fn no_such(&self, at: usize, what: &'static str, name: String, known: Vec<String>) {
        self.push(at, ProblemKind::NoSuch { what, name, known });
    }

    pub(super) fn get<'f>(
        &self,
        f: &Fields<'f, 't>,
        key: &'static str,
    ) -> Option<(usize, std::ops::Range<usize>, &'f DeValue<'t>)> {
        f.allow(key);
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
        if !f.has(key) {
            f.allow(key);
            self.missing(f, key, about);
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

    pub(super) fn bare_number(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str) -> Option<f64> {
        let Some((at, _, value)) = self.get(f, key) else {
            self.missing(f, key, about);
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

    /// One of a few words.
    pub(super) fn word<T: Copy>(&self, f: &Fields<'_, 't>, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(f, key)?;
        let found = words.iter().find(|(word, _)| *word == text.value).map(|(_, value)| *value);
        if found.is_none() {
            let allowed = words.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", ");
            self.not_allowed(text.origin.at, key, text.value, allowed);
        }
        found
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
            DeValue::Table(table) => Some(f.inner(table, at, block)),
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
                    tables.push(f.inner(table, at, block));
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
        markdown(&text.value, text.origin, scope, &mut self.problems.borrow_mut())
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

    pub(super) fn range(&self, at: usize, key: &str, value: f64, min: f64, max: f64, unit: &'static str) {
        // A hair beyond the end is rounding of the unit conversion.
        let slack = 1.0e-9 * max.abs();
        if !(min - slack <= value && value <= max + slack) {
            self.push(at, ProblemKind::OutOfRange { key: key.into(), value, min, max, unit });
        }
    }
}
