//! Values along the air path as a list: under the drawing on a phone, in its place when asked for as a table.

use crate::run::Run;
use crate::units::{Quantity, UnitSystem, number};
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::reading::Reading;

/// One line: balloon or nothing, part, value.
type Line = (&'static str, &'static str, String);

/// Every line, in the order of the flow.
fn lines(r: &Reading, vane_open_pct: f64, units: UnitSystem) -> Vec<Line> {
    let s = &r.stations;
    let at = |p_pa: f64, t_k: f64| format!("{} · {}", units.unit(Quantity::PressureAbs).text(p_pa), units.unit(Quantity::Temperature).text(t_k));
    let unit = |q: Quantity, si: f64| units.unit(q).text(si);
    vec![
        ("1", "compressor inlet", at(s.compressor_inlet.p_pa, s.compressor_inlet.t_k)),
        ("2", "compressor outlet", at(s.compressor_outlet.p_pa, s.compressor_outlet.t_k)),
        ("", "intake manifold", at(s.intake_manifold.p_pa, s.intake_manifold.t_k)),
        ("3", "turbine inlet", at(s.turbine_inlet.p_pa, s.turbine_inlet.t_k)),
        ("4", "turbine outlet", at(s.turbine_outlet.p_pa, s.turbine_outlet.t_k)),
        ("", "balance p2 − p3", units.unit(Quantity::PressureDifference).signed(r.pressure_balance_pa)),
        ("", "vanes, throat", format!("{} % open, {}", number(vane_open_pct, 0), unit(Quantity::Area, r.turbine.throat_area_m2))),
        ("", "shaft", unit(Quantity::ShaftSpeed, r.shaft.speed_rad_s)),
        ("", "turbine gives", unit(Quantity::Power, r.turbine.power_w)),
        ("", "compressor takes", unit(Quantity::Power, r.compressor.power_w)),
        ("", "compressor efficiency", unit(Quantity::Share, r.compressor.efficiency)),
        ("", "turbine efficiency", unit(Quantity::Share, r.turbine.efficiency)),
        ("", "air flow", unit(Quantity::GasFlow, r.air_flow_kg_s)),
        ("", "fuel flow", unit(Quantity::FuelFlow, r.fuel_flow_kg_s)),
        ("", "air–fuel ratio", number(r.air_fuel_ratio, 1)),
        ("", "torque at the crank", unit(Quantity::Torque, r.brake.torque_n_m)),
        ("", "power at the crank", unit(Quantity::Power, r.brake.power_w)),
        ("", "peak cylinder pressure", unit(Quantity::CylinderPressure, r.indicated.peak_pressure_pa)),
    ]
}

/// The list.
#[component]
pub fn Stations(run: Signal<Arc<Run>>, units: Signal<UnitSystem>, #[prop(into)] open: Signal<bool>) -> impl IntoView {
    let rows = move || {
        let run = run.get();
        run.reading().map(|r| lines(r, run.bench.settings.vane_open_pct, units.get())).unwrap_or_default()
    };
    view! {
        <div class="stations" class:open=open id="stations" role="region" aria-label=words::STATIONS tabindex=move || if open.get() { "0" } else { "-1" }>
            <dl>
                {move || rows().into_iter().map(|(balloon, name, value)| view! {
                    <div>
                        <dt>{(!balloon.is_empty()).then(|| view! { <b>{balloon}</b> })}{name}</dt>
                        <dd class="num">{value}</dd>
                    </div>
                }).collect_view()}
            </dl>
        </div>
    }
}
