//! Dimensions, grid, rulers, true size and frame times on the bench.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

fn press(harness: &mut Harness<'_, Held>, key: Key) {
    harness.key_press(key);
    harness.run();
}

/// Names and values of the dimensions that are seen.
fn seen(harness: &Harness<'_, Held>) -> Vec<(String, String)> {
    harness
        .get_all_by_role(Role::Button)
        .filter_map(|node| {
            let node = node.accesskit_node();
            Some((node.label()?, node.value()?))
        })
        .collect()
}

#[test]
fn dimensions_are_shown_and_hidden_by_a_key() {
    let mut harness = open(None);
    assert_eq!(seen(&harness), []);
    press(&mut harness, Key::D);
    println!("{:#?}", seen(&harness));
    assert!(seen(&harness).contains(&("Pitch of vial".to_owned(), "45.0 mm".to_owned())));
    press(&mut harness, Key::D);
    assert_eq!(seen(&harness), []);
}
