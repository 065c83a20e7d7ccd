//! Sheets for paper: job sheets for learners, answer keys and class plans for the instructor.

use super::office::Office;
use super::printout::{Axes, Entry, Printout, printout};
use super::shelf::catalog;
use super::{labels, plain};
use crate::browser;
use crate::language::{t, text_style, tf};
use crate::lessons::prose::{blocks, line};
use crate::lessons::stints;
use crate::units::UnitSystem;
use crate::view::{self, Newest};
use leptos::prelude::*;
use std::fmt::Write;
use std::sync::Arc;
use volute_lessons::assignment::Numbers;
use volute_lessons::expr::Env;
use volute_lessons::seed::Seed;
use volute_lessons::text::{Inline, Prose};

/// Rows of the table to be filled in.
const ROWS: usize = 6;

/// Columns of the table to be filled in: symbols as everywhere on the bench.
const COLUMNS: [&str; 15] =
    ["p_amb", "p1", "T1", "p2", "T2", "p_im", "T_im", "p3", "T3", "p4", "n", "vanes", "fuel", "air", "torque"];

/// Sizes of type that are tried, the largest first, until a lesson fits on its page.
const FITS: [&str; 9] = ["fit-0", "fit-1", "fit-2", "fit-3", "fit-4", "fit-5", "fit-6", "fit-7", "fit-8"];

/// The sheet.
#[component]
pub fn Sheets(office: Office) -> impl IntoView {
    let (first, variant) = office.draft.with_untracked(|draft| {
        let ids: Vec<String> = draft.lessons().into_iter().map(String::from).collect();
        let variant = if let Numbers::Same(seed) = draft.numbers { seed.0 } else { 1 };
        (ids, variant)
    });
    let all = &catalog().lessons;
    let first = if first.is_empty() { all.iter().take(1).map(|l| l.id.clone()).collect() } else { first };
    let chosen = RwSignal::new(first);
    let variant = RwSignal::new(variant);
    let wants = [true, false, false].map(RwSignal::new);
    let papers = RwSignal::new(Vec::<Arc<Printout>>::new());
    let (said, set_said) = signal(String::new());
    // An answer to an earlier choice is dropped.
    let requests = Newest::new();
    view::effect(move || {
        let (ids, variant) = (chosen.get(), variant.get());
        let request = requests.request();
        papers.set(Vec::new());
        set_said.set(if ids.is_empty() { t("Choose a lesson.").into() } else { t("Working out …").into() });
        let lessons = all.iter().filter(|lesson| ids.contains(&lesson.id));
        for lesson in lessons {
            let units = office.units;
            stints::work_out(
                move || request.stands(),
                move |solver| {
                    printout(lesson, Seed(variant), units, text_style(units == UnitSystem::Customary), solver)
                },
                move |result| match result {
                    Ok(paper) => {
                        papers.update(|papers| papers.push(Arc::new(paper)));
                        set_said.set(String::new());
                        browser::after(0, fit);
                    }
                    Err(e) => set_said.set(format!("{}: {e}.", lesson.id)),
                },
            );
        }
    });
    let revary = move |event: leptos::ev::Event| {
        if let Ok(number) = event_target_value(&event).parse::<u64>() {
            variant.set(number);
        }
    };
    let lessons = all.iter().map(|lesson| {
        let (id, known) = (lesson.id.clone(), lesson.id.clone());
        view! {
            <label class="opt"><input type="checkbox" value=lesson.id.clone() prop:checked=view::flag(move || chosen.with(|c| c.contains(&known)))
                on:change=move |event| {
                    let on = event_target_checked(&event);
                    chosen.update(|c| {
                        c.retain(|other| *other != id);
                        if on { c.push(id.clone()); }
                    });
                }/><span>{plain::title(lesson)}</span></label>
        }
    });
    let want = move |which: usize, id: &'static str, text: &'static str| {
        view! {
            <label class="opt"><input type="checkbox" id=id prop:checked=view::flag(move || wants[which].get())
                on:change=move |event| { wants[which].set(event_target_checked(&event)); browser::after(0, fit); }/><span>{text}</span></label>
        }
    };
    view! {
        <section class="sheet inner no-print" aria-labelledby="print-h">
            <h2 id="print-h">{t("Sheets for paper")}</h2>
            <fieldset class="office-boxes paper-choice"><legend>{t("Lessons")}</legend>{lessons.collect_view()}</fieldset>
            <p class="row2"><label for="p-variant">{t("Variant")}</label>
                <input type="number" id="p-variant" min="1" max="9999" prop:value=view::text(move || variant.get().to_string())
                    on:change=revary/>
                <span class="hint">{t("The number that stands on a learner's page: the same number gives the same sheet and key everywhere.")}</span></p>
            <fieldset class="office-boxes"><legend>{t("Print")}</legend>
                {want(0, "p-job", t("job sheets, one page a lesson"))}
                {want(1, "p-key", t("answer keys"))}
                {want(2, "p-plan", t("plans of a 45-minute class, with questions for the discussion"))}
            </fieldset>
            <p class="row2"><button type="button" class="strong" id="p-print" on:click=move |_| browser::print()>{t("Print")}</button>
                <span role="status" class="hint" id="p-said">{view::text(move || said.get())}</span></p>
        </section>
        <div class="paper-stack" id="papers">
            {each(wants[0], papers, job)}
            {each(wants[1], papers, key)}
            {each(wants[2], papers, plan)}
        </div>
    }
}

/// One kind of sheet where it is wanted; a paper that comes later leaves those that are there as they are.
fn each(wanted: RwSignal<bool>, papers: RwSignal<Vec<Arc<Printout>>>, sheet: fn(&Printout) -> AnyView) -> AnyView {
    let all =
        move || view! { <For each=move || papers.get() key=|p| (p.id.clone(), p.variant) let(p)>{sheet(&p)}</For> };
    view! { {view::part(move || wanted.get().then(all))} }.into_any()
}

/// Gives each new job sheet the largest type with which it stays on its page.
fn fit() {
    browser::fit("#papers .paper-job:not([class*=fit-])", &FITS);
}

fn say(prose: &[Prose]) -> AnyView {
    blocks(prose, &Env::EMPTY, text_style(false), Callback::new(|_| {}))
}

fn say_line(inlines: &[Inline]) -> AnyView {
    line(inlines, &Env::EMPTY, text_style(false), Callback::new(|_| {}))
}

/// A page for a learner.
fn job(paper: &Printout) -> AnyView {
    let of = |kind: &str| paper.entries.iter().filter(|e| e.kind == kind).collect::<Vec<_>>();
    let safety = of("safety").into_iter().map(|e| view! { <div class="paper-safety">{say(&e.text)}</div> });
    let guesses = of("predict").into_iter().map(|e| {
        view! { <div class="paper-ask"><b>{t("Predict first")}</b>{say(&e.text)}{blank(e)}</div> }
    });
    let asked = paper.entries.iter().filter(|e| matches!(e.kind, "task" | "checkpoint" | "transfer")).enumerate();
    let asked = asked.map(|(i, e)| {
        view! {
            <li class="paper-ask"><b>{format!("{}. {}", i + 1, labels::kind(e.kind))}</b>
                {e.tolerance.chars().next().map(|_| format!(" ({})", e.tolerance))}{say(&e.text)}{blank(e)}</li>
        }
    });
    let head = COLUMNS.iter().map(|name| view! { <th scope="col">{symbol(name)}</th> });
    let rows = (0..ROWS).map(|i| {
        view! { <tr><th scope="row">{(i + 1).to_string()}</th>{COLUMNS.iter().map(|_| view! { <td></td> }).collect_view()}</tr> }
    });
    let sheets = of("log").into_iter().filter_map(|e| e.table.as_ref()).map(table);
    view! {
        <section class="paper paper-job" data-lesson=paper.id.clone() aria-label=tf("Job sheet: {id}", &[("id", &paper.id)])>
            {head_line(paper, t("Job sheet"))}
            <p class="paper-names"><span>{t("Name")}</span><span>{t("Date")}</span></p>
            <p><b>{t("Aim")}</b>" "{say_line(&paper.teaches)}" "<i>{t("Leaves out")}": "{say_line(&paper.not_here)}</i></p>
            {safety.collect_view()}
            <div class="paper-columns">
                <div>{settings(paper)}{guesses.collect_view()}</div>
                <ol class="paper-asks">{asked.collect_view()}</ol>
            </div>
            {sheets.collect_view()}
            <div class="paper-wide" tabindex="0" role="region" aria-label=t("Readings")>
                <table class="paper-blank"><thead><tr><th scope="col">{t("no.")}</th>{head.collect_view()}</tr></thead><tbody>{rows.collect_view()}</tbody></table>
            </div>
            <p class="paper-formulas">{formulas()}</p>
            <p class="paper-surprised"><b>{t("What surprised me")}</b></p>
            <p class="paper-line"></p><p class="paper-line"></p>
            <p class="paper-tiny">{t("A teaching model, not a tuning instruction. Real work follows the maker\u{2019}s limits, local codes and licensed practice.")}</p>
        </section>
    }
    .into_any()
}

fn head_line(paper: &Printout, what: &str) -> AnyView {
    let place = tf(
        "{what} · course {course} · {minutes} min · variant {variant}",
        &[
            ("what", what),
            ("course", &paper.course),
            ("minutes", &paper.minutes.to_string()),
            ("variant", &paper.variant.to_string()),
        ],
    );
    view! { <div class="paper-head"><h2>{say_line(&paper.title)}</h2><p>{place}</p></div> }.into_any()
}

fn settings(paper: &Printout) -> AnyView {
    let rows = paper.settings.iter().map(|(name, value)| {
        view! { <tr><th scope="row">{name.clone()}</th><td>{value.clone()}</td></tr> }
    });
    view! { <table class="paper-settings"><caption>{t("Settings at the start")}</caption><tbody>{rows.collect_view()}</tbody></table> }.into_any()
}

/// Room for an answer.
fn blank(entry: &Entry) -> AnyView {
    match entry.sort {
        "sketch" => entry.axes.as_ref().map(|axes| graph(axes, false)).into_any(),
        "choice" | "choices" => {
            let options = entry.options.iter().map(|option| view! { <li>"☐ "{say_line(option)}</li> });
            view! { <ul class="paper-ticks">{options.collect_view()}</ul> }.into_any()
        }
        "order" => {
            let items = entry.options.iter().map(|item| view! { <li>"__ "{say_line(item)}</li> });
            view! { <ul class="paper-ticks">{items.collect_view()}</ul> }.into_any()
        }
        _ => view! { <p class="paper-line"></p> }.into_any(),
    }
}

/// Axes with a grid to draw on; with the true curve for the key.
fn graph(axes: &Axes, truth: bool) -> AnyView {
    let label = tf("Axes: {upright} over {along}", &[("upright", &axes.upright), ("along", &axes.along)]);
    let truth: &[&[f64]] = if truth { &[&axes.truth] } else { &[] };
    drawn(axes, truth, &[], &label)
}

/// Axes with a grid, true curves and guesses on them; heights as shares of the axis, evenly spaced.
pub fn drawn(axes: &Axes, truths: &[&[f64]], guesses: &[&[f64]], label: &str) -> AnyView {
    const LEFT: f64 = 34.0;
    const TOP: f64 = 6.0;
    const WIDTH: f64 = 300.0;
    const HEIGHT: f64 = 130.0;
    let mut grid = String::new();
    for i in 0..=10 {
        let share = f64::from(i) / 10.0;
        // Writing to a string does not fail.
        let _ = write!(grid, "M{} {TOP}v{HEIGHT}M{LEFT} {}h{WIDTH}", LEFT + share * WIDTH, TOP + share * HEIGHT);
    }
    let path = |heights: &[f64]| {
        let mut d = String::new();
        for (i, height) in heights.iter().enumerate() {
            let x = LEFT + WIDTH * i as f64 / (heights.len() - 1).max(1) as f64;
            let y = TOP + HEIGHT * (1.0 - height.clamp(0.0, 1.0));
            let _ = write!(d, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
        }
        d
    };
    let given = (!axes.given.is_empty()).then(|| view! { <path class="graph-given" d=path(&axes.given)></path> });
    let start = axes.start.map(|height| {
        let y = TOP + HEIGHT * (1.0 - height.clamp(0.0, 1.0));
        view! { <circle class="graph-start" cx=LEFT.to_string() cy=y.to_string() r="3"></circle> }
    });
    let curves = |class: &'static str, all: &[&[f64]]| {
        all.iter().map(|heights| view! { <path class=class d=path(heights)></path> }).collect_view()
    };
    let (guesses, truths) = (curves("graph-guess", guesses), curves("graph-truth", truths));
    let text = |x: f64, y: f64, anchor: &'static str, text: String| {
        view! { <text x=x.to_string() y=y.to_string() text-anchor=anchor>{text}</text> }
    };
    view! {
        <svg class="graph" role="img" aria-label=label.to_string() viewBox="0 0 340 166">
            <path class="graph-grid" d=grid></path>
            <path class="graph-axis" d=format!("M{LEFT} {TOP}v{HEIGHT}h{WIDTH}")></path>
            {guesses}{given}{truths}{start}
            {text(LEFT - 4.0, TOP + 8.0, "end", axes.low_high.1.clone())}
            {text(LEFT - 4.0, TOP + HEIGHT, "end", axes.low_high.0.clone())}
            {text(LEFT, TOP + HEIGHT + 12.0, "start", axes.ends.0.clone())}
            {text(LEFT + WIDTH, TOP + HEIGHT + 12.0, "end", axes.ends.1.clone())}
            {text(LEFT + WIDTH / 2.0, TOP + HEIGHT + 12.0, "middle", axes.along.clone())}
            {text(LEFT + WIDTH / 2.0, TOP + HEIGHT + 26.0, "middle", axes.upright.clone())}
        </svg>
    }
    .into_any()
}

fn table((heads, rows): &(Vec<String>, Vec<Vec<String>>)) -> AnyView {
    view! {
        <div class="paper-wide" tabindex="0" role="region" aria-label=t("Test sheet")>
            <table class="paper-logged">
                <caption>{t("Test sheet")}</caption>
                <thead><tr>{heads.iter().map(|head| view! { <th scope="col">{head.clone()}</th> }).collect_view()}</tr></thead>
                <tbody>{rows.iter().map(|row| view! { <tr>{row.iter().map(|cell| view! { <td>{cell.clone()}</td> }).collect_view()}</tr> }).collect_view()}</tbody>
            </table>
        </div>
    }
    .into_any()
}

/// `p_amb` as a symbol with its index.
fn symbol(name: &str) -> AnyView {
    let (letter, index) = match name {
        "vanes" => return t("vanes").into_any(),
        "fuel" => return t("fuel").into_any(),
        "air" => return t("air").into_any(),
        "torque" => return t("torque").into_any(),
        "n" => return view! { <i>"n"</i> }.into_any(),
        _ => match name.split_once('_') {
            Some(parts) => parts,
            None => name.split_at(1),
        },
    };
    view! { <i>{letter.to_string()}</i><sub>{index.to_string()}</sub> }.into_any()
}

fn formulas() -> AnyView {
    view! {
        {t("absolute pressure = gauge + barometer")}" · "
        {t("pressure ratio")}" = "<i>"p"</i><sub>"2"</sub>"/"<i>"p"</i><sub>"1"</sub>" · "
        {t("expansion ratio")}" = "<i>"p"</i><sub>"3"</sub>"/"<i>"p"</i><sub>"4"</sub>" · "
        {t("balance")}" = "<i>"p"</i><sub>"2"</sub>" − "<i>"p"</i><sub>"3"</sub>" · "
        {t("density")}" "<i>"ρ"</i>" = "<i>"p"</i>"/("<i>"R T"</i>"), "<i>"R"</i>" = 287 J/(kg K), "<i>"T"</i>" "{t("in kelvin")}" · "
        {t("power = torque × 2π × speed")}
    }
    .into_any()
}

/// The answers, for the instructor.
fn key(paper: &Printout) -> AnyView {
    let entries = paper.entries.iter().filter(|e| !e.sort.is_empty()).map(key_entry);
    view! {
        <section class="paper paper-key" data-lesson=paper.id.clone() aria-label=tf("Answer key: {id}", &[("id", &paper.id)])>
            {head_line(paper, t("Answer key"))}
            <p class="hint">{tf("Not for learners. Lesson {id}.", &[("id", &paper.id)])}
                {paper.bench.clone().map(|fragment| view! { " " <a href=browser::bench_address(&fragment)>{t("The bench at the start")}</a> })}</p>
            {entries.collect_view()}
        </section>
    }
    .into_any()
}

/// A question with its answer and every wrong turn.
pub fn key_entry(entry: &Entry) -> AnyView {
    let wrong = entry.wrong.iter().map(|(what, why)| {
        view! { <tr><th scope="row">{what.clone()}</th><td>{say(why)}</td></tr> }
    });
    let hints = entry.hints.iter().map(|hint| view! { <li>{say(hint)}</li> });
    view! {
        <div class="paper-entry" data-key=entry.id.clone()>
            <h3>{labels::kind(entry.kind)}" "<span class="hint">{entry.id.clone()}</span></h3>
            {say(&entry.text)}
            {entry.fault.clone().map(|fault| view! { <p class="caution">{tf("Cannot be worked out: {why}.", &[("why", &fault)])}</p> })}
            {(!entry.options.is_empty()).then(|| view! { <ul class="list">{entry.options.iter().map(|o| view! { <li>{say_line(o)}</li> }).collect_view()}</ul> })}
            {(!entry.answer.is_empty()).then(|| view! { <p><b>{t("Answer")}": "</b><b class="num">{entry.answer.clone()}</b>" "{entry.tolerance.clone()}</p> })}
            {entry.axes.as_ref().map(|axes| graph(axes, true))}
            {(!entry.worked.is_empty()).then(|| view! { <div class="paper-worked">{say(&entry.worked)}</div> })}
            {(!entry.wrong.is_empty()).then(|| view! {
                <table class="paper-wrongs"><thead><tr><th scope="col">{t("wrong")}</th><th scope="col">{t("what is behind it")}</th></tr></thead>
                    <tbody>{wrong.collect_view()}</tbody></table>
            })}
            {(!entry.hints.is_empty()).then(|| view! { <p class="hint">{t("Hints")}</p><ul class="list">{hints.collect_view()}</ul> })}
            {entry.table.as_ref().map(table)}
            {entry.bench.clone().map(|fragment| view! { <p class="hint"><a href=browser::bench_address(&fragment)>{t("This bench")}</a></p> })}
        </div>
    }
    .into_any()
}

/// The class, for the instructor.
fn plan(paper: &Printout) -> AnyView {
    let Some(notes) = &paper.teacher else {
        return view! { <section class="paper paper-plan">{head_line(paper, t("Class plan"))}<p>{t("This lesson has no plan.")}</p></section> }.into_any();
    };
    let mut begins = 0;
    let steps = notes.plan.iter().map(|(minutes, act)| {
        let from = begins;
        begins += minutes;
        view! { <tr><th scope="row">{format!("{from}–{begins}")}</th><td>{say_line(act)}</td></tr> }
    });
    let prompts = notes.prompts.iter().map(|prompt| view! { <li>{say_line(prompt)}</li> });
    view! {
        <section class="paper paper-plan" data-lesson=paper.id.clone() aria-label=tf("Class plan: {id}", &[("id", &paper.id)])>
            {head_line(paper, t("Class plan"))}
            <table class="paper-wrongs"><thead><tr><th scope="col">{t("minute")}</th><th scope="col">{t("what is done")}</th></tr></thead><tbody>{steps.collect_view()}</tbody></table>
            <h3>{t("For the discussion")}</h3>
            <ul class="list">{prompts.collect_view()}</ul>
            <h3>{t("What the results show")}</h3>
            {say(&notes.sees)}
        </section>
    }
    .into_any()
}
