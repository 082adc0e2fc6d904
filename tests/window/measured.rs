//! What was measured after the run: typed, compared, explained, taken back.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::time::Duration;

fn open_page() -> Harness<'static, Held> {
    let mut harness = teaching();
    press_key(&mut harness, Key::M);
    harness
}

/// Waits until a text is shown.
fn wait_for(harness: &mut Harness<'_, Held>, text: &str) {
    for _ in 0..1200 {
        harness.step();
        if says(harness, text) {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("\"{text}\" was not shown within a minute");
}

/// Types into the field of an ampoule and leaves it with Enter.
fn note(harness: &mut Harness<'_, Held>, vessel: &str, text: &str) {
    let label = format!("Measured in {vessel}");
    harness.get_by_role_and_label(Role::TextInput, &label).click();
    harness.step();
    harness.step();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.get_by_role_and_label(Role::TextInput, &label).type_text(text);
    harness.step();
    harness.key_press(Key::Enter);
    harness.step();
    harness.step();
}

fn shown(harness: &Harness<'_, Held>, vessel: &str) -> String {
    let label = format!("Measured in {vessel}");
    let field = harness.get_by_role_and_label(Role::TextInput, &label);
    field.accesskit_node().value().unwrap_or_default()
}

#[test]
fn nothing_measured_says_what_to_do() {
    let mut harness = open_page();
    assert!(says(&harness, "Nothing is measured yet"));
    // What the run is to leave is told before anything is measured.
    wait_for(&mut harness, "1.9");
    press_key(&mut harness, Key::M);
    assert!(!says(&harness, "Nothing is measured yet"));
}

#[test]
fn a_fill_is_noted_in_one_step_and_taken_back() {
    let mut harness = open_page();
    let before = bytes(&harness);
    note(&mut harness, "vial-2", "2.31 ml");
    assert_eq!(now(&harness).run.measured_ml("vial-2"), Some(2.31));
    assert_eq!(shown(&harness, "vial-2"), "2.31 mL");
    assert_eq!(
        undo_words(&harness).as_deref(),
        Some("Note what was measured in vial-2")
    );
    wait_for(&mut harness, "Too few fills were measured");
    // Water weighs 0.998 g/mL at 20 °C.
    note(&mut harness, "vial-2", "2 g");
    let ml = now(&harness).run.measured_ml("vial-2").unwrap();
    assert!((ml - 2.0 / 0.998).abs() < 0.003, "{ml}");
    note(&mut harness, "vial-2", "2 mm");
    assert!(says(&harness, "no unit of a volume or a mass"));
    assert_eq!(now(&harness).run.measured_ml("vial-2"), Some(ml));
    for _ in 0..2 {
        undo(&mut harness);
    }
    assert_eq!(bytes(&harness), before);
    assert!(says(&harness, "Nothing is measured yet"));
}

#[test]
fn a_level_that_was_off_is_told() {
    let mut harness = open_page();
    // What `vialwright pour --stances "0.3; -67.07; 0.3"` leaves: every stance is 0.3 degrees off.
    for (vessel, ml) in [("vial-1", "2.17 ml"), ("vial-2", "2.17 ml"), ("vial-3", "1.69 ml")] {
        note(&mut harness, vessel, ml);
    }
    wait_for(&mut harness, "This would explain it: whole apparatus, tilt: +0.29");
    harness.get_by_label("Forget what was measured in vial-3").click();
    harness.step();
    wait_for(&mut harness, "Too few fills were measured");
    assert_eq!(now(&harness).run.measured.len(), 2);
}
