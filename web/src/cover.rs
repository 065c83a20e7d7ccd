//! What an open lesson keeps off the bench, and which numbers the views of the bench give away.

pub use volute_lessons::cover::Cover;

/// What shows the balance.
pub const BALANCE: &[&str] = &["balance"];
/// What shows the pumping loss.
pub const PUMPING: &[&str] = &["pumping_torque"];
/// What shows the torque.
pub const TORQUE: &[&str] = &["torque"];
