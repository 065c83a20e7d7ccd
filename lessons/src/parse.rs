//! From the text of a lesson file to a [`Lesson`].
//!
//! Two passes: the first finds the blocks and which states and numbers they name, the second reads expressions and prose,
//! which may then name a pin that is declared further down.

use crate::expr::{self, Env, Expr, LogNames, OUTCOMES, Scope, ShownProblem, Type};
use crate::lesson::*;
use crate::paths::{self, QUANTITIES, Quantity, RunQuantity};
use crate::problem::{Origin, Place, Problem, ProblemKind, Problems};
use crate::seed::SeedRange;
use crate::text::{self, Inline, MARKS, Prose};
use crate::units::{self, Dim, Family, Measure, Reference, Unit};
use std::cell::RefCell;
use std::collections::BTreeMap;
use toml::de::{DeArray, DeTable, DeValue};
use volute_core::engine;
use volute_core::keys::Key;
use volute_core::reading::Outcome;
use volute_core::settings::Ambient;

/// Largest lesson file, in bytes.
pub const LARGEST: usize = 256 * 1024;
/// Most values that a drawn number can have.
const MOST_VALUES: u32 = 1_000_000;

const BLOCKS: &str = "bench, pin, sweep, run, log, stage, predict, task, checkpoint, reveal, safety, transfer, teacher";
/// Blocks whose content is prose; all others are TOML.
const PROSE_BLOCKS: [&str; 2] = ["reveal", "safety"];

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
            Some(block) if !PROSE_BLOCKS.contains(&block) => table(text, piece.body, problems),
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
        self.one_line(&text, key, scope)
    }

    fn one_line(&self, text: &Text, key: &'static str, scope: &Scope) -> Option<Vec<Inline>> {
        let mut prose = self.prose(text, scope);
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
        let course = self.needed(&f, "course", "the course it belongs to: A, B, C or capstone");
        if let Some(course) = &course
            && !COURSES.contains(&course.value.as_str())
        {
            let kind = ProblemKind::NotAllowed {
                key: "course".into(),
                word: course.value.clone(),
                allowed: COURSES.join(", "),
            };
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
        // Each kind of block that has a name has names of its own; ids are common to all that have one.
        let mut names: Vec<(&str, String, usize)> = Vec::new();
        let mut scope = Scope { states: vec!["start".to_string()], ..Scope::default() };
        scope.seeds = seeds.iter().map(|range| (range.name.clone(), range.unit)).collect();
        let mut predictions = Vec::new();
        let mut places = BTreeMap::new();
        for (piece, table) in pieces.iter().zip(tables) {
            let Some(block) = piece.block else { continue };
            places.entry(block.to_string()).or_insert_with(|| Place::of(self.text, piece.at));
            let Some(table) = table else { continue };
            let key = if NAMED.contains(&block) { "name" } else { "id" };
            let words = |key: &str| match table.get(key).map(|v| v.get_ref()) {
                Some(DeValue::String(name)) => Some(name.to_string()),
                _ => None,
            };
            let Some(name) = words(key) else { continue };
            let kind = if NAMED.contains(&block) { block } else { "id" };
            if kind == "id" {
                places.insert(name.clone(), Place::of(self.text, piece.at));
            } else {
                places.entry(name.clone()).or_insert_with(|| Place::of(self.text, piece.at));
            }
            names.push((kind, name.clone(), piece.at));
            match block {
                "pin" => scope.states.push(name),
                "predict" => predictions.push(name),
                "sweep" => {
                    let over = words("over").and_then(|over| swept(&over)).map_or(Swept::Vane, |(over, ..)| over);
                    scope.sweeps.push((name, over));
                }
                "run" => scope.runs.push(name),
                "log" => scope.logs.push(log_names(name, table)),
                _ => {}
            }
        }
        let mut seen: Vec<(&str, &str)> = vec![("pin", "start"), ("pin", LIVE)];
        for (kind, name, at) in &names {
            if seen.contains(&(kind, name)) {
                self.push(*at, ProblemKind::Twice { id: name.clone() });
            }
            seen.push((kind, name));
        }

        // Second pass: contents.
        let mut start = None;
        let mut teacher = None;
        let mut pins: Vec<(Pin, usize)> = Vec::new();
        let mut setup = Setup { seeds, ..Setup::default() };
        let mut steps = Vec::new();
        let mut scopes: BTreeMap<String, Scope> = BTreeMap::new();
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
                Some("teacher") => {
                    let Some(f) = fields("teacher block") else { continue };
                    if teacher.is_some() {
                        self.push(piece.at, ProblemKind::OnlyOnce { what: "a `teacher` block" });
                    }
                    teacher = self.teacher(&f, &scope).or(teacher);
                }
                Some("pin") => {
                    let Some(f) = fields("pin") else { continue };
                    let name = self.name(&f, "the name that expressions use, such as `closed` for `pins.closed.boost`");
                    let pin = self.pin(&f, name.clone().unwrap_or_default(), &scope);
                    if name.is_some() {
                        pins.push((pin, piece.at));
                    }
                }
                Some("sweep") => {
                    let Some(f) = fields("sweep") else { continue };
                    let name = self.name(&f, "the name that expressions use, such as `vanes` for `sweeps.vanes.p3`");
                    setup.sweeps.extend(self.sweep(&f, name.unwrap_or_default(), &scope, false));
                    self.finish(&f);
                }
                Some("run") => {
                    let Some(f) = fields("run") else { continue };
                    let name = self.name(&f, "the name that expressions use, such as `slam` for `runs.slam.torque`");
                    setup.runs.extend(self.run(&f, name.unwrap_or_default(), &scope, false));
                    self.finish(&f);
                }
                Some("log") => steps.extend(fields("log").and_then(|f| self.log(&f, &scope)).map(Step::Log)),
                Some("stage") => steps.extend(fields("stage").and_then(|f| self.stage(&f, &scope)).map(Step::Stage)),
                Some("predict") => {
                    let Some((predict, own)) = fields("prediction").and_then(|f| self.predict(&f, &scope)) else {
                        continue;
                    };
                    scopes.insert(predict.id.clone(), own);
                    steps.push(Step::Predict(predict));
                }
                Some("task") => steps.extend(fields("task").and_then(|f| self.task(&f, &scope)).map(Step::Task)),
                Some("checkpoint") => {
                    steps.extend(fields("checkpoint").and_then(|f| self.checkpoint(&f, &scope)).map(Step::Checkpoint));
                }
                Some("transfer") => {
                    steps.extend(fields("transfer").and_then(|f| self.transfer(&f, &scope)).map(Step::Transfer))
                }
                Some("reveal") => {
                    // A reveal sees what its prediction sees.
                    let after = piece.attributes.split_whitespace().find_map(|word| word.strip_prefix("after="));
                    let own = after.and_then(|after| scopes.get(after)).unwrap_or(&scope);
                    steps.extend(self.reveal(piece, &body, own, &predictions).map(Step::Reveal));
                }
                Some(_) => steps.push(Step::Safety(self.prose(&body, &scope))),
            }
        }
        setup.pins = self.in_order(pins, &["start".to_string()]);
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
            setup,
            teacher,
            steps,
            places,
        })
    }

    /// The `name` of a block that expressions refer to.
    fn name(&self, f: &Fields<'_, 't>, about: &'static str) -> Option<String> {
        let name = self.needed(f, "name", about)?;
        if good_name(&name.value) {
            return Some(name.value);
        }
        self.push(name.origin.at, ProblemKind::BadName { name: name.value });
        None
    }

    /// A state: settings, and what it starts from.
    fn pin(&self, f: &Fields<'_, 't>, name: String, scope: &Scope) -> Pin {
        let engine = self.engine(f);
        let of = self.state(f, "of", scope);
        if let (Some(_), Some(of)) = (&engine, &of) {
            let allowed = "one of them: another engine starts from nothing".into();
            let word = "engine and of together".into();
            self.push(of.origin.at, ProblemKind::NotAllowed { key: "of".into(), word, allowed });
        }
        let set = self.change(f, scope);
        if engine.is_some() {
            self.complete(f, &set);
        }
        let ends = self.ends(f);
        self.finish(f);
        Pin { name, of: of.map_or_else(|| "start".into(), |of| of.value), engine, set, ends }
    }

    /// A built-in engine by its short name.
    fn engine(&self, f: &Fields<'_, 't>) -> Option<String> {
        let engine = self.text(f, "engine")?;
        use volute_core::built_in;
        if !built_in::names().any(|name| name == engine.value) {
            let known = built_in::names().map(String::from).collect();
            let kind = ProblemKind::NoSuch { what: "built-in engine", name: engine.value.clone(), known };
            self.push(engine.origin.at, kind);
        }
        Some(engine.value)
    }

    /// Speed, load and vane position must all be given.
    fn complete(&self, f: &Fields<'_, 't>, set: &Change) {
        for (key, missing) in
            [("speed", set.speed.is_none()), ("vane", set.vane.is_none()), ("torque` or `fuel", set.load.is_none())]
        {
            if missing && !key.split("` or `").any(|key| f.table.contains_key(key)) {
                let about = "the bench needs speed, load and vane position";
                self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key, about });
            }
        }
    }

    /// The name of a state.
    fn state(&self, f: &Fields<'_, 't>, key: &'static str, scope: &Scope) -> Option<Text> {
        let name = self.text(f, key)?;
        if !scope.states.contains(&name.value) {
            let kind = ProblemKind::NoSuch { what: "pin", name: name.value.clone(), known: scope.states.clone() };
            self.push(name.origin.at, kind);
        }
        Some(name)
    }

    fn show(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<String> {
        self.state(f, "show", scope).map(|text| text.value)
    }

    /// Pins after the ones they start from. `known` are those that are there before.
    fn in_order(&self, pins: Vec<(Pin, usize)>, known: &[String]) -> Vec<Pin> {
        let mut sorted: Vec<Pin> = Vec::new();
        let mut left = pins;
        while !left.is_empty() {
            let own: Vec<String> = left.iter().map(|(pin, _)| pin.name.clone()).collect();
            let ready = |pin: &Pin| {
                known.contains(&pin.of) || sorted.iter().any(|done| done.name == pin.of) || !own.contains(&pin.of)
            };
            let (now, later): (Vec<_>, Vec<_>) =
                left.into_iter().partition(|(pin, _)| pin.engine.is_some() || ready(pin));
            if now.is_empty() {
                if let Some((_, at)) = later.first() {
                    self.push(*at, ProblemKind::Circle { names: own });
                }
                break;
            }
            sorted.extend(now.into_iter().map(|(pin, _)| pin));
            left = later;
        }
        sorted
    }

    /// Drawn numbers, pins, sweeps and runs of a block; and what the block may name. With `live`, sweeps and runs may begin
    /// from the bench as it stands; those are in the second scope only.
    fn setup(&self, f: &Fields<'_, 't>, outer: &Scope, live: bool) -> (Setup, Scope, Scope) {
        let mut setup = Setup { seeds: self.seeds(f), ..Setup::default() };
        let mut scope = outer.clone();
        for range in &setup.seeds {
            if scope.seeds.iter().any(|(name, _)| *name == range.name) {
                self.push(f.at, ProblemKind::Twice { id: range.name.clone() });
            }
            scope.seeds.push((range.name.clone(), range.unit));
        }
        let pins = self.named(f, "pins", "pin", &outer.states);
        scope.states.extend(pins.iter().map(|(name, _)| name.clone()));
        let read = pins.iter().map(|(name, inner)| (self.pin(inner, name.clone(), &scope), inner.at)).collect();
        setup.pins = self.in_order(read, &outer.states);
        let taken = |names: &[(String, Swept)]| names.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
        for (name, inner) in self.named(f, "sweeps", "sweep", &taken(&outer.sweeps)) {
            setup.sweeps.extend(self.sweep(&inner, name, &scope, live));
            self.finish(&inner);
        }
        for (name, inner) in self.named(f, "runs", "run", &outer.runs) {
            setup.runs.extend(self.run(&inner, name, &scope, live));
            self.finish(&inner);
        }
        let mut all = scope.clone();
        all.sweeps.extend(setup.sweeps.iter().map(|sweep| (sweep.name.clone(), sweep.over)));
        all.runs.extend(setup.runs.iter().map(|run| run.name.clone()));
        let still = |of: &str| of != LIVE;
        let sweeps = setup.sweeps.iter().filter(|sweep| still(&sweep.of));
        scope.sweeps.extend(sweeps.map(|sweep| (sweep.name.clone(), sweep.over)));
        scope.runs.extend(setup.runs.iter().filter(|run| still(&run.of)).map(|run| run.name.clone()));
        (setup, scope, all)
    }

    /// Tables by name: `[pins.open]`.
    fn named<'f>(
        &self,
        f: &Fields<'f, 't>,
        key: &'static str,
        what: &str,
        taken: &[String],
    ) -> Vec<(String, Fields<'f, 't>)> {
        let Some((at, _, value)) = self.get(f, key) else { return Vec::new() };
        let DeValue::Table(table) = value else {
            self.wrong(at, key, "a table", "pins.open = { vane = \"100 %\" }");
            return Vec::new();
        };
        let mut all = Vec::new();
        for (name, value) in table.iter() {
            let at = f.base + name.span().start;
            let name = name.get_ref().to_string();
            if !good_name(&name) {
                self.push(at, ProblemKind::BadName { name: name.clone() });
            }
            if taken.contains(&name) || name == "start" || name == LIVE {
                self.push(at, ProblemKind::Twice { id: name.clone() });
            }
            let DeValue::Table(table) = value.get_ref() else {
                self.wrong(at, &name, "a table of settings", "{ vane = \"80 %\" }");
                continue;
            };
            let block = format!("the {what} `{name}` of {}", f.block);
            all.push((name, Fields { table, base: f.base, source: f.source, at, block, asked: RefCell::default() }));
        }
        all
    }

    /// The state that a sweep or run begins from.
    fn beginning(&self, f: &Fields<'_, 't>, scope: &Scope, live: bool) -> Option<String> {
        let Some(of) = self.text(f, "of") else { return (!f.table.contains_key("of")).then(|| "start".into()) };
        let known = scope.states.contains(&of.value) || (live && of.value == LIVE);
        if !known {
            let mut names = scope.states.clone();
            names.extend(live.then(|| LIVE.to_string()));
            self.push(of.origin.at, ProblemKind::NoSuch { what: "state", name: of.value.clone(), known: names });
        }
        Some(of.value)
    }

    fn sweep(&self, f: &Fields<'_, 't>, name: String, scope: &Scope, live: bool) -> Option<Sweep> {
        let of = self.beginning(f, scope, live);
        let over = self.needed(f, "over", "the setting and its ends, such as \"vane 100..30 %\"").and_then(|text| {
            let read = swept(&text.value);
            if read.is_none() {
                let allowed = "vane, torque, fuel, speed, altitude or temperature with two ends and a unit, such as `vane 100..30 %`, or parts.<path> with two bare numbers in SI".into();
                let word = text.value.chars().take(60).collect();
                self.push(text.origin.at, ProblemKind::NotAllowed { key: "over".into(), word, allowed });
            }
            read
        });
        let points = self.count(f, "points", 2, 61);
        let set = match self.inner(f, "set", format!("`set` of {}", f.block)) {
            Some(inner) => {
                let set = self.change(&inner, scope);
                self.finish(&inner);
                set
            }
            None => Change::default(),
        };
        let (over, ends_si, unit) = over?;
        Some(Sweep { name, of: of?, set, over, ends_si, unit, points: points.unwrap_or(15) })
    }

    fn run(&self, f: &Fields<'_, 't>, name: String, scope: &Scope, live: bool) -> Option<Run> {
        let of = self.beginning(f, scope, live);
        let to = match self.inner(f, "to", format!("`to` of {}", f.block)) {
            Some(inner) => {
                let change = self.change(&inner, scope);
                if let Some((path, _)) = change.parts.first() {
                    let allowed = "settings: an engine's parts are fixed while it turns".into();
                    self.push(inner.at, ProblemKind::NotAllowed { key: "to".into(), word: path.clone(), allowed });
                }
                self.finish(&inner);
                Some(change)
            }
            None => {
                if !f.table.contains_key("to") {
                    let about = "what changes at time zero, such as { torque = \"1000 N m\" }";
                    self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "to", about });
                }
                None
            }
        };
        let for_s = self.needed(f, "for", "how long it is watched, such as \"3 s\"").and_then(|text| {
            let expr = self.expression(&text, &Scope::default())?;
            let si = expr.number(&Env::EMPTY).ok();
            let is_time = matches!(expr.kind(), Type::Quantity { dim, .. } if dim == Family::Time.dim());
            let Some(si) = si.filter(|_| is_time) else {
                self.expect(&text, &expr, "a time".into());
                return None;
            };
            self.range(text.origin.at, "for", si, 0.05, 10.0, "s");
            Some(si)
        });
        Some(Run { name, of: of?, to: to?, for_s: for_s? })
    }

    fn log(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Log> {
        let name = self.name(f, "the name that expressions use, such as `sheet` for `logs.sheet.p3.1`");
        let sweep = self.sweep(f, name.clone().unwrap_or_default(), scope, false);
        if !f.table.contains_key("points") {
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "points", about: "how many rows" });
        }
        let row = Scope { bench: true, logs: Vec::new(), ..scope.clone() };
        let tables = self.tables(f, "channel");
        if tables.is_empty() {
            let about = "one `[[channel]]` for each column";
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "channel", about });
        }
        let mut channels: Vec<Channel> = Vec::new();
        for table in &tables {
            let channel = self.channel(table, &row);
            self.finish(table);
            let Some(channel) = channel else { continue };
            if channels.iter().any(|known| known.name == channel.name) {
                self.push(table.at, ProblemKind::Twice { id: channel.name.clone() });
            }
            channels.push(channel);
        }
        self.finish(f);
        Some(Log { name: name?, sweep: sweep?, channels })
    }

    fn channel(&self, f: &Fields<'_, 't>, row: &Scope) -> Option<Channel> {
        let name = self.name(f, "the name that expressions use, such as `p3` for `logs.sheet.p3.1`");
        let heading = self.text(f, "heading").map(|text| text.value);
        let measure = self.unit(f, "the unit that the sheet claims, `1` for a plain number");
        let decimals = self.count(f, "decimals", 0, 6);
        // A fault may well hide behind a unit that is not true: only the dimension must fit.
        let value = self.dimension(f, "value", "what is written down, such as `p3`", row, measure);
        let noise = if f.table.contains_key("noise") {
            self.dimension(f, "noise", "one standard deviation, such as `0.5 kPa`", row, measure)
        } else {
            f.asked.borrow_mut().push("noise");
            None
        };
        let (name, measure) = (name?, measure?);
        let decimals = decimals.map_or(measure.unit.decimals, |n| n as u8);
        Some(Channel {
            heading: heading.unwrap_or_else(|| name.clone()),
            name,
            measure,
            decimals,
            value: value?,
            noise,
        })
    }

    /// An expression that has the dimension of `measure`, whatever it counts from.
    fn dimension(
        &self,
        f: &Fields<'_, 't>,
        key: &'static str,
        about: &'static str,
        scope: &Scope,
        measure: Option<Measure>,
    ) -> Option<Expr> {
        let text = self.needed(f, key, about)?;
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
    }

    fn unit(&self, f: &Fields<'_, 't>, about: &'static str) -> Option<Measure> {
        // `""` is a plain number as well: that is how a value in prose says it.
        let empty = matches!(f.table.get("unit").map(|v| v.get_ref()), Some(DeValue::String(text)) if text.is_empty());
        if empty {
            f.asked.borrow_mut().push("unit");
            return units::read("");
        }
        let text = self.needed(f, "unit", about)?;
        let name = if text.value == "1" { "" } else { text.value.as_str() };
        let measure = units::read(name);
        if measure.is_none() {
            let problem = expr::ShownProblem::UnknownUnit { unit: text.value.chars().take(30).collect() };
            self.push(text.origin.at, ProblemKind::Shown(problem));
        }
        measure
    }

    fn stage(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Stage> {
        let id = self.needed(f, "name", "the name of the stage").and_then(|text| {
            let good = good_id(&text.value) || good_name(&text.value);
            if !good {
                self.push(text.origin.at, ProblemKind::BadId { id: text.value.chars().take(70).collect() });
            }
            good.then_some(text.value)
        });
        let bench = self.state(f, "bench", scope);
        let say = self.line(f, "say", "what the button says", scope);
        let layout = self.layout(f);
        self.finish(f);
        Some(Stage { id: id?, bench: bench.map_or_else(|| "start".into(), |text| text.value), say: say?, layout })
    }

    fn teacher(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Teacher> {
        let sees = self.needed_prose(f, "sees", "what the results show the instructor", scope);
        let mut prompts = Vec::new();
        for text in self.texts(f, "prompts", "[\"Who has …?\"]") {
            prompts.extend(self.one_line(&text, "prompts", scope));
        }
        if prompts.is_empty() {
            let about = "questions for the discussion, in a list";
            self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "prompts", about });
        }
        let plan = self.tables(f, "plan");
        let plan = plan.iter().filter_map(|step| {
            let minutes = self.count(step, "minutes", 1, CLASS_MINUTES);
            if !step.table.contains_key("minutes") {
                let about = "how long it takes";
                self.push(step.at, ProblemKind::MissingKey { block: step.block.clone(), key: "minutes", about });
            }
            let act = self.line(step, "do", "what is done", scope);
            self.finish(step);
            Some(PlanStep { minutes: minutes?, act: act? })
        });
        let plan = plan.collect();
        self.finish(f);
        Some(Teacher { sees: sees?, prompts, plan })
    }

    /// What the learner may move and see.
    fn layout(&self, f: &Fields<'_, 't>) -> Layout {
        let free = self.texts(f, "free", "[\"vane 60..100 %\"]").iter().filter_map(|text| self.free(text)).collect();
        let hide = self.quantities(f, "hide");
        let only = self.quantities(f, "only");
        let mut views = Vec::new();
        for text in self.texts(f, "views", "[\"loop\", \"sweep\"]") {
            match VIEWS.into_iter().find(|view| *view == text.value) {
                Some(view) => views.push(view),
                None => {
                    let allowed = VIEWS.join(", ");
                    self.push(
                        text.origin.at,
                        ProblemKind::NotAllowed { key: "views".into(), word: text.value, allowed },
                    );
                }
            }
        }
        let mut mark = Vec::new();
        for text in self.texts(f, "mark", "[\"vane\", \"p3\"]") {
            let name = text.value.trim();
            // `vane` is both: the control is what a learner looks for.
            match (Control::of(name), paths::quantity(name)) {
                (Some(control), _) => mark.push(Marked::Control(control)),
                (None, Some(quantity)) => mark.push(Marked::Quantity(quantity)),
                (None, None) => {
                    let controls = Control::ALL.into_iter().map(Control::name);
                    let known = controls.chain(QUANTITIES.iter().map(|q| q.name.into())).collect();
                    let kind = ProblemKind::NoSuch { what: "control or quantity", name: name.into(), known };
                    self.push(text.origin.at, kind);
                }
            }
        }
        Layout { free, hide, only, views, mark }
    }

    fn quantities(&self, f: &Fields<'_, 't>, key: &'static str) -> Vec<&'static Quantity> {
        let mut all: Vec<&'static Quantity> = Vec::new();
        for text in self.texts(f, key, "[\"torque\", \"p3\"]") {
            match paths::quantity(text.value.trim()) {
                Some(quantity) => all.push(quantity),
                None => {
                    let known = QUANTITIES.iter().map(|q| q.name.into()).collect();
                    let name = text.value.clone();
                    self.push(text.origin.at, ProblemKind::NoSuch { what: "quantity", name, known });
                }
            }
        }
        all
    }

    fn hints(&self, f: &Fields<'_, 't>, scope: &Scope) -> Vec<Vec<Prose>> {
        let about = "the cause without the number";
        if f.table.contains_key("hint") {
            f.asked.borrow_mut().push("hints");
            return self.needed_prose(f, "hint", about, scope).into_iter().collect();
        }
        f.asked.borrow_mut().push("hint");
        let texts = self.texts(f, "hints", "[\"Look at the other side.\", \"Take the difference.\"]");
        let mut hints = Vec::new();
        for text in &texts {
            if text.value.trim().is_empty() {
                self.push(text.origin.at, ProblemKind::Empty { key: "hints".into(), about });
            }
            hints.push(self.prose(text, scope));
        }
        hints
    }

    fn start(&self, f: &Fields<'_, 't>, scope: &Scope, predictions: &[String]) -> Start {
        let engine = self.engine(f);
        let set = self.change(f, scope);
        self.complete(f, &set);
        let layout = self.layout(f);
        let until = self.text(f, "hide_until");
        match &until {
            Some(until) if !predictions.contains(&until.value) => {
                let kind =
                    ProblemKind::NoSuch { what: "prediction", name: until.value.clone(), known: predictions.to_vec() };
                self.push(until.origin.at, kind);
            }
            None if !layout.hide.is_empty() || !layout.only.is_empty() => {
                let about = "the prediction that shows what is hidden";
                self.push(f.at, ProblemKind::MissingKey { block: f.block.clone(), key: "hide_until", about });
            }
            _ => {}
        }
        let ends = self.ends(f);
        self.finish(f);
        Start { engine, set, layout, hide_until: until.map(|text| text.value), ends }
    }

    fn free(&self, text: &Text) -> Option<Free> {
        let value = text.value.trim();
        let (word, range) = value.split_once(' ').unwrap_or((value, ""));
        let Some(control) = Control::of(word) else {
            let allowed =
                Control::ALL.map(Control::name).join(", ") + ", or one part such as parts.exhaust_pipe.bore_m";
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
            Control::Altitude => unit.family == Family::Length,
            // Bare numbers, in the unit that the key names.
            Control::Part { .. } => unit.name.is_empty(),
            _ => false,
        });
        match parsed {
            Some((low, high, unit)) => Some(Free { control, range_si: Some((unit.to_si(low), unit.to_si(high))) }),
            None => {
                let allowed = "vane with per cent, load with a torque or a mass of fuel, speed with 1/min, altitude with m, such as `vane 60..100 %`, a part with two bare numbers in SI".into();
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
                let show = self.show(option, scope);
                self.finish(option);
                Some(Choice { text: text?, when: when?, because: because?, show })
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

    /// A prediction, and what its reveal may name.
    fn predict(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<(Predict, Scope)> {
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

    fn task(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Task> {
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

    fn checkpoint(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Checkpoint> {
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

    fn flag(&self, f: &Fields<'_, 't>, key: &'static str) -> bool {
        match self.get(f, key) {
            Some((_, _, DeValue::Boolean(flag))) => *flag,
            Some((at, ..)) => {
                self.wrong(at, key, "true or false, without quotes", "true");
                false
            }
            None => false,
        }
    }

    fn bare_number(&self, f: &Fields<'_, 't>, key: &'static str, about: &'static str) -> Option<f64> {
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

    fn order(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<OrderQuestion> {
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

    fn direction(&self, f: &Fields<'_, 't>) -> Option<Direction> {
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
    fn sort_key(&self, f: &Fields<'_, 't>, key: &'static str, first: Option<&Expr>, scope: &Scope) -> Option<Expr> {
        let text = self.needed(f, key, "the value that it is sorted by, as an expression")?;
        self.sort_expr(&text, first, scope)
    }

    fn sort_expr(&self, text: &Text, first: Option<&Expr>, scope: &Scope) -> Option<Expr> {
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

    fn order_sign(&self, m: &Fields<'_, 't>, items: &[Item], scope: &Scope) -> Option<OrderSign> {
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
    fn curve(&self, text: &Text, scope: &Scope) -> Option<CurveRef> {
        match curve_ref(text.value.trim(), scope) {
            Ok(curve) => Some(curve),
            Err(known) => {
                let name = text.value.chars().take(60).collect();
                self.push(text.origin.at, ProblemKind::NoSuch { what: "curve", name, known });
                None
            }
        }
    }

    fn sketch(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<SketchQuestion> {
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
    fn word<T: Copy>(&self, f: &Fields<'_, 't>, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(f, key)?;
        let found = words.iter().find(|(word, _)| *word == text.value).map(|(_, value)| *value);
        if found.is_none() {
            let allowed = words.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", ");
            self.push(text.origin.at, ProblemKind::NotAllowed { key: key.into(), word: text.value, allowed });
        }
        found
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

/// Courses, in their order.
pub const COURSES: [&str; 4] = ["A", "B", "C", "capstone"];

/// Blocks that are called by `name`; the others by `id`.
const NAMED: [&str; 5] = ["pin", "sweep", "run", "log", "stage"];

const SHAPES: [(&str, Shape); 6] = [
    ("rises", Shape::Rises),
    ("falls", Shape::Falls),
    ("flat", Shape::Flat),
    ("peak", Shape::Peak),
    ("trough", Shape::Trough),
    ("straight", Shape::Straight),
];

const CROSSES: [(&str, Crosses); 3] = [("never", Crosses::Never), ("early", Crosses::Early), ("late", Crosses::Late)];

/// `vane 100..30 %`: the setting, its ends in SI and in the order of the file, and their unit.
fn swept(text: &str) -> Option<(Swept, (f64, f64), &'static Unit)> {
    let (word, range) = text.trim().split_once(char::is_whitespace)?;
    let (over, family) = match word {
        "vane" => (Swept::Vane, Some(Family::Ratio)),
        "torque" => (Swept::Torque, Some(Family::Torque)),
        "fuel" => (Swept::Fuel, Some(Family::Mass)),
        "speed" => (Swept::Speed, Some(Family::Rotation)),
        "altitude" => (Swept::Altitude, Some(Family::Length)),
        "temperature" => (Swept::Temperature, Some(Family::Temperature)),
        _ => {
            let key = engine::key(word.strip_prefix("parts.")?).ok()?;
            (Swept::Part { group: key.group, name: key.name }, None)
        }
    };
    let (first, last, unit) = ends(range)?;
    let fits = family.map_or(unit == units::PLAIN, |family| unit.family == family && unit != units::PLAIN);
    let ends_si = (unit.to_si(first), unit.to_si(last));
    (fits && first != last).then_some((over, ends_si, unit))
}

/// What expressions may name of a test sheet, as far as its table can be read.
fn log_names(name: String, table: &DeTable) -> LogNames {
    let rows = match table.get("points").map(|value| value.get_ref()) {
        Some(DeValue::Integer(rows)) => rows.as_str().parse().unwrap_or(0),
        _ => 0,
    };
    let mut channels = Vec::new();
    if let Some(DeValue::Array(list)) = table.get("channel").map(|value| value.get_ref()) {
        for channel in list {
            let DeValue::Table(channel) = channel.get_ref() else { continue };
            let text = |key: &str| match channel.get(key).map(|value| value.get_ref()) {
                Some(DeValue::String(text)) => Some(text.to_string()),
                _ => None,
            };
            let unit = text("unit").and_then(|unit| units::read(if unit == "1" { "" } else { &unit }));
            if let (Some(name), Some(measure)) = (text("name"), unit) {
                let (dim, point) = (measure.unit.family.dim(), measure.unit.offset != 0.0);
                channels.push((name, Type::Quantity { dim, point, reference: measure.reference }));
            }
        }
    }
    LogNames { name, channels, rows }
}

/// The curve of a name. Errors: the names that there are.
fn curve_ref(name: &str, scope: &Scope) -> Result<CurveRef, Vec<String>> {
    let curve = |kind, of: &str, quantity| CurveRef { kind, of: of.into(), quantity };
    if let Some((of, path)) = name.strip_prefix("sweeps.").and_then(|rest| rest.split_once('.'))
        && scope.sweeps.iter().any(|(known, _)| known == of)
    {
        let quantity = paths::quantity(path).map(|quantity| quantity.name);
        return quantity
            .map(|quantity| curve(CurveKind::Sweep, of, quantity))
            .ok_or_else(|| QUANTITIES.iter().map(|q| format!("sweeps.{of}.{}", q.name)).collect());
    }
    if let Some((of, path)) = name.strip_prefix("runs.").and_then(|rest| rest.split_once('.'))
        && scope.runs.iter().any(|known| known == of)
    {
        let quantity = paths::run_quantity(path).map(|quantity| quantity.name);
        return quantity
            .map(|quantity| curve(CurveKind::Run, of, quantity))
            .ok_or_else(|| paths::RUN_QUANTITIES.iter().map(|q| format!("runs.{of}.{}", q.name)).collect());
    }
    let sweeps = scope.sweeps.iter().map(|(name, _)| format!("sweeps.{name}.…"));
    Err(sweeps.chain(scope.runs.iter().map(|name| format!("runs.{name}.…"))).collect())
}

fn curve_dim(curve: &CurveRef) -> Dim {
    match curve.kind {
        CurveKind::Sweep => paths::quantity(curve.quantity).map_or(Dim::NONE, Quantity::dim),
        CurveKind::Run => paths::run_quantity(curve.quantity).map_or(Dim::NONE, RunQuantity::dim),
    }
}

/// Whether a curve can stand over an axis in this unit.
fn curve_measure(curve: &CurveRef, measure: Measure) -> Result<(), ShownProblem> {
    let reference = match curve.kind {
        CurveKind::Sweep => paths::quantity(curve.quantity).and_then(|q| q.reference),
        CurveKind::Run => paths::run_quantity(curve.quantity).and_then(|q| q.reference),
    };
    let (dim, unit) = (curve_dim(curve), measure.unit);
    if dim != unit.family.dim() {
        let (source_text, found) = (curve.to_string(), dim.to_string());
        return Err(ShownProblem::WrongUnit { source_text, found, unit: measure.to_string() });
    }
    if unit.offset != 0.0 && !curve.is_point() {
        return Err(ShownProblem::DifferenceInDegrees { unit: unit.name });
    }
    match reference {
        Some(is) if measure.reference != Some(is) => {
            Err(ShownProblem::SayReference { source_text: curve.to_string(), unit: unit.name, is: is.name() })
        }
        _ => Ok(()),
    }
}

/// `first..last unit`, in either direction.
fn ends(text: &str) -> Option<(f64, f64, &'static Unit)> {
    let (first, rest) = text.split_once("..")?;
    let rest = rest.trim_start();
    let end = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-')).len();
    let unit = units::read(&rest[end..])?.unit;
    let (first, last): (f64, f64) = (first.trim().parse().ok()?, rest[..end].parse().ok()?);
    (first.is_finite() && last.is_finite()).then_some((first, last, unit))
}

/// `low..high unit`.
fn limits(text: &str) -> Option<(f64, f64, &'static Unit)> {
    ends(text).filter(|(low, high, _)| low < high)
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
