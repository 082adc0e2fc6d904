//! What the lists of the window have in common: their node for assistive tools, and the arrow keys.

use egui::accesskit::{self, Role};
use egui::{EventFilter, Id, Key, Modifiers, Ui};

/// Makes the part of the window that is seen of `ui` a list of `count` entries.
pub(crate) fn describe(ui: &Ui, role: Role, label: &str, count: usize) {
    let seen = ui.clip_rect();
    ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
        node.set_role(role);
        node.set_label(label);
        node.set_size_of_set(count);
        node.set_bounds(accesskit::Rect {
            x0: seen.min.x.into(),
            y0: seen.min.y.into(),
            x1: seen.max.x.into(),
            y1: seen.max.y.into(),
        });
    });
}

/// Where the arrow keys lead from entry `at`, which has the focus, and whether what was chosen stays so.
pub(crate) fn moved_by_key(ui: &Ui, id: Id, at: usize, count: usize) -> Option<(usize, bool)> {
    let filter = EventFilter {
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
    let last = count.saturating_sub(1);
    ui.input_mut(|input| {
        let shift = input.modifiers.shift;
        let modifiers = if shift { Modifiers::SHIFT } else { Modifiers::NONE };
        let mut pressed = |key| input.consume_key(modifiers, key);
        let to = if pressed(Key::ArrowDown) {
            (at + 1).min(last)
        } else if pressed(Key::ArrowUp) {
            at.saturating_sub(1)
        } else if pressed(Key::Home) {
            0
        } else if pressed(Key::End) {
            last
        } else {
            return None;
        };
        Some((to, shift))
    })
}
