//! The lessons, for the desk: it needs all of them, texts included, where the bench fetches one when it is opened.

use crate::browser;
use crate::language::{self, t};
use crate::lessons::library;
use std::cell::OnceCell;
use volute_lessons::catalog::Catalog;
use volute_lessons::index;
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::parse;
use volute_lessons::results::version_of;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// What was fetched. It stays for as long as the page lives.
struct Shelf {
    catalog: Catalog,
    texts: Vec<(String, String)>,
}

thread_local! {
    static SHELF: OnceCell<&'static Shelf> = const { OnceCell::new() };
    static EMPTY: &'static Shelf = Box::leak(Box::new(Shelf { catalog: Catalog { lessons: Vec::new(), broken: Vec::new() }, texts: Vec::new() }));
}

/// A lesson that was fetched.
pub struct Fetched {
    /// The lesson.
    pub lesson: Lesson,
    /// Its text.
    pub text: String,
    /// Language and digest of the text: what reports hold.
    pub version: String,
}

/// Fetches and reads the lessons whose ids are `wanted`, in the page's language. Errors: a file did not come, as a sentence.
pub async fn fetch(wanted: impl Fn(&str) -> bool) -> Result<Vec<Fetched>, String> {
    let missing = || t("The lessons could not be fetched.").to_string();
    let list = browser::fetch_text(index::ADDRESS).await.ok_or_else(missing)?;
    let list = library::read_list(&list).ok_or_else(missing)?;
    let mut all = Vec::new();
    for entry in list.lessons.iter().filter(|entry| wanted(&entry.id)) {
        let language = entry.language(language::spoken().code());
        let text = browser::fetch_text(&index::address(language, &entry.id)).await.ok_or_else(missing)?;
        if let Some(lesson) = read(text.clone()).await.map_err(|_| missing())? {
            let version = format!("{language}-{}", version_of(&text));
            all.push(Fetched { lesson, text, version });
        }
    }
    Ok(all)
}

/// Reads a text. What a build ships parses, which its tests keep; a lesson that does not is left out. Errors: the module that reads
/// could not be fetched; the bench does not carry it.
#[wasm_split(reading, fallible)]
fn read(text: String) -> Result<Option<Lesson>, SplitLoaderError> {
    Ok(parse(&text).ok())
}

/// Fetches every lesson. Errors: a file did not come, as a sentence.
pub async fn load() -> Result<(), String> {
    let mut shelf = Shelf { catalog: Catalog { lessons: Vec::new(), broken: Vec::new() }, texts: Vec::new() };
    for Fetched { lesson, text, .. } in fetch(|_| true).await? {
        shelf.texts.push((lesson.id.clone(), text));
        shelf.catalog.lessons.push(lesson);
    }
    let shelf: &'static Shelf = Box::leak(Box::new(shelf));
    // Loaded once a page; a second time changes nothing.
    let _ = SHELF.with(|cell| cell.set(shelf));
    Ok(())
}

fn shelf() -> &'static Shelf {
    SHELF.with(|cell| cell.get().copied()).unwrap_or_else(|| EMPTY.with(|empty| *empty))
}

/// The lessons, in order.
pub fn catalog() -> &'static Catalog {
    #[cfg(not(test))]
    return &shelf().catalog;
    // Plain tests fetch nothing: they have the lessons that are built in.
    #[cfg(test)]
    volute_lessons::catalog::catalog()
}

/// The text of a lesson.
pub fn text(id: &str) -> Option<&'static str> {
    shelf().texts.iter().find(|(known, _)| known == id).map(|(_, text)| text.as_str())
}
