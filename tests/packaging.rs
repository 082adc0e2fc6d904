//! What ties the program into a desktop: entry, file type and icon name the same things, and can be installed.

use std::collections::BTreeMap;
use std::path::Path;

const ENTRY: &str = include_str!("../assets/vialwright.desktop");
const FILE_TYPE: &str = include_str!("../assets/vialwright-mime.xml");

#[test]
fn the_desktop_entry_names_the_program_and_the_file_type() {
    let keys: BTreeMap<&str, &str> = ENTRY.lines().filter_map(|line| line.split_once('=')).collect();
    assert_eq!(keys["Exec"], format!("{} %f", env!("CARGO_PKG_NAME")));
    let mime = keys["MimeType"].trim_end_matches(';');
    assert!(FILE_TYPE.contains(&format!("type=\"{mime}\"")), "{mime}");
    assert!(FILE_TYPE.contains("pattern=\"*.vialwright.json\""));
}

#[test]
fn the_file_type_is_told_by_the_start_of_a_design() {
    let value = FILE_TYPE
        .split("value=\"")
        .nth(1)
        .and_then(|rest| rest.split('"').next());
    let value = value.expect("a magic value").replace("&quot;", "\"");
    let design = vialwright::model::file::write(&vialwright::model::Apparatus::default());
    let at = design.find(&value).expect("the mark stands in a design");
    assert!(at <= 64, "{at}");
}

#[cfg(unix)]
#[test]
fn the_installer_puts_everything_in_place_and_removes_it() {
    let prefix = tempfile::tempdir().expect("a folder");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let run = |arguments: &[&str]| {
        let mut script = std::process::Command::new("sh");
        script.arg(root.join("assets/install.sh")).args(arguments);
        script.arg(prefix.path()).arg(env!("CARGO_BIN_EXE_vialwright"));
        let status = script.status().expect("sh runs");
        assert!(status.success());
    };
    let placed = [
        "bin/vialwright",
        "share/applications/vialwright.desktop",
        "share/mime/packages/vialwright.xml",
        "share/icons/hicolor/scalable/apps/vialwright.svg",
        "share/icons/hicolor/256x256/apps/vialwright.png",
    ];
    run(&[]);
    for file in placed {
        assert!(prefix.path().join(file).is_file(), "{file}");
    }
    run(&["-u"]);
    for file in placed {
        assert!(!prefix.path().join(file).exists(), "{file}");
    }
}

#[cfg(unix)]
#[test]
fn the_installer_tells_how_it_is_used_and_refuses_what_it_does_not_know() {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/install.sh");
    for (option, code) in [("--help", 0), ("-h", 0), ("--elsewhere", 2)] {
        let home = tempfile::tempdir().expect("a folder");
        let mut run = std::process::Command::new("sh");
        run.arg(&script)
            .arg(option)
            .env("HOME", home.path())
            .current_dir(home.path());
        let output = run.output().expect("sh runs");
        assert_eq!(output.status.code(), Some(code), "{option}");
        let told = if code == 0 { output.stdout } else { output.stderr };
        let told = String::from_utf8(told).expect("text");
        assert!(
            told.contains("usage: assets/install.sh [-u] [PREFIX [PROGRAM]]"),
            "{told}"
        );
        let left = std::fs::read_dir(home.path()).expect("the folder").count();
        assert_eq!(left, 0, "nothing is installed");
    }
}

#[test]
fn the_licences_that_the_package_names_lie_in_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    assert_eq!(env!("CARGO_PKG_LICENSE"), "MIT OR Apache-2.0");
    for (file, words) in [
        ("LICENSE-MIT", "Permission is hereby granted, free of charge"),
        ("LICENSE-APACHE", "Version 2.0, January 2004"),
    ] {
        let text = std::fs::read_to_string(root.join(file)).expect(file);
        assert!(text.contains(words), "{file}");
    }
}
