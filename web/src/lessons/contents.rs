//! The list of lessons: courses, minutes, what each needs, how far the learner is; and what takes progress elsewhere.

use super::elsewhere::Elsewhere;
use super::record::KeptState;
use super::session::Source;
use super::study::{Study, Want};
use crate::browser;
use crate::language::{self, t, tf, tn};
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::index::{Entry, Index};

/// What a course is called, with its letter; the capstone stands for itself.
pub fn course_heading(course: &str) -> String {
    let name = match course {
        "A" => t("Reading pressure and air"),
        "B" => t("The vaned turbine and its price"),
        "C" => t("Judging an engine"),
        _ => return t("To finish: the capstone").into(),
    };
    tf("Course {course}: {name}", &[("course", course), ("name", name)])
}

/// The list.
#[component]
pub fn Contents(study: Study) -> impl IntoView {
    // Counts up when what is kept has changed.
    let version = RwSignal::new(0_u32);
    let assignment = study.assignment;
    let sheet = move |list: Arc<Index>| {
        version.track();
        if let Some(assignment) = assignment.get() {
            // In the order of the assignment.
            let (mut asked, mut missing) = (Vec::new(), Vec::new());
            for id in assignment.lessons() {
                match list.lesson(id) {
                    Some(entry) => asked.push(entry.clone()),
                    None => missing.push(format!("“{id}”")),
                }
            }
            return view! {
                {(!missing.is_empty()).then(|| view! {
                    <p class="read" role="alert" id="missing-lessons">
                        {tf("This page has no lesson {ids}, which the assignment asks for. The rest can be done; tell your instructor.", &[("ids", &missing.join(", "))])}
                    </p>
                })}
                <ol class="contents">{asked.into_iter().map(|e| item(study, &list, e, version)).collect_view()}</ol>
            }
            .into_any();
        }
        let mut courses: Vec<String> = Vec::new();
        for entry in &list.lessons {
            if !courses.contains(&entry.course) {
                courses.push(entry.course.clone());
            }
        }
        let of_course = |course: &String| {
            let own: Vec<Entry> = list.lessons.iter().filter(|e| e.course == *course).cloned().collect();
            let minutes: u32 = own.iter().map(|e| e.minutes).sum();
            view! {
                <section class="contents-course" aria-labelledby=format!("course-{course}")>
                    <h3 id=format!("course-{course}")>{course_heading(course)}</h3>
                    <p class="hint">{tn("one lesson, {minutes} minutes", "{n} lessons, {minutes} minutes", own.len(), &[("minutes", &minutes.to_string())])}</p>
                    <ol class="contents">{own.into_iter().map(|e| item(study, &list, e, version)).collect_view()}</ol>
                </section>
            }
        };
        courses.iter().map(of_course).collect_view().into_any()
    };
    let close = move |_| {
        study.close();
        browser::focus("lessons");
    };
    view! {
        <nav class="lesson-head" aria-label=t("Lessons")>
            <p class="crumb">{t("Each asks before it tells")}</p>
            <button type="button" class="link" id="close-lesson" on:click=close>{t("close")}</button>
        </nav>
        {view::part(move || match assignment.get() {
            None => view! { <h2 id="l-h">{t("Lessons")}</h2> }.into_any(),
            Some(a) => view! {
                <h2 id="l-h">{if a.title.is_empty() { t("Your assignment").to_string() } else { a.title.clone() }}</h2>
                {(!a.message.is_empty()).then(|| view! { <p class="read contents-message">{a.message.clone()}</p> })}
                <p class="hint">
                    {tf("{percent} % of the points pass.", &[("percent", &a.pass_pct.to_string())])}
                    {a.closes.as_ref().map(|due| format!(" {}", tf("Due {date}.", &[("date", &due.to_string())])))}
                </p>
                <p class="hint">{t("Points are counted in this browser: practice credit, not an examination.")}</p>
            }.into_any(),
        })}
        {view::part(move || match study.list.get() {
            None => view! { <p class="read" role="status">{t("The list of lessons is being fetched…")}</p> }.into_any(),
            Some(Ok(list)) => sheet(list),
            Some(Err(says)) => view! {
                <p class="read" role="alert">{says}</p>
                <p class="row2"><button type="button" id="fetch-list" on:click=move |_| study.fetch_list(|_| {})>{t("Try again")}</button></p>
            }.into_any(),
        })}
        <Elsewhere study version/>
    }
}

/// A lesson in the list. Long because it is the markup of one entry.
fn item(study: Study, list: &Index, entry: Entry, version: RwSignal<u32>) -> AnyView {
    let speaks = language::spoken().code();
    let own = study.own();
    let state = study.state(&entry.id, &own);
    let (word, mark, hook) = match state {
        None => (t("Open"), String::new(), "new"),
        Some(KeptState::Begun) => (t("Continue"), t("begun").to_string(), "begun"),
        Some(KeptState::Done(points)) => {
            (t("Look again"), tf("✓ done, {points} % of the points", &[("points", &points.to_string())]), "done")
        }
    };
    let needs = entry.needs.iter().filter_map(|id| list.lesson(id)).enumerate();
    let needs = needs.map(|(i, need)| {
        let (id, language, title) = (need.id.clone(), need.language(speaks).to_string(), need.title(speaks).to_string());
        let begun = study.state(&id, &own).is_some();
        view! {
            {(i > 0).then_some(", ")}
            <button type="button" class="link" lang=language on:click=move |_| study.open(id.clone(), Want::Resume, true)>{title}</button>
            {begun.then_some(" ✓")}
        }
    });
    let needs = needs.collect_view();
    let title = entry.title(speaks).to_string();
    let open = |want: Want| {
        let id = entry.id.clone();
        move |_| study.open(id.clone(), want, true)
    };
    let reset = {
        let id = entry.id.clone();
        move |_| {
            study.forget(&id, &study.own());
            study.forget(&id, &Source::Practice);
            version.update(|v| *v += 1);
            browser::after(0, || browser::focus("lesson"));
        }
    };
    // A lesson that is not translated is in another language than the page.
    let language = entry.language(speaks).to_string();
    // What a button is for is not heard from its own word alone: the lesson's title goes with it, in its own language.
    let named = |button: &str| (format!("{button}-{}", entry.id), format!("{button}-{0} title-{0}", entry.id));
    let [(open_id, open_name), (practise_id, practise_name), (reset_id, reset_name)] =
        ["open", "practise", "reset"].map(named);
    view! {
        <li data-lesson=entry.id.clone() data-state=hook>
            <h4><span id=format!("title-{}", entry.id) lang=language.clone()>{title}</span>{(!mark.is_empty()).then(|| view! { " " <span class="contents-mark">{mark}</span> })}</h4>
            <p class="read" lang=language>{entry.teaches(speaks).to_string()}</p>
            <p class="hint">
                {tf("about {minutes} minutes", &[("minutes", &entry.minutes.to_string())])}
                {(!needs.is_empty()).then(|| view! { " · " {t("needs")} ": " })}
                {needs}
            </p>
            <p class="row2">
                <button type="button" class="strong" id=open_id aria-labelledby=open_name data-open=entry.id.clone() on:click=open(Want::Resume)>{word}</button>
                {state.is_some().then(|| view! {
                    <button type="button" class="link" id=practise_id aria-labelledby=practise_name data-practise=entry.id.clone() on:click=open(Want::Practice)>{t("practise with new numbers")}</button>
                    {study.may_begin_anew().then(|| view! {
                        <button type="button" class="link" id=reset_id aria-labelledby=reset_name data-reset=entry.id.clone() on:click=reset>{t("forget my result")}</button>
                    })}
                })}
            </p>
        </li>
    }
    .into_any()
}
