//! A chart as data: axes, lines, areas and marks.
//!
//! A view says what stands on a chart; nothing here knows which view it is. Numbers are in the units of the page, already
//! converted. Several panels, one below the other, share the horizontal axis. What any chart can do stands in files of its own:
//! `draw` draws it, `read_off` reads it at a place or by keys, `table` makes a table and a CSV file of it.

use super::axis::Axis;
use super::hatch::Hatch;

/// A place in the numbers of the axes.
pub type At = (f64, f64);

/// What a line means; each looks the same on every chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// The state now, and whatever belongs to neither side.
    Ink,
    /// Intake side.
    Intake,
    /// Exhaust side.
    Exhaust,
    /// A line of a map.
    Thin,
    /// A line of equal efficiency.
    Island,
    /// Surge line, best point.
    Chain,
    /// A pin, or a second run.
    Pin,
}

/// One line, in as many pieces as it has.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Its name in the legend, the table and the read-out.
    pub name: String,
    /// How it is drawn.
    pub style: Style,
    /// Runs of neighbouring points; between runs there is nothing.
    pub runs: Vec<Vec<At>>,
    /// Whether its name is written beside it.
    pub named: bool,
}

impl Series {
    /// A line with its name beside it.
    pub fn new(name: impl Into<String>, style: Style, run: Vec<At>) -> Self {
        Self { name: name.into(), style, runs: vec![run], named: true }
    }

    /// The same line with its name in the legend only.
    pub fn quiet(self) -> Self {
        Self { named: false, ..self }
    }

    /// Its points, run after run.
    pub fn points(&self) -> impl Iterator<Item = &At> {
        self.runs.iter().flatten()
    }
}

/// A hatched area.
#[derive(Debug, Clone, PartialEq)]
pub struct Area {
    /// Its outline.
    pub outline: Vec<At>,
    /// What it means.
    pub hatch: Hatch,
    /// A word in it, where there is room.
    pub word: &'static str,
}

/// A point that stands out.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Where.
    pub at: At,
    /// What it is.
    pub kind: MarkKind,
}

/// What a point is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkKind {
    /// The state now.
    Now,
    /// A pin, by its letter.
    Pin(char),
    /// Something that happens there, by a short name.
    Event(&'static str),
}

/// One set of axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// The vertical axis.
    pub y: Axis,
    /// Hatched areas, lowest first.
    pub areas: Vec<Area>,
    /// Lines.
    pub series: Vec<Series>,
    /// Points.
    pub marks: Vec<Mark>,
}

impl Panel {
    /// Empty axes.
    pub fn new(y: Axis) -> Self {
        Self { y, areas: Vec::new(), series: Vec::new(), marks: Vec::new() }
    }
}

/// A chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// The horizontal axis.
    pub x: Axis,
    /// From top to bottom.
    pub panels: Vec<Panel>,
    /// Where a slider stands along the axis.
    pub cursor: Option<f64>,
}

impl Chart {
    /// A chart with one panel.
    pub fn single(x: Axis, panel: Panel) -> Self {
        Self { x, panels: vec![panel], cursor: None }
    }

    /// A chart that shows nothing.
    pub fn blank() -> Self {
        let axis = || Axis::new("", "", 0.0, 1.0, 0);
        Self::single(axis(), Panel::new(axis()))
    }

    /// Whether there is anything to read.
    pub fn is_empty(&self) -> bool {
        self.panels.iter().all(|p| p.series.iter().all(|s| s.points().next().is_none()))
    }

    /// Names of the lines, for a legend: each once.
    pub fn names(&self) -> Vec<(String, Style)> {
        let mut out: Vec<(String, Style)> = Vec::new();
        for series in self.panels.iter().flat_map(|p| &p.series) {
            if series.points().next().is_some() && !out.iter().any(|(name, _)| *name == series.name) {
                out.push((series.name.clone(), series.style));
            }
        }
        out
    }
}
