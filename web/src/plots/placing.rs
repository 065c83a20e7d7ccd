//! Where the axes and lines of a chart lie on a surface of some size.

use super::axis::AxisScale;
use super::chart::{At, Chart};
use super::clip::{Frame, cut};
use super::hatch::Point;
use crate::units::number;

/// Where the axes of a chart lie on its surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    pub(super) x: AxisScale,
    pub(super) y: Vec<AxisScale>,
}

impl Layout {
    /// The place of a value in a panel.
    pub fn place(&self, panel: usize, at: &At) -> Point {
        (self.x.at(at.0), self.y[panel].at(at.1))
    }

    /// Left, top, right, bottom of a panel.
    pub fn frame(&self, panel: usize) -> Frame {
        let ((left, right), (top, bottom)) = (self.x.ends(), self.y[panel].ends());
        (left, top, right, bottom)
    }
}

impl Chart {
    /// Where its axes lie on a surface of a size.
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

    /// A place held inside its panel: what lies beyond an end is shown at the edge.
    pub(super) fn inside(&self, layout: &Layout, panel: usize, at: &At) -> Point {
        let (left, top, right, bottom) = layout.frame(panel);
        let (x, y) = layout.place(panel, at);
        (x.clamp(left, right), y.clamp(top, bottom))
    }

    /// The parts of a run inside its panel, cut at the edge.
    pub(super) fn visible(&self, layout: &Layout, panel: usize, run: &[At]) -> Vec<Vec<Point>> {
        let frame = layout.frame(panel);
        let mut out: Vec<Vec<Point>> = vec![Vec::new()];
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
}
