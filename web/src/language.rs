//! The language of the page: English as the sources have it, or another by a catalog that is fetched at the start.
//!
//! The gettext way: the English text is the key. [`t`] looks a text up, [`tf`] fills in its named places, [`tn`] counts, and [`msg`]
//! marks a text that is looked up later, where it is shown. What the catalog lacks stays English. `web/language/*.po` holds the
//! translations; tests see to it that they are complete and that nothing there has lost its English.

use std::cell::Cell;
use volute_lessons::said::Sentence;
use volute_lessons::units::{Decimal, Style};

/// A language of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// As the sources are written.
    #[default]
    English,
    /// From `web/language/de.po`.
    German,
    /// Nobody's: the tests make its catalog, to find texts that no catalog reaches. Only a link asks for it.
    Pseudo,
}

impl Language {
    /// Those that the page offers.
    pub const OFFERED: [Language; 2] = [Language::English, Language::German];

    /// The code of BCP 47.
    pub fn code(self) -> &'static str {
        match self {
            Language::English => "en",
            Language::German => "de",
            Language::Pseudo => "x-pseudo",
        }
    }

    /// What its speakers call it.
    pub fn name(self) -> &'static str {
        match self {
            Language::English => "English",
            Language::German => "Deutsch",
            Language::Pseudo => "⟦…⟧",
        }
    }

    /// The language of a code; of `de-AT` too. Nothing for one that the page does not speak.
    pub fn of_code(code: &str) -> Option<Self> {
        let lower = code.to_ascii_lowercase();
        let primary = lower.split(['-', '_']).next().unwrap_or_default();
        [Language::English, Language::German, Language::Pseudo]
            .into_iter()
            .find(|language| language.code() == lower || language.code() == primary)
    }

    /// What a page is to speak: as the learner once chose, else as the link says, else the first of the browser's languages that
    /// there is, else English.
    pub fn wanted(kept: Option<Self>, link: Option<Self>, browser: impl IntoIterator<Item = String>) -> Self {
        let of_browser =
            || browser.into_iter().filter_map(|code| Self::of_code(&code)).find(|l| *l != Language::Pseudo);
        kept.or(link).or_else(of_browser).unwrap_or_default()
    }
}

/// With a large first letter, of the letters that the languages here begin a sentence with.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| match first {
        'ä' => 'Ä',
        'ö' => 'Ö',
        'ü' => 'Ü',
        first => first.to_ascii_uppercase(),
    });
    first.into_iter().chain(letters).collect()
}

/// The texts of a language.
struct Catalog {
    language: Language,
    decimal: char,
    /// Hash of the English, translation; in the order of the hashes.
    texts: Vec<(u32, &'static str)>,
}

static ENGLISH: Catalog = Catalog { language: Language::English, decimal: '.', texts: Vec::new() };

thread_local! {
    static NOW: Cell<&'static Catalog> = const { Cell::new(&ENGLISH) };
}

impl Catalog {
    /// From the compact form that `cargo xtask build` writes. Nothing if it is none, or of a language that is not known.
    fn read(compact: &'static str) -> Option<Self> {
        let mut lines = compact.lines();
        let mut head = lines.next()?.split('\t');
        if head.next() != Some("volute 1") {
            return None;
        }
        let language = Language::of_code(head.next()?)?;
        let decimal = head.next()?.chars().next()?;
        let texts = lines.map(|line| {
            let (hash, text) = line.split_once('\t')?;
            Some((u32::from_str_radix(hash, 16).ok()?, text))
        });
        let texts: Vec<_> = texts.collect::<Option<_>>()?;
        texts.is_sorted_by_key(|(hash, _)| *hash).then_some(Self { language, decimal, texts })
    }

    fn find(&self, english: &str) -> Option<&'static str> {
        if self.texts.is_empty() {
            return None;
        }
        let at = self.texts.binary_search_by_key(&hash(english), |(hash, _)| *hash).ok()?;
        self.texts.get(at).map(|(_, text)| *text)
    }
}

/// FNV-1a of the UTF-8, 32 bits. A catalog in which two texts had the same would not have been built.
fn hash(text: &str) -> u32 {
    text.bytes().fold(0x811c_9dc5, |sum, byte| (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

/// Takes a catalog into use, for as long as the page lives. Says whether it could be read.
pub fn speak(compact: String) -> bool {
    let compact: &'static str = Box::leak(compact.into_boxed_str());
    match Catalog::read(compact) {
        Some(catalog) => {
            NOW.set(Box::leak(Box::new(catalog)));
            true
        }
        None => false,
    }
}

/// The language that the page speaks.
pub fn spoken() -> Language {
    NOW.get().language
}

/// The mark before the decimals.
pub fn decimal() -> char {
    NOW.get().decimal
}

/// Marks a text that is looked up where it is shown, so that it gets into the catalogs. Changes nothing.
pub const fn msg(english: &'static str) -> &'static str {
    english
}

/// A text in the page's language.
pub fn t(english: &'static str) -> &'static str {
    NOW.get().find(english).unwrap_or(english)
}

/// A text that is not known before the page runs, such as the title of an engine: translated if a catalog has it.
pub fn t_any(english: &str) -> String {
    NOW.get().find(english).unwrap_or(english).into()
}

/// A sentence in the page's language, with a text in each of its places `{name}`.
pub fn tf(english: &'static str, places: &[(&str, &str)]) -> String {
    fill(t(english), places)
}

/// What the lessons say of an answer, in the page's language.
pub fn say(sentence: &Sentence) -> String {
    sentence.filled(t_any)
}

/// As [`tf`], for a sentence that counts: `one` for one, `many` for every other number, which is the place `{n}` of both.
pub fn tn(one: &'static str, many: &'static str, n: usize, places: &[(&str, &str)]) -> String {
    let text = match NOW.get().find(one).and_then(|texts| texts.split_once('\t')) {
        Some((one, many)) => [one, many],
        None => [one, many],
    }[usize::from(n != 1)];
    let count = number(n as f64, 0);
    let mut all = vec![("n", count.as_str())];
    all.extend(places);
    fill(text, &all)
}

/// A place that nobody fills is left as it stands, and a test finds it.
fn fill(text: &str, places: &[(&str, &str)]) -> String {
    let mut out = String::with_capacity(text.len() + 16);
    let mut rest = text;
    while let Some((before, tail)) = rest.split_once('{') {
        out.push_str(before);
        let filled = tail.split_once('}').and_then(|(name, after)| {
            let (_, value) = places.iter().find(|(place, _)| *place == name)?;
            Some((value, after))
        });
        match filled {
            Some((value, after)) => {
                out.push_str(value);
                rest = after;
            }
            None => {
                out.push('{');
                rest = tail;
            }
        }
    }
    out.push_str(rest);
    out
}

/// A number as the page writes it: true minus, thin space from 10 000, no minus on a rounded zero, the decimal mark of the
/// page's language. What is not a number becomes a dash, so that a fault upstream can never print as one.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let digits = format!("{:.decimals$}", value.abs());
    let negative = value < 0.0 && digits.bytes().any(|b| (b'1'..=b'9').contains(&b));
    let (whole, rest) = digits.split_at(digits.find('.').unwrap_or(digits.len()));
    let mut out = String::from(if negative { "−" } else { "" });
    for (i, digit) in whole.chars().enumerate() {
        if whole.len() > 4 && i > 0 && (whole.len() - i) % 3 == 0 {
            out.push('\u{2009}');
        }
        out.push(digit);
    }
    if let Some(decimals) = rest.strip_prefix('.') {
        out.push(decimal());
        out.push_str(decimals);
    }
    out
}

/// As [`number`], with a plus sign above zero.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let positive = value > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b));
    if positive { format!("+{text}") } else { text }
}

/// A finite number as programs write it: digits, a point, an exponent. It is rounded exactly, natively by the standard library,
/// on the page by the browser, whose tables need not be fetched.
pub fn parse(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
    if text.is_empty() || !plain {
        return None;
    }
    #[cfg(target_arch = "wasm32")]
    let value = wasm_bindgen::JsValue::from_str(text).unchecked_into_f64();
    #[cfg(not(target_arch = "wasm32"))]
    let value: f64 = text.parse().ok()?;
    Some(value).filter(|value| value.is_finite())
}

/// A number that somebody has typed: with point or comma before the decimals, true minus or hyphen, and spaces between the
/// thousands. Nothing if it is none; `1,234.5` is not guessed at.
pub fn typed_number(text: &str) -> Option<f64> {
    let mut plain = String::new();
    let mut rest = text.trim();
    while let Some(c) = rest.chars().next() {
        rest = &rest[c.len_utf8()..];
        match c {
            ',' => plain.push('.'),
            '−' => plain.push('-'),
            // Between thousands only: `1 2` is a slip.
            ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}' => {
                let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
                if digits != 3 || !plain.ends_with(|c: char| c.is_ascii_digit()) {
                    return None;
                }
            }
            c => plain.push(c),
        }
    }
    let digits = plain.strip_prefix(['-', '+']).unwrap_or(&plain);
    // No exponent alone.
    let well_formed = digits.starts_with(|c: char| c.is_ascii_digit() || c == '.');
    parse(&plain).filter(|_| well_formed)
}

/// The language that a link asks for.
pub fn of_link(fragment: &str) -> Option<Language> {
    let parts = fragment.trim_start_matches('#').split('&');
    parts.filter_map(|part| part.strip_prefix("lang=")).find_map(Language::of_code)
}

/// How lesson text prints numbers in the page's language.
pub fn text_style(customary: bool) -> Style {
    Style { decimal: decimal_sign(), customary, references: Style::ENGLISH.references.map(t) }
}

/// The mark before the decimals, as the lessons crate names it.
pub fn decimal_sign() -> Decimal {
    if decimal() == ',' { Decimal::Comma } else { Decimal::Point }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::{Path, PathBuf};
    use xtask::language::{self, places, quote};

    /// A text that is in no catalog of ours.
    const SAMPLE: &str = "{a} over {b}";

    fn here() -> &'static Path {
        Path::new(env!("CARGO_MANIFEST_DIR"))
    }

    fn german() -> language::Catalog {
        let po = std::fs::read_to_string(here().join("language/de.po")).unwrap();
        language::Catalog::read(&po).unwrap_or_else(|fault| panic!("de.po, {fault}"))
    }

    #[test]
    fn by_hand_places_are_filled_in_any_order() {
        assert_eq!(tf(SAMPLE, &[("b", "2"), ("a", "1")]), "1 over 2");
        assert_eq!(fill("{b}: {a} {a}", &[("b", "{a}"), ("a", "1")]), "{a}: 1 1");
        assert_eq!(fill("{a} {c} {", &[("a", "1")]), "1 {c} {");
        let (one, many) = ("{n} pin of {a}", "{n} pins of {a}");
        assert_eq!(tn(one, many, 1, &[("a", "x")]), "1 pin of x");
        assert_eq!(tn(one, many, 12_000, &[("a", "x")]), "12\u{2009}000 pins of x");
    }

    #[test]
    fn by_hand_a_catalog_speaks_and_falls_through() {
        let mut catalog = german();
        catalog.entries.truncate(1);
        let entry = |english: &str, plural: Option<&str>, texts: &[&str]| language::Entry {
            english: english.into(),
            plural: plural.map(Into::into),
            texts: texts.iter().map(|t| t.to_string()).collect(),
            line: 0,
        };
        catalog.entries.push(entry(SAMPLE, None, &["{b} unter {a}"]));
        catalog.entries.push(entry("{n} x", Some("{n} xs"), &["{n} X", "{n} Xe"]));
        assert!(speak(catalog.compact()));
        assert_eq!((spoken(), decimal()), (Language::German, ','));
        assert_eq!(tf(SAMPLE, &[("a", "1"), ("b", "2")]), "2 unter 1");
        let (one, many) = ("{n} x", "{n} xs");
        assert_eq!((tn(one, many, 1, &[]), tn(one, many, 0, &[])), ("1 X".into(), "0 Xe".into()));
        let unknown = "not in there";
        assert_eq!(t(unknown), unknown);
        assert_eq!(number(-1234.5, 1), "−1234,5");
        assert_eq!(number(12_345.25, 2), "12\u{2009}345,25");
    }

    #[test]
    fn by_hand_what_is_no_catalog_is_not_taken() {
        for text in [
            "",
            "volute 2\tde\t,\n",
            "volute 1\tfr\t,\n",
            "volute 1\tde",
            "volute 1\tde\t,\nxyz\ta\n",
            "<!doctype html>",
        ] {
            assert!(!speak(text.into()), "{text}");
            assert_eq!(spoken(), Language::English);
        }
    }

    #[test]
    fn by_hand_the_language_is_the_kept_one_or_the_links_or_the_browsers() {
        let browser = |codes: &[&str]| codes.iter().map(|c| c.to_string()).collect::<Vec<_>>();
        let wanted = Language::wanted;
        assert_eq!(wanted(Some(Language::English), Some(Language::German), browser(&["de"])), Language::English);
        assert_eq!(wanted(None, Some(Language::German), browser(&["en"])), Language::German);
        assert_eq!(wanted(None, None, browser(&["fr-FR", "de-AT", "en"])), Language::German);
        assert_eq!(wanted(None, None, browser(&["en-GB", "de"])), Language::English);
        assert_eq!(wanted(None, None, browser(&["x-pseudo", "fr"])), Language::English);
        assert_eq!(wanted(None, None, browser(&[])), Language::English);
        assert_eq!(of_link("#v=1&lang=de&vane=4"), Some(Language::German));
        assert_eq!(of_link("v=1&lang=tlh"), None);
    }

    #[test]
    fn by_hand_numbers_are_read_with_point_and_with_comma() {
        for (text, value) in [
            ("1,85", Some(1.85)),
            ("1.85", Some(1.85)),
            (" −3,5 ", Some(-3.5)),
            ("-3.5", Some(-3.5)),
            ("103\u{2009}000", Some(103_000.0)),
            ("103 000,5", Some(103_000.5)),
            (",5", Some(0.5)),
            ("1e3", Some(1000.0)),
            ("1.234,5", None),
            ("", None),
            ("inf", None),
            ("nan", None),
            ("1e999", None),
            ("12 mm", None),
            ("1 2", None),
            ("1 2345", None),
        ] {
            assert_eq!(typed_number(text), value, "{text}");
        }
    }

    /// Every Rust file below `web/src`.
    fn sources() -> Vec<(PathBuf, String)> {
        let files = xtask::keep::files_in(&here().join("src")).unwrap();
        let rust = files.into_iter().filter(|file| file.extension().is_some_and(|ending| ending == "rs"));
        rust.map(|file| (file.clone(), std::fs::read_to_string(file).unwrap())).collect()
    }

    /// Texts that stand in tables, and such of the core: the page looks them up where it shows them.
    fn texts_of_tables() -> Vec<String> {
        let engines: Vec<_> =
            volute_core::engine::built_in::names().filter_map(volute_core::engine::built_in::engine).collect();
        let mut all: Vec<String> = engines.iter().map(|engine| engine.title.clone()).collect();
        let mut put = |text: &str| {
            if !text.is_empty() {
                all.push(text.into());
            }
        };
        for e in crate::glossary::ENTRIES {
            [e.name, e.is, e.measured, e.misleads].into_iter().for_each(&mut put);
        }
        crate::readings::ENTRIES.iter().for_each(|e| put(e.title));
        crate::sweeps::OVER.iter().for_each(|o| put(o.name));
        for shown in volute_quantities::Kind::ALL.iter().flat_map(|kind| [kind.shown(false), kind.shown(true)]) {
            // The bare symbol of a unit is the same in every language.
            let symbol = Some(shown.symbol).filter(|symbol| *symbol != shown.unit.symbol);
            symbol.into_iter().chain([shown.spoken]).for_each(&mut put);
        }
        crate::plots::traces::TRACES.iter().for_each(|trace| put(trace.name));
        let own = engines.iter().cloned().map(|engine| volute_core::engine::Engine { name: "own".into(), ..engine });
        for point in engines.iter().cloned().chain(own).flat_map(|e| crate::start_points::start_points(&e)) {
            [point.name, point.says].into_iter().for_each(&mut put);
        }
        crate::what_ifs::texts().into_iter().for_each(&mut put);
        volute_core::engine::keys().for_each(|key| put(key.about));
        crate::refusals::WORDS_OF_CORE.into_iter().for_each(&mut put);
        volute_lessons::said::SENTENCES.iter().for_each(|text| put(text));
        volute_lessons::said::KINDS.iter().for_each(|kind| put(kind.name()));
        all.sort();
        all.dedup();
        all
    }

    /// The catalog is complete, and holds nothing that the page no longer says. What is missing is printed as it is to stand in
    /// the file.
    #[test]
    fn identity_every_text_of_the_page_has_its_german() {
        let catalog = german();
        let mut missing: Vec<String> = Vec::new();
        let mut used = std::collections::BTreeMap::new();
        let mut say = |english: String, plural: Option<String>, place: String| {
            let entry = catalog.entries.iter().find(|entry| entry.english == english);
            if entry.is_none_or(|entry| entry.plural != plural) && !used.contains_key(&english) {
                let plural_lines = plural.as_ref().map_or("msgstr \"\"\n".into(), |plural| {
                    format!("msgid_plural {}\nmsgstr[0] \"\"\nmsgstr[1] \"\"\n", quote(plural))
                });
                missing.push(format!("# {place}\nmsgid {}\n{plural_lines}", quote(&english)));
            }
            used.insert(english, plural);
        };
        for (file, source) in sources() {
            let name = file.strip_prefix(here()).unwrap().display().to_string();
            for found in xtask::sources::texts_in(&source).unwrap_or_else(|fault| panic!("{name}, {fault}")) {
                let mut named = found.plural.as_deref().map(places).unwrap_or_default();
                named.retain(|place| place != "n" && !places(&found.english).contains(place));
                assert!(named.is_empty(), "{name}, line {}: only one of the two has {named:?}", found.line);
                say(found.english, found.plural, name.clone());
            }
        }
        for text in texts_of_tables() {
            say(text, None, "a table".into());
        }
        let unused: Vec<_> = catalog.entries.iter().filter(|entry| !used.contains_key(&entry.english)).collect();
        let unused: Vec<_> = unused.iter().map(|entry| format!("line {}: {}", entry.line, entry.english)).collect();
        assert!(missing.is_empty(), "de.po lacks {} texts:\n\n{}", missing.len(), missing.join("\n"));
        assert!(unused.is_empty(), "de.po has texts that the page does not say:\n{}", unused.join("\n"));
    }
}
