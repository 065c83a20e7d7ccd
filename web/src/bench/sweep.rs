//! The sweep over the vanes on the page.

use super::plot::{Inks, Plot};
use crate::lessons::session::{Cover, PUMPING, TORQUE};
use crate::plots::sweep::{self, Now, Result};
use crate::run::{Run, SweepPoint};
use crate::units::{Quantity, UnitSystem};
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::settings::Load;

/// The sweep.
#[component]
pub fn SweepView(
    run: Signal<Arc<Run>>,
    points: Signal<Arc<Vec<SweepPoint>>>,
    /// Why there is no sweep, if so.
    fault: Signal<Option<&'static str>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
    inks: Signal<Option<Inks>>,
) -> impl IntoView {
    let result = move || {
        run.with(|run| if matches!(run.bench.settings.load, Load::Fuel { .. }) { Result::Torque } else { Result::Fuel })
    };
    let covered = Signal::derive(move || cover.with(|c| c.hides_any(PUMPING) || c.hides_any(TORQUE) || c.hides("p2")));
    let sentence = Signal::derive(move || match (fault.get(), points.with(|p| p.is_empty())) {
        (Some(fault), _) => fault.into(),
        (None, true) => words::SWEEP_WAITS.into(),
        (None, false) => points.with(|p| sweep::sentence(p, result(), units.get())),
    });
    let columns = Signal::derive(move || {
        let u = units.get();
        let head = |name: &str, q: Quantity| format!("{name}, {}", u.unit(q).symbol);
        vec![
            "vanes, % open".into(),
            head("p2", Quantity::PressureAbs),
            head("p3", Quantity::PressureAbs),
            head("torque", Quantity::Torque),
            head("fuel", Quantity::FuelPerCycle),
        ]
    });
    let rows =
        Signal::derive(move || points.with(|p| sweep::table(p, units.get()).into_iter().map(Vec::from).collect()));
    let draw = move |paper: &_| {
        let now = run.with(|run| Now {
            vane_open_pct: run.bench.settings.vane_open_pct,
            values: run.reading().filter(|_| run.holds).map(|r| {
                let value = if result() == Result::Torque { r.brake.torque_n_m } else { r.fuel_kg_per_cycle };
                (value, r.stations.compressor_outlet.p_pa, r.stations.turbine_inlet.p_pa)
            }),
        });
        points.with(|p| sweep::draw(paper, p, result(), now, units.get()))
    };
    let data = Signal::derive(move || {
        run.track();
        points.track();
    });
    view! { <Plot id="sweep" title=words::SWEEP sentence columns rows covered table_title=words::SWEEP_TABLE inks data class="wideplot" draw/> }
}
