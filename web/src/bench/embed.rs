//! A piece of the bench for another page: which controls and views it has, how large it is, and the line of HTML for it.

use crate::browser;
use crate::language::{msg, t};
use crate::parts::{PARTS, Part, Region};
use crate::view;
use crate::words;
use leptos::ev;
use leptos::html;
use leptos::prelude::*;

/// Name, width and height of a frame.
const SIZES: [(&str, &str, &str); 4] = [
    (msg("as wide as the page, 800 high"), "100%", "800"),
    (msg("wide, 960 × 800"), "960", "800"),
    (msg("column, 640 × 1000"), "640", "1000"),
    (msg("telephone, 360 × 760"), "360", "760"),
];

/// A text inside an attribute of HTML.
fn attribute(text: &str) -> String {
    text.replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;").replace('>', "&gt;")
}

/// The line for the other page.
fn snippet(address: &str, title: &str, (width, height): (&str, &str)) -> String {
    format!(
        r#"<iframe src="{}" title="{}" width="{width}" height="{height}" style="border:0;max-width:100%" loading="lazy" allow="fullscreen; clipboard-write"></iframe>"#,
        attribute(address),
        attribute(title)
    )
}

/// The dialog. It opens when `open` is set.
#[component]
pub fn EmbedDialog(
    open: RwSignal<bool>,
    /// The address of the bench with only these parts.
    address: Callback<Vec<&'static str>, String>,
) -> impl IntoView {
    let dialog = NodeRef::<html::Dialog>::new();
    let ticked = RwSignal::new(PARTS.map(|part| part.usual));
    let title = RwSignal::new(String::new());
    let size = RwSignal::new(0_usize);
    let (said, set_said) = signal("");
    view::effect(move || {
        if let (Some(dialog), true) = (dialog.get(), open.get())
            && !dialog.open()
        {
            set_said.set("");
            // Fails only for a dialog that is open or off the page.
            let _ = dialog.show_modal();
        }
    });
    let close = move || {
        if let Some(dialog) = dialog.get_untracked() {
            dialog.close();
        }
    };
    let code = move || {
        if !open.get() {
            return String::new();
        }
        let parts = ticked.with(|ticked| {
            PARTS.iter().zip(ticked).filter(|(_, on)| **on).map(|(part, _)| part.key).collect::<Vec<_>>()
        });
        let (_, width, height) = SIZES[size.get().min(SIZES.len() - 1)];
        let title =
            title.with(|typed| if typed.trim().is_empty() { t(words::FRAME_TITLE).into() } else { typed.clone() });
        snippet(&address.run(parts), &title, (width, height))
    };
    let copy = move |_: ev::MouseEvent| {
        let code = untrack(code);
        leptos::task::spawn_local(async move {
            set_said.set(if browser::copy(&code).await {
                t("Copied.")
            } else {
                t("The browser did not allow copying: mark the line and copy it by hand.")
            });
        });
    };
    let boxes = move |among: fn(&Part) -> bool| {
        let parts = PARTS.iter().enumerate().filter(move |(_, part)| among(part));
        parts
            .map(|(i, part)| {
                view! {
                    <label class="switch">
                        <input type="checkbox" id=format!("embed-{}", part.key)
                            prop:checked=view::flag(move || ticked.with(|ticked| ticked[i]))
                            on:change=move |event| ticked.update(|ticked| ticked[i] = event_target_checked(&event))/>
                        {t(part.name)}
                    </label>
                }
            })
            .collect_view()
    };
    view! {
        <dialog class="dialog embed" id="embed" node_ref=dialog aria-labelledby="embed-h" on:close=move |_| open.set(false)>
            <h2 id="embed-h">{t("A piece of the bench in another page")}</h2>
            <p>{t("Choose what it shows, then copy the line into the other page. It opens in the state that the bench has now.")}</p>
            <fieldset><legend>{t("Controls")}</legend>{boxes(|part| part.region == Region::Control)}</fieldset>
            <fieldset><legend>{t("Views")}</legend>{boxes(|part| part.region != Region::Control)}</fieldset>
            <div class="row2">
                <label for="embed-title">{t("title")}</label>
                <input type="text" id="embed-title" maxlength="120" placeholder=t(words::FRAME_TITLE)
                    on:input=move |event| title.set(event_target_value(&event))/>
                <label for="embed-size">{t("size")}</label>
                <select id="embed-size" on:change=move |event| size.set(event_target_value(&event).parse().unwrap_or(0))>
                    {SIZES.iter().enumerate().map(|(i, s)| view! { <option value=i.to_string()>{t(s.0)}</option> }).collect_view()}
                </select>
            </div>
            <label for="embed-code">{t("Line for the other page")}</label>
            <textarea id="embed-code" rows="5" readonly prop:value=view::text(code)></textarea>
            <div class="row2">
                <button type="button" class="strong" id="embed-copy" on:click=copy>{t("Copy")}</button>
                <button type="button" on:click=move |_| close()>{t(words::CLOSE)}</button>
                <span role="status">{said}</span>
            </div>
        </dialog>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_snippet_holds_any_title() {
        let line = snippet("https://a.example/b/#v=1&vane=5", "a \"b\" <c> & d", ("100%", "800"));
        assert!(line.contains(r#"src="https://a.example/b/#v=1&amp;vane=5""#), "{line}");
        assert!(line.contains(r#"title="a &quot;b&quot; &lt;c&gt; &amp; d""#), "{line}");
        assert_eq!(line.matches('<').count(), 2);
    }
}
