//! A newer build of the page that waits on this device for the next load. `web/boot.js` hears of it from the service worker.

use wasm_bindgen::prelude::*;

/// What `web/boot.js` leaves on the root element for a page that listens later, and the event for one that listens already.
const MARK: &str = "data-newer";
const EVENT: &str = "volute-newer";

/// Calls back once, now or later, when a newer build is ready.
pub fn on_ready(call: impl FnOnce() + 'static) {
    let Some(document) = web_sys::window().and_then(|window| window.document()) else { return };
    if document.document_element().is_some_and(|root| root.has_attribute(MARK)) {
        return call();
    }
    let heard = Closure::once_into_js(call);
    let once = web_sys::AddEventListenerOptions::new();
    once.set_once(true);
    // Fails only for a document that does not take events at all.
    let _ =
        document.add_event_listener_with_callback_and_add_event_listener_options(EVENT, heard.unchecked_ref(), &once);
}
