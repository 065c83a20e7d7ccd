//! Five headline quantities, each a number over a rule.

use crate::cover::{Cover, PUMPING};
use crate::language::{msg, t, tf};
use crate::plots::scale::share;
use crate::plots::ticks::step;
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

/// How one of the five is shown.
struct Kind {
    /// Hook for tests and styles, and the name of its explanation.
    hook: &'static str,
    label: &'static str,
    /// Readings that cover the headline, and those that cover only what stands beside it.
    covered_by: &'static [&'static str],
    bare_by: &'static [&'static str],
    of: fn(&Reading, UnitSystem) -> Headline,
}

/// The five, in order.
const FIVE: [Kind; 5] = [
    Kind { hook: "boost", label: msg("Boost"), covered_by: &["boost"], bare_by: &["p_im"], of: boost },
    Kind { hook: "p3", label: msg("Exhaust-manifold pressure"), covered_by: &["p3"], bare_by: &["p2"], of: p3 },
    Kind { hook: "t3", label: msg("Gas temperature"), covered_by: &["t3"], bare_by: &[], of: t3 },
    Kind {
        hook: "density",
        label: msg("Density ratio"),
        covered_by: &["density_ratio"],
        bare_by: &["rho1", "rho2"],
        of: density,
    },
    Kind { hook: "pumping", label: msg("Pumping loss"), covered_by: PUMPING, bare_by: &[], of: pumping },
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

/// The ends of a rule in SI, round in the unit of the page.
fn round(quantity: Quantity, units: UnitSystem, si: (f64, f64), customary: (f64, f64)) -> (f64, f64) {
    let unit = units.unit(quantity);
    let (a, b) = if units == UnitSystem::Si { si } else { customary };
    (unit.si(a), unit.si(b))
}

fn boost(r: &Reading, units: UnitSystem) -> Headline {
    let ends = round(Quantity::PressureGauge, units, (0.0, 300.0), (0.0, 45.0));
    let beside = units.unit(Quantity::PressureAbs).text(r.stations.intake_manifold.p_pa);
    Headline { beside, ..on_rule(Quantity::PressureGauge, units, r.boost_pa, ends, None) }
}

fn p3(r: &Reading, units: UnitSystem) -> Headline {
    let pressure = Quantity::PressureAbs;
    let limit = r.limit(LimitName::ExhaustManifoldPressure).map(|l| l.limit);
    let ends = round(pressure, units, (100.0, 700.0), (15.0, 100.0));
    let beside = format!("p2 {}", units.unit(pressure).number(r.stations.compressor_outlet.p_pa));
    Headline { beside, ..on_rule(pressure, units, r.stations.turbine_inlet.p_pa, ends, limit) }
}

fn t3(r: &Reading, units: UnitSystem) -> Headline {
    let limit = r.limit(LimitName::TurbineInletTemperature).map(|l| l.limit);
    let ends = round(Quantity::Temperature, units, (200.0, 900.0), (400.0, 1600.0));
    let unit = units.unit(Quantity::Temperature);
    let beside = limit.map_or(String::new(), |k| tf("limit {limit}", &[("limit", &unit.text(k))]));
    let unit = tf("{unit} turbine inlet", &[("unit", unit.symbol)]);
    Headline { unit, beside, ..on_rule(Quantity::Temperature, units, r.stations.turbine_inlet.t_k, ends, limit) }
}

fn density(r: &Reading, units: UnitSystem) -> Headline {
    let beside = tf("uncooled {ratio}", &[("ratio", &number(r.compressor.density_ratio, 2))]);
    Headline { beside, ..on_rule(Quantity::Ratio, units, r.density_ratio, (1.0, 4.0), None) }
}

fn pumping(r: &Reading, units: UnitSystem) -> Headline {
    // Ends in proportion to the engine, as torque: a mean pressure of -30 to 300 kPa over its swept volume.
    let per_pa = r.displacement_m3 / (4.0 * core::f64::consts::PI);
    let unit = units.unit(Quantity::Torque);
    let most = unit.shown(3.0e5 * per_pa);
    let step = step(most, 6);
    let ends = (unit.si(-step), unit.si((most / step).ceil() * step));
    let power_w = r.indicated.pumping_power_w;
    let says = if power_w < 0.0 { msg("gives {power}") } else { msg("costs {power}") };
    let beside = tf(says, &[("power", &units.unit(Quantity::Power).text(power_w.abs()))]);
    Headline { beside, ..on_rule(Quantity::Torque, units, r.indicated.pumping_torque_n_m, ends, None) }
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
            {FIVE.into_iter().map(|Kind { hook, label, covered_by, bare_by, of }| {
                let covered = view::memo(move || cover.with(|c| c.hides_any(covered_by)));
                let bare = view::memo(move || cover.with(|c| c.hides_any(bare_by)));
                let now = view::memo(move || run.with(|run| {
                    let empty = || Headline { value: number(f64::NAN, 0), ..Headline::default() };
                    let shown = run.reading().filter(|_| !covered.get()).map_or_else(empty, |r| of(r, units.get()));
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
                for Kind { hook, of, .. } in FIVE {
                    let h = of(&reading, units);
                    assert!(0.0 < h.now && h.now < 1.0, "{hook}: {h:?}");
                    assert!(h.value != "–" && !h.beside.is_empty());
                }
            }
        }
    }

    #[test]
    fn by_hand_values_of_the_sample() {
        let r = sample::hinders();
        let all = FIVE.map(|kind| (kind.of)(&r, UnitSystem::Si));
        assert_eq!(all.each_ref().map(|h| h.value.as_str()), ["179", "320", "541", "2.66", "34"]);
        assert_eq!(all[1].beside, "p2 283");
    }
}
