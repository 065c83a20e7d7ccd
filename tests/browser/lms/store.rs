//! A record store with a platform around it, on this machine alone. It hands out one token, keeps documents, takes statements,
//! and checks every request against the rules. A second server serves the unpacked package as the file host of a platform does:
//! without our headers, with a wrong content type for WASM, and below a folder.

use super::rules::{self, Given};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// Turns a request into an answer.
type Handler = dyn Fn(&Request) -> Reply + Send + Sync;

/// A request.
pub struct Request {
    pub method: String,
    /// Before `?`.
    pub path: String,
    pub query: BTreeMap<String, String>,
    pub headers: BTreeMap<String, String>,
    pub body: String,
}

/// An answer.
pub struct Reply {
    pub status: u16,
    pub kind: &'static str,
    pub body: Vec<u8>,
}

impl Reply {
    fn json(status: u16, body: &Value) -> Self {
        Self { status, kind: "application/json", body: body.to_string().into_bytes() }
    }

    fn empty(status: u16) -> Self {
        Self { status, kind: "text/plain", body: Vec::new() }
    }
}

/// A server that stops when it is dropped.
pub struct Host {
    address: SocketAddr,
    stopping: Arc<AtomicBool>,
    accepting: Option<thread::JoinHandle<()>>,
}

impl Host {
    fn start(handler: Arc<Handler>) -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a port");
        let address = listener.local_addr().expect("an address");
        let stopping = Arc::new(AtomicBool::new(false));
        let accepting = thread::spawn({
            let stopping = stopping.clone();
            move || {
                for stream in listener.incoming() {
                    if stopping.load(Ordering::SeqCst) {
                        break;
                    }
                    let (Ok(stream), handler) = (stream, handler.clone()) else { continue };
                    // It is no fault if a browser goes away in the middle.
                    thread::spawn(move || drop(answer(&stream, &*handler)));
                }
            }
        });
        Self { address, stopping, accepting: Some(accepting) }
    }

    /// Serves a folder as `/content/41/`, and the course page as `/back`.
    pub fn of_files(root: PathBuf) -> Self {
        Self::start(Arc::new(move |request| {
            if request.path == "/back" {
                let page = "<!doctype html><link rel=\"icon\" href=\"data:,\"><title>Courses</title><p>Back.</p>";
                return Reply { status: 200, kind: "text/html; charset=utf-8", body: page.into() };
            }
            let Some(inside) = request.path.strip_prefix("/content/41/") else { return Reply::empty(404) };
            assert!(!inside.contains(".."), "a path that climbs");
            let Ok(body) = std::fs::read(root.join(inside)) else { return Reply::empty(404) };
            let kind = match inside.rsplit('.').next() {
                Some("html") => "text/html; charset=utf-8",
                Some("js") => "text/javascript",
                Some("css") => "text/css",
                Some("svg") => "image/svg+xml",
                // Many platforms send this for an ending that they do not know.
                _ => "application/octet-stream",
            };
            Reply { status: 200, kind, body }
        }))
    }

    /// The address of a path.
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        self.stopping.store(true, Ordering::SeqCst);
        // `accept` looks at the flag only when somebody connects.
        let _ = TcpStream::connect(self.address);
        if let Some(accepting) = self.accepting.take() {
            let _ = accepting.join();
        }
    }
}

fn answer(stream: &TcpStream, handler: &Handler) -> std::io::Result<()> {
    stream.set_read_timeout(Some(Duration::from_secs(20)))?;
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    reader.read_line(&mut line)?;
    let mut words = line.split_whitespace();
    let (method, target) = (words.next().unwrap_or_default().to_string(), words.next().unwrap_or_default().to_string());
    if method.is_empty() {
        return Ok(());
    }
    let mut headers = BTreeMap::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line)?;
        let Some((name, value)) = line.trim_end().split_once(':') else { break };
        headers.insert(name.to_ascii_lowercase(), value.trim().to_string());
    }
    let length = headers.get("content-length").and_then(|l| l.parse().ok()).unwrap_or(0);
    let mut body = vec![0; length];
    reader.read_exact(&mut body)?;
    let (path, query) = target.split_once('?').unwrap_or((&target, ""));
    let query = url::form_urlencoded::parse(query.as_bytes()).into_owned().collect();
    let body = String::from_utf8_lossy(&body).into_owned();
    let reply = handler(&Request { method, path: path.into(), query, headers, body });
    let head = format!(
        "HTTP/1.1 {} x\r\nContent-Type: {}\r\nContent-Length: {}\r\nAccess-Control-Allow-Origin: *\r\n\
         Access-Control-Allow-Methods: GET, PUT, POST, OPTIONS\r\n\
         Access-Control-Allow-Headers: authorization, content-type, x-experience-api-version\r\nConnection: close\r\n\r\n",
        reply.status,
        reply.kind,
        reply.body.len()
    );
    let mut stream = stream;
    stream.write_all(head.as_bytes())?;
    stream.write_all(&reply.body)
}

/// What a store holds of all sessions of one enrolment.
#[derive(Default)]
pub struct Held {
    /// Statements of earlier sessions.
    pub earlier: Vec<Value>,
    /// Statements of this session, in the order in which they came.
    pub statements: Vec<Value>,
    /// Documents by their names.
    pub documents: BTreeMap<String, String>,
    /// What broke the rules.
    pub faults: Vec<String>,
    /// Whether the preferences were asked for, which must happen before the first statement.
    pub preferred: bool,
    token: String,
    tokens: u32,
    /// How many statements will still be refused, as by a store that is down.
    pub down: u32,
}

/// The store.
pub struct Store {
    pub held: Arc<Mutex<Held>>,
    given: Arc<Mutex<Given>>,
    host: Host,
}

impl Store {
    /// An enrolment of one learner in one unit.
    pub fn new(launch_data: Value) -> Self {
        let given = Given {
            actor: json!({ "objectType": "Agent", "account": { "homePage": "https://school.example", "name": "ann + b & c" } }),
            registration: "0ce067da-0408-4e7c-808b-f3a4f95d5a1e".into(),
            activity: "https://lms.example/activity/7?of=course#unit".into(),
            data: launch_data,
        };
        let (held, given) = (Arc::new(Mutex::new(Held::default())), Arc::new(Mutex::new(given)));
        let host = Host::start(Arc::new({
            let (held, given) = (held.clone(), given.clone());
            move |request| handle(request, &mut held.lock().expect("held"), &given.lock().expect("given"))
        }));
        Self { held, given, host }
    }

    /// Opens another session with a new token and a new session id. Returns the query of the launch link, its parts in an
    /// unusual order.
    pub fn launch(&self, mode: &str) -> String {
        let mut given = self.given.lock().expect("given");
        let mut held = self.held.lock().expect("held");
        let said = std::mem::take(&mut held.statements);
        held.earlier.extend(said);
        held.preferred = false;
        held.tokens += 1;
        held.token = String::new();
        given.data["launchMode"] = json!(mode);
        let session = format!("session-{}", held.tokens);
        given.data["contextTemplate"]["extensions"]["https://w3id.org/xapi/cmi5/context/extensions/sessionid"] =
            json!(session);
        let mut query = url::form_urlencoded::Serializer::new(String::new());
        query
            .append_pair("registration", &given.registration)
            .append_pair("endpoint", &self.host.url("/xapi"))
            .append_pair("activityId", &given.activity)
            .append_pair("fetch", &self.host.url(&format!("/fetch?session={session}")))
            .append_pair("actor", &given.actor.to_string());
        query.finish()
    }

    /// The verbs of this session, in order.
    pub fn verbs(&self) -> Vec<String> {
        self.held.lock().expect("held").statements.iter().map(|s| rules::verb(s).to_string()).collect()
    }
}

fn handle(request: &Request, held: &mut Held, given: &Given) -> Reply {
    if request.method == "OPTIONS" {
        return Reply::empty(204);
    }
    if request.path == "/fetch" {
        if request.method != "POST" {
            held.faults.push(format!("8.2.1.0-2: fetch by {}", request.method));
        }
        if !held.token.is_empty() {
            held.faults.push("8.2.3.0-1: fetch was called again".into());
            return Reply::json(200, &json!({ "error-code": "1", "error-text": "already in use" }));
        }
        held.token = format!("dG9rZW4t{:04}", held.tokens);
        return Reply::json(200, &json!({ "auth-token": held.token }));
    }
    let mut fault = |text: String| {
        held.faults.push(text);
        Reply::empty(400)
    };
    if request.headers.get("authorization") != Some(&format!("Basic {}", held.token)) {
        return fault(format!("8.2.1.0-5: {} without the token", request.path));
    }
    if request.headers.get("x-experience-api-version").is_none_or(|v| !v.starts_with("1.0.")) {
        return fault(format!("xAPI 1.0.3, 3.3: {} without a version", request.path));
    }
    let asked = |name: &str| request.query.get(name).map(String::as_str).unwrap_or_default();
    let agent = || serde_json::from_str::<Value>(asked("agent")).ok() == Some(given.actor.clone());
    match (request.method.as_str(), request.path.as_str()) {
        (method @ ("GET" | "PUT"), "/xapi/activities/state") => {
            if asked("activityId") != given.activity || !agent() || asked("registration") != given.registration {
                return fault(format!("8.1: a state of something else: {:?}", request.query));
            }
            let name = asked("stateId");
            match (method, name) {
                ("GET", "LMS.LaunchData") => Reply::json(200, &given.data),
                ("PUT", "LMS.LaunchData") => fault("10.2.1.0-5: the launch data were written".into()),
                ("GET", name) => match held.documents.get(name) {
                    Some(text) => Reply { status: 200, kind: "application/json", body: text.clone().into_bytes() },
                    None => Reply::empty(404),
                },
                (_, name) => {
                    if serde_json::from_str::<Value>(&request.body).is_err() {
                        return fault(format!("`{name}` is not JSON: {}", request.body));
                    }
                    held.documents.insert(name.into(), request.body.clone());
                    Reply::empty(204)
                }
            }
        }
        ("GET", "/xapi/agents/profile") => {
            if asked("profileId") != "cmi5LearnerPreferences" || !agent() {
                return fault(format!("11.0.0.0-4: {:?}", request.query));
            }
            held.preferred = true;
            Reply::json(200, &json!({ "languagePreference": "fr-FR,en-GB", "audioPreference": "off" }))
        }
        ("POST", "/xapi/statements") => {
            if held.down > 0 {
                held.down -= 1;
                return Reply::empty(503);
            }
            let Ok(Value::Array(statements)) = serde_json::from_str::<Value>(&request.body) else {
                return fault(format!("no list of statements: {}", request.body));
            };
            if !held.preferred {
                held.faults.push("11.0.0.0-3: the preferences were not asked for".into());
            }
            let ids: Vec<Value> = statements.iter().map(|s| s["id"].clone()).collect();
            for statement in statements {
                let found = rules::faults(given, &held.earlier, &held.statements, &statement);
                held.faults.extend(found);
                held.statements.push(statement);
            }
            Reply::json(200, &Value::Array(ids))
        }
        (method, path) => fault(format!("{method} {path} is not asked for by a unit")),
    }
}
