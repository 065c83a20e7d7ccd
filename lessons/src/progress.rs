//! How far a learner is in one lesson: what is locked, what may be seen, which tries are left.
//!
//! A value, not a store: the page keeps it where it likes, a package writes it into its report.

use crate::lesson::{Lesson, Predict, Prediction, Reveal, Step};
use crate::paths::Quantity;
use crate::seed::Seed;
use std::collections::BTreeMap;

/// Tries of one draw: after the last, the worked answer is shown; another go draws new numbers.
pub const TRIES: u32 = 2;
/// Longest answer in a learner's own words that is kept, in bytes.
pub const LONGEST_ANSWER: usize = 2000;

/// A locked prediction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Locked {
    /// The option with this index, from 0.
    Choice(usize),
    /// The learner's own words.
    Words(String),
}

/// Tries at one checkpoint.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tries {
    /// Which draw of its numbers, from 0.
    pub draw: u32,
    /// Tries used up of this draw.
    pub used: u32,
    /// Best points of any draw, 0 to 1.
    pub best: f64,
    /// Whether this draw is over: answered right, or out of tries.
    pub over: bool,
}

/// How far a learner is in one lesson.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Progress {
    /// Whose numbers.
    pub seed: Seed,
    locked: BTreeMap<String, Locked>,
    tasks: BTreeMap<String, bool>,
    tries: BTreeMap<String, Tries>,
}

/// Why a prediction cannot be locked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LockError {
    /// A prediction stays as it was locked.
    #[error("this prediction is locked already; it stays as it is, right or wrong")]
    Already,
    /// No such option.
    #[error("choose one of the {options} options first")]
    NoOption {
        /// How many there are.
        options: usize,
    },
    /// Nothing was written.
    #[error("write a few words first; there is no wrong answer here")]
    Empty,
    /// More than is kept.
    #[error("{bytes} bytes are more than the {LONGEST_ANSWER} that are kept; shorten it a little")]
    TooLong {
        /// Length of the answer.
        bytes: usize,
    },
    /// A choice was given for words, or the other way about.
    #[error("this prediction is answered in another way")]
    WrongKind,
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
        match (&predict.answer, &answer) {
            (Prediction::Choice(options), Locked::Choice(index)) if *index >= options.len() => {
                return Err(LockError::NoOption { options: options.len() });
            }
            (Prediction::Short, Locked::Words(words)) if words.trim().is_empty() => return Err(LockError::Empty),
            (Prediction::Short, Locked::Words(words)) if words.len() > LONGEST_ANSWER => {
                return Err(LockError::TooLong { bytes: words.len() });
            }
            (Prediction::Choice(_), Locked::Choice(_)) | (Prediction::Short, Locked::Words(_)) => {}
            _ => return Err(LockError::WrongKind),
        }
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

    /// Quantities that the bench keeps back for now.
    pub fn hidden<'l>(&self, lesson: &'l Lesson) -> &'l [&'static Quantity] {
        match &lesson.start.hide_until {
            Some(until) if !self.locked.contains_key(until) => &lesson.start.hide,
            _ => &[],
        }
    }

    /// Notes that a task is done.
    pub fn task_done(&mut self, task: &str) {
        self.tasks.insert(task.into(), true);
    }

    /// Whether a task is done.
    pub fn is_task_done(&self, task: &str) -> bool {
        self.tasks.get(task).copied().unwrap_or(false)
    }

    /// Tries at a checkpoint so far.
    pub fn tries(&self, checkpoint: &str) -> Tries {
        self.tries.get(checkpoint).copied().unwrap_or_default()
    }

    /// Notes a try that earned `points` (0 to 1) and was right or not. Nothing changes once the draw is over.
    pub fn tried(&mut self, checkpoint: &str, points: f64, right: bool) -> Tries {
        let tries = self.tries.entry(checkpoint.into()).or_default();
        if !tries.over {
            tries.used += 1;
            if points > tries.best {
                tries.best = points.min(1.0);
            }
            tries.over = right || tries.used >= TRIES;
        }
        *tries
    }

    /// Draws a checkpoint anew: new numbers, new tries; the best points stay.
    pub fn draw_again(&mut self, checkpoint: &str) -> Tries {
        let tries = self.tries.entry(checkpoint.into()).or_default();
        *tries = Tries { draw: tries.draw.wrapping_add(1), used: 0, over: false, best: tries.best };
        *tries
    }

    /// Share of the lesson's points so far, 0 to 1: each checkpoint its best, each task one when done.
    pub fn score(&self, lesson: &Lesson) -> f64 {
        let tasks = lesson.tasks().map(|task| f64::from(u8::from(self.is_task_done(&task.id))));
        let checkpoints = lesson.checkpoints().map(|checkpoint| self.tries(&checkpoint.id).best);
        let points: Vec<f64> = tasks.chain(checkpoints).collect();
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalog::catalog;

    #[test]
    fn by_hand_a_prediction_is_locked_once_and_opens_its_reveal() {
        let lesson = &catalog().lessons[0];
        let predict = lesson.predictions().next().unwrap();
        let reveal = lesson
            .steps
            .iter()
            .find_map(|s| if let crate::lesson::Step::Reveal(r) = s { Some(r) } else { None })
            .unwrap();
        let mut progress = Progress::new(Seed(1));
        assert!(!progress.shows(reveal));
        assert!(progress.steps(lesson).iter().any(|step| matches!(step, Step::Predict(_))));
        assert!(!progress.steps(lesson).iter().any(|step| matches!(step, Step::Reveal(_) | Step::Checkpoint(_))));
        assert!(!progress.hidden(lesson).is_empty());
        assert_eq!(progress.lock(predict, Locked::Choice(99)), Err(LockError::NoOption { options: 4 }));
        assert_eq!(progress.lock(predict, Locked::Words("up".into())), Err(LockError::WrongKind));
        assert_eq!(progress.lock(predict, Locked::Choice(0)), Ok(()));
        assert_eq!(progress.lock(predict, Locked::Choice(3)), Err(LockError::Already));
        assert_eq!(progress.locked(&predict.id), Some(&Locked::Choice(0)));
        assert!(progress.shows(reveal));
        assert_eq!(progress.steps(lesson).len(), lesson.steps.len());
        assert!(progress.hidden(lesson).is_empty());
    }

    #[test]
    fn by_hand_two_tries_then_over_then_a_new_draw_keeps_the_best() {
        let mut progress = Progress::new(Seed(1));
        assert!(!progress.tried("c", 0.2, false).over);
        assert!(progress.tried("c", 0.1, false).over);
        assert_eq!(progress.tried("c", 1.0, true), Tries { draw: 0, used: 2, best: 0.2, over: true });
        assert_eq!(progress.draw_again("c"), Tries { draw: 1, used: 0, best: 0.2, over: false });
        assert_eq!(progress.tried("c", 0.9, true), Tries { draw: 1, used: 1, best: 0.9, over: true });
    }
}
