//! Lists the lesson files of `content/` for the catalog: in the order of `order.toml`, each language in a folder of its own.

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    println!("cargo::rerun-if-changed=content");
    println!("cargo::rerun-if-changed=build.rs");
    let content = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("content");
    let order: toml::Table = toml::from_str(&fs::read_to_string(content.join("order.toml"))?)?;
    let order: Vec<&str> = order
        .get("lessons")
        .and_then(|list| list.as_array())
        .into_iter()
        .flatten()
        .filter_map(|id| id.as_str())
        .collect();
    // `en` is the folder itself; every other language has its own.
    let mut languages = vec![("en".to_string(), content.clone())];
    for entry in fs::read_dir(&content)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            languages.push((entry.file_name().to_string_lossy().into_owned(), entry.path()));
        }
    }
    languages[1..].sort();
    let mut out = String::from(
        "/// Every lesson file, in the order of `content/order.toml`.\npub static SOURCES: &[Source] = &[\n",
    );
    for (language, folder) in languages {
        let mut ids = ids(&folder)?;
        let place = |id: &String| order.iter().position(|known| known == id).unwrap_or(order.len());
        ids.sort_by_key(|id| (place(id), id.clone()));
        for id in ids {
            let path = folder.join(format!("{id}.md"));
            writeln!(out, "    Source {{ language: {language:?}, id: {id:?}, text: include_str!({path:?}) }},")?;
        }
    }
    out.push_str("];\n");
    fs::write(PathBuf::from(env::var("OUT_DIR")?).join("sources.rs"), out)?;
    Ok(())
}

fn ids(folder: &Path) -> io::Result<Vec<String>> {
    let mut ids = Vec::new();
    for entry in fs::read_dir(folder)? {
        if let Some(id) = entry?.file_name().to_string_lossy().strip_suffix(".md") {
            ids.push(id.to_string());
        }
    }
    Ok(ids)
}
