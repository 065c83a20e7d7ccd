//! One binary, one module for each part of the core. The prefix of a test's name says how we know: `identity_` true by
//! physics, `published_` against a table of `reference/`, `by_hand_` a case with a known answer, `behaviour_` what the
//! trade sees on engines (common practice, no source), `regress_` once wrong or pinned by choice, `agrees_` same bits
//! native and WASM.

mod atmosphere;
mod balance;
mod behaviour;
mod chart;
mod combustion;
mod compressor;
mod coolant;
mod cooler;
mod crank;
mod cylinder;
mod energy;
mod entropy;
mod flow;
mod friction;
mod gas;
mod humidity;
mod integrator;
mod ledger;
mod pipe;
mod random;
mod steady;
mod support;
mod transient;
mod turbine;
mod valve;
mod wall_heat;
mod what_if;
