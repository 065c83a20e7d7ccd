//! Every limit with its margin as a bar: how far there is to go, and what lies beyond.

use super::limits::covers;
use super::slot::Scene;
use crate::describe;
use crate::language::t;
use crate::view;
use crate::words;
use leptos::prelude::*;
use volute_core::reading::LimitName;

/// All limits, in the order of the gas.
const ALL: [LimitName; 9] = [
    LimitName::ShaftSpeed,
    LimitName::SurgeMargin,
    LimitName::ChokeMargin,
    LimitName::CompressorOutletTemperature,
    LimitName::AirFuelRatio,
    LimitName::CylinderPressure,
    LimitName::ExhaustManifoldPressure,
    LimitName::TurbineInletTemperature,
    LimitName::CoolantRise,
];

/// The list.
#[component]
pub fn Margins(scene: Scene, on_term: Callback<&'static str>) -> impl IntoView {
    let Scene { run, units, cover, .. } = scene;
    view! {
        <section class="sheet margin-list" aria-labelledby="margins-h" id="margin-list">
            <h2 id="margins-h">{t(words::LIMITS)}</h2>
            <ul>
                {ALL.map(|name| {
                    let line = view::memo(move || run.with(|r| {
                        if cover.with(|c| covers(name, c)) {
                            return (t(words::COVERED_SHORT).to_string(), 0.0, false);
                        }
                        let limit = r.reading().and_then(|reading| reading.limit(name));
                        limit.map_or((String::from("–"), 0.0, false), |l| {
                            (describe::margin(l, units.get()), describe::used(l), l.crossed)
                        })
                    }));
                    let crossed = view::flag(move || line.with(|l| l.2));
                    let words = words::callout(name);
                    view! {
                        <li class:crossed=crossed>
                            <button type="button" class="term" on:click=move |_| on_term.run(crate::glossary::limit_key(name))>{crate::words::limit_title(name)}</button>
                            <span class="num">{view::text(move || line.with(|l| l.0.clone()))}</span>
                            <span class="bar" aria-hidden="true"><i style=("--x", view::text(move || line.with(|l| l.1.to_string())))></i></span>
                            {view::part(move || line.with(|l| l.2).then(|| view! { <p class="beyond"><b>{words.title}</b>" "{words.consequence}" "{words.next}</p> }))}
                        </li>
                    }
                })}
            </ul>
        </section>
    }
}
