//! The tests of the core that need more than one module, in one binary. Folders and files have the names of `core/src`:
//! what tests `core/src/parts/pipe.rs` stands in `parts/pipe.rs` here.
//!
//! The prefix of a test's name says how we know the answer:
//!
//! - `identity_`: it is true by physics or by arithmetic, over a grid of states.
//! - `published_`: a table of `tests/reference/` has it.
//! - `by_hand_`: the case is so simple that its answer is known.
//! - `behaviour_`: it is what practice sees on engines of this kind. There is no source; the bounds are ours.
//! - `regress_`: it was wrong once, or is pinned by choice; the comment says which.
//! - `agrees_`: two ways to one answer give the same bits, for example native code and WASM.

mod balance;
mod support;

mod gas {
    mod atmosphere;
    mod flow;
    mod humidity;
    mod mixture;
}
mod parts {
    mod combustion;
    mod compressor;
    mod coolant;
    mod cooler;
    mod crank;
    mod friction;
    mod pipe;
    mod turbine;
    mod valve;
    mod wall_heat;
}
mod cycle {
    mod cylinder;
    mod integrator;
}
mod point {
    mod behaviour;
    mod random;
    pub mod steady;
    mod transient;
    mod what_if;
}
mod views {
    mod energy;
    mod entropy;
    mod ledger;
    mod maps;
}
