//! What a class did: many results beside each other.

use super::read::Sealed;
use super::report::{ItemReport, Kind, Report};
use crate::seed::Seed;

/// Most results in a class.
pub const MOST: usize = 500;

/// One learner's result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The file that it came in.
    pub file: String,
    /// What the learner did.
    pub report: Report,
    /// Whether its checksum fits.
    pub intact: bool,
}

/// The results of a class.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Class {
    entries: Vec<Entry>,
}

/// What became of a result that was added.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// It is in.
    In,
    /// The same was in already.
    Again,
    /// There are [`MOST`] already.
    Full,
}

/// A question of the class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Id of the lesson.
    pub lesson: String,
    /// Id of the item.
    pub item: String,
    /// What kind it is.
    pub kind: Kind,
}

/// How the class did at a question.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Summary {
    /// Learners who were asked.
    pub asked: u32,
    /// Learners who tried.
    pub tried: u32,
    /// Learners who were right in the end.
    pub right: u32,
    /// Learners who were right at the first try.
    pub right_at_once: u32,
    /// Learners who took a hint.
    pub hinted: u32,
    /// Tries of all of them.
    pub tries: u32,
    /// Misconception or wrong option by index, and how many learners showed it; the most frequent first.
    pub misconceptions: Vec<(u32, u32)>,
    /// Text of the lesson by its digest, each once: more than one means that the learners had different questions.
    pub versions: Vec<String>,
}

impl Class {
    /// Adds a result. The same one twice counts once.
    pub fn add(&mut self, file: &str, sealed: Sealed) -> Added {
        if self.entries.iter().any(|entry| entry.report == sealed.report) {
            return Added::Again;
        }
        if self.entries.len() >= MOST {
            return Added::Full;
        }
        let file = file.chars().filter(|c| !c.is_control()).take(120).collect();
        let entry = Entry { file, report: sealed.report, intact: sealed.intact };
        // By name, so that the table does not depend on the order of the files.
        let key = |e: &Entry| (e.report.learner.to_lowercase(), e.report.saved.clone(), e.file.clone());
        let at = self.entries.partition_point(|other| key(other) <= key(&entry));
        self.entries.insert(at, entry);
        Added::In
    }

    /// Takes a result out.
    pub fn remove(&mut self, index: usize) {
        if index < self.entries.len() {
            self.entries.remove(index);
        }
    }

    /// Results, by the learner's name.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Every question that anybody was asked, in the order in which they came.
    pub fn all_columns(&self) -> Vec<Column> {
        let mut columns: Vec<Column> = Vec::new();
        for entry in &self.entries {
            let mut at = 0;
            for (lesson, item) in entry.report.items() {
                match columns.iter().position(|c| c.lesson == lesson.id && c.item == item.id) {
                    Some(found) => at = found + 1,
                    None => {
                        let column = Column { lesson: lesson.id.clone(), item: item.id.clone(), kind: item.kind };
                        columns.insert(at.min(columns.len()), column);
                        at += 1;
                    }
                }
            }
        }
        columns
    }

    /// The variants of those who answered a question, rising.
    pub fn seeds(&self, column: &Column) -> Vec<Seed> {
        let lessons = self.entries.iter().flat_map(|entry| &entry.report.lessons).filter(|l| l.id == column.lesson);
        let tried = lessons.filter(|l| l.items.iter().any(|item| item.id == column.item && item.is_tried()));
        let mut seeds: Vec<Seed> = tried.map(|lesson| lesson.seed).collect();
        seeds.sort_unstable_by_key(|seed| seed.0);
        seeds.dedup();
        seeds
    }

    /// Those that are scored.
    pub fn columns(&self) -> Vec<Column> {
        let mut columns = self.all_columns();
        columns.retain(|column| column.kind.is_scored());
        columns
    }

    /// How the class did at a question.
    pub fn summary(&self, column: &Column) -> Summary {
        let mut sum = Summary::default();
        for entry in &self.entries {
            for (lesson, item) in entry.report.items() {
                if lesson.id != column.lesson || item.id != column.item {
                    continue;
                }
                sum.asked += 1;
                if !sum.versions.contains(&lesson.version) {
                    sum.versions.push(lesson.version.clone());
                }
                sum.tried += u32::from(item.is_tried());
                sum.right += u32::from(item.is_right());
                sum.right_at_once += u32::from(item.is_right_at_once());
                sum.hinted += u32::from(item.hints > 0);
                sum.tries += item.tries.len() as u32;
                for misconception in item.misconceptions() {
                    match sum.misconceptions.iter_mut().find(|(known, _)| *known == misconception) {
                        Some((_, count)) => *count += 1,
                        None => sum.misconceptions.push((misconception, 1)),
                    }
                }
            }
        }
        sum.misconceptions.sort_by_key(|(index, count)| (u32::MAX - count, *index));
        sum
    }
}

impl Column {
    /// What this learner did at it.
    pub fn of<'r>(&self, report: &'r Report) -> Option<&'r ItemReport> {
        let mut items = report.items();
        items.find(|(lesson, item)| lesson.id == self.lesson && item.id == self.item).map(|(_, item)| item)
    }
}
