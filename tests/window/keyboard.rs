//! Every control by Tab alone, and the focus seen wherever it is.

use crate::harness::*;
use egui::accesskit::{Action, NodeId, Role};
use egui::epaint::ClippedShape;
use egui::{Key, Modifiers, Rect, Shape};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::collections::{BTreeMap, BTreeSet};
use vialwright::app::Command;

type Window = Harness<'static, Held>;

/// A control: what it is called and where it stands.
struct Control {
    label: String,
    rect: Rect,
}

impl Control {
    fn of(node: &egui_kittest::Node<'_>) -> (NodeId, Self) {
        let access = node.accesskit_node();
        let label = format!("{:?} {}", access.role(), access.label().unwrap_or_default());
        (
            access.locate().0,
            Self {
                label,
                rect: node.rect(),
            },
        )
    }

    /// What is drawn at its place.
    fn drawn<'a>(&self, shapes: &'a [ClippedShape]) -> Vec<&'a Shape> {
        let place = self.rect.expand(6.0);
        let here = shapes.iter().filter(|shape| shape.clip_rect.intersects(place));
        let shapes = here.map(|shape| &shape.shape);
        shapes
            .filter(|shape| shape.visual_bounding_rect().intersects(place))
            .collect()
    }
}

/// Everything that is used by a click, a number or a text and can be used now. Left out is what only leads the pointer
/// to another control: places in a section drawing to their fields, bars to what the focus brings into sight.
fn controls(window: &Window) -> BTreeMap<NodeId, Control> {
    let nodes = window.get_all_by(|node| {
        let data = node.data();
        let is_used = data.supports_action(Action::Click) || data.supports_action(Action::SetValue);
        let leads = matches!(data.role(), Role::GraphicsSymbol | Role::ScrollBar);
        // Marks of the ring are gone to by keys of their own; see `ring`.
        let is_mark = data
            .label()
            .is_some_and(|label| label.starts_with("Tilt: ") || label.starts_with("Roll: "));
        is_used && !leads && !is_mark && !node.is_disabled() && !node.is_hidden()
    });
    nodes.map(|node| Control::of(&node)).collect()
}

fn focused(window: &Window) -> Option<(NodeId, Control)> {
    let mut nodes = window.query_all_by(|node| node.is_focused());
    nodes.next().map(|node| Control::of(&node))
}

/// Goes round by Tab and sees that every control is on the way, in sight, and looks otherwise while it has the focus.
/// Gives how many there are.
fn go_round(window: &mut Window, what: &str) -> usize {
    let wanted = controls(window);
    let mut reached = BTreeSet::new();
    let mut faults = Vec::new();
    for _ in 0..wanted.len() + 60 {
        if wanted.keys().all(|id| reached.contains(id)) {
            break;
        }
        let before = window.output().shapes.clone();
        press(window, Modifiers::NONE, Key::Tab);
        let Some((id, control)) = focused(window) else {
            continue;
        };
        if !reached.insert(id) {
            continue;
        }
        if !window.ctx.content_rect().contains_rect(control.rect) {
            faults.push(format!("out of sight: {}", control.label));
        } else if control.drawn(&before) == control.drawn(&window.output().shapes) {
            faults.push(format!("not marked: {}", control.label));
        }
    }
    // Marks that are still being worked out come and go.
    let left = controls(window);
    let missed = wanted
        .iter()
        .filter(|(id, _)| !reached.contains(id) && left.contains_key(id));
    faults.extend(missed.map(|(_, control)| format!("not reached: {}", control.label)));
    assert!(faults.is_empty(), "{what}: {faults:#?}");
    wanted.len()
}

#[test]
fn tab_goes_through_every_control_and_the_focus_is_seen() {
    let mut window = teaching();
    assert!(go_round(&mut window, "nothing selected") > 40);
    window.get_by_role_and_label(Role::GraphicsObject, "vial-2").focus();
    window.run();
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().session().selection.shown(), Some("vial-2"));
    assert!(go_round(&mut window, "a vial selected") > 40);
}

#[test]
fn tab_goes_through_the_pages_of_the_shelf() {
    for (modifiers, key, page) in [
        (Modifiers::NONE, Key::P, "plots"),
        (Modifiers::NONE, Key::G, "findings"),
        (Modifiers::COMMAND | Modifiers::SHIFT, Key::F, "find"),
        (Modifiers::NONE, Key::W, "job"),
    ] {
        let mut window = teaching();
        press(&mut window, modifiers, key);
        assert!(window.query_by_label("Shut the shelf").is_some(), "{page}");
        assert!(go_round(&mut window, page) > 45);
    }
}

#[test]
fn tab_stays_within_what_stands_over_the_window() {
    for command in [Command::Starter, Command::About, Command::Calibrate, Command::SaveAs] {
        let mut window = teaching();
        let ctx = window.ctx.clone();
        window.state_mut().carry_out(&ctx, command);
        window.run();
        let mut seen = BTreeMap::new();
        for _ in 0..40 {
            press(&mut window, Modifiers::NONE, Key::Tab);
            let (id, control) = focused(&window).unwrap();
            if seen.insert(id, control.label).is_some() {
                break;
            }
        }
        let behind = |label: &String| {
            ["Ledger", "Tilt ring", "Fittings"]
                .iter()
                .any(|name| label.contains(name))
        };
        assert!(!seen.values().any(behind), "{command:?}: {seen:?}");
        assert!(seen.len() >= 2, "{command:?}: {seen:?}");
    }
}

#[test]
fn the_edge_of_a_part_is_moved_by_keys() {
    let mut window = teaching();
    press(&mut window, Modifiers::NONE, Key::P);
    let edge = |window: &Window| {
        let edges = window.get_all_by_role(Role::Splitter);
        // That of the shelf is the longest.
        let widths = edges.map(|edge| (edge.accesskit_node().locate().0, edge.rect()));
        widths.max_by(|a, b| a.1.width().total_cmp(&b.1.width())).unwrap()
    };
    let (id, before) = edge(&window);
    for _ in 0..120 {
        if focused(&window).is_some_and(|(focused, _)| focused == id) {
            break;
        }
        press(&mut window, Modifiers::NONE, Key::Tab);
    }
    let stance = window.state().session().stance;
    press(&mut window, Modifiers::NONE, Key::ArrowUp);
    let raised = edge(&window).1;
    assert!(raised.top() < before.top() - 10.0, "{before} {raised}");
    press(&mut window, Modifiers::NONE, Key::ArrowDown);
    assert!((edge(&window).1.top() - before.top()).abs() < 1.0);
    assert_eq!(window.state().session().stance, stance, "the glass is not turned");
}
