//! What the kinds of question have in common: the key of a draw, which answers are taken, the mark of an answer.
//!
//! To add a kind of question, add it to [`Question`], [`Answer`] and [`Key`], write its file beside this one, and give it an
//! arm in each function here.

use super::answer::{Answer, AnswerError, words_between};
use super::choice::{any_of, choice_mark, choices_mark, key_of_all, key_of_one, one_of};
use super::curve::sketch_mark;
use super::key::{Detail, Key, Mark};
use super::number::ValueMark;
use super::order::order_mark;
use crate::lesson::Question;
use crate::work::{WorkError, Worked};

impl Question {
    /// The right answer for what was drawn. `shuffled` gives the numbers below a count in an order that the seed fixes. Errors:
    /// a value that does not exist, a draw that is not fair.
    pub(super) fn key(&self, own: &Worked, shuffled: impl Fn(usize) -> Vec<usize>) -> Result<Key, WorkError> {
        match self {
            Question::Number(question) => Ok(Key::Number(question.key(own)?)),
            Question::Choice(options) => key_of_one(options, own),
            Question::Choices(options) => key_of_all(options, own),
            Question::Order(question) => question.key(own, shuffled(question.items.len())),
            Question::Sketch(question) => question.key(own),
            Question::Words(_) => Ok(Key::Words),
        }
    }

    /// Whether the answer can be marked or locked as it is. Errors: what is asked back, which costs no try.
    pub fn accepts(&self, answer: &Answer) -> Result<(), AnswerError> {
        match (self, answer) {
            (Question::Number(question), Answer::Number(typed)) => Ok(typed.read(question.measure).map(|_| ())?),
            (Question::Choice(options), Answer::Choice(index)) => one_of(options, *index),
            (Question::Choices(options), Answer::Choices(ticked)) => any_of(options, ticked),
            (Question::Order(question), Answer::Order(order)) => question.accepts(order),
            (Question::Sketch(_), Answer::Sketch(_)) => Ok(()),
            (Question::Words(question), Answer::Words(words)) => words_between(words, question.at_least),
            _ => Err(AnswerError::WrongKind),
        }
    }

    /// Marks an answer. Errors: what is asked back, which costs no try.
    pub(super) fn mark(&self, key: &Key, answer: &Answer) -> Result<Mark<'_>, AnswerError> {
        self.accepts(answer)?;
        match (self, key, answer) {
            (Question::Number(question), Key::Number(key), Answer::Number(typed)) => {
                let mark = question.mark(key, typed)?;
                let misconception = match mark.value {
                    ValueMark::Misconception { index, .. } => Some(index),
                    _ => None,
                };
                let wrong = misconception.and_then(|i| question.misconceptions.get(i));
                Ok(Mark {
                    right: mark.right,
                    points: mark.points,
                    misconception,
                    because: wrong.iter().map(|wrong| wrong.because.as_slice()).collect(),
                    show: wrong.and_then(|wrong| wrong.show.as_deref()),
                    detail: Detail::Number(mark),
                })
            }
            (Question::Choice(options), Key::Choice(key), Answer::Choice(index)) => {
                choice_mark(options, *key, *index).ok_or(AnswerError::WrongKind)
            }
            (Question::Choices(options), Key::Choices(key), Answer::Choices(ticked)) => {
                Ok(choices_mark(options, key, ticked))
            }
            (Question::Order(question), Key::Order(key), Answer::Order(order)) => Ok(order_mark(question, key, order)),
            (Question::Sketch(question), Key::Sketch(key), Answer::Sketch(sketch)) => {
                Ok(sketch_mark(question, key, sketch))
            }
            (Question::Words(question), Key::Words, Answer::Words(_)) => Ok(Mark::explained(true, &question.consider)),
            _ => Err(AnswerError::WrongKind),
        }
    }
}
