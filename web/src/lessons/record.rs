//! What the device keeps of a lesson, and the file that takes it to another device. No browser here.

use super::session::Source;
use crate::language::{t, tf};
use crate::refusals::Says;
use crate::store::Record;
use volute_lessons::fnv::fnv;
use volute_lessons::lesson::Lesson;
use volute_lessons::progress::Progress;

/// How far a learner is in a lesson, and where the bench stood.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Kept {
    /// How far.
    pub progress: Progress,
    /// How far in a word, for the list, which has no lesson's text.
    pub state: KeptState,
    /// The stage or task that was on, by its id; empty for none.
    pub active: String,
    /// The bench, as a link has it; empty where none was kept.
    pub bench: String,
}

/// How far a learner is with a lesson, in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum KeptState {
    /// Something was done.
    #[default]
    Begun,
    /// Everything was tried; points in per cent.
    Done(u8),
}

impl KeptState {
    /// That of a lesson.
    pub fn of(progress: &Progress, lesson: &Lesson) -> Self {
        if progress.complete(lesson) {
            KeptState::Done((100.0 * progress.score(lesson)).round() as u8)
        } else {
            KeptState::Begun
        }
    }

    /// That of a kept record, without reading the rest of it.
    pub fn of_record(record: &str) -> Option<Self> {
        Self::read(record.split('\n').nth(1)?)
    }

    fn text(self) -> String {
        match self {
            KeptState::Begun => "begun".into(),
            KeptState::Done(points) => format!("done {points}"),
        }
    }

    fn read(text: &str) -> Option<Self> {
        match text.split_once(' ') {
            None if text == "begun" => Some(KeptState::Begun),
            Some(("done", points)) => points.parse().ok().filter(|p| *p <= 100).map(KeptState::Done),
            _ => None,
        }
    }
}

impl Record for Kept {
    const NAME: &'static str = "lesson";
    const VERSION: u32 = 1;

    fn text(&self) -> String {
        // None of the four has line breaks: the record escapes them, ids and links have none.
        format!("{}\n{}\n{}\n{}", self.progress.record(), self.state.text(), self.active, self.bench)
    }

    fn read(_: u32, text: &str) -> Option<Self> {
        let mut lines = text.splitn(4, '\n');
        let progress = Progress::read(lines.next()?).ok()?;
        let state = KeptState::read(lines.next()?)?;
        Some(Self { progress, state, active: lines.next()?.into(), bench: lines.next()?.into() })
    }
}

/// The name under which a lesson is kept.
pub fn name(lesson: &str, source: &Source) -> String {
    format!("{}.{lesson}", source.key())
}

/// Largest progress file that is read, in bytes.
pub const LARGEST_FILE: usize = 4 << 20;

/// First line of a progress file.
const HEAD: &str = "volute progress 1";

/// Why a file is no progress file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileError {
    /// Too large.
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// Something else, or of a later version.
    Head,
    /// A line that is none.
    Line {
        /// Which, from 1.
        line: usize,
    },
    /// The end is missing, or does not fit.
    Damaged,
}

impl Says for FileError {
    fn says(&self) -> String {
        match self {
            FileError::TooLarge { bytes } => tf(
                "This file has {bytes} bytes; a progress file has at most {most}.",
                &[("bytes", &bytes.to_string()), ("most", &LARGEST_FILE.to_string())],
            ),
            FileError::Head => tf(
                "This is no progress file that this page can read: it does not begin with “{head}”.",
                &[("head", HEAD)],
            ),
            FileError::Line { line } => tf(
                "Line {line} of this file cannot be read; a lesson's name, a tab and its record are expected.",
                &[("line", &line.to_string())],
            ),
            FileError::Damaged => {
                t("This file is cut off or was changed on its way: its last line does not fit what stands before.")
                    .into()
            }
        }
    }
}

fn escape(text: &str) -> String {
    text.replace('\\', "\\\\").replace('\n', "\\n").replace('\r', "\\r")
}

fn unescape(text: &str) -> Option<String> {
    let mut out = String::with_capacity(text.len());
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        out.push(match letter {
            '\\' => match letters.next()? {
                '\\' => '\\',
                'n' => '\n',
                'r' => '\r',
                _ => return None,
            },
            letter => letter,
        });
    }
    Some(out)
}

/// A file of lessons and how far the learner is in each: one line each, a checksum at the end.
pub fn file(lessons: &[(String, Kept)]) -> String {
    let mut out = format!("{HEAD}\n");
    for (id, kept) in lessons {
        out.push_str(&format!("{id}\t{}\n", escape(&kept.text())));
    }
    let end = fnv(out.bytes());
    out.push_str(&format!("end {end:016x}\n"));
    out
}

/// Reads such a file. Errors: what is wrong with it, as a sentence.
pub fn read_file(text: &str) -> Result<Vec<(String, Kept)>, FileError> {
    if text.len() > LARGEST_FILE {
        return Err(FileError::TooLarge { bytes: text.len() });
    }
    // An editor or a mail program may have changed the line ends.
    let text = text.trim_start_matches('\u{feff}').replace("\r\n", "\n");
    if text.lines().next() != Some(HEAD) {
        return Err(FileError::Head);
    }
    let (body, end) = text.trim_end().rsplit_once('\n').ok_or(FileError::Damaged)?;
    let body = format!("{body}\n");
    if end != format!("end {:016x}", fnv(body.bytes())) {
        return Err(FileError::Damaged);
    }
    let mut out = Vec::new();
    for (i, line) in body.lines().enumerate().skip(1) {
        let read = || {
            let (id, record) = line.split_once('\t')?;
            Some((id.to_string(), Kept::read(Kept::VERSION, &unescape(record)?)?))
        };
        out.push(read().ok_or(FileError::Line { line: i + 1 })?);
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_lessons::catalog::catalog;
    use volute_lessons::seed::Seed;

    fn kept() -> Kept {
        let lesson = &catalog().lessons[0];
        let mut progress = Progress::new(Seed(77));
        progress.task_done(&lesson.tasks().next().unwrap().id);
        for transfer in lesson.steps.iter().filter_map(|s| s.id()).filter(|id| id.contains("worn")) {
            progress.write(transfer, "first\nsecond, with; signs\t\\ and ü").unwrap();
        }
        Kept { progress, state: KeptState::Done(85), active: "stage".into(), bench: "v=1&vane=80".into() }
    }

    #[test]
    fn identity_what_is_kept_comes_back_from_record_and_file() {
        let kept = kept();
        assert_eq!(Kept::read(1, &kept.text()), Some(kept.clone()));
        assert_eq!(KeptState::of_record(&kept.text()), Some(kept.state));
        let all = [("a".to_string(), kept.clone()), ("b".to_string(), Kept::default())];
        let file = file(&all);
        assert_eq!(read_file(&file).unwrap(), all);
        assert_eq!(read_file(&file.replace('\n', "\r\n")).unwrap(), all, "as another system writes it");
    }

    #[test]
    fn a_damaged_file_is_refused_wherever_the_damage_is() {
        let file = file(&[("a".to_string(), kept())]);
        assert_eq!(read_file(""), Err(FileError::Head));
        assert_eq!(read_file("PK\u{3}\u{4}"), Err(FileError::Head));
        assert!(matches!(read_file(&"x".repeat(LARGEST_FILE + 1)), Err(FileError::TooLarge { .. })));
        for at in 0..file.len() - 1 {
            if file.is_char_boundary(at) {
                assert!(read_file(&file[..at]).is_err(), "cut at {at}");
            }
        }
        for at in (0..file.len() - 1).filter(|at| file.as_bytes()[*at].is_ascii_alphanumeric()) {
            let mut bytes = file.clone().into_bytes();
            bytes[at] ^= 1;
            if let Ok(changed) = String::from_utf8(bytes) {
                assert!(read_file(&changed).is_err(), "changed at {at}: {changed}");
            }
        }
    }
}
