//! Range of use: the ends of the bench's sliders.

use crate::keys::parameters;

parameters! {
    /// Where the engine is used: ends of the bench's sliders.
    pub struct Range in "range" {
        /// Least engine speed.
        speed_min_rpm: "1/min", 300.0, 3000.0;
        /// Greatest engine speed.
        speed_max_rpm: "1/min", 600.0, 8000.0;
        /// Greatest torque asked of it.
        torque_max_n_m: "N m", 10.0, 2.0e4;
    }
}

impl Range {
    /// Checks what no single range can say. Errors: `SpeedRange`.
    pub fn check(&self) -> Result<(), RangeError> {
        let (min_rpm, max_rpm) = (self.speed_min_rpm, self.speed_max_rpm);
        if min_rpm >= max_rpm { Err(RangeError::SpeedRange { min_rpm, max_rpm }) } else { Ok(()) }
    }
}

/// What can be wrong with a range of use whose numbers are each allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the message says what the numbers are")]
pub enum RangeError {
    #[error("`range`: speed_min_rpm = {min_rpm} is not below speed_max_rpm = {max_rpm}")]
    SpeedRange { min_rpm: f64, max_rpm: f64 },
}
