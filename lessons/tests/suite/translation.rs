//! What a translation may change.

use crate::sample;
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::parse;
use volute_lessons::translation::differences;

fn with(from: &str, to: &str) -> Lesson {
    assert!(sample::TEXT.contains(from), "`{from}`");
    parse(&sample::TEXT.replacen(from, to, 1)).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

#[test]
fn by_hand_words_may_differ_and_nothing_else() {
    let english = sample::lesson();
    assert!(differences(english, english).is_empty());
    let good = with("The engine runs at full fuel:", "Der Motor läuft mit voller Einspritzmenge:");
    assert!(differences(english, &good).is_empty());
    for (from, to, says) in [
        ("minutes = 15", "minutes = 20", "`minutes`"),
        ("vane = \"80 %\"\n```", "vane = \"81 %\"\n```", "`pin`"),
        ("tolerance = \"3 %\"", "tolerance = \"4 %\"", "`pressure-rise`: keys or expressions"),
        ("{{start.fuel | mg}} for each", "{{start.fuel | g}} for each", "the values in its text (Prose)"),
        ("```safety\nClosing", "```reveal after=torque-guess\nClosing", "`reveal` , in the English file `safety`"),
    ] {
        let found = differences(english, &with(from, to));
        assert!(found.iter().any(|line| line.contains(says)), "{says}: {found:?}");
    }
}
