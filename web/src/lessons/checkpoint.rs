//! A question that is marked: two tries, an explanation for each, the worked answer, and new numbers after that.

use super::block::{Drawn, because, hints, percent, waiting};
use super::input::{Input, Kind};
use super::session::Session;
use super::stints;
use super::study::Study;
use crate::browser;
use crate::language::{say, t, tf};
use crate::view;
use leptos::ev;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::lesson::{Checkpoint, CheckpointKind};
use volute_lessons::mark::{Asked, Detail, Mark};
use volute_lessons::progress::TRIES;
use volute_lessons::sketch::{SketchMark, Way};

/// The question.
#[component]
pub fn CheckpointView(study: Study, session: Session, checkpoint: &'static Checkpoint) -> impl IntoView {
    let lesson = session.lesson;
    let id = checkpoint.id.as_str();
    let kind = Kind::of_checkpoint(&checkpoint.kind);
    let words = matches!(checkpoint.kind, CheckpointKind::Words(_));
    let tries = view::memo(move || study.progress.with(|p| p.tries(id)));
    let draw_number = view::memo(move || tries.get().draw);
    let over = view::memo(move || tries.get().over);
    // The last answer of this draw: what is said of it is worked out anew, so that it is there after a reload as well.
    let last = view::memo(move || {
        study.progress.with(|p| {
            let draw = p.tries(id).draw;
            p.attempts(id).last().filter(|a| a.draw == draw && p.tries(id).used > 0).and_then(|a| a.answer.clone())
        })
    });
    let drawn: Drawn<Asked<'static>> = RwSignal::new(None);
    {
        let worked = session.worked.clone();
        view::effect(move || {
            let number = draw_number.get();
            let worked = worked.clone();
            drawn.set(None);
            stints::work_out(
                move || draw_number.try_get_untracked() == Some(number),
                move |solver| checkpoint.work_out(lesson, &worked, number, solver),
                move |result| drawn.set(Some(result.map(Arc::new).map_err(|e| e.to_string()))),
            );
        });
    }
    let input = Input::new(last.get_untracked().as_ref());
    let (asks_back, set_asks_back) = signal(String::new());
    let check = move |event: ev::SubmitEvent| {
        event.prevent_default();
        if over.get_untracked() {
            return;
        }
        let result = drawn.with_untracked(|d| {
            let Some(Ok(asked)) = d else { return Ok(()) };
            let answer = input.answer(kind)?;
            let mark = asked.mark(&answer).map_err(|e| say(&e.sentence()))?;
            study.progress.update(|p| {
                p.answered(id, answer, &mark);
            });
            Ok(())
        });
        set_asks_back.set(result.err().unwrap_or_default());
        if over.get_untracked() {
            // The button that had the focus is gone.
            browser::after(0, move || browser::focus(&format!("{id}-said")));
        }
    };
    let again = move |_| {
        set_asks_back.set(String::new());
        input.clear();
        study.progress.update(|p| {
            p.draw_again(id);
        });
        browser::after(0, move || browser::focus(&format!("{id}-ask")));
    };
    let set_bench = move |_| {
        drawn.with_untracked(|d| {
            if let Some(Ok(asked)) = d {
                study.set_bench(asked.bench())
            }
        })
    };
    let ready = view::memo(move || drawn.with(|d| matches!(d, Some(Ok(_)))));
    let fields = move || {
        ready.get();
        drawn.with_untracked(|d| match d {
            Some(Ok(asked)) => {
                let worked = Arc::new(asked.worked.clone());
                input.fields(study, id, kind, &worked, &asked.key, over.into(), over.into())
            }
            other => waiting(other),
        })
    };
    let ask = move || {
        drawn.with(|d| {
            d.as_ref().and_then(|d| d.as_ref().ok()).map(|asked| study.prose_in(&checkpoint.ask, &asked.env()))
        })
    };
    let tolerance = move || {
        drawn.with(|d| {
            let asked = d.as_ref()?.as_ref().ok()?;
            let tolerance = asked.tolerance_in_print(study.style())?;
            Some(view! { <p class="hint">{tf("{tolerance} is right. Comma or point both count.", &[("tolerance", &tolerance)])}</p> })
        })
    };
    let said = move || {
        let answer = last.get()?;
        drawn.with(|d| {
            let asked = d.as_ref()?.as_ref().ok()?;
            let mark = asked.mark(&answer).ok()?;
            let show = asked.show(&mark).cloned().filter(|_| !mark.right);
            Some(view! {
                <div data-said=id data-misconception=mark.misconception.map(|i| i.to_string()).unwrap_or_default()>
                    <p><b>{verdict(&mark, words)}</b>" "{details(asked, &mark).join(" ")}</p>
                    {because(study, &mark.because, &asked.env())}
                    {show.map(|bench| view! {
                        <p class="row2"><button type="button" data-show=id on:click=move |_| study.set_bench(Some(&bench))>{t("Show it on the bench")}</button></p>
                    })}
                </div>
            })
        })
    };
    // One line for a screen reader; the explanation stands below and can be read at leisure.
    let spoken = move || {
        let back = asks_back.get();
        if !back.is_empty() {
            return back;
        }
        let Some(answer) = last.get() else { return String::new() };
        drawn.with(|d| {
            let Some(Ok(asked)) = d else { return String::new() };
            let Ok(mark) = asked.mark(&answer) else { return String::new() };
            let rest = if mark.because.is_empty() { "" } else { t("The reason stands below.") };
            let used = tries.get().used;
            // The same words twice would not be spoken the second time.
            format!(
                "{} {} {}{}",
                verdict(&mark, words),
                details(asked, &mark).join(" "),
                rest,
                if used % 2 == 0 { "\u{a0}" } else { "" }
            )
        })
    };
    let worked_answer = move || {
        over.get().then(|| drawn.get()).flatten().and_then(Result::ok).filter(|_| !checkpoint.worked.is_empty()).map(|asked| {
            view! { <div class="ask-worked" data-worked=id><h4>{t("Worked answer")}</h4>{study.prose_in(&checkpoint.worked, &asked.env())}</div> }
        })
    };
    let score = move || {
        let tries = tries.get();
        let (n, of) = ((tries.used + 1).to_string(), TRIES.to_string());
        if tries.over && words {
            t("Kept for your instructor.").to_string()
        } else if tries.over {
            tf("Best so far: {points} of the points.", &[("points", &percent(tries.best))])
        } else if tries.used > 0 {
            tf("Try {n} of {of}.", &[("n", &n), ("of", &of)])
        } else {
            String::new()
        }
    };
    let worked =
        move || drawn.with(|d| d.as_ref().and_then(|d| d.as_ref().ok()).map(|asked| Arc::new(asked.worked.clone())));
    let new_numbers = !checkpoint.setup.seeds.is_empty();
    view! {
        <form class="ask" novalidate data-checkpoint=id data-ready=view::text(move || ready.get().to_string())
            data-over=view::text(move || over.get().to_string())
            data-right=view::text(move || study.progress.with(|p| p.attempts(id).last().is_some_and(|a| a.right)).to_string()) on:submit=check>
            <h3 id=format!("{id}-ask") tabindex="-1">{if words { t("In your own words") } else { t("Checkpoint") }}</h3>
            {view::part(ask)}
            {view::part(fields)}
            {view::part(tolerance)}
            <p class="row2">
                {view::part(move || (!over.get() && ready.get()).then(|| view! { <button type="submit" class="strong" data-check=id>{if words { t("Keep and compare") } else { t("Check") }}</button> }))}
                {checkpoint.bench.is_some().then(|| view! { <button type="button" data-set=id on:click=set_bench>{t("Set the bench")}</button> })}
                {view::part(move || (over.get() && new_numbers && study.may_go_again(tries.get().draw)).then(|| view! {
                    <button type="button" data-again=id on:click=again>{t("Again, with new numbers")}</button>
                }))}
            </p>
            {hints(study, id, &checkpoint.hints, over.into(), worked)}
            <p class="sr" role="status">{view::text(spoken)}</p>
            <div class="ask-feedback" tabindex="-1" id=format!("{id}-said")>
                {view::part(move || Some(asks_back.get()).filter(|b| !b.is_empty()).map(|b| view! { <p class="caution" data-asks-back="">{b}</p> }))}
                {view::part(said)}
                {view::part(worked_answer)}
            </div>
            <p class="hint">{view::text(score)}</p>
        </form>
    }
}

/// Right or not, in a word.
fn verdict(mark: &Mark, words: bool) -> &'static str {
    match (words, mark.right) {
        (true, _) => t("Kept."),
        (_, true) => t("Right."),
        (_, false) => t("Not that."),
    }
}

/// What there is to say beyond that.
fn details(asked: &Asked, mark: &Mark) -> Vec<String> {
    let count = |judged: &[bool]| (judged.iter().filter(|j| **j).count().to_string(), judged.len().to_string());
    match (&mark.detail, &asked.checkpoint.kind) {
        (Detail::Number(number), CheckpointKind::Number(question)) => {
            let value = number.value_sentence().filter(|_| !mark.right);
            let said = [value, number.unit_sentence(question), number.figures_sentence()];
            said.iter().flatten().map(say).collect()
        }
        (Detail::Choices(judged), _) if !mark.right => {
            let (n, of) = count(judged);
            vec![tf("{n} of {of} are judged rightly.", &[("n", &n), ("of", &of)])]
        }
        (Detail::Order(placed), _) if !mark.right => {
            let (n, of) = count(placed);
            vec![tf("{n} of {of} stand in their place.", &[("n", &n), ("of", &of)])]
        }
        (Detail::Sketch(sketch), _) => sketch_details(sketch),
        _ => Vec::new(),
    }
}

fn way(way: Way) -> &'static str {
    match way {
        Way::Up => t("rises"),
        Way::Down => t("falls"),
        Way::Level => t("stays level"),
    }
}

/// What a drawn curve has that the bench's has not.
fn sketch_details(mark: &SketchMark) -> Vec<String> {
    let thirds = [t("In the first third"), t("In the middle"), t("In the last third")];
    let mut out: Vec<String> = thirds
        .into_iter()
        .zip(&mark.thirds)
        .filter(|(_, (_, _, right))| !right)
        .map(|(place, (truth, drawn, _))| {
            tf(
                "{place} it {truth}, yours {drawn}.",
                &[("place", place), ("truth", way(*truth)), ("drawn", way(*drawn))],
            )
        })
        .collect();
    let rest = [
        (mark.extreme, t("Its highest or lowest point lies elsewhere.")),
        (mark.bend, t("It is bent the other way.")),
        (mark.crossing, t("It crosses the given curve elsewhere.")),
    ];
    out.extend(rest.into_iter().filter(|(right, _)| *right == Some(false)).map(|(_, says)| says.to_string()));
    out
}
