//! What a learner did: a report, its lessons, questions and tries.

use crate::assignment::{self, Assignment};
use crate::fnv::fnv;
use crate::lesson::Question;
use crate::seed::Seed;

/// Longest name of a learner, in characters.
pub const LONGEST_NAME: usize = 80;

/// Longest text of any other kind, in characters.
pub const LONGEST_TEXT: usize = 2000;

/// Most lessons in a file.
pub const MOST_LESSONS: usize = 60;

/// Most items of a lesson.
pub const MOST_ITEMS: usize = 100;

/// Most tries that are kept of an item: the last ones.
pub const MOST_TRIES: usize = 60;

/// Most points of a drawn curve.
pub const MOST_POINTS: usize = 101;

/// What a learner did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Report {
    /// As the learner wrote it; may be empty.
    pub learner: String,
    /// What was to be done; nothing if the learner chose the lessons.
    pub assignment: Option<Assignment>,
    /// The build of the page.
    pub page: String,
    /// When it was saved, by the learner's clock: `2026-12-01T18:30Z`.
    pub saved: String,
    /// Lessons in the order of the assignment.
    pub lessons: Vec<LessonReport>,
}

/// What a learner did in a lesson.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LessonReport {
    /// Its id.
    pub id: String,
    /// A digest of the text of the lesson. If digests differ, questions may differ.
    pub version: String,
    /// Whose numbers. With version and item it gives any question again as the learner had it.
    pub seed: Seed,
    /// Whether everything that is asked was tried.
    pub complete: bool,
    /// Time spent, in s.
    pub seconds: u32,
    /// What is asked, in order, whether it was tried or not.
    pub items: Vec<ItemReport>,
}

/// What a learner did at one question.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ItemReport {
    /// Its id.
    pub id: String,
    /// What kind it is.
    pub kind: Kind,
    /// Every try, the first one first.
    pub tries: Vec<Try>,
    /// Hints taken.
    pub hints: u32,
    /// Best points, per cent.
    pub points_pct: u32,
    /// Whether it is done: right, locked, written, or out of tries.
    pub done: bool,
    /// How sure the learner was, per cent.
    pub confidence_pct: Option<u32>,
    /// The learner's own words; may be empty.
    pub words: String,
    /// Options picked, or the order of items, by index from 0: of a prediction, or of the last try.
    pub picked: Vec<u32>,
    /// Misconceptions that were met on the way of a task, by index from 0.
    pub wrong_turns: Vec<u32>,
    /// Readings that were uncovered in a task, by the lessons' names.
    pub bought: Vec<String>,
    /// A drawn curve: heights at even distances from left to right, thousandths of the axis, 0 at its lower end.
    pub curve: Vec<i32>,
}

/// One try.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Try {
    /// Which draw of the numbers, from 0.
    pub draw: u32,
    /// The answer, as it was typed or in words.
    pub answer: String,
    /// Whether it passes.
    pub right: bool,
    /// What it earned, per cent.
    pub points_pct: u32,
    /// The misconception or the wrong option behind it, by its index from 0 in the lesson's list.
    pub misconception: Option<u32>,
    /// Time spent on it, in s; zero where that was not measured.
    pub seconds: u32,
}

macro_rules! kinds {
    ($($(#[$mark:meta])? $kind:ident $name:literal $scored:literal $about:literal;)+) => {
        /// What kind of question an item is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub enum Kind {
            $(#[doc = $about] $(#[$mark])? $kind,)+
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &[Kind] = &[$(Kind::$kind),+];

            /// As files write it.
            pub fn name(self) -> &'static str {
                match self { $(Kind::$kind => $name,)+ }
            }

            /// Whether it earns points.
            pub fn is_scored(self) -> bool {
                match self { $(Kind::$kind => $scored,)+ }
            }
        }
    };
}

kinds! {
    #[default] Predict "predict" false "A prediction: kept, never scored.";
    Task "task" true "Bring the bench to a state.";
    Number "number" true "A number with its unit.";
    Choice "choice" true "One of several.";
    Choices "choices" true "All that apply.";
    Order "order" true "Put into order.";
    Sketch "sketch" true "A curve.";
    Words "words" false "Own words for the instructor: kept, never scored.";
    Transfer "transfer" false "The same thought elsewhere, in own words.";
}

impl Kind {
    /// The kind of a checkpoint with this question.
    pub fn of_question(question: &Question) -> Kind {
        match question {
            Question::Number(_) => Kind::Number,
            Question::Choice(_) => Kind::Choice,
            Question::Choices(_) => Kind::Choices,
            Question::Order(_) => Kind::Order,
            Question::Sketch(_) => Kind::Sketch,
            Question::Words(_) => Kind::Words,
        }
    }

    pub(super) fn of(name: &str) -> Option<Kind> {
        Kind::ALL.iter().copied().find(|kind| kind.name() == name)
    }
}

/// The digest of a lesson's text: what [`LessonReport::version`] holds.
pub fn version_of(text: &str) -> String {
    format!("{:08x}", fnv(text.bytes()) >> 32)
}

impl ItemReport {
    /// An item that nothing was done at yet.
    pub fn new(id: &str, kind: Kind) -> Self {
        ItemReport { id: id.into(), kind, ..ItemReport::default() }
    }

    /// Notes a try. Points are the best of all; of more than [`MOST_TRIES`] the oldest are dropped.
    pub fn push(&mut self, made: Try) {
        self.points_pct = self.points_pct.max(made.points_pct.min(100));
        if self.tries.len() == MOST_TRIES {
            self.tries.remove(0);
        }
        self.tries.push(made);
    }

    /// Whether any try was right; a task has no tries, only an end.
    pub fn is_right(&self) -> bool {
        self.tries.iter().any(|made| made.right) || (self.kind == Kind::Task && self.done)
    }

    /// Whether the first try was right; for a task, whether it was done without a wrong turn that is known.
    pub fn is_right_at_once(&self) -> bool {
        let task = self.kind == Kind::Task && self.done && self.wrong_turns.is_empty();
        task || self.tries.first().is_some_and(|made| made.right)
    }

    /// Whether anything was done here.
    pub fn is_tried(&self) -> bool {
        let kept = self.picked.len() + self.curve.len() + self.wrong_turns.len() + self.bought.len();
        self.done || !self.tries.is_empty() || !self.words.is_empty() || kept > 0
    }

    /// Misconceptions that showed in any try or on the way, each once.
    pub fn misconceptions(&self) -> Vec<u32> {
        let mut found: Vec<u32> = self.tries.iter().filter_map(|made| made.misconception).collect();
        found.extend(&self.wrong_turns);
        found.sort_unstable();
        found.dedup();
        found
    }
}

impl Report {
    /// Share of the points, per cent: the mean over everything that is scored. What was not tried counts zero. Nothing when
    /// nothing is scored.
    pub fn points_pct(&self) -> Option<u32> {
        let points: Vec<u32> = self.scored().map(|(_, item)| item.points_pct).collect();
        let count = u32::try_from(points.len()).ok().filter(|n| *n > 0)?;
        Some((points.iter().sum::<u32>() + count / 2) / count)
    }

    /// Everything that is scored, with its lesson.
    pub fn scored(&self) -> impl Iterator<Item = (&LessonReport, &ItemReport)> {
        self.items().filter(|(_, item)| item.kind.is_scored())
    }

    /// Every item, with its lesson.
    pub fn items(&self) -> impl Iterator<Item = (&LessonReport, &ItemReport)> {
        self.lessons.iter().flat_map(|lesson| lesson.items.iter().map(move |item| (lesson, item)))
    }

    /// Whether the pass mark is reached; nothing when nothing is scored.
    pub fn passed(&self) -> Option<bool> {
        let pass = self.assignment.as_ref().map_or(assignment::USUAL_PASS_PCT, |a| a.pass_pct);
        self.points_pct().map(|points| pass <= points)
    }

    /// Time spent, in s.
    pub fn seconds(&self) -> u32 {
        self.lessons.iter().fold(0_u32, |sum, lesson| sum.saturating_add(lesson.seconds))
    }

    /// Cuts texts to what a file may hold. Called by [`Report::json`], so that whatever is written can be read.
    pub(super) fn within_limits(&self) -> Report {
        let mut own = self.clone();
        own.learner = cut(&own.learner, LONGEST_NAME);
        for text in [&mut own.page, &mut own.saved] {
            *text = cut(text, 80);
        }
        own.lessons.truncate(MOST_LESSONS);
        for lesson in &mut own.lessons {
            lesson.items.truncate(MOST_ITEMS);
            for item in &mut lesson.items {
                item.words = cut(&item.words, LONGEST_TEXT);
                item.picked.truncate(MOST_POINTS);
                item.curve.truncate(MOST_POINTS);
                item.wrong_turns.truncate(MOST_POINTS);
                item.bought.truncate(MOST_POINTS);
                item.points_pct = item.points_pct.min(100);
                item.confidence_pct = item.confidence_pct.map(|pct| pct.min(100));
                for made in &mut item.tries {
                    made.answer = cut(&made.answer, LONGEST_TEXT);
                    made.points_pct = made.points_pct.min(100);
                }
            }
        }
        own
    }
}

/// The first `most` characters, without those that [`read`] refuses.
fn cut(text: &str, most: usize) -> String {
    text.chars().filter(|c| !is_refused(*c)).take(most).collect()
}

/// Control characters, and marks that change the direction of writing: with them a line could look different from what it holds.
pub(super) fn is_refused(c: char) -> bool {
    (c.is_control() && c != '\n' && c != '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}
