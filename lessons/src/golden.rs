//! The answers of a lesson as bits: what a learner with a seed must get on every machine.

use crate::bench::Solve;
use crate::fnv;
use crate::lesson::{Lesson, Step};
use crate::mark::{Key, Set};
use crate::paths::{QUANTITIES, RUN_QUANTITIES};
use crate::seed::Seed;
use crate::work::{WorkError, Worked};
use std::fmt::Write;

/// One line for each prediction, task and checkpoint: its name, its answer in hexadecimal bits, and a digest of every number
/// that was computed for it. Errors: the lesson's own, in words, as lines of their own.
pub fn answers(lesson: &Lesson, seed: Seed, solver: &mut dyn Solve) -> String {
    let mut out = String::new();
    // Writing into a String cannot fail.
    match lesson.work_out(seed, solver) {
        Err(error) => {
            let _ = writeln!(out, "{} {} {error}", lesson.id, seed.0);
        }
        Ok(worked) => {
            let _ = writeln!(out, "{} {} {:016x}", lesson.id, seed.0, digest(&worked));
            for step in &lesson.steps {
                if let Some(line) = step_line(step, lesson, &worked, solver) {
                    let _ = writeln!(out, "  {} {line}", step.id().unwrap_or(""));
                }
            }
        }
    }
    out
}

fn step_line(step: &Step, lesson: &Lesson, worked: &Worked, solver: &mut dyn Solve) -> Option<String> {
    let line = |made: Result<(String, Worked), WorkError>| match made {
        Ok((key, own)) => format!("{key} {:016x}", digest(&own)),
        Err(error) => error.to_string(),
    };
    Some(match step {
        Step::Predict(predict) => line(predict.work_out(lesson, worked, solver).map(|p| (bits(&p.key), p.worked))),
        Step::Checkpoint(checkpoint) => {
            line(checkpoint.work_out(lesson, worked, 0, solver).map(|a| (bits(&a.key), a.worked)))
        }
        Step::Task(task) => {
            let made = task.work_out(lesson, worked, solver);
            line(made.and_then(|set| Ok((shown(&set, solver)?, set.worked))))
        }
        _ => return None,
    })
}

/// The readings of "show me", as a digest.
fn shown(set: &Set, solver: &mut dyn Solve) -> Result<String, WorkError> {
    let mut hash = Hash::new();
    for bench in set.answer()? {
        let reading = solver.solve(&bench).map_err(|error| WorkError::Bench { state: "answer".into(), error })?;
        QUANTITIES.iter().for_each(|quantity| hash.number((quantity.of)(&reading)));
        hash.text(reading.outcome.name());
    }
    Ok(format!("shown {:016x}", hash.0))
}

fn bits(key: &Key) -> String {
    let all = |values: &[f64]| values.iter().map(|v| format!("{:016x}", v.to_bits())).collect::<Vec<_>>().join(",");
    match key {
        Key::Number(key) => {
            format!("number {} {} {}", all(&[key.answer_si]), all(&[key.tolerance_si]), all(&key.wrong_si))
        }
        Key::Choice(right) => format!("choice {right}"),
        Key::Choices(right) => format!("choices {right:?}"),
        Key::Order(order) => format!("order {:?} {:?} {}", order.right, order.shown, all(&order.values_si)),
        Key::Sketch(sketch) => format!("sketch {}", all(&sketch.truth)),
        Key::Words => "words".into(),
    }
}

/// Every number that was computed, in order.
fn digest(worked: &Worked) -> u64 {
    let mut hash = Hash::new();
    for (name, value) in &worked.seeds {
        hash.text(name);
        hash.number(*value);
    }
    let sweeps = worked.sweeps.values().flat_map(|sweep| &sweep.readings);
    for reading in worked.readings.values().chain(sweeps) {
        hash.text(reading.outcome.name());
        QUANTITIES.iter().for_each(|quantity| hash.number((quantity.of)(reading)));
        reading.limits.iter().for_each(|limit| hash.number(limit.margin));
    }
    for run in worked.runs.values() {
        for sample in &run.samples {
            RUN_QUANTITIES.iter().for_each(|quantity| hash.number((quantity.of)(sample, run.p_amb_pa)));
        }
    }
    for row in worked.logs.values().flat_map(|log| &log.rows) {
        row.iter().for_each(|value| hash.number(*value));
    }
    hash.0
}

/// FNV-1a.
struct Hash(u64);

impl Hash {
    fn new() -> Self {
        Self(fnv::START)
    }

    fn bytes(&mut self, bytes: impl IntoIterator<Item = u8>) {
        self.0 = fnv::go_on(self.0, bytes);
    }

    fn number(&mut self, value: f64) {
        // One not-a-number is as good as another: machines differ in which they make.
        let value = if value.is_nan() { f64::NAN } else { value };
        self.bytes(value.to_bits().to_le_bytes());
    }

    fn text(&mut self, text: &str) {
        self.bytes(text.bytes().chain([0xff]));
    }
}
