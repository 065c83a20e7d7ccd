//! Checkpoints and predictions as one learner meets them: numbers drawn, states computed, the answer known.

use super::answer::{Answer, AnswerError};
use super::key::{Key, Mark};
use crate::bench::{Bench, Solve};
use crate::expr::{Env, EvalError};
use crate::lesson::{Checkpoint, Lesson, Predict, Question, Setup};
use crate::seed;
use crate::units::Style;
use crate::work::{Draw, WorkError, Worked};

/// A checkpoint with its numbers drawn, its states computed and its answer known.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked<'l> {
    /// The checkpoint.
    pub checkpoint: &'l Checkpoint,
    /// The lesson's states and numbers with those of the checkpoint.
    pub worked: Worked,
    /// The right answer.
    pub key: Key,
    /// Draws that were thrown away because they were not fair.
    pub thrown_away: u32,
}

/// A prediction with its numbers drawn, its states computed and its answer known.
#[derive(Debug, Clone, PartialEq)]
pub struct Predicted<'l> {
    /// The prediction.
    pub predict: &'l Predict,
    /// The lesson's states and numbers with those of the prediction.
    pub worked: Worked,
    /// What the core says.
    pub key: Key,
    /// Draws that were thrown away because they were not fair.
    pub thrown_away: u32,
}

/// Draws the numbers of a block, computes its states and the answer to its question: what was worked out, the key, and how many
/// draws were thrown away.
fn draw(
    (setup, question): (&Setup, &Question),
    at: Draw<'_>,
    solver: &mut dyn Solve,
) -> Result<(Worked, Key, u32), WorkError> {
    let shuffled = |seed, count| seed::shuffle(seed, &at.lesson.id, at.block, at.number, count);
    setup.work_out(at, solver, &mut |own, _| question.key(own, |count| shuffled(own.seed, count)))
}

impl Checkpoint {
    /// Draws the numbers of this checkpoint, computes its states and its answer. A draw that is not fair is thrown away, and
    /// the next one is tried, in an order that the seed fixes. Not fair is: a state that does not end as the lesson wants it, a
    /// misconception within three tolerances of the answer, items too close, a value that does not exist. Errors: a state that
    /// cannot be set, no fair draw.
    pub fn work_out(
        &self,
        lesson: &Lesson,
        worked: &Worked,
        number: u32,
        solver: &mut dyn Solve,
    ) -> Result<Asked<'_>, WorkError> {
        let at = Draw { lesson, worked, block: &self.id, number };
        let (worked, key, thrown_away) = draw((&self.setup, &self.question), at, solver)?;
        Ok(Asked { checkpoint: self, worked, key, thrown_away })
    }
}

impl Predict {
    /// Draws the numbers of this prediction, computes its states and what the core says. Errors as for a checkpoint.
    pub fn work_out(
        &self,
        lesson: &Lesson,
        worked: &Worked,
        solver: &mut dyn Solve,
    ) -> Result<Predicted<'_>, WorkError> {
        let at = Draw { lesson, worked, block: &self.id, number: 0 };
        let (worked, key, thrown_away) = draw((&self.setup, &self.question), at, solver)?;
        Ok(Predicted { predict: self, worked, key, thrown_away })
    }
}

impl Asked<'_> {
    /// What the prose of this checkpoint sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// The right answer in print, in the unit that is asked for; only for a number.
    pub fn answer_in_print(&self, style: Style) -> Option<String> {
        let (Question::Number(question), Key::Number(key)) = (&self.checkpoint.question, &self.key) else {
            return None;
        };
        Some(question.in_print(key, style))
    }

    /// The tolerance in print, as it stands beside the field: `± 2.4 kPa`, `± 4 points`; only for a number.
    pub fn tolerance_in_print(&self, style: Style) -> Option<String> {
        let (Question::Number(question), Key::Number(key)) = (&self.checkpoint.question, &self.key) else {
            return None;
        };
        Some(question.tolerance_in_print(key, style))
    }

    /// Whether the answer can be marked as it is. Errors: what is asked back, which costs no try.
    pub fn accepts(&self, answer: &Answer) -> Result<(), AnswerError> {
        self.checkpoint.question.accepts(answer)
    }

    /// Marks any answer. Errors: what is asked back, which costs no try.
    pub fn mark(&self, answer: &Answer) -> Result<Mark<'_>, AnswerError> {
        self.checkpoint.question.mark(&self.key, answer)
    }

    /// The bench that "show it on the bench" sets for a mark.
    pub fn show(&self, mark: &Mark) -> Option<&Bench> {
        let state = mark.show.or(self.checkpoint.bench.as_deref()).unwrap_or("start");
        self.worked.bench(state)
    }

    /// The bench that "set the bench" brings.
    pub fn bench(&self) -> Option<&Bench> {
        self.worked.bench(self.checkpoint.bench.as_deref()?)
    }
}

impl Predicted<'_> {
    /// What the prose of this prediction sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// Why the learner's answer is right or wrong. A prediction has no points, but it has explanations. Nothing for own words
    /// and for an answer of another kind.
    pub fn because(&self, answer: &Answer) -> Option<Mark<'_>> {
        match (&self.predict.question, answer) {
            (Question::Words(_), _) => None,
            (Question::Number(question), Answer::Number(_)) => Some(Mark::explained(false, &question.because)),
            (question, answer) => question.mark(&self.key, answer).ok(),
        }
    }

    /// What the core says to a prediction of a number, in print; nothing for another kind.
    pub fn answer_in_print(&self, style: Style) -> Option<String> {
        let (Question::Number(question), Key::Number(key)) = (&self.predict.question, &self.key) else { return None };
        Some(question.in_print(key, style))
    }
}

impl Predict {
    /// The option that the core finds right. Nothing for another kind of prediction, or when not exactly one option is right
    /// (the checker refuses such a lesson). Errors: a state without numbers.
    pub fn right(&self, worked: &Worked) -> Result<Option<usize>, EvalError> {
        let Question::Choice(options) = &self.question else { return Ok(None) };
        let right = super::choice::right_options(options, &worked.env())?;
        Ok(if let [one] = right.as_slice() { Some(*one) } else { None })
    }
}
