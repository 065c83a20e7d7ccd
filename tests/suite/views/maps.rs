//! The maps of compressor and turbine: their borders, and where readings lie on them.

use crate::point::steady::holding;
use crate::support;
use volute_core::engine::Engine;
use volute_core::gas::humidity::vapour_mole_fraction;
use volute_core::parts::compressor::{CompressorInlet, SpeedLine, isentropic_work_j_kg};
use volute_core::parts::turbine;
use volute_core::point::reading::Reading;
use volute_core::settings::{Ambient, REFERENCE_DAY};
use volute_core::views::maps::{
    CompressorChart, CompressorLine, Place, compressor_chart, compressor_line, compressor_place,
    corrected_tip_speed_m_s, turbine_chart, turbine_curve, turbine_place,
};
use volute_tests::species::{Mixture, Species};

const DAYS: [Ambient; 3] = [
    REFERENCE_DAY,
    Ambient { p_pa: 7.0e4, t_k: 263.15, relative_humidity: 0.4 },
    Ambient { p_pa: 1.05e5, t_k: 318.15, relative_humidity: 0.9 },
];

/// `y` over `x` of places with rising `x`, straight between them; nothing outside.
fn interpolated(places: impl Iterator<Item = (f64, f64)> + Clone, x: f64) -> Option<f64> {
    places
        .clone()
        .zip(places.skip(1))
        .find(|(a, b)| a.0 <= x && x <= b.0)
        .map(|((x0, y0), (x1, y1))| if x1 > x0 { y0 + (y1 - y0) * (x - x0) / (x1 - x0) } else { y0 })
}

fn pressure_ratio(line: &CompressorLine, flow: f64) -> Option<f64> {
    interpolated(line.places.iter().map(|p| (p.corrected_flow_kg_s, p.pressure_ratio)), flow)
}

/// Compressor inlet of a day by the table of species, not by the core's gas.
fn inlet(species: &Species, air: &Ambient) -> (CompressorInlet, Mixture) {
    let mixture = Mixture::air(vapour_mole_fraction(air.p_pa, air.t_k, air.relative_humidity).unwrap());
    let cp = (species.h_j_kg(&mixture, air.t_k + 1.0) - species.h_j_kg(&mixture, air.t_k - 1.0)) / 2.0;
    (CompressorInlet { p_pa: air.p_pa, t_k: air.t_k, r_j_kg_k: mixture.r_j_kg_k(), cp_j_kg_k: cp }, mixture)
}

/// Whether a place lies inside a polygon: crossings of a ray.
fn inside(polygon: &[Place], place: &Place) -> bool {
    let sides = polygon.iter().zip(polygon.iter().skip(1).chain(&polygon[..1]));
    let crossed = sides.filter(|(a, b)| {
        let (ya, yb) = (a.pressure_ratio - place.pressure_ratio, b.pressure_ratio - place.pressure_ratio);
        let x = |share: f64| a.corrected_flow_kg_s + share * (b.corrected_flow_kg_s - a.corrected_flow_kg_s);
        (ya > 0.0) != (yb > 0.0) && place.corrected_flow_kg_s < x(ya / (ya - yb))
    });
    crossed.count() % 2 == 1
}

fn charts() -> Vec<(Engine, Ambient, CompressorChart)> {
    let mut charts = Vec::new();
    for engine in support::engines() {
        for day in DAYS {
            let chart = compressor_chart(&engine, &day);
            charts.push((engine.clone(), day, chart));
        }
    }
    charts
}

#[test]
fn identity_islands_are_closed_and_lie_between_surge_and_choke() {
    // A test in `core/src/views/maps.rs`, where speed and flow are known, checks that the efficiency on a shore is the island's.
    for (engine, day, chart) in charts() {
        assert!(chart.islands.len() >= 3, "{} islands", chart.islands.len());
        let ends = [chart.lines.first(), chart.lines.last()].map(|line| line.unwrap().corrected_tip_speed_m_s);
        // Fast lines turn back near choke, because overspeed gains little air. So the right end is that of all lines together.
        let lines: Vec<CompressorLine> = (0..=60)
            .map(|k| compressor_line(&engine, &day, ends[0] + (ends[1] - ends[0]) * f64::from(k) / 60.0))
            .collect();
        let right = |ratio: f64| {
            let flow = |line: &CompressorLine| {
                interpolated(line.places.iter().rev().map(|p| (p.pressure_ratio, p.corrected_flow_kg_s)), ratio)
            };
            lines.iter().filter_map(flow).fold(0.0, f64::max)
        };
        for island in &chart.islands {
            assert!(!island.shores.is_empty() && island.efficiency < chart.best.0);
            for shore in &island.shores {
                assert!(shore.len() > 4);
                assert_eq!(shore.first(), shore.last(), "closed");
                for place in shore {
                    let at = format!("{} {place:?} of {:.2}, {day:?}", engine.name, island.efficiency);
                    let flow = place.corrected_flow_kg_s;
                    // Lines are flat at their left end: a thousandth of pressure is much flow there.
                    assert!(flow < 1.005 * right(place.pressure_ratio * 0.998), "right of all lines: {at}");
                    let surge = chart.surge.iter().map(|p| (p.pressure_ratio, p.corrected_flow_kg_s));
                    // There is no surge line below the slowest speed line, and a shore along that line leads away from it.
                    if let Some(surge) = interpolated(surge, place.pressure_ratio) {
                        assert!(flow > 0.995 * surge, "left of the surge line at {surge}: {at}");
                    }
                }
            }
            // Islands lie in one another: the best place in all of them.
            assert!(island.shores.iter().any(|shore| inside(shore, &chart.best.1)), "{}", island.efficiency);
        }
    }
}

#[test]
fn identity_surge_and_choke_are_where_their_margins_are_zero() {
    let species = Species::read();
    for (engine, day, chart) in charts() {
        let (inlet, _) = inlet(&species, &day);
        let root = (day.t_k / 298.15).sqrt();
        let (slow, fast) =
            [chart.lines.first(), chart.lines.last()].map(|line| line.unwrap().corrected_tip_speed_m_s).into();
        for (border, surge) in [(&chart.surge, true), (&chart.choke, false)] {
            for (i, place) in border.iter().enumerate() {
                let tip = slow + (fast - slow) * i as f64 / (border.len() - 1) as f64;
                let map = &engine.compressor;
                let line = SpeedLine::at(map, &inlet, 2.0 * tip * root / map.wheel_m());
                let phi = if surge { line.surge_flow } else { line.choke_flow };
                let flow_kg_s = line.flow_kg_s(map, &inlet, phi);
                approx::assert_relative_eq!(
                    place.corrected_flow_kg_s,
                    flow_kg_s * root * 1.0e5 / day.p_pa,
                    max_relative = 1e-4
                );
                let ratio = line.point(map, &inlet, flow_kg_s).pressure_ratio;
                approx::assert_relative_eq!(place.pressure_ratio, ratio, max_relative = 1e-3);
            }
        }
        assert!(chart.surge.windows(2).all(|two| two[0].corrected_flow_kg_s < two[1].corrected_flow_kg_s));
        // Lines begin on the surge line, fall, and end at a pressure ratio of 1. One of them is beyond the speed limit.
        for line in &chart.lines {
            let first = line.places.first().unwrap();
            let on_surge = interpolated(
                chart.surge.iter().map(|p| (p.corrected_flow_kg_s, p.pressure_ratio)),
                first.corrected_flow_kg_s * (1.0 + 1e-9),
            );
            if let Some(on_surge) = on_surge {
                approx::assert_relative_eq!(on_surge, first.pressure_ratio, max_relative = 2e-3);
            }
            assert!(line.places.windows(2).all(|two| two[0].pressure_ratio >= two[1].pressure_ratio));
            approx::assert_relative_eq!(line.places.last().unwrap().pressure_ratio, 1.0, max_relative = 1e-9);
            let tip = line.corrected_tip_speed_m_s * (day.t_k / 298.15).sqrt();
            assert_eq!(line.beyond_limit, tip > engine.limits.tip_speed_m_s);
        }
        let beyond = chart.lines.iter().filter(|line| line.beyond_limit).count();
        assert!(beyond == 1 && (6..=9).contains(&chart.lines.len()), "{beyond} of {}", chart.lines.len());
    }
}

#[test]
fn identity_a_corrected_map_does_not_move_with_ambient_pressure() {
    for engine in support::engines() {
        let low = Ambient { p_pa: 6.5e4, ..REFERENCE_DAY };
        let (a, b) = (compressor_line(&engine, &REFERENCE_DAY, 420.0), compressor_line(&engine, &low, 420.0));
        for (a, b) in a.places.iter().zip(&b.places) {
            approx::assert_relative_eq!(a.corrected_flow_kg_s, b.corrected_flow_kg_s, max_relative = 1e-12);
            approx::assert_relative_eq!(a.pressure_ratio, b.pressure_ratio, max_relative = 1e-12);
        }
        // Speed and flow are exactly similar only at constant heat capacity; the rest comes from that of real air.
        let hot = compressor_line(&engine, &Ambient { t_k: 318.15, ..REFERENCE_DAY }, 420.0);
        for (a, b) in a.places.iter().zip(&hot.places) {
            approx::assert_relative_eq!(a.pressure_ratio, b.pressure_ratio, max_relative = 1e-3);
        }
        // On the reference day the axes are the plain ones, and head is what the map says.
        let line = SpeedLine::at(
            &engine.compressor,
            &CompressorInlet { p_pa: 1e5, t_k: 298.15, r_j_kg_k: 287.05, cp_j_kg_k: 1004.9 },
            2.0 * 420.0 / engine.compressor.wheel_m(),
        );
        let drawn = compressor_line(&engine, &REFERENCE_DAY, 420.0).places[0].pressure_ratio;
        let inlet = CompressorInlet { p_pa: 1e5, t_k: 298.15, r_j_kg_k: 287.05, cp_j_kg_k: 1004.9 };
        let head = isentropic_work_j_kg(&inlet, drawn) / (420.0 * 420.0);
        approx::assert_relative_eq!(head, line.peak_head, max_relative = 2e-3);
    }
}

#[test]
fn behaviour_a_reading_lies_on_its_speed_line_but_for_pulsation() {
    let (mut worst, mut worst_drawn, mut counted) = (0.0_f64, 0.0_f64, 0);
    for (engine, settings, r) in &holding().0 {
        let at = format!("{} {settings:?}", engine.name);
        let place = compressor_place(r);
        let tip = corrected_tip_speed_m_s(r);
        // The line drawn for this very speed.
        let own = compressor_line(engine, &r.ambient, tip);
        let Some(on_line) = pressure_ratio(&own, place.corrected_flow_kg_s) else {
            // The point holds a little to the left of the surge line, where nothing is drawn.
            assert!(r.compressor.surge_margin < 0.0, "{at}");
            continue;
        };
        counted += 1;
        // The mean pressure differs from that of the mean flow only because the line bends and the flow swings.
        let off = place.pressure_ratio / on_line - 1.0;
        worst = worst.max(off.abs());
        assert!(off.abs() < 0.004, "{off:+.4} off its line at {place:?}, {at}");
        // And between the two nearest of the chart's lines, by the share of the way from surge to the end.
        let chart = compressor_chart(engine, &r.ambient);
        let Some(pair) = chart
            .lines
            .windows(2)
            .find(|two| two[0].corrected_tip_speed_m_s <= tip && tip < two[1].corrected_tip_speed_m_s)
        else {
            continue;
        };
        // Pressure ratio less one grows as the square of speed, flow as speed itself.
        let like = |line: &CompressorLine| {
            let speed = tip / line.corrected_tip_speed_m_s;
            pressure_ratio(line, place.corrected_flow_kg_s / speed).map(|ratio| (ratio - 1.0) * speed * speed + 1.0)
        };
        if let (Some(slow), Some(fast)) = (like(&pair[0]), like(&pair[1])) {
            let (low, high) = (slow.min(fast), slow.max(fast));
            let off = (low / place.pressure_ratio - 1.0).max(place.pressure_ratio / high - 1.0);
            worst_drawn = worst_drawn.max(off);
            assert!(off < 0.02, "{off:+.4} outside {low} to {high} at {place:?}, {at}");
        }
    }
    println!(
        "{counted} readings on their own speed line within {worst:.4}, between the chart's within {worst_drawn:.4}"
    );
    assert!(counted > 120);
}

/// Mean flow over the flow of the mean pressure, quasi-steady, from the exhaust-manifold pressure of the trace.
fn flow_by_pulsation(engine: &Engine, r: &Reading) -> f64 {
    let mean = &r.stations.turbine_inlet;
    let gamma = 1.34;
    let setting = turbine::Nozzle::at(&engine.turbine, r.settings.vane_open_pct / 100.0);
    let flow = |p_pa: f64| {
        let t_k = mean.t_k * (p_pa / mean.p_pa).powf((gamma - 1.0) / gamma);
        let inlet = turbine::TurbineInlet { p_pa, t_k, r_j_kg_k: 287.0, gamma };
        setting.point(&inlet, r.stations.turbine_outlet.p_pa, 0.0).flow_kg_s
    };
    let pressures = &r.trace.as_ref().unwrap().exhaust_manifold_pa[1..];
    pressures.iter().map(|p_pa| flow(*p_pa)).sum::<f64>() / pressures.len() as f64 / flow(mean.p_pa)
}

#[test]
fn behaviour_a_reading_lies_on_its_vane_curve_but_for_pulsation() {
    let (mut plain, mut explained) = (0.0_f64, 0.0_f64);
    for (engine, settings, r) in &holding().0 {
        let curve = turbine_curve(engine, r, settings.vane_open_pct);
        let place = turbine_place(r);
        let Some(on_curve) =
            interpolated(curve.flow.iter().map(|p| (p.expansion_ratio, p.flow_parameter)), place.expansion_ratio)
        else {
            panic!("{} beyond the chart: {settings:?}", place.expansion_ratio);
        };
        let off = place.flow_parameter / on_curve - 1.0;
        let rest = off - (flow_by_pulsation(engine, r) - 1.0);
        plain = plain.max(off.abs());
        explained = explained.max(rest.abs());
        let at = format!("{} {settings:?} at {place:?}", engine.name);
        assert!(rest.abs() < 0.02, "{off:+.4} off, of which pulsation explains all but {rest:+.4}: {at}");
    }
    println!("readings off their vane curve by {plain:.4} at most; pulsation explains all but {explained:.4}");
}

#[test]
fn identity_vane_curves_choke_and_peak_where_they_must() {
    for (engine, settings, r) in holding().0.iter().step_by(17) {
        let curves = turbine_chart(engine, r);
        assert_eq!(curves.len(), 6);
        let mut before = 0.0;
        for curve in &curves {
            let at = format!("{} vanes {} {settings:?}", engine.name, curve.vane_open_pct);
            assert_eq!(curve.flow[0].flow_parameter, 0.0, "{at}");
            assert!(curve.flow.windows(2).all(|two| two[0].expansion_ratio < two[1].expansion_ratio));
            // The nozzle takes half the expansion, so the ratio is that of 0.54 to 0.56, the critical ratios, squared.
            assert!((3.2..3.6).contains(&curve.chokes_at), "chokes at {}, {at}", curve.chokes_at);
            let choked = curve.flow.last().unwrap().flow_parameter;
            // Choked flow of a perfect gas (Saravanamuttoo et al., eq. for m sqrt(T)/(A p)), gamma that of the curve's end.
            let gamma = critical_gamma(1.0 / curve.chokes_at.sqrt());
            let gas =
                Mixture::burnt(0.0, engine.fuel.hydrogen_to_carbon, r.stations.turbine_inlet.burned_fuel_fraction);
            let closed_form = turbine::area_m2(&engine.turbine, curve.vane_open_pct / 100.0)
                * (gamma / gas.r_j_kg_k()).sqrt()
                * (2.0 / (gamma + 1.0)).powf((gamma + 1.0) / (2.0 * (gamma - 1.0)));
            assert!((choked / closed_form - 1.0).abs() < 5e-3, "{choked} and {closed_form}, {at}");
            assert!(choked > before, "wider vanes pass more, {at}");
            before = choked;
            // Efficiency begins at zero and never passes the peak of the vane position.
            let peak = turbine::peak_efficiency(&engine.turbine, curve.vane_open_pct / 100.0);
            assert!(!curve.efficiency.is_empty(), "{at}");
            assert!(curve.efficiency[0].efficiency.abs() < 1e-3, "{:?}, {at}", curve.efficiency[0]);
            assert!(curve.efficiency.iter().all(|p| p.efficiency <= peak * (1.0 + 1e-9)), "{at}");
            // By hand: the peak's blade-speed ratio at the drop of the place next to it.
            let tip = 0.5 * engine.turbine.wheel_m() * r.shaft.speed_rad_s;
            let best_drop = 0.5 * (tip / engine.turbine.best_speed_ratio).powi(2);
            let cp = gamma / (gamma - 1.0) * gas.r_j_kg_k();
            let ratio = (1.0 - best_drop / cp / r.stations.turbine_inlet.t_k).powf(-gamma / (gamma - 1.0));
            if ratio < 3.8 {
                let there =
                    interpolated(curve.efficiency.iter().map(|p| (p.expansion_ratio, p.efficiency)), ratio).unwrap();
                assert!((there / peak - 1.0).abs() < 5e-3, "{there} where {peak} was expected at {ratio}, {at}");
            }
        }
    }
}

/// Ratio of heat capacities of a critical pressure ratio.
fn critical_gamma(critical: f64) -> f64 {
    let (mut low, mut high) = (1.2, 1.42);
    for _ in 0..60 {
        let gamma = 0.5 * (low + high);
        let ratio = (2.0_f64 / (gamma + 1.0)).powf(gamma / (gamma - 1.0));
        *if ratio > critical { &mut low } else { &mut high } = gamma;
    }
    low
}
