//! What the page knows of lessons: which is open and how far, what it frees, hides and marks, and what is kept of it.

use super::hand;
use super::keep::{self, Kept, KeptState};
use super::library;
use super::session::{self, Cover, Holds, Session, Source, bench_settings};
use crate::bench::plot::Inks;
use crate::browser;
use crate::language::{t, tf};
use crate::run::Run;
use crate::share::{self, Shared};
use crate::state::BenchSettings;
use crate::store::Store;
use crate::units::UnitSystem;
use crate::view;
use leptos::prelude::*;
use std::rc::Rc;
use std::sync::Arc;
use volute_lessons::assignment::{Assignment, Numbers};
use volute_lessons::bench::Bench;
use volute_lessons::index::Index;
use volute_lessons::lesson::{Layout, Lesson, Marked, Step, Task};
use volute_lessons::progress::Progress;
use volute_lessons::seed::Seed;
use volute_lessons::units::Style;

/// Longest pause that counts as time spent with a lesson, in s: who has been away longer was away.
const LONGEST_PAUSE_S: f64 = 120.0;

/// What the sheet shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Opening {
    /// The list of lessons.
    Contents,
    /// A lesson is on its way: its text, or its numbers.
    Coming {
        /// Which.
        id: String,
        /// Whose numbers it will have.
        seed: u64,
    },
    /// It did not come.
    Failed {
        /// Which.
        id: String,
        /// What was wanted of it.
        want: Want,
        /// Whose numbers it would have had.
        seed: u64,
        /// Why, as a sentence.
        says: String,
    },
    /// It is there.
    Open(Session),
}

/// Whose numbers a lesson is opened with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Want {
    /// Where the learner left it; own new numbers the first time.
    Resume,
    /// From the beginning, with new numbers that count.
    Anew,
    /// With new numbers that do not count.
    Practice,
    /// With the numbers of a link.
    Variant(u64),
}

/// Hears of every change of a learner's progress.
pub type Listener = Rc<dyn Fn(&Session, &Progress)>;

/// What lessons need from the page, and what the page needs to know of them.
#[derive(Clone, Copy)]
pub struct Desk {
    /// What the sheet shows.
    pub opening: RwSignal<Opening>,
    /// How far the learner is.
    pub progress: RwSignal<Progress>,
    /// The stage or task that is on.
    pub active: RwSignal<Option<String>>,
    /// The list of lessons, once it has come; or why it did not, as a sentence.
    pub list: RwSignal<Option<Result<Arc<Index>, String>>>,
    /// What has been asked of the learner beyond the lessons themselves.
    pub assignment: RwSignal<Option<Arc<Assignment>>>,
    /// The bench as it stands.
    pub run: Signal<Arc<Run>>,
    /// Counts up each time the bench has settled: tasks are judged then, not while a slider moves.
    pub settled: RwSignal<u32>,
    /// Units of the page.
    pub units: Signal<UnitSystem>,
    /// Tones of the page's plots.
    pub inks: Signal<Option<Inks>>,
    /// Whether the sheet is on the page.
    pub sheet: RwSignal<bool>,
    /// Sets the bench.
    pub on_bench: Callback<BenchSettings>,
    /// Opens views, by their names.
    pub on_views: Callback<Vec<&'static str>>,
    /// The bench begins anew: what was before is not undone from here on.
    pub on_fresh: Callback<()>,
    /// Says something that the learner must see.
    pub on_notice: Callback<String>,
    store: StoredValue<Store, LocalStorage>,
    listeners: StoredValue<Vec<Listener>, LocalStorage>,
    /// Counts up with each opening: an earlier one that comes late is dropped.
    ticket: StoredValue<u32>,
    /// When the time that is spent was last counted, in ms.
    counted: StoredValue<f64>,
}

/// What the page lends.
pub struct Host {
    /// The bench as it stands.
    pub run: Signal<Arc<Run>>,
    /// Counts up each time the bench has settled.
    pub settled: RwSignal<u32>,
    /// Units of the page.
    pub units: Signal<UnitSystem>,
    /// Tones of the page's plots.
    pub inks: Signal<Option<Inks>>,
    /// Sets the bench.
    pub on_bench: Callback<BenchSettings>,
    /// Opens views.
    pub on_views: Callback<Vec<&'static str>>,
    /// The bench begins anew.
    pub on_fresh: Callback<()>,
    /// Says something that the learner must see.
    pub on_notice: Callback<String>,
    /// What the device keeps.
    pub store: Store,
}

impl Desk {
    /// With the list of lessons in front.
    pub fn new(host: Host) -> Self {
        let Host { run, settled, units, inks, on_bench, on_views, on_fresh, on_notice, store } = host;
        let desk = Self {
            opening: RwSignal::new(Opening::Contents),
            progress: RwSignal::new(Progress::default()),
            active: RwSignal::new(None),
            list: RwSignal::new(None),
            assignment: RwSignal::new(None),
            sheet: RwSignal::new(true),
            run,
            settled,
            units,
            inks,
            on_bench,
            on_views,
            on_fresh,
            on_notice,
            store: StoredValue::new_local(store),
            listeners: StoredValue::new_local(Vec::new()),
            ticket: StoredValue::new(0),
            counted: StoredValue::new(0.0),
        };
        // Whatever changes is kept at once: a page may go away at any moment.
        view::effect(move || {
            desk.progress.track();
            desk.active.track();
            settled.track();
            desk.keep();
        });
        desk.fetch_list(|_| {});
        desk
    }

    /// Fetches the list of lessons, and calls back when it is there.
    pub fn fetch_list(self, then: impl FnOnce(Result<Arc<Index>, String>) + 'static) {
        library::list(move |list| {
            // Nothing is left of it when the page has gone.
            if self.list.try_set(Some(list.clone())).is_none() {
                then(list);
            }
        });
    }

    fn with_list(self, then: impl FnOnce(Result<Arc<Index>, String>) + 'static) {
        match self.list.get_untracked() {
            Some(Ok(list)) => then(Ok(list)),
            _ => self.fetch_list(then),
        }
    }

    /// The lesson that is open.
    pub fn session(&self) -> Option<Session> {
        self.opening.with(|o| if let Opening::Open(session) = o { Some(session.clone()) } else { None })
    }

    /// The same, without being told when it changes.
    pub fn session_now(&self) -> Option<Session> {
        self.opening.with_untracked(|o| if let Opening::Open(session) = o { Some(session.clone()) } else { None })
    }

    /// How lesson text prints numbers.
    pub fn style(&self) -> Style {
        session::style(self.units.get() == UnitSystem::Customary)
    }

    /// Calls back with every change of a learner's progress, also with that of a lesson that is opened.
    pub fn on_progress(&self, listener: impl Fn(&Session, &Progress) + 'static) {
        self.listeners.update_value(|all| all.push(Rc::new(listener)));
    }

    /// What is kept of a lesson.
    pub fn kept(&self, lesson: &str, source: &Source) -> Option<Kept> {
        self.store.with_value(|store| store.get_at(&keep::name(lesson, source)))
    }

    /// Keeps a record of a lesson that need not be open.
    pub fn keep_record(&self, lesson: &str, source: &Source, kept: &Kept) -> bool {
        self.store.with_value(|store| store.set_at(&keep::name(lesson, source), kept))
    }

    /// Forgets what is kept of a lesson.
    pub fn forget(&self, lesson: &str, source: &Source) {
        self.store.with_value(|store| store.remove_at::<Kept>(&keep::name(lesson, source)));
    }

    /// Where the learner's own progress is kept: that of the assignment if there is one.
    pub fn own(&self) -> Source {
        self.assignment.with_untracked(|a| a.as_ref().map_or(Source::Own, |a| Source::Assigned(a.digest())))
    }

    fn keep(&self) {
        let Some(session) = self.session_now() else { return };
        let now = browser::now_ms();
        let pause_s = (now - self.counted.get_value()) / 1000.0;
        if pause_s >= 1.0 {
            self.counted.set_value(now);
            if pause_s <= LONGEST_PAUSE_S {
                // Time is no answer: who waits for those need not hear of it.
                self.progress.update_untracked(|p| p.spent_s = p.spent_s.saturating_add(pause_s as u32));
            }
        }
        let progress = self.progress.get_untracked();
        let mut fresh = Progress::new(progress.seed);
        fresh.spent_s = progress.spent_s;
        let begun = progress != fresh;
        if begun {
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

    /// Opens a lesson. `at_start`: sets the bench as the lesson begins, or as it was left.
    pub fn open(self, id: String, want: Want, at_start: bool) {
        let ticket = self.ticket.with_value(|n| n.wrapping_add(1));
        self.ticket.set_value(ticket);
        let current = move || self.ticket.try_get_value() == Some(ticket);
        let (source, kept) = self.whose(&id, want);
        let seed = kept.progress.seed;
        self.opening.set(Opening::Coming { id: id.clone(), seed: seed.0 });
        self.sheet.set(true);
        let failed = move |id: String, says: String| {
            if current() {
                self.opening.set(Opening::Failed { id, want, seed: seed.0, says });
            }
        };
        let came = move |id: String, text: Result<&'static Lesson, String>| match text {
            Err(says) => failed(id, says),
            Ok(lesson) => {
                if !current() {
                    return;
                }
                if matches!(want, Want::Anew | Want::Practice) {
                    // What was kept before is replaced only now that there is something in its place.
                    self.keep_record(&id, &source, &kept);
                }
                hand::work_out(
                    current,
                    move |solver| lesson.work_out(seed, solver),
                    move |worked| match worked {
                        Ok(worked) => self.opened(lesson, Arc::new(worked), source, kept, at_start),
                        Err(e) => {
                            let says = tf(
                                "This lesson's numbers could not be worked out: {reason}.",
                                &[("reason", &e.to_string())],
                            );
                            failed(id, says);
                        }
                    },
                );
            }
        };
        self.with_list(move |list| match list {
            Err(says) => came(id, Err(says)),
            Ok(list) => library::fetch(list, id.clone(), move |text| came(id, text)),
        });
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
            let single = a.as_ref().and_then(|a| a.single(&lesson.id));
            single.map(|ids| ids.into_iter().map(String::from).collect::<Vec<_>>())
        });
        let session = Session { lesson, worked, source, only };
        let start = session.start();
        // Where the bench was left, if it was left on a state that still reads.
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

    /// The lesson that a link to this page names, and whose numbers.
    pub fn shared(&self) -> Option<(String, u64)> {
        self.opening.with_untracked(|o| match o {
            Opening::Contents => None,
            Opening::Coming { id, seed } | Opening::Failed { id, seed, .. } => Some((id.clone(), *seed)),
            Opening::Open(session) => Some((session.lesson.id.clone(), session.worked.seed.0)),
        })
    }

    /// Leaves the lesson; the list takes its place.
    pub fn leave(self) {
        self.drop_lesson();
        self.opening.set(Opening::Contents);
    }

    /// The same by the learner's own hand.
    pub fn contents(self) {
        self.leave();
        browser::after(0, || browser::focus("lesson"));
    }

    /// Closes the sheet; the bench keeps its settings.
    pub fn close(self) {
        self.leave();
        self.sheet.set(false);
    }

    fn drop_lesson(self) {
        self.keep();
        self.ticket.update_value(|n| *n = n.wrapping_add(1));
        self.active.set(None);
    }

    /// Sets the bench to one of a lesson's.
    pub fn set_bench(self, bench: Option<&Bench>) {
        match bench.map(bench_settings) {
            Some(Ok(next)) => self.on_bench.run(next),
            Some(Err(e)) => self.on_notice.run(e),
            None => {}
        }
    }

    /// Turns a stage or task on: its controls, what it hides and marks, its views.
    pub fn begin(self, id: &str, layout: &Layout) {
        self.active.set(Some(id.into()));
        self.on_views.run(layout.views.clone());
    }

    /// The layouts that hold now: the lesson's own, as far as it still hides; that of the stage or task that is on.
    fn layouts(
        &self,
        session: &Session,
    ) -> (Option<&'static Layout>, Option<(&'static Layout, Option<&'static Task>)>) {
        let start = &session.lesson.start;
        let open = self.progress.with(|p| start.hide_until.as_ref().is_none_or(|until| p.locked(until).is_some()));
        let id = self.active.get();
        let step = session.lesson.steps.iter().find(|s| s.id().is_some() && s.id() == id.as_deref());
        let active: Option<(&'static Layout, Option<&'static Task>)> = match step {
            Some(Step::Stage(stage)) => Some((&stage.layout, None)),
            Some(Step::Task(task)) if !self.progress.with(|p| p.is_task_done(&task.id)) => {
                Some((&task.layout, Some(task)))
            }
            _ => None,
        };
        ((!open).then_some(&start.layout), active)
    }

    /// What the bench keeps back.
    pub fn cover(&self) -> Cover {
        let Some(session) = self.session() else { return Cover::default() };
        let (start, active) = self.layouts(&session);
        let bought = active
            .and_then(|(_, task)| task)
            .map_or_else(Vec::new, |task| self.progress.with(|p| p.task(&task.id).bought));
        let assigned = self.assignment.get();
        let extra = assigned.as_ref().map(|a| Layout { hide: a.hidden(), ..Layout::default() });
        let layouts: Vec<&Layout> = start.into_iter().chain(active.map(|(l, _)| l)).chain(&extra).collect();
        let views = assigned.map_or_else(Vec::new, |a| a.hide_views.clone());
        Cover::of(&layouts, &bought).without_views(&views)
    }

    /// What the learner may move.
    pub fn holds(&self) -> Holds {
        let Some(session) = self.session() else { return Holds::default() };
        let (_, active) = self.layouts(&session);
        let own = active.map(|(layout, _)| &layout.free).filter(|free| !free.is_empty());
        Holds::of(own.unwrap_or(&session.lesson.start.layout.free))
    }

    /// What is marked on the bench.
    pub fn marks(&self) -> Vec<Marked> {
        let Some(session) = self.session() else { return Vec::new() };
        let (_, active) = self.layouts(&session);
        match active {
            Some((layout, _)) => layout.mark.clone(),
            None => session.lesson.start.layout.mark.clone(),
        }
    }

    /// Whether another draw of a checkpoint is allowed.
    pub fn may_go_again(&self, draws: u32) -> bool {
        self.assignment.with(|a| a.as_ref().is_none_or(|a| a.may_go_again(draws + 1)))
    }

    /// Whether hints may be taken.
    pub fn may_hint(&self) -> bool {
        self.assignment.with(|a| a.as_ref().is_none_or(|a| a.hints))
    }

    /// Whether a lesson may be begun again with new numbers that count.
    pub fn may_begin_anew(&self) -> bool {
        self.assignment.with(|a| a.as_ref().is_none_or(|a| a.numbers == Numbers::New))
    }
}

/// What is marked, in words.
pub fn marked_words(marks: &[Marked]) -> String {
    let names = marks.iter().map(|mark| match mark {
        Marked::Control(control) => control_name(&control.name()),
        Marked::Quantity(quantity) => crate::language::t_any(quantity.about),
    });
    names.collect::<Vec<_>>().join(", ")
}

/// The names of what is marked, for the style sheet.
pub fn marked_names(marks: &[Marked]) -> String {
    let names = marks.iter().map(|mark| match mark {
        Marked::Control(control) => control.name(),
        Marked::Quantity(quantity) => quantity.name.to_string(),
    });
    names.collect::<Vec<_>>().join(" ")
}

fn control_name(name: &str) -> String {
    match name {
        "vane" => t("vane position").into(),
        "load" => t("load").into(),
        "speed" => t("engine speed").into(),
        "ambient" => t("air outside").into(),
        "altitude" => t("altitude").into(),
        "hold" => t("torque or fuel held").into(),
        "parts" => t("parts of the engine").into(),
        part => part.trim_start_matches("parts.").replace(['.', '_'], " "),
    }
}
