//! Judges a task by the state of the bench.

use crate::bench::{Bench, Solve};
use crate::expr::{Env, EvalError};
use crate::lesson::{Change, Lesson, Task};
use crate::text::Prose;
use crate::work::{Draw, Unfair, Visited, WorkError, Worked};
use volute_core::point::reading::{Outcome, Reading};

/// A task with its numbers drawn and its states computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Set<'l> {
    /// The task.
    pub task: &'l Task,
    /// The lesson's states and numbers with those of the task.
    pub worked: Worked,
    /// Draws that were thrown away because they were not fair.
    pub thrown_away: u32,
}

/// How a task stands.
#[derive(Debug, Clone, PartialEq)]
pub enum TaskMark<'l> {
    /// Done.
    Done(&'l [Prose]),
    /// Not done, for a known reason.
    Misconception {
        /// Which, by its place in the file.
        index: usize,
        /// What is behind it.
        because: &'l [Prose],
    },
    /// Not done yet.
    NotYet,
    /// The bench has no numbers to judge.
    NoNumbers(Outcome),
}

/// How the bench stands when a task is judged.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    /// How it is set.
    pub bench: &'a Bench,
    /// What it reads, settled.
    pub reading: &'a Reading,
    /// Every settled state since the task's bench was set, the present one included.
    pub visited: &'a Visited,
}

impl Task {
    /// Draws the numbers of this task and computes its states. A draw whose start passes already is thrown away. Errors: a state
    /// that cannot be set, no fair draw.
    pub fn work_out(&self, lesson: &Lesson, worked: &Worked, solver: &mut dyn Solve) -> Result<Set<'_>, WorkError> {
        let at = Draw { lesson, worked, block: &self.id, number: 0 };
        let (worked, (), thrown_away) = self.setup.work_out(at, solver, &mut |own, solver| {
            let Some(start) = own.bench(&self.bench) else { return Ok(()) };
            let reading = solver.solve(start).map_err(|error| WorkError::Bench { state: self.bench.clone(), error })?;
            let mut visited = Visited::default();
            visited.push(&reading);
            let stands = Standing { bench: start, reading: &reading, visited: &visited };
            match self.judged(own, &stands, solver)? {
                TaskMark::Done(_) => Err(Unfair::StartPasses.into()),
                _ => Ok(()),
            }
        })?;
        Ok(Set { task: self, worked, thrown_away })
    }

    fn judge_in(&self, env: &Env) -> Result<TaskMark<'_>, EvalError> {
        let no_numbers = |error: EvalError| match error {
            EvalError::NoNumbers { state, outcome } if state == "bench" => Ok(TaskMark::NoNumbers(outcome)),
            // A sweep or run of the bench may lack the point that is asked for: then it is not done.
            EvalError::NoPoint { .. } => Ok(TaskMark::NotYet),
            error => Err(error),
        };
        match self.goal.truth(env) {
            Ok(true) => return Ok(TaskMark::Done(&self.done)),
            Ok(false) => {}
            Err(EvalError::NoPoint { .. }) => {}
            Err(error) => return no_numbers(error),
        }
        for (index, misconception) in self.misconceptions.iter().enumerate() {
            match misconception.when.truth(env) {
                Ok(true) => return Ok(TaskMark::Misconception { index, because: &misconception.because }),
                Ok(false) | Err(EvalError::NoPoint { .. }) => {}
                Err(error) => return no_numbers(error),
            }
        }
        Ok(TaskMark::NotYet)
    }

    fn judged(&self, worked: &Worked, stands: &Standing, solver: &mut dyn Solve) -> Result<TaskMark<'_>, WorkError> {
        let visited = stands.visited.readings();
        if self.setup.needs_live() && stands.reading.holds {
            let own = self.setup.live(worked, stands.bench, solver)?;
            return Ok(self.judge_in(&Env { visited, live: Some(stands.bench), ..own.env_with(stands.reading) })?);
        }
        Ok(self.judge_in(&Env { visited, live: Some(stands.bench), ..worked.env_with(stands.reading) })?)
    }
}

impl Set<'_> {
    /// What the prose of this task sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// The bench that the task begins from.
    pub fn start(&self) -> Option<&Bench> {
        self.worked.bench(&self.task.bench)
    }

    /// The states of "show me", in order; the last does it. Errors: a setting that is no finite number.
    pub fn answer(&self) -> Result<Vec<Bench>, EvalError> {
        let Some(start) = self.start() else { return Ok(Vec::new()) };
        let mut benches: Vec<Bench> = Vec::new();
        for change in &self.task.answer.visits {
            benches.push(benches.last().unwrap_or(start).changed(change, &self.worked.seeds)?);
        }
        if benches.is_empty() || self.task.answer.set != Change::default() {
            benches.push(benches.last().unwrap_or(start).changed(&self.task.answer.set, &self.worked.seeds)?);
        }
        Ok(benches)
    }

    /// Judges the bench as it stands; sweeps and runs of it are computed for that. Errors: a state of the lesson without
    /// numbers, a bench that cannot be set.
    pub fn judge(&self, stands: &Standing, solver: &mut dyn Solve) -> Result<TaskMark<'_>, WorkError> {
        self.task.judged(&self.worked, stands, solver)
    }

    /// What a misconception's explanation sees: the lesson's states, and the bench as it stands with its sweeps and runs.
    /// Errors: a bench that cannot be set.
    pub fn live(&self, bench: &Bench, solver: &mut dyn Solve) -> Result<Worked, WorkError> {
        self.task.setup.live(&self.worked, bench, solver)
    }

    /// The bench that shows a misconception.
    pub fn show(&self, misconception: usize) -> Option<&Bench> {
        let show = self.task.misconceptions.get(misconception)?.show.as_deref();
        self.worked.bench(show.unwrap_or(&self.task.bench))
    }
}
