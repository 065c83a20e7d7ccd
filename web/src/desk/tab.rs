//! The sheets of the instructor's desk, and the fragments that open them. No browser here.

/// A sheet of the instructor's desk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tab {
    /// Puts an assignment together.
    Compose,
    /// Reads what a class did.
    Results,
    /// Sheets for paper.
    Print,
    /// Writes a lesson.
    Author,
}

impl Tab {
    /// All of them, in their order.
    pub const ALL: [Tab; 4] = [Tab::Compose, Tab::Results, Tab::Print, Tab::Author];

    /// As a link writes it.
    pub fn key(self) -> &'static str {
        match self {
            Tab::Compose => "compose",
            Tab::Results => "results",
            Tab::Print => "print",
            Tab::Author => "author",
        }
    }

    /// The sheet that a fragment of the desk opens.
    pub fn of(fragment: &str) -> Tab {
        let key = fragment.trim_start_matches('#');
        Tab::ALL.into_iter().find(|tab| tab.key() == key).unwrap_or(Tab::Compose)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_fragments_of_the_desk() {
        for tab in Tab::ALL {
            assert_eq!(Tab::of(&format!("#{}", tab.key())), tab);
        }
        for other in ["", "#", "#nonsense", "#<script>"] {
            assert_eq!(Tab::of(other), Tab::Compose, "{other}");
        }
    }
}
