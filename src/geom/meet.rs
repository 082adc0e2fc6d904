//! Where two bores meet, and the lowest point at which they do.
//!
//! The intersection of two convex shapes is convex, so its lowest point for up `u` is unique (up to level faces)
//! and is found among few candidates, every one of which is a point of the intersection:
//!
//! 1. the lowest point of one shape, when the other contains it (then nothing can be lower);
//! 2. the lowest point on each flat end: a planar problem on a line, where both squared half-depths are
//!    quadratics, so all candidates are roots of quadratics;
//! 3. the lowest point on the *rim*, the curve where both curved walls meet: see [`rim`](super::rim).
//!
//! Two spheres meet in a circle. Bends, and two general spheroids, are searched by slices (48 along, refined),
//! with an error in the height of the order 1e-9 mm.
//!
//! Shapes that only share an end disc (the usual joint within a tube) are recognised once and cost one formula.

use nalgebra::{Vector2, Vector3};

use super::rim::Rim;
use super::shape::{Along, Disc, Solid, left_of};
use super::solve::{quadratic, valley};
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
    lowest_common(a, part_a, b, part_b, u, None)
}

/// The same; `rim` is that of the two where it is known already.
pub(super) fn lowest_common(
    a: &Solid,
    part_a: (f64, f64),
    b: &Solid,
    part_b: (f64, f64),
    u: &Vector3<f64>,
    rim: Option<&Rim>,
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
    if let (
        Solid::Spheroid {
            o: oa, c: ca, b: ba, ..
        },
        Solid::Spheroid {
            o: ob, c: cb, b: bb, ..
        },
    ) = (a, b)
    {
        if ca == ba && cb == bb {
            best.offer(sphere_circle(*oa, *ca, *ob, *cb).map(|disc| disc.lowest(u)));
        } else {
            best.offer(lowest_by_slices(a, part_a, b, part_b, u));
        }
    }
    match rim {
        Some(rim) => best.offer(rim.lowest(u)),
        None => best.offer(Rim::of(a, b).and_then(|rim| rim.lowest(u))),
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

/// Extent along `a` of the slices of `a` that meet `b`; `rim` is that of the two where there is one.
pub(super) fn extent(a: &Solid, b: &Solid, rim: Option<&Rim>) -> Option<(f64, f64)> {
    let quadrics = !matches!(a, Solid::Bend { .. }) && !matches!(b, Solid::Bend { .. });
    if let (true, Solid::Frustum { e, .. } | Solid::Spheroid { e, .. }) = (quadrics, a) {
        let u = Vector3::new(e.x, e.y, 0.0);
        let first = lowest_common(a, a.range(), b, b.range(), &u, rim)?;
        let last = lowest_common(a, a.range(), b, b.range(), &-u, rim)?;
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
