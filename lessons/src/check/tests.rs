use super::*;
use crate::bench::CoreSolver;
use crate::parse::parse;

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
        |k| matches!(k, NoFairDraw { last: crate::work::Unfair::Near { .. }, .. }),
    );
    // Four times the tolerance away is allowed again.
    let lesson = with(
        "value = \"pins.own_closed.boost - pins.own_open.boost\"",
        "value = \"1.12 * (pins.own_closed.p3 - pins.own_open.p3)\"",
    );
    assert_eq!(check(&lesson, (0..12).map(Seed), &mut CoreSolver::default()), []);
    finds("speed = \"2400 1/min\"", "speed = \"4000 1/min\"", "the bench", |k| matches!(k, Bench { .. }));
    finds("name = \"closed\"\nvane = \"80 %\"", "name = \"closed\"\nvane = \"65 %\"", "closed", |k| {
        matches!(k, Unfair(crate::work::Unfair::NotMatched { outcome: "overspeed", .. }))
    });
    let ends = with("name = \"closed\"\nvane = \"80 %\"", "name = \"closed\"\nvane = \"65 %\"\nends = [\"overspeed\"]");
    assert_eq!(check(&ends, (0..3).map(Seed), &mut CoreSolver::default()), []);
    finds(
        "text = \"Fall.\"\nwhen = \"pins.closed.torque / start.torque < 0.998\"",
        "text = \"Fall.\"\nwhen = \"pins.closed.torque / start.torque < 0.5\"",
        "torque-guess",
        |k| *k == Unfair(crate::work::Unfair::Options { right: 0 }),
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
