//! The pieces on the bench as accessible nodes.

use super::scene::{Scene, Still};
use super::session::Session;
use super::theme;
use super::view::Placed;
use egui::accesskit::{Action, Role};
use egui::{EventFilter, Id, Key, Rect, Sense, Stroke, StrokeKind, Ui, WidgetInfo};

/// The node of a piece.
pub(crate) fn id(name: &str) -> Id {
    Id::unique("piece").with(name)
}

/// One node for each piece that is seen, with its name and what it holds; it can be focused and chosen by key.
pub(crate) fn show(ui: &Ui, session: &mut Session, scene: &Scene, still: &Still, placed: &Placed, bench: Rect) {
    for (index, name) in scene.drawing.pieces.iter().enumerate() {
        let Some(bounds) = scene.drawing.bounds_of(index) else {
            continue;
        };
        let rect = Rect::from_points(&bounds.map(|p| placed.to_screen(p)));
        if !rect.intersects(bench) {
            continue;
        }
        let id = id(name);
        let response = ui.interact(rect.intersect(bench), id, Sense::focusable_noninteractive());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_role(Role::GraphicsObject);
            node.set_value(still.words(name));
            node.set_selected(session.selection.contains(name));
            node.add_action(Action::Click);
        });
        let focused = response.has_focus();
        if focused {
            // The arrows move the selected piece; they don't lead to another control.
            let filter = EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                ..EventFilter::default()
            };
            ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
        }
        let chosen = ui.input_mut(|input| {
            input.has_accesskit_action_request(id, Action::Click)
                || (focused && input.consume_key(egui::Modifiers::NONE, Key::Enter))
                || (focused && input.consume_key(egui::Modifiers::NONE, Key::Space))
        });
        if chosen {
            session.selection.only(name);
        }
        if focused {
            let colours = theme::of(ui);
            let stroke = Stroke::new(2.0, colours.accent);
            ui.painter()
                .rect_stroke(rect.expand(4.0), 4.0, stroke, StrokeKind::Outside);
        }
    }
}
