//! Dimensions, grid, rulers, true size and frame times on the bench.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, MouseWheelSource, MouseWheelUnit, PointerButton, Pos2, Rect, TouchPhase, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use vialwright::app::{Command, Opening};
use vialwright::geom::Stance;

/// Names and values of the dimensions that are seen; marks of ring and roll scale have names of their own.
fn seen(harness: &Harness<'_, Held>) -> Vec<(String, String)> {
    harness
        .get_all_by_role(Role::Button)
        .filter_map(|node| {
            let node = node.accesskit_node();
            Some((node.label()?, node.value()?))
        })
        .filter(|(name, _)| !name.starts_with("Tilt: ") && !name.starts_with("Roll: "))
        .collect()
}

fn sees(harness: &Harness<'_, Held>, name: &str) -> bool {
    seen(harness).iter().any(|(seen, _)| seen == name)
}

fn rect_of(harness: &Harness<'_, Held>, piece: &str) -> Rect {
    harness.get_by_role_and_label(Role::GraphicsObject, piece).rect()
}

/// Turns the wheel over a place; positive looks closer.
fn wheel(harness: &mut Harness<'_, Held>, at: Pos2, steps: usize, closer: bool) {
    harness.hover_at(at);
    harness.run();
    for _ in 0..steps {
        harness.event(Event::MouseWheel {
            unit: MouseWheelUnit::Point,
            delta: vec2(0.0, if closer { 50.0 } else { -50.0 }),
            phase: TouchPhase::Move,
            source: MouseWheelSource::Wheel,
            modifiers: Modifiers::NONE,
        });
        harness.run();
    }
}

/// Opens a dimension by key: focus, then Enter.
fn open_by_key(harness: &mut Harness<'_, Held>, name: &str) {
    harness.get_by_role_and_label(Role::Button, name).focus();
    harness.run();
    press(harness, Modifiers::NONE, Key::Enter);
}

/// Replaces what stands in the focused field and ends with Enter.
fn type_in(harness: &mut Harness<'_, Held>, field: &str, text: &str) {
    let node = harness.get_by_role_and_label(Role::SpinButton, field);
    assert!(node.is_focused(), "{field}");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.get_by_role_and_label(Role::SpinButton, field).type_text(text);
    harness.run();
    press(harness, Modifiers::NONE, Key::Enter);
}

fn pitch(harness: &Harness<'_, Held>) -> f64 {
    harness.state().session().document.now().rows[0].pitch_mm
}

#[test]
fn dimensions_are_shown_and_hidden_by_a_key() {
    let mut harness = open(None);
    assert_eq!(seen(&harness), []);
    press(&mut harness, Modifiers::NONE, Key::D);
    assert!(harness.state().session().sheet.dimensions);
    let shown = seen(&harness);
    for (name, value) in [
        ("Pitch of vial", "45.0 mm"),
        ("Place of vial-1 on header", "98.0 mm"),
        ("Body of pot", "48.0 mm, wall 1.8 mm"),
        ("2, bend: angle of header", "15.0°"),
    ] {
        assert!(
            shown.contains(&(name.to_owned(), value.to_owned())),
            "{name}: {shown:#?}"
        );
    }
    press(&mut harness, Modifiers::NONE, Key::D);
    assert_eq!(seen(&harness), []);
}

#[test]
fn the_selected_piece_shows_all_of_its_own_once_there_is_room() {
    let mut harness = open(None);
    press(&mut harness, Modifiers::NONE, Key::D);
    select(&mut harness, "vial-3");
    assert!(!sees(&harness, "Body of pot"), "another piece stands back");
    assert!(!sees(&harness, "Funnel: length of vial-3"), "there is no room yet");
    let at = rect_of(&harness, "vial-3").center();
    wheel(&mut harness, at, 7, true);
    for name in [
        "Stem of vial-3",
        "Funnel: length of vial-3",
        "Neck: length of vial-3",
        "Neck: seal-off place of vial-3",
        "Body: straight length of vial-3",
    ] {
        assert!(sees(&harness, name), "{name}: {:#?}", seen(&harness));
    }
}

#[test]
fn a_dimension_is_opened_by_key_and_typed_into_as_one_step() {
    let mut harness = open(None);
    let start = bytes(&harness);
    press(&mut harness, Modifiers::NONE, Key::D);
    open_by_key(&mut harness, "Pitch of vial");
    type_in(&mut harness, "Pitch of vial", "2 in");
    assert_eq!(pitch(&harness), 50.8);
    assert_eq!(undo_words(&harness).as_deref(), Some("Pitch of vial"));
    assert!(
        harness
            .query_by_role_and_label(Role::SpinButton, "Pitch of vial")
            .is_none(),
        "an accepted value closes the field"
    );
    assert!(
        harness
            .get_by_role_and_label(Role::Button, "Pitch of vial")
            .is_focused(),
        "the focus goes back"
    );
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(bytes(&harness) == start, "the bytes of the start");
    assert_eq!(undo_words(&harness), None, "one step takes all of it back");
}

#[test]
fn a_double_click_opens_and_escape_closes_without_a_change() {
    let mut harness = open(None);
    let start = bytes(&harness);
    press(&mut harness, Modifiers::NONE, Key::D);
    select(&mut harness, "header");
    let at = harness
        .get_by_role_and_label(Role::Button, "Pitch of vial")
        .rect()
        .center();
    // A step of the test takes longer than a hand.
    harness
        .ctx
        .options_mut(|options| options.input_options.max_double_click_delay = 0.8);
    harness.hover_at(at);
    harness.run();
    for pressed in [true, false, true, false] {
        harness.event(Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }
    harness.run();
    let field = harness.get_by_role_and_label(Role::SpinButton, "Pitch of vial");
    assert!(field.is_focused());
    assert!(field.rect().center().distance(at) < 60.0, "at its place");
    field.type_text("99");
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(
        harness
            .query_by_role_and_label(Role::SpinButton, "Pitch of vial")
            .is_none()
    );
    assert!(bytes(&harness) == start, "the bytes of the start");
    assert_eq!(
        harness.state().session().selection.shown(),
        Some("header"),
        "a click on a dimension is no click beside the glass"
    );
}

#[test]
fn a_refusal_is_told_at_the_dimension_and_changes_nothing() {
    let mut harness = open(None);
    let start = bytes(&harness);
    press(&mut harness, Modifiers::NONE, Key::D);
    open_by_key(&mut harness, "Pitch of vial");
    for (typed, reason) in [("0.2", "Must be 1 to 1000 mm"), ("many", "not understood")] {
        type_in(&mut harness, "Pitch of vial", typed);
        assert!(harness.query_by_label_contains(reason).is_some(), "{typed}");
        assert!(bytes(&harness) == start, "{typed}");
    }
    type_in(&mut harness, "Pitch of vial", "46");
    assert!(harness.query_by_label_contains("not understood").is_none());
    assert_eq!(pitch(&harness), 46.0);
}

#[test]
fn outside_diameter_and_wall_stand_side_by_side() {
    let mut harness = open(None);
    press(&mut harness, Modifiers::NONE, Key::D);
    open_by_key(&mut harness, "Body of pot");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness
        .get_by_role_and_label(Role::SpinButton, "Body: outside diameter of pot")
        .type_text("50");
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::Tab);
    type_in(&mut harness, "Body: wall of pot", "2");
    let pot = harness.state().session().document.now().find("pot").unwrap();
    let vialwright::model::Form::Bulb(bulb) = pot.form else {
        panic!("the pot is a bulb")
    };
    assert_eq!((bulb.body.od_mm, bulb.body.wall_mm), (50.0, 2.0));
    assert_eq!(undo_words(&harness).as_deref(), Some("Body: wall of pot"));
}

#[test]
fn what_only_follows_from_others_says_so() {
    let mut apparatus = vialwright::model::file::read(include_str!("../../examples/rubidium-six.json")).unwrap();
    let bridge = apparatus
        .pieces
        .iter_mut()
        .find(|piece| piece.name == "bridge")
        .unwrap();
    if let vialwright::model::Form::Bridge(bridge) = &mut bridge.form {
        bridge.route = vialwright::model::Route::Straight;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("straight.json");
    std::fs::write(&path, vialwright::model::file::write(&apparatus)).unwrap();
    let mut harness = open(Some(path));
    press(&mut harness, Modifiers::NONE, Key::D);
    open_by_key(&mut harness, "Length of bridge");
    assert!(harness.query_by_label_contains("It follows from").is_some());
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(harness.query_by_label_contains("It follows from").is_none());
}

#[test]
fn dimensions_turn_with_the_glass() {
    let mut harness = open(None);
    press(&mut harness, Modifiers::NONE, Key::D);
    let ring = harness.get_by_label("Tilt ring").rect().center();
    let place = |harness: &Harness<'_, Held>| {
        let rect = harness.get_by_role_and_label(Role::Button, "Pitch of vial").rect();
        rect.center() - ring
    };
    let upright = place(&harness);
    enter(&mut harness, "Tilt", "40");
    let turned = place(&harness);
    let expected = egui::emath::Rot2::from_angle(-40.0_f32.to_radians()) * upright;
    assert!((turned - expected).length() < 3.0, "{turned:?} for {expected:?}");
}

#[test]
fn what_is_shown_is_remembered() {
    let folder = tempfile::tempdir().unwrap();
    let opening = || Opening {
        data_folder: Some(folder.path().to_owned()),
        ..Opening::default()
    };
    let mut harness = open_as(opening());
    let grid = harness.state().session().sheet.grid;
    press(&mut harness, Modifiers::NONE, Key::L);
    press(&mut harness, Modifiers::SHIFT, Key::L);
    press(&mut harness, Modifiers::NONE, Key::D);
    drop(harness);
    let harness = open_as(opening());
    let sheet = harness.state().session().sheet;
    assert_eq!((sheet.grid, sheet.rulers, sheet.dimensions), (!grid, true, true));
    assert!(sees(&harness, "Pitch of vial"));
}

#[test]
fn dimensions_and_rulers_follow_the_unit_of_length() {
    let mut harness = open(None);
    press(&mut harness, Modifiers::NONE, Key::D);
    let ctx = harness.ctx.clone();
    harness.state_mut().carry_out(&ctx, Command::Inches);
    harness.run();
    let shown = seen(&harness);
    assert!(
        shown.contains(&("Pitch of vial".to_owned(), "1.772 in".to_owned())),
        "{shown:#?}"
    );
    open_by_key(&mut harness, "Pitch of vial");
    type_in(&mut harness, "Pitch of vial", "2");
    assert_eq!(pitch(&harness), 50.8, "a number without a unit is meant in inches");
    open_by_key(&mut harness, "Pitch of vial");
    type_in(&mut harness, "Pitch of vial", "0.01");
    assert!(harness.query_by_label_contains("Must be 0.039 to 39.370 in").is_some());
    assert_eq!(pitch(&harness), 50.8);
}

#[test]
fn rulers_make_room_and_keep_it_while_the_glass_turns() {
    let mut harness = open(None);
    let before = harness.get_by_label("Tilt ring").rect();
    press(&mut harness, Modifiers::SHIFT, Key::L);
    let with = harness.get_by_label("Tilt ring").rect();
    assert!(with.top() > before.top() && with.width() < before.width());
    enter(&mut harness, "Tilt", "25");
    assert_eq!(harness.get_by_label("Tilt ring").rect(), with);
}

#[test]
fn the_wheel_keeps_what_lies_under_the_pointer_at_any_tilt() {
    let mut harness = open(None);
    for tilt in ["0", "37.5", "-120"] {
        enter(&mut harness, "Tilt", tilt);
        press(&mut harness, Modifiers::NONE, Key::Escape);
        press(&mut harness, Modifiers::NONE, Key::F);
        // The middle of a round body is the middle of its rectangle at any tilt and scale.
        let at = rect_of(&harness, "vial-4").center();
        let width = rect_of(&harness, "vial-4").width();
        wheel(&mut harness, at, 3, true);
        let after = rect_of(&harness, "vial-4");
        assert!(after.width() > width * 1.5);
        assert!(
            (after.center() - at).length() < 0.1,
            "{tilt}: {:?} for {at:?}",
            after.center()
        );
    }
}

#[test]
fn keys_move_the_paper_but_never_out_of_sight() {
    let mut harness = open(None);
    let before = rect_of(&harness, "pot");
    press(&mut harness, Modifiers::SHIFT, Key::PageUp);
    let moved = rect_of(&harness, "pot");
    assert!((moved.left() - before.left() - 60.0).abs() < 0.01);
    press(&mut harness, Modifiers::NONE, Key::PageUp);
    assert!((rect_of(&harness, "pot").top() - moved.top() - 60.0).abs() < 0.01);
    for _ in 0..60 {
        harness.key_press_modifiers(Modifiers::SHIFT, Key::PageDown);
        harness.step();
    }
    harness.run();
    assert!(harness.get_all_by_role(Role::GraphicsObject).count() > 0);
    assert_eq!(
        harness.state().session().stance,
        Stance::default(),
        "the glass was not turned"
    );
}

#[test]
fn true_size_is_measured_once_and_then_shown_by_a_key() {
    let mut harness = open(None);
    press(&mut harness, Modifiers::NONE, Key::Num1);
    let outline = harness.get_by_role_and_label(Role::Image, "Outline of a card").rect();
    assert!((outline.width() / outline.height() - 85.6 / 53.98).abs() < 0.01);
    enter(&mut harness, "Measured width of the outline", "107");
    let outline = harness.get_by_role_and_label(Role::Image, "Outline of a card").rect();
    let points_per_mm = outline.width() / 85.6;
    assert!(
        (points_per_mm - 96.0 / 25.4 * 85.6 / 107.0).abs() < 0.01,
        "{points_per_mm}"
    );
    harness.get_by_role_and_label(Role::Button, "Keep").click();
    harness.run();
    // The header's tube is 18 mm wide and lies level.
    let receiver = |harness: &Harness<'_, Held>| rect_of(harness, "receiver").width() / 40.0;
    assert!(
        (receiver(&harness) - points_per_mm).abs() < 0.02,
        "{}",
        receiver(&harness)
    );

    press(&mut harness, Modifiers::NONE, Key::F);
    assert!((receiver(&harness) - points_per_mm).abs() > 0.2);
    press(&mut harness, Modifiers::NONE, Key::Num1);
    assert!(
        harness
            .query_by_role_and_label(Role::Image, "Outline of a card")
            .is_none(),
        "it is asked but once"
    );
    assert!((receiver(&harness) - points_per_mm).abs() < 0.02);
}

#[test]
fn the_outline_is_fitted_by_keys_and_refuses_nonsense() {
    let mut harness = open(None);
    press(&mut harness, Modifiers::NONE, Key::Num1);
    let width = |harness: &Harness<'_, Held>| {
        harness
            .get_by_role_and_label(Role::Image, "Outline of a card")
            .rect()
            .width()
    };
    let before = width(&harness);
    harness
        .get_by_role_and_label(Role::Slider, "Size of the outline")
        .focus();
    harness.run();
    for _ in 0..5 {
        press(&mut harness, Modifiers::NONE, Key::ArrowRight);
    }
    assert!(width(&harness) > before);
    assert_eq!(
        harness.state().session().stance,
        Stance::default(),
        "the glass stays as it is"
    );
    let fitted = width(&harness);
    enter(&mut harness, "Measured width of the outline", "1");
    assert!(harness.query_by_label_contains("no narrower than").is_some());
    assert_eq!(width(&harness), fitted);
    harness.get_by_role_and_label(Role::Button, "Cancel").click();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::Num1);
    assert!((width(&harness) - before).abs() < 0.01, "nothing was kept");
}

#[test]
fn frame_times_are_told_without_a_frame_of_their_own() {
    let mut harness = open(None);
    assert!(harness.query_by_label("Frame times, ms").is_none());
    press(&mut harness, Modifiers::NONE, Key::F12);
    for label in ["Frame times, ms", "Scene", "Settling", "Window"] {
        assert!(harness.query_by_label(label).is_some(), "{label}");
    }
    let repaint = harness.output().viewport_output.values().map(|v| v.repaint_delay).min();
    assert_eq!(
        repaint,
        Some(std::time::Duration::MAX),
        "nothing asks for another frame"
    );
    press(&mut harness, Modifiers::NONE, Key::F12);
    assert!(harness.query_by_label("Frame times, ms").is_none());
}
