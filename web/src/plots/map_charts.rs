//! Compressor map, turbine map, and the two machines in temperature and entropy.

use super::axis::Axis;
use super::chart::{Area, At, Chart, Mark, MarkKind, Panel, Series, Style};
use super::cycle::Ghost;
use super::hatch::Hatch;
use crate::language::{msg, t, tf};
use crate::units::{Quantity, UnitSystem, number};
use volute_core::engine::Engine;
use volute_core::point::reading::Reading;
use volute_core::views::entropy::{self, Process};
use volute_core::views::maps::{self, CompressorChart, Place, REFERENCE_K, REFERENCE_PA};

/// The compressor map with the reading's point, its trail and the pins. The axis names the state that flow is corrected to.
pub fn compressor(
    map: &CompressorChart,
    reading: &Reading,
    trail: &[At],
    ghosts: &[Ghost],
    units: UnitSystem,
) -> Chart {
    let flow = units.unit(Quantity::GasFlow);
    let place = |p: &Place| -> At { (flow.shown(p.corrected_flow_kg_s), p.pressure_ratio) };
    let line = |places: &[Place]| places.iter().map(place).collect::<Vec<At>>();
    let reference = tf(
        "flow corrected to {pressure}, {temperature}",
        &[
            ("pressure", &units.unit(Quantity::PressureAbs).text(REFERENCE_PA)),
            ("temperature", &units.unit(Quantity::Temperature).text(REFERENCE_K)),
        ],
    );
    let all = || map.lines.iter().flat_map(|l| &l.places).chain(&map.choke);
    let widest = all().map(|p| flow.shown(p.corrected_flow_kg_s)).fold(0.0, f64::max);
    let (here, now) = (maps::compressor_place(reading), reading.compressor.pressure_ratio);
    let highest = map.surge.iter().map(|p| p.pressure_ratio).fold(now, f64::max);
    let x = Axis::around(reference, flow.symbol, [0.0, widest.max(place(&here).0)].into_iter(), flow.decimals.max(1));
    let mut panel = Panel::new(Axis::new(t("pressure ratio"), "", 1.0, (1.03 * highest / 0.5).ceil() * 0.5, 2));
    // Left of the surge line no state holds.
    let surge = line(&map.surge);
    let mut outline = surge.clone();
    if let (Some(first), Some(last)) = (surge.first(), surge.last()) {
        outline.push((0.0, last.1));
        outline.push((0.0, first.1));
    }
    panel.areas.push(Area { outline, hatch: Hatch::Limit, word: t("surge") });
    for island in &map.islands {
        let name = format!("{} %", number(100.0 * island.efficiency, 0));
        let runs = island.shores.iter().map(|shore| line(shore)).collect();
        panel.series.push(Series { runs, ..Series::new(name, Style::Island, Vec::new()) });
    }
    for speed in &map.lines {
        let unit = units.unit(Quantity::TipSpeed);
        let text = unit.text(speed.corrected_tip_speed_m_s);
        let name = if speed.beyond_limit { tf("{speed}, past the limit", &[("speed", &text)]) } else { text };
        panel.series.push(Series::new(name, Style::Thin, line(&speed.places)));
    }
    panel.series.push(Series::new(t("surge line"), Style::Chain, surge).quiet());
    panel.series.push(Series::new(t("choke line"), Style::Chain, line(&map.choke)).quiet());
    if trail.len() > 1 {
        let trail = trail.iter().map(|at| (flow.shown(at.0), at.1)).collect();
        panel.series.push(Series::new(t("trail"), Style::Pin, trail).quiet());
    }
    for ghost in ghosts {
        panel.marks.push(Mark { at: place(&maps::compressor_place(ghost.reading)), kind: MarkKind::Pin(ghost.letter) });
    }
    panel.marks.push(Mark { at: place(&here), kind: MarkKind::Now });
    Chart::single(x, panel)
}

/// Where a reading lies on the compressor map, SI: for a trail.
pub fn trail_place(reading: &Reading) -> At {
    let place = maps::compressor_place(reading);
    (place.corrected_flow_kg_s, place.pressure_ratio)
}

/// What the compressor map says, in a sentence.
pub fn compressor_sentence(reading: &Reading, units: UnitSystem) -> String {
    let c = &reading.compressor;
    let flow = units.unit(Quantity::GasFlow).text(maps::compressor_place(reading).corrected_flow_kg_s);
    tf(
        "Pressure ratio {ratio} at {flow} of corrected flow, efficiency {efficiency} %; the flow stands {surge} % above the surge line and {choke} % below choke.",
        &[
            ("ratio", &number(c.pressure_ratio, 2)),
            ("flow", &flow),
            ("efficiency", &number(100.0 * c.efficiency, 0)),
            ("surge", &number(100.0 * c.surge_margin, 0)),
            ("choke", &number(100.0 * c.choke_margin, 0)),
        ],
    )
}

/// The turbine map at the reading's tip speed and inlet temperature: flow above, efficiency below.
pub fn turbine(engine: &Engine, reading: &Reading, ghosts: &[Ghost]) -> Chart {
    // `W sqrt(T3)/p3` in g/s sqrt(K)/kPa: round numbers for these machines.
    let scale = 1e6;
    let mut curves = maps::turbine_chart(engine, reading);
    curves.push(maps::turbine_curve(engine, reading, reading.turbine.vane_open_pct));
    let here = maps::turbine_place(reading);
    let furthest = curves.iter().flat_map(|c| c.flow.last()).map(|p| p.expansion_ratio).fold(4.0, f64::max);
    let x = Axis::new(t("expansion ratio p3/p4"), "", 1.0, (furthest * 2.0).ceil() / 2.0, 2);
    let most = curves
        .iter()
        .flat_map(|c| &c.flow)
        .map(|p| scale * p.flow_parameter)
        .fold(scale * here.flow_parameter, f64::max);
    let mut flow = Panel::new(Axis::around(t("flow parameter"), "g/s·√K/kPa", [0.0, most].into_iter(), 1));
    let mut good = Panel::new(Axis::new(t("efficiency"), "%", 0.0, 100.0, 0));
    let last = curves.len() - 1;
    for (i, curve) in curves.iter().enumerate() {
        let own = i == last;
        let name = if own {
            t("vanes as set").into()
        } else {
            tf("{open} % open", &[("open", &number(curve.vane_open_pct, 0))])
        };
        let style = if own { Style::Exhaust } else { Style::Thin };
        let line: Vec<At> = curve.flow.iter().map(|p| (p.expansion_ratio, scale * p.flow_parameter)).collect();
        let choked = line.iter().find(|p| p.0 >= curve.chokes_at).copied();
        flow.series.push(Series::new(name.clone(), style, line));
        let line = curve.efficiency.iter().map(|p| (p.expansion_ratio, 100.0 * p.efficiency)).collect();
        good.series.push(Series::new(name, style, line).quiet());
        if let Some(at) = choked.filter(|_| own) {
            flow.marks.push(Mark { at, kind: MarkKind::Event(t("chokes")) });
        }
    }
    for ghost in ghosts {
        let place = maps::turbine_place(ghost.reading);
        let at = (place.expansion_ratio, scale * place.flow_parameter);
        flow.marks.push(Mark { at, kind: MarkKind::Pin(ghost.letter) });
        let at = (place.expansion_ratio, 100.0 * ghost.reading.turbine.cycle_efficiency);
        good.marks.push(Mark { at, kind: MarkKind::Pin(ghost.letter) });
    }
    flow.marks.push(Mark { at: (here.expansion_ratio, scale * here.flow_parameter), kind: MarkKind::Now });
    good.marks.push(Mark { at: (here.expansion_ratio, 100.0 * reading.turbine.cycle_efficiency), kind: MarkKind::Now });
    Chart { x, panels: vec![flow, good], cursor: None }
}

/// What the turbine map says, in a sentence.
pub fn turbine_sentence(engine: &Engine, reading: &Reading) -> String {
    let own = maps::turbine_curve(engine, reading, reading.turbine.vane_open_pct);
    let says = if own.chokes_at <= reading.turbine.expansion_ratio {
        msg(
            "Expansion ratio {ratio} at the mean of the pulses, efficiency over the cycle {efficiency} %; the nozzle between the vanes is choked. Pulses lift the mean flow off the steady line.",
        )
    } else {
        msg(
            "Expansion ratio {ratio} at the mean of the pulses, efficiency over the cycle {efficiency} %; with these vanes it would choke from {choke} on. Pulses lift the mean flow off the steady line.",
        )
    };
    tf(
        says,
        &[
            ("ratio", &number(reading.turbine.expansion_ratio, 2)),
            ("efficiency", &number(100.0 * reading.turbine.cycle_efficiency, 0)),
            ("choke", &number(own.chokes_at, 2)),
        ],
    )
}

/// Compressor and turbine in temperature and entropy.
pub fn temperature_entropy(engine: &Engine, reading: &Reading, ghosts: &[Ghost], units: UnitSystem) -> Chart {
    let both = entropy::entropy(engine, reading);
    let pinned: Vec<(&Ghost, entropy::Entropy)> =
        ghosts.iter().map(|g| (g, entropy::entropy(engine, g.reading))).collect();
    let of_pins = |of: fn(&entropy::Entropy) -> &Process| pinned.iter().map(|(g, e)| (*g, of(e))).collect::<Vec<_>>();
    let (warm, disorder) = (units.unit(Quantity::Temperature), units.unit(Quantity::Entropy));
    let panel = |machine: &Process,
                 pins: &[(&Ghost, &Process)],
                 names: [&'static str; 3],
                 style: Style,
                 (title, ideal, axis): (&'static str, &'static str, &'static str)| {
        let place = |s: &entropy::GasState| -> At { (disorder.shown(s.s_j_kg_k), warm.shown(s.t_k)) };
        let states = [&machine.inlet, &machine.ideal, &machine.outlet];
        let of_pins = pins.iter().flat_map(|(_, m)| [&m.inlet, &m.outlet]);
        let temperatures = machine.isobars.iter().flat_map(|i| &i.states).chain(of_pins).map(|s| warm.shown(s.t_k));
        let mut panel = Panel::new(Axis::around(axis, warm.symbol, temperatures, warm.decimals));
        for isobar in &machine.isobars {
            let name = units.unit(Quantity::PressureAbs).text(isobar.p_pa);
            panel.series.push(Series::new(name, Style::Thin, isobar.states.iter().map(place).collect()));
        }
        for (ghost, m) in pins {
            let line = vec![place(&m.inlet), place(&m.outlet)];
            panel.series.push(Series::new(format!("{title}, {}", ghost.name()), Style::Pin, line).quiet());
            panel.marks.push(Mark { at: place(&m.outlet), kind: MarkKind::Pin(ghost.letter) });
        }
        panel.series.push(Series::new(ideal, Style::Chain, vec![place(states[0]), place(states[1])]).quiet());
        panel.series.push(Series::new(title, style, vec![place(states[0]), place(states[2])]).quiet());
        for (state, name) in states.into_iter().zip(names) {
            panel.marks.push(Mark { at: place(state), kind: MarkKind::Event(name) });
        }
        panel
    };
    let panels = vec![
        panel(
            &both.turbine,
            &of_pins(|e| &e.turbine),
            ["3", "4s", "4"],
            Style::Exhaust,
            (t("turbine"), t("turbine, without loss"), t("turbine temperature")),
        ),
        panel(
            &both.compressor,
            &of_pins(|e| &e.compressor),
            ["1", "2s", "2"],
            Style::Intake,
            (t("compressor"), t("compressor, without loss"), t("compressor temperature")),
        ),
    ];
    let along = [&both.compressor, &both.turbine].into_iter().flat_map(|m| &m.isobars).flat_map(|i| &i.states);
    let of_pins = pinned.iter().flat_map(|(_, e)| [&e.compressor, &e.turbine]).flat_map(|m| [&m.inlet, &m.outlet]);
    let ends = along.chain(of_pins).map(|s| disorder.shown(s.s_j_kg_k));
    let low = ends.clone().fold(f64::INFINITY, f64::min);
    let high = ends.fold(f64::NEG_INFINITY, f64::max);
    let (from, to) = super::ticks::round_ends(low, high, 8);
    let x = Axis::new(t("specific entropy above the inlet's"), disorder.symbol, from, to, disorder.decimals + 1);
    Chart { x, panels, cursor: None }
}

/// What the temperature–entropy chart says, in a sentence.
pub fn entropy_sentence(engine: &Engine, reading: &Reading, units: UnitSystem) -> String {
    let both = entropy::entropy(engine, reading);
    let rise = |a: f64, b: f64| units.unit(Quantity::TemperatureDifference).text(b - a);
    let (c, e) = (&both.compressor, &both.turbine);
    tf(
        "The compressor warms its air by {warms} where {least} would do without loss; the turbine cools its gas by {cools} of {most} that it could.",
        &[
            ("warms", &rise(c.inlet.t_k, c.outlet.t_k)),
            ("least", &rise(c.inlet.t_k, c.ideal.t_k)),
            ("cools", &rise(e.outlet.t_k, e.inlet.t_k)),
            ("most", &rise(e.ideal.t_k, e.inlet.t_k)),
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::check_drawn;
    use crate::run;
    use crate::state::BenchSettings;

    #[test]
    fn identity_names_and_labels_never_collide() {
        for name in ["harbour-six", "van-four"] {
            let bench = BenchSettings::built_in(name).unwrap();
            let run = run::point(&bench, None);
            let (engine, reading) = (&*bench.engine, run.reading().unwrap());
            let map = maps::compressor_chart(engine, &bench.settings.ambient);
            let mut tighter = bench.clone();
            tighter.settings.vane_open_pct = 25.0;
            let pinned = run::point(&tighter, None);
            let ghosts = [Ghost { letter: 'A', reading: pinned.reading().unwrap() }];
            let trail = [trail_place(reading), (0.1, 1.5)];
            for units in [UnitSystem::Si, UnitSystem::Customary] {
                let charts = [
                    compressor(&map, reading, &trail, &ghosts, units),
                    turbine(engine, reading, &ghosts),
                    temperature_entropy(engine, reading, &ghosts, units),
                ];
                for size in [(330, 300), (720, 420)] {
                    for chart in &charts {
                        assert!(!chart.is_empty());
                        check_drawn(chart, size);
                    }
                }
            }
            for sentence in [
                compressor_sentence(reading, UnitSystem::Si),
                turbine_sentence(engine, reading),
                entropy_sentence(engine, reading, UnitSystem::Si),
            ] {
                assert!(sentence.ends_with('.') && !sentence.contains('–'), "{sentence}");
            }
        }
    }
}
