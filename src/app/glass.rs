//! The glass and the liquid in it, painted as seen in section: walls, bores, pools with their level, names.

use super::paint::{self, Outline};
use super::scene::Still;
use super::theme::{self, Palette};
use super::view::Placed;
use crate::geom::glass::Path;
use crate::geom::{Pool, Port, Stance};
use crate::out::drawing::{Drawing, Foot, TickKind};
use crate::out::section::{self, Station};
use egui::{Align2, Mesh, Rect, Shape, Stroke, vec2};

/// Greatest error of a curve on the screen, points.
const TOLERANCE_POINTS: f64 = 0.1;
/// Width of the lines at both sides of the wall, points: no wider than a quarter of a thin wall, so that the wall
/// itself is always seen.
fn fine(scale: f64) -> f32 {
    #[allow(clippy::cast_possible_truncation, reason = "a width on the screen")]
    let quarter = (0.25 * scale) as f32;
    quarter.clamp(0.3, 0.8)
}
/// Spans that touch or overlap made one, in order.
fn joined(mut spans: Vec<[f32; 2]>) -> Vec<[f32; 2]> {
    spans.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut found: Vec<[f32; 2]> = Vec::new();
    for [from, to] in spans {
        match found.last_mut() {
            Some(last) if from <= last[1] + 0.5 => last[1] = last[1].max(to),
            _ => found.push([from, to]),
        }
    }
    found
}

/// Outlines made for a scale; they last while the glass only turns and moves.
pub(crate) struct Outlines {
    revision: u64,
    scale: f64,
    tolerance_mm: f64,
    outer: Vec<Outline>,
    inner: Vec<Outline>,
}

impl Outlines {
    /// `old` if it still fits, else new ones.
    pub(crate) fn refreshed(old: Option<Self>, revision: u64, drawing: &Drawing, scale: f64) -> Self {
        old.filter(|old| old.revision == revision && old.scale == scale)
            .unwrap_or_else(|| {
                let tolerance_mm = TOLERANCE_POINTS / scale;
                let outline = |path: &Path| Outline::new(path, tolerance_mm, scale);
                Self {
                    revision,
                    scale,
                    tolerance_mm,
                    outer: drawing.glass.iter().map(|glass| outline(&glass.outer)).collect(),
                    inner: drawing.glass.iter().map(|glass| outline(&glass.inner)).collect(),
                }
            })
    }
}

/// The glass as it is drawn in this frame.
pub(crate) struct Glass<'a> {
    pub placed: Placed,
    pub colours: &'static Palette,
    pub stance: Stance,
    pub clip: Rect,
    pub drawing: &'a Drawing,
    /// Whether each piece is selected, in the order of the drawing.
    pub chosen: Vec<bool>,
}

impl Glass<'_> {
    /// Draws glass and liquid.
    pub(crate) fn paint(&self, painter: &egui::Painter, outlines: &Outlines, still: &Still) {
        let colours = self.colours;
        let fine = fine(self.placed.scale());
        let chosen = || {
            outlines
                .outer
                .iter()
                .zip(&self.chosen)
                .filter(|(_, chosen)| **chosen)
                .map(|(outline, _)| outline)
        };
        for outline in &outlines.outer {
            painter.add(outline.edge(&self.placed, fine + 0.5, colours.edge));
        }
        for outline in chosen() {
            painter.add(outline.edge(&self.placed, fine + 1.6, colours.accent));
        }
        let mut mesh = Mesh::default();
        for outline in &outlines.outer {
            outline.fill(&mut mesh, &self.placed, colours.wall);
        }
        // The chosen pieces once more on top, so that all of their wall is seen.
        for outline in chosen() {
            outline.fill(&mut mesh, &self.placed, colours.wall_chosen);
        }
        painter.add(Shape::mesh(mesh));
        for outline in &outlines.inner {
            painter.add(outline.edge(&self.placed, fine + 0.2, colours.edge));
        }
        let mut mesh = Mesh::default();
        for outline in &outlines.inner {
            outline.fill(&mut mesh, &self.placed, colours.bore);
        }
        painter.add(Shape::mesh(mesh));
        for pool in &still.pools {
            self.paint_pool(painter, pool, outlines.tolerance_mm);
        }
        for mouth in &self.drawing.mouths {
            self.paint_mouth(painter, mouth);
        }
        for glass in &self.drawing.glass {
            let points = glass.centreline.points(outlines.tolerance_mm);
            let stroke = Stroke::new(0.8, colours.centreline);
            painter.extend(paint::chain_line(&self.placed, &points, stroke));
        }
        for tick in &self.drawing.ticks {
            let ends = tick.ends.map(|p| self.placed.to_screen(p));
            let stroke = Stroke::new(1.4, colours.mark);
            match tick.kind {
                TickKind::Target => _ = painter.line_segment(ends, stroke),
                TickKind::Seal => painter.extend(Shape::dashed_line(&ends, stroke, 3.0, 2.0)),
            }
        }
    }

    /// Liquid: the bores it wets, cut off at its level, which on the screen is a level line.
    fn paint_pool(&self, painter: &egui::Painter, pool: &Pool, tolerance_mm: f64) {
        let up = self.stance.up();
        let wetted: Vec<Vec<Station>> = pool
            .wetted
            .iter()
            .map(|shape| section::stations(shape, tolerance_mm))
            .collect();
        if self.stance.roll_deg != 0.0 {
            let mut mesh = Mesh::default();
            for stations in &wetted {
                for tile in section::shadow(stations, up, pool.level, 2.0) {
                    paint::tile(&mut mesh, &self.placed, &tile, self.colours.liquid_beyond);
                }
            }
            painter.add(Shape::mesh(mesh));
        }
        let mut below = self.clip;
        match self.level_on_screen(pool.level) {
            Some(y) => below.min.y = below.min.y.max(y),
            None if pool.level < 0.0 => return,
            None => {}
        }
        if below.is_positive() {
            let mut mesh = Mesh::default();
            for stations in &wetted {
                paint::fill(&mut mesh, &self.placed, stations, self.colours.liquid);
            }
            painter.with_clip_rect(below).add(Shape::mesh(mesh));
        }
        if let Some(y) = self.level_on_screen(pool.level) {
            let cuts = wetted
                .iter()
                .flat_map(|stations| section::surface(stations, up, pool.level));
            let spans = cuts.map(|[a, b]| [a, b].map(|p| self.placed.to_screen(p).x));
            let y = painter.round_to_pixel_center(y);
            for [from, to] in joined(spans.map(|[a, b]| [a.min(b), a.max(b)]).collect()) {
                painter.hline(from..=to, y, Stroke::new(1.5, self.colours.level));
            }
        }
    }

    /// Where a level cuts the drawing plane on the screen; `None` when the plane itself lies level.
    fn level_on_screen(&self, level: f64) -> Option<f32> {
        let up = self.stance.up().xy();
        let steepness = up.norm_squared();
        (steepness > 1e-12).then(|| self.placed.to_screen(up * (level / steepness)).y)
    }

    /// An open end: the line across the bore is taken away and a small arrow shows the way out.
    fn paint_mouth(&self, painter: &egui::Painter, mouth: &Port) {
        let out = nalgebra::Vector2::new(mouth.heading.cos(), mouth.heading.sin());
        let across = nalgebra::Vector2::new(-out.y, out.x) * mouth.r;
        let at = self.placed.to_screen(mouth.at);
        let out = self.placed.to_screen(mouth.at + out) - at;
        let out = out.normalized();
        let edge = [
            self.placed.to_screen(mouth.at + across),
            self.placed.to_screen(mouth.at - across),
        ];
        let half = (fine(self.placed.scale()) + 0.5) / 2.0;
        painter.line_segment(
            edge.map(|p| p + out * half),
            Stroke::new(2.0 * half + 1.0, self.colours.bore),
        );
        painter.arrow(at + out * 5.0, out * 13.0, Stroke::new(1.2, self.colours.division));
    }

    /// Names of the vessels, below their bottoms; one that would lie on another is left out. Gives where they stand.
    pub(crate) fn paint_names(&self, painter: &egui::Painter) -> Vec<(String, Rect)> {
        let mut drawn: Vec<(String, Rect)> = Vec::new();
        // The chosen ones first, so that theirs are never the ones that are left out.
        let is_chosen = |piece: usize| self.chosen.get(piece) == Some(&true);
        let (first, then): (Vec<&Foot>, Vec<&Foot>) = self.drawing.feet.iter().partition(|foot| is_chosen(foot.piece));
        for foot in first.into_iter().chain(then) {
            let Some(name) = self.drawing.pieces.get(foot.piece) else {
                continue;
            };
            let at = self.placed.to_screen(foot.at);
            let away = (self.placed.to_screen(foot.at + foot.out) - at).normalized();
            let is_chosen = is_chosen(foot.piece);
            let (font, colour) = if is_chosen {
                (theme::heavy(12.5), self.colours.accent)
            } else {
                (theme::plain(12.0), self.colours.quiet)
            };
            let galley = painter.layout_no_wrap(name.clone(), font, colour);
            // Far enough that the text clears the glass whichever way the bottom points, and the handle there.
            let clear = if is_chosen { 28.0 } else { 6.0 };
            let reach = clear + galley.size().x / 2.0 * away.x.abs() + galley.size().y / 2.0 * away.y.abs();
            let rect: Rect = Align2::CENTER_CENTER.anchor_size(at + away * reach, galley.size());
            let is_taken = drawn.iter().any(|(_, taken)| taken.intersects(rect));
            if !self.clip.contains_rect(rect) || is_taken {
                continue;
            }
            drawn.push((name.clone(), rect));
            painter.rect_filled(
                rect.expand2(vec2(2.0, 0.0)),
                3.0,
                self.colours.bench.gamma_multiply(0.8),
            );
            painter.galley(rect.min, galley, colour);
        }
        drawn
    }
}
