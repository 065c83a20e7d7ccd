//! Curves that a learner draws. They are judged on shape against the core's curve: direction in each third, peak or trough,
//! bend, and where they cross a given curve. Heights do not count, and small wobbles are ignored.

use crate::curves::Curve;
use crate::lesson::{Crosses, Shape, SketchQuestion, WrongSketch};

/// Points of a sketch, evenly spaced along the axis.
pub const POINTS: usize = 25;
/// Handles that can be moved by keys: every fourth point.
pub const HANDLES: usize = 7;
/// Steps of the upright axis: a height is kept in half per cent of it.
pub const STEPS: u8 = 200;

/// Changes smaller than this share of the axis are level.
pub const LEVEL: f64 = 0.08;
/// How far a peak or trough may be from its place, as a share of the width.
pub const PLACE: f64 = 0.15;
/// How far a crossing may be from its place, as a share of the width.
pub const CROSSING: f64 = 0.10;
/// A curve whose mean distance from its chord is more than this share of the axis is bent. Chosen: half of [`LEVEL`], since the
/// mean height of an arc is about half of its height.
pub const BEND: f64 = 0.04;

/// A drawn curve: heights in steps of the axis, 0 at the bottom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sketch([u8; POINTS]);

impl Sketch {
    /// From heights as shares of the axis. A height beyond the axis is cut off; one that is not a number lies at the bottom.
    pub fn of_heights(heights: [f64; POINTS]) -> Sketch {
        Sketch(heights.map(|height| (height.clamp(0.0, 1.0) * f64::from(STEPS)).round() as u8))
    }

    /// From heights of the handles, as shares of the axis.
    pub fn of_handles(handles: [f64; HANDLES]) -> Sketch {
        let height = |i: usize| {
            let (k, rest) = (i / STRIDE, i % STRIDE);
            let next = handles[(k + 1).min(HANDLES - 1)];
            handles[k] + (next - handles[k]) * rest as f64 / STRIDE as f64
        };
        Sketch::of_heights(std::array::from_fn(height))
    }

    /// From heights in steps. Errors: the first that is more than [`STEPS`].
    pub fn of_steps(steps: [u8; POINTS]) -> Result<Sketch, u8> {
        steps.iter().find(|step| **step > STEPS).map_or(Ok(Sketch(steps)), |step| Err(*step))
    }

    /// Heights in steps.
    pub fn steps(&self) -> &[u8; POINTS] {
        &self.0
    }

    /// Heights as shares of the axis.
    pub fn heights(&self) -> [f64; POINTS] {
        self.0.map(|step| f64::from(step) / f64::from(STEPS))
    }

    /// Heights of the handles, as shares of the axis.
    pub fn handles(&self) -> [f64; HANDLES] {
        let heights = self.heights();
        std::array::from_fn(|k| heights[k * STRIDE])
    }
}

/// Points from one handle to the next.
const STRIDE: usize = (POINTS - 1) / (HANDLES - 1);

/// Where point `i` lies, as a share of the width.
pub fn share(i: usize) -> f64 {
    i as f64 / (POINTS - 1) as f64
}

/// The truth about a sketch: heights as shares of the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct SketchKey {
    /// The true curve.
    pub truth: [f64; POINTS],
    /// The given curve, if there is one.
    pub given: Option<[f64; POINTS]>,
    /// First and last setting of the axis along, SI.
    pub ends_si: (f64, f64),
}

/// A curve on the axes of a sketch: heights as shares of the axis. Nothing where the curve has a gap.
pub(crate) fn on_axes(curve: &Curve, question: &SketchQuestion, point: bool) -> Option<[f64; POINTS]> {
    let (first, last) = (*curve.x.first()?, *curve.x.last()?);
    let unit = question.measure.unit;
    let mut heights = [0.0; POINTS];
    for (i, height) in heights.iter_mut().enumerate() {
        let x = first + (last - first) * share(i);
        // The ends themselves, whatever the rounding of the line before.
        let x = if i == POINTS - 1 { last } else { x };
        let si = curve.at(x)?;
        let value = if point { unit.of_si(si) } else { unit.difference_of_si(si) };
        *height = (value - question.low) / (question.high - question.low);
    }
    Some(heights)
}

/// Which way a stretch goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Up by more than [`LEVEL`].
    Up,
    /// Down by more than [`LEVEL`].
    Down,
    /// Level.
    Level,
}

fn way(change: f64) -> Way {
    if change > LEVEL {
        Way::Up
    } else if change < -LEVEL {
        Way::Down
    } else {
        Way::Level
    }
}

/// How a sketch was judged. A feature that neither the true curve nor the sketch has is not judged.
#[derive(Debug, Clone, PartialEq)]
pub struct SketchMark {
    /// For each third: which way the true curve goes, which way the sketch goes, whether that is right.
    pub thirds: [(Way, Way, bool); 3],
    /// Peak or trough between the ends.
    pub extreme: Option<bool>,
    /// Bend, where the curve has neither.
    pub bend: Option<bool>,
    /// Crossing of the given curve.
    pub crossing: Option<bool>,
    /// Whether everything is right.
    pub right: bool,
    /// Share of what was judged that is right.
    pub points: f64,
    /// The misconception that fits, by its place in the file.
    pub misconception: Option<usize>,
}

type Heights = [f64; POINTS];

fn change(heights: &Heights, third: usize) -> f64 {
    let step = (POINTS - 1) / 3;
    heights[(third + 1) * step] - heights[third * step]
}

/// The highest point: place as a share of the width, and by how much it stands above the higher end.
fn peak(heights: &Heights) -> (f64, f64) {
    let top = (0..POINTS).fold(0, |best, i| if heights[i] > heights[best] { i } else { best });
    (share(top), heights[top] - heights[0].max(heights[POINTS - 1]))
}

fn upside_down(heights: &Heights) -> Heights {
    heights.map(|height| -height)
}

/// Mean height above the chord.
fn bow(heights: &Heights) -> f64 {
    let (first, last) = (heights[0], heights[POINTS - 1]);
    let above = heights.iter().enumerate().map(|(i, height)| height - (first + (last - first) * share(i)));
    above.sum::<f64>() / POINTS as f64
}

/// Greatest distance from the chord.
fn off_chord(heights: &Heights) -> f64 {
    let (first, last) = (heights[0], heights[POINTS - 1]);
    let off = heights.iter().enumerate().map(|(i, height)| (height - (first + (last - first) * share(i))).abs());
    off.fold(0.0, f64::max)
}

/// Where one curve first passes the other, as a share of the width.
fn crossing(heights: &Heights, given: &Heights) -> Option<f64> {
    let x = (0..POINTS).map(share).collect();
    let y = heights.iter().zip(given).map(|(a, b)| a - b).collect();
    Curve { x, y }.crosses(0.0)
}

/// Whether a place, as a share of the width, is so near an end that a crossing there need not be drawn.
fn at_an_end(place: f64) -> bool {
    !(0.5 * CROSSING..=1.0 - 0.5 * CROSSING).contains(&place)
}

/// Whether heights have this shape.
pub fn has_shape(heights: &Heights, shape: Shape) -> bool {
    let range =
        heights.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b)) - heights.iter().fold(f64::INFINITY, |a, b| a.min(*b));
    let humped = |h: &Heights| peak(h).1 > LEVEL;
    let down = upside_down(heights);
    let rise = heights[POINTS - 1] - heights[0];
    match shape {
        Shape::Flat => range <= LEVEL,
        Shape::Peak => humped(heights),
        Shape::Trough => humped(&down),
        Shape::Rises => rise > LEVEL && !humped(heights) && !humped(&down),
        Shape::Falls => rise < -LEVEL && !humped(heights) && !humped(&down),
        Shape::Straight => rise.abs() > LEVEL && off_chord(heights) < 1.5 * BEND,
    }
}

impl SketchKey {
    /// Whether a curve is what this misconception draws.
    pub fn fits(&self, heights: &[f64; POINTS], wrong: &WrongSketch) -> bool {
        let shape = wrong.shape.is_none_or(|shape| has_shape(heights, shape));
        let crosses = wrong.crosses.is_none_or(|crosses| {
            let Some(given) = &self.given else { return false };
            match (crosses, crossing(heights, given), crossing(&self.truth, given)) {
                (Crosses::Never, drawn, _) => drawn.is_none(),
                (Crosses::Early, Some(drawn), Some(true_place)) => drawn < true_place - CROSSING,
                (Crosses::Late, Some(drawn), Some(true_place)) => drawn > true_place + CROSSING,
                (Crosses::Early | Crosses::Late, _, _) => false,
            }
        });
        shape && crosses
    }

    /// Judges a sketch.
    pub fn judge(&self, sketch: &Sketch, misconceptions: &[WrongSketch]) -> SketchMark {
        let (truth, drawn) = (&self.truth, &sketch.heights());
        let thirds = [0, 1, 2].map(|third| {
            let (a, b) = (change(truth, third), change(drawn, third));
            // On the edge of level, either is right.
            (way(a), way(b), way(a) == way(b) || (a - b).abs() <= LEVEL)
        });
        let sides = [(*truth, *drawn), (upside_down(truth), upside_down(drawn))];
        let extremes: Vec<bool> = sides.iter().filter_map(|(truth, drawn)| extreme(truth, drawn)).collect();
        let extreme = (!extremes.is_empty()).then(|| extremes.iter().all(|right| *right));
        let bend = match (extreme, bow(truth), bow(drawn)) {
            (None, a, b) if a.abs() > BEND || b.abs() > BEND => {
                let sign = |x: f64| {
                    if x.abs() <= BEND {
                        0
                    } else if x > 0.0 {
                        1
                    } else {
                        -1
                    }
                };
                Some(sign(a) == sign(b) || (sign(a) * sign(b) == 0 && (a - b).abs() <= BEND))
            }
            _ => None,
        };
        let crossing = self.given.as_ref().and_then(|given| match (crossing(truth, given), crossing(drawn, given)) {
            (None, None) => None,
            (Some(a), Some(b)) => Some((a - b).abs() <= CROSSING),
            // Where the curves only just cross at an end, a sketch without a crossing is right too.
            (Some(a), None) => Some(at_an_end(a)),
            (None, Some(b)) => Some(at_an_end(b)),
        });
        let judged: Vec<bool> =
            thirds.iter().map(|(_, _, right)| *right).chain([extreme, bend, crossing].into_iter().flatten()).collect();
        let good = judged.iter().filter(|right| **right).count();
        let right = good == judged.len();
        let misconception = if right { None } else { misconceptions.iter().position(|wrong| self.fits(drawn, wrong)) };
        SketchMark { thirds, extreme, bend, crossing, right, points: good as f64 / judged.len() as f64, misconception }
    }
}

/// Whether the peak is where it should be; nothing when neither curve has a clear peak.
fn extreme(truth: &Heights, drawn: &Heights) -> Option<bool> {
    let ((place, height), (drawn_place, drawn_height)) = (peak(truth), peak(drawn));
    if height <= LEVEL && drawn_height <= LEVEL {
        return None;
    }
    if height > LEVEL && drawn_height > 0.5 * LEVEL {
        // On a broad top, every place that is nearly as high is right.
        let nearly = at(truth, drawn_place) > at(truth, place) - 0.25 * LEVEL;
        return Some((place - drawn_place).abs() <= PLACE || nearly);
    }
    // Only one of the two has a hump. That is wrong, unless the hump is very low.
    Some((height - drawn_height).abs() <= LEVEL)
}

fn at(heights: &Heights, place: f64) -> f64 {
    heights[((place * (POINTS - 1) as f64).round() as usize).min(POINTS - 1)]
}

#[cfg(test)]
mod tests;
