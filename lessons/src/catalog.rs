//! The lessons that come with Volute, in the order in which they are taught.

use crate::lesson::Lesson;
use crate::parse::parse;
use crate::problem::Problem;
use std::sync::OnceLock;

/// A lesson file that is built in.
#[derive(Debug, Clone, Copy)]
pub struct Source {
    /// Its id, which is also the name of its file.
    pub id: &'static str,
    /// The text of the file.
    pub text: &'static str,
}

macro_rules! sources {
    ($($id:literal),+ $(,)?) => {
        /// Every lesson file; `content/order.toml` gives the order and is held against this list by a test.
        pub static SOURCES: &[Source] = &[
            $(Source { id: $id, text: include_str!(concat!("../content/", $id, ".md")) }),+
        ];
    };
}

sources! {
    "more-boost-less-torque",
}

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

/// The built-in lessons, read once.
pub fn catalog() -> &'static Catalog {
    static CATALOG: OnceLock<Catalog> = OnceLock::new();
    CATALOG.get_or_init(|| {
        let mut catalog = Catalog { lessons: Vec::new(), broken: Vec::new() };
        for source in SOURCES {
            match parse(source.text) {
                Ok(lesson) => catalog.lessons.push(lesson),
                Err(problems) => catalog.broken.push((source.id, problems)),
            }
        }
        catalog
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lesson_every_file_is_read_and_stands_in_the_order() {
        let mut lines = String::new();
        for (id, problems) in &catalog().broken {
            lines.extend(problems.iter().map(|problem| format!("{id}.md, {problem}\n")));
        }
        assert!(lines.is_empty(), "{lines}");
        let order: toml::Table = toml::from_str(ORDER).unwrap();
        let order: Vec<&str> = order["lessons"].as_array().unwrap().iter().map(|id| id.as_str().unwrap()).collect();
        let read: Vec<&str> = catalog().lessons.iter().map(|lesson| lesson.id.as_str()).collect();
        assert_eq!(order, read);
        assert_eq!(order, SOURCES.iter().map(|source| source.id).collect::<Vec<_>>());
    }

    #[test]
    fn lesson_every_file_of_the_folder_is_built_in() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/content");
        for entry in std::fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            if let Some(id) = name.strip_suffix(".md") {
                assert!(SOURCES.iter().any(|source| source.id == id), "{name} is not in SOURCES");
            }
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
}
