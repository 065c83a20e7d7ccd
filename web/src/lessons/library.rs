//! Where lessons come from.

use volute_lessons::catalog::catalog;
use volute_lessons::lesson::Lesson;
use volute_lessons::text::Inline;

/// A lesson in the list.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// Its id.
    pub id: &'static str,
    /// What it is called.
    pub title: &'static [Inline],
    /// What it teaches, in a sentence.
    pub teaches: &'static [Inline],
    /// The course, a letter.
    pub course: &'static str,
    /// Minutes that it takes.
    pub minutes: u32,
    /// Lessons that come before it.
    pub needs: &'static [String],
}

/// All lessons, in the order in which they are taught.
pub fn entries() -> &'static [Entry] {
    static ALL: std::sync::OnceLock<Vec<Entry>> = std::sync::OnceLock::new();
    ALL.get_or_init(|| {
        let entry = |lesson: &'static Lesson| Entry {
            id: &lesson.id,
            title: &lesson.title,
            teaches: &lesson.teaches,
            course: &lesson.course,
            minutes: lesson.minutes,
            needs: &lesson.needs,
        };
        catalog().lessons.iter().map(entry).collect()
    })
}

/// The lesson of an id in the list.
pub fn entry(id: &str) -> Option<Entry> {
    entries().iter().copied().find(|e| e.id == id)
}

/// The lesson of an id, if its text is there already.
pub fn known(id: &str) -> Option<&'static Lesson> {
    catalog().lesson(id)
}

/// Brings a lesson and calls back. Errors: why not, as a sentence.
pub fn fetch(id: String, done: impl FnOnce(Result<&'static Lesson, String>) + 'static) {
    done(
        catalog()
            .lesson(&id)
            .ok_or_else(|| crate::language::tf("There is no lesson \u{201c}{id}\u{201d}.", &[("id", &id)])),
    )
}
