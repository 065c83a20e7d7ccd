//! What a learner answers, and why an answer is not taken.

use crate::number::{self, ReadError, Written};
use crate::said::{self, Sentence};
use crate::sketch::Sketch;
use crate::units::{Decimal, Measure};

/// Longest answer in a learner's own words that is kept, in bytes.
pub const LONGEST_ANSWER: usize = 2000;

/// What a learner answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// A number, as it was typed.
    Number(Typed),
    /// The option with this index, from 0.
    Choice(usize),
    /// The options that are ticked, by index, rising.
    Choices(Vec<usize>),
    /// Items by their place in the file, in the learner's order.
    Order(Vec<usize>),
    /// A curve.
    Sketch(Sketch),
    /// The learner's own words.
    Words(String),
}

/// A typed number, and how its writer separates decimals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed {
    /// As it was typed.
    pub text: String,
    /// The decimal sign of the page at that moment.
    pub decimal: Decimal,
}

impl Typed {
    /// Reads it. Errors: what is asked back.
    pub fn read(&self, asked: Measure) -> Result<Written, ReadError> {
        number::read(&self.text, self.decimal, Some(asked))
    }
}

/// Why an answer is not taken: said to the learner, costs no try.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AnswerError {
    /// Not read as a number.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// Nothing chosen, or no such option.
    #[error("{}", self.sentence())]
    NoOption {
        /// How many there are.
        options: usize,
    },
    /// Nothing ticked, or no such option.
    #[error("{}", self.sentence())]
    NoneTicked {
        /// How many there are.
        options: usize,
    },
    /// Not every item once.
    #[error("{}", self.sentence())]
    NotAllItems {
        /// How many there are.
        items: usize,
    },
    /// Nothing was written.
    #[error("{}", self.sentence())]
    Empty,
    /// Less than is asked for.
    #[error("{}", self.sentence())]
    TooShort {
        /// Characters that were written.
        written: usize,
        /// Characters that are asked for.
        at_least: u32,
    },
    /// More than is kept.
    #[error("{}", self.sentence())]
    TooLong {
        /// Length of the answer.
        bytes: usize,
    },
    /// The answer to another kind of question.
    #[error("{}", self.sentence())]
    WrongKind,
}

impl AnswerError {
    /// The same as a template, for a page in another language.
    pub fn sentence(&self) -> Sentence {
        match self {
            AnswerError::Read(error) => error.sentence(),
            AnswerError::NoOption { options } => Sentence::new(said::CHOOSE_ONE).with("options", options),
            AnswerError::NoneTicked { options } => Sentence::new(said::TICK_ONE).with("options", options),
            AnswerError::NotAllItems { items } => Sentence::new(said::ORDER_ALL).with("items", items),
            AnswerError::Empty => Sentence::new(said::WORDS_EMPTY),
            AnswerError::TooShort { written, at_least } => {
                Sentence::new(said::WORDS_SHORT).with("written", written).with("at_least", at_least)
            }
            AnswerError::TooLong { bytes } => {
                Sentence::new(said::WORDS_LONG).with("bytes", bytes).with("most", LONGEST_ANSWER)
            }
            AnswerError::WrongKind => Sentence::new(said::WRONG_KIND),
        }
    }
}

/// Whether own words are long enough and not too long to keep. Errors: they are not.
pub(crate) fn words_between(words: &str, at_least: u32) -> Result<(), AnswerError> {
    let written = words.trim().chars().count();
    if written == 0 {
        return Err(AnswerError::Empty);
    }
    if written < at_least as usize {
        return Err(AnswerError::TooShort { written, at_least });
    }
    if words.len() > LONGEST_ANSWER {
        return Err(AnswerError::TooLong { bytes: words.len() });
    }
    Ok(())
}
