//! The lessons for the instructor's desk. It needs all of them with their texts; the bench fetches a lesson when it is opened.

use crate::lessons::library::{self, Fetched};
use std::cell::OnceCell;
use volute_lessons::catalog::Catalog;

/// What was fetched. It stays for as long as the page lives.
struct Shelf {
    catalog: Catalog,
    texts: Vec<(String, String)>,
}

thread_local! {
    static SHELF: OnceCell<&'static Shelf> = const { OnceCell::new() };
    static EMPTY: &'static Shelf = Box::leak(Box::new(Shelf { catalog: Catalog { lessons: Vec::new(), broken: Vec::new() }, texts: Vec::new() }));
}

/// Fetches every lesson. Errors: a file did not come, as a sentence.
pub async fn load() -> Result<(), String> {
    let mut shelf = Shelf { catalog: Catalog { lessons: Vec::new(), broken: Vec::new() }, texts: Vec::new() };
    for Fetched { lesson, text, .. } in library::fetch_all(|_| true).await? {
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
