//! The tilt ring: a protractor's rim around the bench, and the events of a full turn on it.
//!
//! Zero stands at the top; positive tilts run anticlockwise, as the glass turns. The needle points to what is
//! the top of the glass as drawn.

use super::theme::{self, Palette};
use egui::{Align2, Color32, Pos2, Rect, Shape, Stroke, Vec2, pos2, vec2};

/// Width of the rim, points.
const RIM: f32 = 24.0;
/// Room outside the rim for marks and the needle's number, points.
const OUTSIDE: f32 = 30.0;
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

/// What an event on the ring is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Event {
    /// The liquid stays put from the first to the second tilt, anticlockwise.
    Hold(f64, f64),
    /// The liquid begins to run.
    Spill(f64),
    /// The vessel has drained.
    Drain(f64),
    /// The brim volume equals the target.
    Metering(f64),
}

impl Event {
    /// The event in words.
    pub(crate) fn words(self, piece: &str) -> String {
        match self {
            Self::Hold(from, to) => {
                format!("{piece} holds its liquid from {} to {}", degrees(from), degrees(to))
            }
            Self::Spill(at) => format!("{piece} begins to run at {}", degrees(at)),
            Self::Drain(at) => format!("{piece} has drained at {}", degrees(at)),
            Self::Metering(at) => format!("{piece} meters its target at {}", degrees(at)),
        }
    }

    /// Where on the ring it stands; the middle of a band.
    pub(crate) fn tilt_deg(self) -> f64 {
        match self {
            Self::Hold(from, to) => (from + to) / 2.0,
            Self::Spill(at) | Self::Drain(at) | Self::Metering(at) => at,
        }
    }
}

/// An angle for people: a tenth of a degree, with a real minus sign.
pub(crate) fn degrees(deg: f64) -> String {
    let text = format!("{:.1}°", (deg * 10.0).round() / 10.0 + 0.0);
    text.replace('-', "−")
}

impl Ring {
    /// The largest ring within `bench`.
    pub(crate) fn within(bench: Rect) -> Self {
        let outer = bench.width().min(bench.height()) / 2.0 - OUTSIDE;
        Self {
            centre: bench.center(),
            inner: (outer - RIM).max(40.0),
        }
    }

    /// Radius that the glass may fill when it is fitted, points.
    pub(crate) fn room(&self) -> f32 {
        self.inner - 8.0
    }

    /// The square around the rim.
    pub(crate) fn bounds(&self) -> Rect {
        Rect::from_center_size(self.centre, Vec2::splat(2.0 * (self.inner + RIM)))
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

    /// The event whose mark lies under a position, if there is one within reach.
    pub(crate) fn event_at(&self, at: Pos2, events: &[Event]) -> Option<Event> {
        let near = |event: &&Event| {
            self.mark_centre(**event)
                .is_some_and(|mark| (mark - at).length() <= theme::TARGET / 2.0)
        };
        events.iter().find(near).copied()
    }

    /// Draws rim, divisions and numbers.
    pub(crate) fn paint_rim(&self, painter: &egui::Painter, colours: &Palette) {
        let middle = self.inner + RIM / 2.0;
        painter.circle_stroke(self.centre, middle, Stroke::new(RIM, colours.ring.gamma_multiply(0.88)));
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

    /// Draws the needle and its number.
    pub(crate) fn paint_needle(&self, painter: &egui::Painter, colours: &Palette, tilt_deg: f64) {
        let out = outwards(tilt_deg);
        let side = vec2(-out.y, out.x);
        let tip = self.centre + out * (self.inner + RIM + 9.0);
        let foot = self.centre + out * (self.inner + 1.0);
        let points = vec![foot, tip + side * 7.0, tip - side * 7.0];
        painter.add(Shape::convex_polygon(points, colours.accent, Stroke::NONE));
        let galley = painter.layout_no_wrap(degrees(tilt_deg), theme::heavy(13.0), colours.accent);
        // Beyond the needle, far enough out that the text clears the rim whichever way it points.
        let half = galley.size() / 2.0;
        let reach = self.inner + RIM + 11.0 + half.x * out.x.abs() + half.y * out.y.abs();
        painter.galley(self.centre + out * reach - half, galley, colours.accent);
    }

    /// Draws the events, each kind by its own shape.
    pub(crate) fn paint_events(&self, painter: &egui::Painter, colours: &Palette, events: &[Event]) {
        for event in events {
            match *event {
                Event::Hold(from, to) => self.paint_hold(painter, colours, from, to),
                Event::Spill(at) => self.paint_drop(painter, colours, at),
                Event::Drain(at) => self.paint_bars(painter, colours, at),
                Event::Metering(at) => self.paint_diamond(painter, colours, at),
            }
        }
    }

    /// Where an event's mark is drawn. What the liquid does stands outside the rim, what the maker aims at inside,
    /// so that the two do not cover each other. A band has no single place.
    fn mark_centre(&self, event: Event) -> Option<Pos2> {
        match event {
            Event::Hold(..) => None,
            Event::Spill(at) | Event::Drain(at) => Some(self.at(at, self.inner + RIM + 9.0)),
            Event::Metering(at) => Some(self.at(at, self.inner - 8.0)),
        }
    }

    /// A band hatched across the rim's outer half.
    fn paint_hold(&self, painter: &egui::Painter, colours: &Palette, from: f64, to: f64) {
        let (low, high) = (self.inner + RIM + 1.0, self.inner + RIM + 6.0);
        let steps = ((to - from).abs() / 1.5).ceil().clamp(1.0, 240.0);
        let mut i = 0.0;
        while i < steps {
            let a = from + (to - from) * i / steps;
            let b = from + (to - from) * (i + 1.0) / steps;
            painter.line_segment([self.at(a, low), self.at(b, high)], Stroke::new(1.2, colours.level));
            painter.line_segment([self.at(a, low), self.at(b, low)], Stroke::new(1.2, colours.level));
            i += 1.0;
        }
        for end in [from, to] {
            let line = [self.at(end, low - 1.0), self.at(end, high + 2.0)];
            painter.line_segment(line, Stroke::new(1.6, colours.level));
        }
    }

    /// A drop whose point touches the rim.
    fn paint_drop(&self, painter: &egui::Painter, colours: &Palette, tilt_deg: f64) {
        let centre = self.at(tilt_deg, self.inner + RIM + 12.0);
        let out = outwards(tilt_deg);
        let side = vec2(-out.y, out.x);
        let points = vec![
            centre - out * 11.0,
            centre + side * 4.6 - out * 1.5,
            centre - side * 4.6 - out * 1.5,
        ];
        painter.add(Shape::convex_polygon(points, colours.level, Stroke::NONE));
        painter.circle_filled(centre, 5.0, colours.level);
    }

    /// Two short bars.
    fn paint_bars(&self, painter: &egui::Painter, colours: &Palette, tilt_deg: f64) {
        let out = outwards(tilt_deg);
        let side = vec2(-out.y, out.x);
        for offset in [-2.5, 2.5] {
            let from = self.at(tilt_deg, self.inner + RIM + 1.0) + side * offset;
            painter.line_segment([from, from + out * 13.0], Stroke::new(2.2, colours.text));
        }
    }

    fn paint_diamond(&self, painter: &egui::Painter, colours: &Palette, tilt_deg: f64) {
        let out = outwards(tilt_deg);
        let side = vec2(-out.y, out.x);
        let centre = self.at(tilt_deg, self.inner - 8.0);
        let points = vec![
            centre + out * 8.0,
            centre + side * 5.0,
            centre - out * 8.0,
            centre - side * 5.0,
        ];
        painter.add(Shape::convex_polygon(
            points,
            colours.mark,
            Stroke::new(1.0, colours.bench),
        ));
    }
}

/// Unit vector on the screen from the centre to where a tilt stands.
#[allow(clippy::cast_possible_truncation, reason = "screen directions need no more than f32")]
fn outwards(tilt_deg: f64) -> Vec2 {
    let (sin, cos) = tilt_deg.to_radians().sin_cos();
    vec2(-sin as f32, -cos as f32)
}

/// A short vertical scale for the roll.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct RollScale {
    /// Its place.
    pub rect: Rect,
}

impl RollScale {
    /// The scale at the left edge of `bench`.
    pub(crate) fn beside(bench: Rect) -> Self {
        let height = (bench.height() * 0.36).clamp(120.0, 260.0);
        let centre = pos2(bench.left() + 30.0, bench.center().y);
        Self {
            rect: Rect::from_center_size(centre, vec2(36.0, height)),
        }
    }

    /// Screen height of a roll; positive rolls, the top towards the viewer, stand below.
    #[allow(clippy::cast_possible_truncation, reason = "screen positions need no more than f32")]
    pub(crate) fn y_of(&self, roll_deg: f64) -> f32 {
        self.rect.center().y + (roll_deg / 90.0) as f32 * (self.rect.height() / 2.0 - 8.0)
    }

    /// The roll that a screen height stands for.
    pub(crate) fn roll_at(&self, y: f32) -> f64 {
        let half = self.rect.height() / 2.0 - 8.0;
        (f64::from((y - self.rect.center().y) / half) * 90.0).clamp(-90.0, 90.0)
    }

    /// Draws the scale with its pointer.
    pub(crate) fn paint(&self, painter: &egui::Painter, colours: &Palette, roll_deg: f64) {
        let x = self.rect.center().x - 6.0;
        painter.vline(x, self.y_of(-90.0)..=self.y_of(90.0), Stroke::new(1.0, colours.outline));
        for deg in (-90..=90).step_by(10) {
            let y = self.y_of(f64::from(deg));
            let length = if deg % 30 == 0 { 8.0 } else { 4.0 };
            painter.hline(x..=x + length, y, Stroke::new(1.0, colours.division));
        }
        for deg in [-90, 0, 90] {
            let text = format!("{deg}°").replace('-', "−");
            let at = pos2(x + 12.0, self.y_of(f64::from(deg)));
            painter.text(at, Align2::LEFT_CENTER, text, theme::plain(11.0), colours.quiet);
        }
        painter.text(
            pos2(self.rect.center().x, self.rect.top() - 12.0),
            Align2::CENTER_CENTER,
            "Roll",
            theme::plain(11.5),
            colours.quiet,
        );
        let y = self.y_of(roll_deg);
        let points = vec![pos2(x - 1.0, y), pos2(x - 12.0, y - 6.0), pos2(x - 12.0, y + 6.0)];
        painter.add(Shape::convex_polygon(points, colours.accent, Stroke::NONE));
    }
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
    fn a_mark_is_found_where_it_is_drawn() {
        let ring = ring();
        let events = [Event::Hold(-10.0, 20.0), Event::Spill(35.0), Event::Metering(-50.0)];
        for event in &events[1..] {
            let at = ring.mark_centre(*event).expect("a place");
            assert_eq!(ring.event_at(at, &events), Some(*event));
        }
        assert_eq!(ring.event_at(ring.at(120.0, ring.inner), &events), None);
        assert_eq!(
            ring.event_at(ring.at(5.0, ring.inner + RIM), &events),
            None,
            "a band is no place to go to"
        );
    }

    #[test]
    fn roll_and_height_are_inverse() {
        let scale = RollScale::beside(Rect::from_min_size(pos2(0.0, 0.0), vec2(900.0, 700.0)));
        for roll in [-90.0, -30.0, 0.0, 12.0, 90.0] {
            assert!((scale.roll_at(scale.y_of(roll)) - roll).abs() < 1e-3);
        }
    }

    #[test]
    fn angles_read_well() {
        assert_eq!(degrees(-12.345), "−12.3°");
        assert_eq!(degrees(-0.01), "0.0°");
    }
}
