//! An assignment: what a class is to do, as a text that is short enough for a link.
//!
//! `assignment=1&title=Monday&do=more-boost-less-torque,other-lesson/its-checkpoint&numbers=own&pass=70&end`: words that can be
//! read and corrected by hand. The version comes first and `end` last, so that a link that a mail program has cut off is
//! noticed. What has its usual value is left out. Nothing in it is secret, and nothing can be enforced: the learner's own
//! browser reads and follows it.

use crate::catalog::Catalog;
use crate::escape;
use crate::fnv::fnv;
use crate::ids::good_id;
use crate::lesson::Lesson;
use crate::paths::{self, Quantity};
use crate::said::{self, Filling, Sentence};
use crate::seed::{Seed, splitmix64};
use std::fmt;

/// The version that is written.
const VERSION: &str = "1";
/// The word that an assignment begins with: what stands before it in a link belongs to the bench.
pub const BEGIN: &str = "assignment=";
/// Longest text of an assignment, in bytes.
pub const LONGEST: usize = 8192;
/// Most lessons and checkpoints in one assignment.
pub const MOST_ITEMS: usize = 60;
/// Longest title, in characters.
pub const LONGEST_TITLE: usize = 120;
/// Longest message to the class, in characters.
pub const LONGEST_MESSAGE: usize = 2000;
/// Most goes that can be allowed at one checkpoint.
pub const MOST_ATTEMPTS: u32 = 20;
/// Pass mark when nothing is said, per cent.
pub const USUAL_PASS_PCT: u32 = 70;
/// Most quantities or views that can be hidden.
const MOST_HIDDEN: usize = 40;

/// What is allowed as the name of a part, for messages.
const PARTS: &str = "title, do, numbers, attempts, hints, hide, views, pass, closes, message, end";

/// An assignment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assignment {
    /// What the class calls it; may be empty.
    pub title: String,
    /// Lessons and single checkpoints in the order in which they are to be done, at least one.
    pub items: Vec<Item>,
    /// Whose numbers each learner gets.
    pub numbers: Numbers,
    /// Goes that a learner has at each checkpoint, a go being one draw of numbers with its tries; nothing for any number.
    pub attempts: Option<u32>,
    /// Whether hints may be taken.
    pub hints: bool,
    /// Quantities that the bench does not show, by the lessons' names, beyond what each lesson hides.
    pub hide: Vec<String>,
    /// Views that the bench does not offer, by the page's names for them.
    pub hide_views: Vec<String>,
    /// Share of the points that passes, per cent.
    pub pass_pct: u32,
    /// When it is due. Shown, not enforced.
    pub closes: Option<Due>,
    /// A message to the class; may be empty.
    pub message: String,
}

/// One thing to be done.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Item {
    /// Id of the lesson.
    pub lesson: String,
    /// The one checkpoint or task of it that is asked; nothing for the whole lesson.
    pub only: Option<String>,
}

/// Whose numbers each learner gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Numbers {
    /// Everybody the same.
    Same(Seed),
    /// Every learner own ones, which stay.
    Own,
    /// Every learner own ones, and new ones each time a lesson is begun again.
    New,
}

/// A day, and perhaps a time of it, as the instructor's clock has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Due {
    /// From 2000 to 2199.
    pub year: u16,
    /// 1 to 12.
    pub month: u8,
    /// From 1.
    pub day: u8,
    /// Hour and minute.
    pub time: Option<(u8, u8)>,
}

/// Why a text is no assignment.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum AssignmentError {
    TooLong { bytes: usize },
    NoVersion,
    Version { found: String },
    CutOff,
    Part { part: String },
    Twice { name: &'static str },
    Escape { part: String },
    Value { name: &'static str, value: Filling, allowed: Filling },
    Long { name: &'static str, length: usize, most: usize },
    Empty,
    TooMany { name: &'static str, found: usize, most: usize },
}

impl AssignmentError {
    /// What is wrong, as a template for a page in another language.
    pub fn sentence(&self) -> Sentence {
        use AssignmentError::*;
        match self {
            TooLong { bytes } => Sentence::new(said::ASSIGNMENT_LONG).with("bytes", bytes).with("most", LONGEST),
            NoVersion => Sentence::new(said::ASSIGNMENT_NONE).with("begin", format!("{BEGIN}{VERSION}")),
            Version { found } => {
                Sentence::new(said::OF_VERSION).with("found", format!("`{found}`")).with("version", VERSION)
            }
            CutOff => Sentence::new(said::CUT_OFF),
            Part { part } => Sentence::new(said::NO_PART).with("part", part).with("parts", PARTS),
            Twice { name } => Sentence::new(said::TWICE).with("name", name),
            Escape { part } => Sentence::new(said::ESCAPE).with("part", part),
            Value { name, value, allowed } => Sentence::new(said::NOT_ALLOWED)
                .with("name", name)
                .with_place("value", value.clone())
                .with_place("allowed", allowed.clone()),
            Long { name, length, most } => {
                Sentence::new(said::PART_LONG).with("name", name).with("length", length).with("most", most)
            }
            Empty => Sentence::new(said::NO_LESSON),
            TooMany { name, found, most } => {
                Sentence::new(said::TOO_MANY).with("found", found).with("name", name).with("most", most)
            }
        }
    }
}

impl fmt::Display for AssignmentError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.sentence().fmt(out)
    }
}

impl std::error::Error for AssignmentError {}

/// What an assignment names and this page has not got.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum Unknown {
    #[error("there is no lesson `{lesson}` on this page")]
    Lesson { lesson: String },
    #[error("the lesson `{lesson}` has no checkpoint or task `{only}`")]
    Checkpoint { lesson: String, only: String },
}

impl Assignment {
    /// These lessons as they are: own numbers, any number of goes, hints, pass at [`USUAL_PASS_PCT`].
    pub fn of(items: Vec<Item>) -> Self {
        Assignment {
            title: String::new(),
            items,
            numbers: Numbers::Own,
            attempts: None,
            hints: true,
            hide: Vec::new(),
            hide_views: Vec::new(),
            pass_pct: USUAL_PASS_PCT,
            closes: None,
            message: String::new(),
        }
    }

    /// The text for a link, beginning with [`BEGIN`]. It may be longer than [`LONGEST`], which [`Assignment::check`] says.
    pub fn encode(&self) -> String {
        let mut out = format!("{BEGIN}{VERSION}");
        let mut put = |name: &str, value: &str| {
            out.push('&');
            out.push_str(name);
            out.push('=');
            out.push_str(&escape(value));
        };
        if !self.title.is_empty() {
            put("title", &self.title);
        }
        let items: Vec<String> = self.items.iter().map(Item::to_string).collect();
        put("do", &items.join(","));
        match self.numbers {
            Numbers::Own => {}
            Numbers::Same(seed) => put("numbers", &format!("same:{}", seed.0)),
            Numbers::New => put("numbers", "new"),
        }
        if let Some(attempts) = self.attempts {
            put("attempts", &attempts.to_string());
        }
        if !self.hints {
            put("hints", "no");
        }
        if !self.hide.is_empty() {
            put("hide", &self.hide.join(","));
        }
        if !self.hide_views.is_empty() {
            put("views", &self.hide_views.join(","));
        }
        if self.pass_pct != USUAL_PASS_PCT {
            put("pass", &self.pass_pct.to_string());
        }
        if let Some(due) = self.closes {
            put("closes", &due.to_string());
        }
        if !self.message.is_empty() {
            put("message", &self.message);
        }
        out.push_str("&end");
        out
    }

    /// What keeps this assignment from being read back, if anything does: for a form that is being filled in.
    pub fn check(&self) -> Result<(), AssignmentError> {
        decode(&self.encode()).map(|_| ())
    }

    /// A short name made from all of it: two assignments with the same name are the same.
    pub fn digest(&self) -> String {
        format!("{:016x}", fnv(self.encode().bytes()))
    }

    /// What it names and `catalog` has not got, in order. The rest can be done all the same.
    pub fn unknown(&self, catalog: &Catalog) -> Vec<Unknown> {
        self.items.iter().filter_map(|item| item.find(catalog).err()).collect()
    }

    /// Ids of the lessons that it touches, each once, in order.
    pub fn lessons(&self) -> Vec<&str> {
        let mut ids: Vec<&str> = Vec::new();
        for item in &self.items {
            if !ids.contains(&item.lesson.as_str()) {
                ids.push(&item.lesson);
            }
        }
        ids
    }

    /// Whether this checkpoint or task counts: the whole lesson is asked, or it by itself.
    pub fn asks(&self, lesson: &str, id: &str) -> bool {
        self.items.iter().any(|item| item.lesson == lesson && item.only.as_deref().is_none_or(|only| only == id))
    }

    /// The checkpoints and tasks of `lesson` that are asked one by one; nothing when the whole lesson is, or none of it.
    pub fn single(&self, lesson: &str) -> Option<Vec<&str>> {
        let own: Vec<&Item> = self.items.iter().filter(|item| item.lesson == lesson).collect();
        if own.is_empty() || own.iter().any(|item| item.only.is_none()) {
            return None;
        }
        Some(own.iter().filter_map(|item| item.only.as_deref()).collect())
    }

    /// The seed of a learner whose own number is `learner`, when the lesson is begun for the time `start` (from 0).
    pub fn seed(&self, learner: Seed, start: u32) -> Seed {
        match self.numbers {
            Numbers::Same(seed) => seed,
            Numbers::Own => learner,
            Numbers::New if start == 0 => learner,
            Numbers::New => {
                let mut state = learner.0 ^ u64::from(start).rotate_left(32);
                Seed(1 + splitmix64(&mut state) % 9_999)
            }
        }
    }

    /// Whether a learner who has used `goes` goes at a checkpoint may have another.
    pub fn may_go_again(&self, goes: u32) -> bool {
        self.attempts.is_none_or(|most| goes < most)
    }

    /// The quantities that it hides.
    pub fn hidden(&self) -> Vec<&'static Quantity> {
        self.hide.iter().filter_map(|name| paths::quantity(name)).collect()
    }
}

impl Numbers {
    /// `own`, `new`, or `same:` and a variant number.
    fn read(text: &str) -> Option<Self> {
        match text {
            "own" => Some(Numbers::Own),
            "new" => Some(Numbers::New),
            _ => {
                let number = text.strip_prefix("same:").filter(|number| number.bytes().all(|b| b.is_ascii_digit()))?;
                number.parse().ok().map(|number| Numbers::Same(Seed(number)))
            }
        }
    }
}

impl Item {
    /// `lesson` or `lesson/question`.
    fn read(text: &str) -> Option<Self> {
        let (lesson, only) = match text.split_once('/') {
            Some((lesson, only)) => (lesson, Some(only)),
            None => (text, None),
        };
        let good = good_id(lesson) && only.is_none_or(good_id);
        good.then(|| Item { lesson: lesson.into(), only: only.map(String::from) })
    }

    /// The whole of a lesson.
    pub fn lesson(id: &str) -> Self {
        Item { lesson: id.into(), only: None }
    }

    /// One checkpoint or task of a lesson.
    pub fn single(lesson: &str, only: &str) -> Self {
        Item { lesson: lesson.into(), only: Some(only.into()) }
    }

    /// Its lesson. Errors: the lesson, or the checkpoint in it, does not exist.
    pub fn find<'c>(&self, catalog: &'c Catalog) -> Result<&'c Lesson, Unknown> {
        let lesson = catalog.lesson(&self.lesson).ok_or_else(|| Unknown::Lesson { lesson: self.lesson.clone() })?;
        match &self.only {
            Some(only)
                if !lesson.checkpoints().any(|c| c.id == *only) && !lesson.tasks().any(|task| task.id == *only) =>
            {
                Err(Unknown::Checkpoint { lesson: self.lesson.clone(), only: only.clone() })
            }
            _ => Ok(lesson),
        }
    }
}

impl fmt::Display for Item {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.only {
            Some(only) => write!(out, "{}/{only}", self.lesson),
            None => out.write_str(&self.lesson),
        }
    }
}

impl fmt::Display for Due {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:04}-{:02}-{:02}", self.year, self.month, self.day)?;
        match self.time {
            Some((hour, minute)) => write!(out, "T{hour:02}:{minute:02}"),
            None => Ok(()),
        }
    }
}

impl Due {
    /// Reads `2026-12-01` or `2026-12-01T18:30`. Nothing for a day that does not exist.
    pub fn read(text: &str) -> Option<Self> {
        let (day, time) = match text.split_once('T') {
            Some((day, time)) => (day, Some(time)),
            None => (text, None),
        };
        let time = match time {
            Some(time) => {
                let (hour, minute) = time.split_once(':')?;
                let (hour, minute) = (digits(hour, 2)?, digits(minute, 2)?);
                (hour < 24 && minute < 60).then_some(Some((hour as u8, minute as u8)))?
            }
            None => None,
        };
        let mut parts = day.splitn(3, '-');
        let (year, month, day) = (digits(parts.next()?, 4)?, digits(parts.next()?, 2)?, digits(parts.next()?, 2)?);
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let last = match month {
            1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
            4 | 6 | 9 | 11 => 30,
            2 if leap => 29,
            2 => 28,
            _ => return None,
        };
        let real = (2000..2200).contains(&year) && (1..=last).contains(&day);
        real.then_some(Due { year, month: month as u8, day: day as u8, time })
    }
}

fn digits(text: &str, count: usize) -> Option<u16> {
    (text.len() == count && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok())?
}

/// Reads an assignment, with or without `#`. Errors: what is wrong, where, and what is allowed.
pub fn decode(text: &str) -> Result<Assignment, AssignmentError> {
    let text = text.strip_prefix('#').unwrap_or(text);
    if text.len() > LONGEST {
        return Err(AssignmentError::TooLong { bytes: text.len() });
    }
    let rest = text.strip_prefix(BEGIN).ok_or(AssignmentError::NoVersion)?;
    let mut parts = rest.split('&');
    match parts.next() {
        Some(VERSION) => {}
        Some(found) => return Err(AssignmentError::Version { found: clip(found) }),
        None => return Err(AssignmentError::NoVersion),
    }
    let parts: Vec<&str> = parts.collect();
    let parts = match parts.split_last() {
        Some((&"end", parts)) => parts,
        _ => return Err(AssignmentError::CutOff),
    };
    let mut assignment = Assignment::of(Vec::new());
    let mut seen: Vec<&'static str> = Vec::new();
    for part in parts {
        let unknown = || AssignmentError::Part { part: clip(part) };
        let (name, value) = part.split_once('=').ok_or_else(unknown)?;
        let name = PARTS.split(", ").find(|known| *known == name && name != "end").ok_or_else(unknown)?;
        if seen.contains(&name) {
            return Err(AssignmentError::Twice { name });
        }
        seen.push(name);
        let value = unescape(value).ok_or_else(|| AssignmentError::Escape { part: clip(part) })?;
        assignment.take(name, &value)?;
    }
    if assignment.items.is_empty() {
        return Err(AssignmentError::Empty);
    }
    Ok(assignment)
}

impl Assignment {
    fn take(&mut self, name: &'static str, value: &str) -> Result<(), AssignmentError> {
        let or = |allowed: &'static str| move || refused(name, value, Sentence::new(allowed));
        let whole = |least: u32, most: u32, allowed: Sentence| {
            let plain = !value.is_empty() && value.bytes().all(|b| b.is_ascii_digit());
            let number = if plain { value.parse().ok() } else { None };
            number.filter(|n| (least..=most).contains(n)).ok_or_else(|| refused(name, value, allowed))
        };
        match name {
            "title" => self.title = words(name, value, LONGEST_TITLE, false)?,
            "message" => self.message = words(name, value, LONGEST_MESSAGE, true)?,
            "do" => {
                let example = "absolute-first,boost-is-not-air/outlet-temperature";
                let fault = || refused(name, value, Sentence::new(said::ALLOWED_ITEMS).with("example", example));
                let items = list(name, value, MOST_ITEMS)?;
                self.items = items.map(|item| Item::read(item).ok_or_else(fault)).collect::<Result<_, _>>()?;
            }
            "numbers" => self.numbers = Numbers::read(value).ok_or_else(or(said::ALLOWED_NUMBERS))?,
            "attempts" => {
                let allowed = Sentence::new(said::ALLOWED_WHOLE).with("least", 1).with("most", MOST_ATTEMPTS);
                self.attempts = Some(whole(1, MOST_ATTEMPTS, allowed)?);
            }
            "hints" => {
                self.hints = match value {
                    "yes" => true,
                    "no" => false,
                    _ => return Err(or(said::ALLOWED_YES)()),
                };
            }
            "hide" => {
                let known = |quantity| {
                    let all = || paths::QUANTITIES.iter().map(|q| q.key).collect::<Vec<_>>().join(", ");
                    let found = paths::quantity(quantity).map(|known| known.key.to_string());
                    found.ok_or_else(|| refused(name, quantity, all()))
                };
                self.hide = list(name, value, MOST_HIDDEN)?.map(known).collect::<Result<_, _>>()?;
            }
            "views" => {
                let view = |view: &str| good_id(view).then(|| view.to_string()).ok_or_else(or(said::ALLOWED_VIEWS));
                self.hide_views = list(name, value, MOST_HIDDEN)?.map(view).collect::<Result<_, _>>()?;
            }
            "pass" => self.pass_pct = whole(0, 100, Sentence::new(said::ALLOWED_PER_CENT))?,
            "closes" => self.closes = Some(Due::read(value).ok_or_else(or(said::ALLOWED_DAY))?),
            _ => return Err(AssignmentError::Part { part: name.into() }),
        }
        Ok(())
    }
}

fn refused(name: &'static str, value: &str, allowed: impl Into<Filling>) -> AssignmentError {
    AssignmentError::Value { name, value: clip(value).into(), allowed: allowed.into() }
}

/// A text for people: no control characters, line ends only if `lines` says so, no marks that change the direction of writing.
fn words(name: &'static str, value: &str, most: usize, lines: bool) -> Result<String, AssignmentError> {
    let length = value.chars().count();
    if length > most {
        return Err(AssignmentError::Long { name, length, most });
    }
    let bad = |c: char| {
        (c.is_control() && !(lines && c == '\n')) || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if let Some(c) = value.chars().find(|c| bad(*c)) {
        let value = Sentence::new(said::LONE_SIGN).with("code", format!("{:04X}", u32::from(c))).into();
        let allowed = Sentence::new(if lines { said::ALLOWED_LINES } else { said::ALLOWED_SIGNS }).into();
        return Err(AssignmentError::Value { name, value, allowed });
    }
    Ok(value.into())
}

fn list<'t>(name: &'static str, value: &'t str, most: usize) -> Result<impl Iterator<Item = &'t str>, AssignmentError> {
    let found = value.split(',').count();
    if found > most {
        return Err(AssignmentError::TooMany { name, found, most });
    }
    Ok(value.split(','))
}

/// A space as `+`, everything but letters, digits and what a link may hold unharmed as percent escapes of UTF-8.
fn escape(text: &str) -> String {
    let stays = |c| escape::unreserved(c) || matches!(c, ',' | '/' | ':' | ' ');
    escape::escape(text, stays).replace(' ', "+")
}

fn unescape(text: &str) -> Option<String> {
    escape::unescape(&text.replace('+', " "))
}

/// The beginning of a text from outside, for a message.
fn clip(text: &str) -> String {
    let mut out: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
    if out.len() < text.len() {
        out.push('…');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn full() -> Assignment {
        Assignment {
            title: "Monday: p2 & p3, 50 % = half?".into(),
            items: vec![Item::lesson("more-boost-less-torque"), Item::single("boost-is-not-air", "density")],
            numbers: Numbers::Same(Seed(4711)),
            attempts: Some(2),
            hints: false,
            hide: vec!["p3".into(), "boost".into()],
            hide_views: vec!["sweep".into()],
            pass_pct: 80,
            closes: Due::read("2026-12-01T18:30"),
            message: "Read the safety box first.\nÜbung: 1 + 1 = 2 #ok?".into(),
        }
    }

    #[test]
    fn regress_links_open_for_ever() {
        // Pinned by choice: people have such links.
        let link = "assignment=1&title=Monday:+p2+%26+p3,+50+%25+%3D+half%3F&do=more-boost-less-torque,boost-is-not-air/density&numbers=same:4711&attempts=2&hints=no&hide=p3,boost&views=sweep&pass=80&closes=2026-12-01T18:30&message=Read+the+safety+box+first.%0A%C3%9Cbung:+1+%2B+1+%3D+2+%23ok%3F&end";
        assert_eq!(decode(link), Ok(full()));
        assert_eq!(full().encode(), link);
        assert_eq!(decode("#assignment=1&do=too-far&end"), Ok(Assignment::of(vec![Item::lesson("too-far")])));
    }

    #[test]
    fn by_hand_what_is_wrong_is_said() {
        for (link, cause) in [
            ("", "does not begin with `assignment=1`"),
            ("v=1&vane=50", "does not begin with"),
            ("assignment=2&do=a&end", "version `2`"),
            ("assignment=&do=a&end", "version ``"),
            ("assignment=1&do=a", "cut off"),
            ("assignment=1&do=a&en", "cut off"),
            ("assignment=1&end", "no lesson"),
            ("assignment=1&do=&end", "list of lesson ids"),
            ("assignment=1&do=A+B&end", "list of lesson ids"),
            ("assignment=1&do=a/b/c&end", "list of lesson ids"),
            ("assignment=1&do=../x&end", "list of lesson ids"),
            ("assignment=1&do=a&do=b&end", "`do` stands in it twice"),
            ("assignment=1&do=a&colour=red&end", "`colour=red` is no part of an assignment; allowed are title, do"),
            ("assignment=1&do=a&end=1&end", "no part of an assignment"),
            ("assignment=1&do=a&title&end", "`title` is no part"),
            ("assignment=1&do=a&title=%4&end", "percent sign"),
            ("assignment=1&do=a&title=%FF&end", "percent sign"),
            ("assignment=1&do=a&title=a%0Ab&end", "U+000A"),
            ("assignment=1&do=a&message=a%E2%80%AEb&end", "U+202E"),
            ("assignment=1&do=a&numbers=same:&end", "variant number"),
            ("assignment=1&do=a&numbers=same:-1&end", "variant number"),
            ("assignment=1&do=a&numbers=same:99999999999999999999&end", "variant number"),
            ("assignment=1&do=a&attempts=0&end", "from 1 to 20"),
            ("assignment=1&do=a&attempts=1e1&end", "from 1 to 20"),
            ("assignment=1&do=a&hints=maybe&end", "`yes` or `no`"),
            ("assignment=1&do=a&hide=p3,nonsense&end", "`hide=nonsense` is not allowed; allowed is torque, power"),
            ("assignment=1&do=a&pass=101&end", "from 0 to 100"),
            ("assignment=1&do=a&closes=2026-02-29&end", "a day such as"),
            ("assignment=1&do=a&closes=2026-12-01T24:00&end", "a day such as"),
        ] {
            let error = decode(link).expect_err(link).to_string();
            assert!(error.contains(cause), "{link}: {error}");
        }
        let long = format!("assignment=1&do=a&title={}&end", "x".repeat(121));
        assert_eq!(decode(&long), Err(AssignmentError::Long { name: "title", length: 121, most: 120 }));
        let many = format!("assignment=1&do={}a&end", "a,".repeat(60));
        assert_eq!(decode(&many), Err(AssignmentError::TooMany { name: "do", found: 61, most: 60 }));
        let bomb = format!("assignment=1&do=a&message={}&end", "x".repeat(10_000_000));
        assert!(matches!(decode(&bomb), Err(AssignmentError::TooLong { .. })));
    }

    #[test]
    fn by_hand_who_gets_which_numbers() {
        let of = |numbers| Assignment { numbers, ..full() };
        let (ann, bob) = (Seed(1), Seed(2));
        assert_eq!(of(Numbers::Same(Seed(9))).seed(ann, 3), of(Numbers::Same(Seed(9))).seed(bob, 0));
        assert_eq!((of(Numbers::Own).seed(ann, 0), of(Numbers::Own).seed(ann, 5)), (ann, ann));
        let new = of(Numbers::New);
        assert_eq!(new.seed(ann, 0), ann);
        assert_ne!(new.seed(ann, 1), ann);
        assert_ne!(new.seed(ann, 1), new.seed(ann, 2));
        assert_ne!(new.seed(ann, 1), new.seed(bob, 1));
        assert_eq!(new.seed(ann, 1), new.seed(ann, 1));
    }

    #[test]
    fn by_hand_what_is_asked_of_a_lesson() {
        let a = full();
        assert!(a.asks("more-boost-less-torque", "anything") && a.asks("boost-is-not-air", "density"));
        assert!(!a.asks("boost-is-not-air", "another") && !a.asks("third", "density"));
        assert_eq!(a.single("more-boost-less-torque"), None);
        assert_eq!(a.single("boost-is-not-air"), Some(vec!["density"]));
        assert_eq!(a.lessons(), ["more-boost-less-torque", "boost-is-not-air"]);
        assert!(a.may_go_again(0) && a.may_go_again(1) && !a.may_go_again(2));
        assert_eq!(a.hidden().iter().map(|q| q.key).collect::<Vec<_>>(), ["p3", "boost"]);
    }

    #[test]
    fn by_hand_what_this_page_has_not_got() {
        let catalog = crate::catalog::catalog();
        let known = &catalog.lessons[0];
        let check = &known.checkpoints().next().unwrap().id;
        let items = vec![
            Item::lesson(&known.id),
            Item::single(&known.id, check),
            Item::single(&known.id, "no-such"),
            Item::lesson("no-such-lesson"),
        ];
        let missing: Vec<String> = Assignment::of(items).unknown(catalog).iter().map(Unknown::to_string).collect();
        assert_eq!(missing.len(), 2, "{missing:?}");
        assert!(missing[0].contains("`no-such`") && missing[1].contains("`no-such-lesson`"));
    }

    fn any_id() -> impl Strategy<Value = String> {
        "[a-z][a-z0-9-]{0,20}"
    }

    fn any_assignment() -> impl Strategy<Value = Assignment> {
        let item = (any_id(), proptest::option::of(any_id())).prop_map(|(lesson, only)| Item { lesson, only });
        let numbers = prop_oneof![
            Just(Numbers::Own),
            Just(Numbers::New),
            any::<u64>().prop_map(|seed| Numbers::Same(Seed(seed)))
        ];
        let quantity = (0..paths::QUANTITIES.len()).prop_map(|i| paths::QUANTITIES[i].key.to_string());
        let due = (2000_u16..2200, 1_u8..13, 1_u8..29, proptest::option::of((0_u8..24, 0_u8..60)))
            .prop_map(|(year, month, day, time)| Due { year, month, day, time });
        (
            ("[^\\p{Cc}\\x{202a}-\\x{202e}\\x{2066}-\\x{2069}]{0,60}", "[ -~äöüß→π\n]{0,300}"),
            proptest::collection::vec(item, 1..20),
            (numbers, proptest::option::of(1_u32..=20), any::<bool>(), 0_u32..=100),
            proptest::collection::vec(quantity, 0..5),
            proptest::collection::vec(any_id(), 0..5),
            proptest::option::of(due),
        )
            .prop_map(
                |((title, message), items, (numbers, attempts, hints, pass_pct), hide, hide_views, closes)| {
                    Assignment { title, items, numbers, attempts, hints, hide, hide_views, pass_pct, closes, message }
                },
            )
    }

    proptest! {
        #[test]
        fn identity_what_is_written_is_read(assignment in any_assignment()) {
            let text = assignment.encode();
            prop_assert_eq!(decode(&text), Ok(assignment), "{}", text);
            prop_assert!(text.is_ascii() && !text.contains(['#', ' ', '"', '<', '>', '\'']), "{}", text);
        }

        #[test]
        fn identity_damage_is_an_error_or_an_assignment_but_never_a_panic(
            assignment in any_assignment(), at in any::<prop::sample::Index>(), byte in any::<u8>(), cut in any::<bool>(),
        ) {
            let mut bytes = assignment.encode().into_bytes();
            let at = at.index(bytes.len());
            if cut { bytes.truncate(at) } else { bytes[at] = byte }
            let text = String::from_utf8_lossy(&bytes);
            match decode(&text) {
                Ok(read) => prop_assert_eq!(decode(&read.encode()), Ok(read)),
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
            // Without its last byte no link is taken for whole.
            prop_assert!(!cut || decode(&text).is_err());
        }

        #[test]
        fn identity_no_text_makes_it_panic(text in "\\PC{0,200}", tail in "[a-z0-9=&%+,/:-]{0,200}") {
            let _ = decode(&text);
            let _ = decode(&format!("assignment=1&{tail}&end"));
        }
    }
}
