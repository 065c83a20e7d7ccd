//! What the terminal refuses, with which words and exit code, and what it says without solving anything.

mod common;

use common::{volute, volute_with};
use std::path::PathBuf;

const POINT: &str = "point --speed-rpm 1500 --torque-nm 700 --vane 60";

/// Exit code 2, nothing on standard output, and all of these words in the message.
fn refused(arguments: &str, words: &[&str]) {
    let ran = volute(arguments);
    assert_eq!(ran.code, Some(2), "`{arguments}`: {}{}", ran.out, ran.err);
    assert_eq!(ran.out, "", "`{arguments}`");
    for word in words {
        assert!(ran.err.contains(word), "`{arguments}` should say `{word}`:\n{}", ran.err);
    }
}

/// A file in the test's own folder.
fn file(name: &str, content: impl AsRef<[u8]>) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, content).expect("the folder is there to be written to");
    path
}

#[test]
fn by_hand_a_missing_setting_is_named() {
    refused("point", &["--speed-rpm", "--vane", "--torque-nm", "--fuel-mg"]);
    refused("point --speed-rpm 1500 --vane 60", &["--torque-nm", "--fuel-mg"]);
    refused("point --speed-rpm 1500 --torque-nm 5 --fuel-mg 5 --vane 60", &["cannot be used with"]);
    refused("sweep --over vane --from 0 --to 100 --points 3 --torque-nm 5", &["--speed-rpm"]);
    refused("sweep --over vane --from 0 --to 100 --points 3 --speed-rpm 1500", &["--torque-nm or --fuel-mg"]);
    refused("sweep --over torque --from 0 --to 100 --points 3 --speed-rpm 1500", &["--vane"]);
    refused("step --speed-rpm 1500 --torque-nm 5 --vane 60", &["--to-torque-nm", "--to-fuel-mg", "--to-vane"]);
    refused("check", &["<FILE>"]);
}

#[test]
fn by_hand_every_option_refuses_what_is_not_a_finite_number() {
    for value in ["nan", "NaN", "inf", "-inf", "1e999"] {
        for option in ["--speed-rpm", "--torque-nm", "--vane"] {
            let mut words: Vec<&str> = POINT.split(' ').collect();
            let at = words.iter().position(|word| *word == option).expect("the option is there") + 1;
            words[at] = value;
            refused(&words.join(" "), &[option, "finite number"]);
        }
        refused(&format!("point --speed-rpm 1500 --fuel-mg {value} --vane 60"), &["--fuel-mg", "finite number"]);
        refused(&format!("{POINT} --altitude-m {value}"), &["--altitude-m", "finite number"]);
        refused(&format!("{POINT} --set cylinders.bore_m={value}"), &["--set", "finite number"]);
        refused(&format!("sweep --over vane --from {value} --to 9 --points 3"), &["--from", "finite number"]);
        refused(
            &format!("step --speed-rpm 1 --torque-nm 1 --vane 1 --to-vane {value}"),
            &["--to-vane", "finite number"],
        );
    }
}

#[test]
fn by_hand_words_commas_and_empty_texts_are_not_numbers() {
    refused("point --speed-rpm fast --torque-nm 700 --vane 60", &["--speed-rpm", "not a number"]);
    refused("point --speed-rpm 1500 --torque-nm 0,5 --vane 60", &["--torque-nm", "decimal point"]);
    let ran = volute_with(&["point", "--speed-rpm", "", "--torque-nm", "1", "--vane", "1"]);
    assert_eq!((ran.code, ran.err.contains("empty")), (Some(2), true), "{}", ran.err);
}

#[test]
fn by_hand_a_setting_out_of_range_says_its_range_in_the_option_s_unit() {
    refused("point --speed-rpm 50000 --torque-nm 700 --vane 60", &["`--speed-rpm 50000`: outside 560 to 3000 1/min"]);
    refused("point --speed-rpm -1 --torque-nm 700 --vane 60", &["`--speed-rpm -1`: outside 560 to 3000 1/min"]);
    refused("point --speed-rpm 1500 --torque-nm -5 --vane 60", &["`--torque-nm -5`: outside 0 to 1650 N m"]);
    refused("point --speed-rpm 1500 --torque-nm 700 --vane 101", &["`--vane 101`: outside 0 to 100 % open"]);
    refused("point --speed-rpm 1500 --torque-nm 700 --vane -0.1", &["`--vane -0.1`: outside 0 to 100 % open"]);
    refused("point --speed-rpm 1500 --fuel-mg 0 --vane 60", &["`--fuel-mg 0`: outside 4 to 262.5 mg"]);
    refused(&format!("{POINT} --altitude-m 9000"), &["`--altitude-m 9000`: outside -690 to 5570 m"]);
    refused(&format!("{POINT} --set ambient.t_k=25"), &["ambient.t_k = 25", "degrees Celsius"]);
    refused(&format!("{POINT} --set cylinders.bore_m=108"), &["outside 0.05 to 0.3 m", "millimetres"]);
    refused(&format!("{POINT} --set cylinders.count=7"), &["cylinders.count = 7", "3, 4, 5, 6, 8, 9, 10 or 12"]);
}

#[test]
fn by_hand_an_unknown_name_comes_with_what_is_known() {
    refused(&format!("{POINT} --engine nothing"), &["no engine `nothing`", "`harbour-six` and `van-four`"]);
    refused(&format!("{POINT} --set bore_m=0.1"), &["no parameter `bore_m`", "`cylinders.bore_m`"]);
    refused(&format!("{POINT} --set cylinders.bor_m=0.1"), &["the nearest is `cylinders.bore_m`", "--keys"]);
    refused(&format!("{POINT} --set ambient.pa=1e5"), &["the nearest is `ambient.p_pa`"]);
    refused(&format!("{POINT} --set cylinders.bore_m"), &["KEY=VALUE"]);
    refused(&format!("{POINT} --set =5"), &["the key before the = is missing"]);
    refused(
        "sweep --over vanes --from 0 --to 9 --points 3",
        &["no parameter `vanes`", "one of vane, torque, fuel, speed, altitude"],
    );
    refused("turn", &["unrecognized subcommand"]);
}

#[test]
fn by_hand_a_sweep_is_checked_before_it_runs() {
    let held = "--speed-rpm 1500 --torque-nm 700";
    refused(&format!("sweep --over vane --from 0 --to 100 --points 1 {held}"), &["2..=20000"]);
    refused(&format!("sweep --over vane --from 0 --to 100 --points -3 {held}"), &["--points"]);
    refused(&format!("sweep --over vane --from 5 --to 5 --points 3 {held}"), &["both 5"]);
    refused(&format!("sweep --over vane --from 0 --to 101 --points 3 {held}"), &["`--vane 101`"]);
    refused(&format!("sweep --over vane --from 0 --to 100 --points 3 {held} --vane 9"), &["leave --vane out"]);
    refused(
        &format!("sweep --over torque --from 0 --to 9 --points 3 {held} --vane 9"),
        &["leave --torque-nm and --fuel-mg out"],
    );
    refused(
        &format!("sweep --over valves.intake_closes_deg --from 570 --to 575 --points 3 {held} --vane 9"),
        &["572.5", "whole degrees"],
    );
    refused(&format!("sweep --over vane --from 0 --to 100 --points 3 {held} --csv --json"), &["cannot be used with"]);
}

#[test]
fn by_hand_a_step_is_checked_before_it_runs() {
    let held = "step --speed-rpm 1500 --torque-nm 700 --vane 60";
    refused(&format!("{held} --to-torque-nm 1e5"), &["after the step", "`--torque-nm 100000`"]);
    refused(&format!("{held} --to-vane -1"), &["after the step", "`--vane -1`"]);
    refused(&format!("{held} --to-vane 5 --duration-s 0"), &["'0' for '--duration-s <S>': outside 0.01 to 120 s"]);
    refused(&format!("{held} --to-vane 5 --before-s 11"), &["'11' for '--before-s <S>': outside 0 to 10 s"]);
    refused(&format!("{held} --to-torque-nm 5 --to-fuel-mg 5"), &["cannot be used with"]);
}

#[test]
fn by_hand_a_bad_engine_file_is_refused_with_its_lines() {
    let good = volute("engines --file harbour-six").out;
    let path = file(
        "bad-engine.toml",
        good.replace("stroke_m = 0.132", "stroke_m = 132").replace("bore_m = 0.108", "bor_m = 0.108"),
    );
    let line = 1 + good.lines().position(|line| line.starts_with("stroke_m")).expect("has a stroke");
    let words =
        [format!("Line {line}, `cylinders.stroke_m = 132`"), "the nearest name is `cylinders.bore_m`".to_owned()];
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    refused(&format!("{POINT} --engine {}", path.display()), &words);

    let ran = volute(&format!("check {}", path.display()));
    assert_eq!(ran.code, Some(2), "{}", ran.out);
    for word in words {
        assert!(ran.out.contains(word), "{}", ran.out);
    }
    assert!(ran.out.lines().all(|line| line.starts_with(&path.display().to_string())), "{}", ran.out);
}

#[test]
fn by_hand_files_that_are_no_engines_are_refused() {
    let binary = file("binary.toml", [b'a', b'\n', 0xff, 0xfe]);
    let long = file("long.toml", "#".repeat(300_000));
    let empty = file("empty.toml", "");
    let other = file("notes.txt", "hello");
    for (path, word) in [
        (&binary, "line 2, a character is not UTF-8"),
        (&long, "longer than"),
        (&empty, "nothing but white space"),
        (&other, "ends in .toml"),
    ] {
        let ran = volute(&format!("check {}", path.display()));
        assert_eq!(ran.code, Some(2), "{}", ran.out);
        assert!(ran.out.contains(word), "should say `{word}`: {}", ran.out);
    }
    refused(&format!("{POINT} --engine {}", empty.display()), &["nothing but white space"]);
    let ran = volute("check no-such-file.toml");
    assert_eq!((ran.code, ran.out.contains("cannot be read")), (Some(2), true), "{}", ran.out);
}

#[test]
fn by_hand_a_good_and_a_bad_file_both_get_a_line() {
    let good = file("good.toml", volute("engines --file van-four").out);
    let empty = file("empty-beside-good.toml", "");
    let ran = volute(&format!("check {} {}", good.display(), empty.display()));
    assert_eq!(ran.code, Some(2));
    assert!(ran.out.contains("good.toml: good. Engine van-four: 2.0 L inline four"), "{}", ran.out);
    assert!(ran.out.contains("empty-beside-good.toml: In the file: nothing but"), "{}", ran.out);
    assert_eq!(volute(&format!("check {}", good.display())).code, Some(0));
}

#[test]
fn by_hand_engines_are_listed_explained_and_printed() {
    let list = volute("engines");
    assert_eq!(list.code, Some(0));
    assert!(
        list.out.contains("harbour-six") && list.out.contains("van-four") && list.out.contains("teaching model"),
        "{}",
        list.out
    );

    let keys = volute("engines --keys");
    assert_eq!(keys.code, Some(0));
    for key in volute_core::engine::keys().chain(volute_core::settings::Ambient::KEYS) {
        let row = keys.out.lines().find(|line| line.split_whitespace().next() == Some(&key.path()));
        assert!(
            row.is_some_and(|row| row.ends_with(key.about) && row.contains(key.unit)),
            "{} in\n{}",
            key.path(),
            keys.out
        );
    }

    for (name, text) in volute_core::engine::engine_file::BUILT_IN {
        assert_eq!(&volute(&format!("engines --file {name}")).out, text);
    }
    refused("engines --file nothing", &["no engine `nothing`"]);
    refused("engines --set cylinders.bore_m=0.1", &["--file"]);
    refused("engines --file van-four --set ambient.p_pa=1e5", &["not part of an engine"]);
}

#[test]
fn identity_a_changed_engine_file_is_that_engine_changed() {
    let ran = volute("engines --file van-four --set turbine.tip_diameter_m=0.0451 --set fuel.lhv_j_kg=42.5e6");
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let mut engine = volute_core::engine::built_in::engine("van-four").expect("comes with it");
    engine.set("turbine.tip_diameter_m", 0.0451).expect("allowed");
    engine.set("fuel.lhv_j_kg", 42.5e6).expect("allowed");
    assert_eq!(volute_core::engine::engine_file::parse(&ran.out), Ok(engine));
}

#[test]
fn by_hand_help_has_examples_and_the_caution() {
    for command in ["--help", "point --help", "sweep --help", "step --help", "engines --help"] {
        let ran = volute(command);
        assert_eq!(ran.code, Some(0));
        assert!(ran.out.contains("Examples:"), "{command}");
        assert!(ran.out.contains("A teaching model, not a tuning instruction."), "{command}");
    }
    // The examples are allowed questions: each gets past the parser and the range checks of its command.
    let shown: String =
        ["point", "sweep", "step"].iter().map(|command| volute(&format!("{command} --help")).out).collect();
    let shown = shown.replace("\\\n", " ");
    let examples: Vec<&str> = shown.lines().filter_map(|line| line.trim().strip_prefix("volute ")).collect();
    assert!(examples.len() >= 10, "{examples:?}");
    for example in examples {
        let question = example.split('>').next().unwrap_or_default();
        let ran = volute(question);
        assert!(matches!(ran.code, Some(0 | 3)), "`volute {question}`: {}", ran.err);
    }
}
