//! From a linked binary to what a browser loads: modules and their glue.
//!
//! A function under `#[wasm_split(NAME, …)]` is linked as an import and an export of one long name each. The small build splits the
//! binary between the two, so that NAME is fetched at its first call. The quick build ties import and export together.

use super::compile::{self, Profile};
use crate::run::{self, Failure, Result};
use std::collections::HashMap;
use std::error::Error;
use std::fs;
use std::ops::Range;
use std::path::Path;
use walrus::{FunctionId, ImportKind, Module, ModuleConfig, ValType};
use wasm_bindgen_cli_support::Bindgen;
use xtask::keep::files_in;

/// The file that fetches the modules split off the main one.
const LOADER: &str = "__wasm_split.js";

/// Where `#[wasm_split]` imports from until the binary is split.
const SPLIT: &str = "__wasm_split_placeholder__";

/// Writes the modules of the linked `binary` and their glue, `bin.js`, into `dist`.
pub fn write(binary: &Path, bin: &str, dist: &Path, profile: Profile) -> Result<()> {
    let wrong = Failure::other("wasm-bindgen");
    let mut bindgen = Bindgen::new();
    bindgen.web(true).map_err(&wrong)?.out_name(bin).typescript(false).remove_producers_section(true);
    match profile {
        Profile::Small => {
            let main = binary.with_extension("main.wasm");
            let mut split = compile::program("split");
            split.args([binary, &main, dist]).arg(format!("./{bin}.js"));
            run::to_end(&mut split)?;
            bindgen
                .input_path(&main)
                .keep_lld_exports(true)
                .remove_name_section(true)
                .generate(dist)
                .map_err(&wrong)?;
            number_imports(dist, &dist.join(format!("{bin}.js")))?;
            load_from_any_host(&dist.join(LOADER))
        }
        Profile::Quick => {
            let whole = join(binary).map_err(Failure::other(&binary.display().to_string()))?;
            bindgen.input_module(bin, whole).generate(dist).map_err(&wrong)
        }
    }
}

/// Streaming compilation insists on the right content type, which some hosts do not send: the loader takes the bytes.
fn load_from_any_host(loader: &Path) -> Result<()> {
    const STREAMING: &str = "WebAssembly.instantiateStreaming(src, imports)";
    let script = fs::read_to_string(loader).map_err(Failure::file(loader))?;
    // A page from which nothing is split off has a loader that fetches nothing.
    if !script.contains(".wasm") {
        return Ok(());
    }
    if !script.contains(STREAMING) {
        return Err(Failure(format!(
            "{LOADER} has no `{STREAMING}`: this version of the splitter writes another loader"
        )));
    }
    let script = script.replace(STREAMING, "WebAssembly.instantiate(await (await src).arrayBuffer(), imports)");
    fs::write(loader, script).map_err(Failure::file(loader))
}

/// The binary in one piece: each import that the splitter would resolve calls the export that it stands for.
fn join(binary: &Path) -> std::result::Result<Module, Box<dyn Error>> {
    // What the linker writes is valid, as wasm-bindgen takes it to be.
    let mut module = ModuleConfig::new().strict_validate(false).generate_producers_section(false).parse_file(binary)?;
    let parts = module.imports.iter().filter(|import| import.module == SPLIT);
    let parts: Vec<(String, FunctionId)> = parts
        .filter_map(|import| match import.kind {
            ImportKind::Function(function) => Some((import.name.clone(), function)),
            _ => None,
        })
        .collect();
    for (name, import) in parts {
        if name.starts_with("__wasm_split_load_") {
            answer_at_once(&mut module, import)?;
        } else {
            let export = name.replacen("00_import_", "00_export_", 1);
            let function = module.exports.get_func(&export)?;
            module.replace_imported_func(import, |(body, arguments)| {
                for argument in arguments {
                    body.local_get(*argument);
                }
                body.call(function);
            })?;
        }
    }
    Ok(module)
}

/// Loading a part of a whole binary calls the callback, the first argument, at once: with the second argument, and with success.
fn answer_at_once(module: &mut Module, load: FunctionId) -> std::result::Result<(), Box<dyn Error>> {
    let table = module.tables.main_function_table()?.ok_or("there is no table of functions")?;
    let callback = module.types.add(&[ValType::I32, ValType::I32], &[]);
    module.replace_imported_func(load, |(body, arguments)| {
        body.local_get(arguments[1]).i32_const(1).local_get(arguments[0]).call_indirect(callback, table);
    })?;
    Ok(())
}

/// Puts numbers in place of the hashes in the names that glue and modules share. Some two hundred hashes of sixteen digits are 1 %
/// of what is transferred. A number is as long as its hash, so that nothing in a module moves.
fn number_imports(dist: &Path, glue: &Path) -> Result<()> {
    let script = fs::read(glue).map_err(Failure::file(glue))?;
    let mut numbers = HashMap::new();
    for name in hashed_names(&script) {
        let next = numbers.len();
        numbers.entry(script[name].to_vec()).or_insert(next);
    }
    for path in files_in(dist).map_err(Failure::file(dist))? {
        let mut file = fs::read(&path).map_err(Failure::file(&path))?;
        for name in hashed_names(&file) {
            if let Some(number) = numbers.get(&file[name.clone()]) {
                let digits = format!("{number:0HASH$}");
                file[name.end - HASH..name.end].copy_from_slice(digits.as_bytes());
            }
        }
        fs::write(&path, file).map_err(Failure::file(&path))?;
    }
    Ok(())
}

/// Digits of a hash.
const HASH: usize = 16;

/// Where names such as `__wbg_focus_885197ce680db9e0` stand.
fn hashed_names(file: &[u8]) -> Vec<Range<usize>> {
    const BEGIN: &[u8] = b"__wbg_";
    let of_name = |byte: &u8| byte.is_ascii_alphanumeric() || *byte == b'_';
    let begins = (0..file.len()).filter(|at| file[*at..].starts_with(BEGIN));
    let names = begins.filter_map(|at| {
        // In a module a letter may follow by chance: the name ends with its first hash.
        let rest = &file[at..at + file[at..].iter().take_while(|byte| of_name(byte)).count()];
        let is_hash = |end: &usize| {
            let (before, hash) = rest[..*end].split_at(end - HASH);
            before.ends_with(b"_") && hash.iter().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        };
        let end = (BEGIN.len() + HASH..=rest.len()).find(is_hash)?;
        Some(at..at + end)
    });
    names.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_with_a_hash_are_found_and_numbered_alike() {
        let folder = std::env::temp_dir().join(format!("volute-names-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let write = |name: &str, text: &str| fs::write(folder.join(name), text).unwrap();
        let glue = "__wbg_a_b_0123456789abcdef: x, __wbg_a_b_fedcba9876543210() __wbg_get(__wbg_a_b_0123456789abcdef) __wbg_c_0123";
        write("page.js", glue);
        // In a module the next byte may be a letter, and a name that the glue does not know is left.
        write(
            "page.wasm",
            "\u{1}__wbg_a_b_fedcba9876543210e\u{2}__wbg_z_00000000000000ff\u{3}__wbg_a_b_0123456789abcdef__wbg_",
        );
        number_imports(&folder, &folder.join("page.js")).unwrap();
        let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
        assert_eq!(
            read("page.js"),
            "__wbg_a_b_0000000000000000: x, __wbg_a_b_0000000000000001() __wbg_get(__wbg_a_b_0000000000000000) __wbg_c_0123"
        );
        assert_eq!(
            read("page.wasm"),
            "\u{1}__wbg_a_b_0000000000000001e\u{2}__wbg_z_00000000000000ff\u{3}__wbg_a_b_0000000000000000__wbg_"
        );
        fs::remove_dir_all(&folder).unwrap();
    }
}
