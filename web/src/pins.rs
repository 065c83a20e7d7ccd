//! Pins: readings that are kept to compare with. No browser here.

use crate::language::tf;
use crate::run::Run;
use crate::share::{LONGEST_PIN_NAME, MOST_PINS};
use crate::state::BenchSettings;
use std::sync::Arc;
use volute_core::point::reading::Reading;
use volute_core::point::steady::{self, Point};

/// Letters of the pins.
const LETTERS: [char; MOST_PINS] = ['A', 'B', 'C', 'D'];

/// One kept reading.
#[derive(Debug, Clone)]
pub struct Pin {
    /// Its letter on every plot.
    pub letter: char,
    /// What the learner calls it; empty for none.
    pub name: String,
    /// The bench as it stood.
    pub bench: BenchSettings,
    /// What core answered.
    pub point: Arc<Point>,
}

impl PartialEq for Pin {
    fn eq(&self, other: &Self) -> bool {
        self.letter == other.letter && self.name == other.name && self.bench == other.bench
    }
}

impl Pin {
    /// The reading.
    pub fn reading(&self) -> &Reading {
        &self.point.reading
    }

    /// Letter and name.
    pub fn title(&self) -> String {
        let letter = self.letter.to_string();
        if self.name.is_empty() {
            tf("Pin {letter}", &[("letter", &letter)])
        } else {
            tf("Pin {letter}: {name}", &[("letter", &letter), ("name", &self.name)])
        }
    }
}

/// Up to four pins, in the order of their letters.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Pins(Vec<Pin>);

impl Pins {
    /// All of them.
    pub fn list(&self) -> &[Pin] {
        &self.0
    }

    /// Whether another one fits.
    pub fn has_room(&self) -> bool {
        self.0.len() < MOST_PINS
    }

    /// Pins what the bench reads now and gives its letter; none where no reading holds or no room is left.
    pub fn add(&mut self, run: &Run) -> Option<char> {
        let point = run.shown.clone().filter(|_| run.holds)?;
        self.put(String::new(), run.bench.clone(), point)
    }

    fn put(&mut self, name: String, bench: BenchSettings, point: Arc<Point>) -> Option<char> {
        let letter = LETTERS.into_iter().find(|l| self.0.iter().all(|p| p.letter != *l))?;
        let place = self.0.partition_point(|p| p.letter < letter);
        self.0.insert(place, Pin { letter, name, bench, point });
        Some(letter)
    }

    /// Takes a pin away.
    pub fn remove(&mut self, letter: char) {
        self.0.retain(|p| p.letter != letter);
    }

    /// Names a pin; what is too long is cut.
    pub fn rename(&mut self, letter: char, name: &str) {
        if let Some(pin) = self.0.iter_mut().find(|p| p.letter == letter) {
            pin.name = name.chars().filter(|c| !c.is_control()).take(LONGEST_PIN_NAME).collect();
        }
    }

    /// The pin of a letter.
    pub fn get(&self, letter: char) -> Option<&Pin> {
        self.0.iter().find(|p| p.letter == letter)
    }

    /// As a link carries them.
    pub fn shared(&self) -> Vec<(String, BenchSettings)> {
        self.0.iter().map(|p| (p.name.clone(), p.bench.clone())).collect()
    }

    /// The pins of a link, each solved again. A pin that no longer holds is left out and counted.
    pub fn from_shared(shared: &[(String, BenchSettings)]) -> (Self, usize) {
        let (mut pins, mut lost) = (Self::default(), 0);
        for (name, bench) in shared {
            let point = steady::solve(&bench.engine, &bench.settings).ok().filter(|p| p.reading.holds);
            let kept = point.and_then(|p| pins.put(name.clone(), bench.clone(), Arc::new(p)));
            lost += usize::from(kept.is_none());
        }
        (pins, lost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run;

    #[test]
    fn by_hand_letters_are_given_in_order_and_again() {
        let run = run::point(&BenchSettings::open(), None);
        let mut pins = Pins::default();
        assert_eq!([pins.add(&run), pins.add(&run), pins.add(&run), pins.add(&run)].map(Option::unwrap), LETTERS);
        assert_eq!(pins.add(&run), None);
        pins.remove('B');
        pins.rename('C', "a\u{7}b");
        assert_eq!(pins.get('C').unwrap().title(), "Pin C: ab");
        assert_eq!(pins.add(&run), Some('B'));
        let letters: String = pins.list().iter().map(|p| p.letter).collect();
        assert_eq!(letters, "ABCD");
    }

    #[test]
    fn identity_a_link_brings_pins_back() {
        let run = run::point(&BenchSettings::open(), None);
        let mut pins = Pins::default();
        pins.add(&run);
        pins.rename('A', "before");
        let (again, lost) = Pins::from_shared(&pins.shared());
        assert_eq!((again, lost), (pins, 0));
    }
}
