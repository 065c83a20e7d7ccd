//! The lesson sheet: the list of lessons, or the lesson that is open.

use super::contents::Contents;
use super::hand_in::HandIn;
use super::head::Head;
use super::study::{Opening, Study};
use crate::language::t;
use crate::view;
use leptos::prelude::*;

/// The sheet.
#[component]
pub fn LessonSheet(study: Study) -> impl IntoView {
    view! {
        <aside class="sheet lesson" id="lesson" aria-labelledby="l-h" tabindex="-1">
            {view::part(move || match study.opening.get() {
                Opening::Contents => view! { <Contents study/><HandIn study/> }.into_any(),
                Opening::Coming { .. } => view! {
                    <Head study/>
                    <h2 id="l-h">{t("The lesson is being opened…")}</h2>
                    <p class="read" role="status" data-coming="">{t("Its text is fetched, and the bench works out its numbers.")}</p>
                }.into_any(),
                Opening::Failed { id, want, says, .. } => view! {
                    <Head study/>
                    <h2 id="l-h">{t("This lesson did not open")}</h2>
                    <p class="read" role="alert">{says}</p>
                    <p class="row2">
                        <button type="button" class="strong" id="try-again" on:click=move |_| study.open(id.clone(), want, true)>{t("Try again")}</button>
                        <button type="button" on:click=move |_| study.contents()>{t("All lessons")}</button>
                    </p>
                }.into_any(),
                Opening::Open(session) => study.work.get_value().map(|work| (work.show)(study, session)).into_any(),
            })}
        </aside>
    }
}
