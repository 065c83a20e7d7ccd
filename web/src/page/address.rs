//! The address: what a link to this page carries, and what happens when another one comes.

use super::appearance::Appearance;
use crate::bench::transitions::Bench;
use crate::browser;
use crate::cover::Cover;
use crate::fragment;
use crate::language::{self, t, tf};
use crate::lessons::study::{self, Study, Want};
use crate::packed::packed;
use crate::parts::Excerpt;
use crate::refusals::Says;
use crate::share::{self, Shared};
use leptos::prelude::*;
use std::sync::Arc;

/// How long "link copied" stands.
const COPIED_MS: i32 = 6000;

/// Everything that a link is made from.
#[derive(Clone, Copy)]
pub struct Address {
    /// The bench.
    pub bench: Bench,
    /// Lesson and assignment.
    pub study: Study,
    /// What the lesson hides.
    pub cover: Memo<Cover>,
    /// Language.
    pub look: Appearance,
    /// The parts of the page that stand here.
    pub excerpt: StoredValue<Excerpt>,
}

/// Whether the link leaves the bench to the lesson that it names.
fn sets_no_bench() -> bool {
    !browser::fragment().contains("vane=")
}

impl Address {
    /// The address of what stands here, of the whole page or of some parts of it.
    pub fn of(self, excerpt: Excerpt) -> String {
        let shared = self.bench.shared(self.look.chosen.get_untracked(), self.study.shared(), excerpt);
        browser::address(&fragment::join(&share::encode(&shared), self.assignment().as_deref()))
    }

    fn fragment(self) -> String {
        let address = self.of(self.excerpt.get_value());
        address.split_once('#').map_or_else(String::new, |(_, fragment)| fragment.to_string())
    }

    /// The assignment as a link has it.
    fn assignment(self) -> Option<String> {
        self.study.assignment.with_untracked(|a| a.as_ref().map(|a| a.text.clone()))
    }

    /// Lets the bench settle, and writes the link.
    pub fn settle(self) {
        self.bench.settle(self.cover.with_untracked(|cover| !cover.is_off()));
        browser::set_fragment(&self.fragment());
    }

    /// Copies the link.
    pub fn copy(self) {
        let fragment = self.fragment();
        browser::set_fragment(&fragment);
        let (address, notice) = (browser::address(&fragment), self.bench.notice);
        leptos::task::spawn_local(async move {
            if browser::copy(&address).await {
                let said = t("Link copied. It opens these settings.");
                notice.set(Some(said.into()));
                browser::after(COPIED_MS, move || notice.update(|n| *n = n.take().filter(|text| text != said)));
            } else {
                notice.set(Some(
                    t("The browser did not allow copying. The address bar holds the link: copy it from there.").into(),
                ));
            }
        });
    }

    /// Opens the assignment and the lesson of the link that the page came with.
    pub fn open_lesson_of(self, shared: &Shared) {
        let wanted = shared.lesson.clone();
        self.take_assignment(&browser::fragment(), move || {
            if let Some((id, variant)) = wanted {
                self.study.open(id, Want::Variant(variant), sets_no_bench());
            }
        });
    }

    /// Follows every link that comes while the page is open.
    pub fn follow(self) {
        browser::on_fragment_change(move || {
            let fragment = browser::fragment();
            match share::decode(fragment::split(&fragment).0) {
                Ok(Some(shared)) if self.needs_another_page(&shared) => browser::reload(),
                Ok(Some(shared)) => {
                    self.bench.take(&shared);
                    self.take_assignment(&fragment, move || self.go_to_lesson(shared.lesson));
                }
                Ok(None) => self.take_assignment(&fragment, || {}),
                Err(e) => self
                    .bench
                    .say(tf("This link is damaged: {why}. The bench keeps its settings.", &[("why", &e.says())])),
            }
        });
    }

    /// Another language where the learner has chosen none, or other parts of the bench: both need a page that is loaded again.
    fn needs_another_page(self, shared: &Shared) -> bool {
        let speaks_other = shared.language.is_some_and(|language| language != language::spoken());
        (speaks_other && self.look.own_language().is_none()) || shared.embed != self.excerpt.get_value()
    }

    fn go_to_lesson(self, lesson: Option<(String, u64)>) {
        match lesson {
            Some(named) if self.study.shared().as_ref() != Some(&named) => {
                self.study.open(named.0, Want::Variant(named.1), sets_no_bench());
            }
            Some(_) => {}
            None if self.study.is_out() => self.study.leave(),
            None => {}
        }
    }

    /// Takes the assignment of a link, then goes on. It stands behind the bench's half of the link; a package has its own.
    fn take_assignment(self, fragment: &str, then: impl FnOnce() + 'static) {
        let wanted = fragment::split(fragment).1.map(String::from);
        let Self { bench, study, .. } = self;
        if packed().is_some() || wanted == self.assignment() {
            return then();
        }
        let Some(wanted) = wanted else {
            study.assignment.set(None);
            return then();
        };
        leptos::task::spawn_local(async move {
            match study::given(wanted).await {
                Ok(Ok(given)) => study.assignment.set(Some(Arc::new(given))),
                Ok(Err(why)) => bench.say(tf("The assignment in this link cannot be read: {why}.", &[("why", &why)])),
                Err(_) => bench.say(t("The part of this page that reads assignments did not come: the network or the host does not give it. Load the page again.")),
            }
            then();
        });
    }
}
