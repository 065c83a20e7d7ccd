//! Writes a drawing into the page and touches only what differs from the drawing before.

use super::drawing::{Shape, pieces, same_ends};
use web_sys::{Document, Element};

/// Text nodes, for a walk through the document (DOM standard, `NodeFilter.SHOW_TEXT`).
const SHOW_TEXT: u32 = 4;

fn document() -> Option<Document> {
    web_sys::window()?.document()
}

/// Brings the children of an SVG group from one list of shapes to another, touching only what differs: shapes of the same
/// kind at both ends of the lists stay, with new attributes and letters.
pub fn redraw(group: &Element, before: &[Shape], after: &[Shape]) {
    let Some(document) = document() else { return };
    let whole = group.child_element_count() as usize == before.len();
    if !whole {
        group.set_inner_html("");
    }
    let before = if whole { before } else { &[] };
    let (head, tail) = same_ends(before, after);
    let (old_tail, new_tail) = (before.len() - tail, after.len() - tail);
    let mut child = group.first_element_child();
    let rewrite = |child: &mut Option<Element>, old: &[Shape], new: &[Shape]| {
        for (old, new) in old.iter().zip(new) {
            let Some(element) = child.take() else { return };
            if old != new {
                write(&element, Some(old), new);
            }
            *child = element.next_element_sibling();
        }
    };
    rewrite(&mut child, &before[..head], &after[..head]);
    for _ in head..old_tail {
        let Some(element) = child else { return };
        child = element.next_element_sibling();
        element.remove();
    }
    for shape in &after[head..new_tail] {
        // Fails only for an illegal tag, and the tags are ours.
        if let Ok(element) = document.create_element_ns(Some("http://www.w3.org/2000/svg"), shape.tag) {
            write(&element, None, shape);
            let _ = group.insert_before(&element, child.as_deref());
        }
    }
    rewrite(&mut child, &before[old_tail..], &after[new_tail..]);
}

fn write(element: &Element, old: Option<&Shape>, new: &Shape) {
    for (i, (name, value)) in new.attributes.iter().enumerate() {
        if old.and_then(|o| o.attributes.get(i)).is_none_or(|o| o.0 != *name || o.1 != *value) {
            let _ = element.set_attribute(name, value);
        }
    }
    for (name, _) in
        old.iter().flat_map(|o| &o.attributes).filter(|(name, _)| !new.attributes.iter().any(|(n, _)| n == name))
    {
        let _ = element.remove_attribute(name);
    }
    if old.is_none_or(|o| o.content != new.content) && (old.is_some() || !new.content.is_empty()) {
        match (new.content.contains('<'), element.first_child()) {
            (true, _) if old.is_some_and(|o| reletter(element, &o.content, &new.content)) => {}
            (true, _) => element.set_inner_html(&new.content),
            // A text node that is there already takes new letters faster than it is replaced.
            (false, Some(node)) if element.child_element_count() == 0 => node.set_node_value(Some(&new.content)),
            (false, _) => element.set_text_content(Some(&new.content)),
        }
    }
}

/// Writes the letters between the tags where the tags are as before. Says whether they were; if not, nothing is touched.
fn reletter(element: &Element, old: &str, new: &str) -> bool {
    let same = pieces(old).map(|(tag, letters)| (tag, letters.is_empty()));
    if !same.eq(pieces(new).map(|(tag, letters)| (tag, letters.is_empty()))) {
        return false;
    }
    let walker = document().map(|d| d.create_tree_walker_with_what_to_show(element, SHOW_TEXT));
    let Some(Ok(walker)) = walker else { return false };
    for ((_, before), (_, now)) in pieces(old).zip(pieces(new)).filter(|(_, now)| !now.1.is_empty()) {
        let Ok(Some(node)) = walker.next_node() else { return false };
        if before != now {
            node.set_node_value(Some(now));
        }
    }
    true
}
