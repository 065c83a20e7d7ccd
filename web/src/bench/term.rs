//! A quantity explained, in a dialog of the browser's own.

use crate::glossary;
use crate::language::t;
use crate::units::UnitSystem;
use crate::view;
use crate::words;
use leptos::html;
use leptos::prelude::*;

/// The dialog; it opens whenever a term is asked for.
#[component]
pub fn Term(term: RwSignal<Option<&'static str>>, units: Signal<UnitSystem>) -> impl IntoView {
    let dialog = NodeRef::<html::Dialog>::new();
    view::effect(move || {
        if let (Some(dialog), true) = (dialog.get(), term.with(Option::is_some))
            && !dialog.open()
        {
            // Fails only for a dialog that is open or off the page.
            let _ = dialog.show_modal();
        }
    });
    let close = move || {
        if let Some(dialog) = dialog.get_untracked() {
            dialog.close();
        }
    };
    view! {
        <dialog class="dialog" id="term" node_ref=dialog aria-labelledby="term-h" on:close=move |_| term.set(None)>
            {view::part(move || term.get().and_then(glossary::entry).map(|e| {
                let symbol = e.unit(units.get());
                view! {
                    <h2 id="term-h">{t(e.name)}" "<span class="quiet">{letters(e.symbol)}{if e.symbol.is_empty() || symbol.is_empty() { symbol.to_string() } else { format!(", {symbol}") }}</span></h2>
                    <p>{t(e.is)}</p>
                    <h3>{t("How it is measured")}</h3><p>{t(e.measured)}</p>
                    <h3>{t("Where it can mislead")}</h3><p>{t(e.misleads)}</p>
                }
            }))}
            <button type="button" on:click=move |_| close()>{t(words::CLOSE)}</button>
        </dialog>
    }
}

/// A symbol with its index set low: `p2`, `p_im − p_amb`.
fn letters(symbol: &'static str) -> AnyView {
    symbol
        .split_inclusive(' ')
        .map(|word| {
            let bare = word.trim_end();
            let low = bare
                .find('_')
                .map(|at| (at, at + 1))
                .or_else(|| bare.find(|c: char| c.is_ascii_digit()).filter(|at| *at > 0).map(|at| (at, at)));
            match low {
                Some((end, from)) => view! { <i>{&bare[..end]}</i><sub>{&bare[from..]}</sub>" " }.into_any(),
                None => view! { {word} }.into_any(),
            }
        })
        .collect_view()
        .into_any()
}

/// All terms, as a list to choose from.
#[component]
pub fn Glossary(term: RwSignal<Option<&'static str>>) -> impl IntoView {
    view! {
        <details class="sheet term-glossary" id="glossary">
            <summary><h2>{t("What the words mean")}</h2></summary>
            <ul>{glossary::ENTRIES.iter().map(|e| view! {
                <li><button type="button" class="term" on:click=move |_| term.set(Some(e.key))>{t(e.name)}</button></li>
            }).collect_view()}</ul>
        </details>
    }
}
