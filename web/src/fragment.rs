//! The two halves of a link: the bench, and the assignment behind it. No browser here.

use volute_lessons::assignment::BEGIN;

/// A fragment as its two halves: what the bench reads, and the assignment, if it holds one. Nothing is checked here.
pub fn split(fragment: &str) -> (&str, Option<&str>) {
    let fragment = fragment.trim_start_matches('#');
    if fragment.starts_with(BEGIN) {
        return ("", Some(fragment));
    }
    match fragment.find(&format!("&{BEGIN}")) {
        Some(at) => (&fragment[..at], Some(&fragment[at + 1..])),
        None => (fragment, None),
    }
}

/// The fragment of a bench within an assignment.
pub fn join(bench: &str, assignment: Option<&str>) -> String {
    match assignment {
        Some(assignment) if bench.is_empty() => assignment.into(),
        Some(assignment) => format!("{bench}&{assignment}"),
        None => bench.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_fragment_falls_apart_where_the_assignment_begins() {
        for (fragment, bench, assignment) in [
            ("", "", None),
            ("#v=1&vane=50", "v=1&vane=50", None),
            ("#assignment=1&do=a&end", "", Some("assignment=1&do=a&end")),
            ("v=1&lesson=a&variant=3&assignment=1&do=a&end", "v=1&lesson=a&variant=3", Some("assignment=1&do=a&end")),
            ("v=1&title=my-assignment=1", "v=1&title=my-assignment=1", None),
        ] {
            assert_eq!(split(fragment), (bench, assignment), "{fragment}");
            assert_eq!(join(bench, assignment), fragment.trim_start_matches('#'));
        }
    }
}
