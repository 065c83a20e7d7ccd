//! Draws a chart on a surface.

use super::chart::{At, Chart, MarkKind, Style};
use super::hatch::Point;
use super::lettering::{Labels, Shapes};
use super::placing::Layout;
use super::read_off::Spot;
use super::surface::{Drawn, Strokes, Surface, Tone, dashes};
use super::ticks::Ticks;

impl Chart {
    /// Draws the chart. With one line isolated, the others are pale; a spot that is read gets cross lines.
    pub fn draw<DB: Strokes>(&self, surface: &Surface<DB>, isolated: Option<&str>, spot: Option<Spot>) -> Drawn {
        let text = surface.text_px();
        let layout = self.layout(surface.width, surface.height, text);
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
                let outline: Vec<Point> = area.outline.iter().map(|at| self.inside(&layout, i, at)).collect();
                surface.hatched(&outline, area.hatch)?;
            }
            let x_label = if last { self.x.label() } else { String::new() };
            surface.frame(frame, (&layout.x, &x_ticks, &x_label), (&layout.y[i], &y_ticks, &panel.y.label()))?;
            for pass in [false, true] {
                for series in panel.series.iter().filter(|s| (s.style != Style::Thin) == pass) {
                    let back = isolated.is_some_and(|name| name != series.name);
                    for run in &series.runs {
                        self.line(surface, &layout, i, run, series.style, back)?;
                    }
                }
            }
        }
        for (i, panel) in self.panels.iter().enumerate() {
            let frame = layout.frame(i);
            for area in panel.areas.iter().filter(|a| !a.word.is_empty()) {
                labels.area(surface, self, &layout, i, area)?;
            }
            let drawn = Shapes::of(self, &layout, i);
            for series in panel.series.iter().filter(|s| s.named) {
                if isolated.is_none_or(|name| name == series.name) {
                    labels.beside(surface, self, &layout, i, series, &drawn)?;
                }
            }
            if let Some(x) = self.cursor.filter(|x| (self.x.from..=self.x.to).contains(x)) {
                let at = layout.x.at(x);
                surface.line(&[(at, frame.1), (at, frame.3)], Tone::Ink, 1.0)?;
            }
            for mark in &panel.marks {
                let place = self.inside(&layout, i, &mark.at);
                match mark.kind {
                    MarkKind::Now => surface.dot(place)?,
                    MarkKind::Pin(letter) => surface.pin(place, letter)?,
                    MarkKind::Event(name) => labels.event(surface, place, frame, name, &drawn)?,
                }
            }
        }
        if let Some((panel, at)) = spot.and_then(|s| self.at(s).map(|at| (s.panel, at))) {
            let place = self.inside(&layout, panel, &at);
            let (left, top, right, bottom) = layout.frame(panel);
            surface.dashed(&[(left, place.1), (right, place.1)], Tone::Ink, 1.0, dashes::CROSS)?;
            surface.dashed(&[(place.0, top), (place.0, bottom)], Tone::Ink, 1.0, dashes::CROSS)?;
            surface.dot(place)?;
        }
        Ok(())
    }

    fn line<DB: Strokes>(
        &self,
        surface: &Surface<DB>,
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
                surface.line(&part, tone, width)?;
            } else {
                surface.dashed(&part, tone, width, pattern)?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::axis::Axis;
    use crate::plots::chart::{Mark, Panel, Series};
    use crate::plots::clip::cut;
    use crate::plots::recorder;

    /// A quick step: the curve goes straight up and then along, and the name at its knee once covered it.
    #[test]
    fn regress_the_name_of_an_event_keeps_off_the_lines() {
        let step = vec![(0.0, 200.0), (1.0, 200.0), (1.05, 700.0), (1.2, 860.0), (1.6, 880.0), (10.0, 880.0)];
        let mut panel = Panel::new(Axis::new("torque", "N·m", 0.0, 1000.0, 0));
        panel.series.push(Series::new("torque", Style::Ink, step.clone()));
        panel.marks.push(Mark { at: (1.12, 812.0), kind: MarkKind::Event("90 %") });
        let chart = Chart::single(Axis::new("time", "s", 0.0, 11.0, 2), panel);
        let (record, _) = recorder::drawn(&chart, (900, 150), 1);
        let (_, [left, top, right, bottom]) = record.texts.iter().find(|(text, _)| text == "90 %").expect("its name");
        let layout = chart.layout(900.0, 150.0, 13.0);
        let line: Vec<Point> = step.iter().map(|at| layout.place(0, at)).collect();
        let on_it = line.windows(2).filter(|w| cut(w[0], w[1], (*left, *top, *right, *bottom)).is_some()).count();
        assert_eq!(on_it, 0, "{left} {top} {right} {bottom}: {line:?}");
    }
}
