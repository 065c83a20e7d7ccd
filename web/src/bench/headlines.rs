//! Five headline quantities, each a number over a rule.

use crate::cover::{Cover, PUMPING};
use crate::language::{msg, t, tf};
use crate::plots::scale::share;
use crate::run::Run;
use crate::units::{Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::reading::{LimitName, Reading};

/// One headline.
#[derive(Debug, Clone, PartialEq, Default)]
struct Headline {
    value: String,
    unit: String,
    /// What else belongs to it, in small print between the ends of the rule.
    beside: String,
    ends: (String, String),
    now: f64,
    limit: Option<f64>,
    zero: Option<f64>,
}

impl Headline {
    /// The same without its number, which every step of a slider changes.
    fn frame(self) -> Self {
        Self { value: String::new(), beside: String::new(), now: 0.0, ..self }
    }
}

/// The five, in order: hook for tests and styles, label.
const FIVE: [(&str, &str); 5] = [
    ("boost", words::BOOST),
    ("p3", words::P3),
    ("t3", words::T3),
    ("density", words::DENSITY),
    ("pumping", words::PUMPING),
];

/// Places a number on a rule whose ends are given in SI.
fn on_rule(quantity: Quantity, units: UnitSystem, si: f64, ends: (f64, f64), limit: Option<f64>) -> Headline {
    let unit = units.unit(quantity);
    let place = |v: f64| share(v, ends.0, ends.1);
    Headline {
        value: unit.number(si),
        unit: unit.symbol.into(),
        beside: String::new(),
        ends: (number(unit.shown(ends.0), 0), number(unit.shown(ends.1), 0)),
        now: place(si),
        limit: limit.map(place),
        zero: (ends.0 < 0.0).then(|| place(0.0)),
    }
}

fn headline(which: &str, r: &Reading, units: UnitSystem) -> Headline {
    let text = |q: Quantity, si: f64| units.unit(q).text(si);
    let limit = |name: LimitName| r.limit(name).map(|l| l.limit);
    // Ends of the rules in the unit of the page, so that they are round there.
    let round = |q: Quantity, si: (f64, f64), customary: (f64, f64)| {
        let unit = units.unit(q);
        let (a, b) = if units == UnitSystem::Si { si } else { customary };
        (unit.si(a), unit.si(b))
    };
    match which {
        "boost" => {
            let ends = round(Quantity::PressureGauge, (0.0, 300.0), (0.0, 45.0));
            let h = on_rule(Quantity::PressureGauge, units, r.boost_pa, ends, None);
            Headline { beside: text(Quantity::PressureAbs, r.stations.intake_manifold.p_pa), ..h }
        }
        "p3" => {
            let ends = round(Quantity::PressureAbs, (100.0, 700.0), (15.0, 100.0));
            let h = on_rule(
                Quantity::PressureAbs,
                units,
                r.stations.turbine_inlet.p_pa,
                ends,
                limit(LimitName::ExhaustManifoldPressure),
            );
            Headline {
                beside: format!("p2 {}", units.unit(Quantity::PressureAbs).number(r.stations.compressor_outlet.p_pa)),
                ..h
            }
        }
        "t3" => {
            let ends = round(Quantity::Temperature, (200.0, 900.0), (400.0, 1600.0));
            let h = on_rule(
                Quantity::Temperature,
                units,
                r.stations.turbine_inlet.t_k,
                ends,
                limit(LimitName::TurbineInletTemperature),
            );
            Headline {
                unit: tf("{unit} turbine inlet", &[("unit", &h.unit)]),
                beside: limit(LimitName::TurbineInletTemperature)
                    .map_or(String::new(), |k| tf("limit {limit}", &[("limit", &text(Quantity::Temperature, k))])),
                ..h
            }
        }
        "density" => {
            let h = on_rule(Quantity::Ratio, units, r.density_ratio, (1.0, 4.0), None);
            Headline { beside: tf("uncooled {ratio}", &[("ratio", &number(r.compressor.density_ratio, 2))]), ..h }
        }
        _ => {
            // Ends in proportion to the engine, as torque: a mean pressure of -30 to 300 kPa over its swept volume.
            let per_pa = r.displacement_m3 / (4.0 * core::f64::consts::PI);
            let unit = units.unit(Quantity::Torque);
            let step = crate::plots::ticks::step(unit.shown(3.0e5 * per_pa), 6);
            let ends = (unit.si(-step), unit.si((unit.shown(3.0e5 * per_pa) / step).ceil() * step));
            let h = on_rule(Quantity::Torque, units, r.indicated.pumping_torque_n_m, ends, None);
            let power = text(Quantity::Power, r.indicated.pumping_power_w.abs());
            let says = if r.indicated.pumping_power_w < 0.0 { msg("gives {power}") } else { msg("costs {power}") };
            Headline { beside: tf(says, &[("power", &power)]), ..h }
        }
    }
}

/// Whether a lesson covers a headline.
fn covers(hook: &str, cover: &Cover) -> bool {
    match hook {
        "boost" => cover.hides("boost"),
        "p3" => cover.hides("p3"),
        "t3" => cover.hides("t3"),
        "density" => cover.hides("density_ratio"),
        _ => cover.hides_any(PUMPING),
    }
}

/// Whether a lesson covers what stands beside a headline.
fn covers_beside(hook: &str, cover: &Cover) -> bool {
    match hook {
        "boost" => cover.hides("p_im"),
        "p3" => cover.hides("p2"),
        "density" => cover.hides_any(&["rho1", "rho2"]),
        _ => false,
    }
}

/// A mark on a headline's rule, if it has one.
fn mark(class: &'static str, at: Signal<Option<f64>>) -> impl IntoView {
    let x = view::text(move || at.get().unwrap_or_default().to_string());
    view! { <i class=class hidden=view::flag(move || at.get().is_none()) style=("--x", x)></i> }
}

/// The row of five.
#[component]
pub fn Headlines(
    run: Signal<Arc<Run>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
    on_term: Callback<&'static str>,
) -> impl IntoView {
    view! {
        <section class="sheet headline-row" aria-label=t(words::HEADLINES)>
            {FIVE.into_iter().map(|(hook, label)| {
                let covered = view::memo(move || cover.with(|c| covers(hook, c)));
                let bare = view::memo(move || cover.with(|c| covers_beside(hook, c)));
                let now = view::memo(move || run.with(|run| {
                    let empty = || Headline { value: number(f64::NAN, 0), ..Headline::default() };
                    let shown = run.reading().filter(|_| !covered.get()).map_or_else(empty, |r| headline(hook, r, units.get()));
                    if bare.get() { Headline { beside: String::new(), ..shown } } else { shown }
                }));
                let frame = view::memo(move || now.get().frame());
                view! {
                    <div class="headline" data-q=hook class:covered=covered>
                        <button type="button" class="headline-name term" on:click=move |_| on_term.run(hook)>{t(label)}</button>
                        <span class="headline-value num">{view::text(move || now.with(|h| h.value.clone()))}</span>
                        <span class="headline-unit">{view::text(move || frame.with(|h| h.unit.clone()))}</span>
                        <div class="headline-rule" aria-hidden="true">
                            {mark("zero", view::derived(move || frame.with(|h| h.zero)))}
                            {mark("lim", view::derived(move || frame.with(|h| h.limit)))}
                            <i style=("--x", view::text(move || now.with(|h| format!("{:.4}", h.now))))></i>
                        </div>
                        <div class="headline-foot num">
                            <span aria-hidden="true">{view::text(move || frame.with(|h| h.ends.0.clone()))}</span>
                            <span class="headline-beside">{view::text(move || if covered.get() { t(words::COVERED_SHORT).into() } else { now.with(|h| h.beside.clone()) })}</span>
                            <span aria-hidden="true">{view::text(move || frame.with(|h| h.ends.1.clone()))}</span>
                        </div>
                    </div>
                }
            }).collect_view()}
        </section>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn identity_every_headline_stands_on_its_rule() {
        for reading in [sample::hinders(), sample::helps(), sample::level()] {
            for units in [UnitSystem::Si, UnitSystem::Customary] {
                for (hook, _) in FIVE {
                    let h = headline(hook, &reading, units);
                    assert!(0.0 < h.now && h.now < 1.0, "{hook}: {h:?}");
                    assert!(h.value != "–" && !h.beside.is_empty());
                }
            }
        }
    }

    #[test]
    fn by_hand_values_of_the_sample() {
        let r = sample::hinders();
        let value = |hook| headline(hook, &r, UnitSystem::Si).value;
        assert_eq!(
            [value("boost"), value("p3"), value("t3"), value("density"), value("pumping")],
            ["179", "320", "541", "2.66", "34"]
        );
        assert_eq!(headline("p3", &r, UnitSystem::Si).beside, "p2 283");
    }
}
