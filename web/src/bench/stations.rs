//! Values along the air path as a list: under the drawing on a phone, in its place when asked for as a table.

use crate::browser;
use crate::cover::{BALANCE, Cover, TORQUE};
use crate::language::{msg, t, tf};
use crate::run::{self, Run};
use crate::state::BenchSettings;
use crate::units::{Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::reading::{Reading, Station};

/// What a line says.
type Value = fn(&Reading, &BenchSettings, UnitSystem) -> String;

/// One line of the list.
struct Line {
    /// Number of the balloon in the drawing, or nothing.
    balloon: &'static str,
    name: &'static str,
    value: Value,
    /// Quantities that cover it.
    by: &'static [&'static str],
    /// Shown on a phone under the drawing too; the table has them all.
    short: bool,
}

fn station(s: &Station, units: UnitSystem) -> String {
    format!("{} · {}", units.unit(Quantity::PressureAbs).text(s.p_pa), units.unit(Quantity::Temperature).text(s.t_k))
}

const fn line(name: &'static str, by: &'static [&'static str], value: Value) -> Line {
    Line { balloon: "", name, value, by, short: false }
}

const fn at(balloon: &'static str, name: &'static str, by: &'static [&'static str], value: Value) -> Line {
    Line { balloon, name, value, by, short: true }
}

const fn short(name: &'static str, by: &'static [&'static str], value: Value) -> Line {
    Line { balloon: "", name, value, by, short: true }
}

/// Every line, in the order of the flow.
const LINES: [Line; 19] = [
    at("1", msg("compressor inlet"), &["p1", "t1"], |r, _, u| station(&r.stations.compressor_inlet, u)),
    at("2", msg("compressor outlet"), &["p2", "t2"], |r, _, u| station(&r.stations.compressor_outlet, u)),
    short(msg("intake manifold"), &["p_im", "t_im"], |r, _, u| station(&r.stations.intake_manifold, u)),
    at("3", msg("turbine inlet"), &["p3", "t3"], |r, _, u| station(&r.stations.turbine_inlet, u)),
    at("4", msg("turbine outlet"), &["p4", "t4"], |r, _, u| station(&r.stations.turbine_outlet, u)),
    short(msg("balance p2 − p3"), BALANCE, |r, _, u| {
        u.unit(Quantity::PressureDifference).signed(r.pressure_balance_pa)
    }),
    short(msg("vanes, throat"), &["nozzle_area"], |_, bench, u| {
        let throat = u.unit(Quantity::Area).text(run::throat_area_m2(bench));
        let stuck = bench.engine.vanes.are_stuck();
        let says = if stuck { msg("stuck at {open} % open, {throat}") } else { msg("{open} % open, {throat}") };
        tf(says, &[("open", &number(run::vanes_open_pct(bench), 0)), ("throat", &throat)])
    }),
    short(msg("shaft"), &["shaft"], |r, _, u| u.unit(Quantity::ShaftSpeed).text(r.shaft.speed_rad_s)),
    line(msg("turbine gives"), &["turbine_power"], |r, _, u| u.unit(Quantity::Power).text(r.turbine.power_w)),
    line(msg("compressor takes"), &["compressor_power"], |r, _, u| u.unit(Quantity::Power).text(r.compressor.power_w)),
    line(msg("compressor efficiency"), &["compressor_efficiency"], |r, _, u| {
        u.unit(Quantity::Share).text(r.compressor.efficiency)
    }),
    line(msg("turbine efficiency"), &["turbine_efficiency"], |r, _, u| {
        u.unit(Quantity::Share).text(r.turbine.cycle_efficiency)
    }),
    line(msg("air flow"), &["air_flow"], |r, _, u| u.unit(Quantity::GasFlow).text(r.air_flow_kg_s)),
    line(msg("exhaust leak"), &["air_flow"], |r, _, u| u.unit(Quantity::GasFlow).text(r.exhaust_leak_kg_s)),
    line(msg("fuel flow"), &["fuel_flow"], |r, _, u| u.unit(Quantity::FuelFlow).text(r.fuel_flow_kg_s)),
    line(msg("air–fuel ratio"), &["afr"], |r, _, _| number(r.air_fuel_ratio, 1)),
    short(msg("torque at the crank"), TORQUE, |r, _, u| u.unit(Quantity::Torque).text(r.brake.torque_n_m)),
    line(msg("power at the crank"), TORQUE, |r, _, u| u.unit(Quantity::Power).text(r.brake.power_w)),
    line(msg("peak cylinder pressure"), &["peak_pressure"], |r, _, u| {
        u.unit(Quantity::CylinderPressure).text(r.indicated.peak_pressure_pa)
    }),
];

/// The list. Its lines stay; only their values change.
#[component]
pub fn Stations(
    run: Signal<Arc<Run>>,
    /// The same once it rests.
    calm: Signal<Arc<Run>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
    #[prop(into)] open: Signal<bool>,
) -> impl IntoView {
    // A list that is not displayed waits: it has two dozen values, and no slider should wait for them.
    let place = NodeRef::<html::Div>::new();
    let seen = RwSignal::new(false);
    view::effect(move || {
        if let Some(place) = place.get() {
            browser::on_sight(&place, move |now| seen.set(now));
        }
    });
    let told = view::either(move || open.get() || seen.get(), run, calm);
    let value = move |line: &'static Line| {
        view::text(move || {
            if cover.with(|c| c.hides_any(line.by)) {
                return t(words::COVERED_SHORT).to_string();
            }
            told.with(|run| run.reading().map_or_else(|| "–".into(), |r| (line.value)(r, &run.bench, units.get())))
        })
    };
    view! {
        <div class="stations" class:open=open id="stations" node_ref=place role="region" aria-label=t("Values along the air path") tabindex=view::text(move || if open.get() { "0" } else { "-1" })>
            <dl>
                {LINES.iter().map(|line| view! {
                    <div class:extra=!line.short>
                        <dt>{(!line.balloon.is_empty()).then(|| view! { <b>{line.balloon}</b> })}{t(line.name)}</dt>
                        <dd>{value(line)}</dd>
                    </div>
                }).collect_view()}
            </dl>
        </div>
    }
}
