//! plotters on a canvas: plotters-canvas draws, the canvas itself measures text.
//!
//! plotters-canvas measures text by adding a styled element to the page, which the page's content security policy
//! forbids and which costs a layout for each label. The context needs neither, and draws text, which is always upright here,
//! with the font that it has already.

use super::surface::{Palette, PlotError, Strokes, Surface, Weave, split};
use crate::language::t;
use plotters::drawing::IntoDrawingArea;
use plotters::style::{Color, RGBColor};
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind};
use plotters_canvas::CanvasBackend;
use std::cell::RefCell;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{CanvasPattern, CanvasRenderingContext2d, HtmlCanvasElement};

/// plotters rounds places to whole units: with this many to a device pixel, no line looks stepped.
pub(super) const FINE: u32 = 4;

/// A unit of the backend in device pixels.
const SCALE: f64 = 1.0 / FINE as f64;

thread_local! {
    /// Every plot covers its whole sheet, so the browser need not blend it.
    static OPAQUE: JsValue = {
        let options = js_sys::Object::new();
        let _ = js_sys::Reflect::set(&options, &"alpha".into(), &false.into());
        options.into()
    };

    /// Tiles of the hatches that were drawn last.
    static TILES: RefCell<Vec<(Weave, CanvasPattern)>> = const { RefCell::new(Vec::new()) };
}

/// The backend.
pub struct Canvas {
    inner: CanvasBackend,
    context: CanvasRenderingContext2d,
    /// The font that the context has: setting one is slow even when nothing changes.
    font: RefCell<String>,
}

impl Canvas {
    pub(super) fn on(canvas: &HtmlCanvasElement) -> Option<Self> {
        let context =
            canvas.get_context_with_context_options("2d", &OPAQUE.with(Clone::clone)).ok()??.dyn_into().ok()?;
        Some(Self { inner: CanvasBackend::with_canvas_object(canvas.clone())?, context, font: RefCell::default() })
    }

    pub(super) fn text_size<S: BackendTextStyle>(&self, text: &str, style: &S) -> (u32, u32) {
        self.set_font(style);
        let width = self.context.measure_text(text).map_or(0.0, |m| m.width());
        (width.ceil() as u32, style.size().ceil() as u32)
    }

    fn set_font<S: BackendTextStyle>(&self, style: &S) {
        let wanted = format!("{} {}px {}", style.style().as_str(), style.size(), style.family().as_str());
        let mut font = self.font.borrow_mut();
        if *font != wanted {
            self.context.set_font(&wanted);
            *font = wanted;
        }
    }
}

pub(super) type Done<E> = Result<(), DrawingErrorKind<E>>;

/// The methods of a backend that another one, in `inner`, does for it.
macro_rules! by_inner {
    () => {
        fn ensure_prepared(&mut self) -> Done<Self::ErrorType> {
            self.inner.ensure_prepared()
        }
        fn present(&mut self) -> Done<Self::ErrorType> {
            self.inner.present()
        }
        fn draw_pixel(&mut self, point: BackendCoord, color: BackendColor) -> Done<Self::ErrorType> {
            self.inner.draw_pixel(point, color)
        }
        fn draw_line<S: BackendStyle>(
            &mut self,
            from: BackendCoord,
            to: BackendCoord,
            style: &S,
        ) -> Done<Self::ErrorType> {
            self.inner.draw_line(from, to, style)
        }
        fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
            &mut self,
            path: I,
            style: &S,
        ) -> Done<Self::ErrorType> {
            self.inner.draw_path(path, style)
        }
        fn draw_circle<S: BackendStyle>(
            &mut self,
            at: BackendCoord,
            radius: u32,
            style: &S,
            fill: bool,
        ) -> Done<Self::ErrorType> {
            self.inner.draw_circle(at, radius, style, fill)
        }
        fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
            &mut self,
            path: I,
            style: &S,
        ) -> Done<Self::ErrorType> {
            self.inner.fill_polygon(path, style)
        }
    };
}
pub(super) use by_inner;

impl DrawingBackend for Canvas {
    type ErrorType = <CanvasBackend as DrawingBackend>::ErrorType;

    fn get_size(&self) -> (u32, u32) {
        let (width, height) = self.inner.get_size();
        (width * FINE, height * FINE)
    }
    fn draw_rect<S: BackendStyle>(
        &mut self,
        a: BackendCoord,
        b: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Done<Self::ErrorType> {
        self.inner.draw_rect(a, b, style, fill)
    }
    by_inner!();
    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Done<Self::ErrorType> {
        self.set_font(style);
        let color = style.color();
        let (r, g, b) = color.rgb;
        self.context.set_fill_style_str(&format!("rgba({r},{g},{b},{})", color.alpha));
        self.context.set_text_align(match style.anchor().h_pos {
            HPos::Left => "start",
            HPos::Right => "end",
            HPos::Center => "center",
        });
        self.context.set_text_baseline(match style.anchor().v_pos {
            VPos::Top => "top",
            VPos::Center => "middle",
            VPos::Bottom => "bottom",
        });
        // It fails only for arguments that are not numbers, and these are whole numbers.
        let _ = self.context.fill_text(text, f64::from(at.0), f64::from(at.1));
        Ok(())
    }
    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Self::ErrorType>> {
        Ok(self.text_size(text, style))
    }
}

impl Strokes for Canvas {
    fn strokes<S: BackendStyle>(
        &mut self,
        points: &[BackendCoord],
        lengths: &[usize],
        style: &S,
    ) -> Done<Self::ErrorType> {
        let color = style.color();
        let (r, g, b) = color.rgb;
        self.context.set_stroke_style_str(&format!("rgba({r},{g},{b},{})", color.alpha));
        self.context.set_line_width(f64::from(style.stroke_width()));
        self.context.begin_path();
        for stroke in split(points, lengths) {
            let Some(((x, y), rest)) = stroke.split_first() else { continue };
            self.context.move_to(f64::from(*x), f64::from(*y));
            rest.iter().for_each(|(x, y)| self.context.line_to(f64::from(*x), f64::from(*y)));
        }
        self.context.stroke();
        Ok(())
    }

    fn hatched(&mut self, outline: &[BackendCoord], weave: &Weave) -> Done<Self::ErrorType> {
        // Fails only for a canvas without size; then the ground alone says which hatch it is.
        let Some(tile) = tile(weave) else { return self.fill_polygon(outline.iter().copied(), &weave.ground.filled()) };
        self.context.set_fill_style_canvas_pattern(&tile);
        self.context.begin_path();
        for (x, y) in outline {
            self.context.line_to(f64::from(*x), f64::from(*y));
        }
        // A tile lies pixel on pixel; the outline has been scaled already. Neither call can fail with these numbers.
        let _ = self.context.reset_transform();
        self.context.fill();
        let _ = self.context.set_transform(SCALE, 0.0, 0.0, SCALE, 0.0, 0.0);
        Ok(())
    }
}

/// A tile of a hatch. Drawn line by line, the hatch of a pumping area took a third of the time of its whole plot.
fn tile(weave: &Weave) -> Option<CanvasPattern> {
    let kept = TILES.with_borrow(|tiles| tiles.iter().find(|(w, _)| w == weave).map(|(_, tile)| tile.clone()));
    kept.or_else(|| {
        let made = draw_tile(weave)?;
        TILES.with_borrow_mut(|tiles| {
            // There are three hatches by day and three by night; tiles of other palettes and screens go.
            tiles.truncate(5);
            tiles.insert(0, (*weave, made.clone()));
        });
        Some(made)
    })
}

fn draw_tile(weave: &Weave) -> Option<CanvasPattern> {
    let size = (weave.pitch * SCALE).round().max(2.0);
    let canvas = crate::browser::fresh_canvas()?;
    canvas.set_width(size as u32);
    canvas.set_height(size as u32);
    let backend = Canvas::on(&canvas)?;
    let pen = &backend.context;
    let tone = |c: RGBColor| format!("rgb({},{},{})", c.0, c.1, c.2);
    pen.set_fill_style_str(&tone(weave.ground));
    pen.fill_rect(0.0, 0.0, size, size);
    pen.set_stroke_style_str(&tone(weave.tone));
    pen.set_line_width(f64::from(weave.width) * SCALE);
    pen.begin_path();
    for at in [0.0, size, 2.0 * size] {
        pen.move_to(at + size, -size);
        pen.line_to(at - 2.0 * size, 2.0 * size);
        if weave.kind.crossed() {
            pen.move_to(at - 2.0 * size, -size);
            pen.line_to(at + size, 2.0 * size);
        }
    }
    pen.stroke();
    pen.create_pattern_with_html_canvas_element(&canvas, "repeat").ok()?
}

/// A surface on a canvas of `width` by `height` CSS pixels.
pub fn surface(
    canvas: &HtmlCanvasElement,
    width: f64,
    height: f64,
    device_ratio: f64,
    palette: Palette,
    text_px: f64,
) -> Result<Surface<Canvas>, PlotError> {
    let ratio = device_ratio.clamp(1.0, 3.0);
    let pixels = |css: f64| (css * ratio).round().clamp(1.0, 8192.0) as u32;
    // Setting the size also clears and resets the context, so it is set only when it changes.
    if (canvas.width(), canvas.height()) != (pixels(width), pixels(height)) {
        canvas.set_width(pixels(width));
        canvas.set_height(pixels(height));
    }
    let backend = Canvas::on(canvas).ok_or_else(|| PlotError(t("this browser gives no drawing context").into()))?;
    backend.context.set_transform(SCALE, 0.0, 0.0, SCALE, 0.0, 0.0).map_err(|_| PlotError(t("no scale").into()))?;
    Ok(Surface::new(backend.into_drawing_area(), ratio * f64::from(FINE), palette, text_px))
}
