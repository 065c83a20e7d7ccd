//! From the text of a lesson file to a [`Lesson`].
//!
//! Two passes: the first finds the blocks and which states and numbers they name, the second reads expressions and prose,
//! which may then name a pin that is declared further down.

use crate::expr::{self, Env, Expr, OUTCOMES, Scope, Type};
use crate::lesson::*;
use crate::paths::{self, QUANTITIES, Quantity};
use crate::problem::{Origin, Problem, ProblemKind, Problems};
use crate::seed::SeedRange;
use crate::text::{self, Inline, MARKS, Prose};
use crate::units::{self, Dim, Family, Measure, Reference, Unit};
use std::cell::RefCell;
use toml::de::{DeArray, DeTable, DeValue};
use volute_core::engine;
use volute_core::keys::Key;
use volute_core::reading::Outcome;
use volute_core::settings::Ambient;

/// Largest lesson file, in bytes.
pub const LARGEST: usize = 256 * 1024;
/// Most values that a drawn number can have.
const MOST_VALUES: u32 = 1_000_000;

const BLOCKS: &str = "bench, pin, predict, task, checkpoint, reveal, safety, transfer";

/// Reads a lesson file. Errors: every problem found, with its line and column, in the order of the file.
pub fn parse(text: &str) -> Result<Lesson, Vec<Problem>> {
    if text.len() > LARGEST {
        let mut problems = Problems::new("");
        problems.push(0, ProblemKind::TooLarge { bytes: text.len(), most: LARGEST });
        return Err(problems.finish());
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    let mut problems = Problems::new(&text);
    let lesson = read(&text, &mut problems);
    match lesson {
        Some(lesson) if problems.is_empty() => Ok(lesson),
        _ => Err(problems.finish()),
    }
}

/// Whether `id` is small letters, digits and hyphens, beginning with a letter, at most 60.
pub(crate) fn good_id(id: &str) -> bool {
    id.len() <= 60
        && id.starts_with(|c: char| c.is_ascii_lowercase())
        && id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

/// Whether `name` can stand in an expression: small letters, digits and underscores, beginning with a letter, at most 60.
fn good_name(name: &str) -> bool {
    name.len() <= 60
        && name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}

/// A stretch of the file.
struct Piece<'t> {
    /// The word behind the fence; nothing for prose.
    block: Option<&'t str>,
    /// Words behind that.
    attributes: &'t str,
    /// Where the fence or the prose begins.
    at: usize,
    /// What stands inside.
    body: &'t str,
    body_at: usize,
}

fn offset(whole: &str, part: &str) -> usize {
    part.as_ptr() as usize - whole.as_ptr() as usize
}

fn read<'t>(text: &'t str, problems: &mut Problems<'t>) -> Option<Lesson> {
    for (at, c) in text.char_indices() {
        if (c.is_control() && !matches!(c, '\n' | '\t')) || MARKS.contains(&c) {
            problems.push(at, ProblemKind::Character { code: c as u32 });
            return None;
        }
    }
    let Some(rest) = text.strip_prefix("+++\n") else {
        problems.push(0, ProblemKind::NoFrontMatter);
        return None;
    };
    let front = if rest.starts_with("+++\n") || rest == "+++" { Some(0) } else { rest.find("\n+++\n").map(|i| i + 1) };
    let front = front.or_else(|| rest.strip_suffix("\n+++").map(|front| front.len() + 1));
    let Some(front) = front else {
        problems.push(0, ProblemKind::NotClosed { what: "the front matter", end: "+++" });
        return None;
    };
    let after = rest[front..].find('\n').map_or(rest.len(), |i| front + i + 1);
    let pieces = pieces(text, &rest[after..], problems);
    let head = table(text, &rest[..front], problems);
    let tables: Vec<Option<DeTable>> = pieces
        .iter()
        .map(|piece| match piece.block {
            Some("bench" | "pin" | "predict" | "task" | "checkpoint" | "transfer") => table(text, piece.body, problems),
            _ => None,
        })
        .collect();
    let head = head?;
    let reader = FileReader { text, problems: RefCell::new(problems) };
    reader.lesson(&head, &pieces, &tables)
}

/// Cuts the body into prose and fenced blocks.
fn pieces<'t>(text: &str, body: &'t str, problems: &mut Problems) -> Vec<Piece<'t>> {
    let mut pieces = Vec::new();
    let mut prose = 0;
    let mut at = 0;
    let push_prose = |pieces: &mut Vec<Piece<'t>>, range: &'t str| {
        if !range.trim().is_empty() {
            let at = offset(text, range);
            pieces.push(Piece { block: None, attributes: "", at, body: range, body_at: at });
        }
    };
    while at < body.len() {
        let line_end = body[at..].find('\n').map_or(body.len(), |i| at + i + 1);
        let line = body[at..line_end].trim_end();
        let Some(info) = line.strip_prefix("```") else {
            at = line_end;
            continue;
        };
        push_prose(&mut pieces, &body[prose..at]);
        let info = info.trim();
        let (word, attributes) = info.split_once(char::is_whitespace).unwrap_or((info, ""));
        let fence_at = offset(text, &body[at..]);
        let mut end = line_end;
        let close = loop {
            if end >= body.len() {
                break None;
            }
            let next = body[end..].find('\n').map_or(body.len(), |i| end + i + 1);
            if body[end..next].trim_end() == "```" {
                break Some((end, next));
            }
            end = next;
        };
        let Some((inner_end, next)) = close else {
            problems.push(fence_at, ProblemKind::NotClosed { what: "the block", end: "```" });
            return pieces;
        };
        if !BLOCKS.split(", ").any(|known| known == word) {
            problems
                .push(fence_at, ProblemKind::UnknownBlock { word: word.chars().take(30).collect(), allowed: BLOCKS });
        } else {
            let inner = &body[line_end..inner_end];
            let attributes = attributes.trim();
            pieces.push(Piece {
                block: Some(word),
                attributes,
                at: fence_at,
                body: inner,
                body_at: offset(text, inner),
            });
        }
        at = next;
        prose = next;
    }
    push_prose(&mut pieces, &body[prose..]);
    pieces
}

fn table<'t>(text: &str, part: &'t str, problems: &mut Problems) -> Option<DeTable<'t>> {
    match DeTable::parse(part) {
        Ok(table) => Some(table.into_inner()),
        Err(error) => {
            let at = offset(text, part) + error.span().map_or(0, |span| span.start);
            problems.push(at, ProblemKind::Toml { message: error.message().replace('\n', " ") });
            None
        }
    }
}

/// A text value with the place it has in the file.
#[derive(Clone)]
struct Text {
    value: String,
    origin: Origin,
}

/// One table, and which keys were asked of it: those are the allowed ones.
struct Fields<'f, 't> {
    table: &'f DeTable<'t>,
    /// Of the TOML text within the file.
    base: usize,
    /// The TOML text.
    source: &'f str,
    /// Where the table begins in the file.
    at: usize,
    /// For messages: "the task `raise-boost`".
    block: String,
    asked: RefCell<Vec<&'static str>>,
}

struct FileReader<'a, 't> {
    text: &'t str,
    problems: RefCell<&'a mut Problems<'t>>,
}

impl<'t> FileReader<'_, 't> {
    fn push(&self, at: usize, kind: ProblemKind) {
        self.problems.borrow_mut().push(at, kind);
    }

    fn get<'f>(
        &self,
        f: &Fields<'f, 't>,
        key: &'static str,
    ) -> Option<(usize, std::ops::Range<usize>, &'f DeValue<'t>)> {
        f.asked.borrow_mut().push(key);
        let value = f.table.get(key)?;
        Some((f.base + value.span().start, value.span(), value.get_ref()))
    }

    fn wrong(&self, at: usize, key: &str, expected: &'static str, example: &'static str) {
        self.push(at, ProblemKind::WrongType { key: key.into(), expected, example });
    }

    fn text(&self, f: &Fields<'_, 't>, key: &'static str) -> Option<Text> {
        let (at, span, value) = self.get(f, key)?;
        let DeValue::String(value) = value else {
            self.wrong(at, key, "text in quotes", "\"closing the vanes\"");
            return None;
        };
        Some(self.located(f, at, span, value))
    }

    fn located(&self, f: &Fields<'_, 't>, at: usize, span: std::ops::Range<usize>, value: &str) -> Text {
        let raw = f.source.get(span).unwrap_or("");
        let origin = match raw.find(value) {
            Some(inner) if !value.is_empty() => Origin { at: at + inner, exact: true },
            _ => Origin { at, exact: false },
        };
        Text { value: value.into(), origin }
    }

    fn needed(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str) -> Option<Text> {
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

    fn count(&self, f: &Fields<'_, 't>, key: &'static str, least: u32, most: u32) -> Option<u32> {
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

    fn array<'f>(&self, f: &Fields<'f, 't>, key: &'static str, example: &'static str) -> Option<&'f DeArray<'t>> {
        let (at, _, value) = self.get(f, key)?;
        match value {
            DeValue::Array(array) => Some(array),
            _ => {
                self.wrong(at, key, "a list", example);
                None
            }
        }
    }

    fn texts(&self, f: &Fields<'_, 't>, key: &'static str, example: &'static str) -> Vec<Text> {
        let mut texts = Vec::new();
        for value in self.array(f, key, example).into_iter().flatten() {
            match value.get_ref() {
                DeValue::String(text) => texts.push(self.located(f, f.base + value.span().start, value.span(), text)),
                _ => self.wrong(f.base + value.span().start, key, "a list of texts", example),
            }
        }
        texts
    }

    fn inner<'f>(&self, f: &Fields<'f, 't>, key: &'static str, block: String) -> Option<Fields<'f, 't>> {
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

    fn tables<'f>(&self, f: &Fields<'f, 't>, key: &'static str) -> Vec<Fields<'f, 't>> {
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
    fn finish(&self, f: &Fields<'_, 't>) {
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

    fn id(&self, f: &Fields<'_, 't>, key: &'static str) -> Option<(String, usize)> {
        let text = self.needed(f, key, "the name that links and results use")?;
        if !good_id(&text.value) {
            self.push(text.origin.at, ProblemKind::BadId { id: text.value.chars().take(70).collect() });
            return None;
        }
        Some((text.value, text.origin.at))
    }

    fn prose(&self, text: &Text, scope: &Scope) -> Vec<Prose> {
        text::parse(&text.value, text.origin, scope, &mut self.problems.borrow_mut())
    }

    fn needed_prose(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        about: &'static str,
        scope: &Scope,
    ) -> Option<Vec<Prose>> {
        self.needed(f, key, about).map(|text| self.prose(&text, scope))
    }

    fn line(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str, scope: &Scope) -> Option<Vec<Inline>> {
        let text = self.needed(f, key, about)?;
        let mut prose = self.prose(&text, scope);
        match (prose.pop(), prose.is_empty()) {
            (Some(Prose::Paragraph(line)), true) => Some(line),
            _ => {
                self.push(text.origin.at, ProblemKind::OneParagraph { key: key.into() });
                None
            }
        }
    }

    fn expression(&self, text: &Text, scope: &Scope) -> Option<Expr> {
        match Expr::parse(&text.value, scope) {
            Ok(expr) => Some(expr),
            Err(problem) => {
                self.problems.borrow_mut().expression(text.origin, problem);
                None
            }
        }
    }

    fn expect(&self, text: &Text, expr: &Expr, expected: String) {
        let kind =
            ProblemKind::ExpressionType { source_text: expr.source().into(), found: expr.kind().name(), expected };
        self.push(text.origin.at, kind);
    }

    fn truth(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str, scope: &Scope) -> Option<Expr> {
        let text = self.needed(f, key, about)?;
        let expr = self.expression(&text, scope)?;
        if expr.kind() != Type::Truth {
            self.expect(&text, &expr, "a comparison, true or false,".into());
            return None;
        }
        Some(expr)
    }

    /// A setting: numbers and `seed.…`.
    fn setting(&self, f: &Fields<'_, 't>, key: &'static str, family: Family, scope: &Scope) -> Option<Expr> {
        let text = self.text(f, key)?;
        let scope = Scope { states: Vec::new(), seeds: scope.seeds.clone(), bench: false };
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
    fn change(&self, f: &Fields<'_, 't>, scope: &Scope) -> Change {
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
    fn ends(&self, f: &Fields<'_, 't>) -> Vec<Outcome> {
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

    fn range(&self, at: usize, key: &str, value: f64, min: f64, max: f64, unit: &'static str) {
        // A hair beyond the end is rounding of the unit conversion.
        let slack = 1.0e-9 * max.abs();
        if !(min - slack <= value && value <= max + slack) {
            self.push(at, ProblemKind::OutOfRange { key: key.into(), value, min, max, unit });
        }
    }

    fn parts(&self, f: &Fields<'_, 't>, into: &mut Vec<(String, Expr)>, scope: &Scope) {
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
    fn part(&self, f: &Fields<'_, 't>, key: &Key, value: &toml::Spanned<DeValue<'t>>, scope: &Scope) -> Option<Expr> {
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

    fn seeds(&self, f: &Fields<'_, 't>) -> Vec<SeedRange> {
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

    fn lesson(&self, head: &DeTable<'t>, pieces: &[Piece<'t>], tables: &[Option<DeTable<'t>>]) -> Option<Lesson> {
        let front = &self.text["+++\n".len()..];
        let f = Fields {
            table: head,
            base: "+++\n".len(),
            source: front,
            at: 0,
            block: "the front matter".into(),
            asked: RefCell::default(),
        };
        let empty = Scope::default();
        let seeds = self.seeds(&f);
        let id = self.id(&f, "id");
        let title = self.line(&f, "title", "a title", &empty);
        let course = self.needed(&f, "course", "the course it belongs to: A, B or C");
        if let Some(course) = &course
            && !matches!(course.value.as_str(), "A" | "B" | "C")
        {
            let kind =
                ProblemKind::NotAllowed { key: "course".into(), word: course.value.clone(), allowed: "A, B, C".into() };
            self.push(course.origin.at, kind);
        }
        let minutes = self.count(&f, "minutes", 1, 180);
        if !head.contains_key("minutes") {
            self.push(
                0,
                ProblemKind::MissingKey { block: f.block.clone(), key: "minutes", about: "how long it takes" },
            );
        }
        let needs = self.texts(&f, "needs", "[\"absolute-first\"]");
        for need in &needs {
            if !good_id(&need.value) {
                self.push(need.origin.at, ProblemKind::BadId { id: need.value.clone() });
            }
        }
        let teaches = self.line(&f, "teaches", "what it teaches, in a sentence", &empty);
        let not_here = self.line(&f, "not_here", "what it leaves out", &empty);
        self.finish(&f);

        // First pass: names.
        let mut names: Vec<(String, usize)> = Vec::new();
        let mut states = vec!["start".to_string()];
        let mut predictions = Vec::new();
        for (piece, table) in pieces.iter().zip(tables) {
            let (Some(block), Some(table)) = (piece.block, table) else { continue };
            let key = if block == "pin" { "name" } else { "id" };
            if let Some(DeValue::String(name)) = table.get(key).map(|v| v.get_ref()) {
                names.push((name.to_string(), piece.at));
                match block {
                    "pin" => states.push(name.to_string()),
                    "predict" => predictions.push(name.to_string()),
                    _ => {}
                }
            }
        }
        let mut seen: Vec<&str> = vec!["start"];
        for (name, at) in &names {
            if seen.contains(&name.as_str()) {
                self.push(*at, ProblemKind::Twice { id: name.clone() });
            }
            seen.push(name);
        }
        let seed_names = seeds.iter().map(|range| (range.name.clone(), range.unit)).collect();
        let scope = Scope { states, seeds: seed_names, bench: false };

        // Second pass: contents.
        let mut start = None;
        let mut pins = Vec::new();
        let mut steps = Vec::new();
        for (piece, table) in pieces.iter().zip(tables) {
            let fields = |what: &str| {
                let table = table.as_ref()?;
                let name = ["id", "name"].iter().find_map(|key| match table.get(*key).map(|v| v.get_ref()) {
                    Some(DeValue::String(name)) => Some(format!(" `{name}`")),
                    _ => None,
                });
                let block = format!("the {what}{}", name.unwrap_or_default());
                let asked = RefCell::default();
                Some(Fields { table, base: piece.body_at, source: piece.body, at: piece.at, block, asked })
            };
            let body = Text { value: piece.body.into(), origin: Origin { at: piece.body_at, exact: true } };
            if let Some(block) = piece.block
                && block != "reveal"
                && !piece.attributes.is_empty()
            {
                let word = piece.attributes.chars().take(40).collect();
                let block = BLOCKS.split(", ").find(|known| *known == block).unwrap_or("");
                self.push(piece.at, ProblemKind::UnknownAttribute { block, word, allowed: "nothing" });
            }
            match piece.block {
                None => steps.push(Step::Prose(self.prose(&body, &scope))),
                Some("bench") => {
                    let Some(f) = fields("bench") else { continue };
                    if start.is_some() {
                        self.push(piece.at, ProblemKind::OnlyOnce { what: "a `bench` block" });
                    }
                    start = Some(self.start(&f, &scope, &predictions));
                }
                Some("pin") => {
                    let Some(f) = fields("pin") else { continue };
                    let name = self.needed(
                        &f,
                        "name",
                        "the name that expressions use, such as `closed` for `pins.closed.boost`",
                    );
                    let set = self.change(&f, &scope);
                    let ends = self.ends(&f);
                    match name {
                        Some(name) if good_name(&name.value) => {
                            pins.push(Pin { name: name.value, of: "start".into(), engine: None, set, ends });
                        }
                        Some(name) => self.push(name.origin.at, ProblemKind::BadName { name: name.value }),
                        None => {}
                    }
                    self.finish(&f);
                }
                Some("predict") => {
                    steps.extend(fields("prediction").and_then(|f| self.predict(&f, &scope)).map(Step::Predict))
                }
                Some("task") => steps.extend(fields("task").and_then(|f| self.task(&f, &scope)).map(Step::Task)),
                Some("checkpoint") => {
                    steps.extend(fields("checkpoint").and_then(|f| self.checkpoint(&f, &scope)).map(Step::Checkpoint));
                }
                Some("transfer") => {
                    steps.extend(fields("transfer").and_then(|f| self.transfer(&f, &scope)).map(Step::Transfer))
                }
                Some("reveal") => steps.extend(self.reveal(piece, &body, &scope, &predictions).map(Step::Reveal)),
                Some(_) => steps.push(Step::Safety(self.prose(&body, &scope))),
            }
        }
        let Some(start) = start else {
            // A block that could not be read has been complained of already.
            if !pieces.iter().any(|piece| piece.block == Some("bench")) {
                self.push(0, ProblemKind::Missing { what: "a `bench` block: how the bench stands at the start" });
            }
            return None;
        };
        Some(Lesson {
            id: id?.0,
            title: title?,
            course: course?.value,
            minutes: minutes?,
            needs: needs.into_iter().map(|need| need.value).collect(),
            teaches: teaches?,
            not_here: not_here?,
            start,
            setup: Setup { seeds, pins, ..Setup::default() },
            teacher: None,
            steps,
        })
    }

    fn start(&self, f: &Fields<'_, 't>, scope: &Scope, predictions: &[String]) -> Start {
        let engine = self.text(f, "engine");
        if let Some(engine) = &engine
            && !volute_core::engine_file::BUILT_IN.iter().any(|(name, _)| *name == engine.value)
        {
            let known = volute_core::engine_file::BUILT_IN.iter().map(|(name, _)| (*name).into()).collect();
            self.push(
                engine.origin.at,
                ProblemKind::NoSuch { what: "built-in engine", name: engine.value.clone(), known },
            );
        }
        let set = self.change(f, scope);
        for (key, missing) in
            [("speed", set.speed.is_none()), ("vane", set.vane.is_none()), ("torque` or `fuel", set.load.is_none())]
        {
            if missing && !key.split("` or `").any(|key| f.table.contains_key(key)) {
                self.push(
                    f.at,
                    ProblemKind::MissingKey {
                        block: f.block.clone(),
                        key,
                        about: "the bench needs speed, load and vane position",
                    },
                );
            }
        }
        let free = self.texts(f, "free", "[\"vane 60..100 %\"]").iter().filter_map(|text| self.free(text)).collect();
        let mut hide: Vec<&'static Quantity> = Vec::new();
        for text in self.texts(f, "hide", "[\"torque\", \"p3\"]") {
            match paths::quantity(text.value.trim()) {
                Some(quantity) => hide.push(quantity),
                None => {
                    let known = QUANTITIES.iter().map(|q| q.name.into()).collect();
                    self.push(
                        text.origin.at,
                        ProblemKind::NoSuch { what: "quantity", name: text.value.clone(), known },
                    );
                }
            }
        }
        let until = self.text(f, "hide_until");
        match &until {
            Some(until) if !predictions.contains(&until.value) => {
                let kind =
                    ProblemKind::NoSuch { what: "prediction", name: until.value.clone(), known: predictions.to_vec() };
                self.push(until.origin.at, kind);
            }
            None if !hide.is_empty() => {
                let about = "the prediction that shows what is hidden";
                self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "hide_until", about });
            }
            _ => {}
        }
        let ends = self.ends(f);
        self.finish(f);
        let layout = Layout { free, hide, ..Layout::default() };
        Start { engine: engine.map(|text| text.value), set, layout, hide_until: until.map(|text| text.value), ends }
    }

    fn free(&self, text: &Text) -> Option<Free> {
        let value = text.value.trim();
        let (word, range) = value.split_once(' ').unwrap_or((value, ""));
        let Some(control) = Control::of(word) else {
            let allowed = Control::ALL.map(Control::name).join(", ");
            self.push(text.origin.at, ProblemKind::NotAllowed { key: "free".into(), word: word.into(), allowed });
            return None;
        };
        if range.is_empty() {
            return Some(Free { control, range_si: None });
        }
        let parsed = limits(range).filter(|(_, _, unit)| match control {
            Control::Vane => unit.name == "%",
            Control::Speed => unit.family == Family::Rotation,
            Control::Load => matches!(unit.family, Family::Torque | Family::Mass),
            _ => false,
        });
        match parsed {
            Some((low, high, unit)) => Some(Free { control, range_si: Some((unit.to_si(low), unit.to_si(high))) }),
            None => {
                let allowed = "vane with per cent, load with a torque or a mass of fuel, speed with 1/min, such as `vane 60..100 %`".into();
                self.push(text.origin.at, ProblemKind::NotAllowed { key: "free".into(), word: value.into(), allowed });
                None
            }
        }
    }

    fn choices(&self, f: &Fields<'_, 't>, scope: &Scope) -> Vec<Choice> {
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
                self.finish(option);
                Some(Choice { text: text?, when: when?, because: because?, show: None })
            })
            .collect()
    }

    fn kind(&self, f: &Fields<'_, 't>, allowed: &[&'static str]) -> Option<&'static str> {
        let text = self.needed(f, "kind", "how it is answered")?;
        let kind = allowed.iter().find(|kind| **kind == text.value).copied();
        if kind.is_none() {
            let allowed = allowed.join(", ");
            self.push(text.origin.at, ProblemKind::NotAllowed { key: "kind".into(), word: text.value, allowed });
        }
        kind
    }

    fn predict(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Predict> {
        let id = self.id(f, "id");
        let kind = self.kind(f, &["choice", "short"]);
        let ask = self.needed_prose(f, "ask", "what is to be predicted", scope);
        let answer = match kind? {
            "choice" => Prediction::Choice(self.choices(f, scope)),
            _ => Prediction::Short,
        };
        self.finish(f);
        Some(Predict { id: id?.0, ask: ask?, setup: Setup::default(), answer })
    }

    fn task(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Task> {
        let live = Scope { bench: true, ..scope.clone() };
        let id = self.id(f, "id");
        let ask = self.needed_prose(f, "ask", "what to bring the bench to", scope);
        let goal = self.truth(f, "goal", "when it is done, as a comparison of the bench as it stands", &live);
        let hint = self.needed_prose(f, "hint", "the cause without the number", scope);
        let done = self.needed_prose(f, "done", "what is said when it is done", scope);
        let answer = match self.inner(f, "answer", format!("the answer of {}", f.block)) {
            Some(inner) => {
                let change = self.change(&inner, scope);
                self.finish(&inner);
                Some(change)
            }
            None => {
                if !f.table.contains_key("answer") {
                    let about = "settings that do it, such as { vane = \"80 %\" }";
                    self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "answer", about });
                }
                None
            }
        };
        let misconceptions = self.tables(f, "misconception");
        let misconceptions = misconceptions
            .iter()
            .filter_map(|m| {
                let when = self.truth(m, "when", "how to know this wrong turn on the bench", &live);
                let because = self.needed_prose(m, "because", "what is behind it", &live);
                self.finish(m);
                Some(WrongState { when: when?, because: because?, show: None })
            })
            .collect();
        self.finish(f);
        Some(Task {
            id: id?.0,
            ask: ask?,
            setup: Setup::default(),
            bench: "start".into(),
            layout: Layout::default(),
            buy: None,
            goal: goal?,
            hints: vec![hint?],
            answer: TaskAnswer { visits: Vec::new(), set: answer? },
            done: done?,
            misconceptions,
            confidence: false,
        })
    }

    fn checkpoint(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Checkpoint> {
        let id = self.id(f, "id");
        let kind = self.kind(f, &["number", "choice"]);
        let seeds = self.seeds(f);
        let mut scope = scope.clone();
        for range in &seeds {
            if scope.seeds.iter().any(|(name, _)| *name == range.name) {
                self.push(f.at, ProblemKind::Twice { id: range.name.clone() });
            }
            scope.seeds.push((range.name.clone(), range.unit));
        }
        let mut pins = Vec::new();
        if let Some((at, _, value)) = self.get(f, "pins") {
            match value {
                DeValue::Table(table) => {
                    for (name, value) in table.iter() {
                        let at = f.base + name.span().start;
                        let name = name.get_ref().to_string();
                        if !good_name(&name) {
                            self.push(at, ProblemKind::BadName { name: name.clone() });
                        }
                        if scope.states.contains(&name) {
                            self.push(at, ProblemKind::Twice { id: name.clone() });
                        }
                        let DeValue::Table(table) = value.get_ref() else {
                            self.wrong(at, &name, "a table of settings", "{ vane = \"80 %\" }");
                            continue;
                        };
                        let block = format!("the pin `{name}` of {}", f.block);
                        let inner =
                            Fields { table, base: f.base, source: f.source, at, block, asked: RefCell::default() };
                        let set = self.change(&inner, &scope);
                        let ends = self.ends(&inner);
                        self.finish(&inner);
                        pins.push(Pin { name, of: "start".into(), engine: None, set, ends });
                    }
                }
                _ => self.wrong(at, "pins", "a table", "pins.open = { vane = \"100 %\" }"),
            }
        }
        scope.states.extend(pins.iter().map(|pin| pin.name.clone()));
        let bench = self.text(f, "bench");
        if let Some(bench) = &bench
            && !scope.states.contains(&bench.value)
        {
            let kind = ProblemKind::NoSuch { what: "pin", name: bench.value.clone(), known: scope.states.clone() };
            self.push(bench.origin.at, kind);
        }
        let ask = self.needed_prose(f, "ask", "what is asked", &scope);
        let hint = self.needed_prose(f, "hint", "the cause without the number", &scope);
        let worked = self.needed_prose(f, "worked", "the worked answer, shown after the second try", &scope);
        let kind = match kind? {
            "number" => self.number(f, &scope).map(CheckpointKind::Number),
            _ => Some(CheckpointKind::Choice(self.choices(f, &scope))),
        };
        self.finish(f);
        let bench = bench.map(|text| text.value);
        let setup = Setup { seeds, pins, ..Setup::default() };
        Some(Checkpoint { id: id?.0, ask: ask?, hints: vec![hint?], worked: worked?, setup, bench, kind: kind? })
    }

    fn measured(
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

    fn number(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<NumberQuestion> {
        let measure = self.needed(f, "unit", "the unit it is asked in, `1` for a plain number").and_then(|text| {
            let name = if text.value == "1" { "" } else { text.value.as_str() };
            let measure = units::read(name);
            if measure.is_none() {
                let problem = expr::ShownProblem::UnknownUnit { unit: text.value.chars().take(30).collect() };
                self.push(text.origin.at, ProblemKind::Shown(problem));
            }
            measure
        });
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
                let value = self.needed(m, "value", "the value it gives, as an expression").and_then(|text| {
                    let expr = self.expression(&text, scope)?;
                    match (expr.kind(), measure) {
                        (Type::Quantity { dim, .. }, Some(measure)) if dim != measure.unit.family.dim() => {
                            self.expect(&text, &expr, measure.unit.family.name().into());
                            None
                        }
                        (Type::Quantity { .. }, _) => Some(expr),
                        _ => {
                            self.expect(&text, &expr, "a number".into());
                            None
                        }
                    }
                });
                let because = self.needed_prose(m, "because", "what is behind it", scope);
                self.finish(m);
                Some(WrongValue { value: value?, because: because?, show: None })
            })
            .collect();
        Some(NumberQuestion { measure: measure?, answer: answer?, tolerance: tolerance?, figures, misconceptions })
    }

    fn transfer(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Transfer> {
        let id = self.id(f, "id");
        let ask = self.needed_prose(f, "ask", "what is asked", scope);
        let consider = self.needed_prose(f, "consider", "what a good answer considers", scope);
        self.finish(f);
        Some(Transfer { id: id?.0, ask: ask?, consider: consider? })
    }

    fn reveal(&self, piece: &Piece<'t>, body: &Text, scope: &Scope, predictions: &[String]) -> Option<Reveal> {
        let mut after = None;
        let mut compare = None;
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
                _ => {
                    let allowed = "after=a-prediction and compare=from,to";
                    self.push(piece.at, ProblemKind::UnknownAttribute { block: "reveal", word: word.into(), allowed });
                }
            }
        }
        if after.is_none() {
            let about = "the prediction that must be locked first: ```reveal after=its-id";
            self.push(piece.at, ProblemKind::MissingKey { block: "the reveal".into(), key: "after", about });
        }
        let text = self.prose(body, scope);
        Some(Reveal { after: after?, compare, plot: Vec::new(), text })
    }
}

/// `low..high unit`.
fn limits(text: &str) -> Option<(f64, f64, &'static Unit)> {
    let (low, rest) = text.split_once("..")?;
    let rest = rest.trim_start();
    let end = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-')).len();
    let unit = units::read(&rest[end..])?.unit;
    let (low, high): (f64, f64) = (low.trim().parse().ok()?, rest[..end].parse().ok()?);
    (low.is_finite() && high.is_finite() && low < high).then_some((low, high, unit))
}

/// `low..high step distance unit`.
fn seed_range(name: &str, text: &str) -> Option<SeedRange> {
    let (bounds, step) = text.split_once("step")?;
    let (low, high, plain) = limits(bounds)?;
    let step = step.trim();
    let end = step.len() - step.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    let unit = units::read(&step[end..])?.unit;
    let step: f64 = step[..end].parse().ok()?;
    let steps = (high - low) / step;
    // The high end must be hit, or an author would wonder where it went.
    let whole = (steps - steps.round()).abs() < 1.0e-6;
    if plain.name.is_empty() && step > 0.0 && whole && steps.round() >= 1.0 && steps.round() < f64::from(MOST_VALUES) {
        Some(SeedRange { name: name.into(), low, step, count: steps.round() as u32 + 1, unit })
    } else {
        None
    }
}

/// `3 %`, `2 kPa`, `4 points`.
fn tolerance(text: &str, measure: Option<Measure>) -> Option<Tolerance> {
    let text = text.trim();
    let end = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    let size: f64 = text[..end].parse().ok()?;
    let unit = text[end..].trim();
    if !(size.is_finite() && size > 0.0) {
        return None;
    }
    let family = measure.map(|measure| measure.unit.family);
    match unit {
        "%" if size <= 50.0 => Some(Tolerance::Share(size / 100.0)),
        "%" => None,
        "points" | "point" => (family == Some(Family::Ratio)).then_some(Tolerance::Size(size / 100.0)),
        _ => {
            let unit = units::read(unit)?.unit;
            let same = family.is_none_or(|family| family == unit.family);
            same.then(|| Tolerance::Size(unit.difference_to_si(size)))
        }
    }
}

#[cfg(test)]
mod tests;
