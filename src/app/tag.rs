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

/// Draws lines of text on a sheet at `at`, kept within the bench.
pub(crate) fn show(ui: &Ui, bench: Rect, at: Pos2, lines: &[(String, Color32)]) -> Rect {
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
    let rect = within(bench, at, vec2(width, height) + 2.0 * MARGIN);
    sheet(ui, rect);
    let mut at = rect.min + MARGIN;
    for (galley, colour) in galleys {
        let down = galley.size().y;
        painter.galley(at, galley, colour);
        at.y += down;
    }
    rect
}

/// The sheet itself.
pub(crate) fn sheet(ui: &Ui, rect: Rect) {
    let colours = theme::of(ui);
    let line = Stroke::new(1.0, colours.outline);
    ui.painter()
        .rect(rect, CornerRadius::same(5), colours.panel, line, StrokeKind::Inside);
}
