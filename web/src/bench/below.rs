//! What stands below the first view. It comes in a module of its own, fetched when it nears the eye: the first view does not
//! wait for it.

use super::energy::Energy;
use super::engine_choice::OwnEngine;
use super::margins::Margins;
use super::next_steps::NextSteps;
use super::pin_board::PinBoard;
use super::slot::{Choice, Scene, Slot};
use super::sweep_desk::SweepDesk;
use super::term::{Glossary, Term};
use super::time::Time;
use super::what_if::WhatIfs;
use crate::lessons::session::{Holds, Reach};
use crate::pins::Pins;
use crate::run::Steps;
use crate::state::BenchSettings;
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::engine::Engine;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

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

/// The lower part. Errors: its module could not be fetched.
#[wasm_split(below, fallible)]
pub fn below(parts: Parts) -> Result<AnyView, SplitLoaderError> {
    let Parts { scene, bench, pins, choices, steps, desk, came, load, holds, term, .. } = parts;
    let lower = view! {
        <PinBoard scene pins on_change=parts.on_pins on_go=parts.on_go/>
        <Slot id="plot-b" index=2 scene choice=choices[0] desk/>
        <Slot id="plot-c" index=3 scene choice=choices[1] desk/>
        <Energy scene/>
        <NextSteps scene steps/>
        <Time scene bench load on_change=parts.on_change/>
        <WhatIfs bench came units=scene.units holds on_change=parts.on_change on_fault=parts.on_fault/>
        <Margins scene on_term=parts.on_term/>
        <Glossary term/>
        {view::part(move || holds.get().engine().then(|| view! { <OwnEngine bench on_change=parts.on_engine/> }))}
        <Term term units=scene.units/>
    };
    Ok(lower.into_any())
}
