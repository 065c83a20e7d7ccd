//! The platform itself: its object in a frame around the page, its record store behind the network. Only the browser has it.

use super::cmi5_session::{self as cmi5, Document, Launch, LaunchData, Stamp, XAPI_VERSION};
use super::scorm12_session::Api;
use crate::language::{t, tf};
use js_sys::{Function, Object, Promise, Reflect, Uint8Array};
use serde_json::Value;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{Headers, RequestInit, Response, Window};

/// Frames that are climbed at most. Chosen: far more than any platform nests, and an end for one that nests itself.
const MOST_FRAMES: usize = 20;
/// Longest body that browsers let outlive the page, in bytes, with room for what is on its way already.
const OUTLIVES: usize = 50_000;
/// First and longest wait before something is sent again, in ms. Chosen.
const WAIT_MS: (i32, i32) = (2_000, 60_000);

/// The platform's object, `API`.
#[derive(Debug)]
pub struct JsApi(JsValue);

impl JsApi {
    /// Looks in this window and the frames around it, then in the window that opened this one and the frames around that.
    pub fn find() -> Option<Self> {
        let window: JsValue = web_sys::window()?.into();
        let opener = read(&window, "opener");
        climb(window).or_else(|| climb(opener?))
    }
}

/// A property; nothing where there is none, or where the window belongs to another site and forbids it.
fn read(of: &JsValue, name: &str) -> Option<JsValue> {
    Reflect::get(of, &JsValue::from_str(name)).ok().filter(|value| !value.is_undefined() && !value.is_null())
}

fn climb(mut window: JsValue) -> Option<JsApi> {
    for _ in 0..MOST_FRAMES {
        if let Some(api) =
            read(&window, "API").filter(|api| read(api, "LMSInitialize").is_some_and(|f| f.is_function()))
        {
            return Some(JsApi(api));
        }
        let parent = read(&window, "parent").filter(|parent| !Object::is(parent, &window))?;
        window = parent;
    }
    None
}

impl Api for JsApi {
    fn call(&self, function: &str, arguments: &[&str]) -> Option<String> {
        let function: Function = read(&self.0, function)?.dyn_into().ok()?;
        let arguments = arguments.iter().map(|argument| JsValue::from_str(argument)).collect::<js_sys::Array>();
        let answer = function.apply(&self.0, &arguments).ok()?;
        let text = |answer: &JsValue| answer.as_string();
        text(&answer)
            .or_else(|| answer.as_bool().map(|b| b.to_string()))
            .or_else(|| answer.as_f64().map(|n| n.to_string()))
    }
}

/// The browser's random numbers and clocks.
#[derive(Debug)]
pub struct Browser;

impl Stamp for Browser {
    fn id(&self) -> String {
        // `crypto.randomUUID` is only there over HTTPS; the numbers themselves are there everywhere.
        let bytes = Uint8Array::new_with_length(16);
        let filled = read(&js_sys::global(), "crypto").and_then(|crypto| {
            let fill: Function = read(&crypto, "getRandomValues")?.dyn_into().ok()?;
            fill.call1(&crypto, &bytes).ok()
        });
        let mut raw = [0_u8; 16];
        match filled {
            Some(_) => bytes.copy_to(&mut raw),
            None => raw.iter_mut().for_each(|byte| *byte = (js_sys::Math::random() * 256.0) as u8),
        }
        // Version 4 and the variant of RFC 9562.
        (raw[6], raw[8]) = (raw[6] & 0x0f | 0x40, raw[8] & 0x3f | 0x80);
        let hex: String = raw.iter().map(|byte| format!("{byte:02x}")).collect();
        format!("{}-{}-{}-{}-{}", &hex[..8], &hex[8..12], &hex[12..16], &hex[16..20], &hex[20..])
    }

    fn time(&self) -> String {
        String::from(js_sys::Date::new_0().to_iso_string())
    }

    fn now_ms(&self) -> f64 {
        crate::browser::now_ms()
    }
}

/// The time of day, `HH:MM:SS`.
pub fn clock() -> String {
    let now = js_sys::Date::new_0();
    format!("{:02}:{:02}:{:02}", now.get_hours(), now.get_minutes(), now.get_seconds())
}

/// What stands behind `?` in the page's address.
pub fn query() -> String {
    web_sys::window().and_then(|w| w.location().search().ok()).unwrap_or_default()
}

/// What a host answered.
struct Answer {
    status: u16,
    text: String,
}

impl Answer {
    fn good(&self) -> bool {
        (200..300).contains(&self.status)
    }
}

/// Asks a host. `outlives` lets the request go on when the page closes. Errors: there was no answer.
async fn ask(method: &str, address: &str, token: Option<&str>, body: Option<&str>) -> Result<Answer, String> {
    let failed = |error: JsValue| {
        let message = read(&error, "message").and_then(|message| message.as_string());
        message.unwrap_or_else(|| t("no answer").into())
    };
    let headers = Headers::new().map_err(failed)?;
    if let Some(token) = token {
        headers.set("Authorization", &format!("Basic {token}")).map_err(failed)?;
        headers.set("X-Experience-API-Version", XAPI_VERSION).map_err(failed)?;
    }
    let init = RequestInit::new();
    init.set_method(method);
    if let Some(body) = body {
        headers.set("Content-Type", "application/json").map_err(failed)?;
        init.set_body(&JsValue::from_str(body));
        // Not every binding knows the key.
        let _ = Reflect::set(&init, &"keepalive".into(), &JsValue::from_bool(body.len() < OUTLIVES));
    }
    init.set_headers(&headers);
    let window: Window = web_sys::window().ok_or(t("there is no page"))?;
    let response = JsFuture::from(window.fetch_with_str_and_init(address, &init)).await.map_err(failed)?;
    let response: Response = response.dyn_into().map_err(failed)?;
    let text: Promise = response.text().map_err(failed)?;
    let text = JsFuture::from(text).await.map_err(failed)?.as_string().unwrap_or_default();
    Ok(Answer { status: response.status(), text })
}

/// What a record store gave at the launch.
pub struct Opened {
    /// Who, where, which.
    pub launch: Launch,
    /// What the platform left.
    pub data: LaunchData,
    /// What the page kept.
    pub document: Document,
    /// The learner's preferences; empty if there are none.
    pub preferences: String,
    token: String,
}

/// Fetches the token and reads what the platform left. Errors: in words.
pub async fn open(launch: Launch) -> Result<Opened, String> {
    let answer = ask("POST", &launch.fetch, None, None).await?;
    let token = cmi5::token(&answer.text)?;
    let answer = ask("GET", &launch.state(cmi5::LAUNCH_DATA), Some(&token), None).await?;
    if !answer.good() {
        return Err(tf("the launch data were refused with status {status}", &[("status", &answer.status.to_string())]));
    }
    let data = cmi5::launch_data(&answer.text)?;
    // Must be asked for, need not be there.
    let preferences = ask("GET", &launch.preferences(), Some(&token), None).await?;
    let preferences = if preferences.good() { preferences.text } else { String::new() };
    let document = ask("GET", &launch.state(cmi5::MEMORY), Some(&token), None).await?;
    let document = if document.good() { Document::read(&document.text) } else { Document::default() };
    Ok(Opened { launch, data, document, preferences, token })
}

/// Carries statements and what is kept to the record store, one after the other, in order.
#[derive(Clone)]
pub struct Courier(Rc<Load>);

struct Load {
    launch: Launch,
    token: String,
    statements: RefCell<Vec<Value>>,
    memory: RefCell<Option<String>>,
    busy: Cell<bool>,
    wait_ms: Cell<i32>,
    report: Box<dyn Fn(Option<String>)>,
}

impl Courier {
    /// For the store that was opened. `report` hears what is wrong, and nothing once it is right again.
    pub fn new(opened: &Opened, report: impl Fn(Option<String>) + 'static) -> Self {
        Self(Rc::new(Load {
            launch: opened.launch.clone(),
            token: opened.token.clone(),
            statements: RefCell::default(),
            memory: RefCell::default(),
            busy: Cell::new(false),
            wait_ms: Cell::new(WAIT_MS.0),
            report: Box::new(report),
        }))
    }

    /// Sends these behind what is waiting already.
    pub fn send(&self, statements: Vec<Value>, memory: Option<String>) {
        self.0.statements.borrow_mut().extend(statements);
        if memory.is_some() {
            *self.0.memory.borrow_mut() = memory;
        }
        if !self.0.busy.replace(true) {
            let own = self.clone();
            spawn_local(async move { own.carry().await });
        }
    }

    /// Sends at once all that waits and these at its end: the page closes and will hear no answer.
    pub fn send_last(&self, statements: Vec<Value>, memory: Option<String>) {
        self.0.busy.set(true);
        self.0.statements.borrow_mut().extend(statements);
        let waiting = Value::Array(self.0.statements.take()).to_string();
        let memory = memory.or_else(|| self.0.memory.take());
        let (load, address) = (self.0.clone(), self.0.launch.statements());
        // Each request leaves when its future is first polled, which is before the page goes. Nobody is left to hear of it.
        spawn_local(async move { drop(ask("POST", &address, Some(&load.token), Some(&waiting)).await) });
        if let Some(memory) = memory {
            let (load, state) = (self.0.clone(), self.0.launch.state(cmi5::MEMORY));
            spawn_local(async move { drop(ask("PUT", &state, Some(&load.token), Some(&memory)).await) });
        }
    }

    /// Waits until nothing is on its way, but not for ever.
    pub async fn settled(&self) {
        for _ in 0..500 {
            if !self.0.busy.get() {
                break;
            }
            pause(20).await;
        }
    }

    async fn carry(&self) {
        loop {
            let waiting = self.0.statements.take();
            if !waiting.is_empty() && !self.tell(waiting).await {
                pause(self.longer()).await;
                continue;
            }
            let Some(memory) = self.0.memory.take() else {
                if self.0.statements.borrow().is_empty() {
                    break;
                }
                continue;
            };
            let state = self.0.launch.state(cmi5::MEMORY);
            match ask("PUT", &state, Some(&self.0.token), Some(&memory)).await {
                Ok(answer) if answer.good() => self.right(),
                Ok(answer) => (self.0.report)(Some(tf(
                    "what you have done was refused with status {status}",
                    &[("status", &answer.status.to_string())],
                ))),
                Err(reason) => {
                    (self.0.report)(Some(reason));
                    // Whatever came meanwhile is newer.
                    self.0.memory.borrow_mut().get_or_insert(memory);
                    pause(self.longer()).await;
                }
            }
        }
        self.0.busy.set(false);
    }

    /// Sends statements; those that get no answer go back to the head. Says whether there was an answer.
    async fn tell(&self, statements: Vec<Value>) -> bool {
        let address = self.0.launch.statements();
        let body = Value::Array(statements.clone()).to_string();
        match ask("POST", &address, Some(&self.0.token), Some(&body)).await {
            Ok(answer) if answer.good() => self.right(),
            // A store takes all statements or none. One bad statement must not stop the others, so they go one by one.
            Ok(_) if statements.len() > 1 => {
                for (i, statement) in statements.iter().enumerate() {
                    let body = Value::Array(vec![statement.clone()]).to_string();
                    match ask("POST", &address, Some(&self.0.token), Some(&body)).await {
                        Ok(answer) if answer.good() => {}
                        Ok(answer) => self.refused(&answer),
                        Err(reason) => return self.back(statements[i..].to_vec(), reason),
                    }
                }
            }
            Ok(answer) => self.refused(&answer),
            Err(reason) => return self.back(statements, reason),
        }
        true
    }

    fn back(&self, mut statements: Vec<Value>, reason: String) -> bool {
        let later = self.0.statements.take();
        statements.extend(later);
        *self.0.statements.borrow_mut() = statements;
        (self.0.report)(Some(reason));
        false
    }

    fn refused(&self, answer: &Answer) {
        let words: String = answer.text.chars().filter(|c| !c.is_control()).take(120).collect();
        (self.0.report)(Some(
            tf(
                "an answer was refused with status {status} {words}",
                &[("status", &answer.status.to_string()), ("words", &words)],
            )
            .trim_end()
            .into(),
        ));
    }

    fn right(&self) {
        self.0.wait_ms.set(WAIT_MS.0);
        (self.0.report)(None);
    }

    fn longer(&self) -> i32 {
        let wait = self.0.wait_ms.get();
        self.0.wait_ms.set((2 * wait).min(WAIT_MS.1));
        wait
    }
}

async fn pause(ms: i32) {
    let promise = Promise::new(&mut |done, _| crate::browser::after(ms, move || drop(done.call0(&JsValue::NULL))));
    // A promise that is never broken.
    let _ = JsFuture::from(promise).await;
}

/// Calls back when the page goes away. Where it only sleeps and is woken again, it is loaded anew: what was ended cannot go on.
pub fn on_leave(call: impl Fn() + 'static) {
    let Some(window) = web_sys::window() else { return };
    let leave = Closure::<dyn FnMut()>::new(call);
    let woken = Closure::<dyn FnMut(JsValue)>::new(|event: JsValue| {
        let slept = read(&event, "persisted").and_then(|p| p.as_bool()) == Some(true);
        if let Some(window) = web_sys::window().filter(|_| slept) {
            let _ = window.location().reload();
        }
    });
    // Fails only for a window that does not take events at all.
    let _ = window.add_event_listener_with_callback("pagehide", leave.as_ref().unchecked_ref());
    let _ = window.add_event_listener_with_callback("pageshow", woken.as_ref().unchecked_ref());
    leave.forget();
    woken.forget();
}

/// Goes to another address in place of this one.
pub fn go(address: &str) {
    if let Some(window) = web_sys::window() {
        // Refused only for an address that is none; the launch data were read with that in mind.
        let _ = window.location().assign(address);
    }
}
