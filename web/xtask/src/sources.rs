//! The texts that a source hands to the functions of `web/src/language.rs`, found among its tokens.

use crate::language::Fault;
use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// A text for a catalog.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// The English text.
    pub english: String,
    /// The one for other numbers, where `tn` counts.
    pub plural: Option<String>,
    /// Line of the source.
    pub line: usize,
}

/// The calls that take an English text first.
const CALLS: [&str; 4] = ["t", "tf", "tn", "msg"];

/// Every text in a source. What stands in `mod tests` does not count. Errors: this is no Rust, or `tn` gets no second text.
pub fn texts_in(source: &str) -> Result<Vec<Found>, Fault> {
    let tokens: TokenStream =
        source.parse().map_err(|error: proc_macro2::LexError| fault(error.span().start().line, &error.to_string()))?;
    let mut found = Vec::new();
    search(tokens, &mut found)?;
    Ok(found)
}

fn search(tokens: TokenStream, found: &mut Vec<Found>) -> Result<(), Fault> {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    for (i, token) in tokens.iter().enumerate() {
        let TokenTree::Group(group) = token else { continue };
        // The names or marks in front of what stands in brackets.
        let before = |steps: usize| match i.checked_sub(steps).map(|at| &tokens[at]) {
            Some(TokenTree::Ident(name)) => name.to_string(),
            Some(TokenTree::Punct(mark)) => mark.to_string(),
            _ => String::new(),
        };
        let (name, earlier) = (before(1), before(2));
        if earlier == "mod" && name == "tests" {
            continue;
        }
        let is_method = earlier == ".";
        if group.delimiter() == Delimiter::Parenthesis && CALLS.contains(&name.as_str()) && !is_method {
            found.extend(text_of_call(&name, group.stream())?);
        }
        search(group.stream(), found)?;
    }
    Ok(())
}

/// What a call is given, if that begins with a text.
fn text_of_call(name: &str, arguments: TokenStream) -> Result<Option<Found>, Fault> {
    let mut arguments = arguments.into_iter();
    let Some(first) = arguments.next() else { return Ok(None) };
    let (Some(english), line) = (literal(&first), first.span().start().line) else { return Ok(None) };
    let plural = match name {
        // After the comma.
        "tn" => {
            let second = arguments.nth(1).and_then(|token| literal(&token));
            Some(second.ok_or_else(|| fault(line, "`tn` wants two texts in quotation marks"))?)
        }
        _ => None,
    };
    Ok(Some(Found { english, plural, line }))
}

fn literal(token: &TokenTree) -> Option<String> {
    syn::parse2::<syn::LitStr>(token.clone().into()).ok().map(|text| text.value())
}

fn fault(line: usize, what: &str) -> Fault {
    Fault { line, what: what.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_texts_are_found_where_they_are_handed_over() {
        let source = "// t(\"no\")\nlet a = t(\"one \\\n   line\"); x.t(\"no\"); tf(\n  \"b {c} \\u{2013}\", &[(\"c\", \"x\")]); \"t(\\\"no\\\")\";\n\
                      const A: &str = msg(\"d\"); tn(\"{n} e\", \"{n} es\", 2, &[]); let q = '\"'; let r = r#\"a \" t(\"no\")\"#; t(words::F); at(\"no\");\nmod tests {\nt(\"no\")}";
        let found = texts_in(source).unwrap();
        let texts: Vec<_> = found.iter().map(|f| (f.english.as_str(), f.plural.as_deref(), f.line)).collect();
        assert_eq!(texts, [("one line", None, 2), ("b {c} –", None, 4), ("d", None, 5), ("{n} e", Some("{n} es"), 5)]);
    }
}
