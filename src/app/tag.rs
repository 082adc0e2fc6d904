//! A small sheet of text beside what it tells of.

use super::theme;
use egui::{Color32, CornerRadius, Pos2, Rect, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};

/// Room around the text, points.
const MARGIN: Vec2 = vec2(8.0, 5.0);

/// The rectangle of `size` that begins at `at`, moved so that it lies within `bench`.
pub(crate) fn within(bench: Rect, at: Pos2, size: Vec2) -> Rect {
    let x = at.x.min(bench.right() - size.x - 4.0).max(bench.left() + 4.0);
    let y = at.y.min(bench.bottom() - size.y - 4.0).max(bench.top() + 4.0);
    Rect::from_min_size(pos2(x, y), size)
}

/// Distance of a sheet from the pointer, points.
const OFF: Vec2 = vec2(18.0, 20.0);

/// The place of a sheet of `size` beside a position, on the side away from `keep_clear`.
pub(crate) fn beside(bench: Rect, at: Pos2, keep_clear: Option<Pos2>, size: Vec2) -> Rect {
    let clear = keep_clear.map_or(Vec2::ZERO, |clear| clear - at);
    let x = if clear.x > 1.0 {
        at.x - OFF.x - size.x
    } else {
        at.x + OFF.x
    };
    let y = if clear.y > 1.0 {
        at.y - OFF.y - size.y
    } else {
        at.y + OFF.y
    };
    within(bench, pos2(x, y), size)
}

/// Draws lines of text on a sheet beside a position, kept within the bench and off `keep_clear`.
pub(crate) fn show(ui: &Ui, bench: Rect, at: Pos2, keep_clear: Option<Pos2>, lines: &[(String, Color32)]) {
    let painter = ui.painter_at(bench);
    let galleys: Vec<_> = lines
        .iter()
        .enumerate()
        .map(|(i, (text, colour))| {
            let font = if i == 0 { theme::heavy(13.0) } else { theme::plain(11.5) };
            (painter.layout(text.clone(), font, *colour, 280.0), *colour)
        })
        .collect();
    let width = galleys.iter().map(|(galley, _)| galley.size().x).fold(0.0, f32::max);
    let height: f32 = galleys.iter().map(|(galley, _)| galley.size().y).sum();
    let rect = beside(bench, at, keep_clear, vec2(width, height) + 2.0 * MARGIN);
    sheet(ui, rect);
    let mut at = rect.min + MARGIN;
    for (galley, colour) in galleys {
        let down = galley.size().y;
        painter.galley(at, galley, colour);
        at.y += down;
    }
}

/// The sheet itself.
pub(crate) fn sheet(ui: &Ui, rect: Rect) {
    let colours = theme::of(ui);
    let line = Stroke::new(1.0, colours.outline);
    ui.painter()
        .rect(rect, CornerRadius::same(5), colours.panel, line, StrokeKind::Inside);
}
