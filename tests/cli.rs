//! The headless commands as a script uses them: text in, answers and exit statuses out.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails the test")]

use std::io::Write;
use std::process::{Command, Output, Stdio};

use serde_json::{Value, json};

const DESIGN: &str = "examples/rubidium-six.json";

fn run(arguments: &[&str], stdin: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_vialwright"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A program that refuses its arguments does not read; the broken pipe is no fault of this test.
    let _ = child.stdin.take().unwrap().write_all(stdin.as_bytes());
    child.wait_with_output().unwrap()
}

#[track_caller]
fn answer(arguments: &[&str], stdin: &str) -> Value {
    let output = run(arguments, stdin);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

#[track_caller]
fn refused(arguments: &[&str], stdin: &str, status: i32, says: &[&str]) {
    let output = run(arguments, stdin);
    let message = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(status), "{message}");
    assert!(output.stdout.is_empty());
    for words in says {
        assert!(message.contains(words), "{words:?} is missing in: {message}");
    }
}

/// A flat-bottomed vial, 20 mm bore, 60 mm deep, open at the top.
fn vial() -> String {
    json!({
        "units": "mm",
        "primitives": [
            {"id": 0, "piece": "vial", "shape": "frustum", "from": [0, 0], "to": [0, 60], "r_from": 10, "r_to": 10},
        ],
        "ports": [{"piece": "vial", "at": [0, 60], "heading_deg": 90, "r": 10}],
    })
    .to_string()
}

#[test]
fn a_design_and_its_dump_measure_alike() {
    let dump = String::from_utf8(run(&["interior", DESIGN], "").stdout).unwrap();
    let arguments = |file| {
        [
            "measure",
            file,
            "--stance",
            "-31,12",
            "--liquid",
            "receiver=8",
            "--json",
        ]
    };
    assert_eq!(answer(&arguments(DESIGN), ""), answer(&arguments("-"), &dump));
    // A dump of a dump is the same bytes.
    assert_eq!(String::from_utf8(run(&["interior", "-"], &dump).stdout).unwrap(), dump);
}

#[test]
fn measure_gives_the_contract() {
    let measured = answer(
        &[
            "measure",
            "-",
            "--stance",
            "45",
            "--liquid",
            "vial=20",
            "--volume-below",
            "vial=14.142135623730951",
            "--json",
        ],
        &vial(),
    );
    assert_eq!(measured["stance"], json!({"tilt_deg": 45.0, "roll_deg": 0.0}));
    let close = |value: &Value, exact: f64| {
        let value = value.as_f64().unwrap();
        assert!((value / exact - 1.0).abs() < 1e-9, "{value} {exact}");
    };
    // Classical forms: the whole cylinder; the open vial at 45 degrees holds pi R^2 (L - R).
    let pi = std::f64::consts::PI;
    close(&measured["total_ml"], 6.0 * pi);
    close(&measured["pieces"][0]["volume_ml"], 6.0 * pi);
    let pool = &measured["pools"][0];
    for key in [
        "piece",
        "pieces",
        "volume_ml",
        "level_mm",
        "depth_mm",
        "free_surface_cm2",
        "sill_mm",
        "brim_ml",
        "runs_to",
    ] {
        assert!(pool.get(key).is_some(), "{key}");
    }
    close(&pool["brim_ml"], 5.0 * pi);
    close(&pool["volume_ml"], 5.0 * pi);
    close(&pool["sill_mm"], 50.0 / 2f64.sqrt());
    assert_eq!(pool["runs_to"], json!({"port": "vial"}));
    close(&measured["lost"][0]["volume_ml"], 20.0 - 5.0 * pi);
    assert_eq!(measured["lost"][0]["port"], "vial");
    // Below 10 sqrt 2 mm the level cuts the axis at 20 mm: pi R^2 20.
    close(&measured["volume_below"][0]["volume_ml"], 2.0 * pi);
    close(&measured["volume_below"][0]["free_surface_cm2"], pi * 2f64.sqrt());
}

#[test]
fn tilts_give_the_contract() {
    let tilts = answer(
        &[
            "tilts",
            "-",
            "--piece",
            "vial",
            "--volume-ml",
            "15.70796326794897",
            "--json",
        ],
        &vial(),
    );
    // 5 pi mL stays to 45 degrees (closed form 1.4); 0.5 % of it is left where the ungula is that small.
    let near = |value: &Value, exact: f64| assert!((value.as_f64().unwrap() - exact).abs() < 1e-6, "{value} {exact}");
    near(&tilts["spill_deg"]["anticlockwise"], 45.0);
    near(&tilts["spill_deg"]["clockwise"], -45.0);
    near(&tilts["hold_deg"][0], -45.0);
    near(&tilts["hold_deg"][1], 45.0);
    assert!(tilts["drain_deg"]["anticlockwise"].as_f64().unwrap() > 80.0);
    assert_eq!(tilts["metering_deg"], json!({"anticlockwise": null, "clockwise": null}));
    let target = [
        "tilts",
        "-",
        "--piece",
        "vial",
        "--target-ml",
        "15.70796326794897",
        "--from",
        "10",
        "--json",
    ];
    near(&answer(&target, &vial())["metering_deg"]["anticlockwise"], 45.0);
    // Rolling does the same as tilting for a round vial, so a tilt is the more limited the more it is rolled.
    let rolled = answer(
        &[
            "tilts",
            "-",
            "--piece",
            "vial",
            "--volume-ml",
            "15.70796326794897",
            "--from",
            "0,30",
            "--json",
        ],
        &vial(),
    );
    // cos(angle) = cos(tilt) cos(roll), the angle being 45 degrees at the spill.
    let exact = (45f64.to_radians().cos() / 30f64.to_radians().cos())
        .acos()
        .to_degrees();
    near(&rolled["spill_deg"]["anticlockwise"], exact);
}

#[test]
fn text_is_for_people() {
    let text = String::from_utf8(run(&["measure", DESIGN], "").stdout).unwrap();
    for words in ["receiver", "vial-6", "brim / mL", "runs to"] {
        assert!(text.contains(words), "{text}");
    }
    let text =
        String::from_utf8(run(&["tilts", DESIGN, "--piece", "receiver", "--volume-ml", "9"], "").stdout).unwrap();
    assert!(text.contains("It stays put from"), "{text}");
}

#[test]
fn wrong_usage_is_2() {
    refused(
        &["measure", "-", "--liquid", "vail=1"],
        &vial(),
        2,
        &["vail", "it has: vial"],
    );
    refused(&["measure", "-", "--liquid", "vial=much"], &vial(), 2, &["much"]);
    refused(&["measure", "-", "--stance", "nan"], &vial(), 2, &["nan"]);
    refused(&["tilts", "-", "--piece", "vial"], &vial(), 2, &["--volume-ml"]);
    refused(
        &["tilts", "-", "--piece", "vial", "--volume-ml", "-1"],
        &vial(),
        2,
        &["-1"],
    );
    refused(&["measure", "-", "--nonsense"], "", 2, &["--nonsense"]);
}

#[test]
fn a_file_that_is_not_understood_is_3() {
    refused(&["measure", "no-such-file.json"], "", 3, &["no-such-file.json"]);
    refused(&["measure", "-"], &vial()[..40], 3, &["EOF"]);
    refused(&["measure", "-"], "{}", 3, &[]);
    refused(
        &["measure", "-"],
        &vial().replace("\"r_to\":10", "\"r_to\":1e300"),
        3,
        &["primitives[0].r_to", "10000"],
    );
    refused(
        &["measure", "-"],
        &vial().replace("\"r_to\":10", "\"r_to\":NaN"),
        3,
        &[],
    );
    refused(
        &["measure", "-"],
        &vial().replace("\"r_to\"", "\"r_top\""),
        3,
        &["r_top"],
    );
    let design = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/rubidium-six.json")).unwrap();
    refused(
        &["measure", "-"],
        &design.replace("\"version\": 2", "\"version\": 3"),
        3,
        &["version"],
    );
    refused(
        &["measure", "-"],
        &design.replacen("\"header\"", "\"haeder\"", 1),
        3,
        &["header"],
    );
    let one = r#"{"id": 0, "piece": "p", "shape": "sphere", "centre": [0, 0], "r": 1}"#;
    let many: Vec<String> = (0..100_000).map(|i| one.replacen('0', &i.to_string(), 1)).collect();
    let text = format!(r#"{{"units": "mm", "primitives": [{}]}}"#, many.join(","));
    refused(&["measure", "-"], &text, 3, &["100000", "50000"]);
    refused(
        &["measure", "-", "--liquid", "vial=100"],
        &vial().replace("\"ports\"", "\"doors\""),
        3,
        &["doors"],
    );
}

#[test]
fn a_closed_interior_has_an_end() {
    let mut closed: Value = serde_json::from_str(&vial()).unwrap();
    closed["ports"] = json!([]);
    refused(
        &["measure", "-", "--liquid", "vial=100"],
        &closed.to_string(),
        3,
        &["81.150 mL more"],
    );
}
