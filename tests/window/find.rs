//! Finding on the shelf: ask, wait, take what was found as one step.

use crate::harness::*;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

#[test]
fn an_even_run_is_found_taken_and_undone() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/teaching-three.json");
    let mut harness = open(Some(path.into()));
    let before = bytes(&harness);
    harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::F);
    harness.run();
    enter(&mut harness, "Greatest tilt", "72");
    harness.get_by_label("Find an even run").click();
    harness.run();
    assert!(harness.query_by_label("Give it up").is_some());
    for _ in 0..600 {
        if harness.query_by_label("Take this run").is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
        harness.step();
    }
    harness.get_by_label("Take this run").click();
    harness.run();
    let run = &harness.state().session().document.now().run;
    assert_eq!(run.stops.len(), 3);
    // Found by the command as well, and stated in the example.
    assert!((run.stops[1].tilt_deg + 67.37).abs() < 0.3, "{:?}", run.stops);
    assert_eq!(undo_words(&harness).as_deref(), Some("Take the even run"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(bytes(&harness), before);
}

#[test]
fn a_search_is_given_up() {
    let mut harness = open(None);
    harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::F);
    harness.run();
    harness.get_by_label("How sure").click();
    harness.run();
    harness.get_by_label("Try how sure it is").click();
    harness.step();
    harness.step();
    harness.get_by_label("Give it up").click();
    harness.run();
    assert!(harness.query_by_label("Try how sure it is").is_some());
}
