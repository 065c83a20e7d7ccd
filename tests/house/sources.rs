//! The project's own sources as `syn` reads them: which module uses which, how long functions are, how many lines there are.
//!
//! What stands under `#[cfg(test)]`, and files named `tests.rs`, count as tests and are left out of all three.

use proc_macro2::{Delimiter, Span, TokenStream, TokenTree};
use quote::ToTokens;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

/// One module of a crate: one file.
pub struct Module {
    /// The path inside the crate, such as `parts::compressor`; empty for the crate's root.
    pub path: String,
    /// The file, from the workspace's root.
    pub file: PathBuf,
    /// Paths of the modules that it names.
    pub uses: BTreeSet<String>,
    /// Its functions, without those of tests.
    pub functions: Vec<Function>,
    /// Lines that hold code: neither blank, nor only a comment, nor of a test.
    pub code_lines: usize,
}

/// A function with a body.
pub struct Function {
    /// Its name.
    pub name: String,
    /// Line on which it begins.
    pub line: usize,
    /// Lines from its signature to its closing brace.
    pub lines: usize,
    /// Whether it is a component of the page.
    pub component: bool,
    /// Whether a comment inside or above says why it is long: a line that holds "Long because".
    pub explained: bool,
}

impl Function {
    /// Lines that it may have without a reason: 60, and 120 as a component of the page.
    pub fn longest(&self) -> usize {
        if self.component { 120 } else { 60 }
    }
}

/// The workspace's root.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ stands in the workspace").to_owned()
}

/// Every module below a source folder, such as `core/src`, sorted by path.
pub fn modules(folder: &str) -> Vec<Module> {
    let mut files = Vec::new();
    collect(&root().join(folder), &mut files);
    files.sort();
    let paths: BTreeMap<String, PathBuf> =
        files.into_iter().filter_map(|file| Some((module_path(&root().join(folder), &file)?, file))).collect();
    let mut trees: BTreeMap<&str, (&Path, File)> =
        paths.iter().map(|(path, file)| (path.as_str(), (file.as_path(), File::read(file)))).collect();
    let tests: BTreeSet<String> =
        trees.iter().flat_map(|(path, (_, file))| file.test_modules.iter().map(|name| join(path, name))).collect();
    trees.retain(|path, _| !tests.contains(*path));
    let known: BTreeSet<&str> = trees.keys().copied().collect();
    trees.iter().map(|(path, (file, read))| read.module(path, file, &known)).collect()
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    let entries = fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    for entry in entries {
        let path = entry.expect("a readable folder").path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            files.push(path);
        }
    }
}

/// `parts::compressor` for `parts/compressor.rs`, `parts` for `parts/mod.rs`; nothing for a file of tests.
fn module_path(folder: &Path, file: &Path) -> Option<String> {
    let inside = file.strip_prefix(folder).expect("a file of this folder").with_extension("");
    let mut parts: Vec<&str> = inside.iter().map(|part| part.to_str().expect("plain names")).collect();
    if parts.contains(&"tests") {
        return None;
    }
    // A crate that is a library and a program has its root in the library.
    let is_root = |name: &str| matches!(name, "mod" | "lib") || name == "main" && !folder.join("lib.rs").exists();
    if parts.last().is_some_and(|name| is_root(name)) {
        parts.pop();
    }
    Some(parts.join("::"))
}

/// One file as it was read, without its tests.
struct File {
    tree: syn::File,
    lines: Vec<String>,
    /// For each line, counted from 1, whether it belongs to a test.
    is_test: Vec<bool>,
    /// Child modules that are only compiled for tests.
    test_modules: Vec<String>,
}

impl File {
    fn read(file: &Path) -> Self {
        let text = fs::read_to_string(file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let mut tree = syn::parse_file(&text).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let mut is_test = vec![false; lines.len() + 1];
        let test_modules = remove_tests(&mut tree.items, &mut is_test);
        Self { tree, lines, is_test, test_modules }
    }

    fn module(&self, path: &str, file: &Path, known: &BTreeSet<&str>) -> Module {
        let mut uses = BTreeSet::new();
        for item in &self.tree.items {
            find_uses(item.to_token_stream(), path, known, &mut uses);
        }
        uses.retain(|used| known.contains(used.as_str()) && !used.is_empty() && used != path);
        let mut functions = Functions { lines: &self.lines, found: Vec::new() };
        functions.visit_file(&self.tree);
        let is_code = |line: &str| !line.trim().is_empty() && !line.trim_start().starts_with("//");
        let code_lines =
            self.lines.iter().zip(&self.is_test[1..]).filter(|(line, test)| !**test && is_code(line)).count();
        let file = file.strip_prefix(root()).expect("inside the workspace").to_owned();
        Module { path: path.to_owned(), file, uses, functions: functions.found, code_lines }
    }
}

/// Takes every item under `#[cfg(test)]` out, inner modules included, and marks its lines. Returns the names of the test modules
/// that stand in files of their own.
fn remove_tests(items: &mut Vec<syn::Item>, is_test: &mut [bool]) -> Vec<String> {
    let mut outside = Vec::new();
    items.retain_mut(|item| {
        if attributes(item).iter().any(is_cfg_test) {
            span_lines(item.span()).for_each(|line| is_test[line] = true);
            if let syn::Item::Mod(syn::ItemMod { ident, content: None, .. }) = item {
                outside.push(ident.to_string());
            }
            return false;
        }
        if let syn::Item::Mod(syn::ItemMod { content: Some((_, inner)), .. }) = item {
            outside.extend(remove_tests(inner, is_test));
        }
        true
    });
    outside
}

fn span_lines(span: Span) -> std::ops::RangeInclusive<usize> {
    span.start().line..=span.end().line
}

fn is_cfg_test(attribute: &syn::Attribute) -> bool {
    attribute.path().is_ident("cfg") && attribute.to_token_stream().to_string().replace(' ', "").contains("(test)")
}

fn attributes(item: &syn::Item) -> &[syn::Attribute] {
    match item {
        syn::Item::Const(item) => &item.attrs,
        syn::Item::Enum(item) => &item.attrs,
        syn::Item::Fn(item) => &item.attrs,
        syn::Item::Impl(item) => &item.attrs,
        syn::Item::Macro(item) => &item.attrs,
        syn::Item::Mod(item) => &item.attrs,
        syn::Item::Static(item) => &item.attrs,
        syn::Item::Struct(item) => &item.attrs,
        syn::Item::Trait(item) => &item.attrs,
        syn::Item::Type(item) => &item.attrs,
        syn::Item::Use(item) => &item.attrs,
        _ => &[],
    }
}

/// Finds every path that begins with `crate`, `super` or `self`, in `use` lines, in code and inside macros alike, and keeps the
/// module that it leads to.
fn find_uses(tokens: TokenStream, here: &str, known: &BTreeSet<&str>, uses: &mut BTreeSet<String>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    for (i, token) in tokens.iter().enumerate() {
        match token {
            TokenTree::Group(group) => find_uses(group.stream(), here, known, uses),
            TokenTree::Ident(word) => {
                let begins = i == 0 || !is_colon(&tokens[i - 1]);
                let base = match word.to_string().as_str() {
                    "crate" => String::new(),
                    "super" => parent(here),
                    "self" => here.to_owned(),
                    // A `use` may also begin with the name of a child.
                    name if i > 0 && is_word(&tokens[i - 1], "use") => {
                        let child = join(here, name);
                        if known.contains(child.as_str()) { child } else { continue }
                    }
                    _ => continue,
                };
                if begins && tokens.get(i + 1).is_some_and(is_colon) {
                    follow(&tokens[i + 3..], base, known, uses);
                }
            }
            _ => {}
        }
    }
}

fn is_colon(token: &TokenTree) -> bool {
    matches!(token, TokenTree::Punct(punct) if punct.as_char() == ':')
}

fn is_word(token: &TokenTree, word: &str) -> bool {
    matches!(token, TokenTree::Ident(ident) if ident == word)
}

fn parent(path: &str) -> String {
    path.rsplit_once("::").map_or(String::new(), |(above, _)| above.to_owned())
}

fn join(path: &str, name: &str) -> String {
    if path.is_empty() { name.to_owned() } else { format!("{path}::{name}") }
}

/// Follows a path, through braces too, as far as it leads through modules.
fn follow(tokens: &[TokenTree], base: String, known: &BTreeSet<&str>, uses: &mut BTreeSet<String>) {
    match tokens.first() {
        Some(TokenTree::Ident(word)) if word == "super" => {
            follow(tokens.get(3..).unwrap_or(&[]), parent(&base), known, uses)
        }
        Some(TokenTree::Ident(word)) => {
            let next = join(&base, &word.to_string());
            if !known.contains(next.as_str()) {
                uses.insert(base);
                return;
            }
            if tokens.get(1).is_some_and(is_colon) {
                follow(tokens.get(3..).unwrap_or(&[]), next, known, uses);
            } else {
                uses.insert(next);
            }
        }
        Some(TokenTree::Group(group)) if group.delimiter() == Delimiter::Brace => {
            let inner: Vec<TokenTree> = group.stream().into_iter().collect();
            for branch in inner.split(|token| matches!(token, TokenTree::Punct(punct) if punct.as_char() == ',')) {
                match branch.first() {
                    Some(first) if is_word(first, "self") => {
                        uses.insert(base.clone());
                    }
                    Some(_) => follow(branch, base.clone(), known, uses),
                    None => {}
                }
            }
        }
        _ => {
            uses.insert(base);
        }
    }
}

struct Functions<'a> {
    lines: &'a [String],
    found: Vec<Function>,
}

impl Functions<'_> {
    fn add(&mut self, name: &syn::Ident, attributes: &[syn::Attribute], whole: Span, signature: Span) {
        let (first, last) = (signature.start().line, whole.end().line);
        let above = whole.start().line;
        let explained = self.lines[above - 1..last]
            .iter()
            .any(|line| line.trim_start().starts_with("//") && line.contains("Long because"));
        self.found.push(Function {
            name: name.to_string(),
            line: first,
            lines: last + 1 - first,
            component: attributes.iter().any(|attribute| attribute.path().is_ident("component")),
            explained,
        });
    }
}

impl<'ast> Visit<'ast> for Functions<'_> {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        self.add(&item.sig.ident, &item.attrs, item.span(), item.sig.span());
        visit::visit_item_fn(self, item);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.add(&item.sig.ident, &item.attrs, item.span(), item.sig.span());
        visit::visit_impl_item_fn(self, item);
    }
}
