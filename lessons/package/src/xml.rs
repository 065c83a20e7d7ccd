//! Text as XML. Writing XML needs nothing but escaping, so the page carries no library for it. The tests read what comes out
//! with two libraries that know all of XML.

/// Whether XML 1.0 can hold this character at all, escaped or not. Source: XML 1.0, production 2.
fn allowed(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..='\u{10ffff}')
}

/// Text to stand between tags or in an attribute in double quotes. A character that XML cannot hold becomes U+FFFD, so that
/// a reader sees that something is missing.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            // Only `]]>` needs it. Escaping every `>` saves the search for that one.
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // A reader turns a plain carriage return into a line end, and each of these three into a space in an attribute.
            '\r' => out.push_str("&#13;"),
            '\n' => out.push_str("&#10;"),
            '\t' => out.push_str("&#9;"),
            c if allowed(c) => out.push(c),
            _ => out.push('\u{fffd}'),
        }
    }
    out
}

/// The beginning of a text, at most `most` bytes long, with `…` at its end where something was left out. Schemas and database
/// columns count characters; we count bytes, because not every reader knows the difference.
pub fn clip(text: &str, most: usize) -> String {
    const CUT: char = '…';
    if text.len() <= most {
        return text.into();
    }
    let room = most.saturating_sub(CUT.len_utf8());
    let end = (0..=room).rev().find(|end| text.is_char_boundary(*end)).unwrap_or(0);
    let mut out = text[..end].to_string();
    out.push(CUT);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn by_hand_what_would_end_a_tag_is_escaped() {
        assert_eq!(escape("a<b>&\"'\n"), "a&lt;b&gt;&amp;&quot;&#39;&#10;");
        assert_eq!(escape("]]>\0\u{b}\u{fffe}ä"), "]]&gt;\u{fffd}\u{fffd}\u{fffd}ä");
        assert_eq!([clip("abcde", 5), clip("abcdef", 5), clip("äää", 5)], ["abcde", "ab…", "ä…"]);
    }

    proptest! {
        #[test]
        fn identity_any_text_comes_back(text in "\\PC*|(?s).{0,60}") {
            let written = format!("<t a=\"{0}\">{0}</t>", escape(&text));
            let read = roxmltree::Document::parse(&written).expect("well formed");
            let kept: String = text.chars().map(|c| if allowed(c) { c } else { '\u{fffd}' }).collect();
            prop_assert_eq!(read.root_element().attribute("a"), Some(kept.as_str()));
            prop_assert_eq!(read.root_element().text().unwrap_or(""), kept);
        }
    }
}
