//! The parts of the page that a piece of the bench in another page can be made of, one row each.

use crate::language::msg;
use crate::words;

/// A part of the page.
#[derive(Debug, Clone, Copy)]
pub struct Part {
    /// Its name in links. It never changes.
    pub key: &'static str,
    /// As the page names it.
    pub name: &'static str,
    /// Where it stands.
    pub region: Region,
    /// Whether the dialog for such a piece offers it ticked.
    pub usual: bool,
}

/// Where a part stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Region {
    /// Among the controls.
    Control,
    /// In the first view.
    FirstView,
    /// Below it, in the module that is fetched later.
    Below,
}

const fn part(key: &'static str, name: &'static str, region: Region, usual: bool) -> Part {
    Part { key, name, region, usual }
}

/// Every part, in the order of the page.
pub static PARTS: [Part; 16] = [
    part("vane", words::VANE, Region::Control, true),
    part("load", msg("Load"), Region::Control, true),
    part("speed", words::SPEED, Region::Control, true),
    part("heads", words::HEADLINES, Region::FirstView, true),
    part("verdict", words::VERDICT, Region::FirstView, true),
    part("air", words::AIR_PATH, Region::FirstView, true),
    part("plot", msg("First plot"), Region::FirstView, false),
    part("limits", words::LIMITS, Region::FirstView, false),
    part("plot-b", msg("Second plot"), Region::Below, false),
    part("plot-c", msg("Third plot"), Region::Below, false),
    part("pins", words::PINS, Region::Below, false),
    part("energy", words::ENERGY, Region::Below, false),
    part("steps", words::NEXT_STEPS, Region::Below, false),
    part("time", words::TIME, Region::Below, false),
    part("what-ifs", words::WHAT_IFS, Region::Below, false),
    part("margins", msg("Margins as bars"), Region::Below, false),
];

/// What stands here of the page: the keys of some parts, or the whole page where there is no list.
pub type Excerpt = Option<Vec<&'static str>>;

/// Whether a part stands in an excerpt.
pub fn shows(excerpt: &Excerpt, key: &str) -> bool {
    excerpt.as_ref().is_none_or(|keys| keys.contains(&key))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_an_excerpt_shows_its_parts_and_the_whole_page_all() {
        let excerpt = Some(vec!["vane", "plot"]);
        let shown: Vec<&str> = PARTS.iter().map(|part| part.key).filter(|key| shows(&excerpt, key)).collect();
        assert_eq!(shown, ["vane", "plot"]);
        assert!(PARTS.iter().all(|part| shows(&None, part.key)));
        let regions: Vec<Region> = PARTS.map(|part| part.region).to_vec();
        assert!(regions.is_sorted_by_key(|region| *region as u8), "parts stand in the order of the page");
    }
}
