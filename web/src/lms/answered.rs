//! What passes between the page and a platform of either kind: what it knew at the launch, each new answer, and how a learner
//! stands.

use volute_lessons::results::{ItemReport, Kind, Report, Try};

/// What the platform knew when the page was launched.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AtLaunch {
    /// Who is learning, as a text that stays; empty without a platform.
    pub learner: String,
    /// What was kept of earlier visits, as it was told; empty at the first.
    pub memory: String,
    /// Whether nothing that is done now counts or is kept.
    pub read_only: bool,
    /// The language that the learner wants, of those that the page speaks.
    pub language: Option<String>,
}

/// One answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answered {
    /// Lesson.
    pub lesson: String,
    /// Question in it.
    pub item: String,
    /// What kind of question.
    pub kind: Kind,
    /// What was answered.
    pub response: Response,
    /// Whether it was right; nothing where that is not judged.
    pub right: Option<bool>,
    /// What it earned, per cent.
    pub points_pct: u32,
    /// Time since the answer before it, or since the launch, in s.
    pub seconds: u32,
}

/// What was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Response {
    /// As it was typed.
    Text(String),
    /// Options or items by index from 0, in the learner's order.
    Picks(Vec<u32>),
    /// Heights of a drawn curve from left to right, in thousandths of the axis.
    Curve(Vec<i32>),
}

/// How a learner stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Share of the points, per cent; nothing where nothing is scored.
    pub points_pct: Option<u32>,
    /// Whether everything that is asked was tried.
    pub complete: bool,
}

impl Standing {
    /// As a report has it.
    pub fn of(report: &Report) -> Self {
        let complete = !report.lessons.is_empty() && report.lessons.iter().all(|lesson| lesson.complete);
        Self { points_pct: report.points_pct(), complete }
    }

    /// Whether the pass mark is reached. It is final: points are the best of all tries, so they never fall.
    pub fn passes(&self, pass_pct: f64) -> bool {
        self.points_pct.is_some_and(|points| pass_pct <= f64::from(points))
    }
}

/// What `after` has that `before` has not, in the order of the lessons.
pub fn answers(before: &Report, after: &Report) -> Vec<Answered> {
    let mut out = Vec::new();
    for (lesson, item) in after.items() {
        let was = before.items().find(|(l, i)| l.id == lesson.id && i.id == item.id).map(|(_, i)| i);
        let judged = made_or_done(item);
        let answer = |response, made: Option<&Try>| Answered {
            lesson: lesson.id.clone(),
            item: item.id.clone(),
            kind: item.kind,
            response,
            right: made.map_or(judged, |made| Some(made.right)).filter(|_| item.kind.is_scored()),
            points_pct: made.map_or(item.points_pct, |made| made.points_pct),
            seconds: 0,
        };
        let new = new_tries(was.map_or(&[], |was| &was.tries), &item.tries);
        for (i, made) in new.iter().enumerate() {
            // What was picked or drawn is kept of the last try only.
            let last = i + 1 == new.len();
            out.push(answer(
                if last { response(item, &made.answer) } else { Response::Text(made.answer.clone()) },
                Some(made),
            ));
        }
        // What is not tried again and again is told when it is done, and when its words change.
        let said = |item: &ItemReport| (item.words.clone(), item.picked.clone(), item.curve.clone(), item.done);
        if item.tries.is_empty() && item.done && was.map(said) != Some(said(item)) {
            out.push(answer(response(item, &item.words), None));
        }
    }
    out
}

/// A task has no tries, only an end.
fn made_or_done(item: &ItemReport) -> Option<bool> {
    (item.kind == Kind::Task).then_some(item.done)
}

fn response(item: &ItemReport, text: &str) -> Response {
    match item {
        _ if item.kind == Kind::Task => Response::Text("done".into()),
        _ if item.kind == Kind::Words && text.is_empty() => Response::Text(item.words.clone()),
        _ if !item.picked.is_empty() => Response::Picks(item.picked.clone()),
        _ if !item.curve.is_empty() => Response::Curve(item.curve.clone()),
        _ => Response::Text(text.into()),
    }
}

/// The end of `after` that is not the end of `before`: of a long list the oldest are dropped at its head.
fn new_tries<'t>(before: &[Try], after: &'t [Try]) -> &'t [Try] {
    let most = before.len().min(after.len());
    let kept = (0..=most).rev().find(|kept| before[before.len() - kept..] == after[..*kept]).unwrap_or(0);
    &after[kept..]
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use volute_lessons::results::{LessonReport, MOST_TRIES};

    /// A try, numbered so that no two are the same.
    pub fn made(draw: u32, right: bool) -> Try {
        let points_pct = if right { 100 } else { 0 };
        Try { draw, answer: format!("{draw} kPa"), right, points_pct, ..Try::default() }
    }

    /// A report of one lesson with these items.
    pub fn report(items: Vec<ItemReport>, complete: bool) -> Report {
        let lesson = LessonReport { id: "a-lesson".into(), complete, items, ..LessonReport::default() };
        Report { lessons: vec![lesson], ..Report::default() }
    }

    /// An item with these tries.
    pub fn item(id: &str, kind: Kind, tries: &[Try]) -> ItemReport {
        let mut item = ItemReport::new(id, kind);
        tries.iter().for_each(|made| item.push(made.clone()));
        item
    }

    #[test]
    fn by_hand_only_what_is_new_is_told() {
        let tries = [made(0, false), made(1, true)];
        let none = report(vec![item("p", Kind::Number, &[])], false);
        let one = report(vec![item("p", Kind::Number, &tries[..1])], false);
        let two = report(vec![item("p", Kind::Number, &tries)], true);
        assert_eq!(answers(&none, &none), []);
        assert_eq!(answers(&two, &two), []);
        let first = &answers(&none, &one)[..];
        assert_eq!((first.len(), first[0].right, first[0].points_pct), (1, Some(false), 0));
        assert_eq!(first[0].response, Response::Text("0 kPa".into()));
        assert_eq!(answers(&one, &two)[0].right, Some(true));
        assert_eq!(answers(&Report::default(), &two).len(), 2);
        // The list is full: its head goes, its end is new.
        let long: Vec<Try> = (0..70).map(|draw| made(draw, false)).collect();
        let full = report(vec![item("p", Kind::Number, &long[..MOST_TRIES])], false);
        let next = report(vec![item("p", Kind::Number, &long[2..MOST_TRIES + 2])], false);
        assert_eq!(answers(&full, &next).len(), 2);
    }

    #[test]
    fn by_hand_what_is_not_judged_is_told_once() {
        let mut guess = item("g", Kind::Predict, &[]);
        let before = report(vec![guess.clone()], false);
        (guess.done, guess.picked) = (true, vec![2]);
        let after = report(vec![guess], false);
        let told = answers(&before, &after);
        assert_eq!((told.len(), told[0].right, told[0].response.clone()), (1, None, Response::Picks(vec![2])));
        assert_eq!(answers(&after, &after), []);
        // A task: nothing of its way, only its end.
        let mut task = item("t", Kind::Task, &[]);
        let before = report(vec![task.clone()], false);
        (task.done, task.points_pct) = (true, 90);
        let told = answers(&before, &report(vec![task], true));
        assert_eq!((told.len(), told[0].right, told[0].points_pct), (1, Some(true), 90));
    }

    #[test]
    fn by_hand_where_a_learner_stands() {
        let half = report(vec![item("p", Kind::Number, &[made(0, true)]), item("q", Kind::Choice, &[])], false);
        let standing = Standing::of(&half);
        assert_eq!(standing, Standing { points_pct: Some(50), complete: false });
        assert!(standing.passes(50.0) && !standing.passes(50.5));
        assert_eq!(Standing::of(&Report::default()), Standing { points_pct: None, complete: false });
        assert!(!Standing::of(&report(vec![], true)).passes(0.0));
    }
}
