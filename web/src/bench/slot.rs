//! A place for a plot, with the choice of what stands in it.

use crate::describe;
use crate::language::t;
use crate::lessons::session::{BALANCE, Cover, PUMPING, TORQUE};
use crate::pins::Pins;
use crate::plots::axis::Axis;
use crate::plots::chart::{At, Chart, Panel};
use crate::plots::cycle::{self, Ghost};
use crate::plots::figure::Plot;
use crate::plots::inks::Inks;
use crate::plots::map_charts as maps;
use crate::plots::sweep_curve::{Pinned, Scene as SweepScene};
use crate::readings;
use crate::run::Run;
use crate::sweeps;
use crate::units::UnitSystem;
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;

use super::sweep_desk::SweepDesk;

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

/// A view that a place can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// Gas exchange of the p–V loop.
    Exchange,
    /// The whole p–V loop.
    Whole,
    /// The same by ratios.
    WholeLog,
    /// Pressures over the crank angle.
    Angle,
    /// Compressor map.
    Compressor,
    /// Turbine map.
    Turbine,
    /// Temperature and entropy.
    Entropy,
    /// A reading over a setting.
    Sweep,
}

impl View {
    /// All of them, in the order of the list.
    pub const ALL: [View; 8] = [
        View::Exchange,
        View::Whole,
        View::WholeLog,
        View::Angle,
        View::Compressor,
        View::Turbine,
        View::Entropy,
        View::Sweep,
    ];

    /// As a link writes it.
    pub fn key(self) -> &'static str {
        match self {
            View::Exchange => "loop",
            View::Whole => "cycle",
            View::WholeLog => "cycle-log",
            View::Angle => "angle",
            View::Compressor => "compressor",
            View::Turbine => "turbine",
            View::Entropy => "entropy",
            View::Sweep => "sweep",
        }
    }

    /// The view of a key.
    pub fn of(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|v| v.key() == key)
    }

    /// What it is called.
    pub fn title(self) -> &'static str {
        match self {
            View::Exchange => t(words::LOOP),
            View::Whole => t(words::LOOP_WHOLE),
            View::WholeLog => t(words::LOOP_LOG),
            View::Angle => t(words::OVER_ANGLE),
            View::Compressor => t(words::COMPRESSOR_MAP),
            View::Turbine => t(words::TURBINE_MAP),
            View::Entropy => t(words::ENTROPY),
            View::Sweep => t(words::SWEEP),
        }
    }

    /// Whether a lesson keeps it back.
    fn covered(self, cover: &Cover, entry: &str) -> bool {
        if cover.hides_view(self.key()) {
            return true;
        }
        match self {
            View::Exchange | View::Whole | View::WholeLog | View::Angle => {
                cover.hides_any(PUMPING) || cover.hides_any(&["p_im", "p3", "peak_pressure"])
            }
            View::Compressor => {
                cover.hides_any(&["pressure_ratio", "air_flow", "shaft", "surge_margin", "compressor_efficiency"])
            }
            View::Turbine => cover.hides_any(&["expansion_ratio", "turbine_efficiency", "nozzle_area"]),
            View::Entropy => cover.hides_any(&["p2", "p3", "t2", "t3", "t4"]),
            View::Sweep => {
                cover.hides_any(PUMPING)
                    || cover.hides_any(TORQUE)
                    || cover.hides_any(BALANCE)
                    || cover.hides_any(&["p2", "p3", entry])
            }
        }
    }
}

/// What stands in one place, as a link carries it: `sweep:speed:torque`, `loop`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// The view.
    pub view: View,
    /// Axis of a sweep.
    pub over: &'static str,
    /// Reading of a sweep; nothing for the one that the load leaves open.
    pub entry: Option<&'static str>,
}

impl Choice {
    /// A view with the sweep that a place begins with.
    pub const fn new(view: View) -> Self {
        Self { view, over: "vane", entry: None }
    }

    /// As a link writes it.
    pub fn encode(&self) -> String {
        match self.view {
            View::Sweep => format!("sweep:{}:{}", self.over, self.entry.unwrap_or("")),
            view => view.key().into(),
        }
    }

    /// As a link has it; what nobody knows is nothing.
    pub fn decode(text: &str) -> Option<Self> {
        let mut parts = text.split(':');
        let view = View::of(parts.next()?)?;
        let over = parts.next().and_then(sweeps::find).map_or("vane", |o| o.key);
        let entry = parts.next().and_then(readings::find).map(|e| e.key);
        Some(Self { view, over, entry })
    }
}

/// A place for a plot.
#[component]
pub fn Slot(
    /// Hook for tests and styles.
    id: &'static str,
    /// Which of the page's plots it is.
    index: u32,
    scene: Scene,
    choice: RwSignal<Choice>,
    desk: SweepDesk,
    #[prop(optional)] class: &'static str,
) -> impl IntoView {
    let Scene { run, units, cover, pins, inks, .. } = scene;
    let entry = move || {
        let fallback = || {
            run.with(|r| {
                if matches!(r.bench.settings.load, volute_core::settings::Load::Fuel { .. }) {
                    "torque"
                } else {
                    "fuel"
                }
            })
        };
        choice.with(|c| c.entry).unwrap_or_else(fallback)
    };
    let sweep = desk.plot(index, view::derived(move || choice.with(|c| (c.view == View::Sweep).then_some(c.over))));
    let with_sweep = move |f: &dyn Fn(SweepScene) -> Chart| {
        run.with(|r| {
            pins.with(|pins| {
                sweep.points().with(|points| {
                    let (Some(over), Some(entry)) = (sweeps::find(choice.with(|c| c.over)), readings::find(entry()))
                    else {
                        return blank();
                    };
                    let pinned: Vec<Pinned> = pins
                        .list()
                        .iter()
                        .map(|p| Pinned { letter: p.letter, x: over.now(&p.bench), reading: p.reading() })
                        .collect();
                    let now = r.reading().filter(|_| r.holds);
                    f(SweepScene { over, entry, points, bench: &r.bench, now, pins: &pinned, units: units.get() })
                })
            })
        })
    };
    // The map belongs to the engine and the day, not to the point on it.
    let owner = view::memo(move || {
        let shown = choice.with(|c| c.view == View::Compressor);
        shown.then(|| run.with(|r| (r.bench.engine.clone(), r.bench.settings.ambient)))
    });
    let map = view::memo(move || {
        owner.with(|o| o.as_ref().map(|(engine, day)| volute_core::views::maps::compressor_chart(engine, day)))
    });
    // Where the point came from, of this engine.
    let trail = RwSignal::new(Vec::<At>::new());
    view::effect(move || {
        let place = run.with(|r| r.reading().filter(|_| r.holds).map(maps::trail_place));
        let whose = owner.with(Option::is_some);
        trail.update(|t| match place.filter(|_| whose) {
            Some(place) => {
                if t.last() != Some(&place) {
                    t.push(place);
                }
                let over = t.len().saturating_sub(TRAIL);
                t.drain(..over);
            }
            None if !whose => t.clear(),
            None => {}
        });
    });
    view::effect(move || {
        owner.track();
        trail.set(Vec::new());
    });
    let drawn = view::memo(move || {
        let view = choice.with(|c| c.view);
        if view == View::Sweep {
            return Arc::new(with_sweep(&|scene| scene.chart()));
        }
        Arc::new(run.with(|r| {
            let Some(reading) = r.reading() else { return blank() };
            pins.with(|pins| {
                let ghosts: Vec<Ghost> =
                    pins.list().iter().map(|p| Ghost { letter: p.letter, reading: p.reading() }).collect();
                let (engine, units) = (&*r.bench.engine, units.get());
                match view {
                    View::Compressor => map.with(|map| match map {
                        Some(map) => trail.with(|t| maps::compressor(map, reading, t, &ghosts, units)),
                        None => blank(),
                    }),
                    View::Turbine => maps::turbine(engine, reading, &ghosts),
                    View::Entropy => maps::temperature_entropy(engine, reading, &ghosts, units),
                    View::Exchange | View::Sweep => cycle::exchange(reading, engine, &ghosts, units),
                    View::Whole => cycle::whole(reading, engine, &ghosts, units, false),
                    View::WholeLog => cycle::whole(reading, engine, &ghosts, units, true),
                    View::Angle => cycle::over_angle(reading, engine, &ghosts, units),
                }
            })
        }))
    });
    let sentence = view::derived(move || {
        let view = choice.with(|c| c.view);
        if view == View::Sweep {
            if let Some(fault) = sweep.fault() {
                return fault.to_string();
            }
            if sweep.points().with(|p| p.is_empty()) {
                return t(words::SWEEP_WAITS).into();
            }
            let said = StoredValue::new(String::new());
            with_sweep(&|scene| {
                said.set_value(scene.sentence());
                blank()
            });
            return said.get_value();
        }
        run.with(|r| match r.reading() {
            None => t(words::NO_READING).into(),
            Some(reading) => match view {
                View::Compressor => maps::compressor_sentence(reading, units.get()),
                View::Turbine => maps::turbine_sentence(&r.bench.engine, reading),
                View::Entropy => maps::entropy_sentence(&r.bench.engine, reading, units.get()),
                View::Angle => describe::over_angle(reading, units.get()),
                View::Whole | View::WholeLog => describe::whole_cycle(reading, units.get()),
                _ => describe::cycle(reading, units.get()),
            },
        })
    });
    let covered = view::derived(move || cover.with(|c| choice.with(|ch| ch.view).covered(c, entry())));
    let title = view::derived(move || choice.with(|c| c.view).title().to_string());
    let pick = move |event: leptos::ev::Event| {
        if let Some(view) = View::of(&event_target_value(&event)) {
            choice.update(|c| c.view = view);
        }
    };
    let pick_over = move |event: leptos::ev::Event| {
        if let Some(over) = sweeps::find(&event_target_value(&event)) {
            choice.update(|c| c.over = over.key);
        }
    };
    let pick_entry = move |event: leptos::ev::Event| {
        let found = readings::find(&event_target_value(&event)).map(|e| e.key);
        choice.update(|c| c.entry = found);
    };
    let head = view! {
        <h2 class="sr">{title}</h2>
        <select id=format!("{id}-view") aria-label=t(words::CHOOSE_VIEW) on:change=pick
            prop:value=view::text(move || choice.with(|c| c.view.key()))>
            {View::ALL.map(|v| view! { <option value=v.key() selected=choice.with_untracked(|c| c.view) == v>{v.title()}</option> })}
        </select>
        {view::part(move || (choice.with(|c| c.view) == View::Sweep).then(|| view! {
            <span class="plot-sweep">
                <select id=format!("{id}-of") aria-label=t(words::SWEEP_OF) on:change=pick_entry>
                    {readings::ENTRIES.iter().map(|e| view! { <option value=e.key selected=e.key == entry()>{t(e.name)}</option> }).collect_view()}
                </select>
                {t(words::OVER)}
                <select id=format!("{id}-over") aria-label=t(words::SWEEP_OVER) on:change=pick_over>
                    {sweeps::OVER.iter().filter(|o| run.with_untracked(|r| o.applies(&r.bench))).map(|o| view! {
                        <option value=o.key selected=o.key == choice.with_untracked(|c| c.over)>{t(o.name)}</option>
                    }).collect_view()}
                </select>
                {view::part(move || sweep.progress().map(|text| view! {
                    <span class="plot-progress" role="status">{text}
                        <button type="button" class="link" on:click=move |_| sweep.stop()>{t(words::STOP)}</button>
                    </span>
                }))}
            </span>
        }))}
    };
    view! { <Plot id title head=head.into_any() chart=drawn sentence covered inks class/> }
}

/// Nothing to show.
fn blank() -> Chart {
    Chart::single(Axis::new("", "", 0.0, 1.0, 0), Panel::new(Axis::new("", "", 0.0, 1.0, 0)))
}
