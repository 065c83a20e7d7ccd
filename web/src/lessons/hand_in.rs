//! The learner's end of an assignment: its terms, and the result as a file for the instructor.

use super::library::{self, Fetched};
use super::study::{Given, Study};
use crate::browser;
use crate::language::{decimal_sign, t, tf};
use crate::packed::packed;
use crate::store::{self, Record};
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::assignment::{Assignment, Numbers};
use volute_lessons::progress::Progress;
use volute_lessons::results::{LONGEST_NAME, LessonReport, Report, tables};
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// The learner's name, as the device keeps it.
struct Learner(String);

impl Record for Learner {
    const NAME: &'static str = "learner";
    const VERSION: u32 = 1;

    fn text(&self) -> String {
        self.0.clone()
    }

    fn read(_: u32, text: &str) -> Option<Self> {
        Some(Self(clean(text)))
    }
}

/// A name without line ends, of a length that files hold.
fn clean(name: &str) -> String {
    name.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect()
}

/// What is done so far, lesson by lesson.
fn report(study: Study, assignment: Option<&Assignment>, learner: String, lessons: Vec<Fetched>) -> Report {
    let own = study.own();
    let mut done: Vec<LessonReport> = Vec::new();
    for Fetched { lesson, version, .. } in lessons {
        // Outside an assignment only what was begun is told.
        let progress = match (study.kept(&lesson.id, &own), assignment) {
            (Some(kept), _) => kept.progress,
            (None, Some(_)) => Progress::default(),
            (None, None) => continue,
        };
        let only = assignment.and_then(|a| a.single(&lesson.id));
        done.push(LessonReport::of(&lesson, &version, &progress.fitting(&lesson), only.as_deref()));
    }
    if let Some(assignment) = assignment {
        let place = |id: &str| assignment.lessons().iter().position(|other| *other == id);
        done.sort_by_key(|lesson| place(&lesson.id));
    }
    Report {
        learner,
        assignment: assignment.cloned(),
        page: browser::build(),
        saved: browser::now_text(),
        lessons: done,
    }
}

/// The part of the sheet that tells the terms and saves the result.
#[component]
pub fn HandIn(study: Study) -> impl IntoView {
    // What went wrong with what is kept, the page itself says.
    let kept = StoredValue::new_local(store::open(|_| {}));
    let first = kept.with_value(|s| s.get::<Learner>()).map_or_else(String::new, |learner| learner.0);
    let name = RwSignal::new(first);
    let (said, set_said) = signal(String::new());
    let typed = move |event: leptos::ev::Event| {
        name.set(clean(&event_target_value(&event)));
        kept.with_value(|s| s.set(&Learner(name.get_untracked())));
    };
    let save = move |table: bool| {
        let assignment: Option<Arc<Given>> = study.assignment.get_untracked();
        // While the lessons are fetched, the sheet may go: a link is followed, a lesson opened.
        let name = name.get_untracked();
        leptos::task::spawn_local(async move {
            let wanted = |id: &str| assignment.as_ref().is_none_or(|a| a.lessons().contains(&id));
            let done = match library::fetch_all(wanted).await {
                Ok(lessons) => match hand_over(study, assignment, name, lessons, table).await {
                    Ok(done) => done,
                    Err(_) => Err(t("Part of the page could not be fetched.").into()),
                },
                Err(why) => Err(why),
            };
            set_said.set(match done {
                Ok(()) if table => t("Saved, for you to read. What your instructor needs is the .json file.").into(),
                Ok(()) => t("Saved. Send the .json file to your instructor.").into(),
                Err(why) => tf("This could not be saved: {reason}.", &[("reason", why.trim_end_matches('.'))]),
            });
        });
    };
    // A package has its platform to hear of it.
    if packed().is_some() {
        return ().into_any();
    }
    view! {
        {view::part(move || study.assignment.get().map(|a| view! { <p class="hint" id="terms">{terms(&a)}</p> }))}
        <section class="hand-in" aria-labelledby="hand-in-h">
            <h3 id="hand-in-h">{t("My result for the instructor")}</h3>
            <p class="row2"><label for="learner">{t("Your name")}</label>
                <input type="text" id="learner" maxlength=LONGEST_NAME.to_string() autocomplete="name" prop:value=view::text(move || name.get()) on:input=typed/></p>
            <p class="row2">
                <button type="button" id="save-result" on:click=move |_| save(false)>{t("Save my result")}</button>
                <button type="button" class="link" id="save-result-csv" on:click=move |_| save(true)>{t("as a table (CSV)")}</button>
            </p>
            <p class="hint">{t("The file holds your name, answers, points and time. It goes nowhere by itself: you send it. Its checksum shows accidents, not honesty.")}</p>
            <p role="status" class="said" id="result-said">{view::text(move || said.get())}</p>
        </section>
    }
    .into_any()
}

/// Puts the report together and offers it as a file. Errors: the module that can could not be fetched; inside, what the browser
/// refuses.
#[wasm_split(reading, fallible)]
fn hand_over(
    study: Study,
    assignment: Option<Arc<Given>>,
    learner: String,
    lessons: Vec<Fetched>,
    table: bool,
) -> Result<Result<(), String>, SplitLoaderError> {
    Ok(offer(&report(study, assignment.as_deref().map(|given| &given.assignment), learner, lessons), table))
}

/// Offers the report as a file. Errors: what the browser refuses, in words.
fn offer(report: &Report, table: bool) -> Result<(), String> {
    let stem = file_name(&report.learner);
    if !table {
        return browser::save_text(&format!("{stem}.json"), "application/json", &report.json());
    }
    let file = format!("{stem}.csv");
    browser::save_text(&file, "text/csv", &tables::answers([(file.as_str(), report)], decimal_sign()))
}

/// What an assignment asks for beyond its lessons, in sentences.
fn terms(a: &Assignment) -> String {
    let mut said = vec![match a.numbers {
        Numbers::Same(seed) => tf("Everybody has the same numbers, variant {seed}.", &[("seed", &seed.0.to_string())]),
        Numbers::Own => t("You have numbers of your own.").to_string(),
        Numbers::New => t("You have numbers of your own, and new ones each time you begin a lesson again.").to_string(),
    }];
    match a.attempts {
        Some(1) => said.push(t("One go at each checkpoint.").into()),
        Some(n) => said.push(tf("{count} goes at each checkpoint.", &[("count", &n.to_string())])),
        None => {}
    }
    if !a.hints {
        said.push(t("No hints this time.").into());
    }
    if !a.hide.is_empty() || !a.hide_views.is_empty() {
        said.push(t("Some readings or views are kept off the bench.").into());
    }
    said.join(" ")
}

/// The name of a file, from the name of a learner: letters and digits only.
fn file_name(learner: &str) -> String {
    let plain: String = learner.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).take(40).collect();
    let plain = plain.trim_matches('-');
    if plain.is_empty() { "volute-result".into() } else { format!("volute-result-{plain}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_names_of_files_are_harmless() {
        for (learner, file) in [
            ("", "volute-result"),
            ("Ann", "volute-result-Ann"),
            ("../../etc/passwd", "volute-result-etc-passwd"),
            ("Zoë Müller", "volute-result-Zoë-Müller"),
            ("<b>.exe", "volute-result-b--exe"),
        ] {
            assert_eq!(file_name(learner), file);
        }
        assert_eq!(clean("a\nb\u{7}"), "ab");
        assert_eq!(clean(&"x".repeat(500)).len(), LONGEST_NAME);
    }
}
