//! One line above the bench of a packed page: whether the learning platform hears what is done.

use super::bond::{self, Bond, Lms};
use crate::language::{t, tf};
use crate::view;
use leptos::prelude::*;

/// The line; nothing where no platform was looked for.
pub fn line() -> AnyView {
    bond::here().map(|(lms, _)| view! { <Line lms/> }).into_any()
}

#[component]
fn Line(lms: Lms) -> impl IntoView {
    let bond = RwSignal::new(Bond::Told);
    lms.on_bond(move |now| bond.set(now));
    let back = lms.can_leave().then(|| {
        let lms = StoredValue::new_local(lms);
        let (leaving, set_leaving) = signal(false);
        let leave = move |_| {
            set_leaving.set(true);
            let lms = lms.get_value();
            wasm_bindgen_futures::spawn_local(async move { lms.leave().await });
        };
        view! { <button type="button" id="leave" disabled=leaving on:click=leave>{t("Send everything and go back to the platform")}</button> }
    });
    view! {
        <aside class="platform" aria-label=t("Learning platform")>
            <p role="status" id="platform" data-bond=view::text(move || bond.with(Bond::key))>{view::text(move || bond.with(says))}</p>
            {back}
        </aside>
    }
}

/// A bond in a sentence.
fn says(bond: &Bond) -> String {
    match bond {
        Bond::Alone(None) => {
            t("This page is a package for a learning platform, and no platform is around it. What you do is kept on this device only.").into()
        }
        Bond::Alone(Some(reason)) => tf(
            "The learning platform did not open a session ({reason}). What you do is kept on this device only.",
            &[("reason", reason)],
        ),
        Bond::Told => t("Your learning platform gets your answers and points as you go.").into(),
        Bond::Looking => {
            t("Your learning platform has opened this for a look: nothing that you do here is sent or kept.").into()
        }
        Bond::Trouble(reason) => tf(
            "Your learning platform did not take something ({reason}). Go on; it is tried again with your next answer.",
            &[("reason", reason)],
        ),
    }
}
