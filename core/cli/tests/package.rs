//! `volute package`: what it writes, and what it refuses.

mod common;

use common::{Ran, volute, volute_with};
use std::fs;
use std::path::{Path, PathBuf};

const LESSON: &str = "more-boost-less-torque";

/// A folder that looks like a built page, in the test's own place.
fn site(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    fs::create_dir_all(folder.join("fonts")).expect("a folder");
    let page = "<head><meta content=\"connect-src 'self'\"></head><body>page</body>";
    for (file, text) in
        [("index.html", page), ("boot.js", "//"), ("fonts/a.woff2", "font"), ("service-worker.js", "//")]
    {
        fs::write(folder.join(file), text).expect("a file");
    }
    folder
}

fn package(arguments: &[&str]) -> Ran {
    volute_with(&[&["package"], arguments].concat())
}

fn text(path: &Path) -> &str {
    path.to_str().expect("a name in UTF-8")
}

#[test]
fn by_hand_each_kind_is_written_and_the_output_says_so() {
    let folder = site("package-kinds");
    let out = folder.with_extension("out");
    for (kind, manifest) in [("scorm12", "imsmanifest.xml"), ("cmi5", "cmi5.xml")] {
        let arguments = [
            "--kind",
            kind,
            "--site",
            text(&folder),
            "--lessons",
            LESSON,
            "--title",
            "Week 3",
            "--pass",
            "80",
            "--out",
            text(&out),
        ];
        let ran = package(&arguments);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        assert!(
            ran.out.contains("Week 3") && ran.out.contains("passes at 80 %") && ran.out.contains(kind),
            "{}",
            ran.out
        );
        let bytes = fs::read(&out).expect("the package");
        assert!(bytes.starts_with(b"PK\x03\x04"));
        // Names stand in a zip as they are.
        for (name, there) in [(manifest, true), ("fonts/a.woff2", true), ("service-worker.js", false)] {
            assert_eq!(bytes.windows(name.len()).any(|window| window == name.as_bytes()), there, "{kind}: {name}");
        }
        assert_eq!(package(&arguments).code, Some(0));
        assert_eq!(fs::read(&out).expect("the package"), bytes, "the same again");
    }
    let ran =
        package(&["--kind", "moodle-xml", "--lessons", LESSON, "--seed", "5", "--variants", "2", "--out", text(&out)]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("variants 5 to 6"), "{}", ran.out);
    assert!(
        fs::read_to_string(&out).expect("the file").contains(&format!("<idnumber>{LESSON}.pressure-rise.6</idnumber>"))
    );
}

#[test]
fn by_hand_an_assignment_is_taken_from_its_link() {
    let folder = site("package-link");
    let out = folder.with_extension("out");
    let link =
        format!("https://school.example/bench/#v=1&vane=60&assignment=1&title=Boost+%26+co&do={LESSON}&pass=0&end");
    let ran = package(&["--kind", "scorm12", "--site", text(&folder), "--assignment", &link, "--out", text(&out)]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("Boost & co") && ran.out.contains("no pass mark"), "{}", ran.out);
}

#[test]
fn by_hand_each_refusal_says_why() {
    let folder = site("package-refused");
    let empty = folder.join("fonts");
    let out = folder.with_extension("out");
    let (folder, empty, out) = (text(&folder), text(&empty), text(&out));
    let zip = ["--kind", "scorm12", "--out", out];
    let xml = ["--kind", "moodle-xml", "--out", out];
    for (arguments, words) in [
        (&[&zip[..], &["--site", folder]].concat(), vec!["--lessons"]),
        (&[&zip[..], &["--lessons", LESSON]].concat(), vec!["--site", "cargo xtask build"]),
        (&[&zip[..], &["--site", empty, "--lessons", LESSON]].concat(), vec!["index.html", "cargo xtask build"]),
        (&[&zip[..], &["--site", folder, "--lessons", "nonsense"]].concat(), vec!["no lesson `nonsense`", LESSON]),
        (
            &[&zip[..], &["--site", folder, "--lessons", "more-boost-less-torque/nonsense"]].concat(),
            vec!["has no checkpoint or task `nonsense`"],
        ),
        (
            &[&zip[..], &["--site", folder, "--assignment", "assignment=1&do=a"]].concat(),
            vec!["--assignment", "cut off"],
        ),
        (&[&zip[..], &["--site", folder, "--lessons", LESSON, "--pass", "101"]].concat(), vec!["--pass", "0..=100"]),
        (
            &[&zip[..], &["--site", folder, "--lessons", LESSON, "--variants", "2"]].concat(),
            vec!["--variants", "moodle-xml"],
        ),
        (&[&zip[..], &["--site", folder, "--lessons", LESSON, "--title", "a\nb"]].concat(), vec!["title", "U+000A"]),
        (&[&zip[..], &["--site", folder, "--lessons", LESSON, "--language", "en_US"]].concat(), vec!["en_US", "de-CH"]),
        (&[&xml[..], &["--lessons", LESSON, "--site", folder]].concat(), vec!["--site"]),
        (&[&xml[..], &["--lessons", LESSON, "--variants", "0"]].concat(), vec!["--variants", "1..=1000"]),
        (&[&xml[..], &["--lessons", LESSON, "--page", "http://x"]].concat(), vec!["--page", "https://"]),
        (
            &[&xml[..], &["--lessons", LESSON, "--seed", "18446744073709551615", "--variants", "2"]].concat(),
            vec!["go beyond", "18446744073709551615"],
        ),
        (&["--kind", "scorm12", "--site", folder, "--lessons", LESSON, "--out", folder].to_vec(), vec!["--out"]),
    ] {
        let ran = package(arguments);
        assert_eq!(ran.code, Some(2), "{arguments:?}: {}{}", ran.out, ran.err);
        assert_eq!(ran.out, "", "{arguments:?}");
        for word in words {
            assert!(ran.err.contains(word), "{arguments:?} should say `{word}`:\n{}", ran.err);
        }
    }
}

#[test]
fn by_hand_a_missing_kind_is_named() {
    let ran = volute("package --lessons a --out b");
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("--kind <KIND>"), "{}", ran.err);
}
