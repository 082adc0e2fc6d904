//! The strip of the run: stops added and edited, the run played and scrubbed, its volumes those of the command.

use crate::harness::*;
use clap::Parser;
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::{Path, PathBuf};
use std::time::Duration;
use vialwright::cli::{self, Arguments};
use vialwright::model::Run;
use vialwright::seek::Unwatched;

const LINE: &str = "Time line of the run";

fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)
}

/// A window on an example with the strip unfolded and the run poured.
fn with_strip(name: &str) -> Harness<'static, Held> {
    let mut harness = open(Some(example(name)));
    harness.key_press(Key::S);
    harness.run();
    wait(&mut harness);
    harness
}

/// Waits until the newest run is poured.
fn wait(harness: &mut Harness<'_, Held>) {
    for _ in 0..1200 {
        harness.step();
        if harness.query_by_label("Being poured…").is_none() {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("the run was not poured in a minute");
}

fn run<'a>(harness: &'a Harness<'_, Held>) -> &'a Run {
    &harness.state().session().document.now().run
}

/// The time of the run that is shown, s, and how long it lasts.
fn time(harness: &Harness<'_, Held>) -> (f64, f64) {
    let node = harness.get_by_role_and_label(Role::Slider, LINE);
    let node = node.accesskit_node();
    (node.numeric_value().unwrap(), node.max_numeric_value().unwrap())
}

/// What the ledger says that a vessel holds, mL.
fn held(harness: &Harness<'_, Held>, vessel: &str) -> f64 {
    let words = row(harness, vessel);
    let number = words.split(' ').nth(1).unwrap();
    number.parse().unwrap()
}

/// What the command `pour` says that each piece holds at the last stop, mL.
fn poured_by_command(path: &Path) -> Vec<(String, f64)> {
    let arguments = Arguments::parse_from(["vialwright", "pour", path.to_str().unwrap(), "--json"]);
    let done = cli::run(&arguments.command.unwrap(), &mut std::io::empty(), &Unwatched).unwrap();
    let answer: serde_json::Value = serde_json::from_str(&done.text).unwrap();
    let last = answer["stops"].as_array().unwrap().last().unwrap();
    let vessels = last["vessels"].as_array().unwrap().iter();
    vessels
        .map(|vessel| {
            (
                vessel["piece"].as_str().unwrap().to_owned(),
                vessel["volume_ml"].as_f64().unwrap(),
            )
        })
        .collect()
}

#[test]
fn the_present_stance_becomes_a_stop_that_is_edited_and_undone() {
    let mut harness = with_strip("teaching-three.json");
    let before = bytes(&harness);
    enter(&mut harness, "Tilt", "-20");
    harness.get_by_label("Add the present stance as a stop").click();
    harness.run();
    assert_eq!((run(&harness).stops.len(), run(&harness).stops[3].tilt_deg), (4, -20.0));
    assert_eq!(undo_words(&harness).as_deref(), Some("Add stop 4"));
    enter(&mut harness, "Stop: wait", "90");
    enter(&mut harness, "Stop: tilt", "-25");
    let stop = &run(&harness).stops[3];
    assert_eq!((stop.tilt_deg, stop.wait_s), (-25.0, 90.0));
    enter(&mut harness, "Stop: tilt", "400");
    let field = harness.get_by_role_and_label(Role::SpinButton, "Stop: tilt");
    assert!(
        field
            .accesskit_node()
            .description()
            .is_some_and(|words| words.contains("−360"))
    );
    assert_eq!(run(&harness).stops[3].tilt_deg, -25.0);
    for _ in 0..3 {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.run();
    }
    assert_eq!(bytes(&harness), before);
}

#[test]
fn stops_are_chosen_moved_and_removed_by_keys() {
    let mut harness = with_strip("teaching-three.json");
    let names = |harness: &Harness<'_, Held>| -> Vec<String> {
        run(harness).stops.iter().map(|stop| stop.name.clone()).collect()
    };
    harness.get_by_label_contains("Stop 2, Pour").click();
    harness.run();
    assert!((harness.state().session().stance.tilt_deg + 67.37).abs() < 1e-9);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::ArrowLeft);
    harness.run();
    assert_eq!(names(&harness), ["Pour", "Distil", "Seal"]);
    assert_eq!(undo_words(&harness).as_deref(), Some("Move stop 2 to 1"));
    harness.key_press(Key::Delete);
    harness.run();
    assert_eq!(names(&harness), ["Distil", "Seal"]);
}

#[test]
fn playing_moves_glass_and_liquid_and_the_hand_takes_over() {
    let mut harness = with_strip("teaching-three.json");
    let full = held(&harness, "receiver");
    harness.get_by_label("Play the run").click();
    harness.step();
    // The first wait, and most of the turn after it.
    for _ in 0..48 {
        harness.step();
    }
    assert!(harness.query_by_label("Pause the run").is_some(), "it plays on");
    let (time_s, lasts_s) = time(&harness);
    assert!(time_s > 60.0 && time_s < lasts_s, "{time_s} of {lasts_s}");
    harness.key_press(Key::K);
    harness.run();
    let stance = harness.state().session().stance;
    assert!(stance.tilt_deg < -40.0, "{stance:?}");
    assert!(held(&harness, "receiver") < full, "it runs out of the receiver");
    assert!(
        harness.query_all_by_label_contains("turning to Pour").next().is_some()
            || harness.query_all_by_label_contains("at Pour").next().is_some()
    );
    enter(&mut harness, "Tilt", "0");
    assert!((held(&harness, "receiver") - full).abs() < 0.005, "the charge as given");
    assert!(harness.query_all_by_label_contains("turning to Pour").next().is_none());
}

#[test]
fn the_end_of_the_run_has_the_volumes_of_the_command() {
    let mut harness = with_strip("teaching-three.json");
    harness.get_by_role_and_label(Role::Slider, LINE).focus();
    harness.run();
    harness.key_press(Key::End);
    harness.run();
    let (time_s, lasts_s) = time(&harness);
    assert_eq!(time_s, lasts_s);
    let expected = poured_by_command(&example("teaching-three.json"));
    assert!(expected.iter().any(|(piece, _)| piece == "vial-3"));
    for (piece, ml) in expected.iter().filter(|(_, ml)| *ml > 0.005) {
        assert!((held(&harness, piece) - ml).abs() <= 0.00501, "{piece}: {ml}");
    }
    harness.get_by_label("Chart of the run").click();
    harness.run();
    assert!(harness.query_by_label("Save chart: Held over the run").is_some());
    let chart = harness.get_by_role_and_label(Role::Slider, "Held over the run");
    let told = chart.accesskit_node().value().unwrap();
    assert!(told.contains("now at") && told.contains("vial-3"), "{told}");
    // Escape hands the bench back: at this stance the charge as given lies in the receiver.
    harness.key_press(Key::Escape);
    harness.run();
    assert!(held(&harness, "vial-3") < 0.005);
}

#[test]
fn the_newest_run_wins_and_is_shown_at_its_stop() {
    let mut harness = with_strip("teaching-three.json");
    harness.key_press(Key::O);
    harness.run();
    harness.key_press(Key::O);
    harness.run();
    let full = held(&harness, "vial-1");
    for tilt in ["-10", "-20", "-5"] {
        enter(&mut harness, "Stop: tilt", tilt);
    }
    wait(&mut harness);
    harness.run();
    assert_eq!(
        harness.state().session().stance.tilt_deg,
        -5.0,
        "the glass goes to the stop as it is now"
    );
    assert!(
        full > 1.0 && held(&harness, "vial-1") < 0.005,
        "nothing is poured any more"
    );
}

#[test]
fn what_happens_stands_on_the_time_line_and_is_gone_to() {
    let mut harness = with_strip("teaching-three.json");
    harness
        .query_all_by_label_contains("begins to run")
        .next()
        .unwrap()
        .click_accesskit();
    harness.run();
    let (time_s, lasts_s) = time(&harness);
    assert!(time_s > 60.0 && time_s < lasts_s, "{time_s}");
    assert!(harness.state().session().stance.tilt_deg < -1.0);
}

#[test]
fn gas_and_capillarity_are_steps_that_are_undone() {
    let mut harness = with_strip("teaching-three.json");
    let before = bytes(&harness);
    harness.get_by_label("Capillarity").click();
    harness.run();
    assert!(run(&harness).capillarity);
    assert_eq!(undo_words(&harness).as_deref(), Some("Count capillarity in"));
    assert!(bytes(&harness).contains("capillarity"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(bytes(&harness), before);
}

#[test]
fn an_empty_run_says_what_to_do() {
    let mut harness = open(Some(example("teaching-three.json")));
    harness.key_press(Key::S);
    harness.run();
    for _ in 0..3 {
        harness.key_press(Key::I);
        harness.run();
        let is_card = |node: &egui_kittest::Node<'_>| {
            let label = node.accesskit_node().label();
            label.is_some_and(|label| label.starts_with("Stop "))
        };
        let card = harness.get_all_by_role(Role::ListBoxOption).find(is_card);
        card.unwrap().focus();
        harness.run();
        harness.key_press(Key::Delete);
        harness.run();
    }
    assert!(run(&harness).stops.is_empty());
    assert!(harness.query_by_label("Add the present stance").is_some());
    harness.get_by_label("Find: even them out").click();
    harness.run();
    assert!(harness.query_by_label("Find an even run").is_some());
}
