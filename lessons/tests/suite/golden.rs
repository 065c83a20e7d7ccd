//! Answers as bits.

use crate::sample;
use volute_lessons::bench::CoreSolver;
use volute_lessons::golden::answers;
use volute_lessons::seed::Seed;

#[test]
fn by_hand_every_question_has_its_line_and_a_seed_its_numbers() {
    let lesson = sample::every_kind();
    let of = |seed| answers(lesson, Seed(seed), &mut CoreSolver::default());
    let text = of(3);
    let asked = lesson.predictions().count() + lesson.tasks().count() + lesson.checkpoints().count();
    assert_eq!(text.lines().count(), 1 + asked, "{text}");
    for kind in ["number", "choice", "choices", "order", "sketch", "words", "shown"] {
        assert!(text.contains(&format!(" {kind}")), "{kind}: {text}");
    }
    assert_eq!(text, of(3));
    assert_ne!(text.lines().next(), of(4).lines().next());
}
