//! The sheets for the workshop: chosen, looked at, saved.

use crate::harness::*;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::path::PathBuf;
use std::time::Duration;
use vialwright::app::Opening;

fn open() -> Harness<'static, Held> {
    let example = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/teaching-three.json");
    let mut harness = open_as(Opening {
        path: Some(example),
        ..Opening::default()
    });
    harness.key_press_modifiers(Modifiers::COMMAND, Key::P);
    harness.run();
    harness
}

/// Waits until something is shown.
fn wait_for(harness: &mut Harness<'_, Held>, is_there: impl Fn(&Harness<'_, Held>) -> bool) {
    for _ in 0..1200 {
        harness.run();
        if is_there(harness) {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("it was not shown within a minute");
}

fn pages(harness: &Harness<'_, Held>) -> usize {
    harness.query_all_by_label_contains("Page ").count()
}

#[test]
fn a_sheet_is_chosen_and_its_pages_are_shown() {
    let mut harness = open();
    wait_for(&mut harness, |harness| pages(harness) > 0);
    // The glass in full size is wider than a page.
    assert!(pages(&harness) > 1);
    harness.get_by_label("Cut list").click();
    harness.run();
    assert!(harness.query_by_label("CSV").is_some() && harness.query_by_label("DXF").is_none());
    wait_for(&mut harness, |harness| {
        harness.query_by_label_contains("Page 1 of").is_some()
    });
    harness.get_by_label("Close").click();
    harness.run();
    assert!(harness.query_by_label("Cut list").is_none());
}

#[test]
fn a_sheet_is_saved() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = open();
    harness.get_by_label("Cut list").click();
    harness.run();
    harness.get_by_label("CSV").click();
    harness.run();
    harness.get_by_label("Save this sheet\u{2026}").click();
    wait_for(&mut harness, |harness| {
        harness.query_by_label("Save the sheet").is_some()
    });
    let path = folder.path().join("cuts.csv");
    give_file(&mut harness, &path);
    wait_for(&mut harness, |_| path.exists());
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(
        text.starts_with("blank,pieces,part,") && text.contains("vial-1 vial-2 vial-3"),
        "{text}"
    );
}
