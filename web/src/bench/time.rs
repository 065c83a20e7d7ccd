//! The engine as it runs in time: sliders move it while it runs, a load step is timed, an earlier run is laid under the new one.

use super::slot::Scene;
use crate::browser;
use crate::cover::Cover;
use crate::holds::Reach;
use crate::language::t;
use crate::plots::figure::Plot;
use crate::plots::traces::{self, History, LoadStep, TRACES};
use crate::refusals::Says;
use crate::run::Run;
use crate::state::{BenchSettings, dial_torque};
use crate::units::{self, Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::ev::Event;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::transient::Transient;
use volute_core::settings::Load;

/// Speeds of time, times real time.
const SPEEDS: [f64; 8] = [0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];

/// Engine time that is kept, in s.
const KEPT_S: f64 = 60.0;

/// Most computing in one frame, in ms: the page stays quick at every speed of time.
const STINT_MS: f64 = 9.0;

/// Traces shown at first.
const FIRST: [&str; 4] = ["torque", "p2", "p3", "shaft"];

/// An engine that runs in time: its state, what it has done, and how that is looked at.
#[derive(Clone, Copy)]
struct LiveRun {
    /// The point that it starts from.
    run: Signal<Arc<Run>>,
    bench: Signal<BenchSettings>,
    engine: StoredValue<Option<Transient>, LocalStorage>,
    history: StoredValue<History>,
    /// Counts what has been added to the history: it is long, and only looked at.
    version: RwSignal<u32>,
    /// An earlier run, to compare with.
    kept: RwSignal<Option<Arc<History>>>,
    playing: RwSignal<bool>,
    /// Speed of time.
    pace: RwSignal<f64>,
    /// The moment that is looked back at.
    back: RwSignal<Option<f64>>,
    /// The torque of a load step, as a share of the greatest.
    target: RwSignal<f64>,
    traces: RwSignal<Vec<&'static str>>,
    fault: RwSignal<Option<String>>,
    /// When the last frame was drawn.
    frame: StoredValue<Option<f64>>,
}

impl LiveRun {
    fn new(run: Signal<Arc<Run>>, bench: Signal<BenchSettings>) -> Self {
        Self {
            run,
            bench,
            engine: StoredValue::new_local(None),
            history: StoredValue::new(History::default()),
            version: RwSignal::new(0),
            kept: RwSignal::new(None),
            playing: RwSignal::new(false),
            pace: RwSignal::new(1.0),
            back: RwSignal::new(None),
            target: RwSignal::new(0.8),
            traces: RwSignal::new(FIRST.to_vec()),
            fault: RwSignal::new(None),
            frame: StoredValue::new(None),
        }
    }

    fn changed(&self) {
        self.version.update(|v| *v = v.wrapping_add(1));
    }

    /// Runs the engine for a time, at most for so long by the clock.
    fn advance(&self, time_s: f64, most_ms: f64) {
        let begun = browser::now_ms();
        self.engine.update_value(|engine| {
            let Some(engine) = engine else { return };
            let mut left = time_s;
            while left > 0.0 && browser::now_ms() - begun < most_ms {
                left -= engine.interval_s();
                let sample = engine.advance();
                self.history.update_value(|h| h.push(sample));
            }
        });
        self.history.update_value(|h| h.keep_last(KEPT_S));
        self.changed();
    }

    /// Starts the engine from the point that stands, unless it runs already. Says whether there is one.
    fn is_ready(&self) -> bool {
        if self.engine.with_value(Option::is_none) {
            let point = self.run.with_untracked(|r| r.shown.clone().filter(|_| r.holds));
            match point {
                Some(point) => self.engine.set_value(Some(Transient::start(&point))),
                None => {
                    self.fault.set(Some(t("At these settings no point holds, so there is none to start from.").into()))
                }
            }
        }
        self.engine.with_value(Option::is_some)
    }

    /// A frame of the page at a time. Says whether another one is wanted.
    fn tick(&self, now_ms: f64) -> bool {
        let before = self.frame.try_update_value(|f| f.replace(now_ms)).flatten();
        let go_on = self.playing.try_get_untracked().unwrap_or(false);
        if go_on && let Some(before) = before {
            // A page that comes back after hours does not catch up on them.
            self.advance((now_ms - before).min(100.0) / 1000.0 * self.pace.get_untracked(), STINT_MS);
        }
        go_on
    }

    /// Runs, or pauses.
    fn play(self) {
        if self.playing.get_untracked() {
            self.playing.set(false);
        } else if self.is_ready() {
            self.fault.set(None);
            self.back.set(None);
            self.frame.set_value(None);
            self.playing.set(true);
            browser::on_frames(move |now_ms| self.tick(now_ms));
        }
    }

    /// One firing interval.
    fn step_once(&self) {
        if self.is_ready() {
            self.playing.set(false);
            self.back.set(None);
            self.advance(1e-9, 1000.0);
        }
    }

    /// Back to before the first run.
    fn clear(&self) {
        self.playing.set(false);
        self.engine.set_value(None);
        self.history.set_value(History::default());
        self.back.set(None);
        self.fault.set(None);
        self.changed();
    }

    fn target_n_m(&self, bench: &BenchSettings) -> f64 {
        dial_torque(&bench.engine).snap(self.target.get_untracked() * bench.engine.range.torque_max_n_m)
    }

    /// Asks for the torque of the load step, and times how it is reached.
    fn step_load(self, on_change: Callback<BenchSettings>) {
        let mut next = self.bench.get_untracked();
        let to_n_m = self.target_n_m(&next);
        next.settings.load = Load::Torque { torque_n_m: to_n_m };
        if self.is_ready() {
            self.history.update_value(|h| {
                let last = h.samples.last().copied();
                let stands = || self.run.with_untracked(|r| r.reading().map(|r| r.brake.torque_n_m));
                let from_n_m = last.map(|s| s.torque_n_m).or_else(stands);
                h.step = from_n_m.map(|from_n_m| LoadStep::new(last.map_or(0.0, |s| s.time_s), from_n_m, to_n_m));
            });
            on_change.run(next);
            if !self.playing.get_untracked() {
                self.play();
            }
        }
    }

    /// Gives the running engine what the sliders do; another engine needs a new start.
    fn follow_sliders(self) {
        let mut was = self.bench.get_untracked().engine.clone();
        view::effect(move || {
            let next = self.bench.get();
            if next.engine != was {
                was = next.engine.clone();
                return self.clear();
            }
            self.engine.update_value(|engine| {
                if let Some(engine) = engine
                    && engine.settings() != &next.settings
                    && let Err(e) = engine.set(&next.settings)
                {
                    self.fault.set(Some(e.says()));
                }
            });
        });
    }

    /// Looks at the history up to the moment that is looked back at. It is long: it is copied only where it is read back.
    fn with_history<T>(&self, look: impl FnOnce(&History) -> T) -> T {
        self.version.track();
        let at = self.back.get();
        self.history.with_value(|h| match at {
            None => look(h),
            Some(at) => {
                let upto = h.samples.partition_point(|s| s.time_s <= at);
                look(&History { samples: h.samples[..upto].to_vec(), step: h.step.filter(|s| s.at_s <= at) })
            }
        })
    }

    /// First and last moment of the history, in s.
    fn ends(&self) -> (f64, f64) {
        self.version.track();
        self.history
            .with_value(|h| (h.samples.first().map_or(0.0, |s| s.time_s), h.samples.last().map_or(0.0, |s| s.time_s)))
    }

    fn looked_at_s(&self) -> f64 {
        self.back.get().unwrap_or_else(|| self.ends().1)
    }
}

/// The view.
#[component]
pub fn Time(
    scene: Scene,
    bench: Signal<BenchSettings>,
    /// Whether a lesson holds the load.
    load: Signal<Reach>,
    on_change: Callback<BenchSettings>,
) -> impl IntoView {
    let Scene { run, units, cover, inks, .. } = scene;
    let live = LiveRun::new(run, bench);
    live.follow_sliders();
    let chart = view::memo(move || {
        let (other, keys, units) = (live.kept.get(), live.traces.get(), units.get());
        let back = live.back.get();
        Arc::new(live.with_history(|h| traces::chart(h, other.as_deref(), &keys, back, units)))
    });
    let sentence = view::derived(move || {
        let (other, units) = (live.kept.get(), units.get());
        let says = || live.with_history(|h| traces::sentence(h, other.as_deref(), units));
        live.fault.get().unwrap_or_else(says)
    });
    let covered = view::derived(move || !cover.with(Cover::is_off));
    let held = view::flag(move || load.get() == Reach::Held || covered.get());
    let head = view! {
        <h2>{t(words::TIME)}</h2>
        <div class="time-transport" role="group" aria-label=t(words::TIME)>
            <button type="button" class="strong" id="time-play" on:click=move |_| live.play()>
                {view::text(move || if live.playing.get() { t("Pause") } else { t("Run") })}
            </button>
            <button type="button" id="time-step" on:click=move |_| live.step_once()>{t("One firing")}</button>
            {pace(live)}
            {target(live, units)}
            <button type="button" id="time-load" on:click=move |_| live.step_load(on_change) disabled=held>{t("Step the load")}</button>
            <button type="button" class="link" id="time-keep" on:click=move |_| live.kept.set(Some(Arc::new(live.history.get_value())))>{t("keep this run")}</button>
            {view::part(move || live.kept.get().is_some().then(|| view! {
                <button type="button" class="link" on:click=move |_| live.kept.set(None)>{t("drop the kept run")}</button>
            }))}
            <button type="button" class="link" id="time-clear" on:click=move |_| live.clear()>{t("clear")}</button>
            {look_back(live)}
            <details class="time-traces"><summary>{t("traces")}</summary>
                {TRACES.iter().map(|trace| view! {
                    <label class="switch"><input type="checkbox" checked=FIRST.contains(&trace.key)
                        on:change=move |e| {
                            let on = event_target_checked(&e);
                            live.traces.update(|all| { all.retain(|k| *k != trace.key); if on { all.push(trace.key); } });
                        }/>{t(trace.name)}</label>
                }).collect_view()}
            </details>
        </div>
    };
    view! { <Plot id="time" title=Signal::stored(t(words::TIME).to_string()) head=head.into_any() chart sentence covered inks class="time-plot"/> }
}

/// How fast time runs.
fn pace(live: LiveRun) -> impl IntoView {
    let pick = move |e: Event| {
        if let Some(pace) = units::parse(&event_target_value(&e)) {
            live.pace.set(pace);
        }
    };
    view! {
        <label>{t("pace")}" "
            <select id="time-pace" on:change=pick>
                {SPEEDS.map(|s| view! { <option value=s.to_string() selected=s == 1.0>{format!("{} ×", number(s, if s < 1.0 { 2 } else { 0 }))}</option> })}
            </select>
        </label>
    }
}

/// The torque that a load step asks for.
fn target(live: LiveRun, units: Signal<UnitSystem>) -> impl IntoView {
    let text = view::text(move || {
        let unit = units.get().unit(Quantity::Torque);
        unit.text(live.bench.with(|b| live.target.get() * b.engine.range.torque_max_n_m))
    });
    let slide = move |e: Event| {
        if let Some(share) = units::parse(&event_target_value(&e)) {
            live.target.set(share);
        }
    };
    view! {
        <label for="time-target">{t("step the torque to")}" "<output>{text}</output>
            <input type="range" id="time-target" min="0" max="1" step="0.01" prop:value=view::text(move || live.target.get().to_string()) on:input=slide/>
        </label>
    }
}

/// The moment that is looked back at.
fn look_back(live: LiveRun) -> impl IntoView {
    let slide = move |e: Event| {
        live.playing.set(false);
        live.back.set(units::parse(&event_target_value(&e)));
    };
    view! {
        <label class="time-scrub">{t("look back")}
            <input type="range" id="time-back" step="0.01"
                min=view::text(move || live.ends().0.to_string()) max=view::text(move || live.ends().1.to_string())
                prop:value=view::text(move || live.looked_at_s().to_string())
                aria-valuetext=view::text(move || format!("{} s", number(live.looked_at_s(), 2)))
                on:input=slide/>
        </label>
    }
}
