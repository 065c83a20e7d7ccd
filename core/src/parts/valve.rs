//! Valves: how much area they open at a crank angle.
//!
//! The lift is one smooth arch (sine squared) between opening and closing; the flow area is the curtain under the head, or
//! the port behind it where that is smaller. Left out: ramps, lash, change of the discharge coefficient with lift.

use crate::keys::parameters;
use crate::math;

parameters! {
    /// Valves of one cylinder. Angles are whole degrees after firing top dead centre.
    pub struct Valves in "valves" {
        /// Intake valves open.
        intake_opens_deg: "deg", 320.0, 380.0;
        /// Intake valves close; the compression begins.
        intake_closes_deg: "deg", 541.0, 640.0;
        /// Exhaust valves open; the expansion ends.
        exhaust_opens_deg: "deg", 90.0, 179.0;
        /// Exhaust valves close.
        exhaust_closes_deg: "deg", 340.0, 410.0;
        /// Intake valves in each cylinder.
        intake_count: "", 1.0, 3.0;
        /// Inner seat diameter of an intake valve.
        intake_seat_m: "m", 0.01, 0.12;
        /// Greatest lift of an intake valve.
        intake_lift_m: "m", 0.003, 0.04;
        /// Discharge coefficient of the intake valves, on curtain or port area, whichever is smaller.
        intake_discharge: "", 0.2, 1.0;
        /// Exhaust valves in each cylinder.
        exhaust_count: "", 1.0, 3.0;
        /// Inner seat diameter of an exhaust valve.
        exhaust_seat_m: "m", 0.01, 0.12;
        /// Greatest lift of an exhaust valve.
        exhaust_lift_m: "m", 0.003, 0.04;
        /// Discharge coefficient of the exhaust valves, on curtain or port area, whichever is smaller.
        exhaust_discharge: "", 0.2, 1.0;
        /// The port passes at most this share of the seat circle (stem and throat take the rest).
        port_share: "", 0.4, 1.0;
    }
}

impl Valves {
    /// Checks what no single range can say. Errors: the first angle that is not a whole degree.
    pub fn check(&self) -> Result<(), ValveError> {
        for (key, angle_deg) in [
            ("valves.intake_opens_deg", self.intake_opens_deg),
            ("valves.intake_closes_deg", self.intake_closes_deg),
            ("valves.exhaust_opens_deg", self.exhaust_opens_deg),
            ("valves.exhaust_closes_deg", self.exhaust_closes_deg),
        ] {
            if libm::trunc(angle_deg) != angle_deg {
                return Err(ValveError::WholeDegrees { key, angle_deg });
            }
        }
        Ok(())
    }

    /// How long all valves of a cylinder are shut, in degrees of crank angle.
    pub fn closed_deg(&self) -> f64 {
        self.exhaust_opens_deg + 720.0 - self.intake_closes_deg
    }
}

/// What can be wrong with valves whose numbers are each allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the message says what the numbers are")]
pub enum ValveError {
    #[error("`{key} = {angle_deg}`: valve events are whole degrees, since the integration steps end there")]
    WholeDegrees { key: &'static str, angle_deg: f64 },
}

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

    /// Effective flow area, discharge coefficient included, in m2. Source: HEYWOOD1988, section 6.3 (curtain and
    /// port area).
    pub fn effective_area_m2(&self, angle_deg: f64) -> f64 {
        let curtain_m2 = core::f64::consts::PI * self.seat_m * self.lift_m(angle_deg);
        let port_m2 = self.port_share * core::f64::consts::FRAC_PI_4 * self.seat_m * self.seat_m;
        self.count * self.discharge * curtain_m2.min(port_m2)
    }
}
