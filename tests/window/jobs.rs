//! The three jobs of the README, done step by step as they stand there.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::time::{Duration, Instant};
use vialwright::app::Example;
use vialwright::geom::build::build;
use vialwright::geom::{Interior, Question, Stance, tilts};
use vialwright::model::file;
use vialwright::starter::{self, Wish};

/// A step's text as it stands in the README, to keep both together.
fn readme_says(words: &str) {
    let readme = include_str!("../../README.md");
    let jobs = &readme[readme.find("## Three jobs").unwrap()..];
    let plain = jobs.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain.contains(words), "the README does not say: {words}");
}

/// Puts an example on the bench by the menu.
fn take_example(harness: &mut Harness<'_, Held>, example: Example) {
    harness.get_by_label("File").click();
    harness.run();
    let name = format!("Example: {}", example.name());
    harness.get_by_label_contains(&name).click();
    harness.run();
    assert!(bytes(harness) == file::write(&example.apparatus()));
}

/// Clicks the vessel's row in the ledger.
fn choose_in_ledger(harness: &mut Harness<'_, Held>, vessel: &str) {
    let start = format!("{vessel}: ");
    let of_vessel =
        |node: &egui_kittest::Node<'_>| node.accesskit_node().label().is_some_and(|l| l.starts_with(&start));
    let row = harness.get_all_by_role(Role::ListBoxOption).find(of_vessel).unwrap();
    row.click();
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), Some(vessel));
}

/// What the ledger says a vessel holds, such as `1.46 mL`.
fn held(harness: &Harness<'_, Held>, vessel: &str) -> String {
    let words = row(harness, vessel);
    let volume = words.split(": ").nth(1).unwrap();
    volume.split(" mL").next().unwrap().to_owned() + " mL"
}

#[test]
fn sketch_a_new_manifold() {
    readme_says("Press **Ctrl+N**, and then **Ctrl+Shift+N**");
    readme_says("Type `4` and press **Tab**; type `2 mL` and press **Tab**; type `Toluene` and press **Tab**.");
    readme_says("Press **Tab** until *Gas port* has the focus, and **Space** to tick it.");
    readme_says("Press **Ctrl+Enter**");
    let mut harness = open(None);
    press(&mut harness, Modifiers::COMMAND, Key::N);
    assert!(
        harness
            .query_by_label_contains("Nothing stands on the bench yet")
            .is_some()
    );
    press(&mut harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::N);
    for text in ["4", "2 mL", "Toluene"] {
        type_text(&mut harness, text);
        press(&mut harness, Modifiers::NONE, Key::Tab);
    }
    let is_there = |harness: &Harness<'_, Held>| harness.get_by_role_and_label(Role::CheckBox, "Gas port").is_focused();
    for _ in 0..10 {
        if is_there(&harness) {
            break;
        }
        press(&mut harness, Modifiers::NONE, Key::Tab);
    }
    assert!(is_there(&harness));
    press(&mut harness, Modifiers::NONE, Key::Space);
    press(&mut harness, Modifiers::COMMAND, Key::Enter);

    let wish = Wish {
        vessels: 4,
        target_ml: 2.0,
        liquid: "Toluene".to_owned(),
        gas_port: true,
        ..Wish::default()
    };
    assert!(bytes(&harness) == file::write(&starter::start(&wish).unwrap().apparatus));
    // All of it without the pointer, and one undo takes it back.
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(harness.state().session().document.now().pieces.is_empty());
}

#[test]
fn size_the_vials_for_a_target_fill() {
    readme_says("Choose *File → Example: Rubidium, six ampoules*.");
    readme_says("Type `-68` into *Tilt* at the foot of the window");
    readme_says("Click *vial-1* in the ledger: it holds 1.46 mL of its 1.50 mL.");
    readme_says("Click *Body: straight length* and press **↑**: at 21.0 mm the ledger says 1.52 mL.");
    readme_says("Type `20.7` and press **Enter**: 1.50 mL, in every vial of the row.");
    let mut harness = open(None);
    take_example(&mut harness, Example::RubidiumSix);
    enter(&mut harness, "Tilt", "-68");
    choose_in_ledger(&mut harness, "vial-1");
    assert_eq!(held(&harness, "vial-1"), "1.46 mL");
    assert!(row(&harness, "vial-1").contains("of 1.50 mL"));
    let body = |harness: &Harness<'_, Held>| harness.state().session().document.now().rows[0].pattern.body_mm;
    let name = "Body: straight length";
    harness.get_by_role_and_label(Role::SpinButton, name).scroll_to_me();
    harness.run();
    harness.get_by_role_and_label(Role::SpinButton, name).click();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::ArrowUp);
    assert_eq!((body(&harness), held(&harness, "vial-1").as_str()), (21.0, "1.52 mL"));
    press(&mut harness, Modifiers::COMMAND, Key::A);
    type_text(&mut harness, "20.7");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(body(&harness), 20.7);
    for vial in 1..=6 {
        assert_eq!(held(&harness, &format!("vial-{vial}")), "1.50 mL");
    }
}

/// Waits for what a thread finds, as a person waits.
fn wait_for(harness: &mut Harness<'_, Held>, at: Pos2, words: &str) {
    let start = Instant::now();
    while start.elapsed() < Duration::from_secs(60) {
        harness.hover_at(at + vec2(0.3, 0.0));
        harness.run();
        harness.hover_at(at);
        harness.run();
        if harness.query_by_label_contains(words).is_some() {
            return;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("nothing says: {words}");
}

#[test]
fn check_the_drain_tilt_before_blowing_glass() {
    readme_says("Choose *File → Example: Rubidium, six ampoules*, and click *receiver* in the ledger.");
    readme_says("the two short bars");
    readme_says("Point at the bars at the right");
    readme_says("receiver has drained at −62.4°");
    readme_says("Click them: the glass turns there, and the ledger says that the receiver keeps 0.05 mL");
    readme_says("Press **Home**");
    let mut harness = open(None);
    take_example(&mut harness, Example::RubidiumSix);
    choose_in_ledger(&mut harness, "receiver");

    let apparatus = Example::RubidiumSix.apparatus();
    let built = build(&apparatus).unwrap();
    let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
    let ask = Question {
        volume: Some(9_100.0),
        ..Question::default()
    };
    let receiver = interior.piece_index("receiver").unwrap();
    let drained = tilts(&interior, receiver, ask, Stance::default())
        .drain
        .clockwise
        .unwrap();

    let ring = harness.get_by_label("Tilt ring").rect();
    #[allow(clippy::cast_possible_truncation, reason = "a place on the screen")]
    let out = (drained as f32).to_radians();
    let at = ring.center() - vec2(out.sin(), out.cos()) * (ring.width() / 2.0 + 9.0);
    let words = format!("receiver has drained at −{:.1}°", drained.abs());
    readme_says(&words);
    wait_for(&mut harness, at, &words);
    harness.drag_at(at);
    harness.drop_at(at);
    harness.run();
    let tilt = harness.state().session().stance.tilt_deg;
    assert!((tilt - drained).abs() < 0.01, "{tilt} for {drained}");
    assert_eq!(held(&harness, "receiver"), "0.05 mL");
    press(&mut harness, Modifiers::NONE, Key::Home);
    assert_eq!(harness.state().session().stance, Stance::default());
    assert_eq!(held(&harness, "receiver"), "9.10 mL");
}
