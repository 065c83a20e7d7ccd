//! Every lesson, as a learner goes through it: predict, see, move the bench, answer wrong, answer right.
//!
//! What is right and what is a known misconception for a variant is worked out natively here; the page works it out in
//! WASM. A checkpoint that judges otherwise shows that the two differ.

use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::catalog;
use volute_lessons::expr;
use volute_lessons::lesson::{Checkpoint, CheckpointKind, Lesson, Prediction, Step};
use volute_lessons::mark::Key;
use volute_lessons::seed::Seed;
use volute_lessons::text::{Inline, Prose};
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::Worked;
use volute_tests::browser::{DESK, PHONE, Page, browse, dist};

/// Whose numbers.
const VARIANT: u64 = 31;

const STYLE: Style = Style { decimal: Decimal::Point, customary: false };

#[test]
fn every_lesson_can_be_worked_through() {
    let lessons = &catalog().lessons;
    assert!(!lessons.is_empty(), "no lessons");
    for lesson in lessons {
        browse(dist(), DESK, async |page| {
            page.open(&format!("#v=1&lesson={}&variant={VARIANT}", lesson.id)).await;
            assert!(page.text("#lesson .crumb").await.contains(&format!("variant {VARIANT}")), "{}", lesson.id);
            let worked = lesson.work_out(Seed(VARIANT), &mut CoreSolver::default()).expect("the lesson's states");
            for step in &lesson.steps {
                match step {
                    Step::Predict(predict) => {
                        let form = format!("[data-predict='{}']", predict.id);
                        let reveals = page.count("[data-reveal]").await;
                        let later = format!("[data-reveal='{}']", predict.id);
                        assert_eq!(page.count(&later).await, 0, "{}: the page tells before it has asked", lesson.id);
                        match predict.answer {
                            Prediction::Choice(_) => page.click(&format!("{form} .opt")).await,
                            Prediction::Short => {
                                page.keys(&format!("{form} textarea"), "The same on both sides.").await
                            }
                            _ => panic!("{}: no way to answer `{}` yet", lesson.id, predict.id),
                        }
                        page.click(&format!("{form} [data-lock]")).await;
                        page.settled().await;
                        assert_eq!(page.count(&format!("{form} [data-lock]")).await, 0, "{}: locked", lesson.id);
                        if lesson
                            .steps
                            .iter()
                            .any(|step| matches!(step, Step::Reveal(reveal) if reveal.after == predict.id))
                        {
                            assert!(
                                page.count("[data-reveal]").await > reveals,
                                "{}: `{}` is shown",
                                lesson.id,
                                predict.id
                            );
                        }
                    }
                    Step::Task(task) => {
                        let css = format!("[data-task='{}']", task.id);
                        let done = format!("document.querySelector(\"{css}\").dataset.done === 'true'");
                        let begin = format!("{}: the task `{}` is not done at the start", lesson.id, task.id);
                        assert_eq!(page.value(&done).await, false, "{begin}");
                        press(page, &css, "show me").await;
                        page.wait(&format!("the task `{}` is done", task.id), &done).await;
                    }
                    Step::Checkpoint(checkpoint) => answer(page, lesson, &worked, checkpoint).await,
                    _ => {}
                }
            }
            page.assert_quiet().await;
        });
    }
}

/// Answers a checkpoint wrong, and is told why; then right.
async fn answer(page: &Page, lesson: &Lesson, worked: &Worked, checkpoint: &Checkpoint) {
    let form = format!("[data-checkpoint='{}']", checkpoint.id);
    let name = format!("{}, `{}`", lesson.id, checkpoint.id);
    let asked = checkpoint.work_out(lesson, worked, 0, &mut CoreSolver::default()).expect("a draw");
    let said = format!("{form} .feedback");
    let because = match (&checkpoint.kind, &asked.key) {
        (CheckpointKind::Number(question), Key::Number { wrong_si, .. }) => {
            let field = format!("#{}-answer", checkpoint.id);
            let wrong = expr::in_print(wrong_si[0], question.measure, question.is_point(), Some(3), STYLE);
            page.keys(&field, &wrong).await;
            press(page, &form, "Check").await;
            page.settled().await;
            assert!(page.text(&said).await.contains("Not that."), "{name}: {wrong} is wrong");
            page.find(&field).await.clear().await.expect("an empty field");
            page.keys(&field, &asked.answer_in_print(STYLE).expect("a number")).await;
            &question.misconceptions[0].because
        }
        (CheckpointKind::Choice(choices), Key::Choice(right)) => {
            let wrong = (right + 1) % choices.len();
            page.click(&format!("{form} .opt:nth-of-type({})", wrong + 1)).await;
            press(page, &form, "Check").await;
            page.settled().await;
            assert!(page.text(&said).await.contains("No."), "{name}: option {wrong} is wrong");
            let because = &choices[wrong].because;
            assert_explained(page, &said, because, &name).await;
            page.click(&format!("{form} .opt:nth-of-type({})", right + 1)).await;
            &choices[*right].because
        }
        other => panic!("{name}: {other:?}"),
    };
    if matches!(checkpoint.kind, CheckpointKind::Number(_)) {
        assert_explained(page, &said, because, &name).await;
    }
    press(page, &form, "Check").await;
    page.settled().await;
    let right = page.value(&format!("document.querySelector(\"{form}\").dataset.right")).await;
    assert_eq!(right, "true", "{name}: {}", page.text(&said).await);
    if matches!(checkpoint.kind, CheckpointKind::Choice(_)) {
        assert_explained(page, &said, because, &name).await;
    }
}

/// The page gives this explanation, by its longest run of plain words.
async fn assert_explained(page: &Page, css: &str, because: &[Prose], name: &str) {
    let words = because.iter().flat_map(|prose| match prose {
        Prose::Paragraph(line) => {
            line.iter().filter_map(|piece| if let Inline::Text(text) = piece { Some(text) } else { None }).collect()
        }
        _ => Vec::new(),
    });
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let longest = flat(words.max_by_key(|text| text.len()).expect("an explanation"));
    let said = flat(&page.text(css).await);
    assert!(said.contains(&longest), "{name}: `{longest}` is missing in `{said}`");
}

/// Presses the button with this label.
async fn press(page: &Page, within: &str, label: &str) {
    let mark = format!(
        "const button = [...document.querySelectorAll(\"{within} button\")].find((button) => button.textContent === '{label}');
         if (button) button.dataset.pressed = ''; return Boolean(button);"
    );
    assert_eq!(page.run(&mark).await, true, "`{within}` has no button `{label}`");
    page.click("[data-pressed]").await;
    page.run("document.querySelector('[data-pressed]')?.removeAttribute('data-pressed');").await;
}

#[test]
fn the_list_opens_a_lesson_and_closing_keeps_the_settings() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        let lesson = &catalog().lessons[0];
        if page.count("#lesson").await == 0 {
            page.click("#lessons").await;
            page.settled().await;
        }
        page.click(&format!("[data-open='{}']", lesson.id)).await;
        page.settled().await;
        assert!(page.text("#lesson .crumb").await.starts_with("Lesson 1 of"));
        let vane = page.value("document.getElementById('vane').value").await;
        page.click("#close-lesson").await;
        page.settled().await;
        assert_eq!(page.value("document.getElementById('vane').value").await, vane);
        page.assert_quiet().await;
    });
}

#[test]
fn axe_finds_nothing_in_an_open_lesson() {
    browse(dist(), DESK, async |page| {
        page.open(&format!("#v=1&lesson={}&variant={VARIANT}", catalog().lessons[0].id)).await;
        for view in [DESK, PHONE] {
            page.look(view).await;
            page.settled().await;
            let findings = page.axe().await;
            assert!(findings.is_empty(), "{view:?}: {findings:#?}");
        }
        page.assert_quiet().await;
    });
}
