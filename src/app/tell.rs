//! What the bench says in words: what is lost at the present stance, what stands at this tilt, what lies under the pointer.

use super::theme::{self, Palette};
use egui::accesskit::Live;
use egui::{
    Align2, CornerRadius, Galley, Id, Painter, Rect, Response, Sense, Stroke, StrokeKind, Tooltip, Ui, Vec2,
    WidgetInfo, WidgetText, vec2,
};
use std::sync::Arc;

/// Room around words, points.
const MARGIN: Vec2 = vec2(10.0, 6.0);
/// Distance from the edges of the bench, points.
const INSET: f32 = 12.0;

/// What the present stance loses, in words: what runs out here, or else what ran out on the way.
pub(crate) fn loss_in_words(here: &[(String, f64)], on_the_way: &[(String, f64)]) -> Option<String> {
    // Less than shows is no loss.
    let told = |lost: &[(String, f64)]| -> Vec<(String, f64)> {
        lost.iter().filter(|(_, ml)| *ml >= 0.005).cloned().collect()
    };
    let (here, on_the_way) = (told(here), told(on_the_way));
    let lines = |lost: &[(String, f64)], line: fn(&str, f64) -> String| {
        let lines: Vec<String> = lost.iter().map(|(name, ml)| line(name, *ml)).collect();
        lines.join("\n")
    };
    if !here.is_empty() {
        return Some(lines(&here, |name, ml| format!("Runs out of {name}: {ml:.2} mL lost")));
    }
    (!on_the_way.is_empty()).then(|| {
        lines(&on_the_way, |name, ml| {
            format!("Ran out of {name} on the way here: {ml:.2} mL lost")
        })
    })
}

/// A badge at the top right of the bench that nobody overlooks.
pub(crate) fn warn(ui: &Ui, painter: &Painter, bench: Rect, words: &str) {
    let colours = theme::of(ui);
    let wrap = (bench.width() * 0.4).max(160.0);
    let galley = painter.layout(kept_together(words), theme::heavy(13.0), colours.stop, wrap);
    let size = galley.size() + 2.0 * MARGIN + vec2(20.0, 0.0);
    let rect = Align2::RIGHT_TOP.anchor_size(bench.right_top() + vec2(-INSET, INSET), size);
    plate(painter, colours, rect, Stroke::new(2.0, colours.stop));
    // A bar crossed by what runs over it, as on the ring.
    let sign = super::mark_paint::Symbol {
        centre: rect.left_center() + vec2(MARGIN.x + 7.0, 0.0),
        out: vec2(1.0, 0.0),
        size: 15.0,
    };
    sign.paint(painter, super::marks::Kind::Loss, colours.stop);
    painter.galley(rect.min + MARGIN + vec2(20.0, 0.0), galley, colours.stop);
    node(ui, "loss", rect, words, Live::Assertive);
}

/// What stands at the present tilt, at the bottom left of the bench.
pub(crate) fn caption(ui: &Ui, painter: &Painter, bench: Rect, words: &str) {
    let colours = theme::of(ui);
    let wrap = (bench.width() * 0.3).clamp(150.0, 240.0);
    let galley: Arc<Galley> = painter.layout(kept_together(words), theme::plain(12.5), colours.text, wrap);
    let size = galley.size() + 2.0 * MARGIN;
    let rect = Align2::LEFT_BOTTOM.anchor_size(bench.left_bottom() + vec2(INSET, -INSET), size);
    plate(painter, colours, rect, Stroke::new(1.0, colours.rule));
    painter.galley(rect.min + MARGIN, galley, colours.text);
    node(ui, "mark here", rect, words, Live::Polite);
}

/// The words with each unit on the line of its number.
fn kept_together(words: &str) -> String {
    words.replace(" mL", "\u{a0}mL")
}

fn plate(painter: &Painter, colours: &Palette, rect: Rect, line: Stroke) {
    painter.rect(rect, CornerRadius::same(6), colours.panel, line, StrokeKind::Inside);
}

/// Words that are read out when they change.
fn node(ui: &Ui, name: &str, rect: Rect, words: &str, live: Live) {
    let id = Id::unique("told").with(name);
    let response = ui.interact(rect, id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Label, true, words));
    ui.ctx().accesskit_node_builder(id, |node| {
        node.set_value(words);
        node.set_live(live);
    });
}

/// Words about what lies under the pointer, beside it.
pub(crate) fn at_pointer(response: &Response, words: impl Into<WidgetText>) {
    let tooltip = Tooltip::for_widget(response).at_pointer().gap(12.0);
    tooltip.show(|ui| ui.label(words));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loss_is_told_where_it_happens_and_after_it() {
        let pump = |ml: f64| vec![("pump".to_owned(), ml)];
        let words = loss_in_words(&pump(1.2), &pump(0.4));
        assert_eq!(words.as_deref(), Some("Runs out of pump: 1.20 mL lost"));
        let words = loss_in_words(&[], &pump(0.4));
        assert_eq!(words.as_deref(), Some("Ran out of pump on the way here: 0.40 mL lost"));
        assert_eq!(loss_in_words(&pump(0.001), &[]), None, "less than shows");
    }
}
