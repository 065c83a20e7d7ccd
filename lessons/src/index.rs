//! The list of lessons without their texts: what the page shows before a lesson is opened.
//!
//! `cargo xtask build` writes it to `lessons/index.json`, beside the texts in `lessons/<language>/<id>.md`. The page fetches
//! the list, and it fetches a text when the lesson is opened. So a first visit carries no lesson. The page reads the list with the browser's
//! own reader of JSON (`lessons::library` there).

use crate::catalog::{Catalog, SOURCES, Source, languages};
use crate::expr::Env;
use crate::lesson::Lesson;
use crate::text;
use crate::units::Style;
use serde_json::{Map, Value, json};

/// Every lesson, in order, and the languages that there are.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Index {
    /// Languages, English first.
    pub languages: Vec<String>,
    /// Lessons in order.
    pub lessons: Vec<Entry>,
}

/// A lesson in the list.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Entry {
    /// Its id.
    pub id: String,
    /// Its course.
    pub course: String,
    /// Minutes that it takes.
    pub minutes: u32,
    /// Lessons that come before it.
    pub needs: Vec<String>,
    /// What is said of it, in each language that it is written in. English is always there.
    pub words: Vec<Words>,
}

/// What is said of a lesson in one language, as plain text.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Words {
    /// The language.
    pub language: String,
    /// The title.
    pub title: String,
    /// What it teaches.
    pub teaches: String,
}

impl Entry {
    /// The title in a language, in English where it is not translated.
    pub fn title(&self, language: &str) -> &str {
        self.said(language).map_or(self.id.as_str(), |words| &words.title)
    }

    /// What it teaches in a language, in English where it is not translated.
    pub fn teaches(&self, language: &str) -> &str {
        self.said(language).map_or("", |words| &words.teaches)
    }

    /// The language in which its text is to be fetched.
    pub fn language<'l>(&self, wanted: &'l str) -> &'l str {
        if self.words.iter().any(|words| words.language == wanted) { wanted } else { "en" }
    }

    fn said(&self, language: &str) -> Option<&Words> {
        let of = |wanted: &str| self.words.iter().find(|words| words.language == wanted);
        of(language).or_else(|| of("en"))
    }
}

/// Where the text of a lesson lies, from the page.
pub fn address(language: &str, id: &str) -> String {
    format!("lessons/{language}/{id}.md")
}

/// Where the list lies, from the page.
pub const ADDRESS: &str = "lessons/index.json";

impl Index {
    /// Of the lessons that are built in.
    pub fn built_in() -> Index {
        let mut index = Index { languages: languages().into_iter().map(String::from).collect(), lessons: Vec::new() };
        for language in languages() {
            for lesson in Catalog::of(language).lessons {
                let at = index.lessons.iter().position(|entry| entry.id == lesson.id);
                let at = at.unwrap_or_else(|| {
                    index.lessons.push(Entry {
                        id: lesson.id.clone(),
                        course: lesson.course.clone(),
                        minutes: lesson.minutes,
                        needs: lesson.needs.clone(),
                        words: Vec::new(),
                    });
                    index.lessons.len() - 1
                });
                index.lessons[at].words.push(said(language, &lesson));
            }
        }
        index
    }

    /// The lesson of an id.
    pub fn lesson(&self, id: &str) -> Option<&Entry> {
        self.lessons.iter().find(|entry| entry.id == id)
    }

    /// As JSON.
    pub fn json(&self) -> String {
        let lesson = |entry: &Entry| {
            let by_language = |pick: fn(&Words) -> &String| -> Value {
                let words = entry.words.iter().map(|words| (words.language.clone(), pick(words).clone().into()));
                Value::Object(words.collect::<Map<String, Value>>())
            };
            json!({
                "id": entry.id, "course": entry.course, "minutes": entry.minutes, "needs": entry.needs,
                "title": by_language(|words| &words.title), "teaches": by_language(|words| &words.teaches),
            })
        };
        let lessons: Vec<Value> = self.lessons.iter().map(lesson).collect();
        json!({ "version": 1, "languages": self.languages, "lessons": lessons }).to_string()
    }
}

fn said(language: &str, lesson: &Lesson) -> Words {
    // Title and purpose hold no values that could be missing; the parser sees to that.
    let plain = |line| text::plain_inline(line, &Env::EMPTY, Style::default()).unwrap_or_default();
    Words { language: language.into(), title: plain(&lesson.title), teaches: plain(&lesson.teaches) }
}

/// Every file that the page fetches: its address from the page, and its text.
pub fn files() -> Vec<(String, String)> {
    let text = |source: &Source| (address(source.language, source.id), source.text.to_string());
    let list = (ADDRESS.to_string(), Index::built_in().json());
    std::iter::once(list).chain(SOURCES.iter().map(text)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_the_list_is_written_whole() {
        let index = Index::built_in();
        assert_eq!(index.lessons.iter().map(|entry| entry.words.len()).sum::<usize>(), SOURCES.len());
        for entry in &index.lessons {
            assert!(
                entry.words.iter().any(|words| words.language == "en") && !entry.teaches("xx").is_empty(),
                "{}",
                entry.id
            );
            assert_eq!(entry.language("xx"), "en");
        }
        let json: Value = serde_json::from_str(&index.json()).expect("JSON");
        assert_eq!((&json["version"], &json["languages"]), (&json!(1), &json!(index.languages)));
        for (entry, written) in index.lessons.iter().zip(json["lessons"].as_array().expect("a list")) {
            assert_eq!(written["id"], entry.id);
            assert_eq!((&written["course"], &written["needs"]), (&json!(entry.course), &json!(entry.needs)));
            assert_eq!(written["minutes"], entry.minutes);
            for words in &entry.words {
                assert_eq!(written["title"][&words.language], words.title);
                assert_eq!(written["teaches"][&words.language], words.teaches);
            }
        }
        assert_eq!(json["lessons"].as_array().map(Vec::len), Some(index.lessons.len()));
    }
}
