//! How a question is answered: one field for each kind, for predictions and checkpoints alike.

use super::curve_names::{axis_along, decimals, quantity_name, short_name, side, symbol};
use super::order::OrderList;
use super::sketch_pad::{Axis, Heights, Known, SketchPad};
use super::study::Study;
use crate::language::{decimal_sign, t, text_style, tf};
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::lesson::{Choice, CurveRef, Direction, OrderQuestion, Question, SketchQuestion};
use volute_lessons::mark::{Answer, Key, Typed};
use volute_lessons::number;
use volute_lessons::sketch;
use volute_lessons::text;
use volute_lessons::units::{self, Measure, Style};
use volute_lessons::work::Worked;

/// A kind of question.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// One of these.
    Choice(&'static [Choice]),
    /// All that are true of these.
    Choices(&'static [Choice]),
    /// Items in an order.
    Order(&'static OrderQuestion),
    /// A curve.
    Sketch(&'static SketchQuestion),
    /// A number with its unit.
    Number(Measure),
    /// Own words; so many characters at least, if any number is asked for.
    Words(u32),
}

impl Kind {
    /// That of a question.
    pub fn of(question: &'static Question) -> Self {
        match question {
            Question::Choice(options) => Kind::Choice(options),
            Question::Choices(options) => Kind::Choices(options),
            Question::Order(question) => Kind::Order(question),
            Question::Sketch(question) => Kind::Sketch(question),
            Question::Number(question) => Kind::Number(question.measure),
            Question::Words(question) => Kind::Words(question.at_least),
        }
    }
}

/// What stands in the fields.
#[derive(Clone, Copy)]
pub struct Input {
    chosen: RwSignal<Option<usize>>,
    ticked: RwSignal<Vec<usize>>,
    order: RwSignal<Vec<usize>>,
    heights: RwSignal<Option<Heights>>,
    text: RwSignal<String>,
    unit: RwSignal<String>,
}

impl Input {
    /// Empty, or as it was answered before.
    pub fn new(before: Option<&Answer>) -> Self {
        let input = Self {
            chosen: RwSignal::new(None),
            ticked: RwSignal::new(Vec::new()),
            order: RwSignal::new(Vec::new()),
            heights: RwSignal::new(None),
            text: RwSignal::new(String::new()),
            unit: RwSignal::new(String::new()),
        };
        match before {
            Some(Answer::Choice(i)) => input.chosen.set(Some(*i)),
            Some(Answer::Choices(all)) => input.ticked.set(all.clone()),
            Some(Answer::Order(order)) => input.order.set(order.clone()),
            Some(Answer::Sketch(sketch)) => input.heights.set(Some(sketch.heights())),
            Some(Answer::Number(typed)) => input.text.set(typed.text.clone()),
            Some(Answer::Words(words)) => input.text.set(words.clone()),
            None => {}
        }
        input
    }

    /// Empties everything.
    pub fn clear(&self) {
        self.chosen.set(None);
        self.ticked.set(Vec::new());
        self.order.set(Vec::new());
        self.heights.set(None);
        self.text.set(String::new());
    }

    /// As an answer. Errors: what is missing, as a sentence.
    pub fn answer(&self, kind: Kind) -> Result<Answer, String> {
        match kind {
            // No choice made is an option that does not exist: the lessons crate has the words for that.
            Kind::Choice(_) => Ok(Answer::Choice(self.chosen.get_untracked().unwrap_or(usize::MAX))),
            Kind::Choices(_) => Ok(Answer::Choices(self.ticked.get_untracked())),
            Kind::Order(_) => Ok(Answer::Order(self.order.get_untracked())),
            Kind::Sketch(_) => match self.heights.get_untracked() {
                Some(heights) => Ok(Answer::Sketch(sketch::Sketch::of_heights(heights))),
                None => Err(t("Draw your curve first.").into()),
            },
            Kind::Number(_) => {
                let text = with_unit(&self.text.get_untracked(), &self.unit.get_untracked());
                Ok(Answer::Number(Typed { text, decimal: decimal_sign() }))
            }
            Kind::Words(_) => Ok(Answer::Words(self.text.get_untracked())),
        }
    }

    /// The fields, once the question is drawn. `told`: whether the core's answer may be seen.
    #[allow(clippy::too_many_arguments, reason = "each is another thing of the question")]
    pub fn fields(
        self,
        study: Study,
        id: &str,
        kind: Kind,
        worked: &Arc<Worked>,
        key: &Key,
        locked: Signal<bool>,
        told: Signal<bool>,
    ) -> AnyView {
        match kind {
            Kind::Choice(options) => self.options(study, id, options, worked, locked, false),
            Kind::Choices(options) => self.options(study, id, options, worked, locked, true),
            Kind::Order(question) => self.order(study, id, question, worked, key, locked, told),
            Kind::Sketch(question) => self.sketch(id, question, worked, key, locked, told),
            Kind::Number(measure) => self.number(id, measure, locked),
            Kind::Words(at_least) => self.words(id, at_least, locked),
        }
    }

    fn options(
        self,
        study: Study,
        id: &str,
        options: &'static [Choice],
        worked: &Arc<Worked>,
        locked: Signal<bool>,
        several: bool,
    ) -> AnyView {
        let name = format!("{id}-option");
        let Input { chosen, ticked, .. } = self;
        let is_on = move |i: usize| {
            if several { ticked.with(|all| all.contains(&i)) } else { chosen.get() == Some(i) }
        };
        let turn = move |i: usize, on: bool| {
            if several {
                ticked.update(|all| {
                    all.retain(|other| *other != i);
                    if on {
                        all.push(i);
                    }
                    all.sort_unstable();
                });
            } else if on {
                chosen.set(Some(i));
            }
        };
        let one = |(i, option): (usize, &'static Choice)| {
            let (name, worked) = (name.clone(), worked.clone());
            view! {
                <label class="opt" class:mine=view::flag(move || locked.get() && is_on(i)) data-option=i.to_string()>
                    <input type=if several { "checkbox" } else { "radio" } name=name value=i.to_string() disabled=locked
                        prop:checked=view::flag(move || is_on(i)) on:change=move |e| turn(i, event_target_checked(&e))/>
                    <span>{view::part(move || study.line(&option.text, &worked.env()))}</span>
                </label>
            }
        };
        view! {
            {several.then(|| view! { <p class="hint">{t("Tick all that are true.")}</p> })}
            <div class="ask-options" role=if several { "group" } else { "radiogroup" } aria-label=t("Options")>{options.iter().enumerate().map(one).collect_view()}</div>
        }
        .into_any()
    }

    #[allow(clippy::too_many_arguments, reason = "each is another thing of the question")]
    fn order(
        self,
        study: Study,
        id: &str,
        question: &'static OrderQuestion,
        worked: &Arc<Worked>,
        key: &Key,
        locked: Signal<bool>,
        told: Signal<bool>,
    ) -> AnyView {
        let Key::Order(key) = key else { return ().into_any() };
        if self.order.with_untracked(Vec::is_empty) {
            self.order.set(key.shown.clone());
        }
        let (for_text, for_plain, for_right) = (worked.clone(), worked.clone(), worked.clone());
        let text = Callback::new(move |i: usize| match question.items.get(i) {
            Some(item) => study.line(&item.text, &for_text.env()),
            None => ().into_any(),
        });
        let plain = Callback::new(move |i: usize| {
            let item = question.items.get(i);
            item.and_then(|item| text::plain_inline(&item.text, &for_plain.env(), study.style()).ok())
                .unwrap_or_default()
        });
        let (first, last) = match question.order {
            Some(Direction::Rising) => (t("least first"), t("greatest last")),
            Some(Direction::Falling) => (t("greatest first"), t("least last")),
            None => (t("first"), t("last")),
        };
        let right = StoredValue::new(key.right.clone());
        view! {
            <OrderList id=format!("{id}-order") order=self.order text plain first last locked/>
            {view::part(move || told.get().then(|| view! {
                <p class="hint">{t("The right order:")}</p>
                <ol class="list">{right.get_value().into_iter().filter_map(|i| question.items.get(i)).map(|item| view! {
                    <li>{study.line(&item.text, &for_right.env())}</li>
                }).collect_view()}</ol>
            }))}
        }
        .into_any()
    }

    fn sketch(
        self,
        id: &str,
        question: &'static SketchQuestion,
        worked: &Arc<Worked>,
        key: &Key,
        locked: Signal<bool>,
        told: Signal<bool>,
    ) -> AnyView {
        let Key::Sketch(key) = key else { return ().into_any() };
        let y = Axis {
            name: quantity_name(&question.of),
            unit: symbol(question.measure.unit, question.measure.reference).into(),
            from: question.low,
            to: question.high,
            decimals: decimals(question.high - question.low),
        };
        let known = |of: &CurveRef, heights| Known { name: short_name(of), class: side(of.quantity), heights };
        let given = question.given.as_ref().zip(key.given).map(|(of, heights)| known(of, heights));
        let truth = known(&question.of, key.truth);
        view! {
            <SketchPad id=format!("{id}-sketch") x=axis_along(&question.of, worked, key.ends_si) y heights=self.heights
                fixed=question.start_given.then_some(key.truth[0]) given
                truth=view::derived(move || told.get().then(|| truth.clone())) locked/>
        }
        .into_any()
    }

    fn number(self, id: &str, measure: Measure, locked: Signal<bool>) -> AnyView {
        let Input { text, unit, .. } = self;
        let field = format!("{id}-answer");
        view! {
            <div class="ask-answer">
                <label class="sr" for=field.clone()>{t("Your answer")}</label>
                <input class="num" type="text" id=field inputmode="decimal" autocomplete="off" maxlength="60" disabled=locked
                    prop:value=text on:input=move |e| text.set(event_target_value(&e)) aria-describedby=format!("{id}-said")/>
                <select aria-label=t("Unit of your answer") disabled=locked prop:value=unit on:change=move |e| unit.set(event_target_value(&e))>
                    {unit_choices(measure, text_style(false)).into_iter().map(|(value, shown)| view! { <option value=value>{shown}</option> }).collect_view()}
                </select>
            </div>
        }
        .into_any()
    }

    fn words(self, id: &str, at_least: u32, locked: Signal<bool>) -> AnyView {
        let text = self.text;
        let left = move || {
            let written = text.with(|text| text.trim().chars().count());
            let (written, least) = (written.to_string(), at_least.to_string());
            tf("{written} characters; at least {least} are asked for.", &[("written", &written), ("least", &least)])
        };
        view! {
            <textarea rows="4" id=format!("{id}-words") aria-label=t("Your answer in your own words") maxlength="2000" disabled=locked
                prop:value=text on:input=move |e| text.set(event_target_value(&e))></textarea>
            {(at_least > 0).then(|| view! { <p class="hint">{view::text(left)}</p> })}
        }
        .into_any()
    }
}

/// The typed text with the chosen unit, unless a unit was typed as well.
fn with_unit(typed: &str, chosen: &str) -> String {
    let unit_typed = number::read(typed, decimal_sign(), None).is_ok_and(|written| written.measure.is_some());
    if chosen.is_empty() || unit_typed || typed.trim().is_empty() {
        typed.trim().into()
    } else {
        format!("{} {chosen}", typed.trim())
    }
}

/// Units to choose from: none, then every unit of the kind, with its reference where one matters.
fn unit_choices(asked: Measure, style: Style) -> Vec<(String, String)> {
    let mut out = vec![(String::new(), t("unit").to_string())];
    let of_kind = units::UNITS.iter().copied().filter(|u| u.family == asked.unit.family && !u.name.is_empty());
    for unit in of_kind {
        let references: Vec<Option<units::Reference>> = match asked.reference {
            Some(_) => vec![Some(units::Reference::Absolute), Some(units::Reference::Gauge)],
            None => vec![None],
        };
        for reference in references {
            let measure = Measure { unit, reference };
            out.push((measure.to_string(), measure.text(style)));
        }
    }
    out
}
