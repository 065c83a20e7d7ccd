//! The page of Volute.
//!
//! `page` is where it starts; `bench` is what stands on it, `plots` what is drawn, `lessons` the lesson sheet, `desk` the
//! instructor's page, `lms` the learning platform around a package. `state` is what the learner holds, `run` asks core for it,
//! `share` puts it in a link, `describe` says it in sentences. Files that need no browser import none.

#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod bench;
pub mod browser;
pub mod cover;
pub mod describe;
#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod desk;
pub mod fragment;
pub mod glossary;
pub mod holds;
pub mod language;
#[allow(missing_docs, reason = "the component macro makes a public field of every property")]
pub mod lessons;
pub mod lms;
pub mod look;
pub mod packed;
pub mod page;
pub mod parts;
pub mod pins;
pub mod plots;
pub mod readings;
pub mod refusals;
pub mod run;
#[cfg(test)]
mod sample;
pub mod share;
pub mod speech;
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
