//! Shapes cut by the drawing plane, as stations along their axes.
//!
//! Every primitive is a disc swept along a curve in the drawing plane. A [`Station`] is one such disc seen edge
//! on; two neighbours make a quadrilateral, and the quadrilaterals tile the section to within the tolerance
//! asked for. Clipping each one by a level clips the section, convex or not.

use crate::geom::Shape;
use nalgebra::{Vector2, Vector3};
use std::f64::consts::{FRAC_PI_2, PI};

/// A disc of the sweep, seen edge on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Centre, mm.
    pub centre: Vector2<f64>,
    /// Unit vector along the disc: the sweep's direction turned by +90 degrees.
    pub across: Vector2<f64>,
    /// Radius, mm.
    pub r: f64,
}

impl Station {
    /// The point at `w` mm across from the centre.
    pub fn point(&self, w: f64) -> Vector2<f64> {
        self.centre + self.across * w
    }

    /// The end of the disc at the left of the sweep's direction.
    pub fn left(&self) -> Vector2<f64> {
        self.point(self.r)
    }

    /// The end of the disc at the right of the sweep's direction.
    pub fn right(&self) -> Vector2<f64> {
        self.point(-self.r)
    }
}

/// Stations whose quadrilaterals differ from the section of `shape` by no more than `tolerance_mm`.
pub fn stations(shape: &Shape, tolerance_mm: f64) -> Vec<Station> {
    match *shape {
        Shape::Frustum { from, to, r_from, r_to } => {
            let across = left_of(direction(to - from));
            vec![
                Station {
                    centre: from,
                    across,
                    r: r_from,
                },
                Station {
                    centre: to,
                    across,
                    r: r_to,
                },
            ]
        }
        Shape::Spheroid {
            centre,
            heading,
            semi_axial,
            semi_radial,
        } => {
            let along = unit(heading);
            let n = steps(PI, semi_axial.max(semi_radial), tolerance_mm);
            (0..=n)
                .map(|i| {
                    let angle = PI * fraction(i, n) - FRAC_PI_2;
                    let (sin, cos) = angle.sin_cos();
                    // The poles are exact, so that the outline closes.
                    let r = if i == 0 || i == n { 0.0 } else { semi_radial * cos };
                    Station {
                        centre: centre + along * (semi_axial * sin),
                        across: left_of(along),
                        r,
                    }
                })
                .collect()
        }
        Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        } => {
            let n = steps(sweep.abs(), radius + r, tolerance_mm);
            (0..=n)
                .map(|i| {
                    let outwards = unit(start + sweep * fraction(i, n));
                    // Left of the direction of travel is inwards when the sweep runs anticlockwise.
                    let across = if sweep >= 0.0 { -outwards } else { outwards };
                    Station {
                        centre: centre + outwards * radius,
                        across,
                        r,
                    }
                })
                .collect()
        }
    }
}

/// The closed outline through `stations`: up the right side and back down the left.
pub fn outline(stations: &[Station]) -> Vec<Vector2<f64>> {
    let right = stations.iter().map(Station::right);
    let left = stations.iter().rev().map(Station::left);
    let mut points: Vec<_> = right.chain(left).collect();
    points.dedup();
    if points.len() > 1 && points.first() == points.last() {
        points.pop();
    }
    points
}

/// Whether `point` lies in the section of `shape` grown by `margin_mm`.
pub fn contains(shape: &Shape, point: Vector2<f64>, margin_mm: f64) -> bool {
    match *shape {
        Shape::Frustum { from, to, r_from, r_to } => {
            let axis = to - from;
            let length = axis.norm();
            let along = direction(axis);
            let s = (point - from).dot(&along);
            let w = (point - from).dot(&left_of(along));
            let t = if length > 0.0 {
                (s / length).clamp(0.0, 1.0)
            } else {
                0.0
            };
            s >= -margin_mm && s <= length + margin_mm && w.abs() <= r_from + (r_to - r_from) * t + margin_mm
        }
        Shape::Spheroid {
            centre,
            heading,
            semi_axial,
            semi_radial,
        } => {
            let along = unit(heading);
            let s = (point - centre).dot(&along) / (semi_axial + margin_mm);
            let w = (point - centre).dot(&left_of(along)) / (semi_radial + margin_mm);
            s * s + w * w <= 1.0
        }
        Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        } => {
            let d = point - centre;
            let angle = d.y.atan2(d.x);
            let travelled = if sweep >= 0.0 { angle - start } else { start - angle };
            let slack = margin_mm / radius;
            let within = (travelled + slack).rem_euclid(2.0 * PI) <= sweep.abs() + 2.0 * slack;
            within && (d.norm() - radius).abs() <= r + margin_mm
        }
    }
}

/// The surface of liquid below `level` mm in the section through `stations`, as segments from left to right of the
/// sweep, mm; `up` points up in the apparatus frame.
///
/// Only the drawing plane itself counts, so with a roll the surface runs where the level cuts that plane.
pub fn surface(stations: &[Station], up: Vector3<f64>, level: f64) -> Vec<[Vector2<f64>; 2]> {
    let depth = |p: &Vector2<f64>| level - up.xy().dot(p);
    let mut found = Vec::new();
    for pair in stations.windows(2) {
        let quad = [pair[0].right(), pair[1].right(), pair[1].left(), pair[0].left()];
        let mut cuts = Vec::with_capacity(2);
        for (i, a) in quad.iter().enumerate() {
            let b = &quad[(i + 1) % quad.len()];
            let (da, db) = (depth(a), depth(b));
            if (da >= 0.0) != (db >= 0.0) {
                cuts.push(a + (b - a) * (da / (da - db)));
            }
        }
        if let [a, b] = cuts[..] {
            found.push([a, b]);
        }
    }
    found
}

/// The shadow on the drawing plane of all liquid below `level` in the shape of `stations`, as convex polygons.
///
/// With a roll part of the liquid lies before or behind the plane. At a station the floor at `w` across has the
/// height `up . point(w) - |up_z| sqrt(r^2 - w^2)`, which is convex in `w`, so the wet part is one interval.
/// `span` longer than this is halved first, mm.
pub fn shadow(stations: &[Station], up: Vector3<f64>, level: f64, span: f64) -> Vec<Vec<Vector2<f64>>> {
    let mut tiles = Vec::new();
    for pair in stations.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let parts = ((b.centre - a.centre).norm() / span.max(1e-3)).ceil().clamp(1.0, 64.0);
        let at = |t: f64| Station {
            centre: a.centre + (b.centre - a.centre) * t,
            across: direction(a.across + (b.across - a.across) * t),
            r: a.r + (b.r - a.r) * t,
        };
        let mut t = 0.0;
        while t < parts {
            let (s0, s1) = (at(t / parts), at((t + 1.0) / parts));
            if let (Some((lo0, hi0)), Some((lo1, hi1))) = (wet_interval(&s0, up, level), wet_interval(&s1, up, level)) {
                tiles.push(vec![s0.point(lo0), s1.point(lo1), s1.point(hi1), s0.point(hi0)]);
            }
            t += 1.0;
        }
    }
    tiles
}

/// The interval across a station over which some liquid lies; `None` when it is dry.
fn wet_interval(station: &Station, up: Vector3<f64>, level: f64) -> Option<(f64, f64)> {
    let r = station.r;
    let slope = up.xy().dot(&station.across);
    let depth = up.z.abs();
    let room = level - up.xy().dot(&station.centre);
    // Least floor over the disc is at w = -r slope / hypot(slope, depth).
    let steepness = slope.hypot(depth);
    if room < -r * steepness {
        return None;
    }
    // slope w - depth sqrt(r^2 - w^2) = room, with w = r sin(a): both roots of a quadratic in w.
    let norm = steepness * steepness;
    if norm == 0.0 {
        return (room >= 0.0).then_some((-r, r));
    }
    let mid = slope * room / norm;
    let half = depth * (norm * r * r - room * room).max(0.0).sqrt() / norm;
    // A root belongs to the floor only where its half-depth is not negative: depth sqrt(..) = slope w - room.
    let on_floor = |w: f64| slope * w - room >= 0.0;
    let hi = if slope * r <= room {
        r
    } else {
        pick(mid + half, mid - half, on_floor)
    };
    let lo = if -slope * r <= room {
        -r
    } else {
        pick(mid - half, mid + half, on_floor)
    };
    Some((lo.clamp(-r, r), hi.clamp(-r, r)))
}

fn pick(first: f64, second: f64, holds: impl Fn(f64) -> bool) -> f64 {
    if holds(first) { first } else { second }
}

/// Steps for an arc of `angle` and `radius` so that the sagitta stays below the tolerance.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the value is clamped to 2..=720"
)]
fn steps(angle: f64, radius: f64, tolerance_mm: f64) -> u32 {
    let widest = 2.0 * (1.0 - tolerance_mm / radius.max(1e-9)).clamp(-1.0, 1.0).acos();
    (angle / widest.max(1e-6)).ceil().clamp(2.0, 720.0) as u32
}

fn fraction(i: u32, n: u32) -> f64 {
    f64::from(i) / f64::from(n)
}

fn unit(angle: f64) -> Vector2<f64> {
    Vector2::new(angle.cos(), angle.sin())
}

fn left_of(v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

/// Unit vector along `v`, or +x when `v` vanishes.
fn direction(v: Vector2<f64>) -> Vector2<f64> {
    let length = v.norm();
    if length > 0.0 { v / length } else { Vector2::x() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(points: &[Vector2<f64>]) -> f64 {
        let n = points.len();
        let twice: f64 = (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum();
        twice / 2.0
    }

    fn bend(sweep: f64) -> Shape {
        Shape::Torus {
            centre: Vector2::new(3.0, 4.0),
            radius: 20.0,
            r: 5.0,
            start: 0.4,
            sweep,
        }
    }

    #[test]
    fn outlines_enclose_the_closed_form_areas() {
        let sphere = Shape::Spheroid {
            centre: Vector2::new(1.0, 2.0),
            heading: 0.7,
            semi_axial: 9.0,
            semi_radial: 6.0,
        };
        let cone = Shape::Frustum {
            from: Vector2::zeros(),
            to: Vector2::new(0.0, 10.0),
            r_from: 4.0,
            r_to: 2.0,
        };
        for (shape, exact) in [
            (sphere, PI * 54.0),
            (cone, 60.0),
            (bend(1.3), 1.3 * 200.0),
            (bend(-1.3), 1.3 * 200.0),
        ] {
            let found = area(&outline(&stations(&shape, 1e-4)));
            assert!((found - exact).abs() < 2e-4 * exact, "{found} for {exact} of {shape:?}");
        }
    }

    #[test]
    fn a_finer_tolerance_is_kept() {
        for tolerance in [1.0, 0.1, 0.01, 0.001] {
            let ring = stations(&bend(2.0), tolerance);
            for pair in ring.windows(2) {
                let middle = (pair[0].right() + pair[1].right()) / 2.0;
                let off = 25.0 - (middle - Vector2::new(3.0, 4.0)).norm();
                assert!(off <= tolerance * (1.0 + 1e-9), "{off} for {tolerance}");
            }
        }
    }

    fn length(surface: &[[Vector2<f64>; 2]]) -> f64 {
        surface.iter().map(|[a, b]| (a - b).norm()).sum()
    }

    #[test]
    fn a_level_through_the_middle_spans_the_diameter() {
        let shape = Shape::Spheroid {
            centre: Vector2::new(0.0, 5.0),
            heading: 1.1,
            semi_axial: 8.0,
            semi_radial: 8.0,
        };
        let line = stations(&shape, 1e-4);
        assert!((length(&surface(&line, Vector3::y(), 5.0)) - 16.0).abs() < 1e-2);
        assert!(
            surface(&line, Vector3::y(), 13.5).is_empty(),
            "brim-full has no surface inside"
        );
        assert!(surface(&line, Vector3::y(), -3.5).is_empty());
    }

    #[test]
    fn an_arch_has_a_surface_in_both_legs() {
        let arch = Shape::Torus {
            centre: Vector2::zeros(),
            radius: 20.0,
            r: 5.0,
            start: 0.0,
            sweep: PI,
        };
        let found = surface(&stations(&arch, 1e-3), Vector3::y(), 6.0);
        assert!(
            found
                .iter()
                .flatten()
                .all(|p| p.x.abs() > 10.0 && (p.y - 6.0).abs() < 1e-9)
        );
        assert!(found.iter().flatten().any(|p| p.x < 0.0) && found.iter().flatten().any(|p| p.x > 0.0));
    }

    #[test]
    fn the_shadow_of_a_level_tube_seen_from_above_is_its_surface() {
        // Rolled by 90 degrees: up is -z, the tube lies flat, filled to half.
        let tube = Shape::Frustum {
            from: Vector2::zeros(),
            to: Vector2::new(40.0, 0.0),
            r_from: 5.0,
            r_to: 5.0,
        };
        let up = Vector3::new(0.0, 0.0, -1.0);
        for (level, width) in [(0.0, 10.0), (-3.0, 8.0), (-4.0, 6.0), (3.0, 10.0)] {
            let found: f64 = shadow(&stations(&tube, 0.01), up, level, 5.0)
                .iter()
                .map(|t| area(t).abs())
                .sum();
            assert!((found - 40.0 * width).abs() < 1e-6, "{found} at {level}");
        }
        assert!(shadow(&stations(&tube, 0.01), up, -5.5, 5.0).is_empty());
    }

    #[test]
    fn without_a_roll_the_shadow_is_the_section() {
        // A cylinder of radius 4 across a slope, filled so that the level cuts its middle line at both sides alike.
        let tube = Shape::Frustum {
            from: Vector2::zeros(),
            to: Vector2::new(0.0, 30.0),
            r_from: 4.0,
            r_to: 4.0,
        };
        let up = Vector3::new(0.3, 0.954, 0.0).normalize();
        let level = up.y * 14.0;
        let found: f64 = shadow(&stations(&tube, 0.01), up, level, 0.05)
            .iter()
            .map(|t| area(t).abs())
            .sum();
        assert!((found - 8.0 * 14.0).abs() < 0.02 * 112.0, "{found}");
    }

    #[test]
    fn points_are_found_inside_and_not_outside() {
        let bend = bend(-1.5);
        let middle = |angle: f64, rho: f64| Vector2::new(3.0, 4.0) + unit(angle) * rho;
        assert!(contains(&bend, middle(-0.5, 24.9), 0.0));
        assert!(!contains(&bend, middle(-0.5, 25.1), 0.0));
        assert!(contains(&bend, middle(-0.5, 25.1), 0.2));
        assert!(!contains(&bend, middle(0.6, 20.0), 0.0), "before the start");
        let cone = Shape::Frustum {
            from: Vector2::zeros(),
            to: Vector2::new(0.0, 10.0),
            r_from: 4.0,
            r_to: 2.0,
        };
        assert!(contains(&cone, Vector2::new(2.9, 5.0), 0.0));
        assert!(!contains(&cone, Vector2::new(3.1, 5.0), 0.0));
        assert!(!contains(&cone, Vector2::new(0.0, -0.1), 0.0));
    }
}
