//! What the blocks of a lesson have in common: their numbers, hints, explanations, and what is spoken.

use super::prose::{self, blocks};
use super::session::Session;
use super::stints;
use super::study::Study;
use crate::language::{self, t, tf};
use crate::units::number;
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::bench::{Bench, Solve};
use volute_lessons::expr::Env;
use volute_lessons::lesson::HINT_COST;
use volute_lessons::text::{Inline, Prose};
use volute_lessons::work::{WorkError, Worked};

/// What is worked out for a block: nothing yet, or it, or why there is none.
pub type Drawn<T> = RwSignal<Option<Result<Arc<T>, String>>>;

/// Has the numbers of a block worked out; whoever reads the signal sees them when they are there.
pub fn draw<T: Send + Sync + 'static>(job: impl FnMut(&mut dyn Solve) -> Result<T, WorkError> + 'static) -> Drawn<T> {
    let drawn = RwSignal::new(None);
    stints::work_out(
        move || drawn.try_get_untracked().is_some(),
        job,
        move |result: Result<T, WorkError>| {
            drawn.set(Some(result.map(Arc::new).map_err(|e| e.to_string())));
        },
    );
    drawn
}

/// What stands in a block until its numbers are there, or in their place.
pub fn waiting<T>(drawn: &Option<Result<Arc<T>, String>>) -> AnyView {
    match drawn {
        None => view! { <p class="hint" data-waiting="">{t("The bench is working out the numbers…")}</p> }.into_any(),
        Some(Err(e)) => {
            view! { <p class="caution">{tf("The numbers of this question could not be worked out: {reason}.", &[("reason", e)])}</p> }
                .into_any()
        }
        Some(Ok(_)) => ().into_any(),
    }
}

impl Study {
    /// Prose with the states that an expression sees.
    pub fn prose_in(&self, prose: &[Prose], env: &Env) -> AnyView {
        let said = blocks(prose, env, self.style(), self.opens());
        match self.foreign() {
            Some(language) => view! { <div class="lesson-foreign" lang=language>{said}</div> }.into_any(),
            None => said,
        }
    }

    /// One line with the states that an expression sees.
    pub fn line(&self, line: &[Inline], env: &Env) -> AnyView {
        let said = prose::line(line, env, self.style(), self.opens());
        match self.foreign() {
            Some(language) => view! { <span lang=language>{said}</span> }.into_any(),
            None => said,
        }
    }

    /// The language of the open lesson, where it is not the page's: a screen reader then changes its voice.
    fn foreign(&self) -> Option<String> {
        let session = self.session_now()?;
        let list = self.list.get_untracked()?.ok()?;
        let speaks = language::spoken().code();
        let written = list.lesson(&session.lesson.id)?.language(speaks);
        (written != speaks).then(|| written.to_string())
    }

    /// Prose with the lesson's own states.
    pub fn prose(&self, prose: &[Prose], session: &Session) -> AnyView {
        self.prose_in(prose, &session.worked.env())
    }

    /// Opens the lesson that a link in the prose leads to.
    pub fn opens(&self) -> Callback<String> {
        let study = *self;
        Callback::new(move |id| study.open(id, super::study::Want::Resume, true))
    }
}

/// Hints of a task or checkpoint: those that were taken, and the button for the next one with its price.
pub fn hints(
    study: Study,
    id: &'static str,
    all: &'static [Vec<Prose>],
    over: Signal<bool>,
    worked: impl Fn() -> Option<Arc<Worked>> + Send + Sync + 'static,
) -> AnyView {
    let taken = view::memo(move || study.progress.with(|p| p.hints(id)).min(all.len()));
    let worked = StoredValue::new(Box::new(worked) as Box<dyn Fn() -> Option<Arc<Worked>> + Send + Sync>);
    let shown = move || {
        let worked = worked.with_value(|w| w());
        worked.map(|worked| {
            let hint = |i: usize| view! { <li>{study.prose_in(&all[i], &worked.env())}</li> };
            view! { <ol class="ask-hints" data-hints="">{(0..taken.get()).map(hint).collect_view()}</ol> }
        })
    };
    let next = move || {
        let price = format!("{} %", number(100.0 * HINT_COST, 0));
        let (n, of) = ((taken.get() + 1).to_string(), all.len().to_string());
        tf("Hint {n} of {of}, costs {price} of the points", &[("n", &n), ("of", &of), ("price", &price)])
    };
    view! {
        {view::part(move || (taken.get() > 0).then(shown))}
        {view::part(move || (!over.get() && study.may_hint() && taken.get() < all.len()).then(|| view! {
            <p class="row2"><button type="button" class="link" data-hint=id on:click=move |_| study.progress.update(|p| { p.take_hint(id, all.len()); })>{next()}</button></p>
        }))}
    }
    .into_any()
}

/// Explanations, one after the other.
pub fn because(study: Study, all: &[&[Prose]], env: &Env) -> AnyView {
    all.iter().map(|prose| study.prose_in(prose, env)).collect_view().into_any()
}

/// The button that sets the bench to the state of an explanation.
pub fn show_button(study: Study, id: &'static str, bench: Bench) -> AnyView {
    let show = move |_| study.set_bench(Some(&bench));
    view! { <p class="row2"><button type="button" data-show=id on:click=show>{t("Show it on the bench")}</button></p> }
        .into_any()
}

/// A number of points in per cent.
pub fn percent(points: f64) -> String {
    format!("{} %", number(100.0 * points, 0))
}
