//! Whether a steady point holds in time.

use crate::math;
use crate::point::operating_point::Point;
use crate::point::transient::Transient;

/// Disturbance of the flow by which stability is judged. Chosen: small enough to stay on the map, large against rounding.
const NUDGE: f64 = 0.03;
/// Intervals for which a disturbed point is watched. Chosen: several periods of duct and manifold at every speed.
const WATCH: usize = 48;

/// Whether a small disturbance of the flow at a steady point dies out, with its fuel held.
pub(crate) fn dies_out(point: &Point) -> bool {
    let mut run = Transient::disturbed(point, 1.0 - NUDGE);
    let base = point.reading.air_flow_kg_s;
    let mut early = 0.0_f64;
    let mut late = 0.0_f64;
    for i in 0..WATCH {
        let sample = run.advance();
        let off = math::fabs(sample.air_flow_kg_s / base - 1.0);
        if !off.is_finite() || sample.least_air_flow_kg_s < 0.0 {
            return false;
        }
        if i < WATCH / 4 {
            early = early.max(off);
        } else if i >= 3 * WATCH / 4 {
            late = late.max(off);
        }
    }
    late < early
}
