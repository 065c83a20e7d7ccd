//! Names that lesson files, links and records may use.

/// Whether `id` is small letters, digits and hyphens, beginning with a letter, at most 60: a lesson, a question, a block.
pub(crate) fn good_id(id: &str) -> bool {
    is_word(id, b'-')
}

/// Whether `name` can stand in an expression: small letters, digits and underscores, beginning with a letter, at most 60.
pub(crate) fn good_name(name: &str) -> bool {
    is_word(name, b'_')
}

fn is_word(text: &str, joint: u8) -> bool {
    text.len() <= 60
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == joint)
}
