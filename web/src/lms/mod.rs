//! The learning management system around the page: finding it, telling it what is answered, and asking what it kept.
//!
//! Only a page that stands in a package looks for one. Where there is none, or it refuses, the page works as it does
//! everywhere, keeps what is done on the device, and says so. All of it stands in a module of the binary that only a packed
//! page fetches; what the page needs to know of it stands in `tie`.

pub mod answered;
pub mod bar;
pub mod bond;
pub mod cmi5_session;
pub mod make;
pub mod memory;
pub mod platform;
pub mod scorm12_session;
pub mod tie;
pub mod wire;

pub use tie::{attach, bar as platform_line, language, lost, meet, prepare};
