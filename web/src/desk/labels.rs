//! What a result file says by number, in the words of the lesson.

use super::plain;
use super::shelf::catalog;
use crate::language::{t, tf};
use volute_lessons::assignment;
use volute_lessons::lesson::{Choice, Item, Lesson, Question, Step};
use volute_lessons::text::{bare, bare_line};

/// What a question is called: its lesson, and how its text begins.
pub fn name(lesson: &str, item: &str) -> String {
    let Some(found) = catalog().lesson(lesson) else { return format!("{lesson}/{item}") };
    let ask = found.steps.iter().find(|step| step.id() == Some(item)).and_then(|step| match step {
        Step::Predict(p) => Some(&p.ask),
        Step::Task(task) => Some(&task.ask),
        Step::Checkpoint(c) => Some(&c.ask),
        Step::Transfer(x) => Some(&x.ask),
        _ => None,
    });
    match ask {
        Some(ask) => format!("{}: {}", plain::title(found), plain::label(&bare(ask))),
        None => format!("{}: {item}", plain::title(found)),
    }
}

/// What an item of an assignment is called.
pub fn item_name(item: &assignment::Item) -> String {
    let Some(lesson) = catalog().lesson(&item.lesson) else { return item.to_string() };
    let title = plain::title(lesson);
    let Some(only) = &item.only else { return title };
    let task = lesson.tasks().find(|task| task.id == *only).map(|task| &task.ask);
    let ask = task.or_else(|| lesson.checkpoints().find(|c| c.id == *only).map(|c| &c.ask));
    match ask {
        Some(ask) => format!("{title}: {}", plain::label(&bare(ask))),
        None => item.to_string(),
    }
}

/// What is behind a wrong answer: the beginning of its explanation, or the option that was picked.
pub fn misconception(lesson: &str, item: &str, index: u32) -> String {
    let known = catalog().lesson(lesson).and_then(|lesson| known(lesson, item, index as usize));
    known.unwrap_or_else(|| {
        tf("misconception {number} of a lesson that this page has not got", &[("number", &(index + 1).to_string())])
    })
}

fn known(lesson: &Lesson, item: &str, index: usize) -> Option<String> {
    let because = |prose| plain::first_sentence(&bare(prose));
    if let Some(task) = lesson.tasks().find(|task| task.id == item) {
        return Some(because(&task.misconceptions.get(index)?.because));
    }
    let checkpoint = lesson.checkpoints().find(|c| c.id == item)?;
    match &checkpoint.question {
        Question::Number(n) => Some(because(&n.misconceptions.get(index)?.because)),
        Question::Choice(options) => Some(plain::label(&bare_line(&options.get(index)?.text))),
        Question::Choices(options) => {
            Some(tf("judged wrongly: {option}", &[("option", &plain::label(&bare_line(&options.get(index)?.text)))]))
        }
        Question::Order(order) => Some(because(&order.misconceptions.get(index)?.because)),
        Question::Sketch(sketch) => Some(because(&sketch.misconceptions.get(index)?.because)),
        Question::Words(_) => None,
    }
}

/// An option, or an item that is put into order.
pub fn option(lesson: &str, item: &str, index: u32) -> String {
    let found = catalog().lesson(lesson).and_then(|lesson| {
        let predict = lesson.predictions().find(|p| p.id == item)?;
        let (options, items): (&[Choice], &[Item]) = match &predict.question {
            Question::Choice(options) => (options, &[]),
            Question::Order(order) => (&[], &order.items),
            _ => return None,
        };
        let text = options.get(index as usize).map(|o| &o.text).or(items.get(index as usize).map(|i| &i.text))?;
        Some(plain::label(&bare_line(text)))
    });
    found.unwrap_or_else(|| tf("option {number}", &[("number", &(index + 1).to_string())]))
}

/// Kind of question, as people say it.
pub fn kind(kind: &str) -> &'static str {
    match kind {
        "predict" => t("Prediction"),
        "task" => t("On the bench"),
        "checkpoint" => t("Checkpoint"),
        "transfer" => t("Transfer"),
        "safety" => t("Safety"),
        "reveal" => t("Reveal"),
        "stage" => t("Stage"),
        "log" => t("Test sheet"),
        _ => "",
    }
}
