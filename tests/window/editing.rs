//! Drawing and editing on the bench, with the pointer and with keys alone.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use vialwright::model::{Apparatus, Element, Form, Route, Seat, file};

fn selected(harness: &Harness<'_, Held>) -> Vec<String> {
    harness.state().session().selection.names().to_vec()
}

/// Place along the host, and turn from it.
fn seat_of(harness: &Harness<'_, Held>, piece: &str) -> (String, f64, f64) {
    let piece = now(harness).find(piece).unwrap();
    let place = piece.seat.places().next().unwrap();
    (place.host.clone(), place.at_mm, place.turn_deg)
}

/// Takes an item of the tray in hand.
fn take(harness: &mut Harness<'_, Held>, item: &str) {
    harness.get_by_role_and_label(Role::Button, item).click();
    harness.run();
}

/// Puts the item in hand at a position.
fn put_at(harness: &mut Harness<'_, Held>, at: Pos2) {
    click_at(harness, at);
}

#[test]
fn pieces_are_put_by_the_pointer_square_to_the_host_on_its_side() {
    let mut harness = teaching();
    let below = along(&harness, "header", 60.0) + vec2(0.0, 14.0);
    take(&mut harness, "Ampoule");
    put_at(&mut harness, below);
    let (host, at, turn) = seat_of(&harness, "ampoule");
    assert_eq!((host.as_str(), turn), ("header", -90.0));
    assert!(at.fract() == 0.0 && (at - 60.0).abs() <= 1.0, "{at}");
    assert_eq!(selected(&harness), ["ampoule"]);
    assert_eq!(undo_words(&harness).as_deref(), Some("Add ampoule"));

    let above = along(&harness, "header", 150.0) - vec2(0.0, 14.0);
    take(&mut harness, "Vacuum port");
    put_at(&mut harness, above);
    assert_eq!(seat_of(&harness, "pump").2, 90.0);

    let empty = on_screen(&harness, -30.0, -60.0);
    take(&mut harness, "Bulb");
    put_at(&mut harness, empty);
    let Seat::Free {
        x_mm,
        y_mm,
        heading_deg,
    } = now(&harness).piece("bulb").unwrap().seat
    else {
        panic!("the bulb stands free")
    };
    assert!(
        (x_mm + 30.0).abs() <= 1.0 && (y_mm + 60.0).abs() <= 1.0,
        "{x_mm} {y_mm}"
    );
    assert_eq!(heading_deg, -90.0);
    for _ in 0..3 {
        undo(&mut harness);
    }
    assert!(!harness.state().session().document.is_unsaved());
}

#[test]
fn what_is_in_hand_is_turned_by_wheel_and_key_and_let_go_by_escape() {
    let mut harness = teaching();
    let start = bytes(&harness);
    let below = along(&harness, "header", 60.0) + vec2(0.0, 14.0);
    take(&mut harness, "Ampoule");
    harness.hover_at(below);
    harness.run();
    harness.event(Event::MouseWheel {
        unit: egui::MouseWheelUnit::Line,
        delta: vec2(0.0, -1.0),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: Modifiers::NONE,
    });
    harness.run();
    press_key(&mut harness, Key::E);
    press_key(&mut harness, Key::Q);
    press_key(&mut harness, Key::E);
    assert!(bytes(&harness) == start, "a ghost is no change");
    put_at(&mut harness, below);
    assert_eq!(seat_of(&harness, "ampoule").2, -120.0);

    let start = bytes(&harness);
    take(&mut harness, "Tube");
    harness.hover_at(below);
    harness.run();
    press_key(&mut harness, Key::Escape);
    assert_eq!(selected(&harness), ["ampoule"], "the first escape lets go, and no more");
    click_at(&mut harness, below + vec2(0.0, 90.0));
    assert!(bytes(&harness) == start, "nothing is in hand");
}

#[test]
fn a_tube_is_drawn_out_and_a_bridge_is_pulled() {
    let mut harness = teaching();
    let (from, to) = (on_screen(&harness, -120.0, -60.0), on_screen(&harness, -40.0, -61.5));
    take(&mut harness, "Tube");
    drag(&mut harness, from, to);
    let tube = now(&harness).piece("tube").unwrap().clone();
    let Form::Tube(form) = &tube.form else { panic!("a tube") };
    let [Element::Straight { length_mm }] = form.course[..] else {
        panic!("straight")
    };
    assert!(
        length_mm.fract() == 0.0 && (length_mm - 80.0).abs() <= 1.0,
        "{length_mm}"
    );
    let Seat::Free { heading_deg, .. } = tube.seat else {
        panic!("free")
    };
    assert_eq!(heading_deg, 0.0, "the usual angle nearby");

    take(&mut harness, "Bridge");
    let (from, to) = (along(&harness, "tube", 20.0), along(&harness, "header", 150.0));
    drag(&mut harness, from, to);
    let bridge = now(&harness).piece("bridge-2").unwrap();
    let places: Vec<_> = bridge
        .seat
        .places()
        .map(|place| (place.host.as_str(), place.turn_deg))
        .collect();
    assert_eq!(places, [("tube", 90.0), ("header", 90.0)]);
    let Form::Bridge(form) = &bridge.form else {
        panic!("a bridge")
    };
    assert!(matches!(form.route, Route::Arched { .. }));
    assert!(now(&harness).place().unwrap().strains.is_empty());

    let start = bytes(&harness);
    take(&mut harness, "Bridge");
    let air = on_screen(&harness, 60.0, -80.0);
    drag(&mut harness, to, air);
    assert!(bytes(&harness) == start, "a bridge does not end in the air");
}

#[test]
fn a_piece_is_drawn_out_of_the_tray() {
    let mut harness = teaching();
    let from = harness.get_by_role_and_label(Role::Button, "Ampoule").rect().center();
    let to = along(&harness, "header", 60.0) + vec2(0.0, 12.0);
    drag(&mut harness, from, to);
    assert_eq!(seat_of(&harness, "ampoule").0, "header");
}

#[test]
fn a_manifold_is_sketched_with_keys_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.json");
    std::fs::write(&path, file::write(&Apparatus::default())).unwrap();
    let mut harness = open(Some(path));
    let choose = |harness: &mut Harness<'_, Held>, item: &str| {
        harness.get_by_role_and_label(Role::Button, item).focus();
        harness.run();
        press_key(harness, Key::Enter);
    };
    choose(&mut harness, "Tube");
    assert_eq!(selected(&harness), ["tube"]);
    press_key(&mut harness, Key::F2);
    type_text(&mut harness, "header");
    press_key(&mut harness, Key::Enter);
    assert_eq!(selected(&harness), ["header"]);

    choose(&mut harness, "Row of ampoules");
    let row = now(&harness).rows[0].clone();
    assert_eq!(
        (row.name.as_str(), row.first.host.as_str(), row.first.turn_deg),
        ("vial", "header", -90.0)
    );
    // The new piece has the focus, so the arrows move it at once.
    let at = row.first.at_mm;
    press_key(&mut harness, Key::ArrowRight);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::ArrowLeft);
    harness.run();
    let moved = now(&harness).rows[0].first.at_mm;
    assert!((moved - (at + 1.0 + 0.1 - 10.0)).abs() < 1e-9, "{moved} from {at}");
    let words = undo_words(&harness).unwrap();
    assert!(
        words.starts_with("Move vial to ") && words.ends_with(" on header"),
        "{words}"
    );

    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    press_key(&mut harness, Key::Escape);
    choose(&mut harness, "Bulb");
    assert!(matches!(now(&harness).piece("bulb").unwrap().seat, Seat::Free { .. }));
    // A bridge without a pointer asks for its two pieces.
    choose(&mut harness, "Bridge");
    assert!(says(&harness, "Bridge between two pieces"));
    press_key(&mut harness, Key::Escape);
    assert!(!says(&harness, "Bridge between two pieces"));
    harness.get_by_role_and_label(Role::GraphicsObject, "header").focus();
    harness.run();
    press_key(&mut harness, Key::Enter);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    assert_eq!(selected(&harness).len(), 2 + row.count);
    assert!(now(&harness).place().is_ok());
}

#[test]
fn a_drag_along_the_host_is_one_step_with_good_words() {
    let mut harness = teaching();
    let start = bytes(&harness);
    let (from, to) = (along(&harness, "vent", 40.0), along(&harness, "header", 180.0));
    let held = from - along(&harness, "header", 232.0);
    drag(&mut harness, from, to + held);
    let (_, at, turn) = seat_of(&harness, "vent");
    assert!(at.fract() == 0.0 && (at - 180.0).abs() <= 1.0, "{at}");
    assert_eq!(turn, 90.0);
    assert_eq!(undo_words(&harness), Some(format!("Move vent to {at} mm on header")));
    undo(&mut harness);
    assert!(bytes(&harness) == start, "one step takes all of it back");
    assert_eq!(undo_words(&harness), None);
}

#[test]
fn escape_abandons_a_drag() {
    let mut harness = teaching();
    let start = bytes(&harness);
    let from = along(&harness, "vent", 40.0);
    pull(&mut harness, from, from - vec2(80.0, 0.0));
    assert!(bytes(&harness) != start, "it moves with the hand");
    press_key(&mut harness, Key::Escape);
    assert!(bytes(&harness) == start);
    harness.hover_at(from - vec2(120.0, 0.0));
    harness.run();
    let_go(&mut harness, from - vec2(120.0, 0.0));
    assert!(bytes(&harness) == start, "and stays where it was");
    let bridge = along(&harness, "bridge", 60.0);
    pull(&mut harness, bridge, bridge + vec2(30.0, 0.0));
    let_go(&mut harness, bridge + vec2(30.0, 0.0));
    assert!(bytes(&harness) == start, "a bridge has no place of its own");
    select(&mut harness, "vent");
    assert_eq!(undo_words(&harness), None);
    assert_eq!(selected(&harness), ["vent"]);
}

#[test]
fn snapping_is_suspended_while_a_key_is_held() {
    let mut harness = teaching();
    let from = along(&harness, "vent", 40.0);
    let by = vec2(-50.3, 0.0);
    pull(&mut harness, from, from + by);
    assert!(seat_of(&harness, "vent").1.fract() == 0.0);
    hold(&mut harness, Modifiers::ALT);
    let fine = seat_of(&harness, "vent").1;
    assert!(
        fine.fract() != 0.0 && (fine * 10.0 - (fine * 10.0).round()).abs() < 1e-9,
        "{fine}"
    );
    hold(&mut harness, Modifiers::NONE);
    assert!(seat_of(&harness, "vent").1.fract() == 0.0);
    let_go(&mut harness, from + by);
}

#[test]
fn the_number_of_a_drag_can_be_typed_during_and_after_it() {
    let mut harness = teaching();
    let start = bytes(&harness);
    let from = along(&harness, "vent", 40.0);
    pull(&mut harness, from, from - vec2(60.0, 0.0));
    type_text(&mut harness, "2");
    type_text(&mut harness, "00.5");
    harness.hover_at(from - vec2(90.0, 0.0));
    harness.run();
    let_go(&mut harness, from - vec2(90.0, 0.0));
    press_key(&mut harness, Key::Enter);
    assert_eq!(seat_of(&harness, "vent").1, 200.5);
    assert_eq!(undo_words(&harness).as_deref(), Some("Move vent to 200.5 mm on header"));
    undo(&mut harness);
    assert!(bytes(&harness) == start, "drag and number are one step");

    drag(&mut harness, from, from - vec2(60.0, 0.0));
    type_text(&mut harness, "3");
    press_key(&mut harness, Key::Escape);
    let dragged = seat_of(&harness, "vent").1;
    assert!(
        dragged != 232.0 && dragged != 3.0,
        "what was typed and left is not taken: {dragged}"
    );
}

#[test]
fn a_number_that_is_refused_says_why_beside_the_hand() {
    let mut harness = teaching();
    let start = bytes(&harness);
    let from = along(&harness, "vent", 40.0);
    pull(&mut harness, from, from - vec2(60.0, 0.0));
    type_text(&mut harness, "99999");
    let_go(&mut harness, from - vec2(60.0, 0.0));
    press_key(&mut harness, Key::Enter);
    assert!(says(&harness, "Must be"));
    assert!(bytes(&harness) == start);
}

#[test]
fn handles_of_an_ampoule_lengthen_widen_and_turn_it() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "vial-2");
    let (from, along_vial) = (handle(&harness, "Body: straight length"), {
        let (a, b) = (along(&harness, "vial-2", 0.0), along(&harness, "vial-2", 80.0));
        (b - a) / 80.0
    });
    drag(&mut harness, from, from + along_vial * 12.0);
    let length = now(&harness).rows[0].pattern.body_mm;
    assert!(length.fract() == 0.0 && (length - 33.0).abs() <= 1.0, "{length}");
    assert_eq!(undo_words(&harness).as_deref(), Some("Body: straight length of vial-2"));
    undo(&mut harness);
    assert!(bytes(&harness) == start);

    let from = handle(&harness, "Body: outside diameter");
    let across = vec2(-along_vial.y, along_vial.x);
    let out = if (from - along(&harness, "vial-2", 80.0)).dot(across) > 0.0 {
        across
    } else {
        -across
    };
    drag(&mut harness, from, from + out * 2.2);
    let body = now(&harness).rows[0].pattern.body;
    assert!(
        vialwright::data::stock(body.od_mm, body.wall_mm).is_some(),
        "{body:?} is no stock size"
    );
    assert_eq!(body.od_mm, 20.0, "twice the way on top of 16 mm");
    undo(&mut harness);

    let from = handle(&harness, "First member: turn from the host");
    let start_at = along(&harness, "vial-2", 0.0);
    let arm = from - start_at;
    // By 21 degrees anticlockwise on the screen: from -110 to about -89, so to -90.
    let (sin, cos) = (-21.0_f32).to_radians().sin_cos();
    let to = start_at + vec2(arm.x * cos - arm.y * sin, arm.x * sin + arm.y * cos);
    drag(&mut harness, from, to);
    assert_eq!(now(&harness).rows[0].first.turn_deg, -90.0);
    assert_eq!(undo_words(&harness).as_deref(), Some("Turn vial to −90°"));
    undo(&mut harness);
    assert!(bytes(&harness) == start);
}

#[test]
fn a_row_has_handles_for_pitch_and_count() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "vial-1");
    let mm = (along(&harness, "header", 200.0) - along(&harness, "header", 100.0)) / 100.0;
    let from = handle(&harness, "Pitch");
    drag(&mut harness, from, from - mm * 8.0);
    assert_eq!(now(&harness).rows[0].pitch_mm, 40.0);
    assert_eq!(undo_words(&harness).as_deref(), Some("Pitch of vial"));
    let from = handle(&harness, "Members");
    drag(&mut harness, from, from + mm * 40.0);
    assert_eq!(now(&harness).rows[0].count, 4);
    let from = handle(&harness, "Members");
    drag(&mut harness, from, from - mm * 120.0);
    assert_eq!(now(&harness).rows[0].count, 1);
    for _ in 0..3 {
        undo(&mut harness);
    }
    assert!(bytes(&harness) == start);
}

#[test]
fn handles_work_by_keys_and_for_assistive_tools() {
    let mut harness = teaching();
    select(&mut harness, "vial-2");
    harness
        .get_by_role_and_label(Role::Slider, "Body: straight length")
        .focus();
    harness.run();
    press_key(&mut harness, Key::ArrowUp);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::ArrowRight);
    harness.run();
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    harness.run();
    let length = now(&harness).rows[0].pattern.body_mm;
    assert!((length - 31.9).abs() < 1e-9, "{length}");
    let slider = harness.get_by_role_and_label(Role::Slider, "Body: straight length");
    assert_eq!(
        slider.accesskit_node().value().as_deref(),
        Some("Body: straight length 31.9 mm")
    );
    slider.set_value_accesskit(25.0);
    harness.run();
    assert_eq!(now(&harness).rows[0].pattern.body_mm, 25.0);
    // A click on a handle opens its number.
    let at = handle(&harness, "Body: straight length");
    click_at(&mut harness, at);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    type_text(&mut harness, "1 in");
    press_key(&mut harness, Key::Enter);
    assert_eq!(now(&harness).rows[0].pattern.body_mm, 25.4);
}

#[test]
fn handles_follow_the_glass_when_it_is_tilted() {
    let mut harness = teaching();
    enter(&mut harness, "Tilt", "-35");
    let from = along(&harness, "vent", 40.0);
    let way = along(&harness, "header", 200.0) - along(&harness, "header", 232.0);
    drag(&mut harness, from, from + way);
    let (_, at, _) = seat_of(&harness, "vent");
    assert!((at - 200.0).abs() <= 1.0, "{at}");
    let mm = (along(&harness, "vent", 40.0) - along(&harness, "vent", 20.0)) / 20.0;
    let from = handle(&harness, "Length");
    drag(&mut harness, from, from + mm * 10.0);
    let Form::Fitting(fitting) = now(&harness).piece("vent").unwrap().form.clone() else {
        panic!("a fitting")
    };
    assert!((fitting.length_mm - 60.0).abs() <= 1.0, "{}", fitting.length_mm);
    // The header falls to the right: the arrow downwards moves on along it.
    press_key(&mut harness, Key::ArrowDown);
    assert_eq!(seat_of(&harness, "vent").1, at + 1.0);
    press_key(&mut harness, Key::ArrowLeft);
    assert_eq!(seat_of(&harness, "vent").1, at);
}

#[test]
fn arrows_move_what_is_selected_and_turn_the_glass_when_nothing_is() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "vent");
    press_key(&mut harness, Key::ArrowLeft);
    assert_eq!(seat_of(&harness, "vent").1, 231.0);
    assert_eq!(harness.state().session().stance.tilt_deg, 0.0);
    harness.key_press_modifiers(Modifiers::ALT, Key::ArrowLeft);
    harness.run();
    assert_eq!(
        harness.state().session().stance.tilt_deg,
        1.0,
        "with alt the glass turns all the same"
    );
    // A key that is held is one step.
    for _ in 0..5 {
        harness.key_down(Key::ArrowLeft);
        harness.run();
    }
    harness.key_up(Key::ArrowLeft);
    harness.run();
    assert_eq!(seat_of(&harness, "vent").1, 226.0);
    undo(&mut harness);
    assert_eq!(seat_of(&harness, "vent").1, 231.0);
    undo(&mut harness);
    assert!(bytes(&harness) == start);
    press_key(&mut harness, Key::Escape);
    press_key(&mut harness, Key::ArrowLeft);
    assert_eq!(harness.state().session().stance.tilt_deg, 2.0);
    assert!(bytes(&harness) == start);
}

#[test]
fn a_frame_catches_what_lies_within_and_a_plain_drag_pans() {
    let mut harness = teaching();
    let start = bytes(&harness);
    let vials = ["vial-1", "vial-2", "vial-3"];
    let rects = vials.map(|name| harness.get_by_role_and_label(Role::GraphicsObject, name).rect());
    let all = rects[0].union(rects[1]).union(rects[2]).expand(4.0);
    // From below the header, where the bench is empty, so that only the vials lie wholly within.
    let (from, to) = (all.left_bottom(), all.right_top());
    hold(&mut harness, Modifiers::SHIFT);
    drag(&mut harness, from, to);
    hold(&mut harness, Modifiers::NONE);
    assert_eq!(selected(&harness), vials);

    let before = harness.get_by_role_and_label(Role::GraphicsObject, "pot").rect();
    drag(&mut harness, from, from + vec2(25.0, 10.0));
    let after = harness.get_by_role_and_label(Role::GraphicsObject, "pot").rect();
    assert!((after.center() - before.center() - vec2(25.0, 10.0)).length() < 1.0);
    assert!(bytes(&harness) == start);

    press_key(&mut harness, Key::Escape);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    assert_eq!(selected(&harness), now(&harness).names());
    press_key(&mut harness, Key::Escape);
    press_key(&mut harness, Key::N);
    press_key(&mut harness, Key::N);
    assert_eq!(selected(&harness), ["pot"]);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::N);
    harness.run();
    assert_eq!(selected(&harness), ["receiver"]);
}

#[test]
fn several_pieces_move_together() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "vent");
    hold(&mut harness, Modifiers::COMMAND);
    let vial = along(&harness, "vial-2", 70.0);
    click_at(&mut harness, vial);
    hold(&mut harness, Modifiers::NONE);
    assert_eq!(selected(&harness), ["vent", "vial-2"]);
    let from = along(&harness, "vent", 40.0);
    let mm = (along(&harness, "header", 200.0) - along(&harness, "header", 100.0)) / 100.0;
    drag(&mut harness, from, from - mm * 10.0);
    let (vent, row) = (seat_of(&harness, "vent").1, now(&harness).rows[0].first.at_mm);
    assert!((vent - 222.0).abs() <= 1.0, "{vent}");
    assert!((row - 94.0 - (vent - 232.0)).abs() < 0.02, "{row}");
    assert_eq!(undo_words(&harness).as_deref(), Some("Move 2 pieces"));
    undo(&mut harness);
    assert!(bytes(&harness) == start);
}

/// What the program put on the clipboard in the last frame.
fn clipboard(harness: &Harness<'_, Held>) -> Option<String> {
    harness
        .output()
        .platform_output
        .commands
        .iter()
        .find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        })
}

#[test]
fn copies_are_pasted_beside_or_on_the_selected_host() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "vent");
    harness.event(Event::Copy);
    harness.step();
    let text = clipboard(&harness).unwrap();
    harness.run();
    assert_eq!(
        file::read(&text).unwrap().names(),
        ["vent"],
        "the clipboard holds a design"
    );
    harness.event(Event::Paste(text.clone()));
    harness.run();
    // The original is still selected: the copy goes beside it.
    assert_eq!(seat_of(&harness, "vent-2").0, "header");
    undo(&mut harness);
    select(&mut harness, "header");
    harness.event(Event::Paste(text));
    harness.run();
    let (host, at, turn) = seat_of(&harness, "vent-2");
    assert_eq!((host.as_str(), turn), ("header", 90.0));
    assert!((at - 232.0).abs() > 10.0, "{at}");
    assert_eq!(selected(&harness), ["vent-2"]);
    assert_eq!(undo_words(&harness).as_deref(), Some("Paste vent-2"));
    undo(&mut harness);
    assert!(bytes(&harness) == start);

    select(&mut harness, "receiver");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::D);
    harness.run();
    let names = now(&harness).names();
    for name in ["receiver-2", "header-2", "vent-2", "vial-b-3"] {
        assert!(names.iter().any(|other| other == name), "{name} of {names:?}");
    }
    undo(&mut harness);
    assert!(bytes(&harness) == start);
    // By the menu, where the clipboard can't be read: what was copied last goes beside the original.
    press_key(&mut harness, Key::Escape);
    harness.get_by_label("Edit").click();
    harness.run();
    harness.get_by_role_and_label(Role::MenuItem, "Paste").click();
    harness.run();
    assert_eq!(seat_of(&harness, "vent-2").0, "header");
    undo(&mut harness);
    assert!(bytes(&harness) == start);
    harness.event(Event::Paste("no design at all".into()));
    harness.run();
    assert!(says(&harness, "holds no pieces"));
    assert!(bytes(&harness) == start);
}

#[test]
fn cut_and_paste_brings_everything_back() {
    let mut harness = teaching();
    select(&mut harness, "vent");
    harness.event(Event::Cut);
    harness.step();
    let text = clipboard(&harness).unwrap();
    harness.run();
    assert!(now(&harness).piece("vent").is_none());
    assert_eq!(undo_words(&harness).as_deref(), Some("Cut vent"));
    assert!(selected(&harness).is_empty());
    harness.event(Event::Paste(text));
    harness.run();
    assert_eq!(seat_of(&harness, "vent"), ("header".to_owned(), 232.0, 90.0));
    select(&mut harness, "pot");
    harness.event(Event::Cut);
    harness.run();
    assert!(
        says(&harness, "1 piece joined to others went without a copy"),
        "the bridge is not lost unsaid"
    );
    undo(&mut harness);
    assert!(now(&harness).piece("bridge").is_some());
}

#[test]
fn the_selection_or_the_whole_drawing_is_mirrored() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "vent");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::M);
    harness.run();
    assert_eq!(seat_of(&harness, "vent").2, -90.0);
    assert_eq!(undo_words(&harness).as_deref(), Some("Mirror vent"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::M);
    harness.run();
    assert!(bytes(&harness) == start, "twice in the mirror");
    harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::M);
    harness.run();
    let Seat::Free { x_mm, .. } = now(&harness).piece("pot").unwrap().seat else {
        panic!("free")
    };
    assert_eq!(x_mm, 120.0);
    for _ in 0..3 {
        undo(&mut harness);
    }
    assert!(bytes(&harness) == start);
}

#[test]
fn turning_keys_turn_the_selected_piece() {
    let mut harness = teaching();
    select(&mut harness, "vent");
    press_key(&mut harness, Key::Q);
    assert_eq!(seat_of(&harness, "vent").2, 105.0);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::E);
    harness.run();
    assert_eq!(seat_of(&harness, "vent").2, 104.0);
    assert_eq!(undo_words(&harness).as_deref(), Some("Turn vent to 104°"));
}

#[test]
fn removing_a_host_asks_first_and_undo_brings_all_back() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "header");
    press_key(&mut harness, Key::Delete);
    assert!(bytes(&harness) == start, "nothing goes unasked");
    assert!(says(&harness, "Remove header and 4 pieces that sit on it?"));
    press_key(&mut harness, Key::Escape);
    assert!(!says(&harness, "pieces that sit on it?"));
    assert_eq!(selected(&harness), ["header"], "leaving leaves everything");

    press_key(&mut harness, Key::Backspace);
    assert!(says(&harness, "Remove header and 4 pieces that sit on it?"));
    // The answer has the focus.
    press_key(&mut harness, Key::Enter);
    assert_eq!(now(&harness).names(), ["receiver", "pot", "bridge"]);
    assert_eq!(undo_words(&harness).as_deref(), Some("Remove header"));
    undo(&mut harness);
    assert!(bytes(&harness) == start, "undo brings all of it back");

    select(&mut harness, "vent");
    press_key(&mut harness, Key::Delete);
    assert!(now(&harness).piece("vent").is_none(), "what bears nothing goes at once");
    select(&mut harness, "vial-2");
    press_key(&mut harness, Key::Delete);
    assert_eq!(now(&harness).rows[0].count, 2, "a member is taken out of its row");
    undo(&mut harness);
    undo(&mut harness);
    assert!(bytes(&harness) == start);
}

#[test]
fn a_name_is_written_anew_in_its_place() {
    let mut harness = teaching();
    let start = bytes(&harness);
    select(&mut harness, "header");
    press_key(&mut harness, Key::F2);
    let write = |harness: &mut Harness<'_, Held>, text: &str| {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        type_text(harness, text);
        press_key(harness, Key::Enter);
    };
    write(&mut harness, "pot");
    assert!(says(&harness, "is used before"));
    assert!(bytes(&harness) == start);
    write(&mut harness, "trough");
    assert!(!says(&harness, "is used before"));
    assert_eq!(selected(&harness), ["trough"]);
    assert_eq!(now(&harness).rows[0].first.host, "trough");
    undo(&mut harness);
    assert!(bytes(&harness) == start);

    // A double click on a name that stands on the bench; a member renames its row.
    let foot = harness.get_by_role_and_label(Role::GraphicsObject, "vial-2").rect();
    select(&mut harness, "pot");
    let name = foot.center_bottom() + vec2(-10.0, 14.0);
    click_at(&mut harness, name);
    assert_eq!(selected(&harness), ["vial-2"], "a name stands for its piece");
    harness.key_press(Key::F2);
    harness.run();
    write(&mut harness, "phial");
    assert_eq!(now(&harness).rows[0].name, "phial");
    assert_eq!(selected(&harness), ["phial-2"]);
    press_key(&mut harness, Key::F2);
    press_key(&mut harness, Key::Escape);
    assert_eq!(now(&harness).rows[0].name, "phial");
}

#[test]
fn the_menu_of_a_piece_opens_by_pointer_and_by_key() {
    let mut harness = teaching();
    let at = along(&harness, "vent", 30.0);
    harness.hover_at(at);
    harness.run();
    for pressed in [true, false] {
        harness.event(Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Secondary,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }
    harness.run();
    assert_eq!(selected(&harness), ["vent"]);
    harness.get_by_label_contains("Duplicate vent").click();
    harness.run();
    assert!(now(&harness).piece("vent-2").is_some());
    assert!(!says(&harness, "Duplicate vent"), "the menu has closed");

    select(&mut harness, "vent");
    press_key(&mut harness, Key::Menu);
    assert!(harness.get_by_label_contains("Rename vent").is_focused());
    harness.get_by_label("Make it a").click();
    harness.run();
    harness.get_by_label("Stopcock").click();
    harness.run();
    assert_eq!(undo_words(&harness).as_deref(), Some("Make vent a stopcock"));
}
