//! How the learner likes the page to look, as the device keeps it for the next visit.

use crate::language::Language;
use crate::store::Record;

/// How the learner likes the page to look.
pub struct Look {
    /// Dark or light, where the learner has said so.
    pub dark: Option<bool>,
    /// US customary units.
    pub customary: bool,
    /// The language that the learner has chosen.
    pub language: Option<Language>,
    /// Whether the gas of the drawing stands still although the system allows motion.
    pub still: bool,
}

impl Record for Look {
    const NAME: &'static str = "volute.look";
    // The second version added the language.
    const VERSION: u32 = 2;

    fn text(&self) -> String {
        let theme = match self.dark {
            Some(true) => "dark",
            Some(false) => "light",
            None => "system",
        };
        let language = self.language.map_or("system", Language::code);
        let motion = if self.still { "still" } else { "flowing" };
        format!("{theme} {} {language} {motion}", if self.customary { "us" } else { "si" })
    }

    fn read(_: u32, text: &str) -> Option<Self> {
        let mut words = text.split(' ');
        let (theme, units) = (words.next()?, words.next()?);
        let dark = match theme {
            "dark" => Some(true),
            "light" => Some(false),
            "system" => None,
            _ => return None,
        };
        let language = words.next().and_then(Language::of_code);
        Some(Self { dark, customary: units == "us", language, still: words.next() == Some("still") })
    }
}
