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
