//! Questions as Moodle XML: one for each checkpoint and variant, the numbers of that variant written out.
//!
//! Moodle takes the first answer whose tolerance fits. So the right answer stands first, and the misconceptions behind it,
//! each with its explanation and a fraction of 0. A learner types the number and chooses its unit from a list: Moodle takes
//! the spaces out of a typed answer, so that it would read `2300 1/min` as 23001.
//!
//! Source: moodle/moodle, `question/format/xml/format.php` (what is read, from memory) and
//! `question/type/numerical/question.php` (how it is marked, seen).

use crate::xml::{clip, escape};
use std::fmt::Display;
use volute_lessons::bench::Solve;
use volute_lessons::expr::{Env, EvalError};
use volute_lessons::lesson::{Checkpoint, Choice, Lesson, NumberQuestion, Question};
use volute_lessons::mark::{Asked, Key, NumberKey};
use volute_lessons::seed::Seed;
use volute_lessons::text::{self, Inline, Prose, Target};
use volute_lessons::units::{Family, Measure, Style, UNITS};
use volute_lessons::work::WorkError;

/// Mark lost for each hint that is taken, as on the page.
const HINT_COST: &str = "0.1";
/// `showunits` of a list of units, and of none. Source: constants `UNITSELECT` and `UNITNONE` of the question type.
const UNIT_LIST: u8 = 2;
const UNIT_NONE: u8 = 3;
/// Longest name of a question and longest identifier, in bytes: the widths of Moodle's columns.
const LONGEST_NAME: usize = 255;
const LONGEST_ID: usize = 100;

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
    let mut out = String::new();
    for lesson in lessons {
        let asks: Vec<&Checkpoint> = lesson
            .checkpoints()
            .filter(|checkpoint| is_marked(checkpoint) && wanted(&lesson.id, &checkpoint.id))
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
                let title = text::plain_inline(&lesson.title, &worked.env(), wording.style);
                let title = title.map_err(WorkError::from).map_err(fault)?;
                if i == 0 {
                    out += &category(&["Volute", &title, &checkpoint.id]);
                }
                let question = Variant { lesson, asked: &asked, title: &title, wording };
                out += &question.xml().map_err(WorkError::from).map_err(fault)?;
            }
        }
    }
    if out.is_empty() {
        return Err(MoodleError::Nothing);
    }
    Ok(format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<quiz>\n{out}</quiz>\n"))
}

/// Whether Moodle can mark it as the page does.
fn is_marked(checkpoint: &Checkpoint) -> bool {
    matches!(checkpoint.question, Question::Number(_) | Question::Choice(_) | Question::Choices(_))
}

/// A category below the course's own. A slash inside a name is doubled.
fn category(steps: &[&str]) -> String {
    let steps: Vec<String> = steps.iter().map(|step| clip(step, LONGEST_NAME).replace('/', "//")).collect();
    let path = escape(&steps.join("/"));
    format!("<question type=\"category\">\n<category><text>$course$/top/{path}</text></category>\n</question>\n")
}

/// A checkpoint with the numbers of one variant.
struct Variant<'a> {
    lesson: &'a Lesson,
    asked: &'a Asked<'a>,
    title: &'a str,
    wording: Wording<'a>,
}

impl Variant<'_> {
    fn xml(&self) -> Result<String, EvalError> {
        let Self { lesson, asked, title, wording } = *self;
        let (checkpoint, seed) = (asked.checkpoint, asked.worked.seed.0);
        let mut ask = self.html(&checkpoint.ask)?;
        let (sort, answers) = match (&checkpoint.question, &asked.key) {
            (Question::Number(question), Key::Number(NumberKey { answer_si, tolerance_si, wrong_si })) => {
                let units = units_beside(question.measure, question.is_point());
                if units.len() == 1 && !question.measure.unit.name.is_empty() {
                    let unit = escape(&question.measure.to_string());
                    ask += &tag("p", format_args!("{} {unit}.", escape(wording.answer_in)));
                }
                ("numerical", self.number(question, *answer_si, *tolerance_si, wrong_si)? + &unit_list(&units))
            }
            (Question::Choice(options), Key::Choice(right)) => {
                let fraction = |i| if i == *right { "100".into() } else { "0".into() };
                ("multichoice", self.choices(true, options, fraction)?)
            }
            (Question::Choices(options), Key::Choices(right)) => {
                // All of the right ones make the whole; one wrong one takes it away.
                let share = share_of(right.iter().filter(|right| **right).count());
                let fraction = |i: usize| if right.get(i) == Some(&true) { share.clone() } else { "-100".into() };
                ("multichoice", self.choices(false, options, fraction)?)
            }
            // The callers ask for no other kind, and a checkpoint's key is of its own kind.
            _ => return Ok(String::new()),
        };
        if let Some(page) = wording.page {
            let link = escape(&format!("{page}#v=1&lesson={}&variant={seed}", lesson.id));
            ask += &format!("<p><a href=\"{link}\" target=\"_blank\">{}</a></p>", escape(wording.open));
        }
        let name = text_of(&clip(&format!("{title}: {}, variant {seed}", checkpoint.id), LONGEST_NAME));
        let id = escape(&clip(&format!("{}.{}.{seed}", lesson.id, checkpoint.id), LONGEST_ID));
        let (ask, worked) = (text_of(&ask), text_of(&self.html(&checkpoint.worked)?));
        let mut hints = String::new();
        for hint in &checkpoint.hints {
            hints += &format!("<hint format=\"html\">{}</hint>\n", text_of(&self.html(hint)?));
        }
        Ok(format!(
            "<question type=\"{sort}\">\n<name>{name}</name>\n\
             <questiontext format=\"html\">{ask}</questiontext>\n\
             <generalfeedback format=\"html\">{worked}</generalfeedback>\n\
             <defaultgrade>1</defaultgrade>\n<penalty>{HINT_COST}</penalty>\n<hidden>0</hidden>\n\
             <idnumber>{id}</idnumber>\n{answers}{hints}</question>\n"
        ))
    }

    fn choices(
        &self,
        single: bool,
        options: &[Choice],
        fraction: impl Fn(usize) -> String,
    ) -> Result<String, EvalError> {
        let mut out = format!(
            "<single>{single}</single>\n<shuffleanswers>true</shuffleanswers>\n<answernumbering>abc</answernumbering>\n"
        );
        for (i, option) in options.iter().enumerate() {
            let says = line(&option.text, &self.asked.env(), self.wording.style)?;
            out += &answer(&fraction(i), &says, "html", &self.html(&option.because)?, "");
        }
        Ok(out)
    }

    /// The right number, and behind it those of the misconceptions.
    fn number(
        &self,
        question: &NumberQuestion,
        answer_si: f64,
        tolerance_si: f64,
        wrong_si: &[f64],
    ) -> Result<String, EvalError> {
        let unit = question.measure.unit;
        let tolerance = unit.difference_of_si(tolerance_si).abs();
        // Four figures of the tolerance: what rounding takes from it is far below what anybody reads off.
        let places = (3 - tolerance.log10().floor().clamp(-12.0, 3.0) as i32).unsigned_abs() as usize;
        let within = format!("<tolerance>{tolerance:.places$}</tolerance>\n");
        let one = |fraction: &str, si: f64, feedback: &str| {
            let value = if question.is_point() { unit.of_si(si) } else { unit.difference_of_si(si) };
            // No minus before a zero.
            answer(fraction, &format!("{:.places$}", value + 0.0), "moodle_auto_format", feedback, &within)
        };
        let mut out = one("100", answer_si, "");
        for (si, misconception) in wrong_si.iter().zip(&question.misconceptions) {
            out += &one("0", *si, &self.html(&misconception.because)?);
        }
        Ok(out)
    }

    fn html(&self, prose: &[Prose]) -> Result<String, EvalError> {
        html(prose, &self.asked.env(), self.wording.style)
    }
}

/// One part of `count` in per cent, with the five decimals that Moodle knows it by.
fn share_of(count: usize) -> String {
    let share = format!("{:.5}", 100.0 / count.max(1) as f64);
    share.trim_end_matches('0').trim_end_matches('.').into()
}

/// The unit asked for, first, and every other of its kind that a factor converts into it.
fn units_beside(asked: Measure, point: bool) -> Vec<Measure> {
    let mut units = vec![asked];
    // A temperature point needs more than a factor, and a plain number has no unit to choose.
    if asked.unit.family == Family::Ratio || point && asked.unit.family == Family::Temperature {
        return units;
    }
    let others = UNITS.iter().copied().filter(|unit| unit.family == asked.unit.family && *unit != asked.unit);
    units.extend(others.map(|unit| Measure { unit, reference: asked.reference }));
    units
}

/// The units to choose from, or that there is no choice where there is only one.
fn unit_list(units: &[Measure]) -> String {
    let choice = units.len() > 1;
    let mut list = String::new();
    for unit in units.iter().filter(|_| choice) {
        // Moodle divides by the multiplier: it is how many of this unit make up one of the unit asked for.
        let multiplier = units[0].unit.factor / unit.unit.factor;
        let name = escape(&unit.to_string());
        list += &format!("<unit><multiplier>{multiplier}</multiplier><unit_name>{name}</unit_name></unit>\n");
    }
    if choice {
        list = format!("<units>\n{list}</units>\n");
    }
    let (graded, shown) = (u8::from(choice), if choice { UNIT_LIST } else { UNIT_NONE });
    format!(
        "{list}<unitgradingtype>{graded}</unitgradingtype>\n<unitpenalty>0.2</unitpenalty>\n\
         <showunits>{shown}</showunits>\n<unitsleft>0</unitsleft>\n"
    )
}

fn answer(fraction: &str, says: &str, format: &str, feedback: &str, more: &str) -> String {
    let (says, feedback) = (text_of(says), text_of(feedback));
    format!(
        "<answer fraction=\"{fraction}\" format=\"{format}\">{says}\n\
         <feedback format=\"html\">{feedback}</feedback>\n{more}</answer>\n"
    )
}

/// The element in which Moodle keeps texts. HTML is escaped once more: a reader undoes it once.
fn text_of(text: &str) -> String {
    tag("text", escape(text))
}

/// An element with its content, which is markup already.
fn tag(name: &str, content: impl Display) -> String {
    format!("<{name}>{content}</{name}>")
}

/// Prose as HTML, values worked out. Nothing of a lesson's text can be markup.
fn html(prose: &[Prose], env: &Env, style: Style) -> Result<String, EvalError> {
    let mut out = String::new();
    for block in prose {
        out += &match block {
            Prose::Heading { text, .. } => tag("h4", line(text, env, style)?),
            Prose::Paragraph(text) => tag("p", line(text, env, style)?),
            Prose::Quote(inner) => tag("blockquote", html(inner, env, style)?),
            Prose::List { first, items } => {
                let items: Result<String, EvalError> =
                    items.iter().map(|item| Ok(tag("li", html(item, env, style)?))).collect();
                match first {
                    Some(first) => format!("<ol start=\"{first}\">{}</ol>", items?),
                    None => tag("ul", items?),
                }
            }
        };
    }
    Ok(out)
}

fn line(inlines: &[Inline], env: &Env, style: Style) -> Result<String, EvalError> {
    let mut out = String::new();
    for inline in inlines {
        out += &match inline {
            Inline::Text(text) => escape(text),
            Inline::Emphasis(inner) => tag("em", line(inner, env, style)?),
            Inline::Strong(inner) => tag("strong", line(inner, env, style)?),
            Inline::Code(text) => tag("code", escape(text)),
            Inline::Link { to: Target::Web(address), text } => {
                format!("<a href=\"{}\">{}</a>", escape(address), line(text, env, style)?)
            }
            // A quiz does not hold the other lesson, so only the words of the link stay.
            Inline::Link { to: Target::Lesson(_), text } => line(text, env, style)?,
            Inline::Value(shown) => escape(&shown.text(env, style)?),
            Inline::Break => "<br>".into(),
        };
    }
    Ok(out)
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
