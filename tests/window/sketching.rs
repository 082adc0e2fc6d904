//! The apparatus of the teaching example, drawn on an empty bench with the pointer and keys alone, number by number.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, Pos2, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use vialwright::app::Opening;
use vialwright::model::{Form, Route};

type Window = Harness<'static, Held>;

/// Replaces what stands in the field that has the focus and leaves it with Enter.
fn replace(harness: &mut Window, text: &str) {
    press(harness, Modifiers::COMMAND, Key::A);
    type_text(harness, text);
    press(harness, Modifiers::NONE, Key::Enter);
}

fn click(harness: &mut Window, role: Role, label: &str) {
    harness.get_by_role_and_label(role, label).scroll_to_me();
    harness.run();
    let at = harness.get_by_role_and_label(role, label).rect().center();
    click_at(harness, at);
}

/// Clicks a field, types into it and leaves it with Enter.
fn write(harness: &mut Window, role: Role, label: &str, text: &str) {
    click(harness, role, label);
    replace(harness, text);
}

fn size(harness: &mut Window, label: &str, text: &str) {
    write(harness, Role::EditableComboBox, label, text);
}

/// Opens a list and clicks one of its choices.
fn choose(harness: &mut Window, list: &str, word: &str) {
    let is_box = harness.query_by_role_and_label(Role::ComboBox, list).is_some();
    click(harness, if is_box { Role::ComboBox } else { Role::Button }, list);
    click(harness, Role::ListBoxOption, word);
}

/// Writes another name in its place on the bench.
fn rename(harness: &mut Window, name: &str) {
    press(harness, Modifiers::NONE, Key::F2);
    replace(harness, name);
    let shown = harness.state().session().selection.shown().unwrap();
    assert!(shown.starts_with(name), "{shown} for {name}");
}

/// Pulls a handle by a way on the screen.
fn pull(harness: &mut Window, handle: &str, way: Vec2) {
    let from = harness.get_by_role_and_label(Role::Slider, handle).rect().center();
    drag(harness, from, from + way);
}

/// A millimetre along a piece, on the screen.
fn mm_along(harness: &Window, piece: &str) -> Vec2 {
    (along(harness, piece, 40.0) - along(harness, piece, 20.0)) / 20.0
}

/// An empty bench, titled.
fn blank_bench() -> Window {
    let mut harness = open_as(Opening::default());
    press(&mut harness, Modifiers::COMMAND, Key::N);
    harness.get_by_label("Blank").click();
    harness.run();
    assert!(now(&harness).pieces.is_empty());
    write(
        &mut harness,
        Role::TextInput,
        "Title",
        "Teaching set, three vials of 2 mL of water",
    );
    write(&mut harness, Role::TextInput, "Liquid", "Water");
    harness
}

fn middle_of_bench(harness: &Window) -> Pos2 {
    harness.get_by_label("Tilt ring").rect().center()
}

/// The receiver: a new bulb as it comes, moved by typed numbers.
fn receiver(harness: &mut Window) {
    click(harness, Role::Button, "Bulb");
    let middle = middle_of_bench(harness);
    click_at(harness, middle);
    rename(harness, "receiver");
    enter(harness, "Place: to the right", "0");
    enter(harness, "Place: upwards", "45");
    enter(harness, "Liquid: given", "6.1");
}

/// The pot: a bulb made a flask, with other tube, its neck lengthened by hand and its place typed after a drag.
fn pot(harness: &mut Window) {
    press(harness, Modifiers::NONE, Key::Escape);
    press(harness, Modifiers::NONE, Key::B);
    let aside = middle_of_bench(harness) - vec2(170.0, 0.0);
    click_at(harness, aside);
    rename(harness, "pot");
    choose(harness, "Shape", "Flask");
    enter(harness, "Diameter of the flat", "22");
    size(harness, "Body: size", "44 x 1.4");
    size(harness, "Neck: size", "14 x 1");
    let way = mm_along(harness, "pot") * 5.0;
    pull(harness, "Mouth to centre of the body", way);
    let Form::Bulb(pot) = now(harness).find("pot").unwrap().form else {
        panic!("a bulb")
    };
    assert_eq!(pot.neck_mm, 50.0, "five whole millimetres longer");
    let from = along(harness, "pot", 30.0);
    drag(harness, from, from + vec2(-12.0, -7.0));
    type_text(harness, "-120");
    press(harness, Modifiers::NONE, Key::Enter);
    enter(harness, "Place: to the right", "-120");
    enter(harness, "Place: upwards", "30");
}

/// The bridge: pulled from mouth to mouth.
fn bridge(harness: &mut Window) {
    press(harness, Modifiers::NONE, Key::J);
    let (from, to) = (along(harness, "pot", 0.0), along(harness, "receiver", 0.0));
    drag(harness, from, to);
    size(harness, "Tube: size", "12 x 1");
    enter(harness, "Bend radius", "30");
    let Form::Bridge(bridge) = now(harness).find("bridge").unwrap().form else {
        panic!("a bridge")
    };
    assert_eq!(bridge.route, Route::Arched { rise_mm: 45.0 });
}

/// The header: a tube drawn out of the receiver's side, bent and lengthened in its particulars.
fn header(harness: &mut Window) {
    press(harness, Modifiers::NONE, Key::T);
    let (sin, cos) = 20.0_f64.to_radians().sin_cos();
    let (from, to) = (on_screen(harness, 0.0, 0.0), on_screen(harness, 42.0 * cos, 42.0 * sin));
    drag(harness, from, to);
    rename(harness, "header");
    enter(harness, "Place: along the host", "45");
    enter(harness, "Place: turn from the host", "110");
    enter(harness, "1, straight: length", "42");
    choose(harness, "Add to the course", "Bend");
    enter(harness, "2, bend: angle", "-20");
    enter(harness, "2, bend: radius", "40");
    choose(harness, "Add to the course", "Straight");
    enter(harness, "3, straight: length", "196");
    press(harness, Modifiers::NONE, Key::Escape);
    press(harness, Modifiers::NONE, Key::F);
}

/// The vent: a gas port put above the header, moved along it by the arrow keys.
fn vent(harness: &mut Window) {
    harness.get_by_label("Fittings…").click();
    harness.run();
    harness.get_by_label("Gas port").click();
    harness.run();
    let above = along(harness, "header", 229.0) - vec2(0.0, 13.0);
    click_at(harness, above);
    rename(harness, "vent");
    for _ in 0..10 {
        let at = now(harness).find("vent").unwrap().seat.places().next().unwrap().at_mm;
        if at >= 232.0 {
            break;
        }
        press(harness, Modifiers::NONE, Key::ArrowRight);
    }
}

/// The row of vials: put below the header, then turned, spread and counted by its handles; one vial stands for all.
fn vials(harness: &mut Window) {
    press(harness, Modifiers::NONE, Key::Escape);
    press(harness, Modifiers::NONE, Key::R);
    let below = along(harness, "header", 94.0) + vec2(0.0, 13.0);
    click_at(harness, below);
    assert_eq!(harness.state().session().selection.shown(), Some("vial-1"));
    press(harness, Modifiers::NONE, Key::F);
    let mm = (along(harness, "header", 200.0) - along(harness, "header", 100.0)) / 100.0;
    pull(harness, "Pitch", mm * 6.0);
    assert_eq!(now(harness).rows[0].pitch_mm, 46.0);
    pull(harness, "Members", mm * 46.0);
    assert_eq!(now(harness).rows[0].count, 4);
    pull(harness, "Members", mm * -46.0);
    assert_eq!(now(harness).rows[0].count, 3);
    // The pitch once more, typed where it stands on the drawing.
    press(harness, Modifiers::NONE, Key::D);
    harness.get_by_role_and_label(Role::Button, "Pitch of vial").focus();
    harness.run();
    press(harness, Modifiers::NONE, Key::Enter);
    replace(harness, "48");
    press(harness, Modifiers::NONE, Key::D);
    enter(harness, "Row: first member at", "94");
    enter(harness, "Row: turn from the host", "-110");

    enter(harness, "Target volume", "2");
    enter(harness, "Stem: length", "22");
    enter(harness, "Neck: length", "18");
    enter(harness, "Neck: seal-off place", "9");
    enter(harness, "Shoulder: length", "12");
    size(harness, "Body: size", "16 x 1.2");
    choose(harness, "Bottom: shape", "Flat");
    let way = mm_along(harness, "vial-1") * -4.0;
    pull(harness, "Body: straight length", way);
    assert_eq!(now(harness).rows[0].pattern.body_mm, 21.0);
}

/// What the job's pages ask for.
fn job(harness: &mut Window) {
    press(harness, Modifiers::NONE, Key::W);
    harness.get_by_label("Charge").click();
    harness.run();
    enter(harness, "Spare ampoules", "0");
    harness.get_by_label("Necks and sealing").click();
    harness.run();
    enter(harness, "Contents at closing", "5");
    // What is proposed by now is what is wanted.
    click(harness, Role::Button, "Keep coldest after sealing as proposed");
}

/// The run: three stances, each added while the glass is held at it, named, and waited at.
fn run(harness: &mut Window) {
    let stop = |harness: &mut Window, name: &str| {
        press(harness, Modifiers::SHIFT, Key::S);
        write(harness, Role::TextInput, "Stop: name", name);
        enter(harness, "Stop: wait", "1 min");
    };
    press(harness, Modifiers::NONE, Key::S);
    stop(harness, "Distil");
    enter(harness, "Tilt", "-67.37");
    stop(harness, "Pour");
    press(harness, Modifiers::NONE, Key::Home);
    stop(harness, "Seal");
}

#[test]
fn the_teaching_example_is_drawn_on_an_empty_bench() {
    let mut harness = blank_bench();
    receiver(&mut harness);
    pot(&mut harness);
    bridge(&mut harness);
    header(&mut harness);
    vent(&mut harness);
    vials(&mut harness);
    job(&mut harness);
    run(&mut harness);
    assert_eq!(bytes(&harness), include_str!("../../examples/teaching-three.json"));
}
