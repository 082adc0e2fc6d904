//! Where particulars and ledger stand: beside the bench, under it, or in a drawer over it.

use super::edge;
use super::ledger;
use super::particulars;
use super::region::Region;
use super::scene::{Scene, Still};
use super::session::Session;
use super::theme;
use crate::out::drawing::Drawing;
use egui::{Area, CentralPanel, Frame, Id, Margin, Order, Panel, Rect, Stroke, Ui, UiBuilder, Vec2, pos2};

/// From this width on the numbers stand beside the bench, points.
const BESIDE: f32 = 860.0;
/// From this height on a narrower window has room for them under the bench, points.
const BELOW: f32 = 640.0;
/// Least height of the particulars over the ledger, points.
const PARTICULARS: f32 = 260.0;
/// Below this height the drawer shows one of the two at a time, points.
const LOW: f32 = 460.0;

/// Where the numbers stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    /// In a column at the right.
    Beside,
    /// Under the bench.
    Below,
    /// In a drawer over the bench, which is shut to begin with.
    Drawer,
}

/// What the numbers are taken from.
#[derive(Clone, Copy)]
pub(crate) struct Seen<'a> {
    /// The liquid at rest.
    pub still: &'a Still,
    /// The drawing of the glass, if there is one.
    pub drawing: Option<&'a Drawing>,
}

impl<'a> Seen<'a> {
    /// What there is of both.
    pub(crate) fn of(still: &'a Still, scene: &'a Option<(u64, Scene)>) -> Self {
        Self {
            still,
            drawing: scene.as_ref().map(|(_, scene)| &scene.drawing),
        }
    }
}

impl Place {
    /// The place in a window of this size, points.
    pub(crate) fn within(window: Vec2) -> Self {
        if window.x >= BESIDE {
            Self::Beside
        } else if window.y >= BELOW {
            Self::Below
        } else {
            Self::Drawer
        }
    }
}

/// What the drawer shows while it is too low for both.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Leaf {
    /// The selected piece.
    #[default]
    Particulars,
    /// The vessels.
    Ledger,
}

/// A column that grows by this much is divided anew, points.
const BUCKET: f32 = 250.0;

fn frame(ui: &Ui) -> Frame {
    Frame::new()
        .fill(theme::of(ui).panel)
        .inner_margin(Margin::symmetric(10, 8))
}

/// The column at the right.
pub(crate) fn beside(ui: &mut Ui, session: &mut Session, seen: Seen<'_>) {
    let width = (ui.ctx().content_rect().width() * 0.27).clamp(300.0, 400.0);
    Panel::right("column")
        .resizable(false)
        .exact_size(width)
        .frame(Frame::new().fill(theme::of(ui).panel))
        .show(ui, |ui| stacked(ui, "ledger", session, seen));
}

/// Both side by side under the bench.
pub(crate) fn below(ui: &mut Ui, session: &mut Session, seen: Seen<'_>) {
    let height = ui.available_height();
    let fill = Frame::new().fill(theme::of(ui).panel);
    edge::attend(ui, "numbers below");
    Panel::bottom("numbers below")
        .resizable(true)
        .frame(fill)
        .default_size(height * 0.38)
        .size_range(180.0..=(height - 240.0).max(180.0))
        .show(ui, |ui| {
            let frame = frame(ui);
            let half = ui.available_width() * 0.5;
            Panel::right("ledger below")
                .resizable(false)
                .exact_size(half)
                .frame(frame)
                .show(ui, |ui| show_ledger(ui, session, seen));
            CentralPanel::no_frame()
                .frame(frame)
                .show(ui, |ui| show_particulars(ui, session, seen));
        });
}

/// The drawer over the right of the bench.
pub(crate) fn drawer(ctx: &egui::Context, bench: Rect, leaf: &mut Leaf, session: &mut Session, seen: Seen<'_>) {
    let width = 330.0_f32.min(bench.width() - 40.0);
    let rect = Rect::from_min_max(pos2(bench.right() - width, bench.top()), bench.max);
    Area::new(Id::unique("drawer"))
        .order(Order::Middle)
        .fixed_pos(rect.min)
        .constrain(false)
        .show(ctx, |ui| {
            let colours = theme::of(ui);
            ui.painter().rect_filled(rect, 0.0, colours.panel);
            ui.scope_builder(UiBuilder::new().max_rect(rect), |ui| {
                ui.set_min_size(rect.size());
                ui.set_clip_rect(rect);
                if rect.height() >= LOW {
                    stacked(ui, "ledger in drawer", session, seen);
                } else {
                    leaves(ui, leaf, session, seen);
                }
                ui.painter()
                    .vline(rect.left(), rect.y_range(), Stroke::new(1.0, colours.outline));
            });
        });
}

/// One of the two, chosen by its name.
fn leaves(ui: &mut Ui, leaf: &mut Leaf, session: &mut Session, seen: Seen<'_>) {
    let rect = ui.max_rect();
    frame(ui).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.selectable_value(leaf, Leaf::Particulars, "Particulars");
            ui.selectable_value(leaf, Leaf::Ledger, "Ledger");
        });
        // The chosen name above is the heading.
        match leaf {
            Leaf::Particulars => {
                Region::Particulars.mark(ui, rect);
                particulars::show(ui, session, seen.drawing);
            }
            Leaf::Ledger => {
                Region::Ledger.mark(ui, rect);
                ledger::show(ui, session, seen.still, false);
            }
        }
    });
}

/// Particulars over ledger.
fn stacked(ui: &mut Ui, ledger: &str, session: &mut Session, seen: Seen<'_>) {
    let height = ui.available_height();
    let frame = frame(ui);
    // A column of another height is divided anew.
    let ledger = format!("{ledger} of {:.0}", height / BUCKET);
    edge::attend(ui, &ledger);
    Panel::bottom(ledger)
        .resizable(true)
        .frame(frame)
        .default_size(height * 0.5)
        .size_range(110.0..=(height - PARTICULARS).max(110.0))
        .show(ui, |ui| show_ledger(ui, session, seen));
    CentralPanel::no_frame()
        .frame(frame)
        .show(ui, |ui| show_particulars(ui, session, seen));
}

fn show_particulars(ui: &mut Ui, session: &mut Session, seen: Seen<'_>) {
    Region::Particulars.mark(ui, ui.max_rect().expand(6.0));
    particulars::show(ui, session, seen.drawing);
}

fn show_ledger(ui: &mut Ui, session: &mut Session, seen: Seen<'_>) {
    Region::Ledger.mark(ui, ui.max_rect().expand(6.0));
    ledger::show(ui, session, seen.still, true);
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::vec2;

    #[test]
    fn a_narrow_window_folds_the_numbers_under_the_bench_and_a_small_one_into_a_drawer() {
        assert_eq!(Place::within(vec2(1280.0, 800.0)), Place::Beside);
        assert_eq!(Place::within(vec2(1024.0, 640.0)), Place::Beside);
        assert_eq!(Place::within(vec2(700.0, 900.0)), Place::Below);
        assert_eq!(Place::within(vec2(700.0, 500.0)), Place::Drawer);
        assert_eq!(Place::within(vec2(512.0, 320.0)), Place::Drawer);
    }
}
