//! The verdict: a stamp and one or two sentences.

use crate::cover::Cover;
use crate::describe::{self, Stamp};
use crate::language::t;
use crate::refusals::Says;
use crate::run::{Run, Steps};
use crate::units::UnitSystem;
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;

/// Two columns, which is higher; or a warning triangle.
fn icon(stamp: Stamp) -> &'static str {
    match stamp {
        Stamp::Helps => "M4 22V4h7v18M15 22V13h7v9",
        Stamp::Hinders => "M4 22V13h7v9M15 22V4h7v18",
        Stamp::BreakEven => "M4 22V9h7v13M15 22V9h7v13",
        Stamp::NoPoint => "M13 2 24 21H2ZM13 8v6M13 16.5v2",
    }
}

/// The verdict.
#[component]
pub fn Verdict(
    run: Signal<Arc<Run>>,
    /// Steps of vane, once the bench rests.
    steps: Signal<Option<Arc<Steps>>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
) -> impl IntoView {
    let verdict = view::memo(move || {
        run.with(|run| match &run.refused {
            Some(refused) => describe::Verdict {
                stamp: Stamp::NoPoint,
                lead: t("The bench cannot ask this.").into(),
                rest: refused.says() + ".",
            },
            None => steps.with(|steps| describe::verdict(&run.sight(steps.as_deref()), units.get())),
        })
    });
    // The verdict tells balance, pumping and torque: it is covered where a lesson covers any of these.
    let covered = view::memo(move || cover.with(|c| !c.is_off()));
    let stamp = move || verdict.with(|v| v.stamp);
    view! {
        <section class="sheet verdict" id="verdict" aria-labelledby="v-h">
            <h2 class="sr" id="v-h">{t(words::VERDICT)}</h2>
            {view::part(move || if covered.get() {
                view! { <p class="verdict-say covered" id="say">{t(words::COVERED)}</p> }.into_any()
            } else {
                view! {
                    <p class="verdict-stamp" id="stamp" data-k=view::text(move || stamp().key())>
                        <svg viewBox="0 0 26 24" aria-hidden="true">
                            <path d=view::text(move || icon(stamp())) fill="none" stroke="currentColor" stroke-width="2"></path>
                        </svg>
                        {view::text(move || stamp().word())}
                    </p>
                    <p class="verdict-say" id="say"><b>{view::text(move || verdict.with(|v| v.lead.clone()))}</b>" "{view::text(move || verdict.with(|v| v.rest.clone()))}</p>
                }.into_any()
            })}
        </section>
    }
}
