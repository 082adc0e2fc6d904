//! `check` on the worked examples, and on a design that is meant to be bad.

#![allow(clippy::unwrap_used, reason = "a test fails by it")]

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::process::Command;
use vialwright::model::file;

fn check(arguments: &[&str]) -> (i32, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_vialwright"))
        .current_dir(PathBuf::from(env!("CARGO_MANIFEST_DIR")))
        .arg("check")
        .args(arguments)
        .output()
        .unwrap();
    (output.status.code().unwrap(), String::from_utf8(output.stdout).unwrap())
}

#[test]
fn no_stop_stands_in_the_worked_examples() {
    for name in [
        "rubidium-six",
        "gallium-indium-eight",
        "benzene-d6-five",
        "teaching-three",
    ] {
        let (status, text) = check(&[&format!("examples/{name}.json")]);
        assert_eq!(status, 0, "{name}: {text}");
        assert!(text.contains("\n0 stops, ") && !text.contains("STOP"), "{name}");
        assert!(!text.contains("Nothing is known of the liquid"), "{name}");
    }
}

#[test]
fn a_bad_design_is_reviewed_as_by_a_colleague() {
    const BAD: &str = "examples/with-faults/potassium-four.json";
    let (status, json) = check(&[BAD, "--json"]);
    assert_eq!(status, 1);
    let review: serde_json::Value = serde_json::from_str(&json).unwrap();
    let findings = review["findings"].as_array().unwrap();
    let rules: BTreeSet<&str> = findings
        .iter()
        .map(|finding| finding["rule"].as_str().unwrap())
        .collect();
    assert!(rules.len() >= 24, "{rules:?}");
    let stops: BTreeSet<&str> = findings
        .iter()
        .filter(|finding| finding["severity"] == "stop")
        .map(|finding| finding["rule"].as_str().unwrap())
        .collect();
    assert!(stops.len() >= 12, "{stops:?}");
    for finding in findings {
        for key in ["what", "why", "mend", "source", "known"] {
            assert!(!finding[key].as_str().unwrap().is_empty(), "{finding}");
        }
    }
    // What is silenced is told with its reason, and what is unknown with its own.
    assert_eq!(review["silenced"][0]["rule"], "tail-short");
    assert!(
        review["silenced"][0]["silenced"]
            .as_str()
            .unwrap()
            .contains("drilled block")
    );
    let unknown = review["unknown"].as_array().unwrap();
    assert!(
        unknown
            .iter()
            .any(|unknown| unknown["why"].as_str().unwrap().contains("not at 360.0"))
    );
    let (status, text) = check(&[BAD]);
    assert_eq!(status, 1);
    assert!(text.contains("NOT JUDGED: unknown is not fine") && text.contains("Silenced: each ampoule"));
    let kept = std::fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(BAD)).unwrap();
    assert_eq!(file::write(&file::read(&kept).unwrap()), kept);
}

#[test]
fn a_silenced_stop_stands_no_more() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/with-faults/potassium-four.json");
    let mut apparatus = file::read(&std::fs::read_to_string(path).unwrap()).unwrap();
    let (_, json) = check(&["examples/with-faults/potassium-four.json", "--json"]);
    let review: serde_json::Value = serde_json::from_str(&json).unwrap();
    for finding in review["findings"].as_array().unwrap() {
        let text = |key: &str| finding[key].as_str().unwrap();
        if text("severity") == "stop" {
            apparatus.job.silence(text("rule"), text("piece"), "known and meant");
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("silenced.json");
    std::fs::write(&path, file::write(&apparatus)).unwrap();
    let (status, text) = check(&[path.to_str().unwrap()]);
    assert_eq!(status, 0, "{text}");
    assert!(text.contains("Silenced: known and meant"));
}
