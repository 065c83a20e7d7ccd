//! Where lessons come from. The list is fetched with the page, and each lesson's text when that lesson is opened. After a first
//! visit the service worker has all of them.

use super::draft;
use crate::browser;
use crate::language::{self, t, tf};
use js_sys::{Array, JSON, Object, Reflect};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_lessons::index::{self, Entry, Index, Words};
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::parse;
use volute_lessons::results::version_of;
use wasm_bindgen::{JsCast, JsValue};
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// Longest text of a lesson that is read, in bytes.
const LONGEST: usize = 256 * 1024;

thread_local! {
    /// Lessons that have been read. Each stays for as long as the page lives: views hold on to its parts, and there are no
    /// more of them than the list has.
    static READ: RefCell<BTreeMap<String, &'static Lesson>> = RefCell::default();
}

/// Fetches the list and calls back. Errors: why not, as a sentence.
pub fn list(done: impl FnOnce(Result<Arc<Index>, String>) + 'static) {
    wasm_bindgen_futures::spawn_local(async move {
        let text = browser::fetch_text(index::ADDRESS).await;
        done(match text.map(|text| read_list(&text)) {
            Some(Some(list)) => Ok(Arc::new(list)),
            Some(None) => Err(t("The list of lessons is not one that this page can read.").into()),
            None => Err(t("The list of lessons did not come: the network or the host does not give it.").into()),
        });
    });
}

/// Reads the list of lessons that the build wrote. Nothing for anything else. The browser reads JSON as it is: the page need not
/// carry a reader of its own before a lesson is opened.
pub fn read_list(text: &str) -> Option<Index> {
    let get = |of: &JsValue, name: &str| Reflect::get(of, &name.into()).ok();
    let text_at = |of: &JsValue, name: &str| get(of, name)?.as_string();
    let texts = |of: &JsValue, name: &str| -> Option<Vec<String>> {
        get(of, name)?.dyn_into::<Array>().ok()?.iter().map(|text| text.as_string()).collect()
    };
    let lesson = |value: JsValue| -> Option<Entry> {
        let (title, teaches) = (get(&value, "title")?, get(&value, "teaches")?);
        let words = Object::keys(title.dyn_ref::<Object>()?).into_iter().map(|language| {
            let language = language.as_string()?;
            Some(Words {
                title: text_at(&title, &language)?,
                teaches: text_at(&teaches, &language).unwrap_or_default(),
                language,
            })
        });
        Some(Entry {
            id: text_at(&value, "id")?,
            course: text_at(&value, "course")?,
            minutes: get(&value, "minutes")?.as_f64()? as u32,
            needs: texts(&value, "needs")?,
            words: words.collect::<Option<_>>()?,
        })
    };
    let list = JSON::parse(text).ok()?;
    if get(&list, "version")?.as_f64()? != 1.0 {
        return None;
    }
    Some(Index {
        languages: texts(&list, "languages")?,
        lessons: get(&list, "lessons")?.dyn_into::<Array>().ok()?.iter().map(lesson).collect::<Option<_>>()?,
    })
}

/// Brings the lesson of an id and calls back. Errors: why not, as a sentence.
pub fn fetch(list: Arc<Index>, id: String, done: impl FnOnce(Result<&'static Lesson, String>) + 'static) {
    let missing =
        || t("The part of this page that reads lessons did not come: the network or the host does not give it.").into();
    if id == draft::ID {
        wasm_bindgen_futures::spawn_local(async move {
            done(draft::read().await.unwrap_or_else(|_| Err(missing())));
        });
        return;
    }
    if let Some(lesson) = READ.with_borrow(|read| read.get(&id).copied()) {
        return done(Ok(lesson));
    }
    let Some(entry) = list.lesson(&id) else {
        return done(Err(tf("There is no lesson “{id}” on this page.", &[("id", &id)])));
    };
    let address = index::address(entry.language(language::spoken().code()), &id);
    wasm_bindgen_futures::spawn_local(async move {
        let text = browser::fetch_text(&address).await;
        done(match text {
            None => Err(t("The text of this lesson did not come: the network or the host does not give it.").into()),
            Some(text) => match read(id, text).await {
                Ok(lesson) => lesson,
                Err(_) => Err(missing()),
            },
        });
    });
}

/// Reads a text that was fetched. Errors: the module that can did not come; inside, what is wrong with the text, as a sentence.
#[wasm_split(lesson, fallible)]
fn read(id: String, text: String) -> Result<Result<&'static Lesson, String>, SplitLoaderError> {
    Ok(read_text(&id, &text))
}

fn read_text(id: &str, text: &str) -> Result<&'static Lesson, String> {
    if text.len() > LONGEST {
        return Err(t("The text of this lesson is longer than any lesson is.").into());
    }
    match parse(text) {
        // A host that answers every address with its own page sends something else under this one.
        Ok(lesson) if lesson.id == id => {
            let lesson: &'static Lesson = Box::leak(Box::new(lesson));
            READ.with_borrow_mut(|read| read.insert(id.into(), lesson));
            Ok(lesson)
        }
        Ok(_) => Err(t("The host gave the text of another lesson.").into()),
        Err(problems) => {
            let first = problems.first().map(ToString::to_string).unwrap_or_default();
            Err(tf("The text of this lesson cannot be read: {reason}", &[("reason", &first)]))
        }
    }
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
pub async fn fetch_all(wanted: impl Fn(&str) -> bool) -> Result<Vec<Fetched>, String> {
    let missing = || t("The lessons could not be fetched.").to_string();
    let list = browser::fetch_text(index::ADDRESS).await.ok_or_else(missing)?;
    let list = read_list(&list).ok_or_else(missing)?;
    let mut all = Vec::new();
    for entry in list.lessons.iter().filter(|entry| wanted(&entry.id)) {
        let language = entry.language(language::spoken().code());
        let text = browser::fetch_text(&index::address(language, &entry.id)).await.ok_or_else(missing)?;
        if let Some(lesson) = read_any(text.clone()).await.map_err(|_| missing())? {
            let version = format!("{language}-{}", version_of(&text));
            all.push(Fetched { lesson, text, version });
        }
    }
    Ok(all)
}

/// Reads a text. What a build ships parses, which its tests keep; a lesson that does not is left out. Errors: the module that reads
/// could not be fetched; the bench does not carry it.
#[wasm_split(reading, fallible)]
fn read_any(text: String) -> Result<Option<Lesson>, SplitLoaderError> {
    Ok(parse(&text).ok())
}
