//! Every block and kind of question, with one slip each: where, what, and what is allowed.

use crate::files::problems;
use crate::sample::EVERY_KIND;

/// The place of a piece of text in the sample, as a message gives it.
fn place(piece: &str) -> String {
    let at = EVERY_KIND.find(piece).unwrap_or_else(|| panic!("`{piece}`"));
    let line = EVERY_KIND[..at].matches('\n').count() + 1;
    format!("line {line},")
}

#[test]
fn by_hand_each_slip_in_a_block_is_named() {
    assert!(problems(EVERY_KIND).is_empty());
    let mut missed = String::new();
    for (from, to, says) in [
        // Pins.
        ("of = \"hill\"\naltitude = \"3000 m\"", "of = \"hil\"\naltitude = \"3000 m\"", "there is no pin called `hil`"),
        ("name = \"hill\"\n", "name = \"hill\"\nof = \"top\"\n", "start from each other in a circle"),
        (
            "name = \"van\"\nengine = \"van-four\"",
            "name = \"van\"\nengine = \"van-five\"",
            "known are harbour-six, van-four",
        ),
        ("name = \"van\"\nengine", "name = \"van\"\nof = \"hill\"\nengine", "another engine starts from nothing"),
        ("torque = \"200 N m\"\n", "", "has no `torque` or `fuel`"),
        ("altitude = \"1500 m\"", "altitude = \"1500 K\"", "here a length is needed"),
        ("[pins.own]", "[pins.start]", "`start` is used twice"),
        // Sweeps and runs.
        ("over = \"vane 100..40 %\"", "over = \"vanes 100..40 %\"", "such as `vane 100..30 %`"),
        ("over = \"vane 100..40 %\"", "over = \"vane 100..40 kPa\"", "such as `vane 100..30 %`"),
        ("over = \"vane 100..40 %\"", "over = \"parts.exhaust_pipe.bor_m 0.1..0.2\"", "parts.<path>"),
        ("points = 7", "points = 99", "is outside 2 to 61"),
        ("to = { torque = \"1000 N m\" }\nfor = \"2.5 s\"\n```", "for = \"2.5 s\"\n```", "what changes at time zero"),
        ("for = \"2.5 s\"\n```", "for = \"20 s\"\n```", "is outside 0.05 to 10 s"),
        ("for = \"2.5 s\"\n```", "for = \"2.5 m\"\n```", "here a time is needed"),
        ("of = \"bench\"\nto =", "of = \"bank\"\nto =", "known are start, top, hill, van, light, own, bench"),
        ("of = \"light\"\n", "of = \"bench\"\n", "there is no state called `bench`"),
        // Logs.
        ("value = \"torque\"", "value = \"p3\"", "is a pressure; here a torque is needed"),
        ("name = \"p3\"\nheading", "name = \"torque\"\nheading", "`torque` is used twice"),
        ("points = 3\n", "", "how many rows"),
        // Stages, what a learner may move and see.
        ("say = \"Carry it up\"", "", "what the button says"),
        ("views = [\"loop\", \"sweep\"]", "views = [\"loops\"]", "allowed are loop, cycle"),
        ("mark = [\"vane\", \"p3\"]", "mark = [\"vanes\"]", "there is no control or quantity called `vanes`"),
        ("\"hold\", ", "\"held\", ", "allowed are vane, load, speed, ambient, altitude, hold, parts"),
        ("bore_m 0.08..0.125\"]", "bore_m 0.08..0.125 m\"]", "two bare numbers in SI"),
        (
            "buy = { count = 1, from = [\"p3\", \"t3\"] }",
            "buy = { from = [\"p3\"] }",
            "how many readings may be uncovered",
        ),
        ("confidence = true", "confidence = \"yes\"", "true or false, without quotes"),
        ("show = \"own\"", "show = \"one\"", "there is no pin called `one`"),
        // Expressions in their places.
        ("goal = \"p3 between", "goal = \"runs.nowhere.t90 < 2 s and p3 between", "there is no `runs.nowhere.t90`"),
        ("ask = \"Bring p3", "ask = \"{{runs.now.t90 | s}} Bring p3", "there is no `runs.now.t90`"),
        ("ask = \"Bring p3", "ask = \"{{most(visited.p3) | kPa abs}} Bring p3", "only where a task is judged"),
        // Predictions and checkpoints.
        (
            "kind = \"sketch\"\nask = \"Draw the exhaust",
            "kind = \"drawing\"\nask = \"Draw the exhaust",
            "allowed are choice, short, sketch, order, number",
        ),
        ("kind = \"words\"", "kind = \"text\"", "allowed are number, choice, choices, order, sketch, words"),
        ("of = \"sweeps.vanes.p3\"\n", "of = \"sweeps.vanes.p9\"\n", "there is no curve called `sweeps.vanes.p9`"),
        (
            "of = \"sweeps.vanes.p3\"\nunit = \"kPa abs\"",
            "of = \"sweeps.vanes.p3\"\nunit = \"kPa\"",
            "write `| kPa abs`",
        ),
        (
            "of = \"sweeps.vanes.p3\"\nunit = \"kPa abs\"",
            "of = \"sweeps.vanes.p3\"\nunit = \"K\"",
            "is a pressure, which has no unit `K`",
        ),
        ("low = 100\nhigh = 500", "low = 500\nhigh = 100", "less than `high`"),
        ("low = 100\n", "low = \"100\"\n", "a number without quotes"),
        ("given = \"p2\"", "given = \"t2\"", "is a temperature, which has no unit `kPa abs`"),
        ("shape = \"falls\"", "shape = \"sinks\"", "allowed are rises, falls, flat, peak, trough, straight"),
        ("shape = \"straight\"", "crosses = \"early\"", "a second curve, which `crosses` is about"),
        ("shape = \"straight\"\n", "", "`shape`, `crosses`, or both"),
        ("order = \"falling\"", "order = \"down\"", "allowed are rising, falling"),
        (
            "by = \"pins.van.air_flow\"",
            "by = \"pins.van.p3\"",
            "is a pressure; here a mass flow, as for the first item, is needed",
        ),
        ("order = \"falling\"\n", "", "`by` sorts by a value"),
        ("apart = \"4 kPa\"", "apart = \"4 K\"", "here a pressure is needed"),
        ("id = \"mine\"", "id = \"sea\"", "`sea` is used twice"),
        ("first = \"mountain\"", "first = \"hill\"", "known are sea, mine, mountain"),
        ("by = [\"seed.a\", \"seed.b\", \"seed.c\"]", "by = [\"seed.a\"]", "3 expressions, one for each item"),
        (
            "by = [\"seed.a\", \"seed.b\", \"seed.c\"]\norder = \"rising\"",
            "by = [\"seed.a\", \"seed.b\", \"seed.c\"]",
            "which way these values go",
        ),
        ("before = [\"sea\", \"mine\"]\n", "", "one of `by` with `order`, `first`, or `before`"),
        ("at_least = 20", "at_least = 900", "is outside 1 to 500"),
        ("consider = \"The barometer.\"\n", "", "what a good answer considers"),
        ("seed = { v = \"50..60 step 5 %\" }", "seed = { rpm = \"50..60 step 5 %\" }", "`rpm` is used twice"),
        // Reveal and teacher.
        ("plot=sweeps.vanes.p3,sweeps.vanes.p2", "plot=sweeps.vane.p3", "there is no curve called `sweeps.vane.p3`"),
        ("compare=start,hill", "contrast=start,hill", "plot=sweeps.name.quantity"),
        ("prompts = [\"Who has drilled for p3?\"]", "prompts = []", "questions for the discussion"),
        ("minutes = 40\ndo", "minutes = 400\ndo", "is outside 1 to 45"),
        ("minutes = 40\n", "", "how long it takes"),
    ] {
        if !EVERY_KIND.contains(from) {
            missed += &format!("not in the sample: {from}\n");
            continue;
        }
        let found = problems(&EVERY_KIND.replacen(from, to, 1));
        if !found.iter().any(|line| line.contains(says)) {
            missed += &format!("`{to}`: no `{says}` in {found:#?}\n");
        }
    }
    assert!(missed.is_empty(), "{missed}");
}

#[test]
fn by_hand_a_slip_is_found_where_it_stands() {
    for (from, to) in [
        ("points = 7", "points = 99"),
        ("shape = \"straight\"", "shape = \"crooked\""),
        ("goal = \"p3 between", "goal = \"p33 between"),
        ("first = \"mountain\"", "first = \"hill\""),
        ("value = \"p3 - p_amb\"", "value = \"p3 - p_ambi\""),
    ] {
        let found = problems(&EVERY_KIND.replacen(from, to, 1));
        assert!(found[0].starts_with(&place(from)), "{}: {found:?}", place(from));
    }
}
