//! Every limit with its margin as a bar: how far there is to go, and what lies beyond.

use super::limits::covers;
use super::slot::Scene;
use crate::cover::Cover;
use crate::describe;
use crate::glossary;
use crate::language::t;
use crate::units::UnitSystem;
use crate::view;
use crate::words;
use leptos::prelude::*;
use volute_core::point::reading::{LimitName, LimitReading, Reading};

/// A row of the list.
#[derive(Clone, Copy)]
enum Row {
    Limit(LimitName),
    /// The limit of the shaft's speed again, as the tip speed of the wheel.
    TipSpeed,
}

/// All limits, in the order of the gas.
const ROWS: [Row; 10] = [
    Row::Limit(LimitName::ShaftSpeed),
    Row::TipSpeed,
    Row::Limit(LimitName::SurgeMargin),
    Row::Limit(LimitName::ChokeMargin),
    Row::Limit(LimitName::CompressorOutletTemperature),
    Row::Limit(LimitName::AirFuelRatio),
    Row::Limit(LimitName::CylinderPressure),
    Row::Limit(LimitName::ExhaustManifoldPressure),
    Row::Limit(LimitName::TurbineInletTemperature),
    Row::Limit(LimitName::CoolantRise),
];

impl Row {
    fn limit(self) -> LimitName {
        match self {
            Row::Limit(name) => name,
            Row::TipSpeed => LimitName::ShaftSpeed,
        }
    }

    fn is_covered(self, cover: &Cover) -> bool {
        covers(self.limit(), cover) || (matches!(self, Row::TipSpeed) && cover.hides("tip_speed"))
    }

    fn title(self) -> &'static str {
        match self {
            Row::Limit(name) => words::limit_title(name),
            Row::TipSpeed => t("Tip speed"),
        }
    }

    /// What explains it.
    fn term(self) -> &'static str {
        match self {
            Row::Limit(name) => glossary::limit_key(name),
            Row::TipSpeed => "tip_speed",
        }
    }

    fn text(self, limit: &LimitReading, reading: &Reading, units: UnitSystem) -> Option<String> {
        match self {
            Row::Limit(_) => Some(describe::margin(limit, units)),
            Row::TipSpeed => describe::tip_margin(reading, units),
        }
    }

    /// The callout where it is crossed.
    fn beyond(self) -> impl IntoView {
        let callout = words::callout(self.limit());
        let rest = match self {
            Row::Limit(_) => format!("{} {}", callout.consequence, callout.next),
            Row::TipSpeed => t("The same limit as that of the shaft speed, as the wheel feels it.").into(),
        };
        view! { <p class="margin-list-beyond"><b>{callout.title}</b>" "{rest}</p> }
    }
}

/// The list.
#[component]
pub fn Margins(scene: Scene, on_term: Callback<&'static str>) -> impl IntoView {
    let Scene { run, units, cover, .. } = scene;
    view! {
        <section class="sheet margin-list" aria-labelledby="margins-h" id="margin-list">
            <h2 id="margins-h">{t(words::LIMITS)}</h2>
            <ul>
                {ROWS.map(|row| {
                    let name = row.limit();
                    let line = view::memo(move || run.with(|r| {
                        if cover.with(|c| row.is_covered(c)) {
                            return (t(words::COVERED_SHORT).to_string(), 0.0, false);
                        }
                        let limit = r.reading().and_then(|reading| Some((reading.limit(name)?, reading)));
                        let told = limit.and_then(|(l, reading)| Some((row.text(l, reading, units.get())?, describe::used(l), l.crossed)));
                        told.unwrap_or((String::from("–"), 0.0, false))
                    }));
                    let crossed = view::flag(move || line.with(|l| l.2));
                    view! {
                        <li class:crossed=crossed>
                            <button type="button" class="term" on:click=move |_| on_term.run(row.term())>{row.title()}</button>
                            <span class="num">{view::text(move || line.with(|l| l.0.clone()))}</span>
                            <span class="margin-list-bar" aria-hidden="true"><i style=("--x", view::text(move || line.with(|l| l.1.to_string())))></i></span>
                            {view::part(move || line.with(|l| l.2).then(|| row.beyond()))}
                        </li>
                    }
                })}
            </ul>
        </section>
    }
}
