//! The list of lessons without their texts: what the page shows before a lesson is opened.
//!
//! `cargo xtask build` writes it to `lessons/index.json`, beside the texts in `lessons/<language>/<id>.md`; the page fetches
//! the list, and a text when its lesson is opened. So a first visit carries no lesson.

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

    /// Reads JSON of its own making. Nothing for anything else.
    pub fn read(text: &str) -> Option<Index> {
        let value: Value = serde_json::from_str(text).ok()?;
        if value.get("version")?.as_u64()? != 1 {
            return None;
        }
        let texts = |value: &Value| -> Option<Vec<String>> {
            value.as_array()?.iter().map(|text| text.as_str().map(String::from)).collect()
        };
        let lesson = |value: &Value| -> Option<Entry> {
            let (title, teaches) = (value.get("title")?.as_object()?, value.get("teaches")?.as_object()?);
            let words = title.iter().map(|(language, title)| {
                let teaches = teaches.get(language).and_then(Value::as_str).unwrap_or("");
                Some(Words { language: language.clone(), title: title.as_str()?.into(), teaches: teaches.into() })
            });
            Some(Entry {
                id: value.get("id")?.as_str()?.into(),
                course: value.get("course")?.as_str()?.into(),
                minutes: u32::try_from(value.get("minutes")?.as_u64()?).ok()?,
                needs: texts(value.get("needs")?)?,
                words: words.collect::<Option<_>>()?,
            })
        };
        Some(Index {
            languages: texts(value.get("languages")?)?,
            lessons: value.get("lessons")?.as_array()?.iter().map(lesson).collect::<Option<_>>()?,
        })
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
    fn identity_the_list_is_read_as_it_was_written() {
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
        assert_eq!(Index::read(&index.json()), Some(index));
    }

    #[test]
    fn by_hand_what_is_no_list_is_not_read() {
        for text in
            ["", "[]", "{}", "{\"version\":2,\"languages\":[],\"lessons\":[]}", "{\"version\":1,\"lessons\":[{}]}"]
        {
            assert_eq!(Index::read(text), None, "{text}");
        }
    }
}
