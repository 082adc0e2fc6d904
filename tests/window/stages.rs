//! The job: stages on the shelf, inputs, workings, silencing.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::PathBuf;
use std::time::Duration;
use vialwright::app::Opening;
use vialwright::model::job::Input;

fn open(example: &str) -> Harness<'static, Held> {
    open_as(Opening {
        path: Some(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples").join(example)),
        works_out_job: true,
        ..Opening::default()
    })
}

/// Waits until the stages of the present design are worked out.
fn wait(harness: &mut Harness<'_, Held>) {
    for _ in 0..600 {
        harness.run();
        if harness.query_by_label("Working it out…").is_none()
            && harness.query_by_label("Nothing is worked out yet.").is_none()
        {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("the stages were not worked out in half a minute");
}

fn job(example: &str) -> Harness<'static, Held> {
    let mut harness = open(example);
    harness.key_press(Key::W);
    harness.run();
    wait(&mut harness);
    harness
}

fn turn_to(harness: &mut Harness<'_, Held>, stage: &str) {
    harness.get_by_label(stage).click();
    harness.run();
}

/// Brings a control into view and clicks it.
fn click(harness: &mut Harness<'_, Held>, label: &str) {
    harness.get_by_label(label).scroll_to_me();
    harness.run();
    harness.get_by_label(label).click();
    harness.run();
}

/// The words that stand beside what a line is about.
fn has_text(harness: &Harness<'_, Held>, text: &str) -> bool {
    harness.query_all_by_label_contains(text).next().is_some()
}

#[test]
fn the_stages_stand_in_the_order_of_the_work_with_results_and_workings() {
    let mut harness = job("rubidium-six.json");
    for stage in [
        "Charge",
        "Distilling",
        "Gas and vacuum",
        "Necks and sealing",
        "Strength and heat",
        "Blowing it",
        "Cleaning up",
    ] {
        assert!(harness.query_by_label(stage).is_some(), "{stage}");
    }
    assert!(has_text(&harness, "RbCl"));
    assert!(!has_text(&harness, "m = V rho"));
    click(&mut harness, "Working of the same as mass and amount");
    harness.run();
    assert!(has_text(&harness, "m = V rho"), "one working opens");
    harness.get_by_label("Show working").click();
    harness.run();
    assert!(
        has_text(&harness, "m = n (nu/nu_product) M (1 + excess) / yield"),
        "all workings open"
    );
    turn_to(&mut harness, "Distilling");
    assert!(has_text(&harness, "time for the charge"));
    assert!(
        has_text(&harness, "Vapour pressure: vapour pressure / Pa from"),
        "the plot is told in words"
    );
    turn_to(&mut harness, "Cleaning up");
    assert!(has_text(&harness, "never blow into glass"));
}

#[test]
fn an_input_is_typed_kept_undone_and_left_open_again() {
    let mut harness = job("rubidium-six.json");
    turn_to(&mut harness, "Distilling");
    enter(&mut harness, "Pot temperature", "250 °C");
    assert_eq!(now(&harness).job.given(Input::Pot), Some(250.0));
    assert_eq!(undo_words(&harness).as_deref(), Some("Change the pot temperature"));
    wait(&mut harness);
    assert!(has_text(&harness, "at 250.0"), "the results follow");
    enter(&mut harness, "Pot temperature", "5000");
    assert_eq!(
        now(&harness).job.given(Input::Pot),
        Some(250.0),
        "out of its limits it is refused"
    );
    assert!(has_text(&harness, "−196 to 900") || has_text(&harness, "-196 to 900"));
    harness.key_press(Key::Escape);
    harness.run();
    click(&mut harness, "Leave pot temperature open");
    harness.run();
    assert_eq!(now(&harness).job.given(Input::Pot), None);
    assert!(has_text(&harness, "Proposed: vapour pressure of 0.1 mbar"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(now(&harness).job.given(Input::Pot), Some(250.0));
}

#[test]
fn an_open_number_starts_empty_and_takes_its_unit() {
    let mut harness = job("rubidium-six.json");
    turn_to(&mut harness, "Blowing it");
    let field = |harness: &Harness<'_, Held>| {
        harness
            .get_by_role_and_label(Role::TextInput, "Longest part for the oven")
            .accesskit_node()
            .id()
    };
    let _ = field(&harness);
    harness
        .get_by_role_and_label(Role::TextInput, "Longest part for the oven")
        .click();
    harness.run();
    harness
        .get_by_role_and_label(Role::TextInput, "Longest part for the oven")
        .type_text("30 cm");
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(now(&harness).job.given(Input::Oven), Some(300.0));
}

#[test]
fn a_liquid_of_ones_own_has_its_fields_in_the_design() {
    let mut harness = job("benzene-d6-five.json");
    assert!(has_text(&harness, "Benzene-d6, of your own"));
    let type_into = |harness: &mut Harness<'_, Held>, label: &str, text: &str| {
        harness.get_by_role_and_label(Role::TextInput, label).scroll_to_me();
        harness.run();
        harness.get_by_role_and_label(Role::TextInput, label).click();
        harness.run();
        harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        harness.get_by_role_and_label(Role::TextInput, label).type_text(text);
        harness.run();
        harness.key_press(Key::Enter);
        harness.run();
    };
    type_into(&mut harness, "Density", "20:0.951 30:0.94");
    let own = &now(&harness).job.own_liquids[0];
    assert_eq!((own.density.len(), own.density[0].value), (2, 0.951));
    type_into(&mut harness, "Density", "30:0.94 20:0.95");
    assert_eq!(
        now(&harness).job.own_liquids[0].density[0].value,
        0.951,
        "out of order it is refused"
    );
    assert!(has_text(&harness, "have to grow"));
    harness.key_press(Key::Escape);
    harness.run();
    click(&mut harness, "Take out Benzene-d6");
    harness.run();
    assert!(now(&harness).job.own_liquids.is_empty());
    assert!(has_text(&harness, "Enter Benzene-d6 as a liquid of your own"));
}

#[test]
fn a_finding_is_silenced_with_a_reason_and_speaks_again() {
    let mut harness = job("with-faults/potassium-four.json");
    let before = bytes(&harness);
    harness.key_press(Key::G);
    harness.run();
    let list = harness.get_by_label("List of findings");
    assert_eq!(list.accesskit_node().role(), Role::List);
    let about = "The charge does not fill the ampoules";
    let row = |harness: &mut Harness<'_, Held>| {
        let found = harness.get_all_by_role(Role::ListItem).find(|node| {
            node.accesskit_node()
                .label()
                .is_some_and(|label| label.contains("The charge does not fill the ampoules"))
        });
        let node = found.unwrap();
        node.scroll_to_me();
        node.focus();
    };
    row(&mut harness);
    harness.run();
    click(&mut harness, &format!("Silence {about}"));
    harness.run();
    let reason = harness.get_by_role_and_label(Role::TextInput, "Reason to silence it");
    assert!(reason.is_focused());
    reason.type_text("the rest is charged later");
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(
        now(&harness).job.reason_for("charge-short", ""),
        Some("the rest is charged later")
    );
    assert_eq!(
        undo_words(&harness).as_deref(),
        Some("Silence: The charge does not fill the ampoules")
    );
    assert!(has_text(&harness, "Reason: the rest is charged later"));
    let again = format!("Let speak {about}");
    harness.get_by_label(&again).scroll_to_me();
    harness.run();
    harness.get_by_label(&again).click();
    harness.run();
    assert_eq!(bytes(&harness), before, "it speaks again and nothing else has changed");
    assert!(has_text(&harness, "Not judged,"));
}
