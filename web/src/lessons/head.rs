//! The ways out of a lesson, above it.

use super::study::Study;
use crate::browser;
use crate::language::t;
use leptos::prelude::*;

/// Ways out of a lesson.
#[component]
pub fn Head(study: Study) -> impl IntoView {
    let close = move |_| {
        study.close();
        browser::focus("lessons");
    };
    view! {
        <nav class="lesson-head" aria-label=t("Lesson")>
            <button type="button" class="link" id="all-lessons" on:click=move |_| study.contents()>{t("all lessons")}</button>
            <button type="button" class="link" id="close-lesson" on:click=close>{t("continue on the bench")}</button>
        </nav>
    }
}
