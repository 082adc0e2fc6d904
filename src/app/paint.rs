//! Strokes and fills of the bench.
//!
//! Pieces overlap where they are fused, so no outline is drawn on top of anything: every outer outline is stroked
//! first and every wall filled over it, then every bore outline is stroked and every bore filled over that. What
//! stays visible are the outlines of the unions, without computing a union.

use super::view::Placed;
use crate::geom::glass::{self, Path};
use crate::out::section::Station;
use crate::out::trapezoids::trapezoids;
use egui::{Color32, Mesh, Pos2, Rect, Vec2};
use nalgebra::Vector2;

/// Half the width over which a filled edge fades, points.
const FADE: f32 = 0.5;

/// A closed outline ready to be filled at one scale: it does not change while the glass turns and moves. All lengths are
/// told from its first point, mm.
pub(crate) struct Outline {
    origin: Vector2<f64>,
    points: Vec<Vec2>,
    /// For each point, the way outwards: as long as keeps a line shifted by one at a distance of one.
    mitres: Vec<Vec2>,
    /// The inside without the fading edge.
    tiles: Vec<[Vec2; 4]>,
    /// Half the width over which the edge fades, mm.
    fade_mm: f32,
    /// Millimetres in a point of the screen.
    point_mm: f32,
    /// How far the outline reaches from its origin.
    reach_mm: f64,
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "distances within an outline need no more than f32"
)]
fn near(v: Vector2<f64>) -> Vec2 {
    Vec2::new(v.x as f32, v.y as f32)
}

impl Outline {
    /// The outline of a closed path, to within a tolerance, for `scale` points per millimetre.
    #[allow(clippy::cast_possible_truncation, reason = "screen lengths need no more than f32")]
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
        let origin = points.first().copied().unwrap_or_default();
        let told = |p: Vector2<f64>| near(p - origin);
        Self {
            tiles: trapezoids(&inset).into_iter().map(|tile| tile.map(told)).collect(),
            reach_mm: points.iter().map(|p| (p - origin).norm()).fold(0.0, f64::max),
            points: points.into_iter().map(told).collect(),
            mitres: mitres.into_iter().map(near).collect(),
            fade_mm: fade_mm as f32,
            point_mm: (1.0 / scale) as f32,
            origin,
        }
    }

    /// Adds the inside, filled with `colour` and soft at its edge.
    pub(crate) fn fill(&self, mesh: &mut Mesh, placed: &Placed, colour: Color32) {
        let around = placed.around(self.origin);
        mesh.reserve_vertices(4 * self.tiles.len());
        mesh.reserve_triangles(2 * self.tiles.len());
        for tile in &self.tiles {
            let start = count(mesh);
            for corner in tile {
                mesh.colored_vertex(around.to_screen(*corner), colour);
            }
            mesh.add_triangle(start, start + 1, start + 2);
            mesh.add_triangle(start, start + 2, start + 3);
        }
        self.rows(
            mesh,
            placed,
            [(-self.fade_mm, colour), (self.fade_mm, Color32::TRANSPARENT)],
        );
    }

    /// Adds the edge as a line that reaches `width` points outwards and as far inwards as the fill that will cover it.
    pub(crate) fn edge(&self, mesh: &mut Mesh, placed: &Placed, width: f32, colour: Color32) {
        let width = width * self.point_mm;
        let rows = [
            (-self.fade_mm, colour),
            ((width - self.fade_mm).max(0.0), colour),
            (width + self.fade_mm, Color32::TRANSPARENT),
        ];
        self.rows(mesh, placed, rows);
    }

    /// Adds bands around the outline, between rows at distances outwards from it, mm, each of one colour.
    fn rows<const N: usize>(&self, mesh: &mut Mesh, placed: &Placed, rows: [(f32, Color32); N]) {
        let (Ok(n), Ok(each)) = (u32::try_from(self.points.len()), u32::try_from(N)) else {
            return;
        };
        let around = placed.around(self.origin);
        mesh.reserve_vertices(N * self.points.len());
        mesh.reserve_triangles(2 * (N - 1) * self.points.len());
        let start = count(mesh);
        for (point, mitre) in self.points.iter().zip(&self.mitres) {
            for (out, colour) in rows {
                mesh.colored_vertex(around.to_screen(*point + *mitre * out), colour);
            }
        }
        for i in 0..n {
            let (a, b) = (start + each * i, start + each * ((i + 1) % n));
            for row in 0..each - 1 {
                mesh.add_triangle(a + row, a + row + 1, b + row);
                mesh.add_triangle(a + row + 1, b + row + 1, b + row);
            }
        }
    }

    /// Whether any of it may be seen within a part of the screen.
    #[allow(clippy::cast_possible_truncation, reason = "screen lengths need no more than f32")]
    pub(crate) fn is_seen(&self, placed: &Placed, clip: Rect) -> bool {
        // With room for lines around it.
        let reach = (self.reach_mm * placed.scale()) as f32 + 8.0;
        clip.expand(reach).contains(placed.to_screen(self.origin))
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

/// Adds a line of `width` points, soft at its sides.
pub(crate) fn line(mesh: &mut Mesh, [from, to]: [Pos2; 2], width: f32, colour: Color32) {
    let across = (to - from).normalized().rot90();
    let (core, side) = ((width / 2.0 - FADE).max(0.0), width / 2.0 + FADE);
    // A line too fine for a core of its own is as much fainter.
    let colour = colour.gamma_multiply((width / (core + side)).min(1.0));
    let start = count(mesh);
    for end in [from, to] {
        let clear = Color32::TRANSPARENT;
        for (out, colour) in [(-side, clear), (-core, colour), (core, colour), (side, clear)] {
            mesh.colored_vertex(end + across * out, colour);
        }
    }
    for row in start..start + 3 {
        mesh.add_triangle(row, row + 1, row + 4);
        mesh.add_triangle(row + 1, row + 5, row + 4);
    }
}

/// Long and short dashes, as centrelines have.
const CHAIN: [f64; 4] = [9.0, 3.0, 2.0, 3.0];

/// A line in dashes, ready for one scale.
pub(crate) struct Dashes {
    origin: Vector2<f64>,
    /// The ends of each, from the origin, mm.
    ends: Vec<[Vec2; 2]>,
}

impl Dashes {
    /// The dashes of a centreline through `points`, mm, for `scale` points per millimetre.
    pub(crate) fn chain(points: &[Vector2<f64>], scale: f64) -> Self {
        Self::along(points, &CHAIN.map(|points| points / scale))
    }

    /// Dashes and gaps in turn, mm, along a line; a dash that turns a corner is drawn in parts.
    fn along(points: &[Vector2<f64>], pattern: &[f64]) -> Self {
        let origin = points.first().copied().unwrap_or_default();
        let mut ends = Vec::new();
        let (mut turn, mut left) = (0, pattern[0]);
        for pair in points.windows(2) {
            let (from, length) = (pair[0] - origin, (pair[1] - pair[0]).norm());
            let Some(along) = (pair[1] - pair[0]).try_normalize(0.0) else {
                continue;
            };
            let mut at = 0.0;
            while at < length {
                let end = (at + left).min(length);
                if turn % 2 == 0 {
                    ends.push([at, end].map(|s| near(from + along * s)));
                }
                left -= end - at;
                // What rounding leaves of a dash would never come to an end.
                if left <= 1e-9 * length {
                    turn = (turn + 1) % pattern.len();
                    left = pattern[turn];
                }
                at = end;
            }
        }
        Self { origin, ends }
    }

    /// Adds them, `width` points wide.
    pub(crate) fn paint(&self, mesh: &mut Mesh, placed: &Placed, width: f32, colour: Color32) {
        let around = placed.around(self.origin);
        for ends in &self.ends {
            line(mesh, ends.map(|end| around.to_screen(end)), width, colour);
        }
    }

    /// Their places on the screen.
    pub(crate) fn places(&self, placed: &Placed) -> impl Iterator<Item = Pos2> {
        let around = placed.around(self.origin);
        self.ends.iter().flatten().map(move |end| around.to_screen(*end))
    }
}

/// Takes away what of the triangles from number `first` on lies above a level line of the screen.
pub(crate) fn cut_above(mesh: &mut Mesh, first: usize, level: f32) {
    let whole = mesh.indices.split_off(3 * first);
    for triangle in whole.chunks_exact(3) {
        let corners = [triangle[0], triangle[1], triangle[2]];
        let depths = corners.map(|corner| mesh.vertices[corner as usize].pos.y - level);
        let sunk = depths.map(|depth| depth >= 0.0);
        if sunk == [true; 3] {
            mesh.indices.extend(corners);
        }
        if sunk == [true; 3] || sunk == [false; 3] {
            continue;
        }
        let mut left = Vec::with_capacity(4);
        for i in 0..3 {
            let k = (i + 1) % 3;
            if sunk[i] {
                left.push(corners[i]);
            }
            if sunk[i] != sunk[k] {
                let part = depths[i] / (depths[i] - depths[k]);
                let [a, b] = [i, k].map(|corner| mesh.vertices[corners[corner] as usize]);
                left.push(count(mesh));
                mesh.colored_vertex(a.pos.lerp(b.pos, part), a.color.lerp_to_gamma(b.color, part));
            }
        }
        for i in 2..left.len() {
            mesh.add_triangle(left[0], left[i - 1], left[i]);
        }
    }
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

    fn area(mesh: &Mesh) -> f32 {
        let corner = |i: &u32| mesh.vertices[*i as usize].pos;
        let twice = |t: &[u32]| {
            let [a, b, c] = [corner(&t[0]), corner(&t[1]), corner(&t[2])];
            ((b - a).x * (c - a).y - (b - a).y * (c - a).x).abs()
        };
        mesh.indices.chunks_exact(3).map(twice).sum::<f32>() / 2.0
    }

    #[test]
    fn what_lies_above_a_level_is_cut_away() {
        let mut mesh = Mesh::default();
        let colour = Color32::WHITE;
        mesh.add_colored_rect(Rect::from_min_max(Pos2::new(0.0, 0.0), Pos2::new(10.0, 4.0)), colour);
        for (level, left) in [(-1.0, 30.0), (1.0, 30.0), (2.5, 15.0), (4.0, 0.0), (9.0, 0.0)] {
            let mut cut = mesh.clone();
            cut.add_colored_rect(Rect::from_min_max(Pos2::new(0.0, 1.0), Pos2::new(10.0, 4.0)), colour);
            cut_above(&mut cut, 2, level);
            assert!(
                (area(&cut) - 40.0 - left).abs() < 1e-3,
                "{level}: the first two are left alone"
            );
        }
    }

    #[test]
    fn dashes_and_gaps_follow_each_other_round_corners() {
        let points = [[0.0, 0.0], [5.0, 0.0], [5.0, 8.0]].map(Vector2::from);
        let dashes = Dashes::along(&points, &[3.0, 1.0]);
        let ends: Vec<[[f32; 2]; 2]> = dashes.ends.iter().map(|ends| ends.map(|p| [p.x, p.y])).collect();
        let expected = [
            [[0.0, 0.0], [3.0, 0.0]],
            [[4.0, 0.0], [5.0, 0.0]],
            [[5.0, 0.0], [5.0, 2.0]],
            [[5.0, 3.0], [5.0, 6.0]],
            [[5.0, 7.0], [5.0, 8.0]],
        ];
        assert_eq!(ends, expected);
    }
}
