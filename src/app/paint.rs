//! Strokes and fills of the bench.
//!
//! Pieces overlap where they are fused, so no outline is drawn on top of anything: every outer outline is stroked
//! first and every wall filled over it, then every bore outline is stroked and every bore filled over that. What
//! stays visible are the outlines of the unions, without computing a union.

use super::view::Placed;
use crate::geom::glass::{self, Path};
use crate::out::section::Station;
use crate::out::trapezoids::{Trapezoid, trapezoids};
use egui::{Color32, Mesh, Pos2, Shape, Stroke, Vec2};
use nalgebra::Vector2;

/// Half the width over which a filled edge fades, points.
const FADE: f32 = 0.5;

/// A closed outline ready to be filled at one scale: it does not change while the glass turns and moves.
pub(crate) struct Outline {
    points: Vec<Vector2<f64>>,
    /// For each point, the way outwards: as long as keeps a line shifted by one at a distance of one.
    mitres: Vec<Vector2<f64>>,
    /// Half the width over which the edge fades, mm.
    fade_mm: f64,
    /// The inside without the fading edge.
    tiles: Vec<Trapezoid>,
}

impl Outline {
    /// The outline of a closed path, to within a tolerance, for `scale` points per millimetre.
    pub(crate) fn new(path: &Path, tolerance_mm: f64, scale: f64) -> Self {
        let mut points = path.points(tolerance_mm);
        points.dedup_by(|a, b| (*a - *b).norm_squared() < 1e-12);
        while points.len() > 1 && (points[0] - points[points.len() - 1]).norm_squared() < 1e-12 {
            points.pop();
        }
        let n = points.len();
        // Anticlockwise, so that outwards is to the right of travel.
        if (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum::<f64>() < 0.0 {
            points.reverse();
        }
        let right = |from: Vector2<f64>, to: Vector2<f64>| {
            let v = (to - from).normalize();
            Vector2::new(v.y, -v.x)
        };
        let mitres: Vec<_> = (0..n)
            .map(|i| {
                let a = right(points[(i + n - 1) % n], points[i]);
                let b = right(points[i], points[(i + 1) % n]);
                (a + b) / (1.0 + a.dot(&b)).max(0.3)
            })
            .collect();
        let fade_mm = f64::from(FADE) / scale;
        let inset: Vec<_> = points.iter().zip(&mitres).map(|(p, m)| p - m * fade_mm).collect();
        Self {
            tiles: trapezoids(&inset),
            points,
            mitres,
            fade_mm,
        }
    }

    /// Adds the inside, filled with `colour` and soft at its edge.
    pub(crate) fn fill(&self, mesh: &mut Mesh, placed: &Placed, colour: Color32) {
        mesh.reserve_vertices(4 * self.tiles.len() + 2 * self.points.len());
        mesh.reserve_triangles(2 * (self.tiles.len() + self.points.len()));
        for tile in &self.tiles {
            self::tile(mesh, placed, tile, colour);
        }
        let start = count(mesh);
        for (point, mitre) in self.points.iter().zip(&self.mitres) {
            mesh.colored_vertex(placed.to_screen(point - mitre * self.fade_mm), colour);
            mesh.colored_vertex(placed.to_screen(point + mitre * self.fade_mm), Color32::TRANSPARENT);
        }
        let n = u32::try_from(self.points.len()).unwrap_or(0);
        for i in 0..n {
            let (a, b) = (start + 2 * i, start + 2 * ((i + 1) % n));
            mesh.add_triangle(a, a + 1, b);
            mesh.add_triangle(a + 1, b + 1, b);
        }
    }

    /// The edge as a line of `width` points to either side. The inner half will be covered by the fill.
    pub(crate) fn edge(&self, placed: &Placed, width: f32, colour: Color32) -> Shape {
        let points = self.points.iter().map(|p| placed.to_screen(*p)).collect();
        Shape::closed_line(points, Stroke::new(2.0 * width, colour))
    }
}

fn count(mesh: &Mesh) -> u32 {
    u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX)
}

/// How far apart two paths may be and still be taken for the same, mm: far less than can be seen.
const SAME_MM: f64 = 1e-7;

/// What moves the first path onto the second; `None` when they differ in more than their place.
pub(crate) fn shift_between(from: &Path, to: &Path) -> Option<Vector2<f64>> {
    if from.closed != to.closed || from.strokes.len() != to.strokes.len() {
        return None;
    }
    let shift = to.start - from.start;
    let near = |a: Vector2<f64>, b: Vector2<f64>| (a + shift - b).norm_squared() <= SAME_MM * SAME_MM;
    let same = from.strokes.iter().zip(&to.strokes).all(|strokes| match strokes {
        (glass::Stroke::Line { to: a }, glass::Stroke::Line { to: b }) => near(*a, *b),
        // An arc whose ends, middle and radii agree is the same arc.
        (a @ glass::Stroke::Arc { .. }, b @ glass::Stroke::Arc { .. }) => {
            [0.0, 0.5, 1.0].into_iter().all(|t| near(a.point(t), b.point(t))) && has_same_curve(a, b)
        }
        _ => false,
    });
    same.then_some(shift)
}

fn has_same_curve(a: &glass::Stroke, b: &glass::Stroke) -> bool {
    let curve = |stroke: &glass::Stroke| match *stroke {
        glass::Stroke::Arc {
            semi_axial,
            semi_radial,
            sweep,
            ..
        } => [semi_axial, semi_radial, sweep],
        glass::Stroke::Line { .. } => [0.0; 3],
    };
    curve(a).iter().zip(curve(b)).all(|(a, b)| (a - b).abs() <= SAME_MM)
}

/// A station on the screen.
#[derive(Clone, Copy)]
struct Rib {
    centre: Pos2,
    across: Vec2,
    r: f32,
}

#[allow(clippy::cast_possible_truncation, reason = "screen lengths need no more than f32")]
fn ribs(placed: &Placed, stations: &[Station]) -> Vec<Rib> {
    stations
        .iter()
        .map(|station| {
            let centre = placed.to_screen(station.centre);
            let across = (placed.to_screen(station.point(1.0)) - centre).normalized();
            Rib {
                centre,
                across,
                r: (station.r * placed.scale()) as f32,
            }
        })
        .collect()
}

/// Adds the section through `stations`, filled with `colour` and soft at its edges.
pub(crate) fn fill(mesh: &mut Mesh, placed: &Placed, stations: &[Station], colour: Color32) {
    let ribs = ribs(placed, stations);
    let (Some(first), Some(last)) = (ribs.first(), ribs.last()) else {
        return;
    };
    let ends = [
        (*first, outwards(&ribs, 0, 1) * FADE),
        (
            *last,
            outwards(&ribs, ribs.len() - 1, ribs.len().saturating_sub(2)) * FADE,
        ),
    ];
    let clear = Color32::TRANSPARENT;
    let row = |mesh: &mut Mesh, rib: &Rib, shift: Vec2, inside: Color32| {
        let start = count(mesh);
        let inner = (rib.r - FADE).max(0.0);
        let outer = rib.r + FADE;
        for (w, colour) in [(-outer, clear), (-inner, inside), (inner, inside), (outer, clear)] {
            mesh.colored_vertex(rib.centre + shift + rib.across * w, colour);
        }
        start
    };
    let mut rows = Vec::with_capacity(ribs.len() + 2);
    // The ends fade beyond the section, so that sections that abut leave no seam.
    rows.push(row(mesh, &ends[0].0, ends[0].1, clear));
    for rib in &ribs {
        rows.push(row(mesh, rib, Vec2::ZERO, colour));
    }
    rows.push(row(mesh, &ends[1].0, ends[1].1, clear));
    for pair in rows.windows(2) {
        for lane in 0..3 {
            let (a, b) = (pair[0] + lane, pair[1] + lane);
            mesh.add_triangle(a, a + 1, b);
            mesh.add_triangle(a + 1, b + 1, b);
        }
    }
}

/// Unit vector from rib `from` away from rib `other`.
fn outwards(ribs: &[Rib], from: usize, other: usize) -> Vec2 {
    match (ribs.get(from), ribs.get(other)) {
        (Some(a), Some(b)) if a.centre != b.centre => (a.centre - b.centre).normalized(),
        _ => Vec2::ZERO,
    }
}

/// Adds a convex polygon without soft edges, so that neighbours leave no seam.
pub(crate) fn tile(mesh: &mut Mesh, placed: &Placed, polygon: &[Vector2<f64>], colour: Color32) {
    let start = count(mesh);
    for point in polygon {
        mesh.colored_vertex(placed.to_screen(*point), colour);
    }
    for i in 2..u32::try_from(polygon.len()).unwrap_or(0) {
        mesh.add_triangle(start, start + i - 1, start + i);
    }
}

/// A line through points of the apparatus, long and short dashes as centrelines have.
pub(crate) fn chain_line(placed: &Placed, points: &[Vector2<f64>], stroke: Stroke) -> Vec<Shape> {
    let points: Vec<Pos2> = points.iter().map(|p| placed.to_screen(*p)).collect();
    Shape::dashed_line_with_offset(&points, stroke, &[9.0, 2.0], &[3.0, 3.0], 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::glass::Stroke::{Arc, Line};

    fn vial(at: Vector2<f64>, r: f64) -> Path {
        let arc = Arc {
            centre: at + Vector2::new(0.0, -20.0),
            heading: -1.0,
            semi_axial: r,
            semi_radial: r,
            start: 0.3,
            sweep: 2.0,
        };
        let strokes = vec![
            Line { to: arc.point(0.0) },
            arc,
            Line {
                to: at + Vector2::new(r, 0.0),
            },
        ];
        Path {
            start: at,
            strokes,
            closed: true,
        }
    }

    #[test]
    fn like_paths_are_known_by_what_moves_one_onto_the_other() {
        let (here, there) = (Vector2::new(1.0, 2.0), Vector2::new(-35.1, 1e3));
        let shift = shift_between(&vial(here, 7.0), &vial(there, 7.0)).expect("they are alike");
        assert!((shift - (there - here)).norm() < 1e-9);
        assert_eq!(shift_between(&vial(here, 7.0), &vial(there, 7.001)), None);
        let mut longer = vial(here, 7.0);
        longer.strokes.push(Line { to: there });
        assert_eq!(shift_between(&vial(here, 7.0), &longer), None);
    }
}
