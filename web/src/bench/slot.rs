//! A plot of the bench with the choice of what stands in it.

use super::live_sweeps::{LiveSweeps, Sweep};
use super::views::{Choice, PointScene, VIEWS, View};
use crate::cover::Cover;
use crate::language::t;
use crate::pins::{Pin, Pins};
use crate::plots::chart::{At, Chart};
use crate::plots::cycle::Ghost;
use crate::plots::figure::Plot;
use crate::plots::inks::Inks;
use crate::plots::map_charts::trail_place;
use crate::plots::sweep_curve::{Pinned, Scene as SweepScene};
use crate::readings;
use crate::run::Run;
use crate::sweeps::{self, OnBench};
use crate::units::UnitSystem;
use crate::view;
use crate::words;
use leptos::ev::Event;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::settings::Load;
use volute_core::views::maps::{self, CompressorChart};

/// Points of the trail on the compressor map that are kept.
const TRAIL: usize = 60;

/// What every view of the bench is made from.
#[derive(Clone, Copy)]
pub struct Scene {
    /// What core answered.
    pub run: Signal<Arc<Run>>,
    /// The same once it rests.
    pub calm: Signal<Arc<Run>>,
    /// Units of the page.
    pub units: Signal<UnitSystem>,
    /// What a lesson keeps back.
    pub cover: Signal<Cover>,
    /// Pinned readings.
    pub pins: Signal<Pins>,
    /// Tones of the page.
    pub inks: Signal<Option<Inks>>,
}

/// The choice of one plot, and what the chosen view is drawn from.
#[derive(Clone, Copy)]
struct Chosen {
    scene: Scene,
    choice: RwSignal<Choice>,
    sweep: Sweep,
    /// The compressor map, while the view asks for it.
    map: Memo<Option<CompressorChart>>,
    /// Where the point came from on it.
    trail: RwSignal<Vec<At>>,
}

impl Chosen {
    fn new(scene: Scene, choice: RwSignal<Choice>, sweep: Sweep) -> Self {
        let run = scene.run;
        // The map belongs to the engine and the day, not to the point on it.
        let owner = view::memo(move || {
            let on_map = choice.with(|c| c.view.on_map);
            on_map.then(|| run.with(|r| (r.bench.engine.clone(), r.bench.settings.ambient)))
        });
        let map =
            view::memo(move || owner.with(|o| o.as_ref().map(|(engine, day)| maps::compressor_chart(engine, day))));
        let trail = RwSignal::new(Vec::<At>::new());
        view::effect(move || {
            let place = run.with(|r| r.reading().filter(|_| r.holds).map(trail_place));
            let on_map = owner.with(Option::is_some);
            trail.update(|t| match place.filter(|_| on_map) {
                Some(place) => {
                    if t.last() != Some(&place) {
                        t.push(place);
                    }
                    let over = t.len().saturating_sub(TRAIL);
                    t.drain(..over);
                }
                None if !on_map => t.clear(),
                None => {}
            });
        });
        // Another engine or another day begins a new trail.
        view::effect(move || {
            owner.track();
            trail.set(Vec::new());
        });
        Self { scene, choice, sweep, map, trail }
    }

    fn view(&self) -> &'static View {
        self.choice.with(|c| c.view)
    }

    /// The reading that a sweep shows: the one chosen, or the one that the load leaves open.
    fn swept(&self) -> &'static str {
        self.choice.with(|c| c.reading).unwrap_or_else(|| {
            let holds_fuel = self.scene.run.with(|r| matches!(r.bench.settings.load, Load::Fuel { .. }));
            if holds_fuel { "torque" } else { "fuel" }
        })
    }

    /// Looks at the sweep as it stands; none where the choice names no axis or no reading.
    fn with_sweep<T>(&self, look: impl FnOnce(SweepScene) -> T) -> Option<T> {
        let over = sweeps::find(self.choice.with(|c| c.over))?;
        let entry = readings::find(self.swept())?;
        let units = self.scene.units.get();
        Some(self.scene.run.with(|r| {
            self.scene.pins.with(|pins| {
                let pins: Vec<Pinned> = pins.list().iter().map(|pin| pinned(over, pin)).collect();
                let now = r.reading().filter(|_| r.holds);
                let bench = &r.bench;
                self.sweep
                    .points()
                    .with(|points| look(SweepScene { over, entry, points, bench, now, pins: &pins, units }))
            })
        }))
    }

    fn chart(&self) -> Chart {
        let view = self.view();
        let Some(drawn) = &view.drawn else {
            return self.with_sweep(|scene| scene.chart()).unwrap_or_else(Chart::blank);
        };
        let Scene { run, pins, units, .. } = self.scene;
        run.with(|r| {
            let Some(reading) = r.reading() else { return Chart::blank() };
            pins.with(|pins| {
                let ghosts: Vec<Ghost> =
                    pins.list().iter().map(|p| Ghost { letter: p.letter, reading: p.reading() }).collect();
                let (engine, units) = (&*r.bench.engine, units.get());
                let plain = PointScene { engine, reading, ghosts: &ghosts, units, map: None, trail: &[] };
                if !view.on_map {
                    return (drawn.chart)(&plain);
                }
                let on_map =
                    |map: &Option<_>, trail: &Vec<At>| (drawn.chart)(&PointScene { map: map.as_ref(), trail, ..plain });
                self.map.with(|map| self.trail.with(|trail| on_map(map, trail)))
            })
        })
    }

    fn sentence(&self) -> String {
        let Some(drawn) = &self.view().drawn else {
            if let Some(fault) = self.sweep.fault() {
                return fault.into();
            }
            if self.sweep.points().with(|p| p.is_empty()) {
                return t("The sweep is being computed.").into();
            }
            return self.with_sweep(|scene| scene.sentence()).unwrap_or_default();
        };
        self.scene.run.with(|r| match r.reading() {
            Some(reading) => (drawn.sentence)(&r.bench.engine, reading, self.scene.units.get()),
            None => t(words::NO_READING).into(),
        })
    }

    fn is_covered(&self) -> bool {
        self.scene.cover.with(|cover| self.view().is_covered(cover, self.swept()))
    }
}

fn pinned<'a>(over: &sweeps::Over, pin: &'a Pin) -> Pinned<'a> {
    Pinned { letter: pin.letter, x: over.now(&pin.bench), reading: pin.reading() }
}

/// A plot with the choice of its view.
#[component]
pub fn Slot(
    /// Hook for tests and styles.
    id: &'static str,
    /// Which of the page's plots it is.
    index: u32,
    scene: Scene,
    choice: RwSignal<Choice>,
    sweeps: LiveSweeps,
    #[prop(optional)] class: &'static str,
) -> impl IntoView {
    let over = view::derived(move || choice.with(|c| c.view.is_sweep().then_some(c.over)));
    let chosen = Chosen::new(scene, choice, sweeps.plot(index, over));
    let chart = view::memo(move || Arc::new(chosen.chart()));
    let sentence = view::derived(move || chosen.sentence());
    let covered = view::derived(move || chosen.is_covered());
    let title = view::derived(move || chosen.view().title().to_string());
    let pick = move |event: Event| {
        if let Some(view) = View::of(&event_target_value(&event)) {
            choice.update(|c| c.view = view);
        }
    };
    let head = view! {
        <h2 class="sr">{title}</h2>
        <select id=format!("{id}-view") aria-label=t("What this plot shows") on:change=pick
            prop:value=view::text(move || chosen.view().key)>
            {VIEWS.each_ref().map(|v| view! { <option value=v.key selected=choice.with_untracked(|c| c.view) == v>{v.title()}</option> })}
        </select>
        {view::part(move || chosen.view().is_sweep().then(|| sweep_choice(id, chosen)))}
    };
    view! { <Plot id title head=head.into_any() chart sentence covered inks=scene.inks class/> }
}

/// What a sweep shows, over what, and how far it is.
fn sweep_choice(id: &str, chosen: Chosen) -> impl IntoView + use<> {
    let Chosen { choice, sweep, .. } = chosen;
    let pick_over = move |event: Event| {
        if let Some(over) = sweeps::find(&event_target_value(&event)) {
            choice.update(|c| c.over = over.key);
        }
    };
    let pick_reading = move |event: Event| {
        let found = readings::find(&event_target_value(&event)).map(|e| e.key);
        choice.update(|c| c.reading = found);
    };
    let applies = move |over: &&sweeps::Over| chosen.scene.run.with_untracked(|r| over.applies(&r.bench));
    view! {
        <span class="plot-sweep">
            <select id=format!("{id}-of") aria-label=t("What is swept") on:change=pick_reading>
                {readings::ENTRIES.iter().map(|e| view! { <option value=e.key selected=e.key == chosen.swept()>{t(e.title)}</option> }).collect_view()}
            </select>
            {t("over")}
            <select id=format!("{id}-over") aria-label=t("What is moved") on:change=pick_over>
                {sweeps::OVER.iter().filter(applies).map(|o| view! {
                    <option value=o.key selected=o.key == choice.with_untracked(|c| c.over)>{t(o.name)}</option>
                }).collect_view()}
            </select>
            {view::part(move || sweep.progress().map(|text| view! {
                <span class="plot-progress" role="status">{text}
                    <button type="button" class="link" on:click=move |_| sweep.stop()>{t("stop")}</button>
                </span>
            }))}
        </span>
    }
}
