//! A frame drawn over the bench that catches the pieces whose glass lies wholly within it.

use super::scene::Scene;
use super::session::Session;
use super::theme;
use super::view::Placed;
use egui::{Pos2, Rect, Stroke, StrokeKind, Ui};

/// A frame under way.
pub(crate) struct Frame {
    from: Pos2,
    to: Pos2,
}

impl Frame {
    /// A frame that begins here.
    pub(crate) fn new(from: Pos2) -> Self {
        Self { from, to: from }
    }

    /// Goes on to there.
    pub(crate) fn stretch(&mut self, to: Pos2) {
        self.to = to;
    }

    fn rect(&self) -> Rect {
        Rect::from_two_pos(self.from, self.to)
    }

    /// Adds what lies within to the selection.
    pub(crate) fn catch(&self, session: &mut Session, scene: &Scene, screen: Placed) {
        let rect = self.rect();
        let pieces = scene.drawing.pieces.iter().zip(&scene.drawing.glass);
        let inside = pieces.filter(|(_, glass)| {
            let points = glass.outer.points(0.5 / screen.scale());
            points.iter().all(|point| rect.contains(screen.to_screen(*point)))
        });
        let caught: Vec<String> = inside.map(|(name, _)| name.clone()).collect();
        let all = session.selection.names().iter().cloned().chain(caught);
        session.selection.set(all.collect::<Vec<_>>());
    }

    /// Draws it.
    pub(crate) fn paint(&self, ui: &Ui, bench: Rect) {
        let colours = theme::of(ui);
        let painter = ui.painter_at(bench);
        painter.rect_filled(self.rect(), 2.0, colours.accent.gamma_multiply(0.10));
        painter.rect_stroke(self.rect(), 2.0, Stroke::new(1.5, colours.accent), StrokeKind::Inside);
    }
}
