//! Streams of a server function's request and answer, without what makes them flow.
//!
//! Leptos depends on `wasm-streams` even where there is no server, and that crate's exported JavaScript classes are then part
//! of every visit. A page served as files calls no server function, so the same signatures with nothing behind them do: a
//! stream from here ends at once. `[patch.crates-io]` in the workspace puts this crate in its place.

use futures_core::Stream;
use std::pin::Pin;
use std::task::{Context, Poll};
use wasm_bindgen::JsValue;

/// A readable stream of the browser.
#[derive(Debug)]
pub struct ReadableStream(web_sys::ReadableStream);

impl ReadableStream {
    /// Takes one of the browser's streams.
    pub fn from_raw(raw: web_sys::ReadableStream) -> Self {
        Self(raw)
    }

    /// The browser's stream.
    pub fn into_raw(self) -> web_sys::ReadableStream {
        self.0
    }

    /// An empty stream, whatever is given. Panics where the browser has no streams.
    pub fn from_stream(_: impl Stream<Item = Result<JsValue, JsValue>> + 'static) -> Self {
        Self(web_sys::ReadableStream::new().expect("this browser has streams"))
    }

    /// What comes out of it: nothing.
    pub fn into_stream(self) -> impl Stream<Item = Result<JsValue, JsValue>> {
        Ended
    }
}

struct Ended;

impl Stream for Ended {
    type Item = Result<JsValue, JsValue>;

    fn poll_next(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        Poll::Ready(None)
    }
}
