//! What is taken: convex hulls of glass, lines and texts, in a grid of cells, and whether one more finds room.

use crate::model::place::Point;
use crate::out::section::{self, Station};
use nalgebra::Vector2;

/// Most cells to a side of the grid.
const CELLS: f64 = 64.0;

/// Two directions this near are parallel; the sine of the angle between them.
const PARALLEL: f64 = 1e-6;

/// What a hull stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    /// Glass of a piece.
    Glass(usize),
    /// Kept free for something else, such as a name.
    Kept,
    /// One of the two places of a text, which runs along a line.
    Text { turned_over: bool, along: Vector2<f64> },
    /// A dimension line with its arrows, but for the ends that it may share.
    Line,
    /// A dimension line from end to end.
    Whole,
    /// An extension line.
    Extension,
}

/// A convex hull: two points are a line.
#[derive(Clone, Debug)]
pub(super) struct Hull {
    pub kind: Kind,
    points: Points,
    low: Point,
    high: Point,
}

/// Corners of a hull. Nearly all have no more than four, and thousands are tried for one drawing.
#[derive(Clone, Debug)]
enum Points {
    Few([Point; 4], usize),
    Many(Vec<Point>),
}

impl Hull {
    pub(super) fn new(kind: Kind, points: &[Point]) -> Self {
        let first = points.first().copied().unwrap_or_else(Point::zeros);
        let (low, high) = points
            .iter()
            .fold((first, first), |(low, high), p| (low.inf(p), high.sup(p)));
        let points = if points.len() <= 4 {
            let mut few = [first; 4];
            few[..points.len()].copy_from_slice(points);
            Points::Few(few, points.len())
        } else {
            Points::Many(points.to_vec())
        };
        Self {
            kind,
            points,
            low,
            high,
        }
    }

    fn points(&self) -> &[Point] {
        match &self.points {
            Points::Few(few, count) => &few[..*count],
            Points::Many(many) => many,
        }
    }

    /// Least coordinates.
    pub(super) fn low(&self) -> Point {
        self.low
    }

    /// Greatest coordinates.
    pub(super) fn high(&self) -> Point {
        self.high
    }

    /// A line with a width to either side.
    pub(super) fn bar(kind: Kind, [from, to]: [Point; 2], half_mm: f64) -> Self {
        let side = (to - from)
            .try_normalize(0.0)
            .map_or_else(Vector2::zeros, |d| Vector2::new(-d.y, d.x))
            * half_mm;
        Self::new(kind, &[from + side, from - side, to - side, to + side])
    }

    /// Whether the two have a point in common. Hulls that only touch do.
    pub(super) fn meets(&self, other: &Self) -> bool {
        self.low.x <= other.high.x
            && self.low.y <= other.high.y
            && other.low.x <= self.high.x
            && other.low.y <= self.high.y
            && !self.is_parted_from(other)
            && !other.is_parted_from(self)
    }

    /// Whether a line along one of the edges parts the two; of a line with two ends, also one across it.
    fn is_parted_from(&self, other: &Self) -> bool {
        let points = self.points();
        let n = points.len();
        (0..n).any(|i| {
            let edge = points[(i + 1) % n] - points[i];
            let across = Vector2::new(edge.y, -edge.x);
            parts(across, self, other) || (n == 2 && parts(edge, self, other))
        })
    }

    fn reach(&self, direction: Vector2<f64>) -> (f64, f64) {
        let along = self.points().iter().map(|p| p.dot(&direction));
        along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
            (low.min(s), high.max(s))
        })
    }

    /// The greatest fraction of the way from `from` to `to` at which the hull is left; `None` when it is not met.
    pub(super) fn left_at(&self, from: Point, to: Point) -> Option<f64> {
        let way = to - from;
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        let points = self.points();
        let n = points.len();
        // Anticlockwise or clockwise: the side of the middle is the inside.
        let middle = points.iter().sum::<Point>() / n.max(1) as f64;
        for i in 0..n {
            let (a, b) = (points[i], points[(i + 1) % n]);
            let edge = b - a;
            let inside = edge.perp(&(middle - a)).signum();
            let (rate, now) = (edge.perp(&way) * inside, edge.perp(&(from - a)) * inside);
            if rate == 0.0 {
                if now < 0.0 {
                    return None;
                }
            } else if rate > 0.0 {
                enter = enter.max(-now / rate);
            } else {
                leave = leave.min(-now / rate);
            }
        }
        (enter <= leave).then_some(leave)
    }
}

fn parts(direction: Vector2<f64>, a: &Hull, b: &Hull) -> bool {
    let ((a_low, a_high), (b_low, b_high)) = (a.reach(direction), b.reach(direction));
    direction != Vector2::zeros() && (a_high < b_low || b_high < a_low)
}

/// Whether two texts can be seen in these two places at once: parallel ones turn over together.
pub(super) fn can_be_together(a: &Kind, b: &Kind) -> bool {
    match (a, b) {
        (
            Kind::Text {
                turned_over: a,
                along: x,
            },
            Kind::Text {
                turned_over: b,
                along: y,
            },
        ) => x.perp(y).abs() > PARALLEL || a == b,
        _ => true,
    }
}

/// The hulls of a section to within a tolerance.
pub(super) fn hulls_of(kind: Kind, shape: &crate::geom::Shape, tolerance_mm: f64) -> Vec<Hull> {
    let stations = section::stations(shape, tolerance_mm);
    match shape {
        // Convex as a whole.
        crate::geom::Shape::Frustum { .. } | crate::geom::Shape::Spheroid { .. } => {
            vec![Hull::new(kind, &section::outline(&stations))]
        }
        crate::geom::Shape::Torus { .. } => stations
            .windows(2)
            .map(|pair| between(kind, &pair[0], &pair[1]))
            .collect(),
    }
}

fn between(kind: Kind, a: &Station, b: &Station) -> Hull {
    Hull::new(kind, &[a.right(), b.right(), b.left(), a.left()])
}

/// All hulls, by the cells that they touch.
pub(super) struct Ground {
    low: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    hulls: Vec<Hull>,
    cells: Vec<Vec<u32>>,
}

impl Ground {
    /// The ground from `low` to `high`; what lies beyond belongs to the outermost cells. Cells are no smaller than
    /// `least_mm`.
    pub(super) fn new(low: Point, high: Point, least_mm: f64) -> Self {
        let size = (high - low).sup(&Vector2::zeros());
        let cell = (size.max() / CELLS).max(least_mm).max(1e-9);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "no more than CELLS and not negative"
        )]
        let count = |length: f64| (length / cell).ceil().clamp(1.0, CELLS) as usize;
        let (columns, rows) = (count(size.x), count(size.y));
        Self {
            low,
            cell,
            columns,
            rows,
            hulls: Vec::new(),
            cells: vec![Vec::new(); columns * rows],
        }
    }

    /// First and last column and row that a hull touches.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the cells; a cast of NaN gives 0"
    )]
    fn cells_of(&self, hull: &Hull) -> [usize; 4] {
        let at = |length: f64, count: usize| ((length / self.cell).max(0.0) as usize).min(count - 1);
        let (low, high) = (hull.low - self.low, hull.high - self.low);
        [
            at(low.x, self.columns),
            at(high.x, self.columns),
            at(low.y, self.rows),
            at(high.y, self.rows),
        ]
    }

    pub(super) fn take(&mut self, hull: Hull) {
        let Ok(index) = u32::try_from(self.hulls.len()) else {
            return;
        };
        let [left, right, bottom, top] = self.cells_of(&hull);
        for row in bottom..=top {
            for column in left..=right {
                self.cells[row * self.columns + column].push(index);
            }
        }
        self.hulls.push(hull);
    }

    /// Whether any hull that meets `hull` is one that `counts`.
    pub(super) fn is_met(&self, hull: &Hull, counts: impl Fn(&Kind) -> bool) -> bool {
        self.near(hull).any(|other| counts(&other.kind) && other.meets(hull))
    }

    /// The hulls in the cells that a hull touches, some of them more than once.
    pub(super) fn near(&self, hull: &Hull) -> impl Iterator<Item = &Hull> {
        let [left, right, bottom, top] = self.cells_of(hull);
        let cells = (bottom..=top).flat_map(move |row| (left..=right).map(move |column| row * self.columns + column));
        cells
            .flat_map(|cell| &self.cells[cell])
            .map(|&i| &self.hulls[i as usize])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64) -> Hull {
        Hull::bar(Kind::Kept, [Point::new(x - 1.0, y), Point::new(x + 1.0, y)], 1.0)
    }

    #[test]
    fn hulls_meet_where_they_have_a_point_in_common() {
        let diagonal = Hull::new(Kind::Line, &[Point::new(-3.0, -3.0), Point::new(3.0, 3.0)]);
        assert!(diagonal.meets(&square(0.0, 0.0)) && square(0.0, 0.0).meets(&diagonal));
        assert!(!diagonal.meets(&square(2.2, -0.2)), "the boxes around them overlap");
        assert!(square(0.0, 0.0).meets(&square(2.0, 0.0)), "they touch");
        assert!(!square(0.0, 0.0).meets(&square(2.1, 0.0)));
        let far = Hull::new(Kind::Line, &[Point::new(4.0, 4.0), Point::new(6.0, 6.0)]);
        assert!(!diagonal.meets(&far), "on one line, apart");
    }

    #[test]
    fn a_way_leaves_a_hull_at_its_far_side() {
        let left = square(0.0, 0.0).left_at(Point::zeros(), Point::new(4.0, 0.0));
        assert_eq!(left, Some(0.25));
        assert_eq!(square(0.0, 5.0).left_at(Point::zeros(), Point::new(4.0, 0.0)), None);
    }

    #[test]
    fn the_ground_finds_what_every_pair_would() {
        let mut ground = Ground::new(Point::new(-20.0, -20.0), Point::new(20.0, 20.0), 0.5);
        let places: Vec<_> = (0..400)
            .map(|k| (f64::from(k % 20) * 2.3 - 24.0, f64::from(k / 20) * 2.7 - 27.0))
            .collect();
        for &(x, y) in &places {
            ground.take(square(x, y));
        }
        for k in 0..200 {
            let at = (f64::from(k).mul_add(0.37, -35.0), (f64::from(k) * 1.3).sin() * 28.0);
            let probe = Hull::bar(
                Kind::Line,
                [Point::new(at.0, at.1), Point::new(at.0 + 0.4, at.1 + 0.2)],
                0.05,
            );
            let each = places.iter().any(|&(x, y)| square(x, y).meets(&probe));
            assert_eq!(ground.is_met(&probe, |_| true), each, "{at:?}");
        }
    }

    #[test]
    fn parallel_texts_turn_over_together_and_others_do_not() {
        let text = |turned_over, angle: f64| Kind::Text {
            turned_over,
            along: Vector2::new(angle.cos(), angle.sin()),
        };
        assert!(!can_be_together(&text(true, 0.3), &text(false, 0.3)));
        assert!(can_be_together(&text(true, 0.3), &text(true, 0.3)));
        assert!(can_be_together(&text(true, 0.3), &text(false, 0.4)));
    }
}
