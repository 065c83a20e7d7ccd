//! The views that a plot can show, one row each.
//!
//! To add a view, write its chart and its sentence in `plots` and add a row to [`VIEWS`]. The choice on the page, the link, the
//! read-out by pointer and keys, the legend, the table and the files come with the row.

use crate::cover::{BALANCE, Cover, PUMPING, TORQUE};
use crate::describe;
use crate::language::{msg, t};
use crate::plots::chart::{At, Chart};
use crate::plots::cycle::{self, Ghost};
use crate::plots::map_charts as maps;
use crate::readings;
use crate::sweeps;
use crate::units::UnitSystem;
use volute_core::engine::Engine;
use volute_core::point::reading::Reading;
use volute_core::views::maps::CompressorChart;

/// A view that a plot can show.
pub struct View {
    /// Its name in links and lessons. It never changes.
    pub key: &'static str,
    title: &'static str,
    /// Readings that it would give away: a lesson that hides one of them hides the view.
    betrays: &'static [&'static [&'static str]],
    /// How it is drawn from the point that stands; none for a sweep, which the worker computes.
    pub drawn: Option<Drawn>,
    /// Whether it needs the compressor map of the engine, and the way that the point took on it.
    pub on_map: bool,
}

/// How a view is drawn from a point.
pub struct Drawn {
    /// Its chart.
    pub chart: fn(&PointScene) -> Chart,
    /// The same in one sentence.
    pub sentence: fn(&Engine, &Reading, UnitSystem) -> String,
}

/// What the chart of a point is made from.
pub struct PointScene<'a> {
    /// The engine of the point.
    pub engine: &'a Engine,
    /// The point.
    pub reading: &'a Reading,
    /// Pinned points.
    pub ghosts: &'a [Ghost<'a>],
    /// Units of the page.
    pub units: UnitSystem,
    /// The compressor map, for a view that asks for it.
    pub map: Option<&'a CompressorChart>,
    /// Where the point came from on that map.
    pub trail: &'a [At],
}

/// Readings that a chart of the cylinder over its cycle gives away.
const CYCLE: &[&[&str]] = &[PUMPING, &["p_im", "p3", "peak_pressure"]];

const fn view(
    key: &'static str,
    title: &'static str,
    betrays: &'static [&'static [&'static str]],
    chart: fn(&PointScene) -> Chart,
    sentence: fn(&Engine, &Reading, UnitSystem) -> String,
) -> View {
    View { key, title, betrays, drawn: Some(Drawn { chart, sentence }), on_map: false }
}

/// Every view, in the order of the choice on the page.
pub static VIEWS: [View; 8] = [
    view(
        "loop",
        msg("p–V loop, gas exchange"),
        CYCLE,
        |s| cycle::exchange(s.reading, s.engine, s.ghosts, s.units),
        |_, reading, units| describe::cycle(reading, units),
    ),
    view(
        "cycle",
        msg("p–V loop, whole cycle"),
        CYCLE,
        |s| cycle::whole(s.reading, s.engine, s.ghosts, s.units, false),
        |_, reading, units| describe::whole_cycle(reading, units),
    ),
    view(
        "cycle-log",
        msg("p–V loop, by ratios"),
        CYCLE,
        |s| cycle::whole(s.reading, s.engine, s.ghosts, s.units, true),
        |_, reading, units| describe::whole_cycle(reading, units),
    ),
    view(
        "angle",
        msg("Pressure over crank angle"),
        CYCLE,
        |s| cycle::over_angle(s.reading, s.engine, s.ghosts, s.units),
        |_, reading, units| describe::over_angle(reading, units),
    ),
    View {
        on_map: true,
        ..view(
            "compressor",
            msg("Compressor map"),
            &[&["pressure_ratio", "air_flow", "shaft", "surge_margin", "compressor_efficiency"]],
            |s| s.map.map_or_else(Chart::blank, |map| maps::compressor(map, s.reading, s.trail, s.ghosts, s.units)),
            |_, reading, units| maps::compressor_sentence(reading, units),
        )
    },
    view(
        "turbine",
        msg("Turbine map"),
        &[&["expansion_ratio", "turbine_efficiency", "nozzle_area"]],
        |s| maps::turbine(s.engine, s.reading, s.ghosts),
        |engine, reading, _| maps::turbine_sentence(engine, reading),
    ),
    view(
        "entropy",
        msg("Temperature and entropy"),
        &[&["p2", "p3", "t2", "t3", "t4"]],
        |s| maps::temperature_entropy(s.engine, s.reading, s.ghosts, s.units),
        maps::entropy_sentence,
    ),
    View {
        key: "sweep",
        title: msg("Sweep"),
        betrays: &[PUMPING, TORQUE, BALANCE, &["p2", "p3"]],
        drawn: None,
        on_map: false,
    },
];

impl View {
    /// The view of a key.
    pub fn of(key: &str) -> Option<&'static Self> {
        VIEWS.iter().find(|view| view.key == key)
    }

    /// What it is called.
    pub fn title(&self) -> &'static str {
        t(self.title)
    }

    /// Whether it shows a sweep.
    pub fn is_sweep(&self) -> bool {
        self.drawn.is_none()
    }

    /// Whether a lesson keeps it back. `swept` is the reading that a sweep shows.
    pub fn is_covered(&self, cover: &Cover, swept: &str) -> bool {
        cover.hides_view(self.key)
            || self.betrays.iter().any(|names| cover.hides_any(names))
            || (self.is_sweep() && cover.hides(swept))
    }
}

impl PartialEq for View {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

/// What stands in one plot, as a link carries it: `sweep:speed:torque`, `loop`.
#[derive(Clone, Copy, PartialEq)]
pub struct Choice {
    /// The view.
    pub view: &'static View,
    /// Axis of a sweep.
    pub over: &'static str,
    /// Reading of a sweep; none for the one that the load leaves open.
    pub reading: Option<&'static str>,
}

impl Choice {
    /// A view with the sweep that a plot begins with.
    pub const fn new(view: &'static View) -> Self {
        Self { view, over: "vane", reading: None }
    }

    /// As a link writes it.
    pub fn encode(&self) -> String {
        if self.view.is_sweep() {
            format!("{}:{}:{}", self.view.key, self.over, self.reading.unwrap_or(""))
        } else {
            self.view.key.into()
        }
    }

    /// What a link says; none for a view that this page does not know.
    pub fn decode(text: &str) -> Option<Self> {
        let mut parts = text.split(':');
        let view = View::of(parts.next()?)?;
        let over = parts.next().and_then(sweeps::find).map_or("vane", |o| o.key);
        let reading = parts.next().and_then(readings::find).map(|e| e.key);
        Some(Self { view, over, reading })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_a_link_brings_a_choice_back() {
        for view in &VIEWS {
            let plain = Choice::new(view);
            assert!(Choice::decode(&plain.encode()) == Some(plain), "{}", view.key);
            assert_eq!(VIEWS.iter().filter(|other| other.key == view.key).count(), 1, "{}", view.key);
        }
        let swept = Choice { over: "speed", reading: Some("torque"), ..Choice::new(View::of("sweep").unwrap()) };
        assert_eq!(swept.encode(), "sweep:speed:torque");
        assert!(Choice::decode("sweep:speed:torque") == Some(swept));
        assert!(Choice::decode("nothing:like:it").is_none());
    }

    #[test]
    fn by_hand_a_sweep_is_covered_with_the_reading_that_it_shows() {
        let sweep = View::of("sweep").unwrap();
        let hides = |name: &'static str| Cover::new([name].into_iter(), None);
        assert!(sweep.is_covered(&hides("t3"), "t3") && !sweep.is_covered(&hides("t3"), "boost"));
        assert!(sweep.is_covered(&hides("p2"), "boost"));
        assert!(VIEWS.iter().all(|view| !view.is_covered(&Cover::default(), "torque")));
    }
}
