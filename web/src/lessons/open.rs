//! Opens a lesson: works it out, and says what it frees, hides, marks and keeps. All of it stands in the module that reads lessons.

use super::draft;
use super::library;
use super::marks::marked_names;
use super::reader;
use super::record::{Kept, KeptState};
use super::session::{Session, Source, bench_settings};
use super::stints;
use super::study::{Opening, Study, Want, Work};
use crate::browser;
use crate::cover::Cover;
use crate::holds::Holds;
use crate::language::{t, tf};
use crate::share::{self, Shared};
use crate::units::UnitSystem;
use crate::view::Request;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::bench::Bench;
use volute_lessons::lesson::{Layout, Lesson, Marked};
use volute_lessons::progress::Progress;
use volute_lessons::seed::Seed;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// Longest pause that counts as time spent with a lesson, in s. After a longer one the learner was somewhere else. Chosen.
const LONGEST_PAUSE_S: f64 = 120.0;

/// A lesson whose text has come.
pub struct Arrival {
    /// Who asked.
    pub study: Study,
    /// The lesson.
    pub lesson: &'static Lesson,
    /// The opening that it belongs to.
    pub opening: Request,
    /// Whose numbers are wanted.
    pub want: Want,
    /// Whether the bench is set as the lesson begins, or as it was left.
    pub at_start: bool,
}

/// What the page asks of this module.
static WORK: Work = Work {
    show: reader::show,
    keep: |study| study.keep_progress(),
    cover: |study| study.lesson_covers(),
    holds: |study| study.lesson_holds(),
    marks: |study| marked_names(&study.lesson_marks()),
    start: Session::start,
};

/// Works a lesson out and opens it. All that reads, works out and shows lessons stands in a module of its own: the bench does
/// not wait for it. Errors: that module could not be fetched.
#[wasm_split(lesson, fallible)]
pub fn begin(arrival: Arrival) -> Result<(), SplitLoaderError> {
    let Arrival { study, lesson, opening, want, at_start } = arrival;
    if !opening.stands() {
        return Ok(());
    }
    study.work.set_value(Some(&WORK));
    let (source, kept) = study.whose(&lesson.id, want);
    if matches!(want, Want::Anew | Want::Practice) {
        // What was kept before is replaced only now that there is something in its place.
        study.keep_record(&lesson.id, &source, &kept);
    }
    let seed = kept.progress.seed;
    stints::work_out(
        move || opening.stands(),
        move |solver| lesson.work_out(seed, solver),
        move |worked| match worked {
            Ok(worked) => study.opened(lesson, Arc::new(worked), source, kept, at_start),
            Err(e) => {
                let reason = e.to_string();
                let says = tf("This lesson's numbers could not be worked out: {reason}.", &[("reason", &reason)]);
                let id = if want == Want::Draft { draft::ID.into() } else { lesson.id.clone() };
                study.opening.set(Opening::Failed { id, want, seed: Some(seed.0), says });
            }
        },
    );
    Ok(())
}

impl Study {
    /// Opens a lesson. `at_start`: sets the bench as the lesson begins, or as it was left.
    pub fn open(self, id: String, want: Want, at_start: bool) {
        // A draft is opened under the draft's id, whatever id stands in its text, and stays a draft when it is practised.
        let again = want == Want::Practice && self.is_draft();
        let draft = again || id == draft::ID;
        let (id, want, at_start) = if draft { (draft::ID.into(), Want::Draft, true) } else { (id, want, at_start) };
        let opening = self.openings.request();
        let seed = match want {
            Want::Variant(seed) => Some(seed),
            // A draft takes no numbers from a link, but the link has to go on naming the draft.
            Want::Draft => Some(1),
            _ => None,
        };
        self.opening.set(Opening::Coming { id: id.clone(), seed });
        self.sheet.set(true);
        let failed = move |id: String, says: String| {
            if opening.stands() {
                self.opening.set(Opening::Failed { id, want, seed, says });
            }
        };
        self.with_list(move |list| match list {
            Err(says) => failed(id, says),
            Ok(list) => library::fetch(list, id.clone(), move |text| match text {
                Err(says) => failed(id, says),
                Ok(lesson) => {
                    wasm_bindgen_futures::spawn_local(async move {
                        if begin(Arrival { study: self, lesson, opening, want, at_start }).await.is_err() {
                            failed(id, t("The part of this page that reads lessons did not come: the network or the host does not give it.").into());
                        }
                    });
                }
            }),
        });
    }

    fn keep_progress(&self) {
        let Some(session) = self.session_now() else { return };
        let now = browser::now_ms();
        let pause_s = (now - self.counted.get_value()) / 1000.0;
        if pause_s >= 1.0 {
            self.counted.set_value(now);
            if pause_s <= LONGEST_PAUSE_S {
                // Spent time is no answer: those who wait for answers need not hear of it.
                self.progress.update_untracked(|p| p.spent_s = p.spent_s.saturating_add(pause_s as u32));
            }
        }
        let progress = self.progress.get_untracked();
        let mut fresh = Progress::new(progress.seed);
        fresh.spent_s = progress.spent_s;
        let begun = progress != fresh;
        if begun && session.source != Source::Draft {
            let bench = self.run.with_untracked(|r| share::encode(&Shared::plain(r.bench.clone(), UnitSystem::Si)));
            let active = self.active.get_untracked().unwrap_or_default();
            let state = KeptState::of(&progress, session.lesson);
            let kept = Kept { progress: progress.clone(), state, active, bench };
            self.keep_record(&session.lesson.id, &session.source, &kept);
        }
        for listener in self.listeners.get_value() {
            listener(&session, &progress);
        }
    }

    /// Which numbers a lesson is opened with, and how far the learner is with them.
    fn whose(&self, id: &str, want: Want) -> (Source, Kept) {
        let own = self.own();
        let fresh = |seed: u64| Kept { progress: Progress::new(Seed(seed)), ..Kept::default() };
        let first = |start: u32| {
            self.assignment.with_untracked(|a| match a {
                Some(a) => fresh(a.seed(Seed(browser::dice()), start).0),
                None => fresh(browser::dice()),
            })
        };
        match want {
            Want::Resume => {
                let kept = self.kept(id, &own).unwrap_or_else(|| first(0));
                (own, kept)
            }
            Want::Anew => {
                let starts = self.kept(id, &own).map_or(0, |_| 1);
                (own, first(starts))
            }
            Want::Practice => (Source::Practice, fresh(browser::dice())),
            Want::Draft => (Source::Draft, fresh(browser::dice())),
            Want::Variant(seed) => {
                let has = |source: &Source| self.kept(id, source).filter(|kept| kept.progress.seed == Seed(seed));
                for source in [own.clone(), Source::Practice, Source::Variant(seed)] {
                    if let Some(kept) = has(&source) {
                        return (source, kept);
                    }
                }
                let taken = self.kept(id, &own).is_some();
                (if taken { Source::Variant(seed) } else { own }, fresh(seed))
            }
        }
    }

    fn opened(
        self,
        lesson: &'static Lesson,
        worked: Arc<volute_lessons::work::Worked>,
        source: Source,
        kept: Kept,
        at_start: bool,
    ) {
        let only = self.assignment.with_untracked(|a| {
            // What is asked of a lesson is not asked of a draft that has its id.
            let single = a.as_ref().filter(|_| source != Source::Draft).and_then(|a| a.single(&lesson.id));
            single.map(|ids| ids.into_iter().map(String::from).collect::<Vec<_>>())
        });
        let asked = only.iter().flatten();
        let missing: Vec<String> = asked
            .filter(|id| !lesson.steps.iter().any(|step| step.id() == Some(id)))
            .map(|id| format!("“{id}”"))
            .collect();
        if !missing.is_empty() {
            let ids = missing.join(", ");
            self.on_notice.run(tf("This lesson has no question {ids}, which the assignment asks for. The rest can be done; tell your instructor.", &[("ids", &ids)]));
        }
        let session = Session { lesson, worked, source, only };
        let start = session.start();
        // Where the learner left the bench, if that can still be read.
        let left = share::decode(&kept.bench).ok().flatten().map(|shared| shared.bench);
        self.counted.set_value(browser::now_ms());
        self.active.set(Some(kept.active).filter(|id| lesson.steps.iter().any(|s| s.id() == Some(id))));
        self.progress.set(kept.progress.fitting(lesson));
        self.opening.set(Opening::Open(session));
        self.on_fresh.run(());
        match (at_start, start) {
            (true, Ok(start)) => {
                self.on_bench.run(left.unwrap_or(start));
                self.on_views.run(lesson.start.layout.views.clone());
                browser::after(0, || browser::focus("lesson"));
            }
            (false, Ok(_)) => {}
            (_, Err(e)) => self.on_notice.run(e),
        }
    }

    /// Sets the bench to one of a lesson's.
    pub fn set_bench(self, bench: Option<&Bench>) {
        match bench.map(bench_settings) {
            Some(Ok(next)) => self.on_bench.run(next),
            Some(Err(e)) => self.on_notice.run(e),
            None => {}
        }
    }

    /// The layout of the stage or task that is on.
    fn active_layout(&self, session: &Session) -> Option<&'static Layout> {
        let id = self.active.get();
        self.progress.with(|p| p.active(session.lesson, id.as_deref())).map(|(layout, _)| layout)
    }

    /// What the bench keeps back.
    fn lesson_covers(&self) -> Cover {
        let Some(session) = self.session() else { return Cover::default() };
        let (id, assigned) = (self.active.get(), self.assignment.get());
        self.progress.with(|p| p.covers(session.lesson, id.as_deref(), assigned.as_deref().map(|given| &**given)))
    }

    /// What the learner may move.
    fn lesson_holds(&self) -> Holds {
        let Some(session) = self.session() else { return Holds::default() };
        let own = self.active_layout(&session).map(|layout| &layout.free).filter(|free| !free.is_empty());
        Holds::of(own.unwrap_or(&session.lesson.start.layout.free))
    }

    fn lesson_marks(&self) -> Vec<Marked> {
        let Some(session) = self.session() else { return Vec::new() };
        self.active_layout(&session).unwrap_or(&session.lesson.start.layout).mark.clone()
    }
}
