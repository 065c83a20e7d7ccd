//! Names beside lines, words in areas and names of events. None covers another, and all keep off lines and marks.

use super::chart::{Area, Chart, Mark, MarkKind, Series, Style};
use super::clip::{Frame, around, crosses, encloses, overlap};
use super::hatch::{Hatch, Point};
use super::placing::Layout;
use super::surface::{Drawn, Letter, Strokes, Surface, Tone};

/// The lines, marks and areas of a panel as places on the surface, for names to keep off.
pub(super) struct Shapes {
    /// Each line with the bounds that it stays within.
    lines: Vec<(Frame, Vec<Point>)>,
    /// Marks, with the room above and below that each takes.
    marks: Vec<(Point, f64)>,
    hatched: Vec<Vec<Point>>,
}

impl Shapes {
    pub(super) fn of(chart: &Chart, layout: &Layout, panel: usize) -> Self {
        let shown = &chart.panels[panel];
        let lines = shown.series.iter().flat_map(|s| s.runs.iter().flat_map(|run| chart.visible(layout, panel, run)));
        // A pin is a ring around its letter and needs room for it. The name of an event is placed later, where room is left.
        let room = |mark: &Mark| if matches!(mark.kind, MarkKind::Pin(_)) { 10.0 } else { 0.0 };
        let outline = |area: &Area| area.outline.iter().map(|at| chart.inside(layout, panel, at)).collect();
        Self {
            lines: lines.map(|line| (around(&line), line)).collect(),
            marks: shown.marks.iter().map(|m| (chart.inside(layout, panel, &m.at), room(m))).collect(),
            hatched: shown.areas.iter().map(outline).collect(),
        }
    }

    /// Whether a rectangle lies on the middle of a mark.
    fn covered_by(&self, (left, top, right, bottom): Frame) -> bool {
        let on = |(x, y): Point| (left - 4.0..=right + 4.0).contains(&x) && (top - 4.0..=bottom + 4.0).contains(&y);
        self.marks.iter().any(|(place, _)| on(*place))
    }

    /// How many strokes of the lines run through a rectangle.
    fn struck_by(&self, bounds: Frame) -> usize {
        let near = self.lines.iter().filter(|(around, _)| overlap(*around, bounds));
        near.flat_map(|(_, line)| line.windows(2)).filter(|w| crosses(w[0], w[1], bounds)).count()
    }
}

/// Names written on a chart so far: none covers another.
#[derive(Default)]
pub(super) struct Labels {
    taken: Vec<Frame>,
}

impl Labels {
    fn free(&self, (left, top, right, bottom): Frame) -> bool {
        !self.taken.iter().any(|t| left < t.2 && t.0 < right && top < t.3 && t.1 < bottom)
    }

    /// Writes the name of a line on its emptiest side, if it has one. Long because every place is tried by the same measures.
    pub(super) fn beside<DB: Strokes>(
        &mut self,
        surface: &Surface<DB>,
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
        let (text, half) = (surface.text_px(), surface.text_width(&series.name, &letter)? / 2.0 + 2.0);
        let frame = layout.frame(panel);
        let own: Vec<Point> = series.runs.iter().flat_map(|run| chart.visible(layout, panel, run)).flatten().collect();
        if own.is_empty() {
            return Ok(());
        }
        let on_hatch = |(left, top, right, bottom): Frame| {
            let along = (0..=8).map(|i| left + (right - left) * f64::from(i) / 8.0);
            let mut spots = along.flat_map(|x| [(x, top), (x, 0.5 * (top + bottom)), (x, bottom)]);
            spots.any(|spot| drawn.hatched.iter().any(|outline| encloses(outline, spot)))
        };
        let mut best: Option<(f64, Point)> = None;
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
                let hits = |(x, y): Point, room: f64| {
                    (left - 8.0..=right + 8.0).contains(&x) && (top - room..=bottom + room).contains(&y)
                };
                let struck = drawn.struck_by(bounds);
                let on_mark = drawn.marks.iter().filter(|(place, room)| hits(*place, *room)).count();
                let cursor = chart.cursor.is_some_and(|x| (left - 3.0..=right + 3.0).contains(&layout.x.at(x)));
                // Letters on a hatch are hard to read, harder than letters across one line.
                let hatch = if on_hatch(bounds) { 1.5 } else { 0.0 };
                let worth = struck as f64 + 6.0 * on_mark as f64 + if cursor { 3.0 } else { 0.0 } + hatch;
                if best.is_none_or(|(least, _)| worth < least) {
                    best = Some((worth, place));
                }
                // No place can be emptier.
                if worth == 0.0 {
                    break 'places;
                }
            }
        }
        // Where there is no room at all, the line's style, the legend and the caption still tell which line it is.
        if let Some((worth, place)) = best
            && worth < 3.0
        {
            let bounds = (place.0 - half, place.1 - 0.6 * text, place.0 + half, place.1 + 0.6 * text);
            self.taken.push(bounds);
            surface.text(place, &series.name, Letter { patch: small || on_hatch(bounds), ..letter })?;
        }
        Ok(())
    }

    /// A small cross with its name. The name stands on the free side where the fewest lines pass: it can be read across a line, but
    /// not on a mark.
    pub(super) fn event<DB: Strokes>(
        &mut self,
        surface: &Surface<DB>,
        place: Point,
        frame: Frame,
        name: &str,
        drawn: &Shapes,
    ) -> Drawn {
        let (text, letter) = (surface.text_px(), Letter { patch: true, ..Letter::plain(Tone::Ink2).centred() });
        // An event beyond the end of an axis is not shown.
        if place.0 <= frame.0 || place.1 <= frame.1 || place.0 >= frame.2 || place.1 > frame.3 {
            return Ok(());
        }
        for (dx, dy) in [(-3.5, -3.5), (-3.5, 3.5)] {
            surface.line(&[(place.0 + dx, place.1 + dy), (place.0 - dx, place.1 - dy)], Tone::Ink, 1.2)?;
        }
        let half = surface.text_width(name, &letter)? / 2.0 + 1.0;
        let mut best: Option<(usize, Point, Frame)> = None;
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
            // No side can be emptier.
            if struck == 0 {
                break;
            }
        }
        if let Some((_, at, bounds)) = best {
            self.taken.push(bounds);
            surface.text(at, name, letter)?;
        }
        Ok(())
    }

    /// A word in the middle of an area, where it fits.
    pub(super) fn area<DB: Strokes>(
        &mut self,
        surface: &Surface<DB>,
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
        let half = surface.text_width(area.word, &letter)? / 2.0 + 4.0;
        let places: Vec<Point> = area.outline.iter().map(|at| chart.inside(layout, panel, at)).collect();
        let least = |of: fn(&Point) -> f64| places.iter().map(of).fold(f64::INFINITY, f64::min);
        let most = |of: fn(&Point) -> f64| places.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        let (left, right, top, bottom) = (least(|p| p.0), most(|p| p.0), least(|p| p.1), most(|p| p.1));
        let (middle, height) = (0.5 * (left + right), 0.5 * (top + bottom));
        let text = surface.text_px();
        let bounds = (middle - half, height - 0.6 * text, middle + half, height + 0.6 * text);
        if right - left > 2.0 * half && bottom - top > 1.4 * text && self.free(bounds) {
            self.taken.push(bounds);
            surface.text((middle, height), area.word, letter)?;
        }
        Ok(())
    }
}
