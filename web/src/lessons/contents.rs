//! The list of lessons: courses, minutes, what each needs, how far the learner is; and what takes progress elsewhere.

use super::block::percent;
use super::desk::{Desk, Want};
use super::keep::{self, Kept, read_file};
use super::library::{self, Entry};
use super::prose::line;
use super::session::Source;
use crate::browser;
use crate::language::{t, tf, tn};
use crate::view;
use leptos::prelude::*;
use volute_lessons::expr::Env;
use volute_lessons::lesson::Lesson;

/// How far a learner is with a lesson, for the list.
#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    New,
    Begun,
    Done(f64),
}

fn state(kept: Option<&Kept>, lesson: Option<&'static Lesson>) -> State {
    match (kept, lesson) {
        (None, _) => State::New,
        (Some(kept), Some(lesson)) if kept.progress.complete(lesson) => State::Done(kept.progress.score(lesson)),
        (Some(_), _) => State::Begun,
    }
}

/// Name of a course.
fn course_name(course: &str) -> &'static str {
    match course {
        "A" => t("Reading pressure and air"),
        "B" => t("The vaned turbine and its price"),
        "C" => t("Judging an engine"),
        _ => t("To finish"),
    }
}

/// The list.
#[component]
pub fn Contents(desk: Desk) -> impl IntoView {
    // Counts up when what is kept has changed.
    let version = RwSignal::new(0_u32);
    let assignment = desk.assignment;
    let all = library::entries();
    let listed = move || {
        assignment.with(|a| match a {
            None => all.to_vec(),
            // In the order of the assignment.
            Some(a) => a.lessons().into_iter().filter_map(|id| all.iter().copied().find(|e| e.id == id)).collect(),
        })
    };
    let mut courses: Vec<&'static str> = Vec::new();
    for entry in all {
        if !courses.contains(&entry.course) {
            courses.push(entry.course);
        }
    }
    let courses = StoredValue::new(courses);
    let sheet = move || {
        version.track();
        let entries = listed();
        if assignment.with(Option::is_some) {
            return view! { <ol class="contents">{entries.into_iter().map(|e| item(desk, e, version)).collect_view()}</ol> }.into_any();
        }
        let of_course = |course: &'static str| {
            let own: Vec<Entry> = entries.iter().copied().filter(|e| e.course == course).collect();
            let minutes: u32 = own.iter().map(|e| e.minutes).sum();
            view! {
                <section class="course" aria-labelledby=format!("course-{course}")>
                    <h3 id=format!("course-{course}")>{tf("Course {course}: {name}", &[("course", course), ("name", course_name(course))])}</h3>
                    <p class="hint">{tn("one lesson, {minutes} minutes", "{n} lessons, {minutes} minutes", own.len(), &[("minutes", &minutes.to_string())])}</p>
                    <ol class="contents">{own.into_iter().map(|e| item(desk, e, version)).collect_view()}</ol>
                </section>
            }
        };
        courses.with_value(|courses| courses.iter().map(|c| of_course(c)).collect_view()).into_any()
    };
    let close = move |_| {
        desk.close();
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
                {(!a.message.is_empty()).then(|| view! { <p class="read message">{a.message.clone()}</p> })}
                <p class="hint">
                    {tf("{percent} % of the points pass.", &[("percent", &a.pass_pct.to_string())])}
                    {a.closes.as_ref().map(|due| format!(" {}", tf("Due {date}.", &[("date", &due.to_string())])))}
                </p>
                <p class="hint">{t("Points are counted in this browser: practice credit, not an examination.")}</p>
            }.into_any(),
        })}
        {view::part(sheet)}
        <Elsewhere desk version/>
    }
}

fn item(desk: Desk, entry: Entry, version: RwSignal<u32>) -> AnyView {
    let own = desk.own();
    let kept = desk.kept(entry.id, &own);
    let now = state(kept.as_ref(), library::known(entry.id));
    let (word, mark) = match now {
        State::New => (t("Open"), String::new()),
        State::Begun => (t("Continue"), t("begun").to_string()),
        State::Done(points) => (t("Look again"), tf("done, {points} of the points", &[("points", &percent(points))])),
    };
    let begun = now != State::New;
    let needs: Vec<_> = entry
        .needs
        .iter()
        .filter_map(|id| library::entry(id))
        .map(|need| (need, state(desk.kept(need.id, &own).as_ref(), library::known(need.id)) != State::New))
        .collect();
    let title = move || line(entry.title, &Env::EMPTY, desk.style(), desk.opens());
    let reset = move |_| {
        desk.forget(entry.id, &desk.own());
        desk.forget(entry.id, &Source::Practice);
        version.update(|v| *v += 1);
        browser::after(0, || browser::focus("lesson"));
    };
    let id = entry.id;
    view! {
        <li data-lesson=id data-state=match now { State::New => "new", State::Begun => "begun", State::Done(_) => "done" }>
            <h4>{title()}{(!mark.is_empty()).then(|| view! { " " <span class="mark-done">{matches!(now, State::Done(_)).then_some("✓ ")}{mark}</span> })}</h4>
            <p class="read">{line(entry.teaches, &Env::EMPTY, desk.style(), desk.opens())}</p>
            <p class="hint">
                {tf("about {minutes} minutes", &[("minutes", &entry.minutes.to_string())])}
                {(!needs.is_empty()).then(|| view! { " · " {t("needs")} ": " })}
                {needs.into_iter().enumerate().map(|(i, (need, begun))| view! {
                    {(i > 0).then_some(", ")}
                    <button type="button" class="link" on:click=move |_| desk.open(need.id.into(), Want::Resume, true)>{line(need.title, &Env::EMPTY, desk.style(), desk.opens())}</button>
                    {begun.then_some(" ✓")}
                }).collect_view()}
            </p>
            <p class="row2">
                <button type="button" class="strong" data-open=id on:click=move |_| desk.open(id.into(), Want::Resume, true)>{word}<span class="sr">{title()}</span></button>
                {begun.then(|| view! {
                    <button type="button" class="link" data-practise=id on:click=move |_| desk.open(id.into(), Want::Practice, true)>{t("practise with new numbers")}<span class="sr">{title()}</span></button>
                    {desk.may_begin_anew().then(|| view! {
                        <button type="button" class="link" data-reset=id on:click=reset>{t("forget my result")}<span class="sr">{title()}</span></button>
                    })}
                })}
            </p>
        </li>
    }
    .into_any()
}

/// Progress as a file, and back.
#[component]
fn Elsewhere(desk: Desk, version: RwSignal<u32>) -> impl IntoView {
    let (said, set_said) = signal(String::new());
    let export = move |_| {
        let own = desk.own();
        let all: Vec<(String, Kept)> =
            library::entries().iter().filter_map(|e| Some((e.id.to_string(), desk.kept(e.id, &own)?))).collect();
        if all.is_empty() {
            set_said.set(t("There is nothing to save yet: no lesson was begun on this device.").into());
            return;
        }
        match browser::save_text("volute-progress.txt", "text/plain", &keep::file(&all)) {
            Ok(()) => set_said.set(tn("One lesson is in the file.", "{n} lessons are in the file.", all.len(), &[])),
            Err(e) => set_said.set(tf("This could not be saved: {reason}.", &[("reason", &e)])),
        }
    };
    let take = move |text: String| {
        let all = match read_file(&text) {
            Ok(all) => all,
            Err(e) => {
                set_said.set(e.says());
                return;
            }
        };
        let own = desk.own();
        let (mut taken, mut left) = (0, 0);
        for (id, kept) in all {
            // Whoever has spent more time is further on; nothing that was done here is lost to an older file.
            let here = desk.kept(&id, &own).map_or(0, |here| here.progress.spent_s + 1);
            let wanted = library::entry(&id).is_some() && here <= kept.progress.spent_s;
            if wanted && desk.keep_record(&id, &own, &kept) {
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
        set_said.set(says);
        version.update(|v| *v += 1);
    };
    let picked = move |event: leptos::ev::Event| {
        browser::read_file(&event, keep::LARGEST_FILE, move |text| match text {
            Ok(text) => take(text),
            Err(browser::FileFault::TooLarge(bytes)) => set_said.set(keep::FileError::TooLarge { bytes }.says()),
            Err(browser::FileFault::Unreadable) => {
                set_said.set(t("The browser could not read this file as text.").into())
            }
        });
    };
    view! {
        <details class="elsewhere">
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
