//! The lesson sheet: the list of lessons, or one lesson with its predictions, tasks and checkpoints.

use super::block::percent;
use super::checkpoint::CheckpointView;
use super::draft;
use super::head::Head;
use super::marks::marked_words;
use super::predict::PredictView;
use super::reveal::RevealView;
use super::session::{self, Part, Session, Source};
use super::strip::Strip;
use super::study::{Study, Want};
use super::task::TaskView;
use crate::browser;
use crate::language::{decimal_sign, t, tf};
use crate::refusals::Says;
use crate::view;
use leptos::prelude::*;
use volute_lessons::lesson::{Log, Stage, Step, Transfer};

/// A lesson's view, under a line that says so where it is a draft.
pub(super) fn show(study: Study, session: Session) -> AnyView {
    let draft = session.source == Source::Draft;
    view! {
        {draft.then(|| view! {
            <p class="crumb lesson-practice" id="draft">
                <span role="status">{t("Draft: nothing of this is kept.")}</span>" "
                <button type="button" class="link" id="draft-again" on:click=move |_| study.open(draft::ID.into(), Want::Draft, true)>{t("read it again, with new numbers")}</button>
            </p>
        })}
        <Reader study session/>
    }
    .into_any()
}

/// One lesson.
#[component]
fn Reader(study: Study, session: Session) -> impl IntoView {
    let lesson = session.lesson;
    let seed = session.worked.seed.0;
    let (minutes, variant) = (lesson.minutes.to_string(), seed.to_string());
    let places = [("course", lesson.course.as_str()), ("minutes", &minutes), ("variant", &variant)];
    let crumb = match lesson.course.len() {
        1 => tf("Course {course} · about {minutes} minutes · variant {variant}", &places),
        _ => tf("Capstone · about {minutes} minutes · variant {variant}", &places),
    };
    let only = StoredValue::new(session.only.clone());
    let shown =
        view::memo(move || only.with_value(|only| study.progress.with(|p| session::steps(p, lesson, only.as_deref()))));
    let parts = view::memo(move || study.progress.with(|p| session::parts(p, lesson)));
    let here = move || parts.with(|s| s.iter().position(|(_, done, of)| done < of));
    let complete = move || study.progress.with(|p| p.complete(lesson));
    let title = {
        let session = session.clone();
        move || study.line(&lesson.title, &session.worked.env())
    };
    let practice = session.source == Source::Practice;
    let steps = session.clone();
    view! {
        <Head study/>
        <p class="crumb" data-variant=seed.to_string()>{crumb}</p>
        {practice.then(|| view! { <p class="crumb lesson-practice">{t("Practice: this does not change the result that is kept.")}</p> })}
        <h2 id="l-h">{view::part(title)}</h2>
        {only.with_value(Option::is_none).then(|| view! {
            <ol class="lesson-steps" aria-label=t("Parts of this lesson")>
                {view::part(move || parts.get().into_iter().enumerate().map(|(i, (part, done, of))| view! {
                    <li class:done=done == of class:here=view::flag(move || here() == Some(i)) aria-current=view::text(move || if here() == Some(i) { "step" } else { "false" })>
                        {part_name(part)}" "<span class="num">{done}"/"{of}</span>
                    </li>
                }).collect_view())}
            </ol>
        })}
        // A step is put on the page when it may be seen, and stays as it is while later ones follow.
        <For each=move || shown.get() key=|i| *i let:i>
            {step(study, &steps, i)}
        </For>
        {view::part(move || complete().then(|| view! {
            <div class="reply" data-complete="">
                <p role="status"><b>{t("Everything in this lesson was tried.")}</b>" "{study.progress.with(|p| tf("You have {points} of the points.", &[("points", &percent(p.score(lesson)))]))}</p>
                <p class="row2">
                    <button type="button" on:click=move |_| study.open(lesson.id.clone(), Want::Practice, true)>{t("Practise with new numbers")}</button>
                    <button type="button" on:click=move |_| study.contents()>{t("All lessons")}</button>
                </p>
            </div>
        }))}
        <Strip study/>
    }
}

fn part_name(part: Part) -> &'static str {
    match part {
        Part::Predict => t("Predict"),
        Part::Try => t("Try"),
        Part::Check => t("Check"),
    }
}

fn step(study: Study, session: &Session, index: usize) -> AnyView {
    let session = session.clone();
    let step: &'static Step = &session.lesson.steps[index];
    match step {
        Step::Prose(prose) => view! { <div class="read">{view::part(move || study.prose(prose, &session))}</div> }.into_any(),
        Step::Safety(prose) => view! {
            <div class="read lesson-safety" role="note" aria-label=t("Safety")>{view::part(move || study.prose(prose, &session))}</div>
        }
        .into_any(),
        Step::Predict(predict) => view! { <PredictView study session predict/> }.into_any(),
        Step::Task(task) => view! { <TaskView study session task/> }.into_any(),
        Step::Checkpoint(checkpoint) => view! { <CheckpointView study session checkpoint/> }.into_any(),
        Step::Stage(stage) => view! { <StageView study session stage/> }.into_any(),
        Step::Log(log) => view! { <LogView study session log/> }.into_any(),
        Step::Reveal(reveal) => view! { <RevealView study session reveal index/> }.into_any(),
        Step::Transfer(transfer) => view! { <TransferView study session transfer/> }.into_any(),
    }
}

/// A button that sets the bench.
#[component]
fn StageView(study: Study, session: Session, stage: &'static Stage) -> impl IntoView {
    let on = view::memo(move || study.active.with(|a| a.as_deref() == Some(stage.id.as_str())));
    let label = {
        let session = session.clone();
        move || study.line(&stage.say, &session.worked.env())
    };
    let set = move |_| {
        study.begin(&stage.id, &stage.layout);
        study.set_bench(session.worked.bench(&stage.bench));
    };
    let marked = (!stage.layout.mark.is_empty()).then(|| marked_words(&stage.layout.mark));
    view! {
        <div class="stage" data-stage=stage.id.clone() data-on=view::text(move || on.get().to_string())>
            <button type="button" class="stage-button" aria-pressed=view::text(move || on.get().to_string()) on:click=set>{view::part(label)}</button>
            {view::part(move || on.get().then(|| marked.clone()).flatten().map(|what| view! {
                <p class="hint">{tf("Marked on the bench: {what}.", &[("what", &what)])}</p>
            }))}
        </div>
    }
}

/// A test sheet.
#[component]
fn LogView(study: Study, session: Session, log: &'static Log) -> impl IntoView {
    let sheet = session.worked.logs.get(&log.name).cloned();
    let lesson = session.lesson.id.clone();
    let save = {
        let sheet = sheet.clone();
        move |_| {
            let Some(sheet) = &sheet else { return };
            let name = format!("volute-{lesson}-{}.csv", log.name);
            if let Err(e) = browser::save_text(&name, "text/csv", &sheet.csv(decimal_sign())) {
                study.on_notice.run(tf("This could not be saved: {reason}.", &[("reason", &e)]));
            }
        }
    };
    let label = t("Test sheet");
    sheet.map(|sheet| {
        let (heads, rows) = sheet.table(study.style());
        view! {
            <figure class="log" data-log=log.name.clone()>
                <figcaption><h3>{label}</h3><button type="button" class="link" data-csv=log.name.clone() on:click=save>{t("save as CSV")}</button></figcaption>
                <div class="scroll" tabindex="0" role="region" aria-label=label>
                    <table>
                        <thead><tr>{heads.into_iter().map(|h| view! { <th scope="col">{h}</th> }).collect_view()}</tr></thead>
                        <tbody>{rows.into_iter().map(|row| view! {
                            <tr>{row.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr>
                        }).collect_view()}</tbody>
                    </table>
                </div>
            </figure>
        }
    })
}

/// The same thought elsewhere, in the learner's own words.
#[component]
fn TransferView(study: Study, session: Session, transfer: &'static Transfer) -> impl IntoView {
    let id = transfer.id.as_str();
    let written = view::memo(move || study.progress.with(|p| p.written(id).map(String::from)));
    let words = RwSignal::new(written.get_untracked().unwrap_or_default());
    let (fault, set_fault) = signal(String::new());
    let compare = move |_| {
        let mut result = Ok(());
        study.progress.update(|p| result = p.write(id, &words.get_untracked()));
        set_fault.set(result.err().map(|e| e.says()).unwrap_or_default());
    };
    let ask = session.clone();
    view! {
        <section class="ask" data-transfer=id aria-label=t("The same thought elsewhere")>
            <h3>{t("Somewhere else")}</h3>
            {view::part(move || study.prose(&transfer.ask, &ask))}
            <textarea rows="4" id=format!("{id}-words") aria-label=t("Your answer in your own words") maxlength="2000"
                prop:value=words on:input=move |e| words.set(event_target_value(&e))></textarea>
            <p class="row2"><button type="button" data-compare=id on:click=compare>{t("Keep and compare")}</button></p>
            <p class="ask-feedback caution" role="status">{fault}</p>
            {view::part(move || written.get().is_some().then(|| view! { <div class="ask-feedback" data-consider=id>{study.prose(&transfer.consider, &session)}</div> }))}
        </section>
    }
}
