//! What surrounds the questions: stages, the part for the teacher, layouts, hints, how the lesson begins.

use super::fields::{Fields, FileReader, Text};
use super::words::limits;
use crate::expr::Scope;
use crate::ids::{good_id, good_name};
use crate::lesson::{CLASS_MINUTES, Control, Free, Layout, Marked, PlanStep, Stage, Start, Teacher, VIEWS};
use crate::paths::{self, QUANTITIES, Quantity};
use crate::problem::ProblemKind;
use crate::text::Prose;
use crate::units::Family;

impl<'t> FileReader<'_, 't> {
    pub(super) fn stage(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Stage> {
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

    pub(super) fn teacher(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Teacher> {
        let sees = self.needed_prose(f, "sees", "what the results show the instructor", scope);
        let mut prompts = Vec::new();
        for text in self.texts(f, "prompts", "[\"Who has …?\"]") {
            prompts.extend(self.one_line(&text, "prompts", scope));
        }
        if prompts.is_empty() {
            let about = "questions for the discussion, in a list";
            self.missing(f, "prompts", about);
        }
        let plan = self.tables(f, "plan");
        let plan = plan.iter().filter_map(|step| {
            let minutes = self.count(step, "minutes", 1, CLASS_MINUTES);
            if !step.has("minutes") {
                let about = "how long it takes";
                self.missing(step, "minutes", about);
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
    pub(super) fn layout(&self, f: &Fields<'_, 't>) -> Layout {
        let free = self.texts(f, "free", "[\"vane 60..100 %\"]").iter().filter_map(|text| self.free(text)).collect();
        let hide = self.quantities(f, "hide");
        let only = self.quantities(f, "only");
        let mut views = Vec::new();
        for text in self.texts(f, "views", "[\"loop\", \"sweep\"]") {
            match VIEWS.into_iter().find(|view| *view == text.value) {
                Some(view) => views.push(view),
                None => {
                    let allowed = VIEWS.join(", ");
                    self.not_allowed(text.origin.at, "views", text.value, allowed);
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
                    let known = controls.chain(QUANTITIES.iter().map(|q| q.key.into())).collect();
                    self.no_such(text.origin.at, "control or quantity", name.into(), known);
                }
            }
        }
        Layout { free, hide, only, views, mark }
    }

    pub(super) fn quantities(&self, f: &Fields<'_, 't>, key: &'static str) -> Vec<&'static Quantity> {
        let mut all: Vec<&'static Quantity> = Vec::new();
        for text in self.texts(f, key, "[\"torque\", \"p3\"]") {
            match paths::quantity(text.value.trim()) {
                Some(quantity) => all.push(quantity),
                None => {
                    let known = QUANTITIES.iter().map(|q| q.key.into()).collect();
                    let name = text.value.clone();
                    self.no_such(text.origin.at, "quantity", name, known);
                }
            }
        }
        all
    }

    pub(super) fn hints(&self, f: &Fields<'_, 't>, scope: &Scope) -> Vec<Vec<Prose>> {
        let about = "the cause without the number";
        if f.has("hint") {
            f.allow("hints");
            return self.needed_prose(f, "hint", about, scope).into_iter().collect();
        }
        f.allow("hint");
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

    pub(super) fn start(&self, f: &Fields<'_, 't>, scope: &Scope, predictions: &[String]) -> Start {
        let engine = self.engine(f);
        let set = self.change(f, scope);
        self.complete(f, &set);
        let layout = self.layout(f);
        let until = self.text(f, "hide_until");
        match &until {
            Some(until) if !predictions.contains(&until.value) => {
                self.no_such(until.origin.at, "prediction", until.value.clone(), predictions.to_vec());
            }
            None if !layout.hide.is_empty() || !layout.only.is_empty() => {
                let about = "the prediction that shows what is hidden";
                self.missing(f, "hide_until", about);
            }
            _ => {}
        }
        let ends = self.ends(f);
        self.finish(f);
        Start { engine, set, layout, hide_until: until.map(|text| text.value), ends }
    }

    pub(super) fn free(&self, text: &Text) -> Option<Free> {
        let value = text.value.trim();
        let (word, range) = value.split_once(' ').unwrap_or((value, ""));
        let Some(control) = Control::of(word) else {
            let allowed =
                Control::ALL.map(Control::name).join(", ") + ", or one part such as parts.exhaust_pipe.bore_m";
            self.not_allowed(text.origin.at, "free", word.into(), allowed);
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
                self.not_allowed(text.origin.at, "free", value.into(), allowed);
                None
            }
        }
    }
}
