//! The lessons that come with Volute, in the order in which they are taught.

use crate::lesson::Lesson;
use crate::parse::parse;
use crate::problem::Problem;
use std::sync::OnceLock;

/// A lesson file that is built in.
#[derive(Debug, Clone, Copy)]
pub struct Source {
    /// Its language: `en`, or the name of the folder that holds translations.
    pub language: &'static str,
    /// Its id, which is also the name of its file.
    pub id: &'static str,
    /// The text of the file.
    pub text: &'static str,
}

/// Every lesson file: none where they are fetched.
#[cfg(all(target_family = "wasm", feature = "fetched"))]
pub static SOURCES: &[Source] = &[];
// In the order of `content/order.toml`; `build.rs` lists the folder.
#[cfg(not(all(target_family = "wasm", feature = "fetched")))]
include!(concat!(env!("OUT_DIR"), "/sources.rs"));

/// The order of the lessons, as `content/order.toml` has it.
pub const ORDER: &str = include_str!("../content/order.toml");

/// What the catalog holds.
#[derive(Debug)]
pub struct Catalog {
    /// Lessons that could be read, in order.
    pub lessons: Vec<Lesson>,
    /// Files that could not, with their problems. Empty in any build whose tests passed.
    pub broken: Vec<(&'static str, Vec<Problem>)>,
}

impl Catalog {
    /// The lesson with this id.
    pub fn lesson(&self, id: &str) -> Option<&Lesson> {
        self.lessons.iter().find(|lesson| lesson.id == id)
    }
}

/// The built-in lessons in English, read once.
pub fn catalog() -> &'static Catalog {
    static CATALOG: OnceLock<Catalog> = OnceLock::new();
    CATALOG.get_or_init(|| Catalog::of("en"))
}

/// Languages of the built-in lessons, English first.
pub fn languages() -> Vec<&'static str> {
    let mut all: Vec<&'static str> = SOURCES.iter().map(|source| source.language).collect();
    all.dedup();
    all
}

impl Catalog {
    /// The built-in lessons in a language; those that are not translated are left out.
    pub fn of(language: &str) -> Catalog {
        let mut catalog = Catalog { lessons: Vec::new(), broken: Vec::new() };
        for source in SOURCES.iter().filter(|source| source.language == language) {
            match parse(source.text) {
                Ok(lesson) => catalog.lessons.push(lesson),
                Err(problems) => catalog.broken.push((source.id, problems)),
            }
        }
        catalog
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::CoreSolver;
    use crate::check::check;
    use crate::seed::Seed;

    #[test]
    fn lesson_every_file_is_read_and_stands_in_the_order() {
        let mut lines = String::new();
        let order: toml::Table = toml::from_str(ORDER).unwrap();
        let order: Vec<&str> = order["lessons"].as_array().unwrap().iter().map(|id| id.as_str().unwrap()).collect();
        for language in languages() {
            let catalog = Catalog::of(language);
            for (id, problems) in &catalog.broken {
                lines.extend(problems.iter().map(|problem| format!("{language} {id}.md, {problem}\n")));
            }
            for lesson in &catalog.lessons {
                assert!(order.contains(&lesson.id.as_str()), "{} is not in order.toml", lesson.id);
            }
        }
        assert!(lines.is_empty(), "{lines}");
        let english: Vec<&str> = catalog().lessons.iter().map(|lesson| lesson.id.as_str()).collect();
        assert_eq!(order, english, "every lesson of order.toml is there, in its order");
        for source in SOURCES {
            let id = parse(source.text).unwrap().id;
            assert_eq!(id, source.id, "the id of a file is its name");
        }
    }

    #[test]
    fn lesson_needs_come_earlier_and_links_lead_somewhere() {
        let lessons = &catalog().lessons;
        for (i, lesson) in lessons.iter().enumerate() {
            for need in &lesson.needs {
                assert!(lessons[..i].iter().any(|earlier| earlier.id == *need), "{} needs {need}", lesson.id);
            }
            for target in lesson.linked_lessons() {
                assert!(lessons.iter().any(|other| other.id == target), "{} links to {target}", lesson.id);
            }
        }
    }

    /// In every language. A thousand learners are tried by `volute check`; here every build tries a few.
    #[test]
    fn lesson_every_lesson_keeps_what_it_promises() {
        let mut lines = String::new();
        let catalogs: Vec<_> = languages().into_iter().map(|language| (language, Catalog::of(language))).collect();
        for Lesson { id, .. } in &catalog().lessons {
            // A translation asks the core the same questions.
            let mut solver = CoreSolver::default();
            for (language, catalog) in &catalogs {
                let lesson = catalog.lesson(id).unwrap_or_else(|| panic!("{language} lacks {id}"));
                let findings = check(lesson, (0..20).map(Seed), &mut solver);
                lines.extend(findings.iter().map(|finding| format!("{language} {id}: {finding}\n")));
            }
        }
        assert!(lines.is_empty(), "{lines}");
    }

    #[test]
    fn lesson_a_translation_differs_in_words_only() {
        for language in &languages()[1..] {
            for lesson in &Catalog::of(language).lessons {
                let english = catalog().lesson(&lesson.id).unwrap_or_else(|| panic!("no English {}", lesson.id));
                let differences = crate::translation::differences(english, lesson);
                assert!(differences.is_empty(), "{language} {}: {differences:#?}", lesson.id);
            }
        }
    }
}
