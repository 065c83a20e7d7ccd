//! The five headline quantities at the foot of a lesson, where the bench does not stand beside it.

use super::study::Study;
use crate::language::{msg, t};
use crate::readings::{self, Texts};
use crate::view;
use leptos::prelude::*;

/// Key of the reading, and a name short enough for a fifth of a phone.
const FIVE: [(&str, &str); 5] = [
    ("boost", msg("boost")),
    ("p3", "p3"),
    ("t3", "T3"),
    ("density_ratio", msg("density")),
    ("pumping_torque", msg("pumping")),
];

/// The strip. It repeats what the bench shows, so it is hidden from screen readers, which would say it twice.
#[component]
pub fn Strip(study: Study) -> impl IntoView {
    let cell = move |key: &'static str, name: &'static str| {
        let value = view::text(move || {
            if study.cover().hides(key) {
                return "···".to_string();
            }
            let entry = readings::find(key);
            study.run.with(|r| {
                let text = entry.zip(r.reading()).map(|(e, reading)| e.text(reading, study.units.get()));
                text.unwrap_or_else(|| "–".into())
            })
        });
        view! { <span><span class="strip-name">{t(name)}</span><b class="num">{value}</b></span> }
    };
    view! {
        <div class="strip">
            <p class="strip-five" aria-hidden="true">{FIVE.map(|(key, name)| cell(key, name)).collect_view()}</p>
            <a href="#controls" class="strip-bench" on:click=|event| { event.prevent_default(); crate::browser::focus("controls"); }>{t("to the sliders")}</a>
        </div>
    }
}
