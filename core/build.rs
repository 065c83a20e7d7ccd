//! Writes the engines that come with Volute, and the species of its gas, as Rust constants.
//!
//! A page that only wants one of the engines then carries no reader of TOML and is a fifth of a hundred kilobytes lighter. A
//! test holds what comes out against the reader.

use std::path::Path;
use std::{env, fs};
use toml::{Table, Value};

/// The engines in their order; the first is the one that opens.
const NAMES: [&str; 2] = ["harbour-six", "van-four"];

fn main() {
    println!("cargo::rerun-if-changed=engines");
    println!("cargo::rerun-if-changed=data");
    let engines = NAMES.map(|name| engine(&read(&format!("engines/{name}.toml"))));
    write("made_in.rs", &engines);
    let file = read("data/species.toml");
    let species = file["species"].as_array().expect("a list of species");
    write("species.rs", &species.iter().map(one_species).collect::<Vec<_>>());
}

fn read(path: &str) -> Table {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{path}: {e}"));
    text.parse().unwrap_or_else(|e| panic!("{path}: {e}"))
}

fn write(name: &str, items: &[String]) {
    let out = env::var("OUT_DIR").expect("cargo says where to write");
    fs::write(Path::new(&out).join(name), format!("[{}]", items.join(", "))).expect("writable");
}

/// A text, a number or a list of numbers as Rust writes it; TOML's whole numbers become floats.
fn literal(value: &Value) -> String {
    match value {
        Value::Array(list) => format!("[{}]", list.iter().map(literal).collect::<Vec<_>>().join(", ")),
        Value::Integer(whole) => format!("{:?}", *whole as f64),
        Value::Float(float) => format!("{float:?}"),
        Value::String(text) => format!("{text:?}"),
        other => panic!("neither number nor text: {other:?}"),
    }
}

/// The short name, the title and the engine without its texts, as an expression.
fn engine(file: &Table) -> String {
    let groups = file.iter().filter_map(|(group, value)| Some((group, value.as_table()?)));
    let groups: String =
        groups.map(|(group, keys)| format!("{group}: {} {{ {} }}, ", type_of(group), fields(keys))).collect();
    let (name, title) = (literal(&file["name"]), literal(&file["title"]));
    format!("({name}, {title}, Engine {{ name: String::new(), title: String::new(), {groups} }})")
}

fn fields(keys: &Table) -> String {
    keys.iter().map(|(key, value)| format!("{key}: {}, ", literal(value))).collect()
}

/// The type of a group, from its name.
fn type_of(group: &str) -> String {
    let camel: String = group.split('_').map(|word| word[..1].to_uppercase() + &word[1..]).collect();
    if camel == "Compressor" { "CompressorMap".into() } else { camel }
}

fn one_species(species: &Value) -> String {
    let of = |key: &str| literal(&species[key]);
    format!(
        "Species {{ name: {}, molar_mass_kg_kmol: {}, coefficients: [{}, {}] }}",
        of("name"),
        of("molar_mass_kg_kmol"),
        of("below_1000_k"),
        of("above_1000_k")
    )
}
