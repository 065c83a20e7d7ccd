//! How the page looks: theme, units, motion and language as the learner chose them, and the tones that plots take from it.

use crate::bench::transitions::Bench;
use crate::browser;
use crate::language::{self, Language};
use crate::look::Look;
use crate::plots::inks::Inks;
use crate::store::{self, Store};
use crate::units::UnitSystem;
use crate::view;
use leptos::html;
use leptos::prelude::*;

/// What the device keeps of the look, and what follows from it.
#[derive(Clone, Copy)]
pub struct Appearance {
    bench: Bench,
    store: StoredValue<Store, LocalStorage>,
    /// The theme and the language that the learner chose on this device; nothing where the system's are taken.
    kept: RwSignal<(Option<bool>, Option<Language>)>,
    /// The language of links that are made here: chosen on this device, or brought by a link.
    pub chosen: RwSignal<Option<Language>>,
    /// Whether the theme is dark now.
    pub dark: RwSignal<bool>,
    /// Whether gas flows in the drawing.
    pub flows: RwSignal<bool>,
    /// Tones of plots, once the style sheet has been read.
    pub inks: RwSignal<Option<Inks>>,
    /// The element that the style sheet's tones are read from.
    pub probe: NodeRef<html::Span>,
    printing: StoredValue<bool>,
}

fn theme(dark: bool) -> &'static str {
    if dark { "dark" } else { "light" }
}

impl Appearance {
    /// The look that the device has kept. `linked`: the language that the link asks for.
    pub fn new(bench: Bench, linked: Option<Language>) -> Self {
        let store = store::open(move |trouble| bench.say(trouble.to_string()));
        let look = store.get::<Look>();
        let kept = look.as_ref().map(|look| (look.dark, look.language)).unwrap_or_default();
        // A link says itself which units it is in.
        if look.as_ref().is_some_and(|look| look.customary) && browser::fragment().is_empty() {
            bench.units.set(UnitSystem::Customary);
        }
        if let Some(dark) = kept.0 {
            browser::set_root_attribute("data-theme", Some(theme(dark)));
        }
        Self {
            bench,
            store: StoredValue::new_local(store),
            kept: RwSignal::new(kept),
            chosen: RwSignal::new(kept.1.or(linked)),
            dark: RwSignal::new(kept.0.unwrap_or_else(browser::system_is_dark)),
            flows: RwSignal::new(look.is_none_or(|look| !look.still)),
            inks: RwSignal::new(None),
            probe: NodeRef::new(),
            printing: StoredValue::new(false),
        }
    }

    /// What this device keeps.
    pub fn store(self) -> Store {
        self.store.get_value()
    }

    /// The language that the learner chose on this device.
    pub fn own_language(self) -> Option<Language> {
        self.kept.get_untracked().1
    }

    fn keep(self) {
        let (dark, language) = self.kept.get_untracked();
        let customary = self.bench.units.get_untracked() == UnitSystem::Customary;
        let still = !self.flows.get_untracked();
        self.store.with_value(|store| store.set(&Look { dark, customary, language, still }));
    }

    /// Reads the tones again whenever the style sheet gives others: at first, with the page's own type, with the system's theme, and
    /// for a print. `ready`: what stands first needs no tones.
    pub fn watch(self, ready: Memo<bool>) {
        view::effect(move || {
            // Reading them lays the page out: in a task of its own.
            if self.probe.get().is_some() && ready.get() {
                browser::after(0, move || self.begin());
            }
        });
        // Paper is white: a print takes the light tones whatever the page shows.
        browser::on_print(move |begins| {
            self.printing.set_value(begins);
            let dark = self.kept.get_untracked().0;
            browser::set_root_attribute("data-theme", if begins { Some("light") } else { dark.map(theme) });
            self.read_inks();
        });
    }

    fn begin(self) {
        self.read_inks();
        browser::on_fonts_ready(move || {
            self.inks.set(None);
            self.read_inks();
        });
        browser::on_media_change(&["(prefers-color-scheme: dark)"], move || {
            self.dark.set(browser::system_is_dark());
            browser::set_root_attribute("data-theme", None);
            self.read_inks();
        });
        browser::on_media_change(
            &["(forced-colors: active)", "(min-width: 1680px)", "(min-resolution: 1.5dppx)"],
            move || self.read_inks(),
        );
    }

    fn read_inks(self) {
        if let Some(probe) = self.probe.get_untracked() {
            self.inks.set(Some(Inks::read(&probe, self.printing.get_value())));
        }
    }

    /// The other theme.
    pub fn turn_theme(self) {
        let dark = !self.dark.get_untracked();
        self.dark.set(dark);
        self.kept.update(|kept| kept.0 = Some(dark));
        self.keep();
        browser::set_root_attribute("data-theme", Some(theme(dark)));
        self.read_inks();
    }

    /// The other units.
    pub fn turn_units(self) {
        self.bench.units.update(|units| *units = units.other());
        self.keep();
        self.bench.touch();
    }

    /// Lets the gas of the drawing flow, or stops it.
    pub fn turn_flow(self) {
        self.flows.update(|on| *on = !*on);
        self.keep();
    }

    /// The language that the page can be switched to.
    pub fn other_language() -> Language {
        match language::spoken() {
            Language::English => Language::German,
            _ => Language::English,
        }
    }

    /// Chooses the other language, for the next load: every text is looked up once.
    pub fn choose_other_language(self) {
        let other = Some(Self::other_language());
        self.chosen.set(other);
        self.kept.update(|kept| kept.1 = other);
        self.keep();
    }
}
