//! Between the lessons and the platform: what it kept goes to where lessons look, what is done goes to it.

use super::{bond, memory};
use crate::browser;
use crate::language::t;
use crate::lessons::library;
use crate::lessons::record::Kept;
use crate::lessons::study::{Given, Study};
use crate::packed::packed;
use leptos::prelude::{Callable, GetUntracked, Set};
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_lessons::assignment::{self, Assignment};
use volute_lessons::fnv::fnv;
use volute_lessons::index::Index;
use volute_lessons::lesson::Lesson;
use volute_lessons::progress::Progress;
use volute_lessons::results::{LessonReport, Report};
use volute_lessons::seed::Seed;

/// Largest number of a variant, as the page gives them out.
const VARIANTS: u64 = 9999;

thread_local! {
    /// The lessons of the package's assignment, once [`prepare`] has them.
    static LESSONS: RefCell<Vec<&'static Lesson>> = const { RefCell::new(Vec::new()) };
}

fn assigned() -> Option<Assignment> {
    packed().and_then(|packed| assignment::decode(&packed.link).ok())
}

/// Brings the lessons of the package where a platform keeps what is done, then calls back: what it kept can only be read with
/// them, and must be there before anybody opens one. A lesson that does not come is left out; opening it says why.
pub fn prepare(then: Box<dyn FnOnce()>) {
    let Some(assignment) = assigned().filter(|_| bond::keeps()) else { return then() };
    let mut ids: Vec<String> = assignment.lessons().into_iter().map(String::from).collect();
    ids.reverse();
    library::list(move |list| match list {
        Ok(list) => bring(list, ids, then),
        Err(_) => then(),
    });
}

fn bring(list: Arc<Index>, mut ids: Vec<String>, then: Box<dyn FnOnce()>) {
    let Some(id) = ids.pop() else { return then() };
    library::fetch(list.clone(), id, move |lesson| {
        LESSONS.with_borrow_mut(|lessons| lessons.extend(lesson.ok()));
        bring(list, ids, then);
    });
}

/// Gives the lessons the assignment of the package, and ties them to the platform, where there is one. Before any lesson is
/// opened.
pub fn attach(study: Study) {
    let Some(assignment) = assigned() else { return };
    // Progress is kept under the assignment's name.
    if study.assignment.get_untracked().is_none() {
        study.assignment.set(Some(Arc::new(Given::new(assignment.clone()))));
    }
    let Some((lms, kept)) = bond::here().filter(|_| bond::keeps()) else { return };
    let lessons = LESSONS.take();
    resume(study, &assignment, &lessons, &kept.learner, &kept.memory);
    lms.begin_with(&report(study, &assignment, &lessons));
    let told = RefCell::new(None);
    let worst = Cell::new(memory::Left::Nothing);
    study.on_progress(move |session, progress| {
        // Practice, and variants of a link, are the learner's own business.
        if session.source != study.own() {
            return;
        }
        // Time passes while nothing is done: that alone is not told.
        let done = without_time(progress);
        if told.borrow().as_ref() == Some(&(session.lesson.id.clone(), done.clone())) {
            return;
        }
        *told.borrow_mut() = Some((session.lesson.id.clone(), done));
        let memory = memory::write(&records(study, &lessons), &session.lesson.id, |id| find(&lessons, id));
        // Each is told when it first comes to that, not at every answer from then on.
        if worst.replace(worst.get().max(memory.left)) < memory.left {
            study.on_notice.run(left_out(memory.left).into());
        }
        lms.tell(&report(study, &assignment, &lessons), &memory.text, &session.lesson.id);
    });
}

/// What the platform cannot keep, as a sentence for the learner.
fn left_out(left: memory::Left) -> &'static str {
    use memory::Left;
    match left {
        Left::Nothing => "",
        Left::Words => t(
            "The learning platform has little room: long texts in your own words are cut short in what it keeps for next time. Points and answers are all kept.",
        ),
        Left::Answers => t(
            "The learning platform has no more room for every answer: of lessons that are done, your next visit will show points and what was done, but not each answer. Points are all kept.",
        ),
        Left::Lessons => t(
            "The learning platform has no room for all that you have done. Points already given stay there; answers to the lessons done first may be missing next time.",
        ),
    }
}

/// Puts what the platform kept where lessons look for it. A lesson that was not begun gets the learner's own numbers, the same
/// at every launch.
fn resume(study: Study, assignment: &Assignment, lessons: &[&'static Lesson], learner: &str, text: &str) {
    let mut memory = memory::read(text, |id| find(lessons, id));
    let own = own_seed(learner, &assignment.digest());
    for lesson in lessons {
        let progress = memory.remove(&lesson.id).unwrap_or_else(|| Progress::new(assignment.seed(own, 0)));
        study.keep_record(&lesson.id, &study.own(), &Kept { progress, ..Kept::default() });
    }
}

/// A learner's own variant of an assignment.
fn own_seed(learner: &str, assignment: &str) -> Seed {
    if learner.is_empty() {
        return Seed(browser::dice());
    }
    let hash = fnv(learner.bytes().chain([0xff]).chain(assignment.bytes()));
    Seed(1 + (hash >> 16) % VARIANTS)
}

fn without_time(progress: &Progress) -> Progress {
    let mut own = progress.clone();
    own.spent_s = 0;
    own
}

fn find(lessons: &[&'static Lesson], id: &str) -> Option<&'static Lesson> {
    lessons.iter().copied().find(|lesson| lesson.id == id)
}

/// How far the learner is in each lesson that was begun.
fn records(study: Study, lessons: &[&'static Lesson]) -> BTreeMap<String, Progress> {
    let own = study.own();
    let begun = |progress: &Progress| without_time(progress) != Progress::new(progress.seed);
    let kept = lessons.iter().filter_map(|lesson| Some((lesson.id.clone(), study.kept(&lesson.id, &own)?.progress)));
    kept.filter(|(_, progress)| begun(progress)).collect()
}

fn report(study: Study, assignment: &Assignment, lessons: &[&'static Lesson]) -> Report {
    let own = study.own();
    let lessons = lessons.iter().map(|lesson| {
        let progress = study.kept(&lesson.id, &own).map(|kept| kept.progress).unwrap_or_default();
        let only = assignment.single(&lesson.id);
        LessonReport::of(lesson, "", &progress.fitting(lesson), only.as_deref())
    });
    Report { assignment: Some(assignment.clone()), lessons: lessons.collect(), ..Report::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_own_numbers_stay_and_differ() {
        let seeds: Vec<u64> = (0..1000).map(|n| own_seed(&format!("learner {n}"), "a").0).collect();
        assert!(seeds.iter().all(|seed| (1..=VARIANTS).contains(seed)));
        let mut distinct = seeds.clone();
        distinct.sort_unstable();
        distinct.dedup();
        // 1000 out of 9999 at random leave about 952 different ones.
        assert!((930..=975).contains(&distinct.len()), "{}", distinct.len());
        assert_eq!(own_seed("learner 7", "a").0, seeds[7]);
        assert_ne!(own_seed("learner 7", "b").0, seeds[7]);
    }
}
