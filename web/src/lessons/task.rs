//! Bring the bench to a state: judged each time the bench has settled, with every wrong turn explained.

use super::block::{draw, hints, percent, waiting};
use super::marks::marked_words;
use super::session::{self, Session, bench_settings, lesson_bench};
use super::stints;
use super::study::Study;
use crate::language::{t, t_any, tf, tn};
use crate::view;
use leptos::prelude::*;
use std::collections::VecDeque;
use std::sync::Arc;
use volute_core::point::reading::Reading;
use volute_lessons::bench::Bench;
use volute_lessons::lesson::{Layout, Task};
use volute_lessons::mark::{self, Standing, TaskMark};
use volute_lessons::work::{Visited, Worked};

/// What is said of a task.
#[derive(Debug, Clone, PartialEq)]
enum Said {
    Nothing,
    Done,
    /// Index of the misconception, and what its explanation sees.
    Wrong(usize, Arc<Seen>),
    NotYet,
    NoPoint,
    /// An example is being shown, and is not judged.
    Example {
        /// Whether its last state stands.
        over: bool,
    },
    Fault(String),
}

/// What an explanation sees: the states of the task with sweeps and runs of the bench, and the bench.
#[derive(Debug, PartialEq)]
struct Seen {
    worked: Worked,
    reading: Reading,
    visited: Visited,
}

/// Whether a task has a bench or a layout of its own, which its button sets.
fn has_stage(task: &Task) -> bool {
    task.bench != "start" || task.layout != Layout::default() || task.buy.is_some()
}

/// The task.
#[component]
pub fn TaskView(study: Study, session: Session, task: &'static Task) -> impl IntoView {
    let lesson = session.lesson;
    let id = task.id.as_str();
    let drawn = {
        let worked = session.worked.clone();
        draw(move |solver| task.work_out(lesson, &worked, solver))
    };
    let done = view::memo(move || study.progress.with(|p| p.is_task_done(id)));
    let own_stage = has_stage(task);
    let on = view::memo(move || !own_stage || study.active.with(|a| a.as_deref() == Some(id)));
    let said = RwSignal::new(Said::Nothing);
    let visited = StoredValue::new(Visited::default());
    let begun_at = StoredValue::new(study.run.with_untracked(|r| r.bench.clone()));
    let example = StoredValue::new(None::<VecDeque<Bench>>);
    let ticket = StoredValue::new(0_u32);

    let judge = move || {
        let Some(Ok(set)) = drawn.get_untracked() else { return };
        let (bench, reading) = study.run.with_untracked(|r| (r.bench.clone(), r.answer().cloned()));
        let (Some(reading), Some(set_as)) = (reading, lesson_bench(&bench)) else {
            said.set(Said::NoPoint);
            return;
        };
        visited.update_value(|v| v.push(&reading));
        if !begun_at.with_value(|begun| session::moved(begun, &bench)) {
            return;
        }
        let mine = ticket.with_value(|n| n.wrapping_add(1));
        ticket.set_value(mine);
        let states = visited.get_value();
        let job = move |solver: &mut dyn volute_lessons::bench::Solve| {
            let stands = Standing { bench: &set_as, reading: &reading, visited: &states };
            Ok(match set.judge(&stands, solver)? {
                TaskMark::Done(_) => Said::Done,
                TaskMark::Misconception { index, .. } => {
                    let worked = set.live(&set_as, solver)?;
                    Said::Wrong(index, Arc::new(Seen { worked, reading: reading.clone(), visited: states.clone() }))
                }
                TaskMark::NotYet => Said::NotYet,
                TaskMark::NoNumbers(_) => Said::NoPoint,
            })
        };
        stints::work_out(
            move || ticket.try_get_value() == Some(mine),
            job,
            move |result: Result<Said, volute_lessons::work::WorkError>| {
                let now = result.unwrap_or_else(|e| Said::Fault(e.to_string()));
                match now {
                    Said::Done => study.progress.update(|p| p.task_done(id)),
                    Said::Wrong(index, _) => study.progress.update(|p| p.task_missed(id, index)),
                    _ => {}
                }
                said.set(now);
            },
        );
    };
    let mut heard = study.settled.get_untracked();
    view::effect(move || {
        let tick = study.settled.get();
        let settled = std::mem::replace(&mut heard, tick) != tick;
        let ready = drawn.with(|d| matches!(d, Some(Ok(_))));
        if !ready || done.get_untracked() || !on.get() {
            return;
        }
        if example.with_value(Option::is_none) {
            judge();
            return;
        }
        // The next state of an example follows when the one before has come to rest.
        match example.try_update_value(|queue| queue.as_mut().filter(|_| settled).map(VecDeque::pop_front)).flatten() {
            None => {}
            Some(Some(bench)) => study.set_bench(Some(&bench)),
            Some(None) => said.set(Said::Example { over: true }),
        }
    });
    let begin = move || {
        example.set_value(None);
        ticket.update_value(|n| *n = n.wrapping_add(1));
        visited.set_value(Visited::default());
        said.set(Said::Nothing);
        drawn.with_untracked(|d| {
            if let Some(Ok(set)) = d {
                if let Some(Ok(start)) = set.start().map(bench_settings) {
                    begun_at.set_value(start);
                }
                study.begin(id, &task.layout);
                study.set_bench(set.start());
            }
        });
    };
    let show_me = move |_| {
        let benches = drawn.with_untracked(|d| d.as_ref()?.as_ref().ok()?.answer().ok());
        let Some(mut benches) = benches.map(VecDeque::from) else { return };
        ticket.update_value(|n| *n = n.wrapping_add(1));
        said.set(Said::Example { over: false });
        if own_stage {
            study.begin(id, &task.layout);
        }
        let first = benches.pop_front();
        example.set_value(Some(benches));
        study.set_bench(first.as_ref());
    };
    let ready = view::memo(move || drawn.with(|d| matches!(d, Some(Ok(_)))));
    let with_set = move |look: &dyn Fn(&mark::Set<'static>) -> AnyView| {
        drawn.with(|d| match d {
            Some(Ok(set)) => look(set),
            _ => ().into_any(),
        })
    };
    let done_prose = move || {
        with_set(&|set| {
            let reading = study.run.with_untracked(|r| r.reading().cloned());
            match &reading {
                Some(reading) => study.prose_in(&task.done, &set.worked.env_with(reading)),
                None => study.prose_in(&task.done, &set.env()),
            }
        })
    };
    let reply = move || {
        if done.get() {
            return done_prose();
        }
        match said.get() {
            Said::Nothing | Said::Done => ().into_any(),
            Said::Wrong(i, seen) => {
                let env = volute_lessons::expr::Env { visited: seen.visited.readings(), ..seen.worked.env_with(&seen.reading) };
                let wrong = task.misconceptions.get(i);
                let says = wrong.map(|wrong| study.prose_in(&wrong.because, &env));
                // Only where the file names a state of its own: the bench stands at what is wrong already.
                let show = wrong.and_then(|w| w.show.as_ref()).and_then(|_| drawn.with_untracked(|d| d.as_ref()?.as_ref().ok()?.show(i).cloned()));
                view! {
                    <div data-misconception=i.to_string()>{says}</div>
                    {show.map(|bench| view! {
                        <p class="row2"><button type="button" data-show=id on:click=move |_| study.set_bench(Some(&bench))>{t("Show it on the bench")}</button></p>
                    })}
                }.into_any()
            }
            Said::NotYet => view! { <p>{t("Not there yet.")}</p> }.into_any(),
            Said::NoPoint => view! { <p>{t("No point holds here, so there is nothing to judge.")}</p> }.into_any(),
            Said::Example { over: false } => view! { <p>{t("The bench is being set.")}</p> }.into_any(),
            Said::Example { over: true } => view! { <p data-example="">{t("This is one way to do it. Look at what changed, set the bench back and do it yourself: an example does not count.")}</p> }.into_any(),
            Said::Fault(reason) => view! { <p class="caution">{reason}</p> }.into_any(),
        }
    };
    let spoken = move || {
        if done.get() {
            return t("Done.").to_string();
        }
        match said.get() {
            Said::Nothing | Said::Done | Said::Example { over: false } => String::new(),
            Said::Wrong(..) => t("Not there yet. The reason stands in the lesson.").into(),
            Said::NotYet => t("Not there yet.").into(),
            Said::NoPoint => t("No point holds here, so there is nothing to judge.").into(),
            Said::Example { over: true } => t("The example stands on the bench.").into(),
            Said::Fault(reason) => reason,
        }
    };
    let worked =
        move || drawn.with(|d| d.as_ref().and_then(|d| d.as_ref().ok()).map(|set| Arc::new(set.worked.clone())));
    view! {
        <section class="ask" data-task=id data-ready=view::text(move || ready.get().to_string()) data-done=view::text(move || done.get().to_string())
            data-on=view::text(move || on.get().to_string()) aria-label=t("Task on the bench")>
            <h3>{view::text(move || if done.get() { t("On the bench: done ✓") } else { t("On the bench") })}</h3>
            {view::part(move || drawn.with(waiting))}
            {view::part(move || with_set(&|set| study.prose_in(&task.ask, &set.env())))}
            {view::part(move || (own_stage && on.get() && !done.get() && !task.layout.mark.is_empty()).then(|| view! {
                <p class="hint">{tf("Marked on the bench: {what}.", &[("what", &marked_words(&task.layout.mark))])}</p>
            }))}
            {view::part(move || (ready.get() && !done.get()).then(|| view! {
                <p class="row2">
                    {view::part(move || if own_stage && !on.get() {
                        view! { <button type="button" class="strong" data-begin=id on:click=move |_| begin()>{t("Set the bench and begin")}</button> }.into_any()
                    } else {
                        view! { <button type="button" data-begin=id on:click=move |_| begin()>{t("Back to the beginning")}</button> }.into_any()
                    })}
                    <button type="button" class="link" data-example-of=id on:click=show_me>{t("show me first")}</button>
                </p>
            }))}
            {task.buy.as_ref().map(|buy| view! { <Purchases study task id count=buy.count on done/> })}
            <p class="sr" role="status">{view::text(spoken)}</p>
            <div class="ask-feedback">{view::part(reply)}</div>
            {view::part(move || done.get().then(|| {
                let points = study.progress.with(|p| p.task(id).points);
                (points < 1.0).then(|| view! { <p class="hint">{tf("{points} of the points, after the hints that you took.", &[("points", &percent(points))])}</p> })
            }))}
            {view::part(move || (task.confidence && done.get()).then(|| view! { <Confidence study id/> }))}
            {hints(study, id, &task.hints, done.into(), worked)}
        </section>
    }
}

/// Readings that can be uncovered.
#[component]
fn Purchases(
    study: Study,
    task: &'static Task,
    id: &'static str,
    count: u32,
    on: Memo<bool>,
    done: Memo<bool>,
) -> impl IntoView {
    let bought =
        view::memo(move || study.progress.with(|p| p.task(id).bought.iter().map(|q| q.key).collect::<Vec<_>>()));
    let left = move || (count as usize).saturating_sub(bought.with(Vec::len));
    let from = task.buy.as_ref().map_or(&[][..], |buy| &buy.from);
    view! {
        <fieldset class="task-purchases" disabled=view::flag(move || !on.get() || done.get())>
            <legend>{view::text(move || tn("You may uncover one more reading", "You may uncover {n} more readings", left(), &[]))}</legend>
            {from.iter().map(|quantity| {
                let quantity: &'static volute_lessons::paths::Quantity = quantity;
                let has = move || bought.with(|b| b.contains(&quantity.key));
                view! {
                    <button type="button" data-buy=quantity.key aria-pressed=view::text(move || has().to_string())
                        disabled=view::flag(move || has() || left() == 0)
                        on:click=move |_| study.progress.update(|p| { p.buy(task, quantity); })>{t_any(quantity.about())}</button>
                }
            }).collect_view()}
        </fieldset>
    }
}

/// How sure the learner is: kept, not scored.
#[component]
fn Confidence(study: Study, id: &'static str) -> impl IntoView {
    let kept = view::memo(move || study.progress.with(|p| p.task(id).confidence));
    let sure = RwSignal::new(kept.get_untracked().unwrap_or(75));
    let text = move || format!("{} %", sure.get());
    view! {
        <div class="task-confidence">
            <label for=format!("{id}-sure")>{t("How sure are you that this is the best? Kept, not scored.")}</label>
            <output for=format!("{id}-sure")>{view::text(text)}</output>
            <input type="range" id=format!("{id}-sure") min="50" max="100" step="5" prop:value=view::text(move || sure.get().to_string())
                aria-valuetext=view::text(text) on:input=move |e| if let Ok(v) = event_target_value(&e).parse() { sure.set(v) }/>
            <p class="row2">
                <button type="button" data-sure=id on:click=move |_| study.progress.update(|p| p.sure(id, sure.get_untracked()))>{t("Keep")}</button>
                <span class="hint" role="status">{view::text(move || kept.get().map(|k| tf("Kept: {percent} %.", &[("percent", &k.to_string())])).unwrap_or_default())}</span>
            </p>
        </div>
    }
}
