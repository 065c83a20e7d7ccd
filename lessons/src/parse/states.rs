//! States and what comes of them: pins, sweeps, runs, test sheets.

use super::fields::{Fields, FileReader, Text};
use super::words::swept;
use crate::curves::Swept;
use crate::expr::{self, Env, Expr, Scope, Type};
use crate::ids::good_name;
use crate::lesson::{Change, Channel, LIVE, Log, Pin, Run, Setup, Sweep};
use crate::problem::ProblemKind;
use crate::units::{self, Family, Measure};
use toml::de::DeValue;

impl<'t> FileReader<'_, 't> {
    /// The `name` of a block that expressions refer to.
    pub(super) fn name(&self, f: &Fields<'_, 't>, about: &'static str) -> Option<String> {
        let name = self.needed(f, "name", about)?;
        if good_name(&name.value) {
            return Some(name.value);
        }
        self.push(name.origin.at, ProblemKind::BadName { name: name.value });
        None
    }

    /// A state: settings, and what it starts from.
    pub(super) fn pin(&self, f: &Fields<'_, 't>, name: String, scope: &Scope) -> Pin {
        let engine = self.engine(f);
        let of = self.state(f, "of", scope);
        if let (Some(_), Some(of)) = (&engine, &of) {
            let allowed = "one of them: another engine starts from nothing".into();
            let word = "engine and of together".into();
            self.not_allowed(of.origin.at, "of", word, allowed);
        }
        let set = self.change(f, scope);
        if engine.is_some() {
            self.complete(f, &set);
        }
        let ends = self.ends(f);
        self.finish(f);
        Pin { name, of: of.map_or_else(|| "start".into(), |of| of.value), engine, set, ends }
    }

    /// The name of a state.
    pub(super) fn state(&self, f: &Fields<'_, 't>, key: &'static str, scope: &Scope) -> Option<Text> {
        let name = self.text(f, key)?;
        if !scope.states.contains(&name.value) {
            self.no_such(name.origin.at, "pin", name.value.clone(), scope.states.clone());
        }
        Some(name)
    }

    pub(super) fn show(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<String> {
        self.state(f, "show", scope).map(|text| text.value)
    }

    /// Pins after the ones they start from. `known` are those that are there before.
    pub(super) fn in_order(&self, pins: Vec<(Pin, usize)>, known: &[String]) -> Vec<Pin> {
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
    pub(super) fn setup(&self, f: &Fields<'_, 't>, outer: &Scope, live: bool) -> (Setup, Scope, Scope) {
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
    pub(super) fn named<'f>(
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
            all.push((name, f.inner(table, at, block)));
        }
        all
    }

    /// The state that a sweep or run begins from.
    pub(super) fn beginning(&self, f: &Fields<'_, 't>, scope: &Scope, live: bool) -> Option<String> {
        let Some(of) = self.text(f, "of") else { return (!f.has("of")).then(|| "start".into()) };
        let known = scope.states.contains(&of.value) || (live && of.value == LIVE);
        if !known {
            let mut names = scope.states.clone();
            names.extend(live.then(|| LIVE.to_string()));
            self.no_such(of.origin.at, "state", of.value.clone(), names);
        }
        Some(of.value)
    }

    pub(super) fn sweep(&self, f: &Fields<'_, 't>, name: String, scope: &Scope, live: bool) -> Option<Sweep> {
        let of = self.beginning(f, scope, live);
        let over = self.needed(f, "over", "the setting and its ends, such as \"vane 100..30 %\"").and_then(|text| {
            let read = swept(&text.value);
            if read.is_none() {
                let allowed = "vane, torque, fuel, speed, altitude or temperature with two ends and a unit, such as `vane 100..30 %`, or parts.<path> with two bare numbers in SI".into();
                let word = text.value.chars().take(60).collect();
                self.not_allowed(text.origin.at, "over", word, allowed);
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

    pub(super) fn run(&self, f: &Fields<'_, 't>, name: String, scope: &Scope, live: bool) -> Option<Run> {
        let of = self.beginning(f, scope, live);
        let to = match self.inner(f, "to", format!("`to` of {}", f.block)) {
            Some(inner) => {
                let change = self.change(&inner, scope);
                if let Some((path, _)) = change.parts.first() {
                    let allowed = "settings: an engine's parts are fixed while it turns".into();
                    self.not_allowed(inner.at, "to", path.clone(), allowed);
                }
                self.finish(&inner);
                Some(change)
            }
            None => {
                if !f.has("to") {
                    let about = "what changes at time zero, such as { torque = \"1000 N m\" }";
                    self.missing(f, "to", about);
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

    pub(super) fn log(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Log> {
        let name = self.name(f, "the name that expressions use, such as `sheet` for `logs.sheet.p3.1`");
        let sweep = self.sweep(f, name.clone().unwrap_or_default(), scope, false);
        if !f.has("points") {
            self.missing(f, "points", "how many rows");
        }
        let row = Scope { bench: true, logs: Vec::new(), ..scope.clone() };
        let tables = self.tables(f, "channel");
        if tables.is_empty() {
            let about = "one `[[channel]]` for each column";
            self.missing(f, "channel", about);
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

    pub(super) fn channel(&self, f: &Fields<'_, 't>, row: &Scope) -> Option<Channel> {
        let name = self.name(f, "the name that expressions use, such as `p3` for `logs.sheet.p3.1`");
        let heading = self.text(f, "heading").map(|text| text.value);
        let measure = self.unit(f, "the unit that the sheet claims, `1` for a plain number");
        let decimals = self.count(f, "decimals", 0, 6);
        // A fault may well hide behind a unit that is not true: only the dimension must fit.
        let value = self.dimension(f, "value", "what is written down, such as `p3`", row, measure);
        let noise = if f.has("noise") {
            self.dimension(f, "noise", "one standard deviation, such as `0.5 kPa`", row, measure)
        } else {
            f.allow("noise");
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
    pub(super) fn dimension(
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

    pub(super) fn unit(&self, f: &Fields<'_, 't>, about: &'static str) -> Option<Measure> {
        // `""` is a plain number as well: that is how a value in prose says it.
        let empty = matches!(f.table.get("unit").map(|v| v.get_ref()), Some(DeValue::String(text)) if text.is_empty());
        if empty {
            f.allow("unit");
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
}
