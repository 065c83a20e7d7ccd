//! What is kept on this device from one visit to the next: progress, drafts, units, theme.
//!
//! A [`Record`] says under which name and version it is kept and how it reads as text. Each record is one line in the browser's
//! storage, `1:8f3c…:text`: its version, a checksum, the text. Storage that is off, full, damaged or written by a later version
//! loses what was kept, but the page works on; each such trouble is told once, as a sentence.
//!
//! All pages of one host share one storage, so every name begins with `volute.`; benches in several folders share their records.

use crate::language::{t, tf};
use std::cell::{Cell, RefCell};
use std::fmt::{self, Write};
use std::rc::Rc;
use volute_lessons::fnv::fnv;

/// Something that is kept.
pub trait Record: Sized {
    /// Its name, never changed: people have it on their devices.
    const NAME: &'static str;
    /// Counts up when [`Record::text`] gets a form that [`Record::read`] of an earlier page cannot take.
    const VERSION: u32;

    /// The record as text, in the form of `VERSION`.
    fn text(&self) -> String;

    /// A record of this or an earlier version; none if the text is no such record.
    fn read(version: u32, text: &str) -> Option<Self>;
}

/// Where texts are kept by name.
pub trait Shelf {
    /// The text under a name, if there is one. Errors: the shelf cannot be used.
    fn get(&self, name: &str) -> Result<Option<String>, Refusal>;
    /// Puts a text under a name. Errors: the shelf cannot be used or has no room.
    fn put(&self, name: &str, text: &str) -> Result<(), Refusal>;
    /// Clears a name. Errors: the shelf cannot be used.
    fn clear(&self, name: &str) -> Result<(), Refusal>;
}

/// Why a shelf did not do what it was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// The browser keeps nothing for this page.
    Off,
    /// There is no room left.
    Full,
}

/// What went wrong with what is kept. Its text is a sentence for the learner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// Nothing can be kept.
    Off,
    /// The newest change is not kept.
    Full,
    /// A record cannot be read. It stands until something new is kept in its place.
    Damaged(&'static str),
    /// A record was written by a later page. It is neither read nor replaced.
    Newer(&'static str),
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Trouble::Off => f.write_str(t(
                "This browser keeps nothing for this page: what you do here is gone once it is closed. A copied link keeps the settings.",
            )),
            Trouble::Full => f.write_str(t(
                "The browser's storage for this site is full: the latest change is not kept. A copied link keeps the settings.",
            )),
            Trouble::Damaged(name) => f.write_str(&tf(
                "What this device had kept as \u{201c}{name}\u{201d} is damaged. The bench goes on without it.",
                &[("name", name)],
            )),
            Trouble::Newer(name) => f.write_str(&tf(
                "What this device has kept as \u{201c}{name}\u{201d} is from a newer version of this page. This one leaves it alone.",
                &[("name", name)],
            )),
        }
    }
}

/// What is kept, for one page. Clones are the same store.
#[derive(Clone)]
pub struct Store(Rc<Inner>);

struct Inner {
    shelf: Box<dyn Shelf>,
    report: Box<dyn Fn(Trouble)>,
    told: RefCell<Vec<Trouble>>,
    /// A browser that has refused once refuses for the rest of the visit: it is not asked at every move of a slider.
    off: Cell<bool>,
}

impl Store {
    /// A store on a shelf. `report` hears of each trouble once.
    pub fn new(shelf: impl Shelf + 'static, report: impl Fn(Trouble) + 'static) -> Self {
        Self(Rc::new(Inner {
            shelf: Box::new(shelf),
            report: Box::new(report),
            told: RefCell::default(),
            off: Cell::new(false),
        }))
    }

    /// What is kept of a kind, if anything that can be used is.
    pub fn get<R: Record>(&self) -> Option<R> {
        self.get_at("")
    }

    /// The same of a kind of which there are several, by their own names.
    pub fn get_at<R: Record>(&self, own: &str) -> Option<R> {
        match self.look::<R>(own) {
            Ok(found) => found,
            Err(trouble) => {
                self.tell(trouble);
                None
            }
        }
    }

    /// Keeps a record in place of the one before. Says whether it is kept.
    pub fn set<R: Record>(&self, record: &R) -> bool {
        self.set_at("", record)
    }

    /// The same for a kind of which there are several, by their own names.
    pub fn set_at<R: Record>(&self, own: &str, record: &R) -> bool {
        // A record that only a later page can read stays; one that nobody can read is replaced.
        let done = match self.look::<R>(own) {
            Err(trouble @ (Trouble::Newer(_) | Trouble::Off)) => Err(trouble),
            _ => self.0.shelf.put(&name_of::<R>(own), &encode(R::VERSION, &record.text())).map_err(trouble_of),
        };
        done.map_err(|trouble| self.tell(trouble)).is_ok()
    }

    /// Forgets a record, of whichever version. Says whether it is gone.
    pub fn remove<R: Record>(&self) -> bool {
        self.remove_at::<R>("")
    }

    /// The same for one of a kind of which there are several.
    pub fn remove_at<R: Record>(&self, own: &str) -> bool {
        if self.0.off.get() {
            return false;
        }
        let done = self.0.shelf.clear(&name_of::<R>(own)).map_err(trouble_of);
        done.map_err(|trouble| self.tell(trouble)).is_ok()
    }

    /// The text of a record of which there are several, not yet read; none where it is damaged or newer than this page.
    pub fn text_at<R: Record>(&self, own: &str) -> Option<String> {
        let line = self.line::<R>(own).unwrap_or_else(|trouble| {
            self.tell(trouble);
            None
        })?;
        match opened::<R>(&line) {
            Ok((_, text)) => Some(text.into()),
            Err(trouble) => {
                self.tell(trouble);
                None
            }
        }
    }

    fn line<R: Record>(&self, own: &str) -> Result<Option<String>, Trouble> {
        if self.0.off.get() {
            return Err(Trouble::Off);
        }
        self.0.shelf.get(&name_of::<R>(own)).map_err(trouble_of)
    }

    fn look<R: Record>(&self, own: &str) -> Result<Option<R>, Trouble> {
        self.line::<R>(own)?.map(|text| decode(&text)).transpose()
    }

    fn tell(&self, trouble: Trouble) {
        self.0.off.set(self.0.off.get() || trouble == Trouble::Off);
        if !self.0.told.borrow().contains(&trouble) {
            self.0.told.borrow_mut().push(trouble);
            (self.0.report)(trouble);
        }
    }
}

fn trouble_of(refusal: Refusal) -> Trouble {
    match refusal {
        Refusal::Off => Trouble::Off,
        Refusal::Full => Trouble::Full,
    }
}

fn name_of<R: Record>(own: &str) -> String {
    if own.is_empty() { format!("volute.{}", R::NAME) } else { format!("volute.{}.{own}", R::NAME) }
}

fn encode(version: u32, text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 24);
    // Writing to a string does not fail.
    let _ = write!(out, "{version}:{:016x}:{text}", checksum(version, text));
    out
}

fn decode<R: Record>(line: &str) -> Result<R, Trouble> {
    let (version, text) = opened::<R>(line)?;
    R::read(version, text).ok_or(Trouble::Damaged(R::NAME))
}

/// Version and text of a line. Errors: damaged, or newer than this page.
fn opened<R: Record>(line: &str) -> Result<(u32, &str), Trouble> {
    let damaged = Trouble::Damaged(R::NAME);
    let mut parts = line.splitn(3, ':');
    let (Some(version), Some(sum), Some(text)) = (parts.next(), parts.next(), parts.next()) else {
        return Err(damaged);
    };
    let version = version.parse().map_err(|_| damaged)?;
    if u64::from_str_radix(sum, 16) != Ok(checksum(version, text)) {
        return Err(damaged);
    }
    if R::VERSION < version {
        return Err(Trouble::Newer(R::NAME));
    }
    Ok((version, text))
}

/// A checksum of version and text. It finds a cut or a flipped letter; it protects against nobody.
fn checksum(version: u32, text: &str) -> u64 {
    fnv(version.to_string().bytes().chain([b':']).chain(text.bytes()))
}

pub use in_browser::{for_this_visit, open};

/// The browser's `localStorage` as a shelf.
mod in_browser {
    use super::{Refusal, Shelf, Store, Trouble};
    use std::cell::{Cell, RefCell};
    use std::collections::BTreeMap;
    use web_sys::{Storage, Window};

    thread_local! {
        static VISIT_ONLY: Cell<bool> = const { Cell::new(false) };
    }

    /// From now on nothing is kept longer than this visit. A learning platform that keeps what is done asks for it: other people
    /// may learn at the same machine.
    pub fn for_this_visit() {
        VISIT_ONLY.set(true);
    }

    /// The store of this page. `report` hears of each trouble once, as soon as something is read or kept.
    pub fn open(report: impl Fn(Trouble) + 'static) -> Store {
        if VISIT_ONLY.get() { Store::new(Passing, report) } else { Store::new(LocalStorage, report) }
    }

    /// A shelf for one visit; all stores of the page share it.
    struct Passing;

    thread_local! {
        static PASSING: RefCell<BTreeMap<String, String>> = const { RefCell::new(BTreeMap::new()) };
    }

    impl Shelf for Passing {
        fn get(&self, name: &str) -> Result<Option<String>, Refusal> {
            Ok(PASSING.with_borrow(|kept| kept.get(name).cloned()))
        }

        fn put(&self, name: &str, text: &str) -> Result<(), Refusal> {
            PASSING.with_borrow_mut(|kept| kept.insert(name.into(), text.into()));
            Ok(())
        }

        fn clear(&self, name: &str) -> Result<(), Refusal> {
            PASSING.with_borrow_mut(|kept| kept.remove(name));
            Ok(())
        }
    }

    struct LocalStorage;

    impl LocalStorage {
        /// The storage, asked for each time: a learner may allow or forbid it meanwhile. Reading the property may throw.
        fn storage() -> Result<Storage, Refusal> {
            web_sys::window().and_then(|window: Window| window.local_storage().ok().flatten()).ok_or(Refusal::Off)
        }
    }

    impl Shelf for LocalStorage {
        fn get(&self, name: &str) -> Result<Option<String>, Refusal> {
            Self::storage()?.get_item(name).map_err(|_| Refusal::Off)
        }

        fn put(&self, name: &str, text: &str) -> Result<(), Refusal> {
            // The one reason to refuse a text from a shelf that can be read is its size.
            Self::storage()?.set_item(name, text).map_err(|_| Refusal::Full)
        }

        fn clear(&self, name: &str) -> Result<(), Refusal> {
            Self::storage()?.remove_item(name).map_err(|_| Refusal::Off)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[derive(Debug, PartialEq)]
    struct Theme(String);

    impl Record for Theme {
        const NAME: &'static str = "theme";
        const VERSION: u32 = 2;

        fn text(&self) -> String {
            self.0.clone()
        }

        fn read(version: u32, text: &str) -> Option<Self> {
            // The first version wrote capitals.
            let text = if version == 1 { text.to_lowercase() } else { text.into() };
            (!text.contains('?')).then_some(Self(text))
        }
    }

    #[derive(Default)]
    struct Fake {
        texts: RefCell<BTreeMap<String, String>>,
        off: Cell<bool>,
        room: Cell<Option<usize>>,
        asked: Cell<u32>,
    }

    impl Shelf for Rc<Fake> {
        fn get(&self, name: &str) -> Result<Option<String>, Refusal> {
            self.asked.set(self.asked.get() + 1);
            if self.off.get() { Err(Refusal::Off) } else { Ok(self.texts.borrow().get(name).cloned()) }
        }

        fn put(&self, name: &str, text: &str) -> Result<(), Refusal> {
            if self.room.get().is_some_and(|room| room < text.len()) {
                return Err(Refusal::Full);
            }
            self.texts.borrow_mut().insert(name.into(), text.into());
            Ok(())
        }

        fn clear(&self, name: &str) -> Result<(), Refusal> {
            self.texts.borrow_mut().remove(name);
            Ok(())
        }
    }

    /// A store, its shelf, and what it has reported.
    fn fresh() -> (Store, Rc<Fake>, Rc<RefCell<Vec<Trouble>>>) {
        let (fake, told) = (Rc::new(Fake::default()), Rc::new(RefCell::new(Vec::new())));
        let hear = told.clone();
        (Store::new(fake.clone(), move |trouble| hear.borrow_mut().push(trouble)), fake, told)
    }

    fn dark() -> Theme {
        Theme("dark".into())
    }

    #[test]
    fn what_is_kept_comes_back() {
        for text in ["dark", "", "a:b:c", "Größe → π\n\"'", &"x".repeat(100_000)] {
            let (store, _, told) = fresh();
            assert_eq!(store.get::<Theme>(), None);
            assert!(store.set(&Theme(text.into())));
            assert_eq!(store.get(), Some(Theme(text.into())));
            assert!(store.remove::<Theme>());
            assert_eq!(store.get::<Theme>(), None);
            assert!(told.borrow().is_empty());
        }
    }

    #[test]
    fn several_of_a_kind_are_kept_apart() {
        let (store, _, told) = fresh();
        assert!(
            store.set(&dark())
                && store.set_at("one", &Theme("one".into()))
                && store.set_at("two", &Theme("two".into()))
        );
        assert_eq!(store.get_at("one"), Some(Theme("one".into())));
        assert!(store.remove_at::<Theme>("one"));
        assert_eq!(
            (store.get_at::<Theme>("one"), store.get_at("two"), store.get()),
            (None, Some(Theme("two".into())), Some(dark()))
        );
        assert!(told.borrow().is_empty());
    }

    #[test]
    fn an_earlier_version_is_still_read() {
        let (store, fake, told) = fresh();
        fake.texts.borrow_mut().insert("volute.theme".into(), encode(1, "DARK"));
        assert_eq!(store.get(), Some(dark()));
        assert!(told.borrow().is_empty());
    }

    #[test]
    fn a_later_version_is_neither_read_nor_replaced() {
        let (store, fake, told) = fresh();
        let later = encode(3, "dark, and more");
        fake.texts.borrow_mut().insert("volute.theme".into(), later.clone());
        assert_eq!(store.get::<Theme>(), None);
        assert!(!store.set(&dark()));
        assert_eq!(fake.texts.borrow()["volute.theme"], later);
        assert_eq!(*told.borrow(), [Trouble::Newer("theme")], "told once");
        assert!(store.remove::<Theme>() && store.set(&dark()), "who asks to forget it can");
    }

    #[test]
    fn a_damaged_record_is_told_once_and_replaced() {
        let good = encode(2, "dark");
        let cut_and_flipped = (0..good.len()).map(|at| good[..at].to_string()).chain((0..good.len()).map(|at| {
            let mut bytes = good.clone().into_bytes();
            bytes[at] ^= 1;
            String::from_utf8(bytes).expect("still ASCII")
        }));
        for line in cut_and_flipped.chain(["{}", "::", "2::dark", "-1:0:x", "99999999999:0:x", "π"].map(String::from))
        {
            let (store, fake, told) = fresh();
            fake.texts.borrow_mut().insert("volute.theme".into(), line.clone());
            assert_eq!((store.get::<Theme>(), store.get::<Theme>()), (None, None), "{line}");
            assert_eq!(*told.borrow(), [Trouble::Damaged("theme")], "{line}");
            assert!(store.set(&dark()), "{line}");
            assert_eq!(store.get(), Some(dark()));
        }
        // Whole, but not what the record takes.
        let (store, fake, told) = fresh();
        fake.texts.borrow_mut().insert("volute.theme".into(), encode(2, "?"));
        assert_eq!(store.get::<Theme>(), None);
        assert_eq!(*told.borrow(), [Trouble::Damaged("theme")]);
    }

    #[test]
    fn a_shelf_that_is_off_is_told_once_and_asked_once() {
        let (store, fake, told) = fresh();
        fake.off.set(true);
        assert_eq!(store.get::<Theme>(), None);
        assert!(!store.set(&dark()) && !store.remove::<Theme>());
        assert_eq!(*told.borrow(), [Trouble::Off]);
        assert_eq!(fake.asked.get(), 1);
    }

    #[test]
    fn a_full_shelf_keeps_what_it_had() {
        let (store, fake, told) = fresh();
        assert!(store.set(&dark()));
        fake.room.set(Some(30));
        assert!(!store.set(&Theme("x".repeat(50))) && !store.set(&Theme("x".repeat(60))));
        assert_eq!(store.get(), Some(dark()));
        assert_eq!(*told.borrow(), [Trouble::Full]);
        assert!(store.set(&Theme("light".into())), "a shorter one still fits");
    }

    #[test]
    fn every_trouble_is_a_sentence_for_people() {
        for trouble in [Trouble::Off, Trouble::Full, Trouble::Damaged("pins"), Trouble::Newer("pins")] {
            let text = trouble.to_string();
            assert!(text.ends_with('.') && text.len() > 40 && !text.contains("Storage"), "{text}");
        }
    }
}
