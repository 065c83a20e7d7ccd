//! Writes the engines that come with Volute as Rust constants, so that who only wants one of them carries no reader of TOML: a
//! page is a fifth of a hundred kilobytes lighter. In the files every line is a comment, a table's head, or `key = value`; a test
//! holds what comes out against the reader.

use std::fmt::Write;
use std::path::Path;
use std::{env, fs};

/// The engines in their order, and the first is the one that opens.
const NAMES: [&str; 2] = ["harbour-six", "van-four"];

fn main() {
    println!("cargo::rerun-if-changed=engines");
    let engines = NAMES.map(|name| {
        let path = format!("engines/{name}.toml");
        engine(&fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}")))
    });
    let text = format!("[{}]", engines.join(", "));
    let out = env::var("OUT_DIR").expect("cargo says where to write");
    fs::write(Path::new(&out).join("made_in.rs"), text).expect("writable");
}

/// The short name, the title and the engine without its texts, as an expression.
fn engine(text: &str) -> String {
    let (mut texts, mut groups) = (Vec::new(), String::new());
    for line in text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#')) {
        if let Some(group) = line.strip_prefix('[').and_then(|line| line.strip_suffix(']')) {
            let close = if groups.is_empty() { "" } else { " }, " };
            write!(groups, "{close}{group}: {} {{ ", type_of(group)).expect("a string takes all");
            continue;
        }
        let (key, value) = line.split_once(" = ").unwrap_or_else(|| panic!("`{line}` is no `key = value`"));
        if groups.is_empty() {
            texts.push(value.to_owned());
            continue;
        }
        let value: f64 = value.parse().unwrap_or_else(|e| panic!("`{line}`: {e}"));
        write!(groups, "{key}: {value:?}, ").expect("a string takes all");
    }
    let [name, title] = &texts[..] else { panic!("an engine begins with name and title") };
    format!("({name}, {title}, Engine {{ name: String::new(), title: String::new(), {groups} }} }})")
}

/// The type of a group, from its name.
fn type_of(group: &str) -> String {
    let camel: String = group.split('_').map(|word| word[..1].to_uppercase() + &word[1..]).collect();
    if camel == "Compressor" { "CompressorMap".into() } else { camel }
}
