//! What stands below the first view. It comes in a module of its own, fetched when it comes into sight: the first view does not
//! wait for it.

use super::embed::EmbedDialog;
use super::energy_flows::Energy;
use super::engine_choice::OwnEngine;
use super::live_sweeps::LiveSweeps;
use super::margins::Margins;
use super::next_steps::NextSteps;
use super::pin_board::PinBoard;
use super::print_sheet::PrintSheet;
use super::slot::{Scene, Slot};
use super::term::{Glossary, Term};
use super::time::Time;
use super::transitions::Bench;
use super::what_if::WhatIfs;
use crate::browser::{self, Turn};
use crate::holds::{Holds, Reach};
use crate::parts::{Excerpt, shows};
use crate::plots::svg;
use crate::run::Run;
use crate::view::{self, Stages};
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// What the lower part needs of the page.
#[derive(Clone, Copy)]
pub struct Parts {
    /// What every view is made from.
    pub scene: Scene,
    /// The bench.
    pub bench: Bench,
    /// Sweeps.
    pub sweeps: LiveSweeps,
    /// How far the load may be moved.
    pub load: Signal<Reach>,
    /// What a lesson leaves free.
    pub holds: Signal<Holds>,
    /// The word that is explained.
    pub term: RwSignal<Option<&'static str>>,
    /// The parts that stand here.
    pub excerpt: StoredValue<Excerpt>,
    /// Whether the dialog for such a piece is asked for.
    pub embedding: RwSignal<bool>,
    /// Whether all of it is built.
    pub built: RwSignal<bool>,
    /// Where it stands.
    pub place: NodeRef<html::Section>,
    /// The address of the state, of the whole page or of these parts of it.
    pub address: Callback<Excerpt, String>,
}

/// Its pieces, each built in a pause of the browser.
#[derive(Clone, Copy, PartialEq)]
enum Piece {
    SecondPlot,
    ThirdPlot,
    Comparisons,
    Trials,
    Margins,
}

/// Their order: each comes below what stands already.
const PIECES: [Piece; 5] = [Piece::SecondPlot, Piece::ThirdPlot, Piece::Comparisons, Piece::Trials, Piece::Margins];

/// The run as what stands here shows it: at once while any of it is in sight, else once the run rests, so that no slider waits
/// for what nobody sees.
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
    let Parts { scene, bench, sweeps, load, holds, term, embedding, address, .. } = parts;
    svg::arrive();
    let whole = parts.excerpt.with_value(Option::is_none);
    let has = move |part: &'static str| parts.excerpt.with_value(|excerpt| shows(excerpt, part));
    let calm = Scene { run: seen(&scene, parts.place), ..scene };
    let pieces = Stages::start(&PIECES, move |piece| {
        if piece != Piece::Margins {
            return Turn::Pause;
        }
        browser::set_body_class("whole", true);
        parts.built.set(true);
        Turn::Done
    });
    let (held, came, steps) = (bench.held.into(), Signal::from(bench.came), Signal::from(bench.steps));
    let change = Callback::new(move |next| bench.show(next));
    let lower = view! {
        {view::part(move || (pieces.has(Piece::SecondPlot) && has("plot-b")).then(|| view! { <Slot id="plot-b" index=2 scene=calm choice=bench.plots[1] sweeps/> }))}
        {view::part(move || (pieces.has(Piece::ThirdPlot) && has("plot-c")).then(|| view! { <Slot id="plot-c" index=3 scene=calm choice=bench.plots[2] sweeps/> }))}
        {view::part(move || pieces.has(Piece::Comparisons).then(|| view! {
            {has("pins").then(|| view! {
                <PinBoard scene=calm now=scene.run pins=bench.pins on_change=Callback::new(move |()| bench.touch())
                    on_go=Callback::new(move |letter| bench.go_to_pin(letter))/>
            })}
            {has("energy").then(|| view! { <Energy scene=calm/> })}
            {has("steps").then(|| view! { <NextSteps scene steps/> })}
        }))}
        {view::part(move || pieces.has(Piece::Trials).then(|| view! {
            {has("time").then(|| view! { <Time scene bench=held load on_change=change/> })}
            {has("what-ifs").then(|| view! {
                <WhatIfs bench=held came units=scene.units holds on_change=change on_fault=Callback::new(move |text: String| bench.say(text))/>
            })}
        }))}
        {view::part(move || pieces.has(Piece::Margins).then(|| view! {
            <PrintSheet scene came steps link=Callback::new(move |()| address.run(None))/>
            {has("margins").then(|| view! { <Margins scene=calm on_term=Callback::new(move |key| term.set(Some(key)))/> })}
            {whole.then(|| view! {
                <Glossary term/>
                {view::part(move || holds.get().engine().then(|| view! {
                    <OwnEngine bench=held on_change=Callback::new(move |next| bench.swap_engine(next))/>
                }))}
                <EmbedDialog open=embedding address=Callback::new(move |parts| address.run(Some(parts)))/>
            })}
        }))}
        <Term term units=scene.units/>
    };
    Ok(lower.into_any())
}
