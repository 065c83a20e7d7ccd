//! What the bench says, once a prediction is locked: prose, two states side by side with their ledger, and curves with the
//! learner's own laid over them.

use super::curve_names::{axis_along, decimals, quantity_name, short_name, side, symbol};
use super::session::Session;
use super::study::Study;
use crate::describe;
use crate::language::{t, t_any, tf};
use crate::plots::axis::Axis;
use crate::plots::chart::{Chart, Panel, Series, Style};
use crate::plots::figure::Plot;
use crate::units::{Quantity as Shown, UnitSystem, number, signed};
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::views::ledger::{Currency, ledger};
use volute_lessons::curves::CurveKind;
use volute_lessons::expr;
use volute_lessons::lesson::{CurveRef, Question, Reveal, SketchQuestion};
use volute_lessons::mark::Answer;
use volute_lessons::paths::{Quantity, quantity, run_quantity};
use volute_lessons::sketch;
use volute_lessons::units::{Family, Measure, Unit};
use volute_quantities::Kind;
use volute_quantities::kinds::Counts;
use volute_quantities::units as table;

/// What two states differ in, as far as a row says something.
const ROWS: [&str; 10] =
    ["boost", "p2", "p3", "balance", "pumping_torque", "torque", "fuel_flow", "air_flow", "t3", "shaft"];

/// The unit in which lessons speak of a kind of number: that of the page, but for flows, which shall stand beside a fuel balance,
/// and for differences of temperature.
fn unit_of(kind: Kind, customary: bool) -> &'static Unit {
    let unit = match kind {
        Kind::VaneShare => &table::PERCENT,
        _ if kind.family() == Family::MassFlow => &table::KG_H,
        _ if kind.family() == Family::Temperature && kind.counts() == Counts::Between => &table::KELVIN,
        _ => kind.shown(false).unit,
    };
    if customary { unit.customary } else { unit }
}

fn kind_of(of: &CurveRef) -> Option<Kind> {
    match of.kind {
        CurveKind::Sweep => quantity(of.quantity).map(|q| q.kind),
        CurveKind::Run => run_quantity(of.quantity).map(|q| q.kind),
    }
}

/// The curves of a reveal as a chart, one panel for each kind of quantity; the learner's own sketch in its panel. Long because
/// panels, curves and sketch share their axes.
fn chart(
    session: &Session,
    reveal: &Reveal,
    own: Option<(&SketchQuestion, &sketch::Sketch)>,
    system: UnitSystem,
) -> Option<Chart> {
    let customary = system == UnitSystem::Customary;
    let mut panels: Vec<(&'static str, Panel, Vec<f64>)> = Vec::new();
    let mut along = None;
    for of in &reveal.plot {
        let (Ok(curve), Some(kind)) = (session.worked.curve(of), kind_of(of)) else { continue };
        let ends = (*curve.x.first()?, *curve.x.last()?);
        let x_axis = axis_along(of, &session.worked, ends);
        let x_unit = session.worked.sweeps.get(&of.of).filter(|_| of.kind == CurveKind::Sweep).map(|s| s.unit);
        let unit = unit_of(kind, customary);
        let value = |si: f64| if of.is_point() { unit.of_si(si) } else { unit.difference_of_si(si) };
        let points: Vec<(f64, f64)> =
            curve.points().map(|(x, y)| (x_unit.map_or(x, |u| u.of_si(x)), value(y))).collect();
        let style = match side(of.quantity) {
            "in" => Style::Intake,
            "ex" => Style::Exhaust,
            _ => Style::Ink,
        };
        let shown = symbol(unit, kind.reference());
        let several = reveal.plot.iter().any(|other| other.quantity == of.quantity && other.of != of.of);
        let name = if several { format!("{}, {}", short_name(of), of.of.replace('_', " ")) } else { short_name(of) };
        let place = match panels.iter().position(|p| p.0 == shown) {
            Some(place) => place,
            None => {
                panels.push((shown, Panel::new(Axis::new(quantity_name(of), shown, 0.0, 1.0, 0)), Vec::new()));
                panels.len() - 1
            }
        };
        let (_, panel, heights) = &mut panels[place];
        heights.extend(points.iter().map(|p| p.1));
        if !panel.series.is_empty() {
            panel.y.name = family_name(kind.family());
        }
        // A second line of the same look could not be told from the first.
        let taken = panel.series.iter().any(|s| s.style == style);
        panel.series.push(Series::new(name, if taken { Style::Chain } else { style }, points));
        if let Some((question, drawn)) = own.filter(|(question, _)| question.of == *of) {
            let along = |share: f64| x_axis.from + (x_axis.to - x_axis.from) * share;
            let points: Vec<_> = heights_si(question, drawn).map(|(share, si)| (along(share), value(si))).collect();
            heights.extend(points.iter().map(|p| p.1));
            panel.series.push(Series::new(t("yours"), Style::Pin, points));
        }
        along.get_or_insert(x_axis);
    }
    let x_axis = along?;
    let (low, high) = (x_axis.from.min(x_axis.to), x_axis.from.max(x_axis.to));
    let of = reveal.plot.first()?;
    let swept = session.worked.sweeps.get(&of.of).filter(|_| of.kind == CurveKind::Sweep);
    let unit = swept.map_or("s", |sweep| symbol(sweep.unit, None));
    let panels = panels.into_iter().map(|(shown, panel, heights)| {
        let span = heights.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b))
            - heights.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        let y = Axis::around(panel.y.name.clone(), shown, heights.iter().copied(), decimals(span));
        Panel { y, ..panel }
    });
    Some(Chart { x: Axis::new(x_axis.name, unit, low, high, x_axis.decimals), panels: panels.collect(), cursor: None })
}

/// A drawn curve: shares of the axis, and the values there in SI.
fn heights_si(question: &SketchQuestion, drawn: &sketch::Sketch) -> impl Iterator<Item = (f64, f64)> {
    let (unit, is_point, steps) = (question.measure.unit, question.of.is_point(), drawn.heights());
    let (low, size) = (question.low, question.high - question.low);
    (0..sketch::POINTS).map(move |i| {
        let asked = low + steps[i] * size;
        (sketch::share(i), if is_point { unit.to_si(asked) } else { unit.difference_to_si(asked) })
    })
}

fn family_name(family: Family) -> String {
    match family {
        Family::Pressure => t("pressure").into(),
        Family::Temperature => t("temperature").into(),
        Family::Torque => t("torque").into(),
        Family::MassFlow => t("flow").into(),
        Family::Mass => t("fuel per injection").into(),
        _ => String::new(),
    }
}

/// The reveal.
#[component]
pub fn RevealView(study: Study, session: Session, reveal: &'static Reveal, index: usize) -> impl IntoView {
    let (for_table, for_chart) = (session.clone(), session.clone());
    let own = move || {
        let predict = for_chart.lesson.predictions().find(|p| p.id == reveal.after)?;
        let Question::Sketch(question) = &predict.question else { return None };
        match study.progress.with(|p| p.locked(&reveal.after).cloned())? {
            Answer::Sketch(drawn) => Some((question, drawn)),
            _ => None,
        }
    };
    let plotted = session.clone();
    let drawn = view::memo(move || {
        let own = own();
        chart(&plotted, reveal, own.as_ref().map(|(q, s)| (*q, s)), study.units.get())
    });
    let has_plot = !reveal.plot.is_empty() && drawn.with_untracked(Option::is_some);
    let shown = view::derived(move || {
        Arc::new(drawn.get().unwrap_or_else(|| {
            Chart::single(Axis::new("", "", 0.0, 1.0, 0), Panel::new(Axis::new("", "", 0.0, 1.0, 0)))
        }))
    });
    let sentence = view::derived(move || {
        shown.with(|c| {
            let ends = c.panels.iter().flat_map(|p| p.series.iter().map(move |s| (p, s))).filter_map(|(p, s)| {
                let run = s.runs.first()?;
                let (first, last) = (run.first()?, run.last()?);
                Some(tf(
                    "{name}: {from} to {to}",
                    &[("name", &s.name), ("from", &number(first.1, p.y.decimals)), ("to", &p.y.text(last.1))],
                ))
            });
            format!("{}.", ends.collect::<Vec<_>>().join("; "))
        })
    });
    view! {
        <section class="reply reveal" data-reveal=reveal.after.clone() aria-label=t("What the bench says")>
            {view::part(move || study.prose(&reveal.text, &session))}
            {has_plot.then(|| {
                let title = Signal::stored(t("The bench's curves").to_string());
                let head = view! { <h3>{t("The bench's curves")}</h3> }.into_any();
                view! { <Plot id=plot_id(index) title head chart=shown sentence covered=Signal::stored(false) inks=study.inks/> }
            })}
            {view::part(move || compare(study, &for_table, reveal))}
        </section>
    }
}

/// Hooks for the plots of a lesson: more than a handful of reveals it has not.
fn plot_id(index: usize) -> &'static str {
    const IDS: [&str; 8] =
        ["reveal-1", "reveal-2", "reveal-3", "reveal-4", "reveal-5", "reveal-6", "reveal-7", "reveal-8"];
    IDS[index % IDS.len()]
}

/// Two states side by side, and where the torque or the fuel went from one to the other: straight from the core.
fn compare(study: Study, session: &Session, reveal: &Reveal) -> Option<AnyView> {
    let (from, to) = reveal.compare.as_ref()?;
    let (a, b) = (session.worked.readings.get(from)?, session.worked.readings.get(to)?);
    let system = study.units.get();
    let style = study.style();
    let head = |r: &volute_core::point::reading::Reading| {
        tf("vanes {percent} %", &[("percent", &number(r.settings.vane_open_pct, 0))])
    };
    let print = |q: &Quantity, si: f64| {
        let unit = unit_of(q.kind, false);
        let places = if matches!(q.key, "pumping_torque" | "fuel_flow") { 1 } else { unit.decimals };
        expr::in_print(si, Measure { unit, reference: q.reference() }, q.is_point(), Some(places), style)
    };
    let both = if a.settings.vane_open_pct == b.settings.vane_open_pct {
        [from.replace('_', " "), to.replace('_', " ")]
    } else {
        [head(a), head(b)]
    };
    let rows = ROWS.iter().filter_map(|name| quantity(name)).filter(|_| a.holds && b.holds).map(|q| {
        let (x, y) = ((q.of)(a), (q.of)(b));
        view! { <tr><th scope="row">{t_any(q.about())}</th><td class="num">{print(q, x)}</td><td class="num">{print(q, y)}</td></tr> }
    });
    let book = (a.holds && b.holds).then(|| ledger(a, b));
    let account = book.map(|book| {
        let (what, quantity) = match book.currency {
            Currency::Torque => (t("Where the torque went"), Shown::TorqueFine),
            Currency::Fuel => (t("Where the fuel went"), Shown::FuelFlowFine),
        };
        let unit = system.unit(quantity);
        let amount = |part: f64| format!("{} {}", signed(unit.shown(part), unit.decimals), unit.symbol);
        let lines = book.rows.iter().map(|row| {
            view! { <tr><th scope="row">{describe::ledger_entry(row.entry, book.currency)}</th><td class="num">{amount(row.part)}</td></tr> }
        });
        view! {
            <table class="reveal-compare">
                <caption>{what}</caption>
                <tbody>
                    {lines.collect_view()}
                    <tr class="sum"><th scope="row">{t("together")}</th><td class="num">{amount(book.to - book.from)}</td></tr>
                </tbody>
            </table>
        }
    });
    Some(
        view! {
            <table class="reveal-compare">
                <caption class="sr">{t("The two states side by side")}</caption>
                <thead><tr><td></td>{both.map(|h| view! { <th scope="col">{h}</th> })}</tr></thead>
                <tbody>{rows.collect_view()}</tbody>
            </table>
            {account}
        }
        .into_any(),
    )
}
