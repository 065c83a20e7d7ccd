//! What 5 % more or less vane would do, at the same fuel and at the same torque: the verdict's numbers in full.

use super::slot::Scene;
use crate::describe;
use crate::language::{msg, t, tf};
use crate::readings::{self, Entry, Texts};
use crate::run::Steps;
use crate::units::{Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::reading::Reading;
use volute_core::settings::Load;

/// Readings that are told of a step, by their keys.
const ROWS: [&str; 8] = ["torque", "fuel_flow", "boost", "p3", "balance", "pumping_torque", "t3", "afr"];

/// A step to one side.
#[derive(Debug, Clone, PartialEq)]
struct Step {
    /// How far, in words.
    title: String,
    /// What is held in each column.
    held: Vec<&'static str>,
    /// Name of a row, and its change in each column.
    rows: Vec<(&'static str, Vec<String>)>,
}

fn step(
    says: &'static str,
    now: &Reading,
    columns: &[(&'static str, Option<&Reading>)],
    units: UnitSystem,
) -> Option<Step> {
    let asked: Vec<(&'static str, &Reading)> = columns.iter().filter_map(|(name, r)| r.map(|r| (*name, r))).collect();
    let by = asked.first()?.1.settings.vane_open_pct - now.settings.vane_open_pct;
    let cells = |of: &dyn Fn(&Reading) -> String| asked.iter().map(|(_, r)| of(r)).collect::<Vec<_>>();
    let change = |entry: &Entry| {
        // A step changes these by little, so they have a digit more than elsewhere.
        let kind = match entry.kind {
            Quantity::Torque => Quantity::TorqueFine,
            Quantity::FuelFlow => Quantity::FuelFlowFine,
            other => other,
        };
        let entry = Entry { kind, ..*entry };
        let cell = |r: &Reading| if r.holds { entry.change(now, r, units) } else { t("no point holds").into() };
        (t(entry.title), cells(&cell))
    };
    let mut rows: Vec<_> = ROWS.iter().filter_map(|key| readings::find(key)).map(change).collect();
    let passes = |r: &Reading| describe::breaks(now, r).map_or(t("none"), words::limit_in_words).to_string();
    rows.push((t("passes the limit of"), cells(&passes)));
    Some(Step { title: tf(says, &[("step", &number(by.abs(), 0))]), held: asked.iter().map(|a| a.0).collect(), rows })
}

/// The sheet.
#[component]
pub fn NextSteps(scene: Scene, steps: Signal<Option<Arc<Steps>>>) -> impl IntoView {
    let Scene { run, units, cover, .. } = scene;
    // It is made when the steps are known, and not for every movement before that.
    let told = view::memo(move || {
        let (steps, units) = (steps.get(), units.get());
        run.with_untracked(|run| {
            let (steps, now) = (steps.filter(|s| s.bench == run.bench)?, run.reading().filter(|_| run.holds)?);
            let sight = run.sight(Some(&steps));
            let (held, other) = (steps.held.sight(), steps.other.sight());
            let at_fuel = matches!(run.bench.settings.load, Load::Fuel { .. });
            let matched = now.outcome == volute_core::point::reading::Outcome::Matched;
            let (first, second) = match (at_fuel, matched) {
                (true, _) => (t(words::AT_THIS_FUEL), t(words::AT_THIS_TORQUE)),
                (false, true) => (t(words::AT_THIS_TORQUE), t(words::AT_THIS_FUEL)),
                (false, false) => (t("within the limit"), t(words::AT_THIS_FUEL)),
            };
            let sides = [
                (msg("{step} % tighter"), held.tighter, other.tighter),
                (msg("{step} % wider"), held.wider, other.wider),
            ];
            let sides = sides.map(|(says, a, b)| step(says, now, &[(first, a), (second, b)], units));
            Some((describe::limits_now(&sight, now, units), sides.into_iter().flatten().collect::<Vec<_>>()))
        })
    });
    let moving = view::memo(move || {
        run.with(|run| steps.with(|s| s.as_ref().is_none_or(|s| s.bench != run.bench)) || !run.holds)
    });
    view! {
        <section class="sheet next-steps" aria-labelledby="next-h" id="next-steps" class:moving=moving>
            <h2 id="next-h">{t(words::NEXT_STEPS)}</h2>
            {view::part(move || {
                if cover.with(|c| !c.is_off()) {
                    return view! { <p class="quiet">{t(words::COVERED)}</p> }.into_any();
                }
                let Some((limit, sides)) = told.get() else {
                    let why = if run.with(|r| r.holds) { t("Told once the bench has come to rest.") } else { t("At these settings no point holds, so there is none to step from.") };
                    return view! { <p class="quiet">{why}</p> }.into_any();
                };
                view! {
                    <p class="read">{limit}</p>
                    <div class="next-steps-two">
                        {sides.into_iter().map(|side| view! {
                            <table class="ledger">
                                <caption>{side.title}</caption>
                                <thead><tr>
                                    <th scope="col">{t("what changes")}</th>
                                    {side.held.into_iter().map(|held| view! { <th scope="col">{held}</th> }).collect_view()}
                                </tr></thead>
                                <tbody>
                                    {side.rows.into_iter().map(|(name, cells)| view! {
                                        <tr><th scope="row">{name}</th>{cells.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr>
                                    }).collect_view()}
                                </tbody>
                            </table>
                        }).collect_view()}
                    </div>
                }.into_any()
            })}
        </section>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run;
    use crate::state::BenchSettings;

    #[test]
    fn identity_held_is_held_and_what_changes_is_what_core_answers() {
        for name in ["harbour-six", "van-four"] {
            let bench = BenchSettings::built_in(name).unwrap();
            let run = run::point(&bench, None);
            let now = run.reading().unwrap();
            let steps = run::steps(&run);
            for (at_fuel, at_torque) in
                [(&steps.held.tighter, &steps.other.tighter), (&steps.held.wider, &steps.other.wider)]
            {
                let (fuel, torque) = (&at_fuel.as_ref().unwrap().reading, &at_torque.as_ref().unwrap().reading);
                assert!((fuel.fuel_flow_kg_s / now.fuel_flow_kg_s - 1.0).abs() < 1e-9, "{name}: the fuel moved");
                assert!(
                    (torque.brake.torque_n_m / now.brake.torque_n_m - 1.0).abs() < 1e-3,
                    "{name}: the torque moved"
                );
                // A step that costs torque at the same fuel costs fuel at the same torque.
                let (won, more) =
                    (fuel.brake.torque_n_m - now.brake.torque_n_m, torque.fuel_flow_kg_s - now.fuel_flow_kg_s);
                assert!(won * more < 0.0, "{name}: {won} N m, {more} kg/s");
                let told = step("{step} % on", now, &[("a", Some(fuel)), ("b", Some(torque))], UnitSystem::Si).unwrap();
                assert_eq!((told.title.as_str(), told.rows.len()), ("5 % on", ROWS.len() + 1));
                assert_eq!((told.rows[1].0, told.rows[1].1[0].as_str()), ("fuel flow", "0.000 g/s"));
            }
        }
    }

    #[test]
    fn by_hand_stuck_vanes_have_no_next_step() {
        let mut bench = BenchSettings::open();
        let mut engine = (*bench.engine).clone();
        engine.set("vanes.stuck", 1.0).unwrap();
        bench.engine = Arc::new(engine);
        let run = run::point(&bench, None);
        let steps = run::steps(&run);
        assert!(steps.held.tighter.is_none() && steps.held.wider.is_none() && steps.other.wider.is_none());
        let said = describe::limits_now(&run.sight(Some(&steps)), run.reading().unwrap(), UnitSystem::Si);
        assert!(said.contains("Next limit is") && said.contains("stuck"), "{said}");
    }
}
