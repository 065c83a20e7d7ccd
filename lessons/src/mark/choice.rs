//! Marks one of several options, or all that are true.

use super::answer::AnswerError;
use super::key::{Detail, Key, Mark};
use crate::expr::{Env, EvalError};
use crate::lesson::Choice;
use crate::work::{Unfair, WorkError, Worked};

/// The one option that the core finds right. Errors: none is, or several are.
pub(super) fn key_of_one(options: &[Choice], own: &Worked) -> Result<Key, WorkError> {
    match right_options(options, &own.env())?.as_slice() {
        [one] => Ok(Key::Choice(*one)),
        right => Err(Unfair::Options { right: right.len() }.into()),
    }
}

/// Which options the core finds right. Errors: none is.
pub(super) fn key_of_all(options: &[Choice], own: &Worked) -> Result<Key, WorkError> {
    let right = right_options(options, &own.env())?;
    if right.is_empty() {
        return Err(Unfair::NoOption.into());
    }
    Ok(Key::Choices((0..options.len()).map(|i| right.contains(&i)).collect()))
}

pub(super) fn right_options(options: &[Choice], env: &Env) -> Result<Vec<usize>, EvalError> {
    let mut right = Vec::new();
    for (i, option) in options.iter().enumerate() {
        if option.when.truth(env)? {
            right.push(i);
        }
    }
    Ok(right)
}

pub(super) fn one_of(options: &[Choice], index: usize) -> Result<(), AnswerError> {
    let options = options.len();
    if index < options { Ok(()) } else { Err(AnswerError::NoOption { options }) }
}

pub(super) fn choice_mark(options: &[Choice], key: usize, index: usize) -> Option<Mark<'_>> {
    let option = options.get(index)?;
    let right = index == key;
    Some(Mark {
        right,
        points: f64::from(u8::from(right)),
        misconception: (!right).then_some(index),
        because: vec![&option.because],
        show: option.show.as_deref(),
        detail: Detail::Choice,
    })
}

pub(super) fn choices_mark<'l>(options: &'l [Choice], key: &[bool], ticked: &[usize]) -> Mark<'l> {
    let judged: Vec<bool> = key.iter().enumerate().map(|(i, right)| ticked.contains(&i) == *right).collect();
    let good = judged.iter().filter(|right| **right).count();
    let right = good == judged.len();
    let wrong = || options.iter().zip(&judged).filter(|(_, right)| !**right).map(|(option, _)| option);
    Mark {
        right,
        points: good as f64 / judged.len().max(1) as f64,
        misconception: judged.iter().position(|right| !right),
        because: if right {
            options.iter().zip(key).filter(|(_, right)| **right).map(|(option, _)| option.because.as_slice()).collect()
        } else {
            wrong().map(|option| option.because.as_slice()).collect()
        },
        show: wrong().next().and_then(|option| option.show.as_deref()),
        detail: Detail::Choices(judged),
    }
}

/// Whether at least one option is ticked, and every ticked option exists. Errors: not so.
pub(super) fn any_of(options: &[Choice], ticked: &[usize]) -> Result<(), AnswerError> {
    let options = options.len();
    let known = !ticked.is_empty() && ticked.iter().all(|i| *i < options);
    if known { Ok(()) } else { Err(AnswerError::NoneTicked { options }) }
}
