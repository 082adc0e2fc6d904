//! The walls as they are drawn: closed outlines in the plane z = 0, made of lines and arcs, mm.
//!
//! Outlines of different pieces overlap where the glass is fused. Painted in two passes, every outer outline
//! before every inner one, they show the joined glass.

use nalgebra::Vector2;

/// A stroke of an outline; it starts where the one before ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stroke {
    /// A straight line.
    Line {
        /// Its end.
        to: Vector2<f64>,
    },
    /// An arc of an ellipse, of a circle when the semi-axes agree: the points
    /// `centre + semi_axial cos(t) d + semi_radial sin(t) n` with `d` the unit vector of the heading and `n` that
    /// 90 degrees to its left.
    Arc {
        /// Centre.
        centre: Vector2<f64>,
        /// Direction of the axis, radians.
        heading: f64,
        /// Semi-axis along the axis.
        semi_axial: f64,
        /// Semi-axis across.
        semi_radial: f64,
        /// Parameter t at the start, radians.
        start: f64,
        /// Change of t, radians, anticlockwise positive.
        sweep: f64,
    },
}

impl Stroke {
    /// The point at a fraction from 0 to 1 of an arc; a line gives its end.
    pub fn point(&self, fraction: f64) -> Vector2<f64> {
        match *self {
            Self::Line { to } => to,
            Self::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start,
                sweep,
            } => {
                let (sin_h, cos_h) = heading.sin_cos();
                let (sin_t, cos_t) = (start + sweep * fraction).sin_cos();
                let (along, across) = (semi_axial * cos_t, semi_radial * sin_t);
                centre + Vector2::new(cos_h * along - sin_h * across, sin_h * along + cos_h * across)
            }
        }
    }

    /// The same stroke run backwards, given where it started.
    fn reversed(self, started: Vector2<f64>) -> Self {
        match self {
            Self::Line { .. } => Self::Line { to: started },
            Self::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start,
                sweep,
            } => Self::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start: start + sweep,
                sweep: -sweep,
            },
        }
    }
}

/// A line of strokes.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Where it starts.
    pub start: Vector2<f64>,
    /// Its strokes.
    pub strokes: Vec<Stroke>,
    /// Whether a straight line leads back to the start.
    pub closed: bool,
}

impl Path {
    /// Points along the path, no farther from it than the tolerance, mm, with the start first. A closed path does
    /// not repeat its start.
    pub fn points(&self, tolerance_mm: f64) -> Vec<Vector2<f64>> {
        let mut points = vec![self.start];
        for stroke in &self.strokes {
            let steps = match *stroke {
                Stroke::Line { .. } => 1,
                Stroke::Arc {
                    semi_axial,
                    semi_radial,
                    sweep,
                    ..
                } => {
                    // The sagitta of a chord over the angle a is r (1 - cos(a / 2)), about r a^2 / 8.
                    let r = semi_axial.max(semi_radial);
                    let step = (8.0 * tolerance_mm.max(1e-6) / r.max(1e-9)).sqrt().clamp(0.01, 1.0);
                    (sweep.abs() / step).ceil().clamp(1.0, 1000.0) as usize
                }
            };
            points.extend((1..=steps).map(|k| stroke.point(k as f64 / steps as f64)));
        }
        points
    }

    /// Where the path ends, before it is closed.
    pub fn end(&self) -> Vector2<f64> {
        self.strokes.last().map_or(self.start, |stroke| stroke.point(1.0))
    }
}

/// A place on the glass that is marked on the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What is there.
    pub kind: MarkKind,
    /// Where, on the centreline.
    pub at: Vector2<f64>,
    /// Direction of the centreline there, radians; outwards at an end.
    pub heading: f64,
    /// Radius of the outside of the tube there, mm.
    pub radius: f64,
}

/// What a mark shows.
#[derive(Clone, Debug, PartialEq)]
pub enum MarkKind {
    /// Seal-off place of a neck.
    Seal,
    /// Connection to the pump or to a gas line.
    Line,
    /// Ground joint of that designation.
    Joint {
        /// Its designation.
        designation: String,
        /// Closed by a stopper.
        stoppered: bool,
    },
    /// Stopcock.
    Stopcock {
        /// Whether it stands open.
        open: bool,
    },
}

/// The drawn glass of one piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Glass {
    /// Index of the piece.
    pub piece: usize,
    /// Outside of the wall.
    pub outer: Path,
    /// Inside of the wall: the bore.
    pub inner: Path,
    /// Centreline.
    pub centreline: Path,
    /// Seal-off place, joints and the like.
    pub marks: Vec<Mark>,
    /// Volume wanted in the piece, mL.
    pub target_ml: Option<f64>,
}

/// Both sides of an outline, drawn from the start of the centreline to its end.
#[derive(Clone, Debug, Default)]
pub(super) struct Sides {
    left: Side,
    right: Side,
}

#[derive(Clone, Debug, Default)]
struct Side {
    start: Option<Vector2<f64>>,
    strokes: Vec<Stroke>,
}

impl Side {
    fn line_to(&mut self, to: Vector2<f64>) {
        let Some(start) = self.start else {
            self.start = Some(to);
            return;
        };
        let now = self.strokes.last().map_or(start, |stroke| stroke.point(1.0));
        if (to - now).norm() > 1e-9 {
            self.strokes.push(Stroke::Line { to });
        }
    }

    fn arc(&mut self, arc: Stroke) {
        self.line_to(arc.point(0.0));
        self.strokes.push(arc);
    }
}

impl Sides {
    /// Leads both sides to the ends of a disc.
    pub(super) fn disc(&mut self, at: Vector2<f64>, along: Vector2<f64>, radius: f64) {
        let across = Vector2::new(-along.y, along.x) * radius;
        self.left.line_to(at + across);
        self.right.line_to(at - across);
    }

    /// An arc symmetric about the axis: on the left side t goes from `start` to `end`, on the right the opposite.
    pub(super) fn oval(&mut self, centre: Vector2<f64>, heading: f64, semi: (f64, f64), start: f64, end: f64) {
        let arc = |start: f64, end: f64| Stroke::Arc {
            centre,
            heading,
            semi_axial: semi.0,
            semi_radial: semi.1,
            start,
            sweep: end - start,
        };
        self.left.arc(arc(start, end));
        self.right.arc(arc(-start, -end));
    }

    /// A bend: arcs about one centre at both sides.
    pub(super) fn bend(&mut self, centre: Vector2<f64>, radius: f64, r: f64, start: f64, sweep: f64) {
        let arc = |radius: f64| Stroke::Arc {
            centre,
            heading: 0.0,
            semi_axial: radius,
            semi_radial: radius,
            start,
            sweep,
        };
        // The centre lies to the left of an anticlockwise bend. A wall thicker than the radius allows has no inside
        // of the bend: the point at the centre stands for it.
        let near = (radius - r).max(0.0);
        let (left, right) = if sweep > 0.0 {
            (near, radius + r)
        } else {
            (radius + r, near)
        };
        self.left.arc(arc(left));
        self.right.arc(arc(right));
    }

    /// The closed outline: left side forwards, right side back.
    pub(super) fn outline(self) -> Path {
        let (Some(start), Some(right_start)) = (self.left.start, self.right.start) else {
            return Path {
                start: Vector2::zeros(),
                strokes: Vec::new(),
                closed: true,
            };
        };
        let mut left = self.left;
        let mut starts = vec![right_start];
        starts.extend(self.right.strokes.iter().map(|stroke| stroke.point(1.0)));
        if let Some(&end) = starts.last() {
            left.line_to(end);
        }
        let back = self.right.strokes.iter().zip(&starts).rev();
        left.strokes
            .extend(back.map(|(stroke, &started)| stroke.reversed(started)));
        Path {
            start,
            strokes: left.strokes,
            closed: true,
        }
    }
}
