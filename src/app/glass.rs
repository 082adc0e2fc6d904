//! The glass and the liquid in it, painted as seen in section: walls, bores, pools with their level, names.

use super::paint::{self, Dashes, Outline};
use super::scene::Still;
use super::theme::{self, Palette};
use super::view::Placed;
use crate::geom::glass::Path;
use crate::geom::{Pool, Port, Stance};
use crate::out::drawing::{Drawing, Foot, TickKind};
use crate::out::section;
use egui::{Align2, Color32, Mesh, Rect, Shape, Stroke, vec2};
use nalgebra::Vector2;
use std::rc::Rc;
use std::sync::Arc;

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

/// Outlines made for a scale; they last while the glass only turns and moves. Like pieces share one: all members of a
/// row have the same outline in other places, and pieces that a change leaves alone keep theirs.
pub(crate) struct Outlines {
    revision: u64,
    scale: f64,
    tolerance_mm: f64,
    known: Vec<Known>,
    outer: Vec<Shared>,
    inner: Vec<Shared>,
    centrelines: Vec<Dashes>,
    /// Memory of the last frame's mesh, used again: it is large, and fresh memory takes long to get.
    room: Arc<Mesh>,
}

/// An outline and what it was made of.
struct Known {
    path: Path,
    outline: Rc<Outline>,
}

/// An outline in its place.
struct Shared {
    outline: Rc<Outline>,
    /// From where it was made to where it stands, mm.
    shift: Vector2<f64>,
}

impl Outlines {
    /// `old` if it still fits, else new ones.
    pub(crate) fn refreshed(old: Option<Self>, revision: u64, drawing: &Drawing, scale: f64) -> Self {
        let old = old.filter(|old| old.scale == scale);
        match old {
            Some(old) if old.revision == revision => old,
            old => {
                let tolerance_mm = TOLERANCE_POINTS / scale;
                let (before, room) = old.map(|old| (old.known, old.room)).unwrap_or_default();
                let mut known: Vec<Known> = Vec::new();
                let mut shared = |path: &Path| {
                    if let Some((_, found)) = find(&known, path) {
                        return found;
                    }
                    let (path, found) = match find(&before, path) {
                        Some((it, found)) => (it.path.clone(), found),
                        None => {
                            let outline = Rc::new(Outline::new(path, tolerance_mm, scale));
                            let shift = Vector2::zeros();
                            (path.clone(), Shared { outline, shift })
                        }
                    };
                    known.push(Known {
                        path,
                        outline: Rc::clone(&found.outline),
                    });
                    found
                };
                let outer = drawing.glass.iter().map(|glass| shared(&glass.outer)).collect();
                let inner = drawing.glass.iter().map(|glass| shared(&glass.inner)).collect();
                let lines = drawing.glass.iter().map(|glass| glass.centreline.points(tolerance_mm));
                Self {
                    revision,
                    scale,
                    tolerance_mm,
                    known,
                    outer,
                    inner,
                    centrelines: lines.map(|points| Dashes::chain(&points, scale)).collect(),
                    room,
                }
            }
        }
    }
}

/// A mesh emptied to be filled anew; another one while it is still being painted.
fn emptied(mesh: &mut Arc<Mesh>) -> &mut Mesh {
    if Arc::get_mut(mesh).is_none() {
        *mesh = Arc::default();
    }
    let mesh = Arc::make_mut(mesh);
    mesh.clear();
    mesh
}

/// The outline that a path shares, if it is known.
fn find<'k>(known: &'k [Known], path: &Path) -> Option<(&'k Known, Shared)> {
    known.iter().find_map(|it| {
        let shift = paint::shift_between(&it.path, path)?;
        let outline = Rc::clone(&it.outline);
        Some((it, Shared { outline, shift }))
    })
}

impl Shared {
    fn is_seen(&self, placed: &Placed, clip: Rect) -> bool {
        self.outline.is_seen(&placed.moved(self.shift), clip)
    }

    fn fill(&self, mesh: &mut Mesh, placed: &Placed, colour: Color32) {
        self.outline.fill(mesh, &placed.moved(self.shift), colour);
    }

    fn edge(&self, mesh: &mut Mesh, placed: &Placed, width: f32, colour: Color32) {
        self.outline.edge(mesh, &placed.moved(self.shift), width, colour);
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
    pub(crate) fn paint(&self, painter: &egui::Painter, outlines: &mut Outlines, still: &Still) {
        let mut room = std::mem::take(&mut outlines.room);
        let mesh = emptied(&mut room);
        let (colours, placed) = (self.colours, &self.placed);
        let fine = fine(placed.scale());
        let seen: Vec<usize> = (0..outlines.outer.len())
            .filter(|&piece| outlines.outer[piece].is_seen(placed, self.clip))
            .collect();
        let chosen = || seen.iter().filter(|&&piece| self.is_chosen(piece));
        let (outer, inner) = (
            |piece: &usize| &outlines.outer[*piece],
            |piece: &usize| &outlines.inner[*piece],
        );
        for outline in seen.iter().map(outer) {
            outline.edge(mesh, placed, fine + 0.5, colours.edge);
        }
        for outline in chosen().map(outer) {
            outline.edge(mesh, placed, fine + 1.6, colours.accent);
        }
        for outline in seen.iter().map(outer) {
            outline.fill(mesh, placed, colours.wall);
        }
        // The chosen pieces once more on top, so that all of their wall is seen.
        for outline in chosen().map(outer) {
            outline.fill(mesh, placed, colours.wall_chosen);
        }
        for outline in seen.iter().map(inner) {
            outline.edge(mesh, placed, fine + 0.2, colours.edge);
        }
        for outline in seen.iter().map(inner) {
            outline.fill(mesh, placed, colours.bore);
        }
        for pool in &still.pools {
            self.add_pool(mesh, pool, outlines.tolerance_mm);
        }
        painter.add(Shape::Mesh(Arc::clone(&room)));
        for pool in &still.pools {
            self.paint_level(painter, pool, outlines.tolerance_mm);
        }
        for mouth in &self.drawing.mouths {
            self.paint_mouth(painter, mouth);
        }
        let mut mesh = Mesh::default();
        for piece in &seen {
            outlines.centrelines[*piece].paint(&mut mesh, placed, 0.8, colours.centreline);
        }
        for tick in &self.drawing.ticks {
            let ends = tick.ends.map(|p| placed.to_screen(p));
            match tick.kind {
                TickKind::Target => paint::line(&mut mesh, ends, 1.4, colours.mark),
                TickKind::Seal => {
                    let way = ends[1] - ends[0];
                    let (mut at, length) = (0.0, way.length());
                    while at < length {
                        let dash = [at, (at + 3.0).min(length)].map(|s| ends[0] + way * (s / length));
                        paint::line(&mut mesh, dash, 1.4, colours.mark);
                        at += 5.0;
                    }
                }
            }
        }
        painter.add(Shape::mesh(mesh));
        outlines.room = room;
    }

    fn is_chosen(&self, piece: usize) -> bool {
        self.chosen.get(piece) == Some(&true)
    }

    /// Adds liquid: the bores it wets, cut off at its level, which on the screen is a level line.
    fn add_pool(&self, mesh: &mut Mesh, pool: &Pool, tolerance_mm: f64) {
        let wetted = || pool.wetted.iter().map(|shape| section::stations(shape, tolerance_mm));
        if self.stance.roll_deg != 0.0 {
            for stations in wetted() {
                for tile in section::shadow(&stations, self.stance.up(), pool.level, 2.0) {
                    paint::tile(mesh, &self.placed, &tile, self.colours.liquid_beyond);
                }
            }
        }
        let level = self.level_on_screen(pool.level);
        if level.is_none() && pool.level < 0.0 {
            return;
        }
        let before = mesh.indices.len() / 3;
        for stations in wetted() {
            paint::fill(mesh, &self.placed, &stations, self.colours.liquid);
        }
        if let Some(y) = level {
            paint::cut_above(mesh, before, y);
        }
    }

    /// The surface of liquid in the drawing plane.
    fn paint_level(&self, painter: &egui::Painter, pool: &Pool, tolerance_mm: f64) {
        let Some(y) = self.level_on_screen(pool.level) else {
            return;
        };
        let cuts = pool.wetted.iter().flat_map(|shape| {
            let stations = section::stations(shape, tolerance_mm);
            section::surface(&stations, self.stance.up(), pool.level)
        });
        let spans = cuts.map(|[a, b]| [a, b].map(|p| self.placed.to_screen(p).x));
        let y = painter.round_to_pixel_center(y);
        for [from, to] in joined(spans.map(|[a, b]| [a.min(b), a.max(b)]).collect()) {
            painter.hline(from..=to, y, Stroke::new(1.5, self.colours.level));
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

    /// Names of the vessels, below their bottoms; one that would lie on another or on what is `taken` is left out.
    /// Gives where they stand.
    pub(crate) fn paint_names(&self, painter: &egui::Painter, taken: &[Rect]) -> Vec<(String, Rect)> {
        let mut drawn: Vec<(String, Rect)> = Vec::new();
        // The chosen ones first, so that theirs are never the ones that are left out.
        let (first, then): (Vec<&Foot>, Vec<&Foot>) =
            self.drawing.feet.iter().partition(|foot| self.is_chosen(foot.piece));
        for foot in first.into_iter().chain(then) {
            let Some(name) = self.drawing.pieces.get(foot.piece) else {
                continue;
            };
            let at = self.placed.to_screen(foot.at);
            let away = (self.placed.to_screen(foot.at + foot.out) - at).normalized();
            let is_chosen = self.is_chosen(foot.piece);
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
            // A gap tells two names apart that stand side by side.
            let wide = rect.expand2(vec2(3.0, 0.0));
            let is_taken = drawn.iter().any(|(_, other)| other.intersects(wide))
                || (!is_chosen && taken.iter().any(|other| other.intersects(wide)));
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
