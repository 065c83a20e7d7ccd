//! Text as XML. Escaping is all that is needed to write it, so no crate is brought into the page for it; the tests read
//! what comes out with two that know all of XML.

/// Whether XML 1.0 can hold this character at all, escaped or not. Source: XML 1.0, production 2.
fn allowed(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..='\u{10ffff}')
}

/// Text for between tags or for an attribute in double quotes. What XML cannot hold becomes U+FFFD, so that it is seen to
/// be missing.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            // Only `]]>` needs it; escaped everywhere, nothing has to be looked for.
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // A reader turns a bare one into a line end, and any of the three into a space inside an attribute.
            '\r' => out.push_str("&#13;"),
            '\n' => out.push_str("&#10;"),
            '\t' => out.push_str("&#9;"),
            c if allowed(c) => out.push(c),
            _ => out.push('\u{fffd}'),
        }
    }
    out
}

/// The beginning of a text, at most `most` bytes of it, with `…` at its end where something was left out. Bytes, although
/// schemas and columns count characters: not every reader knows the difference.
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
