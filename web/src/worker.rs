//! The same binary in a web worker: sweeps are computed there, so that no slider ever waits for one.
//!
//! The page sends a link fragment with a number in front (`7 v=1&engine=…`), the worker answers with that number and the
//! rows of the sweep in one `Float64Array`. The worker speaks first, to say that it listens.

use crate::run::{self, SweepPoint};
use crate::share;
use js_sys::Float64Array;
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::*;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent, Worker, WorkerOptions, WorkerType};

/// Serves sweeps if this is a worker. Says whether it is.
pub fn serve() -> bool {
    let Ok(scope) = js_sys::global().dyn_into::<DedicatedWorkerGlobalScope>() else { return false };
    let answer_to = scope.clone();
    let listen = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let job = event.data().as_string().unwrap_or_default();
        let (number, fragment) = job.split_once(' ').unwrap_or(("0", ""));
        let mut out = vec![number.parse::<f64>().unwrap_or(0.0)];
        if let Ok(Some(shared)) = share::decode(fragment) {
            out.extend(run::sweep(&shared.bench).iter().flat_map(SweepPoint::row));
        }
        // A page that has gone away needs no answer.
        let _ = answer_to.post_message(&Float64Array::from(out.as_slice()));
    });
    scope.set_onmessage(Some(listen.as_ref().unchecked_ref()));
    listen.forget();
    // Without a page there is nobody to tell.
    let _ = scope.post_message(&JsValue::from_str("ready"));
    true
}

/// The page's side: one job under way, the newest one waiting.
#[derive(Clone)]
pub struct Sweeper(Rc<RefCell<Inner>>);

struct Inner {
    worker: Worker,
    ready: bool,
    busy: bool,
    waiting: Option<String>,
    asked: u32,
}

impl Sweeper {
    /// Starts the worker from the page's own boot script. Errors: nothing when there is no such script or no worker.
    pub fn start(answer: impl Fn(Vec<SweepPoint>) + 'static, failed: impl Fn() + 'static) -> Option<Self> {
        let boot = web_sys::window()?.document()?.get_element_by_id("boot")?.get_attribute("src")?;
        let options = WorkerOptions::new();
        options.set_type(WorkerType::Module);
        let worker = Worker::new_with_options(&boot, &options).ok()?;
        let inner =
            Rc::new(RefCell::new(Inner { worker: worker.clone(), ready: false, busy: false, waiting: None, asked: 0 }));
        let heard = inner.clone();
        let listen = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
            let data = event.data();
            if data.is_string() {
                heard.borrow_mut().ready = true;
            } else if let Ok(numbers) = data.dyn_into::<Float64Array>() {
                heard.borrow_mut().busy = false;
                let numbers = numbers.to_vec();
                let rows = numbers.get(1..).unwrap_or_default();
                answer(rows.chunks(SweepPoint::WIDTH).filter_map(SweepPoint::of_row).collect());
            }
            heard.borrow_mut().send();
        });
        worker.set_onmessage(Some(listen.as_ref().unchecked_ref()));
        listen.forget();
        let on_error = Closure::<dyn FnMut()>::new(failed);
        worker.set_onerror(Some(on_error.as_ref().unchecked_ref()));
        on_error.forget();
        Some(Self(inner))
    }

    /// Asks for the sweep of a link fragment; a job that still waits is replaced.
    pub fn ask(&self, fragment: String) {
        let mut inner = self.0.borrow_mut();
        inner.waiting = Some(fragment);
        inner.send();
    }
}

impl Inner {
    fn send(&mut self) {
        if !self.ready || self.busy {
            return;
        }
        if let Some(fragment) = self.waiting.take() {
            self.asked += 1;
            let job = JsValue::from_str(&format!("{} {fragment}", self.asked));
            self.busy = self.worker.post_message(&job).is_ok();
        }
    }
}
