//! The title block: engine, start point and weather, and what can be done with the bench as a whole.

use super::address::Address;
use super::appearance::Appearance;
use crate::bench::engine_choice::EngineSelect;
use crate::bench::transitions::Bench;
use crate::browser;
use crate::holds::Holds;
use crate::language::t;
use crate::lessons::study::Study;
use crate::start_points::start_points;
use crate::units::{Quantity, UnitSystem};
use crate::view;
use crate::words;
use leptos::ev;
use leptos::prelude::*;

/// The title block.
#[component]
pub fn TitleBlock(
    bench: Bench,
    look: Appearance,
    study: Study,
    address: Address,
    holds: Signal<Holds>,
    /// Whether the dialog for a piece of the bench is asked for.
    embedding: RwSignal<bool>,
    /// Whether a print is asked for.
    printing: RwSignal<bool>,
) -> impl IntoView {
    let (more, set_more) = signal(false);
    let on_key = move |event: ev::KeyboardEvent| {
        if event.key() == "Escape" {
            set_more.set(false);
        }
    };
    view! {
        <header class="title" class:opened=more on:keydown=on_key>
            <p class="title-mark">
                <svg viewBox="0 0 28 28" aria-hidden="true">
                    <path d="M2 26H17A11 11 0 1 0 5.5 15 8.5 8.5 0 0 0 14 23.5 6.6 6.6 0 0 0 20.6 17 5 5 0 0 0 15.6 12 3.4 3.4 0 0 0 12.2 15.4"></path>
                </svg>
                <span>{words::NAME}</span>
            </p>
            <Cells bench holds/>
            <div class="title-tools" role="group" aria-label=t(words::BENCH)>
                <button type="button" id="undo" on:click=move |_| bench.undo() disabled=view::flag(move || !bench.can_undo())>{t("Undo")}</button>
                <button type="button" id="redo" on:click=move |_| bench.redo() disabled=view::flag(move || !bench.can_redo())>{t("Redo")}</button>
                // Within a lesson, back to where it begins.
                <button type="button" id="reset" on:click=move |_| bench.reset(study.start())>{t("Reset")}</button>
                <button type="button" class="title-fold" id="theme" on:click=move |_| look.turn_theme()>
                    {view::text(move || if look.dark.get() { t("Paper") } else { t("Blueprint") })}
                </button>
                <button type="button" class="title-fold" id="units" on:click=move |_| look.turn_units()>
                    {view::text(move || if bench.units.get() == UnitSystem::Si { t("US units") } else { t("SI units") })}
                </button>
                <button type="button" class="title-fold" id="lessons" aria-expanded=view::text(move || study.sheet.get().to_string())
                    on:click=move |_| turn_lessons(study)>{t("Lessons")}</button>
                <button type="button" class="strong" id="copy-link" on:click=move |_| address.copy()>{t("Copy link")}</button>
                <button type="button" id="more" aria-expanded=view::text(move || more.get().to_string())
                    on:click=move |_| set_more.update(|on| *on = !*on)>{t("More")}</button>
                // A choice closes it; on a phone these stand in a row with the others.
                <div class="title-menu title-fold" on:click=move |_| set_more.set(false)>
                    <button type="button" id="language" lang=Appearance::other_language().code() on:click=move |_| turn_language(look, address)>
                        {Appearance::other_language().name()}
                    </button>
                    <button type="button" id="embed-now" on:click=move |_| embedding.set(true)>{t("Embed")}</button>
                    <button type="button" id="print-now" on:click=move |_| printing.set(true)>{t("Print")}</button>
                </div>
            </div>
        </header>
    }
}

/// Engine, start point and weather.
#[component]
fn Cells(bench: Bench, holds: Signal<Holds>) -> impl IntoView {
    let held = view::derived(move || !holds.get().engine());
    let ambient = move || {
        let a = bench.held.with(|b| b.settings.ambient);
        let unit = |q: Quantity| bench.units.get().unit(q);
        format!("{} · {}", unit(Quantity::PressureAbs).text(a.p_pa), unit(Quantity::Temperature).text(a.t_k))
    };
    let start_at = move |event: ev::Event| bench.start_at(&event_target_value(&event));
    // A start point is a place to go to and no state: whatever changes, the choice is empty again.
    let none = view::text(move || {
        bench.held.track();
        ""
    });
    let points = move || {
        let points = start_points(&bench.came.get()).into_iter();
        points.map(|p| view! { <option value=p.id>{t(p.name)}</option> }).collect_view()
    };
    view! {
        <div class="title-cells">
            <div><span class="title-label" aria-hidden="true">{t(words::ENGINE)}</span>
                <EngineSelect bench=bench.held.into() held on_change=Callback::new(move |next| bench.swap_engine(next))/></div>
            <div class="title-fold"><label class="title-label" for="start-point">{t("start point")}</label>
                <select id="start-point" on:change=start_at disabled=held prop:value=none>
                    <option value="">{t("choose a start point…")}</option>
                    {view::part(points)}
                </select></div>
            <div><span class="title-label">{t(words::AMBIENT)}</span><span class="title-value num">{view::text(ambient)}</span></div>
        </div>
    }
}

/// Opens the sheet with the lessons, or closes it.
fn turn_lessons(study: Study) {
    if study.sheet.get_untracked() {
        study.close();
        browser::focus("lessons");
    } else {
        study.sheet.set(true);
        browser::after(0, || browser::focus("lesson"));
    }
}

/// Another language is another load: every text is looked up once, and the link holds the state.
fn turn_language(look: Appearance, address: Address) {
    look.choose_other_language();
    address.settle();
    browser::reload();
}
