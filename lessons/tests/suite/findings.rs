//! What the checker finds in a lesson that breaks its promises.

use volute_lessons::bench::CoreSolver;
use volute_lessons::check::*;
use volute_lessons::curves::Swept;
use volute_lessons::lesson::*;
use volute_lessons::parse::parse;
use volute_lessons::seed::Seed;

fn report(findings: &[Finding]) -> String {
    findings.iter().map(|finding| format!("  {finding}\n")).collect()
}

/// The first lesson with one piece of its text changed; the piece must stand there once.
fn with(from: &str, to: &str) -> Lesson {
    let text = crate::sample::TEXT;
    assert_eq!(text.matches(from).count(), 1, "`{from}`");
    parse(&text.replacen(from, to, 1)).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

/// Checks that the change gives exactly the findings that hold, one at least.
fn finds(from: &str, to: &str, place: &str, wanted: fn(&FindingKind) -> bool) {
    let lesson = with(from, to);
    let findings = check(&lesson, (0..12).map(Seed), &mut CoreSolver::default());
    assert!(findings.iter().any(|f| f.place == place && wanted(&f.kind)), "`{to}`:\n{}", report(&findings));
}

#[test]
fn by_hand_each_broken_promise_is_found() {
    use FindingKind::*;
    finds("goal = \"boost >= start.boost + 0.5 *", "goal = \"boost >= start.boost - 0.5 *", "raise-boost", |k| {
        *k == StartPasses
    });
    finds("answer = { vane = \"80 %\" }", "answer = { vane = \"98 %\" }", "raise-boost", |k| {
        matches!(k, AnswerFails { because: Some(_) })
    });
    finds("answer = { vane = \"91 %\" }", "answer = { vane = \"80 %\" }", "how-far", |k| {
        matches!(k, AnswerFails { because: Some(_) })
    });
    finds(
        "answer = { vane = \"91 %\" }",
        "answer = { vane = \"50 %\" }",
        "how-far",
        |k| matches!(k, AnswerLocked { control, .. } if control == "vane"),
    );
    finds(
        "answer = { vane = \"91 %\" }",
        "answer = { vane = \"91 %\", fuel = \"125 mg\" }",
        "how-far",
        |k| matches!(k, AnswerLocked { control, .. } if control == "load"),
    );
    // The answer and one kilopascal more: within three tolerances for every seed.
    finds(
        "value = \"pins.own_closed.boost - pins.own_open.boost\"",
        "value = \"pins.own_closed.p3 - pins.own_open.p3 + 1 kPa\"",
        "pressure-rise",
        |k| matches!(k, NoFairDraw { last: volute_lessons::work::Unfair::Near { .. }, .. }),
    );
    // Four times the tolerance away is allowed again.
    let lesson = with(
        "value = \"pins.own_closed.boost - pins.own_open.boost\"",
        "value = \"1.12 * (pins.own_closed.p3 - pins.own_open.p3)\"",
    );
    assert_eq!(check(&lesson, (0..12).map(Seed), &mut CoreSolver::default()), []);
    finds("speed = \"2400 1/min\"", "speed = \"4000 1/min\"", "the bench", |k| matches!(k, Bench { .. }));
    finds("name = \"closed\"\nvane = \"80 %\"", "name = \"closed\"\nvane = \"65 %\"", "closed", |k| {
        matches!(k, Unfair(volute_lessons::work::Unfair::NotMatched { outcome: "overspeed", .. }))
    });
    let ends = with("name = \"closed\"\nvane = \"80 %\"", "name = \"closed\"\nvane = \"65 %\"\nends = [\"overspeed\"]");
    assert_eq!(check(&ends, (0..3).map(Seed), &mut CoreSolver::default()), []);
    finds(
        "text = \"Fall.\"\nwhen = \"pins.closed.torque / start.torque < 0.998\"",
        "text = \"Fall.\"\nwhen = \"pins.closed.torque / start.torque < 0.5\"",
        "torque-guess",
        |k| *k == Unfair(volute_lessons::work::Unfair::Options { right: 0 }),
    );
    finds("The engine runs at full fuel:", "The engine makes {{start.torque | N m}} at full fuel:", "prose", |k| {
        *k == GivesAway { quantity: "torque" }
    });
    finds("Somebody in the test cell", "At 2400 1/min somebody in the test cell", "prose", |k| {
        *k == TypedNumber { text: "2400 1/min".into() }
    });
    finds("text = \"Rise a little.\"", "text = \"Rise by 2 %.\"", "torque-guess", |k| {
        *k == TypedNumber { text: "2 %".into() }
    });
    finds("```safety\n", "```reveal after=torque-guess\n", "the lesson", |k| *k == Missing { what: "safety callout" });
    finds("```reveal after=torque-guess compare=start,closed\n", "```safety\n", "torque-guess", |k| *k == NoReveal);
    finds(
        "That is the share of the torque that was lost. Asked is how much of that loss is pumping.",
        "That is by how much the pumping loss grew. Asked is its share of the torque that was lost.",
        "pumping-share",
        |k| matches!(k, SameExplanation { .. }),
    );
    finds(
        "speed = \"seed.speed\"\nfuel = \"seed.fuel\"\nvane = \"80 %\"\n\n[[misconception]]\nvalue = \"pins.own_closed.boost",
        "speed = \"seed.speed\"\nfuel = \"seed.fuel\"\nvane = \"68 %\"\n\n[[misconception]]\nvalue = \"pins.own_closed.boost",
        "pressure-rise",
        |k| matches!(k, ManyThrownAway { .. } | NoFairDraw { .. }),
    );
}

#[test]
fn by_hand_too_few_misconceptions() {
    let text = crate::sample::TEXT;
    let from = text.find("[[misconception]]\nvalue = \"50 %\"").unwrap();
    let to = text[from..].find("```\n").unwrap() + from;
    let lesson = parse(&format!("{}{}", &text[..from], &text[to..])).unwrap();
    let findings = check(&lesson, [Seed(0)], &mut CoreSolver::default());
    assert_eq!(
        findings.iter().map(|f| &f.kind).collect::<Vec<_>>(),
        [&FindingKind::FewMisconceptions { found: 1, block: "a checkpoint with a number", least: 2 }]
    );
}

#[test]
fn by_hand_typed_quantities() {
    for (text, want) in [
        ("at 2400 1/min and 126mg, 5 steps", &["2400 1/min", "126mg"][..]),
        ("p2 stands at 234 kPa abs.", &["234 kPa abs"]),
        ("2 in three, B4, 1976, station 3, 12 of them", &[]),
        ("1,850.5 N·m", &["1,850.5 N·m"]),
        ("5 %", &["5 %"]),
    ] {
        assert_eq!(typed_quantities(text), want, "{text}");
    }
}

/// The lesson with one of everything, with one piece of its text changed: what is found then.
fn every(from: &str, to: &str) -> Vec<Finding> {
    let text = crate::sample::EVERY_KIND;
    assert!(text.contains(from), "`{from}`");
    let lesson = parse(&text.replacen(from, to, 1)).unwrap_or_else(|problems| panic!("`{to}`: {}", problems[0]));
    check(&lesson, (0..6).map(Seed), &mut CoreSolver::default())
}

#[test]
fn by_hand_the_lesson_with_one_of_everything_keeps_its_promises() {
    let findings = every("Every kind", "Every kind of question");
    assert!(findings.is_empty(), "{}", report(&findings));
}

#[test]
fn by_hand_each_broken_promise_of_the_other_kinds_is_found() {
    let mut missed = String::new();
    for (from, to, place, says) in [
        ("hints = [\"Close them.\", \"A little more.\"]", "hints = []", "lighter", "0 hints"),
        ("hint = \"p3 outruns p2.\"\n", "", "a-sketch", "0 hints"),
        ("minutes = 40\ndo", "minutes = 30\ndo", "teacher", "takes 35 minutes; it must take 45"),
        (
            "hide = [\"p3\", \"t3\", \"air_flow\"]",
            "hide = [\"p3\"]",
            "lighter",
            "sells `t3`, which the task does not hide",
        ),
        (
            "answer = { visits = [{ vane = \"80 %\" }",
            "answer = { visits = [{ speed = \"1500 1/min\" }",
            "lighter",
            "moves `speed` to 1500 1/min",
        ),
        (
            "vane = \"70 %\" }\ndone",
            "vane = \"30 %\" }\ndone",
            "lighter",
            "moves `vane` to 30 %, which is locked there",
        ),
        ("vane = \"70 %\" }\ndone", "vane = \"70 %\", altitude = \"500 m\" }\ndone", "lighter", "moves `ambient`"),
        (
            "vane = \"70 %\" }\ndone",
            "vane = \"70 %\", parts.exhaust_pipe.bore_m = 0.12 }\ndone",
            "lighter",
            "moves `parts.exhaust_pipe.bore_m`",
        ),
        ("goal = \"p3 between seed.p and", "goal = \"p3 between 1 kPa abs and", "lighter", "passes the task already"),
        ("apart = \"4 kPa\"", "apart = \"400 kPa\"", "an-order", "are closer than `apart`"),
        (
            "by = [\"seed.a\", \"seed.b\", \"seed.c\"]",
            "by = [\"seed.a + 100 kPa\", \"seed.b + 115 kPa\", \"seed.c + 40 kPa\"]",
            "an-order",
            "the order of misconception 1 is the right one",
        ),
        ("first = \"act\"", "first = \"read\"", "given-order", "the order of misconception 1 is the right one"),
        (
            "shape = \"straight\"",
            "shape = \"falls\"",
            "a-sketch",
            "the shape of misconception 1 is that of the true curve",
        ),
        ("low = -150\nhigh = 100", "low = -10\nhigh = 100", "a-sketch", "leaves the axis"),
        (
            "when = \"at(sweeps.vanes.p2, 50 %) >",
            "when = \"at(sweeps.vanes.p2, 20 %) >",
            "some-choices",
            "`at(sweeps.vanes.p2)` has no such point",
        ),
        (
            "when = \"pins.hill.boost <= start.boost\"",
            "when = \"pins.hill.boost > start.boost\"",
            "a-choice",
            "2 options are right",
        ),
        ("[[misconception]]\nshape = \"rises\"\nbecause = \"p3 rises faster than p2.\"\n", "", "a-sketch", ""),
        (
            "[[misconception]]\nshape = \"falls\"\nbecause = \"Less area lets less gas through at the same pressure, so the pressure rises.\"\n",
            "",
            "which-way",
            "",
        ),
        (
            "[[misconception]]\nfirst = \"act\"\nbecause = \"Acting first is what breaks things.\"\n",
            "",
            "given-order",
            "0 misconceptions; an order needs at least 1",
        ),
        (
            "The engine runs at {{start.speed | 1/min}}",
            "With {{start.p3 | kPa abs}} the engine runs",
            "prose",
            "shows `p3`",
        ),
        ("```reveal after=in-words", "```reveal after=who-first", "in-words", "no reveal"),
        ("value = \"torque\"", "value = \"torque / (speed / seed.rpm - 1)\"", "the bench", "is not a finite number"),
        ("runs.now.t90 < 2.4 s", "runs.now.t90 > 9 s", "lighter", "the answer does not pass the task"),
    ] {
        let findings = every(from, to);
        // Where nothing is to be said, nothing must be found: one misconception of two may go.
        let found = if says.is_empty() {
            findings.is_empty()
        } else {
            findings.iter().any(|f| f.place == place && f.to_string().contains(says))
        };
        if !found {
            missed += &format!("`{to}`: no `{says}` in\n{}", report(&findings));
        }
    }
    assert!(missed.is_empty(), "{missed}");
}

#[test]
fn by_hand_altitude_is_free_as_far_as_it_says() {
    let lesson = crate::sample::every_kind();
    let start = lesson.bench(Seed(0)).unwrap();
    let at = |altitude_m: f64| start.swept(Swept::Altitude, altitude_m).unwrap();
    let free = |low: f64, high: f64| Free { control: Control::Altitude, range_si: Some((low, high)) };
    assert!(free(0.0, 3000.0).allows(Control::Ambient, &start, &at(2500.0)));
    assert!(free(0.0, 3000.0).allows(Control::Ambient, &start, &at(0.0)));
    assert!(!free(0.0, 3000.0).allows(Control::Ambient, &start, &at(3100.0)));
    let mut warm = at(2000.0);
    warm.settings.ambient.t_k += 5.0;
    assert!(!free(0.0, 3000.0).allows(Control::Ambient, &start, &warm), "no standard day");
    let ambient = Free { control: Control::Ambient, range_si: None };
    assert!(ambient.allows(Control::Ambient, &start, &warm));
}

#[test]
fn identity_threads_find_the_same_as_one() {
    let lesson = with("name = \"closed\"\nvane = \"80 %\"", "name = \"closed\"\nvane = \"65 %\"");
    let mut solver = CoreSolver::default();
    let one = check(&lesson, (0..9).map(Seed), &mut solver);
    let mut halves = [Tally::default(), Tally::default()];
    for seed in (0..9).rev() {
        halves[seed as usize % 2].add(check_seed(&lesson, Seed(seed), &mut solver));
    }
    let [a, b] = halves;
    let two: Vec<Finding> = form(&lesson).into_iter().chain(b.join(a).finish()).collect();
    assert_eq!(one, two);
    assert!(!one.is_empty());
}
