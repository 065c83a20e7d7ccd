//! What the page needs to know of its platform. All else stands in a module that only a packed page fetches.

use super::{bar, bond, wire};
use crate::language::Language;
use crate::lessons::study::Study;
use crate::packed::{Packed, packed};
use crate::store;
use leptos::prelude::AnyView;
use std::cell::{Cell, RefCell};
use std::future::Future;
use std::pin::Pin;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// What the page needs to know of its platform.
#[derive(Clone)]
struct Tie {
    /// The language that the learner wants, of those that the page speaks.
    language: Option<String>,
    /// Brings the lessons, then calls back.
    prepare: fn(Box<dyn FnOnce()>),
    /// Ties the lessons to the platform.
    attach: fn(Study),
    /// How the page stands to its platform, in a line.
    bar: fn() -> AnyView,
}

thread_local! {
    static TIE: RefCell<Option<Tie>> = const { RefCell::new(None) };
    static LOST: Cell<bool> = const { Cell::new(false) };
}

fn tied<T>(of: impl FnOnce(&Tie) -> T) -> Option<T> {
    let tie = TIE.with_borrow(Clone::clone);
    tie.as_ref().map(of)
}

/// Looks for the platform where the page is in a package, and calls back: at once where it is not.
pub fn meet(then: impl FnOnce() + 'static) {
    let Some(packed) = packed() else { return then() };
    wasm_bindgen_futures::spawn_local(async move {
        match join(packed).await {
            Ok(joined) => joined.await,
            Err(_) => LOST.set(true),
        }
        then();
    });
}

/// Looks for the platform that the package was made for. Errors: the module that can could not be fetched.
#[wasm_split(platform, fallible)]
fn join(packed: Packed) -> Result<Pin<Box<dyn Future<Output = ()>>>, SplitLoaderError> {
    Ok(Box::pin(async move {
        bond::connect(&packed, &Language::OFFERED.map(Language::code)).await;
        let language = bond::here().and_then(|(_, kept)| kept.language);
        if bond::keeps() {
            // Others may learn at the same machine.
            store::for_this_visit();
        }
        let tie = Tie { language, prepare: wire::prepare, attach: wire::attach, bar: bar::line };
        TIE.set(Some(tie));
    }))
}

/// Whether the package's own part did not come: the page works, and no platform hears of it.
pub fn lost() -> bool {
    LOST.get()
}

/// The language that the platform's learner wants, of those that the page speaks.
pub fn language() -> Option<Language> {
    tied(|tie| tie.language.clone()).flatten().and_then(|code| Language::of_code(&code))
}

/// Brings the lessons of the package where a platform keeps what is done, then calls back.
pub fn prepare(then: impl FnOnce() + 'static) {
    match tied(|tie| tie.prepare) {
        Some(prepare) => prepare(Box::new(then)),
        None => then(),
    }
}

/// Gives the lessons the assignment of the package, and ties them to the platform, where there is one. Before any lesson is
/// opened.
pub fn attach(study: Study) {
    if let Some(attach) = tied(|tie| tie.attach) {
        attach(study);
    }
}

/// One line above the bench of a packed page; nothing on a page that is in no package.
pub fn bar() -> Option<AnyView> {
    tied(|tie| (tie.bar)())
}
