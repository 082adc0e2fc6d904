//! What comes from outside in a frame: files, the wish to close, keys; and which of them is for what.

use super::Window;
use super::command::Command;
use super::editor::Editor;
use super::region;
use egui::{Key, Modifiers};

impl Window {
    /// Whether something stands over the window and has the keys.
    fn is_covered(&self) -> bool {
        self.desk.is_asking()
            || self.actions.is_some()
            || self.about.is_some()
            || self.sheets.is_some()
            || self.starter.is_open()
            || self.calibration.is_open()
    }

    /// Takes what came from outside, and keys.
    pub(super) fn take_events(&mut self, ctx: &egui::Context) {
        // What was typed into a dialog is no command, even in the frame that ends it.
        let was_covered = self.is_covered();
        self.take_desk_events(ctx);
        if was_covered || self.is_covered() {
            return;
        }
        self.bench.take_focus_from_others(ctx);
        let focused = ctx.memory(|memory| memory.focused());
        let in_text = focused.is_some_and(|id| egui::TextEdit::load_state(ctx, id).is_some());
        let on_bench = focused.is_none() || region::has_focus(ctx) || self.bench.has_focus(ctx, &self.session);
        let in_field = !on_bench || egui::Popup::is_any_open(ctx) || self.bench.is_typed_into();
        if self.drawer && !in_field && ctx.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) {
            self.drawer = false;
        }
        let has_other_use = in_text || egui::Popup::is_any_open(ctx) || self.bench.editor.in_hand().is_some();
        if self.run.is_on() && !has_other_use && ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape)) {
            self.run.leave();
        }
        self.bench.editor.take_keys(ctx, &mut self.session, in_text, in_field);
        if self.bench.editor.is_asking() {
            return;
        }
        if let Some((deed, text)) = Editor::pressed(ctx, in_text, in_field) {
            self.do_to_pieces(ctx, deed, text);
        }
        self.bench.editor.await_paste(&mut self.session);
        if let Some(command) = Command::pressed(ctx, &self.session, in_text, in_field) {
            self.carry_out(ctx, command);
        }
    }
}
