//! Beginning: the starter, the examples, the empty bench.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use vialwright::app::Example;
use vialwright::model::{Apparatus, Edit, file};
use vialwright::starter::{self, Part, Side, Wish};

const STARTER: (Modifiers, Key) = (Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::N);

fn open_starter(harness: &mut Harness<'_, Held>) {
    press(harness, STARTER.0, STARTER.1);
    assert!(
        harness.query_by_label("Put it on the bench").is_some(),
        "the dialog is open"
    );
}

fn click(harness: &mut Harness<'_, Held>, label: &str) {
    harness.get_by_label(label).click();
    harness.run();
}

/// Ticks a part of the starter, or leaves it out again.
fn tick(harness: &mut Harness<'_, Held>, part: &str) {
    harness.get_by_role_and_label(Role::CheckBox, part).click();
    harness.run();
}

fn is_disabled(harness: &Harness<'_, Held>, label: &str) -> bool {
    harness.get_by_label(label).accesskit_node().is_disabled()
}

fn made(wish: Wish) -> String {
    file::write(&starter::start(&wish).unwrap().apparatus)
}

/// A window on a file without a piece.
fn empty() -> (tempfile::TempDir, Harness<'static, Held>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.json");
    std::fs::write(&path, file::write(&Apparatus::default())).unwrap();
    let harness = open(Some(path));
    (folder, harness)
}

#[test]
fn two_chords_put_the_default_on_the_bench_and_one_undo_takes_it_back() {
    let mut harness = open(None);
    let before = bytes(&harness);
    open_starter(&mut harness);
    assert!(bytes(&harness) == before, "the dialog alone changes nothing");
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    assert!(
        harness.query_by_label("Put it on the bench").is_none(),
        "the dialog has closed"
    );
    assert!(bytes(&harness) == made(Wish::default()));
    assert_eq!(undo_words(&harness).as_deref(), Some("Starter: 6 vials of 1.50 mL"));
    assert!(harness.state().session().document.is_unsaved());
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(bytes(&harness) == before, "nothing is lost");
    assert_eq!(undo_words(&harness), None);
}

#[test]
fn the_numbers_are_typed_one_after_the_other() {
    let mut harness = open(None);
    open_starter(&mut harness);
    assert!(
        harness
            .get_by_role_and_label(Role::SpinButton, "Number of vials")
            .is_focused()
    );
    for text in ["4", "2 cm3", "Toluene"] {
        press(&mut harness, Modifiers::COMMAND, Key::A);
        type_text(&mut harness, text);
        press(&mut harness, Modifiers::NONE, Key::Tab);
    }
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    let wish = Wish {
        vessels: 4,
        target_ml: 2.0,
        liquid: "Toluene".to_owned(),
        ..Wish::default()
    };
    assert!(bytes(&harness) == made(wish));
}

#[test]
fn what_is_being_typed_counts_when_the_apparatus_is_taken() {
    let mut harness = open(None);
    open_starter(&mut harness);
    press(&mut harness, Modifiers::COMMAND, Key::A);
    type_text(&mut harness, "9");
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    assert_eq!(harness.state().session().document.now().rows[0].count, 9);
}

#[test]
fn enter_ends_a_field_and_then_takes_the_apparatus() {
    let mut harness = open(None);
    open_starter(&mut harness);
    press(&mut harness, Modifiers::COMMAND, Key::A);
    type_text(&mut harness, "3");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert!(
        harness.query_by_label("Put it on the bench").is_some(),
        "the first one reads the field"
    );
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(harness.state().session().document.now().rows[0].count, 3);
}

#[test]
fn the_sums_follow_while_a_number_is_dragged() {
    let mut harness = open(None);
    open_starter(&mut harness);
    let charge = |harness: &Harness<'_, Held>| harness.get_by_label_contains("Charge: ").value().unwrap();
    let before = charge(&harness);
    let sums = starter::start(&Wish::default()).unwrap().sums;
    assert_eq!(before, format!("Charge: {:.2} mL", sums.charge_ml));
    // A field that has the focus is typed into; one without it can be dragged.
    let field = harness
        .get_by_role_and_label(Role::SpinButton, "Target fill of each")
        .rect()
        .center();
    harness.drag_at(field);
    harness.run();
    harness.hover_at(field + vec2(40.0, 0.0));
    harness.run();
    let during = charge(&harness);
    assert_ne!(during, before);
    harness.drop_at(field + vec2(40.0, 0.0));
    harness.run();
    assert_eq!(charge(&harness), during);
}

#[test]
fn parts_side_and_tubes_are_chosen_by_pointer_and_by_key() {
    let mut harness = open(None);
    open_starter(&mut harness);
    tick(&mut harness, "Gas port");
    click(&mut harness, "Left");
    harness.get_by_role_and_label(Role::CheckBox, "Return tube").focus();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::Space);
    // From what suits, one place up the stock.
    harness.get_by_role_and_label(Role::ComboBox, "Header").focus();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::ArrowUp);
    let mut wish = Wish {
        gas_port: true,
        return_tube: true,
        side: Side::Left,
        ..Wish::default()
    };
    let suited = starter::start(&wish).unwrap().sums.sizes.header;
    let stock: Vec<_> = starter::offered(Part::Header).collect();
    let at = stock.iter().position(|size| *size == suited).unwrap();
    wish.sizes.header = Some(stock[at + 1]);
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    assert!(bytes(&harness) == made(wish));
}

#[test]
fn a_wish_that_cannot_be_says_why_and_puts_nothing_on_the_bench() {
    let mut harness = open(None);
    let before = bytes(&harness);
    open_starter(&mut harness);
    for (typed, reason) in [
        ("99", "Must be 1 to 24"),
        ("2.5", "Must be 1 to 24"),
        ("many", "not understood"),
    ] {
        enter(&mut harness, "Number of vials", typed);
        assert!(harness.query_by_label_contains(reason).is_some(), "{typed}");
    }
    enter(&mut harness, "Number of vials", "6");
    tick(&mut harness, "Vacuum port");
    assert!(
        harness
            .query_by_label_contains("take a vacuum port or a gas port")
            .is_some()
    );
    assert!(is_disabled(&harness, "Put it on the bench"));
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    assert!(bytes(&harness) == before);
    tick(&mut harness, "Vacuum port");
    assert!(!is_disabled(&harness, "Put it on the bench"));
    // Escape in a field leaves the field, outside it the dialog; the numbers are still there the next time.
    enter(&mut harness, "Target fill of each", "3");
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(harness.query_by_label("Put it on the bench").is_none());
    assert!(bytes(&harness) == before);
    open_starter(&mut harness);
    let field = harness.get_by_role_and_label(Role::SpinButton, "Target fill of each");
    assert_eq!(field.value().as_deref(), Some("3.00 mL"));
}

#[test]
fn an_empty_bench_offers_the_starter() {
    let (_folder, mut harness) = empty();
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_some()
    );
    click(&mut harness, "Starter");
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    assert!(bytes(&harness) == made(Wish::default()));
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_none()
    );
}

#[test]
fn an_empty_bench_offers_the_examples_at_one_click() {
    for example in Example::ALL {
        let (_folder, mut harness) = empty();
        click(&mut harness, example.name());
        assert!(bytes(&harness) == file::write(&example.apparatus()), "{example:?}");
        assert!(
            !harness.state().session().document.is_unsaved(),
            "an example needs no saving"
        );
        assert_eq!(
            harness.state().session().document.path(),
            None,
            "saving won't write over the file"
        );
    }
}

#[test]
fn an_empty_bench_can_stay_blank_until_something_has_stood_on_it() {
    let (_folder, mut harness) = empty();
    harness.get_by_label("Blank").focus();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_none()
    );
    assert!(harness.query_by_label("Tilt ring").is_some());
    assert!(harness.query_by_label_contains("Take a piece from the tray").is_some());
    open_starter(&mut harness);
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_some()
    );
}

#[test]
fn a_piece_from_the_tray_is_an_answer_too() {
    let (_folder, mut harness) = empty();
    let tray = harness
        .get_all_by_role(Role::Button)
        .find(|node| node.accesskit_node().label().as_deref() == Some("Tube"));
    let place = tray.unwrap().rect().center();
    harness.hover_at(place);
    harness.drag_at(place);
    harness.drop_at(place);
    harness.run();
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_none()
    );
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_some()
    );
}

#[test]
fn an_example_from_the_menu_is_one_step() {
    let mut harness = open(None);
    let before = bytes(&harness);
    click(&mut harness, "File");
    harness
        .get_by_label_contains("Example: Teaching set, three vials")
        .click();
    harness.run();
    assert!(bytes(&harness) == file::write(&Example::TeachingThree.apparatus()));
    assert_eq!(
        undo_words(&harness).as_deref(),
        Some("Example: Teaching set, three vials")
    );
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(bytes(&harness) == before);
}

#[test]
fn the_starter_and_the_choices_fit_a_small_window() {
    let (_folder, mut harness) = empty();
    harness.set_size(vec2(1024.0, 640.0));
    harness.run();
    let window = harness.ctx.content_rect();
    for name in ["Starter", "Blank", Example::TeachingThree.name()] {
        assert!(window.contains_rect(harness.get_by_label(name).rect()), "{name}");
    }
    open_starter(&mut harness);
    for name in ["Put it on the bench", "Cancel"] {
        assert!(window.contains_rect(harness.get_by_label(name).rect()), "{name}");
    }
    assert!(
        harness
            .query_by_label_contains("Glass, along all centrelines: ")
            .is_some()
    );
}

/// The starter's apparatus is the same whether it is mirrored before or on the bench.
#[test]
fn the_left_button_mirrors() {
    let mut harness = open(None);
    open_starter(&mut harness);
    click(&mut harness, "Left");
    press(&mut harness, Modifiers::COMMAND, Key::Enter);
    let right = starter::start(&Wish::default()).unwrap().apparatus;
    assert!(bytes(&harness) == file::write(&right.apply(&Edit::Mirror).unwrap()));
}
