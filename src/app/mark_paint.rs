//! The shapes of the marks: each kind differs by shape first and by colour second, so that grey print and any eye can
//! tell them apart.

use super::marks::{Kind, Weight};
use super::theme::Palette;
use egui::{Color32, Painter, Pos2, Shape, Stroke, Vec2, vec2};

/// A mark to draw: where, which way is out, and how large.
pub(crate) struct Symbol {
    /// The middle of the symbol.
    pub centre: Pos2,
    /// Unit vector away from the scale.
    pub out: Vec2,
    /// Height, points.
    pub size: f32,
}

/// The colour of a kind; marks that stand back are all alike.
pub(crate) fn colour(colours: &Palette, kind: Kind, weight: Weight) -> Color32 {
    match (kind, weight) {
        (Kind::Loss, _) => colours.stop,
        (_, Weight::Back) => colours.division,
        (Kind::Begins, _) => colours.level,
        (Kind::Brims | Kind::Drained, _) => colours.text,
        (Kind::Meters, _) => colours.mark,
    }
}

impl Symbol {
    /// Draws the symbol of a kind.
    pub(crate) fn paint(&self, painter: &Painter, kind: Kind, colour: Color32) {
        match kind {
            Kind::Loss => self.paint_leak(painter, colour),
            Kind::Begins => self.paint_drop(painter, colour),
            Kind::Brims => self.paint_notch(painter, colour),
            Kind::Meters => self.paint_diamond(painter, colour),
            Kind::Drained => self.paint_bars(painter, colour),
        }
    }

    /// The point so far outwards and sidewards of the middle, in parts of the size.
    fn at(&self, out: f32, side: f32) -> Pos2 {
        let across = vec2(-self.out.y, self.out.x);
        self.centre + self.out * (out * self.size) + across * (side * self.size)
    }

    fn polygon(&self, painter: &Painter, colour: Color32, corners: &[(f32, f32)]) {
        let points = corners.iter().map(|&(out, side)| self.at(out, side)).collect();
        painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
    }

    /// A drop with its point towards the scale.
    fn paint_drop(&self, painter: &Painter, colour: Color32) {
        self.polygon(painter, colour, &[(-0.55, 0.0), (0.06, 0.3), (0.06, -0.3)]);
        painter.circle_filled(self.at(0.18, 0.0), 0.32 * self.size, colour);
    }

    /// A notch: a triangle whose point cuts into the scale.
    fn paint_notch(&self, painter: &Painter, colour: Color32) {
        self.polygon(painter, colour, &[(-0.5, 0.0), (0.5, 0.42), (0.5, -0.42)]);
    }

    fn paint_diamond(&self, painter: &Painter, colour: Color32) {
        self.polygon(painter, colour, &[(-0.58, 0.0), (0.0, 0.4), (0.58, 0.0), (0.0, -0.4)]);
    }

    /// Two short bars.
    fn paint_bars(&self, painter: &Painter, colour: Color32) {
        for side in [-0.2, 0.2] {
            let line = [self.at(-0.48, side), self.at(0.48, side)];
            painter.line_segment(line, Stroke::new(0.19 * self.size, colour));
        }
    }

    /// A heavy arrow away from the scale, over a bar.
    fn paint_leak(&self, painter: &Painter, colour: Color32) {
        self.polygon(painter, colour, &[(0.62, 0.0), (-0.02, 0.5), (-0.02, -0.5)]);
        let shaft = [self.at(-0.32, 0.0), self.at(0.1, 0.0)];
        painter.line_segment(shaft, Stroke::new(0.3 * self.size, colour));
        let bar = [self.at(-0.5, 0.5), self.at(-0.5, -0.5)];
        painter.line_segment(bar, Stroke::new(0.22 * self.size, colour));
    }
}
