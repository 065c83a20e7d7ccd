//! Values along the air path as a list: under the drawing on a phone, in its place when asked for as a table.

use crate::lessons::session::{BALANCE, Cover, TORQUE};
use crate::run::{self, Run};
use crate::state::BenchSettings;
use crate::units::{Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::reading::Reading;

/// One line: balloon or nothing, part, value, and the quantities that cover it.
type Line = (&'static str, &'static str, String, &'static [&'static str]);

/// Every line, in the order of the flow.
fn lines(r: &Reading, bench: &BenchSettings, units: UnitSystem) -> Vec<Line> {
    let s = &r.stations;
    let at = |p_pa: f64, t_k: f64| {
        format!("{} · {}", units.unit(Quantity::PressureAbs).text(p_pa), units.unit(Quantity::Temperature).text(t_k))
    };
    let unit = |q: Quantity, si: f64| units.unit(q).text(si);
    vec![
        ("1", "compressor inlet", at(s.compressor_inlet.p_pa, s.compressor_inlet.t_k), &["p1", "t1"]),
        ("2", "compressor outlet", at(s.compressor_outlet.p_pa, s.compressor_outlet.t_k), &["p2", "t2"]),
        ("", "intake manifold", at(s.intake_manifold.p_pa, s.intake_manifold.t_k), &["p_im", "t_im"]),
        ("3", "turbine inlet", at(s.turbine_inlet.p_pa, s.turbine_inlet.t_k), BALANCE),
        ("4", "turbine outlet", at(s.turbine_outlet.p_pa, s.turbine_outlet.t_k), &["p4", "t4"]),
        ("", "balance p2 − p3", units.unit(Quantity::PressureDifference).signed(r.pressure_balance_pa), BALANCE),
        (
            "",
            "vanes, throat",
            format!(
                "{} % open, {}",
                number(bench.settings.vane_open_pct, 0),
                unit(Quantity::Area, run::throat_area_m2(bench))
            ),
            &["nozzle_area"],
        ),
        ("", "shaft", unit(Quantity::ShaftSpeed, r.shaft.speed_rad_s), &["shaft", "tip_speed"]),
        ("", "turbine gives", unit(Quantity::Power, r.turbine.power_w), &["turbine_power", "shaft"]),
        ("", "compressor takes", unit(Quantity::Power, r.compressor.power_w), &["compressor_power", "shaft"]),
        ("", "compressor efficiency", unit(Quantity::Share, r.compressor.efficiency), &["compressor_efficiency"]),
        ("", "turbine efficiency", unit(Quantity::Share, r.turbine.cycle_efficiency), &["turbine_efficiency"]),
        ("", "air flow", unit(Quantity::GasFlow, r.air_flow_kg_s), &["air_flow"]),
        ("", "fuel flow", unit(Quantity::FuelFlow, r.fuel_flow_kg_s), &["fuel_flow"]),
        ("", "air–fuel ratio", number(r.air_fuel_ratio, 1), &["afr"]),
        ("", "torque at the crank", unit(Quantity::Torque, r.brake.torque_n_m), TORQUE),
        ("", "power at the crank", unit(Quantity::Power, r.brake.power_w), TORQUE),
        (
            "",
            "peak cylinder pressure",
            unit(Quantity::CylinderPressure, r.indicated.peak_pressure_pa),
            &["peak_pressure"],
        ),
    ]
}

/// Lines without a balloon that a phone shows under the drawing; the table has them all.
const SHORT: [&str; 5] = ["intake manifold", "balance p2 − p3", "vanes, throat", "shaft", "torque at the crank"];

/// The list.
#[component]
pub fn Stations(
    run: Signal<Arc<Run>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
    #[prop(into)] open: Signal<bool>,
) -> impl IntoView {
    let rows = move || {
        let run = run.get();
        let all = run.reading().map(|r| lines(r, &run.bench, units.get())).unwrap_or_default();
        all.into_iter()
            .map(|(balloon, name, value, by)| {
                let value = if cover.with(|c| c.hides_any(by)) { words::COVERED_SHORT.to_string() } else { value };
                (balloon, name, value)
            })
            .collect::<Vec<_>>()
    };
    view! {
        <div class="stations" class:open=open id="stations" role="region" aria-label=words::STATIONS tabindex=view::text(move || if open.get() { "0" } else { "-1" })>
            <dl>
                {view::part(move || rows().into_iter().map(|(balloon, name, value)| view! {
                    <div class:extra=balloon.is_empty() && !SHORT.contains(&name)>
                        <dt>{(!balloon.is_empty()).then(|| view! { <b>{balloon}</b> })}{name}</dt>
                        <dd class="num">{value}</dd>
                    </div>
                }).collect_view())}
            </dl>
        </div>
    }
}
