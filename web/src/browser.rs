//! The few things that only the browser can do, each behind a plain function.

use crate::language::t;
use crate::words;
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use web_sys::{HtmlElement, Window};

fn window() -> Option<Window> {
    web_sys::window()
}

/// Milliseconds of a clock that only runs forward.
pub fn now_ms() -> f64 {
    window().and_then(|w| w.performance()).map_or(0.0, |p| p.now())
}

/// Device pixels to a CSS pixel.
pub fn device_ratio() -> f64 {
    window().map_or(1.0, |w| w.device_pixel_ratio())
}

/// What stands behind `#` in the address.
pub fn fragment() -> String {
    window().and_then(|w| w.location().hash().ok()).unwrap_or_default()
}

/// Writes the fragment without a new entry in the browser's history. Some frames forbid it: the link button still works.
pub fn set_fragment(fragment: &str) {
    if let Some(history) = window().and_then(|w| w.history().ok()) {
        let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(&format!("#{fragment}")));
    }
}

/// The address of this page with a fragment.
pub fn address(fragment: &str) -> String {
    let href = window().and_then(|w| w.location().href().ok()).unwrap_or_default();
    format!("{}#{fragment}", href.split('#').next().unwrap_or_default())
}

/// Puts a text on the clipboard; says whether the browser let it.
pub async fn copy(text: &str) -> bool {
    // `navigator.clipboard` is undefined outside secure contexts, although the binding always returns one.
    let Some(navigator) = window().map(|w| w.navigator()) else { return false };
    let has = js_sys::Reflect::get(&navigator, &JsValue::from_str("clipboard")).is_ok_and(|c| c.is_object());
    has && wasm_bindgen_futures::JsFuture::from(navigator.clipboard().write_text(text)).await.is_ok()
}

/// Whether the system asks for a dark page.
pub fn system_is_dark() -> bool {
    let query = window().and_then(|w| w.match_media("(prefers-color-scheme: dark)").ok().flatten());
    query.is_some_and(|q| q.matches())
}

/// The version of this build, as its addresses carry it; empty where they carry none.
pub fn build() -> String {
    let boot = window().and_then(|w| w.document()).and_then(|d| d.get_element_by_id("boot")?.get_attribute("src"));
    boot.and_then(|src| Some(src.split_once("?v=")?.1.to_string())).unwrap_or_default()
}

/// The text of a file of this build, by its address from the page. Nothing where network or host do not give it.
pub async fn fetch_text(address: &str) -> Option<String> {
    let address = format!("{address}?v={}", build());
    let answer = wasm_bindgen_futures::JsFuture::from(window()?.fetch_with_str(&address)).await.ok()?;
    let answer: web_sys::Response = answer.dyn_into().ok()?;
    if !answer.ok() {
        return None;
    }
    wasm_bindgen_futures::JsFuture::from(answer.text().ok()?).await.ok()?.as_string()
}

/// The content of a `meta` element of the page.
pub fn meta(name: &str) -> Option<String> {
    let document = web_sys::window()?.document()?;
    document.query_selector(&format!("meta[name={name}]")).ok()??.get_attribute("content")
}

/// Sets or removes an attribute of the root element.
pub fn set_root_attribute(name: &str, value: Option<&str>) {
    if let Some(root) = window().and_then(|w| w.document()).and_then(|d| d.document_element()) {
        // Both fail only for an illegal attribute name, and the names are ours.
        let _ = match value {
            Some(value) => root.set_attribute(name, value),
            None => root.remove_attribute(name),
        };
    }
}

/// Sets the title of the document.
pub fn set_title(title: &str) {
    if let Some(document) = window().and_then(|w| w.document()) {
        document.set_title(title);
    }
}

/// Takes an element away by its id.
pub fn remove(id: &str) {
    if let Some(element) = window().and_then(|w| w.document()).and_then(|d| d.get_element_by_id(id)) {
        element.remove();
    }
}

/// The codes of the languages that the browser's user reads, the best first.
pub fn languages() -> Vec<String> {
    let codes = window().map(|w| w.navigator().languages()).unwrap_or_default();
    codes.iter().filter_map(|code| code.as_string()).collect()
}

/// Loads the page again. What the fragment holds is kept: write it first.
pub fn reload() {
    if let Some(window) = window() {
        // Refused only while the page is going away anyway.
        let _ = window.location().reload();
    }
}

/// Adds or removes a class of the body.
pub fn set_body_class(class: &str, on: bool) {
    if let Some(body) = window().and_then(|w| w.document()).and_then(|d| d.body()) {
        let _ = body.class_list().toggle_with_force(class, on);
    }
}

/// Puts the focus on an element by its id.
pub fn focus(id: &str) {
    let element = window().and_then(|w| w.document()).and_then(|d| d.get_element_by_id(id));
    if let Some(element) = element.and_then(|e| e.dyn_into::<HtmlElement>().ok()) {
        let _ = element.focus();
    }
}

/// Calls back when any of these queries changes its answer: theme, forced colours.
pub fn on_media_change(queries: &[&str], call: impl FnMut() + Clone + 'static) {
    for query in queries {
        if let Some(list) = window().and_then(|w| w.match_media(query).ok().flatten()) {
            let closure = Closure::<dyn FnMut()>::new(call.clone());
            let _ = list.add_event_listener_with_callback("change", closure.as_ref().unchecked_ref());
            closure.forget();
        }
    }
}

/// Calls back when the fragment changes by hand or by the browser's own back button.
pub fn on_fragment_change(call: impl FnMut() + 'static) {
    if let Some(window) = window() {
        let closure = Closure::<dyn FnMut()>::new(call);
        let _ = window.add_event_listener_with_callback("hashchange", closure.as_ref().unchecked_ref());
        closure.forget();
    }
}

/// Calls back once the page's own type is there: canvas text is drawn again with it.
pub fn on_fonts_ready(call: impl FnOnce() + 'static) {
    let Some(ready) = window().and_then(|w| w.document()).and_then(|d| d.fonts().ready().ok()) else { return };
    wasm_bindgen_futures::spawn_local(async move {
        let _ = wasm_bindgen_futures::JsFuture::from(ready).await;
        call();
    });
}

/// Calls back whenever the size of an element changes, and once at first, with width and height in CSS pixels, for as long as
/// the part of the page that asks is there.
pub fn on_resize(element: &HtmlElement, call: impl Fn(f64, f64) + 'static) {
    let watched = element.clone();
    let closure = Closure::<dyn FnMut()>::new(move || {
        call(f64::from(watched.client_width()), f64::from(watched.client_height()));
    });
    if let Ok(observer) = web_sys::ResizeObserver::new(closure.as_ref().unchecked_ref()) {
        observer.observe(element);
        until_gone(closure, move || observer.disconnect());
    }
}

/// Calls back when an element comes into sight or leaves it, for as long as the part of the page that asks is there.
pub fn on_sight(element: &HtmlElement, call: impl Fn(bool) + 'static) {
    let closure = Closure::<dyn FnMut(js_sys::Array)>::new(move |entries: js_sys::Array| {
        let last = entries.pop();
        call(last.dyn_into::<web_sys::IntersectionObserverEntry>().is_ok_and(|e| e.is_intersecting()));
    });
    let options = web_sys::IntersectionObserverInit::new();
    // At least one pixel must show: nobody looks at what only touches the lower edge.
    options.set_root_margin("0px 0px -1px 0px");
    if let Ok(observer) = web_sys::IntersectionObserver::new_with_options(closure.as_ref().unchecked_ref(), &options) {
        observer.observe(element);
        until_gone(closure, move || observer.disconnect());
    }
}

/// Keeps what an observer calls until the part of the page that asked is gone; then stops the observer.
fn until_gone<F: ?Sized + 'static>(called: Closure<F>, stop: impl FnOnce() + 'static) {
    let kept = StoredValue::new_local(Some((called, stop)));
    on_cleanup(move || {
        if let Some((called, stop)) = kept.try_update_value(Option::take).flatten() {
            stop();
            drop(called);
        }
    });
}

/// Offers bytes as a file to save. Errors: what the browser refuses, in words.
pub fn offer(name: &str, blob: &web_sys::Blob) -> Result<(), String> {
    let refused = |_| String::from(t("the browser refused"));
    let document = window().and_then(|w| w.document()).ok_or(t("there is no page"))?;
    let address = web_sys::Url::create_object_url_with_blob(blob).map_err(refused)?;
    let link: web_sys::HtmlAnchorElement = document
        .create_element("a")
        .map_err(refused)?
        .dyn_into()
        .map_err(|_| String::from(t("the browser has no links")))?;
    link.set_href(&address);
    link.set_download(name);
    link.click();
    // The browser has saved the bytes by then. An address that is kept would keep the bytes in memory for ever.
    after(60_000, move || {
        let _ = web_sys::Url::revoke_object_url(&address);
    });
    Ok(())
}

/// Offers a text as a file to save. Errors: what the browser refuses, in words.
pub fn save_text(name: &str, mime: &str, text: &str) -> Result<(), String> {
    let options = web_sys::BlobPropertyBag::new();
    options.set_type(&format!("{mime};charset=utf-8"));
    let parts = js_sys::Array::of1(&JsValue::from_str(text));
    let blob = web_sys::Blob::new_with_str_sequence_and_options(&parts, &options);
    offer(name, &blob.map_err(|_| String::from(t("the browser refused")))?)
}

/// A canvas that stands nowhere.
pub fn fresh_canvas() -> Option<web_sys::HtmlCanvasElement> {
    window()?.document()?.create_element("canvas").ok()?.dyn_into().ok()
}

/// Offers what is drawn on a fresh canvas as a PNG file. Errors: what the drawing or the browser refuses, in words.
pub fn save_picture(
    name: &str,
    draw: impl FnOnce(&web_sys::HtmlCanvasElement) -> Result<(), String>,
) -> Result<(), String> {
    let document = window().and_then(|w| w.document()).ok_or(t("there is no page"))?;
    let element = document.create_element("canvas").map_err(|_| String::from(t("the browser refused")))?;
    let canvas: web_sys::HtmlCanvasElement =
        element.dyn_into().map_err(|_| String::from(t("the browser has no canvas")))?;
    draw(&canvas)?;
    let name = name.to_string();
    let ready = Closure::once_into_js(move |blob: JsValue| {
        if let Ok(blob) = blob.dyn_into::<web_sys::Blob>() {
            // What can fail here has failed for the text files too, which say so.
            let _ = offer(&name, &blob);
        }
    });
    canvas.to_blob(ready.unchecked_ref()).map_err(|_| String::from(t("the browser refused")))
}

/// Where a pointer stands in an element, as shares of its width and height.
pub fn place_in(element: &web_sys::Element, event: &web_sys::PointerEvent) -> (f64, f64) {
    let b = element.get_bounding_client_rect();
    let share = |at: i32, from: f64, size: f64| if size > 0.0 { (f64::from(at) - from) / size } else { 0.0 };
    (share(event.client_x(), b.left(), b.width()), share(event.client_y(), b.top(), b.height()))
}

/// Which child of an element stands at a height of the window, counted from 0: the nearest one beyond the ends.
pub fn child_at(id: &str, client_y: f64) -> Option<usize> {
    let children = window()?.document()?.get_element_by_id(id)?.children();
    let last = children.length().checked_sub(1)?;
    let under = (0..last).find(|i| children.item(*i).is_some_and(|c| client_y < c.get_bounding_client_rect().bottom()));
    Some(under.unwrap_or(last) as usize)
}

/// Why a file was not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileFault {
    /// More bytes than are read.
    TooLarge(usize),
    /// The browser does not give it as text.
    Unreadable,
}

/// Reads the file that was just picked, and lets it be picked again. Nothing happens when none was.
pub fn read_file(event: &web_sys::Event, most: usize, call: impl FnOnce(Result<String, FileFault>) + 'static) {
    let input = event.target().and_then(|target| target.dyn_into::<web_sys::HtmlInputElement>().ok());
    let Some(file) = input.as_ref().and_then(|input| input.files()).and_then(|files| files.get(0)) else { return };
    if file.size() > most as f64 {
        call(Err(FileFault::TooLarge(file.size() as usize)));
        return;
    }
    let promise = file.unchecked_into::<web_sys::Blob>().text();
    wasm_bindgen_futures::spawn_local(async move {
        let text = wasm_bindgen_futures::JsFuture::from(promise).await.ok().and_then(|text| text.as_string());
        if let Some(input) = input {
            input.set_value("");
        }
        call(text.ok_or(FileFault::Unreadable));
    });
}

/// A number from 1 to 9999, for the variant of a lesson.
pub fn dice() -> u64 {
    1 + (js_sys::Math::random() * 9999.0) as u64
}

/// Calls back in every frame with the time in ms, for as long as it says so.
pub fn on_frames(call: impl FnMut(f64) -> bool + 'static) {
    fn next(mut call: Box<dyn FnMut(f64) -> bool>) {
        if let Some(window) = window() {
            let closure = Closure::once_into_js(move |now_ms: f64| {
                if call(now_ms) {
                    next(call);
                }
            });
            // Fails only where there is no page to draw.
            let _ = window.request_animation_frame(closure.unchecked_ref());
        }
    }
    next(Box::new(call));
}

/// Calls back when printing begins, with `true`, and when it ends.
pub fn on_print(call: impl Fn(bool) + Clone + 'static) {
    let Some(window) = window() else { return };
    for (event, begins) in [("beforeprint", true), ("afterprint", false)] {
        let call = call.clone();
        let closure = Closure::<dyn FnMut()>::new(move || call(begins));
        let _ = window.add_event_listener_with_callback(event, closure.as_ref().unchecked_ref());
        closure.forget();
    }
}

/// Opens the browser's own dialog for printing. Some frames forbid it; then nothing happens.
pub fn print() {
    if let Some(window) = window() {
        let _ = window.print();
    }
}

/// Longest that work for a pause waits for one, in ms.
const LONGEST_PAUSE_MS: u32 = 300;

/// When work that is cut into turns goes on.
pub enum Turn {
    /// In the next task, after what already waits for one.
    Task,
    /// In the next pause of the browser.
    Pause,
    /// Not at all: it is done.
    Done,
}

/// Does work in turns, each a task of the browser of its own, the first of them the next task.
pub fn in_turns(call: impl FnMut() -> Turn + 'static) {
    fn next(turn: Turn, mut call: Box<dyn FnMut() -> Turn>) {
        let go_on = move || {
            let turn = call();
            next(turn, call);
        };
        match turn {
            Turn::Task => after(0, go_on),
            Turn::Pause => in_a_pause(Box::new(go_on)),
            Turn::Done => {}
        }
    }
    next(Turn::Task, Box::new(call));
}

fn in_a_pause(call: Box<dyn FnOnce()>) {
    let Some(window) = window() else { return };
    let closure = Closure::once_into_js(call);
    let options = web_sys::IdleRequestOptions::new();
    options.set_timeout(LONGEST_PAUSE_MS);
    if window.request_idle_callback_with_options(closure.unchecked_ref(), &options).is_err() {
        // A browser that tells no pauses.
        let _ = window.set_timeout_with_callback_and_timeout_and_arguments_0(closure.unchecked_ref(), 1);
    }
}

/// Runs a function after a time.
pub fn after(ms: i32, call: impl FnOnce() + 'static) {
    if let Some(window) = window() {
        let closure = Closure::once_into_js(call);
        let _ = window.set_timeout_with_callback_and_timeout_and_arguments_0(closure.unchecked_ref(), ms);
    }
}

/// The address of the bench with a fragment, from any page beside it.
pub fn bench_address(fragment: &str) -> String {
    let href = window().and_then(|w| w.location().href().ok()).unwrap_or_default();
    let page = href.split(['#', '?']).next().unwrap_or_default();
    format!("{}/#{fragment}", page.rsplit_once('/').map_or(page, |(folder, _)| folder))
}

/// An attribute of an element that the page came with.
pub fn attribute(id: &str, name: &str) -> Option<String> {
    window()?.document()?.get_element_by_id(id)?.get_attribute(name)
}

/// Says in the page's own place for it that the page could not start.
pub fn say_failed(text: &str) {
    let document = window().and_then(|w| w.document());
    let element = |id: &str| document.as_ref().and_then(|d| d.get_element_by_id(id)?.dyn_into::<HtmlElement>().ok());
    if let Some(note) = element("failed") {
        note.set_text_content(Some(text));
        note.set_hidden(false);
    }
    if let Some(loading) = element("loading") {
        loading.set_hidden(true);
    }
}

/// Says that the page has broken: to a developer where, in the console, and to a learner what to do.
pub fn say_broken(fault: &str) {
    web_sys::console::error_1(&JsValue::from_str(fault));
    let Some(document) = window().and_then(|w| w.document()) else { return };
    if document.get_element_by_id("broken").is_some() {
        return;
    }
    if let (Ok(note), Some(body)) = (document.create_element("p"), document.body()) {
        note.set_id("broken");
        note.set_class_name("notice");
        let _ = note.set_attribute("role", "alert");
        note.set_text_content(Some(t(words::BROKEN)));
        let _ = body.prepend_with_node_1(&note);
    }
}

/// The text of a file that was chosen or dropped; nothing if the browser cannot read it.
pub async fn text_of(file: &web_sys::File) -> Option<String> {
    let blob: &web_sys::Blob = file.unchecked_ref();
    wasm_bindgen_futures::JsFuture::from(blob.text()).await.ok()?.as_string()
}

/// Gives each element that `css` finds the first of these classes with which its content does not overflow it, while it is
/// `measured`: what that looks like is for the style to say.
pub fn fit(css: &str, classes: &[&str]) {
    let Some(found) = window().and_then(|w| w.document()).and_then(|d| d.query_selector_all(css).ok()) else { return };
    for i in 0..found.length() {
        let Some(element) = found.get(i).and_then(|node| node.dyn_into::<HtmlElement>().ok()) else { continue };
        let list = element.class_list();
        // Fails, as below, only for an illegal name, and the names are ours.
        let _ = list.add_1("measured");
        for class in classes {
            for other in classes {
                let _ = list.toggle_with_force(other, other == class);
            }
            if element.scroll_height() <= element.client_height() {
                break;
            }
        }
        let _ = list.remove_1("measured");
    }
}

/// The moment by the clock of this device, to the minute: `2026-12-01T18:30Z`.
pub fn now_text() -> String {
    let text = String::from(js_sys::Date::new_0().to_iso_string());
    format!("{}Z", text.get(..16).unwrap_or_default())
}
