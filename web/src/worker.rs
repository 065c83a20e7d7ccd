//! The same binary in a web worker: sweeps are computed there, so that no slider ever waits for one.
//!
//! The page sends `plot serial job` (a job as [`Job::encode`] writes it), or `plot serial` alone to stop; the worker answers
//! with one `Float64Array` after another: plot, serial, points done, points in all, and the rows that are new. A new job for
//! a plot replaces the one before. The worker speaks first, to say that it listens.

use crate::sweeps::{Job, POINTS, SweepPoint, Walk};
use js_sys::Float64Array;
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::*;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent, Worker, WorkerOptions, WorkerType};

/// How long the worker computes between two looks at its mail, in ms.
const STINT_MS: f64 = 12.0;

/// A job under way in the worker.
struct Task {
    plot: u32,
    serial: f64,
    walk: Walk,
    done: usize,
}

/// Serves sweeps if this is a worker. Says whether it is.
pub fn serve() -> bool {
    let Ok(scope) = js_sys::global().dyn_into::<DedicatedWorkerGlobalScope>() else { return false };
    let tasks: Rc<RefCell<Vec<Task>>> = Rc::default();
    let listen = {
        let scope = scope.clone();
        Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
            let mail = event.data().as_string().unwrap_or_default();
            let mut words = mail.splitn(3, ' ');
            let plot = words.next().and_then(|w| w.parse().ok()).unwrap_or(0);
            let serial = words.next().and_then(crate::units::parse).unwrap_or(0.0);
            let idle = tasks.borrow().is_empty();
            tasks.borrow_mut().retain(|task| task.plot != plot);
            match words.next().map(|job| Job::decode(job).and_then(|job| Walk::new(&job))) {
                Some(Some(walk)) => tasks.borrow_mut().push(Task { plot, serial, walk, done: 0 }),
                // A job that nobody can read is done at once: the page must not wait for it.
                Some(None) => answer(&scope, plot, serial, 0, 0, &[]),
                None => {}
            }
            if idle && !tasks.borrow().is_empty() {
                work(scope.clone(), tasks.clone());
            }
        })
    };
    scope.set_onmessage(Some(listen.as_ref().unchecked_ref()));
    listen.forget();
    // Without a page there is nobody to tell.
    let _ = scope.post_message(&JsValue::from_str("ready"));
    true
}

/// Computes for one stint, answers, and comes back after the mail has been read.
fn work(scope: DedicatedWorkerGlobalScope, tasks: Rc<RefCell<Vec<Task>>>) {
    let begun = js_sys::Date::now();
    let mut rows: Vec<f64> = Vec::new();
    {
        let mut all = tasks.borrow_mut();
        let Some(task) = all.first_mut() else { return };
        while js_sys::Date::now() - begun < STINT_MS {
            let Some(point) = task.walk.advance() else { break };
            rows.extend(point.row());
            task.done += 1;
        }
        answer(&scope, task.plot, task.serial, task.done, POINTS, &rows);
        if task.done >= POINTS {
            all.remove(0);
        } else {
            // Another plot's turn.
            all.rotate_left(1);
        }
        if all.is_empty() {
            return;
        }
    }
    let again = scope.clone();
    let call = Closure::once_into_js(move || work(again, tasks));
    // The scope always has timers.
    let _ = scope.set_timeout_with_callback(call.unchecked_ref());
}

fn answer(scope: &DedicatedWorkerGlobalScope, plot: u32, serial: f64, done: usize, total: usize, rows: &[f64]) {
    let mut out = vec![f64::from(plot), serial, done as f64, total as f64];
    out.extend(rows);
    // A page that has gone away needs no answer.
    let _ = scope.post_message(&Float64Array::from(out.as_slice()));
}

/// What the worker says of a plot's sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct News {
    /// Which plot asked.
    pub plot: u32,
    /// Points computed so far, and points in all; both 0 for a job that could not be read.
    pub done: (usize, usize),
    /// The points that are new.
    pub points: Vec<SweepPoint>,
    /// Whether these are the first of the job.
    pub first: bool,
}

/// The page's side.
#[derive(Clone)]
pub struct Sweeper(Rc<RefCell<Inner>>);

struct Inner {
    worker: Worker,
    ready: bool,
    waiting: Vec<String>,
    /// The newest serial of each plot.
    newest: Vec<(u32, f64, bool)>,
    serial: f64,
}

impl Sweeper {
    /// Starts the worker from the page's own boot script; none where there is no such script or no worker.
    pub fn start(heard: impl Fn(News) + 'static, failed: impl Fn() + 'static) -> Option<Self> {
        let boot = web_sys::window()?.document()?.get_element_by_id("boot")?.get_attribute("src")?;
        let options = WorkerOptions::new();
        options.set_type(WorkerType::Module);
        let worker = Worker::new_with_options(&boot, &options).ok()?;
        let inner = Rc::new(RefCell::new(Inner {
            worker: worker.clone(),
            ready: false,
            waiting: Vec::new(),
            newest: Vec::new(),
            serial: 0.0,
        }));
        let own = inner.clone();
        let listen = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
            let data = event.data();
            if data.is_string() {
                own.borrow_mut().begin();
            } else if let Ok(numbers) = data.dyn_into::<Float64Array>()
                && let Some(news) = own.borrow_mut().read(&numbers.to_vec())
            {
                heard(news);
            }
        });
        worker.set_onmessage(Some(listen.as_ref().unchecked_ref()));
        listen.forget();
        let on_error = Closure::<dyn FnMut()>::new(failed);
        worker.set_onerror(Some(on_error.as_ref().unchecked_ref()));
        on_error.forget();
        Some(Self(inner))
    }

    /// Asks for a sweep for a plot, in place of any that it waits for.
    pub fn ask(&self, plot: u32, job: &Job) {
        self.0.borrow_mut().send(plot, Some(job));
    }

    /// Stops what a plot waits for.
    pub fn stop(&self, plot: u32) {
        self.0.borrow_mut().send(plot, None);
    }
}

impl Inner {
    fn send(&mut self, plot: u32, job: Option<&Job>) {
        self.serial += 1.0;
        self.newest.retain(|(p, ..)| *p != plot);
        let mail = match job {
            Some(job) => {
                self.newest.push((plot, self.serial, true));
                format!("{plot} {} {}", self.serial, job.encode())
            }
            None => format!("{plot} {}", self.serial),
        };
        if self.ready {
            // Fails only for what cannot be copied, and a string can.
            let _ = self.worker.post_message(&JsValue::from_str(&mail));
        } else {
            self.waiting.push(mail);
        }
    }

    fn begin(&mut self) {
        self.ready = true;
        for mail in std::mem::take(&mut self.waiting) {
            let _ = self.worker.post_message(&JsValue::from_str(&mail));
        }
    }

    /// What an answer says, unless it is about a job that has been replaced.
    fn read(&mut self, numbers: &[f64]) -> Option<News> {
        let [plot, serial, done, total, rows @ ..] = numbers else { return None };
        let plot = *plot as u32;
        let entry = self.newest.iter_mut().find(|(p, s, _)| *p == plot && s == serial)?;
        let first = std::mem::replace(&mut entry.2, false);
        let points = rows.chunks(SweepPoint::WIDTH).filter_map(SweepPoint::of_row).collect();
        Some(News { plot, done: (*done as usize, *total as usize), points, first })
    }
}
