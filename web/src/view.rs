//! Pieces of a view that change, each of one type.
//!
//! Leptos compiles its rendering once for every type of closure in a view. Behind a signal or a box there is one type for
//! all texts, one for all flags and one for all parts, which takes a quarter off the size of the page.

use leptos::prelude::*;

/// A text that changes.
pub fn text<S: Into<String>>(of: impl Fn() -> S + Send + Sync + 'static) -> Signal<String> {
    Signal::derive(move || of().into())
}

/// A flag that changes.
pub fn flag(of: impl Fn() -> bool + Send + Sync + 'static) -> Signal<bool> {
    Signal::derive(of)
}

/// A part of the page that changes.
pub type Part = Box<dyn FnMut() -> AnyView + Send>;

/// A part of the page that is there or not, or differs.
pub fn part<V: IntoAny + 'static>(mut of: impl FnMut() -> V + Send + 'static) -> Part {
    Box::new(move || of().into_any())
}

/// Something to do whenever what it reads changes.
pub fn effect(run: impl FnMut() + 'static) {
    boxed_effect(Box::new(run));
}

fn boxed_effect(mut run: Box<dyn FnMut()>) {
    Effect::new(move |_| run());
}
