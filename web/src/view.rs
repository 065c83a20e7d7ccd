//! Pieces of a view that change: each kind has one type, and each lets go of what it watches when it goes.
//!
//! Leptos compiles its rendering once for every type of closure in a view. Behind a signal or a box there is one type for
//! all texts, one for all flags and one for all parts, which takes a quarter off the size of the page.
//!
//! The reactive graph (0.2 and the candidate of 0.3) never strikes a dropped effect or memo off the lists of the signals that
//! it has read. A part that comes and goes would leave its name on those lists for as long as the page is open, and every change
//! would walk through the names of all that is gone. So whatever is made here takes its name off when it goes.

use crate::browser::{self, Turn};
use leptos::prelude::*;
use leptos::reactive::graph::{Observer, Subscriber};

/// A text that changes.
pub fn text<S: Into<String>>(of: impl Fn() -> S + Send + Sync + 'static) -> Signal<String> {
    derived(move || of().into())
}

/// A flag that changes.
pub fn flag(of: impl Fn() -> bool + Send + Sync + 'static) -> Signal<bool> {
    derived(of)
}

/// A value that changes, worked out anew for each reader.
pub fn derived<T: Send + Sync + 'static>(of: impl Fn() -> T + Send + Sync + 'static) -> Signal<T> {
    Signal::derive(move || {
        leave_in_time();
        of()
    })
}

/// A value that changes, worked out once for all readers, who hear of it only when it differs.
pub fn memo<T: PartialEq + Send + Sync + 'static>(of: impl Fn() -> T + Send + Sync + 'static) -> Memo<T> {
    Memo::new(move |_| {
        leave_in_time();
        of()
    })
}

/// A part of the page that changes.
pub type Part = Box<dyn FnMut() -> AnyView + Send>;

/// A part of the page that is there or not, or differs.
pub fn part<V: IntoAny + 'static>(mut of: impl FnMut() -> V + Send + 'static) -> Part {
    Box::new(move || {
        leave_in_time();
        of().into_any()
    })
}

/// Something to do whenever what it reads changes.
pub fn effect(run: impl FnMut() + 'static) {
    boxed_effect(Box::new(run));
}

fn boxed_effect(mut run: Box<dyn FnMut()>) {
    Effect::new(move |_| {
        leave_in_time();
        run();
    });
}

/// Tells the newest request from all earlier ones, whose answers nobody wants any more.
#[derive(Clone, Copy)]
pub struct Newest(StoredValue<u32>);

/// One request among several.
#[derive(Clone, Copy)]
pub struct Request(StoredValue<u32>, u32);

impl Newest {
    /// Before the first request.
    pub fn new() -> Self {
        Self(StoredValue::new(0))
    }

    /// A new request; no earlier one stands any more.
    pub fn request(self) -> Request {
        let number = self.0.with_value(|n| n.wrapping_add(1));
        self.0.set_value(number);
        Request(self.0, number)
    }
}

impl Default for Newest {
    fn default() -> Self {
        Self::new()
    }
}

impl Request {
    /// Whether no newer request was made since, and the part of the page that it belongs to is still there.
    pub fn stands(self) -> bool {
        self.0.try_get_value() == Some(self.1)
    }
}

/// Waits until nobody has asked again for a while, and then does what was asked for last.
#[derive(Clone, Copy)]
pub struct Debounce {
    ms: i32,
    asked: Newest,
}

impl Debounce {
    /// One that waits for so many ms.
    pub fn new(ms: i32) -> Self {
        Self { ms, asked: Newest::new() }
    }

    /// Asks for it. Nothing is done if the part of the page that this belongs to has gone by then.
    pub fn ask(self, what: impl FnOnce() + 'static) {
        let request = self.asked.request();
        browser::after(self.ms, move || {
            if request.stands() {
                what();
            }
        });
    }
}

/// A part of the page that is built piece by piece, each in a task of the browser of its own, so that no slider waits for all
/// of it.
#[derive(Clone, Copy)]
pub struct Stages<S: Copy + 'static>(StoredValue<Vec<(S, Memo<bool>)>>);

impl<S: Copy + PartialEq + Send + Sync + 'static> Stages<S> {
    /// Builds the pieces in this order, from the next task on. `built` hears of each piece and says when the next one comes.
    pub fn start(order: &'static [S], built: impl Fn(S) -> Turn + 'static) -> Self {
        let count = RwSignal::new(0_usize);
        let stands = order.iter().enumerate().map(|(i, stage)| (*stage, memo(move || i < count.get())));
        let stages = Self(StoredValue::new(stands.collect()));
        browser::in_turns(move || {
            let Some(stage) = count.try_get_untracked().and_then(|n| order.get(n)) else { return Turn::Done };
            count.update(|n| *n += 1);
            built(*stage)
        });
        stages
    }

    /// Whether a piece may stand.
    pub fn stands(self, stage: S) -> Memo<bool> {
        let found = self.0.with_value(|all| all.iter().find(|(s, _)| *s == stage).map(|(_, stands)| *stands));
        found.unwrap_or_else(|| memo(|| false))
    }

    /// The same, for a part that is made anew when it changes.
    pub fn has(self, stage: S) -> bool {
        self.stands(stage).get()
    }
}

/// How long a value must stand to be called calm, in ms.
const CALM_MS: i32 = 300;

/// A value once it has not changed for a while: for what no slider should wait for.
pub fn calm<T: Clone + Send + Sync + 'static>(of: Signal<T>) -> Signal<T> {
    let told = RwSignal::new(of.get_untracked());
    let wait = Debounce::new(CALM_MS);
    let mut first = true;
    effect(move || {
        of.track();
        if !std::mem::take(&mut first) {
            wait.ask(move || told.set(of.get_untracked()));
        }
    });
    told.into()
}

/// `one` while somebody looks at it, and `other` while nobody does.
pub fn either<T: Clone + Send + Sync + 'static>(
    looked_at: impl Fn() -> bool + 'static,
    one: Signal<T>,
    other: Signal<T>,
) -> Signal<T> {
    let told = RwSignal::new(other.get_untracked());
    effect(move || told.set(if looked_at() { one.get() } else { other.get() }));
    told.into()
}

/// Whatever watches now lets go of all that it watches before it runs again, or when its part of the page goes.
fn leave_in_time() {
    if let Some(watcher) = Observer::get() {
        on_cleanup(move || watcher.clear_sources(&watcher));
    }
}
