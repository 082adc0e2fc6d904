//! Handles of corners, bends and seal-off places: pulled, typed into, moved by keys.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use vialwright::model::{Element, Form, Route, file};

/// Chooses a piece by its node; the middle of a bridge is no glass.
fn choose(harness: &mut Harness<'_, Held>, piece: &str) {
    harness.get_by_role_and_label(Role::GraphicsObject, piece).focus();
    harness.run();
    press_key(harness, Key::Enter);
    assert_eq!(harness.state().session().selection.shown(), Some(piece));
}

/// The teaching example with its bridge led by two corners.
fn by_corners() -> (tempfile::TempDir, Harness<'static, Held>) {
    let text = include_str!("../../examples/teaching-three.json");
    let mut apparatus = file::read(text).unwrap();
    for piece in &mut apparatus.pieces {
        if let Form::Bridge(bridge) = &mut piece.form {
            bridge.route = Route::Via {
                corners_mm: vec![[0.0, 45.0], [120.0, 45.0]],
            };
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("corners.json");
    std::fs::write(&path, file::write(&apparatus)).unwrap();
    let harness = open(Some(path));
    (folder, harness)
}

fn corners(harness: &Harness<'_, Held>) -> Vec<[f64; 2]> {
    let Form::Bridge(bridge) = now(harness).piece("bridge").unwrap().form.clone() else {
        panic!("a bridge")
    };
    match bridge.route {
        Route::Via { corners_mm } => corners_mm,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_corners_of_a_bridge_are_pulled_typed_and_moved_by_keys() {
    let (_folder, mut harness) = by_corners();
    let start = bytes(&harness);
    choose(&mut harness, "bridge");
    let mm = on_screen(&harness, 1.0, 1.0) - on_screen(&harness, 0.0, 0.0);
    let from = harness.get_by_role_and_label(Role::Button, "Corner 2").rect().center();
    pull(&mut harness, from, from + vec2(mm.x * 10.0, mm.y * 6.0));
    assert_eq!(corners(&harness)[1], [130.0, 51.0], "it moves with the hand");
    for field in ["Corner 2: right", "Corner 2: up"] {
        assert!(
            harness.query_all_by_label(field).count() >= 2,
            "{field} stands beside the hand"
        );
    }
    let_go(&mut harness, from + vec2(mm.x * 10.0, mm.y * 6.0));
    assert_eq!(undo_words(&harness).as_deref(), Some("Move corner 2 of bridge"));
    undo(&mut harness);
    assert!(bytes(&harness) == start, "one step takes both numbers back");

    // Typed while it is held.
    pull(&mut harness, from, from + vec2(mm.x * 10.0, 0.0));
    type_text(&mut harness, "125.5");
    let_go(&mut harness, from + vec2(mm.x * 10.0, 0.0));
    press_key(&mut harness, Key::Enter);
    assert_eq!(corners(&harness)[1], [125.5, 45.0]);
    undo(&mut harness);
    assert!(bytes(&harness) == start);

    harness.get_by_role_and_label(Role::Button, "Corner 1").focus();
    harness.run();
    press_key(&mut harness, Key::ArrowUp);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::ArrowLeft);
    harness.run();
    assert_eq!(corners(&harness)[0], [-10.0, 46.0]);
    let told = harness.get_by_role_and_label(Role::Button, "Corner 1").value();
    assert_eq!(told.as_deref(), Some("Corner 1: right −10.0 mm, up 46.0 mm"));
}

#[test]
fn the_bends_of_a_tube_and_of_a_bridge_have_handles() {
    let mut harness = teaching();
    choose(&mut harness, "header");
    let placed = now(&harness).place().unwrap();
    let header = &placed.lines[placed.index("header").unwrap()];
    // The sides of the bend of 20 degrees at 40 mm meet 40 tan 10° = 7.053 mm after its start.
    let start = header.spot(42.0);
    let corner = start.at + vialwright::model::place::direction(20.0) * 7.053;
    let from = handle(&harness, "2, bend: angle");
    let about = on_screen(&harness, corner.x, corner.y);
    let arm = from - about;
    // On by 25 degrees clockwise on the screen, to the usual angle of 45.
    let (sin, cos) = 24.0_f32.to_radians().sin_cos();
    let to = about + vec2(arm.x * cos - arm.y * sin, arm.x * sin + arm.y * cos);
    drag(&mut harness, from, to);
    let bend = |harness: &Harness<'_, Held>| match now(harness).piece("header").unwrap().form.clone() {
        Form::Tube(tube) => tube.course[1],
        _ => panic!("a tube"),
    };
    let is_45 = |element: &Element| matches!(element, Element::Bend { angle_deg, .. } if *angle_deg == -45.0);
    assert!(is_45(&bend(&harness)), "{:?}", bend(&harness));
    assert_eq!(undo_words(&harness).as_deref(), Some("2, bend: angle of header"));

    // The middle of the bend follows the hand: it lies 2 sin(45°/4) = 0.3902 of the radius from its start.
    let from = handle(&harness, "2, bend: radius");
    let mm = f64::from(on_screen(&harness, 100.0, 0.0).x - on_screen(&harness, 0.0, 0.0).x) / 100.0;
    let chord = vialwright::model::place::direction(20.0 - 45.0 / 4.0) * (0.3902 * 20.0 * mm);
    #[allow(clippy::cast_possible_truncation, reason = "a way on the screen")]
    drag(&mut harness, from, from + vec2(chord.x as f32, -chord.y as f32));
    let Element::Bend { radius_mm, .. } = bend(&harness) else {
        panic!("a bend")
    };
    assert!((radius_mm - 60.0).abs() <= 1.0, "{radius_mm}");

    choose(&mut harness, "bridge");
    // The middle of a square bend lies (sqrt 2 - 1) of the radius from the corner.
    let from = handle(&harness, "Bend radius");
    let way = (mm * 10.0 * (2.0_f64.sqrt() - 1.0) / 2.0_f64.sqrt()) as f32;
    drag(&mut harness, from, from + vec2(way, way));
    let Form::Bridge(bridge) = now(&harness).piece("bridge").unwrap().form.clone() else {
        panic!("a bridge")
    };
    assert!((bridge.bend_radius_mm - 40.0).abs() <= 1.0, "{}", bridge.bend_radius_mm);
}

#[test]
fn the_seal_off_place_is_pulled_along_the_neck() {
    let mut harness = teaching();
    let start = bytes(&harness);
    choose(&mut harness, "vial-2");
    let mm = (along(&harness, "vial-2", 80.0) - along(&harness, "vial-2", 0.0)) / 80.0;
    let from = handle(&harness, "Neck: seal-off place");
    drag(&mut harness, from, from + mm * 4.0);
    assert_eq!(now(&harness).rows[0].pattern.seal_mm, 13.0);
    assert_eq!(undo_words(&harness).as_deref(), Some("Neck: seal-off place of vial-2"));
    undo(&mut harness);
    assert!(bytes(&harness) == start);
    // A click opens it to be typed into; what is refused says why beside it.
    let at = handle(&harness, "Neck: seal-off place");
    click_at(&mut harness, at);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    type_text(&mut harness, "-3");
    press_key(&mut harness, Key::Enter);
    assert!(bytes(&harness) == start);
    assert!(says(&harness, "Must be"));
}
