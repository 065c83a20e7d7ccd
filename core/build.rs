//! Takes the comments out of the engine files for the browser: a page need not carry them, since the core writes an engine
//! with every key explained (`engine_file::to_toml`). In the files a comment is a line of its own; a test reads both forms.

use std::path::Path;
use std::{env, fs};

fn main() {
    println!("cargo::rerun-if-changed=engines");
    let out = env::var("OUT_DIR").expect("cargo says where to write");
    for entry in fs::read_dir("engines").expect("the engines are here").map(|entry| entry.expect("readable")) {
        let text = fs::read_to_string(entry.path()).expect("an engine is text");
        let bare: Vec<&str> = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#')).collect();
        fs::write(Path::new(&out).join(entry.file_name()), bare.join("\n")).expect("writable");
    }
}
