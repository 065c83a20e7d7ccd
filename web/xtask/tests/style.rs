//! The rules of `web/style/` that its `kit.css` states: every class has one home, and no two components share one.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The sheets that the pages link to.
const LISTS: [&str; 3] = ["kit.css", "bench.css", "desk.css"];

/// Words that say something only beside a class of a component: `.plot.covered`, `.gas.i`.
const STATES: &[&str] = &[
    // What is open, on, chosen, moved or done.
    "covered",
    "crossed",
    "done",
    "dragged",
    "flowing",
    "here",
    "hot",
    "locked",
    "mine",
    "moving",
    "on",
    "open",
    "opened",
    "over",
    "reading",
    "tabled",
    "tooled",
    "wrong",
    // What the page is: without a point of operation, at rest, built to its end, beside a lesson.
    "rested",
    "stale",
    "whole",
    "with-lesson",
    // A line of a table that adds up the others.
    "sum",
    // Sides of the engine and sorts of flow of energy.
    "a",
    "e",
    "i",
    "k",
    "l",
    "o",
    "r",
    "w",
    "ex",
    "in",
    // Whose curve it is and how it is drawn.
    "dashed",
    "dotted",
    "given",
    "ink",
    "own",
    "truth",
    // Marks on a headline's rule, values in the drawing, stations that a phone leaves out.
    "extra",
    "lim",
    "v",
    "zero",
    // How small the type of a job sheet has to be, and that this is being found out.
    "fit-1",
    "fit-2",
    "fit-3",
    "fit-4",
    "fit-5",
    "fit-6",
    "fit-7",
    "fit-8",
    "measured",
    // The stations between which gas streams.
    "s0",
    "s1",
    "s2",
    "s3",
    "s4",
    "s5",
    "s6",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// One file of rules: `web/style/bench/plot.css` has the room `bench` and the name `plot`.
struct Sheet {
    room: String,
    name: String,
    text: String,
    selectors: Vec<String>,
}

impl Sheet {
    fn read(path: &Path) -> Self {
        let part = |of: Option<&std::ffi::OsStr>| of.and_then(|name| name.to_str()).unwrap_or_default().to_string();
        let text = read(path);
        let selectors = selectors(&text);
        Self { room: part(path.parent().and_then(Path::file_name)), name: part(path.file_stem()), text, selectors }
    }

    fn is_kit(&self) -> bool {
        self.room == "kit"
    }
}

fn sheets() -> Vec<Sheet> {
    let parts = LISTS.iter().flat_map(|list| xtask::style::parts(&root().join("web/style").join(list)).expect(list));
    parts.filter(|part| !part.ends_with("tokens.css")).map(|part| Sheet::read(&part)).collect()
}

/// The text without its comments, which leave their line breaks behind.
fn without_comments(css: &str) -> String {
    let mut out = String::new();
    let mut rest = css;
    while let Some((before, tail)) = rest.split_once("/*") {
        out.push_str(before);
        let (comment, tail) = tail.split_once("*/").expect("a comment ends");
        out.extend(comment.matches('\n'));
        rest = tail;
    }
    out + rest
}

/// Every selector of a sheet, one by one. What begins with `@` has none.
fn selectors(css: &str) -> Vec<String> {
    let css = without_comments(css);
    let heads = css.split('{').map(|text| text.rsplit(['}', ';']).next().unwrap_or_default().trim());
    // The text behind the last brace has no rule.
    let rules = css.matches('{').count();
    let heads: Vec<&str> = heads.take(rules).filter(|head| !head.starts_with('@') && *head != "to").collect();
    heads.iter().flat_map(|head| split_list(head)).collect()
}

/// Splits at the commas outside brackets.
fn split_list(list: &str) -> Vec<String> {
    let (mut parts, mut depth) = (vec![String::new()], 0);
    for letter in list.chars() {
        match letter {
            '(' | '[' => depth += 1,
            ')' | ']' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(String::new());
                continue;
            }
            _ => {}
        }
        parts.last_mut().expect("one at least").push(letter);
    }
    parts.iter().map(|part| part.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

/// The classes that a selector names.
fn classes(selector: &str) -> Vec<&str> {
    let of_name = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    let parts = selector.split('.').skip(1);
    parts.map(|part| part.split(|c| !of_name(c)).next().unwrap_or_default()).filter(|name| !name.is_empty()).collect()
}

/// Which component a class belongs to by its name: the longest that fits.
fn component<'s>(sheets: &'s [Sheet], class: &str) -> Option<&'s Sheet> {
    let fits = |sheet: &&Sheet| {
        let rest = class.strip_prefix(sheet.name.as_str());
        !sheet.is_kit() && rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
    };
    sheets.iter().filter(fits).max_by_key(|sheet| sheet.name.len())
}

/// A class of the markup, and where it stands.
struct Use {
    class: String,
    file: String,
}

/// The classes that sources give to elements: the words of `class="..."`, `class:word=` and `class=format!("...")`.
fn uses() -> Vec<Use> {
    let mut uses = Vec::new();
    for (file, text) in sources() {
        let mut put = |words: &str| {
            uses.extend(words.split_whitespace().map(|word| Use { class: word.to_string(), file: file.clone() }))
        };
        for (open, close) in [("class=\"", "\""), ("class=\\\"", "\\\""), ("class=format!(\"", "\""), (" class:", "=")]
        {
            // `class: &str` is a parameter.
            let tails = text.split(open).skip(1).filter(|tail| tail.starts_with(|c: char| c.is_ascii_lowercase()));
            tails.filter_map(|tail| tail.split(close).next()).for_each(&mut put);
        }
    }
    uses
}

/// Rust and HTML of the page, by their paths below `web/src`.
fn sources() -> Vec<(String, String)> {
    let folder = root().join("web/src");
    let files = xtask::keep::files_in(&folder).expect("the sources");
    let inside = |path: &Path| path.strip_prefix(&folder).expect("inside").to_string_lossy().replace('\\', "/");
    let mut sources: Vec<_> = files.iter().map(|path| (inside(path), read(path))).collect();
    sources.extend(["index.html", "web/desk.html"].map(|page| (page.to_string(), read(&root().join(page)))));
    sources
}

/// Words of the string literals that could be classes: `"stale"`, `"plot-ink dashed"`.
fn literals() -> BTreeSet<String> {
    let plain = |text: &&str| text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || " -{}".contains(c));
    let mut words = BTreeSet::new();
    for (_, text) in sources() {
        words.extend(text.split('"').filter(plain).flat_map(str::split_whitespace).map(String::from));
    }
    words
}

/// Fails with all faults at once.
fn hold(faults: &[String]) {
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn no_rule_reaches_into_another_component() {
    let sheets = sheets();
    let mut faults = Vec::new();
    for sheet in sheets.iter().filter(|sheet| !sheet.is_kit()) {
        for selector in &sheet.selectors {
            let own = |class: &&str| component(&sheets, class).is_some_and(|home| home.name == sheet.name);
            let named = classes(selector).iter().any(own) || selector.contains('#') || selector.contains("[data-");
            // A page may set tokens anew for its print.
            if !named && !selector.starts_with(":root") {
                faults.push(format!("{}.css: `{selector}` names nothing of its own component", sheet.name));
            }
        }
    }
    hold(&faults);
}

#[test]
fn a_class_has_one_home() {
    let sheets = sheets();
    let mut faults = Vec::new();
    let mut kit: BTreeMap<&str, &str> = BTreeMap::new();
    for sheet in sheets.iter().filter(|sheet| sheet.is_kit()) {
        for class in sheet.selectors.iter().flat_map(|selector| classes(selector)) {
            if component(&sheets, class).is_some() {
                faults.push(format!("kit/{}.css: `{class}` is a component's by its name", sheet.name));
            }
            if !STATES.contains(&class) && *kit.entry(class).or_insert(&sheet.name) != sheet.name {
                faults.push(format!("`{class}` stands in kit/{}.css and in kit/{}.css", kit[class], sheet.name));
            }
        }
    }
    for sheet in sheets.iter().filter(|sheet| !sheet.is_kit()) {
        for class in sheet.selectors.iter().flat_map(|selector| classes(selector)) {
            if component(&sheets, class).is_none() && !kit.contains_key(class) && !STATES.contains(&class) {
                faults.push(format!("{}.css: `{class}` begins with no component's name; is it a state?", sheet.name));
            }
        }
    }
    let names: BTreeSet<&str> = sheets.iter().map(|sheet| sheet.name.as_str()).collect();
    assert_eq!(names.len(), sheets.len(), "two files have one name");
    hold(&faults);
}

#[test]
fn a_component_is_used_in_its_own_room() {
    let sheets = sheets();
    let mut faults = Vec::new();
    for Use { class, file } in uses() {
        let folder = file.split('/').next().unwrap_or_default();
        let room = if ["lessons", "desk"].contains(&folder) { folder } else { "bench" };
        if let Some(home) = component(&sheets, &class).filter(|home| home.room != room) {
            faults.push(format!("{file} uses `{class}` of {}/{}.css", home.room, home.name));
        }
    }
    hold(&faults);
}

#[test]
fn every_class_has_rules_and_every_rule_a_use() {
    let tests = xtask::keep::files_in(&root().join("tests/browser")).expect("the tests");
    let tests: String =
        tests.iter().filter(|path| path.extension().is_some_and(|e| e == "rs")).map(|p| read(p)).collect();
    let sheets = sheets();
    let ruled: BTreeSet<&str> = sheets.iter().flat_map(|sheet| &sheet.selectors).flat_map(|s| classes(s)).collect();
    let (used, literals, mut faults) = (uses(), literals(), Vec::new());
    for Use { class, file } in used.iter().filter(|found| !found.class.contains(['{', '}'])) {
        if !ruled.contains(class.as_str()) && !tests.contains(&format!(".{class}")) {
            faults.push(format!("{file}: `{class}` has no rule, and no browser test looks for it"));
        }
    }
    for class in &ruled {
        // `s{i}` stands for all that begin alike.
        let counted = format!("{}{{i}}", class.trim_end_matches(|c: char| c.is_ascii_digit()));
        let is_used = used.iter().any(|found| found.class == *class || found.class == counted);
        if !is_used && !literals.contains(*class) {
            faults.push(format!("there are rules for `{class}`, which nothing uses"));
        }
    }
    faults.extend(STATES.iter().filter(|s| !ruled.contains(**s)).map(|s| format!("the state `{s}` has no rule")));
    hold(&faults);
}

#[test]
fn every_file_is_in_a_list() {
    let folder = root().join("web/style");
    let listed: BTreeSet<PathBuf> =
        LISTS.iter().flat_map(|list| xtask::style::parts(&folder.join(list)).expect(list)).collect();
    for file in xtask::keep::files_in(&folder).expect("the style sheets") {
        let name = file.strip_prefix(&folder).expect("inside").to_string_lossy().into_owned();
        assert!(LISTS.contains(&name.as_str()) || listed.contains(&file), "no list imports {name}");
    }
}

/// The columns that a rule of one line may have.
const WIDTH: usize = 120;

#[test]
fn a_line_has_one_rule() {
    let mut faults = Vec::new();
    for sheet in sheets() {
        // The rule that is open: its first line, and all its lines as one.
        let mut open: Option<(usize, String)> = None;
        for (i, line) in without_comments(&sheet.text).lines().enumerate() {
            let mut fault = |at: usize, what: &str| {
                faults.push(format!("{}/{}.css, line {}: {what}", sheet.room, sheet.name, at + 1));
            };
            let text = line.trim();
            let (opens, closes) = (text.matches('{').count(), text.matches('}').count());
            if let Some((first, rule)) = &mut open {
                rule.extend([" ", text]);
                if text.trim_end_matches(';').contains(';') || text.len() > 1 && closes > 0 {
                    fault(i, "two things in one line");
                }
                if text == "}" {
                    let commented = sheet.text.lines().skip(*first).take(i - *first).any(|line| line.contains("/*"));
                    if rule.len() <= WIDTH && !commented {
                        fault(*first, "this rule fits into one line");
                    }
                    open = None;
                }
            } else if text.starts_with("@keyframes") || text.starts_with("@media") || text == "}" {
            } else if opens == 0 && text.ends_with(',') || opens == 1 && text.ends_with('{') {
                open = Some((i, line.trim_end().to_string()));
            } else if !text.is_empty() && (opens != 1 || closes != 1 || !text.ends_with('}')) {
                fault(i, "this is not one rule");
            } else if line.len() > WIDTH {
                fault(i, "this rule is too long for one line");
            }
        }
    }
    hold(&faults);
}
