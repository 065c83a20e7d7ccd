//! A package made in the page: its own files, fetched once more and zipped. The browser deflates them.

use crate::language::{t, tf};
use js_sys::{Function, Reflect, Uint8Array};
use volute_package::zip::Entry;
use volute_package::{Contents, Kind, pack};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, BlobPropertyBag, Response, Window};

/// The list of the page's files, which `cargo xtask build` writes.
const LIST: &str = "files.json";
/// The page.
const PAGE: &str = volute_package::site::PAGE;

/// A package as the browser offers it. `done` hears how many files of how many are there. Errors: in words.
pub async fn package(kind: Kind, contents: &Contents, done: impl Fn(usize, usize)) -> Result<Blob, String> {
    let site = site(done).await?;
    let bytes = pack(kind, site, contents).map_err(|error| error.to_string())?;
    blob(&bytes, "application/zip")
}

/// Bytes as a file.
pub fn blob(bytes: &[u8], mime: &str) -> Result<Blob, String> {
    let options = BlobPropertyBag::new();
    options.set_type(mime);
    let parts = js_sys::Array::of1(&Uint8Array::from(bytes));
    Blob::new_with_u8_array_sequence_and_options(&parts, &options).map_err(words)
}

/// Every file of the page as its host has it, all of one build.
async fn site(done: impl Fn(usize, usize)) -> Result<Vec<Entry>, String> {
    let names = fetch(LIST).await?;
    let names: Vec<String> = serde_json::from_slice(&names).map_err(|_| {
        tf("`{file}` is not the list that a build writes; packages are made from a built page", &[("file", LIST)])
    })?;
    let mut files = Vec::with_capacity(names.len());
    for (i, name) in names.iter().enumerate() {
        done(i, names.len());
        let bytes = fetch(name).await?;
        let deflated = deflated(&bytes).await;
        files.push(Entry { name: name.clone(), bytes, deflated });
    }
    done(names.len(), names.len());
    Ok(files)
}

/// A file of this build.
async fn fetch(name: &str) -> Result<Vec<u8>, String> {
    let window: Window = web_sys::window().ok_or(t("there is no page"))?;
    let document = window.document().ok_or(t("there is no page"))?;
    // The boot script's address has the build behind it: no newer file of the host can slip in.
    let boot = document.get_element_by_id("boot").and_then(|boot| boot.get_attribute("src")).unwrap_or_default();
    let build = boot.split_once('?').map(|(_, build)| format!("?{build}")).unwrap_or_default();
    let asked = window.fetch_with_str(&format!("{name}{build}"));
    let answer: Response = JsFuture::from(asked).await.map_err(words)?.dyn_into().map_err(words)?;
    if !answer.ok() {
        return Err(match (answer.status(), name) {
            (404, LIST) => tf("this page has no `{file}`; packages are made from a built page", &[("file", LIST)]),
            (status, name) => {
                tf("`{file}` was answered with status {status}", &[("file", name), ("status", &status.to_string())])
            }
        });
    }
    let buffer = JsFuture::from(answer.array_buffer().map_err(words)?).await.map_err(words)?;
    let bytes = Uint8Array::new(&buffer).to_vec();
    // A host with a newer build sends its own page: two builds are not to be mixed.
    if name == PAGE && !build.is_empty() && !bytes.windows(build.len()).any(|part| part == build.as_bytes()) {
        return Err(t("a newer build of this page is there; load it again first").into());
    }
    Ok(bytes)
}

/// The bytes as a raw deflate stream, by the browser's own `CompressionStream`; nothing where it has none, or not this kind.
/// Called by name: its bindings would bring all of streams along.
async fn deflated(bytes: &[u8]) -> Option<Vec<u8>> {
    let make: Function = Reflect::get(&js_sys::global(), &"CompressionStream".into()).ok()?.dyn_into().ok()?;
    let stream = Reflect::construct(&make, &js_sys::Array::of1(&"deflate-raw".into())).ok()?;
    let blob = blob(bytes, "").ok()?;
    let method = |of: &JsValue, name: &str| Reflect::get(of, &name.into()).ok()?.dyn_into::<Function>().ok();
    let source = method(&blob, "stream")?.call0(&blob).ok()?;
    let packed = method(&source, "pipeThrough")?.call1(&source, &stream).ok()?;
    let make: Function = Reflect::get(&js_sys::global(), &"Response".into()).ok()?.dyn_into().ok()?;
    let answer: Response = Reflect::construct(&make, &js_sys::Array::of1(&packed)).ok()?.dyn_into().ok()?;
    let buffer = JsFuture::from(answer.array_buffer().ok()?).await.ok()?;
    Some(Uint8Array::new(&buffer).to_vec())
}

/// A file name for a package with this title: the title's plain letters, and what it is.
pub fn file_name(kind: Kind, title: &str) -> String {
    let mut stem = String::new();
    for c in title.chars() {
        match c {
            c if c.is_ascii_alphanumeric() => stem.push(c.to_ascii_lowercase()),
            _ if !stem.ends_with('-') && !stem.is_empty() => stem.push('-'),
            _ => {}
        }
    }
    stem.truncate(40);
    let stem = stem.trim_matches('-');
    format!("{}-{kind}.zip", if stem.is_empty() { "volute" } else { stem })
}

fn words(error: JsValue) -> String {
    let message = Reflect::get(&error, &"message".into()).ok().and_then(|message| message.as_string());
    message.unwrap_or_else(|| t("the browser refused").into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_file_names_are_plain() {
        for (title, name) in [
            ("Week 3: boost & density", "week-3-boost-density-cmi5.zip"),
            ("../../x", "x-cmi5.zip"),
            ("Übung", "bung-cmi5.zip"),
            ("→ ∞", "volute-cmi5.zip"),
            ("", "volute-cmi5.zip"),
        ] {
            assert_eq!(file_name(Kind::Cmi5, title), name);
        }
        assert!(file_name(Kind::Scorm12, &"long ".repeat(99)).len() < 60);
    }
}
