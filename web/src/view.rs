//! Pieces of a view that change, each of one type; and what they watch is let go with them.
//!
//! Leptos compiles its rendering once for every type of closure in a view. Behind a signal or a box there is one type for
//! all texts, one for all flags and one for all parts, which takes a quarter off the size of the page.
//!
//! The reactive graph (0.2 and the candidate of 0.3) never strikes a dropped effect or memo off the lists of the signals that
//! it has read: a part that comes and goes would leave its name there for as long as the page is open, and every change
//! would go through the names of all that is gone. So whatever watches from here says good-bye.

use crate::browser;
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

/// A value that changes, worked out for each that asks.
pub fn derived<T: Send + Sync + 'static>(of: impl Fn() -> T + Send + Sync + 'static) -> Signal<T> {
    Signal::derive(move || {
        leave_in_time();
        of()
    })
}

/// A value that changes, worked out once for all that ask; they hear of it only when it differs.
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

/// How long a value must stand to be called calm, in ms.
const CALM_MS: i32 = 300;

/// The same, once it has not changed for a while: for what no slider should wait for.
pub fn calm<T: Clone + Send + Sync + 'static>(of: Signal<T>) -> Signal<T> {
    let told = RwSignal::new(of.get_untracked());
    let asked = StoredValue::new(0_u32);
    let mut first = true;
    effect(move || {
        of.track();
        if std::mem::take(&mut first) {
            return;
        }
        let ticket = asked.with_value(|a| a.wrapping_add(1));
        asked.set_value(ticket);
        browser::after(CALM_MS, move || {
            if asked.try_get_value() == Some(ticket) {
                told.set(of.get_untracked());
            }
        });
    });
    told.into()
}

/// The one while it is looked at, and the other else.
pub fn either<T: Clone + Send + Sync + 'static>(
    looked_at: impl Fn() -> bool + 'static,
    one: Signal<T>,
    other: Signal<T>,
) -> Signal<T> {
    let told = RwSignal::new(other.get_untracked());
    effect(move || told.set(if looked_at() { one.get() } else { other.get() }));
    told.into()
}

/// Who watches now lets go of all that it watches when it is about to run again, or when its part of the page goes.
fn leave_in_time() {
    if let Some(watcher) = Observer::get() {
        on_cleanup(move || watcher.clear_sources(&watcher));
    }
}
