//! Limits and margins in one line; a safety callout where one is crossed.

use crate::cover::Cover;
use crate::describe;
use crate::language::t;
use crate::run::Run;
use crate::units::UnitSystem;
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::reading::{LimitName, LimitReading, Outcome, Reading};

/// The margins that the quiet strip shows: those that a vane or a load moves most.
const STRIP: [LimitName; 5] = [
    LimitName::ShaftSpeed,
    LimitName::SurgeMargin,
    LimitName::CylinderPressure,
    LimitName::TurbineInletTemperature,
    LimitName::AirFuelRatio,
];

/// A callout as shown.
#[derive(Debug, Clone, PartialEq)]
struct Notice {
    title: &'static str,
    rest: String,
}

/// Limits that need a callout, the gravest first.
fn notices(run: &Run, cover: &Cover) -> Vec<Notice> {
    let of = |name: LimitName| {
        let c = words::callout(name);
        Notice { title: c.title, rest: format!("{} {}", c.consequence, c.next) }
    };
    if run.outcome == Some(Outcome::Surge) {
        return vec![of(LimitName::SurgeMargin)];
    }
    let Some(reading) = run.reading().filter(|_| run.holds) else { return Vec::new() };
    let mut crossed: Vec<&LimitReading> = Vec::new();
    for limit in reading.limits.iter().filter(|l| l.crossed && !covers(l.name, cover)) {
        crossed.insert(crossed.partition_point(|l| l.margin <= limit.margin), limit);
    }
    let mut out: Vec<Notice> = crossed.into_iter().map(|l| of(l.name)).collect();
    if reading.outcome == Outcome::Overspeed
        && !covers(LimitName::ShaftSpeed, cover)
        && !out.iter().any(|n| *n == of(LimitName::ShaftSpeed))
    {
        out.insert(0, of(LimitName::ShaftSpeed));
    }
    out.extend(describe::unstable(reading).map(|rest| Notice { title: t("Unsteady."), rest: rest.into() }));
    out
}

/// Whether a lesson covers the quantity that a limit watches.
pub fn covers(limit: LimitName, cover: &Cover) -> bool {
    match limit {
        LimitName::ShaftSpeed => cover.hides("shaft"),
        LimitName::SurgeMargin => cover.hides("surge_margin"),
        LimitName::ChokeMargin => cover.hides("choke_margin"),
        LimitName::TurbineInletTemperature => cover.hides("t3"),
        LimitName::CompressorOutletTemperature => cover.hides("t2"),
        LimitName::CylinderPressure => cover.hides("peak_pressure"),
        LimitName::ExhaustManifoldPressure => cover.hides("p3"),
        LimitName::AirFuelRatio => cover.hides("afr"),
        LimitName::CoolantRise => cover.hides("coolant_rise"),
    }
}

/// The margins beside it.
fn margins(reading: &Reading, hot: bool, units: UnitSystem, cover: &Cover) -> Vec<(&'static str, String)> {
    let wanted = |l: &&LimitReading| !covers(l.name, cover) && if hot { l.crossed } else { STRIP.contains(&l.name) };
    reading.limits.iter().filter(wanted).map(|l| (words::limit_name(l.name), describe::margin(l, units))).collect()
}

/// The strip.
#[component]
pub fn Limits(run: Signal<Arc<Run>>, units: Signal<UnitSystem>, cover: Signal<Cover>) -> impl IntoView {
    let hot = view::memo(move || run.with(|run| cover.with(|c| notices(run, c))));
    let calm = view::memo(move || hot.with(|h| h.is_empty()));
    let beside = move || {
        run.with(|run| {
            run.reading().map(|r| cover.with(|c| margins(r, !calm.get(), units.get(), c))).unwrap_or_default()
        })
    };
    // Where a lesson covers all of it, the strip says so.
    let bare = view::memo(move || !cover.with(Cover::is_off) && calm.get() && beside().is_empty());
    let quiet = view::memo(move || cover.with(Cover::is_off) && calm.get() && run.with(|run| run.holds));
    view! {
        <section class="sheet limits" id="limits" aria-label=t("Nearest limits") class:hot=view::flag(move || !calm.get())>
            {view::part(move || bare.get().then(|| view! { <p>{t(words::COVERED)}</p> }))}
            {view::part(move || quiet.get().then(|| view! { <p><b>{t("No limit reached.")}</b></p> }))}
            {view::part(move || hot.get().into_iter().map(|notice| view! {
                <p class="limits-head">
                    <svg viewBox="0 0 22 20" aria-hidden="true">
                        <path d="M11 1.5 21 18.5H1ZM11 7v6M11 14.8v2" fill="none" stroke="currentColor" stroke-width="1.8"></path>
                    </svg>
                    <span><b>{notice.title}</b>" "{notice.rest}</span>
                </p>
            }).collect_view())}
            <div class="limits-margins">{view::part(move || beside().into_iter().map(|(name, text)| view! { <p>{name}" "<b>{text}</b></p> }).collect_view())}</div>
        </section>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_every_limit_has_its_words() {
        for name in [
            LimitName::ShaftSpeed,
            LimitName::SurgeMargin,
            LimitName::ChokeMargin,
            LimitName::TurbineInletTemperature,
            LimitName::CompressorOutletTemperature,
            LimitName::CylinderPressure,
            LimitName::ExhaustManifoldPressure,
            LimitName::AirFuelRatio,
            LimitName::CoolantRise,
        ] {
            let c = words::callout(name);
            for text in [c.title, c.consequence, c.next] {
                assert!(text.ends_with('.') && text.len() > 10, "{name:?}: {text}");
            }
        }
    }
}
