//! A chart as an SVG file, for saving and for prints. It belongs to the module of what stands below the first view: nobody needs it
//! before.

use super::canvas::{Canvas, Done, FINE, by_inner};
use super::chart::Chart;
use super::surface::{Palette, PlotError, Strokes, Surface};
use crate::language::t;
use plotters::drawing::IntoDrawingArea;
use plotters_backend::{BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind};
use plotters_svg::SVGBackend;
use std::cell::Cell;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// Makes a file of a chart: of so many CSS pixels, in these tones, with text of this height.
pub type Maker = fn(&Chart, f64, f64, Palette, f64) -> Result<String, PlotError>;

thread_local! {
    static HERE: Cell<Option<Maker>> = const { Cell::new(None) };
}

/// What makes files, where it has come.
pub fn here() -> Option<Maker> {
    HERE.get()
}

/// Brings what makes files. Errors: its module could not be fetched.
#[wasm_split(below, fallible)]
pub fn maker() -> Result<Maker, SplitLoaderError> {
    HERE.set(Some(svg));
    Ok(svg)
}

/// Says that the module is here; called from within it.
pub fn arrive() {
    HERE.set(Some(svg));
}

/// An SVG file whose text is measured on a canvas, for the same reason as above.
struct File<'a> {
    inner: SVGBackend<'a>,
    ruler: Canvas,
}

impl DrawingBackend for File<'_> {
    type ErrorType = <SVGBackend<'static> as DrawingBackend>::ErrorType;

    fn get_size(&self) -> (u32, u32) {
        self.inner.get_size()
    }
    by_inner!();
    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Done<Self::ErrorType> {
        self.inner.draw_text(text, style, at)
    }
    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Self::ErrorType>> {
        // A canvas measures whatever it is asked.
        Ok(self.ruler.text_size(text, style))
    }
}

impl Strokes for File<'_> {}

/// A chart as an SVG file, of that many CSS pixels.
fn svg(chart: &Chart, width: f64, height: f64, palette: Palette, text_px: f64) -> Result<String, PlotError> {
    let mut out = String::new();
    {
        let fine = f64::from(FINE);
        let size = ((width * fine).round() as u32, (height * fine).round() as u32);
        let ruler = crate::browser::fresh_canvas().as_ref().and_then(Canvas::on);
        let ruler = ruler.ok_or_else(|| PlotError(t("this browser gives no drawing context").into()))?;
        let file = File { inner: SVGBackend::with_string(&mut out, size), ruler };
        let sheet = Surface::new(file.into_drawing_area(), fine, palette, text_px);
        sheet.clear()?;
        chart.draw(&sheet, None, None)?;
        sheet.present()?;
    }
    Ok(out)
}
