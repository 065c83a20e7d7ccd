//! A chart as data, and everything that any chart can do: be drawn, be read at a place or by keys, be a table, be a file.
//!
//! A view says what stands on its axes (`Chart`); this file does not know which view it is. Numbers are in the units of the
//! page, already converted. More than one panel share the axis below them.

use super::hatch::{Hatch, Place};
use super::paper::{Drawn, Letter, Paper, Strokes, Tone, dashes};
use super::scale::Scale;
use super::ticks::{Ticks, round_ends, ticks};
use crate::language::{decimal, t, tf};
use crate::units::{self, number};

/// A place in the numbers of the axes.
pub type At = (f64, f64);

/// One axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What it shows: `vane position`.
    pub name: String,
    /// Its unit; empty for a plain number.
    pub unit: &'static str,
    /// Least number shown.
    pub from: f64,
    /// Greatest number shown.
    pub to: f64,
    /// Equal ratios take equal lengths; both ends are then above zero.
    pub log: bool,
    /// Digits after the point when a value is read off.
    pub decimals: usize,
}

impl Axis {
    /// A straight axis from `from` to `to` as they are.
    pub fn new(name: impl Into<String>, unit: &'static str, from: f64, to: f64, decimals: usize) -> Self {
        Self { name: name.into(), unit, from, to, log: false, decimals }
    }

    /// A straight axis that holds all values between round ends; flat values get room around them.
    pub fn around(
        name: impl Into<String>,
        unit: &'static str,
        values: impl Iterator<Item = f64> + Clone,
        decimals: usize,
    ) -> Self {
        let values = values.filter(|v| v.is_finite());
        let low = values.clone().fold(f64::INFINITY, f64::min);
        let high = values.fold(f64::NEG_INFINITY, f64::max);
        if low > high {
            return Self::new(name, unit, 0.0, 1.0, decimals);
        }
        let pad = (0.08 * (high - low)).max(0.02 * high.abs().max(low.abs())).max(1e-9);
        // What is above zero throughout is not given an axis below it.
        let floor = if low >= 0.0 { 0.0_f64.max(low - pad) } else { low - pad };
        let (from, to) = round_ends(floor, high + pad, 6);
        Self::new(name, unit, from, to, decimals)
    }

    /// The same with equal ratios taking equal lengths.
    pub fn log(self) -> Self {
        Self { log: true, ..self }
    }

    /// Name and unit, as written at the axis and over a column.
    pub fn label(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) }
    }

    /// A value with its unit.
    pub fn text(&self, value: f64) -> String {
        let n = number(value, self.decimals);
        if self.unit.is_empty() { n } else { format!("{n} {}", self.unit) }
    }

    fn put(&self, value: f64) -> f64 {
        if self.log { value.max(1e-12).log10() } else { value }
    }

    fn scale(&self, start: f64, end: f64) -> AxisScale {
        AxisScale { log: self.log, inner: Scale { from: self.put(self.from), to: self.put(self.to), start, end } }
    }

    fn ticks(&self, most: usize) -> Ticks {
        if !self.log {
            return ticks(self.from, self.to, most);
        }
        let (low, high) = (self.from.log10().floor() as i32, self.to.log10().ceil() as i32);
        let wide = high - low > 2;
        let values: Vec<f64> = (low..=high)
            .flat_map(|k| [1.0, 2.0, 5.0].map(|m| (m, m * 10f64.powi(k))))
            .filter(|(m, v)| (!wide || *m == 1.0) && self.from * 0.999 <= *v && *v <= self.to * 1.001)
            .map(|(_, v)| v)
            .collect();
        let decimals = values.first().map_or(0, |v| (-v.log10().floor()).max(0.0) as usize);
        Ticks { values, decimals }
    }
}

/// From a number of an axis to a place on the paper, straight or by ratios.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisScale {
    log: bool,
    inner: Scale,
}

impl AxisScale {
    /// The place of a value.
    pub fn at(&self, value: f64) -> f64 {
        self.inner.at(if self.log { value.max(1e-12).log10() } else { value })
    }

    /// The value at a place.
    pub fn value_at(&self, place: f64) -> f64 {
        let value = self.inner.value_at(place);
        if self.log { 10f64.powf(value) } else { value }
    }

    /// Places of both ends, least first.
    fn ends(&self) -> (f64, f64) {
        (self.inner.start.min(self.inner.end), self.inner.start.max(self.inner.end))
    }
}

/// What a line means; each looks the same on every chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// The state now, and all that belongs to neither side.
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

    /// The same without its name on the chart: the legend has it.
    pub fn quiet(self) -> Self {
        Self { named: false, ..self }
    }

    fn points(&self) -> impl Iterator<Item = &At> {
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
    /// The upright axis.
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
    /// The axis along.
    pub x: Axis,
    /// From top to bottom.
    pub panels: Vec<Panel>,
    /// Where a slider stands along the axis.
    pub cursor: Option<f64>,
}

/// Which point is read: panel, line, run, point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spot {
    /// Panel from the top.
    pub panel: usize,
    /// Line of the panel.
    pub series: usize,
    /// Run of the line.
    pub run: usize,
    /// Point of the run.
    pub point: usize,
}

/// A step through a chart by keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Along the line.
    Along(i32),
    /// To another line.
    Across(i32),
    /// To its first or last point.
    End(bool),
}

/// Where the axes of a chart lie on its paper.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    x: AxisScale,
    y: Vec<AxisScale>,
}

impl Layout {
    /// The place of a value in a panel.
    pub fn place(&self, panel: usize, at: &At) -> Place {
        (self.x.at(at.0), self.y[panel].at(at.1))
    }

    /// The scale along.
    pub fn x(&self) -> &AxisScale {
        &self.x
    }

    /// Left, top, right, bottom of a panel.
    pub fn frame(&self, panel: usize) -> (f64, f64, f64, f64) {
        let ((left, right), (top, bottom)) = (self.x.ends(), self.y[panel].ends());
        (left, top, right, bottom)
    }
}

impl Chart {
    /// A chart with one panel.
    pub fn single(x: Axis, panel: Panel) -> Self {
        Self { x, panels: vec![panel], cursor: None }
    }

    /// Where its axes lie on paper of a size.
    pub fn layout(&self, width: f64, height: f64, text: f64) -> Layout {
        let widest = self
            .panels
            .iter()
            .flat_map(|p| {
                let marks = p.y.ticks(6);
                marks.values.iter().map(|v| number(*v, marks.decimals).chars().count()).collect::<Vec<_>>()
            })
            .max()
            .unwrap_or(3);
        let left = (0.56 * widest as f64 + 1.4) * text;
        let (right, bottom) = (width - 16.0, height - 3.1 * text);
        let count = self.panels.len().max(1) as f64;
        let share = (bottom - 0.2 * text) / count;
        let y = self.panels.iter().enumerate().map(|(i, panel)| {
            let top = share * i as f64 + 1.9 * text;
            let foot = if i + 1 == self.panels.len() { bottom } else { share * (i + 1) as f64 - 0.7 * text };
            panel.y.scale(foot, top)
        });
        Layout { x: self.x.scale(left, right), y: y.collect() }
    }

    /// Whether there is anything to read.
    pub fn is_empty(&self) -> bool {
        self.panels.iter().all(|p| p.series.iter().all(|s| s.points().next().is_none()))
    }

    /// Draws it. With a line isolated, the others stand back; a spot that is read gets cross lines.
    pub fn draw<DB: Strokes>(&self, paper: &Paper<DB>, isolated: Option<&str>, spot: Option<Spot>) -> Drawn {
        let text = paper.text_px();
        let layout = self.layout(paper.width, paper.height, text);
        let room = ((layout.x.ends().1 - layout.x.ends().0) / (5.5 * text)).clamp(2.0, 8.0) as usize;
        let mut labels = Labels::default();
        for (i, panel) in self.panels.iter().enumerate() {
            let last = i + 1 == self.panels.len();
            let frame = layout.frame(i);
            let none = Ticks { values: Vec::new(), decimals: 0 };
            let x_ticks = if last { self.x.ticks(room) } else { none };
            let rows = ((frame.3 - frame.1) / (2.4 * text)).clamp(2.0, 6.0) as usize;
            let y_ticks = panel.y.ticks(rows);
            for area in &panel.areas {
                let outline: Vec<Place> = area.outline.iter().map(|at| self.inside(&layout, i, at)).collect();
                paper.hatched(&outline, area.hatch)?;
            }
            let x_label = if last { self.x.label() } else { String::new() };
            paper.frame(frame, (&layout.x, &x_ticks, &x_label), (&layout.y[i], &y_ticks, &panel.y.label()))?;
            for pass in [false, true] {
                for series in panel.series.iter().filter(|s| (s.style != Style::Thin) == pass) {
                    let back = isolated.is_some_and(|name| name != series.name);
                    for run in &series.runs {
                        self.line(paper, &layout, i, run, series.style, back)?;
                    }
                }
            }
        }
        for (i, panel) in self.panels.iter().enumerate() {
            let frame = layout.frame(i);
            for area in panel.areas.iter().filter(|a| !a.word.is_empty()) {
                labels.area(paper, self, &layout, i, area)?;
            }
            let drawn = Shapes::of(self, &layout, i);
            for series in panel.series.iter().filter(|s| s.named) {
                if isolated.is_none_or(|name| name == series.name) {
                    labels.beside(paper, self, &layout, i, series, &drawn)?;
                }
            }
            if let Some(x) = self.cursor.filter(|x| (self.x.from..=self.x.to).contains(x)) {
                let at = layout.x.at(x);
                paper.line(&[(at, frame.1), (at, frame.3)], Tone::Ink, 1.0)?;
            }
            for mark in &panel.marks {
                let place = self.inside(&layout, i, &mark.at);
                match mark.kind {
                    MarkKind::Now => paper.dot(place)?,
                    MarkKind::Pin(letter) => paper.pin(place, letter)?,
                    MarkKind::Event(name) => labels.event(paper, place, frame, name, &drawn)?,
                }
            }
        }
        if let Some((panel, at)) = spot.and_then(|s| self.at(s).map(|at| (s.panel, at))) {
            let place = self.inside(&layout, panel, &at);
            let (left, top, right, bottom) = layout.frame(panel);
            paper.dashed(&[(left, place.1), (right, place.1)], Tone::Ink, 1.0, dashes::CROSS)?;
            paper.dashed(&[(place.0, top), (place.0, bottom)], Tone::Ink, 1.0, dashes::CROSS)?;
            paper.dot(place)?;
        }
        Ok(())
    }

    /// A place held inside its panel: what lies beyond an end is shown at the edge.
    fn inside(&self, layout: &Layout, panel: usize, at: &At) -> Place {
        let (left, top, right, bottom) = layout.frame(panel);
        let (x, y) = layout.place(panel, at);
        (x.clamp(left, right), y.clamp(top, bottom))
    }

    fn line<DB: Strokes>(
        &self,
        paper: &Paper<DB>,
        layout: &Layout,
        panel: usize,
        run: &[At],
        style: Style,
        back: bool,
    ) -> Drawn {
        for part in self.visible(layout, panel, run) {
            let (tone, width, pattern): (Tone, f64, &[f64]) = match style {
                Style::Ink => (Tone::Ink, 2.0, &[]),
                Style::Intake => (Tone::Intake, 2.0, dashes::INTAKE),
                Style::Exhaust => (Tone::Exhaust, 2.0, &[]),
                Style::Thin => (Tone::Ink2, 1.1, &[]),
                Style::Island => (Tone::Ink2, 1.1, dashes::CROSS),
                Style::Chain => (Tone::Ink, 1.4, dashes::CHAIN),
                Style::Pin => (Tone::Pencil, 1.4, dashes::PIN),
            };
            let (tone, width) = if back { (Tone::Rule, width.min(1.2)) } else { (tone, width) };
            if pattern.is_empty() {
                paper.line(&part, tone, width)?;
            } else {
                paper.dashed(&part, tone, width, pattern)?;
            }
        }
        Ok(())
    }

    /// The parts of a run inside its panel, cut at the edge.
    fn visible(&self, layout: &Layout, panel: usize, run: &[At]) -> Vec<Vec<Place>> {
        let frame = layout.frame(panel);
        let mut out: Vec<Vec<Place>> = vec![Vec::new()];
        for pair in run.windows(2) {
            let (a, b) = (layout.place(panel, &pair[0]), layout.place(panel, &pair[1]));
            match cut(a, b, frame) {
                Some((from, to)) => {
                    let joins = out.last().and_then(|part| part.last()).is_some_and(|end| *end == from);
                    if !joins && out.last().is_some_and(|part| !part.is_empty()) {
                        out.push(Vec::new());
                    }
                    if let Some(part) = out.last_mut() {
                        if part.is_empty() {
                            part.push(from);
                        }
                        part.push(to);
                    }
                }
                None => out.push(Vec::new()),
            }
        }
        out.retain(|part| part.len() > 1);
        out
    }

    /// The value at a spot.
    pub fn at(&self, spot: Spot) -> Option<At> {
        self.panels.get(spot.panel)?.series.get(spot.series)?.runs.get(spot.run)?.get(spot.point).copied()
    }

    /// Every spot of a line, in order.
    fn spots(&self, panel: usize, series: usize) -> Vec<Spot> {
        let runs = self.panels.get(panel).and_then(|p| p.series.get(series)).map(|s| s.runs.as_slice());
        let runs = runs.unwrap_or_default().iter().enumerate();
        runs.flat_map(|(run, points)| (0..points.len()).map(move |point| Spot { panel, series, run, point })).collect()
    }

    /// Every line that has points.
    fn lines(&self) -> Vec<(usize, usize)> {
        let all = self.panels.iter().enumerate();
        all.flat_map(|(p, panel)| (0..panel.series.len()).map(move |s| (p, s)))
            .filter(|(p, s)| self.panels[*p].series[*s].points().next().is_some())
            .collect()
    }

    /// The spot nearest to a place on the paper.
    pub fn nearest(&self, layout: &Layout, place: Place, isolated: Option<&str>) -> Option<Spot> {
        let mut best: Option<(f64, Spot)> = None;
        for (panel, series) in self.lines() {
            if isolated.is_some_and(|name| name != self.panels[panel].series[series].name) {
                continue;
            }
            for spot in self.spots(panel, series) {
                let Some(at) = self.at(spot) else { continue };
                let (x, y) = layout.place(panel, &at);
                let distance = (x - place.0).hypot(y - place.1);
                if distance.is_finite() && best.is_none_or(|(least, _)| distance < least) {
                    best = Some((distance, spot));
                }
            }
        }
        best.map(|(_, spot)| spot)
    }

    /// The spot a key leads to; from none, to the point nearest the cursor or the first of the first line.
    pub fn step(&self, from: Option<Spot>, step: Step) -> Option<Spot> {
        let lines = self.lines();
        let Some(spot) = from.filter(|s| self.at(*s).is_some()) else {
            let (panel, series) = *lines.first()?;
            let spots = self.spots(panel, series);
            let off = |s: &Spot| self.at(*s).map_or(f64::INFINITY, |at| (at.0 - self.cursor.unwrap_or(at.0)).abs());
            return spots.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        };
        match step {
            Step::Along(by) => {
                let spots = self.spots(spot.panel, spot.series);
                let here = spots.iter().position(|s| *s == spot)? as i32;
                spots.get((here + by).clamp(0, spots.len() as i32 - 1) as usize).copied()
            }
            Step::End(last) => {
                let spots = self.spots(spot.panel, spot.series);
                if last { spots.last().copied() } else { spots.first().copied() }
            }
            Step::Across(by) => {
                let here = lines.iter().position(|l| *l == (spot.panel, spot.series))? as i32;
                let (panel, series) = *lines.get((here + by).rem_euclid(lines.len() as i32) as usize)?;
                let x = self.at(spot)?.0;
                let off = |s: &Spot| self.at(*s).map_or(f64::INFINITY, |at| (at.0 - x).abs());
                self.spots(panel, series).into_iter().min_by(|a, b| off(a).total_cmp(&off(b)))
            }
        }
    }

    /// What stands at a spot, in words: the line, its value, and where.
    pub fn read(&self, spot: Spot) -> Option<String> {
        let at = self.at(spot)?;
        let panel = self.panels.get(spot.panel)?;
        let series = panel.series.get(spot.series)?;
        Some(tf(
            "{line}: {quantity} {value} at {axis} {place}",
            &[
                ("line", &series.name),
                ("quantity", &panel.y.name),
                ("value", &panel.y.text(at.1)),
                ("axis", &self.x.name),
                ("place", &self.x.text(at.0)),
            ],
        ))
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

    /// The chart as a table: a column for each line where all share the axis, else one row for each point.
    pub fn table(&self) -> (Vec<String>, Vec<Vec<String>>) {
        let lines: Vec<(&Panel, &Series)> =
            self.panels.iter().flat_map(|p| p.series.iter().map(move |s| (p, s))).collect();
        let along = |s: &Series| s.points().map(|at| at.0).collect::<Vec<_>>();
        let Some(first) = lines.iter().max_by_key(|(_, s)| s.points().count()) else { return (Vec::new(), Vec::new()) };
        let shared = along(first.1);
        let x_text = |v: f64| number(v, self.x.decimals);
        if lines.iter().all(|(_, s)| along(s) == shared) {
            let mut columns = vec![self.x.label()];
            columns.extend(lines.iter().map(|(p, s)| {
                let unit = if p.y.unit.is_empty() { String::new() } else { format!(", {}", p.y.unit) };
                format!("{}{unit}", s.name)
            }));
            let rows = shared.iter().enumerate().map(|(i, x)| {
                let mut row = vec![x_text(*x)];
                row.extend(
                    lines.iter().map(|(p, s)| s.points().nth(i).map_or(String::new(), |at| number(at.1, p.y.decimals))),
                );
                row
            });
            return (columns, rows.collect());
        }
        let y_labels: Vec<String> = self.panels.iter().map(|p| p.y.label()).collect();
        let columns = vec![t("line").into(), self.x.label(), y_labels.join("; ")];
        let rows = lines.iter().flat_map(|(p, s)| {
            s.points().map(move |at| vec![s.name.clone(), x_text(at.0), number(at.1, p.y.decimals)])
        });
        (columns, rows.collect())
    }

    /// The chart as CSV (RFC 4180) with full numbers: line, along, value. Where the decimal mark is a comma, spreadsheets expect
    /// it in files too, and a semicolon between the cells.
    pub fn csv(&self) -> String {
        let mut out = String::new();
        let full = |value: f64| value.to_string().replace('.', decimal().encode_utf8(&mut [0; 4]));
        let mut row = |cells: &[String]| {
            let cells: Vec<String> = cells.iter().map(|c| csv_cell(c)).collect();
            out.push_str(&cells.join(if decimal() == ',' { ";" } else { "," }));
            out.push_str("\r\n");
        };
        row(&[t("line").into(), self.x.label(), t("quantity").into(), t("value").into()]);
        for panel in &self.panels {
            for series in &panel.series {
                for at in series.points() {
                    row(&[series.name.clone(), full(at.0), panel.y.label(), full(at.1)]);
                }
            }
        }
        out
    }
}

/// A cell of CSV: quoted where it must be, and no spreadsheet takes it for a formula.
pub fn csv_cell(text: &str) -> String {
    let is_number = units::parse(&text.replacen(',', ".", 1)).is_some();
    let text =
        if !is_number && text.starts_with(['=', '+', '-', '@', '\t']) { format!("'{text}") } else { text.into() };
    let between = if decimal() == ',' { ';' } else { ',' };
    if text.contains([between, '"', '\n', '\r']) || (!is_number && text.contains([',', ';'])) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

/// The piece of a straight line inside a frame (left, top, right, bottom), after Liang and Barsky.
fn cut(a: Place, b: Place, frame: (f64, f64, f64, f64)) -> Option<(Place, Place)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    if !(dx.is_finite() && dy.is_finite()) {
        return None;
    }
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q) in [(-dx, a.0 - frame.0), (dx, frame.2 - a.0), (-dy, a.1 - frame.1), (dy, frame.3 - a.1)] {
        if p == 0.0 {
            if q < -1e-9 {
                return None;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    let at = |t: f64| (a.0 + t * dx, a.1 + t * dy);
    (enter <= leave).then(|| (if enter == 0.0 { a } else { at(enter) }, if leave == 1.0 { b } else { at(leave) }))
}

/// What a panel shows, as places on the sheet: names keep off it.
struct Shapes {
    /// Each line with the bounds that it stays within.
    lines: Vec<(Bounds, Vec<Place>)>,
    /// Marks, with the room above and below that each takes.
    marks: Vec<(Place, f64)>,
    hatched: Vec<Vec<Place>>,
}

impl Shapes {
    fn of(chart: &Chart, layout: &Layout, panel: usize) -> Self {
        let shown = &chart.panels[panel];
        let lines = shown.series.iter().flat_map(|s| s.runs.iter().flat_map(|run| chart.visible(layout, panel, run)));
        // A pin is a ring around its letter and takes that room; the name of an event goes where names leave room.
        let room = |mark: &Mark| if matches!(mark.kind, MarkKind::Pin(_)) { 10.0 } else { 0.0 };
        let outline = |area: &Area| area.outline.iter().map(|at| chart.inside(layout, panel, at)).collect();
        Self {
            lines: lines.map(|line| (around(&line), line)).collect(),
            marks: shown.marks.iter().map(|m| (chart.inside(layout, panel, &m.at), room(m))).collect(),
            hatched: shown.areas.iter().map(outline).collect(),
        }
    }

    /// Whether a rectangle lies on the middle of a mark.
    fn covered_by(&self, (left, top, right, bottom): Bounds) -> bool {
        let on = |(x, y): Place| (left - 4.0..=right + 4.0).contains(&x) && (top - 4.0..=bottom + 4.0).contains(&y);
        self.marks.iter().any(|(place, _)| on(*place))
    }

    /// How many strokes of the lines run through a rectangle.
    fn struck_by(&self, bounds: Bounds) -> usize {
        let near = self.lines.iter().filter(|(around, _)| overlap(*around, bounds));
        near.flat_map(|(_, line)| line.windows(2)).filter(|w| crosses(w[0], w[1], bounds)).count()
    }
}

/// Left, top, right, bottom.
type Bounds = (f64, f64, f64, f64);

/// The least rectangle around places.
fn around(places: &[Place]) -> Bounds {
    let none = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
    places.iter().fold(none, |b, p| (b.0.min(p.0), b.1.min(p.1), b.2.max(p.0), b.3.max(p.1)))
}

/// Whether two rectangles share a place, edges included.
fn overlap(a: Bounds, b: Bounds) -> bool {
    a.0 <= b.2 && b.0 <= a.2 && a.1 <= b.3 && b.1 <= a.3
}

/// Names written on a chart so far: none covers another.
#[derive(Default)]
struct Labels {
    taken: Vec<Bounds>,
}

impl Labels {
    fn free(&self, (left, top, right, bottom): (f64, f64, f64, f64)) -> bool {
        !self.taken.iter().any(|t| left < t.2 && t.0 < right && top < t.3 && t.1 < bottom)
    }

    /// Writes the name of a line on its emptiest side, if it has one.
    fn beside<DB: Strokes>(
        &mut self,
        paper: &Paper<DB>,
        chart: &Chart,
        layout: &Layout,
        panel: usize,
        series: &Series,
        drawn: &Shapes,
    ) -> Drawn {
        let tone = match series.style {
            Style::Intake => Tone::Intake,
            Style::Exhaust => Tone::Exhaust,
            Style::Thin | Style::Island => Tone::Ink2,
            Style::Pin => Tone::Pencil,
            Style::Ink | Style::Chain => Tone::Ink,
        };
        let small = matches!(series.style, Style::Thin | Style::Pin | Style::Island);
        let letter = Letter { patch: small, bold: !small, ..Letter::plain(tone).centred() };
        let (text, half) = (paper.text_px(), paper.text_width(&series.name, &letter)? / 2.0 + 2.0);
        let frame = layout.frame(panel);
        let own: Vec<Place> = series.runs.iter().flat_map(|run| chart.visible(layout, panel, run)).flatten().collect();
        if own.is_empty() {
            return Ok(());
        }
        let on_hatch = |(left, top, right, bottom): (f64, f64, f64, f64)| {
            let along = (0..=8).map(|i| left + (right - left) * f64::from(i) / 8.0);
            let mut spots = along.flat_map(|x| [(x, top), (x, 0.5 * (top + bottom)), (x, bottom)]);
            spots.any(|spot| drawn.hatched.iter().any(|outline| holds(outline, spot)))
        };
        let mut best: Option<(f64, Place)> = None;
        'places: for share in [0.97, 0.85, 0.7, 0.62, 0.55, 0.4, 0.32, 0.25, 0.12, 0.03] {
            let near = own[((own.len() - 1) as f64 * share).round() as usize];
            for (dx, dy) in [(0.0, -0.95), (0.0, 0.95), (1.0, 0.0), (-1.0, 0.0), (0.0, -1.4), (0.0, 1.4)] {
                let gap = if small && dx != 0.0 { half + 3.0 } else { half + 6.0 };
                let place = (near.0 + dx * gap, near.1 + dy * text);
                let bounds = (place.0 - half, place.1 - 0.6 * text, place.0 + half, place.1 + 0.6 * text);
                let (left, top, right, bottom) = bounds;
                if left < frame.0 + 2.0 || right > frame.2 || top < frame.1 || bottom > frame.3 || !self.free(bounds) {
                    continue;
                }
                let hits = |(x, y): Place, room: f64| {
                    (left - 8.0..=right + 8.0).contains(&x) && (top - room..=bottom + room).contains(&y)
                };
                let struck = drawn.struck_by(bounds);
                let on_mark = drawn.marks.iter().filter(|(place, room)| hits(*place, *room)).count();
                let cursor = chart.cursor.is_some_and(|x| (left - 3.0..=right + 3.0).contains(&layout.x.at(x)));
                // Letters on a hatch are hard to read: rather across one line than there.
                let hatch = if on_hatch(bounds) { 1.5 } else { 0.0 };
                let worth = struck as f64 + 6.0 * on_mark as f64 + if cursor { 3.0 } else { 0.0 } + hatch;
                if best.is_none_or(|(least, _)| worth < least) {
                    best = Some((worth, place));
                }
                // No place is emptier.
                if worth == 0.0 {
                    break 'places;
                }
            }
        }
        // Without room anywhere the line's style, the legend and the caption still tell which it is.
        if let Some((worth, place)) = best
            && worth < 3.0
        {
            let bounds = (place.0 - half, place.1 - 0.6 * text, place.0 + half, place.1 + 0.6 * text);
            self.taken.push(bounds);
            paper.text(place, &series.name, Letter { patch: small || on_hatch(bounds), ..letter })?;
        }
        Ok(())
    }

    /// A small cross with its name, on the free side where the fewest lines pass: upon one it can still be read, upon a mark not.
    fn event<DB: Strokes>(
        &mut self,
        paper: &Paper<DB>,
        place: Place,
        frame: (f64, f64, f64, f64),
        name: &str,
        drawn: &Shapes,
    ) -> Drawn {
        let (text, letter) = (paper.text_px(), Letter { patch: true, ..Letter::plain(Tone::Ink2).centred() });
        // What lies beyond an end of an axis happens off the chart.
        if place.0 <= frame.0 || place.1 <= frame.1 || place.0 >= frame.2 || place.1 > frame.3 {
            return Ok(());
        }
        for (dx, dy) in [(-3.5, -3.5), (-3.5, 3.5)] {
            paper.line(&[(place.0 + dx, place.1 + dy), (place.0 - dx, place.1 - dy)], Tone::Ink, 1.2)?;
        }
        let half = paper.text_width(name, &letter)? / 2.0 + 1.0;
        let mut best: Option<(usize, Place, Bounds)> = None;
        for (dx, dy) in [(0.0, 1.0), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0), (1.0, 1.0), (-1.0, 1.0)] {
            let at = (place.0 + dx * (half + 6.0), place.1 + dy * text);
            let bounds = (at.0 - half, at.1 - 0.6 * text, at.0 + half, at.1 + 0.6 * text);
            let in_frame =
                bounds.0 > frame.0 && bounds.2 < frame.2 + 12.0 && bounds.1 > frame.1 - text && bounds.3 < frame.3;
            if !in_frame || !self.free(bounds) || drawn.covered_by(bounds) {
                continue;
            }
            let struck = drawn.struck_by(bounds);
            if best.is_none_or(|(least, ..)| struck < least) {
                best = Some((struck, at, bounds));
            }
            // No side is emptier.
            if struck == 0 {
                break;
            }
        }
        if let Some((_, at, bounds)) = best {
            self.taken.push(bounds);
            paper.text(at, name, letter)?;
        }
        Ok(())
    }

    /// A word in the middle of an area, where it fits.
    fn area<DB: Strokes>(
        &mut self,
        paper: &Paper<DB>,
        chart: &Chart,
        layout: &Layout,
        panel: usize,
        area: &Area,
    ) -> Drawn {
        let tone = match area.hatch {
            Hatch::Limit => Tone::Caution,
            Hatch::Helps => Tone::Intake,
            Hatch::Hinders => Tone::Exhaust,
        };
        let letter = Letter { patch: true, ..Letter::plain(tone).centred() };
        let half = paper.text_width(area.word, &letter)? / 2.0 + 4.0;
        let places: Vec<Place> = area.outline.iter().map(|at| chart.inside(layout, panel, at)).collect();
        let least = |of: fn(&Place) -> f64| places.iter().map(of).fold(f64::INFINITY, f64::min);
        let most = |of: fn(&Place) -> f64| places.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        let (left, right, top, bottom) = (least(|p| p.0), most(|p| p.0), least(|p| p.1), most(|p| p.1));
        let (middle, height) = (0.5 * (left + right), 0.5 * (top + bottom));
        let text = paper.text_px();
        let bounds = (middle - half, height - 0.6 * text, middle + half, height + 0.6 * text);
        if right - left > 2.0 * half && bottom - top > 1.4 * text && self.free(bounds) {
            self.taken.push(bounds);
            paper.text((middle, height), area.word, letter)?;
        }
        Ok(())
    }
}

/// Whether a place lies inside an outline: a line from it to one side crosses the outline an odd number of times.
fn holds(outline: &[Place], (x, y): Place) -> bool {
    let next = outline.iter().cycle().skip(1);
    let crossed = outline
        .iter()
        .zip(next)
        .filter(|(a, b)| (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
    crossed.count() % 2 == 1
}

fn crosses(a: Place, b: Place, (left, top, right, bottom): (f64, f64, f64, f64)) -> bool {
    // Nearly every piece of a line lies to one side of a name altogether: that is cheaper to see.
    let aside = (a.0 < left && b.0 < left) || (a.0 > right && b.0 > right);
    let above = (a.1 < top && b.1 < top) || (a.1 > bottom && b.1 > bottom);
    !aside && !above && cut(a, b, (left, top, right, bottom)).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::paper::Palette;
    use crate::plots::recorder::{Record, Recorder};
    use plotters::drawing::IntoDrawingArea;
    use std::cell::RefCell;
    use std::rc::Rc;

    fn chart() -> Chart {
        let x = Axis::new("vane position", "% open", 0.0, 100.0, 0);
        let mut panel = Panel::new(Axis::around("pressure", "kPa abs", [100.0, 380.0].into_iter(), 0));
        let line =
            |k: f64| (0..=10).map(|i| (10.0 * f64::from(i), k * 100.0 + 20.0 * f64::from(i))).collect::<Vec<_>>();
        panel.series.push(Series::new("p2", Style::Intake, line(1.0)));
        panel.series.push(Series::new("p3", Style::Exhaust, line(1.8)));
        Chart { cursor: Some(40.0), ..Chart::single(x, panel) }
    }

    #[test]
    fn by_hand_the_nearest_point_is_read() {
        let chart = chart();
        let layout = chart.layout(400.0, 300.0, 13.0);
        let place = layout.place(0, &(30.0, 240.0));
        let spot = chart.nearest(&layout, (place.0 + 4.0, place.1 - 3.0), None).unwrap();
        assert_eq!(chart.at(spot), Some((30.0, 240.0)));
        assert_eq!(chart.read(spot).unwrap(), "p3: pressure 240 kPa abs at vane position 30 % open");
        let only = chart.nearest(&layout, place, Some("p2")).unwrap();
        assert_eq!(only.series, 0);
    }

    #[test]
    fn by_hand_keys_walk_along_and_across() {
        let chart = chart();
        let start = chart.step(None, Step::Along(1)).unwrap();
        assert_eq!(chart.at(start).unwrap().0, 40.0, "the first key finds the cursor");
        let next = chart.step(Some(start), Step::Along(1)).unwrap();
        assert_eq!(chart.at(next), Some((50.0, 200.0)));
        let other = chart.step(Some(next), Step::Across(1)).unwrap();
        assert_eq!(chart.at(other), Some((50.0, 280.0)));
        let end = chart.step(Some(other), Step::End(true)).unwrap();
        assert_eq!(chart.step(Some(end), Step::Along(1)), Some(end), "the end holds");
        assert_eq!(chart.step(Some(other), Step::Across(1)).unwrap().series, 0, "past the last comes the first");
    }

    #[test]
    fn identity_table_plot_and_file_say_the_same() {
        let chart = chart();
        let (columns, rows) = chart.table();
        assert_eq!(columns, ["vane position, % open", "p2, kPa abs", "p3, kPa abs"]);
        assert_eq!((rows.len(), rows[3].as_slice()), (11, ["30", "160", "240"].map(String::from).as_slice()));
        let csv = chart.csv();
        assert!(csv.contains("\r\np3,30,\"pressure, kPa abs\",240\r\n"), "{csv}");
    }

    #[test]
    fn by_hand_a_cell_is_no_formula() {
        assert_eq!(csv_cell("=1+1"), "'=1+1");
        assert_eq!(csv_cell("-5"), "-5");
        assert_eq!(csv_cell("a,\"b\""), "\"a,\"\"b\"\"\"");
    }

    #[test]
    fn by_hand_a_line_is_cut_at_the_frame() {
        let frame = (0.0, 0.0, 10.0, 10.0);
        assert_eq!(cut((-5.0, 5.0), (5.0, 5.0), frame), Some(((0.0, 5.0), (5.0, 5.0))));
        assert_eq!(cut((-5.0, 5.0), (-1.0, 5.0), frame), None);
        assert_eq!(cut((1.0, 1.0), (2.0, 2.0), frame), Some(((1.0, 1.0), (2.0, 2.0))));
        assert_eq!(cut((f64::NAN, 1.0), (2.0, 2.0), frame), None);
    }

    /// A quick step: the curve goes straight up and then along, and the name at its knee once covered it.
    #[test]
    fn regress_the_name_of_an_event_keeps_off_the_lines() {
        let step = vec![(0.0, 200.0), (1.0, 200.0), (1.05, 700.0), (1.2, 860.0), (1.6, 880.0), (10.0, 880.0)];
        let mut panel = Panel::new(Axis::new("torque", "N·m", 0.0, 1000.0, 0));
        panel.series.push(Series::new("torque", Style::Ink, step.clone()));
        panel.marks.push(Mark { at: (1.12, 812.0), kind: MarkKind::Event("90 %") });
        let chart = Chart::single(Axis::new("time", "s", 0.0, 11.0, 2), panel);
        let record = Rc::new(RefCell::new(Record::default()));
        let area = Recorder { size: (900, 150), record: record.clone() }.into_drawing_area();
        let paper = Paper::new(area, 1.0, Palette::from_tokens(|_| (0, 0, 0)), 13.0);
        chart.draw(&paper, None, None).unwrap();
        let record = record.take();
        let (_, [left, top, right, bottom]) = record.texts.iter().find(|(text, _)| text == "90 %").expect("its name");
        let layout = chart.layout(900.0, 150.0, 13.0);
        let line: Vec<Place> = step.iter().map(|at| layout.place(0, at)).collect();
        let on_it = line.windows(2).filter(|w| cut(w[0], w[1], (*left, *top, *right, *bottom)).is_some()).count();
        assert_eq!(on_it, 0, "{left} {top} {right} {bottom}: {line:?}");
    }

    #[test]
    fn by_hand_inside_an_outline() {
        let corner = [(0.0, 0.0), (10.0, 0.0), (10.0, 4.0), (4.0, 4.0), (4.0, 10.0), (0.0, 10.0)];
        assert!(holds(&corner, (2.0, 8.0)) && holds(&corner, (8.0, 2.0)));
        assert!(!holds(&corner, (8.0, 8.0)) && !holds(&corner, (-1.0, 2.0)) && !holds(&[], (0.0, 0.0)));
    }

    #[test]
    fn by_hand_a_log_axis() {
        let axis = Axis::new("pressure", "bar", 0.8, 200.0, 0).log();
        let scale = axis.scale(0.0, 100.0);
        assert!((scale.value_at(scale.at(12.0)) - 12.0).abs() < 1e-9);
        assert_eq!(axis.ticks(5).values, [1.0, 10.0, 100.0]);
    }
}
