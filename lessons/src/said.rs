//! Sentences that are said to a learner, as templates. A page in another language looks the template up and fills its places.

use std::fmt;
use volute_quantities::units::Family;

/// A sentence with places `{name}`, and what stands in them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sentence {
    /// The template in English, one of [`SENTENCES`].
    pub text: &'static str,
    /// What stands in its places.
    pub places: Vec<(&'static str, Filling)>,
}

/// What fills a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Filling {
    /// A text that stays as it is.
    Text(String),
    /// A word that is looked up as well, one of [`KINDS`].
    Word(&'static str),
    /// A sentence within the sentence.
    Said(Sentence),
}

impl From<&str> for Filling {
    fn from(text: &str) -> Self {
        Filling::Text(text.into())
    }
}

impl From<String> for Filling {
    fn from(text: String) -> Self {
        Filling::Text(text)
    }
}

impl From<Sentence> for Filling {
    fn from(sentence: Sentence) -> Self {
        Filling::Said(sentence)
    }
}

impl Sentence {
    pub(crate) fn new(text: &'static str) -> Self {
        Sentence { text, places: Vec::new() }
    }

    pub(crate) fn with(mut self, place: &'static str, text: impl ToString) -> Self {
        self.places.push((place, Filling::Text(text.to_string())));
        self
    }

    pub(crate) fn with_place(mut self, place: &'static str, what: impl Into<Filling>) -> Self {
        self.places.push((place, what.into()));
        self
    }

    pub(crate) fn with_word(mut self, place: &'static str, word: &'static str) -> Self {
        self.places.push((place, Filling::Word(word)));
        self
    }

    /// Filled, with `look_up` giving the text of a template or word in another language.
    pub fn filled(&self, look_up: impl Fn(&'static str) -> String) -> String {
        self.filled_by(&look_up)
    }

    fn filled_by(&self, look_up: &dyn Fn(&'static str) -> String) -> String {
        let mut out = String::new();
        let template = look_up(self.text);
        let mut rest = template.as_str();
        while let Some((before, tail)) = rest.split_once('{') {
            out.push_str(before);
            let Some((name, after)) = tail.split_once('}') else {
                out.push('{');
                rest = tail;
                continue;
            };
            match self.places.iter().find(|(place, _)| *place == name) {
                Some((_, Filling::Text(text))) => out.push_str(text),
                Some((_, Filling::Word(word))) => out.push_str(&look_up(word)),
                Some((_, Filling::Said(sentence))) => out.push_str(&sentence.filled_by(look_up)),
                None => {
                    out.push('{');
                    out.push_str(name);
                    out.push('}');
                }
            }
            rest = after;
        }
        out + rest
    }
}

impl fmt::Display for Sentence {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.filled(String::from))
    }
}

macro_rules! sentences {
    ($($name:ident $text:literal;)+) => {
        $(pub(crate) const $name: &str = $text;)+

        /// Every template, for the catalogs of the page.
        pub const SENTENCES: &[&str] = &[$($text),+];
    };
}

sentences! {
    ABSOLUTE "{unit} abs";
    GAUGE "{unit} gauge";
    NUMBER_EMPTY "Write a number and its unit, such as 185 kPa.";
    NUMBER_LONG "That is {bytes} bytes long; a number with its unit needs at most {most}.";
    NUMBER_NONE "“{text}” does not begin with a number; write it in digits, such as 1.85 or 1,85 or 185e-2.";
    NUMBER_TWO_WAYS "“{text}” can be read in two ways: write {decimal} or {thousands}.";
    NUMBER_SEPARATORS "“{text}”: points and commas do not fit together; write 1850.5 or 1850,5 without signs between thousands.";
    NUMBER_GOES_ON "“{text}” goes on after the number; write one number, no range, fraction or sum.";
    NUMBER_NOT_FINITE "“{text}” is not a number that a gauge can show.";
    NUMBER_UNIT "“{unit}” is no unit that is known here; such as {example} would do.";
    CHOOSE_ONE "Choose one of the {options} options first.";
    TICK_ONE "Tick at least one of the {options} options first.";
    ORDER_ALL "Put all {items} items in order first.";
    WORDS_EMPTY "Write a few words first; there is no wrong answer here.";
    WORDS_SHORT "{written} characters are a little short; write at least {at_least}.";
    WORDS_LONG "{bytes} bytes are more than the {most} that are kept; shorten it a little.";
    WRONG_KIND "This is answered in another way.";
    LOCKED_ALREADY "This prediction is locked already; it stays as it is, right or wrong.";
    RIGHT "Right.";
    RIGHT_NOT_IN_UNIT "The number is right, but not in the unit that you wrote.";
    SIGN "The size is right; the sign is the other one.";
    TEN_SMALL "The figures are right, but the value is {factor} times too small.";
    TEN_LARGE "The figures are right, but the value is {factor} times too large.";
    TOO_HIGH "Too high.";
    TOO_LOW "Too low.";
    UNIT_CONVERTED "Read in {given} and compared in {asked}.";
    UNIT_MISSING "The unit is missing. It was taken as {asked}; a number without its unit is half an answer.";
    UNIT_WRONG "{given} is the unit of {kind}; {asked} was asked for.";
    UNIT_PLAIN "{given} is the unit of {kind}; a plain number was asked for.";
    UNIT_REFERENCE "{given} was written, {asked} was asked for: they differ by the pressure of the air outside.";
    UNIT_NOT_MEANT "The number fits {asked}, but {given} was written.";
    FIGURES_FEW "Write at least {asked} significant figures.";
    FIGURES_MANY "More than {most} figures say more than the bench can know.";
    ASSIGNMENT_LONG "it is {bytes} bytes long; allowed are {most}";
    ASSIGNMENT_NONE "it does not begin with `{begin}`";
    OF_VERSION "it is of version {found}; this page reads version {version}. Load the page again: a newer one may be there";
    CUT_OFF "it is cut off: its last word `end` is missing. Copy the whole link";
    NO_PART "`{part}` is no part of an assignment; allowed are {parts}";
    TWICE "`{name}` stands in it twice";
    ESCAPE "`{part}` holds a percent sign without two hexadecimal digits, or letters that no text has";
    NOT_ALLOWED "`{name}={value}` is not allowed; allowed is {allowed}";
    PART_LONG "`{name}` is {length} characters long; allowed are {most}";
    NO_LESSON "it holds no lesson: `do=` and the id of at least one lesson is needed";
    TOO_MANY "it holds {found} entries in `{name}`; allowed are {most}";
    ALLOWED_ITEMS "a list of lesson ids, such as `{example}`";
    ALLOWED_NUMBERS "`own`, `new`, or `same:` and a variant number";
    ALLOWED_WHOLE "a whole number from {least} to {most}";
    ALLOWED_YES "`yes` or `no`";
    ALLOWED_VIEWS "a list of names of views, such as `sweep,loop`";
    ALLOWED_PER_CENT "a whole number of per cent from 0 to 100";
    ALLOWED_DAY "a day such as `2026-12-01`, or with its time, `2026-12-01T18:30`";
    ALLOWED_LINES "letters, signs, spaces and line ends";
    ALLOWED_SIGNS "letters, signs and spaces";
    RESULT_LARGE "it has {bytes} bytes; a result has at most {most}";
    RESULT_TABLE "it is a table for spreadsheets; the file that can be read here ends in `.json`";
    RESULT_JSON "it is not readable as JSON, at line {line}, column {column}: {what}";
    RESULT_NONE "it is no result of this bench: `format` is not `{format}`";
    RESULT_MISSING "`{place}` is missing";
    RESULT_VALUE "`{place}` is {found}; allowed is {allowed}";
    RESULT_ASSIGNMENT "its assignment cannot be read: {why}";
    ALLOWED_TEXT "a text of at most {most} characters";
    ALLOWED_ID "small letters, digits and hyphens, beginning with a letter";
    ALLOWED_FLAG "true or false";
    ALLOWED_QUOTED "a whole number in quotes";
    ALLOWED_LIST "a list of at most {most}";
    ALLOWED_WHOLES "a list of at most {count} whole numbers from {least} to {most}";
    FOUND_LIST "a list of {count}";
    FOUND_OBJECT "an object";
    FOUND_SIGN "a text with the character U+{code}";
    LONE_SIGN "character U+{code}";
}

/// What units measure, as the message about a wrong unit lists it.
pub const KINDS: &[Family] = Family::ALL;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_places_are_filled_in_any_language() {
        let sentence = Sentence::new(UNIT_WRONG).with("given", "kg").with_word("kind", "a mass").with("asked", "kPa");
        assert_eq!(sentence.to_string(), "kg is the unit of a mass; kPa was asked for.");
        let german = sentence.filled(|text| match text {
            "a mass" => "eine Masse".into(),
            _ => "Gefragt war {asked}; {given} ist die Einheit für {kind}.".into(),
        });
        assert_eq!(german, "Gefragt war kPa; kg ist die Einheit für eine Masse.");
        // A sentence within a sentence is looked up too.
        let refused = Sentence::new(RESULT_ASSIGNMENT).with_place("why", Sentence::new(TWICE).with("name", "do"));
        assert_eq!(refused.to_string(), "its assignment cannot be read: `do` stands in it twice");
        let german = refused.filled(|text| match text {
            TWICE => "`{name}` steht zweimal darin".into(),
            _ => "nicht lesbar: {why}".into(),
        });
        assert_eq!(german, "nicht lesbar: `do` steht zweimal darin");
        assert_eq!(Sentence::new(TOO_LOW).filled(|_| "{so} {".into()), "{so} {");
    }
}
