//! The rooms of each crate as `DEVELOPERS.md` draws them, and what the sources do otherwise.

use crate::sources::{Module, modules, root};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;

/// The rooms of one crate, from the ground up.
pub struct Plan {
    /// The source folder, such as `core/src`.
    pub folder: String,
    /// Each floor names its rooms. A room uses rooms of the floors below it, and no other.
    pub floors: Vec<Vec<String>>,
}

/// The pictures in `DEVELOPERS.md`: blocks that begin with three back-quotes, `rooms` and the folder, lowest floor first.
pub fn plans() -> Vec<Plan> {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md is there");
    text.split("```rooms ")
        .skip(1)
        .map(|block| {
            let block = block.split("```").next().unwrap_or_default();
            let mut lines = block.lines();
            let folder = lines.next().unwrap_or_default().trim().to_owned();
            // What follows three spaces on a line is a remark.
            let floor = |line: &str| {
                line.trim().split("   ").next().unwrap_or_default().split(' ').map(str::to_owned).collect()
            };
            Plan { folder, floors: lines.filter(|line| !line.trim().is_empty()).map(floor).collect() }
        })
        .collect()
}

/// The room of a module: its first folder or file in the crate. The crate's root has none.
pub fn room(path: &str) -> &str {
    path.split("::").next().unwrap_or_default()
}

/// Which room uses which, and the modules that do.
pub fn arrows(modules: &[Module]) -> BTreeMap<(String, String), BTreeSet<String>> {
    let mut arrows: BTreeMap<_, BTreeSet<String>> = BTreeMap::new();
    for module in modules.iter().filter(|module| !module.path.is_empty()) {
        for used in module.uses.iter().filter(|used| room(used) != room(&module.path)) {
            let arrow = (room(&module.path).to_owned(), room(used).to_owned());
            arrows.entry(arrow).or_default().insert(format!("{} uses {used}", module.file.display()));
        }
    }
    arrows
}

impl Plan {
    /// Everything in which the sources differ from the plan, a sentence each.
    pub fn faults(&self) -> Vec<String> {
        let modules = modules(&self.folder);
        let floor_of = |name: &str| self.floors.iter().position(|floor| floor.iter().any(|known| known == name));
        let mut faults = Vec::new();
        let rooms: BTreeSet<&str> =
            modules.iter().map(|module| room(&module.path)).filter(|room| !room.is_empty()).collect();
        for room in &rooms {
            if floor_of(room).is_none() {
                faults.push(format!("{}: DEVELOPERS.md does not draw the room `{room}`", self.folder));
            }
        }
        for name in self.floors.iter().flatten().filter(|name| !rooms.contains(name.as_str())) {
            faults.push(format!("{}: DEVELOPERS.md draws `{name}`, which is not there", self.folder));
        }
        for ((from, to), places) in arrows(&modules) {
            let (Some(user), Some(used)) = (floor_of(&from), floor_of(&to)) else { continue };
            if user <= used {
                let places: Vec<String> = places.into_iter().collect();
                faults.push(format!("{}: `{from}` may not use `{to}`: {}", self.folder, places.join("; ")));
            }
        }
        faults.extend(
            circles(&modules).into_iter().map(|circle| format!("{}: a circle: {}", self.folder, circle.join(", "))),
        );
        faults
    }
}

/// Groups of modules that use each other, directly or round about (strongly connected components of more than one module).
pub fn circles(modules: &[Module]) -> Vec<Vec<String>> {
    let index: BTreeMap<&str, usize> =
        modules.iter().enumerate().map(|(i, module)| (module.path.as_str(), i)).collect();
    let next: Vec<Vec<usize>> = modules
        .iter()
        .map(|module| module.uses.iter().filter_map(|used| index.get(used.as_str()).copied()).collect())
        .collect();
    let reaches: Vec<Vec<bool>> = (0..modules.len()).map(|from| reach(from, &next)).collect();
    let mut seen = vec![false; modules.len()];
    let mut circles = Vec::new();
    for (i, reached) in reaches.iter().enumerate() {
        let circle: Vec<usize> = (i..modules.len()).filter(|j| !seen[*j] && reached[*j] && reaches[*j][i]).collect();
        if circle.len() > 1 {
            circle.iter().for_each(|j| seen[*j] = true);
            circles.push(circle.iter().map(|j| modules[*j].path.clone()).collect());
        }
    }
    circles
}

/// Which modules can be reached from one.
fn reach(from: usize, next: &[Vec<usize>]) -> Vec<bool> {
    let mut reached = vec![false; next.len()];
    let mut open = next[from].clone();
    while let Some(module) = open.pop() {
        if !reached[module] {
            reached[module] = true;
            open.extend(&next[module]);
        }
    }
    reached
}
