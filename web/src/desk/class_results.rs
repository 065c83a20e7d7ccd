//! What a class did: files dropped here, a table, what was thought, and what was written.

use super::labels::item_name;
use super::office::Office;
use super::printout::{self, Axes};
use super::shelf::catalog;
use super::{labels, sheets};
use crate::browser;
use crate::language::{decimal_sign, t, tf};
use crate::lessons::stints;
use crate::refusals::Says;
use crate::view;
use leptos::ev;
use leptos::prelude::*;
use volute_lessons::assignment::Item;
use volute_lessons::results::class::{Added, Class, Column, Entry};
use volute_lessons::results::{ItemReport, Kind, ReadError, read, tables};
use volute_lessons::seed::Seed;
use volute_lessons::units::Decimal;
use web_sys::{DragEvent, FileList, HtmlInputElement};

/// Most files that are taken at once.
const MOST_FILES: u32 = 500;

/// Most refusals that are listed.
const MOST_REFUSALS: usize = 20;

/// The sheet.
#[component]
pub fn Results(office: Office) -> impl IntoView {
    let class = office.class;
    let refusals = RwSignal::new(Vec::<String>::new());
    let (said, set_said) = signal(String::new());
    let over = RwSignal::new(false);
    let take = move |files: Option<FileList>| {
        let Some(files) = files else { return };
        refusals.set(Vec::new());
        leptos::task::spawn_local(async move {
            let mut taken = 0_usize;
            let mut again = 0_usize;
            for i in 0..files.length().min(MOST_FILES) {
                let Some(file) = files.get(i) else { continue };
                let name: String = file.name().chars().filter(|c| !c.is_control()).take(80).collect();
                // Each file is one step of the browser's own queue: the page answers in between.
                let outcome = match ReadError::by_size(file.size() as u64) {
                    Ok(()) => match browser::text_of(&file).await {
                        Some(text) => read(&text).map_err(|e| e.says()),
                        None => Err(t("the browser cannot read it as a text").to_string()),
                    },
                    Err(e) => Err(e.says()),
                };
                match outcome {
                    Ok(sealed) => match class.try_update(|class| class.add(&name, sealed)) {
                        Some(Added::In) => taken += 1,
                        Some(Added::Again) => again += 1,
                        _ => refuse(refusals, &name, t("the class is full")),
                    },
                    Err(why) => refuse(refusals, &name, &why),
                }
            }
            if files.length() > MOST_FILES {
                refuse(refusals, "…", &tf("only {most} files are taken at once", &[("most", &MOST_FILES.to_string())]));
            }
            let numbers = [("taken", &*taken.to_string()), ("again", &*again.to_string())];
            set_said.set(tf("Results read: {taken}. Known already: {again}.", &numbers));
        });
    };
    let picked = move |event: ev::Event| {
        let input = event_target::<HtmlInputElement>(&event);
        take(input.files());
    };
    let hover = move |event: DragEvent| {
        event.prevent_default();
        over.set(true);
    };
    let drop = move |event: DragEvent| {
        event.prevent_default();
        over.set(false);
        take(event.data_transfer().and_then(|data| data.files()));
    };
    let save = move |name: &'static str, make: fn(&Class, Decimal) -> String| {
        let text = class.with_untracked(|class| make(class, decimal_sign()));
        if let Err(why) = browser::save_text(name, "text/csv", &text) {
            set_said.set(why);
        }
    };
    let full = move || class.with(|c| !c.entries().is_empty());
    view! {
        <section class="sheet inner results-drop" class:over=over aria-labelledby="files-h"
            on:dragover=hover on:dragleave=move |_| over.set(false) on:drop=drop>
            <h2 id="files-h">{t("Result files of a class")}</h2>
            <p>{t("Choose the files that learners sent you, or drop them here. Names and answers stay on this device: nothing is sent anywhere, and closing the page forgets them.")}</p>
            <p class="row2"><label for="result-files">{t("Files")}</label>
                <input type="file" id="result-files" multiple=true accept=".json,application/json" on:change=picked/>
                <span role="status" id="results-said" class="hint">{view::text(move || said.get())}</span></p>
            <ul class="results-refusals" id="refusals" aria-live="polite">
                {view::part(move || refusals.get().into_iter().map(|text| view! { <li class="caution">{text}</li> }).collect_view())}
            </ul>
            <p class="hint">{t("A result is written by the learner's own browser and can be forged. The checksum shows files that were damaged, or changed without much thought; it proves nothing.")}</p>
        </section>
        {view::part(move || full().then(|| view! {
            <section class="sheet inner" aria-labelledby="class-h">
                <div class="row2 office-apart"><h2 id="class-h">{t("The class")}</h2>
                    <span class="row2">
                        <button type="button" id="class-csv" on:click=move |_| save("class.csv", tables::class)>{t("Save the table as CSV")}</button>
                        <button type="button" id="answers-csv" on:click=move |_| save("answers.csv", answers)>{t("Save every answer as CSV")}</button>
                        <button type="button" on:click=move |_| class.set(Class::default())>{t("Forget all")}</button>
                    </span></div>
                {view::part(move || class.with(table))}
            </section>
            <section class="sheet inner" aria-labelledby="questions-h">
                <h2 id="questions-h">{t("Question by question")}</h2>
                {view::part(move || class.with(questions))}
            </section>
            <section class="sheet inner" aria-labelledby="thought-h">
                <h2 id="thought-h">{t("What they predicted")}</h2>
                {view::part(move || class.with(predictions))}
            </section>
            <section class="sheet inner" aria-labelledby="written-h">
                <h2 id="written-h">{t("What they wrote")}</h2>
                {view::part(move || class.with(writings))}
            </section>
        }))}
    }
}

/// Who did it, by name, else by file.
fn learner(entry: &Entry) -> &str {
    if entry.report.learner.is_empty() { &entry.file } else { &entry.report.learner }
}

fn refuse(refusals: RwSignal<Vec<String>>, file: &str, why: &str) {
    refusals.update(|list| {
        if list.len() < MOST_REFUSALS {
            list.push(format!("{file}: {why}."));
        }
    });
}

fn answers(class: &Class, decimal: Decimal) -> String {
    tables::answers(class.entries().iter().map(|entry| (entry.file.as_str(), &entry.report)), decimal)
}

fn table(class: &Class) -> AnyView {
    let columns = class.columns();
    let head = columns.iter().enumerate().map(|(i, _)| view! { <th scope="col">{(i + 1).to_string()}</th> });
    let rows = class.entries().iter().map(|entry| {
        let report = &entry.report;
        let points = report.points_pct().map_or(String::from("–"), |pct| format!("{pct} %"));
        let passed = match report.passed() {
            Some(true) => t("passed"),
            Some(false) => t("not passed"),
            None => "–",
        };
        let cells: Vec<String> = columns.iter().map(|c| c.of(report).map_or("–".into(), cell)).collect();
        let name = learner(entry).to_string();
        let variants: Vec<String> = report.lessons.iter().map(|l| l.seed.0.to_string()).collect();
        let mut variants = variants;
        variants.dedup();
        view! {
            <tr>
                <th scope="row">{name}</th>
                <td>{points}</td><td>{passed}</td>
                <td>{(report.seconds() / 60).to_string()}</td>
                <td>{variants.join(", ")}</td>
                <td>{if entry.intact { t("fits").to_string() } else { t("does not fit").to_string() }}</td>
                {cells.into_iter().map(|text| view! { <td>{text}</td> }).collect_view()}
            </tr>
        }
    });
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label=t("Table of the class")>
            <table id="class">
                <thead><tr>
                    <th scope="col">{t("learner")}</th><th scope="col">{t("points")}</th><th scope="col">{t("result")}</th>
                    <th scope="col">{t("minutes")}</th><th scope="col">{t("variant")}</th><th scope="col">{t("checksum")}</th>
                    {head.collect_view()}
                </tr></thead>
                <tbody>{rows.collect_view()}</tbody>
            </table>
        </div>
        <p class="hint">{t("Numbered columns are the questions below: ✓ right at once, ✓2 right at the second try, ✗ tried and not right, · not tried.")}</p>
    }
    .into_any()
}

/// A learner's work at a question in a sign.
fn cell(item: &ItemReport) -> String {
    match item.tries.iter().position(|made| made.right) {
        Some(0) => "✓".into(),
        Some(n) => format!("✓{}", n + 1),
        None if item.is_right() => "✓".into(),
        None if item.is_tried() => "✗".into(),
        None => "·".into(),
    }
}

fn name_of(column: &Column) -> String {
    item_name(&Item::single(&column.lesson, &column.item))
}

fn questions(class: &Class) -> AnyView {
    let lines = class.columns().into_iter().map(|column| {
        let sum = class.summary(&column);
        let share = |n: u32| if sum.tried == 0 { 0 } else { (200 * n + sum.tried) / (2 * sum.tried) };
        let tries = if sum.tried == 0 { 0.0 } else { f64::from(sum.tries) / f64::from(sum.tried) };
        let facts = tf(
            "{tried} of {asked} tried · right in the end {right} % · right at once {once} % · hint taken by {hinted} · tries each {tries}",
            &[
                ("tried", &sum.tried.to_string()),
                ("asked", &sum.asked.to_string()),
                ("right", &share(sum.right).to_string()),
                ("once", &share(sum.right_at_once).to_string()),
                ("hinted", &sum.hinted.to_string()),
                ("tries", &crate::units::number(tries, 1)),
            ],
        );
        let wrong = sum.misconceptions.iter().map(|(index, count)| {
            let why = labels::misconception(&column.lesson, &column.item, *index);
            let text = tf(
                "{count} of {tried}: {why}",
                &[("count", &count.to_string()), ("tried", &sum.tried.to_string()), ("why", &why)],
            );
            view! { <li>{text}</li> }
        });
        let mixed = (sum.versions.len() > 1).then(|| view! { <p class="caution">{t("These learners had different versions of this question.")}</p> });
        view! {
            <li data-question=format!("{}/{}", column.lesson, column.item)>
                <h3>{name_of(&column)}</h3>
                <div class="results-share" aria-hidden="true">
                    <svg viewBox="0 0 100 6" preserveAspectRatio="none"><path class="results-ground" d="M0 0h100v6H0z"></path><path class="results-right" d=format!("M0 0h{}v6H0z", share(sum.right))></path></svg>
                </div>
                <p class="hint">{facts}</p>
                {mixed}
                <ul class="results-wrong">{wrong.collect_view()}</ul>
            </li>
        }
    });
    view! { <ol class="results-questions" id="questions">{lines.collect_view()}</ol> }.into_any()
}

/// Everything of one kind that the class locked, question by question.
fn of_kind<'c>(class: &'c Class, kinds: &[Kind]) -> Vec<(Column, Vec<(&'c str, &'c ItemReport)>)> {
    let columns = class.all_columns().into_iter().filter(|column| kinds.contains(&column.kind));
    columns
        .map(|column| {
            let own = class.entries().iter().filter_map(|entry| {
                let item = column.of(&entry.report).filter(|item| item.is_tried())?;
                Some((learner(entry), item))
            });
            let own: Vec<_> = own.collect();
            (column, own)
        })
        .filter(|(_, own)| !own.is_empty())
        .collect()
}

fn predictions(class: &Class) -> AnyView {
    let all = of_kind(class, &[Kind::Predict]);
    if all.is_empty() {
        return view! { <p class="hint">{t("No predictions in these files.")}</p> }.into_any();
    }
    let sheets = all.into_iter().map(|(column, own)| {
        let curves: Vec<Vec<f64>> = own
            .iter()
            .filter(|(_, item)| item.curve.len() > 1)
            .map(|(_, item)| item.curve.iter().map(|height| f64::from(*height) / 1000.0).collect())
            .collect();
        let seeds = class.seeds(&column);
        let picked: Vec<&[u32]> = own.iter().map(|(_, i)| i.picked.as_slice()).filter(|p| !p.is_empty()).collect();
        let words = own
            .iter()
            .filter(|(_, i)| !i.words.is_empty())
            .map(|(_, i)| view! { <li class="results-quote">{i.words.clone()}</li> });
        view! {
            <div class="results-thought">
                <h3>{labels::name(&column.lesson, &column.item)}</h3>
                {(!curves.is_empty()).then(|| overlay(&column, curves, seeds))}
                {(!picked.is_empty()).then(|| counts(&column, &picked))}
                <ul>{words.collect_view()}</ul>
            </div>
        }
    });
    sheets.collect_view().into_any()
}

/// Most variants whose true curve is worked out: where each learner has own numbers, more lines say no more. Chosen.
const MOST_TRUTHS: usize = 8;

/// Drawn curves over each other, without names, and under them what the bench shows with the numbers that they had.
fn overlay(column: &Column, curves: Vec<Vec<f64>>, seeds: Vec<Seed>) -> AnyView {
    let found = RwSignal::new(Vec::<Axes>::new());
    if let Some(lesson) = catalog().lesson(&column.lesson) {
        for seed in seeds.iter().copied().take(MOST_TRUTHS) {
            let item = column.item.clone();
            stints::work_out(
                move || found.try_get_untracked().is_some(),
                move |solver| printout::predicted(lesson, &item, seed, solver),
                // What cannot be worked out has no curve to be drawn; the guesses stand all the same.
                move |axes| found.update(|all| all.extend(axes.ok().flatten())),
            );
        }
    }
    let label = tf("{count} predictions laid over each other, without names", &[("count", &curves.len().to_string())]);
    let variants = seeds.len();
    let drawn = move || {
        let guesses: Vec<&[f64]> = curves.iter().map(Vec::as_slice).collect();
        found.with(|all| {
            let mut truths: Vec<&[f64]> = Vec::new();
            for axes in all {
                // Variants that differ in nothing that matters here have one curve.
                if !truths.contains(&axes.truth.as_slice()) {
                    truths.push(&axes.truth);
                }
            }
            let (shown, of) = (all.len().to_string(), variants.to_string());
            let key = match (truths.len(), variants) {
                (0, _) => None,
                (1, _) => Some(t("Thick: what the bench shows.").to_string()),
                _ => Some(tf(
                    "Thick: what the bench shows, for {shown} of the {of} variants that these learners had.",
                    &[("shown", &shown), ("of", &of)],
                )),
            };
            let graph = match all.first() {
                Some(axes) => {
                    let label = format!(
                        "{label}. {}",
                        tf("Axes: {upright} over {along}", &[("upright", &axes.upright), ("along", &axes.along)])
                    );
                    sheets::drawn(axes, &truths, &guesses, &label)
                }
                None => sheets::drawn(&Axes::bare(), &[], &guesses, &label),
            };
            view! { <div class="results-overlay">{graph}{key.map(|key| view! { <p class="hint" data-truth="">{key}</p> })}</div> }
        })
    };
    view! { {view::part(drawn)} }.into_any()
}

/// How many picked what; orders are counted whole.
fn counts(column: &Column, picked: &[&[u32]]) -> AnyView {
    let mut kinds: Vec<(&[u32], u32)> = Vec::new();
    for one in picked {
        match kinds.iter_mut().find(|(known, _)| known == one) {
            Some((_, count)) => *count += 1,
            None => kinds.push((one, 1)),
        }
    }
    kinds.sort_by_key(|(what, count)| (u32::MAX - count, what.to_vec()));
    let rows = kinds.into_iter().map(|(what, count)| {
        let names: Vec<String> = what.iter().map(|index| labels::option(&column.lesson, &column.item, *index)).collect();
        view! { <tr><th scope="row">{names.join(" · ")}</th><td>{count.to_string()}</td><td>{format!("{} %", (200 * count as usize + picked.len()) / (2 * picked.len()))}</td></tr> }
    });
    view! {
        <div class="scroll"><table class="results-counts">
            <thead><tr><th scope="col">{t("prediction")}</th><th scope="col">{t("learners")}</th><th scope="col">{t("share")}</th></tr></thead>
            <tbody>{rows.collect_view()}</tbody>
        </table></div>
    }
    .into_any()
}

fn writings(class: &Class) -> AnyView {
    let all = of_kind(class, &[Kind::Words, Kind::Transfer]);
    if all.is_empty() {
        return view! { <p class="hint">{t("Nobody wrote anything.")}</p> }.into_any();
    }
    let sheets = all.into_iter().map(|(column, own)| {
        let lines = own.into_iter().map(|(name, item)| {
            let sure = item.confidence_pct.map(|pct| tf(" (sure to {pct} %)", &[("pct", &pct.to_string())]));
            view! { <li><b>{name.to_string()}</b>{sure}<p class="results-quote">{item.words.clone()}</p></li> }
        });
        view! { <div class="results-thought"><h3>{labels::name(&column.lesson, &column.item)}</h3><ul id="writings">{lines.collect_view()}</ul></div> }
    });
    sheets.collect_view().into_any()
}
