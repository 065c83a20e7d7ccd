//! The first part of a print: settings, changes on the engine, verdict and every reading. It is made when printing begins and
//! removed when printing ends; drawing, plots and limits follow as they stand on the page.

use super::slot::Scene;
use crate::describe::{self, Stamp};
use crate::language::{msg, t, t_any};
use crate::readings::{self, Texts};
use crate::run::{self, Steps};
use crate::state::BenchSettings;
use crate::units::{Quantity, UnitSystem, number};
use crate::view;
use crate::what_ifs::{self, GROUPS, Shown};
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::engine::Engine;
use volute_core::settings::Load;

/// A name and what stands beside it.
type Line = (String, String);

/// What the learner holds.
fn settings(bench: &BenchSettings, units: UnitSystem) -> Vec<Line> {
    let unit = |q: Quantity| units.unit(q);
    let a = &bench.settings.ambient;
    let vane = unit(Quantity::VanePosition).text(bench.settings.vane_open_pct);
    let mut out = vec![
        (t(words::ENGINE).into(), t_any(&bench.engine.title)),
        (t(words::VANE).into(), vane),
        match bench.settings.load {
            Load::Fuel { fuel_kg_per_cycle } => {
                (t(words::LOAD_FUEL).into(), unit(Quantity::FuelPerCycle).text(fuel_kg_per_cycle))
            }
            Load::Torque { torque_n_m } => (t(words::LOAD_TORQUE).into(), unit(Quantity::Torque).text(torque_n_m)),
        },
        (t(words::SPEED).into(), unit(Quantity::EngineSpeed).text(bench.settings.speed_rpm)),
        (
            t(words::AMBIENT).into(),
            format!(
                "{} · {} · {}",
                unit(Quantity::PressureAbs).text(a.p_pa),
                unit(Quantity::Temperature).text(a.t_k),
                unit(Quantity::Share).text(a.relative_humidity)
            ),
        ),
    ];
    if bench.engine.vanes.are_stuck() {
        out.push((t("Vanes stuck at").into(), format!("{} %", number(run::vanes_open_pct(bench), 0))));
    }
    out
}

/// What differs from the engine as it came, and what it was.
fn changes(bench: &BenchSettings, came: &Engine, units: UnitSystem) -> Vec<Line> {
    let own = BenchSettings {
        engine: Arc::new(came.clone()),
        settings: volute_core::settings::Settings { ambient: volute_core::settings::REFERENCE_DAY, ..bench.settings },
        ..bench.clone()
    };
    let text = |part: &what_ifs::WhatIf, of: &BenchSettings| {
        if part.shown == Shown::Switch {
            let on = what_ifs::value(part, of).is_some_and(|v| v > 0.5);
            return String::from(t(if on { msg("yes") } else { msg("no") }));
        }
        what_ifs::slider(part, of, came, units)
            .map_or_else(String::new, |s| format!("{} {}", number(s.value, s.decimals), s.symbol).trim_end().into())
    };
    GROUPS
        .iter()
        .flat_map(|group| group.parts)
        .filter(|part| what_ifs::value(part, bench) != what_ifs::value(part, &own))
        .map(|part| (t(part.label).into(), format!("{} ({} {})", text(part, bench), t("was"), text(part, &own))))
        .collect()
}

/// The first part of a print; nothing on the page otherwise.
#[component]
pub fn PrintSheet(
    scene: Scene,
    came: Signal<Arc<Engine>>,
    steps: Signal<Option<Arc<Steps>>>,
    /// The address with the state in it.
    link: Callback<(), String>,
) -> impl IntoView {
    let Scene { run, units, cover, inks, .. } = scene;
    let printing = view::memo(move || inks.with(|i| i.is_some_and(|i| i.printing)));
    let list = |title: &'static str, lines: Vec<Line>| {
        view! {
            <section>
                <h2>{t(title)}</h2>
                <dl>{lines.into_iter().map(|(name, value)| view! { <div><dt>{name}</dt><dd>{value}</dd></div> }).collect_view()}</dl>
            </section>
        }
    };
    view::part(move || {
        printing.get().then(|| {
            run.with(|run| {
                let units = units.get();
                let changed = came.with(|came| changes(&run.bench, came, units));
                let covered = cover.with(|c| !c.is_off());
                let verdict = steps.with(|s| describe::verdict(&run.sight(s.as_deref()), units));
                let said = if covered {
                    t(words::COVERED).to_string()
                } else {
                    format!("{}. {} {}", verdict.stamp.word(), verdict.lead, verdict.rest)
                };
                // Where no point holds, the values shown are of another point. The stamp says so, and the print leaves them out.
                let lines: Vec<Line> =
                    run.reading().filter(|_| verdict.stamp != Stamp::NoPoint).map_or_else(Vec::new, |r| {
                        let shown = readings::ENTRIES.iter().filter(|e| !cover.with(|c| c.hides(e.key)));
                        shown.map(|e| (t(e.title).to_string(), e.text(r, units))).collect()
                    });
                view! {
                    <section class="print-sheet" id="print">
                        <h1>{words::NAME}", "{t("state of the bench")}</h1>
                        {list(words::SETTINGS, settings(&run.bench, units))}
                        {(!changed.is_empty()).then(|| list(words::WHAT_IFS, changed))}
                        <section><h2>{t(words::VERDICT)}</h2><p>{said}</p></section>
                        {(!lines.is_empty()).then(|| list(msg("Readings"), lines))}
                        <p class="print-link">{t("This state opens at:")}" "{link.run(())}</p>
                    </section>
                }
            })
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_print_names_what_is_held_and_what_is_changed() {
        let mut bench = BenchSettings::open();
        let came = bench.engine.clone();
        assert!(changes(&bench, &came, UnitSystem::Si).is_empty());
        let lines = settings(&bench, UnitSystem::Si);
        assert_eq!(lines[1], ("Vane position".into(), "50 % open".into()));
        assert_eq!(lines.len(), 5);
        let mut engine = (*came).clone();
        engine.set("vanes.stuck", 1.0).unwrap();
        engine.set("vanes.stuck_open_pct", 30.0).unwrap();
        bench.engine = Arc::new(engine);
        bench.settings.ambient.set("ambient.p_pa", 9.0e4).unwrap();
        let changed = changes(&bench, &came, UnitSystem::Si);
        assert_eq!(settings(&bench, UnitSystem::Si)[5].1, "30 %");
        let of = |name: &str| changed.iter().find(|c| c.0.contains(name)).map(|c| c.1.as_str());
        assert_eq!(of("Vanes stuck"), Some("yes (was no)"));
        assert!(changed.iter().any(|c| c.1.contains("90") && c.1.contains("(was 100")), "{changed:?}");
        assert_eq!(changed.len(), 3, "{changed:?}");
    }
}
