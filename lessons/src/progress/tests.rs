use super::*;
use crate::catalog::{Catalog, languages};
use crate::lesson::{Lesson, Question, Step};
use crate::mark::{Answer, AnswerError, Detail, LONGEST_ANSWER, Mark, Typed};
use crate::parse::parse;
use crate::seed::Seed;
use crate::sketch::{POINTS, STEPS, Sketch};
use crate::units::Decimal;
use proptest::prelude::*;

/// Lessons that stay as they are, whatever becomes of the lessons that ship.
mod sample {
    use super::*;
    pub fn lesson() -> Lesson {
        parse(include_str!("../../samples/more-boost.md")).unwrap()
    }
    pub fn every_kind() -> Lesson {
        parse(include_str!("../../samples/every-kind.md")).unwrap()
    }
}

fn mark(points: f64, right: bool, misconception: Option<usize>) -> Mark<'static> {
    Mark { right, points, misconception, because: Vec::new(), show: None, detail: Detail::Choice }
}

fn words(letter: char) -> String {
    letter.to_string().repeat(LONGEST_ANSWER / letter.len_utf8())
}

/// Everything answered at the greatest length, several times over, with everything bought and every wrong turn met.
fn full(lesson: &Lesson, letter: char) -> Progress {
    let mut progress = Progress::new(Seed(u64::MAX));
    progress.spent_s = u32::MAX;
    let typed = || Answer::Number(Typed { text: "1".repeat(99), decimal: Decimal::Comma });
    let sketch = || Answer::Sketch(Sketch::of_steps([STEPS; POINTS]).unwrap());
    let longest = |question: &Question| match question {
        Question::Number(_) => typed(),
        Question::Choice(options) => Answer::Choice(options.len() - 1),
        Question::Choices(options) => Answer::Choices((0..options.len()).collect()),
        Question::Order(question) => Answer::Order((0..question.items.len()).collect()),
        Question::Sketch(_) => sketch(),
        Question::Words(_) => Answer::Words(words(letter)),
    };
    for predict in lesson.predictions() {
        // A number of 99 digits is refused by the reader of numbers; here only length counts.
        progress.locked.insert(predict.id.clone(), longest(&predict.question));
    }
    for task in lesson.tasks() {
        for i in 0..task.misconceptions.len() {
            progress.task_missed(&task.id, i);
        }
        for quantity in task.buy.iter().flat_map(|buy| &buy.from) {
            progress.buy(task, quantity);
        }
        task.hints.iter().for_each(|_| {
            progress.take_hint(&task.id, task.hints.len());
        });
        progress.task_done(&task.id);
        progress.sure(&task.id, 100);
    }
    for checkpoint in lesson.checkpoints() {
        progress.take_hint(&checkpoint.id, checkpoint.hints.len());
        for draw in 0..50 {
            if draw > 0 {
                progress.draw_again(&checkpoint.id);
            }
            for _ in 0..2 {
                progress.answered(&checkpoint.id, longest(&checkpoint.question), &mark(2.0 / 3.0, false, Some(3)));
            }
        }
    }
    for step in &lesson.steps {
        if let Step::Transfer(transfer) = step {
            progress.write(&transfer.id, &words(letter)).unwrap();
        }
    }
    progress
}

/// What SCORM 1.2 keeps of a learner: 4096 characters (Run-Time Environment, cmi.suspend_data).
const RESUME_DATA: usize = 4096;

#[test]
fn lesson_progress_of_every_lesson_fits_into_resume_data() {
    let mut lessons: Vec<Lesson> = languages().into_iter().flat_map(|language| Catalog::of(language).lessons).collect();
    lessons.extend([sample::lesson(), sample::every_kind()]);
    for lesson in &lessons {
        // Letters, letters of two and four bytes, and signs that are escaped.
        for letter in ['x', 'ä', '🙂', ';', '%'] {
            let progress = full(lesson, letter);
            assert!(progress.complete(lesson), "{}", lesson.id);
            for words_bytes in [usize::MAX, 60, 0] {
                let text = progress.short_text(words_bytes);
                let read = Progress::read(&text).unwrap_or_else(|error| panic!("{}: {error}", lesson.id));
                // Nothing that counts is lost: points, tries, what is locked and done.
                assert_eq!(read.score(lesson), progress.score(lesson), "{}", lesson.id);
                assert!(read.complete(lesson), "{}", lesson.id);
                assert_eq!(read.tries, progress.tries);
                assert_eq!((read.seed, read.spent_s, &read.hints), (progress.seed, progress.spent_s, &progress.hints));
                assert_eq!(read.short_text(words_bytes), text, "{}: shortened once, it stays as it is", lesson.id);
            }
            let bytes = progress.short_text(0).len();
            assert!(bytes < RESUME_DATA, "{}: {bytes} bytes with {letter:?}", lesson.id);
            // The whole record is whole.
            assert_eq!(Progress::read(&progress.record()).unwrap(), progress, "{}", lesson.id);
        }
    }
}

#[test]
fn by_hand_the_short_form_keeps_short_words_whole() {
    let mut progress = Progress::new(Seed(3));
    progress.write("t", "Boost, 1.5 bar; 20 % more + a bit\nand ünïcode").unwrap();
    let text = progress.short_text(usize::MAX);
    assert_eq!(Progress::read(&text).unwrap(), progress, "{text}");
    assert!(!text.contains('\n') && text.len() < 120, "{text}");
}

#[test]
fn by_hand_hints_cost_a_tenth_each_and_stay() {
    let mut progress = Progress::new(Seed(1));
    assert_eq!(progress.take_hint("c", 2), 1);
    assert_eq!(progress.tried("c", 1.0, true).best, 0.9);
    progress.draw_again("c");
    assert_eq!(progress.take_hint("c", 2), 2);
    assert_eq!(progress.tried("c", 1.0, true).best, 0.9, "the best of all draws");
    assert_eq!(progress.hints("c"), 2);
}

#[test]
fn by_hand_attempts_are_kept_and_end_with_the_draw() {
    let mut progress = Progress::new(Seed(1));
    progress.answered("c", Answer::Choice(2), &mark(0.0, false, Some(2)));
    progress.answered("c", Answer::Choice(1), &mark(1.0, true, None));
    // Over: nothing changes.
    progress.answered("c", Answer::Choice(0), &mark(0.0, false, Some(0)));
    let attempts = progress.attempts("c");
    assert_eq!(attempts.len(), 2);
    assert_eq!((attempts[0].misconception, attempts[0].right), (Some(2), false));
    assert_eq!((&attempts[1].answer, attempts[1].points), (&Some(Answer::Choice(1)), 1.0));
}

#[test]
fn by_hand_a_record_older_than_the_lesson_loses_what_no_longer_fits() {
    let lesson = &sample::lesson();
    let mut progress = Progress::new(Seed(1));
    let predict = lesson.predictions().next().unwrap();
    progress.lock(predict, Answer::Choice(1)).unwrap();
    progress.task_done("raise-boost");
    progress.task_missed("raise-boost", 7);
    progress.task_done("gone");
    progress.tried("gone-too", 1.0, true);
    let fitting = progress.clone().fitting(lesson);
    assert!(fitting.locked(&predict.id).is_some() && fitting.is_task_done("raise-boost"));
    assert!(!fitting.is_task_done("gone") && fitting.tries("gone-too").used == 0);
    assert!(fitting.task("raise-boost").misconceptions.is_empty());
    progress.locked.insert(predict.id.clone(), Answer::Choice(99));
    assert!(progress.fitting(lesson).locked(&predict.id).is_none());
}

#[test]
fn by_hand_damaged_records_are_refused() {
    for (text, says) in [
        ("", "is no version"),
        ("2;1;1", "is no version"),
        ("1;x;1", "record 2"),
        ("1;1", "record 3"),
        ("1;1;1;l,guess", "record 4"),
        ("1;1;1;l,guess,z9", "letter of its kind"),
        ("1;1;1;l,Guess,o1", "an id"),
        ("1;1;1;l,guess,s00", "25 heights"),
        ("1;1;1;k,t,1001,,,", "0 to 1000"),
        ("1;1;1;k,t,,colour,,", "name of a quantity"),
        ("1;1;1;k,t,,,101,", "50 to 100"),
        ("1;1;1;k,t,,,,3+1", "rising order"),
        ("1;1;1;c,c,0,0,0,2,,", "0 or 1"),
        ("1;1;1;c,c,0,0,0,0,,o1", "an attempt for the last answer"),
        ("1;1;1;w,t,%f", "hexadecimal"),
        ("1;1;1;w,t,%ff", "UTF-8"),
        ("1;1;1;q,t,1", "known kind"),
    ] {
        let error = Progress::read(text).unwrap_err().to_string();
        assert!(error.contains(says), "`{text}`: {error}");
    }
    let long = "1".repeat(2 << 20);
    assert!(matches!(Progress::read(&long), Err(ReadProgressError::TooLong { .. })));
}

fn answers() -> impl Strategy<Value = Answer> {
    prop_oneof![
        ("[0-9.,e kPa\\-]{0,20}", any::<bool>()).prop_map(|(text, comma)| Answer::Number(Typed {
            text,
            decimal: if comma { Decimal::Comma } else { Decimal::Point }
        })),
        (0_usize..9).prop_map(Answer::Choice),
        proptest::collection::vec(0_usize..9, 0..5).prop_map(Answer::Choices),
        proptest::collection::vec(0_usize..9, 0..5).prop_map(Answer::Order),
        proptest::array::uniform25(0_u8..=STEPS).prop_map(|steps| Answer::Sketch(Sketch::of_steps(steps).unwrap())),
        "\\PC{0,60}|[;,%+.\n\t ]{0,9}".prop_map(Answer::Words),
    ]
}

#[test]
fn by_hand_a_prediction_is_locked_once_and_opens_its_reveal() {
    let lesson = &sample::lesson();
    let predict = lesson.predictions().next().unwrap();
    let reveal =
        lesson.steps.iter().find_map(|s| if let crate::lesson::Step::Reveal(r) = s { Some(r) } else { None }).unwrap();
    let mut progress = Progress::new(Seed(1));
    assert!(!progress.shows(reveal));
    assert!(progress.steps(lesson).iter().any(|step| matches!(step, Step::Predict(_))));
    assert!(!progress.steps(lesson).iter().any(|step| matches!(step, Step::Reveal(_) | Step::Checkpoint(_))));
    assert!(!progress.covers(lesson, None, None).is_off());
    assert_eq!(
        progress.lock(predict, Locked::Choice(99)),
        Err(LockError::Answer(AnswerError::NoOption { options: 4 }))
    );
    assert_eq!(progress.lock(predict, Locked::Words("up".into())), Err(LockError::Answer(AnswerError::WrongKind)));
    assert_eq!(progress.lock(predict, Locked::Choice(0)), Ok(()));
    assert_eq!(progress.lock(predict, Locked::Choice(3)), Err(LockError::Already));
    assert_eq!(progress.locked(&predict.id), Some(&Locked::Choice(0)));
    assert!(progress.shows(reveal));
    assert_eq!(progress.steps(lesson).len(), lesson.steps.len());
    assert!(progress.covers(lesson, None, None).is_off());
}

#[test]
fn by_hand_two_tries_then_over_then_a_new_draw_keeps_the_best() {
    let mut progress = Progress::new(Seed(1));
    assert!(!progress.tried("c", 0.2, false).over);
    assert!(progress.tried("c", 0.1, false).over);
    assert_eq!(progress.tried("c", 1.0, true), Tries { draw: 0, used: 2, best: 0.2, over: true });
    assert_eq!(progress.draw_again("c"), Tries { draw: 1, used: 0, best: 0.2, over: false });
    assert_eq!(progress.tried("c", 0.9, true), Tries { draw: 1, used: 1, best: 0.9, over: true });
}

proptest! {
    #[test]
    fn identity_any_progress_is_read_as_it_was_written(
        seed in any::<u64>(),
        spent in any::<u32>(),
        locked in proptest::collection::btree_map("[a-z][a-z0-9-]{0,12}", answers(), 0..4),
        tried in proptest::collection::vec(("[a-z]{1,3}", answers(), 0.0..=1.0, any::<bool>(), proptest::option::of(0_usize..9)), 0..12),
        tasks in proptest::collection::vec(("[a-z]{1,3}", 0_usize..5, any::<bool>(), 50_u8..=100), 0..5),
        words in proptest::collection::btree_map("[a-z]{1,6}", "\\PC{1,80}", 0..3),
        words_bytes in 0_usize..200,
    ) {
        let mut progress = Progress::new(Seed(seed));
        progress.spent_s = spent;
        progress.locked = locked;
        for (id, answer, points, right, wrong) in tried {
            if progress.tries(&id).over {
                progress.draw_again(&id);
            }
            progress.answered(&id, answer, &mark(points, right, wrong));
        }
        for (id, wrong, done, sure) in tasks {
            progress.task_missed(&id, wrong);
            progress.take_hint(&id, wrong);
            if done {
                progress.task_done(&id);
                progress.sure(&id, sure);
            }
        }
        progress.words = words;
        prop_assert_eq!(&Progress::read(&progress.record()).unwrap(), &progress);
        let text = progress.short_text(words_bytes);
        prop_assert_eq!(Progress::read(&text).unwrap().short_text(words_bytes), text);
    }

    #[test]
    fn identity_damaged_text_is_an_error_or_a_record(cut in 0_usize..400, at in 0_usize..400, byte in any::<u8>()) {
        let text = full(&sample::every_kind(), 'x').record();
        let mut bytes = text.into_bytes();
        let (cut, at) = (bytes.len() - cut.min(bytes.len()), at.min(bytes.len() - 1));
        bytes[at] = byte;
        bytes.truncate(cut);
        if let Ok(text) = String::from_utf8(bytes)
            && let Ok(progress) = Progress::read(&text)
        {
            prop_assert!(Progress::read(&progress.short_text(60)).is_ok());
        }
    }

    #[test]
    fn identity_any_text_is_an_error_or_a_record(text in "1;[0-9]{1,3};[0-9]{1,3}(;[lkchw],[a-z]{1,3}(,[a-z0-9.+%-]{0,6}){0,6}){0,4}|\\PC{0,60}") {
        let _ = Progress::read(&text);
    }
}
