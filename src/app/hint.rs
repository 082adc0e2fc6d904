//! The first hint: a card on the bench that goes away with the first use and does not come back by itself.

use super::command::{Command, keys_in_words};
use super::session::Session;
use super::theme;
use crate::geom::Stance;
use egui::{Align2, Area, Frame, Id, Margin, Order, Rect, vec2};

/// The card, and what the session was like when it came up.
pub(crate) struct Hint {
    stance: Stance,
    revision: u64,
}

impl Hint {
    /// A card that comes up now.
    pub(crate) fn new(session: &Session) -> Self {
        Self {
            stance: session.stance,
            revision: session.document.revision(),
        }
    }

    /// Shows the card at the foot of the bench; tells whether it has done its work.
    pub(crate) fn show(&self, ctx: &egui::Context, session: &Session, bench: Rect) -> bool {
        if session.stance != self.stance || session.document.revision() != self.revision {
            return true;
        }
        let colours = theme::palette(ctx.theme());
        let keys = |command: Command| {
            command
                .shortcut()
                .map_or_else(String::new, |keys| keys_in_words(ctx, &keys))
        };
        let card = Area::new(Id::unique("first hint"))
            .order(Order::Middle)
            .pivot(Align2::LEFT_BOTTOM)
            .fixed_pos(bench.left_bottom() + vec2(12.0, -12.0))
            .constrain_to(bench);
        let frame = Frame::popup(&ctx.global_style()).inner_margin(Margin::same(12));
        let shown = card.show(ctx, |ui| {
            frame
                .show(ui, |ui| {
                    ui.set_max_width(300.0_f32.min(bench.width() - 48.0));
                    ui.visuals_mut().override_text_color = Some(colours.text);
                    ui.label("Drag the ring to tilt the glass: the liquid follows.");
                    if bench.height() > 300.0 {
                        ui.label("Choose a piece to see its numbers; drag them, or type such as 46 mm or 2 in.");
                        ui.label(format!(
                            "{} lists everything that can be done.",
                            keys(Command::AllActions)
                        ));
                    }
                    ui.add_space(4.0);
                    ui.button("Understood").clicked()
                })
                .inner
        });
        shown.inner
    }
}
