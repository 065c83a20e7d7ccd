//! A learner's progress as a line of text: `1;seed;seconds` and a record for each thing, `;` between them.
//!
//! | record | fields, `,` between them |
//! |---|---|
//! | `l` | a locked prediction: id, answer |
//! | `k` | a task: id, points in thousandths or nothing, readings bought, how sure, misconceptions met |
//! | `c` | a checkpoint: id, draw, tries used, best points, 1 if over, its attempts, its last answer |
//! | `h` | hints: id, how many |
//! | `w` | own words: id, text |
//!
//! An attempt is `draw.points.misconception.right`, attempts are parted by `+`. An answer begins with the letter of its kind.
//! Text is percent-escaped where it would be taken for a separator. A version that is not known is refused, not guessed at.

use super::record::{Attempt, MOST_ATTEMPTS, Progress, TaskState, Tries, thousandths};
use crate::escape;
use crate::mark::{Answer, Typed};
use crate::paths;
use crate::seed::Seed;
use crate::sketch::{POINTS, Sketch};
use crate::units::Decimal;
use std::fmt::Write;

/// Longest text that is read, in bytes.
const LONGEST_RECORD: usize = 1 << 20;
/// Attempts at one checkpoint in the short form. Chosen: enough to see two draws and a bit.
const SHORT_ATTEMPTS: usize = 6;
/// Longest typed number in the short form, in bytes.
const SHORT_NUMBER: usize = 24;
/// What stands for the rest of an answer that was cut short.
const CUT: char = '…';

/// Why a text is no progress.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReadProgressError {
    /// Too long.
    #[error("the record has {bytes} bytes; at most {LONGEST_RECORD} are read")]
    TooLong {
        /// How long it is.
        bytes: usize,
    },
    /// Of a later version, or none at all.
    #[error("`{found}` is no version of a record that is known here; known is 1")]
    Version {
        /// What stands there.
        found: String,
    },
    /// A record that cannot be read.
    #[error("record {number}, `{found}`, cannot be read: {expected} is expected")]
    Record {
        /// Which, from 1.
        number: usize,
        /// What stands there.
        found: String,
        /// What is expected.
        expected: &'static str,
    },
}

/// How much of an answer is written.
#[derive(Clone, Copy)]
enum Form {
    Whole,
    /// Own words up to this many bytes each, as they are escaped.
    Short(usize),
    /// Points and what is open; neither attempts nor answers, but for what was locked.
    Least,
}

impl Progress {
    /// The whole record.
    pub fn record(&self) -> String {
        self.written_as(Form::Whole)
    }

    /// The short form, for resume data: of each checkpoint the last attempts and the last answer, own words cut to `words_bytes`
    /// each, but for a sign that something was written. Nothing that counts is left out: points, tries, what is locked and done.
    pub fn short_text(&self, words_bytes: usize) -> String {
        self.written_as(Form::Short(words_bytes.max(CUT.len_utf8())))
    }

    /// What cannot be done without: points, what is locked, done and over. For one record of many lessons.
    pub fn least_text(&self) -> String {
        self.written_as(Form::Least)
    }

    fn written_as(&self, form: Form) -> String {
        let mut out = format!("1;{};{}", self.seed.0, self.spent_s);
        // Writing into a String cannot fail.
        for (id, answer) in &self.locked {
            let _ = write!(out, ";l,{id},{}", answer_text(answer, form));
        }
        for (id, state) in &self.tasks {
            let points = if state.done { whole(state.points) } else { String::new() };
            let bought = state.bought.iter().map(|quantity| quantity.key).collect::<Vec<_>>().join("+");
            let sure = state.confidence.map(|sure| sure.to_string()).unwrap_or_default();
            let met = state.misconceptions.iter().map(usize::to_string).collect::<Vec<_>>().join("+");
            let _ = write!(out, ";k,{id},{points},{bought},{sure},{met}");
        }
        for (id, tries) in &self.tries {
            let attempts = self.attempts(id);
            let first = match form {
                Form::Whole => 0,
                Form::Short(_) => attempts.len().saturating_sub(SHORT_ATTEMPTS),
                Form::Least => attempts.len(),
            };
            let shown: Vec<String> = attempts[first..]
                .iter()
                .map(|a| {
                    let wrong = a.misconception.map(|i| i.to_string()).unwrap_or_default();
                    let answer = match (form, &a.answer) {
                        (Form::Whole, Some(answer)) => format!(".{}", answer_text(answer, form)),
                        _ => String::new(),
                    };
                    format!("{}.{}.{wrong}.{}{answer}", a.draw, whole(a.points), u8::from(a.right))
                })
                .collect();
            let last = match (form, attempts.last().and_then(|a| a.answer.as_ref())) {
                (Form::Short(_), Some(answer)) => answer_text(answer, form),
                _ => String::new(),
            };
            let (draw, used, over) = (tries.draw, tries.used, u8::from(tries.over));
            let _ = write!(out, ";c,{id},{draw},{used},{},{over},{},{last}", whole(tries.best), shown.join("+"));
        }
        for (id, taken) in &self.hints {
            let _ = write!(out, ";h,{id},{taken}");
        }
        for (id, words) in self.words.iter().filter(|_| !matches!(form, Form::Least)) {
            let _ = write!(out, ";w,{id},{}", words_text(words, form));
        }
        out
    }

    /// Reads either form. Errors: what cannot be read; nothing is half read.
    pub fn read(text: &str) -> Result<Progress, ReadProgressError> {
        if text.len() > LONGEST_RECORD {
            return Err(ReadProgressError::TooLong { bytes: text.len() });
        }
        // A space at the end may be the learner's own; a line's end, which is escaped within, is not.
        let mut records = text.trim_start().trim_end_matches(['\r', '\n']).split(';');
        let version = records.next().unwrap_or("");
        if version != "1" {
            return Err(ReadProgressError::Version { found: version.chars().take(20).collect() });
        }
        let mut progress = Progress::default();
        let mut number = 1;
        let mut next = |what: &'static str| {
            number += 1;
            let found = records.next().unwrap_or("");
            let fail = ReadProgressError::Record { number, found: found.chars().take(40).collect(), expected: what };
            (found, fail)
        };
        let (found, fail) = next("a seed, a whole number");
        progress.seed = Seed(found.parse().map_err(|_| fail)?);
        let (found, fail) = next("seconds, a whole number");
        progress.spent_s = found.parse().map_err(|_| fail)?;
        for (i, record) in records.enumerate() {
            progress.take(record).map_err(|expected| ReadProgressError::Record {
                number: i + 4,
                found: record.chars().take(40).collect(),
                expected,
            })?;
        }
        Ok(progress)
    }

    fn take(&mut self, record: &str) -> Result<(), &'static str> {
        let fields: Vec<&str> = record.split(',').collect();
        let (&kind, rest) = fields.split_first().ok_or("a record")?;
        let (&id, rest) = rest.split_first().ok_or("a kind and an id")?;
        let plain = id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || matches!(b, b'_' | b'-'));
        if !plain || id.is_empty() {
            return Err("an id of small letters, digits and hyphens");
        }
        let id = id.to_string();
        match (kind, rest) {
            ("l", [answer]) => {
                self.locked.insert(id, read_answer(answer)?);
            }
            ("k", [points, bought, sure, met]) => {
                self.tasks.insert(id, read_task(points, bought, sure, met)?);
            }
            ("c", [draw, used, best, over, attempts, last]) => {
                let mut attempts = list(attempts, read_attempt)?;
                if attempts.len() > MOST_ATTEMPTS {
                    return Err("no more attempts than are kept");
                }
                if !last.is_empty() {
                    let answer = read_answer(last)?;
                    attempts.last_mut().ok_or("an attempt for the last answer")?.answer = Some(answer);
                }
                let tries = Tries {
                    draw: draw.parse().map_err(|_| "the number of the draw")?,
                    used: used.parse().map_err(|_| "the number of tries")?,
                    best: read_whole(best)?,
                    over: flag(over)?,
                };
                self.tries.insert(id.clone(), tries);
                if !attempts.is_empty() {
                    self.attempts.insert(id, attempts);
                }
            }
            ("h", [taken]) => {
                self.hints.insert(id, taken.parse().map_err(|_| "the number of hints")?);
            }
            ("w", [words]) => {
                self.words.insert(id, unescape(words)?);
            }
            _ => return Err("a record of a known kind with all its fields"),
        }
        Ok(())
    }
}

fn read_task(points: &str, bought: &str, sure: &str, met: &str) -> Result<TaskState, &'static str> {
    let confidence = |sure: &str| sure.parse().ok().filter(|sure| (50..=100).contains(sure));
    let state = TaskState {
        done: !points.is_empty(),
        points: if points.is_empty() { 0.0 } else { read_whole(points)? },
        bought: list(bought, |name| paths::quantity(name).ok_or("the name of a quantity"))?,
        confidence: match sure {
            "" => None,
            sure => Some(confidence(sure).ok_or("a confidence from 50 to 100")?),
        },
        misconceptions: list(met, index)?,
    };
    if state.misconceptions.is_sorted() { Ok(state) } else { Err("misconceptions in rising order") }
}

fn whole(points: f64) -> String {
    format!("{:.0}", points * 1000.0)
}

fn read_whole(text: &str) -> Result<f64, &'static str> {
    let points: u32 = text.parse().map_err(|_| "points in thousandths")?;
    if points <= 1000 { Ok(thousandths(f64::from(points) / 1000.0)) } else { Err("points from 0 to 1000") }
}

fn flag(text: &str) -> Result<bool, &'static str> {
    match text {
        "0" => Ok(false),
        "1" => Ok(true),
        _ => Err("0 or 1"),
    }
}

fn index(text: &str) -> Result<usize, &'static str> {
    text.parse().ok().filter(|i| *i < 1000).ok_or("a small whole number")
}

fn list<T>(text: &str, read: impl Fn(&str) -> Result<T, &'static str>) -> Result<Vec<T>, &'static str> {
    if text.is_empty() { Ok(Vec::new()) } else { text.split('+').map(read).collect() }
}

fn read_attempt(text: &str) -> Result<Attempt, &'static str> {
    let mut fields = text.splitn(5, '.');
    let mut next = || fields.next().ok_or("draw.points.misconception.right");
    let draw = next()?.parse().map_err(|_| "the number of the draw")?;
    let points = read_whole(next()?)?;
    let wrong = next()?;
    let misconception = if wrong.is_empty() { None } else { Some(index(wrong)?) };
    let right = flag(next()?)?;
    let answer = fields.next().map(read_answer).transpose()?;
    Ok(Attempt { draw, answer, right, points, misconception })
}

fn words_text(words: &str, form: Form) -> String {
    match form {
        Form::Whole => escape(words),
        Form::Short(most) => clipped(words, most),
        // A prediction in own words stays locked.
        Form::Least => clipped(words, CUT.len_utf8()),
    }
}

/// As much of `words` as takes `most` bytes when escaped.
fn clipped(words: &str, most: usize) -> String {
    let all = escape(words);
    if all.len() <= most {
        return all;
    }
    let mut out = String::new();
    for c in words.chars() {
        let piece = escape(c.encode_utf8(&mut [0; 4]));
        if out.len() + piece.len() + CUT.len_utf8() > most {
            break;
        }
        out.push_str(&piece);
    }
    if out.len() + CUT.len_utf8() <= most {
        out.push(CUT);
    }
    out
}

fn answer_text(answer: &Answer, form: Form) -> String {
    let indices = |list: &[usize]| list.iter().map(usize::to_string).collect::<Vec<_>>().join("-");
    match answer {
        Answer::Number(typed) => {
            let sign = if typed.decimal == Decimal::Comma { 'k' } else { 'n' };
            let text = match form {
                Form::Whole => escape(&typed.text),
                Form::Short(_) | Form::Least => clipped(&typed.text, SHORT_NUMBER),
            };
            format!("{sign}{text}")
        }
        Answer::Choice(i) => format!("o{i}"),
        Answer::Choices(ticked) => format!("m{}", indices(ticked)),
        Answer::Order(order) => format!("r{}", indices(order)),
        Answer::Sketch(sketch) => {
            let mut text = String::from("s");
            for step in sketch.steps() {
                let _ = write!(text, "{step:02x}");
            }
            text
        }
        Answer::Words(words) => format!("w{}", words_text(words, form)),
    }
}

fn read_answer(text: &str) -> Result<Answer, &'static str> {
    let mut chars = text.chars();
    let kind = chars.next().ok_or("an answer")?;
    let rest = chars.as_str();
    let indices = |rest: &str| -> Result<Vec<usize>, &'static str> {
        if rest.is_empty() { Ok(Vec::new()) } else { rest.split('-').map(index).collect() }
    };
    Ok(match kind {
        'n' => Answer::Number(Typed { text: unescape(rest)?, decimal: Decimal::Point }),
        'k' => Answer::Number(Typed { text: unescape(rest)?, decimal: Decimal::Comma }),
        'o' => Answer::Choice(index(rest)?),
        'm' => Answer::Choices(indices(rest)?),
        'r' => Answer::Order(indices(rest)?),
        's' => Answer::Sketch(read_sketch(rest).ok_or("a sketch of 25 heights in two hexadecimal digits each")?),
        'w' => Answer::Words(unescape(rest)?),
        _ => return Err("an answer that begins with the letter of its kind"),
    })
}

fn read_sketch(text: &str) -> Option<Sketch> {
    if text.len() != 2 * POINTS || !text.is_ascii() {
        return None;
    }
    let mut steps = [0_u8; POINTS];
    for (i, step) in steps.iter_mut().enumerate() {
        *step = u8::from_str_radix(text.get(2 * i..2 * i + 2)?, 16).ok()?;
    }
    Sketch::of_steps(steps).ok()
}

/// Escapes what would be taken for a separator, and control characters.
fn escape(text: &str) -> String {
    escape::escape(text, |c| !matches!(c, ';' | ',' | '%' | '+' | '.') && !c.is_control())
}

fn unescape(text: &str) -> Result<String, &'static str> {
    escape::unescape(text).ok_or("text in UTF-8, with two hexadecimal digits behind each %")
}
