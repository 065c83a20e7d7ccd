//! What is locked, done, tried, hinted at and written, and the rules by which that changes.

use crate::assignment::Assignment;
use crate::cover::Cover;
use crate::lesson::{HINT_COST, Layout, Lesson, Predict, Reveal, Step, Task};
use crate::mark::{Answer, AnswerError, Mark, words_between};
use crate::paths::Quantity;
use crate::said::{self, Sentence};
use crate::seed::Seed;
use std::collections::BTreeMap;

/// Tries of one draw: after the last, the worked answer is shown; another go draws new numbers.
pub const TRIES: u32 = 2;
/// Attempts at one checkpoint of which a record is kept: the last ones.
pub const MOST_ATTEMPTS: usize = 60;

/// A locked prediction.
pub type Locked = Answer;

/// Tries at one checkpoint.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tries {
    /// Which draw of its numbers, from 0.
    pub draw: u32,
    /// Tries used up of this draw.
    pub used: u32,
    /// Best points of any draw, 0 to 1, hints taken off.
    pub best: f64,
    /// Whether this draw is over: answered right, or out of tries.
    pub over: bool,
}

/// One answer to a checkpoint.
#[derive(Debug, Clone, PartialEq)]
pub struct Attempt {
    /// Which draw of its numbers, from 0.
    pub draw: u32,
    /// What was answered; the short form of a record keeps only the last.
    pub answer: Option<Answer>,
    /// Whether it was right.
    pub right: bool,
    /// Points, 0 to 1, hints taken off.
    pub points: f64,
    /// The misconception that explains it, by its place in the file; for a choice the option.
    pub misconception: Option<usize>,
}

/// How far a learner is with one task.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TaskState {
    /// Whether it is done.
    pub done: bool,
    /// Points, 0 to 1, hints taken off.
    pub points: f64,
    /// Readings that were uncovered.
    pub bought: Vec<&'static Quantity>,
    /// How sure the learner was when it was done, in per cent.
    pub confidence: Option<u8>,
    /// Misconceptions that were met on the way, by their place in the file, rising.
    pub misconceptions: Vec<usize>,
}

/// How far a learner is in one lesson.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Progress {
    /// Whose numbers.
    pub seed: Seed,
    /// Time spent with the lesson on the page, in s.
    pub spent_s: u32,
    pub(super) locked: BTreeMap<String, Locked>,
    pub(super) tasks: BTreeMap<String, TaskState>,
    pub(super) tries: BTreeMap<String, Tries>,
    pub(super) attempts: BTreeMap<String, Vec<Attempt>>,
    pub(super) hints: BTreeMap<String, u32>,
    pub(super) words: BTreeMap<String, String>,
}

/// Why a prediction cannot be locked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LockError {
    /// A prediction stays as it was locked.
    #[error("{}", self.sentence())]
    Already,
    /// The answer is not one.
    #[error(transparent)]
    Answer(#[from] AnswerError),
}

impl LockError {
    /// The same as a template, for a page in another language.
    pub fn sentence(&self) -> Sentence {
        match self {
            LockError::Already => Sentence::new(said::LOCKED_ALREADY),
            LockError::Answer(error) => error.sentence(),
        }
    }
}

/// Points in thousandths, so that a record gives back what it was written from.
pub(super) fn thousandths(points: f64) -> f64 {
    (points.clamp(0.0, 1.0) * 1000.0).round() / 1000.0
}

impl Progress {
    /// At the beginning.
    pub fn new(seed: Seed) -> Self {
        Progress { seed, ..Progress::default() }
    }

    /// Locks a prediction for good. Errors: nothing chosen or written, locked before.
    pub fn lock(&mut self, predict: &Predict, answer: Locked) -> Result<(), LockError> {
        if self.locked.contains_key(&predict.id) {
            return Err(LockError::Already);
        }
        predict.question.accepts(&answer)?;
        self.locked.insert(predict.id.clone(), answer);
        Ok(())
    }

    /// What was predicted, once locked.
    pub fn locked(&self, predict: &str) -> Option<&Locked> {
        self.locked.get(predict)
    }

    /// Whether this reveal may be shown. Until then its text must not be on the page at all.
    pub fn shows(&self, reveal: &Reveal) -> bool {
        self.locked.contains_key(&reveal.after)
    }

    /// The steps that may be on the page: all up to the first reveal whose prediction is not locked.
    pub fn steps<'l>(&self, lesson: &'l Lesson) -> &'l [Step] {
        let waits = |step: &Step| matches!(step, Step::Reveal(reveal) if !self.shows(reveal));
        let end = lesson.steps.iter().position(waits).unwrap_or(lesson.steps.len());
        &lesson.steps[..end]
    }

    /// What holds on the bench beside the lesson's own layout: that of the stage or task called `active`, as long as the
    /// task is not done. The task comes with it.
    pub fn active<'l>(&self, lesson: &'l Lesson, active: Option<&str>) -> Option<(&'l Layout, Option<&'l Task>)> {
        let active = active?;
        match lesson.steps.iter().find(|step| step.id() == Some(active))? {
            Step::Stage(stage) => Some((&stage.layout, None)),
            Step::Task(task) if !self.is_task_done(&task.id) => Some((&task.layout, Some(task))),
            _ => None,
        }
    }

    /// What the bench keeps back now. The lesson hides until its prediction is locked. The stage or task called `active`
    /// hides until it is left or done; other open tasks hide nothing. An assignment hides all the time. What the learner
    /// has uncovered in the active task is shown.
    pub fn covers(&self, lesson: &Lesson, active: Option<&str>, assignment: Option<&Assignment>) -> Cover {
        let start = &lesson.start;
        let waits = start.hide_until.as_ref().is_some_and(|until| !self.locked.contains_key(until));
        let active = self.active(lesson, active);
        let assigned = assignment.map(|a| Layout { hide: a.hidden(), ..Layout::default() });
        let own = waits.then_some(&start.layout);
        let layouts: Vec<&Layout> = own.into_iter().chain(active.map(|(layout, _)| layout)).chain(&assigned).collect();
        let bought = active.and_then(|(_, task)| task).map_or_else(Vec::new, |task| self.task(&task.id).bought);
        Cover::of(&layouts, &bought).without_views(assignment.map_or(&[], |a| &a.hide_views))
    }

    /// Takes the next hint of a task or checkpoint, which costs points; returns how many are taken now.
    pub fn take_hint(&mut self, id: &str, of: usize) -> usize {
        let taken = self.hints.entry(id.into()).or_default();
        *taken = (*taken + 1).min(u32::try_from(of).unwrap_or(u32::MAX));
        *taken as usize
    }

    /// Hints that were taken.
    pub fn hints(&self, id: &str) -> usize {
        self.hints.get(id).map_or(0, |taken| *taken as usize)
    }

    /// What is left of points after the hints that were taken.
    fn after_hints(&self, id: &str, points: f64) -> f64 {
        thousandths(points * (1.0 - HINT_COST * self.hints(id) as f64).max(0.0))
    }

    /// Notes that a task is done.
    pub fn task_done(&mut self, task: &str) {
        let points = self.after_hints(task, 1.0);
        let state = self.tasks.entry(task.into()).or_default();
        if !state.done {
            (state.done, state.points) = (true, points);
        }
    }

    /// Notes a wrong turn on the way of a task.
    pub fn task_missed(&mut self, task: &str, misconception: usize) {
        let met = &mut self.tasks.entry(task.into()).or_default().misconceptions;
        if let Err(at) = met.binary_search(&misconception) {
            met.insert(at, misconception);
        }
    }

    /// Uncovers a reading in a task, as long as the task sells it and has one left. Returns whether it did.
    pub fn buy(&mut self, task: &Task, quantity: &'static Quantity) -> bool {
        let Some(buy) = &task.buy else { return false };
        let bought = &mut self.tasks.entry(task.id.clone()).or_default().bought;
        let may = buy.from.contains(&quantity) && !bought.contains(&quantity) && bought.len() < buy.count as usize;
        if may {
            bought.push(quantity);
        }
        may
    }

    /// Notes how sure the learner is of a task, 50 to 100 per cent.
    pub fn sure(&mut self, task: &str, percent: u8) {
        self.tasks.entry(task.into()).or_default().confidence = Some(percent.clamp(50, 100));
    }

    /// How far the learner is with a task.
    pub fn task(&self, task: &str) -> TaskState {
        self.tasks.get(task).cloned().unwrap_or_default()
    }

    /// Whether a task is done.
    pub fn is_task_done(&self, task: &str) -> bool {
        self.tasks.get(task).is_some_and(|state| state.done)
    }

    /// Tries at a checkpoint so far.
    pub fn tries(&self, checkpoint: &str) -> Tries {
        self.tries.get(checkpoint).copied().unwrap_or_default()
    }

    /// Answers to a checkpoint so far, the oldest first.
    pub fn attempts(&self, checkpoint: &str) -> &[Attempt] {
        self.attempts.get(checkpoint).map_or(&[], Vec::as_slice)
    }

    /// Notes an answer and its mark. Nothing changes once the draw is over.
    pub fn answered(&mut self, checkpoint: &str, answer: Answer, mark: &Mark) -> Tries {
        let before = self.tries(checkpoint);
        if before.over {
            return before;
        }
        let attempts = self.attempts.entry(checkpoint.into()).or_default();
        if attempts.len() == MOST_ATTEMPTS {
            attempts.remove(0);
        }
        attempts.push(Attempt {
            draw: before.draw,
            answer: Some(answer),
            right: mark.right,
            points: 0.0,
            misconception: mark.misconception,
        });
        let points = self.after_hints(checkpoint, mark.points);
        if let Some(last) = self.attempts.get_mut(checkpoint).and_then(|attempts| attempts.last_mut()) {
            last.points = points;
        }
        self.tried(checkpoint, mark.points, mark.right)
    }

    /// Notes a try that earned `points` (0 to 1, before hints) and was right or not. Nothing changes once the draw is over.
    pub fn tried(&mut self, checkpoint: &str, points: f64, right: bool) -> Tries {
        let points = self.after_hints(checkpoint, points);
        let tries = self.tries.entry(checkpoint.into()).or_default();
        if !tries.over {
            tries.used += 1;
            tries.best = tries.best.max(points);
            tries.over = right || tries.used >= TRIES;
        }
        *tries
    }

    /// Draws a checkpoint anew: new numbers, new tries; the best points stay, and so do the hints that were taken.
    pub fn draw_again(&mut self, checkpoint: &str) -> Tries {
        let tries = self.tries.entry(checkpoint.into()).or_default();
        *tries = Tries { draw: tries.draw.wrapping_add(1), used: 0, over: false, best: tries.best };
        *tries
    }

    /// Keeps the learner's own words to a transfer question. Errors: nothing written, too long.
    pub fn write(&mut self, transfer: &str, words: &str) -> Result<(), AnswerError> {
        words_between(words, 0)?;
        self.words.insert(transfer.into(), words.into());
        Ok(())
    }

    /// The learner's own words to a transfer question.
    pub fn written(&self, transfer: &str) -> Option<&str> {
        self.words.get(transfer).map(String::as_str)
    }

    /// Share of the lesson's points so far, 0 to 1: each scored checkpoint its best, each task one when done, less its hints.
    pub fn score(&self, lesson: &Lesson) -> f64 {
        let tasks = lesson.tasks().map(|task| self.tasks.get(&task.id).map_or(0.0, |state| state.points));
        let scored = lesson.checkpoints().filter(|checkpoint| checkpoint.question.is_scored());
        let points: Vec<f64> = tasks.chain(scored.map(|checkpoint| self.tries(&checkpoint.id).best)).collect();
        if points.is_empty() { 1.0 } else { points.iter().sum::<f64>() / points.len() as f64 }
    }

    /// Whether everything that is asked was tried: predictions locked, tasks done, checkpoints over.
    pub fn complete(&self, lesson: &Lesson) -> bool {
        lesson.predictions().all(|predict| self.locked.contains_key(&predict.id))
            && lesson.tasks().all(|task| self.is_task_done(&task.id))
            && lesson.checkpoints().all(|checkpoint| {
                let tries = self.tries(&checkpoint.id);
                tries.over || tries.draw > 0
            })
    }

    /// The same without what the lesson does not know any more: a record may be older than the lesson.
    pub fn fitting(mut self, lesson: &Lesson) -> Progress {
        self.locked
            .retain(|id, answer| lesson.predictions().any(|p| p.id == *id && p.question.accepts(answer).is_ok()));
        self.tasks.retain(|id, state| {
            let Some(task) = lesson.tasks().find(|task| task.id == *id) else { return false };
            state.misconceptions.retain(|i| *i < task.misconceptions.len());
            state.bought.retain(|quantity| task.buy.as_ref().is_some_and(|buy| buy.from.contains(quantity)));
            true
        });
        let known = |id: &String| lesson.checkpoints().any(|checkpoint| checkpoint.id == *id);
        self.tries.retain(|id, _| known(id));
        self.attempts.retain(|id, _| known(id));
        self.hints.retain(|id, _| known(id) || lesson.tasks().any(|task| task.id == *id));
        self.words.retain(|id, _| lesson.steps.iter().any(|step| matches!(step, Step::Transfer(t) if t.id == *id)));
        self
    }
}
