//! The air path, station by station, as a drawing: compressor, charge cooler, cylinder, turbine with its vanes, and the
//! manometer that weighs p2 against p3.

use super::drawing::{Shape, Side, Svg, hatches, polyline, scroll, vanes};
use super::manometer;
use super::redraw::redraw;
use super::stations;
use super::streams;
use crate::cover::{Cover, TORQUE};
use crate::describe;
use crate::language::{msg, t, tf};
use crate::run::{self, Run};
use crate::state::BenchSettings;
use crate::units::{Quantity, UnitSystem, number};
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::reading::Reading;

/// Middles of the two wheels, heights of the two long ducts.
const COMPRESSOR: (f64, f64) = (132.0, 96.0);
const TURBINE: (f64, f64) = (132.0, 278.0);
const INTAKE_Y: f64 = 50.0;
const EXHAUST_Y: f64 = 352.0;

/// What the manometer shows.
const MANOMETER: &[&str] = &["p2", "p3", "balance"];

/// Everything that never moves. Long because it is one drawing, part by part along the air.
fn fixed() -> String {
    use Side::{Exhaust, Intake};
    let mut svg = Svg::default();
    let (c, e) = (COMPRESSOR, TURBINE);
    // Intake side.
    svg.duct("M20 96H100", Intake, 17.0);
    svg.duct(&format!("M{} {INTAKE_Y}H500", c.0), Intake, 19.0);
    svg.duct("M519 54V126", Intake, 18.0);
    svg.path(&format!("{}Z", polyline(&scroll(c, 34.0, 54.75, -1.0))), "part i");
    svg.path_with(&format!("M{} {INTAKE_Y}H196", c.0), "gas i", ("stroke-width", "16"));
    svg.wheel(c, 32.0, 12, 0.75);
    svg.path("M78 87.5H124M78 104.5H124", "hid");
    svg.rect(12.0, 74.0, 24.0, 44.0, "part");
    svg.path("M16 78V114M20 78V114M24 78V114M28 78V114M32 78V114", "hid");
    svg.text(12.0, 67.0, "lb v", t("filter"));
    svg.rect(440.0, 35.0, 112.0, 30.0, "part i");
    svg.text_mid(496.0, 54.5, "b", t("intake manifold"));
    svg.rect(326.0, 32.0, 70.0, 36.0, "part i");
    svg.path("M332 50l5-12 8 24 8-24 8 24 8-24 8 24 8-24 5 12", "thin");
    svg.text_mid(361.0, 25.0, "lb", t("charge cooler"));
    for (x, y, dx, dy) in
        [(236.0, INTAKE_Y, 1.0, 0.0), (424.0, INTAKE_Y, 1.0, 0.0), (519.0, 92.0, 0.0, 1.0), (88.0, 96.0, 1.0, 0.0)]
    {
        svg.arrow(x, y, dx, dy, Intake);
    }
    // Exhaust side.
    svg.duct(
        &format!("M574 126V112Q574 96 590 96H608Q624 96 624 112V336Q624 {EXHAUST_Y} 608 {EXHAUST_Y}H{}", e.0),
        Exhaust,
        19.0,
    );
    svg.duct("M18 278H58", Exhaust, 17.0);
    svg.rect(440.0, 337.0, 132.0, 30.0, "part e");
    svg.text_mid(506.0, 356.5, "b", t("exhaust manifold"));
    svg.path(&format!("{}Z", polyline(&scroll(e, 71.0, 82.75, 1.0))), "part e");
    svg.path_with(&format!("M{} {EXHAUST_Y}H206", e.0), "gas e", ("stroke-width", "16"));
    svg.circle(e.0, e.1, 70.0, "part e");
    svg.wheel(e, 33.0, 11, -0.6);
    svg.path("M60 269.5H124M60 286.5H124", "hid");
    for (x, y, dx, dy) in [
        (252.0, EXHAUST_Y, -1.0, 0.0),
        (412.0, EXHAUST_Y, -1.0, 0.0),
        (624.0, 232.0, 0.0, 1.0),
        (16.0, 278.0, -1.0, 0.0),
    ] {
        svg.arrow(x, y, dx, dy, Exhaust);
    }
    // Shaft.
    svg.path(&format!("M{} 134V204", c.0), "chain");
    svg.path(&format!("M{} 152V196M{} 152V196", c.0 - 4.0, c.0 + 4.0), "thin");
    // Cylinder, piston, crank, valves.
    let (left, width, top, crown) = (498.0, 96.0, 126.0, 206.0);
    let mid = left + width / 2.0;
    svg.rect(left, top, width, crown - top, "mask");
    svg.path_with(&format!("M{left} 268V{top}H{}V268", left + width), "wall", ("stroke-width", "2.5"));
    svg.circle(mid, 296.0, 21.0, "part");
    svg.circle(mid, 296.0, 4.0, "part");
    svg.path(&format!("M{} {crown}H{}V{}H{}Z", left + 3.0, left + width - 3.0, crown + 42.0, left + 3.0), "part");
    let (a, b) = (left + 3.0, left + width - 3.0);
    svg.path(&format!("M{a} {}H{b}M{a} {}H{b}", crown + 8.0, crown + 14.0), "thin");
    svg.path(
        &format!("M{} {}L{} 288M{} {}L{} 284", mid - 5.0, crown + 28.0, mid + 7.0, mid + 5.0, crown + 28.0, mid + 17.0),
        "thin",
    );
    svg.circle(mid, crown + 28.0, 6.0, "part");
    svg.circle(mid + 12.0, 286.0, 5.5, "part");
    svg.path(&format!("M519 104V134M509 {}Q519 {} 529 {}Z", top + 13.0, top + 4.0, top + 13.0), "part");
    svg.path(&format!("M574 106V128M563 {}Q574 {} 585 {}Z", top + 3.0, top - 6.0, top + 3.0), "part");
    svg.text_end(90.0, 45.0, "lb v", t("compressor"));
    svg.text_end(84.0, 368.0, "lb v", t("turbine"));
    svg.text(8.0, 261.0, "lb v", t("pipe"));
    svg.path("M66 216L84 230", "thin");
    manometer::fixed(&mut svg);
    let under = hatches("air") + &svg.markup() + &streams::markup();
    let mut svg = Svg::default();
    svg.balloon(58.0, 96.0, "1");
    svg.balloon(210.0, INTAKE_Y, "2");
    svg.balloon(226.0, EXHAUST_Y, "3");
    svg.balloon(38.0, 278.0, "4");
    under + &svg.markup()
}

/// Vanes, columns and values. Long because it is one drawing, part by part along the air.
fn moving(reading: &Reading, bench: &BenchSettings, units: UnitSystem, cover: &Cover) -> Svg {
    let mut svg = Svg::default();
    // The place of a covered value stays empty: the drawing keeps its shape and tells nothing.
    let open = |names: &[&str], text: String| if cover.hides_any(names) { String::from("···") } else { text };
    let s = &reading.stations;
    let p = |pa: f64| {
        let unit = units.unit(Quantity::PressureAbs);
        format!("{} {}", unit.number(pa), unit.bare())
    };
    let warm = |k: f64| units.unit(Quantity::Temperature).text(k);
    vanes(&mut svg, TURBINE, 54.0, run::throat_share(bench));
    if cover.hides_any(MANOMETER) {
        manometer::covered(&mut svg);
    } else {
        manometer::moving(&mut svg, reading, units);
    }
    svg.text(44.0, 128.0, "b v", &open(&["p1"], p(s.compressor_inlet.p_pa)));
    svg.text(44.0, 143.0, "v", &open(&["t1"], warm(s.compressor_inlet.t_k)));
    svg.text(178.0, 81.0, "b v in", &open(&["p2"], p(s.compressor_outlet.p_pa)));
    svg.text(178.0, 96.0, "v", &open(&["t2"], warm(s.compressor_outlet.t_k)));
    svg.text(
        216.0,
        379.0,
        "b v ex",
        &format!("{} · {}", open(&["p3"], p(s.turbine_inlet.p_pa)), open(&["t3"], warm(s.turbine_inlet.t_k))),
    );
    svg.text(8.0, 307.0, "b v", &open(&["p4"], p(s.turbine_outlet.p_pa)));
    svg.text(8.0, 322.0, "v", &open(&["t4"], warm(s.turbine_outlet.t_k)));
    let cooled = s.compressor_outlet.t_k - s.charge_cooler_outlet.t_k;
    let fall = units.unit(Quantity::TemperatureDifference).text(-cooled);
    svg.text_mid(361.0, 84.0, "v", &open(&["t2", "t_cooler"], fall));
    svg.text_end(504.0, 83.0, "b v in", &open(&["p_im"], p(s.intake_manifold.p_pa)));
    svg.text_end(504.0, 98.0, "v", &open(&["t_im"], warm(s.intake_manifold.t_k)));
    let shaft = units.unit(Quantity::ShaftSpeed);
    let speed = (shaft.shown(reading.shaft.speed_rad_s) / 100.0).round() * 100.0;
    let power = units.unit(Quantity::Power);
    svg.text(146.0, 160.0, "b v", &open(&["shaft"], format!("{} {}", number(speed, 0), shaft.symbol)));
    svg.text(
        146.0,
        175.0,
        "v ex",
        &open(&["turbine_power"], tf("gives {power}", &[("power", &power.text(reading.turbine.power_w))])),
    );
    svg.text(
        146.0,
        190.0,
        "v in",
        &open(&["compressor_power"], tf("takes {power}", &[("power", &power.text(reading.compressor.power_w))])),
    );
    svg.text(8.0, 196.0, "b v", &words::vanes(bench.engine.vanes.are_stuck(), &number(run::vanes_open_pct(bench), 0)));
    let throat = units.unit(Quantity::Area).text(run::throat_area_m2(bench));
    svg.text(8.0, 211.0, "v", &open(&["nozzle_area"], tf("throat {area}", &[("area", &throat)])));
    let mid = 546.0;
    let torque = units.unit(Quantity::Torque);
    svg.text_mid(mid, 168.0, "big v", &open(TORQUE, torque.number(reading.brake.torque_n_m)));
    svg.named("torque");
    svg.text_mid(mid, 184.0, "lb v", &tf("{unit} at crank", &[("unit", torque.symbol)]));
    let peak = units.unit(Quantity::CylinderPressure);
    svg.text_mid(
        mid,
        200.0,
        "v",
        &open(
            &["peak_pressure"],
            tf(
                "{pressure} {unit} peak",
                &[("pressure", &peak.number(reading.indicated.peak_pressure_pa)), ("unit", peak.bare())],
            ),
        ),
    );
    let leak = reading.exhaust_leak_kg_s;
    // Whether there is a leak at all is for the learner to find where the air flow is covered.
    let lost = if leak > 0.0 && !cover.hides("air_flow") {
        tf("leak {flow}", &[("flow", &units.unit(Quantity::GasFlow).text(leak))])
    } else {
        String::new()
    };
    svg.text_end(612.0, 381.0, "b v ex", &lost);
    let air = units.unit(Quantity::GasFlow).text(reading.air_flow_kg_s);
    svg.text_end(490.0, 114.0, "v", &open(&["air_flow"], tf("air {flow}", &[("flow", &air)])));
    let fuel = units.unit(Quantity::FuelFlow).text(reading.fuel_flow_kg_s);
    svg.text_mid(mid, 331.5, "v", &open(&["fuel_flow"], tf("fuel {flow}", &[("flow", &fuel)])));
    svg.text_end(
        490.0,
        300.0,
        "v",
        &open(&["afr"], tf("air–fuel {ratio}", &[("ratio", &number(reading.air_fuel_ratio, 0))])),
    );
    svg
}

/// The drawing with its station list, or all values as a table.
#[component]
pub fn AirPath(
    run: Signal<Arc<Run>>,
    /// The same once it rests.
    calm: Signal<Arc<Run>>,
    units: Signal<UnitSystem>,
    cover: Signal<Cover>,
    /// Whether the gas may move, which the learner says.
    flows: Signal<bool>,
    on_flow: Callback<()>,
) -> impl IntoView {
    let (as_table, set_as_table) = signal(false);
    let layer = NodeRef::<leptos::svg::G>::new();
    // The shapes stay and only their changes are written: replacing all of them took three times as long.
    let mut before: Vec<Shape> = Vec::new();
    view::effect(move || {
        let run = run.get();
        let drawn = run.reading().map(|r| cover.with(|c| moving(r, &run.bench, units.get(), c))).unwrap_or_default();
        if let Some(layer) = layer.get() {
            redraw(&layer, &before, &drawn.0);
        }
        before = drawn.0;
    });
    // Nothing moves where no point holds, or where a lesson covers what the speed of a stream would tell. A stream takes its
    // new pace once the bench rests; before that nobody could tell.
    let pace = view::memo(move || {
        let may = flows.get() && cover.with(|c| !c.hides_any(&["air_flow", "p2", "p3"]));
        calm.with(|run| run.reading().filter(|_| may && run.holds).map(streams::seconds))
    });
    let flowing = move || pace.with(Option::is_some);
    let second = move |i: usize| move || pace.with(|p| p.map_or_else(String::new, |p| format!("{}s", p[i])));
    let said = move || {
        if cover.with(|c| !c.is_off()) {
            return t(words::COVERED).to_string();
        }
        calm.with(|run| run.reading().map_or(t(words::NO_READING).into(), |r| describe::air_path(r, units.get())))
    };
    view! {
        <figure class="sheet drawing" aria-labelledby="air-h" class:tabled=as_table>
            <figcaption>
                <h2 id="air-h">{t(words::AIR_PATH)}</h2>
                <button type="button" class="link drawing-motion" id="flow" on:click=move |_| on_flow.run(())>
                    {view::text(move || t(if flows.get() { msg("stop the flow") } else { msg("let it flow") }))}
                </button>
                <button type="button" class="link" aria-pressed=view::text(move || as_table.get().to_string())
                    on:click=move |_| set_as_table.update(|on| *on = !*on)>
                    {view::text(move || if as_table.get() { t("back to the drawing") } else { t(words::VALUES_AS_TABLE) })}
                </button>
            </figcaption>
            <div class="drawing-board" class:flowing=flowing style=("--pace-0", second(0)) style=("--pace-1", second(1))
                style=("--pace-2", second(2)) style=("--pace-3", second(3)) style=("--pace-4", second(4)) style=("--pace-5", second(5)) style=("--pace-6", second(6))>
                <svg id="air" viewBox="0 0 650 386" role="img" aria-labelledby="air-h air-d">
                    <g inner_html=fixed()></g>
                    <g node_ref=layer></g>
                </svg>
            </div>
            <p class="sr" id="air-d">{view::text(said)}</p>
            <stations::Stations run calm units cover open=as_table/>
        </figure>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;
    use crate::state::Origin;

    fn bench() -> BenchSettings {
        BenchSettings::with_engine(sample::engine(), Origin::Own)
    }

    #[test]
    fn identity_every_value_on_the_drawing_is_a_number() {
        for reading in [sample::hinders(), sample::helps(), sample::level()] {
            for units in [UnitSystem::Si, UnitSystem::Customary] {
                let svg = moving(&reading, &bench(), units, &Cover::default()).markup();
                assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
                assert_eq!(svg.matches("<text").count(), svg.matches("</text>").count());
            }
        }
    }

    #[test]
    fn identity_nothing_that_is_covered_is_drawn() {
        // Only the vanes stay, which the learner sets.
        let cover = Cover::new([].into_iter(), Some(Vec::new()));
        let svg = moving(&sample::hinders(), &bench(), UnitSystem::Si, &cover);
        for shape in svg.0.iter().filter(|s| s.tag == "text") {
            let allowed = |t: &str| t.contains("vanes") || !t.contains(|c: char| c.is_ascii_digit());
            assert!(allowed(&shape.content), "{}", shape.content);
        }
    }

    #[test]
    fn by_hand_the_hatch_says_who_stands_higher() {
        let drawn = |r: &Reading| moving(r, &bench(), UnitSystem::Si, &Cover::default()).markup();
        assert!(drawn(&sample::hinders()).contains("air-hinders"));
        assert!(drawn(&sample::helps()).contains("air-helps"));
    }

    #[test]
    fn by_hand_vanes_are_named_where_they_stand() {
        let mut bench = bench();
        bench.settings.vane_open_pct = 80.0;
        let drawn = |b: &BenchSettings| moving(&sample::hinders(), b, UnitSystem::Si, &Cover::default());
        let free = drawn(&bench);
        assert!(free.markup().contains("vanes 80 %"));
        let mut engine = (*bench.engine).clone();
        engine.set("vanes.stuck", 1.0).unwrap();
        engine.set("vanes.stuck_open_pct", 30.0).unwrap();
        bench.engine = std::sync::Arc::new(engine);
        let stuck = drawn(&bench);
        assert!(stuck.markup().contains("vanes stuck, 30 %"));
        bench.settings.vane_open_pct = 5.0;
        assert_eq!(drawn(&bench).markup(), stuck.markup(), "the slider moves stuck vanes");
    }
}
