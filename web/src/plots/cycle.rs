//! The p–V loop of one cylinder: gas exchange large, with the pumping area hatched; the whole cycle small.

use super::clip::clipped;
use super::hatch::{Hatch, Place};
use super::paper::{Drawn, Letter, Paper, Strokes, Tone, dashes};
use super::scale::Scale;
use super::ticks::{round_ends, ticks};
use crate::units::{Quantity, UnitSystem, number};
use volute_core::reading::{Reading, Trace};

/// A volume and a pressure.
type State = (f64, f64);

/// The trace of a cycle in units of the page, cut into what is drawn differently.
struct Cycle {
    /// Combustion and expansion to bottom dead centre.
    expansion: Vec<State>,
    /// Exhaust stroke.
    exhaust: Vec<State>,
    /// Intake stroke.
    intake: Vec<State>,
    /// Compression to firing dead centre.
    compression: Vec<State>,
}

impl Cycle {
    fn of(trace: &Trace, units: UnitSystem) -> Self {
        let (volume, pressure) = (units.unit(Quantity::Volume), units.unit(Quantity::PressureAbs));
        let within = |from: f64, to: f64| {
            let rows = trace.crank_angle_deg.iter().zip(trace.volume_m3.iter().zip(&trace.pressure_pa));
            rows.filter(|(angle, _)| from <= **angle && **angle <= to)
                .map(|(_, (v, p))| (volume.shown(*v), pressure.shown(*p)))
                .collect()
        };
        Self {
            expansion: within(0.0, 180.0),
            exhaust: within(180.0, 360.0),
            intake: within(360.0, 540.0),
            compression: within(540.0, 720.0),
        }
    }

    fn is_whole(&self) -> bool {
        [&self.expansion, &self.exhaust, &self.intake, &self.compression].into_iter().all(|part| part.len() > 4)
    }

    fn all(&self) -> impl Iterator<Item = &State> {
        self.expansion.iter().chain(&self.exhaust).chain(&self.intake).chain(&self.compression)
    }
}

/// Pressure of a stroke at a volume; the stroke runs one way, so volumes rise or fall throughout.
fn pressure_at(stroke: &[State], volume: f64) -> f64 {
    let rising = stroke.first().map(|s| s.0) <= stroke.last().map(|s| s.0);
    let after = stroke.partition_point(|s| if rising { s.0 < volume } else { s.0 > volume });
    let i = after.clamp(1, stroke.len().max(2) - 1);
    match (stroke.get(i - 1), stroke.get(i)) {
        (Some(a), Some(b)) if a.0 != b.0 => a.1 + ((volume - a.0) / (b.0 - a.0)).clamp(0.0, 1.0) * (b.1 - a.1),
        (Some(a), _) => a.1,
        _ => 0.0,
    }
}

/// Draws the loop of a reading. Nothing is drawn without a trace.
pub fn draw<DB: Strokes>(paper: &Paper<DB>, reading: &Reading, units: UnitSystem) -> Drawn {
    paper.clear()?;
    let Some(cycle) = reading.trace.as_ref().map(|t| Cycle::of(t, units)).filter(Cycle::is_whole) else {
        return Ok(());
    };
    let swept_end = cycle.exhaust.iter().map(|s| s.0).fold(0.0, f64::max);
    let least = cycle.exhaust.iter().map(|s| s.0).fold(f64::INFINITY, f64::min);
    let exchange_high =
        cycle.exhaust.iter().skip(cycle.exhaust.len() / 8).chain(&cycle.intake).map(|s| s.1).fold(0.0, f64::max);
    let exchange_low = cycle.exhaust.iter().chain(&cycle.intake).map(|s| s.1).fold(f64::INFINITY, f64::min);
    let (_, top) = round_ends(0.0, 1.15 * exchange_high, 9);

    let text = paper.text_px();
    let x = Scale { from: 0.0, to: swept_end * 1.05, start: 3.6 * text, end: paper.width - 16.0 };
    let y = Scale { from: 0.0, to: top, start: paper.height - 3.1 * text, end: 1.9 * text };
    let (tx, ty) = (ticks(0.0, x.to, 4), ticks(0.0, top, 5));
    let (unit_v, unit_p) = (units.unit(Quantity::Volume), units.unit(Quantity::PressureAbs));
    paper.axes(
        (&x, &tx, &format!("cylinder volume, {}", unit_v.symbol)),
        (&y, &ty, &format!("pressure, {}", unit_p.symbol)),
    )?;
    let place = |s: &State| -> Place { (x.at(s.0), y.at(s.1)) };

    // The pumping area, cut where the strokes cross: each part is hatched for what it does to the crank.
    let steps = 160;
    let row = |i: usize| {
        let v = least + (swept_end - least) * i as f64 / steps as f64;
        (v, pressure_at(&cycle.exhaust, v).min(top), pressure_at(&cycle.intake, v).min(top))
    };
    let mut part: Vec<(f64, f64, f64)> = Vec::new();
    let flush = |part: &mut Vec<(f64, f64, f64)>, helps: bool| -> Drawn {
        let mut polygon: Vec<Place> = part.iter().map(|r| place(&(r.0, r.1))).collect();
        polygon.extend(part.iter().rev().map(|r| place(&(r.0, r.2))));
        part.clear();
        paper.hatched(&polygon, if helps { Hatch::Helps } else { Hatch::Hinders })
    };
    let mut helps = row(0).2 > row(0).1;
    for i in 0..=steps {
        let r = row(i);
        if (r.2 > r.1) != helps {
            part.push(r);
            flush(&mut part, helps)?;
            helps = !helps;
        }
        part.push(r);
    }
    flush(&mut part, helps)?;

    let solid = |line: &[State], tone: Tone| -> Drawn {
        clipped(line, top).iter().try_for_each(|run| paper.line(&run.iter().map(place).collect::<Vec<_>>(), tone, 2.0))
    };
    solid(&cycle.expansion, Tone::Ink)?;
    solid(&cycle.compression, Tone::Ink)?;
    solid(&cycle.exhaust, Tone::Exhaust)?;
    for run in clipped(&cycle.intake, top) {
        paper.dashed(&run.iter().map(place).collect::<Vec<_>>(), Tone::Intake, 2.0, dashes::INTAKE)?;
    }

    // The whole cycle, small, below the gas exchange where the sheet is free; left out where it would not be.
    let room = y.start - y.at(0.93 * exchange_low);
    let inset_height = (room - 10.0).min(88.0);
    let mut inset_top = y.start;
    if inset_height >= 44.0 {
        let peak = cycle.all().map(|s| s.1).fold(0.0, f64::max);
        let width = (0.42 * (x.end - x.start)).clamp(112.0, 150.0);
        let (left, right, bottom) = (x.end - width - 4.0, x.end - 4.0, y.start - 5.0);
        inset_top = bottom - inset_height;
        paper.fill_box((left, inset_top), (right, bottom), Tone::Sheet)?;
        paper.outline((left, inset_top), (right, bottom), Tone::Edge, 1.0)?;
        let (ix, iy) = (
            Scale { from: 0.0, to: swept_end, start: left + 6.0, end: right - 6.0 },
            Scale { from: 0.0, to: peak, start: bottom - 5.0, end: inset_top + 6.0 },
        );
        let whole: Vec<Place> = cycle.all().map(|s| (ix.at(s.0), iy.at(s.1))).collect();
        paper.line(&whole, Tone::Ink2, 1.1)?;
        let shown_top = iy.at(top);
        let frame = [
            (left + 3.0, shown_top),
            (right - 3.0, shown_top),
            (right - 3.0, bottom - 3.0),
            (left + 3.0, bottom - 3.0),
            (left + 3.0, shown_top),
        ];
        paper.dashed(&frame, Tone::Ink, 1.0, dashes::HIDDEN)?;
        let at = (right - 7.0, inset_top + 0.9 * text);
        paper.text(at, "whole cycle", Letter::plain(Tone::Ink2).right())?;
        if inset_height > 58.0 {
            let peak_text = units.unit(Quantity::CylinderPressure).text(reading.indicated.peak_pressure_pa);
            paper.text((at.0, at.1 + 1.2 * text), &peak_text, Letter::plain(Tone::Ink).right())?;
        }
    }

    // Each stroke is named on its own free side, judged along the whole length of the name; two names on one side, where
    // the strokes cross between them, stand in two lines.
    let mut taken: Option<(f64, f64, f64)> = None;
    let names = [
        ("← exhaust stroke", &cycle.exhaust, &cycle.intake, Tone::Exhaust, 0.30),
        ("intake stroke →", &cycle.intake, &cycle.exhaust, Tone::Intake, 0.36),
    ];
    for (name, own, other, tone, share) in names {
        let letter = Letter::name(tone);
        let half = paper.text_width(name, &letter)? / 2.0 + 2.0;
        let middle = (x.start + share * (x.end - x.start)).max(x.at(least) + half + 4.0);
        let (from, to) = (x.value_at(middle - half), x.value_at(middle + half));
        let span = |stroke: &[State]| {
            (0..=8).map(|i| y.at(pressure_at(stroke, from + (to - from) * i as f64 / 8.0).min(top))).collect::<Vec<_>>()
        };
        let (mine, theirs) = (span(own), span(other));
        let sum = |s: &[f64]| s.iter().sum::<f64>();
        let above = sum(&mine) < sum(&theirs) || (sum(&mine) == sum(&theirs) && tone == Tone::Exhaust);
        let both = mine.iter().chain(&theirs);
        let height = if above {
            both.copied().fold(f64::INFINITY, f64::min) - 0.9 * text
        } else {
            both.copied().fold(0.0, f64::max) + 0.95 * text
        };
        let floor = if middle + half > x.end - 160.0 { inset_top } else { y.start };
        let mut height = height.clamp(y.end + 0.7 * text, floor - 0.7 * text);
        if let Some((from, to, at)) = taken
            && middle - half < to
            && from < middle + half
            && (height - at).abs() < 1.25 * text
        {
            height = if above { at - 1.25 * text } else { at + 1.25 * text };
        }
        taken = Some((middle - half, middle + half, height));
        paper.text((middle, height), name, letter)?;
    }
    Ok(())
}

/// Rows of the table that says the same: crank angle, volume, pressure, every 20 degrees.
pub fn table(trace: &Trace, units: UnitSystem) -> Vec<[String; 3]> {
    let (volume, pressure) = (units.unit(Quantity::Volume), units.unit(Quantity::PressureAbs));
    let mut due = 0.0;
    let mut rows = Vec::new();
    for (i, angle) in trace.crank_angle_deg.iter().enumerate() {
        if let (true, Some(v), Some(p)) = (*angle >= due - 1e-6, trace.volume_m3.get(i), trace.pressure_pa.get(i)) {
            rows.push([number(*angle, 0), number(volume.shown(*v), 3), pressure.number(*p)]);
            due += 20.0;
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::{Record, Recorder, check};
    use crate::sample;
    use plotters::drawing::IntoDrawingArea;
    use std::cell::RefCell;
    use std::rc::Rc;

    #[test]
    fn by_hand_pressure_along_a_stroke() {
        assert_eq!(pressure_at(&[(1.0, 10.0), (3.0, 30.0)], 2.0), 20.0);
        assert_eq!(pressure_at(&[(3.0, 30.0), (1.0, 10.0)], 2.0), 20.0);
        assert_eq!(pressure_at(&[(1.0, 10.0), (3.0, 30.0)], 9.0), 30.0);
    }

    #[test]
    fn identity_names_and_labels_never_collide() {
        for reading in [sample::hinders(), sample::helps(), sample::level()] {
            for size in [(340, 300), (380, 340), (520, 420), (300, 330)] {
                for units in [UnitSystem::Si, UnitSystem::Customary] {
                    let record = Rc::new(RefCell::new(Record::default()));
                    let pixels = (size.0 * 2, size.1 * 2);
                    let area = Recorder { size: pixels, record: record.clone() }.into_drawing_area();
                    let palette = super::super::paper::Palette::from_tokens(|_| (0, 0, 0));
                    draw(&Paper::new(area, 2.0, palette, 13.0), &reading, units).unwrap();
                    check(&record.borrow(), pixels);
                    assert!(record.borrow().texts.iter().any(|t| t.0.contains("exhaust stroke")));
                }
            }
        }
    }
}
