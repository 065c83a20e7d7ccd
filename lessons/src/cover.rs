//! What a lesson keeps off the bench: quantities that nothing on the page may show, and what they could be read from.

use crate::lesson::Layout;
use crate::paths::{Quantity, quantity};

/// What is kept off the bench. Quantities go by the names that lessons have for them.
///
/// A quantity that is hidden hides what it could be worked out from as well; the table of quantities says from what.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cover {
    hidden: Vec<&'static str>,
    /// Where there is such a list, everything else is hidden.
    only: Option<Vec<&'static str>>,
    /// Views that are not offered.
    views: Vec<String>,
}

impl Cover {
    /// Hides these quantities. If there is a list of what is shown, hides everything that is not in it.
    pub fn new(hide: impl Iterator<Item = &'static str>, only: Option<Vec<&'static str>>) -> Self {
        let mut hidden: Vec<&'static str> = Vec::new();
        for name in hide {
            hidden.push(name);
            hidden.extend(quantity(name).into_iter().flat_map(|q| q.tied_with().chain(q.betrays.iter().copied())));
        }
        hidden.sort_unstable();
        hidden.dedup();
        let only = only.map(|mut shown| {
            let tied = shown.iter().filter_map(|name| quantity(name)).flat_map(Quantity::tied_with);
            shown.extend(tied.collect::<Vec<_>>());
            shown.sort_unstable();
            shown.dedup();
            shown
        });
        Self { hidden, only, views: Vec::new() }
    }

    /// What these layouts hide together, without what the learner has uncovered.
    pub fn of(layouts: &[&Layout], uncovered: &[&'static Quantity]) -> Self {
        let names = |list: &[&'static Quantity]| list.iter().map(|q| q.key).collect::<Vec<_>>();
        let uncovered = names(uncovered);
        let hide: Vec<&'static str> = layouts.iter().flat_map(|layout| names(&layout.hide)).collect();
        // A quantity must be in every list of what is shown.
        let lists = layouts.iter().filter(|layout| !layout.only.is_empty()).map(|layout| names(&layout.only));
        let only = lists.reduce(|both, own| both.into_iter().filter(|name| own.contains(name)).collect());
        let mut cover = Self::new(hide.into_iter(), only);
        cover.hidden.retain(|name| !uncovered.contains(name));
        if let Some(only) = &mut cover.only {
            only.extend(uncovered);
        }
        cover
    }

    /// The same, and these views are not offered.
    pub fn without_views(self, views: &[String]) -> Self {
        Self { views: views.to_vec(), ..self }
    }

    /// Whether a quantity is hidden.
    pub fn hides(&self, name: &str) -> bool {
        self.hidden.contains(&name) || self.only.as_ref().is_some_and(|only| !only.contains(&name))
    }

    /// Whether any of these quantities is hidden: for a view that shows all of them.
    pub fn hides_any(&self, names: &[&str]) -> bool {
        names.iter().any(|name| self.hides(name))
    }

    /// Whether a view is not offered.
    pub fn hides_view(&self, key: &str) -> bool {
        self.views.iter().any(|view| view == key)
    }

    /// Whether no quantity is hidden.
    pub fn is_off(&self) -> bool {
        self.hidden.is_empty() && self.only.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_what_is_hidden_takes_along_what_tells_it() {
        let cover = Cover::new(["balance", "boost"].into_iter(), None);
        for name in ["balance", "p3", "expansion_ratio", "boost", "p_im"] {
            assert!(cover.hides(name), "{name}");
        }
        assert!(!cover.hides_any(&["p2", "torque", "shaft"]) && !cover.is_off());
        let only = Cover::new([].into_iter(), Some(vec!["boost", "pmep", "p3", "imep"]));
        assert!(!only.hides_any(&["boost", "pmep", "pumping_torque", "p3", "imep"]));
        for name in ["balance", "p_im", "p2", "torque", "afr"] {
            assert!(only.hides(name), "{name}");
        }
        assert!(Cover::default().is_off() && !Cover::default().hides("torque"));
    }

    #[test]
    fn by_hand_layouts_hide_together_and_what_is_bought_is_shown() {
        let quantity = |name| crate::paths::quantity(name).unwrap();
        let first = Layout { only: vec![quantity("boost"), quantity("p_amb")], ..Layout::default() };
        let second =
            Layout { only: vec![quantity("boost"), quantity("t3")], hide: vec![quantity("p4")], ..Layout::default() };
        let cover = Cover::of(&[&first, &second], &[]);
        assert!(!cover.hides("boost") && cover.hides("t3") && cover.hides("p_amb") && cover.hides("p4"));
        let bought = Cover::of(&[&first, &second], &[quantity("t3"), quantity("p4")]);
        assert!(!bought.hides("t3") && !bought.hides("p4") && bought.hides("p_amb"));
        assert!(Cover::of(&[], &[]).without_views(&["loop".into()]).hides_view("loop"));
    }
}
