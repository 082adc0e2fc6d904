//! The edge by which a part of the window is made higher or lower: by the arrow keys as by the pointer, and seen while it
//! has the focus.

use super::theme;
use egui::accesskit::{Action, ActionRequest, TreeId};
use egui::{Event, EventFilter, Id, Key, LayerId, Modifiers, Order, Stroke, Ui};

/// Gives the edge of the bottom panel of that name its keys; to be called before the panel is shown in `ui`.
pub(crate) fn attend(ui: &Ui, panel: &str) {
    // As the panel itself names it.
    let id = ui.scope_id().with(panel).with("__resize");
    if !ui.memory(|memory| memory.has_focus(id)) {
        return;
    }
    let filter = EventFilter {
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
    // A panel listens to assistive tools, but not to keys.
    ui.input_mut(|input| {
        for (key, action) in [(Key::ArrowUp, Action::Increment), (Key::ArrowDown, Action::Decrement)] {
            for _ in 0..input.count_and_consume_key(Modifiers::NONE, key) {
                input.events.push(Event::AccessKitActionRequest(ActionRequest {
                    action,
                    target_tree: TreeId::ROOT,
                    target_node: id.accesskit_id(),
                    data: None,
                }));
            }
        }
    });
    if let Some(edge) = ui.ctx().read_response(id) {
        let painter = ui.ctx().layer_painter(LayerId::new(Order::Middle, Id::unique("edge")));
        let line = Stroke::new(3.0, theme::of(ui).accent);
        painter.hline(edge.rect.x_range(), edge.rect.center().y, line);
    }
}
