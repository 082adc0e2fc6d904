//! The message at the foot of the window: what was done, or why something was not.

use super::theme;
use egui::accesskit::Live;
use egui::{Button, Label, Layout, RichText, Ui};

/// A message.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Notice {
    /// The words.
    pub text: String,
    /// Whether something was refused. A refusal stays until it is dismissed or something else is said.
    pub is_refusal: bool,
    /// Whether the user can dismiss it; what follows from the design goes with its cause.
    pub can_go: bool,
}

impl Notice {
    /// Shows the message, cut off at the end of one line or over as many as it needs; tells whether it was dismissed.
    pub(crate) fn show(&self, ui: &mut Ui, one_line: bool) -> bool {
        let colours = theme::of(ui);
        let colour = if self.is_refusal { colours.stop } else { colours.quiet };
        let text = RichText::new(&self.text).color(colour);
        let mut dismissed = false;
        ui.with_layout(Layout::right_to_left(egui::Align::Center), |ui| {
            if self.can_go && self.is_refusal {
                let button = ui.add(Button::new("×").min_size(egui::Vec2::splat(theme::TARGET)));
                ui.ctx()
                    .accesskit_node_builder(button.id, |node| node.set_label("Dismiss the message"));
                dismissed = button.on_hover_text("Dismiss the message").clicked();
            }
            ui.with_layout(Layout::left_to_right(egui::Align::Center), |ui| {
                let label = Label::new(text);
                let label = if one_line { label.truncate() } else { label.wrap() };
                let response = ui.add(label);
                ui.ctx()
                    .accesskit_node_builder(response.id, |node| node.set_live(Live::Polite));
            });
        });
        dismissed
    }
}
