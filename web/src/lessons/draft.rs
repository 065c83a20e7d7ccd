//! A lesson that is being written, opened on the bench as a learner will see it. Nothing that is done in it is kept.
//!
//! The instructor's desk keeps the text on the device; the bench finds it there under an id that no lesson can have, and draws
//! new numbers each time. A text that is missing, too long or no lesson gives a sentence.

use crate::language::{t, tf};
use crate::store::{self, Record, Trouble};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::{LARGEST, parse};
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// The draft's id in a link: ids of lessons have no such letter.
pub const ID: &str = "~draft";

/// The fragment of a link to the bench that opens the draft of this device.
pub const FRAGMENT: &str = "v=1&lesson=~draft";

/// The text, as the device keeps it.
pub struct Text(pub String);

impl Record for Text {
    const NAME: &'static str = "lesson-draft";
    const VERSION: u32 = 1;

    fn text(&self) -> String {
        self.0.clone()
    }

    fn read(_: u32, text: &str) -> Option<Self> {
        (text.len() <= LARGEST).then(|| Self(text.into()))
    }
}

thread_local! {
    /// The draft that was read last. Views hold on to a lesson's parts, so that each text that is tried stays for as long as the
    /// page lives; the same one is not read twice.
    static LAST: RefCell<Option<(String, &'static Lesson)>> = const { RefCell::new(None) };
}

/// Reads the draft of this device. Errors: the module that can did not come; inside, why there is none, as a sentence.
#[wasm_split(lesson, fallible)]
pub fn read() -> Result<Result<&'static Lesson, String>, SplitLoaderError> {
    let trouble = Rc::new(Cell::new(None::<Trouble>));
    let heard = trouble.clone();
    let kept = store::open(move |trouble| heard.set(Some(trouble))).get::<Text>();
    Ok(match (kept, trouble.get()) {
        (Some(Text(text)), _) => read_text(text),
        (None, Some(trouble)) => Err(trouble.to_string()),
        (None, None) => Err(t(
            "There is no draft in this browser: write one on the instructor\u{2019}s desk, and try it from there.",
        )
        .into()),
    })
}

fn read_text(text: String) -> Result<&'static Lesson, String> {
    let same = LAST.with_borrow(|last| last.as_ref().filter(|(known, _)| *known == text).map(|(_, lesson)| *lesson));
    if let Some(lesson) = same {
        return Ok(lesson);
    }
    let lesson = parse(&text).map_err(|problems| {
        let first = problems.first().map(ToString::to_string).unwrap_or_default();
        tf("The draft cannot be read: {reason}", &[("reason", &first)])
    })?;
    let lesson: &'static Lesson = Box::leak(Box::new(lesson));
    LAST.set(Some((text, lesson)));
    Ok(lesson)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::share;
    use volute_lessons::catalog::SOURCES;

    #[test]
    fn identity_no_lesson_can_have_the_draft_s_id() {
        let source = SOURCES.iter().find(|source| source.language == "en").unwrap();
        assert!(parse(source.text).is_ok());
        let named = source.text.replacen(&format!("\"{}\"", source.id), &format!("\"{ID}\""), 1);
        assert_ne!(named, source.text);
        assert!(parse(&named).is_err());
    }

    #[test]
    fn identity_the_link_names_the_draft() {
        let shared = share::decode(FRAGMENT).unwrap().unwrap();
        assert_eq!(shared.lesson.map(|(id, _)| id).as_deref(), Some(ID));
    }

    #[test]
    fn by_hand_texts_that_are_no_lesson_give_a_sentence() {
        for text in ["", "\u{0}", "<script>alert(1)</script>", "+++\n+++\n", &"x".repeat(LARGEST + 1)] {
            let said = read_text(text.into()).unwrap_err();
            assert!(said.starts_with("The draft cannot be read: line "), "{said}");
        }
        assert!(Text::read(1, &"x".repeat(LARGEST + 1)).is_none());
    }

    #[test]
    fn identity_the_same_text_is_read_once() {
        let text = SOURCES.iter().find(|source| source.language == "en").unwrap().text;
        let first = read_text(text.into()).unwrap();
        assert!(std::ptr::eq(first, read_text(text.into()).unwrap()));
        assert!(!std::ptr::eq(first, read_text(format!("{text}\nMore.\n")).unwrap()));
    }
}
