//! What a lesson does not keep, and the findings of many learners put together.

use crate::bench::BenchError;
use crate::expr::EvalError;
use crate::lesson::{CLASS_MINUTES, Lesson, Words};
use crate::problem::Position;
use crate::seed::Seed;
use crate::text::Inline;
use crate::work::Unfair;
use std::collections::BTreeMap;

/// Share of draws that may be thrown away. Chosen: more means that the ranges are wrong.
pub const MOST_THROWN_AWAY: f64 = 0.5;

/// One thing that a lesson does not keep.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{place}{}: {kind}", .seed.map(|seed| format!(", seed {}", seed.0)).unwrap_or_default())]
pub struct Finding {
    /// The block, by id, or a part of the lesson.
    pub place: String,
    /// The seed that shows it, when it depends on one.
    pub seed: Option<Seed>,
    /// What.
    pub kind: FindingKind,
}

impl Finding {
    /// Where the block stands in the file; where the typed number stands, if that is the matter.
    pub fn at(&self, lesson: &Lesson, text: &str) -> Position {
        let block = lesson.places.get(&self.place).copied();
        if let FindingKind::TypedNumber { text: typed } = &self.kind {
            let line = block.map_or(1, |place| place.line);
            let begin: usize = text.split_inclusive('\n').take(line - 1).map(str::len).sum();
            if let Some(at) = text.get(begin..).and_then(|rest| rest.find(typed.as_str())) {
                return Position::of(text, begin + at);
            }
        }
        block.unwrap_or(Position { line: 1, column: 1 })
    }
}

/// What a lesson does not keep.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum FindingKind {
    #[error("the lesson has no {what}")]
    Missing { what: &'static str },
    #[error("the prediction has no reveal")]
    NoReveal,
    #[error("`{state}` cannot be set: {error}")]
    Bench { state: String, error: BenchError },
    #[error("{0}")]
    Unfair(Unfair),
    #[error("cannot be worked out: {0}")]
    Eval(EvalError),
    #[error("the start passes the task already")]
    StartPasses,
    #[error("the answer does not pass the task{}", .because.as_ref().map(|b| format!(": {b}")).unwrap_or_default())]
    AnswerFails { because: Option<String> },
    #[error(
        "the answer moves `{control}` to {value}, which is locked there or kept in a narrower range; free it, or answer with what is free: {free}"
    )]
    AnswerLocked { control: String, value: String, free: String },
    #[error("{found} hints; at least one is needed: the cause without the number")]
    NoHint { found: usize },
    #[error("{found} misconceptions; {block} needs at least {least}, each with its own explanation")]
    FewMisconceptions { found: usize, block: &'static str, least: usize },
    #[error("`{because}` explains two different mistakes; each needs its own explanation")]
    SameExplanation { because: String },
    #[error("the class plan takes {minutes} minutes; it must take {CLASS_MINUTES}")]
    PlanMinutes { minutes: u32 },
    #[error("no draw out of {tried} is fair: {last}")]
    NoFairDraw { tried: u32, last: Unfair },
    #[error("{thrown_away} of {drawn} draws were not fair; narrow the ranges")]
    ManyThrownAway { thrown_away: u32, drawn: u32 },
    #[error("`{text}` is typed; let the core give it: {{{{expression | unit}}}}")]
    TypedNumber { text: String },
    #[error("shows `{quantity}`, which the bench keeps back until the prediction is locked")]
    GivesAway { quantity: &'static str },
    #[error("sells `{quantity}`, which the task does not hide: add it to `hide`, or leave it out of `only`")]
    SellsShown { quantity: &'static str },
}

/// What many learners met, put together: findings, each once, and how many draws were thrown away.
#[derive(Debug, Default)]
pub struct Tally {
    findings: Vec<Finding>,
    /// By block: draws thrown away, and all draws.
    draws: BTreeMap<String, (u32, u32)>,
}

/// What one learner met.
#[derive(Debug, Default)]
pub struct Met {
    pub(super) findings: Vec<Finding>,
    pub(super) thrown_away: Vec<(String, u32)>,
}

impl Tally {
    /// Adds what one learner met.
    pub fn add(&mut self, met: Met) {
        for finding in met.findings {
            // One seed is enough to show a thing.
            let known = |other: &Finding| {
                other.place == finding.place
                    && std::mem::discriminant(&other.kind) == std::mem::discriminant(&finding.kind)
            };
            match self.findings.iter_mut().find(|other| known(other)) {
                // The least seed, so that the order in which threads come home does not show.
                Some(other) if finding.seed < other.seed => *other = finding,
                Some(_) => {}
                None => self.findings.push(finding),
            }
        }
        for (place, thrown_away) in met.thrown_away {
            let (away, all) = self.draws.entry(place).or_default();
            *away += thrown_away;
            *all += thrown_away + 1;
        }
    }

    /// What two groups of learners met.
    pub fn join(mut self, other: Tally) -> Tally {
        self.add(Met { findings: other.findings, thrown_away: Vec::new() });
        for (place, (thrown_away, drawn)) in other.draws {
            let (away, all) = self.draws.entry(place).or_default();
            *away += thrown_away;
            *all += drawn;
        }
        self
    }

    /// Everything found.
    pub fn finish(mut self) -> Vec<Finding> {
        self.findings.sort_by(|a, b| (&a.place, a.seed).cmp(&(&b.place, b.seed)));
        for (place, (thrown_away, drawn)) in self.draws {
            if f64::from(thrown_away) > MOST_THROWN_AWAY * f64::from(drawn) {
                let kind = FindingKind::ManyThrownAway { thrown_away, drawn };
                self.findings.push(Finding { place, seed: None, kind });
            }
        }
        self.findings
    }
}

/// The first words of an explanation.
pub(super) fn first_words(words: Words) -> String {
    let mut text = String::new();
    words.visit(&mut |inline| {
        if let Inline::Text(piece) = inline {
            text.push_str(piece);
        }
    });
    text.chars().take(60).collect()
}
