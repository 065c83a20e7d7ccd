//! Marks a drawn curve.

use super::key::{Detail, Key, Mark};
use crate::curves::CurveKind;
use crate::expr::EvalError;
use crate::lesson::{CurveRef, SketchQuestion};
use crate::sketch::{self, Sketch, SketchKey};
use crate::work::{Unfair, WorkError, Worked};

impl SketchQuestion {
    /// The true curve for this draw. Errors: a curve with a gap or outside the axis, a misconception with the true shape.
    pub(super) fn key(&self, own: &Worked) -> Result<Key, WorkError> {
        let heights = |of: &CurveRef| {
            let curve = own.curve(of)?;
            let ends = (curve.x.first().copied().unwrap_or(0.0), curve.x.last().copied().unwrap_or(0.0));
            let whole = match of.kind {
                CurveKind::Sweep => own.sweeps.get(&of.of).is_none_or(|sweep| sweep.settings_si.len() == curve.x.len()),
                CurveKind::Run => true,
            };
            let heights = if whole { sketch::on_axes(&curve, self, of.is_point()) } else { None };
            let heights = heights.ok_or_else(|| EvalError::NoPoint { what: of.to_string() })?;
            Ok::<_, EvalError>((heights, ends))
        };
        let (truth, ends_si) = heights(&self.of)?;
        let given = self.given.as_ref().map(heights).transpose()?.map(|(given, _)| given);
        for (of, curve) in std::iter::once((&self.of, &truth)).chain(self.given.iter().zip(&given)) {
            let least = curve.iter().copied().fold(f64::INFINITY, f64::min);
            let most = curve.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            if least < 0.0 || most > 1.0 {
                let text = |share: f64| format!("{:.4}", self.low + share * (self.high - self.low));
                let (least, most, unit) = (text(least), text(most), self.measure.unit.name);
                return Err(Unfair::OffAxis { curve: of.to_string(), least, most, unit }.into());
            }
        }
        let key = SketchKey { truth, given, ends_si };
        if let Some(i) = self.misconceptions.iter().position(|wrong| key.fits(&truth, wrong)) {
            return Err(Unfair::RightShape { number: i + 1 }.into());
        }
        Ok(Key::Sketch(key))
    }
}

pub(super) fn sketch_mark<'l>(question: &'l SketchQuestion, key: &SketchKey, sketch: &Sketch) -> Mark<'l> {
    let mark = key.judge(sketch, &question.misconceptions);
    let wrong = mark.misconception.and_then(|i| question.misconceptions.get(i));
    let explained = wrong.map_or(question.because.as_slice(), |wrong| wrong.because.as_slice());
    Mark {
        right: mark.right,
        points: mark.points,
        misconception: mark.misconception,
        because: vec![explained],
        show: wrong.and_then(|wrong| wrong.show.as_deref()),
        detail: Detail::Sketch(mark),
    }
}
