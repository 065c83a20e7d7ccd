//! What stands below the first view. It comes in a module of its own, fetched when it nears the eye: the first view does not
//! wait for it.

use super::embed::EmbedDialog;
use super::energy_flows::Energy;
use super::engine_choice::OwnEngine;
use super::margins::Margins;
use super::next_steps::NextSteps;
use super::pin_board::PinBoard;
use super::print_sheet::PrintSheet;
use super::slot::{Choice, Scene, Slot};
use super::sweep_desk::SweepDesk;
use super::term::{Glossary, Term};
use super::time::Time;
use super::what_if::WhatIfs;
use crate::browser::{self, Turn};
use crate::lessons::session::{Holds, Reach};
use crate::pins::Pins;
use crate::plots::svg;
use crate::run::{Run, Steps};
use crate::state::BenchSettings;
use crate::view;
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::engine::Engine;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// Parts of `share::PARTS` that stand here.
pub const BELOW: [&str; 8] = ["plot-b", "plot-c", "pins", "energy", "steps", "time", "what-ifs", "margins"];

/// What the lower part needs of the page.
#[derive(Clone, Copy)]
pub struct Parts {
    /// What every view is made from.
    pub scene: Scene,
    /// The settings.
    pub bench: Signal<BenchSettings>,
    /// Pins.
    pub pins: RwSignal<Pins>,
    /// The second and the third plot.
    pub choices: [RwSignal<Choice>; 2],
    /// What a little more or less vane would do.
    pub steps: Signal<Option<Arc<Steps>>>,
    /// Sweeps.
    pub desk: SweepDesk,
    /// The engine as it came.
    pub came: Signal<Arc<Engine>>,
    /// How far the load may be moved.
    pub load: Signal<Reach>,
    /// What a lesson leaves free.
    pub holds: Signal<Holds>,
    /// The word that is explained.
    pub term: RwSignal<Option<&'static str>>,
    /// What stands here where the page is a piece inside another; everything where there is no list.
    pub shown: StoredValue<Option<Vec<&'static str>>>,
    /// Whether the dialog for such a piece is asked for.
    pub embedding: RwSignal<bool>,
    /// Whether all of it is built.
    pub built: RwSignal<bool>,
    /// Where it stands.
    pub place: NodeRef<html::Section>,
    /// The address of the state, of the whole page or of these parts of it.
    pub address: Callback<Option<Vec<&'static str>>, String>,
    /// Settings changed.
    pub on_change: Callback<BenchSettings>,
    /// Another engine.
    pub on_engine: Callback<BenchSettings>,
    /// Pins changed.
    pub on_pins: Callback<()>,
    /// Back to a pin.
    pub on_go: Callback<char>,
    /// Something was refused.
    pub on_fault: Callback<String>,
    /// A word is to be explained.
    pub on_term: Callback<&'static str>,
}

/// The run as what stands here shows it: at once while any of it is in sight, so that no slider waits for what nobody sees.
fn seen(scene: &Scene, place: NodeRef<html::Section>) -> Signal<Arc<Run>> {
    let seen = RwSignal::new(true);
    view::effect(move || {
        if let Some(place) = place.get() {
            browser::on_sight(&place, move |now| seen.set(now));
        }
    });
    view::either(move || seen.get(), scene.run, scene.calm)
}

/// The lower part. Errors: its module could not be fetched.
#[wasm_split(below, fallible)]
pub fn below(parts: Parts) -> Result<AnyView, SplitLoaderError> {
    let Parts { scene, bench, pins, choices, steps, desk, came, load, holds, term, embedding, address, .. } = parts;
    svg::arrive();
    let whole = parts.shown.with_value(Option::is_none);
    let shows = move |part: &'static str| parts.shown.with_value(|s| s.as_ref().is_none_or(|s| s.contains(&part)));
    let calm = Scene { run: seen(&scene, parts.place), ..scene };
    // Built in pauses of the browser, each part under what stands already.
    let slice = RwSignal::new(0_usize);
    let slices: [Memo<bool>; 5] = std::array::from_fn(|i| view::memo(move || i < slice.get()));
    browser::in_turns(move || {
        slice.update(|s| *s += 1);
        if slice.get_untracked() < slices.len() {
            return Turn::Pause;
        }
        browser::set_body_class("whole", true);
        parts.built.set(true);
        Turn::Done
    });
    let lower = view! {
        {view::part(move || (slices[0].get() && shows("plot-b")).then(|| view! { <Slot id="plot-b" index=2 scene=calm choice=choices[0] desk/> }))}
        {view::part(move || (slices[1].get() && shows("plot-c")).then(|| view! { <Slot id="plot-c" index=3 scene=calm choice=choices[1] desk/> }))}
        {view::part(move || slices[2].get().then(|| view! {
            {shows("pins").then(|| view! { <PinBoard scene=calm now=scene.run pins on_change=parts.on_pins on_go=parts.on_go/> })}
            {shows("energy").then(|| view! { <Energy scene=calm/> })}
            {shows("steps").then(|| view! { <NextSteps scene steps/> })}
        }))}
        {view::part(move || slices[3].get().then(|| view! {
            {shows("time").then(|| view! { <Time scene bench load on_change=parts.on_change/> })}
            {shows("what-ifs").then(|| view! {
                <WhatIfs bench came units=scene.units holds on_change=parts.on_change on_fault=parts.on_fault/>
            })}
        }))}
        {view::part(move || slices[4].get().then(|| view! {
            <PrintSheet scene came steps link=Callback::new(move |()| address.run(None))/>
            {shows("margins").then(|| view! { <Margins scene=calm on_term=parts.on_term/> })}
            {whole.then(|| view! {
                <Glossary term/>
                {view::part(move || holds.get().engine().then(|| view! { <OwnEngine bench on_change=parts.on_engine/> }))}
                <EmbedDialog open=embedding address=Callback::new(move |parts| address.run(Some(parts)))/>
            })}
        }))}
        <Term term units=scene.units/>
    };
    Ok(lower.into_any())
}
