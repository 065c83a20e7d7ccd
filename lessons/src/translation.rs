//! Whether two files are the same lesson in two languages: same blocks, expressions, values, and differing in words only.

use crate::lesson::*;
use crate::text::Inline;

/// What differs beyond words, in words; empty for a good translation.
pub fn differences(english: &Lesson, other: &Lesson) -> Vec<String> {
    let mut found = Vec::new();
    let mut same = |what: &str, same: bool| {
        if !same {
            found.push(format!("{what} differs from the English file"));
        }
    };
    same("`id`", english.id == other.id);
    same("`course`", english.course == other.course);
    same("`minutes`", english.minutes == other.minutes);
    same("`needs`", english.needs == other.needs);
    same("the `bench` block", english.start == other.start);
    same("a `seed`, `pin`, `sweep` or `run` of the lesson", english.setup == other.setup);
    let plan =
        |lesson: &Lesson| lesson.teacher.as_ref().map(|t| t.plan.iter().map(|step| step.minutes).collect::<Vec<_>>());
    same("the plan of the `teacher` block", plan(english) == plan(other));
    let kinds = |lesson: &Lesson| -> Vec<(&'static str, Option<String>)> {
        lesson.steps.iter().map(|step| (step.kind(), step.id().map(String::from))).collect()
    };
    let (a, b) = (kinds(english), kinds(other));
    if a != b {
        let at = a.iter().zip(&b).position(|(x, y)| x != y).unwrap_or(a.len().min(b.len()));
        let name = |kinds: &[(&str, Option<String>)]| {
            kinds.get(at).map_or("nothing".into(), |(kind, id)| format!("`{kind}` {}", id.as_deref().unwrap_or("")))
        };
        found.push(format!("piece {} is {}, in the English file {}", at + 1, name(&b), name(&a)));
        return found;
    }
    for (i, (x, y)) in english.steps.iter().zip(&other.steps).enumerate() {
        let place = x.id().map_or_else(|| format!("piece {}, `{}`", i + 1, x.kind()), |id| format!("`{id}`"));
        if bare(x) != bare(y) {
            found.push(format!("{place}: keys or expressions differ from the English file"));
            continue;
        }
        for ((role, a), (_, b)) in x.words().into_iter().zip(y.words()) {
            let (a, b) = (values(a), values(b));
            if a != b {
                let missing =
                    a.iter().find(|value| !b.contains(value)).or_else(|| b.iter().find(|value| !a.contains(value)));
                let value = missing.or(a.first()).or(b.first()).cloned().unwrap_or_default();
                found.push(format!(
                    "{place}: the values in its text ({role:?}) differ from the English file, `{value}` for one"
                ));
            }
        }
    }
    found
}

/// The values that a text shows, sorted by name, because another language may order a sentence differently.
fn values(words: Words) -> Vec<String> {
    let mut all = Vec::new();
    words.visit(&mut |inline| {
        if let Inline::Value(shown) = inline {
            all.push(format!("{} | {} | {}", shown.expr.source(), shown.measure, shown.decimals));
        }
    });
    all.sort();
    all
}

/// A step without its words.
fn bare(step: &Step) -> Step {
    let mut step = step.clone();
    match &mut step {
        Step::Prose(prose) | Step::Safety(prose) => prose.clear(),
        Step::Reveal(reveal) => reveal.text.clear(),
        Step::Stage(stage) => stage.say.clear(),
        Step::Log(log) => log.channels.iter_mut().for_each(|channel| channel.heading.clear()),
        Step::Transfer(t) => {
            t.ask.clear();
            t.consider.clear();
        }
        Step::Predict(predict) => {
            predict.ask.clear();
            predict.question.clear_words();
        }
        Step::Task(task) => {
            task.ask.clear();
            task.done.clear();
            task.hints.iter_mut().for_each(Vec::clear);
            task.misconceptions.iter_mut().for_each(|m| m.because.clear());
        }
        Step::Checkpoint(c) => {
            c.ask.clear();
            c.worked.clear();
            c.hints.iter_mut().for_each(Vec::clear);
            c.question.clear_words();
        }
    }
    step
}
