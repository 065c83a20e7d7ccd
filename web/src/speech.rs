//! Fetches the catalog of the page's language, and marks the page as speaking it.

use crate::browser;
use crate::language::{Language, of_link, speak, t};

/// Fetches the catalog of the language that is wanted, marks the page as speaking it, and calls back: with whether it does.
/// English needs no catalog, so it calls back at once.
pub fn begin(kept: Option<Language>, then: impl FnOnce(bool) + 'static) {
    let wanted = Language::wanted(kept, of_link(&browser::fragment()), browser::languages());
    if wanted == Language::English {
        return then(true);
    }
    wasm_bindgen_futures::spawn_local(async move {
        let catalog = browser::fetch_text(&format!("language/{}.txt", wanted.code())).await;
        let speaks = catalog.is_some_and(speak);
        if speaks {
            browser::set_root_attribute("lang", Some(wanted.code()));
            browser::set_title(t("Volute: a bench for vaned turbochargers"));
        }
        then(speaks);
    });
}
