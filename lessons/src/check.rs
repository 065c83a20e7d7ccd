//! The checker: what a lesson promises, tried with the core for many learners.
//!
//! The parser checks the form of a file. Here is checked what needs numbers. A lesson with a finding does not ship.

mod finding;
mod form;
mod learner;
mod moves;

pub use finding::{Finding, FindingKind, MOST_THROWN_AWAY, Met, Tally};
pub use form::{LEAST_MISCONCEPTIONS, form, typed_quantities};
pub use learner::check_seed;

use crate::bench::Solve;
use crate::lesson::Lesson;
use crate::seed::Seed;

/// Holds `lesson` against what it promises, for every seed given. `solver` answers for the core. An empty list is a pass.
pub fn check(lesson: &Lesson, seeds: impl IntoIterator<Item = Seed>, solver: &mut dyn Solve) -> Vec<Finding> {
    let mut findings = form(lesson);
    let mut tally = Tally::default();
    for seed in seeds {
        tally.add(check_seed(lesson, seed, solver));
    }
    findings.extend(tally.finish());
    findings
}
