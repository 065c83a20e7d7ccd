//! The p–V loop on the page.

use super::plot::{Inks, Plot};
use crate::describe;
use crate::lessons::session::{Cover, PUMPING};
use crate::plots::cycle;
use crate::run::Run;
use crate::units::{Quantity, UnitSystem};
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;

/// The loop.
#[component]
pub fn CycleView(
    run: Signal<Arc<Run>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
    inks: Signal<Option<Inks>>,
) -> impl IntoView {
    let covered = Signal::derive(move || cover.with(|c| c.hides_any(PUMPING)));
    let sentence = Signal::derive(move || {
        run.with(|run| run.reading().map_or(words::NO_READING.into(), |r| describe::cycle(r, units.get())))
    });
    let columns = Signal::derive(move || {
        let unit = |q| units.get().unit(q).symbol;
        vec![
            "crank angle, °".into(),
            format!("volume, {}", unit(Quantity::Volume)),
            format!("pressure, {}", unit(Quantity::PressureAbs)),
        ]
    });
    let rows = Signal::derive(move || {
        run.with(|run| {
            let trace = run.reading().and_then(|r| r.trace.as_ref());
            trace.map(|t| cycle::table(t, units.get()).into_iter().map(Vec::from).collect()).unwrap_or_default()
        })
    });
    view! {
        <Plot id="loop" title=words::LOOP sentence columns rows covered table_title=words::LOOP_TABLE inks
            data=Signal::derive(move || run.track())
            draw=move |paper| run.with(|run| match run.reading() {
                Some(reading) => cycle::draw(paper, reading, units.get()),
                None => paper.clear(),
            })/>
    }
}
