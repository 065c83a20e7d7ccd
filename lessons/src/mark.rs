//! Marks answers: predictions, tasks by the state of the bench, numbers by value, unit and figures apart.
//!
//! Every answer is computed by the core for the learner's own numbers; the file holds expressions, never results.

use crate::bench::Solve;
use crate::expr::{self, Env, EvalError};
use crate::lesson::*;
use crate::number::{self, ReadError, Written};
use crate::text::Prose;
use crate::units::{self, Decimal, Family, Measure, Style};
use volute_core::reading::{Outcome, Reading};

/// Draws that are tried before a question is given up. Chosen: a range of which half is unfair then fails once in 4e9.
const DRAWS: u32 = 32;
/// Points that a missing unit costs. Chosen.
const MISSING_UNIT: f64 = 0.2;
/// Points that too few or too many figures cost. Chosen.
const FIGURES: f64 = 0.1;
/// Points for the right number with a wrong unit. Chosen.
const WRONG_UNIT: f64 = 0.5;
/// Figures beyond which nobody can have read them off the bench. Chosen.
const MOST_FIGURES: u8 = 6;

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

/// The right answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Key {
    /// A number, all in SI.
    Number {
        /// The answer.
        answer_si: f64,
        /// How far off is still right.
        tolerance_si: f64,
        /// The value of each misconception, in the order of the file.
        wrong_si: Vec<f64>,
    },
    /// The option with this index.
    Choice(usize),
}

/// Powers of ten by exponent: the same bits everywhere, which `powi` does not promise.
const POWERS: [f64; 7] = [1.0, 1.0e1, 1.0e2, 1.0e3, 1.0e4, 1.0e5, 1.0e6];

/// A share of the tolerance that rounding in between may take.
const HAIR: f64 = 1.0 + 1.0e-9;

impl Checkpoint {
    /// Draws the numbers of this checkpoint, computes its states and its answer. A draw that is not fair (a state that does
    /// not end as the lesson wants it, a misconception within three tolerances of the answer) is thrown away for the next
    /// one, in an order that the seed fixes. Errors: a state that cannot be set, no fair draw.
    pub fn work_out(
        &self,
        lesson: &Lesson,
        worked: &Worked,
        draw: u32,
        solver: &mut dyn Solve,
    ) -> Result<Asked<'_>, WorkError> {
        let draws = if self.seeds.is_empty() { 1 } else { DRAWS };
        let mut last = Unfair::Options { right: 0 };
        for attempt in 0..draws {
            let number = draw.wrapping_mul(DRAWS).wrapping_add(attempt);
            let mut own = worked.clone();
            for range in &self.seeds {
                own.seeds.insert(range.name.clone(), range.draw_si(worked.seed, &lesson.id, &self.id, number));
            }
            let start = worked.benches.get("start").ok_or_else(|| EvalError::NotComputed { state: "start".into() })?;
            for pin in &self.pins {
                let bench = start.changed(&pin.set, &own.seeds)?;
                own.add(&pin.name, bench, solver)?;
            }
            match self.fair(&own)? {
                Ok(key) => return Ok(Asked { checkpoint: self, worked: own, key, thrown_away: attempt }),
                Err(unfair) => last = unfair,
            }
        }
        Err(WorkError::NoFairDraw { tried: draws, last })
    }

    fn fair(&self, own: &Worked) -> Result<Result<Key, Unfair>, WorkError> {
        if let Some(unfair) = self.pins.iter().find_map(|pin| own.ends(&pin.name, &pin.ends)) {
            return Ok(Err(unfair));
        }
        let env = own.env();
        match &self.kind {
            CheckpointKind::Choice(options) => {
                let right = right_options(options, &env)?;
                Ok(match right.as_slice() {
                    [one] => Ok(Key::Choice(*one)),
                    _ => Err(Unfair::Options { right: right.len() }),
                })
            }
            CheckpointKind::Number(question) => {
                let answer_si = question.answer.number(&env)?;
                let tolerance_si = question.tolerance.size_si(answer_si);
                let mut wrong_si = Vec::new();
                for wrong in &question.misconceptions {
                    let value = wrong.value.number(&env)?;
                    if (value - answer_si).abs() <= 3.0 * tolerance_si {
                        return Ok(Err(Unfair::Near { value: wrong.value.source().into() }));
                    }
                    wrong_si.push(value);
                }
                Ok(Ok(Key::Number { answer_si, tolerance_si, wrong_si }))
            }
        }
    }
}

fn right_options(options: &[Choice], env: &Env) -> Result<Vec<usize>, EvalError> {
    let mut right = Vec::new();
    for (i, option) in options.iter().enumerate() {
        if option.when.truth(env)? {
            right.push(i);
        }
    }
    Ok(right)
}

impl Worked {
    /// Why `state` does not end as wanted, if so.
    pub(crate) fn ends(&self, state: &str, wanted: &[Outcome]) -> Option<Unfair> {
        let outcome = self.readings.get(state)?.outcome;
        (!wanted.contains(&outcome)).then(|| Unfair::NotMatched { state: state.into(), outcome: outcome.name() })
    }
}

impl Predict {
    /// The option that the core finds right; nothing for a prediction in words, or when not exactly one is (the linter
    /// sees to that). Errors: a state without numbers.
    pub fn right(&self, worked: &Worked) -> Result<Option<usize>, EvalError> {
        let Prediction::Choice(options) = &self.answer else { return Ok(None) };
        let right = right_options(options, &worked.env())?;
        Ok(if let [one] = right.as_slice() { Some(*one) } else { None })
    }
}

/// How a task stands.
#[derive(Debug, Clone, PartialEq)]
pub enum TaskMark<'l> {
    /// Done.
    Done(&'l [Prose]),
    /// Not done, for a known reason.
    Misconception(&'l [Prose]),
    /// Not done yet.
    NotYet,
    /// The bench has no numbers to judge.
    NoNumbers(Outcome),
}

impl Task {
    /// Judges the bench as it stands. Errors: a state of the lesson without numbers.
    pub fn judge(&self, worked: &Worked, bench: &Reading) -> Result<TaskMark<'_>, EvalError> {
        let env = worked.env_with(bench);
        let no_numbers = |error: EvalError| match error {
            EvalError::NoNumbers { state, outcome } if state == "bench" => Ok(TaskMark::NoNumbers(outcome)),
            error => Err(error),
        };
        match self.goal.truth(&env) {
            Ok(true) => return Ok(TaskMark::Done(&self.done)),
            Ok(false) => {}
            Err(error) => return no_numbers(error),
        }
        for misconception in &self.misconceptions {
            match misconception.when.truth(&env) {
                Ok(true) => return Ok(TaskMark::Misconception(&misconception.because)),
                Ok(false) => {}
                Err(error) => return no_numbers(error),
            }
        }
        Ok(TaskMark::NotYet)
    }
}

/// How a choice was answered.
#[derive(Debug, Clone, PartialEq)]
pub struct ChoiceMark<'l> {
    /// Whether it is right.
    pub right: bool,
    /// Points, 0 or 1.
    pub points: f64,
    /// Why.
    pub because: &'l [Prose],
}

/// How a number was answered: value, unit and figures apart.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberMark<'l> {
    /// What was read.
    pub written: Written,
    /// The value.
    pub value: ValueMark<'l>,
    /// The unit.
    pub unit: UnitMark,
    /// The figures.
    pub figures: FiguresMark,
    /// Whether the checkpoint is passed: value right and unit not wrong.
    pub right: bool,
    /// Points, 0 to 1.
    pub points: f64,
}

/// What is to be said of a value.
#[derive(Debug, Clone, PartialEq)]
pub enum ValueMark<'l> {
    /// Within the tolerance.
    Right,
    /// The value of a known misconception, with its explanation.
    Misconception(&'l [Prose]),
    /// The number fits the unit that was asked for, but another of the same kind was written.
    RightInAskedUnit {
        /// What was written.
        written: Measure,
    },
    /// The right size with the wrong sign.
    Sign,
    /// Off by this power of ten: the written value times `10^power` is right.
    PowerOfTen {
        /// From -6 to 6.
        power: i32,
    },
    /// Off for no reason that is known here.
    Off {
        /// Above the answer.
        high: bool,
    },
}

/// What is to be said of a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum UnitMark {
    /// As asked, or none where none was asked.
    Right,
    /// Another unit of the same kind, converted.
    Converted,
    /// None was written.
    Missing,
    /// A unit of something else.
    WrongKind,
    /// Gauge for absolute, or the other way about.
    WrongReference,
    /// The number was meant in the unit asked for.
    NotMeant,
}

/// What is to be said of the figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FiguresMark {
    /// Enough, and not too many.
    Right,
    /// Fewer than asked for.
    TooFew {
        /// How many were asked for.
        asked: u8,
    },
    /// More than can be read off the bench.
    TooMany,
}

impl Asked<'_> {
    /// What the prose of this checkpoint sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// The right answer in print: a number in the unit asked for, or nothing for a choice.
    pub fn answer_in_print(&self, style: Style) -> Option<String> {
        match (&self.checkpoint.kind, &self.key) {
            (CheckpointKind::Number(question), Key::Number { answer_si, tolerance_si, .. }) => Some(expr::in_print(
                *answer_si,
                question.measure,
                question.is_point(),
                Some(decimals(question.measure, *tolerance_si)),
                style,
            )),
            _ => None,
        }
    }

    /// The tolerance in print: `± 2.4 kPa`, `± 4 points`. It stands beside the field.
    pub fn tolerance_in_print(&self, style: Style) -> Option<String> {
        match (&self.checkpoint.kind, &self.key) {
            (CheckpointKind::Number(question), Key::Number { tolerance_si, .. }) => {
                let bare = Measure { reference: None, ..question.measure };
                let size = bare.unit.difference_of_si(*tolerance_si);
                let mut places = decimals(bare, *tolerance_si);
                // 2.4 kPa must not be shown as 2 kPa; a whole 2 kPa needs no 2.0.
                if (format!("{size:.*}", usize::from(places)).parse().unwrap_or(size) - size).abs() > 0.02 * size {
                    places += 1;
                }
                if bare.unit.name == "%" {
                    // "± 4 %" would be read as a share of the answer.
                    return Some(format!("± {} points", units::number(size, places, style.decimal)));
                }
                Some(format!("± {}", expr::in_print(*tolerance_si, bare, false, Some(places), style)))
            }
            _ => None,
        }
    }

    /// Marks a typed number. Errors: what could not be read, which is asked back and costs no try; nothing for a choice.
    pub fn mark_number(&self, text: &str, decimal: Decimal) -> Option<Result<NumberMark<'_>, ReadError>> {
        let CheckpointKind::Number(question) = &self.checkpoint.kind else { return None };
        let Key::Number { answer_si, tolerance_si, wrong_si } = &self.key else { return None };
        let written = match number::read(text, decimal, Some(question.measure)) {
            Ok(written) => written,
            Err(error) => return Some(Err(error)),
        };
        let judge = Judge { question, answer_si: *answer_si, tolerance_si: *tolerance_si, wrong_si };
        Some(Ok(judge.mark(written)))
    }

    /// Marks a choice; nothing when it is no choice, or there is no such option.
    pub fn mark_choice(&self, index: usize) -> Option<ChoiceMark<'_>> {
        let CheckpointKind::Choice(options) = &self.checkpoint.kind else { return None };
        let Key::Choice(key) = self.key else { return None };
        let option = options.get(index)?;
        let right = index == key;
        Some(ChoiceMark { right, points: f64::from(u8::from(right)), because: &option.because })
    }
}

impl NumberQuestion {
    /// Whether a temperature is asked for, and not a difference of two.
    pub fn is_point(&self) -> bool {
        expr::is_point(self.answer.kind())
    }
}

/// Decimals with which a tolerance of this size shows its first figure.
fn decimals(measure: Measure, tolerance_si: f64) -> u8 {
    let size = measure.unit.difference_of_si(tolerance_si).abs();
    POWERS.iter().position(|power| size * power >= 1.0).map_or(6, |n| n as u8)
}

struct Judge<'l> {
    question: &'l NumberQuestion,
    answer_si: f64,
    tolerance_si: f64,
    wrong_si: &'l [f64],
}

impl<'l> Judge<'l> {
    fn si(&self, value: f64, measure: Measure) -> f64 {
        // "A rise of 20 °C" is 20 K: a difference never takes the offset.
        if self.question.is_point() { measure.unit.to_si(value) } else { measure.unit.difference_to_si(value) }
    }

    fn right(&self, si: f64) -> bool {
        (si - self.answer_si).abs() <= self.tolerance_si * HAIR
    }

    fn mark(&self, written: Written) -> NumberMark<'l> {
        let asked = self.question.measure;
        let as_asked = self.si(written.value, asked);
        let (mut si, mut unit) = match written.measure {
            None if asked.unit.name.is_empty() => (as_asked, UnitMark::Right),
            None => (as_asked, UnitMark::Missing),
            Some(given) if given.unit.family != asked.unit.family => (as_asked, UnitMark::WrongKind),
            Some(given) => {
                let differs = matches!((given.reference, asked.reference), (Some(a), Some(b)) if a != b);
                let unit = if differs {
                    UnitMark::WrongReference
                } else if given.unit == asked.unit {
                    UnitMark::Right
                } else {
                    UnitMark::Converted
                };
                (self.si(written.value, given), unit)
            }
        };
        // A share may be written plainly: 0.97 for 97 %.
        if unit == UnitMark::Missing
            && asked.unit.family == Family::Ratio
            && !self.right(si)
            && self.right(written.value)
        {
            si = written.value;
        }
        let value = self.value(si, as_asked, written.measure);
        if matches!(value, ValueMark::RightInAskedUnit { .. }) {
            unit = UnitMark::NotMeant;
        }
        let figures = self.figures(&written);
        let number_right = matches!(value, ValueMark::Right | ValueMark::RightInAskedUnit { .. });
        let unit_wrong = matches!(unit, UnitMark::WrongKind | UnitMark::WrongReference | UnitMark::NotMeant);
        let points = match (number_right, unit_wrong) {
            (false, _) => 0.0,
            (true, true) => WRONG_UNIT,
            (true, false) => {
                let unit_cost = if unit == UnitMark::Missing { MISSING_UNIT } else { 0.0 };
                let figures_cost = if figures == FiguresMark::Right { 0.0 } else { FIGURES };
                1.0 - unit_cost - figures_cost
            }
        };
        NumberMark { written, value, unit, figures, right: number_right && !unit_wrong, points }
    }

    fn value(&self, si: f64, as_asked: f64, given: Option<Measure>) -> ValueMark<'l> {
        if self.right(si) {
            return ValueMark::Right;
        }
        let near = self
            .wrong_si
            .iter()
            .zip(&self.question.misconceptions)
            .map(|(wrong, misconception)| ((si - wrong).abs(), misconception))
            .filter(|(distance, _)| *distance <= self.tolerance_si * HAIR)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, misconception)) = near {
            return ValueMark::Misconception(&misconception.because);
        }
        if let Some(written) = given
            && written.unit.family == self.question.measure.unit.family
            && self.right(as_asked)
        {
            return ValueMark::RightInAskedUnit { written };
        }
        if self.right(-si) {
            return ValueMark::Sign;
        }
        // Powers of ten say nothing about a temperature that counts from the freezing point.
        let offset = given.unwrap_or(self.question.measure).unit.offset != 0.0;
        for (power, factor) in (1..).zip(POWERS[1..].iter().filter(|_| !offset)) {
            if self.right(si * factor) {
                return ValueMark::PowerOfTen { power };
            }
            if self.right(si / factor) {
                return ValueMark::PowerOfTen { power: -power };
            }
        }
        ValueMark::Off { high: si > self.answer_si }
    }

    fn figures(&self, written: &Written) -> FiguresMark {
        let (least, most) = written.figures;
        match self.question.figures {
            Some(asked) if most < asked => FiguresMark::TooFew { asked },
            _ if least > MOST_FIGURES => FiguresMark::TooMany,
            _ => FiguresMark::Right,
        }
    }
}

impl NumberMark<'_> {
    /// What is said of the unit; nothing when there is nothing to say.
    pub fn unit_sentence(&self, question: &NumberQuestion) -> Option<String> {
        let asked = question.measure;
        let given = self.written.measure.map(|measure| measure.to_string()).unwrap_or_default();
        match self.unit {
            UnitMark::Right => None,
            UnitMark::Converted => Some(format!("Read in {given} and compared in {asked}.")),
            UnitMark::Missing => Some(format!(
                "The unit is missing. It was taken as {asked}; a number without its unit is half an answer."
            )),
            UnitMark::WrongKind => {
                let kind = self.written.measure.map_or("something else", |measure| measure.unit.family.name());
                Some(format!("{given} is the unit of {kind}; {asked} was asked for."))
            }
            UnitMark::WrongReference => Some(format!(
                "{given} was written, {asked} was asked for: they differ by the pressure of the air outside."
            )),
            UnitMark::NotMeant => Some(format!("The number fits {asked}, but {given} was written.")),
        }
    }

    /// What is said of the figures; nothing when there is nothing to say.
    pub fn figures_sentence(&self) -> Option<String> {
        match self.figures {
            FiguresMark::Right => None,
            FiguresMark::TooFew { asked } => Some(format!("Write at least {asked} significant figures.")),
            FiguresMark::TooMany => Some(format!("More than {MOST_FIGURES} figures say more than the bench can know.")),
        }
    }

    /// What is said of the value, unless a misconception has its own explanation.
    pub fn value_sentence(&self) -> Option<String> {
        match &self.value {
            ValueMark::Right => Some("Right.".into()),
            ValueMark::Misconception(_) => None,
            ValueMark::RightInAskedUnit { .. } => {
                Some("The number is right, but not in the unit that you wrote.".into())
            }
            ValueMark::Sign => Some("The size is right; the sign is the other one.".into()),
            ValueMark::PowerOfTen { power } => {
                let factor = POWERS[power.unsigned_abs().min(6) as usize];
                let size = if *power > 0 { "small" } else { "large" };
                Some(format!("The figures are right, but the value is {factor} times too {size}."))
            }
            ValueMark::Off { high: true } => Some("Too high.".into()),
            ValueMark::Off { high: false } => Some("Too low.".into()),
        }
    }
}

/// The states that a lesson's own pins must end in, and those of the start.
pub(crate) fn wanted(lesson: &Lesson) -> impl Iterator<Item = (&str, &[Outcome])> {
    let start = std::iter::once(("start", lesson.start.ends.as_slice()));
    start.chain(lesson.pins.iter().map(|pin| (pin.name.as_str(), pin.ends.as_slice())))
}

#[cfg(test)]
mod tests;
