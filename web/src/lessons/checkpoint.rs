//! A question that is marked: the learner has two tries with an explanation for each, then sees the worked answer, and can draw
//! new numbers after that.

use super::block::{Drawn, because, hints, percent, show_button, waiting};
use super::input::{Input, Kind};
use super::session::Session;
use super::stints;
use super::study::Study;
use crate::browser;
use crate::language::{say, t, tf};
use crate::refusals::Says;
use crate::view;
use leptos::ev;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::lesson::{self, Checkpoint};
use volute_lessons::mark::{Answer, Asked, Detail, Mark};
use volute_lessons::progress::{TRIES, Tries};
use volute_lessons::sketch::{SketchMark, Way};

/// A question that is being answered: its numbers, what stands in its fields, and how it went.
#[derive(Clone, Copy)]
struct Question {
    study: Study,
    checkpoint: &'static Checkpoint,
    id: &'static str,
    /// Whether it is answered in own words, which are kept and not marked.
    words: bool,
    tries: Memo<Tries>,
    over: Memo<bool>,
    /// The last answer to these numbers. What is said of it is worked out anew, so that it is there after a reload as well.
    last: Memo<Option<Answer>>,
    drawn: Drawn<Asked<'static>>,
    input: Input,
    /// What is missing in the answer, as a sentence.
    asks_back: RwSignal<String>,
}

impl Question {
    fn new(study: Study, session: &Session, checkpoint: &'static Checkpoint) -> Self {
        let id = checkpoint.id.as_str();
        let tries = view::memo(move || study.progress.with(|p| p.tries(id)));
        let last = view::memo(move || {
            study.progress.with(|p| {
                let tries = p.tries(id);
                let own = p.attempts(id).last().filter(|a| a.draw == tries.draw && tries.used > 0);
                own.and_then(|a| a.answer.clone())
            })
        });
        let drawn: Drawn<Asked<'static>> = RwSignal::new(None);
        let number = view::memo(move || tries.get().draw);
        let (lesson, worked) = (session.lesson, session.worked.clone());
        view::effect(move || {
            let (draw, worked) = (number.get(), worked.clone());
            drawn.set(None);
            stints::work_out(
                move || number.try_get_untracked() == Some(draw),
                move |solver| checkpoint.work_out(lesson, &worked, draw, solver),
                move |result| drawn.set(Some(result.map(Arc::new).map_err(|e| e.to_string()))),
            );
        });
        Self {
            study,
            checkpoint,
            id,
            words: matches!(checkpoint.question, lesson::Question::Words(_)),
            tries,
            over: view::memo(move || tries.get().over),
            last,
            drawn,
            input: Input::new(last.get_untracked().as_ref()),
            asks_back: RwSignal::new(String::new()),
        }
    }

    /// What there is to see once the numbers are there; nothing before.
    fn with_asked<T>(self, look: impl FnOnce(&Asked<'static>) -> T) -> Option<T> {
        self.drawn.with(|d| d.as_ref()?.as_ref().ok().map(|asked| look(asked)))
    }

    /// Marks what stands in the fields.
    fn check(self) {
        if self.over.get_untracked() {
            return;
        }
        let Some(Ok(asked)) = self.drawn.get_untracked() else { return };
        let result = self.input.answer(Kind::of(&self.checkpoint.question)).and_then(|answer| {
            let mark = asked.mark(&answer).map_err(|e| e.says())?;
            self.study.progress.update(|p| {
                p.answered(self.id, answer, &mark);
            });
            Ok(())
        });
        self.asks_back.set(result.err().unwrap_or_default());
        if self.over.get_untracked() {
            // The button that had the focus is gone.
            browser::after(0, move || browser::focus(&format!("{}-said", self.id)));
        }
    }

    /// Draws new numbers.
    fn again(self) {
        self.asks_back.set(String::new());
        self.input.clear();
        self.study.progress.update(|p| {
            p.draw_again(self.id);
        });
        browser::after(0, move || browser::focus(&format!("{}-ask", self.id)));
    }

    fn set_bench(self) {
        if let Some(Ok(asked)) = self.drawn.get_untracked() {
            self.study.set_bench(asked.bench());
        }
    }

    fn fields(self) -> AnyView {
        let kind = Kind::of(&self.checkpoint.question);
        self.drawn.with_untracked(|d| match d {
            Some(Ok(asked)) => {
                let worked = Arc::new(asked.worked.clone());
                self.input.fields(self.study, self.id, kind, &worked, &asked.key, self.over.into(), self.over.into())
            }
            other => waiting(other),
        })
    }

    fn tolerance(self) -> Option<AnyView> {
        let tolerance = self.with_asked(|asked| asked.tolerance_in_print(self.study.style())).flatten()?;
        let says = tf("{tolerance} is right. Comma or point both count.", &[("tolerance", &tolerance)]);
        Some(view! { <p class="hint">{says}</p> }.into_any())
    }

    /// What is said of the last answer, to be read at leisure.
    fn said(self) -> Option<AnyView> {
        let (answer, Self { study, id, words, .. }) = (self.last.get()?, self);
        self.with_asked(|asked| {
            let mark = asked.mark(&answer).ok()?;
            let show = asked.show(&mark).cloned().filter(|_| !mark.right);
            let wrong = mark.misconception.map(|i| i.to_string()).unwrap_or_default();
            let said = view! {
                <div data-said=id data-misconception=wrong>
                    <p><b>{verdict(&mark, words)}</b>" "{details(asked, &mark).join(" ")}</p>
                    {because(study, &mark.because, &asked.env())}
                    {show.map(|bench| show_button(study, id, bench))}
                </div>
            };
            Some(said.into_any())
        })
        .flatten()
    }

    /// One line for a screen reader.
    fn spoken(self) -> String {
        let back = self.asks_back.get();
        if !back.is_empty() {
            return back;
        }
        let marked = |asked: &Asked<'static>, answer: &Answer| {
            let mark = asked.mark(answer).ok()?;
            let rest = if mark.because.is_empty() { "" } else { t("The reason stands below.") };
            // A screen reader does not speak the same words twice: they have to differ from try to try.
            let other = if self.tries.get().used.is_multiple_of(2) { "\u{a0}" } else { "" };
            Some(format!("{} {} {rest}{other}", verdict(&mark, self.words), details(asked, &mark).join(" ")))
        };
        let last = self.last.get();
        last.and_then(|answer| self.with_asked(|asked| marked(asked, &answer)).flatten()).unwrap_or_default()
    }

    /// The worked answer, once all tries are used or the question is answered.
    fn worked_answer(self) -> Option<AnyView> {
        if !self.over.get() || self.checkpoint.worked.is_empty() {
            return None;
        }
        let prose = self.with_asked(|asked| self.study.prose_in(&self.checkpoint.worked, &asked.env()))?;
        Some(
            view! { <div class="ask-worked" data-worked=self.id><h4>{t("Worked answer")}</h4>{prose}</div> }.into_any(),
        )
    }

    fn score(self) -> String {
        let tries = self.tries.get();
        let (n, of) = ((tries.used + 1).to_string(), TRIES.to_string());
        if tries.over && self.words {
            t("Kept for your instructor.").into()
        } else if tries.over {
            tf("Best so far: {points} of the points.", &[("points", &percent(tries.best))])
        } else if tries.used > 0 {
            tf("Try {n} of {of}.", &[("n", &n), ("of", &of)])
        } else {
            String::new()
        }
    }
}

/// The question.
#[component]
pub fn CheckpointView(study: Study, session: Session, checkpoint: &'static Checkpoint) -> impl IntoView {
    let question = Question::new(study, &session, checkpoint);
    let Question { id, words, tries, over, asks_back, .. } = question;
    let check = move |event: ev::SubmitEvent| {
        event.prevent_default();
        question.check();
    };
    let ready = view::memo(move || question.with_asked(|_| ()).is_some());
    let fields = move || {
        ready.get();
        question.fields()
    };
    let ask = move || question.with_asked(|asked| study.prose_in(&checkpoint.ask, &asked.env()));
    let worked = move || question.with_asked(|asked| Arc::new(asked.worked.clone()));
    let new_numbers = !checkpoint.setup.seeds.is_empty();
    view! {
        <form class="ask" novalidate data-checkpoint=id data-ready=view::text(move || ready.get().to_string())
            data-over=view::text(move || over.get().to_string())
            data-right=view::text(move || study.progress.with(|p| p.attempts(id).last().is_some_and(|a| a.right)).to_string()) on:submit=check>
            <h3 id=format!("{id}-ask") tabindex="-1">{if words { t("In your own words") } else { t("Checkpoint") }}</h3>
            {view::part(ask)}
            {view::part(fields)}
            {view::part(move || question.tolerance())}
            <p class="row2">
                {view::part(move || (!over.get() && ready.get()).then(|| view! { <button type="submit" class="strong" data-check=id>{if words { t("Keep and compare") } else { t("Check") }}</button> }))}
                {checkpoint.bench.is_some().then(|| view! { <button type="button" data-set=id on:click=move |_| question.set_bench()>{t("Set the bench")}</button> })}
                {view::part(move || (over.get() && new_numbers && study.may_go_again(tries.get().draw)).then(|| view! {
                    <button type="button" data-again=id on:click=move |_| question.again()>{t("Again, with new numbers")}</button>
                }))}
            </p>
            {hints(study, id, &checkpoint.hints, over.into(), worked)}
            <p class="sr" role="status">{view::text(move || question.spoken())}</p>
            <div class="ask-feedback" tabindex="-1" id=format!("{id}-said")>
                {view::part(move || Some(asks_back.get()).filter(|b| !b.is_empty()).map(|b| view! { <p class="caution" data-asks-back="">{b}</p> }))}
                {view::part(move || question.said())}
                {view::part(move || question.worked_answer())}
            </div>
            <p class="hint">{view::text(move || question.score())}</p>
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
    match (&mark.detail, &asked.checkpoint.question) {
        (Detail::Number(number), lesson::Question::Number(question)) => {
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
