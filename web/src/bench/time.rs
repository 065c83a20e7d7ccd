//! The engine run live: sliders move it while it runs, a load step is timed, a second run is laid over the first.

use super::slot::Scene;
use crate::browser;
use crate::language::t;
use crate::lessons::session::{Cover, Reach};
use crate::plots::chart::Chart;
use crate::plots::figure::Plot;
use crate::plots::traces::{self, History, LoadStep, TRACES};
use crate::refusals;
use crate::state::BenchSettings;
use crate::units::{self, Quantity, number};
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::transient::Transient;
use volute_core::settings::Load;

/// Speeds of time, times real time.
const SPEEDS: [f64; 8] = [0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];

/// Engine time that is kept, in s.
const KEPT_S: f64 = 60.0;

/// Most computing in one frame, in ms: the page stays quick whatever speed is asked for.
const STINT_MS: f64 = 9.0;

/// Traces shown at first.
const FIRST: [&str; 4] = ["torque", "p2", "p3", "shaft"];

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
    let engine = StoredValue::new_local(None::<Transient>);
    let history = StoredValue::new(History::default());
    let kept = RwSignal::new(None::<Arc<History>>);
    // Counts what has been added to the history: it is long, and only looked at.
    let version = RwSignal::new(0_u32);
    let playing = RwSignal::new(false);
    let pace = RwSignal::new(1.0_f64);
    let back = RwSignal::new(None::<f64>);
    let traces = RwSignal::new(FIRST.to_vec());
    let (fault, set_fault) = signal(None::<String>);
    let target = RwSignal::new(0.8_f64);

    let advance = move |time_s: f64, most_ms: f64| {
        let begun = browser::now_ms();
        engine.update_value(|engine| {
            let Some(engine) = engine else { return };
            let mut left = time_s;
            while left > 0.0 && browser::now_ms() - begun < most_ms {
                left -= engine.interval_s();
                let sample = engine.advance();
                history.update_value(|h| h.push(sample));
            }
        });
        history.update_value(|h| h.keep_last(KEPT_S));
        version.update(|v| *v = v.wrapping_add(1));
    };
    let ready = move || {
        if engine.with_value(Option::is_none) {
            let point = run.with_untracked(|r| r.shown.clone().filter(|_| r.holds));
            match point {
                Some(point) => engine.set_value(Some(Transient::start(&point))),
                None => set_fault.set(Some(t(words::NO_START_IN_TIME).into())),
            }
        }
        engine.with_value(Option::is_some)
    };
    let frame = StoredValue::new_local(None::<f64>);
    let tick = move |now_ms: f64| {
        let before = frame.try_update_value(|f| f.replace(now_ms)).flatten();
        let go_on = playing.try_get_untracked().unwrap_or(false);
        if go_on && let Some(before) = before {
            // A page that was away does not catch up hours.
            advance((now_ms - before).min(100.0) / 1000.0 * pace.get_untracked(), STINT_MS);
        }
        go_on
    };
    let play = move || {
        if playing.get_untracked() {
            playing.set(false);
        } else if ready() {
            set_fault.set(None);
            back.set(None);
            frame.set_value(None);
            playing.set(true);
            browser::on_frames(tick);
        }
    };
    let step_once = move |_| {
        if ready() {
            playing.set(false);
            back.set(None);
            advance(1e-9, 1000.0);
        }
    };
    let clear = move |()| {
        playing.set(false);
        engine.set_value(None);
        history.set_value(History::default());
        back.set(None);
        set_fault.set(None);
        version.update(|v| *v = v.wrapping_add(1));
    };
    let keep = move |_| kept.set(Some(Arc::new(history.get_value())));
    let forget = move |_| kept.set(None);
    let step_load = move |_| {
        let mut next = bench.get_untracked();
        let most = next.engine.range.torque_max_n_m;
        let to_n_m = crate::state::dial_torque(&next.engine).snap(target.get_untracked() * most);
        next.settings.load = Load::Torque { torque_n_m: to_n_m };
        if ready() {
            history.update_value(|h| {
                let last = h.samples.last().copied();
                let from_n_m = last
                    .map(|s| s.torque_n_m)
                    .or_else(|| run.with_untracked(|r| r.reading().map(|r| r.brake.torque_n_m)));
                h.step = from_n_m.map(|from_n_m| LoadStep::new(last.map_or(0.0, |s| s.time_s), from_n_m, to_n_m));
            });
            on_change.run(next);
            if !playing.get_untracked() {
                play();
            }
        }
    };
    // What the sliders do, the running engine gets; another engine needs a new start.
    let mut was = bench.get_untracked().engine.clone();
    view::effect(move || {
        let next = bench.get();
        if next.engine != was {
            was = next.engine.clone();
            clear(());
            return;
        }
        engine.update_value(|engine| {
            if let Some(engine) = engine
                && engine.settings() != &next.settings
                && let Err(e) = engine.set(&next.settings)
            {
                set_fault.set(Some(refusals::bench(&e)));
            }
        });
    });

    // The history is long: it is looked at in place, and copied only where it is read back.
    let with_shown = move |look: &dyn Fn(&History) -> String, plot: &dyn Fn(&History) -> Option<Chart>| {
        version.track();
        let at = back.get();
        history.with_value(|h| match at {
            None => (look(h), plot(h)),
            Some(at) => {
                let upto = h.samples.partition_point(|s| s.time_s <= at);
                let past = History { samples: h.samples[..upto].to_vec(), step: h.step.filter(|s| s.at_s <= at) };
                (look(&past), plot(&past))
            }
        })
    };
    let chart = view::memo(move || {
        let (other, keys, units) = (kept.get(), traces.get(), units.get());
        let plot = |h: &History| Some(traces::chart(h, other.as_deref(), &keys, back.get(), units));
        let (_, chart) = with_shown(&|_| String::new(), &plot);
        Arc::new(chart.unwrap_or_else(|| traces::chart(&History::default(), None, &[], None, units)))
    });
    let sentence = view::derived(move || {
        let (other, units) = (kept.get(), units.get());
        fault.get().unwrap_or_else(|| with_shown(&|h| traces::sentence(h, other.as_deref(), units), &|_| None).0)
    });
    let ends = move || {
        version.track();
        history
            .with_value(|h| (h.samples.first().map_or(0.0, |s| s.time_s), h.samples.last().map_or(0.0, |s| s.time_s)))
    };
    let covered = view::derived(move || !cover.with(Cover::is_off));
    let held = view::flag(move || load.get() == Reach::Held || covered.get());
    let target_text = view::text(move || {
        let unit = units.get().unit(Quantity::Torque);
        unit.text(bench.with(|b| target.get() * b.engine.range.torque_max_n_m))
    });
    let head = view! {
        <h2>{t(words::TIME)}</h2>
        <div class="time-transport" role="group" aria-label=t(words::TIME)>
            <button type="button" class="strong" id="time-play" on:click=move |_| play()>
                {view::text(move || if playing.get() { t(words::PAUSE) } else { t(words::RUN) })}
            </button>
            <button type="button" id="time-step" on:click=step_once>{t(words::ONE_FIRING)}</button>
            <label>{t(words::PACE)}" "
                <select id="time-pace" on:change=move |e| if let Some(v) = units::parse(&event_target_value(&e)) { pace.set(v) }>
                    {SPEEDS.map(|s| view! { <option value=s.to_string() selected=s == 1.0>{format!("{} ×", number(s, if s < 1.0 { 2 } else { 0 }))}</option> })}
                </select>
            </label>
            <label for="time-target">{t(words::LOAD_STEP)}" "<output>{target_text}</output>
                <input type="range" id="time-target" min="0" max="1" step="0.01" prop:value=view::text(move || target.get().to_string())
                    on:input=move |e| if let Some(v) = units::parse(&event_target_value(&e)) { target.set(v) }/>
            </label>
            <button type="button" id="time-load" on:click=step_load disabled=held>{t(words::STEP_NOW)}</button>
            <button type="button" class="link" id="time-keep" on:click=keep>{t(words::KEEP_RUN)}</button>
            {view::part(move || kept.get().is_some().then(|| view! { <button type="button" class="link" on:click=forget>{t(words::DROP_RUN)}</button> }))}
            <button type="button" class="link" id="time-clear" on:click=move |_| clear(())>{t(words::CLEAR)}</button>
            <label class="time-scrub">{t(words::LOOK_BACK)}
                <input type="range" id="time-back" step="0.01"
                    min=view::text(move || ends().0.to_string()) max=view::text(move || ends().1.to_string())
                    prop:value=view::text(move || back.get().unwrap_or_else(|| ends().1).to_string())
                    aria-valuetext=view::text(move || format!("{} s", number(back.get().unwrap_or_else(|| ends().1), 2)))
                    on:input=move |e| { playing.set(false); back.set(event_target_value(&e).parse().ok()); }/>
            </label>
            <details class="time-traces"><summary>{t(words::TRACES)}</summary>
                {TRACES.iter().map(|trace| view! {
                    <label class="switch"><input type="checkbox" checked=FIRST.contains(&trace.key)
                        on:change=move |e| {
                            let on = event_target_checked(&e);
                            traces.update(|all| { all.retain(|k| *k != trace.key); if on { all.push(trace.key); } });
                        }/>{t(trace.name)}</label>
                }).collect_view()}
            </details>
        </div>
    };
    view! { <Plot id="time" title=Signal::stored(t(words::TIME).to_string()) head=head.into_any() chart sentence covered inks class="time-plot"/> }
}
