//! The three settings that the learner holds: vane position, load, engine speed. Each is a slider and a number field on one value.

use crate::cover::Cover;
use crate::holds::{Holds, Reach};
use crate::language::{decimal, t, tf, typed_number};
use crate::state::{self, BenchSettings, DIAL_VANE, Dial};
use crate::sweeps::SweepPoint;
use crate::units::{self, Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::ev;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::settings::Load;
use web_sys::HtmlInputElement;

/// A dial in the units of the page.
#[derive(Debug, Clone, PartialEq)]
pub struct ShownDial {
    value: f64,
    min: f64,
    max: f64,
    step: f64,
    decimals: usize,
    symbol: &'static str,
    spoken: &'static str,
}

impl ShownDial {
    fn new(dial: Dial, si: f64, quantity: Quantity, units: UnitSystem) -> Self {
        let unit = units.unit(quantity);
        let step = unit.shown(dial.step);
        // A customary slider steps in round customary units; the ends are the engine's own either way.
        let step = if dial.step == unit.si(step.round()) || step >= 1.0 { step.round().max(1.0) } else { clean(step) };
        let decimals = if step < 1.0 { 1 } else { 0 };
        // A lesson may show a state beyond the range that it frees. The slider then reaches as far as that state, or it would
        // not stand where the bench stands.
        let (min, max) = (dial.min.min(si), dial.max.max(si));
        Self {
            value: unit.shown(si),
            min: clean(unit.shown(min)),
            max: clean(unit.shown(max)),
            step,
            decimals,
            symbol: unit.symbol,
            spoken: unit.spoken,
        }
    }

    /// A value as the field shows it: with the page's decimal mark, no spaces and no trailing zeros. A value typed between two
    /// steps keeps a digit.
    fn field(&self, value: f64) -> String {
        self.plain(value).replace('.', decimal().encode_utf8(&mut [0; 4]))
    }

    /// A value as an attribute of a slider: with a decimal point, whatever the language.
    fn plain(&self, value: f64) -> String {
        let between = (value - value.round()).abs() > 1e-6;
        let decimals = if between { self.decimals.max(1) } else { self.decimals };
        let text = format!("{value:.decimals$}");
        if decimals > 0 { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
    }
}

/// A value without the noise that a change of units leaves in its last digits.
fn clean(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// The value of a typed text on a dial. Errors: the message below the field.
fn typed(text: &str, label: &str, shown: &ShownDial) -> Result<f64, String> {
    let value = |v: f64| number(v, shown.decimals);
    let still = tf("Still at {value} {unit}.", &[("value", &value(shown.value)), ("unit", shown.symbol)]);
    match typed_number(text) {
        Some(value) if shown.min - 1e-9 <= value && value <= shown.max + 1e-9 => Ok(value),
        Some(_) => {
            let (from, to) = (value(shown.min), value(shown.max));
            let places = [("label", label), ("from", &from), ("to", &to), ("unit", shown.symbol)];
            Err(tf("{label} goes from {from} to {to} {unit}.", &places) + " " + &still)
        }
        None => Err(format!("{} {still}", t("That is not a number yet."))),
    }
}

/// One slider with its field.
#[component]
fn Control(
    id: &'static str,
    #[prop(into)] label: Signal<&'static str>,
    #[prop(into)] shown: Signal<ShownDial>,
    on_change: Callback<f64>,
    #[prop(into)] ends: Signal<(String, String)>,
    #[prop(optional)] children: Option<Children>,
    /// Whether it cannot be moved now.
    #[prop(into)]
    held: Signal<bool>,
    /// Stretches of the slider, in shares of its length, that lie past a limit.
    #[prop(into, default = Signal::stored(Vec::new()))]
    past: Signal<Vec<(f64, f64)>>,
) -> impl IntoView {
    let range = NodeRef::<leptos::html::Input>::new();
    let field = NodeRef::<leptos::html::Input>::new();
    let (fault, set_fault) = signal(None::<String>);

    // The ends come before the value: an input clamps its value to the ends that it has at that moment.
    let mut before: Option<ShownDial> = None;
    view::effect(move || {
        let shown = shown.get();
        if let (Some(range), Some(field)) = (range.get(), field.get()) {
            let reach = |s: &ShownDial| (s.min, s.max, s.step);
            if before.as_ref().map(reach) != Some(reach(&shown)) {
                range.set_min(&shown.plain(shown.min));
                range.set_max(&shown.plain(shown.max));
                range.set_step(&shown.plain(shown.step));
            }
            let value = shown.value.to_string();
            if range.value() != value {
                range.set_value(&value);
            }
            field.set_value(&shown.field(shown.value));
            if fault.with_untracked(Option::is_some) {
                set_fault.set(None);
            }
        }
        before = Some(shown);
    });

    let keys = move |event: ev::KeyboardEvent| {
        let steps = match event.key().as_str() {
            "PageUp" => 10.0,
            "PageDown" => -10.0,
            _ => return,
        };
        event.prevent_default();
        let s = shown.get_untracked();
        on_change.run((s.value + steps * s.step).clamp(s.min, s.max));
    };
    // The arrows step in the field too, from what is typed, as in a browser's own number field. That field cannot be used here:
    // it decides on the decimal mark itself.
    let field_keys = move |event: ev::KeyboardEvent| {
        let steps = match event.key().as_str() {
            "ArrowUp" => 1.0,
            "ArrowDown" => -1.0,
            "PageUp" => 10.0,
            "PageDown" => -10.0,
            _ => return,
        };
        event.prevent_default();
        let s = shown.get_untracked();
        let text = event_target::<HtmlInputElement>(&event).value();
        let from = typed(&text, label.get_untracked(), &s).unwrap_or(s.value);
        on_change.run((from + steps * s.step).clamp(s.min, s.max));
    };
    let slid = move |event: ev::Event| {
        let value = event_target::<HtmlInputElement>(&event).value_as_number();
        if value.is_finite() {
            on_change.run(value);
        }
    };
    let entered = move |event: ev::Event| {
        let input = event_target::<HtmlInputElement>(&event);
        let now = shown.get_untracked();
        match typed(&input.value(), label.get_untracked(), &now) {
            Ok(value) => {
                set_fault.set(None);
                input.set_value(&now.field(value));
                on_change.run(value);
            }
            Err(message) => set_fault.set(Some(message)),
        }
    };
    let spoken = move || shown.with(|s| format!("{} {}", number(s.value, s.decimals), s.spoken));

    view! {
        <div class="control" data-c=id>
            <label for=id>{label}</label>
            <span class="control-field">
                <input node_ref=field class="num" type="text" id=format!("{id}-n") inputmode="decimal" autocomplete="off"
                    aria-label=view::text(move || shown.with(|s| format!("{}, {}", label.get(), s.spoken)))
                    aria-invalid=view::text(move || fault.with(Option::is_some).to_string())
                    aria-describedby=format!("{id}-fault") disabled=held
                    on:change=entered on:keydown=field_keys/>
                <span class="unit">{view::text(move || shown.with(|s| s.symbol))}</span>
            </span>
            <div class="control-track">
                {view::part(move || past.get().into_iter().map(|(from, to)| view! {
                    <span class="control-past" aria-hidden="true"
                        style=("--from", from.to_string()) style=("--to", to.to_string())></span>
                }).collect_view())}
                <input node_ref=range type="range" id=id disabled=held aria-valuetext=view::text(spoken) on:input=slid on:keydown=keys/>
            </div>
            <p class="control-ends">
                <span>{view::text(move || ends.get().0)}</span>
                {view::part(move || held.get().then(|| view! { <span class="control-held">{t(words::HELD)}</span> }))}
                {children.map(|c| c())}
                <span>{view::text(move || ends.get().1)}</span>
            </p>
            <p class="control-fault" id=format!("{id}-fault") role="alert">{view::text(move || fault.get().unwrap_or_default())}</p>
        </div>
    }
}

/// Stretches of the vane slider past a limit or without a point, as shares of its length from `min` to `max` per cent.
fn stretches(points: &[SweepPoint], min: f64, max: f64) -> Vec<(f64, f64)> {
    let bad = |p: &SweepPoint| !p.holds || p.past_limit;
    let half = 50.0 / (points.len().max(2) - 1) as f64;
    points
        .chunk_by(|a, b| bad(a) == bad(b))
        .filter(|run| bad(&run[0]))
        .map(|run| {
            let (from, to) = (run[0].x - half, run[run.len() - 1].x + half);
            let share = |vane: f64| ((vane - min) / (max - min)).clamp(0.0, 1.0);
            (share(from), share(to))
        })
        .filter(|(from, to)| from < to)
        .collect()
}

/// The settings. `on_change` gets the whole bench as it should be next.
#[component]
pub fn Controls(
    bench: Signal<BenchSettings>,
    units: Signal<UnitSystem>,
    sweep: Signal<Arc<Vec<SweepPoint>>>,
    holds: Signal<Holds>,
    cover: Signal<Cover>,
    on_change: Callback<BenchSettings>,
    on_swap_load: Callback<()>,
    /// Which of the three have a slider: a piece of the bench in another page may lack some.
    #[prop(default = [true; 3])]
    offered: [bool; 3],
) -> impl IntoView {
    let holds_fuel = view::memo(move || bench.with(|b| matches!(b.settings.load, Load::Fuel { .. })));
    let vane = view::memo(move || {
        let dial = holds.get().vane().narrow(DIAL_VANE);
        bench.with(|b| ShownDial::new(dial, b.settings.vane_open_pct, Quantity::VanePosition, units.get()))
    });
    let load_quantity = move || if holds_fuel.get() { Quantity::FuelPerCycle } else { Quantity::Torque };
    let load = view::memo(move || {
        bench.with(|b| {
            ShownDial::new(holds.get().load().narrow(b.load_dial()), b.load_si(), load_quantity(), units.get())
        })
    });
    let speed = view::memo(move || {
        bench.with(|b| {
            let dial = holds.get().speed().narrow(state::dial_speed(&b.engine));
            ShownDial::new(dial, b.settings.speed_rpm, Quantity::EngineSpeed, units.get())
        })
    });
    let change = move |edit: &dyn Fn(&mut BenchSettings)| {
        let mut next = bench.get_untracked();
        edit(&mut next);
        on_change.run(next);
    };
    let set_vane = Callback::new(move |value: f64| change(&|b| b.settings.vane_open_pct = value));
    let set_speed = Callback::new(move |value: f64| change(&|b| b.settings.speed_rpm = value));
    let set_load = Callback::new(move |value: f64| {
        change(&|b| {
            // Ends of the slider are rounded for display: never past what the engine takes.
            let dial = b.load_dial();
            let in_si = |q: Quantity| clean_si(units.get_untracked().unit(q).si(value)).clamp(dial.min, dial.max);
            b.settings.load = match b.settings.load {
                Load::Fuel { .. } => Load::Fuel { fuel_kg_per_cycle: in_si(Quantity::FuelPerCycle) },
                Load::Torque { .. } => Load::Torque { torque_n_m: in_si(Quantity::Torque) },
            }
        })
    });
    let reach =
        move |shown: Memo<ShownDial>| view::derived(move || shown.with(|s| (number(s.min, 0), number(s.max, 0))));
    let past = view::memo(move || {
        let (min, max) = vane.with(|s| (s.min, s.max));
        if cover.with(Cover::is_off) { sweep.with(|points| stretches(points, min, max)) } else { Vec::new() }
    });
    // The value of a setting that cannot be moved is shown as text.
    let fixed = move || {
        let text = |name: &str, s: ShownDial| format!("{name} {} {}", number(s.value, s.decimals), s.symbol);
        let load_name = if holds_fuel.get() { t(words::LOAD_FUEL) } else { t(words::LOAD_TORQUE) };
        let all = [text(t(words::VANE), vane.get()), text(load_name, load.get()), text(t(words::SPEED), speed.get())];
        let told: Vec<String> =
            all.into_iter().zip(offered).filter(|(_, moves)| !moves).map(|(text, _)| text).collect();
        told.join(" · ")
    };
    view! {
        <section class="sheet control-row" id="controls" tabindex="-1" aria-label=t(words::SETTINGS)>
            {offered[0].then(|| view! { <Control id="vane" label=t(words::VANE) shown=vane on_change=set_vane
                ends=view::derived(move || vane.with(|s| (tf("{value} tight", &[("value", &number(s.min, 0))]), tf("wide open {value}", &[("value", &number(s.max, 0))]))))
                held=view::derived(move || holds.get().vane() == Reach::Held)
                past/> })}
            {offered[1].then(|| view! { <Control id="load" label=view::derived(move || if holds_fuel.get() { t(words::LOAD_FUEL) } else { t(words::LOAD_TORQUE) })
                shown=load on_change=set_load ends=reach(load) held=view::derived(move || holds.get().load() == Reach::Held)>
                {view::part(move || holds.get().hold().then(|| view! {
                    <button type="button" class="link" id="swap-load" on:click=move |_| on_swap_load.run(())>
                        {view::text(move || if holds_fuel.get() { t("hold torque instead") } else { t("hold fuel instead") })}
                    </button>
                }))}
            </Control> })}
            {offered[2].then(|| view! { <Control id="speed" label=t(words::SPEED) shown=speed on_change=set_speed ends=reach(speed) held=view::derived(move || holds.get().speed() == Reach::Held)/> })}
            {(offered != [true; 3]).then(|| view! { <p class="control-fixed num">{view::text(fixed)}</p> })}
        </section>
    }
}

/// A value in twelve digits: 110 mg is stored as 0.00011 kg, so that a link keeps what the field shows.
fn clean_si(value: f64) -> f64 {
    units::parse(&format!("{value:.11e}")).unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown() -> ShownDial {
        ShownDial::new(Dial { min: 5e-6, max: 1.75e-4, step: 1e-6 }, 1.1e-4, Quantity::FuelPerCycle, UnitSystem::Si)
    }

    #[test]
    fn by_hand_typed_numbers_and_their_faults() {
        let s = shown();
        assert_eq!(s.plain(s.value), "110");
        assert_eq!(typed("92,5", "Load", &s), Ok(92.5));
        assert_eq!(typed("176", "Load", &s), Err("Load goes from 5 to 175 mg/cycle. Still at 110 mg/cycle.".into()));
        for bad in ["", "lots", "NaN?", "1 2"] {
            assert_eq!(typed(bad, "Load", &s), Err("That is not a number yet. Still at 110 mg/cycle.".into()));
        }
        assert!(typed("NaN", "Load", &s).is_err() && typed("inf", "Load", &s).is_err());
    }

    #[test]
    fn by_hand_a_slider_reaches_to_where_the_bench_stands() {
        let narrowed = Dial { min: 60.0, max: 100.0, step: 1.0 };
        let ends = |at: f64| {
            let shown = ShownDial::new(narrowed, at, Quantity::EngineSpeed, UnitSystem::Si);
            (shown.min, shown.max)
        };
        assert_eq!([ends(80.0), ends(55.0), ends(110.0)], [(60.0, 100.0), (55.0, 100.0), (60.0, 110.0)]);
    }

    #[test]
    fn by_hand_customary_torque_steps_are_whole() {
        let s =
            ShownDial::new(Dial { min: 0.0, max: 1100.0, step: 5.0 }, 700.0, Quantity::Torque, UnitSystem::Customary);
        assert_eq!((s.step, s.plain(s.value)), (4.0, "516.3".into()));
        assert_eq!(clean_si(110.0 * 1e-6), 1.1e-4);
    }

    #[test]
    fn by_hand_stretches_past_a_limit() {
        let point = |vane: f64, holds: bool| SweepPoint { x: vane, holds, past_limit: false, values: Vec::new() };
        let points: Vec<_> = (0..=4).map(|i| point(25.0 * i as f64, i > 0)).collect();
        assert_eq!(stretches(&points, 0.0, 100.0), [(0.0, 0.125)]);
        assert_eq!(stretches(&points, 10.0, 60.0), [(0.0, 0.05)]);
        assert!(stretches(&points, 60.0, 100.0).is_empty() && stretches(&[], 0.0, 100.0).is_empty());
    }
}
