//! A real browser on the built page. Each test gets a fresh Chromium and a server of its own, which are closed whatever happens.
//!
//! `cargo xtask` starts the driver of the browser, hands over its address, and stops it.

use fantoccini::actions::{InputSource, KeyAction, KeyActions, MOUSE_BUTTON_LEFT, MouseActions, PointerAction};
use fantoccini::elements::Element;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use xtask::keep::files_in;
use xtask::server::{Options, Server};

/// After this wait a test fails. It is far longer than a busy machine needs, so that no result depends on it.
const LONGEST_WAIT: Duration = Duration::from_secs(180);

/// The rules of axe. The file is part of the repository, so that no test needs the network.
const AXE: &str = include_str!("vendor/axe-core/axe.min.js");

/// The rules that axe checks: WCAG 2.2 at levels A and AA.
const AXE_TAGS: [&str; 5] = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

/// The size of the window, and whether it is dark.
#[derive(Debug, Clone, Copy)]
pub struct View {
    /// CSS pixels across.
    pub width: u32,
    /// CSS pixels down.
    pub height: u32,
    /// Whether the system asks for a dark page.
    pub dark: bool,
}

/// The window of the first view.
pub const DESK: View = View { width: 1366, height: 768, dark: false };
/// The same window in the dark.
pub const DESK_DARK: View = View { dark: true, ..DESK };
/// A telephone.
pub const PHONE: View = View { width: 390, height: 844, dark: false };

/// The folder of the workspace.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).to_path_buf()
}

/// Serves the built page as an ordinary host does: the small one in `dist/`, or the quick one that `--quick` asks for.
pub fn dist() -> Options {
    Options::new(std::env::var_os("VOLUTE_PAGE").map_or_else(|| root().join("dist"), PathBuf::from))
}

/// Serves the core's own module, `answers.rs`.
pub fn core_alone() -> Options {
    Options::new(root().join("target/answers"))
}

/// A copy of the built page that a test can change. It is removed after the test.
pub struct Copy(PathBuf);

impl Copy {
    /// Copies the page. `name` is that of the test.
    pub fn new(name: &str) -> Self {
        let to = std::env::temp_dir().join(format!("volute-{}-{name}", std::process::id()));
        let from = dist().root;
        for file in files_in(&from).expect("no page: run `cargo xtask test`") {
            let copy = to.join(file.strip_prefix(&from).expect("inside"));
            std::fs::create_dir_all(copy.parent().expect("a folder")).expect("a folder");
            std::fs::copy(file, copy).expect("a copy");
        }
        Self(to)
    }

    /// The folder of the copy.
    pub fn root(&self) -> &Path {
        &self.0
    }
}

impl Drop for Copy {
    fn drop(&mut self) {
        // What is left behind lies in the system's own temporary folder.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A page in a browser.
pub struct Page {
    client: Client,
    url: String,
    server: RefCell<Option<Server>>,
}

/// Runs `test` with a fresh browser and the folder of `options` served.
pub fn browse(options: Options, view: View, test: impl AsyncFnOnce(&Page)) {
    let server = Server::start(options).expect("no page to serve: run `cargo xtask test`");
    let driver = std::env::var("VOLUTE_DRIVER").expect("no driver: run `cargo xtask test`");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("runtime");
    let arguments = [
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-dev-shm-usage",
        "--force-color-profile=srgb",
        "--hide-scrollbars",
        "--lang=en-US",
        "--window-size=1366,768",
        // In the tests a page of an invented host has a frame with our page. A real host is not on this machine.
        "--disable-features=LocalNetworkAccessChecks",
        // A request to another host gives an error in the console, and the test sees it.
        "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    ];
    // The driver makes a fresh profile for each session and removes it.
    let capabilities = json!({
        "goog:chromeOptions": { "args": arguments, "binary": std::env::var("VOLUTE_BROWSER").expect("no browser: run `cargo xtask test`") },
        "goog:loggingPrefs": { "browser": "ALL", "performance": "ALL" },
    });
    let Value::Object(capabilities) = capabilities else { unreachable!() };
    let connect = async { ClientBuilder::new(HttpConnector::new()).capabilities(capabilities).connect(&driver).await };
    let client = runtime.block_on(connect).expect("the browser does not start");
    let page = Page { client: client.clone(), url: server.url(), server: RefCell::new(Some(server)) };
    let outcome = catch_unwind(AssertUnwindSafe(|| {
        runtime.block_on(async {
            page.look(view).await;
            test(&page).await
        })
    }));
    let closed = runtime.block_on(client.close());
    match outcome {
        Ok(()) => closed.expect("the browser does not close"),
        Err(panic) => resume_unwind(panic),
    }
}

impl Page {
    /// Opens `tail` below the address of the page, such as `#…`, and waits for the whole bench. The views below are fetched
    /// when they come near, so this scrolls to them once.
    pub async fn open(&self, tail: &str) {
        self.open_first_view(tail).await;
        self.wait(
            "what stands below is there",
            "document.querySelector('.page-below') === null || document.body.classList.contains('whole') \
                || (document.querySelector('.page-below').scrollIntoView(), false)",
        )
        .await;
        self.run("scrollTo(0, 0)").await;
        self.settled().await;
    }

    /// Opens `tail` below the address of the page and waits for the bench, but not for the views below it.
    pub async fn open_first_view(&self, tail: &str) {
        self.visit(tail).await;
        self.wait(
            "the bench is there",
            "document.getElementById('start') === null && document.body.classList.contains('built')",
        )
        .await;
        self.settled().await;
    }

    /// Opens `tail` below the address of the page and waits for nothing but the document.
    pub async fn visit(&self, tail: &str) {
        // If only the fragment changed, nothing would be loaded.
        self.client.goto("about:blank").await.expect("about:blank");
        self.client.goto(&format!("{}{tail}", self.url)).await.expect("the page opens");
    }

    /// Opens any address of this machine and waits for nothing but the document.
    pub async fn go(&self, address: &str) {
        self.client.goto(address).await.unwrap_or_else(|error| panic!("{address}: {error}"));
    }

    /// Goes into a frame, from the page down by the numbers of the frames. Without numbers it goes to the page itself.
    pub async fn enter(&self, frames: &[u16]) {
        // On the page itself this does nothing.
        for _ in 0..4 {
            self.client.enter_parent_frame().await.expect("the page");
        }
        for frame in frames {
            self.client.enter_frame(*frame).await.expect("a frame");
        }
    }

    /// Waits until the bench has drawn what was asked of it. The page computes a reading while it handles the event, so the
    /// second frame from now shows it.
    pub async fn settled(&self) {
        self.run_async(
            "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => done(null)));",
            vec![],
        )
        .await;
    }

    /// Waits until the bench has come to rest. What it shows then no longer depends on the way there.
    pub async fn rested(&self) {
        self.run_async(
            "const done = arguments[0]; setTimeout(() => requestAnimationFrame(() => done(null)), 1000);",
            vec![],
        )
        .await;
    }

    /// Evaluates the body of a function in the page.
    pub async fn run(&self, body: &str) -> Value {
        self.run_with(body, vec![]).await
    }

    /// Evaluates the body of a function in the page with arguments.
    pub async fn run_with(&self, body: &str, arguments: Vec<Value>) -> Value {
        self.client.execute(body, arguments).await.unwrap_or_else(|error| panic!("`{body:.300}`: {error}"))
    }

    /// Runs a script that hands its result to its last argument, which is a function.
    pub async fn run_async(&self, body: &str, arguments: Vec<Value>) -> Value {
        self.client.execute_async(body, arguments).await.unwrap_or_else(|error| panic!("`{body:.300}`: {error}"))
    }

    /// Runs the body of a function in which `core` is the module `answers`, on the page that serves it.
    pub async fn core(&self, body: &str) -> Value {
        let script = format!(
            "const done = arguments[0];
             import(new URL('answers.js', location.href)).then(async (core) => {{
                 await core.default({{ module_or_path: new URL('answers_bg.wasm', location.href) }});
                 done((() => {{ {body} }})());
             }}).catch((e) => done(String(e)));"
        );
        self.run_async(&script, vec![]).await
    }

    /// The value of an expression in the page.
    pub async fn value(&self, expression: &str) -> Value {
        self.run(&format!("return ({expression});")).await
    }

    /// The text of the first element that `css` finds.
    pub async fn text(&self, css: &str) -> String {
        self.find(css).await.text().await.expect("text")
    }

    /// Waits until `condition` holds. If it never does, the test fails and prints the text of the page.
    pub async fn wait(&self, what: &str, condition: &str) {
        let begun = Instant::now();
        while self.value(&format!("Boolean({condition})")).await != json!(true) {
            if begun.elapsed() > LONGEST_WAIT {
                let text = self.value("document.body.innerText").await;
                panic!("never: {what} (`{condition}`)\nconsole: {:#?}\npage: {text}", self.console().await);
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// The size of the page's WASM memory in bytes. It never shrinks.
    pub async fn wasm_bytes(&self) -> Value {
        // If the module runs already, the glue returns it again.
        let script = "const done = arguments[0];
            import(new URL('volute-web.js' + new URL(document.getElementById('boot').src).search, location.href))
                .then((glue) => glue.default()).then((wasm) => done(wasm.memory.buffer.byteLength), (e) => done(String(e)));";
        self.run_async(script, vec![]).await
    }

    /// How many elements `css` finds.
    pub async fn count(&self, css: &str) -> usize {
        self.client.find_all(Locator::Css(css)).await.unwrap_or_else(|error| panic!("`{css}`: {error}")).len()
    }

    /// The first element that `css` finds.
    pub async fn find(&self, css: &str) -> Element {
        self.client.find(Locator::Css(css)).await.unwrap_or_else(|error| panic!("`{css}`: {error}"))
    }

    /// Clicks the first element that `css` finds.
    pub async fn click(&self, css: &str) {
        self.find(css).await.click().await.unwrap_or_else(|error| panic!("click on `{css}`: {error}"));
    }

    /// Types into the first element that `css` finds.
    pub async fn keys(&self, css: &str, keys: &str) {
        self.find(css).await.send_keys(keys).await.unwrap_or_else(|error| panic!("keys on `{css}`: {error}"));
    }

    /// Presses a key, wherever the focus is.
    pub async fn press(&self, key: &str) {
        let key = key.chars().next().expect("a key");
        let keys =
            KeyActions::new("keys".into()).then(KeyAction::Down { value: key }).then(KeyAction::Up { value: key });
        self.client.perform_actions(keys).await.expect("a key");
    }

    /// Goes to a second tab of the same browser.
    pub async fn other_tab(&self) {
        let tab = self.client.new_window(true).await.expect("a tab");
        self.client.switch_to_window(tab.handle).await.expect("the tab");
    }

    /// Goes back to the first tab.
    pub async fn first_tab(&self) {
        let tabs = self.client.windows().await.expect("tabs");
        self.client.switch_to_window(tabs[0].clone()).await.expect("the tab");
    }

    /// Waits for the tab that the page opens by itself, and goes to it.
    pub async fn newest_tab(&self) {
        let (begun, here) = (Instant::now(), self.client.window().await.expect("a tab"));
        loop {
            let tabs = self.client.windows().await.expect("tabs");
            if let Some(other) = tabs.into_iter().find(|tab| *tab != here) {
                return self.client.switch_to_window(other).await.expect("the tab");
            }
            assert!(begun.elapsed() < LONGEST_WAIT, "no tab was opened");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// How many tabs there are.
    pub async fn tabs(&self) -> usize {
        self.client.windows().await.expect("tabs").len()
    }

    /// Goes to an empty page of another origin.
    pub async fn stranger(&self) {
        // The driver answers on another port, which is another origin.
        let driver = std::env::var("VOLUTE_DRIVER").expect("no driver: run `cargo xtask test`");
        self.client.goto(&format!("{}/status", driver.trim_end_matches('/'))).await.expect("another page");
        // The browser asks it for an icon, and reports once that there is none.
        let begun = Instant::now();
        while !self.console().await.iter().any(|line| line.contains("favicon.ico")) && begun.elapsed() < LONGEST_WAIT {
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// Goes into the first frame of the page.
    pub async fn into_frame(&self) {
        self.client.enter_frame(0).await.expect("a frame");
    }

    /// Comes out of it again.
    pub async fn out_of_frame(&self) {
        self.client.enter_parent_frame().await.expect("the page around");
    }

    /// Presses the mouse on a slider at the share `from` of its width and releases it at the share `to`.
    pub async fn drag(&self, css: &str, from: f64, to: f64) {
        let (x, y, width, height) = self.find(css).await.rectangle().await.expect("rectangle");
        // The driver counts positions from the window, and an element from the document.
        let scrolled = self.value("[scrollX, scrollY]").await;
        let at = |share: f64| PointerAction::MoveTo {
            duration: Some(Duration::from_millis(50)),
            x: x + share * width - scrolled[0].as_f64().unwrap_or(0.0),
            y: y + height / 2.0 - scrolled[1].as_f64().unwrap_or(0.0),
        };
        let mouse = MouseActions::new("mouse".into())
            .then(at(from))
            .then(PointerAction::Down { button: MOUSE_BUTTON_LEFT })
            .then(at(to))
            .then(PointerAction::Up { button: MOUSE_BUTTON_LEFT });
        self.client.perform_actions(mouse).await.expect("drag");
    }

    /// From now on the browser asks for pages in these languages, such as `de-AT,de`.
    pub async fn prefers(&self, languages: &str) {
        let agent = self.value("navigator.userAgent").await;
        let spoken = json!({ "userAgent": agent, "acceptLanguage": languages });
        self.devtools("Emulation.setUserAgentOverride", spoken).await;
    }

    /// Changes the window.
    pub async fn look(&self, view: View) {
        let size = json!({ "width": view.width, "height": view.height, "deviceScaleFactor": 1, "mobile": false });
        self.devtools("Emulation.setDeviceMetricsOverride", size).await;
        let scheme = if view.dark { "dark" } else { "light" };
        let features = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        self.devtools("Emulation.setEmulatedMedia", features).await;
        // Colours change over a tenth of a second. Half way they are colours that nobody chose.
        self.settled().await;
        let still = "!document.getAnimations().some((a) => a instanceof CSSTransition && a.playState === 'running')";
        self.wait("tones have changed", still).await;
    }

    /// A command of the browser's own protocol.
    pub async fn devtools(&self, command: &str, parameters: Value) -> Value {
        let body = json!({ "cmd": command, "params": parameters });
        self.client
            .issue_cmd(Extra { path: "goog/cdp/execute", body })
            .await
            .unwrap_or_else(|error| panic!("{command}: {error}"))
    }

    /// The lines of the console since the last call, as `LEVEL text`.
    pub async fn console(&self) -> Vec<String> {
        let entries = self.log("browser").await;
        entries.iter().map(|entry| format!("{} {}", text(&entry["level"]), text(&entry["message"]))).collect()
    }

    /// Fails if the console has any line.
    pub async fn assert_quiet(&self) {
        let said = self.console().await;
        assert!(said.is_empty(), "the console is not empty: {said:#?}");
    }

    /// The address of every request since the last call.
    pub async fn requests(&self) -> Vec<String> {
        let entries = self.log("performance").await;
        let messages = entries.iter().filter_map(|entry| serde_json::from_str::<Value>(text(&entry["message"])).ok());
        messages
            .filter_map(|message| {
                let event = &message["message"];
                match event["method"].as_str() {
                    Some("Network.requestWillBeSent") => Some(text(&event["params"]["request"]["url"]).to_string()),
                    Some("Network.webSocketCreated") => Some(text(&event["params"]["url"]).to_string()),
                    _ => None,
                }
            })
            .collect()
    }

    /// The files of the page that were requested since the last call of [`Page::requests`], each once, with its size and with
    /// the size in which a host sends it.
    pub async fn transferred(&self, dist: &Path) -> Vec<(String, usize, usize)> {
        let mut names: Vec<String> = (self.requests().await.iter())
            .filter_map(|address| address.strip_prefix(&self.url()))
            .map(|tail| tail.split(['?', '#']).next().unwrap_or_default())
            .map(|name| if name.is_empty() { "index.html".into() } else { name.into() })
            .collect();
        names.sort();
        names.dedup();
        let weigh = |name: String| {
            let bytes = std::fs::read(dist.join(&name)).unwrap_or_else(|error| panic!("{name}: {error}"));
            // A font is compressed already, so hosts send it as it is.
            let sent = if name.ends_with(".woff2") { bytes.len() } else { compressed(&bytes) };
            (name, bytes.len(), sent)
        };
        names.into_iter().map(weigh).collect()
    }

    /// The address of the page.
    pub fn url(&self) -> String {
        self.url.clone()
    }

    /// Stops the server. From now on the page has no network.
    pub fn cut_off(&self) {
        drop(self.server.borrow_mut().take());
    }

    async fn log(&self, kind: &str) -> Vec<Value> {
        let entries =
            self.client.issue_cmd(Extra { path: "se/log", body: json!({ "type": kind }) }).await.expect("log");
        entries.as_array().cloned().expect("a list of log entries")
    }

    /// The findings of axe, one line each: the rule, the element, and why.
    pub async fn axe(&self) -> Vec<String> {
        self.run(AXE).await;
        let script = "const [tags, done] = arguments; axe.run(document, { runOnly: { type: 'tag', values: tags } }).then(done, (e) => done({ failed: String(e) }));";
        let result = self.run_async(script, vec![json!(AXE_TAGS)]).await;
        let passes = result["passes"].as_array().map_or(0, Vec::len);
        assert!(passes > 5, "axe judged only {passes} rules: {}", result["failed"]);
        let mut findings = Vec::new();
        for violation in result["violations"].as_array().expect("violations") {
            for node in violation["nodes"].as_array().expect("nodes") {
                findings.push(format!(
                    "{}: {} {}",
                    text(&violation["id"]),
                    text(&node["html"]),
                    text(&node["failureSummary"])
                ));
            }
        }
        findings
    }

    /// A picture of what the window shows, as PNG.
    pub async fn picture(&self) -> Vec<u8> {
        self.client.screenshot().await.expect("screenshot")
    }
}

/// An expression for whether `css` finds an element, for [`Page::wait`].
pub fn exists(css: &str) -> String {
    format!("document.querySelector(\"{css}\") !== null")
}

/// The size after brotli at its highest quality, as static hosts store files.
fn compressed(bytes: &[u8]) -> usize {
    let mut out = Vec::new();
    let settings = brotli::enc::BrotliEncoderParams { quality: 11, lgwin: 22, ..Default::default() };
    brotli::BrotliCompress(&mut &bytes[..], &mut out, &settings).expect("writing to memory")
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

/// A command of the driver that is not in the WebDriver standard.
#[derive(Debug)]
struct Extra {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Extra {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.path))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}
