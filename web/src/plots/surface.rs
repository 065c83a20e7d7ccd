//! A surface to draw on, over any plotters backend: lines, areas, hatches and text in CSS pixels.
//!
//! plotters works in whole device pixels, so the surface is scaled by the device pixel ratio; one width of line or size of
//! text is given in CSS pixels and looks the same on every screen.

use super::axis::AxisScale;
use super::hatch::{self, Hatch, Point};
use super::thin::thinned;
use super::ticks::Ticks;
use crate::units::number;
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters::element::{Circle, Drawable, PathElement, PointCollection, Polygon};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle};
use plotters_backend::{BackendCoord, BackendStyle, DrawingBackend, DrawingErrorKind};

/// The family that plots are lettered in, as the style sheet has it.
pub const FAMILY: &str = "\"Bench Sans\", \"Arial Narrow\", \"Liberation Sans Narrow\", sans-serif";

/// Height of plot text, in CSS pixels.
pub const TEXT: f64 = 13.0;

/// The tones of the drawing, as the style sheet's tokens resolve them now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Palette([RGBColor; TOKENS.len()]);

/// A token of the style sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is the token of that name")]
pub enum Tone {
    Sheet,
    Well,
    Ink,
    Ink2,
    Rule,
    Edge,
    Pencil,
    Intake,
    IntakeTint,
    Exhaust,
    ExhaustTint,
    Caution,
    CautionTint,
}

/// The custom property of each [`Tone`], in its order.
const TOKENS: [&str; 13] = [
    "--sheet",
    "--well",
    "--ink",
    "--ink-2",
    "--rule",
    "--edge",
    "--pencil",
    "--intake",
    "--intake-tint",
    "--exhaust",
    "--exhaust-tint",
    "--caution",
    "--caution-tint",
];

impl Palette {
    /// A palette from each token's red, green and blue.
    pub fn from_tokens(mut read: impl FnMut(&str) -> (u8, u8, u8)) -> Self {
        Self(TOKENS.map(|token| {
            let (r, g, b) = read(token);
            RGBColor(r, g, b)
        }))
    }

    fn of(&self, tone: Tone) -> RGBColor {
        self.0[tone as usize]
    }
}

/// A plot that could not be drawn; the text is the backend's.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotError(pub String);

/// What drawing returns.
pub type Drawn = Result<(), PlotError>;

fn failed(error: impl core::fmt::Display) -> PlotError {
    PlotError(error.to_string())
}

/// How a line of text stands.
#[derive(Clone, Copy)]
pub struct Letter {
    /// Its tone.
    pub tone: Tone,
    /// Heavier.
    pub bold: bool,
    /// Where its place is: left, middle or right end.
    pub anchor: HPos,
    /// Laid over a patch of the sheet's own tone, so that lines do not run through it.
    pub patch: bool,
}

impl Letter {
    /// Plain text that begins at its place.
    pub const fn plain(tone: Tone) -> Self {
        Self { tone, bold: false, anchor: HPos::Left, patch: false }
    }

    /// Ends at its place.
    pub const fn right(self) -> Self {
        Self { anchor: HPos::Right, ..self }
    }

    /// Stands around its place.
    pub const fn centred(self) -> Self {
        Self { anchor: HPos::Center, ..self }
    }
}

/// How far a line may pass by the points that are left out of its drawing, in CSS pixels: less than its edge is soft.
const THINNED: f64 = 0.1;

/// From one line of a hatch to the next, along either axis, in CSS pixels: whole device pixels on a plain screen, so that a
/// backend can lay it as a tile.
const HATCH_PITCH: f64 = 9.0;

/// Dash patterns: each line has one meaning on every plot.
pub mod dashes {
    /// Intake side.
    pub const INTAKE: &[f64] = &[9.0, 3.0];
    /// A pin.
    pub const PIN: &[f64] = &[4.0, 3.0];
    /// Cross lines of a point that is read.
    pub const CROSS: &[f64] = &[2.0, 2.5];
    /// Best point, surge line.
    pub const CHAIN: &[f64] = &[12.0, 3.0, 2.0, 3.0];
}

/// A hatch as a backend is asked for it; lengths are in its own units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weave {
    /// What it means.
    pub kind: Hatch,
    /// Behind the lines.
    pub ground: RGBColor,
    /// Of the lines.
    pub tone: RGBColor,
    /// From one line to the next, along either axis.
    pub pitch: f64,
    /// Of a line.
    pub width: u32,
}

/// A backend that may draw many straight strokes of one style at once, and hatch an area: hundreds of strokes for it.
pub trait Strokes: DrawingBackend {
    /// Draws strokes, each through so many of the points.
    fn strokes<S: BackendStyle>(
        &mut self,
        points: &[BackendCoord],
        lengths: &[usize],
        style: &S,
    ) -> Result<(), DrawingErrorKind<Self::ErrorType>> {
        split(points, lengths).try_for_each(|stroke| self.draw_path(stroke.iter().copied(), style))
    }

    /// Hatches an area, line by line unless the backend has a quicker way.
    fn hatched(&mut self, outline: &[BackendCoord], weave: &Weave) -> Result<(), DrawingErrorKind<Self::ErrorType>> {
        self.fill_polygon(outline.iter().copied(), &weave.ground.filled())?;
        let outline: Vec<Point> = outline.iter().map(|(x, y)| (f64::from(*x), f64::from(*y))).collect();
        let whole = |(x, y): Point| (x.round() as i32, y.round() as i32);
        let lines = hatch::hatch(&outline, weave.kind, weave.pitch);
        let ends: Vec<BackendCoord> = lines.into_iter().flat_map(|(a, b)| [whole(a), whole(b)]).collect();
        self.strokes(&ends, &vec![2; ends.len() / 2], &ShapeStyle::from(weave.tone).stroke_width(weave.width))
    }
}

/// Points as the strokes that they belong to.
pub fn split<'a>(points: &'a [BackendCoord], lengths: &'a [usize]) -> impl Iterator<Item = &'a [BackendCoord]> {
    let mut rest = points;
    lengths.iter().map(move |length| {
        let (stroke, after) = rest.split_at((*length).min(rest.len()));
        rest = after;
        stroke
    })
}

/// What [`Strokes`] draws beyond plotters' own, as one of its elements.
struct Element {
    points: Vec<BackendCoord>,
    of: Drawing,
}

enum Drawing {
    /// Strokes, each through so many of the points.
    Strokes { lengths: Vec<usize>, style: ShapeStyle },
    /// The area that the points go around.
    Hatched(Weave),
}

impl<'a> PointCollection<'a, BackendCoord> for &'a Element {
    type Point = &'a BackendCoord;
    type IntoIter = std::slice::Iter<'a, BackendCoord>;
    fn point_iter(self) -> Self::IntoIter {
        self.points.iter()
    }
}

impl<DB: Strokes> Drawable<DB> for Element {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        points: I,
        backend: &mut DB,
        _: (u32, u32),
    ) -> Result<(), DrawingErrorKind<DB::ErrorType>> {
        let points: Vec<_> = points.collect();
        match &self.of {
            Drawing::Strokes { lengths, style } => backend.strokes(&points, lengths, style),
            Drawing::Hatched(weave) => backend.hatched(&points, weave),
        }
    }
}

/// A drawing surface in CSS pixels.
pub struct Surface<DB: Strokes> {
    area: DrawingArea<DB, Shift>,
    ratio: f64,
    palette: Palette,
    text_px: f64,
    /// Width in CSS pixels.
    pub width: f64,
    /// Height in CSS pixels.
    pub height: f64,
}

impl<DB: Strokes> Surface<DB> {
    /// A surface on a plotters area whose device pixels are `ratio` to a CSS pixel.
    pub fn new(area: DrawingArea<DB, Shift>, ratio: f64, palette: Palette, text_px: f64) -> Self {
        let (w, h) = area.dim_in_pixel();
        Self { area, ratio, palette, text_px, width: w as f64 / ratio, height: h as f64 / ratio }
    }

    /// Height of its text.
    pub fn text_px(&self) -> f64 {
        self.text_px
    }

    fn device(&self, place: &Point) -> (i32, i32) {
        ((place.0 * self.ratio).round() as i32, (place.1 * self.ratio).round() as i32)
    }

    fn stroke(&self, tone: Tone, width: f64) -> ShapeStyle {
        ShapeStyle::from(self.palette.of(tone)).stroke_width(self.wide(width))
    }

    /// A width in the backend's units.
    fn wide(&self, width: f64) -> u32 {
        ((width * self.ratio).round() as u32).max(1)
    }

    /// Covers the whole sheet.
    pub fn clear(&self) -> Drawn {
        self.area.fill(&self.palette.of(Tone::Sheet)).map_err(failed)
    }

    /// A solid line.
    pub fn line(&self, line: &[Point], tone: Tone, width: f64) -> Drawn {
        if line.len() < 2 {
            return Ok(());
        }
        let points: Vec<_> = thinned(line, THINNED).iter().map(|p| self.device(p)).collect();
        self.area.draw(&PathElement::new(points, self.stroke(tone, width))).map_err(failed)
    }

    /// A dashed line.
    pub fn dashed(&self, line: &[Point], tone: Tone, width: f64, pattern: &[f64]) -> Drawn {
        let dashes = hatch::dash(&thinned(line, THINNED), pattern);
        if dashes.is_empty() {
            return Ok(());
        }
        let points = dashes.iter().flatten().map(|p| self.device(p)).collect();
        let lengths = dashes.iter().map(Vec::len).collect();
        let of = Drawing::Strokes { lengths, style: self.stroke(tone, width) };
        self.area.draw(&Element { points, of }).map_err(failed)
    }

    /// A filled area.
    pub fn fill(&self, polygon: &[Point], tone: Tone) -> Drawn {
        if polygon.len() < 3 {
            return Ok(());
        }
        let points: Vec<_> = polygon.iter().map(|p| self.device(p)).collect();
        self.area.draw(&Polygon::new(points, self.palette.of(tone).filled())).map_err(failed)
    }

    /// An area with the hatch that says what it means.
    pub fn hatched(&self, polygon: &[Point], kind: Hatch) -> Drawn {
        let (ground, tone, width) = match kind {
            Hatch::Helps => (Tone::IntakeTint, Tone::Intake, 1.3),
            Hatch::Hinders => (Tone::ExhaustTint, Tone::Exhaust, 1.1),
            Hatch::Limit => (Tone::CautionTint, Tone::Caution, 1.0),
        };
        if polygon.len() < 3 {
            return Ok(());
        }
        let weave = Weave {
            kind,
            ground: self.palette.of(ground),
            tone: self.palette.of(tone),
            pitch: HATCH_PITCH * self.ratio,
            width: self.wide(width),
        };
        let points = polygon.iter().map(|p| self.device(p)).collect();
        self.area.draw(&Element { points, of: Drawing::Hatched(weave) }).map_err(failed)
    }

    /// The point that holds now: a filled dot with a rim of the sheet's tone.
    pub fn dot(&self, place: Point) -> Drawn {
        let at = self.device(&place);
        let radius = |r: f64| (r * self.ratio).round() as i32;
        self.area.draw(&Circle::new(at, radius(6.5), self.palette.of(Tone::Sheet).filled())).map_err(failed)?;
        self.area.draw(&Circle::new(at, radius(5.0), self.palette.of(Tone::Ink).filled())).map_err(failed)
    }

    fn style(&self, letter: &Letter) -> TextStyle<'static> {
        let weight = if letter.bold { FontStyle::Bold } else { FontStyle::Normal };
        let font = FontDesc::new(FontFamily::Name(FAMILY), self.text_px * self.ratio, weight);
        let mut style = TextStyle::from(font);
        style.color = self.palette.of(letter.tone).to_backend_color();
        style.pos = Pos::new(letter.anchor, VPos::Center);
        style
    }

    /// Width of a text, in CSS pixels.
    pub fn text_width(&self, text: &str, letter: &Letter) -> Result<f64, PlotError> {
        let size = self.area.estimate_text_size(text, &self.style(letter)).map_err(failed)?;
        Ok(size.0 as f64 / self.ratio)
    }

    /// A line of text whose middle stands at the place's height.
    pub fn text(&self, place: Point, text: &str, letter: Letter) -> Drawn {
        if letter.patch {
            let width = self.text_width(text, &letter)?;
            let left = match letter.anchor {
                HPos::Left => place.0,
                HPos::Center => place.0 - width / 2.0,
                HPos::Right => place.0 - width,
            };
            let half = 0.62 * self.text_px;
            let (left, right, top, foot) = (left - 2.0, left + width + 2.0, place.1 - half, place.1 + half);
            self.fill(&[(left, top), (right, top), (right, foot), (left, foot)], Tone::Sheet)?;
        }
        self.area.draw_text(text, &self.style(&letter), self.device(&place)).map_err(failed)
    }

    /// The point of a pin: a ring with its letter.
    pub fn pin(&self, place: Point, letter: char) -> Drawn {
        let at = self.device(&place);
        let radius = |r: f64| (r * self.ratio).round() as i32;
        let ring = self.stroke(Tone::Pencil, 1.6);
        self.area.draw(&Circle::new(at, radius(7.5), self.palette.of(Tone::Sheet).filled())).map_err(failed)?;
        self.area.draw(&Circle::new(at, radius(7.5), ring)).map_err(failed)?;
        self.text(place, letter.encode_utf8(&mut [0; 4]), Letter::plain(Tone::Ink).centred())
    }

    /// Axes of any scale with grid lines, ticks and labels, around a frame of left, top, right and bottom.
    pub fn frame(
        &self,
        (left, top, right, bottom): (f64, f64, f64, f64),
        (x, x_ticks, x_label): (&AxisScale, &Ticks, &str),
        (y, y_ticks, y_label): (&AxisScale, &Ticks, &str),
    ) -> Drawn {
        let quiet = Letter::plain(Tone::Ink2);
        for value in &y_ticks.values {
            let at = y.at(*value);
            self.line(&[(left, at), (right, at)], Tone::Rule, 1.0)?;
            self.text((left - 6.0, at), &number(*value, y_ticks.decimals), quiet.right())?;
        }
        for value in &x_ticks.values {
            let at = x.at(*value);
            self.line(&[(at, bottom), (at, bottom + 4.0)], Tone::Edge, 1.0)?;
            self.text((at, bottom + 4.0 + 0.75 * self.text_px), &number(*value, x_ticks.decimals), quiet.centred())?;
        }
        self.line(&[(left, top), (left, bottom), (right, bottom)], Tone::Edge, 1.0)?;
        if !x_label.is_empty() {
            self.text((right, bottom + 6.0 + 2.0 * self.text_px), x_label, quiet.right())?;
        }
        self.text((6.0, top - 1.15 * self.text_px), y_label, quiet)
    }

    /// Ends the drawing.
    pub fn present(self) -> Drawn {
        self.area.present().map_err(failed)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    /// Tones of one `:root` block of the style sheet.
    fn tones(block: &str) -> BTreeMap<&str, [f64; 3]> {
        let hex = |text: &str, at: usize| text.get(at..at + 2).and_then(|two| u8::from_str_radix(two, 16).ok());
        block
            .split("--")
            .filter_map(|line| {
                let (name, rest) = line.split_once(": #")?;
                let whole = |i: usize| hex(rest, 2 * i).map(f64::from);
                Some((name, [whole(0)?, whole(1)?, whole(2)?]))
            })
            .collect()
    }

    /// Contrast ratio of two tones as WCAG 2.2 defines it, from "relative luminance" in its terms.
    fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
        let luminance = |tone: [f64; 3]| {
            let [r, g, b] = tone.map(|whole| {
                let share = whole / 255.0;
                if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// Black on white is 21 to 1 by the definition, and #767676 the lightest grey that passes on white.
    #[test]
    fn by_hand_contrast_of_known_tones() {
        let grey = |whole: u8| [f64::from(whole); 3];
        assert!((contrast(grey(0), grey(255)) - 21.0).abs() < 1e-9);
        assert!(contrast(grey(0x76), grey(255)) >= 4.5 && contrast(grey(0x77), grey(255)) < 4.5);
    }

    /// Every tone against every surface that it stands on, by day and by night: text by WCAG 2.2, 1.4.3 (4.5), lines and edges
    /// that carry meaning by 1.4.11 (3).
    #[test]
    fn identity_tones_can_be_told_from_what_they_stand_on() {
        let sheet = include_str!("../../style/tokens.css");
        let day = sheet.split(":root {").nth(1).unwrap();
        let night: Vec<&str> = sheet.split("color-scheme: dark;").skip(1).collect();
        assert_eq!(night.len(), 2);
        let first = |block| str::split(block, '}').next().unwrap_or_default();
        assert_eq!(tones(first(night[0])), tones(first(night[1])), "chosen or the system's own, night is night");
        let plain = ["sheet", "well", "desk"];
        for block in [day, night[0]] {
            let tones = tones(first(block));
            let mut held = 0;
            let mut hold = |tone: &str, on: &str, least: f64| {
                let found = contrast(tones[tone], tones[on]);
                assert!(found >= least, "{tone} on {on}: {found:.2}, at least {least}");
                held += 1;
            };
            for on in plain {
                ["ink", "ink-2", "intake", "exhaust", "caution"].iter().for_each(|tone| hold(tone, on, 4.5));
                ["edge", "pencil", "focus"].iter().for_each(|tone| hold(tone, on, 3.0));
            }
            for (tone, on) in [
                ("ink", "intake-tint"),
                ("ink", "exhaust-tint"),
                ("ink", "caution-tint"),
                ("intake", "intake-tint"),
                ("exhaust", "exhaust-tint"),
                ("caution", "caution-tint"),
                ("on-ink", "ink"),
                ("pencil", "sheet"),
            ] {
                hold(tone, on, 4.5);
            }
            assert_eq!(held, 32);
        }
    }
}
