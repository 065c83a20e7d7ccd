//! Lighthouse on the built page: the four scores, and what stands between them and a hundred.

use crate::browser;
use crate::run::{self, Failure, Result};
use std::fs;
use std::path::Path;
use xtask::keep::files_in;
use xtask::server::{Options, Server};

/// The last version for Node 20; 13 wants Node 22.
const VERSION: &str = "12.8.2";

/// What is judged.
const CATEGORIES: [&str; 4] = ["performance", "accessibility", "best-practices", "seo"];

/// Fewer points than this in any of them fail.
const LEAST: f64 = 95.0;

/// One run says little about speed on a machine that does something else too: the one with the middle speed counts.
const RUNS: usize = 3;

/// Judges what is in `dist`, with the installed browser.
pub fn judge(dist: &Path) -> Result<()> {
    let browser = browser::find_browser()?;
    let folder = run::target_folder().join("lighthouse");
    let program = folder.join("node_modules/lighthouse/cli/index.js");
    if !fs::read_to_string(folder.join("node_modules/lighthouse/package.json"))
        .is_ok_and(|package| package.contains(&format!("\"version\": \"{VERSION}\"")))
    {
        install(&folder)?;
    }
    let page = folder.join("page");
    compress(dist, &page)?;
    let server = Server::start(Options::new(&page)).map_err(Failure::other("server"))?;
    let file = folder.join("report.json");
    let mut reports = Vec::new();
    for _ in 0..RUNS {
        let mut node = run::command("node");
        node.arg(&program)
            .arg(server.url())
            .args(["--quiet", "--output=json", "--preset=desktop"])
            .arg(format!("--only-categories={}", CATEGORIES.join(",")))
            .arg(format!("--output-path={}", file.display()))
            .arg("--chrome-flags=--headless=new --no-sandbox --disable-gpu --disable-dev-shm-usage --no-first-run")
            .env("CHROME_PATH", &browser);
        run::to_end(&mut node)?;
        let text = fs::read_to_string(&file).map_err(Failure::file(&file))?;
        reports.push(serde_json::from_str(&text).map_err(Failure::other("report"))?);
    }
    let speed = |report: &serde_json::Value| report["categories"][CATEGORIES[0]]["score"].as_f64().unwrap_or(0.0);
    reports.sort_by(|a, b| speed(a).total_cmp(&speed(b)));
    let all: Vec<String> = reports.iter().map(|report| format!("{:.0}", 100.0 * speed(report))).collect();
    println!("performance of {RUNS} runs: {}; of the middle one:", all.join(", "));
    print(&reports[RUNS / 2])
}

/// A program for node: it writes a brotli file beside each file that it is given.
const COMPRESS: &str = "const { readFileSync, writeFileSync } = require('node:fs');
    const { brotliCompressSync } = require('node:zlib');
    for (const file of process.argv.slice(1)) writeFileSync(file + '.br', brotliCompressSync(readFileSync(file)));";

/// Copies the page with a brotli file beside each file that is not compressed already, as static hosts keep it.
fn compress(dist: &Path, page: &Path) -> Result<()> {
    if page.exists() {
        fs::remove_dir_all(page).map_err(Failure::file(page))?;
    }
    let mut node = run::command("node");
    node.args(["-e", COMPRESS]);
    for file in files_in(dist).map_err(Failure::file(dist))? {
        let copy = page.join(file.strip_prefix(dist).map_err(Failure::other("copy"))?);
        let beside = copy.parent().unwrap_or(page);
        fs::create_dir_all(beside).map_err(Failure::file(beside))?;
        fs::copy(&file, &copy).map_err(Failure::file(&copy))?;
        if !matches!(copy.extension().and_then(|ending| ending.to_str()), Some("woff2" | "png")) {
            node.arg(copy);
        }
    }
    run::to_end(&mut node)
}

fn install(folder: &Path) -> Result<()> {
    println!("Installing Lighthouse {VERSION} into {}", folder.display());
    fs::create_dir_all(folder).map_err(Failure::file(folder))?;
    let mut npm = run::command("npm");
    npm.args(["install", "--no-audit", "--no-fund", "--no-save", "--loglevel=error", "--prefix"]).arg(folder);
    npm.arg(format!("lighthouse@{VERSION}"));
    run::to_end(&mut npm).map_err(|failure| {
        Failure(format!(
            "{failure}\nLighthouse comes from npm, and npm is missing or does not reach its registry. Nothing was judged."
        ))
    })
}

/// Prints scores and findings. Errors: a score is missing or too low.
fn print(report: &serde_json::Value) -> Result<()> {
    let mut low = Vec::new();
    for name in CATEGORIES {
        let category = &report["categories"][name];
        let score = category["score"].as_f64().map(|score| (100.0 * score).round());
        let shown = score.map_or("none".into(), |score| format!("{score:.0}"));
        println!("{shown:>4}  {name}");
        for part in category["auditRefs"].as_array().into_iter().flatten() {
            let audit = &report["audits"][part["id"].as_str().unwrap_or_default()];
            // Some audits count for nothing and still name something that could be better.
            if audit["score"].as_f64().is_some_and(|score| score < 0.9) {
                let text = |key: &str| audit[key].as_str().unwrap_or_default();
                println!("        weight {}: {} {}", part["weight"], text("title"), text("displayValue"));
            }
        }
        if score.is_none_or(|score| score < LEAST) {
            low.push(format!("{name} {shown}"));
        }
    }
    if low.is_empty() { Ok(()) } else { Err(Failure(format!("under {LEAST:.0}: {}", low.join(", ")))) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_low_or_missing_score_fails() {
        let report = |last: &str| {
            let text = format!(
                r#"{{"audits":{{"a":{{"score":0.5,"title":"A"}}}},"categories":{{"performance":{{"score":0.95,"auditRefs":[{{"id":"a","weight":3}}]}},
                "accessibility":{{"score":1}},"best-practices":{{"score":1}},"seo":{last}}}}}"#
            );
            print(&serde_json::from_str(&text).unwrap())
        };
        assert!(report(r#"{"score":1}"#).is_ok());
        assert!(report(r#"{"score":0.94}"#).unwrap_err().0.contains("seo 94"));
        assert!(report(r#"{"score":null}"#).unwrap_err().0.contains("seo none"));
    }
}
