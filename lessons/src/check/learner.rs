//! What one learner meets: every state, question, answer and text of a lesson, tried with the core.

use super::finding::{Finding, FindingKind, Met, first_words};
use super::moves::moved;
use crate::bench::{Bench, Solve};
use crate::expr::Env;
use crate::lesson::{Free, Lesson, Role, Step, Task, Words};
use crate::mark::{Standing, TaskMark};
use crate::seed::Seed;
use crate::text;
use crate::units::Style;
use crate::work::{Unfair, Visited, WorkError, Worked};
use std::collections::BTreeMap;
use volute_core::point::reading::Outcome;

/// What one learner meets.
pub fn check_seed(lesson: &Lesson, seed: Seed, solver: &mut dyn Solve) -> Met {
    let mut checker = Checker { lesson, seed, solver, met: Met::default() };
    checker.all();
    checker.met
}

struct Checker<'c> {
    lesson: &'c Lesson,
    seed: Seed,
    solver: &'c mut dyn Solve,
    met: Met,
}

impl Checker<'_> {
    fn add(&mut self, place: &str, kind: FindingKind) {
        self.met.findings.push(Finding { place: place.into(), seed: Some(self.seed), kind });
    }

    fn all(&mut self) {
        let lesson = self.lesson;
        let worked = match lesson.work_out(self.seed, &mut *self.solver) {
            Ok(worked) => worked,
            Err(error) => return self.work_error("the bench", error),
        };
        for (state, ends) in wanted(lesson) {
            if let Some(unfair) = worked.ends(state, ends) {
                self.add(state, FindingKind::Unfair(unfair));
            }
        }
        let mut known: BTreeMap<&str, Worked> = BTreeMap::new();
        for step in &lesson.steps {
            let place = step.id().unwrap_or(step.kind());
            match step {
                Step::Predict(predict) => match predict.work_out(lesson, &worked, &mut *self.solver) {
                    Ok(predicted) => {
                        self.met.thrown_away.push((predict.id.clone(), predicted.thrown_away));
                        self.words(place, &step.words(), &predicted.env());
                        known.insert(&predict.id, predicted.worked);
                    }
                    Err(error) => self.work_error(place, error),
                },
                Step::Checkpoint(checkpoint) => match checkpoint.work_out(lesson, &worked, 0, &mut *self.solver) {
                    Ok(asked) => {
                        self.met.thrown_away.push((checkpoint.id.clone(), asked.thrown_away));
                        self.words(place, &step.words(), &asked.env());
                    }
                    Err(error) => self.work_error(place, error),
                },
                Step::Task(task) => self.task(task, step, &worked),
                Step::Reveal(reveal) => {
                    // A reveal sees what its prediction sees.
                    let worked = known.get(reveal.after.as_str()).unwrap_or(&worked);
                    self.words(place, &step.words(), &worked.env());
                    for curve in &reveal.plot {
                        if let Err(error) = worked.curve(curve) {
                            self.add(place, FindingKind::Eval(error));
                        }
                    }
                }
                _ => self.words(place, &step.words(), &worked.env()),
            }
        }
    }

    fn work_error(&mut self, place: &str, error: WorkError) {
        let kind = match error {
            WorkError::Bench { state, error } => FindingKind::Bench { state, error },
            WorkError::Eval(error) => FindingKind::Eval(error),
            WorkError::Unfair(unfair) => FindingKind::Unfair(unfair),
            WorkError::NoFairDraw { last: Unfair::StartPasses, .. } => FindingKind::StartPasses,
            WorkError::NoFairDraw { tried: 1, last } => FindingKind::Unfair(last),
            WorkError::NoFairDraw { tried, last } => FindingKind::NoFairDraw { tried, last },
        };
        self.add(place, kind);
    }

    fn words(&mut self, place: &str, all: &[(Role, Words)], env: &Env) {
        for (_, words) in all {
            self.words_one(place, *words, env);
        }
    }

    fn words_one(&mut self, place: &str, words: Words, env: &Env) {
        let text = match words {
            Words::Prose(prose) => text::plain(prose, env, Style::default()).map(drop),
            Words::Line(line) => text::plain_inline(line, env, Style::default()).map(drop),
        };
        if let Err(error) = text {
            self.add(place, FindingKind::Eval(error));
        }
    }

    fn task(&mut self, task: &Task, step: &Step, worked: &Worked) {
        let set = match task.work_out(self.lesson, worked, &mut *self.solver) {
            Ok(set) => set,
            Err(error) => return self.work_error(&task.id, error),
        };
        self.met.thrown_away.push((task.id.clone(), set.thrown_away));
        let (live, plain): (Vec<_>, Vec<_>) = step.words().into_iter().partition(|(role, _)| *role == Role::Because);
        self.words(&task.id, &plain, &set.env());
        let Some(start) = set.start().cloned() else { return };
        let answer = match set.answer() {
            Ok(answer) => answer,
            Err(error) => return self.add(&task.id, FindingKind::Eval(error)),
        };
        let mut visited = Visited::default();
        let mut bench = &start;
        let mut last = None;
        for (i, next) in std::iter::once(&start).chain(&answer).enumerate() {
            if i > 0 {
                self.moves(task, bench, next);
            }
            bench = next;
            match self.solver.solve(bench) {
                Ok(reading) => {
                    visited.push(&reading);
                    last = Some(reading);
                }
                Err(error) => {
                    let state = if i == 0 { task.bench.clone() } else { "answer".into() };
                    return self.add(&task.id, FindingKind::Bench { state, error });
                }
            }
            if let (0, Some(reading)) = (i, &last) {
                // The explanations are tried on the start, where a learner is likeliest to meet them.
                let own = set.live(bench, &mut *self.solver).unwrap_or_else(|_| set.worked.clone());
                let env = Env { visited: visited.readings(), live: Some(bench), ..own.env_with(reading) };
                self.words(&task.id, &live, &env);
            }
        }
        let Some(reading) = last else { return };
        let stands = Standing { bench, reading: &reading, visited: &visited };
        let mark = set.judge(&stands, &mut *self.solver);
        let because = match mark {
            Ok(TaskMark::Done(_)) => return,
            Ok(TaskMark::Misconception { because, .. }) => Some(first_words(Words::Prose(because))),
            Ok(TaskMark::NotYet) => None,
            Ok(TaskMark::NoNumbers(outcome)) => Some(outcome.meaning().into()),
            Err(error) => return self.work_error(&task.id, error),
        };
        self.add(&task.id, FindingKind::AnswerFails { because });
    }

    /// Whether the step of an answer moves only what is free.
    fn moves(&mut self, task: &Task, from: &Bench, to: &Bench) {
        let free = task.free(self.lesson);
        for (control, value) in moved(from, to) {
            let allowed = free.iter().any(|free| free.allows(control, from, to));
            if !allowed {
                let free: Vec<String> = free.iter().map(Free::to_string).collect();
                let free = if free.is_empty() { "nothing".into() } else { free.join(", ") };
                self.add(&task.id, FindingKind::AnswerLocked { control: control.name(), value, free });
            }
        }
    }
}

/// The states that a lesson's own pins must end in, and those of the start.
fn wanted(lesson: &Lesson) -> impl Iterator<Item = (&str, &[Outcome])> {
    let start = std::iter::once(("start", lesson.start.ends.as_slice()));
    start.chain(lesson.setup.pins.iter().map(|pin| (pin.name.as_str(), pin.ends.as_slice())))
}
