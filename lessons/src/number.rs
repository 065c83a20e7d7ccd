//! Reads a number with its unit as people type it: decimal point or comma, thousands apart by thin spaces, powers of ten,
//! true minus; and asks back where two readings are possible.

use crate::said::{self, Sentence};
use crate::units::{self, Decimal, Measure};

/// Longest answer that is read, in bytes.
pub const LONGEST: usize = 100;

/// A number that somebody wrote.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The number as it stands, before its unit.
    pub value: f64,
    /// The unit, if one was written.
    pub measure: Option<Measure>,
    /// Significant figures, least and most: the zeros at the end of 1850 may or may not be meant.
    pub figures: (u8, u8),
}

/// Why an answer was not read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReadError {
    /// Nothing was written.
    #[error("{}", self.sentence())]
    Empty,
    /// Too long for any number.
    #[error("{}", self.sentence())]
    TooLong {
        /// Length in bytes.
        bytes: usize,
    },
    /// No number at the beginning.
    #[error("{}", self.sentence())]
    NotANumber {
        /// What was written.
        text: String,
    },
    /// Could be a decimal fraction or thousands.
    #[error("{}", self.sentence())]
    Ambiguous {
        /// What was written.
        text: String,
        /// How to write it as a decimal fraction.
        decimal: String,
        /// How to write it in thousands.
        thousands: String,
    },
    /// Separators that fit no way of writing numbers.
    #[error("{}", self.sentence())]
    Separators {
        /// What was written.
        text: String,
    },
    /// More than one number.
    #[error("{}", self.sentence())]
    OneNumber {
        /// What was written.
        text: String,
    },
    /// Not a finite number.
    #[error("{}", self.sentence())]
    NotFinite {
        /// What was written.
        text: String,
    },
    /// A unit that is not known.
    #[error("{}", self.sentence())]
    UnknownUnit {
        /// What was written.
        unit: String,
        /// Units that would do.
        example: String,
    },
}

impl ReadError {
    /// The same as a template, for a page in another language.
    pub fn sentence(&self) -> Sentence {
        match self {
            ReadError::Empty => Sentence::new(said::NUMBER_EMPTY),
            ReadError::TooLong { bytes } => Sentence::new(said::NUMBER_LONG).with("bytes", bytes).with("most", LONGEST),
            ReadError::NotANumber { text } => Sentence::new(said::NUMBER_NONE).with("text", text),
            ReadError::Ambiguous { text, decimal, thousands } => Sentence::new(said::NUMBER_TWO_WAYS)
                .with("text", text)
                .with("decimal", decimal)
                .with("thousands", thousands),
            ReadError::Separators { text } => Sentence::new(said::NUMBER_SEPARATORS).with("text", text),
            ReadError::OneNumber { text } => Sentence::new(said::NUMBER_GOES_ON).with("text", text),
            ReadError::NotFinite { text } => Sentence::new(said::NUMBER_NOT_FINITE).with("text", text),
            ReadError::UnknownUnit { unit, example } => {
                Sentence::new(said::NUMBER_UNIT).with("unit", unit).with("example", example)
            }
        }
    }
}

fn is_gap(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{2007}' | '\u{2009}' | '\u{202f}' | '\'' | '’')
}

fn is_minus(c: char) -> bool {
    matches!(c, '-' | '−' | '–' | '‐' | '‑' | '﹣' | '－')
}

/// Marks that set the direction of text or take no room. They come with pasted text and are never meant.
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

/// Reads `text`. `decimal` is the sign that the reader's language uses: with a point, `1,850` is asked back and `1.850` is
/// 1.85; with a comma, the other way about. `asked` is only for the message about an unknown unit.
pub fn read(text: &str, decimal: Decimal, asked: Option<Measure>) -> Result<Written, ReadError> {
    if text.len() > LONGEST {
        return Err(ReadError::TooLong { bytes: text.len() });
    }
    let clean: String = text.chars().filter(|c| !is_invisible(*c)).collect();
    let clean = clean.trim();
    let clean = clean.strip_prefix('=').unwrap_or(clean).trim_start();
    if clean.is_empty() {
        return Err(ReadError::Empty);
    }
    let quoted = || clean.to_string();
    let (negative, rest) = match clean.chars().next() {
        Some(c) if is_minus(c) => (true, clean[c.len_utf8()..].trim_start()),
        Some(c @ ('+' | '＋')) => (false, clean[c.len_utf8()..].trim_start()),
        _ => (false, clean),
    };
    let word: String = rest.chars().take_while(|c| c.is_alphabetic() || *c == '∞').collect();
    if ["nan", "inf", "infinity", "∞"].iter().any(|name| word.eq_ignore_ascii_case(name)) {
        return Err(ReadError::NotFinite { text: quoted() });
    }
    let body = &rest[..body_length(rest)];
    if !body.bytes().any(|b| b.is_ascii_digit()) {
        return Err(ReadError::NotANumber { text: quoted() });
    }
    let Mantissa { digits, mut exponent, whole } = mantissa(body, decimal, clean)?;
    let mut rest = &rest[body.len()..];
    if body == "10"
        && let Some((power, length)) = power(rest)
    {
        // A bare power of ten: 10^3.
        (rest, exponent) = (&rest[length..], power);
        return finish("1", exponent, negative, true, rest, clean, asked);
    }
    if let Some((more, length)) = exponent_part(rest) {
        exponent = exponent.saturating_add(more);
        rest = &rest[length..];
    }
    finish(&digits, exponent, negative, whole, rest, clean, asked)
}

/// How far the number reaches: digits, points, commas, and gaps before groups of three digits.
fn body_length(text: &str) -> usize {
    let mut end = 0;
    let mut run = 0;
    let mut first_run = true;
    let chars: Vec<(usize, char)> = text.char_indices().collect();
    let mut i = 0;
    while let Some(&(at, c)) = chars.get(i) {
        let digits_after = |from: usize| chars[from..].iter().take_while(|(_, c)| c.is_ascii_digit()).count();
        match c {
            '0'..='9' => run += 1,
            '.' | ',' => {
                first_run = false;
                run = 0;
            }
            c if is_gap(c) && run > 0 && (!first_run || run <= 3) && digits_after(i + 1) == 3 => {
                first_run = false;
                run = 0;
            }
            _ => break,
        }
        end = at + c.len_utf8();
        i += 1;
    }
    end
}

struct Mantissa {
    /// Digits without separators.
    digits: String,
    /// Power of ten of the last digit.
    exponent: i32,
    /// No decimal sign was written.
    whole: bool,
}

/// Where the decimal sign stands in a number, if it has one. Errors: it can be read in two ways, or its separators fit no way of
/// writing numbers.
fn decimal_sign(body: &str, decimal: Decimal, all: &str) -> Result<Option<usize>, ReadError> {
    let wrong = || ReadError::Separators { text: all.to_string() };
    let signs: Vec<(usize, char)> = body.char_indices().filter(|(_, c)| matches!(c, '.' | ',')).collect();
    let points = signs.iter().filter(|(_, c)| *c == '.').count();
    let commas = signs.len() - points;
    match (points, commas) {
        (0, 0) => Ok(None),
        (1, 0) | (0, 1) => {
            let (at, sign) = signs[0];
            let (before, after) = (&body[..at], &body[at + 1..]);
            let own = sign == if decimal == Decimal::Point { '.' } else { ',' };
            let groups = after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
            if !own && groups && before.bytes().all(|b| b.is_ascii_digit()) {
                let point = if decimal == Decimal::Point { '.' } else { ',' };
                let trimmed = after.trim_end_matches('0');
                let fraction =
                    if trimmed.is_empty() { before.to_string() } else { format!("{before}{point}{trimmed}") };
                return Err(ReadError::Ambiguous {
                    text: all.into(),
                    decimal: fraction,
                    thousands: format!("{before}{after}"),
                });
            }
            Ok(Some(at))
        }
        (_, 0) | (0, _) => {
            // Several of one kind: thousands.
            if !grouped(body, &[signs[0].1]) {
                return Err(wrong());
            }
            Ok(None)
        }
        _ => {
            let (at, sign) = signs[signs.len() - 1];
            let other = if sign == '.' { ',' } else { '.' };
            if signs.iter().filter(|(_, c)| *c == sign).count() > 1 || !grouped(&body[..at], &[other]) {
                return Err(wrong());
            }
            Ok(Some(at))
        }
    }
}

fn mantissa(body: &str, decimal: Decimal, all: &str) -> Result<Mantissa, ReadError> {
    let wrong = || ReadError::Separators { text: all.to_string() };
    // A full stop may end a sentence.
    let body = body.strip_suffix('.').filter(|rest| !rest.contains('.')).unwrap_or(body);
    let split = decimal_sign(body, decimal, all)?;
    let (whole_part, fraction) = split.map_or((body, ""), |at| (&body[..at], &body[at + 1..]));
    let mut gaps: Vec<char> = whole_part.chars().filter(|c| is_gap(*c)).collect();
    gaps.dedup();
    let mixed = gaps.len() > 1 || (!gaps.is_empty() && whole_part.contains(['.', ',']));
    if mixed || (!gaps.is_empty() && !grouped(whole_part, &gaps)) {
        return Err(wrong());
    }
    let digits_of = |part: &str| part.chars().filter(char::is_ascii_digit).collect::<String>();
    let fraction_digits = digits_of(fraction);
    if fraction.contains(['.', ','])
        || (whole_part.is_empty() && fraction_digits.is_empty())
        || (split.is_some() && fraction.is_empty())
    {
        return Err(wrong());
    }
    let exponent = -(fraction_digits.len() as i32);
    Ok(Mantissa { digits: digits_of(whole_part) + &fraction_digits, exponent, whole: split.is_none() })
}

/// One to three digits, then groups of exactly three behind one of `separators`.
fn grouped(text: &str, separators: &[char]) -> bool {
    let mut groups = text.split(|c| separators.contains(&c));
    let plain = |group: &str| group.bytes().all(|b| b.is_ascii_digit());
    let first = groups.next().unwrap_or("");
    (1..=3).contains(&first.len()) && plain(first) && groups.all(|group| group.len() == 3 && plain(group))
}

/// `e-2`, `*10^-2`, `× 10⁻²` at the beginning of `text`: the exponent and the length.
fn exponent_part(text: &str) -> Option<(i32, usize)> {
    let trimmed = text.trim_start_matches(is_gap);
    let gap = text.len() - trimmed.len();
    if let Some(after) = trimmed.strip_prefix(['e', 'E']) {
        let (value, length) = signed_digits(after)?;
        return Some((value, gap + 1 + length));
    }
    let sign = trimmed.chars().next().filter(|c| matches!(c, '*' | '·' | '⋅' | '×' | 'x' | 'X'))?;
    let after = &trimmed[sign.len_utf8()..];
    let ten = after.trim_start_matches(is_gap).strip_prefix("10")?;
    let (value, length) = power(ten)?;
    Some((value, text.len() - ten.len() + length))
}

/// `^-2`, `**-2`, `⁻²`: the exponent and the length.
fn power(text: &str) -> Option<(i32, usize)> {
    for mark in ["^", "**"] {
        if let Some(after) = text.strip_prefix(mark) {
            let (value, length) = signed_digits(after)?;
            return Some((value, mark.len() + length));
        }
    }
    const RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    let (negative, digits) = match text.strip_prefix('⁻') {
        Some(digits) => (true, digits),
        None => (false, text),
    };
    let mut value = 0_i32;
    let mut length = text.len() - digits.len();
    let mut any = false;
    for c in digits.chars() {
        let Some(digit) = RAISED.iter().position(|raised| *raised == c) else { break };
        value = value.saturating_mul(10).saturating_add(digit as i32);
        length += c.len_utf8();
        any = true;
    }
    any.then_some((if negative { -value } else { value }, length))
}

fn signed_digits(text: &str) -> Option<(i32, usize)> {
    let sign = text.chars().next().filter(|c| is_minus(*c) || *c == '+');
    let digits = &text[sign.map_or(0, char::len_utf8)..];
    let count = digits.bytes().take_while(u8::is_ascii_digit).count();
    if count == 0 || digits[count..].starts_with(|c: char| c.is_alphanumeric() && !c.is_ascii_alphabetic()) {
        return None;
    }
    let value = digits[..count].bytes().fold(0_i32, |n, b| n.saturating_mul(10).saturating_add(i32::from(b - b'0')));
    let value = if sign.is_some_and(is_minus) { -value } else { value };
    Some((value, text.len() - digits.len() + count))
}

fn finish(
    digits: &str,
    exponent: i32,
    negative: bool,
    whole: bool,
    rest: &str,
    all: &str,
    asked: Option<Measure>,
) -> Result<Written, ReadError> {
    let value: f64 = format!("{digits}e{exponent}").parse().unwrap_or(f64::NAN);
    let nothing = digits.bytes().all(|b| b == b'0');
    if !value.is_finite() || (value == 0.0 && !nothing) {
        return Err(ReadError::NotFinite { text: all.into() });
    }
    let measure = measure(rest, all, asked)?;
    let significant = digits.trim_start_matches('0');
    let most = significant.len().clamp(1, 99) as u8;
    let least = if whole { significant.trim_end_matches('0').len().clamp(1, 99) as u8 } else { most };
    Ok(Written { value: if negative && value != 0.0 { -value } else { value }, measure, figures: (least, most) })
}

fn measure(rest: &str, all: &str, asked: Option<Measure>) -> Result<Option<Measure>, ReadError> {
    let rest = rest.trim();
    if rest.is_empty() {
        return Ok(None);
    }
    let without_stop = rest.strip_suffix('.').unwrap_or(rest);
    if let Some(measure) = units::read(rest).or_else(|| units::read(without_stop)) {
        // A lone full stop is no unit.
        return Ok((!measure.unit.name.is_empty()).then_some(measure));
    }
    let goes_on = rest.starts_with(|c: char| {
        c.is_ascii_digit() || is_minus(c) || matches!(c, '+' | '/' | '±' | '…' | '.' | ',' | ':' | '*' | '^')
    });
    if goes_on {
        return Err(ReadError::OneNumber { text: all.into() });
    }
    let mut example: Vec<&str> = units::UNITS[1..]
        .iter()
        .filter(|unit| asked.is_none_or(|asked| asked.unit.family == unit.family))
        .map(|unit| unit.name)
        .take(5)
        .collect();
    if example.is_empty() {
        example.push("a plain number");
    }
    Err(ReadError::UnknownUnit { unit: rest.into(), example: example.join(", ") })
}

#[cfg(test)]
mod tests;
