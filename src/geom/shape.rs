//! The primitive shapes whose union is the interior.
//!
//! All axes lie in the drawing plane z = 0 and every cross-section is a disc, so a shape is `|z| <= d(x, y)`
//! with its *half-depth* `d`.

use nalgebra::{Vector2, Vector3};

use super::solve::quadratic;

/// A primitive shape, mm and radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Flat-ended cone frustum; a cylinder when the radii agree.
    Frustum {
        /// Centre of the first end.
        from: Vector2<f64>,
        /// Centre of the second end.
        to: Vector2<f64>,
        /// Radius at the first end.
        r_from: f64,
        /// Radius at the second end.
        r_to: f64,
    },
    /// Spheroid about an axis in the plane; a sphere when the semi-axes agree.
    Spheroid {
        /// Centre.
        centre: Vector2<f64>,
        /// Direction of the axis, radians.
        heading: f64,
        /// Semi-axis along the axis.
        semi_axial: f64,
        /// Semi-axis across.
        semi_radial: f64,
    },
    /// Bend: a disc of radius `r` swept along the arc of `radius` about `centre`.
    Torus {
        /// Centre of the arc.
        centre: Vector2<f64>,
        /// Radius of the arc; not less than `r`.
        radius: f64,
        /// Radius of the bore.
        r: f64,
        /// Direction from the centre to the start, radians.
        start: f64,
        /// Angle swept, radians, anticlockwise positive.
        sweep: f64,
    },
}

impl Shape {
    /// Whether a point, mm in the axes of the apparatus, lies in it; its surface counts in.
    pub fn contains(&self, point: &Vector3<f64>) -> bool {
        Solid::new(self).outside(point) <= 0.0
    }
}

/// A shape and the piece that it belongs to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Primitive {
    /// Index of the piece in the interior's list of names.
    pub piece: usize,
    /// The shape.
    pub shape: Shape,
}

/// A disc through which the interior meets the outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Port {
    /// Index of the piece in the interior's list of names.
    pub piece: usize,
    /// Centre.
    pub at: Vector2<f64>,
    /// Outward direction, radians.
    pub heading: f64,
    /// Radius.
    pub r: f64,
}

/// Right angle anticlockwise of `e`.
pub(super) fn left_of(e: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-e.y, e.x)
}

/// A point of the drawing plane lifted to height `z` above it.
fn lift(p: Vector2<f64>, z: f64) -> Vector3<f64> {
    Vector3::new(p.x, p.y, z)
}

/// A disc that closes a shape, seen along its rim in the plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Disc {
    pub(super) centre: Vector2<f64>,
    /// Unit vector out of the shape.
    pub(super) out: Vector2<f64>,
    pub(super) r: f64,
}

impl Disc {
    /// Lowest point for up `u`.
    pub(super) fn lowest(&self, u: &Vector3<f64>) -> Vector3<f64> {
        lowest_of_disc(self.centre, left_of(self.out), self.r, u)
    }
}

/// Root of the sum of squares; lengths here are far from the ends of the range, so that the slower guard of `hypot` isn't
/// needed.
pub(super) fn root_sum(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}

fn lowest_of_disc(centre: Vector2<f64>, n: Vector2<f64>, r: f64, u: &Vector3<f64>) -> Vector3<f64> {
    let un = u.xy().dot(&n);
    let across = root_sum(un, u.z);
    if across == 0.0 {
        return lift(centre, 0.0);
    }
    lift(centre - n * (r * un / across), -r * u.z / across)
}

/// A slice of a shape square to its axis or arc: a disc, and the measure `(w0 + w1 t) dt dz d(sigma)` of the
/// volume at the offset `t` along `n`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slice {
    pub(super) centre: Vector2<f64>,
    pub(super) n: Vector2<f64>,
    pub(super) r: f64,
    pub(super) w0: f64,
    pub(super) w1: f64,
}

/// Squared half-depth of a quadric along a line in the plane: `q0 + q1 t + q2 t^2` for `lo <= t <= hi`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Along {
    pub(super) q: [f64; 3],
    pub(super) lo: f64,
    pub(super) hi: f64,
}

impl Along {
    pub(super) fn at(&self, t: f64) -> f64 {
        self.q[0] + t * (self.q[1] + t * self.q[2])
    }

    /// The squared half-depth where the line is inside, else nothing.
    pub(super) fn inside(&self, t: f64) -> Option<f64> {
        let q = self.at(t);
        (t >= self.lo && t <= self.hi && q >= 0.0).then_some(q)
    }

    /// A disc about `t = 0`.
    pub(super) fn disc(r: f64) -> Self {
        Self {
            q: [r * r, 0.0, -1.0],
            lo: -r,
            hi: r,
        }
    }
}

/// A shape with its frame, ready to be cut. `sigma` runs along its axis (mm from the first end of a frustum or
/// from the centre of a spheroid) or along its arc (radians from the start).
#[derive(Clone, Copy, Debug)]
pub(super) enum Solid {
    Frustum {
        o: Vector2<f64>,
        e: Vector2<f64>,
        n: Vector2<f64>,
        len: f64,
        r0: f64,
        k: f64,
    },
    Spheroid {
        o: Vector2<f64>,
        e: Vector2<f64>,
        n: Vector2<f64>,
        c: f64,
        b: f64,
    },
    Bend {
        o: Vector2<f64>,
        radius: f64,
        r: f64,
        start: f64,
        sweep: f64,
    },
}

impl Solid {
    pub(super) fn new(shape: &Shape) -> Self {
        match *shape {
            Shape::Frustum { from, to, r_from, r_to } => {
                let len = (to - from).norm();
                let e = (to - from) / len;
                Self::Frustum {
                    o: from,
                    e,
                    n: left_of(e),
                    len,
                    r0: r_from,
                    k: (r_to - r_from) / len,
                }
            }
            Shape::Spheroid {
                centre,
                heading,
                semi_axial,
                semi_radial,
            } => {
                let e = Vector2::new(heading.cos(), heading.sin());
                Self::Spheroid {
                    o: centre,
                    e,
                    n: left_of(e),
                    c: semi_axial,
                    b: semi_radial,
                }
            }
            Shape::Torus {
                centre,
                radius,
                r,
                start,
                sweep,
            } => Self::Bend {
                o: centre,
                radius,
                r,
                start,
                sweep,
            },
        }
    }

    /// A sphere looks alike from everywhere: cut it along `e`, the axis of what it closes.
    pub(super) fn align(&mut self, along: Vector2<f64>) {
        if let Self::Spheroid { e, n, c, b, .. } = self
            && c == b
        {
            (*e, *n) = (along, left_of(along));
        }
    }

    /// Ends of `sigma`.
    pub(super) fn range(&self) -> (f64, f64) {
        match *self {
            Self::Frustum { len, .. } => (0.0, len),
            Self::Spheroid { c, .. } => (-c, c),
            Self::Bend { sweep, .. } => (0.0, sweep.abs()),
        }
    }

    /// Greatest radius.
    pub(super) fn widest(&self) -> f64 {
        match *self {
            Self::Frustum { len, r0, k, .. } => r0.max(r0 + k * len),
            Self::Spheroid { b, .. } => b,
            Self::Bend { r, .. } => r,
        }
    }

    /// Radius of the slice at `sigma`.
    pub(super) fn radius(&self, sigma: f64) -> f64 {
        match *self {
            Self::Frustum { r0, k, .. } => (r0 + k * sigma).max(0.0),
            Self::Spheroid { c, b, .. } => b * ((1.0 - sigma / c) * (1.0 + sigma / c)).max(0.0).sqrt(),
            Self::Bend { r, .. } => r,
        }
    }

    /// The slice at `sigma`.
    pub(super) fn slice(&self, sigma: f64) -> Slice {
        let r = self.radius(sigma);
        match *self {
            Self::Frustum { o, e, n, .. } | Self::Spheroid { o, e, n, .. } => Slice {
                centre: o + e * sigma,
                n,
                r,
                w0: 1.0,
                w1: 0.0,
            },
            Self::Bend {
                o,
                radius,
                start,
                sweep,
                ..
            } => {
                let phi = start + sigma.copysign(sweep);
                let n = Vector2::new(phi.cos(), phi.sin());
                Slice {
                    centre: o + n * radius,
                    n,
                    r,
                    w0: radius,
                    w1: 1.0,
                }
            }
        }
    }

    /// Squared half-depth along the line `a + t n`; nothing for a bend, where it is no quadratic.
    pub(super) fn along(&self, a: &Vector2<f64>, line: &Vector2<f64>) -> Option<Along> {
        match *self {
            Self::Frustum { o, e, n, len, r0, k } => {
                let d = a - o;
                let (s0, s1) = (d.dot(&e), line.dot(&e));
                let (t0, t1) = (d.dot(&n), line.dot(&n));
                let r = r0 + k * s0;
                let q = [
                    (r - t0) * (r + t0),
                    2.0 * (k * s1 * r - t0 * t1),
                    k * k * s1 * s1 - t1 * t1,
                ];
                let (lo, hi) = if s1.abs() < super::tolerance::PARALLEL {
                    let inside = s0 >= -super::tolerance::CONTACT_MM && s0 <= len + super::tolerance::CONTACT_MM;
                    if inside {
                        (f64::NEG_INFINITY, f64::INFINITY)
                    } else {
                        (f64::INFINITY, f64::NEG_INFINITY)
                    }
                } else {
                    let (x, y) = (-s0 / s1, (len - s0) / s1);
                    (x.min(y), x.max(y))
                };
                Some(Along { q, lo, hi })
            }
            Self::Spheroid { o, e, n, c, b } => {
                let d = a - o;
                let g = b / c;
                let (s0, s1) = (g * d.dot(&e), g * line.dot(&e));
                let (t0, t1) = (d.dot(&n), line.dot(&n));
                Some(Along {
                    q: [
                        b * b - s0 * s0 - t0 * t0,
                        -2.0 * (s0 * s1 + t0 * t1),
                        -s1 * s1 - t1 * t1,
                    ],
                    lo: f64::NEG_INFINITY,
                    hi: f64::INFINITY,
                })
            }
            Self::Bend { .. } => None,
        }
    }

    /// Squared half-depth at a point of the plane; minus infinity beyond the ends.
    pub(super) fn depth_squared(&self, p: &Vector2<f64>) -> f64 {
        match *self {
            Self::Frustum { o, e, n, len, r0, k } => {
                let d = p - o;
                let (s, t) = (d.dot(&e), d.dot(&n));
                if s < 0.0 || s > len {
                    return f64::NEG_INFINITY;
                }
                let r = r0 + k * s;
                (r - t) * (r + t)
            }
            Self::Spheroid { o, e, n, c, b } => {
                let d = p - o;
                let (s, t) = (d.dot(&e) * b / c, d.dot(&n));
                b * b - s * s - t * t
            }
            Self::Bend { o, radius, r, .. } => {
                let d = p - o;
                if self.beyond_arc(&d) > 0.0 {
                    return f64::NEG_INFINITY;
                }
                let t = d.norm() - radius;
                (r - t) * (r + t)
            }
        }
    }

    /// Where the line `a + t line` crosses the outline of a bend in the plane, its ends prolonged.
    pub(super) fn outline_crossings(&self, a: &Vector2<f64>, line: &Vector2<f64>, marks: &mut Vec<f64>) {
        let Self::Bend {
            o,
            radius,
            r,
            start,
            sweep,
        } = *self
        else {
            return;
        };
        let d = a - o;
        for reach in [radius - r, radius + r] {
            marks.extend(quadratic(
                line.norm_squared(),
                2.0 * d.dot(line),
                d.norm_squared() - reach * reach,
            ));
        }
        for phi in [start, start + sweep] {
            let end = Vector2::new(phi.cos(), phi.sin());
            marks.extend(quadratic(0.0, end.perp(line), end.perp(&d)));
        }
    }

    /// Points at which the outline in the plane turns a corner or runs along the direction `n`.
    pub(super) fn outline_turns(&self, n: &Vector2<f64>) -> Vec<Vector2<f64>> {
        let corners = |disc: &Disc| [1.0, -1.0].map(|side| disc.centre + left_of(disc.out) * (side * disc.r));
        let mut turns: Vec<Vector2<f64>> = self.ends().iter().flatten().flat_map(corners).collect();
        match *self {
            Self::Frustum { .. } => {}
            Self::Spheroid { .. } => {
                let (lo, hi) = self.range();
                let across = Vector3::new(-n.y, n.x, 0.0);
                turns.extend([across, -across].map(|u| self.lowest(&u, lo, hi).xy()));
            }
            Self::Bend {
                o,
                radius,
                r,
                start,
                sweep,
            } => {
                for side in [1.0, -1.0] {
                    let out = left_of(*n) * side;
                    if arc_sigma(start, sweep, out.y.atan2(out.x)) <= sweep.abs() {
                        turns.extend([radius - r, radius + r].map(|reach| o + out * reach));
                    }
                }
            }
        }
        turns
    }

    /// How far the direction of `d` lies beyond the arc of a bend, radians; not positive inside.
    fn beyond_arc(&self, d: &Vector2<f64>) -> f64 {
        let Self::Bend { start, sweep, .. } = *self else {
            return 0.0;
        };
        let sigma = arc_sigma(start, sweep, d.y.atan2(d.x));
        let (lo, hi) = self.range();
        if sigma <= hi {
            -(sigma - lo).min(hi - sigma)
        } else {
            (sigma - hi).min(std::f64::consts::TAU - sigma)
        }
    }

    /// How far outside a point lies, mm: negative inside, near zero on the surface; exact in sign, and a
    /// distance to first order near the surface.
    pub(super) fn outside(&self, p: &Vector3<f64>) -> f64 {
        match *self {
            Self::Frustum { o, e, n, len, r0, k } => {
                let d = p.xy() - o;
                let s = d.dot(&e);
                (-s).max(s - len).max(root_sum(d.dot(&n), p.z) - (r0 + k * s))
            }
            Self::Spheroid { o, e, n, c, b } => {
                let d = p.xy() - o;
                let reach = root_sum(d.dot(&e) / c, root_sum(d.dot(&n), p.z) / b);
                (reach - 1.0) * c.min(b)
            }
            Self::Bend { o, radius, r, .. } => {
                let d = p.xy() - o;
                let rho = d.norm();
                (self.beyond_arc(&d) * rho).max(root_sum(rho - radius, p.z) - r)
            }
        }
    }

    /// Lowest point of the part `lo <= sigma <= hi` for up `u`. Exact: an end disc of a frustum, the support of
    /// a spheroid (whole), an end disc or the trough of a bend.
    pub(super) fn lowest(&self, u: &Vector3<f64>, lo: f64, hi: f64) -> Vector3<f64> {
        match *self {
            Self::Frustum { .. } => {
                let at = |sigma: f64| {
                    let slice = self.slice(sigma);
                    lowest_of_disc(slice.centre, slice.n, slice.r, u)
                };
                let (a, b) = (at(lo), at(hi));
                if u.dot(&a) <= u.dot(&b) { a } else { b }
            }
            Self::Spheroid { o, e, n, c, b } => {
                let (ue, un) = (u.xy().dot(&e), u.xy().dot(&n));
                let reach = root_sum(c * ue, b * root_sum(un, u.z));
                lift(o - (e * (c * c * ue) + n * (b * b * un)) / reach, -b * b * u.z / reach)
            }
            Self::Bend { start, sweep, .. } => {
                let at = |sigma: f64| {
                    let slice = self.slice(sigma);
                    lowest_of_disc(slice.centre, slice.n, slice.r, u)
                };
                let trough = arc_sigma(start, sweep, (-u.y).atan2(-u.x));
                let mut best = at(lo);
                for sigma in [Some(hi), (trough > lo && trough < hi).then_some(trough)]
                    .into_iter()
                    .flatten()
                {
                    let p = at(sigma);
                    if u.dot(&p) < u.dot(&best) {
                        best = p;
                    }
                }
                best
            }
        }
    }

    /// Where the centreline of a bend runs level at its highest, if that lies strictly inside the arc: there the
    /// bend is cut, so that each part's sublevel sets are connected. Floors of a bend are monotone in the height
    /// of the centreline (`radius >= r`), hence the one cut suffices.
    pub(super) fn crest(&self, u: &Vector3<f64>) -> Option<f64> {
        let Self::Bend { start, sweep, .. } = *self else {
            return None;
        };
        let sigma = arc_sigma(start, sweep, u.y.atan2(u.x));
        (sigma > 0.0 && sigma < sweep.abs()).then_some(sigma)
    }

    /// The discs that close a frustum or bend, first and second.
    pub(super) fn ends(&self) -> Option<[Disc; 2]> {
        let (lo, hi) = self.range();
        let (a, b) = (self.slice(lo), self.slice(hi));
        match *self {
            Self::Frustum { e, .. } => Some([
                Disc {
                    centre: a.centre,
                    out: -e,
                    r: a.r,
                },
                Disc {
                    centre: b.centre,
                    out: e,
                    r: b.r,
                },
            ]),
            Self::Bend { sweep, .. } => {
                let side = 1f64.copysign(sweep);
                Some([
                    Disc {
                        centre: a.centre,
                        out: left_of(a.n) * -side,
                        r: a.r,
                    },
                    Disc {
                        centre: b.centre,
                        out: left_of(b.n) * side,
                        r: b.r,
                    },
                ])
            }
            Self::Spheroid { .. } => None,
        }
    }

    /// Place along the axis or arc nearest to a point.
    pub(super) fn sigma_of(&self, p: &Vector2<f64>) -> f64 {
        let (lo, hi) = self.range();
        match *self {
            Self::Frustum { o, e, .. } | Self::Spheroid { o, e, .. } => (p - o).dot(&e).clamp(lo, hi),
            Self::Bend { o, start, sweep, .. } => {
                let d = p - o;
                let sigma = arc_sigma(start, sweep, d.y.atan2(d.x));
                if sigma <= hi {
                    sigma
                } else if sigma - hi < std::f64::consts::TAU - sigma {
                    hi
                } else {
                    lo
                }
            }
        }
    }

    /// Smallest upright rectangle in the drawing plane, corners low and high; for a bend, of its full ring's
    /// part that the arc can reach.
    pub(super) fn bounds(&self) -> (Vector2<f64>, Vector2<f64>) {
        let reach = |dir: Vector2<f64>| {
            let u = Vector3::new(dir.x, dir.y, 0.0);
            let (lo, hi) = self.range();
            self.lowest(&u, lo, hi).xy().dot(&dir)
        };
        let (x, y) = (Vector2::x(), Vector2::y());
        (Vector2::new(reach(x), reach(y)), Vector2::new(-reach(-x), -reach(-y)))
    }
}

/// Angle along an arc from its start to the direction `phi`, in [0, 2 pi).
fn arc_sigma(start: f64, sweep: f64, phi: f64) -> f64 {
    let turned = (phi - start) * 1f64.copysign(sweep);
    let sigma = turned.rem_euclid(std::f64::consts::TAU);
    // Rounding below the start would come out as a full turn.
    if std::f64::consts::TAU - sigma < 1e-14 {
        0.0
    } else {
        sigma
    }
}
