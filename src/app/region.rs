//! The parts of the window between which the focus can be moved by key.
//!
//! A part takes the focus as a whole; then Tab goes on to what is in it, and keys act as they do while nothing has the
//! focus. It is no stop of its own for Tab otherwise.

use super::theme;
use egui::accesskit::Role;
use egui::{Context, EventFilter, Id, LayerId, Order, Rect, Sense, Stroke, StrokeKind, Ui, WidgetInfo};

/// A part of the window.
#[derive(Clone, Copy, Debug, Hash, PartialEq, Eq)]
pub(crate) enum Region {
    /// The glass.
    Bench,
    /// The pieces to place.
    Tray,
    /// The selected piece.
    Particulars,
    /// The vessels.
    Ledger,
    /// Plots and findings.
    Shelf,
    /// The run.
    Run,
    /// The strip at the foot.
    Strip,
    /// The bar at the top.
    Menu,
}

/// The parts seen in a pass, in the order in which the keys go through them.
#[derive(Clone, Default)]
struct Seen {
    pass: u64,
    regions: Vec<(Region, Rect)>,
}

impl Region {
    /// All parts, in the order in which the keys go through them.
    pub(crate) const ORDER: [Self; 8] = [
        Self::Bench,
        Self::Tray,
        Self::Particulars,
        Self::Ledger,
        Self::Shelf,
        Self::Run,
        Self::Strip,
        Self::Menu,
    ];

    /// Its name for people.
    pub(crate) fn label(self) -> &'static str {
        match self {
            Self::Bench => "Bench",
            Self::Tray => "Tray of pieces to place",
            Self::Particulars => "Particulars of the selected piece",
            Self::Ledger => "Ledger of the vessels",
            Self::Shelf => "Plots and findings",
            Self::Run => "Run",
            Self::Strip => "Stance and messages",
            Self::Menu => "Menus",
        }
    }

    fn id(self) -> Id {
        Id::unique("region").with(self)
    }

    /// Gives this part the focus as soon as no dialog holds it any more.
    pub(crate) fn take_focus(self, ctx: &Context) {
        ctx.data_mut(|data| data.insert_temp(wanted(), Some(self)));
        ctx.request_repaint();
    }

    /// Takes the focus that was wanted for this part, unless a dialog has just been shown over it.
    fn take_wanted(self, ui: &Ui) {
        let ctx = ui.ctx();
        let is_wanted = ctx.data(|data| data.get_temp(wanted())) == Some(Some(self));
        if !is_wanted {
            return;
        }
        if ctx.memory(|memory| memory.allows_interaction(ui.layer_id())) {
            ctx.memory_mut(|memory| memory.request_focus(self.id()));
            ctx.data_mut(|data| data.insert_temp(wanted(), None::<Self>));
        } else {
            ctx.request_repaint();
        }
    }

    /// Whether it is shown now.
    pub(crate) fn is_shown(self, ctx: &Context) -> bool {
        seen(ctx).regions.iter().any(|(region, _)| *region == self)
    }

    /// Marks `rect` as this part of the window; to be called before its content is shown.
    pub(crate) fn mark(self, ui: &Ui, rect: Rect) {
        let ctx = ui.ctx();
        let pass = ctx.cumulative_pass_nr();
        ctx.data_mut(|data| {
            let seen: &mut Seen = data.get_temp_mut_or_default(Id::unique("regions"));
            if seen.pass != pass {
                *seen = Seen {
                    pass,
                    regions: Vec::new(),
                };
            }
            seen.regions.push((self, rect));
        });
        self.take_wanted(ui);
        let id = self.id();
        let focused = ctx.memory(|memory| memory.has_focus(id));
        let sense = if focused {
            Sense::focusable_noninteractive()
        } else {
            Sense::hover()
        };
        let response = ui.interact(rect, id, sense);
        response.widget_info(|| WidgetInfo::labeled(Role::Region, true, self.label()));
        if !focused {
            return;
        }
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ctx.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
        let stroke = Stroke::new(2.0, theme::of(ui).accent);
        let painter = ctx.layer_painter(LayerId::new(Order::Middle, Id::unique("focused region")));
        painter.rect_stroke(rect.shrink(1.0), 4.0, stroke, StrokeKind::Inside);
    }
}

/// Whether a control was clicked. When it gets the focus in a part that scrolls, it is brought into sight.
pub(crate) fn is_clicked(response: &egui::Response) -> bool {
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
    response.clicked()
}

/// Whether a part as a whole has the focus.
pub(crate) fn has_focus(ctx: &Context) -> bool {
    let focused = ctx.memory(egui::Memory::focused);
    Region::ORDER.iter().any(|region| focused == Some(region.id()))
}

/// Where it is kept which part is to get the focus.
fn wanted() -> Id {
    Id::unique("wanted region")
}

fn seen(ctx: &Context) -> Seen {
    ctx.data(|data| data.get_temp(Id::unique("regions")))
        .unwrap_or_default()
}

/// Moves the focus to the next part that is shown, or to the one before.
pub(crate) fn turn(ctx: &Context, forward: bool) {
    let seen = seen(ctx);
    let shown: Vec<_> = Region::ORDER
        .into_iter()
        .filter(|region| seen.regions.iter().any(|(seen, _)| seen == region))
        .collect();
    let focused = ctx.memory(egui::Memory::focused);
    let current = shown
        .iter()
        .copied()
        .find(|region| focused == Some(region.id()))
        .or_else(|| {
            // The part in which something has the focus; of two the one that lies over the other.
            let at = ctx.read_response(focused?)?.rect.center();
            let holding = seen.regions.iter().rev().find(|(_, rect)| rect.contains(at))?;
            Some(holding.0)
        });
    if let Some(next) = next(&shown, current, forward) {
        next.take_focus(ctx);
    }
}

/// The part after `current`, or before it; from nowhere the first or the last.
fn next(shown: &[Region], current: Option<Region>, forward: bool) -> Option<Region> {
    let at = current.and_then(|current| shown.iter().position(|region| *region == current));
    let count = shown.len();
    let to = match (at, forward) {
        (None, true) => 0,
        (None, false) => count.checked_sub(1)?,
        (Some(at), true) => (at + 1) % count,
        (Some(at), false) => (at + count - 1) % count,
    };
    shown.get(to).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_keys_go_round() {
        let shown = [Region::Bench, Region::Strip, Region::Menu];
        assert_eq!(next(&shown, None, true), Some(Region::Bench));
        assert_eq!(next(&shown, None, false), Some(Region::Menu));
        assert_eq!(next(&shown, Some(Region::Menu), true), Some(Region::Bench));
        assert_eq!(next(&shown, Some(Region::Bench), false), Some(Region::Menu));
        assert_eq!(
            next(&shown, Some(Region::Ledger), true),
            Some(Region::Bench),
            "it is hidden now"
        );
        assert_eq!(next(&[], None, true), None);
        assert_eq!(next(&[], None, false), None);
    }
}
