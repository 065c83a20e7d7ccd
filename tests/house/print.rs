//! Prints the house: rooms and arrows, circles, long functions and lines of each crate.

mod plan;
mod sources;

use std::collections::BTreeMap;

const FOLDERS: &[&str] = &[
    "core/src",
    "core/quantities/src",
    "core/cli/src",
    "lessons/src",
    "lessons/package/src",
    "web/src",
    "web/xtask/src",
];

fn main() {
    let plans = plan::plans();
    let mut total = 0;
    for folder in FOLDERS {
        let modules = sources::modules(folder);
        let lines: usize = modules.iter().map(|module| module.code_lines).sum();
        total += lines;
        println!("\n== {folder}: {} files, {lines} lines of code outside tests", modules.len());
        rooms(&modules);
        for circle in plan::circles(&modules) {
            println!("circle of {}: {}", circle.len(), circle.join(" "));
        }
        long_functions(&modules);
        let faults = plans.iter().filter(|plan| plan.folder == *folder).flat_map(plan::Plan::faults);
        faults.for_each(|fault| println!("against the plan: {fault}"));
    }
    println!("\n{total} lines of code outside tests");
}

/// Each room with the rooms that it uses.
fn rooms(modules: &[sources::Module]) {
    let mut rooms: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let arrows = plan::arrows(modules);
    let count = arrows.len();
    for (from, to) in arrows.into_keys() {
        rooms.entry(from).or_default().push(to);
    }
    for (room, used) in rooms {
        println!("{room} -> {}", used.join(" "));
    }
    println!("{count} arrows between rooms");
}

fn long_functions(modules: &[sources::Module]) {
    for module in modules {
        for function in module.functions.iter().filter(|function| function.lines > function.longest()) {
            let why = if function.explained { ", and says why" } else { "" };
            let place = format!("{}:{} {}", module.file.display(), function.line, function.name);
            println!("{place}: {} lines{why}", function.lines);
        }
    }
}
