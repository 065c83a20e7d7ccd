//! A task: the learner brings the bench to a state. It is judged each time the bench has settled, and every wrong turn is
//! explained.

use super::block::{Drawn, draw, hints, percent, show_button, waiting};
use super::marks::marked_words;
use super::session::{self, Session, bench_settings, lesson_bench};
use super::stints;
use super::study::Study;
use crate::language::{t, t_any, tf, tn};
use crate::state::BenchSettings;
use crate::view::{self, Newest};
use leptos::prelude::*;
use std::collections::VecDeque;
use std::sync::Arc;
use volute_core::point::reading::Reading;
use volute_lessons::bench::{Bench, Solve};
use volute_lessons::expr::Env;
use volute_lessons::lesson::{Layout, Task};
use volute_lessons::mark::{self, Standing, TaskMark};
use volute_lessons::work::{Visited, WorkError, Worked};

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

/// Whether a task has a bench or a layout of its own.
fn has_stage(task: &Task) -> bool {
    task.bench != "start" || task.layout != Layout::default() || task.buy.is_some()
}

/// A task on the bench: how far it is, and what is said of it.
#[derive(Clone, Copy)]
struct Trial {
    study: Study,
    task: &'static Task,
    id: &'static str,
    drawn: Drawn<mark::Set<'static>>,
    done: Memo<bool>,
    /// Whether the task has a bench or a layout of its own, which its button sets.
    own_stage: bool,
    /// Whether the bench is at this task.
    on: Memo<bool>,
    said: RwSignal<Said>,
    visited: StoredValue<Visited>,
    begun_at: StoredValue<BenchSettings>,
    /// What is still to be shown of an example; nothing while none is being shown.
    example: StoredValue<Option<VecDeque<Bench>>>,
    judgements: Newest,
}

impl Trial {
    fn new(study: Study, session: &Session, task: &'static Task) -> Self {
        let (lesson, worked, id) = (session.lesson, session.worked.clone(), task.id.as_str());
        let own_stage = has_stage(task);
        Self {
            study,
            task,
            id,
            drawn: draw(move |solver| task.work_out(lesson, &worked, solver)),
            done: view::memo(move || study.progress.with(|p| p.is_task_done(id))),
            own_stage,
            on: view::memo(move || !own_stage || study.active.with(|a| a.as_deref() == Some(id))),
            said: RwSignal::new(Said::Nothing),
            visited: StoredValue::new(Visited::default()),
            begun_at: StoredValue::new(study.run.with_untracked(|r| r.bench.clone())),
            example: StoredValue::new(None),
            judgements: Newest::new(),
        }
    }

    /// What there is to see once the task is worked out; nothing before.
    fn with_set<T>(self, look: impl FnOnce(&mark::Set<'static>) -> T) -> Option<T> {
        self.drawn.with(|d| d.as_ref()?.as_ref().ok().map(|set| look(set)))
    }

    /// Judges the bench as it stands.
    fn judge(self) {
        let Some(Ok(set)) = self.drawn.get_untracked() else { return };
        let (bench, reading) = self.study.run.with_untracked(|r| (r.bench.clone(), r.answer().cloned()));
        let (Some(reading), Some(set_as)) = (reading, lesson_bench(&bench)) else {
            self.said.set(Said::NoPoint);
            return;
        };
        self.visited.update_value(|v| v.push(&reading));
        if !self.begun_at.with_value(|begun| session::moved(begun, &bench)) {
            return;
        }
        let (request, states) = (self.judgements.request(), self.visited.get_value());
        let job = move |solver: &mut dyn Solve| {
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
        let judged = move |result: Result<Said, WorkError>| {
            let now = result.unwrap_or_else(|e| Said::Fault(e.to_string()));
            match now {
                Said::Done => self.study.progress.update(|p| p.task_done(self.id)),
                Said::Wrong(index, _) => self.study.progress.update(|p| p.task_missed(self.id, index)),
                _ => {}
            }
            self.said.set(now);
        };
        stints::work_out(move || request.stands(), job, judged);
    }

    /// Judges each time the bench has settled, or goes on with the example that is being shown.
    fn follow(self) {
        let mut heard = self.study.settled.get_untracked();
        view::effect(move || {
            let tick = self.study.settled.get();
            let settled = std::mem::replace(&mut heard, tick) != tick;
            let ready = self.with_set(|_| ()).is_some();
            if !ready || self.done.get_untracked() || !self.on.get() {
                return;
            }
            if self.example.with_value(Option::is_none) {
                return self.judge();
            }
            // The next state of an example follows when the one before has come to rest.
            let next =
                |queue: &mut Option<VecDeque<Bench>>| queue.as_mut().filter(|_| settled).map(VecDeque::pop_front);
            match self.example.try_update_value(next).flatten() {
                None => {}
                Some(Some(bench)) => self.study.set_bench(Some(&bench)),
                Some(None) => self.said.set(Said::Example { over: true }),
            }
        });
    }

    /// Sets the bench as the task begins.
    fn begin(self) {
        self.example.set_value(None);
        self.judgements.request();
        self.visited.set_value(Visited::default());
        self.said.set(Said::Nothing);
        if let Some(Ok(set)) = self.drawn.get_untracked() {
            if let Some(Ok(start)) = set.start().map(bench_settings) {
                self.begun_at.set_value(start);
            }
            self.study.begin(self.id, &self.task.layout);
            self.study.set_bench(set.start());
        }
    }

    /// Shows one way to do it, state by state.
    fn show_example(self) {
        let Some(Ok(set)) = self.drawn.get_untracked() else { return };
        let Ok(benches) = set.answer() else { return };
        let mut benches = VecDeque::from(benches);
        self.judgements.request();
        self.said.set(Said::Example { over: false });
        if self.own_stage {
            self.study.begin(self.id, &self.task.layout);
        }
        let first = benches.pop_front();
        self.example.set_value(Some(benches));
        self.study.set_bench(first.as_ref());
    }

    /// What is said when the task is done.
    fn done_prose(self) -> Option<AnyView> {
        let reading = self.study.run.with_untracked(|r| r.reading().cloned());
        self.with_set(|set| match &reading {
            Some(reading) => self.study.prose_in(&self.task.done, &set.worked.env_with(reading)),
            None => self.study.prose_in(&self.task.done, &set.env()),
        })
    }

    /// Why the bench is not where it should be.
    fn explanation(self, i: usize, seen: &Seen) -> AnyView {
        let Self { study, id, .. } = self;
        let env = Env { visited: seen.visited.readings(), ..seen.worked.env_with(&seen.reading) };
        let wrong = self.task.misconceptions.get(i);
        let says = wrong.map(|wrong| study.prose_in(&wrong.because, &env));
        // Only where the file names a state of its own: the bench stands at what is wrong already.
        let named = wrong.is_some_and(|wrong| wrong.show.is_some());
        let show = self.drawn.get_untracked().filter(|_| named).and_then(|d| d.ok()?.show(i).cloned());
        view! {
            <div data-misconception=i.to_string()>{says}</div>
            {show.map(|bench| show_button(study, id, bench))}
        }
        .into_any()
    }

    /// What is said of the task, to be read.
    fn reply(self) -> AnyView {
        if self.done.get() {
            return self.done_prose().into_any();
        }
        match self.said.get() {
            Said::Nothing | Said::Done => ().into_any(),
            Said::Wrong(i, seen) => self.explanation(i, &seen),
            Said::NotYet => view! { <p>{t("Not there yet.")}</p> }.into_any(),
            Said::NoPoint => view! { <p>{t("No point holds here, so there is nothing to judge.")}</p> }.into_any(),
            Said::Example { over: false } => view! { <p>{t("The bench is being set.")}</p> }.into_any(),
            Said::Example { over: true } => view! { <p data-example="">{t("This is one way to do it. Look at what changed, set the bench back and do it yourself: an example does not count.")}</p> }.into_any(),
            Said::Fault(reason) => view! { <p class="caution">{reason}</p> }.into_any(),
        }
    }

    /// The same in a line, for a screen reader.
    fn spoken(self) -> String {
        if self.done.get() {
            return t("Done.").into();
        }
        match self.said.get() {
            Said::Nothing | Said::Done | Said::Example { over: false } => String::new(),
            Said::Wrong(..) => t("Not there yet. The reason stands in the lesson.").into(),
            Said::NotYet => t("Not there yet.").into(),
            Said::NoPoint => t("No point holds here, so there is nothing to judge.").into(),
            Said::Example { over: true } => t("The example stands on the bench.").into(),
            Said::Fault(reason) => reason,
        }
    }
}

/// The task.
#[component]
pub fn TaskView(study: Study, session: Session, task: &'static Task) -> impl IntoView {
    let trial = Trial::new(study, &session, task);
    let Trial { id, drawn, done, own_stage, on, .. } = trial;
    trial.follow();
    let ready = view::memo(move || trial.with_set(|_| ()).is_some());
    let worked = move || trial.with_set(|set| Arc::new(set.worked.clone()));
    view! {
        <section class="ask" data-task=id data-ready=view::text(move || ready.get().to_string()) data-done=view::text(move || done.get().to_string())
            data-on=view::text(move || on.get().to_string()) aria-label=t("Task on the bench")>
            <h3>{view::text(move || if done.get() { t("On the bench: done ✓") } else { t("On the bench") })}</h3>
            {view::part(move || drawn.with(waiting))}
            {view::part(move || trial.with_set(|set| study.prose_in(&task.ask, &set.env())))}
            {view::part(move || (own_stage && on.get() && !done.get() && !task.layout.mark.is_empty()).then(|| view! {
                <p class="hint">{tf("Marked on the bench: {what}.", &[("what", &marked_words(&task.layout.mark))])}</p>
            }))}
            {view::part(move || (ready.get() && !done.get()).then(|| view! {
                <p class="row2">
                    {view::part(move || if own_stage && !on.get() {
                        view! { <button type="button" class="strong" data-begin=id on:click=move |_| trial.begin()>{t("Set the bench and begin")}</button> }.into_any()
                    } else {
                        view! { <button type="button" data-begin=id on:click=move |_| trial.begin()>{t("Back to the beginning")}</button> }.into_any()
                    })}
                    <button type="button" class="link" data-example-of=id on:click=move |_| trial.show_example()>{t("show me first")}</button>
                </p>
            }))}
            {task.buy.as_ref().map(|buy| view! { <Purchases study task id count=buy.count on done/> })}
            <p class="sr" role="status">{view::text(move || trial.spoken())}</p>
            <div class="ask-feedback">{view::part(move || trial.reply())}</div>
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
