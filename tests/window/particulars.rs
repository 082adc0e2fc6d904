//! The particulars: every kind of choice and field, several pieces at once, units, and the link with the drawing.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use vialwright::model::{Apparatus, Bottom, BulbShape, Element, End, FittingKind, Form, Route, Seat, Tube, TubeSize};
use vialwright::units::LengthUnit;

type Window = Harness<'static, Held>;

fn now(harness: &Window) -> Apparatus {
    harness.state().session().document.now().clone()
}

fn form(harness: &Window, name: &str) -> Form {
    now(harness).find(name).unwrap().form
}

fn tube(harness: &Window, name: &str) -> Tube {
    match form(harness, name) {
        Form::Tube(tube) => tube,
        _ => panic!("a tube"),
    }
}

/// Selects a piece by name in the list at the head of the particulars, typing to find it.
fn pick_piece(harness: &mut Window, name: &str) {
    choose(harness, "Piece", name, true);
    assert_eq!(harness.state().session().selection.names(), [name]);
}

/// Opens a list and chooses from it: by search and Enter, or by a click.
fn choose(harness: &mut Window, list: &str, word: &str, by_search: bool) {
    let is_box = harness.query_by_role_and_label(Role::ComboBox, list).is_some();
    let role = if is_box { Role::ComboBox } else { Role::Button };
    harness.get_by_role_and_label(role, list).scroll_to_me();
    harness.run();
    let at = harness.get_by_role_and_label(role, list).rect().center();
    click_at(harness, at);
    if by_search {
        harness.get_by_label(&format!("{list}: search")).type_text(word);
        harness.run();
        harness.key_press(Key::Enter);
    } else {
        harness.get_by_role_and_label(Role::ListBoxOption, word).click();
    }
    harness.run();
}

fn click_at(harness: &mut Window, at: egui::Pos2) {
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.drop_at(at);
    harness.run();
}

/// Types into the field of that role and label and leaves it with Enter.
fn write(harness: &mut Window, role: Role, label: &str, text: &str) {
    harness.get_by_role_and_label(role, label).scroll_to_me();
    harness.run();
    harness.get_by_role_and_label(role, label).click();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.get_by_role_and_label(role, label).type_text(text);
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
}

fn value_of(harness: &Window, role: Role, label: &str) -> String {
    harness.get_by_role_and_label(role, label).value().unwrap_or_default()
}

/// Does something, checks that it was one step with these words, that one undo restores the bytes, and does it again.
fn one_step(harness: &mut Window, words: &str, act: impl Fn(&mut Window)) {
    let start = bytes(harness);
    act(harness);
    assert_eq!(undo_words(harness).as_deref(), Some(words));
    assert_ne!(bytes(harness), start, "{words}");
    undo(harness);
    assert!(bytes(harness) == start, "{words}: the bytes of the start");
    act(harness);
}

fn from_view_menu(harness: &mut Window, command: &str) {
    harness.get_by_label("View").click();
    harness.run();
    harness.get_by_label_contains(command).click();
    harness.run();
}

#[test]
fn every_choice_is_one_step_with_words() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-2");
    one_step(&mut harness, "Bottom: shape of vial-2", |h| {
        choose(h, "Bottom: shape", "Flat", false)
    });
    assert_eq!(now(&harness).rows[0].pattern.bottom, Bottom::Flat);
    one_step(&mut harness, "Bottom: shape of vial-2", |h| {
        choose(h, "Bottom: shape", "Conical", false)
    });
    // As deep as the bore of a tube of 14 x 1.
    assert_eq!(
        now(&harness).rows[0].pattern.bottom,
        Bottom::Conical { length_mm: 12.0 }
    );
    enter(&mut harness, "Bottom: length of the cone", "9");
    assert_eq!(now(&harness).rows[0].pattern.bottom, Bottom::Conical { length_mm: 9.0 });

    pick_piece(&mut harness, "receiver");
    one_step(&mut harness, "Shape of receiver", |h| {
        choose(h, "Shape", "Flask", false)
    });
    let Form::Bulb(bulb) = form(&harness, "receiver") else {
        panic!("a bulb")
    };
    assert_eq!(bulb.shape, BulbShape::Flask { flat_mm: 20.0 });
    choose(&mut harness, "Shape", "Pear", false);
    let Form::Bulb(bulb) = form(&harness, "receiver") else {
        panic!("a bulb")
    };
    assert_eq!(bulb.shape, BulbShape::Pear);

    pick_piece(&mut harness, "inlet");
    one_step(&mut harness, "Kind of inlet", |h| {
        choose(h, "Kind", "Ground joint", false)
    });
    one_step(&mut harness, "Joint of inlet", |h| choose(h, "Joint", "14/23", true));
    one_step(&mut harness, "Stoppered of inlet", |h| {
        h.get_by_role_and_label(Role::CheckBox, "Stoppered").click();
        h.run();
    });
    let Form::Fitting(fitting) = form(&harness, "inlet") else {
        panic!("a fitting")
    };
    let designation = "14/23".to_owned();
    let stoppered = true;
    assert_eq!(fitting.kind, FittingKind::Joint { designation, stoppered });
    choose(&mut harness, "Kind", "Stopcock", false);
    harness.get_by_role_and_label(Role::CheckBox, "Open").click();
    harness.run();
    let Form::Fitting(fitting) = form(&harness, "inlet") else {
        panic!("a fitting")
    };
    assert_eq!(fitting.kind, FittingKind::Stopcock { open: false });
}

#[test]
fn ends_of_a_tube_are_open_closed_jointed_or_a_port() {
    let mut harness = open(None);
    pick_piece(&mut harness, "header");
    for (word, end) in [
        ("Open", End::Open),
        ("Flat", End::Flat),
        ("Line port", End::Port),
        ("Round", End::Round),
    ] {
        one_step(&mut harness, "End of header", |h| choose(h, "End", word, false));
        assert_eq!(tube(&harness, "header").end, end);
    }
    choose(&mut harness, "End", "Ground joint", false);
    one_step(&mut harness, "End: joint of header", |h| {
        choose(h, "End: joint", "24/29", true)
    });
    one_step(&mut harness, "End: stoppered of header", |h| {
        let switch = h.get_by_role_and_label(Role::CheckBox, "End: stoppered");
        switch.scroll_to_me();
        h.run();
        h.get_by_role_and_label(Role::CheckBox, "End: stoppered").click();
        h.run();
    });
    let designation = "24/29".to_owned();
    let stoppered = true;
    assert_eq!(tube(&harness, "header").end, End::Joint { designation, stoppered });
    assert!(
        harness.query_by_role_and_label(Role::ComboBox, "Start").is_none(),
        "the start is fused to its host"
    );
}

#[test]
fn a_course_is_added_to_rearranged_and_shortened() {
    let mut harness = open(None);
    pick_piece(&mut harness, "header");
    let start = tube(&harness, "header").course;
    one_step(&mut harness, "Add a bulb to header", |h| {
        choose(h, "Add to the course", "Bulb", false)
    });
    assert_eq!(tube(&harness, "header").course.len(), start.len() + 1);
    one_step(&mut harness, "Move 4, bulb of header", |h| {
        choose(h, "4, bulb: more", "Move earlier", false)
    });
    assert!(matches!(tube(&harness, "header").course[2], Element::Bulb { .. }));
    one_step(&mut harness, "Add a neck to header", |h| {
        choose(h, "1, straight: more", "Add a neck after it", false);
    });
    assert!(matches!(tube(&harness, "header").course[1], Element::Neck { .. }));
    enter(&mut harness, "2, neck: parallel part", "25");
    assert!(matches!(
        tube(&harness, "header").course[1],
        Element::Neck { length_mm: 25.0, .. }
    ));
    one_step(&mut harness, "Remove 2, neck of header", |h| {
        choose(h, "2, neck: more", "Remove", false)
    });
    one_step(&mut harness, "Remove 3, bulb of header", |h| {
        choose(h, "3, bulb: more", "Remove", false)
    });
    assert_eq!(tube(&harness, "header").course, start);
    let first = harness.get_by_label("1, straight: more");
    first.scroll_to_me();
    harness.run();
    harness.get_by_label("1, straight: more").click();
    harness.run();
    assert!(
        harness
            .query_by_role_and_label(Role::ListBoxOption, "Move earlier")
            .is_none(),
        "nothing comes before the first"
    );
}

#[test]
fn a_bridge_goes_straight_arched_or_by_corners() {
    let mut harness = open(None);
    pick_piece(&mut harness, "bridge");
    one_step(&mut harness, "Route of bridge", |h| {
        choose(h, "Route", "By corners", false)
    });
    let corners = |harness: &Window| match form(harness, "bridge") {
        Form::Bridge(bridge) => match bridge.route {
            Route::Via { corners_mm } => corners_mm,
            other => panic!("{other:?}"),
        },
        _ => panic!("a bridge"),
    };
    // The arch's own two corners, from the riser's mouth at (-150, 118) to the receiver's at (0, 50).
    assert_eq!(corners(&harness), [[0.0, 45.0], [150.0, 45.0]]);
    one_step(&mut harness, "Add a corner to bridge", |h| {
        choose(h, "Corner 1: more", "Add a corner after it", false);
    });
    assert_eq!(corners(&harness)[1], [75.0, 45.0]);
    enter(&mut harness, "Corner 2: up", "70");
    assert_eq!(corners(&harness)[1], [75.0, 70.0]);
    one_step(&mut harness, "Move corner 2 of bridge", |h| {
        choose(h, "Corner 2: more", "Move later", false)
    });
    assert_eq!(corners(&harness)[2], [75.0, 70.0]);
    one_step(&mut harness, "Remove corner 3 of bridge", |h| {
        choose(h, "Corner 3: more", "Remove", false)
    });
    one_step(&mut harness, "Add a corner to bridge", |h| {
        choose(h, "Add a corner", "At the end", false)
    });
    assert_eq!(corners(&harness)[2], [300.0, 45.0]);
    choose(&mut harness, "Route", "Arched", false);
    enter(&mut harness, "Rise of the crossbar", "60");
    let Form::Bridge(bridge) = form(&harness, "bridge") else {
        panic!("a bridge")
    };
    assert_eq!(bridge.route, Route::Arched { rise_mm: 60.0 });
}

#[test]
fn a_size_is_typed_stepped_or_chosen_from_the_stock() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-1");
    let body = |harness: &Window| now(harness).rows[0].pattern.body;
    let field = Role::EditableComboBox;
    for (typed, size) in [
        ("16 x 1.2", TubeSize::new(16.0, 1.2)),
        ("1/2 in x 1.5", TubeSize::new(12.7, 1.5)),
        ("15", TubeSize::new(15.0, 1.5)),
        ("1.4 cm × 1", TubeSize::new(14.0, 1.0)),
    ] {
        one_step(&mut harness, "Body: size of vial-1", |h| {
            write(h, field, "Body: size", typed)
        });
        assert_eq!(body(&harness), size, "{typed}");
    }
    one_step(&mut harness, "Body: size of vial-1", |h| {
        choose(h, "Body: size: stock", "18 x 1.8", true)
    });
    assert_eq!(body(&harness), TubeSize::new(18.0, 1.8));
    harness.get_by_role_and_label(field, "Body: size").focus();
    harness.run();
    harness.key_press(Key::ArrowUp);
    harness.run();
    assert_eq!(body(&harness), TubeSize::new(18.0, 2.5));
    harness.key_press(Key::Escape);
    harness.run();
    // Through the stock by a drag of 12 points a size.
    let at = harness.get_by_role_and_label(field, "Body: size").rect().center();
    drag(&mut harness, at, at - vec2(38.0, 0.0));
    assert_eq!(body(&harness), TubeSize::new(17.0, 2.5));
    assert_eq!(undo_words(&harness).as_deref(), Some("Body: size of vial-1"));
    undo(&mut harness);
    assert_eq!(body(&harness), TubeSize::new(18.0, 2.5), "a drag is one step");
}

#[test]
fn what_is_refused_says_why_and_changes_nothing() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-1");
    let start = bytes(&harness);
    let size = Role::EditableComboBox;
    let number = Role::SpinButton;
    let text = Role::TextInput;
    for (role, label, typed, reason) in [
        (size, "Body: size", "16 x 9", "leaves a bore of −2.0 mm"),
        (size, "Body: size", "16 y 1", "write diameter x wall"),
        (size, "Body: size", "16 x 2 ml", "not a unit of a length"),
        (number, "Stem: length", "0.1", "Must be 0.5 to 5000 mm"),
        (number, "Row: members", "2.5", "Must be 1 to 400"),
        (number, "Row: turn from the host", "1e", "is not a unit of an angle"),
        (number, "Liquid: given", "-1", "must be 0 to 100000 mL"),
        (text, "Row: name", " ", "must not be empty"),
    ] {
        write(&mut harness, role, label, typed);
        assert!(bytes(&harness) == start, "{label}: {typed}");
        let node = harness.get_by_role_and_label(role, label);
        let told = node.accesskit_node().description().unwrap_or_default();
        assert!(told.contains(reason), "{label}: {typed}: {told}");
        assert!(harness.query_by_label_contains(reason).is_some(), "{reason} is seen");
    }
    assert_eq!(undo_words(&harness), None);
    // A flat floor takes up a body that is shorter than its wall.
    enter(&mut harness, "Body: straight length", "1");
    choose(&mut harness, "Bottom: shape", "Flat", false);
    assert_eq!(now(&harness).rows[0].pattern.bottom, Bottom::Round);
    assert!(harness.query_by_label_contains("leaves no room").is_some());
    enter(&mut harness, "Body: straight length", "20");
    assert!(
        harness.query_by_label_contains("leaves no room").is_none(),
        "any change ends what was said of a choice"
    );
}

#[test]
fn inches_are_shown_and_typed_and_nothing_untouched_is_rewritten() {
    let mut harness = open(None);
    let start = bytes(&harness);
    from_view_menu(&mut harness, "Show lengths in inches");
    assert_eq!(harness.state().session().length_unit, LengthUnit::Inch);
    select(&mut harness, "vial-2");
    let number = Role::SpinButton;
    // 20 mm and 14 by 1 mm.
    assert_eq!(value_of(&harness, number, "Body: straight length"), "0.787 in");
    assert_eq!(
        value_of(&harness, Role::EditableComboBox, "Body: size"),
        "0.551 × 0.039 in"
    );
    let handle = value_of(&harness, Role::Slider, "Body: straight length");
    assert_eq!(handle, "Body: straight length 0.787 in");
    // Typed as it stands, and left by Enter and by Tab.
    write(&mut harness, number, "Body: straight length", "0.787");
    write(&mut harness, Role::EditableComboBox, "Body: size", "0.551 × 0.039");
    harness.get_by_role_and_label(number, "Stem: length").focus();
    harness.run();
    for _ in 0..12 {
        harness.key_press(Key::Tab);
        harness.run();
    }
    assert!(bytes(&harness) == start, "nothing was changed");
    assert_eq!(undo_words(&harness), None);
    let body = |harness: &Window| now(harness).rows[0].pattern.body_mm;
    for (typed, mm) in [
        ("1", 25.4),
        ("1 1/4", 31.75),
        ("3/4 in", 19.05),
        ("30mm", 30.0),
        ("1.5 cm", 15.0),
    ] {
        enter(&mut harness, "Body: straight length", typed);
        assert_eq!(body(&harness), mm, "{typed}");
    }
    enter(&mut harness, "Body: straight length", "0.01");
    let node = harness.get_by_role_and_label(number, "Body: straight length");
    let told = node.accesskit_node().description().unwrap_or_default();
    assert_eq!(told, "Must be 0.020 to 196.850 in.");
    assert!(
        row(&harness, "receiver").contains(" in"),
        "{}",
        row(&harness, "receiver")
    );
    from_view_menu(&mut harness, "Show lengths in inches");
    assert_eq!(value_of(&harness, number, "Body: straight length"), "15.0 mm");
}

#[test]
fn arithmetic_and_units_are_understood() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-3");
    let pattern = |harness: &Window| now(harness).rows[0].pattern.clone();
    for (typed, mm) in [
        ("2*45+3", 93.0),
        ("120/8", 15.0),
        ("1/4 in", 6.35),
        ("6.35mm", 6.35),
        ("1.5 cm", 15.0),
    ] {
        enter(&mut harness, "Stem: length", typed);
        assert_eq!(pattern(&harness).stem_mm, mm, "{typed}");
    }
    enter(&mut harness, "Target volume", "2 ml");
    assert_eq!(pattern(&harness).target_ml, 2.0);
    enter(&mut harness, "Stem: length", "120/7");
    assert_eq!(pattern(&harness).stem_mm, 120.0 / 7.0);
    assert_eq!(value_of(&harness, Role::SpinButton, "Stem: length"), "17.14 mm");
    // Left as it is shown, it keeps all of its digits.
    write(&mut harness, Role::SpinButton, "Stem: length", "17.14");
    assert_eq!(pattern(&harness).stem_mm, 120.0 / 7.0);
}

fn add_to_selection(harness: &mut Window, piece: &str) {
    let node = harness.get_by_role_and_label(Role::GraphicsObject, piece);
    node.click_modifiers(Modifiers::SHIFT);
    harness.run();
    assert!(harness.state().session().selection.contains(piece));
}

#[test]
fn what_was_typed_is_taken_when_another_piece_is_clicked() {
    let mut harness = open(None);
    select(&mut harness, "vial-1");
    harness.get_by_role_and_label(Role::SpinButton, "Stem: length").click();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness
        .get_by_role_and_label(Role::SpinButton, "Stem: length")
        .type_text("33");
    harness.run();
    select(&mut harness, "receiver");
    assert_eq!(now(&harness).rows[0].pattern.stem_mm, 33.0);
    assert_eq!(undo_words(&harness).as_deref(), Some("Stem: length of vial-1"));
    // Escape takes back what was typed and keeps the selection.
    harness
        .get_by_role_and_label(Role::SpinButton, "Place: heading")
        .click();
    harness.run();
    harness
        .get_by_role_and_label(Role::SpinButton, "Place: heading")
        .type_text("77");
    harness.run();
    harness.key_press(Key::Escape);
    harness.run();
    assert_eq!(harness.state().session().selection.names(), ["receiver"]);
    assert_eq!(value_of(&harness, Role::SpinButton, "Place: heading"), "−90.0°");
}

#[test]
fn several_pieces_are_changed_in_one_step() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-2");
    harness.get_by_label("Change this one only").click();
    harness.run();
    enter(&mut harness, "Body: straight length", "30");
    pick_piece(&mut harness, "vial-5");
    harness.get_by_label("Change this one only").click();
    harness.run();
    enter(&mut harness, "Body: straight length", "35");
    for name in ["vial-1", "vial-2"] {
        add_to_selection(&mut harness, name);
    }
    assert_eq!(
        harness.state().session().selection.names(),
        ["vial-5", "vial-1", "vial-2"]
    );
    assert_eq!(value_of(&harness, Role::SpinButton, "Body: straight length"), "various");
    assert_eq!(value_of(&harness, Role::SpinButton, "Stem: length"), "20.0 mm");
    one_step(&mut harness, "Body: straight length of 3 pieces", |h| {
        enter(h, "Body: straight length", "40")
    });
    let row = &now(&harness).rows[0];
    assert_eq!([1, 2, 3, 5].map(|member| row.ampoule(member).body_mm), [40.0; 4]);
    // A diameter alone keeps the wall of each.
    one_step(&mut harness, "Neck: size of 3 pieces", |h| {
        write(h, Role::EditableComboBox, "Neck: size", "8")
    });
    choose(&mut harness, "Bottom: shape", "Flat", false);
    assert!(
        [1, 2, 5]
            .iter()
            .all(|m| now(&harness).rows[0].ampoule(*m).bottom == Bottom::Flat)
    );
    harness.get_by_label("Return to the row").click();
    harness.run();
    assert!(now(&harness).rows[0].departures.is_empty());
    assert_eq!(undo_words(&harness).as_deref(), Some("Return 2 members to their row"));
    // With a bulb among them only what all have is left.
    add_to_selection(&mut harness, "pot");
    assert!(
        harness
            .query_by_role_and_label(Role::SpinButton, "Stem: length")
            .is_none()
    );
    assert_eq!(value_of(&harness, Role::EditableComboBox, "Body: size"), "various");
}

#[test]
fn a_piece_is_reseated_where_it_stands() {
    let mut harness = open(None);
    pick_piece(&mut harness, "pump");
    let start = bytes(&harness);
    one_step(&mut harness, "Place: host of pump", |h| {
        choose(h, "Place: host", "Stands free", true)
    });
    assert!(matches!(
        now(&harness).piece("pump").unwrap().seat,
        Seat::Free { heading_deg: 90.0, .. }
    ));
    enter(&mut harness, "Place: heading", "80");
    undo(&mut harness);
    choose(&mut harness, "Place: host", "header", true);
    assert!(bytes(&harness) == start, "back where it was");
    enter(&mut harness, "Place: along the host", "200");
    enter(&mut harness, "Place: turn from the host", "100");
    let Seat::On(place) = now(&harness).piece("pump").unwrap().seat.clone() else {
        panic!("on a host")
    };
    assert_eq!((place.at_mm, place.turn_deg), (200.0, 100.0));
    pick_piece(&mut harness, "bridge");
    one_step(&mut harness, "To: host of bridge", |h| {
        choose(h, "To: host", "header", true)
    });
    pick_piece(&mut harness, "vial-1");
    one_step(&mut harness, "Row: host of vial", |h| {
        choose(h, "Row: host", "pump", true)
    });
    assert_eq!(now(&harness).rows[0].first.host, "pump");
}

#[test]
fn names_titles_and_own_sizes_are_written_here() {
    let mut harness = open(None);
    let text = Role::TextInput;
    one_step(&mut harness, "Change the title", |h| write(h, text, "Title", "My run"));
    one_step(&mut harness, "Change the liquid", |h| {
        write(h, text, "Liquid", "Caesium")
    });
    one_step(&mut harness, "Change own tube sizes", |h| {
        h.get_by_label("Add a tube size").click();
        h.run();
    });
    write(&mut harness, Role::EditableComboBox, "Own size 1", "13.5 x 1.25");
    write(&mut harness, text, "Remark on own size 1", "rack 2");
    let own = now(&harness).own_stock[0].clone();
    assert_eq!((own.tube, own.note.as_str()), (TubeSize::new(13.5, 1.25), "rack 2"));
    write(&mut harness, Role::EditableComboBox, "Own size 1", "13.5 x 13");
    assert!(harness.query_by_label_contains("leaves a bore").is_some());
    assert_eq!(
        (now(&harness).title.as_str(), now(&harness).charge.liquid.as_str()),
        ("My run", "Caesium")
    );

    pick_piece(&mut harness, "pot");
    choose(&mut harness, "Neck: size: stock", "rack 2", true);
    let Form::Bulb(bulb) = form(&harness, "pot") else {
        panic!("a bulb")
    };
    assert_eq!(bulb.neck, TubeSize::new(13.5, 1.25));
    write(&mut harness, text, "Name", "header");
    let node = harness.get_by_role_and_label(text, "Name");
    assert!(node.accesskit_node().description().unwrap().contains("used before"));
    one_step(&mut harness, "Name of pot", |h| {
        let name = if h.state().session().document.now().find("pot").is_some() {
            "pot"
        } else {
            "still"
        };
        if h.state().session().selection.is_empty() {
            pick_piece(h, name);
        }
        write(h, text, "Name", "still");
    });
    assert_eq!(
        harness.state().session().selection.names(),
        ["still"],
        "what is renamed stays selected"
    );
    pick_piece(&mut harness, "vial-3");
    write(&mut harness, text, "Row: name", "tip");
    assert_eq!(harness.state().session().selection.names(), ["tip-3"]);
    harness.key_press(Key::Escape);
    harness.run();
    harness.get_by_label("Remove own size 1").click();
    harness.run();
    assert!(now(&harness).own_stock.is_empty());
}

#[test]
fn fields_and_drawing_light_each_other() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-2");
    let lit = |harness: &Window| value_of(harness, Role::GraphicsObject, "Section of vial-2");
    let field = harness
        .get_by_role_and_label(Role::SpinButton, "Shoulder: length")
        .rect()
        .center();
    harness.hover_at(field);
    harness.run();
    assert_eq!(lit(&harness), "Shoulder: length");
    let place = harness.get_by_role_and_label(Role::GraphicsSymbol, "Neck: length in the drawing");
    assert_eq!(place.value().as_deref(), Some("20.0 mm"));
    // On the dimension line, where no diameter lies over the length.
    let at = place.rect().right_center() - vec2(7.0, 0.0);
    harness.hover_at(at);
    harness.run();
    assert_eq!(lit(&harness), "Neck: length");
    click_at(&mut harness, at);
    assert!(
        harness
            .get_by_role_and_label(Role::SpinButton, "Neck: length")
            .is_focused()
    );
    harness.hover_at(egui::pos2(300.0, 700.0));
    harness.run();
    assert_eq!(lit(&harness), "Neck: length", "what has the focus stays lit");
    harness.key_press(Key::Escape);
    harness.run();
    assert_eq!(lit(&harness), "nothing lit");

    pick_piece(&mut harness, "riser");
    let place = harness
        .get_by_role_and_label(Role::GraphicsSymbol, "4, neck: size in the drawing")
        .rect();
    click_at(&mut harness, place.center());
    assert!(
        harness
            .get_by_role_and_label(Role::EditableComboBox, "4, neck: size")
            .is_focused()
    );
}

#[test]
fn a_short_column_folds_to_the_list() {
    let mut harness = open(None);
    pick_piece(&mut harness, "vial-2");
    assert!(harness.query_by_label("Section of vial-2").is_some());
    harness.set_size(vec2(1280.0, 360.0));
    harness.run();
    assert!(harness.query_by_label("Section of vial-2").is_none());
    enter(&mut harness, "Shoulder: length", "12");
    assert_eq!(now(&harness).rows[0].pattern.shoulder_mm, 12.0);
}

#[test]
fn everything_is_reached_by_keyboard() {
    let mut harness = open(None);
    pick_piece(&mut harness, "receiver");
    harness.get_by_role_and_label(Role::ComboBox, "Piece").focus();
    harness.run();
    let mut reached = Vec::new();
    for _ in 0..14 {
        harness.key_press(Key::Tab);
        harness.run();
        let focused = harness.get_all_by(|node| node.is_focused()).next();
        reached.extend(focused.and_then(|node| node.accesskit_node().label()));
    }
    for label in [
        "Neck: size",
        "Neck: size: stock",
        "Body: size",
        "Shape",
        "Mouth to centre of the body",
        "Place: host",
        "Place: heading",
        "Liquid: given",
        "Name",
    ] {
        assert!(reached.iter().any(|name| name == label), "{label} in {reached:?}");
    }
    // A list by keys alone: opened, moved through, chosen, and the focus is back at the button.
    harness.get_by_role_and_label(Role::ComboBox, "Shape").focus();
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    harness.key_press(Key::ArrowDown);
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    let Form::Bulb(bulb) = form(&harness, "receiver") else {
        panic!("a bulb")
    };
    assert_eq!(bulb.shape, BulbShape::Pear);
    assert!(harness.get_by_role_and_label(Role::ComboBox, "Shape").is_focused());
    harness.key_press(Key::Enter);
    harness.run();
    harness.key_press(Key::Escape);
    harness.run();
    assert!(harness.query_by_role_and_label(Role::ListBoxOption, "Flask").is_none());
    assert!(
        !harness.state().session().selection.is_empty(),
        "Escape closed the list alone"
    );
}
