//! Expressions: what is read, what it is worth, and what is refused.

use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use volute_core::point::reading::{LimitName, Outcome, Reading};
use volute_lessons::expr::{Env, EvalError, Expr, ExprProblemKind, Scope, Shown, Type};
use volute_lessons::units::{self, Decimal, Style};

/// A state of the default engine, by the core.
fn reading() -> &'static Reading {
    static READING: OnceLock<Reading> = OnceLock::new();
    READING.get_or_init(|| {
        let lesson = crate::sample::lesson();
        lesson.bench(volute_lessons::seed::Seed(0)).unwrap().reading().unwrap()
    })
}

fn scope() -> Scope {
    let seeds =
        vec![("n".to_string(), units::exact("1/min").unwrap()), ("t".to_string(), units::exact("degC").unwrap())];
    Scope { states: vec!["start".into(), "a".into()], seeds, bench: true, ..Scope::default() }
}

struct World {
    states: BTreeMap<String, Reading>,
    seeds: BTreeMap<String, f64>,
}

fn world() -> World {
    let states = ["start", "a"].map(|name| (name.to_string(), reading().clone())).into();
    World { states, seeds: [("n".to_string(), 40.0), ("t".to_string(), 298.15)].into() }
}

impl World {
    fn env(&self) -> Env<'_> {
        Env { bench: Some(reading()), states: &self.states, seeds: &self.seeds, ..Env::EMPTY }
    }
}

#[test]
fn by_hand_numbers() {
    let r = reading();
    for (text, want) in [
        ("2 + 3 * 4", 14.0),
        ("(2 + 3) * 4", 20.0),
        ("2 - 3 - 4", -5.0),
        ("8 / 4 / 2", 1.0),
        ("8 ÷ 4 × 2", 4.0),
        ("--2", 2.0),
        ("−2 · 3", -6.0),
        ("1.85e2", 185.0),
        ("2 bar + 50 kPa", 2.5e5),
        ("2400 1/min / 2", 20.0),
        ("5 m/s * 2 s", 10.0),
        ("25 degC", 298.15),
        ("-5 degC", 268.15),
        ("-40 degF - -40 degC", 0.0),
        ("25 degC + 10 K", 308.15),
        ("8 %", 0.08),
        ("abs(-3)", 3.0),
        ("min(3, 2, 4)", 2.0),
        ("max(1 kPa, 2 bar)", 2.0e5),
        ("sqrt(4 m2)", 2.0),
        ("2 ^ 10", 1024.0),
        ("4 ^ -0.5", 0.5),
        ("(1 - 6) ^ 2", 25.0),
        ("(1 - 3) ^ 3", -8.0),
        ("(1 - 3) ^ -1", -0.5),
        ("(2 - 2) ^ 2", 0.0),
        ("(2 - 2) ^ 0", 1.0),
        ("pi", std::f64::consts::PI),
        ("seed.n * 60", 2400.0),
        ("boost", r.boost_pa),
        ("start.p3 - pins.a.p_amb", r.stations.turbine_inlet.p_pa - r.ambient.p_pa),
        ("limits.shaft_speed.margin", r.limit(LimitName::ShaftSpeed).unwrap().margin),
        ("torque * 2 * pi * speed / power", 1.0),
    ] {
        let expr = Expr::parse(text, &scope()).unwrap_or_else(|p| panic!("{text}: {p}"));
        let got = expr.number(&world().env()).unwrap();
        assert!((got - want).abs() <= 1e-9 * want.abs().max(1e-9), "{text}: {got} for {want}");
    }
}

#[test]
fn by_hand_truths() {
    for (text, want) in [
        ("1 < 2", true),
        ("2 ≤ 2 and 3 ≥ 4", false),
        ("1 > 2 or 1 kPa < 1 bar", true),
        ("not 1 > 2", true),
        ("not (1 < 2 and 2 < 3)", false),
        ("5 between 4 and 6", true),
        ("5 between 6 and 4", false),
        ("5 between 4 and 6 and 1 > 2", false),
        ("outcome == matched", true),
        ("start.outcome != matched", false),
        ("limits.crossed or limits.shaft_speed.crossed", false),
        ("t3 between 600 degC and 800 degC", true),
        ("p3 == p3 or 1 < 2", false),
    ] {
        match Expr::parse(text, &scope()) {
            Ok(expr) => assert_eq!(expr.truth(&world().env()), Ok(want), "{text}"),
            // Two computed numbers are never compared with ==.
            Err(problem) => assert!(
                text.starts_with("p3 ==") && problem.to_string().contains("never quite equal"),
                "{text}: {problem}"
            ),
        }
    }
}

#[test]
fn by_hand_what_is_wrong_and_where() {
    for (text, at, says) in [
        ("", 0, "the end"),
        ("1 +", 3, "a number, a name or a bracket"),
        ("1 2", 2, "an operator"),
        ("(1", 2, "closing bracket"),
        ("1.2.3", 0, "not a number"),
        ("bost", 0, "did you mean `boost`"),
        ("start.torqe", 0, "did you mean `start.torque`"),
        ("pins.b.boost", 0, "there is no `pins.b.boost`"),
        ("pins.start.boost", 0, "there is no"),
        ("seed.m", 0, "did you mean `seed.n`"),
        ("1 kPa + 1 K", 0, "a pressure and a temperature cannot be added"),
        ("boost < torque", 0, "cannot be compared"),
        ("p3 > boost", 0, "an absolute and a gauge pressure cannot be compared"),
        ("t2 + t3", 0, "a temperature and a temperature cannot be added"),
        ("1 < 2 < 3", 6, "an operator"),
        ("(1 < 2) + 1", 0, "true or false"),
        ("1 and 2", 0, "expected true or false"),
        ("sqrt(2 kPa)", 5, "has no unit"),
        ("abs 2", 4, "an opening bracket"),
        ("matched", 0, ""),
        ("boost; drop", 5, "an operator"),
        ("1e999", 0, "not a number"),
        ("2 between 1 or 3", 12, "`and` between"),
    ] {
        match Expr::parse(text, &scope()) {
            Err(problem) => {
                assert!(problem.to_string().contains(says), "{text}: {problem}");
                assert_eq!(problem.at, at, "{text}: {problem}");
            }
            Ok(expr) => assert_eq!(expr.kind(), Type::Outcome, "{text}"),
        }
    }
    let no_bench = Scope { bench: false, ..scope() };
    let problem = Expr::parse("1 bar < p3", &no_bench).unwrap_err();
    assert_eq!(problem.at, 8);
    assert!(problem.to_string().contains("`start.p3` or `pins.….p3`"), "{problem}");
    assert!(matches!(Expr::parse(&"(".repeat(100), &scope()).unwrap_err().kind, ExprProblemKind::TooDeep));
    assert!(matches!(Expr::parse(&"-".repeat(100), &scope()).unwrap_err().kind, ExprProblemKind::TooDeep));
    assert!(matches!(
        Expr::parse(&"1+".repeat(300), &scope()).unwrap_err().kind,
        ExprProblemKind::TooLong { bytes: 600 }
    ));
}

#[test]
fn by_hand_no_result_that_is_no_number() {
    for text in ["1 / 0", "0 / 0", "sqrt(0 - 1)", "1e308 * 1e308", "(1 - 3) ^ 0.5", "(1 - 1) ^ -1"] {
        let expr = Expr::parse(text, &scope()).unwrap();
        assert!(matches!(expr.number(&world().env()), Err(EvalError::NotFinite { .. })), "{text}");
    }
    let compared = Expr::parse("0 / 0 < 1", &scope()).unwrap();
    assert!(compared.truth(&world().env()).is_err());
    let mut lost = world();
    let mut reading = reading().clone();
    (reading.holds, reading.outcome) = (false, Outcome::Surge);
    lost.states.insert("a".into(), reading);
    let expr = Expr::parse("pins.a.boost", &scope()).unwrap();
    assert_eq!(expr.number(&lost.env()), Err(EvalError::NoNumbers { state: "a".into(), outcome: Outcome::Surge }));
    // How it ended can still be asked.
    let expr = Expr::parse("pins.a.outcome == surge", &scope()).unwrap();
    assert_eq!(expr.truth(&lost.env()), Ok(true));
    lost.states.clear();
    assert!(matches!(expr.truth(&lost.env()), Err(EvalError::NotComputed { .. })));
}

#[test]
fn by_hand_values_in_print() {
    let comma = Style { decimal: Decimal::Comma, ..Style::default() };
    let customary = Style { customary: true, ..Style::default() };
    for (text, style, want) in [
        ("185 kPa | kPa", Style::default(), "185\u{a0}kPa"),
        ("185 kPa | bar", comma, "1,85\u{a0}bar"),
        ("185 kPa abs | bar abs | 3", Style::default(), "1.850\u{a0}bar abs"),
        ("185 kPa abs | kPa abs", customary, "26.8\u{a0}psi abs"),
        ("25 degC | degC", Style::default(), "25\u{a0}°C"),
        ("25 degC | degC", customary, "77\u{a0}°F"),
        ("30 degC - 20 degC | K", Style::default(), "10\u{a0}K"),
        ("2400 1/min | 1/min", Style::default(), "2400\u{a0}1/min"),
        ("-63 kPa | kPa", Style::default(), "−63\u{a0}kPa"),
        ("2 / 3 | | 1", Style::default(), "0.7"),
        ("2 / 3", comma, "0,67"),
        ("97.4 % | %", Style::default(), "97\u{a0}%"),
    ] {
        let shown = Shown::parse(text, &scope()).unwrap_or_else(|p| panic!("{text}: {p}"));
        assert_eq!(shown.text(&world().env(), style).as_deref(), Ok(want), "{text}");
    }
    for (text, says) in [
        ("start.p3 | kPa", "write `| kPa abs`"),
        ("start.boost | kPa abs", "write `| kPa gauge`"),
        ("start.p3 | K", "has no unit `K`"),
        ("start.p3", "has no unit `(none)`"),
        ("start.torque | furlong", "is no unit; allowed are %, Pa"),
        ("start.torque | J | 7", "0 to 6"),
        ("30 degC - 20 degC | degC", "shown in K"),
        ("outcome", "an outcome"),
    ] {
        let problem = Shown::parse(text, &scope()).unwrap_err();
        assert!(problem.to_string().contains(says), "{text}: {problem}");
    }
}

proptest! {
    #[test]
    fn identity_no_text_breaks_the_parser(text in any::<String>()) {
        let _ = Expr::parse(&text, &scope());
        let _ = Shown::parse(&text, &scope());
    }

    #[test]
    fn identity_expression_like_text_neither(words in proptest::collection::vec(
        prop_oneof![
            Just("1"), Just("2.5 kPa"), Just("25 degC"), Just("boost"), Just("start.t3"), Just("seed.n"), Just("+"), Just("-"), Just("*"),
            Just("/"), Just("("), Just(")"), Just("<"), Just("=="), Just("between"), Just("and"), Just("not"), Just("min("), Just(","),
            Just("sqrt("), Just("outcome"), Just("matched"), Just("limits.crossed"), Just("|"), Just("%"),
        ], 0..14))
    {
        if let Ok(expr) = Expr::parse(&words.join(" "), &scope()) {
            let world = world();
            match expr.kind() {
                Type::Quantity { .. } => { if let Ok(value) = expr.number(&world.env()) { prop_assert!(value.is_finite()); } }
                Type::Truth => { let _ = expr.truth(&world.env()); }
                Type::Outcome => {}
            }
        }
    }
}
