//! What-ifs: air, engine and turbocharger changed in place, group by group.

use crate::holds::{Holds, Reach};
use crate::language::t;
use crate::refusals::Says;
use crate::state::BenchSettings;
use crate::units::{self, UnitSystem, number};
use crate::view;
use crate::what_ifs::{self, GROUPS, Group, Shown, Slider, WhatIf};
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::engine::Engine;
use volute_core::settings::{Load, Settings};

/// The panel.
#[component]
pub fn WhatIfs(
    bench: Signal<BenchSettings>,
    /// The engine as it came.
    came: Signal<Arc<Engine>>,
    units: Signal<UnitSystem>,
    holds: Signal<Holds>,
    on_change: Callback<BenchSettings>,
    on_fault: Callback<String>,
) -> impl IntoView {
    let shown = view::memo(move || bench.with(without_point));
    let apply = Callback::new(move |next: Result<BenchSettings, String>| match next {
        Ok(next) => on_change.run(next),
        Err(e) => on_fault.run(e),
    });
    view! {
        <section class="sheet what-ifs" aria-labelledby="what-ifs-h" id="what-ifs">
            <h2 id="what-ifs-h">{t(words::WHAT_IFS)}</h2>
            {view::part(move || {
                // Another engine has other parts to move; another stage of a lesson frees other parts.
                came.track();
                let holds = holds.get();
                let keys = GROUPS.iter().flat_map(|g| g.parts.iter().map(|p| p.key));
                if holds.holds_all(keys) && holds.altitude() == Reach::Held {
                    return view! { <p class="quiet">{t(words::HELD)}</p> }.into_any();
                }
                GROUPS.iter().map(|group| group_view(group, bench, shown, came, units, &holds, apply)).collect_view().into_any()
            })}
        </section>
    }
}

/// The bench as far as what-ifs show it: without speed, load and vanes, so that moving those changes nothing here.
fn without_point(bench: &BenchSettings) -> BenchSettings {
    let still = Settings {
        speed_rpm: 0.0,
        load: Load::Torque { torque_n_m: 0.0 },
        vane_open_pct: 0.0,
        ambient: bench.settings.ambient,
    };
    BenchSettings { settings: still, ..bench.clone() }
}

fn group_view(
    group: &'static Group,
    bench: Signal<BenchSettings>,
    shown: Memo<BenchSettings>,
    came: Signal<Arc<Engine>>,
    units: Signal<UnitSystem>,
    holds: &Holds,
    apply: Callback<Result<BenchSettings, String>>,
) -> AnyView {
    let parts: Vec<&'static WhatIf> = bench.with_untracked(|b| {
        came.with_untracked(|came| {
            let free = |part: &&WhatIf| holds.part(part.key) != Reach::Held;
            group
                .parts
                .iter()
                .filter(free)
                .filter(|part| what_ifs::slider(part, b, came, UnitSystem::Si).is_some())
                .collect()
        })
    });
    let altitude_reach = if group.id == "weather" { holds.altitude() } else { Reach::Held };
    if parts.is_empty() && altitude_reach == Reach::Held {
        return ().into_any();
    }
    // A group cannot be set back as a whole where a lesson frees only a part of it.
    let whole = parts.len() == group.parts.len() || holds.engine();
    let changed = view::memo(move || shown.with(|b| came.with(|came| what_ifs::changed(group, b, came))));
    let reset = move |_| {
        let next = bench.with_untracked(|b| came.with_untracked(|came| what_ifs::reset(group, b, came)));
        apply.run(Ok(next));
    };
    view! {
        <details class="what-ifs-group" data-group=group.id>
            <summary>
                <span>{t(group.name)}</span>
                <span class="what-ifs-changed">{view::text(move || if changed.get() { t("changed") } else { "" })}</span>
            </summary>
            <p class="quiet">{t(group.says)}</p>
            {(altitude_reach != Reach::Held).then(|| altitude(bench, units, altitude_reach, apply))}
            {parts.into_iter().map(|part| knob(part, bench, shown, came, units, holds.part(part.key), apply)).collect_view()}
            {whole.then(|| view! {
                <button type="button" disabled=view::flag(move || !changed.get()) on:click=reset>
                    {t("As it came")}<span class="sr">{format!(": {}", t(group.name))}</span>
                </button>
            })}
        </details>
    }
    .into_any()
}

/// Pressure and temperature of the standard atmosphere at an altitude.
fn altitude(
    bench: Signal<BenchSettings>,
    units: Signal<UnitSystem>,
    reach: Reach,
    apply: Callback<Result<BenchSettings, String>>,
) -> impl IntoView {
    let at = RwSignal::new(0.0);
    let slide = move |event: leptos::ev::Event| {
        if let Some(shown) = units::parse(&event_target_value(&event)) {
            at.set(shown);
            let m = reach.hold(what_ifs::altitude_m(units.get_untracked(), shown));
            apply.run(bench.with_untracked(|b| what_ifs::at_altitude(b, m)).map_err(|e| e.says()));
        }
    };
    let slider = view::derived(move || {
        let whole = Slider { value: at.get(), ..what_ifs::altitude(units.get()) };
        let m = what_ifs::altitude_m(units.get(), 1.0);
        match reach {
            Reach::Within(min, max) => whole.narrowed(min / m, max / m),
            _ => whole,
        }
    });
    row("what-altitude", t("Standard atmosphere at an altitude of"), slider, slide)
}

fn knob(
    part: &'static WhatIf,
    bench: Signal<BenchSettings>,
    shown: Memo<BenchSettings>,
    came: Signal<Arc<Engine>>,
    units: Signal<UnitSystem>,
    reach: Reach,
    apply: Callback<Result<BenchSettings, String>>,
) -> AnyView {
    let id = format!("what-{}", part.key.replace(['.', '_'], "-"));
    let put = move |si: f64| {
        apply.run(bench.with_untracked(|b| what_ifs::with(part, b, reach.hold(si))).map_err(|e| e.says()));
    };
    if part.shown == Shown::Switch {
        let on = view::flag(move || shown.with(|b| what_ifs::value(part, b)).is_some_and(|v| v > 0.5));
        return view! {
            <label class="switch">
                <input type="checkbox" id=id prop:checked=on on:change=move |event| put(if event_target_checked(&event) { 1.0 } else { 0.0 })/>
                {t(part.label)}
            </label>
        }
        .into_any();
    }
    let blank = Slider { value: 0.0, min: 0.0, max: 1.0, step: 1.0, decimals: 0, symbol: "", spoken: "" };
    let slider = view::memo(move || {
        let units = units.get();
        let whole = shown.with(|b| came.with(|came| what_ifs::slider(part, b, came, units)));
        let ends = match reach {
            Reach::Within(min, max) => came.with(|came| what_ifs::ends(part, came, units, min, max)),
            _ => None,
        };
        match (whole, ends) {
            (Some(whole), Some((low, high))) => whole.narrowed(low, high),
            (whole, _) => whole.unwrap_or(blank),
        }
    });
    let slide = move |event: leptos::ev::Event| {
        let shown = units::parse(&event_target_value(&event));
        let si = shown.and_then(|v| came.with_untracked(|came| what_ifs::si(part, came, units.get_untracked(), v)));
        if let Some(si) = si {
            put(si);
        }
    };
    row(&id, t(part.label), slider.into(), slide)
}

/// Label, slider and value.
fn row(
    id: &str,
    label: &'static str,
    slider: Signal<Slider>,
    slide: impl FnMut(leptos::ev::Event) + 'static,
) -> AnyView {
    let text = move |s: Slider| {
        let n = number(s.value, s.decimals);
        if s.symbol.is_empty() { n } else { format!("{n} {}", s.symbol) }
    };
    view! {
        <div class="what-ifs-knob">
            <label for=id.to_string()>{label}</label>
            <output for=id.to_string()>{view::text(move || text(slider.get()))}</output>
            <input type="range" id=id.to_string()
                min=view::text(move || slider.get().min.to_string()) max=view::text(move || slider.get().max.to_string())
                step=view::text(move || slider.get().step.to_string()) prop:value=view::text(move || slider.get().value.to_string())
                aria-valuetext=view::text(move || { let s = slider.get(); format!("{} {}", number(s.value, s.decimals), s.spoken) })
                on:input=slide/>
        </div>
    }    .into_any()
}
