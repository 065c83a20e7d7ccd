//! The instructor's desk, a page of its own: puts assignments together, reads what a class did, prints sheets, and lets
//! authors try a lesson. And the learner's end of it: the file that goes back.
//!
//! Everything happens in the browser; names and answers of a class stay on the device.

pub mod author;
pub mod class_results;
pub mod compose;
pub mod labels;
pub mod office;
pub mod plain;
pub mod printout;
pub mod qr;
pub mod sheets;
pub mod shelf;
pub mod tab;

use crate::browser;
use crate::language::{self, t, tf};
use crate::look::Look;
use crate::speech;
use crate::store;
use crate::units::UnitSystem;
use crate::view;
use leptos::prelude::*;
use leptos::reactive::computed::ScopedFuture;
use office::Office;
use tab::Tab;
use volute_lessons::assignment::Assignment;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// Whether this page is that of the desk.
pub fn is_here() -> bool {
    browser::attribute("boot", "data-page").as_deref() == Some("desk")
}

/// Mounts the desk on the body, in its language, in place of what stood there while it was on its way.
pub fn mount() {
    let kept = store::open(|_| {}).get::<Look>();
    let spoken = kept.as_ref().and_then(|look| look.language);
    speech::begin(spoken, move |speaks| {
        if language::spoken() != language::Language::English {
            browser::set_title(t("Volute: the instructor\u{2019}s desk"));
        }
        if let Some(dark) = kept.as_ref().and_then(|look| look.dark) {
            browser::set_root_attribute("data-theme", Some(if dark { "dark" } else { "light" }));
        }
        let units = if kept.is_some_and(|look| look.customary) { UnitSystem::Customary } else { UnitSystem::Si };
        mount_to_body(move || view! { <Arrival units speaks/> });
    });
}

/// Waits for the lessons and for the module of the desk, which the bench does not carry.
#[component]
fn Arrival(units: UnitSystem, speaks: bool) -> impl IntoView {
    let arrived = StoredValue::new_local(None::<AnyView>);
    let (here, set_here) = signal(false);
    leptos::task::spawn_local(ScopedFuture::new(async move {
        let come = match shelf::load().await {
            Ok(()) => desk(units, speaks).await.map_err(|_| t("Part of the page could not be fetched.").to_string()),
            Err(why) => Err(why),
        };
        match come {
            Ok(view) => {
                arrived.set_value(Some(view));
                set_here.set(true);
                browser::remove("start");
            }
            Err(why) => {
                browser::say_failed(&tf("The desk could not start: {why} Load the page again.", &[("why", &why)]))
            }
        }
    }));
    view! { {view::part(move || here.get().then(|| arrived.try_update_value(Option::take).flatten()))} }
}

/// The desk. Errors: its module could not be fetched.
#[wasm_split(desk, fallible)]
fn desk(units: UnitSystem, speaks: bool) -> Result<AnyView, SplitLoaderError> {
    Ok(view! { <InstructorDesk units speaks/> }.into_any())
}

#[component]
fn InstructorDesk(units: UnitSystem, speaks: bool) -> impl IntoView {
    let notice = RwSignal::new((!speaks).then(|| crate::words::NO_CATALOG.to_string()));
    let store = StoredValue::new_local(store::open(move |trouble| notice.set(Some(trouble.to_string()))));
    let kept = store.with_value(|s| s.get::<compose::Draft>()).map(|draft| draft.0);
    let office = Office {
        units,
        draft: RwSignal::new(kept.unwrap_or_else(|| Assignment::of(Vec::new()))),
        class: RwSignal::default(),
        store,
    };
    let tab = RwSignal::new(Tab::of(&browser::fragment()));
    browser::on_fragment_change(move || tab.set(Tab::of(&browser::fragment())));
    view! {
        <header class="office-head">
            <p class="office-name"><a href="./">{t("Volute")}</a></p>
            <h1 id="desk-h">{t("For instructors")}</h1>
            <nav aria-label=t("Sheets of the desk")>
                {Tab::ALL.map(|one| view! {
                    <a class="button" href=format!("#{}", one.key()) data-tab=one.key()
                        aria-current=view::text(move || if tab.get() == one { "page" } else { "false" })>{name(one)}</a>
                }).collect_view()}
            </nav>
            <a class="button" id="to-bench" href="./">{t("To the bench")}</a>
        </header>
        <div class="notices" role="status">
            {view::part(move || notice.get().map(|text| view! {
                <p class="notice" id="notice">{text}" "<button type="button" class="link" on:click=move |_| notice.set(None)>{t("dismiss")}</button></p>
            }))}
        </div>
        <main class="office" id="desk" aria-labelledby="desk-h" tabindex="-1">
            {view::part(move || match tab.get() {
                Tab::Compose => view! { <compose::Composer office/> }.into_any(),
                Tab::Results => view! { <class_results::Results office/> }.into_any(),
                Tab::Print => view! { <sheets::Sheets office/> }.into_any(),
                Tab::Author => view! { <author::Author office/> }.into_any(),
            })}
        </main>
    }
}

fn name(tab: Tab) -> &'static str {
    match tab {
        Tab::Compose => t("Assign"),
        Tab::Results => t("Results"),
        Tab::Print => t("Print"),
        Tab::Author => t("Write a lesson"),
    }
}
