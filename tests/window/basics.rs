//! Opening, turning, typing, dragging, saving.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

#[test]
fn the_example_opens_with_liquid_in_it() {
    let harness = open(None);
    let session = harness.state().session();
    assert!(session.document.now().names().iter().any(|name| name == "vial-6"));
    assert!(!session.document.is_unsaved());
    assert!(
        row(&harness, "receiver").contains("9.10 mL"),
        "{}",
        row(&harness, "receiver")
    );
    let vial = harness.get_by_role_and_label(Role::GraphicsObject, "vial-3");
    assert_eq!(vial.value().as_deref(), Some("0.00 mL of 1.50 mL"));
}

#[test]
fn a_typed_length_changes_the_ledger_and_undo_restores_the_bytes() {
    let mut harness = open(None);
    let (start, brim) = (bytes(&harness), row(&harness, "vial-2"));
    select(&mut harness, "vial-2");
    enter(&mut harness, "Body: straight length", "2 in");
    assert_eq!(harness.state().session().document.now().rows[0].pattern.body_mm, 50.8);
    assert_ne!(row(&harness, "vial-2"), brim, "the brim follows the body");
    assert_eq!(undo_words(&harness).as_deref(), Some("Body: straight length of vial-2"));
    assert!(harness.state().session().document.is_unsaved());

    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
    assert!(bytes(&harness) == start, "the bytes of the start");
    assert_eq!(row(&harness, "vial-2"), brim);
    assert!(!harness.state().session().document.is_unsaved());
}

#[test]
fn a_refused_value_says_why_and_changes_nothing() {
    let mut harness = open(None);
    let start = bytes(&harness);
    select(&mut harness, "vial-2");
    for (typed, reason) in [
        ("9999", "Must be"),
        ("twelve", "not understood"),
        ("5 mL", "not a unit"),
    ] {
        enter(&mut harness, "Body: straight length", typed);
        assert!(bytes(&harness) == start, "{typed}");
        assert!(harness.query_by_label_contains(reason).is_some(), "{typed}: {reason}");
    }
    enter(&mut harness, "Body: straight length", "46");
    assert!(
        harness.query_by_label_contains("not a unit").is_none(),
        "an accepted value clears the reason"
    );
    assert_ne!(bytes(&harness), start);
}

#[test]
fn dragging_the_ring_turns_the_glass_and_is_no_change_of_the_document() {
    let mut harness = open(None);
    let start = bytes(&harness);
    let rim = harness.get_by_label("Tilt ring").rect();
    let radius = rim.width() / 2.0 - 8.0;
    let at = |deg: f32| rim.center() - vec2(deg.to_radians().sin(), deg.to_radians().cos()) * radius;
    drag(&mut harness, at(0.0), at(-40.0));
    let tilt = harness.state().session().stance.tilt_deg;
    assert!((tilt + 40.0).abs() < 0.2, "{tilt}");
    assert!(bytes(&harness) == start, "the bytes of the start");
    assert_eq!(undo_words(&harness), None);
    assert!(
        !row(&harness, "receiver").contains("9.10 mL"),
        "liquid has left the receiver"
    );
    // Taken hold of anywhere else the ring turns by as much as the hand.
    drag(&mut harness, at(100.0), at(120.0));
    let tilt = harness.state().session().stance.tilt_deg;
    assert!((tilt + 20.0).abs() < 0.4, "{tilt}");
}

#[test]
fn keys_turn_the_glass() {
    let mut harness = open(None);
    for (modifiers, key, tilt, roll) in [
        (Modifiers::NONE, Key::ArrowLeft, 1.0, 0.0),
        (Modifiers::SHIFT, Key::ArrowRight, 0.9, 0.0),
        (Modifiers::NONE, Key::ArrowDown, 0.9, 1.0),
        (Modifiers::NONE, Key::Home, 0.0, 0.0),
    ] {
        harness.key_press_modifiers(modifiers, key);
        harness.run();
        let stance = harness.state().session().stance;
        assert_eq!((stance.tilt_deg, stance.roll_deg), (tilt, roll), "{key:?}");
    }
    enter(&mut harness, "Tilt", "-12.5");
    assert_eq!(harness.state().session().stance.tilt_deg, -12.5);
    enter(&mut harness, "Roll", "120");
    assert_eq!(harness.state().session().stance.roll_deg, 0.0);
    assert!(harness.query_by_label_contains("must lie between").is_some());
}

#[test]
fn a_drag_of_a_value_is_one_step() {
    let mut harness = open(None);
    let start = bytes(&harness);
    select(&mut harness, "vial-4");
    let before = harness.state().session().document.now().rows[0].pattern.stem_mm;
    let field = harness
        .get_by_role_and_label(Role::SpinButton, "Stem: length")
        .rect()
        .center();
    drag(&mut harness, field, field + vec2(40.0, 0.0));
    let after = harness.state().session().document.now().rows[0].pattern.stem_mm;
    assert!(after > before + 5.0, "{before} to {after}");
    assert_eq!(undo_words(&harness).as_deref(), Some("Stem: length of vial-4"));
    harness.get_by_label("↺ Undo").click();
    harness.run();
    assert!(bytes(&harness) == start, "the bytes of the start");
    assert_eq!(undo_words(&harness), None, "one step takes all of it back");
    harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    harness.run();
    assert_eq!(harness.state().session().document.now().rows[0].pattern.stem_mm, after);
}

#[test]
fn one_member_can_depart_and_return() {
    let mut harness = open(None);
    let start = bytes(&harness);
    select(&mut harness, "vial-5");
    harness.get_by_label("Change this one only").click();
    harness.run();
    enter(&mut harness, "Body: straight length", "60");
    let apparatus = harness.state().session().document.now().clone();
    assert_eq!(apparatus.rows[0].ampoule(5).body_mm, 60.0);
    assert_ne!(apparatus.rows[0].ampoule(4).body_mm, 60.0);
    harness.get_by_label("Return to the row").click();
    harness.run();
    assert!(bytes(&harness) == start, "the bytes of the start");
}

#[test]
fn selection_goes_both_ways() {
    let mut harness = open(None);
    let of_pot = |node: &egui_kittest::Node<'_>| node.accesskit_node().label().is_some_and(|l| l.starts_with("pot: "));
    harness
        .get_all_by_role(Role::ListBoxOption)
        .find(of_pot)
        .unwrap()
        .click();
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), Some("pot"));
    let pot = harness.get_by_role_and_label(Role::GraphicsObject, "pot");
    assert_eq!(pot.accesskit_node().is_selected(), Some(true));
    harness.key_press(Key::Escape);
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), None);
    harness.get_by_role_and_label(Role::GraphicsObject, "vial-6").focus();
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), Some("vial-6"));
}

#[test]
fn a_design_is_saved_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.json");
    let mut harness = open(None);
    select(&mut harness, "vial-1");
    enter(&mut harness, "Target volume", "1.75");
    harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    harness.run();
    give_file(&mut harness, &path);
    harness.run();
    assert!(
        std::fs::read_to_string(&path).unwrap() == bytes(&harness),
        "the file holds the document"
    );
    assert!(!harness.state().session().document.is_unsaved());
    let again = open(Some(path));
    assert!(bytes(&again) == bytes(&harness), "what was saved");
}

#[test]
fn a_file_that_is_no_design_is_refused_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("broken.json");
    let text = "{\"format\": \"vialwright-design\", \"version\": 99}";
    std::fs::write(&path, text).unwrap();
    let harness = open(Some(path.clone()));
    let said = harness.query_by_label_contains("version: 99 is newer");
    assert!(said.is_some(), "the message names the place");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}

#[test]
fn closing_with_changes_asks_first() {
    let mut harness = open(None);
    let close = |harness: &mut Harness<'_, Held>| {
        let root = harness.input_mut().viewports.entry(egui::ViewportId::ROOT).or_default();
        root.events.push(egui::ViewportEvent::Close);
        harness.step();
        let commands = &harness.output().viewport_output[&egui::ViewportId::ROOT].commands;
        let kept_open = commands.contains(&egui::ViewportCommand::CancelClose);
        harness
            .input_mut()
            .viewports
            .entry(egui::ViewportId::ROOT)
            .or_default()
            .events
            .clear();
        harness.run();
        kept_open
    };
    assert!(!close(&mut harness), "nothing is unsaved");
    select(&mut harness, "vial-1");
    enter(&mut harness, "Target volume", "2");
    assert!(close(&mut harness), "a change would be lost");
    harness.get_by_label("Cancel").click();
    harness.run();
    assert!(harness.query_by_label("Drop the changes").is_none());
    assert!(close(&mut harness));
    harness.get_by_label("Drop the changes").click();
    harness.run();
    assert!(!close(&mut harness), "the changes were given up");
}

#[test]
fn a_narrow_window_keeps_the_bench_and_opens_the_numbers_on_demand() {
    let mut harness = open(None);
    harness.set_size(vec2(700.0, 460.0));
    harness.run();
    assert!(harness.query_by_label("Ledger").is_none());
    assert!(
        harness
            .query_by_role_and_label(Role::GraphicsObject, "vial-1")
            .is_some()
    );
    harness.get_by_label("Numbers").click();
    harness.run();
    assert!(harness.query_by_label("Ledger").is_some());
}
