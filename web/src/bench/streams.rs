//! Gas that moves along the ducts of the air path, each stream at the pace of its volume flow. It moves only where the system
//! allows motion, and until somebody stops it.

use std::fmt::Write;
use volute_core::point::reading::{Reading, Station};

/// From one arrow to the next, in units of the drawing.
const PERIOD: f64 = 24.0;

/// How fast a volume flow of 1 m3/s runs on the drawing, in its units a second. Chosen: a tenth of that, about the middle of
/// the bench, runs at 25; real gas would be a blur.
const PACE: f64 = 250.0;

/// The longest and the shortest time that an arrow takes to the next, in seconds.
const ENDS_S: (f64, f64) = (0.25, 8.0);

/// A straight stretch of duct.
struct Stretch {
    /// Where it begins, in the direction of the flow.
    from: (f64, f64),
    /// Direction: right, left, down.
    along: (f64, f64),
    length: f64,
    side: &'static str,
    of: fn(&Reading) -> &Station,
}

const STRETCHES: [Stretch; 7] = [
    Stretch { from: (222.0, 50.0), along: (1.0, 0.0), length: 102.0, side: "i", of: |r| &r.stations.compressor_outlet },
    Stretch {
        from: (398.0, 50.0),
        along: (1.0, 0.0),
        length: 40.0,
        side: "i",
        of: |r| &r.stations.charge_cooler_outlet,
    },
    Stretch { from: (519.0, 67.0), along: (0.0, 1.0), length: 36.0, side: "i", of: |r| &r.stations.intake_manifold },
    Stretch { from: (624.0, 116.0), along: (0.0, 1.0), length: 216.0, side: "e", of: |r| &r.stations.turbine_inlet },
    Stretch { from: (437.0, 352.0), along: (-1.0, 0.0), length: 198.0, side: "e", of: |r| &r.stations.turbine_inlet },
    Stretch { from: (38.0, 96.0), along: (1.0, 0.0), length: 56.0, side: "i", of: |r| &r.stations.compressor_inlet },
    Stretch { from: (60.0, 278.0), along: (-1.0, 0.0), length: 54.0, side: "e", of: |r| &r.stations.turbine_outlet },
];

/// How long an arrow of each stretch takes to the next, in seconds, in steps of an eighth: fine enough to see, and coarse
/// enough that a slider's step hardly ever starts an arrow anew.
pub fn seconds(reading: &Reading) -> [f64; STRETCHES.len()] {
    STRETCHES.each_ref().map(|stretch| {
        let station = (stretch.of)(reading);
        let volume_m3_s = station.mass_flow_kg_s / station.density_kg_m3.max(1e-3);
        let exact = PERIOD / (PACE * volume_m3_s.max(1e-6));
        let step = 1.125_f64;
        let round = step.powf((exact.ln() / step.ln()).round());
        (round.clamp(ENDS_S.0, ENDS_S.1) * 1e3).round() / 1e3
    })
}

/// The streams as markup; the style sheet moves them by one period over and over, in the time that the property `--s0`, `--s1`…
/// of the drawing says.
pub fn markup() -> String {
    let mut out = String::from(r#"<g class="stream-all">"#);
    for (i, stretch) in STRETCHES.iter().enumerate() {
        let ((x, y), (dx, dy)) = (stretch.from, stretch.along);
        // Every stream runs to the right in its own turned group, cut off at both ends of its stretch.
        let turn = dy.atan2(dx).to_degrees();
        let _ = write!(
            out,
            r#"<g transform="translate({x} {y}) rotate({turn})"><svg y="-8" width="{}" height="16" viewBox="0 -8 {} 16"><path class="stream {} s{i}" d=""#,
            stretch.length, stretch.length, stretch.side
        );
        let mut at = -PERIOD;
        while at < stretch.length + PERIOD {
            let _ = write!(out, "M{} -3.5L{} 0L{} 3.5", at - 5.0, at, at - 5.0);
            at += PERIOD;
        }
        out.push_str(r#""/></svg></g>"#);
    }
    out.push_str("</g>");
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn by_hand_streams_run_by_their_volume_flow() {
        let now = sample::hinders();
        let calm = seconds(&now);
        let mut fast = now.clone();
        fast.stations.turbine_inlet.mass_flow_kg_s *= 2.0;
        let quick = seconds(&fast);
        assert_eq!(calm[..3], quick[..3]);
        // Twice the flow takes half the time, within a step to either side.
        assert!((1.7..2.3).contains(&(calm[3] / quick[3])), "{calm:?} {quick:?}");
        fast.stations.turbine_inlet.mass_flow_kg_s = 0.0;
        assert_eq!(seconds(&fast)[3], ENDS_S.1);
        assert!(calm.iter().all(|s| s.is_finite()));
    }
}
