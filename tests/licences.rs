//! The list of libraries in the about box, kept current: `VIALWRIGHT_REFRESH=1 cargo test licences` writes it anew.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

/// The libraries of a build are listed for this system; others have a few of their own.
const TARGET: &str = "x86_64-unknown-linux-gnu";

#[test]
fn licences_of_all_libraries_are_listed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut cargo = Command::new(env!("CARGO"));
    cargo.current_dir(root);
    cargo.args(["tree", "--locked", "--edges", "normal", "--prefix", "none"]);
    cargo.args(["--target", TARGET, "--format", "{p}\t{l}"]);
    let output = cargo.output().expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let own = env!("CARGO_PKG_NAME");
    let text = String::from_utf8(output.stdout).expect("cargo writes text");
    let mut libraries = BTreeSet::new();
    for line in text.lines() {
        let (package, licence) = line.split_once('\t').expect("a package and its licence");
        let name = package.split(' ').next().expect("a package has a name");
        let licence = licence.trim_end_matches("(*)").trim();
        assert!(!licence.is_empty(), "{name} states no licence");
        if name != own {
            libraries.insert(format!("{name}\t{licence}\n"));
        }
    }
    let list: String = libraries.into_iter().collect();
    let path = root.join("assets/licences.txt");
    if std::env::var_os("VIALWRIGHT_REFRESH").is_some() {
        std::fs::write(&path, &list).expect("the list can be written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == list,
        "assets/licences.txt is not current; VIALWRIGHT_REFRESH=1 cargo test licences writes it anew"
    );
}
