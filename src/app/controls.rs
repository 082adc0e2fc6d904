//! The tilt ring and the roll scale as controls: focus, keys, and what assistive tools are told.

use super::marks::Marks;
use super::ring::{self, Ring};
use super::roll::RollScale;
use super::session::Session;
use super::spots::{self, Spot};
use super::tell;
use egui::accesskit::{Action, Orientation, Role};
use egui::{CursorIcon, EventFilter, Id, Key, Sense, Ui, WidgetInfo};

/// The ring as a control of its own: focus, arrow keys, assistive tools.
pub(crate) fn turn_by_ring(ui: &Ui, session: &mut Session, ring: &Ring, marks: &Marks) -> Id {
    let id = Id::unique("tilt ring");
    let response = ui.interact(ring.bounds(), id, Sense::focusable_noninteractive());
    let tilt = session.stance.tilt_deg;
    let step = keys(ui, id, (Key::ArrowRight, Key::ArrowLeft));
    let asked = asked(ui, id);
    if step != 0.0 {
        session.tilt_to(tilt + step);
    }
    if let Some(value) = asked {
        session.tilt_to(value);
    }
    // Comma lies at the left: anticlockwise, as the arrow that way.
    if let Some(way) = stride(ui, id, (Key::Comma, Key::Period))
        && let Some(at) = marks.next(&session.selection, tilt, way)
    {
        session.tilt_exactly(at);
    }
    describe(ui, &response, "Tilt ring", session.stance.tilt_deg, (-180.0, 180.0));
    id
}

/// The roll scale as a control: drag, click, arrow keys, assistive tools; a click on a mark goes there.
pub(crate) fn roll_by_scale(ui: &Ui, session: &mut Session, scale: RollScale, marks: &Marks, spots: &[Spot<'_>]) -> Id {
    let id = Id::unique("roll scale");
    let response = ui.interact(scale.reach(), id, Sense::click_and_drag());
    let under = response.hover_pos().and_then(|at| spots::under(spots, at));
    let cursor = if under.is_some() {
        CursorIcon::PointingHand
    } else {
        CursorIcon::ResizeVertical
    };
    let response = response.on_hover_cursor(cursor);
    if let Some(at) = response.interact_pointer_pos() {
        match spots::under(spots, at) {
            Some(spot) if response.clicked() => session.roll_exactly(spot.group.at_deg()),
            _ if response.dragged() || response.clicked() => session.roll_to(scale.roll_at(at.y).round()),
            _ => {}
        }
    }
    if let Some(at) = response.hover_pos()
        && let Some(words) = scale.words_under(marks, &session.selection, spots, at)
    {
        tell::at_pointer(&response, words);
    }
    let step = keys(ui, id, (Key::ArrowUp, Key::ArrowDown));
    if step != 0.0 {
        session.roll_to(session.stance.roll_deg + step);
    }
    if let Some(value) = asked(ui, id) {
        session.roll_to(value);
    }
    if let Some(way) = stride(ui, id, (Key::Period, Key::Comma))
        && let Some(at) = marks.next(&session.selection, session.stance.roll_deg, way)
    {
        session.roll_exactly(at);
    }
    describe(ui, &response, "Roll scale", session.stance.roll_deg, (-90.0, 90.0));
    id
}

/// The way to the next mark asked for by a key while the control has the focus: up (1) or down (-1).
fn stride(ui: &Ui, id: Id, (up, down): (Key, Key)) -> Option<f64> {
    if !ui.memory(|memory| memory.has_focus(id)) {
        return None;
    }
    let pressed = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
    pressed(up).then_some(1.0).or_else(|| pressed(down).then_some(-1.0))
}

/// Degrees asked for by arrow keys while the control has the focus; shift makes them tenths.
pub(crate) fn keys(ui: &Ui, id: Id, (less, more): (Key, Key)) -> f64 {
    if !ui.memory(|memory| memory.has_focus(id)) {
        return 0.0;
    }
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
    ui.input_mut(|input| {
        let unit = if input.modifiers.shift { 0.1 } else { 1.0 };
        let up = input.count_and_consume_key(egui::Modifiers::NONE, more);
        let down = input.count_and_consume_key(egui::Modifiers::NONE, less);
        unit * (up as f64 - down as f64)
    })
}

/// A value that an assistive tool asked for.
fn asked(ui: &Ui, id: Id) -> Option<f64> {
    ui.input(|input| {
        input
            .accesskit_action_requests(id, Action::SetValue)
            .find_map(|request| match request.data {
                Some(egui::accesskit::ActionData::NumericValue(value)) => Some(value),
                _ => None,
            })
    })
}

/// Name, role and value of an angle control.
fn describe(ui: &Ui, response: &egui::Response, name: &str, value_deg: f64, (low, high): (f64, f64)) {
    response.widget_info(|| WidgetInfo::labeled(Role::Slider, true, name));
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_numeric_value(value_deg);
        node.set_value(ring::degrees(value_deg));
        node.set_min_numeric_value(low);
        node.set_max_numeric_value(high);
        node.set_numeric_value_step(1.0);
        node.set_orientation(Orientation::Vertical);
        node.add_action(Action::SetValue);
    });
}
