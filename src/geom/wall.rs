//! The walls of bores: how large they are, and how far they reach.
//!
//! The wall of a primitive counts where its slices are not wholly within a bore of lower id; of a slice that is so in part
//! all of the wall counts, so that an area is never too small by what bores share. Frusta and bends in closed form,
//! spheroids by quadrature to about 1e-12.

use super::interior::Interior;
use super::shape::Solid;
use super::solve::ALONG;

/// The walls of a piece.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wall {
    /// Area of the bore's wall, mm2; ends are left out.
    pub area: f64,
    /// Longest distance between two of its places, mm, by the upright rectangle about it: at most.
    pub reach: f64,
}

impl Interior {
    /// The walls by piece; 0 for a piece without a bore.
    pub fn walls(&self) -> Vec<Wall> {
        let mut walls = vec![Wall::default(); self.pieces().len()];
        let mut bounds = vec![None; walls.len()];
        for ((primitive, solid), spans) in self.primitives().iter().zip(&self.solids).zip(&self.spans) {
            let area = spans.iter().map(|span| lateral(solid, span.lo, span.hi));
            walls[primitive.piece].area += area.sum::<f64>();
            let (lo, hi) = solid.bounds();
            let known = &mut bounds[primitive.piece];
            let (least, most) = known.unwrap_or((lo, hi));
            *known = Some((least.inf(&lo), most.sup(&hi)));
        }
        for (wall, bounds) in walls.iter_mut().zip(bounds) {
            wall.reach = bounds.map_or(0.0, |(lo, hi)| (hi - lo).norm());
        }
        walls
    }
}

/// Area of the wall of a solid between two places along it, mm2.
fn lateral(solid: &Solid, a: f64, b: f64) -> f64 {
    use std::f64::consts::TAU;
    match *solid {
        Solid::Frustum { r0, k, .. } => {
            let mean = r0 + k * 0.5 * (a + b);
            TAU * mean * k.hypot(1.0) * (b - a)
        }
        Solid::Spheroid { c, b: semi, .. } => {
            let ring = |s: f64| {
                let x = s / c;
                (semi * semi * (1.0 - x * x).max(0.0) + (semi * semi * x / c).powi(2)).sqrt()
            };
            TAU * ALONG.integrate(a, b, |s| (ring(s), 0.0)).0
        }
        Solid::Bend { radius, r, .. } => TAU * r * radius * (b - a),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Primitive, Shape};
    use super::*;
    use nalgebra::Vector2;
    use std::f64::consts::PI;

    fn wall(shapes: &[Shape]) -> Wall {
        let primitives = shapes.iter().map(|&shape| Primitive { piece: 0, shape }).collect();
        let interior = Interior::new(vec!["it".to_owned()], primitives, Vec::new()).unwrap();
        interior.walls()[0]
    }

    fn frustum(len: f64, r_from: f64, r_to: f64) -> Shape {
        let (from, to) = (Vector2::zeros(), Vector2::new(len, 0.0));
        Shape::Frustum { from, to, r_from, r_to }
    }

    fn spheroid(x: f64, semi_axial: f64, semi_radial: f64) -> Shape {
        Shape::Spheroid {
            centre: Vector2::new(x, 0.0),
            heading: 0.0,
            semi_axial,
            semi_radial,
        }
    }

    #[test]
    fn walls_of_single_shapes_are_those_of_closed_forms() {
        let close = |got: f64, exact: f64| assert!((got - exact).abs() < 1e-9 * exact, "{got} {exact}");
        // Pi (r + R) s of the frustum with slant s; 4 pi r^2; 4 pi^2 R r of the torus.
        close(wall(&[frustum(40.0, 3.0, 33.0)]).area, PI * 36.0 * 50.0);
        close(wall(&[spheroid(0.0, 7.0, 7.0)]).area, 4.0 * PI * 49.0);
        // Prolate: 2 pi b^2 (1 + c / (b e) asin e).
        let e = (1.0f64 - 16.0 / 100.0).sqrt();
        close(
            wall(&[spheroid(0.0, 10.0, 4.0)]).area,
            2.0 * PI * 16.0 * (1.0 + 10.0 / (4.0 * e) * e.asin()),
        );
        let torus = Shape::Torus {
            centre: Vector2::zeros(),
            radius: 20.0,
            r: 4.0,
            start: 0.0,
            sweep: PI,
        };
        close(wall(&[torus]).area, 2.0 * PI * PI * 20.0 * 4.0);
    }

    #[test]
    fn a_round_bottom_counts_once_and_the_reach_spans_the_piece() {
        // A tube with half a sphere at its end: 2 pi r L + 2 pi r^2, and 46 by 12 mm.
        let round = wall(&[frustum(40.0, 6.0, 6.0), spheroid(40.0, 6.0, 6.0)]);
        let exact = 2.0 * PI * 6.0 * 40.0 + 2.0 * PI * 36.0;
        assert!((round.area - exact).abs() < 1e-9 * exact, "{} {exact}", round.area);
        assert!((round.reach - 46f64.hypot(12.0)).abs() < 1e-9, "{}", round.reach);
    }
}
