//! The page of Volute.
//!
//! `state` holds what the learner set, `run` asks core and keeps the answer, `bench` shows it part by part, `plots` draws,
//! `describe` says it in sentences, `share` puts it in a link. Files that need no browser import none.

#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod bench;
pub mod browser;
pub mod describe;
#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod desk;
pub mod glossary;
pub mod language;
#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod lessons;
pub mod lms;
pub mod look;
pub mod page;
pub mod pins;
pub mod plots;
pub mod readings;
pub mod refusals;
pub mod run;
#[cfg(test)]
mod sample;
pub mod share;
pub mod start_points;
pub mod state;
pub mod store;
pub mod sweeps;
pub mod timing;
pub mod units;
pub mod update;
pub mod view;
pub mod what_ifs;
#[allow(missing_docs, reason = "the names are the texts")]
pub mod words;
pub mod worker;
