//! A backend for tests: it keeps where text stands and how far lines reach.

use super::axis::Axis;
use super::chart::{Chart, Panel, Series, Style};
use super::surface::{Palette, Surface};
use plotters::drawing::IntoDrawingArea;
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind};
use std::cell::RefCell;
use std::rc::Rc;

/// A text and the box it takes: left, top, right, bottom.
pub type Lettered = (String, [f64; 4]);

/// What was drawn.
#[derive(Debug, Default)]
pub struct Drawing {
    pub texts: Vec<Lettered>,
    pub points: Vec<BackendCoord>,
}

/// The backend; the record outlives it.
pub struct Recorder {
    pub size: (u32, u32),
    pub record: Rc<RefCell<Drawing>>,
}

/// Never happens.
#[derive(Debug)]
pub struct Never;
impl std::fmt::Display for Never {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("never")
    }
}
impl std::error::Error for Never {}

type Done = Result<(), DrawingErrorKind<Never>>;

impl DrawingBackend for Recorder {
    type ErrorType = Never;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }
    fn ensure_prepared(&mut self) -> Done {
        Ok(())
    }
    fn present(&mut self) -> Done {
        Ok(())
    }
    fn draw_pixel(&mut self, _: BackendCoord, _: BackendColor) -> Done {
        Ok(())
    }
    fn draw_line<S: BackendStyle>(&mut self, a: BackendCoord, b: BackendCoord, _: &S) -> Done {
        self.record.borrow_mut().points.extend([a, b]);
        Ok(())
    }
    fn draw_rect<S: BackendStyle>(&mut self, _: BackendCoord, _: BackendCoord, _: &S, _: bool) -> Done {
        Ok(())
    }
    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, _: &S) -> Done {
        self.record.borrow_mut().points.extend(path);
        Ok(())
    }
    fn draw_circle<S: BackendStyle>(&mut self, c: BackendCoord, _: u32, _: &S, _: bool) -> Done {
        self.record.borrow_mut().points.push(c);
        Ok(())
    }
    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, _: &S) -> Done {
        self.record.borrow_mut().points.extend(path);
        Ok(())
    }
    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Done {
        let (w, h) = self.estimate_text_size(text, style)?;
        let (w, h) = (w as f64, h as f64);
        let left = at.0 as f64
            - match style.anchor().h_pos {
                HPos::Left => 0.0,
                HPos::Center => w / 2.0,
                HPos::Right => w,
            };
        let top = at.1 as f64
            - match style.anchor().v_pos {
                VPos::Top => 0.0,
                VPos::Center => h / 2.0,
                VPos::Bottom => h,
            };
        self.record.borrow_mut().texts.push((text.into(), [left, top, left + w, top + h]));
        Ok(())
    }
    /// A width that the plot's own face does not exceed: half the height for each letter.
    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Never>> {
        Ok(((text.chars().count() as f64 * 0.5 * style.size()).ceil() as u32, style.size().ceil() as u32))
    }
}

impl super::surface::Strokes for Recorder {}

/// Asserts what every plot keeps: text inside the sheet, no two texts on each other, lines on the sheet.
fn check(record: &Drawing, size: (u32, u32)) {
    let (w, h) = (size.0 as f64, size.1 as f64);
    for (i, (text, b)) in record.texts.iter().enumerate() {
        assert!(0.0 <= b[0] && 0.0 <= b[1] && b[2] <= w && b[3] <= h, "`{text}` leaves the sheet: {b:?} of {w} x {h}");
        for (other, o) in &record.texts[i + 1..] {
            let apart = b[2] <= o[0] || o[2] <= b[0] || b[3] <= o[1] || o[3] <= b[1];
            assert!(apart, "`{text}` {b:?} lies on `{other}` {o:?}");
        }
        assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    }
    for p in &record.points {
        assert!(
            -2 <= p.0 && p.0 <= w as i32 + 2 && -2 <= p.1 && p.1 <= h as i32 + 2,
            "a line leaves the sheet at {p:?}"
        );
    }
}

/// What is drawn of a chart on so many CSS pixels, with so many device pixels to each; and the size in device pixels.
pub fn drawn(chart: &Chart, size: (u32, u32), ratio: u32) -> (Drawing, (u32, u32)) {
    let record = Rc::new(RefCell::new(Drawing::default()));
    let pixels = (size.0 * ratio, size.1 * ratio);
    let area = Recorder { size: pixels, record: record.clone() }.into_drawing_area();
    let palette = Palette::from_tokens(|_| (0, 0, 0));
    chart.draw(&Surface::new(area, f64::from(ratio), palette, 13.0), None, None).unwrap();
    (record.take(), pixels)
}

/// Draws a chart and asserts what every plot keeps.
pub fn check_drawn(chart: &Chart, size: (u32, u32)) {
    let (record, pixels) = drawn(chart, size, 2);
    check(&record, pixels);
}

/// Two straight lines over the vane position, for tests of what any chart can do.
pub fn chart() -> Chart {
    let x = Axis::new("vane position", "% open", 0.0, 100.0, 0);
    let mut panel = Panel::new(Axis::around("pressure", "kPa abs", [100.0, 380.0].into_iter(), 0));
    let line = |k: f64| (0..=10).map(|i| (10.0 * f64::from(i), k * 100.0 + 20.0 * f64::from(i))).collect::<Vec<_>>();
    panel.series.push(Series::new("p2", Style::Intake, line(1.0)));
    panel.series.push(Series::new("p3", Style::Exhaust, line(1.8)));
    Chart { cursor: Some(40.0), ..Chart::single(x, panel) }
}
