//! Marks a number by value, unit and figures, each on its own.

use super::answer::Typed;
use crate::expr;
use crate::lesson::NumberQuestion;
use crate::number::{ReadError, Written};
use crate::said::{self, Sentence};
use crate::text::Prose;
use crate::units::{self, Family, Measure, Style};
use crate::work::{Unfair, WorkError, Worked};

/// Points that a missing unit costs. Chosen.
const MISSING_UNIT: f64 = 0.2;

/// Points that too few or too many figures cost. Chosen.
pub const FIGURES: f64 = 0.1;

/// Points for the right number with a wrong unit. Chosen.
const WRONG_UNIT: f64 = 0.5;

/// Figures beyond which nobody can have read them off the bench. Chosen.
pub const MOST_FIGURES: u8 = 6;

/// Powers of ten by exponent: the same bits everywhere, which `powi` does not promise.
const POWERS: [f64; 7] = [1.0, 1.0e1, 1.0e2, 1.0e3, 1.0e4, 1.0e5, 1.0e6];

/// A share of the tolerance that rounding in between may take.
const HAIR: f64 = 1.0 + 1.0e-9;

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
    /// The value of a known misconception.
    Misconception {
        /// Which, by its place in the file.
        index: usize,
        /// What is behind it.
        because: &'l [Prose],
    },
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

/// The right number, in SI.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberKey {
    /// The answer.
    pub answer_si: f64,
    /// How far off is still right; zero for a prediction.
    pub tolerance_si: f64,
    /// The value of each misconception, in the order of the file.
    pub wrong_si: Vec<f64>,
}

impl NumberQuestion {
    /// Whether a temperature is asked for, and not a difference of two.
    pub fn is_point(&self) -> bool {
        expr::is_point(self.answer.kind())
    }

    /// The answer for this draw. Errors: a value that does not exist, a misconception within three tolerances of the answer.
    pub(super) fn key(&self, own: &Worked) -> Result<NumberKey, WorkError> {
        let env = own.env();
        let answer_si = self.answer.number(&env)?;
        let tolerance_si = self.tolerance.size_si(answer_si);
        let mut wrong_si = Vec::new();
        for wrong in &self.misconceptions {
            let value = wrong.value.number(&env)?;
            if (value - answer_si).abs() <= 3.0 * tolerance_si {
                return Err(Unfair::Near { value: wrong.value.source().into() }.into());
            }
            wrong_si.push(value);
        }
        Ok(NumberKey { answer_si, tolerance_si, wrong_si })
    }

    /// Marks a typed number. Errors: what could not be read. It is asked back and costs no try.
    pub(super) fn mark(&self, key: &NumberKey, typed: &Typed) -> Result<NumberMark<'_>, ReadError> {
        Ok(Judge { question: self, key }.mark(typed.read(self.measure)?))
    }

    /// A value in print in the unit that is asked for, with as many decimals as the tolerance needs.
    pub(super) fn in_print(&self, key: &NumberKey, style: Style) -> String {
        let places = (key.tolerance_si > 0.0).then(|| decimals(self.measure, key.tolerance_si));
        expr::in_print(key.answer_si, self.measure, self.is_point(), places, style)
    }

    /// The tolerance in print: `± 2.4 kPa`, `± 4 points`.
    pub(super) fn tolerance_in_print(&self, key: &NumberKey, style: Style) -> String {
        let bare = Measure { reference: None, ..self.measure };
        let size = bare.unit.difference_of_si(key.tolerance_si);
        let mut places = decimals(bare, key.tolerance_si);
        // 2.4 kPa must not be shown as 2 kPa; a whole 2 kPa needs no 2.0.
        if (format!("{size:.*}", usize::from(places)).parse().unwrap_or(size) - size).abs() > 0.02 * size {
            places += 1;
        }
        if bare.unit.name == "%" {
            // "± 4 %" would be read as a share of the answer.
            return format!("± {} points", units::number(size, places, style.decimal));
        }
        format!("± {}", expr::in_print(key.tolerance_si, bare, false, Some(places), style))
    }
}

/// Decimals with which a tolerance of this size shows its first figure.
fn decimals(measure: Measure, tolerance_si: f64) -> u8 {
    let size = measure.unit.difference_of_si(tolerance_si).abs();
    POWERS.iter().position(|power| size * power >= 1.0).map_or(6, |n| n as u8)
}

struct Judge<'q, 'k> {
    question: &'q NumberQuestion,
    key: &'k NumberKey,
}

impl<'l> Judge<'l, '_> {
    fn si(&self, value: f64, measure: Measure) -> f64 {
        // "A rise of 20 °C" is 20 K: a difference never takes the offset.
        if self.question.is_point() { measure.unit.to_si(value) } else { measure.unit.difference_to_si(value) }
    }

    fn right(&self, si: f64) -> bool {
        (si - self.key.answer_si).abs() <= self.key.tolerance_si * HAIR
    }

    fn mark(&self, written: Written) -> NumberMark<'l> {
        let (si, mut unit) = self.read(&written);
        let value = self.value(si, self.si(written.value, self.question.measure), written.measure);
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

    /// The value in SI, and what is to be said of its unit as it was written.
    fn read(&self, written: &Written) -> (f64, UnitMark) {
        let asked = self.question.measure;
        let as_asked = self.si(written.value, asked);
        match written.measure {
            None if asked.unit.name.is_empty() => (as_asked, UnitMark::Right),
            // A share may be written as a plain number: 0.97 for 97 %.
            None if asked.unit.family == Family::Ratio && !self.right(as_asked) && self.right(written.value) => {
                (written.value, UnitMark::Missing)
            }
            None => (as_asked, UnitMark::Missing),
            Some(given) if given.unit.family != asked.unit.family => (as_asked, UnitMark::WrongKind),
            Some(given) => {
                let differs = matches!((given.reference, asked.reference), (Some(a), Some(b)) if a != b);
                let unit = match (differs, given.unit == asked.unit) {
                    (true, _) => UnitMark::WrongReference,
                    (false, true) => UnitMark::Right,
                    (false, false) => UnitMark::Converted,
                };
                (self.si(written.value, given), unit)
            }
        }
    }

    fn value(&self, si: f64, as_asked: f64, given: Option<Measure>) -> ValueMark<'l> {
        if self.right(si) {
            return ValueMark::Right;
        }
        let near = self
            .key
            .wrong_si
            .iter()
            .zip(&self.question.misconceptions)
            .enumerate()
            .map(|(index, (wrong, misconception))| ((si - wrong).abs(), index, misconception))
            .filter(|(distance, ..)| *distance <= self.key.tolerance_si * HAIR)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, index, misconception)) = near {
            return ValueMark::Misconception { index, because: &misconception.because };
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
        ValueMark::Off { high: si > self.key.answer_si }
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
    pub fn unit_sentence(&self, question: &NumberQuestion) -> Option<Sentence> {
        let asked = question.measure;
        let given = || self.written.measure.map_or_else(|| "".into(), |measure| measure.said());
        let both = |text| Some(Sentence::new(text).with_place("given", given()).with_place("asked", asked.said()));
        match self.unit {
            UnitMark::Right => None,
            UnitMark::Converted => both(said::UNIT_CONVERTED),
            UnitMark::Missing => Some(Sentence::new(said::UNIT_MISSING).with_place("asked", asked.said())),
            UnitMark::WrongKind => {
                let kind = self.written.measure.map_or(Family::Ratio, |measure| measure.unit.family).name();
                if asked.unit.name.is_empty() {
                    return Some(Sentence::new(said::UNIT_PLAIN).with_place("given", given()).with_word("kind", kind));
                }
                both(said::UNIT_WRONG).map(|sentence| sentence.with_word("kind", kind))
            }
            UnitMark::WrongReference => both(said::UNIT_REFERENCE),
            UnitMark::NotMeant => both(said::UNIT_NOT_MEANT),
        }
    }

    /// What is said of the figures; nothing when there is nothing to say.
    pub fn figures_sentence(&self) -> Option<Sentence> {
        match self.figures {
            FiguresMark::Right => None,
            FiguresMark::TooFew { asked } => Some(Sentence::new(said::FIGURES_FEW).with("asked", asked)),
            FiguresMark::TooMany => Some(Sentence::new(said::FIGURES_MANY).with("most", MOST_FIGURES)),
        }
    }

    /// What is said of the value, unless a misconception has its own explanation.
    pub fn value_sentence(&self) -> Option<Sentence> {
        Some(match &self.value {
            ValueMark::Right => Sentence::new(said::RIGHT),
            ValueMark::Misconception { .. } => return None,
            ValueMark::RightInAskedUnit { .. } => Sentence::new(said::RIGHT_NOT_IN_UNIT),
            ValueMark::Sign => Sentence::new(said::SIGN),
            ValueMark::PowerOfTen { power } => {
                let factor = POWERS[power.unsigned_abs().min(6) as usize];
                let text = if *power > 0 { said::TEN_SMALL } else { said::TEN_LARGE };
                Sentence::new(text).with("factor", factor)
            }
            ValueMark::Off { high: true } => Sentence::new(said::TOO_HIGH),
            ValueMark::Off { high: false } => Sentence::new(said::TOO_LOW),
        })
    }
}
