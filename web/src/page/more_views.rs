//! The place below the first view. Its module is fetched when it comes into sight, or when something asks for it.

use super::address::Address;
use crate::bench::below::{Parts, below};
use crate::bench::live_sweeps::LiveSweeps;
use crate::bench::slot::Scene;
use crate::bench::transitions::Bench;
use crate::browser;
use crate::holds::Holds;
use crate::language::t;
use crate::parts::{PARTS, Region, shows};
use crate::view;
use leptos::html;
use leptos::prelude::*;
use leptos::reactive::computed::ScopedFuture;

/// What has come of the lower part.
#[derive(Clone, Copy)]
struct Lower {
    parts: Parts,
    view: StoredValue<Option<AnyView>, LocalStorage>,
    here: RwSignal<bool>,
    failed: RwSignal<bool>,
    asked: StoredValue<bool>,
    /// What is made belongs to the page, whatever asks for it: an effect that runs again takes along what it has made.
    page: StoredValue<Option<Owner>>,
}

impl Lower {
    fn fetch(self) {
        if self.asked.try_update_value(|asked| std::mem::replace(asked, true)).unwrap_or(true) {
            return;
        }
        let fetched = async move {
            match below(self.parts).await {
                Ok(view) => {
                    self.view.set_value(Some(view));
                    self.failed.set(false);
                    self.here.set(true);
                }
                Err(_) => {
                    self.asked.set_value(false);
                    self.failed.set(true);
                }
            }
        };
        if let Some(page) = self.page.get_value() {
            page.with(|| leptos::task::spawn_local(ScopedFuture::new_untracked(fetched)));
        }
    }
}

/// What stands below the first view.
#[component]
pub fn MoreViews(
    bench: Bench,
    scene: Scene,
    sweeps: LiveSweeps,
    holds: Signal<Holds>,
    address: Address,
    /// The word that is explained.
    term: RwSignal<Option<&'static str>>,
    /// Whether the dialog for a piece of the bench is asked for.
    embedding: RwSignal<bool>,
    /// Whether a print is asked for.
    printing: RwSignal<bool>,
    /// Whether the first view stands.
    stands: Memo<bool>,
) -> impl IntoView {
    let place = NodeRef::<html::Section>::new();
    let built = RwSignal::new(false);
    let load = view::derived(move || holds.get().load());
    let excerpt = address.excerpt;
    let of = Callback::new(move |parts| address.of(parts));
    let parts = Parts { scene, bench, sweeps, load, holds, term, excerpt, embedding, built, place, address: of };
    let lower = Lower {
        parts,
        view: StoredValue::new_local(None),
        here: RwSignal::new(false),
        failed: RwSignal::new(false),
        asked: StoredValue::new(false),
        page: StoredValue::new(Owner::current()),
    };
    view::effect(move || {
        // A print is of the whole page, whether it has been looked at or not.
        if term.get().is_some() || embedding.get() || printing.get() {
            lower.fetch();
        }
    });
    view::effect(move || {
        if printing.get() && (built.get() || lower.failed.get()) {
            printing.set(false);
            browser::after(0, browser::print);
        }
    });
    let some = excerpt.with_value(|e| PARTS.iter().any(|part| part.region == Region::Below && shows(e, part.key)));
    view::effect(move || {
        // Before the first view stands, what is below it lies higher than it will.
        if let Some(place) = place.get().filter(|_| some && stands.get()) {
            browser::on_sight(&place, move |seen| {
                if seen {
                    lower.fetch();
                }
            });
        }
    });
    view! {
        <section class="page-below" aria-label=t("More views") node_ref=place>
            {view::part(move || lower.here.get().then(|| lower.view.try_update_value(Option::take).flatten()))}
            {view::part(move || lower.failed.get().then(|| view! {
                <p class="sheet notice">
                    {t("The views below could not be fetched.")}" "
                    <button type="button" on:click=move |_| lower.fetch()>{t("Try again")}</button>
                </p>
             }))}
        </section>
    }
}
