//! Feeds damaged texts to every reader of this crate: `cargo run --release -p volute-lessons --example fuzz -- --seconds 60`.
//!
//! Lesson files, expressions, values, numbers, progress, assignments and result files are cut, spliced, repeated and sprinkled with
//! bytes. A panic is caught and its text printed; a text that takes longer than five seconds is a finding too. Needs no nightly.

use std::collections::BTreeMap;
use std::panic;
use std::time::{Duration, Instant};
use volute_lessons::catalog::SOURCES;
use volute_lessons::curves::Swept;
use volute_lessons::expr::{Expr, LogNames, Scope, Shown};
use volute_lessons::progress::Progress;
use volute_lessons::seed::splitmix64;
use volute_lessons::units::Decimal;
use volute_lessons::{assignment, number, parse, results, units};

/// What no text may take longer than.
const SLOW: Duration = Duration::from_secs(5);

const EXPRESSIONS: &[&str] = &[
    "pins.closed.boost - start.boost",
    "torque < 0.97 * start.torque and not limits.crossed",
    "t3 between 600 degC and 700 degC or outcome == surge",
    "if seed.n > 2300 1/min then 3 % else pick(seed.k, 1 %, 2 %, 3 %)",
    "where_least(sweeps.vanes.fuel_flow) - crosses(sweeps.vanes.balance, 0 kPa)",
    "runs.slam.t90 < 0.7 s and not runs.slam.reversed and at(runs.slam.torque, 1 s) > 500 N m",
    "most(visited.t3) < 760 degC and widest_step(visited.fuel) <= 10 mg and count(visited) > 3 and not visited.crossed",
    "logs.sheet.p3.1 + start.p_amb - 101.3 kPa abs",
    "sqrt(start.p3 / start.p4) ^ -0.286 + start.parts.shaft.inertia_kg_m2 / 1 kg m2",
    "((((((((1))))))))-−−2*3/4÷5×6·7^8^9",
];

const NUMBERS: &[&str] = &[
    "1,85 bar",
    "185e-2",
    "1 850,5 kPa abs",
    "−12·10⁻³ MPa",
    "= 3.0 %",
    "1,850",
    "1.2.3",
    "118\u{202f}000 1/min",
    "NaN",
    "10^3",
];

const RECORDS: &[&str] = &[
    "1;18446744073709551615;99;l,guess,o1;l,draw,s00ff;k,task,900,p3+t3,75,0+2;c,ask,1,2,667,1,0.500.1.0+1.667..1,n1%2c85;h,ask,2;w,t,a%3bb",
    "{\"version\":1,\"languages\":[\"en\"],\"lessons\":[{\"id\":\"a\",\"course\":\"A\",\"minutes\":5,\"needs\":[],\"title\":{\"en\":\"a\"},\"teaches\":{\"en\":\"b\"}}]}",
    "assignment=1&title=Week+3&do=more-boost-less-torque&pass=70&end",
    "{\"volute_result\":1,\"name\":\"=cmd\",\"lessons\":[{\"id\":\"a\",\"items\":[{\"id\":\"b\",\"tries\":[]}]}]}",
];

/// Pieces that are likelier to matter than any byte.
const PIECES: &[&str] = &[
    "```",
    "+++",
    "\"\"\"",
    "[[option]]",
    "[pins.a]",
    "{{",
    "}}",
    "|",
    "= ",
    "\n",
    "(",
    ")",
    "**",
    "[",
    "](",
    "<script>",
    "seed.",
    "start.",
    "pins.",
    "\u{202e}",
    "\u{0}",
    "\u{feff}",
    "é",
    "🙂",
    "1e999",
    "-",
    ",",
    ".",
    ";",
    "%",
    "{",
    "}",
    "\\",
    "\\u0000",
    "0x",
    "_",
    "~~~",
    "> ",
    "1. ",
    "    ",
    "&",
    "=",
    "'",
    "\r\n",
];

struct Dice(u64);

impl Dice {
    fn below(&mut self, end: usize) -> usize {
        ((u128::from(splitmix64(&mut self.0)) * end.max(1) as u128) >> 64) as usize
    }
}

/// A text that was good, damaged in one to eight places.
fn damaged(dice: &mut Dice, good: &[&str]) -> String {
    let mut bytes = good[dice.below(good.len())].as_bytes().to_vec();
    for _ in 0..=dice.below(8) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + 1 + dice.below(40)).min(bytes.len());
        match dice.below(7) {
            0 => drop(bytes.drain(at..end)),
            1 => {
                let piece = PIECES[dice.below(PIECES.len())].as_bytes();
                bytes.splice(at..at, piece.iter().copied());
            }
            2 => {
                let other = good[dice.below(good.len())].as_bytes();
                let from = dice.below(other.len() + 1);
                let to = (from + dice.below(200)).min(other.len());
                bytes.splice(at..at, other[from..to].iter().copied());
            }
            3 => {
                let again: Vec<u8> = bytes[at..end].repeat(1 + dice.below(60));
                bytes.splice(at..at, again);
            }
            4 if at < bytes.len() => bytes[at] = dice.below(256) as u8,
            5 => bytes.truncate(at),
            _ => {
                let piece = PIECES[dice.below(PIECES.len())].repeat(1 + dice.below(300));
                bytes.splice(at..at, piece.bytes());
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn scope() -> Scope {
    let unit = |name| units::exact(name).unwrap_or(units::PLAIN);
    Scope {
        states: vec!["start".into(), "closed".into()],
        seeds: vec![("n".into(), unit("1/min")), ("k".into(), unit(""))],
        sweeps: vec![("vanes".into(), Swept::Vane)],
        runs: vec!["slam".into()],
        logs: vec![LogNames { name: "sheet".into(), channels: Vec::new(), rows: 3 }],
        bench: true,
        visited: true,
    }
}

type Reader = (&'static str, Box<dyn Fn(&str) -> bool>);

fn main() {
    let mut args = std::env::args().skip(1);
    let (mut seconds, mut seed) = (20, 1);
    while let Some(arg) = args.next() {
        let value = args.next().and_then(|value| value.parse::<u64>().ok());
        match (arg.as_str(), value) {
            ("--seconds", Some(value)) => seconds = value,
            ("--seed", Some(value)) => seed = value,
            _ => {
                eprintln!("fuzz [--seconds N] [--seed N]");
                std::process::exit(2);
            }
        }
    }
    let lessons: Vec<&str> =
        SOURCES.iter().map(|source| source.text).chain([include_str!("../samples/every-kind.md")]).collect();
    let readers: Vec<(Reader, Vec<&str>)> = vec![
        (("lesson", Box::new(|text| parse::parse(text).is_ok())), lessons),
        (("expression", Box::new(|text| Expr::parse(text, &scope()).is_ok())), EXPRESSIONS.to_vec()),
        (("value", Box::new(|text| Shown::parse(text, &scope()).is_ok())), EXPRESSIONS.to_vec()),
        (
            (
                "number",
                Box::new(|text| {
                    let both = [Decimal::Point, Decimal::Comma].map(|decimal| number::read(text, decimal, None));
                    both.into_iter().flatten().inspect(|written| assert!(written.value.is_finite())).count() > 0
                }),
            ),
            NUMBERS.to_vec(),
        ),
        (
            (
                "progress",
                Box::new(|text| match Progress::read(text) {
                    Ok(progress) => {
                        assert!(Progress::read(&progress.short_text(60)).is_ok());
                        assert_eq!(Progress::read(&progress.record()).as_ref(), Ok(&progress));
                        true
                    }
                    Err(_) => false,
                }),
            ),
            RECORDS.to_vec(),
        ),
        (("assignment", Box::new(|text| assignment::decode(text).is_ok())), RECORDS.to_vec()),
        (("result", Box::new(|text| results::read(text).is_ok())), RECORDS.to_vec()),
    ];
    panic::set_hook(Box::new(|_| {}));
    let (begun, mut dice) = (Instant::now(), Dice(seed));
    let mut tally: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    let mut findings = 0;
    while begun.elapsed() < Duration::from_secs(seconds) {
        for ((name, read), good) in &readers {
            // A lesson takes a thousand times as long as a number.
            for _ in 0..if *name == "lesson" { 1 } else { 40 } {
                let text = damaged(&mut dice, good);
                let at = Instant::now();
                let (all, accepted) = tally.entry(name).or_default();
                *all += 1;
                match panic::catch_unwind(panic::AssertUnwindSafe(|| read(&text))) {
                    Ok(good) => *accepted += u64::from(good),
                    Err(why) => {
                        findings += 1;
                        let why = why.downcast_ref::<String>().cloned().unwrap_or_default();
                        println!("FINDING {name}: {why}\n{text:?}");
                    }
                }
                // On a busy machine anything is slow once.
                let quickest = || {
                    let again = (0..3).map(|_| {
                        let at = Instant::now();
                        let _ = panic::catch_unwind(panic::AssertUnwindSafe(|| read(&text)));
                        at.elapsed()
                    });
                    again.min().unwrap_or_default()
                };
                if at.elapsed() > SLOW && quickest() > SLOW {
                    findings += 1;
                    println!("FINDING {name}: more than {SLOW:?} for {} bytes\n{text:?}", text.len());
                }
            }
        }
    }
    for (name, (all, accepted)) in &tally {
        println!("{name:12} {all:>10} texts, {accepted:>8} of them read as good");
    }
    let all: u64 = tally.values().map(|(all, _)| all).sum();
    println!("{all} texts in {} s, seed {seed}: {findings} findings", begun.elapsed().as_secs());
    if findings > 0 {
        std::process::exit(1);
    }
}
