//! Takes a learner's progress to another device: as a file, and back.

use super::record::{self, Kept};
use super::study::Study;
use crate::browser;
use crate::language::{t, tf, tn};
use crate::refusals::Says;
use leptos::prelude::*;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// Progress as a file, and back.
#[component]
pub fn Elsewhere(study: Study, version: RwSignal<u32>) -> impl IntoView {
    let (said, set_said) = signal(String::new());
    let known = move || {
        let list = study.list.get_untracked().and_then(Result::ok);
        list.map(|list| list.lessons.iter().map(|e| e.id.clone()).collect::<Vec<_>>()).unwrap_or_default()
    };
    let missing = || t("Part of the page could not be fetched.").to_string();
    let export = move |_| {
        leptos::task::spawn_local(async move {
            let done = match progress_file(study, known()).await {
                Ok(Some((file, count))) => {
                    browser::save_text("volute-progress.txt", "text/plain", &file).map(|()| count)
                }
                Ok(None) => {
                    set_said.set(t("There is nothing to save yet: no lesson was begun on this device.").into());
                    return;
                }
                Err(_) => Err(missing()),
            };
            set_said.set(match done {
                Ok(count) => tn("One lesson is in the file.", "{n} lessons are in the file.", count, &[]),
                Err(e) => tf("This could not be saved: {reason}.", &[("reason", e.trim_end_matches('.'))]),
            });
        });
    };
    let take = move |text: String| {
        leptos::task::spawn_local(async move {
            let says = take_progress(study, known(), text).await;
            set_said.set(says.unwrap_or_else(|_| missing()));
            version.update(|v| *v += 1);
        });
    };
    let picked = move |event: leptos::ev::Event| {
        browser::read_file(&event, record::LARGEST_FILE, move |text| match text {
            Ok(text) => take(text),
            Err(browser::FileFault::TooLarge(bytes)) => set_said.set(record::FileError::TooLarge { bytes }.says()),
            Err(browser::FileFault::Unreadable) => {
                set_said.set(t("The browser could not read this file as text.").into())
            }
        });
    };
    view! {
        <details class="contents-elsewhere">
            <summary>{t("My progress on another device")}</summary>
            <div class="inner">
                <p>{t("What you do is kept in this browser only. Save it as a file to go on elsewhere, or to be safe.")}</p>
                <p class="row2"><button type="button" id="save-progress" on:click=export>{t("Save my progress")}</button></p>
                <label>{t("Take over a saved file")}" "<input type="file" id="take-progress" accept=".txt,text/plain" on:change=picked/></label>
                <p role="status" class="said" id="progress-said">{said}</p>
            </div>
        </details>
    }
}

/// How far the learner is in these lessons, as a file, and in how many; nothing where none was begun. Errors: the module that
/// can could not be fetched.
#[wasm_split(reading, fallible)]
fn progress_file(study: Study, known: Vec<String>) -> Result<Option<(String, usize)>, SplitLoaderError> {
    let own = study.own();
    let all: Vec<(String, Kept)> =
        known.into_iter().filter_map(|id| Some((id.clone(), study.kept(&id, &own)?))).collect();
    Ok((!all.is_empty()).then(|| (record::file(&all), all.len())))
}

/// Takes over such a file, and says what was taken. Errors: the module that can could not be fetched.
#[wasm_split(reading, fallible)]
fn take_progress(study: Study, known: Vec<String>, text: String) -> Result<String, SplitLoaderError> {
    let all = match record::read_file(&text) {
        Ok(all) => all,
        Err(e) => return Ok(e.says()),
    };
    let own = study.own();
    let (mut taken, mut left) = (0, 0);
    for (id, kept) in all {
        // Whoever has spent more time is further on; nothing that was done here is lost to an older file.
        let here = study.kept(&id, &own).map_or(0, |here| here.progress.spent_s + 1);
        let wanted = known.contains(&id) && here <= kept.progress.spent_s;
        if wanted && study.keep_record(&id, &own, &kept) {
            taken += 1;
        } else {
            left += 1;
        }
    }
    let mut says = tn("One lesson was taken over.", "{n} lessons were taken over.", taken, &[]);
    if left > 0 {
        let rest = tn(
            "One was left as it is: this device is further on, or does not know it.",
            "{n} were left as they are: this device is further on, or does not know them.",
            left,
            &[],
        );
        says = format!("{says} {rest}");
    }
    Ok(says)
}
