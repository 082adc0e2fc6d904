//! From the apparatus to the screen and back.
//!
//! The world is f64 millimetres with y up; the screen is f32 points with y down. [`Placed::to_screen`] is the only
//! place where the one becomes the other.

use egui::{Pos2, Rect, Vec2, pos2, vec2};
use nalgebra::Vector2;

/// Least and greatest scale, points per millimetre.
const SCALE: (f64, f64) = (0.05, 400.0);

/// What part of the bench is seen, and how large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct View {
    /// The point of the apparatus about which it turns on the screen, mm.
    pub pivot: Vector2<f64>,
    /// Points per millimetre.
    pub scale: f64,
}

impl Default for View {
    fn default() -> Self {
        Self {
            pivot: Vector2::zeros(),
            scale: 2.0,
        }
    }
}

impl View {
    /// The view that shows a circle of `radius_mm` about `pivot` within `radius_points`.
    pub(crate) fn fit(pivot: Vector2<f64>, radius_mm: f64, radius_points: f32) -> Self {
        let scale = f64::from(radius_points) / radius_mm.max(1.0);
        Self {
            pivot,
            scale: scale.clamp(SCALE.0, SCALE.1),
        }
    }

    /// The view that shows everything between two corners within a rectangle of `size`, upright.
    pub(crate) fn within(low: Vector2<f64>, high: Vector2<f64>, size: egui::Vec2) -> Self {
        let extent = high - low;
        let scale = (f64::from(size.x) / extent.x.max(1.0)).min(f64::from(size.y) / extent.y.max(1.0));
        Self {
            pivot: (low + high) / 2.0,
            scale: scale.clamp(SCALE.0, SCALE.1),
        }
    }

    /// The transform for an apparatus turned by `tilt_deg`, with the pivot at the middle of `bench`.
    pub(crate) fn placed(&self, bench: Rect, tilt_deg: f64) -> Placed {
        let (sin, cos) = tilt_deg.to_radians().sin_cos();
        Placed {
            view: *self,
            middle: bench.center(),
            sin,
            cos,
        }
    }

    /// Moves the glass by `delta` points on the screen.
    pub(crate) fn pan(&mut self, placed: &Placed, delta: egui::Vec2) {
        let moved = placed.to_world(placed.middle + delta) - placed.to_world(placed.middle);
        self.pivot -= moved;
    }

    /// Moves the glass back where it has left `bench` but for a margin: what is out of sight altogether is hard to find
    /// again. `hull` is its convex outline, anticlockwise, mm.
    pub(crate) fn keep_in_sight(&mut self, bench: Rect, tilt_deg: f64, hull: &[Vector2<f64>], margin: f32) {
        let placed = self.placed(bench, tilt_deg);
        let sight = bench.shrink(margin.min(bench.width() / 3.0).min(bench.height() / 3.0));
        let corners = [
            sight.left_bottom(),
            sight.right_bottom(),
            sight.right_top(),
            sight.left_top(),
        ];
        let corners = corners.map(|corner| placed.to_world(corner));
        // The farthest that an edge of the glass keeps from what is in sight, and the way across it.
        let edges = hull.iter().zip(hull.iter().cycle().skip(1));
        let parted_by_glass = edges.filter_map(|(a, b)| {
            let out = Vector2::new(b.y - a.y, a.x - b.x).try_normalize(0.0)?;
            let gap = corners.iter().map(|c| (c - a).dot(&out)).fold(f64::INFINITY, f64::min);
            Some((gap, out))
        });
        let sides = (0..4).filter_map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            let out = Vector2::new(b.y - a.y, a.x - b.x).try_normalize(0.0)?;
            let gap = hull.iter().map(|p| (p - a).dot(&out)).fold(f64::INFINITY, f64::min);
            Some((gap, -out))
        });
        let farthest = parted_by_glass.chain(sides).max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((gap, out)) = farthest.filter(|(gap, _)| *gap > 0.0 && gap.is_finite()) {
            // The glass moves towards the sight, and so the pivot away from it.
            self.pivot -= out * gap;
        }
    }

    /// Zooms by `factor` so that what lies under `pointer` stays there.
    pub(crate) fn zoom(&mut self, placed: &Placed, pointer: Pos2, factor: f64) {
        let fixed = placed.to_world(pointer);
        let scale = (self.scale * factor).clamp(SCALE.0, SCALE.1);
        self.pivot = fixed + (self.pivot - fixed) * (self.scale / scale);
        self.scale = scale;
    }
}

/// A view on a bench of known size, at a known tilt.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Placed {
    view: View,
    middle: Pos2,
    sin: f64,
    cos: f64,
}

impl Placed {
    /// Screen position of a point of the apparatus.
    #[allow(clippy::cast_possible_truncation, reason = "screen positions need no more than f32")]
    pub(crate) fn to_screen(self, point: Vector2<f64>) -> Pos2 {
        let d = (point - self.view.pivot) * self.view.scale;
        let right = d.x * self.cos - d.y * self.sin;
        let up = d.x * self.sin + d.y * self.cos;
        pos2(self.middle.x + right as f32, self.middle.y - up as f32)
    }

    /// The same for many points around `origin`, which are told from there, mm.
    #[allow(clippy::cast_possible_truncation, reason = "screen positions need no more than f32")]
    pub(crate) fn around(self, origin: Vector2<f64>) -> Around {
        let (sin, cos) = (self.sin * self.view.scale, self.cos * self.view.scale);
        Around {
            origin: self.to_screen(origin),
            x: vec2(cos as f32, -sin as f32),
            y: vec2(-sin as f32, -cos as f32),
        }
    }

    /// The same for points that stand `shift` farther in the apparatus than they say.
    pub(crate) fn moved(self, shift: Vector2<f64>) -> Self {
        let view = View {
            pivot: self.view.pivot - shift,
            ..self.view
        };
        Self { view, ..self }
    }

    /// The point of the apparatus at a screen position.
    pub(crate) fn to_world(self, at: Pos2) -> Vector2<f64> {
        let right = f64::from(at.x - self.middle.x) / self.view.scale;
        let up = f64::from(self.middle.y - at.y) / self.view.scale;
        let turned = Vector2::new(right * self.cos + up * self.sin, up * self.cos - right * self.sin);
        self.view.pivot + turned
    }

    /// Points per millimetre.
    pub(crate) fn scale(self) -> f64 {
        self.view.scale
    }
}

/// A view on what lies around a point: with distances from there f32 is enough, and fast.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Around {
    origin: Pos2,
    /// A millimetre along x and y of the apparatus, points.
    x: Vec2,
    y: Vec2,
}

impl Around {
    /// Screen position of a point that lies so far from the origin, mm of the apparatus.
    pub(crate) fn to_screen(self, from_origin: Vec2) -> Pos2 {
        self.origin + self.x * from_origin.x + self.y * from_origin.y
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bench() -> Rect {
        Rect::from_min_size(pos2(100.0, 40.0), vec2(800.0, 600.0))
    }

    #[test]
    fn screen_and_world_are_inverse() {
        let view = View {
            pivot: Vector2::new(31.0, -7.5),
            scale: 3.25,
        };
        for tilt in [0.0, 12.5, 90.0, -135.0, 180.0] {
            let placed = view.placed(bench(), tilt);
            for at in [pos2(120.0, 55.0), pos2(512.25, 333.5), pos2(880.0, 610.0)] {
                let back = placed.to_screen(placed.to_world(at));
                assert!((back - at).length() < 1e-3, "{back:?} for {at:?} at {tilt}");
                let origin = Vector2::new(-12.0, 40.0);
                let from_origin = placed.to_world(at) - origin;
                let from_origin = vec2(from_origin.x as f32, from_origin.y as f32);
                let back = placed.around(origin).to_screen(from_origin);
                assert!((back - at).length() < 1e-3, "{back:?} for {at:?} at {tilt}");
            }
        }
    }

    #[test]
    fn a_positive_tilt_turns_anticlockwise_on_the_screen() {
        let placed = View {
            pivot: Vector2::zeros(),
            scale: 1.0,
        }
        .placed(bench(), 90.0);
        let middle = bench().center();
        let right = placed.to_screen(Vector2::new(10.0, 0.0));
        assert!(
            (right - (middle + vec2(0.0, -10.0))).length() < 1e-4,
            "what was at the right is at the top"
        );
    }

    #[test]
    fn zoom_keeps_the_point_under_the_pointer_and_pan_follows_it() {
        for tilt in [0.0, 33.0, 90.0, -147.5, 180.0] {
            for factor in [1.7, 0.3, 1e3] {
                let mut view = View {
                    pivot: Vector2::new(5.0, 5.0),
                    scale: 2.0,
                };
                let pointer = pos2(300.0, 200.0);
                let before = view.placed(bench(), tilt);
                let fixed = before.to_world(pointer);
                view.zoom(&before, pointer, factor);
                let after = view.placed(bench(), tilt);
                assert!((after.to_world(pointer) - fixed).norm() < 1e-9);
                view.pan(&after, vec2(25.0, -14.0));
                let moved = view.placed(bench(), tilt).to_screen(fixed);
                assert!((moved - (pointer + vec2(25.0, -14.0))).length() < 1e-3);
            }
        }
    }

    #[test]
    fn the_glass_is_never_lost() {
        let hull = [(0.0, 0.0), (100.0, 0.0), (100.0, 30.0), (0.0, 30.0)].map(|(x, y)| Vector2::new(x, y));
        for tilt in [0.0, 30.0, -100.0] {
            for delta in [vec2(5000.0, -9000.0), vec2(-2000.0, 10.0), vec2(0.0, 1500.0)] {
                let mut view = View::default();
                view.pan(&view.placed(bench(), tilt), delta);
                // A corner may need one more step along the other side.
                for _ in 0..3 {
                    view.keep_in_sight(bench(), tilt, &hull, 24.0);
                }
                let placed = view.placed(bench(), tilt);
                let edges = (0..4).map(|i| (hull[i], hull[(i + 1) % 4]));
                let points = edges.flat_map(|(a, b)| (0..200).map(move |k| a + (b - a) * (f64::from(k) / 200.0)));
                let mut seen = points.map(|p| placed.to_screen(p));
                assert!(seen.any(|at| bench().shrink(23.0).contains(at)), "{delta:?} at {tilt}");
                let before = view;
                view.keep_in_sight(bench(), tilt, &hull, 24.0);
                assert!((view.pivot - before.pivot).norm() < 1e-3, "what is in sight stays");
            }
        }
        let mut view = View::default();
        view.keep_in_sight(bench(), 10.0, &[], 24.0);
        assert_eq!(view, View::default(), "an empty bench is left alone");
    }

    #[test]
    fn scale_stays_within_its_bounds() {
        let mut view = View::default();
        let placed = view.placed(bench(), 0.0);
        view.zoom(&placed, bench().center(), 1e12);
        assert!(view.scale <= SCALE.1);
        view.zoom(&placed, bench().center(), 1e-12);
        assert!(view.scale >= SCALE.0);
    }
}
