//! The house keeps its rooms: which module may use which, and how long a function may be. `DEVELOPERS.md` has the plan.
//!
//! `cargo run -p volute-tests --example house` prints rooms, arrows, circles, long functions and lines.

mod plan;
mod sources;

use sources::modules;

#[test]
fn regress_no_module_uses_a_room_above_its_own_and_none_uses_each_other() {
    let plans = plan::plans();
    assert!(plans.len() >= 3, "DEVELOPERS.md draws the rooms of core, lessons and page");
    let faults: Vec<String> = plans.iter().flat_map(plan::Plan::faults).collect();
    assert!(faults.is_empty(), "{} fault(s):\n{}", faults.len(), faults.join("\n"));
}

/// The sources that keep to the lengths.
const FOLDERS: [&str; 6] =
    ["core/src", "core/cli/src", "core/quantities/src", "lessons/src", "lessons/package/src", "web/src"];

/// Most lines of code in a file, tests and comments apart. Chosen: more is not read in one sitting.
const LONGEST_FILE: usize = 500;

#[test]
fn regress_no_file_is_too_long_to_be_read_once() {
    let modules = FOLDERS.into_iter().flat_map(modules);
    let long: Vec<String> = modules
        .filter(|module| module.code_lines > LONGEST_FILE)
        .map(|module| format!("{} has {} lines of code", module.file.display(), module.code_lines))
        .collect();
    assert!(long.is_empty(), "more than {LONGEST_FILE}:\n{}", long.join("\n"));
}

#[test]
fn regress_a_long_function_says_why() {
    let mut long = Vec::new();
    for folder in FOLDERS {
        for module in modules(folder) {
            for function in &module.functions {
                if function.lines > function.longest() && !function.explained {
                    long.push(format!(
                        "{}:{} {} has {} lines",
                        module.file.display(),
                        function.line,
                        function.name,
                        function.lines
                    ));
                }
            }
        }
    }
    assert!(long.is_empty(), "too long without a comment \"Long because …\":\n{}", long.join("\n"));
}

#[test]
fn by_hand_circles_are_found() {
    let module = |path: &str, uses: &[&str]| sources::Module {
        path: path.into(),
        file: path.into(),
        uses: uses.iter().map(|used| (*used).into()).collect(),
        functions: Vec::new(),
        code_lines: 0,
    };
    let chain = [module("a", &["b"]), module("b", &["c"]), module("c", &[])];
    assert!(plan::circles(&chain).is_empty());
    let round = [module("a", &["b"]), module("b", &["c"]), module("c", &["a"]), module("d", &["a"])];
    assert_eq!(plan::circles(&round), [["a", "b", "c"]]);
}

#[test]
fn regress_every_file_that_developers_md_names_is_there() {
    let text = std::fs::read_to_string(sources::root().join("DEVELOPERS.md")).expect("DEVELOPERS.md is there");
    let named = text.split('`').skip(1).step_by(2).filter(|word| {
        let top = word.split('/').next().unwrap_or_default();
        word.contains('/') && matches!(top, "core" | "lessons" | "tests" | "web") && !word.contains(['<', '*', ' '])
    });
    let (there, missing): (Vec<&str>, Vec<&str>) = named.partition(|path| sources::root().join(path).exists());
    assert!(there.len() > 30 && missing.is_empty(), "{} are there; missing: {missing:?}", there.len());
}
