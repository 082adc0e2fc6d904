//! The bar under a row of the ledger: what a vessel holds against its target and its brim.
//!
//! The bar ends at one and a half times the target. A tick stands at the target; what is over it is hatched. A notch
//! stands at the brim, and a vessel that stands at its brim has an end cap there. So all can be told in grey.

use super::theme;
use super::vessel::Vessel;
use egui::{Rect, Shape, Stroke, StrokeKind, Ui, pos2};

/// Where the bar ends, in targets.
const END: f64 = 1.5;
/// Distance of the hatching, points.
const HATCH: f32 = 4.0;

/// Draws the bar of a vessel that has a target.
pub(crate) fn show(ui: &Ui, bar: Rect, vessel: &Vessel) {
    let (Some(part), Some(target_ml)) = (vessel.part(), vessel.target_ml) else {
        return;
    };
    let colours = theme::of(ui);
    let painter = ui.painter();
    #[allow(clippy::cast_possible_truncation, reason = "a place along the bar")]
    let at = |part: f64| bar.left() + bar.width() * (part / END).clamp(0.0, 1.0) as f32;
    painter.rect(
        bar,
        2.0,
        colours.field,
        Stroke::new(1.0, colours.rule),
        StrokeKind::Inside,
    );
    let (target, end) = (at(1.0), at(part));
    let filled = Rect::from_min_max(bar.min, pos2(end, bar.bottom()));
    painter.rect_filled(filled, 2.0, colours.liquid);
    if vessel.is_over() {
        let over = Rect::from_min_max(pos2(target, bar.top()), filled.max);
        painter.rect_filled(over, 0.0, colours.field);
        let hatched = painter.with_clip_rect(over.intersect(ui.clip_rect()));
        let mut x = over.left() - bar.height();
        while x < over.right() {
            let line = [pos2(x, over.bottom()), pos2(x + bar.height(), over.top())];
            hatched.line_segment(line, Stroke::new(1.5, colours.level));
            x += HATCH;
        }
        painter.rect_stroke(over, 0.0, Stroke::new(1.0, colours.level), StrokeKind::Inside);
    }
    painter.vline(
        target,
        bar.top() - 2.0..=bar.bottom() + 2.0,
        Stroke::new(1.5, colours.mark),
    );
    if let Some(brim) = vessel.brim_ml.map(|brim| brim / target_ml).filter(|brim| *brim <= END) {
        // Within the bar: above it stand numbers.
        notch(ui, pos2(at(brim), bar.bottom()), 3.0);
    }
    if vessel.at_brim {
        painter.vline(end, bar.top()..=bar.bottom() + 1.0, Stroke::new(2.5, colours.level));
    }
}

/// The sign of a brim: a small wedge that points down to its place.
pub(crate) fn notch(ui: &Ui, tip: egui::Pos2, size: f32) {
    let corners = vec![
        tip,
        pos2(tip.x - size, tip.y - 1.4 * size),
        pos2(tip.x + size, tip.y - 1.4 * size),
    ];
    ui.painter()
        .add(Shape::convex_polygon(corners, theme::of(ui).level, Stroke::NONE));
}
