//! What needs no core: parts that must be there, hints, misconceptions, explanations, numbers that are typed.

use super::finding::{Finding, FindingKind, first_words};
use crate::lesson::{CLASS_MINUTES, Checkpoint, Lesson, LoadChange, Predict, Question, Role, Step, Task, Words};
use crate::paths;
use crate::text::Inline;
use crate::units;
use std::collections::BTreeSet;

/// Misconceptions that a checkpoint with a number needs at least.
pub const LEAST_MISCONCEPTIONS: usize = 2;

/// What needs no core.
pub fn form(lesson: &Lesson) -> Vec<Finding> {
    let mut form = Form { lesson, findings: Vec::new() };
    form.all();
    form.findings
}

struct Form<'c> {
    lesson: &'c Lesson,
    findings: Vec<Finding>,
}

impl Form<'_> {
    fn add(&mut self, place: &str, kind: FindingKind) {
        self.findings.push(Finding { place: place.into(), seed: None, kind });
    }

    fn all(&mut self) {
        let lesson = self.lesson;
        let has = |test: fn(&Step) -> bool| lesson.steps.iter().any(test);
        for (there, what) in [
            (has(|step| matches!(step, Step::Predict(_))), "prediction"),
            (has(|step| matches!(step, Step::Task(_))), "task"),
            (has(|step| matches!(step, Step::Checkpoint(_))), "checkpoint"),
            (has(|step| matches!(step, Step::Safety(_))), "safety callout"),
            (has(|step| matches!(step, Step::Transfer(_))), "transfer question"),
            (lesson.teacher.is_some(), "`teacher` block with a plan of 45 minutes"),
        ] {
            if !there {
                self.add("the lesson", FindingKind::Missing { what });
            }
        }
        if let Some(teacher) = &lesson.teacher {
            let minutes = teacher.plan.iter().map(|step| step.minutes).sum();
            if minutes != CLASS_MINUTES {
                self.add("teacher", FindingKind::PlanMinutes { minutes });
            }
        }
        for step in &lesson.steps {
            match step {
                Step::Predict(predict) => self.predict(predict),
                Step::Task(task) => self.task(task),
                Step::Checkpoint(checkpoint) => self.checkpoint(checkpoint),
                _ => {}
            }
            let place = step.id().unwrap_or(step.kind());
            let because = step.words().into_iter().filter(|(role, _)| *role == Role::Because);
            let because: Vec<Words> = because.map(|(_, words)| words).collect();
            self.explanations(place, &because);
        }
        self.typed_numbers();
        self.given_away();
    }

    fn predict(&mut self, predict: &Predict) {
        let revealed = |step: &Step| matches!(step, Step::Reveal(reveal) if reveal.after == predict.id);
        if !self.lesson.steps.iter().any(revealed) {
            self.add(&predict.id, FindingKind::NoReveal);
        }
    }

    fn task(&mut self, task: &Task) {
        self.hints(&task.id, task.hints.len());
        for quantity in task.buy.iter().flat_map(|buy| &buy.from) {
            if !task.layout.hides(quantity) {
                self.add(&task.id, FindingKind::SellsShown { quantity: quantity.key });
            }
        }
    }

    fn hints(&mut self, place: &str, found: usize) {
        if found == 0 {
            self.add(place, FindingKind::NoHint { found });
        }
    }

    fn checkpoint(&mut self, checkpoint: &Checkpoint) {
        if checkpoint.question.is_scored() {
            self.hints(&checkpoint.id, checkpoint.hints.len());
        }
        let (found, block, least) = match &checkpoint.question {
            Question::Number(question) => {
                (question.misconceptions.len(), "a checkpoint with a number", LEAST_MISCONCEPTIONS)
            }
            Question::Order(question) => (question.misconceptions.len(), "an order", 1),
            Question::Sketch(question) => (question.misconceptions.len(), "a sketch", 1),
            _ => return,
        };
        if found < least {
            self.add(&checkpoint.id, FindingKind::FewMisconceptions { found, block, least });
        }
    }

    fn explanations(&mut self, place: &str, all: &[Words]) {
        for (i, because) in all.iter().enumerate() {
            if all[..i].contains(because) {
                let because = first_words(*because);
                self.add(place, FindingKind::SameExplanation { because });
            }
        }
    }

    fn typed_numbers(&mut self) {
        let mut found: Vec<(String, String)> = Vec::new();
        for (place, _, words) in self.lesson.words() {
            words.visit(&mut |inline| {
                if let Inline::Text(text) = inline {
                    found.extend(typed_quantities(text).into_iter().map(|quantity| (place.to_string(), quantity)));
                }
            });
        }
        for (place, text) in found {
            self.add(&place, FindingKind::TypedNumber { text });
        }
    }

    /// What is on the page before the hiding ends must not hold a hidden quantity.
    fn given_away(&mut self) {
        let lesson = self.lesson;
        let Some(until) = &lesson.start.hide_until else { return };
        let mut found: BTreeSet<(String, &'static str)> = BTreeSet::new();
        let layout = &lesson.start.layout;
        // What a learner has set is known, whatever else `only` leaves out.
        let held = match &lesson.start.set.load {
            Some(LoadChange::Fuel(_)) => "fuel",
            _ => "torque",
        };
        let set = |name: &str| ["speed", "vane", "p_amb", "t_amb", "humidity", held].contains(&name);
        let hides = |name: &str| {
            paths::quantity(name)
                .is_some_and(|quantity| layout.hide.contains(&quantity) || (layout.hides(quantity) && !set(name)))
        };
        for step in &lesson.steps {
            // All that follows waits for the prediction.
            if matches!(step, Step::Reveal(reveal) if reveal.after == *until) {
                break;
            }
            let place = step.id().unwrap_or(step.kind());
            for (role, words) in step.words() {
                if matches!(role, Role::Because | Role::Worked | Role::Consider) {
                    continue;
                }
                words.visit(&mut |inline| {
                    if let Inline::Value(shown) = inline {
                        let hidden = shown.expr.quantities().into_iter().filter(|name| hides(name));
                        found.extend(hidden.map(|name| (place.to_string(), name)));
                    }
                });
            }
        }
        for (place, quantity) in found {
            self.add(&place, FindingKind::GivesAway { quantity });
        }
    }
}

/// Numbers with a unit behind them, as they stand in `text`.
pub fn typed_quantities(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut previous = ' ';
    let mut skip_to = 0;
    for (at, c) in text.char_indices() {
        if at >= skip_to && c.is_ascii_digit() && !previous.is_alphanumeric() {
            let number = text[at..]
                .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')))
                .map_or(text.len(), |n| at + n);
            skip_to = number;
            let rest = text[number..].trim_start_matches([' ', '\u{a0}', '\u{202f}']);
            // "2 in three" is no length; the few inches of a lesson can be written in words as well.
            if let Some((measure, length)) = units::prefix(rest)
                && measure.unit.name != "in"
            {
                let end = text.len() - rest.len() + length;
                found.push(text[at..end].to_string());
                skip_to = end;
            }
        }
        previous = c;
    }
    found
}
