//! Valves: how much area they open at a crank angle.
//!
//! The lift is one smooth arch (sine squared) between opening and closing; the flow area is the curtain under the head, or
//! the port behind it where that is smaller. Left out: ramps, lash, change of the discharge coefficient with lift.

use crate::engine::Valves;
use crate::math;

/// One kind of valve of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveSet {
    /// Opens, in degrees after firing top dead centre.
    pub opens_deg: f64,
    /// Closes; greater than `opens_deg`.
    pub closes_deg: f64,
    /// Number of valves.
    pub count: f64,
    /// Inner seat diameter.
    pub seat_m: f64,
    /// Greatest lift.
    pub lift_m: f64,
    /// Discharge coefficient.
    pub discharge: f64,
    /// Share of the seat circle that the port passes.
    pub port_share: f64,
}

impl ValveSet {
    /// The intake valves.
    pub fn intake(v: &Valves) -> Self {
        Self {
            opens_deg: v.intake_opens_deg,
            closes_deg: v.intake_closes_deg,
            count: v.intake_count,
            seat_m: v.intake_seat_m,
            lift_m: v.intake_lift_m,
            discharge: v.intake_discharge,
            port_share: v.port_share,
        }
    }

    /// The exhaust valves.
    pub fn exhaust(v: &Valves) -> Self {
        Self {
            opens_deg: v.exhaust_opens_deg,
            closes_deg: v.exhaust_closes_deg,
            count: v.exhaust_count,
            seat_m: v.exhaust_seat_m,
            lift_m: v.exhaust_lift_m,
            discharge: v.exhaust_discharge,
            port_share: v.port_share,
        }
    }

    /// Lift at a crank angle between 0 and 720 degrees, in m.
    pub fn lift_m(&self, angle_deg: f64) -> f64 {
        if angle_deg <= self.opens_deg || self.closes_deg <= angle_deg {
            return 0.0;
        }
        let arch = math::sin(core::f64::consts::PI * (angle_deg - self.opens_deg) / (self.closes_deg - self.opens_deg));
        self.lift_m * arch * arch
    }

    /// Effective flow area, discharge coefficient included, in m2. Source: Heywood, section 6.3 (curtain and port area).
    pub fn effective_area_m2(&self, angle_deg: f64) -> f64 {
        let curtain_m2 = core::f64::consts::PI * self.seat_m * self.lift_m(angle_deg);
        let port_m2 = self.port_share * core::f64::consts::FRAC_PI_4 * self.seat_m * self.seat_m;
        self.count * self.discharge * curtain_m2.min(port_m2)
    }
}
