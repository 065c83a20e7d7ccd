//! Which engine stands on the bench: a built-in one, or a file of the learner's own.

use crate::language::{t, t_any, tf};
use crate::refusals::Says;
use crate::state::{BenchSettings, Origin};
use crate::view;
use crate::words;
use leptos::ev;
use leptos::html;
use leptos::prelude::*;
use volute_core::engine::built_in;
use volute_core::engine::engine_file;
use wasm_bindgen::JsCast;
use web_sys::HtmlInputElement;

/// The choice in the title block.
#[component]
pub fn EngineSelect(
    bench: Signal<BenchSettings>,
    #[prop(into)] held: Signal<bool>,
    on_change: Callback<BenchSettings>,
) -> impl IntoView {
    let titles = built_in::names().map(|name| (name, t_any(built_in::title(name).unwrap_or(name))));
    let own = view::memo(move || bench.with(|b| (b.origin == Origin::Own).then(|| b.engine.title.clone())));
    let chosen = move || {
        bench.with(|b| match &b.origin {
            Origin::BuiltIn(name) => name.clone(),
            Origin::Own => String::new(),
        })
    };
    let choose = move |event: ev::Event| {
        let name = event_target_value(&event);
        if let Some(next) = BenchSettings::built_in(&name) {
            on_change.run(next);
        }
    };
    view! {
        <select id="engine" aria-label=t(words::ENGINE) disabled=held on:change=choose prop:value=view::text(chosen)>
            {titles.map(|(name, title)| {
                view! { <option value=name selected=view::flag(move || chosen() == name)>{title}</option> }
            }).collect_view()}
            {view::part(move || own.get().map(|title| view! { <option value="" selected=true>{title}</option> }))}
        </select>
    }
}

/// The sheet that reads an engine file.
#[component]
pub fn OwnEngine(bench: Signal<BenchSettings>, on_change: Callback<BenchSettings>) -> impl IntoView {
    let (said, set_said) = signal(Ok::<String, String>(String::new()));
    let text = NodeRef::<html::Textarea>::new();
    let read = move |file: &str| match BenchSettings::own(file) {
        Ok(next) => {
            set_said.set(Ok(tf("On the bench now: {engine}.", &[("engine", &next.engine.title)])));
            on_change.run(next);
        }
        Err(e) => set_said.set(Err(e.says())),
    };
    let picked = move |event: ev::Event| {
        let Some(file) = event_target::<HtmlInputElement>(&event).files().and_then(|files| files.get(0)) else {
            return;
        };
        if file.size() > engine_file::MAX_BYTES as f64 {
            set_said.set(Err(t("This file is longer than 256 kB. An engine file has a few hundred lines.").into()));
            return;
        }
        let promise = file.unchecked_into::<web_sys::Blob>().text();
        leptos::task::spawn_local(async move {
            match wasm_bindgen_futures::JsFuture::from(promise).await.ok().and_then(|t| t.as_string()) {
                Some(content) => {
                    // A lesson that has opened meanwhile may hold its engine; then no other engine is read.
                    if let Some(Some(area)) = text.try_get_untracked() {
                        area.set_value(&content);
                        read(&content);
                    }
                }
                None => set_said.set(Err(t("The browser could not read this file as text.").into())),
            }
        });
    };
    let start = move |_| {
        if let Some(area) = text.get_untracked() {
            area.set_value(&bench.with_untracked(|b| engine_file::to_toml(&b.engine)));
        }
    };
    view! {
        <details class="sheet" id="own-engine">
            <summary><h2>{t("Your own engine")}</h2></summary>
            <div class="inner">
                <p class="hint">{t("An engine is a text file (TOML). Start from the one on the bench, change what you like, and read it in here. \
    Nothing leaves this browser.")}</p>
                <p class="row2">
                    <label for="engine-file">{t("Engine file")}</label>
                    <input type="file" id="engine-file" accept=".toml,text/plain" on:change=picked/>
                </p>
                <label for="engine-text">{t("or its text")}</label>
                <textarea id="engine-text" node_ref=text rows="12" spellcheck="false" aria-describedby="engine-said"
                    aria-invalid=view::text(move || said.with(|s| s.is_err()).to_string())></textarea>
                <p class="row2">
                    <button type="button" class="strong" id="engine-read"
                        on:click=move |_| if let Some(area) = text.get_untracked() { read(&area.value()) }>
                        {t("Read this engine")}
                    </button>
                    <button type="button" on:click=start>{t("Start from the engine on the bench")}</button>
                </p>
                <p id="engine-said" role="status" class="said" class:wrong=view::flag(move || said.with(|s| s.is_err()))>
                    {view::text(move || said.with(|s| match s { Ok(t) | Err(t) => t.clone() }))}
                </p>
            </div>
        </details>
    }
}
