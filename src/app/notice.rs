//! The message at the foot of the window: what was done, or why something was not.

use super::theme;
use egui::accesskit::Live;
use egui::{Align2, Area, Button, Color32, Frame, Id, Label, Margin, Order, Rect, RichText, TextStyle, Ui, Vec2, vec2};

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
    /// Whether the message fits into what is left of a line.
    pub(crate) fn fits(&self, ui: &Ui) -> bool {
        let font = TextStyle::Body.resolve(ui.style());
        let text = ui
            .painter()
            .layout_no_wrap(self.text.clone(), font, Color32::PLACEHOLDER);
        let button = if self.has_button() { theme::TARGET + 8.0 } else { 0.0 };
        text.size().x + button <= ui.available_width()
    }

    /// Shows the message in the line; tells whether it was dismissed.
    pub(crate) fn show(&self, ui: &mut Ui) -> bool {
        self.label(ui);
        self.has_button() && dismiss(ui)
    }

    /// Shows the message over the foot of the bench; tells whether it was dismissed.
    pub(crate) fn show_over(&self, ctx: &egui::Context, bench: Rect) -> bool {
        let card = Area::new(Id::unique("message"))
            .order(Order::Middle)
            .pivot(Align2::LEFT_BOTTOM)
            .fixed_pos(bench.left_bottom() + vec2(8.0, -8.0))
            .constrain_to(bench);
        let frame = Frame::popup(&ctx.global_style()).inner_margin(Margin::symmetric(10, 6));
        let shown = card.show(ctx, |ui| {
            frame
                .show(ui, |ui| {
                    ui.set_max_width(bench.width() - 40.0);
                    ui.horizontal(|ui| {
                        let room = ui.available_width() - theme::TARGET - 12.0;
                        ui.scope(|ui| {
                            ui.set_max_width(room);
                            self.label(ui);
                        });
                        self.has_button() && dismiss(ui)
                    })
                    .inner
                })
                .inner
        });
        shown.inner
    }

    fn has_button(&self) -> bool {
        self.can_go && self.is_refusal
    }

    fn label(&self, ui: &mut Ui) {
        let colours = theme::of(ui);
        let colour = if self.is_refusal { colours.stop } else { colours.quiet };
        let response = ui.add(Label::new(RichText::new(&self.text).color(colour)).wrap());
        ui.ctx()
            .accesskit_node_builder(response.id, |node| node.set_live(Live::Polite));
    }
}

fn dismiss(ui: &mut Ui) -> bool {
    let button = ui.add(Button::new("×").min_size(Vec2::splat(theme::TARGET)));
    ui.ctx()
        .accesskit_node_builder(button.id, |node| node.set_label("Dismiss the message"));
    button.on_hover_text("Dismiss the message").clicked()
}
