//! Questions as Moodle XML: one for each checkpoint and variant, the numbers of that variant written out.
//!
//! The right answer stands first and the misconceptions behind it, each with its explanation and a fraction of 0: Moodle takes
//! the first answer whose tolerance fits. A number is typed, its unit chosen from a list: Moodle takes the spaces out of a
//! typed answer, so that `2300 1/min` would be read as 23001.
//!
//! Source: moodle/moodle, `question/format/xml/format.php` (what is read, from memory) and
//! `question/type/numerical/question.php` (how it is marked, seen).

use crate::xml::{clip, escape};
use std::fmt::Write;
use volute_lessons::bench::Solve;
use volute_lessons::expr::{Env, EvalError};
use volute_lessons::lesson::{Checkpoint, CheckpointKind, Choice, Lesson, NumberQuestion};
use volute_lessons::mark::{Asked, Key};
use volute_lessons::seed::Seed;
use volute_lessons::text::{self, Inline, Prose, Target};
use volute_lessons::units::{Family, Measure, Style, UNITS};
use volute_lessons::work::WorkError;

/// Mark lost for each hint that is taken, as on the page.
const HINT_COST: &str = "0.1";
/// `showunits` of a list of units, and of none. Source: constants `UNITSELECT` and `UNITNONE` of the question type.
const UNIT_LIST: u8 = 2;
const UNIT_NONE: u8 = 3;
/// Longest name of a question, in bytes: the column's width.
const LONGEST_NAME: usize = 255;

/// How the questions are worded.
#[derive(Debug, Clone, Copy)]
pub struct Wording<'a> {
    /// How numbers are printed in prose. What Moodle marks by is always written with a point.
    pub style: Style,
    /// The address of the page, for a link that opens the lesson with the numbers of the question; nothing for no link.
    pub page: Option<&'a str>,
    /// Text of that link.
    pub open: &'a str,
    /// What stands before the unit where there is only one: "Answer in".
    pub answer_in: &'a str,
}

impl Default for Wording<'_> {
    fn default() -> Self {
        Self { style: Style::ENGLISH, page: None, open: "Open the bench with these numbers", answer_in: "Answer in" }
    }
}

/// Why there is no file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum MoodleError {
    #[error("lesson `{lesson}`, variant {seed}: {error}")]
    Lesson { lesson: String, seed: u64, error: Box<WorkError> },
    #[error("lesson `{lesson}`, checkpoint `{checkpoint}`, variant {seed}: {error}")]
    Checkpoint { lesson: String, checkpoint: String, seed: u64, error: Box<WorkError> },
    #[error(
        "none of these lessons has a checkpoint with a number or a choice, which are the kinds that Moodle can mark"
    )]
    Nothing,
}

/// The number and choice checkpoints of these lessons that `wanted` lets through, each for every seed. Every checkpoint is a
/// category of its own with its variants in it, so that a quiz can draw one at random. Errors: a lesson that cannot be worked
/// out, or nothing to export.
pub fn questions<'l>(
    lessons: impl IntoIterator<Item = &'l Lesson>,
    seeds: &[Seed],
    wanted: impl Fn(&str, &str) -> bool,
    wording: Wording,
    solver: &mut dyn Solve,
) -> Result<String, MoodleError> {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<quiz>\n");
    let begun = out.len();
    for lesson in lessons {
        let asks: Vec<&Checkpoint> = lesson
            .checkpoints()
            .filter(|checkpoint| kind_of(checkpoint).is_some() && wanted(&lesson.id, &checkpoint.id))
            .collect();
        let mut variants = Vec::new();
        for seed in seeds.iter().filter(|_| !asks.is_empty()) {
            let fault =
                |error: WorkError| MoodleError::Lesson { lesson: lesson.id.clone(), seed: seed.0, error: error.into() };
            variants.push(lesson.work_out(*seed, solver).map_err(fault)?);
        }
        for checkpoint in asks {
            for (i, worked) in variants.iter().enumerate() {
                let fault = |error: WorkError| MoodleError::Checkpoint {
                    lesson: lesson.id.clone(),
                    checkpoint: checkpoint.id.clone(),
                    seed: worked.seed.0,
                    error: error.into(),
                };
                let asked = checkpoint.work_out(lesson, worked, 0, solver).map_err(fault)?;
                if i == 0 {
                    let title = text::plain_inline(&lesson.title, &worked.env(), wording.style);
                    let title = title.map_err(WorkError::from).map_err(fault)?;
                    category(&mut out, &["Volute", &title, &checkpoint.id]);
                }
                question(&mut out, lesson, &asked, wording).map_err(WorkError::from).map_err(fault)?;
            }
        }
    }
    if out.len() == begun {
        return Err(MoodleError::Nothing);
    }
    out.push_str("</quiz>\n");
    Ok(out)
}

/// What Moodle can mark as the page does.
enum Kind<'l> {
    Number(&'l NumberQuestion),
    Choice(&'l [Choice]),
    Choices(&'l [Choice]),
}

fn kind_of(checkpoint: &Checkpoint) -> Option<Kind<'_>> {
    match &checkpoint.kind {
        CheckpointKind::Number(question) => Some(Kind::Number(question)),
        CheckpointKind::Choice(options) => Some(Kind::Choice(options)),
        CheckpointKind::Choices(options) => Some(Kind::Choices(options)),
        CheckpointKind::Order(_) | CheckpointKind::Sketch(_) | CheckpointKind::Words(_) => None,
    }
}

/// A category below the course's own. A slash inside a name is doubled.
fn category(out: &mut String, steps: &[&str]) {
    let path: Vec<String> = steps.iter().map(|step| clip(step, LONGEST_NAME).replace('/', "//")).collect();
    put(
        out,
        format_args!(
            "<question type=\"category\">\n<category><text>$course$/top/{}</text></category>\n</question>\n",
            escape(&path.join("/"))
        ),
    );
}

fn question(out: &mut String, lesson: &Lesson, asked: &Asked, wording: Wording) -> Result<(), EvalError> {
    let (checkpoint, worked) = (asked.checkpoint, &asked.worked);
    let (env, seed) = (asked.env(), worked.seed.0);
    let prose = |prose: &[Prose]| html(prose, &env, wording.style);
    let (sort, ask_more, answers) = match (kind_of(checkpoint), &asked.key) {
        (Some(Kind::Number(question)), Key::Number { answer_si, tolerance_si, wrong_si }) => {
            let number = Number { question, answer_si: *answer_si, tolerance_si: *tolerance_si, wrong_si };
            let (more, answers) = number.write(wording, &prose)?;
            ("numerical", more, answers)
        }
        (Some(Kind::Choice(options)), Key::Choice(right)) => {
            let fractions = (0..options.len()).map(|i| if i == *right { "100" } else { "0" }.to_string());
            ("multichoice", String::new(), choices(true, options, fractions, &prose, &env, wording.style)?)
        }
        (Some(Kind::Choices(options)), Key::Choices(right)) => {
            // All of the right ones make the whole; one wrong one takes it away.
            let share = share_of(right.iter().filter(|right| **right).count());
            let fractions = right.iter().map(|right| if *right { share.clone() } else { "-100".into() });
            ("multichoice", String::new(), choices(false, options, fractions, &prose, &env, wording.style)?)
        }
        // The callers ask for no other kind, and a checkpoint's key is of its own kind.
        _ => return Ok(()),
    };
    let title = text::plain_inline(&lesson.title, &worked.env(), wording.style)?;
    let name = format!("{title}: {}, variant {seed}", checkpoint.id);
    let mut ask = prose(&checkpoint.ask)? + &ask_more;
    if let Some(page) = wording.page {
        let link = format!("{page}#v=1&lesson={}&variant={seed}", lesson.id);
        put(
            &mut ask,
            format_args!("<p><a href=\"{}\" target=\"_blank\">{}</a></p>", escape(&link), escape(wording.open)),
        );
    }
    put(
        out,
        format_args!("<question type=\"{sort}\">\n<name><text>{}</text></name>\n", escape(&clip(&name, LONGEST_NAME))),
    );
    put(out, format_args!("<questiontext format=\"html\">{}</questiontext>\n", text_of(&ask)));
    put(
        out,
        format_args!("<generalfeedback format=\"html\">{}</generalfeedback>\n", text_of(&prose(&checkpoint.worked)?)),
    );
    put(out, format_args!("<defaultgrade>1</defaultgrade>\n<penalty>{HINT_COST}</penalty>\n<hidden>0</hidden>\n"));
    put(
        out,
        format_args!(
            "<idnumber>{}</idnumber>\n",
            escape(&clip(&format!("{}.{}.{seed}", lesson.id, checkpoint.id), 100))
        ),
    );
    out.push_str(&answers);
    for hint in &checkpoint.hints {
        put(out, format_args!("<hint format=\"html\">{}</hint>\n", text_of(&prose(hint)?)));
    }
    out.push_str("</question>\n");
    Ok(())
}

/// One part of `count` in per cent, with the five decimals that Moodle knows it by.
fn share_of(count: usize) -> String {
    let share = format!("{:.5}", 100.0 / count.max(1) as f64);
    share.trim_end_matches('0').trim_end_matches('.').into()
}

fn choices(
    single: bool,
    options: &[Choice],
    fractions: impl Iterator<Item = String>,
    prose: &dyn Fn(&[Prose]) -> Result<String, EvalError>,
    env: &Env,
    style: Style,
) -> Result<String, EvalError> {
    let mut out = format!(
        "<single>{single}</single>\n<shuffleanswers>true</shuffleanswers>\n<answernumbering>abc</answernumbering>\n"
    );
    for (option, fraction) in options.iter().zip(fractions) {
        answer(&mut out, &fraction, &line(&option.text, env, style)?, "html", &prose(&option.because)?, "");
    }
    Ok(out)
}

struct Number<'a> {
    question: &'a NumberQuestion,
    answer_si: f64,
    tolerance_si: f64,
    wrong_si: &'a [f64],
}

impl Number<'_> {
    /// What is added to the question, and its answers with units.
    fn write(
        &self,
        wording: Wording,
        prose: &dyn Fn(&[Prose]) -> Result<String, EvalError>,
    ) -> Result<(String, String), EvalError> {
        let asked = self.question.measure;
        let tolerance = asked.unit.difference_of_si(self.tolerance_si).abs();
        // Four figures of the tolerance: what rounding takes from it is far below what anybody reads off.
        let places = (3 - tolerance.log10().floor().clamp(-12.0, 3.0) as i32).unsigned_abs() as usize;
        let in_unit = |si: f64| {
            let value = if self.question.is_point() { asked.unit.of_si(si) } else { asked.unit.difference_of_si(si) };
            // No minus before a zero.
            format!("{:.places$}", value + 0.0)
        };
        let within = format!("<tolerance>{tolerance:.places$}</tolerance>\n");
        let mut answers = String::new();
        answer(&mut answers, "100", &in_unit(self.answer_si), "moodle_auto_format", "", &within);
        for (si, misconception) in self.wrong_si.iter().zip(&self.question.misconceptions) {
            answer(&mut answers, "0", &in_unit(*si), "moodle_auto_format", &prose(&misconception.because)?, &within);
        }
        let units = units_beside(asked, self.question.is_point());
        let mut more = String::new();
        let shown = if units.len() > 1 {
            answers.push_str("<units>\n");
            for unit in &units {
                // Moodle divides by it: units that make up one of the unit asked for.
                let multiplier = asked.unit.factor / unit.unit.factor;
                put(
                    &mut answers,
                    format_args!(
                        "<unit><multiplier>{multiplier}</multiplier><unit_name>{}</unit_name></unit>\n",
                        escape(&unit.to_string())
                    ),
                );
            }
            answers.push_str("</units>\n");
            UNIT_LIST
        } else {
            if !asked.unit.name.is_empty() {
                more = format!("<p>{} {}.</p>", escape(wording.answer_in), escape(&asked.to_string()));
            }
            UNIT_NONE
        };
        let graded = u8::from(shown == UNIT_LIST);
        put(
            &mut answers,
            format_args!(
                "<unitgradingtype>{graded}</unitgradingtype>\n<unitpenalty>0.2</unitpenalty>\n<showunits>{shown}</showunits>\n<unitsleft>0</unitsleft>\n"
            ),
        );
        Ok((more, answers))
    }
}

/// The unit asked for, first, and every other of its kind that a factor converts into it.
fn units_beside(asked: Measure, point: bool) -> Vec<Measure> {
    let mut units = vec![asked];
    // A temperature point needs more than a factor, and a plain number has no unit to choose.
    if asked.unit.family == Family::Ratio || point && asked.unit.family == Family::Temperature {
        return units;
    }
    let others = UNITS.iter().filter(|unit| unit.family == asked.unit.family && **unit != *asked.unit);
    units.extend(others.map(|unit| Measure { unit, reference: asked.reference }));
    units
}

fn answer(out: &mut String, fraction: &str, says: &str, format: &str, feedback: &str, more: &str) {
    put(
        out,
        format_args!(
            "<answer fraction=\"{fraction}\" format=\"{format}\">{}\n<feedback format=\"html\">{}</feedback>\n{more}</answer>\n",
            text_of(says),
            text_of(feedback)
        ),
    );
}

/// The element in which Moodle keeps texts. HTML is escaped once more: a reader undoes it once.
fn text_of(text: &str) -> String {
    format!("<text>{}</text>", escape(text))
}

/// Prose as HTML, values worked out. Nothing of a lesson's text can be markup.
fn html(prose: &[Prose], env: &Env, style: Style) -> Result<String, EvalError> {
    let mut out = String::new();
    for block in prose {
        match block {
            Prose::Heading { text, .. } => put(&mut out, format_args!("<h4>{}</h4>", line(text, env, style)?)),
            Prose::Paragraph(text) => put(&mut out, format_args!("<p>{}</p>", line(text, env, style)?)),
            Prose::Quote(inner) => put(&mut out, format_args!("<blockquote>{}</blockquote>", html(inner, env, style)?)),
            Prose::List { first, items } => {
                let (open, close) = match first {
                    Some(first) => (format!("<ol start=\"{first}\">"), "</ol>"),
                    None => ("<ul>".into(), "</ul>"),
                };
                out.push_str(&open);
                for item in items {
                    put(&mut out, format_args!("<li>{}</li>", html(item, env, style)?));
                }
                out.push_str(close);
            }
        }
    }
    Ok(out)
}

fn line(inlines: &[Inline], env: &Env, style: Style) -> Result<String, EvalError> {
    let mut out = String::new();
    for inline in inlines {
        match inline {
            Inline::Text(text) => out.push_str(&escape(text)),
            Inline::Emphasis(inner) => put(&mut out, format_args!("<em>{}</em>", line(inner, env, style)?)),
            Inline::Strong(inner) => put(&mut out, format_args!("<strong>{}</strong>", line(inner, env, style)?)),
            Inline::Code(text) => put(&mut out, format_args!("<code>{}</code>", escape(text))),
            Inline::Link { to: Target::Web(address), text } => {
                put(&mut out, format_args!("<a href=\"{}\">{}</a>", escape(address), line(text, env, style)?))
            }
            // Another lesson is not there.
            Inline::Link { to: Target::Lesson(_), text } => out.push_str(&line(text, env, style)?),
            Inline::Value(shown) => out.push_str(&escape(&shown.text(env, style)?)),
            Inline::Break => out.push_str("<br>"),
        }
    }
    Ok(out)
}

/// Appends. Writing to a string does not fail.
fn put(out: &mut String, what: std::fmt::Arguments) {
    let _ = out.write_fmt(what);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_shares_are_those_that_moodle_knows() {
        // Its own list, from 1 of 1 to 1 of 10, from memory.
        let known = ["100", "50", "33.33333", "25", "20", "16.66667", "14.28571", "12.5", "11.11111", "10"];
        assert_eq!((1..=10).map(share_of).collect::<Vec<_>>(), known);
    }
}
