//! Which pieces touch in the drawing plane. All axes lie in that plane and all sections are discs, so two shapes
//! meet in space exactly when their outlines meet in the plane.
//!
//! Every shape becomes convex polygons: a frustum is one, a spheroid an inscribed 48-gon, a bend a chain of
//! quadrangles of at most 7.5 degrees. Polygons are compared by separating axes after a sweep over x.

use crate::geom::{Primitive, Shape};
use nalgebra::Vector2;
use std::f64::consts::PI;
use std::ops::ControlFlow;

type Point = Vector2<f64>;

/// A convex polygon of a primitive.
pub(super) struct Patch {
    /// Index of the piece.
    pub(super) piece: usize,
    /// Position of the primitive in its list.
    pub(super) primitive: usize,
    corners: Vec<Point>,
    low: Point,
    high: Point,
}

/// The polygons of a list of primitives.
pub(super) fn patches(primitives: &[Primitive]) -> Vec<Patch> {
    let mut list = Vec::with_capacity(primitives.len());
    for (primitive, Primitive { piece, shape }) in primitives.iter().enumerate() {
        for corners in polygons(shape) {
            let low = corners.iter().fold(Point::repeat(f64::INFINITY), |low, p| low.inf(p));
            let high = corners
                .iter()
                .fold(Point::repeat(f64::NEG_INFINITY), |high, p| high.sup(p));
            list.push(Patch {
                piece: *piece,
                primitive,
                corners,
                low,
                high,
            });
        }
    }
    list
}

fn polygons(shape: &Shape) -> Vec<Vec<Point>> {
    match *shape {
        Shape::Frustum { from, to, r_from, r_to } => {
            let along = to - from;
            let length = along.norm();
            if length == 0.0 {
                return Vec::new();
            }
            let across = Vector2::new(-along.y, along.x) / length;
            vec![vec![
                from + across * r_from,
                from - across * r_from,
                to - across * r_to,
                to + across * r_to,
            ]]
        }
        Shape::Spheroid {
            centre,
            heading,
            semi_axial,
            semi_radial,
        } => {
            let (sin, cos) = heading.sin_cos();
            let corner = |k: u32| {
                let (s, c) = (f64::from(k) * PI / 24.0).sin_cos();
                let (x, y) = (semi_axial * c, semi_radial * s);
                centre + Vector2::new(cos * x - sin * y, sin * x + cos * y)
            };
            vec![(0..48).map(corner).collect()]
        }
        Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        } => {
            let steps = (sweep.abs() / (PI / 24.0)).ceil().clamp(1.0, 200.0) as u32;
            let ray = |k: u32| {
                let (sin, cos) = (start + sweep * f64::from(k) / f64::from(steps)).sin_cos();
                Vector2::new(cos, sin)
            };
            let quad = |k: u32| {
                let (a, b) = (ray(k), ray(k + 1));
                let (near, far) = (radius - r, radius + r);
                vec![centre + a * near, centre + a * far, centre + b * far, centre + b * near]
            };
            (0..steps).map(quad).collect()
        }
    }
}

/// A pair of patches whose boxes overlap; whether they themselves do is worked out when asked.
pub(super) struct Pair<'a> {
    pub(super) a: &'a Patch,
    pub(super) b: &'a Patch,
    tolerance_mm: f64,
}

impl Pair<'_> {
    /// Whether the patches overlap by more than the tolerance.
    pub(super) fn meets(&self) -> bool {
        overlap_mm(&self.a.corners, &self.b.corners) > self.tolerance_mm
    }

    /// The middle of what their boxes share, mm.
    pub(super) fn middle(&self) -> Point {
        (self.a.low.sup(&self.b.low) + self.a.high.inf(&self.b.high)) / 2.0
    }
}

/// Shows every pair of patches whose boxes overlap by more than a tolerance, mm, until the visitor breaks off. A
/// negative tolerance admits a gap.
pub(super) fn overlaps(patches: &[Patch], tolerance_mm: f64, mut visit: impl FnMut(&Pair<'_>) -> ControlFlow<()>) {
    let mut order: Vec<&Patch> = patches.iter().collect();
    order.sort_by(|a, b| a.low.x.total_cmp(&b.low.x));
    for (i, a) in order.iter().enumerate() {
        for b in order[i + 1..].iter().take_while(|b| b.low.x <= a.high.x - tolerance_mm) {
            let apart = a.low.y > b.high.y - tolerance_mm || b.low.y > a.high.y - tolerance_mm;
            if !apart && visit(&Pair { a, b, tolerance_mm }).is_break() {
                return;
            }
        }
    }
}

/// Least overlap over the normals of all sides, mm; negative when the polygons are apart.
fn overlap_mm(a: &[Point], b: &[Point]) -> f64 {
    let mut least = f64::INFINITY;
    for polygon in [a, b] {
        for (i, p) in polygon.iter().enumerate() {
            let side = polygon[(i + 1) % polygon.len()] - p;
            let length = side.norm();
            if length < 1e-9 {
                continue;
            }
            let normal = Vector2::new(-side.y, side.x) / length;
            let extent = |polygon: &[Point]| {
                polygon
                    .iter()
                    .map(|q| q.dot(&normal))
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
                        (low.min(x), high.max(x))
                    })
            };
            let ((a_low, a_high), (b_low, b_high)) = (extent(a), extent(b));
            least = least.min(a_high.min(b_high) - a_low.max(b_low));
        }
    }
    least
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tube(piece: usize, y: f64) -> Primitive {
        let shape = Shape::Frustum {
            from: Point::new(0.0, y),
            to: Point::new(100.0, y + 10.0),
            r_from: 5.0,
            r_to: 5.0,
        };
        Primitive { piece, shape }
    }

    fn count(list: &[Primitive], tolerance: f64) -> usize {
        let mut count = 0;
        overlaps(&patches(list), tolerance, |pair| {
            count += usize::from(pair.a.piece != pair.b.piece && pair.meets());
            ControlFlow::Continue(())
        });
        count
    }

    #[test]
    fn parallel_tubes_meet_when_nearer_than_their_diameter() {
        // The distance of the axes is 11 / sqrt(1.01) and 10 / sqrt(1.01).
        assert_eq!(count(&[tube(0, 0.0), tube(1, 11.0)], 0.0), 0);
        assert_eq!(count(&[tube(0, 0.0), tube(1, 10.0)], 0.0), 1);
        assert_eq!(count(&[tube(0, 0.0), tube(1, 10.0)], 0.1), 0);
    }

    #[test]
    fn a_bend_meets_only_what_lies_on_its_arc() {
        let bend = Shape::Torus {
            centre: Point::zeros(),
            radius: 30.0,
            r: 5.0,
            start: 0.0,
            sweep: PI / 2.0,
        };
        let ball = |x: f64, y: f64| Primitive {
            piece: 1,
            shape: Shape::Spheroid {
                centre: Point::new(x, y),
                heading: 0.0,
                semi_axial: 4.0,
                semi_radial: 4.0,
            },
        };
        let bend = Primitive { piece: 0, shape: bend };
        assert!(count(&[bend, ball(22.0, 22.0)], 0.05) > 0);
        assert_eq!(count(&[bend, ball(0.0, 0.0)], 0.05), 0);
        assert_eq!(count(&[bend, ball(-22.0, 22.0)], 0.05), 0);
    }
}
