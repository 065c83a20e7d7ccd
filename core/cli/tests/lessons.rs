//! `volute check` on lessons: what is wrong, where, what is allowed, and the exit code.

mod common;

use common::volute;
use std::fs;
use std::path::{Path, PathBuf};

const SAMPLE: &str = include_str!("../../../lessons/samples/every-kind.md");

/// A folder of the test's own.
fn folder(name: &str) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    fs::create_dir_all(path.join("de")).expect("a folder can be made");
    path
}

fn write(path: &Path, text: &str) {
    fs::write(path, text).expect("the folder is there to be written to");
}

#[test]
fn by_hand_a_good_lesson_and_its_translation_pass() {
    let folder = folder("lessons-good");
    write(&folder.join("every-kind.md"), SAMPLE);
    write(&folder.join("de/every-kind.md"), &SAMPLE.replace("It has one of everything", "Von allem eines"));
    let ran = volute(&format!("check --seeds 3 {}", folder.display()));
    assert_eq!(ran.code, Some(0), "{}{}", ran.out, ran.err);
    assert_eq!(ran.out.matches("good. Lesson every-kind: 1 tasks, 6 scored checkpoints").count(), 2, "{}", ran.out);
}

#[test]
fn by_hand_every_problem_has_file_line_and_column() {
    let folder = folder("lessons-bad");
    let path = folder.join("every-kind.md");
    // Found when the file is read.
    write(&path, &SAMPLE.replace("shape = \"straight\"", "shape = \"crooked\""));
    let line = 1 + SAMPLE.lines().position(|line| line == "shape = \"straight\"").expect("a shape");
    let ran = volute(&format!("check --seeds 3 {}", path.display()));
    assert_eq!(ran.code, Some(2), "{}", ran.out);
    let begins = format!("{}:{line}:10: `crooked` is not allowed for `shape`; allowed are rises", path.display());
    assert!(ran.out.starts_with(&begins), "{}", ran.out);
    // Found when it is tried: the block, and the seed that shows it.
    write(&path, &SAMPLE.replace("vane = \"70 %\" }", "vane = \"35 %\" }"));
    // Its fence is the line above its id.
    let line = SAMPLE[..SAMPLE.find("id = \"lighter\"").expect("a task")].matches('\n').count();
    let ran = volute(&format!("check --seeds 3 {}", path.display()));
    assert_eq!(ran.code, Some(2), "{}", ran.out);
    assert!(ran.out.contains(&format!("{}:{line}:1: lighter: the answer moves `vane`", path.display())), "{}", ran.out);
    assert!(ran.out.contains("(seed 0)"), "{}", ran.out);
    // A typed number: where it stands.
    write(&path, &SAMPLE.replace("Vent before opening a clamp.", "At 2 bar\nvent before opening a clamp at 300 °C."));
    let line = 1 + SAMPLE.lines().position(|line| line.starts_with("Vent before")).expect("a callout");
    let ran = volute(&format!("check --seeds 3 {}", path.display()));
    assert!(ran.out.contains(&format!("{}:{line}:4: safety: `2 bar` is typed", path.display())), "{}", ran.out);
    assert!(ran.out.contains(&format!("{}:{}:32: safety: `300 °C` is typed", path.display(), line + 1)), "{}", ran.out);
}

#[test]
fn by_hand_a_translation_that_asks_something_else_is_named() {
    let folder = folder("lessons-de");
    write(&folder.join("every-kind.md"), SAMPLE);
    write(&folder.join("de/every-kind.md"), &SAMPLE.replace("tolerance = \"2 K\"", "tolerance = \"3 K\""));
    let ran = volute(&format!("check --seeds 2 {}", folder.join("de/every-kind.md").display()));
    assert_eq!(ran.code, Some(2), "{}", ran.out);
    assert!(ran.out.contains("`a-number`: keys or expressions differ from the English file"), "{}", ran.out);
}

#[test]
fn by_hand_names_and_folders() {
    let folder = folder("lessons-names");
    let path = folder.join("another-name.md");
    write(&path, SAMPLE);
    let ran = volute(&format!("check --seeds 1 {}", path.display()));
    assert!(ran.out.contains("the name of the file must be every-kind.md"), "{}", ran.out);
    let empty = folder.join("empty");
    fs::create_dir_all(&empty).expect("a folder can be made");
    let ran = volute(&format!("check {}", empty.display()));
    assert_eq!((ran.code, ran.err.contains("there is no lesson in it")), (Some(2), true), "{}", ran.err);
    assert_eq!(volute("check --seeds 0 x.md").code, Some(2));
}
