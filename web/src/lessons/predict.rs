//! A prediction: the learner answers before anything is shown, locks the answer for good, and then compares it with the bench.

use super::block::{because, draw, show_button, waiting};
use super::input::{Input, Kind};
use super::session::{self, Session};
use super::study::Study;
use crate::browser;
use crate::language::{t, tf};
use crate::refusals::Says;
use crate::view;
use leptos::ev;
use leptos::prelude::*;
use volute_lessons::lesson::Predict;
use volute_lessons::mark::Detail;

/// The prediction.
#[component]
pub fn PredictView(study: Study, session: Session, predict: &'static Predict) -> impl IntoView {
    let lesson = session.lesson;
    let id = predict.id.as_str();
    let kind = Kind::of(&predict.question);
    let drawn = {
        let worked = session.worked.clone();
        draw(move |solver| predict.work_out(lesson, &worked, solver))
    };
    let input = Input::new(study.progress.with_untracked(|p| p.locked(id).cloned()).as_ref());
    let (fault, set_fault) = signal(String::new());
    let locked = view::memo(move || study.progress.with(|p| p.locked(id).is_some()));
    let told = view::memo(move || study.progress.with(|p| session::reveals(p, lesson, id)));
    let lock = move |event: ev::SubmitEvent| {
        event.prevent_default();
        let result = input.answer(kind).and_then(|answer| {
            let mut result = Ok(());
            study.progress.update(|p| result = p.lock(predict, answer).map_err(|e| e.says()));
            result
        });
        if result.is_ok() {
            // The button that had the focus is gone: on to what the bench says.
            browser::after(0, move || browser::focus(&format!("{id}-locked")));
        }
        set_fault.set(result.err().unwrap_or_default());
    };
    let ready = view::memo(move || drawn.with(|d| matches!(d, Some(Ok(_)))));
    let fields = move || {
        ready.get();
        drawn.with_untracked(|d| match d {
            Some(Ok(asked)) => {
                let worked = std::sync::Arc::new(asked.worked.clone());
                input.fields(study, id, kind, &worked, &asked.key, locked.into(), told.into())
            }
            other => waiting(other),
        })
    };
    let ask = {
        let session = session.clone();
        move || {
            drawn.with(|d| match d {
                Some(Ok(asked)) => study.prose_in(&predict.ask, &asked.env()),
                // A prediction without numbers of its own can be read while the bench still works.
                _ if predict.setup.seeds.is_empty() && predict.setup.pins.is_empty() => {
                    study.prose(&predict.ask, &session)
                }
                _ => ().into_any(),
            })
        }
    };
    // The explanation of the learner's own answer comes with the reveal, and stands under the prediction.
    let reply = move || {
        if !told.get() {
            return None;
        }
        let answer = study.progress.with(|p| p.locked(id).cloned())?;
        drawn.with(|d| {
            let Some(Ok(asked)) = d else { return None };
            let mark = asked.because(&answer)?;
            let word = match (&mark.detail, asked.answer_in_print(study.style())) {
                (_, Some(number)) => tf("The bench says {number}.", &[("number", &number)]),
                _ if mark.right => t("The bench agrees.").to_string(),
                (Detail::Sketch(_), _) => t("The bench's curve looks different.").into(),
                _ => t("The bench says otherwise.").into(),
            };
            let show = mark.show.and_then(|state| asked.worked.bench(state).cloned()).filter(|_| !mark.right);
            Some(view! {
                <div class="reply" data-reply=id data-right=mark.right.to_string()>
                    <p><b>{word}</b></p>
                    {because(study, &mark.because, &asked.env())}
                    {show.map(|bench| show_button(study, id, bench))}
                </div>
            })
        })
    };
    view! {
        <form novalidate on:submit=lock>
            <fieldset class="ask" data-predict=id class:locked=locked id=format!("{id}-locked") tabindex="-1">
                <legend>{view::text(move || if locked.get() { t("Your prediction, locked") } else { t("Predict first") })}</legend>
                {view::part(ask)}
                {view::part(fields)}
                {view::part(move || (!locked.get() && ready.get()).then(|| view! {
                    <p class="row2"><button type="submit" class="strong" data-lock=id>{t("Lock my prediction")}</button></p>
                    <p class="hint">{t("It is not scored and cannot be changed afterwards.")}</p>
                }))}
                <p class="ask-feedback" role="status">{fault}</p>
            </fieldset>
        </form>
        {view::part(reply)}
    }
}

/// What the lessons crate says, as a sentence.
pub fn sentence(text: &str) -> String {
    let text = crate::language::capital(text);
    if text.ends_with(['.', '?', '!']) { text } else { text + "." }
}

#[cfg(test)]
mod tests {
    use super::sentence;

    #[test]
    fn by_hand_sentences() {
        assert_eq!(sentence("choose one of the 3 options first"), "Choose one of the 3 options first.");
        assert_eq!(sentence("is it 1.850 or 1850?"), "Is it 1.850 or 1850?");
        assert_eq!(sentence(""), ".");
    }
}
