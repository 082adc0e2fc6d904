//! From a point of the drawing to the nearest place on a centreline.

use super::place::{Centreline, Point, Segment};

impl Segment {
    /// Distance from the start of the segment to its place nearest to a point, mm, 0 to its length.
    fn nearest_mm(&self, point: Point) -> f64 {
        match *self {
            Self::Line {
                from, to, length_mm, ..
            } => {
                let along = to - from;
                let share = (point - from).dot(&along) / along.norm_squared();
                // A segment without length has no share; NaN is brought to its start.
                if share.is_nan() {
                    0.0
                } else {
                    share.clamp(0.0, 1.0) * length_mm
                }
            }
            Self::Arc {
                from,
                centre,
                radius_mm,
                turn_deg,
                ..
            } => {
                let (start, now) = (from - centre, point - centre);
                let angle = (start.x * now.y - start.y * now.x).atan2(start.dot(&now));
                let sense = if turn_deg < 0.0 { -1.0 } else { 1.0 };
                let whole = turn_deg.to_radians().abs();
                // Counted from opposite the middle of the arc, so that both ends keep what lies beyond them.
                let slack = (std::f64::consts::TAU - whole) / 2.0;
                let turned = (angle * sense + slack).rem_euclid(std::f64::consts::TAU) - slack;
                turned.clamp(0.0, whole) * radius_mm
            }
        }
    }
}

impl Centreline {
    /// Distance along the line, from its start, of its place nearest to a point, mm, 0 to its length.
    pub fn nearest_mm(&self, point: Point) -> f64 {
        let mut best = (f64::INFINITY, 0.0);
        let mut before = 0.0;
        for segment in &self.segments {
            let at = before + segment.nearest_mm(point);
            let off = (self.spot(at).at - point).norm_squared();
            if off < best.0 {
                best = (off, at);
            }
            before += segment.length_mm();
        }
        best.1
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn places_on_the_line_are_found_again() {
        let placed = sample::apparatus().place().unwrap();
        for line in &placed.lines {
            for k in 0..=50 {
                let at = line.length_mm * f64::from(k) / 50.0;
                let found = line.nearest_mm(line.spot(at).at);
                assert!((found - at).abs() < 1e-9, "{found} for {at}");
            }
        }
    }

    #[test]
    fn beyond_the_ends_the_ends_are_nearest() {
        let placed = sample::apparatus().place().unwrap();
        let header = &placed.lines[0];
        assert_eq!(header.nearest_mm(Point::new(-30.0, 4.0)), 0.0);
        assert!((header.nearest_mm(Point::new(57.5, -40.0)) - 57.5).abs() < 1e-9);
        let beyond = header.end().at + Point::new(3.0, 70.0);
        assert!((header.nearest_mm(beyond) - header.length_mm).abs() < 1e-9);
        // The bend turns by 90 degrees about (200, 32) with a radius of 32 mm: from 45 degrees below its middle is
        // nearest.
        let found = header.nearest_mm(Point::new(300.0, -68.0));
        assert!((found - (200.0 + 8.0 * std::f64::consts::PI)).abs() < 1e-9, "{found}");
    }

    #[test]
    fn no_point_of_the_line_is_nearer() {
        let placed = sample::apparatus().place().unwrap();
        for line in &placed.lines {
            for (x, y) in [
                (0.0, 0.0),
                (210.0, 10.0),
                (-90.0, 45.0),
                (231.0, 60.0),
                (100.0, -70.0),
                (240.0, -5.0),
            ] {
                let point = Point::new(x, y);
                let found = (line.spot(line.nearest_mm(point)).at - point).norm();
                for k in 0..=1000 {
                    let other = (line.spot(line.length_mm * f64::from(k) / 1000.0).at - point).norm();
                    assert!(found <= other + 1e-9, "{found} against {other} at {point}");
                }
            }
        }
    }
}
