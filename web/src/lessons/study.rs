//! What the page knows of lessons: which one is open, what an assignment asks, and what the device keeps. The module that reads
//! lessons does the rest.

use super::draft;
use super::library;
use super::record::{self, Kept, KeptState};
use super::session::{Session, Source};
use crate::browser;
use crate::cover::Cover;
use crate::holds::Holds;
use crate::language;
use crate::plots::inks::Inks;
use crate::refusals::Says;
use crate::run::Run;
use crate::state::BenchSettings;
use crate::store::Store;
use crate::units::UnitSystem;
use crate::view::{self, Newest};
use leptos::prelude::*;
use std::ops::Deref;
use std::rc::Rc;
use std::sync::Arc;
use volute_lessons::assignment::{self, Assignment, Numbers};
use volute_lessons::index::Index;
use volute_lessons::lesson::Layout;
use volute_lessons::progress::Progress;
use volute_lessons::units::Style;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// What the sheet shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Opening {
    /// The list of lessons.
    Contents,
    /// A lesson is being opened: its text is fetched, or its numbers are worked out.
    Coming {
        /// Which.
        id: String,
        /// Whose numbers it will have, where that was wanted.
        seed: Option<u64>,
    },
    /// The lesson could not be opened.
    Failed {
        /// Which.
        id: String,
        /// What was wanted of it.
        want: Want,
        /// Whose numbers it would have had, where that was wanted.
        seed: Option<u64>,
        /// Why, as a sentence.
        says: String,
    },
    /// The lesson is open.
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
    /// A lesson that is being written, with new numbers; nothing of it is kept.
    Draft,
}

/// What only the module that reads lessons can do. The page asks it once a lesson is open; before that, nothing is held, hidden
/// or kept.
pub struct Work {
    /// Makes a lesson's view.
    pub show: fn(Study, Session) -> AnyView,
    /// Keeps how far the learner is.
    pub keep: fn(Study),
    /// What the bench keeps back.
    pub cover: fn(Study) -> Cover,
    /// What the learner may move.
    pub holds: fn(Study) -> Holds,
    /// The names of what is marked on the bench, for the style sheet.
    pub marks: fn(Study) -> String,
    /// The bench as a lesson begins. Errors: a bench that cannot be set, in words.
    pub start: fn(&Session) -> Result<BenchSettings, String>,
}

/// What has been asked of the learner beyond the lessons themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// The terms.
    pub assignment: Assignment,
    /// As a link has it.
    pub text: String,
    /// A name for it, under which its progress is kept.
    pub digest: String,
}

impl Given {
    /// With its names.
    pub fn new(assignment: Assignment) -> Self {
        Self { text: assignment.encode(), digest: assignment.digest(), assignment }
    }
}

impl Deref for Given {
    type Target = Assignment;

    fn deref(&self) -> &Assignment {
        &self.assignment
    }
}

/// Reads an assignment from a link. Errors: the module that can could not be fetched; inside, what is wrong with it.
#[wasm_split(reading, fallible)]
pub fn given(text: String) -> Result<Result<Given, String>, SplitLoaderError> {
    Ok(assignment::decode(&text).map(Given::new).map_err(|e| e.says()))
}

/// Hears of every change of a learner's progress.
pub type Listener = Rc<dyn Fn(&Session, &Progress)>;

/// What lessons need from the page, and what the page needs to know of them.
#[derive(Clone, Copy)]
pub struct Study {
    /// What the sheet shows.
    pub opening: RwSignal<Opening>,
    /// How far the learner is.
    pub progress: RwSignal<Progress>,
    /// The stage or task that is on.
    pub active: RwSignal<Option<String>>,
    /// The list of lessons, once it has come; or why it did not, as a sentence.
    pub list: RwSignal<Option<Result<Arc<Index>, String>>>,
    /// What has been asked of the learner beyond the lessons themselves.
    pub assignment: RwSignal<Option<Arc<Given>>>,
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
    /// What reads and shows lessons: there once its module has come.
    pub(super) work: StoredValue<Option<&'static Work>>,
    store: StoredValue<Store, LocalStorage>,
    pub(super) listeners: StoredValue<Vec<Listener>, LocalStorage>,
    /// Openings: an earlier one that comes late is dropped.
    pub(super) openings: Newest,
    /// When the time that is spent was last counted, in ms.
    pub(super) counted: StoredValue<f64>,
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

impl Study {
    /// With the list of lessons in front.
    pub fn new(host: Host) -> Self {
        let Host { run, settled, units, inks, on_bench, on_views, on_fresh, on_notice, store } = host;
        let study = Self {
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
            work: StoredValue::new(None),
            store: StoredValue::new_local(store),
            listeners: StoredValue::new_local(Vec::new()),
            openings: Newest::new(),
            counted: StoredValue::new(0.0),
        };
        // Whatever changes is kept at once: a page may go away at any moment.
        view::effect(move || {
            study.progress.track();
            study.active.track();
            settled.track();
            study.keep();
        });
        study.fetch_list(|_| {});
        study
    }

    /// Fetches the list of lessons, and calls back when it is there.
    pub fn fetch_list(self, then: impl FnOnce(Result<Arc<Index>, String>) + 'static) {
        library::list(move |list| {
            // The signal is gone when the page is gone.
            if self.list.try_set(Some(list.clone())).is_none() {
                then(list);
            }
        });
    }

    pub(super) fn with_list(self, then: impl FnOnce(Result<Arc<Index>, String>) + 'static) {
        match self.list.get_untracked() {
            Some(Ok(list)) => then(Ok(list)),
            _ => self.fetch_list(then),
        }
    }

    /// The lesson that is open.
    pub fn session(&self) -> Option<Session> {
        self.opening.with(|o| if let Opening::Open(session) = o { Some(session.clone()) } else { None })
    }

    /// The lesson that is open; the caller does not hear when that changes.
    pub fn session_now(&self) -> Option<Session> {
        self.opening.with_untracked(|o| if let Opening::Open(session) = o { Some(session.clone()) } else { None })
    }

    /// How lesson text prints numbers.
    pub fn style(&self) -> Style {
        language::text_style(self.units.get() == UnitSystem::Customary)
    }

    /// Calls back with every change of a learner's progress, also with that of a lesson that is opened.
    pub fn on_progress(&self, listener: impl Fn(&Session, &Progress) + 'static) {
        self.listeners.update_value(|all| all.push(Rc::new(listener)));
    }

    /// What is kept of a lesson.
    pub fn kept(&self, lesson: &str, source: &Source) -> Option<Kept> {
        self.store.with_value(|store| store.get_at(&record::name(lesson, source)))
    }

    /// Keeps a record of a lesson that need not be open.
    pub fn keep_record(&self, lesson: &str, source: &Source, kept: &Kept) -> bool {
        self.store.with_value(|store| store.set_at(&record::name(lesson, source), kept))
    }

    /// How far the learner is with a lesson, in a word; nothing where it was not begun.
    pub fn state(&self, lesson: &str, source: &Source) -> Option<KeptState> {
        let text = self.store.with_value(|store| store.text_at::<Kept>(&record::name(lesson, source)))?;
        KeptState::of_record(&text)
    }

    /// Forgets what is kept of a lesson.
    pub fn forget(&self, lesson: &str, source: &Source) {
        self.store.with_value(|store| store.remove_at::<Kept>(&record::name(lesson, source)));
    }

    /// Where the learner's own progress is kept: that of the assignment if there is one.
    pub fn own(&self) -> Source {
        self.assignment.with_untracked(|a| a.as_ref().map_or(Source::Own, |a| Source::Assigned(a.digest.clone())))
    }

    /// The lesson that a link to this page names, and whose numbers.
    pub fn shared(&self) -> Option<(String, u64)> {
        self.opening.with_untracked(|o| match o {
            Opening::Contents => None,
            Opening::Coming { id, seed } | Opening::Failed { id, seed, .. } => Some((id.clone(), (*seed)?)),
            Opening::Open(session) if session.source == Source::Draft => {
                Some((draft::ID.into(), session.worked.seed.0))
            }
            Opening::Open(session) => Some((session.lesson.id.clone(), session.worked.seed.0)),
        })
    }

    pub(super) fn is_draft(self) -> bool {
        self.opening.with_untracked(|o| matches!(o, Opening::Open(session) if session.source == Source::Draft))
    }

    /// Whether a lesson has the sheet, or is on its way.
    pub fn is_out(self) -> bool {
        self.opening.with_untracked(|o| *o != Opening::Contents)
    }

    /// Leaves the lesson; the list takes its place.
    pub fn leave(self) {
        self.drop_lesson();
        self.opening.set(Opening::Contents);
    }

    /// Leaves the lesson because the learner asked for it: the focus goes to the list.
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
        self.openings.request();
        self.active.set(None);
    }

    /// Turns a stage or task on: its controls, what it hides and marks, its views.
    pub fn begin(self, id: &str, layout: &Layout) {
        self.active.set(Some(id.into()));
        self.on_views.run(layout.views.clone());
    }

    fn keep(self) {
        if let Some(work) = self.work.get_value() {
            (work.keep)(self);
        }
    }

    fn asked<T: Default>(self, of: impl FnOnce(&Work) -> T) -> T {
        self.opening.track();
        self.work.get_value().map(of).unwrap_or_default()
    }

    /// What the bench keeps back.
    pub fn cover(self) -> Cover {
        self.asked(|work| (work.cover)(self))
    }

    /// What the learner may move.
    pub fn holds(self) -> Holds {
        self.asked(|work| (work.holds)(self))
    }

    /// The names of what is marked on the bench, for the style sheet.
    pub fn marks(self) -> String {
        self.asked(|work| (work.marks)(self))
    }

    /// The bench as the open lesson begins; nothing where none is. Errors: a bench that cannot be set, in words.
    pub fn start(self) -> Option<Result<BenchSettings, String>> {
        Some((self.work.get_value()?.start)(&self.session_now()?))
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
