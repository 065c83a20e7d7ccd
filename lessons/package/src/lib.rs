//! Lessons as packages for a learning management system: the page itself in a SCORM 1.2 or cmi5 zip, and questions as
//! Moodle XML. Bytes in, bytes out: nothing is read or written here, and the same contents give the same package.
//!
//! A package is the built page with one small change: two `meta` elements say that it is one, and what it opens.

pub mod cmi5;
pub mod moodle;
pub mod scorm12;
pub mod site;
pub mod xml;
pub mod zip;

use std::fmt;
use std::str::FromStr;
use volute_lessons::assignment::Assignment;
use volute_lessons::catalog::Catalog;
use volute_lessons::expr::Env;
use volute_lessons::fnv::fnv;
use volute_lessons::text::plain_inline;
use volute_lessons::units::Style;
use zip::{Entry, ZipError};

/// What a package is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// ADL SCORM 1.2.
    Scorm12,
    /// cmi5, Quartz 1st edition.
    Cmi5,
}

impl Kind {
    /// Its name on the command line and in the package.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Scorm12 => "scorm12",
            Kind::Cmi5 => "cmi5",
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Kind {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        [Kind::Scorm12, Kind::Cmi5].into_iter().find(|kind| kind.name() == text).ok_or(())
    }
}

/// What a package says about itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contents {
    /// Its title in the list of the platform.
    pub title: String,
    /// What it is about, in a few sentences.
    pub about: String,
    /// The language of both, such as `en` or `de`.
    pub language: String,
    /// Share of the points that passes, in per cent. Nothing where a learner only has to do everything.
    pub pass_pct: Option<u32>,
    /// The fragment that the page opens with, without `#`.
    pub link: String,
}

impl Contents {
    /// The contents of an assignment. A pass mark of 0 counts as none.
    pub fn of(assignment: &Assignment, catalog: &Catalog, language: &str) -> Self {
        let titles: Vec<String> = assignment.lessons().iter().map(|id| title_of(catalog, id)).collect();
        let title = match (assignment.title.trim(), titles.as_slice()) {
            ("", [one]) => one.clone(),
            ("", many) => format!("Volute: {} lessons", many.len()),
            (title, _) => title.into(),
        };
        let about = match assignment.message.trim() {
            "" => titles.join("; "),
            message => message.into(),
        };
        Self {
            title,
            about,
            language: language.into(),
            pass_pct: Some(assignment.pass_pct).filter(|pct| *pct > 0),
            link: assignment.encode(),
        }
    }

    /// A number made from all of the contents, so that other contents have another number. Each `salt` gives a number of its
    /// own.
    fn digest(&self, salt: &str) -> u64 {
        let pass = self.pass_pct.map(|pct| pct.to_string()).unwrap_or_default();
        let parts = [salt, &self.title, &self.about, &self.language, &pass, &self.link];
        let bytes = parts.iter().flat_map(|part| part.bytes().chain([0xff]));
        fnv(bytes)
    }

    /// A name for exactly these contents that starts with a letter: an XML id, part of a file name.
    pub fn id(&self) -> String {
        format!("volute-{:016x}", self.digest(""))
    }

    fn check(&self) -> Result<(), PackError> {
        if self.title.trim().is_empty() {
            return Err(PackError::NoTitle);
        }
        if let Some(pct) = self.pass_pct.filter(|pct| !(1..=100).contains(pct)) {
            return Err(PackError::PassMark { pct });
        }
        // RFC 5646 allows more. The page needs no more than two or three letters and a region.
        let mut parts = self.language.split('-');
        let good = |part: &str, lengths: std::ops::RangeInclusive<usize>| {
            lengths.contains(&part.len()) && part.bytes().all(|b| b.is_ascii_alphabetic())
        };
        if !parts.next().is_some_and(|part| good(part, 2..=3)) || !parts.all(|part| good(part, 2..=8)) {
            return Err(PackError::Language { language: self.language.clone() });
        }
        Ok(())
    }
}

/// The title of a lesson as plain text; its id if there is no such lesson.
fn title_of(catalog: &Catalog, id: &str) -> String {
    let title = catalog.lesson(id).and_then(|lesson| plain_inline(&lesson.title, &Env::EMPTY, Style::ENGLISH).ok());
    title.unwrap_or_else(|| id.into())
}

/// Why there is no package.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum PackError {
    #[error("the package has no title; write a few words, such as `Week 3: boost and density`")]
    NoTitle,
    #[error("a pass mark of {pct} % is not allowed; allowed are 1 to 100 %, or none")]
    PassMark { pct: u32 },
    #[error("`{language}` is no language; allowed are tags such as `en` or `de-CH`")]
    Language { language: String },
    #[error(transparent)]
    Site(#[from] site::SiteError),
    #[error(transparent)]
    Zip(#[from] ZipError),
}

/// The built page as a package. `site` holds every file of the page; those that a package does not need are left out. Errors:
/// contents that are not allowed, a site that is not the built page, a name that cannot be packed.
pub fn pack(kind: Kind, site: Vec<Entry>, contents: &Contents) -> Result<Vec<u8>, PackError> {
    contents.check()?;
    let mut files = site::in_package(site, kind, &contents.link)?;
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    let manifest = match kind {
        Kind::Scorm12 => Entry::stored(scorm12::MANIFEST, scorm12::manifest(contents, &names)),
        Kind::Cmi5 => Entry::stored(cmi5::STRUCTURE, cmi5::structure(contents)),
    };
    files.insert(0, manifest);
    Ok(zip::pack(&files)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_lessons::assignment::Item;
    use volute_lessons::catalog::catalog;

    #[test]
    fn by_hand_contents_come_from_the_assignment() {
        let lesson = &catalog().lessons[0];
        let mut assignment = Assignment::of(vec![Item::lesson(&lesson.id)]);
        let contents = Contents::of(&assignment, catalog(), "en");
        assert_eq!(contents.title, title_of(catalog(), &lesson.id));
        assert_eq!(contents.pass_pct, Some(70));
        assert_eq!(contents.link, assignment.encode());
        assignment.title = "Monday".into();
        assignment.message = "Read first.".into();
        assignment.pass_pct = 0;
        let other = Contents::of(&assignment, catalog(), "en");
        assert_eq!((other.title.as_str(), other.about.as_str(), other.pass_pct), ("Monday", "Read first.", None));
        assert_ne!(contents.id(), other.id());
    }

    #[test]
    fn by_hand_contents_that_are_not_allowed_are_refused_with_a_reason() {
        let good = Contents {
            title: "t".into(),
            about: String::new(),
            language: "en".into(),
            pass_pct: None,
            link: String::new(),
        };
        assert_eq!(good.check(), Ok(()));
        for (bad, cause) in [
            (Contents { title: " ".into(), ..good.clone() }, "title"),
            (Contents { pass_pct: Some(0), ..good.clone() }, "1 to 100"),
            (Contents { pass_pct: Some(101), ..good.clone() }, "1 to 100"),
            (Contents { language: "".into(), ..good.clone() }, "no language"),
            (Contents { language: "en_US".into(), ..good.clone() }, "no language"),
            (Contents { language: "\"".into(), ..good.clone() }, "no language"),
        ] {
            let error = bad.check().unwrap_err().to_string();
            assert!(error.contains(cause), "{error}");
        }
        assert_eq!(Contents { language: "de-CH".into(), ..good }.check(), Ok(()));
    }
}
