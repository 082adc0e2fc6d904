//! A question over the window: a heading, a sentence or two, an answer for each button.

use super::theme;
use egui::{Button, Id, Modal, Ui};

/// Widest text of a dialog, points.
const WIDTH: f32 = 420.0;

/// Opens a dialog over the window and keeps the focus in it: on the first control that `content` gives back, until the
/// user moves it. Tells whether the dialog was left by Escape or by a click beside it.
pub(crate) fn dialog(ctx: &egui::Context, name: &str, content: impl FnOnce(&mut Ui) -> Option<Id>) -> bool {
    let id = Id::unique("dialog").with(name);
    let modal = Modal::new(id).frame(theme::dialog(ctx)).show(ctx, content);
    let pass = ctx.cumulative_pass_nr();
    let seen = ctx.data_mut(|data| {
        let seen = data.get_temp::<u64>(id);
        data.insert_temp(id, pass);
        seen
    });
    let is_new = seen.is_none_or(|seen| seen + 1 < pass);
    if let Some(first) = modal.inner
        && (is_new || ctx.memory(|memory| memory.focused().is_none()))
    {
        ctx.memory_mut(|memory| memory.request_focus(first));
    }
    modal.should_close()
}

/// Width for the text of a dialog within this window.
pub(crate) fn width(ctx: &egui::Context, wanted: f32) -> f32 {
    wanted.min(ctx.content_rect().width() - 72.0).max(200.0)
}

/// Asks; `answers` are words and what they mean, the safest first. Leaving the dialog is `cancel`.
pub(crate) fn ask<A: Clone>(
    ctx: &egui::Context,
    heading: &str,
    words: &str,
    answers: &[(&str, A)],
    cancel: A,
) -> Option<A> {
    let mut chosen = None;
    let left = dialog(ctx, heading, |ui| {
        ui.set_width(width(ctx, WIDTH));
        ui.heading(heading);
        ui.add_space(4.0);
        ui.label(words);
        ui.add_space(10.0);
        let mut first = None;
        ui.horizontal_wrapped(|ui| {
            for (text, answer) in answers {
                let response = ui.add(Button::new(*text));
                first.get_or_insert(response.id);
                if response.clicked() {
                    chosen = Some(answer.clone());
                }
            }
        });
        first
    });
    chosen.or(left.then_some(cancel))
}
