//! A web server for one folder on this machine alone: GET and HEAD, the right content types, strict headers.
//!
//! It stands in for an ordinary static host, and on request for an awkward one: a sub-folder, or a host that does not
//! know what `.wasm` is.

use std::fs;
use std::io::{self, BufRead, BufReader, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

/// The policy of `index.html`, with the one directive that only a header can carry.
pub const CONTENT_SECURITY_POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
    style-src-attr 'none'; worker-src 'self'; manifest-src 'self'; img-src 'self' data: blob:; connect-src 'self'; object-src 'none'; \
    base-uri 'none'; form-action 'none'; frame-ancestors *";

/// Longest request line or header line that is read, in bytes.
const LONGEST_LINE: u64 = 16 * 1024;
/// A browser opens connections ahead of need; one that stays silent this long is closed.
const PATIENCE: Duration = Duration::from_secs(20);

/// What to serve, and how.
#[derive(Debug, Clone)]
pub struct Options {
    /// The folder.
    pub root: PathBuf,
    /// The port on 127.0.0.1; 0 takes a free one.
    pub port: u16,
    /// Where the folder appears, such as `school/volute`; empty for the top.
    pub folder: String,
    /// The content type sent with `.wasm`.
    pub wasm_type: String,
}

impl Options {
    /// `root` at the top of a free port, with the right content types.
    pub fn new(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into(), port: 0, folder: String::new(), wasm_type: "application/wasm".into() }
    }
}

/// A running server; it stops when this is dropped.
#[derive(Debug)]
pub struct Server {
    address: SocketAddr,
    folder: String,
    stopping: Arc<AtomicBool>,
    accepting: Option<thread::JoinHandle<()>>,
}

impl Server {
    /// Starts serving. Errors: no such folder, or the port is taken.
    pub fn start(options: Options) -> io::Result<Self> {
        let root = options.root.canonicalize()?;
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, options.port))?;
        let address = listener.local_addr()?;
        let folder = match options.folder.trim_matches('/') {
            "" => "/".to_string(),
            inner => format!("/{inner}/"),
        };
        let stopping = Arc::new(AtomicBool::new(false));
        let site = Arc::new(Site { root, folder: folder.clone(), wasm_type: options.wasm_type });
        let accepting = thread::spawn({
            let stopping = stopping.clone();
            move || {
                for stream in listener.incoming() {
                    if stopping.load(Ordering::SeqCst) {
                        break;
                    }
                    // A connection that fails belongs to a browser that went away: the next one may be fine.
                    let Ok(stream) = stream else { continue };
                    let site = site.clone();
                    thread::spawn(move || {
                        let _ = site.answer(&stream);
                    });
                }
            }
        });
        Ok(Self { address, folder, stopping, accepting: Some(accepting) })
    }

    /// The address of the page.
    pub fn url(&self) -> String {
        format!("http://{}{}", self.address, self.folder)
    }

    /// Serves until the process ends.
    pub fn wait(mut self) {
        if let Some(accepting) = self.accepting.take() {
            let _ = accepting.join();
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.stopping.store(true, Ordering::SeqCst);
        // `accept` only looks at the flag when somebody calls.
        let _ = TcpStream::connect(self.address);
        if let Some(accepting) = self.accepting.take() {
            let _ = accepting.join();
        }
    }
}

struct Site {
    root: PathBuf,
    folder: String,
    wasm_type: String,
}

impl Site {
    fn answer(&self, stream: &TcpStream) -> io::Result<()> {
        stream.set_read_timeout(Some(PATIENCE))?;
        let mut reader = BufReader::new(stream);
        let Some(request) = line(&mut reader)? else { return Ok(()) };
        let mut brotli = false;
        while let Some(header) = line(&mut reader)?.filter(|header| !header.is_empty()) {
            let header = header.to_ascii_lowercase();
            brotli |=
                header.strip_prefix("accept-encoding:").is_some_and(|ways| ways.split([',', ' ']).any(|w| w == "br"));
        }
        let mut words = request.split(' ');
        let (method, target) = (words.next().unwrap_or(""), words.next().unwrap_or(""));
        let (head_only, reply) = match method {
            "GET" => (false, self.look_up(target, brotli)),
            "HEAD" => (true, self.look_up(target, brotli)),
            _ => (false, Reply::text("405 Method Not Allowed", "Only GET and HEAD.")),
        };
        reply.send(stream, head_only)
    }

    fn look_up(&self, target: &str, brotli: bool) -> Reply {
        let (path, query) = target.split_once('?').unwrap_or((target, ""));
        if path.len() + 1 == self.folder.len() && self.folder.starts_with(path) {
            // Relative links need the slash at the end.
            return Reply {
                location: Some(self.folder.clone()),
                ..Reply::text("301 Moved Permanently", "See the address with a slash.")
            };
        }
        let not_here = || Reply::text("404 Not Found", "Nothing here.");
        let Some(inside) = path.strip_prefix(self.folder.as_str()).and_then(decode) else { return not_here() };
        // Plain names only: no `..`, no absolute path, no empty step.
        let plain = inside.is_empty()
            || inside
                .trim_end_matches('/')
                .split('/')
                .all(|step| !step.is_empty() && !step.starts_with('.') && !step.contains(['\\', ':', '\0']));
        if !plain {
            return not_here();
        }
        let mut file = self.root.join(&inside);
        if file.is_dir() {
            file.push("index.html");
        }
        let Ok(body) = fs::read(&file) else { return not_here() };
        // Compressed beforehand where somebody has, as static hosts do it.
        let mut beside = file.clone().into_os_string();
        beside.push(".br");
        let compressed = if brotli { fs::read(beside).ok() } else { None };
        Reply {
            status: "200 OK",
            content_type: self.content_type(&file).into(),
            encoding: compressed.as_ref().map(|_| "br"),
            body: compressed.unwrap_or(body),
            location: None,
            // A name with a version never changes its content; any other is asked for again.
            cache: if query.starts_with("v=") { "max-age=31536000, immutable" } else { "no-cache" },
        }
    }

    fn content_type(&self, file: &Path) -> &str {
        match file.extension().and_then(|ending| ending.to_str()).unwrap_or("") {
            "html" => "text/html; charset=utf-8",
            "css" => "text/css; charset=utf-8",
            "js" => "text/javascript; charset=utf-8",
            "json" => "application/json",
            "webmanifest" => "application/manifest+json",
            "wasm" => &self.wasm_type,
            "svg" => "image/svg+xml",
            "png" => "image/png",
            "woff2" => "font/woff2",
            "txt" | "md" | "toml" => "text/plain; charset=utf-8",
            _ => "application/octet-stream",
        }
    }
}

struct Reply {
    status: &'static str,
    content_type: String,
    encoding: Option<&'static str>,
    body: Vec<u8>,
    location: Option<String>,
    cache: &'static str,
}

impl Reply {
    fn text(status: &'static str, body: &str) -> Self {
        Self {
            status,
            content_type: "text/plain; charset=utf-8".into(),
            encoding: None,
            body: body.into(),
            location: None,
            cache: "no-cache",
        }
    }

    fn send(&self, mut stream: &TcpStream, head_only: bool) -> io::Result<()> {
        let location = self.location.as_ref().map(|to| format!("Location: {to}\r\n")).unwrap_or_default();
        let encoding = self.encoding.map(|way| format!("Content-Encoding: {way}\r\n")).unwrap_or_default();
        let head = format!(
            "HTTP/1.1 {}\r\nContent-Type: {}\r\nContent-Length: {}\r\nCache-Control: {}\r\nVary: Accept-Encoding\r\n{encoding}{location}\
             Content-Security-Policy: {CONTENT_SECURITY_POLICY}\r\nX-Content-Type-Options: nosniff\r\nReferrer-Policy: no-referrer\r\n\
             Cross-Origin-Opener-Policy: same-origin\r\nCross-Origin-Resource-Policy: cross-origin\r\n\
             Permissions-Policy: camera=(), microphone=(), geolocation=(), payment=(), usb=()\r\nConnection: close\r\n\r\n",
            self.status,
            self.content_type,
            self.body.len(),
            self.cache,
        );
        stream.write_all(head.as_bytes())?;
        if !head_only {
            stream.write_all(&self.body)?;
        }
        stream.flush()
    }
}

/// One line without its end; nothing when the other side has closed.
fn line(reader: &mut BufReader<&TcpStream>) -> io::Result<Option<String>> {
    let mut text = Vec::new();
    let read = io::Read::take(reader, LONGEST_LINE).read_until(b'\n', &mut text)?;
    if read == 0 {
        return Ok(None);
    }
    if !text.ends_with(b"\n") {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "a line without an end"));
    }
    let text =
        String::from_utf8(text).map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "a line that is not text"))?;
    Ok(Some(text.trim_end_matches(['\r', '\n']).to_string()))
}

/// Undoes `%41`. Nothing where that does not give text.
fn decode(path: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(path.len());
    let mut rest = path.as_bytes();
    while let [first, tail @ ..] = rest {
        if *first == b'%' {
            let pair = std::str::from_utf8(tail.get(..2)?).ok()?;
            bytes.push(u8::from_str_radix(pair, 16).ok()?);
            rest = &tail[2..];
        } else {
            bytes.push(*first);
            rest = tail;
        }
    }
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;

    /// A folder that goes away with the test.
    struct Folder(PathBuf);

    impl Folder {
        fn new(name: &str) -> Self {
            let path = std::env::temp_dir().join(format!("volute-server-{}-{name}", std::process::id()));
            fs::create_dir_all(path.join("fonts")).unwrap();
            fs::write(path.join("index.html"), "<p>page</p>").unwrap();
            fs::write(path.join("a b.wasm"), b"\0asm").unwrap();
            fs::write(path.join("fonts/x.woff2"), "font").unwrap();
            fs::write(path.join("x.webmanifest"), "{}").unwrap();
            fs::write(path.join("service-worker.js"), "//").unwrap();
            Self(path)
        }
    }

    impl Drop for Folder {
        fn drop(&mut self) {
            let _ = fs::remove_dir_all(&self.0);
        }
    }

    fn ask(server: &Server, request: &str) -> String {
        let mut stream = TcpStream::connect(server.address).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    fn get(server: &Server, path: &str) -> String {
        ask(server, &format!("GET {path} HTTP/1.1\r\nHost: here\r\n\r\n"))
    }

    #[test]
    fn serves_files_with_their_types_and_the_policy() {
        let folder = Folder::new("types");
        let server = Server::start(Options::new(&folder.0)).unwrap();
        let page = get(&server, "/");
        assert!(page.starts_with("HTTP/1.1 200 OK\r\n") && page.ends_with("<p>page</p>"), "{page}");
        assert!(
            page.contains("Content-Type: text/html; charset=utf-8\r\n") && page.contains("frame-ancestors *"),
            "{page}"
        );
        assert!(page.contains("Cache-Control: no-cache\r\n"), "{page}");
        assert!(get(&server, "/a%20b.wasm").contains("Content-Type: application/wasm\r\n"));
        let font = get(&server, "/fonts/x.woff2?v=1");
        assert!(font.contains("Content-Type: font/woff2\r\n") && font.contains("immutable"), "{font}");
        let manifest = get(&server, "/x.webmanifest");
        assert!(manifest.contains("Content-Type: application/manifest+json\r\n"), "{manifest}");
        // A browser runs a worker only if it comes as a script, and finds a newer one only if it may ask for it.
        let worker = get(&server, "/service-worker.js");
        assert!(
            worker.contains("Content-Type: text/javascript") && worker.contains("Cache-Control: no-cache\r\n"),
            "{worker}"
        );
        let head = ask(&server, "HEAD / HTTP/1.1\r\n\r\n");
        assert!(head.contains("Content-Length: 11\r\n") && head.ends_with("\r\n\r\n"), "{head}");
    }

    #[test]
    fn serves_what_was_compressed_beforehand_to_who_takes_it() {
        let folder = Folder::new("compressed");
        fs::write(folder.0.join("index.html.br"), "packed").unwrap();
        let server = Server::start(Options::new(&folder.0)).unwrap();
        for (ways, packed) in [("gzip, deflate, br", true), ("br;q=1", false), ("gzip, brotli", false), ("", false)] {
            let page = ask(&server, &format!("GET / HTTP/1.1\r\nAccept-Encoding: {ways}\r\n\r\n"));
            assert!(page.contains("Content-Type: text/html"), "{page}");
            assert_eq!(page.contains("Content-Encoding: br\r\n"), packed, "{ways}: {page}");
            assert!(page.ends_with(if packed { "packed" } else { "<p>page</p>" }), "{ways}: {page}");
        }
    }

    #[test]
    fn serves_nothing_from_outside_the_folder() {
        let folder = Folder::new("outside");
        let server = Server::start(Options::new(folder.0.join("fonts"))).unwrap();
        for path in [
            "/../index.html",
            "/%2e%2e/index.html",
            "/..%2findex.html",
            "//etc/passwd",
            "/.hidden",
            "/%zz",
            "/x%00",
            "/missing",
            "*",
        ] {
            assert!(get(&server, path).starts_with("HTTP/1.1 404 "), "{path}");
        }
        assert!(ask(&server, "POST / HTTP/1.1\r\n\r\n").starts_with("HTTP/1.1 405 "));
    }

    #[test]
    fn serves_under_a_folder_and_with_another_wasm_type() {
        let folder = Folder::new("folder");
        let options =
            Options { folder: "/school/volute".into(), wasm_type: "text/plain".into(), ..Options::new(&folder.0) };
        let server = Server::start(options).unwrap();
        assert!(server.url().ends_with("/school/volute/"));
        assert!(get(&server, "/school/volute/").contains("<p>page</p>"));
        assert!(get(&server, "/school/volute").contains("Location: /school/volute/\r\n"));
        assert!(get(&server, "/school/volute/a%20b.wasm").contains("Content-Type: text/plain\r\n"));
        for path in ["/", "/school/", "/school/volutes/index.html", "/index.html"] {
            assert!(get(&server, path).starts_with("HTTP/1.1 404 "), "{path}");
        }
    }

    #[test]
    fn gives_the_port_back_when_dropped() {
        let folder = Folder::new("port");
        let server = Server::start(Options::new(&folder.0)).unwrap();
        let port = server.address.port();
        drop(server);
        Server::start(Options { port, ..Options::new(&folder.0) }).unwrap();
    }
}
