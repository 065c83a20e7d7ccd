//! Texts of a lesson in a line, for lists and labels: values that differ from learner to learner become an ellipsis.

use volute_lessons::lesson::Lesson;
use volute_lessons::text::bare_line;

/// Letters of a label.
const LABEL: usize = 110;

/// The beginning of a text, cut between words.
pub fn label(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.chars().count() <= LABEL {
        return text;
    }
    let head: String = text.chars().take(LABEL).collect();
    let head = head.rsplit_once(' ').map_or(head.as_str(), |(head, _)| head);
    format!("{head} …")
}

/// The first sentence of a text.
pub fn first_sentence(text: &str) -> String {
    let end = text
        .char_indices()
        .find(|(i, c)| matches!(c, '.' | '?' | '!' | ':') && text[i + c.len_utf8()..].starts_with(' '));
    label(end.map_or(text, |(i, _)| &text[..=i]))
}

/// What a lesson is called.
pub fn title(lesson: &Lesson) -> String {
    bare_line(&lesson.title)
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_lessons::catalog::catalog;

    #[test]
    fn by_hand_labels_end_between_words() {
        assert_eq!(label("  a\n b  "), "a b");
        let long = label(&"word ".repeat(60));
        assert!(long.ends_with("word …") && long.chars().count() <= LABEL + 2, "{long}");
        assert_eq!(label(&"ä".repeat(200)).chars().count(), LABEL + 2);
        assert_eq!(first_sentence("It is 1.5 bar. Not more."), "It is 1.5 bar.");
        assert_eq!(first_sentence("One only"), "One only");
    }

    #[test]
    fn lesson_every_one_has_a_title_in_a_line() {
        for lesson in &catalog().lessons {
            assert!(!title(lesson).is_empty() && !title(lesson).contains('\n'), "{}", lesson.id);
        }
    }
}
