//! Where two bores meet, and the lowest point at which they do.
//!
//! The intersection of two convex shapes is convex, so its lowest point for up `u` is unique (up to level faces)
//! and is found among few candidates, every one of which is a point of the intersection:
//!
//! 1. the lowest point of one shape, when the other contains it (then nothing can be lower);
//! 2. the lowest point on each flat end: a planar problem on a line, where both squared half-depths are
//!    quadratics, so all candidates are roots of quadratics;
//! 3. the lowest point on the *rim*, the curve where both curved walls meet. Each straight generator of a frustum
//!    cuts the other wall at roots of a quadratic, so the rim is a smooth curve in the generator's angle, unfolded
//!    where generators graze the other wall; every lowest sample is refined by Brent's method. Heights there are
//!    stationary, so the height is right to the last digits although the place is only right to 1e-7. Without roll
//!    the lowest point lies in the drawing plane, and two generators are all.
//!
//! Two spheres meet in a circle. Bends, and two general spheroids, are searched by slices (48 along, refined),
//! with an error in the height of the order 1e-9 mm.
//!
//! Shapes that only share an end disc (the usual joint within a tube) are recognised once and cost one formula.

use nalgebra::{Vector2, Vector3};

use super::shape::{Along, Disc, Solid, left_of};
use super::solve::{bracketed_root, quadratic, valley, vertex};
use super::tolerance::{CONTACT_MM, PARALLEL};

/// How two solids meet.
#[derive(Clone, Copy, Debug)]
pub(super) enum Meeting {
    /// End to end: they share this disc. `ends` tells which end of each.
    Disc { disc: Disc, ends: [usize; 2] },
    /// They share a volume.
    Overlap,
}

/// Whether and how two solids meet; `None` when they stay apart.
pub(super) fn meeting(a: &Solid, b: &Solid) -> Option<Meeting> {
    if let (Some(ends_a), Some(ends_b)) = (a.ends(), b.ends()) {
        for (i, da) in ends_a.iter().enumerate() {
            for (j, db) in ends_b.iter().enumerate() {
                let facing = da.out.dot(&db.out) < 0.0 && da.out.perp(&db.out).abs() < CONTACT_MM;
                if facing && (da.centre - db.centre).norm() <= CONTACT_MM {
                    let disc = Disc {
                        r: da.r.min(db.r),
                        ..*da
                    };
                    return Some(Meeting::Disc { disc, ends: [i, j] });
                }
            }
        }
    }
    let direction = match a {
        Solid::Frustum { e, .. } | Solid::Spheroid { e, .. } => *e,
        Solid::Bend { .. } => Vector2::x(),
    };
    lowest_overlap(a, a.range(), b, b.range(), &Vector3::new(direction.x, direction.y, 0.0)).map(|_| Meeting::Overlap)
}

/// Lowest point common to two solids (parts of them, when bends) for up `u`.
pub(super) fn lowest_overlap(
    a: &Solid,
    part_a: (f64, f64),
    b: &Solid,
    part_b: (f64, f64),
    u: &Vector3<f64>,
) -> Option<Vector3<f64>> {
    if matches!(b, Solid::Bend { .. }) {
        return lowest_by_slices(b, part_b, a, part_a, u);
    }
    if matches!(a, Solid::Bend { .. }) {
        return lowest_by_slices(a, part_a, b, part_b, u);
    }
    let lowest_a = a.lowest(u, part_a.0, part_a.1);
    if b.outside(&lowest_a) <= CONTACT_MM {
        return Some(lowest_a);
    }
    let lowest_b = b.lowest(u, part_b.0, part_b.1);
    if a.outside(&lowest_b) <= CONTACT_MM {
        return Some(lowest_b);
    }
    let mut best = Best { u, at: None };
    for (own, other) in [(a, b), (b, a)] {
        for disc in own.ends().into_iter().flatten() {
            let line = left_of(disc.out);
            if let Some(along) = other.along(&disc.centre, &line) {
                best.offer(lowest_on_line(&disc.centre, &line, &[Along::disc(disc.r), along], u));
            }
        }
    }
    match (a, b) {
        (Solid::Frustum { .. }, Solid::Frustum { .. }) => {
            let (thin, thick) = if a.widest() <= b.widest() { (a, b) } else { (b, a) };
            lowest_on_rim(thin, thick, &mut best);
        }
        (Solid::Frustum { .. }, Solid::Spheroid { .. }) => lowest_on_rim(a, b, &mut best),
        (Solid::Spheroid { .. }, Solid::Frustum { .. }) => lowest_on_rim(b, a, &mut best),
        (
            Solid::Spheroid {
                o: oa, c: ca, b: ba, ..
            },
            Solid::Spheroid {
                o: ob, c: cb, b: bb, ..
            },
        ) => {
            if ca == ba && cb == bb {
                best.offer(sphere_circle(*oa, *ca, *ob, *cb).map(|disc| disc.lowest(u)));
            } else {
                best.offer(lowest_by_slices(a, part_a, b, part_b, u));
            }
        }
        _ => {}
    }
    best.at
}

/// The lowest point on offer.
struct Best<'a> {
    u: &'a Vector3<f64>,
    at: Option<Vector3<f64>>,
}

impl Best<'_> {
    fn offer(&mut self, p: Option<Vector3<f64>>) {
        if let Some(p) = p
            && self.at.is_none_or(|best| self.u.dot(&p) < self.u.dot(&best))
        {
            self.at = Some(p);
        }
    }
}

/// The circle in which two spheres cut each other, as a disc.
fn sphere_circle(a: Vector2<f64>, ra: f64, b: Vector2<f64>, rb: f64) -> Option<Disc> {
    let d = b - a;
    let distance = d.norm();
    if distance == 0.0 || distance > ra + rb + CONTACT_MM || distance < (ra - rb).abs() {
        return None;
    }
    let out = d / distance;
    let along = 0.5 * (distance + (ra - rb) * (ra + rb) / distance);
    Some(Disc {
        centre: a + out * along,
        out,
        r: ((ra - along) * (ra + along)).max(0.0).sqrt(),
    })
}

/// Lowest point, for up `u`, of the columns over the line `base + t line` that lie within both quadrics.
pub(super) fn lowest_on_line(
    base: &Vector2<f64>,
    line: &Vector2<f64>,
    both: &[Along; 2],
    u: &Vector3<f64>,
) -> Option<Vector3<f64>> {
    let lo = both[0].lo.max(both[1].lo);
    let hi = both[0].hi.min(both[1].hi);
    if lo > hi + CONTACT_MM {
        return None;
    }
    let slope = u.xy().dot(line);
    let mut best: Option<(f64, f64, f64)> = None;
    let mut offer = |t: f64| {
        if t < lo - CONTACT_MM || t > hi + CONTACT_MM {
            return;
        }
        let q = both[0].at(t).min(both[1].at(t));
        // A gap of CONTACT_MM in the wall is about this much in the square.
        if q < -CONTACT_MM {
            return;
        }
        let depth = q.max(0.0).sqrt();
        let height = slope * t - u.z.abs() * depth;
        if best.is_none_or(|(least, ..)| height < least) {
            best = Some((height, t, depth));
        }
    };
    for end in [lo, hi] {
        if end.is_finite() {
            offer(end);
        }
    }
    let (p, q) = (&both[0].q, &both[1].q);
    quadratic(p[2] - q[2], p[1] - q[1], p[0] - q[0]).for_each(&mut offer);
    let (c2, z2) = (slope * slope, u.z * u.z);
    for q in [p, q] {
        quadratic(q[2], q[1], q[0]).for_each(&mut offer);
        // Stationary: 4 slope^2 Q = u_z^2 Q'^2.
        quadratic(
            4.0 * q[2] * (c2 - z2 * q[2]),
            4.0 * q[1] * (c2 - z2 * q[2]),
            4.0 * c2 * q[0] - z2 * q[1] * q[1],
        )
        .for_each(&mut offer);
    }
    best.map(|(_, t, depth)| {
        let p = base + line * t;
        Vector3::new(p.x, p.y, -depth.copysign(u.z))
    })
}

/// Offers the lowest point of the rim, where the wall of a frustum meets the wall of another quadric.
///
/// The generator at the angle `psi` meets the other wall at two roots of a quadratic, where its discriminant allows.
/// Over each stretch `[psi_a, psi_b]` of such angles the rim is two branches; where the stretch ends in a *fold* (a
/// vanishing discriminant) they are one smooth curve in `theta`, `psi = mid - half cos(theta)`. Stationary points are
/// sought on the whole rim, ends of the solids left aside: what an end cuts off has its lowest point on that end, which
/// is looked at apart.
fn lowest_on_rim(frustum: &Solid, other: &Solid, best: &mut Best<'_>) {
    const SAMPLES: usize = 12;
    // The height errs by its square times the radius: 1e-14 mm.
    const RIM_RAD: f64 = 1e-8;
    let Some(rim) = Rim::new(frustum, other, best.u) else {
        return;
    };
    if best.u.z == 0.0 {
        // Without roll the lowest point lies in the drawing plane, where the walls are straight lines.
        for (psi, branch) in [
            (0.0, -1.0),
            (0.0, 1.0),
            (std::f64::consts::PI, -1.0),
            (std::f64::consts::PI, 1.0),
        ] {
            if rim.discriminant(psi) >= 0.0 {
                best.offer(rim.point(psi, branch).filter(|(_, within)| *within).map(|(p, _)| p));
            }
        }
        return;
    }
    let step = std::f64::consts::PI / SAMPLES as f64;
    for stretch in rim.stretches() {
        // On a branch, `theta` below 0 or above pi goes on over the fold into the other one, or is held at the end.
        let point = |branch: f64, theta: f64| {
            let pi = std::f64::consts::PI;
            let (branch, theta) = match theta {
                t if t < 0.0 => (if stretch.folds[0] { -branch } else { branch }, -t),
                t if t > pi => (if stretch.folds[1] { -branch } else { branch }, 2.0 * pi - t),
                t => (branch, t),
            };
            rim.point(
                stretch.from + 0.5 * (stretch.to - stretch.from) * (1.0 - theta.cos()),
                branch,
            )
        };
        let height = |branch: f64, theta: f64| point(branch, theta).map_or(f64::INFINITY, |(p, _)| best.u.dot(&p));
        let mut lowest: Vec<Vector3<f64>> = Vec::with_capacity(4);
        for branch in [-1.0, 1.0] {
            let mut heights = [0.0; SAMPLES + 3];
            for (k, h) in heights.iter_mut().enumerate() {
                *h = height(branch, (k as f64 - 1.0) * step);
            }
            for k in 1..=SAMPLES + 1 {
                if heights[k].is_finite() && heights[k] <= heights[k - 1] && heights[k] <= heights[k + 1] {
                    let theta = (k as f64 - 1.0) * step;
                    let bracket = (theta - step, theta + step);
                    let refined = vertex(bracket, (theta, heights[k]), RIM_RAD, |theta| height(branch, theta));
                    for theta in [theta, refined] {
                        lowest.extend(point(branch, theta).filter(|(_, within)| *within).map(|(p, _)| p));
                    }
                }
            }
        }
        lowest.into_iter().for_each(|p| best.offer(Some(p)));
    }
}

/// The rim of a frustum and another quadric, on the lower side of the drawing plane.
struct Rim<'a> {
    o: Vector2<f64>,
    e: Vector2<f64>,
    n: Vector2<f64>,
    len: f64,
    r0: f64,
    k: f64,
    other: &'a Solid,
    below: f64,
}

/// Angles of generators that meet the other wall, and whether they end there in a fold.
struct Stretch {
    from: f64,
    to: f64,
    folds: [bool; 2],
}

impl<'a> Rim<'a> {
    fn new(frustum: &Solid, other: &'a Solid, u: &Vector3<f64>) -> Option<Self> {
        match *frustum {
            Solid::Frustum { o, e, n, len, r0, k } => Some(Self {
                o,
                e,
                n,
                len,
                r0,
                k,
                other,
                below: -1f64.copysign(u.z),
            }),
            _ => None,
        }
    }

    /// The quadratic in `sigma` along the generator at `psi`, and between which `sigma` the other's ends lie.
    fn quadratic_at(&self, psi: f64) -> Option<Along> {
        let (sin, cos) = psi.sin_cos();
        let Self { o, e, n, r0, k, .. } = self;
        let Along { q, lo, hi } = self.other.along(&(o + n * (r0 * cos)), &(e + n * (k * cos)))?;
        let s2 = sin * sin;
        Some(Along {
            q: [q[0] - r0 * r0 * s2, q[1] - 2.0 * r0 * k * s2, q[2] - k * k * s2],
            lo,
            hi,
        })
    }

    fn discriminant(&self, psi: f64) -> f64 {
        self.quadratic_at(psi)
            .map_or(f64::NAN, |Along { q: [c, b, a], .. }| b * b - 4.0 * a * c)
    }

    /// The point on a branch (the sign of the root) at `psi`, and whether it lies between the ends of both solids.
    fn point(&self, psi: f64, branch: f64) -> Option<(Vector3<f64>, bool)> {
        let Along { q: [c, b, a], lo, hi } = self.quadratic_at(psi)?;
        // At a fold rounding may leave the discriminant just below zero.
        let root = branch * (b * b - 4.0 * a * c).max(0.0).sqrt();
        // Of the two forms of the root the one that does not cancel.
        let sigma = if (b < 0.0) == (root < 0.0) {
            -2.0 * c / (b + root)
        } else {
            (root - b) / (2.0 * a)
        };
        let r = self.r0 + self.k * sigma;
        if !sigma.is_finite() || r < 0.0 {
            return None;
        }
        let (sin, cos) = psi.sin_cos();
        let p = self.o + self.e * sigma + self.n * (r * cos);
        let within = sigma >= lo.max(0.0) - CONTACT_MM && sigma <= hi.min(self.len) + CONTACT_MM;
        Some((Vector3::new(p.x, p.y, self.below * r * sin), within))
    }

    /// Stretches of `psi` in [0, pi] with a discriminant that is not negative.
    fn stretches(&self) -> Vec<Stretch> {
        const SAMPLES: usize = 16;
        let at = |i: usize| std::f64::consts::PI * i as f64 / SAMPLES as f64;
        let mut marks: Vec<(f64, f64)> = (0..=SAMPLES).map(|i| (at(i), self.discriminant(at(i)))).collect();
        // A stretch may hide between samples, about a peak of the discriminant.
        for i in 1..SAMPLES {
            let [before, here, after] = [marks[i - 1].1, marks[i].1, marks[i + 1].1];
            if here < 0.0 && here >= before && here >= after {
                let (peak, value) = valley(at(i - 1), at(i + 1), 40, |psi| -self.discriminant(psi));
                if value <= 0.0 {
                    marks.push((peak, -value));
                }
            }
        }
        marks.sort_by(|x, y| x.0.total_cmp(&y.0));
        let fold = |a: f64, b: f64| bracketed_root(a, b, 1e-15, |psi| self.discriminant(psi));
        let mut stretches = Vec::new();
        let mut open: Option<(f64, bool)> = None;
        for (k, &(psi, value)) in marks.iter().enumerate() {
            match (open, value >= 0.0) {
                (None, true) => {
                    open = Some(if k == 0 {
                        (psi, false)
                    } else {
                        (fold(marks[k - 1].0, psi), true)
                    })
                }
                (Some((from, folded)), false) => {
                    stretches.push(Stretch {
                        from,
                        to: fold(marks[k - 1].0, psi),
                        folds: [folded, true],
                    });
                    open = None;
                }
                _ => {}
            }
        }
        if let Some((from, folded)) = open {
            stretches.push(Stretch {
                from,
                to: std::f64::consts::PI,
                folds: [folded, false],
            });
        }
        stretches
    }
}

/// Lowest common point by slices of `a` over its part; `b` may be anything.
fn lowest_by_slices(
    a: &Solid,
    part_a: (f64, f64),
    b: &Solid,
    part_b: (f64, f64),
    u: &Vector3<f64>,
) -> Option<Vector3<f64>> {
    const SAMPLES: usize = 48;
    let in_slice = |sigma: f64| -> Option<Vector3<f64>> {
        let slice = a.slice(sigma);
        match b.along(&slice.centre, &slice.n) {
            Some(along) => lowest_on_line(&slice.centre, &slice.n, &[Along::disc(slice.r), along], u),
            None => lowest_in_slice_of_bend(&slice.centre, &slice.n, slice.r, b, part_b, u),
        }
    };
    let height = |sigma: f64| in_slice(sigma).map_or(f64::INFINITY, |p| u.dot(&p));
    let (lo, hi) = part_a;
    let step = (hi - lo) / SAMPLES as f64;
    let mut best = Best { u, at: None };
    let mut at = None;
    for i in 0..=SAMPLES {
        let sigma = if i == SAMPLES { hi } else { lo + i as f64 * step };
        let p = in_slice(sigma);
        let before = best.at;
        best.offer(p);
        if best.at != before {
            at = Some(sigma);
        }
    }
    if let Some(sigma) = at {
        let (sigma, _) = valley((sigma - step).max(lo), (sigma + step).min(hi), 48, height);
        best.offer(in_slice(sigma));
    }
    best.at
}

/// Lowest common point of the disc of radius `r` about `centre` across `n` with a part of a bend. The stretches of
/// the line within the bend are exact; within each the lowest column is searched.
fn lowest_in_slice_of_bend(
    centre: &Vector2<f64>,
    n: &Vector2<f64>,
    r: f64,
    bend: &Solid,
    part: (f64, f64),
    u: &Vector3<f64>,
) -> Option<Vector3<f64>> {
    const SAMPLES: usize = 8;
    let slope = u.xy().dot(n);
    let at = |t: f64| -> Option<(f64, f64)> {
        let p = centre + n * t;
        let q = ((r - t) * (r + t)).min(bend.depth_squared(&p));
        let sigma = bend.sigma_of(&p);
        (q >= -CONTACT_MM && sigma >= part.0 - PARALLEL && sigma <= part.1 + PARALLEL).then(|| {
            let depth = q.max(0.0).sqrt();
            (slope * t - u.z.abs() * depth, depth)
        })
    };
    let height = |t: f64| at(t).map_or(f64::INFINITY, |(h, _)| h);
    let mut marks = vec![-r, r];
    bend.outline_crossings(centre, n, &mut marks);
    marks.retain(|t| *t >= -r && *t <= r);
    marks.sort_by(f64::total_cmp);
    let (mut least, mut best) = (f64::INFINITY, 0.0);
    let mut offer = |t: f64| {
        let h = height(t);
        if h < least {
            (least, best) = (h, t);
        }
    };
    for pair in marks.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let step = (b - a) / SAMPLES as f64;
        let lowest = (0..=SAMPLES)
            .map(|i| a + i as f64 * step)
            .map(|t| (height(t), t))
            .min_by(|x, y| x.0.total_cmp(&y.0))
            .filter(|(h, _)| h.is_finite());
        if let Some((_, t)) = lowest {
            offer(t);
            offer(valley((t - step).max(a), (t + step).min(b), 48, height).0);
        }
    }
    at(best).filter(|_| least.is_finite()).map(|(_, depth)| {
        let p = centre + n * best;
        Vector3::new(p.x, p.y, -depth.copysign(u.z))
    })
}

/// Lowest point at which a disc (a port) meets a solid's part, for up `u`.
pub(super) fn lowest_on_disc(disc: &Disc, solid: &Solid, part: (f64, f64), u: &Vector3<f64>) -> Option<Vector3<f64>> {
    let n = left_of(disc.out);
    match solid.along(&disc.centre, &n) {
        Some(along) => lowest_on_line(&disc.centre, &n, &[Along::disc(disc.r), along], u),
        None => lowest_in_slice_of_bend(&disc.centre, &n, disc.r, solid, part, u),
    }
}

/// Extent along `a` of the slices of `a` that meet `b`.
pub(super) fn extent(a: &Solid, b: &Solid) -> Option<(f64, f64)> {
    let quadrics = !matches!(a, Solid::Bend { .. }) && !matches!(b, Solid::Bend { .. });
    if let (true, Solid::Frustum { e, .. } | Solid::Spheroid { e, .. }) = (quadrics, a) {
        let u = Vector3::new(e.x, e.y, 0.0);
        let first = lowest_overlap(a, a.range(), b, b.range(), &u)?;
        let last = lowest_overlap(a, a.range(), b, b.range(), &-u)?;
        return Some((a.sigma_of(&first.xy()), a.sigma_of(&last.xy())));
    }
    const SAMPLES: usize = 96;
    let (lo, hi) = a.range();
    let up = Vector3::new(0.0, 1.0, 0.0);
    let meets = |sigma: f64| {
        let slice = a.slice(sigma);
        match b.along(&slice.centre, &slice.n) {
            Some(along) => lowest_on_line(&slice.centre, &slice.n, &[Along::disc(slice.r), along], &up).is_some(),
            None => lowest_in_slice_of_bend(&slice.centre, &slice.n, slice.r, b, b.range(), &up).is_some(),
        }
    };
    let at = |i: usize| lo + (hi - lo) * i as f64 / SAMPLES as f64;
    let first = (0..=SAMPLES).find(|&i| meets(at(i)))?;
    let last = (0..=SAMPLES).rev().find(|&i| meets(at(i)))?;
    let edge = |mut out: f64, mut inside: f64| {
        for _ in 0..50 {
            let mid = 0.5 * (out + inside);
            if meets(mid) { inside = mid } else { out = mid }
        }
        inside
    };
    let alpha = if first == 0 { lo } else { edge(at(first - 1), at(first)) };
    let beta = if last == SAMPLES {
        hi
    } else {
        edge(at(last + 1), at(last))
    };
    Some((alpha, beta))
}

/// Whether the slice of `a` at `sigma` lies wholly within `b`.
pub(super) fn covered(a: &Solid, sigma: f64, b: &Solid) -> bool {
    let slice = a.slice(sigma);
    let r = slice.r;
    match b.along(&slice.centre, &slice.n) {
        Some(Along { q, lo, hi }) => {
            if lo > -r + CONTACT_MM || hi < r - CONTACT_MM {
                return false;
            }
            let d = [q[0] - r * r, q[1], q[2] + 1.0];
            let at = |t: f64| d[0] + t * (d[1] + t * d[2]);
            let vertex = if d[2] > 0.0 {
                (-0.5 * d[1] / d[2]).clamp(-r, r)
            } else {
                r
            };
            at(-r).min(at(r)).min(at(vertex)) >= -CONTACT_MM
        }
        None => (0..=32).all(|i| {
            let t = r * (i as f64 / 16.0 - 1.0);
            b.depth_squared(&(slice.centre + slice.n * t)) >= (r - t) * (r + t) - CONTACT_MM
        }),
    }
}

/// Whether both are solids of revolution about one line.
pub(super) fn coaxial(a: &Solid, b: &Solid) -> bool {
    let axis = |s: &Solid| match *s {
        Solid::Frustum { o, e, .. } => Some((o, e, false)),
        Solid::Spheroid { o, e, c, b, .. } => Some((o, e, c == b)),
        Solid::Bend { .. } => None,
    };
    let (Some((oa, ea, round_a)), Some((ob, eb, round_b))) = (axis(a), axis(b)) else {
        return false;
    };
    let d = ob - oa;
    if round_a && round_b {
        // Both turn about the line of centres; the slices must be square to it.
        return d.perp(&ea).abs() <= CONTACT_MM;
    }
    if round_b {
        return d.perp(&ea).abs() <= CONTACT_MM;
    }
    if round_a {
        return d.perp(&eb).abs() <= CONTACT_MM && ea.perp(&eb).abs() <= PARALLEL;
    }
    ea.perp(&eb).abs() <= PARALLEL && d.perp(&ea).abs() <= CONTACT_MM
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::shape::Shape;
    use super::*;

    fn frustum() -> impl Strategy<Value = Shape> {
        let numbers = (
            -15.0..15.0f64,
            -15.0..15.0f64,
            -180.0..180.0f64,
            5.0..60.0f64,
            1.0..12.0f64,
            0.5..2.0f64,
        );
        (numbers, any::<bool>()).prop_map(|((x, y, heading, length, r, taper), straight)| {
            let from = Vector2::new(x, y);
            let heading = heading.to_radians();
            let to = from + Vector2::new(heading.cos(), heading.sin()) * length;
            Shape::Frustum {
                from,
                to,
                r_from: r,
                r_to: if straight { r } else { r * taper },
            }
        })
    }

    fn spheroid() -> impl Strategy<Value = Shape> {
        let numbers = (
            -15.0..15.0f64,
            -15.0..15.0f64,
            -180.0..180.0f64,
            3.0..25.0f64,
            0.5..2.0f64,
        );
        (numbers, any::<bool>()).prop_map(|((x, y, heading, semi_radial, ratio), round)| Shape::Spheroid {
            centre: Vector2::new(x, y),
            heading: heading.to_radians(),
            semi_axial: if round { semi_radial } else { semi_radial * ratio },
            semi_radial,
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

        /// No column of a fine grid common to both shapes has a floor below the lowest common point, and that point
        /// belongs to both.
        #[test]
        fn no_common_column_is_lower(
            a in frustum(), b in prop_oneof![frustum(), spheroid()],
            tilt in -180.0..180.0f64, roll in prop_oneof![Just(0.0), -90.0..90.0f64],
        ) {
            let (a, b) = (Solid::new(&a), Solid::new(&b));
            let u = super::super::Stance::new(tilt, roll).up();
            let found = lowest_overlap(&a, a.range(), &b, b.range(), &u);
            let back = lowest_overlap(&b, b.range(), &a, a.range(), &u);
            prop_assert_eq!(found.is_some(), back.is_some());
            let height = found.map_or(f64::INFINITY, |p| u.dot(&p));
            prop_assert!(found.is_none() || (height - back.map_or(0.0, |p| u.dot(&p))).abs() < 1e-8);
            if let Some(p) = found {
                prop_assert!(a.outside(&p) < 2.0 * CONTACT_MM && b.outside(&p) < 2.0 * CONTACT_MM, "{}", p);
            }
            let ((lo_a, hi_a), (lo_b, hi_b)) = (a.bounds(), b.bounds());
            let (lo, hi) = (lo_a.sup(&lo_b), hi_a.inf(&hi_b));
            const GRID: usize = 80;
            for i in 0..=GRID {
                for j in 0..=GRID {
                    let part = Vector2::new(i as f64, j as f64) / GRID as f64;
                    let p = lo + (hi - lo).component_mul(&part);
                    let square = a.depth_squared(&p).min(b.depth_squared(&p));
                    if square >= 0.0 && hi.x >= lo.x && hi.y >= lo.y {
                        let floor = u.xy().dot(&p) - u.z.abs() * square.sqrt();
                        prop_assert!(height <= floor + 1e-8, "{} below {}", floor, height);
                    }
                }
            }
        }
    }
}
