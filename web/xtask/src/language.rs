//! The catalogs of the page's languages: read from `web/language/*.po`, checked, and written in the compact form that the page
//! fetches (`web/src/language.rs` reads it). The keys are the English texts, as gettext has them; in the compact form a hash
//! stands for each, since the page knows the English already.

use std::fmt;

/// A text of the page and its translation.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Entry {
    /// The English text; empty for the header.
    pub english: String,
    /// The English text for other numbers than one, where the text counts something.
    pub plural: Option<String>,
    /// The translation; with a plural, one for each form.
    pub texts: Vec<String>,
    /// Line of the file on which it begins.
    pub line: usize,
}

/// A catalog as a PO file has it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Catalog {
    /// Of the header: the language's code.
    pub code: String,
    /// Of the header: the mark before the decimals.
    pub decimal: String,
    /// In the order of the file.
    pub entries: Vec<Entry>,
}

/// What is wrong with a catalog or a source, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong there.
    pub what: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}

/// The one plural rule that the page knows: one, and all other numbers.
const PLURAL: &str = "nplurals=2; plural=(n != 1);";

impl Catalog {
    /// Reads a PO file. Errors: what is no such file, a text that is there twice or not translated, places `{…}` that differ.
    pub fn read(po: &str) -> Result<Self, Fault> {
        let mut catalog = Self::default();
        let mut open: Option<(Entry, Field)> = None;
        for (i, line) in po.lines().enumerate() {
            let fault = |what: &str| Fault { line: i + 1, what: what.into() };
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let (word, rest) =
                if line.starts_with('"') { ("", line) } else { line.split_once(' ').unwrap_or((line, "")) };
            let text = unquote(rest).ok_or_else(|| fault("no text in quotation marks"))?;
            match (word, &mut open) {
                ("msgid", _) => {
                    if let Some((done, _)) = open.take() {
                        catalog.take(done)?;
                    }
                    open = Some((Entry { english: text, line: i + 1, ..Entry::default() }, Field::English));
                }
                ("", Some((entry, field))) => field.of(entry).push_str(&text),
                ("msgid_plural", Some((entry, field))) if entry.plural.is_none() && entry.texts.is_empty() => {
                    (entry.plural, *field) = (Some(text), Field::Plural);
                }
                ("msgstr", Some((entry, field))) if entry.plural.is_none() && entry.texts.is_empty() => {
                    (entry.texts, *field) = (vec![text], Field::Text);
                }
                ("msgstr[0]" | "msgstr[1]", Some((entry, field)))
                    if entry.plural.is_some() && word == format!("msgstr[{}]", entry.texts.len()) =>
                {
                    entry.texts.push(text);
                    *field = Field::Text;
                }
                _ => return Err(fault(&format!("`{word}` is not expected here"))),
            }
        }
        if let Some((done, _)) = open {
            catalog.take(done)?;
        }
        if catalog.code.is_empty() {
            return Err(Fault { line: 1, what: "there is no header with `Language`".into() });
        }
        Ok(catalog)
    }

    fn take(&mut self, entry: Entry) -> Result<(), Fault> {
        let fault = |what: String| Err(Fault { line: entry.line, what });
        if entry.texts.len() != if entry.plural.is_some() { 2 } else { 1 } {
            return fault("the translation is missing".into());
        }
        if entry.english.is_empty() {
            let field = |name: &str| {
                let line = entry.texts[0].lines().find_map(|line| line.strip_prefix(name));
                line.and_then(|value| value.strip_prefix(':')).map(|value| value.trim().to_string()).unwrap_or_default()
            };
            if field("Plural-Forms") != PLURAL {
                return fault(format!("`Plural-Forms` is to be `{PLURAL}`: the page knows no other"));
            }
            (self.code, self.decimal) = (field("Language"), field("X-Decimal-Mark"));
            return if matches!(self.decimal.as_str(), "," | ".") {
                Ok(())
            } else {
                fault("`X-Decimal-Mark` is to be a point or a comma".into())
            };
        }
        let places = places(&entry.english);
        for text in entry.texts.iter().chain(&entry.plural) {
            if text.is_empty() {
                return fault(format!("`{}` is not translated", entry.english));
            }
            // A count may be left unsaid where it is one.
            let missing = places.iter().find(|place| *place != "n" && !self::places(text).contains(place));
            if let Some(place) = missing {
                return fault(format!("`{text}` lacks {{{place}}}"));
            }
            let all = entry.plural.as_deref().map(self::places).unwrap_or_else(|| places.clone());
            if let Some(place) = self::places(text).iter().find(|place| !all.contains(place)) {
                return fault(format!("{{{place}}} is no place of `{}`", entry.english));
            }
            if text.contains(['\t', '\n', '\r']) {
                return fault("a text is one line without tabs".into());
            }
        }
        if let Some(same) = self.entries.iter().find(|other| hash(&other.english) == hash(&entry.english)) {
            let why = if same.english == entry.english { "is there already" } else { "has the hash of the text" };
            return fault(format!("`{}` {why} on line {}", entry.english, same.line));
        }
        self.entries.push(entry);
        Ok(())
    }

    /// The compact form: a line that says what it is, then a line for each text, in the order of the hashes.
    pub fn compact(&self) -> String {
        let mut lines: Vec<_> =
            self.entries.iter().map(|entry| (hash(&entry.english), entry.texts.join("\t"))).collect();
        lines.sort();
        let mut out = format!("volute 1\t{}\t{}\n", self.code, self.decimal);
        for (hash, text) in lines {
            out.push_str(&format!("{hash:08x}\t{text}\n"));
        }
        out
    }

    /// The same texts in a language that nobody speaks: English between brackets and longer by a third, so that a test finds
    /// what no catalog reaches and what has no room to grow.
    pub fn pseudo(&self) -> Self {
        let longer = |text: &String| {
            let letters = text.chars().count() * 3 / 10;
            let tail: String = "~en~en".chars().cycle().take(letters).collect();
            // Longer words, not one long word: a line may break where it could before.
            format!("⟦{text}{}⟧", tail.replace("~", " ").trim_end())
        };
        let entries = self.entries.iter().map(|entry| Entry {
            texts: std::iter::once(&entry.english).chain(&entry.plural).map(longer).collect(),
            ..entry.clone()
        });
        Self { code: "x-pseudo".into(), decimal: ",".into(), entries: entries.collect() }
    }
}

#[derive(Clone, Copy)]
enum Field {
    English,
    Plural,
    Text,
}

impl Field {
    fn of(self, entry: &mut Entry) -> &mut String {
        match self {
            Field::English => &mut entry.english,
            Field::Plural => entry.plural.get_or_insert_default(),
            Field::Text => {
                if entry.texts.is_empty() {
                    entry.texts.push(String::new());
                }
                let last = entry.texts.len() - 1;
                &mut entry.texts[last]
            }
        }
    }
}

/// The names in braces, in order and each once.
pub fn places(text: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for part in text.split('{').skip(1) {
        if let Some((name, _)) = part.split_once('}')
            && !name.is_empty()
            && name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
        {
            found.push(name.into());
        }
    }
    found.sort();
    found.dedup();
    found
}

/// FNV-1a of the UTF-8, 32 bits: what `web/src/language.rs` looks a text up by.
pub fn hash(text: &str) -> u32 {
    text.bytes().fold(0x811c_9dc5, |sum, byte| (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

fn unquote(text: &str) -> Option<String> {
    let inside = text.trim().strip_prefix('"')?.strip_suffix('"')?;
    let mut out = String::new();
    let mut rest = inside.chars();
    while let Some(c) = rest.next() {
        out.push(match c {
            '\\' => match rest.next()? {
                'n' => '\n',
                't' => '\t',
                c @ ('"' | '\\') => c,
                _ => return None,
            },
            '"' => return None,
            c => c,
        });
    }
    Some(out)
}

/// A text as a PO file quotes it.
pub fn quote(text: &str) -> String {
    let escaped = text.replace('\\', "\\\\").replace('"', "\\\"").replace('\n', "\\n").replace('\t', "\\t");
    format!("\"{escaped}\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "msgid \"\"\nmsgstr \"\"\n\"Language: de\\n\"\n\"Plural-Forms: nplurals=2; plural=(n != 1);\\n\"\n\"X-Decimal-Mark: ,\\n\"\n";

    #[test]
    fn by_hand_a_catalog_is_read_and_written_compactly() {
        let po = format!(
            "# A comment.\n{HEAD}\nmsgid \"Undo\"\nmsgstr \"Zurück\"\n\nmsgid \"{{n}} pin, \"\n\"{{name}}\"\nmsgid_plural \"{{n}} pins, {{name}}\"\n\
             msgstr[0] \"Eine Nadel, {{name}}\"\nmsgstr[1] \"{{n}} Nadeln, {{name}}\"\n"
        );
        let catalog = Catalog::read(&po).unwrap();
        assert_eq!((catalog.code.as_str(), catalog.decimal.as_str()), ("de", ","));
        assert_eq!(catalog.entries[1].english, "{n} pin, {name}");
        let compact = catalog.compact();
        let mut lines = compact.lines();
        assert_eq!(lines.next(), Some("volute 1\tde\t,"));
        let undo = format!("{:08x}\tZurück", hash("Undo"));
        assert!(lines.clone().any(|line| line == undo), "{compact}");
        assert!(lines.any(|line| line.ends_with("\tEine Nadel, {name}\t{n} Nadeln, {name}")), "{compact}");
        // As published with the algorithm: FNV-1a of `a`, 32 bits.
        assert_eq!(hash("a"), 0xe40c_292c);
    }

    #[test]
    fn by_hand_a_faulty_catalog_is_refused_with_line_and_reason() {
        for (po, line, what) in [
            ("msgid \"Undo\"\nmsgstr \"x\"\n".to_string(), 1, "no header"),
            (format!("{HEAD}msgid \"Undo\"\nmsgstr \"\"\n"), 6, "not translated"),
            (format!("{HEAD}msgid \"Undo\"\n"), 6, "missing"),
            (format!("{HEAD}msgid \"at {{a}}\"\nmsgstr \"bei\"\n"), 6, "lacks {a}"),
            (format!("{HEAD}msgid \"at\"\nmsgstr \"bei {{b}}\"\n"), 6, "{b} is no place"),
            (format!("{HEAD}msgid \"at\"\nmsgstr \"a\"\nmsgid \"at\"\nmsgstr \"b\"\n"), 8, "already on line 6"),
            (format!("{HEAD}msgid \"at\nmsgstr \"a\"\n"), 6, "quotation marks"),
            (format!("{HEAD}msgstr \"a\"\n"), 6, "not expected"),
            (HEAD.replace("!=", ">"), 1, "Plural-Forms"),
            (HEAD.replace("Mark: ,", "Mark: ;"), 1, "X-Decimal-Mark"),
        ] {
            let fault = Catalog::read(&po).unwrap_err();
            assert!(fault.line == line && fault.what.contains(what), "{po}: {fault}");
        }
    }

    #[test]
    fn identity_every_text_of_the_pseudo_language_is_marked_and_longer() {
        let catalog =
            Catalog::read(&format!("{HEAD}msgid \"Pin this {{name}} now\"\nmsgstr \"x {{name}}\"\n")).unwrap();
        let text = &catalog.pseudo().entries[0].texts[0];
        assert!(text.starts_with("⟦Pin this {name} now ") && text.ends_with('⟧'), "{text}");
        assert!(text.chars().count() >= 19 * 13 / 10, "{text}");
    }
}
