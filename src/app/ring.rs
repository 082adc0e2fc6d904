//! The tilt ring: a protractor's rim around the bench.
//!
//! Zero stands at the top; positive tilts run anticlockwise, as the glass turns. The needle points to what is
//! the top of the glass as drawn.

use super::theme::{self, Palette};
use egui::{Color32, Pos2, Rect, Shape, Stroke, Vec2, vec2};

/// Width of the rim, points.
const RIM: f32 = 24.0;
/// Room outside the rim for marks, points.
const OUTSIDE: f32 = 38.0;
/// Room at the side for the roll scale, points.
const BESIDE: f32 = 36.0;
/// Length of the needle within the rim, points.
const NEEDLE: f32 = 12.0;
/// How near to the rim a press counts as on it, points.
const REACH: f32 = 6.0;

/// The ring's place on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ring {
    /// Its centre.
    pub centre: Pos2,
    /// Radius of the rim's inner edge, points.
    pub inner: f32,
}

/// An angle for people: a tenth of a degree, with a real minus sign.
pub(crate) fn degrees(deg: f64) -> String {
    let text = format!("{:.1}°", (deg * 10.0).round() / 10.0 + 0.0);
    text.replace('-', "−")
}

impl Ring {
    /// The largest ring within `bench`.
    pub(crate) fn within(bench: Rect) -> Self {
        let outer = (bench.width() / 2.0 - BESIDE).min(bench.height() / 2.0) - OUTSIDE;
        Self {
            centre: bench.center(),
            inner: (outer - RIM).max(40.0),
        }
    }

    /// Radius that the glass may fill when it is fitted, points.
    pub(crate) fn room(&self) -> f32 {
        self.inner - 8.0
    }

    /// Radius of the rim's outer edge, points.
    pub(crate) fn outer(&self) -> f32 {
        self.inner + RIM
    }

    /// The square around the rim.
    pub(crate) fn bounds(&self) -> Rect {
        Rect::from_center_size(self.centre, Vec2::splat(2.0 * self.outer()))
    }

    /// The screen position at a tilt and a distance from the centre.
    pub(crate) fn at(&self, tilt_deg: f64, radius: f32) -> Pos2 {
        self.centre + outwards(tilt_deg) * radius
    }

    /// The tilt that a position stands for, -180 (exclusive) to 180.
    pub(crate) fn tilt_at(&self, at: Pos2) -> f64 {
        let d = at - self.centre;
        f64::from((-d.x).atan2(-d.y)).to_degrees()
    }

    /// Whether a press at a position takes hold of the rim.
    pub(crate) fn is_on_rim(&self, at: Pos2) -> bool {
        let distance = (at - self.centre).length();
        (self.inner - REACH..=self.inner + RIM + REACH).contains(&distance)
    }

    /// Draws rim, divisions and numbers.
    pub(crate) fn paint_rim(&self, painter: &egui::Painter, colours: &Palette) {
        // The stroke of a circle lies outside it.
        let rim = Stroke::new(RIM, colours.ring.gamma_multiply(0.88));
        painter.circle_stroke(self.centre, self.inner, rim);
        let fine = Stroke::new(1.0, colours.outline);
        painter.circle_stroke(self.centre, self.inner, fine);
        painter.circle_stroke(self.centre, self.inner + RIM, Stroke::new(1.0, colours.rule));
        // Single degrees only where they stand at least four points apart.
        let finest = if self.inner > 230.0 { 1 } else { 5 };
        for deg in (-179..=180).step_by(1).filter(|d| d % finest == 0) {
            let length = match deg {
                d if d % 30 == 0 => 10.0,
                d if d % 10 == 0 => 9.0,
                d if d % 5 == 0 => 6.0,
                _ => 3.5,
            };
            let out = outwards(f64::from(deg));
            let from = self.centre + out * self.inner;
            let width = if deg % 10 == 0 { 1.2 } else { 0.8 };
            painter.line_segment([from, from + out * length], Stroke::new(width, colours.division));
        }
        for deg in (-150_i32..=180).step_by(30) {
            let text = format!("{deg}°").replace('-', "−");
            let galley = painter.layout_no_wrap(text, theme::plain(11.0), colours.quiet);
            // Written along the rim, and nowhere upside down.
            let upright = if deg.abs() > 90 { deg + 180 } else { deg };
            #[allow(clippy::cast_possible_truncation, reason = "an angle on the screen")]
            let turn = -f64::from(upright).to_radians() as f32;
            let at = self.at(f64::from(deg), self.inner + RIM - 7.5);
            let middle = galley.size() / 2.0;
            let corner = at - egui::emath::Rot2::from_angle(turn) * middle;
            painter.add(egui::epaint::TextShape::new(corner, galley, colours.quiet).with_angle(turn));
        }
    }

    /// Draws the needle across the rim, and its number within. What lies outside the rim belongs to the marks.
    pub(crate) fn paint_needle(&self, painter: &egui::Painter, colours: &Palette, tilt_deg: f64) {
        let out = outwards(tilt_deg);
        let side = vec2(-out.y, out.x);
        let (tip, foot) = (self.at(tilt_deg, self.outer()), self.at(tilt_deg, self.inner + 3.0));
        painter.line_segment([foot, tip], Stroke::new(2.0, colours.accent));
        let base = self.centre + out * (self.inner - NEEDLE);
        let points = vec![foot, base + side * 7.0, base - side * 7.0];
        painter.add(Shape::convex_polygon(points, colours.accent, Stroke::NONE));
        let galley = painter.layout_no_wrap(degrees(tilt_deg), theme::heavy(13.0), colours.accent);
        // Far enough in that the text clears the needle whichever way it points.
        let half = galley.size() / 2.0;
        let reach = self.inner - NEEDLE - 3.0 - half.x * out.x.abs() - half.y * out.y.abs();
        let place = Rect::from_center_size(self.centre + out * reach, galley.size());
        painter.rect_filled(place.expand2(vec2(3.0, 0.0)), 3.0, colours.bench.gamma_multiply(0.85));
        painter.galley(place.min, galley, colours.accent);
    }
}

/// Unit vector on the screen from the centre to where a tilt stands.
#[allow(clippy::cast_possible_truncation, reason = "screen directions need no more than f32")]
pub(crate) fn outwards(tilt_deg: f64) -> Vec2 {
    let (sin, cos) = tilt_deg.to_radians().sin_cos();
    vec2(-sin as f32, -cos as f32)
}

/// Draws a plumb line that hangs from `at`, so that down is seen to be down.
pub(crate) fn paint_plumb(painter: &egui::Painter, line: Color32, at: Pos2) {
    let end = at + vec2(0.0, 30.0);
    painter.line_segment([at - vec2(6.0, 0.0), at + vec2(6.0, 0.0)], Stroke::new(1.5, line));
    painter.line_segment([at, end], Stroke::new(1.0, line));
    let bob = [(-3.0, 0.0), (3.0, 0.0), (4.5, 5.0), (0.0, 15.0), (-4.5, 5.0)];
    let points = bob.map(|(x, y)| end + vec2(x, y)).to_vec();
    painter.add(Shape::convex_polygon(points, line, Stroke::NONE));
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::pos2;

    fn ring() -> Ring {
        Ring::within(Rect::from_min_size(pos2(0.0, 40.0), vec2(900.0, 700.0)))
    }

    #[test]
    fn positive_tilts_stand_at_the_left() {
        let ring = ring();
        assert!(ring.at(90.0, 100.0).x < ring.centre.x - 99.0);
        assert!(ring.at(0.0, 100.0).y < ring.centre.y - 99.0);
    }

    #[test]
    fn tilt_and_place_are_inverse() {
        let ring = ring();
        for tilt in [-179.0, -90.0, -12.5, 0.0, 45.0, 180.0] {
            let at = ring.at(tilt, ring.inner + 5.0);
            let turn = (ring.tilt_at(at) - tilt + 180.0).rem_euclid(360.0) - 180.0;
            assert!(turn.abs() < 1e-3, "{tilt}");
            assert!(ring.is_on_rim(at));
        }
        assert!(!ring.is_on_rim(ring.centre));
    }

    #[test]
    fn angles_read_well() {
        assert_eq!(degrees(-12.345), "−12.3°");
        assert_eq!(degrees(-0.01), "0.0°");
    }
}
