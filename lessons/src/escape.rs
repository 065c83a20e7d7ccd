//! Percent escapes, as addresses have them (RFC 3986, section 2.1): one form for links, launches and what is kept.

/// Letters, digits and the four signs that mean nothing in any address (RFC 3986, section 2.3).
pub fn unreserved(c: char) -> bool {
    c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | '~')
}

/// `text` with every character for which `stays` is false as the escapes of its UTF-8. If the text is to be read back, `%` must not stay.
pub fn escape(text: &str, stays: impl Fn(char) -> bool) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if stays(c) {
            out.push(c);
        } else {
            for byte in c.encode_utf8(&mut [0; 4]).bytes() {
                out.push_str(&format!("%{byte:02X}"));
            }
        }
    }
    out
}

/// The text that was escaped. Nothing if an escape is cut off or wrong, or if the bytes are no text.
pub fn unescape(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let mut hex = || rest.next().and_then(|b| char::from(b).to_digit(16));
            bytes.push((hex()? * 16 + hex()?) as u8);
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn by_hand_escapes() {
        assert_eq!(escape("a b/ü%~", unreserved), "a%20b%2F%C3%BC%25~");
        for broken in ["%", "%2", "%zz", "%+1", "%C3"] {
            assert_eq!(unescape(broken), None, "{broken}");
        }
    }

    proptest! {
        #[test]
        fn identity_what_was_escaped_comes_back(text in ".*") {
            prop_assert_eq!(unescape(&escape(&text, unreserved)), Some(text.clone()));
            prop_assert_eq!(unescape(&escape(&text, |c| c != '%')), Some(text));
        }
    }
}
