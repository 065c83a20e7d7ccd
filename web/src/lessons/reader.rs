//! The lesson sheet: the catalog, or one lesson with its predictions, tasks and checkpoints.

use super::prose::{blocks, line};
use super::session::{self, Session, bench_settings};
use crate::browser;
use crate::run::Run;
use crate::state::BenchSettings;
use crate::units::UnitSystem;
use crate::view;
use leptos::ev;
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::catalog;
use volute_lessons::expr::Env;
use volute_lessons::lesson::{
    Checkpoint, CheckpointKind, Choice, Lesson, Predict, Prediction, Reveal, Step, Task, Transfer,
};
use volute_lessons::mark::{Asked, NumberMark, TaskMark, ValueMark};
use volute_lessons::number;
use volute_lessons::paths::quantity;
use volute_lessons::progress::{Locked, Progress, TRIES};
use volute_lessons::text::Prose;
use volute_lessons::units::{self, Decimal, Measure};

/// What the reader needs from the page.
#[derive(Clone, Copy)]
pub struct Desk {
    /// The lesson that is open.
    pub session: Signal<Option<Session>>,
    /// How far the learner is.
    pub progress: RwSignal<Progress>,
    /// The bench as it stands.
    pub run: Signal<Arc<Run>>,
    /// Counts up each time the bench has settled: tasks are judged then, not while a slider moves.
    pub settled: Signal<u32>,
    /// Units of the page.
    pub units: Signal<UnitSystem>,
    /// Opens a lesson by its id.
    pub on_open: Callback<String>,
    /// Closes the sheet; the bench keeps its settings.
    pub on_close: Callback<()>,
    /// Sets the bench.
    pub on_bench: Callback<BenchSettings>,
}

impl Desk {
    fn style(&self) -> units::Style {
        session::style(self.units.get() == UnitSystem::Customary)
    }

    /// Prose with the lesson's own states.
    fn prose(&self, prose: &'static [Prose], session: &Session) -> AnyView {
        blocks(prose, &session.worked.env(), self.style(), self.on_open)
    }

    fn prose_with(&self, prose: &[Prose], env: &Env) -> AnyView {
        blocks(prose, env, self.style(), self.on_open)
    }
}

/// The sheet.
#[component]
pub fn LessonSheet(desk: Desk) -> impl IntoView {
    view! {
        <aside class="sheet lesson" id="lesson" aria-labelledby="l-h" tabindex="-1">
            {view::part(move || match desk.session.get() {
                None => view! { <Contents desk/> }.into_any(),
                Some(session) => view! { <Reader desk session/> }.into_any(),
            })}
        </aside>
    }
}

#[component]
fn Contents(desk: Desk) -> impl IntoView {
    let empty = Env::EMPTY;
    view! {
        <div class="lesson-head">
            <p class="crumb">"Each asks before it tells"</p>
            <p class="crumb"><button type="button" class="link" id="close-lesson" on:click=move |_| desk.on_close.run(())>"close"</button></p>
        </div>
        <h2 id="l-h">"Lessons"</h2>
        <ol class="contents">
            {catalog().lessons.iter().map(|lesson| {
                let id = lesson.id.clone();
                view! {
                    <li>
                        <h3>{line(&lesson.title, &empty, desk.style(), desk.on_open)}</h3>
                        <p class="read">{line(&lesson.teaches, &empty, desk.style(), desk.on_open)}</p>
                        <p class="row2">
                            <button type="button" class="strong" data-open=id.clone() on:click=move |_| desk.on_open.run(id.clone())>"Open"</button>
                            <span class="hint">{format!("about {} minutes", lesson.minutes)}</span>
                        </p>
                    </li>
                }
            }).collect_view()}
        </ol>
    }
}

#[component]
fn Reader(desk: Desk, session: Session) -> impl IntoView {
    let lesson = session.lesson;
    let place = catalog().lessons.iter().position(|l| l.id == lesson.id).map_or(0, |i| i + 1);
    let crumb = format!("Lesson {place} of {} · variant {}", catalog().lessons.len(), session.worked.seed.0);
    let shown = Memo::new(move |_| desk.progress.with(|p| session::steps(p, lesson).len()));
    let stages = Memo::new(move |_| desk.progress.with(|p| session::stages(p, lesson)));
    let here = move || stages.with(|s| s.iter().position(|(_, done)| !done));
    let complete = move || desk.progress.with(|p| p.complete(lesson));
    let title = {
        let session = session.clone();
        move || line(&lesson.title, &session.worked.env(), desk.style(), desk.on_open)
    };
    view! {
        <div class="lesson-head">
            <p class="crumb">{crumb}</p>
            <p class="crumb"><button type="button" class="link" id="close-lesson" on:click=move |_| desk.on_close.run(())>"close, keep settings"</button></p>
        </div>
        <h2 id="l-h">{view::part(title)}</h2>
        <ol class="steps" aria-label="Parts of this lesson">
            {view::part(move || stages.get().into_iter().enumerate().map(|(i, (name, done))| view! {
                <li class:done=done class:here=view::flag(move || here() == Some(i)) aria-current=view::text(move || if here() == Some(i) { "step" } else { "false" })>
                    {done.then(|| view! { <span class="sr">"done: "</span> })}{name}
                </li>
            }).collect_view())}
        </ol>
        // A step is put on the page when it may be seen, and stays as it is while later ones follow.
        <For each=move || 0..shown.get() key=|i| *i let:i>
            {step(desk, &session, &lesson.steps[i])}
        </For>
        {view::part(move || complete().then(|| view! {
            <p class="reply" role="status">
                {desk.progress.with(|p| format!("Everything in this lesson was tried. Points: {} %.", crate::units::number(100.0 * p.score(lesson), 0)))}
            </p>
        }))}
    }
}

fn step(desk: Desk, session: &Session, step: &'static Step) -> AnyView {
    let session = session.clone();
    match step {
        Step::Prose(prose) => view! { <div class="read">{view::part(move || desk.prose(prose, &session))}</div> }.into_any(),
        Step::Safety(prose) => {
            view! { <div class="read safety" role="note" aria-label="Safety">{view::part(move || desk.prose(prose, &session))}</div> }.into_any()
        }
        Step::Predict(predict) => view! { <PredictView desk session predict/> }.into_any(),
        Step::Task(task) => view! { <TaskView desk session task/> }.into_any(),
        Step::Checkpoint(checkpoint) => view! { <CheckpointView desk session checkpoint/> }.into_any(),
        Step::Stage(_) | Step::Log(_) => ().into_any(),
        Step::Reveal(reveal) => view! { <RevealView desk session reveal/> }.into_any(),
        Step::Transfer(transfer) => view! { <TransferView desk session transfer/> }.into_any(),
    }
}

/// Radio buttons for options; `chosen` keeps the index.
fn options(
    desk: Desk,
    session: &Session,
    name: String,
    choices: &'static [Choice],
    chosen: RwSignal<Option<usize>>,
    locked: Signal<bool>,
) -> impl IntoView + use<> {
    choices
        .iter()
        .enumerate()
        .map(|(i, choice)| {
            let (name, session) = (name.clone(), session.clone());
            view! {
                <label class="opt" class:mine=view::flag(move || locked.get() && chosen.get() == Some(i))>
                    <input type="radio" name=name value=i.to_string() disabled=locked
                        prop:checked=view::flag(move || chosen.get() == Some(i))
                        on:change=move |_| chosen.set(Some(i))/>
                    <span>{view::part(move || line(&choice.text, &session.worked.env(), desk.style(), desk.on_open))}</span>
                </label>
            }
        })
        .collect_view()
}

#[component]
fn PredictView(desk: Desk, session: Session, predict: &'static Predict) -> impl IntoView {
    let before = desk.progress.with_untracked(|p| p.locked(&predict.id).cloned());
    let chosen = RwSignal::new(match &before {
        Some(Locked::Choice(i)) => Some(*i),
        _ => None,
    });
    let words = NodeRef::<html::Textarea>::new();
    let (fault, set_fault) = signal(None::<String>);
    let locked = Memo::new(move |_| desk.progress.with(|p| p.locked(&predict.id).is_some()));
    let lock = move |event: ev::SubmitEvent| {
        event.prevent_default();
        let answer = match &predict.answer {
            // No choice made is an option that does not exist: the lessons crate has the words for that.
            Prediction::Choice(_) => Locked::Choice(chosen.get_untracked().unwrap_or(usize::MAX)),
            Prediction::Short => Locked::Words(words.get_untracked().map(|w| w.value()).unwrap_or_default()),
            // No lesson of this build has these yet.
            Prediction::Sketch(_) | Prediction::Order(_) | Prediction::Number(_) => return,
        };
        let mut result = Ok(());
        desk.progress.update(|p| result = p.lock(predict, answer));
        if result.is_ok() {
            // The button that had the focus is gone: on to what the bench says.
            browser::after(0, || browser::focus(&format!("{}-reply", predict.id)));
        }
        set_fault.set(result.err().map(|e| format!("{e}.")));
    };
    let ask = {
        let session = session.clone();
        move || desk.prose(&predict.ask, &session)
    };
    let answers = match &predict.answer {
        Prediction::Choice(choices) => {
            options(desk, &session, predict.id.clone(), choices, chosen, locked.into()).into_any()
        }
        Prediction::Short => {
            view! { <textarea node_ref=words rows="3" aria-label="Your prediction" disabled=locked></textarea> }
                .into_any()
        }
        Prediction::Sketch(_) | Prediction::Order(_) | Prediction::Number(_) => ().into_any(),
    };
    // The explanation of the own answer comes with the reveal, in its place under the prediction.
    let because = move || {
        let Some(Locked::Choice(mine)) = desk.progress.with(|p| p.locked(&predict.id).cloned()) else { return None };
        let Prediction::Choice(choices) = &predict.answer else { return None };
        let right = predict.right(&session.worked).ok().flatten();
        let word = if right == Some(mine) { "The bench agrees. " } else { "The bench says otherwise. " };
        Some(
            view! { <div class="reply" tabindex="-1" id=format!("{}-reply", predict.id) data-right=(right == Some(mine)).to_string()><p><b>{word}</b></p>{desk.prose(&choices[mine].because, &session)}</div> },
        )
    };
    view! {
        <form novalidate on:submit=lock>
            <fieldset class="ask" data-predict=predict.id.clone() class:locked=locked>
                <legend>{view::text(move || if locked.get() { "Your prediction, locked" } else { "Predict first" })}</legend>
                {view::part(ask)}
                {answers}
                {view::part(move || (!locked.get()).then(|| view! {
                    <p class="row2"><button type="submit" class="strong" data-lock=predict.id.clone()>"Lock my prediction"</button></p>
                }))}
                <p class="feedback" role="status">{view::text(move || fault.get().unwrap_or_default())}</p>
            </fieldset>
        </form>
        {view::part(because)}
    }
}

#[component]
fn TaskView(desk: Desk, session: Session, task: &'static Task) -> impl IntoView {
    let done = Memo::new(move |_| desk.progress.with(|p| p.is_task_done(&task.id)));
    let begun_at = desk.run.with_untracked(|r| r.bench.clone());
    let (hint, set_hint) = signal(false);
    let start = session.start().ok();
    // What is said of the bench as it stands: nothing until it has been moved and has come to rest.
    let said = Memo::new({
        let session = session.clone();
        move |before: Option<&Said>| {
            desk.settled.get();
            if done.get_untracked() {
                return before.cloned().unwrap_or(Said::Done);
            }
            desk.run.with_untracked(|run| {
                let Some(reading) = run.reading().filter(|_| run.holds) else { return Said::NoPoint };
                if !session::moved(&begun_at, &run.bench) {
                    return Said::Nothing;
                }
                match task.judge(&session.worked, reading) {
                    Ok(TaskMark::Done(_)) => Said::Done,
                    Ok(TaskMark::Misconception { index, .. }) => Said::Wrong(index, Box::new(reading.clone())),
                    Ok(TaskMark::NotYet) => Said::NotYet,
                    Ok(TaskMark::NoNumbers(_)) => Said::NoPoint,
                    Err(e) => Said::Fault(e.to_string()),
                }
            })
        }
    });
    view::effect(move || {
        if said.with(|s| *s == Said::Done) && !done.get_untracked() {
            desk.progress.update(|p| p.task_done(&task.id));
        }
    });
    let show_me = {
        let session = session.clone();
        move |_| {
            let bench = session
                .worked
                .benches
                .get("start")
                .and_then(|b| b.changed(&task.answer.set, &session.worked.seeds).ok());
            if let Some(Ok(next)) = bench.as_ref().map(bench_settings) {
                desk.on_bench.run(next);
            }
        }
    };
    let back_to_start = move |_| start.clone().into_iter().for_each(|s| desk.on_bench.run(s));
    let (ask, hint_text, reply) = (session.clone(), session.clone(), session);
    view! {
        <section class="ask" data-task=task.id.clone() data-done=view::text(move || done.get().to_string()) aria-label="Task on the bench">
            <h3>{view::text(move || if done.get() { "On the bench: done ✓" } else { "On the bench" })}</h3>
            {view::part(move || desk.prose(&task.ask, &ask))}
            <div class="feedback" role="status">
                {view::part(move || match said.get() {
                    Said::Nothing => ().into_any(),
                    Said::Done => desk.prose(&task.done, &reply),
                    Said::Wrong(i, reading) => desk.prose_with(&task.misconceptions[i].because, &reply.worked.env_with(&reading)),
                    Said::NotYet => view! { <p>"Not there yet."</p> }.into_any(),
                    Said::NoPoint => view! { <p>"No point holds here, so there is nothing to judge."</p> }.into_any(),
                    Said::Fault(reason) => view! { <p class="caution">{reason}</p> }.into_any(),
                })}
            </div>
            {view::part(move || hint.get().then(|| view! { <div class="hint-text">{desk.prose(task.hints.first().map_or(&[], Vec::as_slice), &hint_text)}</div> }))}
            {view::part(move || (!done.get()).then(|| view! {
                <p class="row2">
                    <button type="button" class="link" on:click=move |_| set_hint.update(|h| *h = !*h)>"hint"</button>
                    <button type="button" class="link" on:click=show_me.clone()>"show me"</button>
                    <button type="button" class="link" on:click=back_to_start.clone()>"bench back to the start"</button>
                </p>
            }))}
        </section>
    }
}

/// What is said of a task.
#[derive(Debug, Clone, PartialEq)]
enum Said {
    Nothing,
    Done,
    /// Index of the misconception, and the bench that showed it.
    Wrong(usize, Box<volute_core::reading::Reading>),
    NotYet,
    NoPoint,
    Fault(String),
}

/// A draw of a checkpoint that owns what it needs, and why there is none.
type Draw = Result<Arc<Asked<'static>>, String>;

#[component]
fn CheckpointView(desk: Desk, session: Session, checkpoint: &'static Checkpoint) -> impl IntoView {
    let draw_number = Memo::new(move |_| desk.progress.with(|p| p.tries(&checkpoint.id).draw));
    let drawn = {
        let (lesson, worked): (&'static Lesson, _) = (session.lesson, session.worked.clone());
        // Compared by its number: a draw is the same as long as that is.
        Signal::derive_local({
            let cache = StoredValue::new_local(None::<(u32, Draw)>);
            move || {
                let number = draw_number.get();
                if let Some((known, draw)) = cache.get_value()
                    && known == number
                {
                    return draw;
                }
                let mut solver = CoreSolver::default();
                let draw =
                    checkpoint.work_out(lesson, &worked, number, &mut solver).map(Arc::new).map_err(|e| e.to_string());
                cache.set_value(Some((number, draw.clone())));
                draw
            }
        })
    };
    let tries = Memo::new(move |_| desk.progress.with(|p| p.tries(&checkpoint.id)));
    let chosen = RwSignal::new(None::<usize>);
    let field = NodeRef::<html::Input>::new();
    let unit = RwSignal::new(String::new());
    let feedback = RwSignal::new_local(None::<Feedback>);
    let (hint, set_hint) = signal(false);
    let over = Memo::new(move |_| tries.get().over);

    let check = move |event: ev::SubmitEvent| {
        event.prevent_default();
        browser::after(0, move || {
            if over.try_get_untracked() == Some(true) {
                browser::focus(&format!("{}-said", checkpoint.id));
            }
        });
        let Ok(asked) = drawn.get_untracked() else { return };
        if over.get_untracked() {
            return;
        }
        match &checkpoint.kind {
            CheckpointKind::Choice(_) => {
                let Some(mark) =
                    chosen.get_untracked().and_then(|i| asked.mark_choice(i).map(|m| (i, m.right, m.points)))
                else {
                    feedback.set(Some(Feedback::AskBack("Choose one first.".into())));
                    return;
                };
                desk.progress.update(|p| {
                    p.tried(&checkpoint.id, mark.2, mark.1);
                });
                feedback.set(Some(Feedback::Choice { index: mark.0, right: mark.1 }));
            }
            CheckpointKind::Number(_) => {
                let typed = field.get_untracked().map(|f| f.value()).unwrap_or_default();
                let text = with_unit(&typed, &unit.get_untracked());
                match asked.mark_number(&text, Decimal::Point) {
                    Some(Ok(mark)) => {
                        let (right, points) = (mark.right, mark.points);
                        feedback.set(Some(Feedback::of(checkpoint, &mark)));
                        desk.progress.update(|p| {
                            p.tried(&checkpoint.id, points, right);
                        });
                    }
                    Some(Err(e)) => feedback.set(Some(Feedback::AskBack(format!("{e}.")))),
                    None => {}
                }
            }
            _ => {}
        }
    };
    let set_bench = move |_| {
        let Ok(asked) = drawn.get_untracked() else { return };
        let named = checkpoint.bench.as_ref().and_then(|name| asked.worked.benches.get(name));
        if let Some(Ok(next)) = named.map(bench_settings) {
            desk.on_bench.run(next);
        }
    };
    let again = move |_| {
        feedback.set(None);
        chosen.set(None);
        if let Some(field) = field.get_untracked() {
            field.set_value("");
        }
        desk.progress.update(|p| {
            p.draw_again(&checkpoint.id);
        });
    };
    let answer = match &checkpoint.kind {
        CheckpointKind::Choice(choices) => {
            options(desk, &session, checkpoint.id.clone(), choices, chosen, over.into()).into_any()
        }
        CheckpointKind::Number(question) => {
            let id = format!("{}-answer", checkpoint.id);
            let tolerance =
                move || drawn.get().ok().and_then(|a| a.tolerance_in_print(desk.style())).unwrap_or_default();
            let asks_back = move || feedback.with(|f| matches!(f, Some(Feedback::AskBack(_)))).to_string();
            view! {
                <div class="answer">
                    <label class="sr" for=id.clone()>"Your answer"</label>
                    <input class="num" type="text" id=id inputmode="decimal" autocomplete="off" node_ref=field disabled=over
                        aria-invalid=view::text(asks_back) aria-describedby=format!("{}-said", checkpoint.id)/>
                    <select aria-label="Unit of your answer" disabled=over on:change=move |e| unit.set(event_target_value(&e))>
                        {unit_choices(question.measure).into_iter().map(|(value, shown)| view! { <option value=value>{shown}</option> }).collect_view()}
                    </select>
                </div>
                <p class="hint">{view::text(tolerance)}". Comma or point both count."</p>
            }
            .into_any()
        }
        _ => ().into_any(),
    };
    let (hint_session, say_session) = (session.clone(), session);
    view! {
        <form class="ask" novalidate data-checkpoint=checkpoint.id.clone() data-right=view::text(move || (tries.get().best > 0.0 && over.get()).to_string()) on:submit=check>
            <h3>"Checkpoint"</h3>
            {view::part(move || match drawn.get() {
                Ok(asked) => desk.prose_with(&checkpoint.ask, &asked.env()),
                Err(e) => view! { <p class="caution">"This question could not be drawn: "{e}"."</p> }.into_any(),
            })}
            {answer}
            <p class="row2">
                {view::part(move || (!over.get()).then(|| view! { <button type="submit" class="strong">"Check"</button> }))}
                {checkpoint.bench.is_some().then(|| view! { <button type="button" on:click=set_bench>"Set the bench"</button> })}
                {view::part(move || (!over.get()).then(|| view! { <button type="button" class="link" on:click=move |_| set_hint.update(|h| *h = !*h)>"hint"</button> }))}
                {view::part(move || (over.get() && !checkpoint.setup.seeds.is_empty()).then(|| view! { <button type="button" on:click=again>"Again, with new numbers"</button> }))}
            </p>
            {view::part(move || hint.get().then(|| view! { <div class="hint-text">{
                match drawn.get() {
                    Ok(asked) => desk.prose_with(checkpoint.hints.first().map_or(&[], Vec::as_slice), &asked.env()),
                    Err(_) => desk.prose(checkpoint.hints.first().map_or(&[], Vec::as_slice), &hint_session),
                }
            }</div> }))}
            <div class="feedback" role="status" tabindex="-1" id=format!("{}-said", checkpoint.id)>
                {view::part(move || feedback.get().map(|f| match drawn.get() {
                    Ok(asked) => f.view(desk, checkpoint, &asked.env()),
                    Err(_) => f.view(desk, checkpoint, &say_session.worked.env()),
                }))}
                {view::part(move || (!over.get() && tries.get().used > 0).then(|| view! { <p class="hint">{format!("Try {} of {TRIES}.", tries.get().used + 1)}</p> }))}
                {view::part(move || over.get().then(|| drawn.get().ok()).flatten().map(|asked| view! { <div class="worked">{desk.prose_with(&checkpoint.worked, &asked.env())}</div> }))}
            </div>
        </form>
    }
}

/// What is said of an answer.
#[derive(Debug, Clone, PartialEq)]
enum Feedback {
    /// Not read: costs no try.
    AskBack(String),
    /// A choice, with its own explanation.
    Choice { index: usize, right: bool },
    /// A number: sentences, and the misconception that explains it.
    Number { right: bool, sentences: Vec<String>, misconception: Option<usize> },
}

impl Feedback {
    fn of(checkpoint: &Checkpoint, mark: &NumberMark) -> Self {
        let CheckpointKind::Number(question) = &checkpoint.kind else { return Feedback::AskBack(String::new()) };
        let misconception = match mark.value {
            ValueMark::Misconception { index, .. } => Some(index),
            _ => None,
        };
        let sentences = [mark.value_sentence(), mark.unit_sentence(question), mark.figures_sentence()];
        Feedback::Number { right: mark.right, sentences: sentences.into_iter().flatten().collect(), misconception }
    }

    fn view(self, desk: Desk, checkpoint: &'static Checkpoint, env: &Env) -> AnyView {
        match (self, &checkpoint.kind) {
            (Feedback::AskBack(text), _) => view! { <p class="caution">{text}</p> }.into_any(),
            (Feedback::Choice { index, right }, CheckpointKind::Choice(choices)) => {
                let word = if right { "Right. " } else { "No. " };
                view! { <p><b>{word}</b></p>{choices.get(index).map(|c| desk.prose_with(&c.because, env))} }.into_any()
            }
            (Feedback::Number { right, sentences, misconception }, CheckpointKind::Number(question)) => {
                let why = misconception
                    .and_then(|i| question.misconceptions.get(i))
                    .map(|m| desk.prose_with(&m.because, env));
                let word = if right { "" } else { "Not that. " };
                view! { <p><b>{word}</b>{sentences.join(" ")}</p>{why} }.into_any()
            }
            _ => ().into_any(),
        }
    }
}

/// The typed text with the chosen unit, unless a unit was typed as well.
fn with_unit(typed: &str, chosen: &str) -> String {
    let unit_typed = number::read(typed, Decimal::Point, None).is_ok_and(|written| written.measure.is_some());
    if chosen.is_empty() || unit_typed || typed.trim().is_empty() {
        typed.into()
    } else {
        format!("{} {chosen}", typed.trim())
    }
}

/// Units to choose from: none, then every unit of the kind, with its reference where one matters.
fn unit_choices(asked: Measure) -> Vec<(String, String)> {
    let mut out = vec![(String::new(), "unit".to_string())];
    let of_kind = units::UNITS.iter().filter(|u| u.family == asked.unit.family && !u.name.is_empty());
    for unit in of_kind {
        let references: Vec<Option<units::Reference>> = match asked.reference {
            Some(_) => vec![Some(units::Reference::Absolute), Some(units::Reference::Gauge)],
            None => vec![None],
        };
        for reference in references {
            let text = Measure { unit, reference }.to_string();
            out.push((text.clone(), text));
        }
    }
    out
}

#[component]
fn RevealView(desk: Desk, session: Session, reveal: &'static Reveal) -> impl IntoView {
    // What two states differ in, straight from the readings: the sheet computes nothing.
    const ROWS: [&str; 7] = ["boost", "p2", "p3", "balance", "pumping_torque", "torque", "shaft"];
    let table = {
        let session = session.clone();
        move || {
            let (from, to) = reveal.compare.as_ref()?;
            let (a, b) = (session.worked.readings.get(from)?.clone(), session.worked.readings.get(to)?.clone());
            let heads = [&a, &b].map(|r| format!("vanes {} %", crate::units::number(r.settings.vane_open_pct, 0)));
            let style = desk.style();
            let print = |q: &volute_lessons::paths::Quantity, si: f64| {
                let unit = match q.name {
                    "shaft" => "1/min",
                    "pumping_torque" | "torque" => "N m",
                    _ => "kPa",
                };
                let decimals = if q.name == "pumping_torque" { 1 } else { 0 };
                units::read(unit)
                    .map(|m| volute_lessons::expr::in_print(si, m, q.is_point(), Some(decimals), style))
                    .unwrap_or_default()
            };
            let rows = ROWS.iter().filter_map(|name| quantity(name)).map(|q| {
                let (x, y) = ((q.of)(&a), (q.of)(&b));
                view! { <tr><th scope="row">{q.about}</th><td class="num">{print(q, x)}</td><td class="num">{print(q, y)}</td></tr> }
            });
            Some(view! {
                <table class="compare">
                    <caption class="sr">"The two states side by side"</caption>
                    <thead><tr><td></td>{heads.map(|h| view! { <th scope="col">{h}</th> })}</tr></thead>
                    <tbody>{rows.collect_view()}</tbody>
                </table>
            })
        }
    };
    view! {
        <section class="reply reveal" data-reveal=reveal.after.clone() aria-label="What the bench says">
            {view::part(move || desk.prose(&reveal.text, &session))}
            {view::part(table)}
        </section>
    }
}

#[component]
fn TransferView(desk: Desk, session: Session, transfer: &'static Transfer) -> impl IntoView {
    let words = NodeRef::<html::Textarea>::new();
    let (seen, set_seen) = signal(false);
    let (fault, set_fault) = signal(None::<&'static str>);
    let compare = move |_| {
        let written = words.get_untracked().map(|w| w.value()).unwrap_or_default();
        if written.trim().is_empty() {
            set_fault.set(Some("Write your own answer first; then compare."));
        } else {
            set_fault.set(None);
            set_seen.set(true);
        }
    };
    let ask = session.clone();
    view! {
        <section class="ask" data-transfer=transfer.id.clone() aria-label="In other words">
            <h3>"In your own words"</h3>
            {view::part(move || desk.prose(&transfer.ask, &ask))}
            <textarea node_ref=words rows="4" aria-label="Your answer"></textarea>
            <p class="row2"><button type="button" on:click=compare>"Compare with what matters"</button></p>
            <div class="feedback" role="status">
                {view::text(move || fault.get().unwrap_or_default())}
                {view::part(move || seen.get().then(|| desk.prose(&transfer.consider, &session)))}
            </div>
        </section>
    }
}
