//! A small still picture of an apparatus, drawn as the bench draws it: glass and the liquid at rest in it, as drawn.

use super::glass::{Glass, Outlines};
use super::scene::{Scene, Still};
use super::theme::Palette;
use super::view::View;
use crate::geom::Stance;
use crate::model::Apparatus;
use crate::units::LengthUnit;
use egui::{Painter, Rect};

/// The picture; it is made once and drawn at any size.
pub(crate) struct Sketch {
    scene: Scene,
    still: Still,
    outlines: Option<Outlines>,
}

impl Sketch {
    /// The picture of an apparatus.
    pub(crate) fn of(apparatus: &Apparatus) -> Self {
        let scene = Scene::of(apparatus, LengthUnit::default());
        let still = Still::at(&scene, Stance::default());
        Self {
            scene,
            still,
            outlines: None,
        }
    }

    /// The picture of an apparatus for a small place: glass and liquid alone.
    pub(crate) fn small(apparatus: &Apparatus) -> Self {
        let mut sketch = Self::of(apparatus);
        let drawing = &mut sketch.scene.drawing;
        drawing.ticks.clear();
        drawing.mouths.clear();
        for glass in &mut drawing.glass {
            glass.centreline.strokes.clear();
        }
        sketch
    }

    /// Draws it as large as `rect` allows.
    pub(crate) fn paint(&mut self, painter: &Painter, colours: &'static Palette, rect: Rect) {
        let drawing = &self.scene.drawing;
        let Some((low, high)) = drawing.extent() else { return };
        let view = View::within(low, high, rect.size());
        let placed = view.placed(rect, 0.0);
        let mut outlines = Outlines::refreshed(self.outlines.take(), 0, drawing, placed.scale());
        let glass = Glass {
            placed,
            colours,
            stance: Stance::default(),
            clip: rect,
            drawing,
            chosen: vec![false; drawing.pieces.len()],
        };
        glass.paint(painter, &mut outlines, &self.still);
        self.outlines = Some(outlines);
    }
}
