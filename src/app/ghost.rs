//! Glass that is not there yet: the piece in hand at the place where it would go, and the pieces on the tray.

use super::paint::{Dashes, Outline};
use super::theme::Palette;
use super::view::Placed;
use crate::geom::build::build;
use crate::geom::glass::Glass;
use crate::model::Apparatus;
use egui::{Color32, Mesh, Shape};

/// Greatest error of a curve on the screen, points.
const TOLERANCE_POINTS: f64 = 0.1;

/// Outlines of a few pieces, ready for one scale.
pub(crate) struct Ghost {
    outer: Vec<Outline>,
    inner: Vec<Outline>,
    centrelines: Vec<Dashes>,
}

/// The colours of glass.
pub(crate) struct Tint {
    pub edge: Color32,
    pub wall: Color32,
    pub bore: Color32,
    pub centreline: Color32,
}

impl Tint {
    /// As glass stands on the bench.
    pub(crate) fn glass(colours: &Palette) -> Self {
        Self {
            edge: colours.edge,
            wall: colours.wall,
            bore: colours.bore,
            centreline: colours.centreline,
        }
    }

    /// Glass that can be seen through.
    pub(crate) fn ghost(colours: &Palette) -> Self {
        Self {
            edge: colours.accent.gamma_multiply(0.8),
            wall: colours.wall_chosen.gamma_multiply(0.55),
            bore: colours.bore.gamma_multiply(0.55),
            centreline: colours.accent.gamma_multiply(0.5),
        }
    }
}

impl Ghost {
    /// The glass of the pieces of these names as they would stand in `apparatus`; `None` when it can't be built.
    pub(crate) fn of(apparatus: &Apparatus, names: &[String], scale: f64) -> Option<Self> {
        let built = build(apparatus).ok()?;
        let is_of_them = |glass: &&Glass| built.names.get(glass.piece).is_some_and(|name| names.contains(name));
        Some(Self::from_glass(built.glass.iter().filter(is_of_them), scale))
    }

    /// The given glass.
    pub(crate) fn from_glass<'a>(glass: impl Iterator<Item = &'a Glass>, scale: f64) -> Self {
        let tolerance_mm = TOLERANCE_POINTS / scale;
        let mut ghost = Self {
            outer: Vec::new(),
            inner: Vec::new(),
            centrelines: Vec::new(),
        };
        for glass in glass {
            ghost.outer.push(Outline::new(&glass.outer, tolerance_mm, scale));
            ghost.inner.push(Outline::new(&glass.inner, tolerance_mm, scale));
            let points = glass.centreline.points(tolerance_mm);
            ghost.centrelines.push(Dashes::chain(&points, scale));
        }
        ghost
    }

    /// Draws it: every outer outline before every inner one, so that what is fused shows as one.
    pub(crate) fn paint(&self, painter: &egui::Painter, placed: &Placed, tint: &Tint, width: f32) {
        let mut mesh = Mesh::default();
        for outline in &self.outer {
            outline.edge(&mut mesh, placed, width, tint.edge);
        }
        for outline in &self.outer {
            outline.fill(&mut mesh, placed, tint.wall);
        }
        for outline in &self.inner {
            outline.edge(&mut mesh, placed, width * 0.7, tint.edge);
        }
        for outline in &self.inner {
            outline.fill(&mut mesh, placed, tint.bore);
        }
        for centreline in &self.centrelines {
            centreline.paint(&mut mesh, placed, 0.8, tint.centreline);
        }
        painter.add(Shape::mesh(mesh));
    }

    /// The middle of its centrelines on the screen.
    pub(crate) fn middle(&self, placed: &Placed) -> Option<egui::Pos2> {
        let points = self.centrelines.iter().flat_map(|line| line.places(placed));
        let rect = egui::Rect::from_points(&points.collect::<Vec<_>>());
        rect.is_finite().then(|| rect.center())
    }

    /// Strokes the outside once more: what will go, say.
    pub(crate) fn stroke(&self, painter: &egui::Painter, placed: &Placed, width: f32, colour: Color32) {
        let mut mesh = Mesh::default();
        for outline in &self.outer {
            outline.edge(&mut mesh, placed, width, colour);
        }
        painter.add(Shape::mesh(mesh));
    }
}
