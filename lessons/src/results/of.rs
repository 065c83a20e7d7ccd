//! From a learner's progress to a report.

use super::report::{ItemReport, Kind, LessonReport, Try};
use crate::lesson::{Choice, Lesson, Question, Step};
use crate::mark::Answer;
use crate::progress::Progress;
use crate::sketch::STEPS;
use crate::text::bare_line;

impl LessonReport {
    /// What a learner did in a lesson whose text has the digest `version`. `only`: the checkpoints and tasks that are asked,
    /// where not all of it is.
    pub fn of(lesson: &Lesson, version: &str, progress: &Progress, only: Option<&[&str]>) -> Self {
        let asked = |step: &&Step| match (only, step) {
            (None, _) => true,
            (Some(only), Step::Task(_) | Step::Checkpoint(_)) => step.id().is_some_and(|id| only.contains(&id)),
            (Some(_), _) => false,
        };
        let items: Vec<ItemReport> =
            lesson.steps.iter().filter(asked).filter_map(|step| item(step, progress)).collect();
        LessonReport {
            id: lesson.id.clone(),
            version: version.into(),
            seed: progress.seed,
            complete: items.iter().all(|item| item.done),
            seconds: progress.spent_s,
            items,
        }
    }
}

fn item(step: &Step, progress: &Progress) -> Option<ItemReport> {
    let id = step.id()?;
    match step {
        Step::Predict(predict) => Some(prediction(id, &predict.question, progress)),
        Step::Task(_) => Some(task(id, progress)),
        Step::Checkpoint(asked) => Some(checkpoint(id, &asked.question, progress)),
        Step::Transfer(_) => {
            let words = progress.written(id);
            let report = ItemReport::new(id, Kind::Transfer);
            Some(ItemReport { words: words.unwrap_or_default().into(), done: words.is_some(), ..report })
        }
        Step::Prose(_) | Step::Safety(_) | Step::Reveal(_) | Step::Stage(_) | Step::Log(_) => None,
    }
}

fn prediction(id: &str, question: &Question, progress: &Progress) -> ItemReport {
    let mut report = ItemReport::new(id, Kind::Predict);
    if let Some(answer) = progress.locked(id) {
        report.take(answer);
        report.done = true;
        if report.words.is_empty() && report.curve.is_empty() {
            report.words = in_words(answer, question.options());
        }
    }
    report
}

fn task(id: &str, progress: &Progress) -> ItemReport {
    let state = progress.task(id);
    ItemReport {
        done: state.done,
        points_pct: percent(state.points),
        hints: count(progress.hints(id)),
        confidence_pct: state.confidence.map(u32::from),
        wrong_turns: state.misconceptions.iter().copied().map(count).collect(),
        bought: state.bought.iter().map(|quantity| quantity.key.to_string()).collect(),
        ..ItemReport::new(id, Kind::Task)
    }
}

fn checkpoint(id: &str, question: &Question, progress: &Progress) -> ItemReport {
    let mut report = ItemReport::new(id, Kind::of_question(question));
    for attempt in progress.attempts(id) {
        if let Some(answer) = &attempt.answer {
            report.take(answer);
        }
        // Own words stand in the report once, not with every try.
        let shown = attempt.answer.as_ref().filter(|_| report.kind != Kind::Words);
        report.push(Try {
            draw: attempt.draw,
            answer: shown.map_or_else(String::new, |answer| in_words(answer, question.options())),
            right: attempt.right,
            points_pct: percent(attempt.points),
            misconception: attempt.misconception.filter(|_| !attempt.right).map(count),
            seconds: 0,
        });
    }
    let tries = progress.tries(id);
    report.hints = count(progress.hints(id));
    report.points_pct = percent(tries.best);
    report.done = tries.over || tries.draw > 0;
    report
}

impl ItemReport {
    /// Keeps what can be laid over other learners' answers.
    fn take(&mut self, answer: &Answer) {
        match answer {
            Answer::Choice(index) => self.picked = vec![count(*index)],
            Answer::Choices(list) | Answer::Order(list) => self.picked = list.iter().copied().map(count).collect(),
            Answer::Sketch(sketch) => {
                self.curve = sketch.steps().iter().map(|s| i32::from(*s) * 1000 / i32::from(STEPS)).collect();
            }
            Answer::Words(words) => self.words.clone_from(words),
            Answer::Number(_) => {}
        }
    }
}

/// An answer for people: numbers as they were typed, options by their text, everything else by its number in the lesson.
fn in_words(answer: &Answer, options: &[Choice]) -> String {
    let option = |index: &usize| match options.get(*index) {
        Some(option) => bare_line(&option.text),
        None => (index + 1).to_string(),
    };
    match answer {
        Answer::Number(typed) => typed.text.clone(),
        Answer::Choice(index) => option(index),
        Answer::Choices(list) => list.iter().map(option).collect::<Vec<_>>().join("; "),
        Answer::Order(list) => list.iter().map(|i| (i + 1).to_string()).collect::<Vec<_>>().join(" > "),
        Answer::Sketch(_) => String::new(),
        Answer::Words(words) => words.clone(),
    }
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

fn percent(share: f64) -> u32 {
    (100.0 * share.clamp(0.0, 1.0)).round() as u32
}
