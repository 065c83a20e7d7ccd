//! How far a learner is in every lesson of a package, as one text that the narrowest platform keeps: 4096 characters of ASCII.
//!
//! `1|lesson:record|lesson:record`, a record being [`Progress::text_within`] with its ids as numbers: their places in the
//! lesson. What ASCII cannot hold, and what would be taken for a separator, is `~` with its code and `;`. Where not all of it
//! fits, lessons that are not open lose their answers first, then their words; points and what is done stay.

use std::collections::BTreeMap;
use volute_lessons::lesson::Lesson;
use volute_lessons::progress::{LONGEST_TEXT, Progress};

/// Most characters. SCORM 1.2 allows one more.
pub const LONGEST: usize = 4095;

/// What is kept, and whether any of it had to be left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Memory {
    /// The text.
    pub text: String,
    /// Whether points or what is done did not fit.
    pub lost: bool,
}

/// Writes how far the learner is. `open` is the lesson that keeps its answers longest; `find` gives a lesson by its id.
pub fn write<'l>(
    lessons: &BTreeMap<String, Progress>,
    open: &str,
    find: impl Fn(&str) -> Option<&'l Lesson>,
) -> Memory {
    // How much of each: all of it but for long words, then of others only what cannot be done without.
    for (others, own) in [(Some(LONGEST_TEXT), LONGEST_TEXT), (Some(400), 1200), (None, 1200), (None, 500)] {
        let parts = lessons.iter().map(|(id, progress)| {
            let text = match others {
                _ if id == open => progress.text_within(own),
                Some(most) => progress.text_within(most),
                None => progress.least_text(),
            };
            part(id, &text, find(id))
        });
        let text = format!("1{}", parts.collect::<String>());
        if text.len() <= LONGEST {
            return Memory { text, lost: false };
        }
    }
    // Far more than a course has: as many lessons as fit, the open one first.
    let mut text = String::from("1");
    for (id, progress) in
        lessons.iter().filter(|(id, _)| *id == open).chain(lessons.iter().filter(|(id, _)| *id != open))
    {
        let part = part(id, &progress.least_text(), find(id));
        if text.len() + part.len() <= LONGEST {
            text.push_str(&part);
        }
    }
    Memory { text, lost: true }
}

/// Reads it: every lesson that can be read. A text that is none gives none, as the first launch does.
pub fn read<'l>(text: &str, find: impl Fn(&str) -> Option<&'l Lesson>) -> BTreeMap<String, Progress> {
    let mut out = BTreeMap::new();
    let mut parts = text.split('|');
    if parts.next() != Some("1") {
        return out;
    }
    for part in parts {
        let Some((id, record)) = part.split_once(':') else { continue };
        let Some(lesson) = find(id) else { continue };
        let record = renamed(&plain(record), |name| {
            let place: Option<usize> = name.parse().ok();
            place.and_then(|place| names(lesson).nth(place)).map_or_else(|| name.into(), str::to_string)
        });
        if let Ok(progress) = Progress::read(&record) {
            out.insert(id.to_string(), progress.fitting(lesson));
        }
    }
    out
}

fn part(id: &str, text: &str, lesson: Option<&Lesson>) -> String {
    let short = renamed(text, |name| {
        let place = lesson.and_then(|lesson| names(lesson).position(|known| known == name));
        place.map_or_else(|| name.into(), |place| place.to_string())
    });
    format!("|{id}:{}", ascii(&short))
}

/// Ids of a lesson in their order. None begins with a digit.
fn names(lesson: &Lesson) -> impl Iterator<Item = &str> {
    lesson.steps.iter().filter_map(|step| step.id())
}

/// A record with other ids: each stands second among the fields of its piece.
fn renamed(record: &str, name: impl Fn(&str) -> String) -> String {
    let pieces = record.split(';').map(|piece| match piece.split_once(',') {
        Some((kind, rest)) => {
            let (id, rest) = rest.split_once(',').map_or((rest, None), |(id, rest)| (id, Some(rest)));
            let rest = rest.map(|rest| format!(",{rest}")).unwrap_or_default();
            format!("{kind},{}{rest}", name(id))
        }
        None => piece.into(),
    });
    pieces.collect::<Vec<_>>().join(";")
}

fn ascii(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, ' '..='~') && !matches!(c, '~' | '|') {
            out.push(c);
        } else {
            out.push_str(&format!("~{:x};", u32::from(c)));
        }
    }
    out
}

fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, tail)) = rest.split_once('~') {
        out.push_str(before);
        let (code, after) = tail.split_once(';').unwrap_or((tail, ""));
        out.push(u32::from_str_radix(code, 16).ok().and_then(char::from_u32).unwrap_or('\u{fffd}'));
        rest = after;
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_lessons::catalog::catalog;
    use volute_lessons::lesson::{CheckpointKind, Prediction, Step};
    use volute_lessons::mark::{Answer, Detail, Mark, Typed};
    use volute_lessons::progress::TRIES;
    use volute_lessons::seed::Seed;
    use volute_lessons::sketch::{POINTS, Sketch};
    use volute_lessons::units::Decimal;

    fn find(id: &str) -> Option<&'static Lesson> {
        catalog().lesson(id)
    }

    /// A learner who has done everything, wrong as often as it goes, in long words.
    fn all_done(lesson: &Lesson, words: &str) -> Progress {
        let mut progress = Progress::new(Seed(u64::MAX));
        progress.spent_s = 99_999;
        let sketch = || Sketch::of_steps([200; POINTS]).expect("a sketch");
        for predict in lesson.predictions() {
            let answer = match &predict.answer {
                Prediction::Choice(options) => Answer::Choice(options.len() - 1),
                Prediction::Short => Answer::Words(words.into()),
                Prediction::Sketch(_) => Answer::Sketch(sketch()),
                Prediction::Order(order) => Answer::Order((0..order.items.len()).collect()),
                Prediction::Number(_) => {
                    Answer::Number(Typed { text: "1850.25 kPa abs".into(), decimal: Decimal::Comma })
                }
            };
            progress.lock(predict, answer).unwrap_or_else(|e| panic!("{}: {e}", lesson.id));
        }
        for task in lesson.tasks() {
            for _ in 0..9 {
                progress.take_hint(&task.id, task.hints.len());
            }
            (0..task.misconceptions.len()).for_each(|i| progress.task_missed(&task.id, i));
            progress.sure(&task.id, 85);
            progress.task_done(&task.id);
        }
        for checkpoint in lesson.checkpoints() {
            for _ in 0..9 {
                progress.take_hint(&checkpoint.id, checkpoint.hints.len());
            }
            for draw in 0..5 {
                for _ in 0..TRIES {
                    let answer = match &checkpoint.kind {
                        CheckpointKind::Number(_) => {
                            Answer::Number(Typed { text: "-1850.25e-3 kPa abs".into(), decimal: Decimal::Comma })
                        }
                        CheckpointKind::Choice(_) => Answer::Choice(1),
                        CheckpointKind::Choices(options) => Answer::Choices((0..options.len()).collect()),
                        CheckpointKind::Order(order) => Answer::Order((0..order.items.len()).collect()),
                        CheckpointKind::Sketch(_) => Answer::Sketch(sketch()),
                        CheckpointKind::Words(_) => Answer::Words(words.into()),
                    };
                    let mark = Mark {
                        right: draw == 4,
                        points: 0.75,
                        misconception: Some(1),
                        because: Vec::new(),
                        show: None,
                        detail: Detail::Words,
                    };
                    progress.answered(&checkpoint.id, answer, &mark);
                }
                if draw < 4 {
                    progress.draw_again(&checkpoint.id);
                }
            }
        }
        for step in &lesson.steps {
            if let Step::Transfer(transfer) = step {
                progress.write(&transfer.id, words).unwrap();
            }
        }
        progress
    }

    #[test]
    fn lesson_every_lesson_fits_with_everything_done() {
        let words = "Übermäßig viele Worte | ~ ; , → ".repeat(40);
        for lesson in &catalog().lessons {
            let progress = all_done(lesson, &words);
            let kept = BTreeMap::from([(lesson.id.clone(), progress.clone())]);
            let memory = write(&kept, &lesson.id, find);
            assert!(
                memory.text.len() < 4096 && memory.text.is_ascii() && !memory.lost,
                "{}: {}",
                lesson.id,
                memory.text.len()
            );
            let back = read(&memory.text, find);
            let back = &back[&lesson.id];
            assert_eq!(
                (back.seed, back.score(lesson), back.complete(lesson)),
                (progress.seed, progress.score(lesson), true),
                "{}",
                lesson.id
            );
            println!("{}: {} of 4096 characters", lesson.id, memory.text.len());
        }
    }

    #[test]
    fn lesson_the_whole_course_fits_with_everything_done() {
        let words = "Long words. ".repeat(150);
        let kept: BTreeMap<String, Progress> =
            catalog().lessons.iter().map(|lesson| (lesson.id.clone(), all_done(lesson, &words))).collect();
        let open = &catalog().lessons[0];
        let memory = write(&kept, &open.id, find);
        println!("{} lessons: {} of 4096 characters", kept.len(), memory.text.len());
        assert!(memory.text.len() < 4096 && !memory.lost, "{}", memory.text.len());
        let back = read(&memory.text, find);
        for lesson in &catalog().lessons {
            let (was, is) = (&kept[&lesson.id], &back[&lesson.id]);
            assert_eq!((is.score(lesson), is.complete(lesson)), (was.score(lesson), true), "{}", lesson.id);
        }
        // The open one keeps its answers.
        let asked = open.checkpoints().next().unwrap();
        assert!(!back[&open.id].attempts(&asked.id).is_empty());
    }

    #[test]
    fn by_hand_short_records_come_back_whole() {
        let lesson = &catalog().lessons[0];
        let progress = all_done(lesson, "ü | ~ → kurz");
        let kept = BTreeMap::from([(lesson.id.clone(), progress.clone())]);
        let back = read(&write(&kept, "", find).text, find);
        assert_eq!(back[&lesson.id].text(), progress.text());
        assert_eq!(write(&BTreeMap::new(), "", find).text, "1");
    }

    #[test]
    fn by_hand_what_is_no_memory_is_none() {
        let lesson = &catalog().lessons[0].id;
        for text in [
            "",
            "1",
            "2|a:1",
            "1|",
            "1|a",
            "1|a:1;1;1",
            &format!("1|{lesson}:"),
            &format!("1|{lesson}:~;~zz"),
            "\u{0}|",
            "1|::|",
        ] {
            assert!(read(text, find).is_empty(), "{text}");
        }
    }

    proptest::proptest! {
        #[test]
        fn identity_no_text_makes_it_panic(text in "[1|:;,~a-z0-9]{0,80}|\\PC{0,80}", tail in "[;,~0-9a-zlckhw+.-]{0,60}") {
            read(&text, find);
            read(&format!("1|{}:1;7;0{tail}", catalog().lessons[0].id), find);
        }

        #[test]
        fn identity_text_is_ascii_and_comes_back(text in "\\PC{0,60}|(?s).{0,40}") {
            let short = ascii(&text);
            proptest::prop_assert!(short.bytes().all(|b| (0x20..0x7f).contains(&b) && b != b'|'));
            proptest::prop_assert_eq!(plain(&short), text);
        }
    }
}
