//! The architecture as DEVELOPERS.md states it, kept true.
//!
//! The page is the only place where layers, files and kept words are listed; this test reads it and compares it with
//! the `use` lines, paths and words of every file in `src`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// A row of the table of layers.
#[derive(Debug)]
struct Layer {
    name: String,
    /// Paths below `src`.
    files: BTreeSet<String>,
    /// Layers that it may use.
    may_use: BTreeSet<String>,
}

/// A row of the table of words: a word and the layers or files to which it is kept.
#[derive(Debug)]
struct KeptWord {
    word: String,
    only_in: BTreeSet<String>,
}

/// What the page states.
struct Page {
    layers: Vec<Layer>,
    words: Vec<KeptWord>,
    /// Files that may use a layer beyond their own layer's list: path, layer.
    exceptions: BTreeSet<(String, String)>,
}

impl Page {
    fn read() -> Self {
        let text = fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md is at the root");
        Self::parse(&text)
    }

    fn parse(text: &str) -> Self {
        let mut page = Self {
            layers: Vec::new(),
            words: Vec::new(),
            exceptions: BTreeSet::new(),
        };
        for row in table(text, "| Layer |") {
            page.layers.push(Layer {
                name: quoted(&row[0])
                    .into_iter()
                    .next()
                    .expect("a layer's name is in backquotes"),
                files: quoted(&row[1]).into_iter().collect(),
                may_use: quoted(&row[4]).into_iter().collect(),
            });
        }
        for row in table(text, "| Word |") {
            let only_in: BTreeSet<String> = quoted(&row[1]).into_iter().collect();
            page.words.extend(quoted(&row[0]).into_iter().map(|word| KeptWord {
                word,
                only_in: only_in.clone(),
            }));
        }
        for row in table(text, "| Exception |") {
            for layer in quoted(&row[1]) {
                page.exceptions.insert((quoted(&row[0])[0].clone(), layer));
            }
        }
        page
    }

    /// The layer in whose row a file stands.
    fn layer_of(&self, file: &str) -> Option<&Layer> {
        self.layers.iter().find(|l| l.files.contains(file))
    }

    /// Everything in `source`, the text of `file`, that the page does not allow.
    fn complaints(&self, file: &str, source: &str) -> Vec<String> {
        let Some(layer) = self.layer_of(file) else {
            return vec![format!("src/{file} is not listed in DEVELOPERS.md")];
        };
        let code = without_tests(&code_only(source));
        let mut found = Vec::new();
        let names: BTreeSet<&str> = self.layers.iter().map(|l| l.name.as_str()).collect();
        for used in modules_used(&code, file) {
            let allowed = used == layer.name
                || layer.may_use.contains(&used)
                || self.exceptions.contains(&(file.to_owned(), used.clone()));
            if names.contains(used.as_str()) && !allowed {
                found.push(format!("src/{file}: layer `{}` may not use `{used}`", layer.name));
            }
        }
        for kept in &self.words {
            let here = kept.only_in.contains(&layer.name) || kept.only_in.contains(file);
            if !here && holds_word(&code, &kept.word) {
                found.push(format!("src/{file}: `{}` is kept to {:?}", kept.word, kept.only_in));
            }
        }
        found
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Rows (cells) of the table whose head starts with `head`.
fn table(text: &str, head: &str) -> Vec<Vec<String>> {
    let rows: Vec<Vec<String>> = text
        .lines()
        .skip_while(|l| !l.starts_with(head))
        .skip(2)
        .take_while(|l| l.starts_with('|'))
        .map(|l| l.trim_matches('|').split('|').map(|c| c.trim().to_owned()).collect())
        .collect();
    assert!(!rows.is_empty(), "DEVELOPERS.md has no table that starts with {head:?}");
    rows
}

/// What stands in backquotes.
fn quoted(cell: &str) -> Vec<String> {
    cell.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// Source without comments and without what stands in string and character literals.
fn code_only(source: &str) -> String {
    let s: Vec<char> = source.chars().collect();
    let at = |i: usize| s.get(i).copied().unwrap_or('\0');
    let mut out = String::with_capacity(source.len());
    let mut i = 0;
    while i < s.len() {
        let starts_word = i == 0 || !(s[i - 1].is_alphanumeric() || s[i - 1] == '_');
        if at(i) == '/' && at(i + 1) == '/' {
            while i < s.len() && s[i] != '\n' {
                i += 1;
            }
        } else if at(i) == '/' && at(i + 1) == '*' {
            let mut depth = 1;
            i += 2;
            while i < s.len() && depth > 0 {
                match (at(i), at(i + 1)) {
                    ('/', '*') => (depth, i) = (depth + 1, i + 2),
                    ('*', '/') => (depth, i) = (depth - 1, i + 2),
                    _ => i += 1,
                }
            }
            out.push(' ');
        } else if at(i) == 'r'
            && starts_word
            && (at(i + 1) == '"' || (at(i + 1) == '#' && matches!(at(i + 2), '"' | '#')))
        {
            let hashes = s[i + 1..].iter().take_while(|&&c| c == '#').count();
            i += 2 + hashes;
            let close = |j: usize| at(j) == '"' && (1..=hashes).all(|k| at(j + k) == '#');
            while i < s.len() && !close(i) {
                i += 1;
            }
            i += 1 + hashes;
            out.push_str("\"\"");
        } else if at(i) == '"' {
            i += 1;
            while i < s.len() && s[i] != '"' {
                i += if s[i] == '\\' { 2 } else { 1 };
            }
            i += 1;
            out.push_str("\"\"");
        } else if at(i) == '\'' && (at(i + 1) == '\\' || at(i + 2) == '\'') {
            // A character; a lifetime has no closing mark there.
            i += if at(i + 1) == '\\' { 3 } else { 2 };
            while i < s.len() && s[i] != '\'' {
                i += 1;
            }
            i += 1;
            out.push_str("' '");
        } else {
            out.push(s[i]);
            i += 1;
        }
    }
    out
}

/// Code without its test modules: tests may read files and look wherever they need.
fn without_tests(code: &str) -> String {
    const MARK: &str = "#[cfg(test)]";
    let mut out = String::new();
    let mut rest = code;
    while let Some(start) = rest.find(MARK) {
        out.push_str(&rest[..start]);
        rest = &rest[start + MARK.len()..];
        // Up to the end of the item: its closing brace, or its semicolon where it has no body.
        let mut depth = 0;
        let end = rest.char_indices().find(|&(_, c)| {
            depth += i32::from(c == '{') - i32::from(c == '}');
            depth == 0 && matches!(c, '}' | ';')
        });
        rest = end.map_or("", |(i, _)| &rest[i + 1..]);
    }
    out + rest
}

/// First names of all paths from the root of the package: `crate::…`, `vialwright::…`, and `super::…` where that is
/// the root. Groups in braces are opened.
fn modules_used(code: &str, file: &str) -> BTreeSet<String> {
    let mut roots = vec!["crate::", "vialwright::"];
    // In src/NAME.rs and src/NAME/mod.rs `super` is the root; deeper down it is the layer itself.
    if file.matches('/').count() == usize::from(file.ends_with("/mod.rs")) {
        roots.push("super::");
    } else {
        roots.push("super::super::");
    }
    let mut used = BTreeSet::new();
    for root in roots {
        for (start, _) in code.match_indices(root) {
            let before = code[..start].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            used.extend(first_names(&code[start + root.len()..]));
        }
    }
    used
}

/// The name at the start, or every name at the first level of the braces at the start.
fn first_names(path: &str) -> Vec<String> {
    let name = |t: &str| {
        t.trim_start()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect::<String>()
    };
    let Some(group) = path.trim_start().strip_prefix('{') else {
        return vec![name(path)];
    };
    let mut names = vec![name(group)];
    let mut depth = 0;
    for (i, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => names.push(name(&group[i + 1..])),
            _ => {}
        }
    }
    names.retain(|n| !n.is_empty());
    names
}

/// Whether `word` stands in the code, not as a part of a longer name.
fn holds_word(code: &str, word: &str) -> bool {
    let part_of_name = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(word).any(|(i, _)| {
        let before = code[..i].chars().next_back();
        let after = code[i + word.len()..].chars().next();
        let ends_as_name = word.chars().next_back().is_some_and(part_of_name);
        !(before.is_some_and(part_of_name) || ends_as_name && after.is_some_and(part_of_name))
    })
}

/// Every Rust file below `src`, as a path below it.
fn source_files() -> BTreeMap<String, String> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).expect("src can be read") {
            let path = entry.expect("src can be read").path();
            if path.is_dir() {
                walk(&path, found);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    let src = root().join("src");
    let mut found = Vec::new();
    walk(&src, &mut found);
    let name = |p: &Path| {
        let below = p.strip_prefix(&src).expect("the file is below src");
        below
            .components()
            .map(|c| c.as_os_str().to_string_lossy())
            .collect::<Vec<_>>()
            .join("/")
    };
    found
        .iter()
        .map(|p| (name(p), fs::read_to_string(p).expect("a source file is text")))
        .collect()
}

#[test]
fn every_file_keeps_to_its_layer() {
    let page = Page::read();
    let complaints: Vec<String> = source_files()
        .iter()
        .flat_map(|(file, text)| page.complaints(file, text))
        .collect();
    assert!(complaints.is_empty(), "\n{}\n", complaints.join("\n"));
}

#[test]
fn the_page_lists_no_file_that_is_gone_and_none_twice() {
    let page = Page::read();
    let files = source_files();
    let mut seen = BTreeSet::new();
    for file in page.layers.iter().flat_map(|l| &l.files) {
        assert!(
            files.contains_key(file),
            "DEVELOPERS.md lists src/{file}, which does not exist"
        );
        assert!(seen.insert(file), "DEVELOPERS.md lists src/{file} twice");
    }
}

#[test]
fn layers_use_only_earlier_ones_and_the_library_names_them_in_that_order() {
    let page = Page::read();
    for (i, layer) in page.layers.iter().enumerate() {
        let earlier: BTreeSet<&str> = page.layers[..i].iter().map(|l| l.name.as_str()).collect();
        for used in &layer.may_use {
            assert!(
                earlier.contains(used.as_str()),
                "`{}` may use `{used}`, which stands after it",
                layer.name
            );
        }
    }
    let code = code_only(&source_files()["lib.rs"]);
    let declared: Vec<&str> = code
        .lines()
        .filter_map(|l| l.trim().strip_prefix("pub mod ")?.strip_suffix(';'))
        .collect();
    let listed: Vec<&str> = page
        .layers
        .iter()
        .map(|l| l.name.as_str())
        .filter(|n| declared.contains(n))
        .collect();
    assert_eq!(
        declared, listed,
        "src/lib.rs declares the layers in another order, or one that the page has not"
    );
}

/// A page small enough to see what the rules catch.
const SMALL: &str = "\
| Layer | Files | Takes | Gives | May use | Must not know |
|---|---|---|---|---|---|
| `low` | `low.rs` | | | | |
| `mid` | `mid/mod.rs`, `mid/deep.rs`, `mid/odd.rs` | | | | |
| `top` | `top.rs` | | | `low`, `mid` | |

| Word | Only in |
|---|---|
| `std::fs`, `println!` | `top` |

| Exception | May also use |
|---|---|
| `mid/odd.rs` | `low` |
";

#[test]
fn a_breach_is_found_however_it_is_written() {
    let page = Page::parse(SMALL);
    let count = |file: &str, source: &str| page.complaints(file, source).len();
    assert_eq!(count("nowhere.rs", ""), 1, "an unlisted file");
    assert_eq!(count("low.rs", "use crate::top::X;"), 1);
    assert_eq!(
        count("low.rs", "use crate::{\n    mid::{A, B},\n    low::C,\n    top,\n};"),
        2
    );
    assert_eq!(count("low.rs", "fn f() { crate::mid::g() }"), 1);
    assert_eq!(count("low.rs", "use super::top::X;"), 1);
    assert_eq!(count("mid/mod.rs", "use super::top::X;"), 1);
    assert_eq!(count("mid/deep.rs", "use super::super::low::X;"), 1);
    assert_eq!(count("mid/deep.rs", "use crate::low::X;"), 1);
    assert_eq!(count("low.rs", "use std::fs; fn f() { println!(\"x\") }"), 2);
    assert_eq!(
        count("low.rs", "let c = '\"'; use crate::top;"),
        1,
        "a quote as a character opens no string"
    );
    assert_eq!(count("low.rs", "let c = '\\''; use crate::top; let d = '\\'';"), 1);
    assert_eq!(count("low.rs", "#[cfg(test)]\nuse std::fs;\nuse crate::top;"), 1);
    assert_eq!(count("low.rs", "#[cfg(test)] mod t { fn f() {} } use crate::top;"), 1);
    assert_eq!(count("low.rs", "let s = r#\"a\"b\"#; use crate::top;"), 1);
}

#[test]
fn what_is_allowed_is_not_a_breach() {
    let page = Page::parse(SMALL);
    let clean = |file: &str, source: &str| assert_eq!(page.complaints(file, source), Vec::<String>::new());
    clean(
        "top.rs",
        "use crate::{low::A, mid::B}; use std::fs; fn f() { println!() }",
    );
    clean("mid/odd.rs", "use crate::low::A;");
    clean("mid/deep.rs", "use super::top::A; pub(crate) fn f() {}");
    clean(
        "low.rs",
        "// use crate::top\n/* crate::mid /* nested */ std::fs */ const S: &str = \"crate::top \\\" std::fs\";",
    );
    clean(
        "low.rs",
        "fn f<'a>(x: &'a str) -> &'a str { eprintln!(\"\"); my_println!(); x }",
    );
    clean("low.rs", "use std::fs_extra;");
    clean(
        "low.rs",
        "#[cfg(test)]\nmod tests { use std::fs; fn f() { crate::top::g() } }",
    );
}
