//! Every kind of question, answered right and wrong.

use crate::sample;
use volute_lessons::assignment::{self, Assignment};
use volute_lessons::bench::{Bench, CoreSolver, Solve};
use volute_lessons::lesson::*;
use volute_lessons::mark::*;
use volute_lessons::progress::Progress;
use volute_lessons::seed::Seed;
use volute_lessons::sketch::{self, Sketch};
use volute_lessons::text::plain;
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::Visited;

fn typed(text: &str) -> Answer {
    Answer::Number(Typed { text: text.into(), decimal: Decimal::Point })
}

/// A checkpoint of the lesson with one of everything, for one learner.
fn ask<T>(id: &str, seed: u64, test: impl FnOnce(&Asked) -> T) -> T {
    let lesson = sample::every_kind();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(seed), &mut solver).unwrap();
    let checkpoint = lesson.checkpoints().find(|c| c.id == id).unwrap();
    test(&checkpoint.work_out(lesson, &worked, 0, &mut solver).unwrap())
}

fn said(asked: &Asked, mark: &Mark) -> String {
    mark.because
        .iter()
        .map(|prose| plain(prose, &asked.env(), Style::default()).unwrap())
        .collect::<Vec<_>>()
        .join(" / ")
}

#[test]
fn by_hand_number_with_power_pick_and_if() {
    for seed in 0..6 {
        ask("a-number", seed, |asked| {
            let (k, pr) = (asked.worked.seeds["k"], asked.worked.seeds["pr"]);
            let eta = [0.7, 0.75, 0.8][k as usize - 1];
            let warm = 293.0 * (1.0 + (pr.powf(0.286) - 1.0) / eta);
            let Key::Number(NumberKey { answer_si, wrong_si, .. }) = &asked.key else { panic!("a number") };
            assert!((answer_si - warm).abs() < 1e-9, "{answer_si} {warm}");
            assert!((wrong_si[0] - 293.0 * pr.powf(0.286)).abs() < 1e-9);
            assert!((wrong_si[1] - if pr > 2.0 { 293.0 * pr } else { 20.0 * pr }).abs() < 1e-9);
            let right = asked.mark(&typed(&format!("{warm:.1} K"))).unwrap();
            assert!(right.right && right.points == 1.0 && right.misconception.is_none(), "{right:?}");
            let wrong = asked.mark(&typed(&format!("{:.1} K", wrong_si[0]))).unwrap();
            assert_eq!((wrong.right, wrong.misconception), (false, Some(0)));
            assert_eq!(said(asked, &wrong), "That is the perfect compressor.");
        });
    }
}

#[test]
fn by_hand_choice() {
    ask("a-choice", 1, |asked| {
        assert_eq!(asked.key, Key::Choice(0));
        let right = asked.mark(&Answer::Choice(0)).unwrap();
        assert_eq!((right.right, right.points, right.misconception), (true, 1.0, None));
        // What is shown by default is the checkpoint's own bench.
        assert_eq!(asked.show(&right), asked.worked.benches.get("hill"));
        let wrong = asked.mark(&Answer::Choice(1)).unwrap();
        assert_eq!((wrong.right, wrong.points, wrong.misconception), (false, 0.0, Some(1)));
        assert_eq!(said(asked, &wrong), "That is the absolute pressure.");
        assert_eq!(asked.show(&wrong), asked.worked.benches.get("top"));
        assert_eq!(asked.mark(&Answer::Choice(2)), Err(AnswerError::NoOption { options: 2 }));
        assert_eq!(asked.mark(&typed("1 kPa")), Err(AnswerError::WrongKind));
    });
}

#[test]
fn by_hand_choices() {
    ask("some-choices", 1, |asked| {
        assert_eq!(asked.key, Key::Choices(vec![true, true, false]));
        let right = asked.mark(&Answer::Choices(vec![0, 1])).unwrap();
        assert!(right.right && right.points == 1.0, "{right:?}");
        let one = asked.mark(&Answer::Choices(vec![1])).unwrap();
        assert_eq!((one.right, one.misconception), (false, Some(0)));
        assert!((one.points - 2.0 / 3.0).abs() < 1e-12);
        assert_eq!(said(asked, &one), "The compressor turns faster.");
        let all = asked.mark(&Answer::Choices(vec![0, 1, 2])).unwrap();
        assert_eq!((all.right, said(asked, &all)), (false, "p3 outruns p2.".into()));
        assert_eq!(all.detail, Detail::Choices(vec![true, true, false]));
        for none in [vec![], vec![3]] {
            assert_eq!(asked.mark(&Answer::Choices(none)), Err(AnswerError::NoneTicked { options: 3 }));
        }
    });
}

#[test]
fn by_hand_order() {
    for seed in 0..8 {
        ask("an-order", seed, |asked| {
            let [a, b, c] = ["a", "b", "c"].map(|name| asked.worked.seeds[name]);
            let values = [a + 1.0e5, b + 1.15e5, c + 4.0e4];
            let Key::Order(key) = &asked.key else { panic!("an order") };
            assert!(key.right.windows(2).all(|pair| values[pair[1]] - values[pair[0]] >= 4000.0), "{key:?}");
            assert_ne!(key.shown, key.right, "the answer does not stand there already");
            let right = asked.mark(&Answer::Order(key.right.clone())).unwrap();
            assert!(right.right && right.points == 1.0);
            // The order of the gauges is mine, sea, mountain.
            let gauges = asked.mark(&Answer::Order(vec![1, 0, 2])).unwrap();
            assert_eq!((gauges.right, gauges.misconception), (false, Some(0)), "{key:?}");
            let first = asked.mark(&Answer::Order(vec![2, 0, 1]));
            if key.right[0] != 2 {
                let first = first.unwrap();
                assert_eq!(first.misconception, Some(1));
                assert!(first.points < 1.0);
            }
            let backwards: Vec<usize> = key.right.iter().rev().copied().collect();
            assert_eq!(asked.mark(&Answer::Order(backwards)).unwrap().points, 0.0);
            for bad in [vec![0, 1], vec![0, 1, 1], vec![0, 1, 3]] {
                assert_eq!(asked.mark(&Answer::Order(bad)), Err(AnswerError::NotAllItems { items: 3 }));
            }
        });
    }
}

#[test]
fn by_hand_order_of_the_file() {
    ask("given-order", 2, |asked| {
        let Key::Order(key) = &asked.key else { panic!("an order") };
        assert_eq!(key.right, [0, 1, 2]);
        assert!(asked.mark(&Answer::Order(vec![0, 1, 2])).unwrap().right);
        let act = asked.mark(&Answer::Order(vec![2, 0, 1])).unwrap();
        assert_eq!((act.misconception, act.points), (Some(0), 1.0 / 3.0));
    });
    // Another learner sees another shuffle; the same learner the same.
    let shown = |seed| {
        ask("given-order", seed, |asked| if let Key::Order(key) = &asked.key { key.shown.clone() } else { Vec::new() })
    };
    assert!((0..10).any(|seed| shown(seed) != shown(0)));
    assert_eq!(shown(4), shown(4));
}

#[test]
fn by_hand_sketch() {
    ask("a-sketch", 3, |asked| {
        let Key::Sketch(key) = &asked.key else { panic!("a sketch") };
        assert_eq!(key.ends_si, (1.0, 0.4));
        let curve = asked.worked.sweeps["vanes"].curve(volute_lessons::paths::quantity("balance").unwrap());
        let first = (curve.y[0] / 1000.0 + 150.0) / 250.0;
        assert!((key.truth[0] - first).abs() < 1e-12, "{} {first}", key.truth[0]);
        let right = asked.mark(&Answer::Sketch(Sketch::of_heights(key.truth))).unwrap();
        assert!(right.right && right.points == 1.0, "{right:?}");
        let (a, b) = (key.truth[0], key.truth[sketch::POINTS - 1]);
        let ruler = asked
            .mark(&Answer::Sketch(Sketch::of_heights(std::array::from_fn(|i| a + (b - a) * sketch::share(i)))))
            .unwrap();
        assert_eq!((ruler.right, ruler.misconception), (false, Some(0)), "{ruler:?}");
        let up = asked.mark(&Answer::Sketch(Sketch::of_heights(key.truth.map(|h| 1.0 - h)))).unwrap();
        assert_eq!((up.right, up.misconception), (false, Some(1)));
        assert_eq!(said(asked, &up), "p3 rises faster than p2.");
        // Wrong in no way that is known: why the true curve is as it is.
        let flat = asked.mark(&Answer::Sketch(Sketch::of_heights([0.5; sketch::POINTS]))).unwrap();
        assert_eq!((flat.right, flat.misconception, said(asked, &flat)), (false, None, "p3 outruns p2.".into()));
    });
}

#[test]
fn by_hand_words() {
    ask("in-own-words", 0, |asked| {
        let mark = asked.mark(&Answer::Words("First of all the barometer.".into())).unwrap();
        assert_eq!((mark.points, said(asked, &mark)), (0.0, "The barometer.".into()));
        assert_eq!(asked.mark(&Answer::Words("  ".into())), Err(AnswerError::Empty));
        let short = Err(AnswerError::TooShort { written: 4, at_least: 20 });
        assert_eq!(asked.mark(&Answer::Words(" Fuel".into())), short);
        let bytes = LONGEST_ANSWER + 1;
        assert_eq!(asked.mark(&Answer::Words("x".repeat(bytes))), Err(AnswerError::TooLong { bytes }));
    });
}

#[test]
fn by_hand_predictions() {
    let lesson = sample::every_kind();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(2), &mut solver).unwrap();
    let predict = |id: &str| lesson.predictions().find(|p| p.id == id).unwrap();
    let sketch = predict("which-way").work_out(lesson, &worked, &mut solver).unwrap();
    let Key::Sketch(key) = &sketch.key else { panic!("a sketch") };
    assert!(key.given.is_some());
    let mark = sketch.because(&Answer::Sketch(Sketch::of_heights(key.truth.map(|h| 1.0 - h)))).unwrap();
    assert_eq!(mark.misconception, Some(0));
    assert_eq!(sketch.because(&typed("3 kPa")), None);

    let number = predict("how-much").work_out(lesson, &worked, &mut solver).unwrap();
    assert!([0.5, 0.55, 0.6].contains(&number.worked.seeds["v"]));
    let Key::Number(NumberKey { answer_si, .. }) = number.key else { panic!("a number") };
    assert_eq!(answer_si, number.worked.readings["shut"].stations.turbine_inlet.p_pa);
    assert!(number.answer_in_print(Style::default()).unwrap().ends_with("kPa abs"));
    assert!(predict("how-much").question.accepts(&typed("300 kPa")).is_ok());
    assert!(matches!(predict("how-much").question.accepts(&typed("much")), Err(AnswerError::Read(_))));

    let order = predict("who-first").work_out(lesson, &worked, &mut solver).unwrap();
    let Key::Order(key) = &order.key else { panic!("an order") };
    assert_eq!(key.right, [0, 1], "the six breathes more");
    assert!(order.because(&Answer::Order(vec![0, 1])).unwrap().right);

    let short = predict("in-words").work_out(lesson, &worked, &mut solver).unwrap();
    assert_eq!(short.key, Key::Words);
    assert_eq!(predict("in-words").question.accepts(&Answer::Words(String::new())), Err(AnswerError::Empty));
}

#[test]
fn by_hand_a_task_with_a_run_of_the_bench_purchases_and_visits() {
    let lesson = sample::every_kind();
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(2), &mut solver).unwrap();
    let task = lesson.tasks().next().unwrap();
    let set = task.work_out(lesson, &worked, &mut solver).unwrap();
    let start = set.start().unwrap().clone();
    assert_eq!(start.settings.vane_open_pct, 100.0);
    let answer = set.answer().unwrap();
    assert_eq!(answer.iter().map(|bench| bench.settings.vane_open_pct).collect::<Vec<_>>(), [80.0, 75.0, 70.0]);
    let mut visited = Visited::default();
    let mut judge = |bench: &Bench, solver: &mut CoreSolver| {
        let reading = solver.solve(bench).unwrap();
        visited.push(&reading);
        let stands = Standing { bench, reading: &reading, visited: &visited };
        set.judge(&stands, solver).unwrap()
    };
    assert!(matches!(judge(&start, &mut solver), TaskMark::Misconception { index: 0, .. }));
    assert_eq!(set.show(0), Some(&start));
    assert!(matches!(judge(&answer[2], &mut solver), TaskMark::Done(_)));
    let mut tight = start.clone();
    tight.settings.vane_open_pct = 40.0;
    assert!(matches!(judge(&tight, &mut solver), TaskMark::Misconception { index: 1, .. }));

    // What the task hides, what it sells, and what its hints cost.
    let mut progress = Progress::new(Seed(2));
    let quantity = |name: &str| volute_lessons::paths::quantity(name).unwrap();
    for (predict, answer) in lesson.predictions().zip([
        Answer::Sketch(Sketch::of_heights([0.5; sketch::POINTS])),
        typed("200 kPa"),
        Answer::Order(vec![1, 0]),
        Answer::Words("So.".into()),
    ]) {
        progress.lock(predict, answer).unwrap();
    }
    let active = Some(task.id.as_str());
    assert!(progress.covers(lesson, active, None).hides("p3"));
    assert!(progress.covers(lesson, None, None).is_off(), "a task that is not active hides nothing");
    assert!(!progress.buy(task, quantity("air_flow")), "not for sale");
    assert!(progress.buy(task, quantity("p3")));
    assert!(!progress.buy(task, quantity("t3")), "one only");
    let cover = progress.covers(lesson, active, None);
    assert!(!cover.hides("p3") && cover.hides("t3"));
    let assignment =
        Assignment { hide: vec!["boost".into()], ..Assignment::of(vec![assignment::Item::lesson(&lesson.id)]) };
    assert!(progress.covers(lesson, active, Some(&assignment)).hides_any(&["p_im"]), "an assignment hides as well");
    assert_eq!(
        (progress.take_hint(&task.id, 2), progress.take_hint(&task.id, 2), progress.take_hint(&task.id, 2)),
        (1, 2, 2)
    );
    progress.task_done(&task.id);
    progress.sure(&task.id, 20);
    assert_eq!((progress.task(&task.id).points, progress.task(&task.id).confidence), (0.8, Some(50)));
    assert!(progress.covers(lesson, active, None).is_off());
    let stage = lesson.steps.iter().find(|step| matches!(step, Step::Stage(_))).and_then(Step::id);
    let cover = progress.covers(lesson, stage, None);
    assert!(cover.hides("p3") && !cover.hides("boost"));
}

#[test]
fn by_hand_visited_states_count_in_goals() {
    let text = sample::EVERY_KIND
        .replace(
            "goal = \"p3 between",
            "goal = \"count(visited) >= 3 and widest_step(visited.vane) <= 11 % and not visited.crossed and p3 between",
        )
        .replace(
            "answer = { visits = [{ vane = \"80 %\" }, { vane = \"75 %\" }], vane = \"70 %\" }",
            "answer = { visits = [{ vane = \"90 %\" }, { vane = \"80 %\" }], vane = \"70 %\" }",
        );
    let lesson = volute_lessons::parse::parse(&text).unwrap_or_else(|problems| panic!("{}", problems[0]));
    let mut solver = CoreSolver::default();
    let worked = lesson.work_out(Seed(2), &mut solver).unwrap();
    let set = lesson.tasks().next().unwrap().work_out(&lesson, &worked, &mut solver).unwrap();
    let mut walk = |vanes: &[f64]| {
        let mut visited = Visited::default();
        let mut bench = set.start().unwrap().clone();
        let mut mark = false;
        for vane in vanes {
            bench.settings.vane_open_pct = *vane;
            let reading = solver.solve(&bench).unwrap();
            visited.push(&reading);
            let stands = Standing { bench: &bench, reading: &reading, visited: &visited };
            mark = matches!(set.judge(&stands, &mut solver).unwrap(), TaskMark::Done(_));
        }
        mark
    };
    assert!(walk(&[100.0, 90.0, 80.0, 70.0]));
    assert!(!walk(&[100.0, 70.0]), "too wide a step, too few states");
    assert!(!walk(&[100.0, 90.0, 89.0, 70.0]), "too wide a step");
}
