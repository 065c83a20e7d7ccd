//! Reads a chart: the point nearest to a place, the point that a key leads to, and what stands there in words.

use super::chart::{At, Chart};
use super::hatch::Point;
use super::placing::Layout;
use crate::language::tf;

/// Which point is read: panel, line, run, point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spot {
    /// Panel from the top.
    pub panel: usize,
    /// Line of the panel.
    pub series: usize,
    /// Run of the line.
    pub run: usize,
    /// Point of the run.
    pub point: usize,
}

/// A step through a chart by keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Along the line.
    Along(i32),
    /// To another line.
    Across(i32),
    /// To its first or last point.
    End(bool),
}

impl Chart {
    /// The value at a spot.
    pub fn at(&self, spot: Spot) -> Option<At> {
        self.panels.get(spot.panel)?.series.get(spot.series)?.runs.get(spot.run)?.get(spot.point).copied()
    }

    /// Every spot of a line, in order.
    fn spots(&self, panel: usize, series: usize) -> Vec<Spot> {
        let runs = self.panels.get(panel).and_then(|p| p.series.get(series)).map(|s| s.runs.as_slice());
        let runs = runs.unwrap_or_default().iter().enumerate();
        runs.flat_map(|(run, points)| (0..points.len()).map(move |point| Spot { panel, series, run, point })).collect()
    }

    /// Every line that has points.
    fn lines(&self) -> Vec<(usize, usize)> {
        let all = self.panels.iter().enumerate();
        all.flat_map(|(p, panel)| (0..panel.series.len()).map(move |s| (p, s)))
            .filter(|(p, s)| self.panels[*p].series[*s].points().next().is_some())
            .collect()
    }

    /// The spot nearest to a place on the surface.
    pub fn nearest(&self, layout: &Layout, place: Point, isolated: Option<&str>) -> Option<Spot> {
        let mut best: Option<(f64, Spot)> = None;
        for (panel, series) in self.lines() {
            if isolated.is_some_and(|name| name != self.panels[panel].series[series].name) {
                continue;
            }
            for spot in self.spots(panel, series) {
                let Some(at) = self.at(spot) else { continue };
                let (x, y) = layout.place(panel, &at);
                let distance = (x - place.0).hypot(y - place.1);
                if distance.is_finite() && best.is_none_or(|(least, _)| distance < least) {
                    best = Some((distance, spot));
                }
            }
        }
        best.map(|(_, spot)| spot)
    }

    /// The spot a key leads to; from none, to the point nearest the cursor or the first of the first line.
    pub fn step(&self, from: Option<Spot>, step: Step) -> Option<Spot> {
        let lines = self.lines();
        let Some(spot) = from.filter(|s| self.at(*s).is_some()) else {
            let (panel, series) = *lines.first()?;
            let spots = self.spots(panel, series);
            let off = |s: &Spot| self.at(*s).map_or(f64::INFINITY, |at| (at.0 - self.cursor.unwrap_or(at.0)).abs());
            return spots.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        };
        match step {
            Step::Along(by) => {
                let spots = self.spots(spot.panel, spot.series);
                let here = spots.iter().position(|s| *s == spot)? as i32;
                spots.get((here + by).clamp(0, spots.len() as i32 - 1) as usize).copied()
            }
            Step::End(last) => {
                let spots = self.spots(spot.panel, spot.series);
                if last { spots.last().copied() } else { spots.first().copied() }
            }
            Step::Across(by) => {
                let here = lines.iter().position(|l| *l == (spot.panel, spot.series))? as i32;
                let (panel, series) = *lines.get((here + by).rem_euclid(lines.len() as i32) as usize)?;
                let x = self.at(spot)?.0;
                let off = |s: &Spot| self.at(*s).map_or(f64::INFINITY, |at| (at.0 - x).abs());
                self.spots(panel, series).into_iter().min_by(|a, b| off(a).total_cmp(&off(b)))
            }
        }
    }

    /// What stands at a spot, in words: the line, its value, and where.
    pub fn read(&self, spot: Spot) -> Option<String> {
        let at = self.at(spot)?;
        let panel = self.panels.get(spot.panel)?;
        let series = panel.series.get(spot.series)?;
        Some(tf(
            "{line}: {quantity} {value} at {axis} {place}",
            &[
                ("line", &series.name),
                ("quantity", &panel.y.name),
                ("value", &panel.y.text(at.1)),
                ("axis", &self.x.name),
                ("place", &self.x.text(at.0)),
            ],
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plots::recorder::chart;

    #[test]
    fn by_hand_the_nearest_point_is_read() {
        let chart = chart();
        let layout = chart.layout(400.0, 300.0, 13.0);
        let place = layout.place(0, &(30.0, 240.0));
        let spot = chart.nearest(&layout, (place.0 + 4.0, place.1 - 3.0), None).unwrap();
        assert_eq!(chart.at(spot), Some((30.0, 240.0)));
        assert_eq!(chart.read(spot).unwrap(), "p3: pressure 240 kPa abs at vane position 30 % open");
        let only = chart.nearest(&layout, place, Some("p2")).unwrap();
        assert_eq!(only.series, 0);
    }

    #[test]
    fn by_hand_keys_walk_along_and_across() {
        let chart = chart();
        let start = chart.step(None, Step::Along(1)).unwrap();
        assert_eq!(chart.at(start).unwrap().0, 40.0, "the first key finds the cursor");
        let next = chart.step(Some(start), Step::Along(1)).unwrap();
        assert_eq!(chart.at(next), Some((50.0, 200.0)));
        let other = chart.step(Some(next), Step::Across(1)).unwrap();
        assert_eq!(chart.at(other), Some((50.0, 280.0)));
        let end = chart.step(Some(other), Step::End(true)).unwrap();
        assert_eq!(chart.step(Some(end), Step::Along(1)), Some(end), "the end holds");
        assert_eq!(chart.step(Some(other), Step::Across(1)).unwrap().series, 0, "past the last comes the first");
    }
}
