//! How far a learner is in every lesson of a package, as one text that fits the platform with the least room: 4096 characters of
//! ASCII.
//!
//! `1|lesson:record|lesson:record`, a record being [`Progress::short_text`] with its ids as numbers: their places in the
//! lesson. What ASCII cannot hold, and what would be taken for a separator, is `~` with its code and `;`. Where not all of it
//! fits, words are cut short first, then left out, then answers: of lessons that are done before those that are begun, and of the
//! one that is open last. Points and what is done stay.

use std::collections::BTreeMap;
use volute_lessons::assignment::Assignment;
use volute_lessons::lesson::{Lesson, Question, Step};
use volute_lessons::mark::{Answer, Detail, Mark, Typed};
use volute_lessons::progress::{LockError, Progress, TRIES};
use volute_lessons::seed::Seed;
use volute_lessons::sketch::{POINTS, Sketch};
use volute_lessons::units::Decimal;

/// Most characters. SCORM 1.2 allows one more.
pub const LONGEST: usize = 4095;

/// What the text begins with.
const VERSION: &str = "1";

/// Bytes of each of the learner's own texts while they are cut rather than left out. Chosen: a line or two.
const CUT_WORDS: usize = 120;

/// What is kept, and what had to be left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Memory {
    /// The text.
    pub text: String,
    /// The worst that had to be left out.
    pub left: Left,
}

/// What had to be left out because there was no room; what matters least goes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Left {
    /// Nothing.
    #[default]
    Nothing,
    /// Ends of long texts in the learner's own words.
    Words,
    /// Answers to questions, and words altogether. Points and what is done stay.
    Answers,
    /// Whole lessons, their points with them.
    Lessons,
}

/// A lesson as it is written, in forms that hold less and less.
struct Record {
    id: String,
    parts: [String; FORMS],
    form: usize,
}

/// Whole, with words cut, with words left out, with points and what is done alone.
const FORMS: usize = 4;
/// The last form.
const LEAST: usize = FORMS - 1;

impl Record {
    fn of(id: &str, progress: &Progress, lesson: Option<&Lesson>) -> Self {
        let part = |text: String| part(id, &text, lesson);
        let whole = part(progress.short_text(usize::MAX));
        let parts =
            [whole, part(progress.short_text(CUT_WORDS)), part(progress.short_text(0)), part(progress.least_text())];
        Record { id: id.into(), parts, form: 0 }
    }

    fn text(&self) -> &str {
        &self.parts[self.form]
    }

    fn left(&self) -> Left {
        match self.form {
            _ if self.text() == self.parts[0] => Left::Nothing,
            LEAST if self.text() != self.parts[LEAST - 1] => Left::Answers,
            _ => Left::Words,
        }
    }
}

/// Writes how far the learner is. `open` is the lesson that keeps its answers longest; `find` gives a lesson by its id.
pub fn write<'l>(
    lessons: &BTreeMap<String, Progress>,
    open: &str,
    find: impl Fn(&str) -> Option<&'l Lesson>,
) -> Memory {
    let mut records: Vec<Record> = Vec::new();
    // Lessons that are done lose their answers first, and the one that is open last.
    let rank = |id: &String, progress: &Progress| match find(id) {
        _ if id == open => 2,
        Some(lesson) if progress.complete(lesson) => 0,
        _ => 1,
    };
    for rank_now in 0..=2 {
        let own = lessons.iter().filter(|(id, progress)| rank(id, progress) == rank_now);
        records.extend(own.map(|(id, progress)| Record::of(id, progress, find(id))));
    }
    let others = records.iter().filter(|record| record.id != open).count();
    let mut length = VERSION.len() + records.iter().map(|record| record.text().len()).sum::<usize>();
    for range in [0..others, others..records.len()] {
        for form in 1..FORMS {
            for record in &mut records[range.clone()] {
                if length <= LONGEST {
                    break;
                }
                length -= record.text().len();
                record.form = form;
                length += record.text().len();
            }
        }
    }
    let mut left = records.iter().map(Record::left).max().unwrap_or_default();
    // This happens only with far more lessons than a course has: as many as fit are kept, the open one first.
    let mut text = String::from(VERSION);
    for record in records.iter().rev() {
        if text.len() + record.text().len() <= LONGEST {
            text.push_str(record.text());
        } else {
            left = Left::Lessons;
        }
    }
    Memory { text, left }
}

/// A learner who has done all of a lesson with the longest answers, wrong as often as it goes, and these own words: what takes
/// most room. Errors: words that the lesson does not take.
pub fn longest(lesson: &Lesson, words: &str) -> Result<Progress, LockError> {
    let mut progress = Progress::new(Seed(u64::MAX));
    progress.spent_s = 99_999;
    let sketch = || Answer::Sketch(Sketch::of_heights([1.0; POINTS]));
    let typed = |text: &str| Answer::Number(Typed { text: text.into(), decimal: Decimal::Comma });
    for predict in lesson.predictions() {
        let answer = match &predict.question {
            Question::Choice(options) | Question::Choices(options) => Answer::Choice(options.len().saturating_sub(1)),
            Question::Words(_) => Answer::Words(words.into()),
            Question::Sketch(_) => sketch(),
            Question::Order(order) => Answer::Order((0..order.items.len()).collect()),
            Question::Number(_) => typed("1850.25 kPa abs"),
        };
        progress.lock(predict, answer)?;
    }
    for task in lesson.tasks() {
        for _ in 0..task.hints.len() {
            progress.take_hint(&task.id, task.hints.len());
        }
        (0..task.misconceptions.len()).for_each(|i| progress.task_missed(&task.id, i));
        for quantity in task.buy.iter().flat_map(|buy| &buy.from) {
            progress.buy(task, quantity);
        }
        progress.sure(&task.id, 100);
        progress.task_done(&task.id);
    }
    for checkpoint in lesson.checkpoints() {
        for _ in 0..checkpoint.hints.len() {
            progress.take_hint(&checkpoint.id, checkpoint.hints.len());
        }
        for draw in 0..=LAST_DRAW {
            for _ in 0..TRIES {
                let answer = match &checkpoint.question {
                    Question::Number(_) => typed("-1850.25e-3 kPa abs"),
                    Question::Choice(_) => Answer::Choice(1),
                    Question::Choices(options) => Answer::Choices((0..options.len()).collect()),
                    Question::Order(order) => Answer::Order((0..order.items.len()).collect()),
                    Question::Sketch(_) => sketch(),
                    Question::Words(_) => Answer::Words(words.into()),
                };
                let right = draw == LAST_DRAW;
                let (because, detail) = (Vec::new(), Detail::Words);
                let mark = Mark { right, points: 0.75, misconception: Some(1), because, show: None, detail };
                progress.answered(&checkpoint.id, answer, &mark);
            }
            if draw < LAST_DRAW {
                progress.draw_again(&checkpoint.id);
            }
        }
    }
    for step in &lesson.steps {
        if let Step::Transfer(transfer) = step {
            progress.write(&transfer.id, words)?;
        }
    }
    Ok(progress)
}

/// What will have to be left out when everything that an assignment asks has been worked through with many tries and a line or
/// two of own words each: for whoever puts it together.
pub fn foreseen<'l>(assignment: &Assignment, find: impl Fn(&str) -> Option<&'l Lesson>) -> Left {
    let asked: BTreeMap<String, Lesson> = assignment
        .lessons()
        .into_iter()
        .filter_map(|id| {
            let mut lesson = find(id)?.clone();
            if let Some(only) = assignment.single(id) {
                lesson.steps.retain(|step| step.id().is_some_and(|id| only.contains(&id)));
            }
            Some((id.to_string(), lesson))
        })
        .collect();
    let words = "x".repeat(CUT_WORDS);
    // A lesson that does not take such words takes other ones; its room is as good as that of those around it.
    let kept = asked.iter().filter_map(|(id, lesson)| Some((id.clone(), longest(lesson, &words).ok()?))).collect();
    let open = assignment.items.last().map_or("", |item| item.lesson.as_str());
    write(&kept, open, |id| asked.get(id)).left
}

/// Draws after which it is right at last. Chosen: a patient learner.
const LAST_DRAW: u32 = 4;

/// Reads it: every lesson that can be read. A text that is none gives none, as the first launch does.
pub fn read<'l>(text: &str, find: impl Fn(&str) -> Option<&'l Lesson>) -> BTreeMap<String, Progress> {
    let mut out = BTreeMap::new();
    let mut parts = text.split('|');
    if parts.next() != Some(VERSION) {
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
    use volute_lessons::assignment::Item;
    use volute_lessons::catalog::catalog;
    use volute_lessons::mark::LONGEST_ANSWER;

    fn find(id: &str) -> Option<&'static Lesson> {
        catalog().lesson(id)
    }

    fn all_done(lesson: &Lesson, words: &str) -> Progress {
        longest(lesson, words).unwrap_or_else(|e| panic!("{}: {e}", lesson.id))
    }

    /// As many letters as are kept, each of which takes most room.
    fn longest_words() -> String {
        let words = "→".repeat(LONGEST_ANSWER / "→".len());
        assert!(words.len() + 3 > LONGEST_ANSWER);
        words
    }

    /// What came back is what was written, but for answers.
    fn assert_same(was: &Progress, is: &Progress, lesson: &Lesson) {
        let of = |p: &Progress| {
            let tries: Vec<_> = lesson.checkpoints().map(|c| p.tries(&c.id)).collect();
            let tasks: Vec<_> = lesson.tasks().map(|task| p.task(&task.id)).collect();
            let hints: Vec<_> = lesson.steps.iter().filter_map(Step::id).map(|id| p.hints(id)).collect();
            let locked: Vec<_> = lesson.predictions().map(|predict| p.locked(&predict.id).is_some()).collect();
            (p.seed, p.spent_s, p.score(lesson), p.complete(lesson), tries, tasks, hints, locked)
        };
        assert_eq!(of(is), of(was), "{}", lesson.id);
    }

    #[test]
    fn lesson_every_lesson_fits_with_everything_done() {
        for lesson in &catalog().lessons {
            for words in ["Übermäßig viele Worte | ~ ; , → ".repeat(40), longest_words()] {
                let progress = all_done(lesson, &words);
                let kept = BTreeMap::from([(lesson.id.clone(), progress.clone())]);
                let memory = write(&kept, &lesson.id, find);
                assert!(memory.text.len() < 4096 && memory.text.is_ascii(), "{}: {}", lesson.id, memory.text.len());
                assert!(memory.left <= Left::Words, "{}: {:?}", lesson.id, memory.left);
                assert_same(&progress, &read(&memory.text, find)[&lesson.id], lesson);
                println!("{}: {} of 4096 characters, {:?} left out", lesson.id, memory.text.len(), memory.left);
            }
        }
    }

    /// The longest that any learner can bring about: all lessons, the longest answers to everything.
    #[test]
    fn lesson_the_whole_course_fits_with_everything_done() {
        for words in ["Long words. ".repeat(150), longest_words()] {
            let kept: BTreeMap<String, Progress> =
                catalog().lessons.iter().map(|lesson| (lesson.id.clone(), all_done(lesson, &words))).collect();
            for open in &catalog().lessons {
                let memory = write(&kept, &open.id, find);
                println!("{}: {} of 4096 characters, {:?} left out", open.id, memory.text.len(), memory.left);
                assert!(memory.text.len() < 4096 && memory.text.is_ascii(), "{}: {}", open.id, memory.text.len());
                assert_eq!(memory.left, Left::Answers, "{}: points and what is done are never left out", open.id);
                let back = read(&memory.text, find);
                for lesson in &catalog().lessons {
                    assert_same(&kept[&lesson.id], &back[&lesson.id], lesson);
                }
                // The open one keeps its answers.
                let answered = |p: &Progress| open.checkpoints().filter(|c| !p.attempts(&c.id).is_empty()).count();
                assert_eq!(answered(&back[&open.id]), open.checkpoints().count(), "{}", open.id);
            }
        }
    }

    /// Between one lesson and all of them, with each of them open: room that is not enough is never made by cutting points off.
    #[test]
    fn lesson_courses_of_any_length_keep_their_points() {
        for words in ["Long words. ".repeat(150), longest_words(), "short".into()] {
            for count in 1..=catalog().lessons.len() {
                let course = &catalog().lessons[..count];
                let kept: BTreeMap<String, Progress> =
                    course.iter().map(|lesson| (lesson.id.clone(), all_done(lesson, &words))).collect();
                for open in course {
                    let memory = write(&kept, &open.id, find);
                    assert!(memory.text.len() <= LONGEST && memory.left <= Left::Answers, "{count}, {}", open.id);
                    let back = read(&memory.text, find);
                    course.iter().for_each(|lesson| assert_same(&kept[&lesson.id], &back[&lesson.id], lesson));
                }
            }
        }
    }

    /// As a learner goes on from lesson to lesson it grows to what there is room for, and never past it; what is left out gets
    /// more, never less, and of no lesson before it must.
    #[test]
    fn lesson_what_weighs_least_goes_first() {
        let words = "Pressure on both sides first, then shaft speed and fuel. ".repeat(3);
        let mut kept: BTreeMap<String, Progress> = BTreeMap::new();
        let mut worst = Left::Nothing;
        for lesson in &catalog().lessons {
            kept.insert(lesson.id.clone(), all_done(lesson, &words));
            let memory = write(&kept, &lesson.id, find);
            println!("{} lessons: {} characters, {:?} left out", kept.len(), memory.text.len(), memory.left);
            assert!(memory.text.len() <= LONGEST && worst <= memory.left, "{}", lesson.id);
            worst = memory.left;
            let back = read(&memory.text, find);
            let whole =
                kept.iter().filter(|(id, p)| back[*id].short_text(usize::MAX) == p.short_text(usize::MAX)).count();
            assert_eq!(whole == kept.len(), memory.left == Left::Nothing, "{}", lesson.id);
            if memory.left == Left::Answers {
                // The last lesson that lost would have fitted in no more: the room is used.
                let records = kept.iter().map(|(id, progress)| Record::of(id, progress, find(id)));
                let least = records.map(|r| r.parts[LEAST - 1].len() - r.parts[LEAST].len()).max().unwrap();
                assert!(LONGEST - memory.text.len() < least, "{}: {}", lesson.id, memory.text.len());
            }
        }
        assert_eq!(worst, Left::Answers);
        // A lesson that is only begun keeps its answers where the others lose theirs.
        let ten = &catalog().lessons[..10];
        kept.retain(|id, _| ten.iter().any(|lesson| lesson.id == *id));
        let [first, last] = [&ten[0], &ten[9]];
        let begun = first.checkpoints().next().unwrap();
        let mut progress = Progress::new(Seed(3));
        let (because, detail) = (Vec::new(), Detail::Words);
        let mark = Mark { right: false, points: 0.0, misconception: None, because, show: None, detail };
        progress.answered(&begun.id, Answer::Choice(1), &mark);
        kept.insert(first.id.clone(), progress);
        let memory = write(&kept, &last.id, find);
        assert_eq!(memory.left, Left::Answers);
        let back = read(&memory.text, find);
        assert_eq!(back[&first.id].attempts(&begun.id).len(), 1);
    }

    #[test]
    fn lesson_what_has_no_room_is_foreseen() {
        let all: Vec<Item> = catalog().lessons.iter().map(|lesson| Item::lesson(&lesson.id)).collect();
        assert_eq!(foreseen(&Assignment::of(all[..1].to_vec()), find), Left::Nothing);
        assert_eq!(foreseen(&Assignment::of(all), find), Left::Answers);
        // One question of each lesson takes little.
        let single = catalog().lessons.iter().map(|l| Item::single(&l.id, &l.checkpoints().next().unwrap().id));
        assert_eq!(foreseen(&Assignment::of(single.collect()), find), Left::Nothing);
        assert_eq!(foreseen(&Assignment::of(vec![Item::lesson("no-such-lesson")]), find), Left::Nothing);
        for lesson in &catalog().lessons {
            assert!(longest(lesson, &"x".repeat(CUT_WORDS)).is_ok(), "{}", lesson.id);
        }
    }

    /// More lessons than there are: nothing is half written, and it is told.
    #[test]
    fn by_hand_what_has_no_room_at_all_is_told() {
        let lesson = &catalog().lessons[0];
        let progress = all_done(lesson, "words");
        let kept: BTreeMap<String, Progress> = (0..60).map(|i| (format!("lesson-{i}"), progress.clone())).collect();
        let any = |_: &str| Some(lesson);
        let memory = write(&kept, "lesson-7", any);
        assert!(memory.text.len() <= LONGEST && memory.left == Left::Lessons);
        let back = read(&memory.text, any);
        assert!(back.contains_key("lesson-7") && back.len() > 5 && back.len() < 60, "{}", back.len());
        back.values().for_each(|is| assert_same(&progress, is, lesson));
    }

    #[test]
    fn by_hand_short_records_come_back_whole() {
        let lesson = &catalog().lessons[0];
        let progress = all_done(lesson, "ü | ~ → kurz");
        let kept = BTreeMap::from([(lesson.id.clone(), progress.clone())]);
        let memory = write(&kept, "", find);
        let short = |progress: &Progress| progress.short_text(usize::MAX);
        assert_eq!((short(&read(&memory.text, find)[&lesson.id]), memory.left), (short(&progress), Left::Nothing));
        let nothing = write(&BTreeMap::new(), "", find);
        assert_eq!((nothing.text.as_str(), nothing.left), ("1", Left::Nothing));
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
