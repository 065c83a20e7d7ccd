//! Chromium and its driver: found, installed where that is possible, started and stopped.

use crate::run::{self, Failure, Result};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// Names under which systems install the browser.
const BROWSERS: [&str; 4] = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable"];
const DRIVERS: [&str; 2] = ["chromedriver", "chromium.chromedriver"];
/// Debian's packages of both.
const PACKAGES: [&str; 2] = ["chromium", "chromium-driver"];

/// How long the driver may take to close its browsers.
const PATIENCE: Duration = Duration::from_secs(20);

/// A running driver; it and its browsers stop when this is dropped.
pub struct Driver {
    child: Child,
    port: u16,
    browser: PathBuf,
}

impl Driver {
    /// Starts the driver on a free port, after installing browser and driver where they are missing.
    pub fn start() -> Result<Self> {
        let (browser, driver) = find_or_install()?;
        // No process group of its own: Ctrl-C is to reach the driver and its browsers too.
        let mut child = Command::new(driver)
            .args(["--port=0", "--log-level=SEVERE"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(Failure::other("driver"))?;
        let port = child.stdout.take().and_then(port_of);
        let Some(port) = port else {
            let _ = child.kill();
            let _ = child.wait();
            return Err(Failure("the driver ended before it named its port".into()));
        };
        Ok(Self { child, port, browser })
    }

    /// Tells a program where to find the driver and which browser to start.
    pub fn lend(&self, command: &mut Command) {
        command.env("VOLUTE_DRIVER", format!("http://127.0.0.1:{}", self.port)).env("VOLUTE_BROWSER", &self.browser);
    }
}

/// Reads the driver's greeting for its port, and goes on reading so that the driver never waits for us.
fn port_of(greeting: impl Read + Send + 'static) -> Option<u16> {
    let mut lines = BufReader::new(greeting).lines().map_while(std::result::Result::ok);
    let port =
        lines.by_ref().find_map(|line| line.split_once("successfully on port ")?.1.trim_end_matches('.').parse().ok());
    thread::spawn(move || lines.for_each(drop));
    port
}

impl Drop for Driver {
    fn drop(&mut self) {
        // Asked to shut down, the driver closes every browser that it started; killed at once, it would leave them.
        if let Ok(mut stream) = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)) {
            let _ = stream.write_all(b"GET /shutdown HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
            let _ = stream.set_read_timeout(Some(PATIENCE));
            let _ = stream.read(&mut [0; 64]);
        }
        let begun = Instant::now();
        while matches!(self.child.try_wait(), Ok(None)) {
            if begun.elapsed() > PATIENCE {
                let _ = self.child.kill();
                break;
            }
            thread::sleep(Duration::from_millis(20));
        }
        let _ = self.child.wait();
    }
}

/// The installed browser, without its driver. Errors: there is none.
pub fn find_browser() -> Result<PathBuf> {
    let missing = || Failure(format!("no browser: install Chromium, or put `{}` on the PATH", BROWSERS[0]));
    BROWSERS.iter().find_map(|name| on_path(name)).ok_or_else(missing)
}

fn find_or_install() -> Result<(PathBuf, PathBuf)> {
    if let Some(both) = find() {
        return Ok(both);
    }
    let by_hand = Failure(format!(
        "the browser tests need Chromium and its driver. On Debian: apt-get install {}. \
         Elsewhere: put `{}` and `{}`, of the same version, on the PATH.",
        PACKAGES.join(" "),
        BROWSERS[0],
        DRIVERS[0]
    ));
    let root = run::output(run::command("id").arg("-u")).is_ok_and(|id| id.trim() == "0");
    if !root || on_path("apt-get").is_none() {
        return Err(by_hand);
    }
    println!("Installing {} by apt-get", PACKAGES.join(" and "));
    let apt = |arguments: &[&str]| {
        run::to_end(run::command("apt-get").env("DEBIAN_FRONTEND", "noninteractive").arg("-qq").args(arguments))
    };
    apt(&["update"])?;
    apt(&[&["install", "-y", "--no-install-recommends"][..], &PACKAGES].concat())?;
    find().ok_or(by_hand)
}

fn find() -> Option<(PathBuf, PathBuf)> {
    Some((BROWSERS.iter().find_map(|name| on_path(name))?, DRIVERS.iter().find_map(|name| on_path(name))?))
}

fn on_path(name: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path).map(|folder| folder.join(name)).find(|file| file.is_file())
}
