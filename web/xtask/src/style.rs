//! Style sheets as the browser gets them: a list such as `web/style/bench.css` with the files that it imports in their place, and
//! without comments and needless blanks. So the sources can be one file a component, and a visit fetches a few files only.

use std::path::{Path, PathBuf};
use std::{fs, io};

/// The files whose rules make up the sheet `list`, in their order: those that it imports, and then itself if it has rules of
/// its own. A list imports by lines `@import "kit/form.css";`, relative to its own folder.
pub fn parts(list: &Path) -> io::Result<Vec<PathBuf>> {
    let named = |error: io::Error| io::Error::new(error.kind(), format!("{}: {error}", list.display()));
    let text = fs::read_to_string(list).map_err(named)?;
    let mut parts = Vec::new();
    for name in imports(&text) {
        parts.extend(self::parts(&list.with_file_name(name))?);
    }
    if parts.is_empty() {
        parts.push(list.to_owned());
    }
    Ok(parts)
}

/// The sheet `list` as one text for the browser.
pub fn joined(list: &Path) -> io::Result<String> {
    parts(list)?.iter().map(|part| Ok(squeezed(&fs::read_to_string(part)?))).collect()
}

fn imports(css: &str) -> impl Iterator<Item = &str> {
    css.lines().filter_map(|line| line.strip_prefix("@import \"")?.strip_suffix("\";"))
}

/// The same rules without comments, and without blanks where CSS needs none. What stands in quotes stays.
fn squeezed(css: &str) -> String {
    let mut out = String::new();
    let mut rest = css;
    while let Some(next) = rest.chars().next() {
        let length = match next {
            '/' if rest.starts_with("/*") => rest.find("*/").map_or(rest.len(), |end| end + 2),
            '"' => rest[1..].find('"').map_or(rest.len(), |end| end + 2),
            blank if blank.is_whitespace() => rest.len() - rest.trim_start().len(),
            other => other.len_utf8(),
        };
        let (token, tail) = rest.split_at(length);
        rest = tail;
        if token.starts_with("/*") {
            continue;
        }
        if next.is_whitespace() {
            // A blank before a colon may stand between an element and its part: `a :hover`. One behind a colon never does.
            let needed = !out.is_empty() && !out.ends_with(['{', '}', ';', ',', ':', ' ']);
            out.push_str(if needed { " " } else { "" });
            continue;
        }
        if matches!(next, '{' | '}' | ';' | ',') {
            out.truncate(out.trim_end().len());
        }
        if next == '}' && out.ends_with(';') {
            out.pop();
        }
        out.push_str(token);
    }
    out.truncate(out.trim_end().len());
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squeezing_leaves_the_rules_alone() {
        let css = "/* Why. */\n.a > :first-child, .b::before {\n  content: \"a  {b; } /* c */\";\n  margin: -1px 0 calc(1px + 2px);\n}\n\n\
                   @media (min-width: 620px) and (max-width: 9px) {\n  .c :hover { color: red; }\n}\n";
        assert_eq!(
            squeezed(css),
            ".a > :first-child,.b::before{content:\"a  {b; } /* c */\";margin:-1px 0 calc(1px + 2px)}\
             @media (min-width:620px) and (max-width:9px){.c :hover{color:red}}"
        );
        assert_eq!(squeezed("a { b: c; /* not closed"), "a{b:c;");
    }

    #[test]
    fn a_list_is_its_files_in_their_order() {
        let folder = std::env::temp_dir().join(format!("volute-style-{}", std::process::id()));
        fs::create_dir_all(folder.join("kit")).unwrap();
        let write = |name: &str, text: &str| fs::write(folder.join(name), text).unwrap();
        write("page.css", "/* A list. */\n@import \"kit.css\";\n@import \"kit/last.css\";\n");
        write("kit.css", "@import \"kit/first.css\";\n");
        write("kit/first.css", ".a { top: 0; }\n");
        write("kit/last.css", ".b { top: 0; }\n");
        assert_eq!(joined(&folder.join("page.css")).unwrap(), ".a{top:0}.b{top:0}");
        write("kit.css", "@import \"kit/lost.css\";\n");
        assert!(joined(&folder.join("page.css")).unwrap_err().to_string().contains("lost.css"));
        fs::remove_dir_all(&folder).unwrap();
    }
}
