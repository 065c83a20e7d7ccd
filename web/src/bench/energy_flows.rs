//! Where the fuel's power goes, as one bar cut into its parts and the same as a list that sums to 100 %.

use super::slot::Scene;
use crate::cover::TORQUE;
use crate::language::{t, tf};
use crate::units::{Quantity, number};
use crate::view;
use crate::words;
use leptos::prelude::*;
use volute_core::views::energy::{Sink, energy_flow};

/// As the page names them, and the side of the drawing that each belongs to.
fn named(sink: Sink) -> (&'static str, &'static str) {
    match sink {
        Sink::Crank => (t("to the crank"), "k"),
        Sink::Coolant => (t("to the coolant"), "w"),
        Sink::ChargeCooler => (t("to the charge cooler"), "i"),
        Sink::ExhaustGas => (t("with the exhaust gas"), "e"),
        Sink::ExhaustLeak => (t("through the exhaust leak"), "l"),
        Sink::Other => (t("to the air around"), "o"),
        Sink::Remainder => (t("not accounted for"), "r"),
    }
}

/// The sheet.
#[component]
pub fn Energy(scene: Scene) -> impl IntoView {
    let Scene { run, units, cover, .. } = scene;
    let covered =
        move || cover.with(|c| c.hides_any(TORQUE) || c.hides_any(&["fuel_flow", "coolant_heat", "cooler_heat"]));
    let parts = view::memo(move || {
        run.with(|r| {
            let flow = r.reading().filter(|_| r.holds).map(energy_flow);
            flow.map(|f| {
                let unit = units.get().unit(Quantity::Power);
                let of = |i: &volute_core::views::energy::Item| (i.sink, unit.text(i.power_w), i.share);
                (unit.text(f.fuel_w), f.items.iter().map(of).collect::<Vec<_>>())
            })
        })
    });
    view! {
        <section class="sheet energy" aria-labelledby="energy-h" id="energy">
            <h2 id="energy-h">{t(words::ENERGY)}</h2>
            {view::part(move || {
                if covered() {
                    return view! { <p class="quiet">{t(words::COVERED)}</p> }.into_any();
                }
                let Some((fuel, items)) = parts.get() else {
                    return view! { <p class="quiet">{t(words::NO_READING)}</p> }.into_any();
                };
                // What the brake drives in is no part of the bar.
                let whole: f64 = items.iter().map(|i| i.2.max(0.0)).sum();
                let mut at = 0.0;
                let bars = items.iter().map(|(sink, _, share)| {
                    let width = 100.0 * share.max(0.0) / whole.max(1e-9);
                    let bar = (at, width, named(*sink).1);
                    at += width;
                    bar
                }).collect::<Vec<_>>();
                view! {
                    <p class="quiet">{tf("The fuel brings {power}", &[("power", &fuel)])}</p>
                    <svg class="energy-bar" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">
                        {bars.into_iter().map(|(x, w, class)| view! {
                            <rect x=x.to_string() y="0" width=w.to_string() height="12" class=format!("energy-sink {class}")></rect>
                        }).collect_view()}
                    </svg>
                    <table class="ledger energy-sinks">
                        <caption class="sr">{t(words::ENERGY)}</caption>
                        <tbody>
                            {items.into_iter().map(|(sink, power, share)| {
                                let (name, class) = named(sink);
                                let digits = if sink == Sink::Remainder { 3 } else { 1 };
                                view! {
                                    <tr>
                                        <th scope="row"><svg viewBox="0 0 12 12" aria-hidden="true"><rect width="12" height="12" class=format!("energy-sink {class}")></rect></svg>{name}</th>
                                        <td>{power}</td><td>{format!("{} %", number(100.0 * share, digits))}</td>
                                    </tr>
                                }
                            }).collect_view()}
                            <tr class="sum"><th scope="row">{t("all of it")}</th><td>{fuel}</td><td>"100 %"</td></tr>
                        </tbody>
                    </table>
                }.into_any()
            })}
        </section>
    }
}
