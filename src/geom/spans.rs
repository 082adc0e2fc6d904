//! Volume of the union below a level: each primitive's own part, slice by slice.
//!
//! **Telescoping.** A column of the union is as deep as its deepest primitive, so its wet length is
//! `sum_i [l(max(d_<i, d_i)) - l(d_<i)]`, where `d_<i` is the greatest half-depth among lower ids. The sum over
//! `i` of the integrals counts an overlap once, for the lowest id, and is exact for any union.
//!
//! **Spans.** Along its axis or arc each primitive falls into spans, found once from the geometry:
//! *free* (no lower primitive meets the slice; the slice is a disc, cut by the level in a circular segment),
//! *coaxial* (all that meet it turn about the same axis; the slice is a ring), *joint* (anything else; the slice
//! is integrated across), and covered ones, which add nothing and are dropped.
//!
//! **Error.** Between its breakpoints (where the level touches or leaves the wall of a slice, where walls cross)
//! every integrand is analytic up to half-integer powers at the ends, which the clustered rules take exactly:
//! free cylinders and whole spheroids are closed forms, other free and coaxial spans are right to about 1e-13 of
//! their volume. Joints are bisected until the volume stands to [`JOINT_PART`] of the bore along them.

use nalgebra::Vector3;

use super::meet;
use super::section::{chord, mean_chord, mean_segment, segment};
use super::shape::{Along, Slice, Solid};
use super::solve::{ACROSS, ALONG, adaptive, bracketed_root, quadratic};
use super::tolerance::{JOINT_PART, SQUARE};

/// A stretch of a primitive along its axis or arc.
#[derive(Clone, Debug)]
pub(super) struct Span {
    pub(super) lo: f64,
    pub(super) hi: f64,
    kind: Kind,
    /// Volume that the primitive adds here when full, mm3.
    pub(super) full: f64,
}

#[derive(Clone, Debug)]
enum Kind {
    Free,
    Coaxial(Vec<Solid>),
    Joint(Vec<Solid>),
}

/// A level: points with `u . p <= height` are wet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Level<'a> {
    pub(super) u: &'a Vector3<f64>,
    pub(super) height: f64,
}

/// Cuts a primitive into spans, given the solids of lower id that share volume with it.
pub(super) fn spans(own: &Solid, lower: &[Solid]) -> Vec<Span> {
    let (lo, hi) = own.range();
    // Stretches shorter than rounding carry no volume.
    let shortest = 1e-12 * (hi - lo);
    let reaches: Vec<(f64, f64, Solid)> = lower
        .iter()
        .filter_map(|&other| {
            let mut other = other;
            if let Solid::Frustum { e, .. } | Solid::Spheroid { e, .. } = own {
                other.align(*e);
            }
            meet::extent(own, &other).map(|(a, b)| (a, b, other))
        })
        .filter(|(a, b, _)| b - a > shortest)
        .collect();
    let mut cuts = vec![lo, hi];
    for (a, b, _) in &reaches {
        cuts.extend([*a, *b]);
    }
    let mut out: Vec<Span> = Vec::new();
    for (a, b) in stretches(&mut cuts, lo, hi, shortest) {
        let mid = 0.5 * (a + b);
        let met: Vec<Solid> = reaches
            .iter()
            .filter(|(x, y, _)| *x < mid && mid < *y)
            .map(|(.., s)| *s)
            .collect();
        let kind = if met.is_empty() {
            Kind::Free
        } else if met.iter().all(|other| meet::coaxial(own, other)) {
            Kind::Coaxial(met)
        } else {
            Kind::Joint(met)
        };
        let mut cuts = vec![a, b];
        match &kind {
            Kind::Free => {}
            Kind::Coaxial(met) => met
                .iter()
                .for_each(|other| wall_crossings_on_axis(own, other, &mut cuts)),
            Kind::Joint(met) => met.iter().for_each(|other| wall_crossings(own, other, a, b, &mut cuts)),
        }
        for (a, b) in stretches(&mut cuts, a, b, shortest) {
            let mid = 0.5 * (a + b);
            let hidden = match &kind {
                Kind::Free => false,
                Kind::Coaxial(met) => {
                    own.radius(mid) <= met.iter().map(|s| radius_on_axis(own, s, mid)).fold(0.0, f64::max)
                }
                Kind::Joint(met) => met.iter().any(|other| meet::covered(own, mid, other)),
            };
            if !hidden {
                let mut span = Span {
                    lo: a,
                    hi: b,
                    kind: kind.clone(),
                    full: 0.0,
                };
                span.full = span.full_between(own, a, b);
                out.push(span);
            }
        }
    }
    out
}

/// Sorted neighbouring pairs of `cuts` within `lo..hi`, leaving out stretches below `shortest`.
fn stretches(cuts: &mut Vec<f64>, lo: f64, hi: f64, shortest: f64) -> Vec<(f64, f64)> {
    cuts.retain(|c| *c >= lo && *c <= hi);
    cuts.sort_by(f64::total_cmp);
    let mut from = lo;
    let mut pairs = Vec::with_capacity(cuts.len());
    for &c in cuts.iter() {
        if c - from > shortest {
            pairs.push((from, c));
            from = c;
        }
    }
    if let Some(last) = pairs.last_mut() {
        last.1 = hi;
    }
    pairs
}

/// Radius of a coaxial solid at `sigma` of `own`: its half-depth on the axis.
fn radius_on_axis(own: &Solid, other: &Solid, sigma: f64) -> f64 {
    other.depth_squared(&own.slice(sigma).centre).max(0.0).sqrt()
}

/// Where two coaxial walls have the same radius.
fn wall_crossings_on_axis(own: &Solid, other: &Solid, cuts: &mut Vec<f64>) {
    if let Solid::Frustum { o, e, .. } | Solid::Spheroid { o, e, .. } = own
        && let (Some(p), Some(q)) = (own.along(o, e), other.along(o, e))
    {
        cuts.extend(quadratic(p.q[2] - q.q[2], p.q[1] - q.q[1], p.q[0] - q.q[0]));
    }
}

/// Where the outline of `own` crosses that of `other`, and where its slices become covered.
fn wall_crossings(own: &Solid, other: &Solid, a: f64, b: f64, cuts: &mut Vec<f64>) {
    const SAMPLES: usize = 24;
    let at = |i: usize| a + (b - a) * i as f64 / SAMPLES as f64;
    for side in [-1.0, 1.0] {
        let depth = |sigma: f64| {
            let slice = own.slice(sigma);
            // Beyond the ends the square is minus infinity; any finite negative serves for the sign.
            other
                .depth_squared(&(slice.centre + slice.n * (side * slice.r)))
                .max(-1e6)
        };
        sign_changes(SAMPLES, at, depth, cuts);
    }
    sign_changes(
        SAMPLES,
        at,
        |sigma| if meet::covered(own, sigma, other) { 1.0 } else { -1.0 },
        cuts,
    );
}

fn sign_changes(samples: usize, at: impl Fn(usize) -> f64, f: impl Fn(f64) -> f64, cuts: &mut Vec<f64>) {
    let mut before = f(at(0));
    for i in 1..=samples {
        let now = f(at(i));
        if (before > 0.0) != (now > 0.0) && before.is_finite() && now.is_finite() {
            cuts.push(bracketed_root(at(i - 1), at(i), 1e-13 * (1.0 + at(i).abs()), &f));
        }
        before = now;
    }
}

impl Span {
    /// Volume added between `a` and `b` when full, mm3.
    pub(super) fn full_between(&self, own: &Solid, a: f64, b: f64) -> f64 {
        match &self.kind {
            Kind::Free => match own {
                Solid::Bend { radius, r, .. } => std::f64::consts::PI * r * r * radius * (b - a),
                Solid::Frustum { .. } => full_frustum(own, a, b),
                Solid::Spheroid { b: semi, c, .. } => {
                    let whole = |s: f64| semi * semi * (s - s * s * s / (3.0 * c * c));
                    std::f64::consts::PI * (whole(b) - whole(a))
                }
            },
            Kind::Coaxial(met) => {
                let ring = |sigma: f64| {
                    let (r, inner) = (
                        own.radius(sigma),
                        met.iter().map(|s| radius_on_axis(own, s, sigma)).fold(0.0, f64::max),
                    );
                    (std::f64::consts::PI * (r - inner) * (r + inner), 0.0)
                };
                ALONG.integrate(a, b, ring).0
            }
            Kind::Joint(met) => joint(own, met, a, b, None).0,
        }
    }

    /// Volume (mm3) below a level between `a` and `b`, and its derivative by the level, the free surface (mm2).
    pub(super) fn wet_between(&self, own: &Solid, a: f64, b: f64, level: Level<'_>) -> (f64, f64) {
        match (&self.kind, own) {
            (Kind::Free, Solid::Spheroid { c, .. }) if a == -c && b == *c => whole_spheroid(own, level),
            (Kind::Free, Solid::Bend { .. }) => bend(own, a, b, level),
            (Kind::Free, _) => along_axis(own, &[], a, b, level),
            (Kind::Coaxial(met), _) => along_axis(own, met, a, b, level),
            (Kind::Joint(met), _) => joint(own, met, a, b, Some(level)),
        }
    }
}

fn full_frustum(own: &Solid, a: f64, b: f64) -> f64 {
    let (ra, rb) = (own.radius(a), own.radius(b));
    std::f64::consts::PI * (b - a) * (ra * ra + ra * rb + rb * rb) / 3.0
}

/// A spheroid cut by a plane is an affine image of a sphere cut by a plane: pi (1+x)^2 (2-x) / 3 of its scale.
fn whole_spheroid(own: &Solid, level: Level<'_>) -> (f64, f64) {
    let Solid::Spheroid { o, e, n, c, b } = *own else {
        return (0.0, 0.0);
    };
    let up = level.u.xy();
    let reach = (c * up.dot(&e)).hypot(b * up.dot(&n).hypot(level.u.z));
    let x = ((level.height - up.dot(&o)) / reach).clamp(-1.0, 1.0);
    let scale = std::f64::consts::PI * b * b * c;
    (
        scale * (1.0 + x) * (1.0 + x) * (2.0 - x) / 3.0,
        scale * (1.0 - x) * (1.0 + x) / reach,
    )
}

/// How a level stands to the slices along a straight axis: the signed distance of the level from the slice's
/// centre, in the slice, is `c = (h0 - a sigma) / across`.
struct Cut {
    h0: f64,
    a: f64,
    across: f64,
}

impl Cut {
    fn new(own: &Solid, level: Level<'_>) -> Option<Self> {
        match *own {
            Solid::Frustum { o, e, n, .. } | Solid::Spheroid { o, e, n, .. } => {
                let up = level.u.xy();
                Some(Self {
                    h0: level.height - up.dot(&o),
                    a: up.dot(&e),
                    across: up.dot(&n).hypot(level.u.z),
                })
            }
            Solid::Bend { .. } => None,
        }
    }

    fn above_centre(&self, sigma: f64) -> f64 {
        self.h0 - self.a * sigma
    }

    /// Places where the level touches the wall of a slice, and on which side (+1: the slice is just full).
    fn touches(&self, own: &Solid) -> [Option<(f64, f64)>; 2] {
        let mut found = [None; 2];
        match *own {
            Solid::Frustum { r0, k, .. } => {
                for (slot, side) in found.iter_mut().zip([1.0, -1.0]) {
                    let sigma = (self.h0 - side * r0 * self.across) / (self.a + side * k * self.across);
                    *slot = sigma.is_finite().then_some((sigma, side));
                }
            }
            Solid::Spheroid { c, b, .. } => {
                let g = b * self.across / c;
                let square = self.a * self.a + g * g;
                let root = square - (self.h0 / c) * (self.h0 / c);
                if root >= 0.0 && square > 0.0 {
                    let half = b * self.across * root.sqrt() / square;
                    let mid = self.a * self.h0 / square;
                    for (slot, sigma) in found.iter_mut().zip([mid - half, mid + half]) {
                        *slot = Some((sigma, 1f64.copysign(self.above_centre(sigma))));
                    }
                }
            }
            Solid::Bend { .. } => {}
        }
        found
    }

    /// Distance between both touching places divided by `across`, without cancellation when `across` is tiny.
    fn sweep_by_across(&self, own: &Solid) -> f64 {
        match *own {
            Solid::Frustum { r0, k, .. } => {
                let ka = k * self.across;
                2.0 * ((r0 * self.a + self.h0 * k) / ((self.a - ka) * (self.a + ka))).abs()
            }
            Solid::Spheroid { c, b, .. } => {
                let g = b * self.across / c;
                let square = self.a * self.a + g * g;
                2.0 * b * (square - (self.h0 / c) * (self.h0 / c)).max(0.0).sqrt() / square
            }
            Solid::Bend { .. } => 0.0,
        }
    }
}

/// Wet volume and free surface of a free or coaxial span along a straight axis, less what coaxial lower
/// primitives `met` hold.
fn along_axis(own: &Solid, met: &[Solid], a: f64, b: f64, level: Level<'_>) -> (f64, f64) {
    let Some(cut) = Cut::new(own, level) else {
        return (0.0, 0.0);
    };
    let inner = |sigma: f64| met.iter().map(|s| radius_on_axis(own, s, sigma)).fold(0.0, f64::max);
    let ring = |sigma: f64| {
        let (r, inner) = (own.radius(sigma), inner(sigma));
        std::f64::consts::PI * (r - inner) * (r + inner)
    };
    let full = |a: f64, b: f64| {
        if met.is_empty() && matches!(own, Solid::Frustum { .. }) {
            full_frustum(own, a, b)
        } else {
            ALONG.integrate(a, b, |s| (ring(s), 0.0)).0
        }
    };
    if cut.across < SQUARE {
        let at = cut.h0 / cut.a;
        let (from, to) = if cut.a > 0.0 {
            (a, at.clamp(a, b))
        } else {
            (at.clamp(a, b), b)
        };
        let surface = if at > a && at < b { ring(at) / cut.a.abs() } else { 0.0 };
        return (if to > from { full(from, to) } else { 0.0 }, surface);
    }
    let mut marks: Vec<(f64, f64)> = cut
        .touches(own)
        .into_iter()
        .flatten()
        .filter(|(s, _)| *s > a && *s < b)
        .collect();
    for other in met {
        if let (Solid::Frustum { o, e, .. } | Solid::Spheroid { o, e, .. }, Some(other_cut)) =
            (own, Cut::new(other, level))
            && let Solid::Frustum { o: oo, e: eo, .. } | Solid::Spheroid { o: oo, e: eo, .. } = other
        {
            for (sigma, _) in other_cut.touches(other).into_iter().flatten() {
                let sigma = (oo + eo * sigma - o).dot(e);
                if sigma > a && sigma < b {
                    marks.push((sigma, 0.0));
                }
            }
        }
    }
    marks.push((b, 0.0));
    marks.sort_by(|x, y| x.0.total_cmp(&y.0));
    let (mut volume, mut surface) = (0.0, 0.0);
    let mut from = (a, 0.0);
    for to in marks {
        let (s0, s1) = (from.0, to.0);
        if s1 > s0 {
            let mid = 0.5 * (s0 + s1);
            let (h, reach) = (cut.above_centre(mid), own.radius(mid) * cut.across);
            if h >= reach {
                volume += full(s0, s1);
            } else if h > -reach {
                // The distance of the level from the axis is linear along it; exact where it touches the wall.
                let c_at = |(sigma, side): (f64, f64)| {
                    let r = own.radius(sigma);
                    if side == 0.0 {
                        (cut.above_centre(sigma) / cut.across).clamp(-r, r)
                    } else {
                        side * r
                    }
                };
                let (c0, c1) = (c_at(from), c_at(to));
                let both = from.1 * to.1 < 0.0;
                let by_across = if both {
                    cut.sweep_by_across(own)
                } else {
                    (s1 - s0) / cut.across
                };
                let cylinder = match own {
                    Solid::Frustum { r0, k, .. } if *k == 0.0 && met.is_empty() => Some(*r0),
                    _ => None,
                };
                if let Some(r) = cylinder {
                    volume += r * r * (s1 - s0) * mean_segment(c0 / r, c1 / r);
                    surface += r * by_across * mean_chord(c0 / r, c1 / r);
                } else {
                    let (v, s) = ALONG.integrate(0.0, 1.0, |l| {
                        let sigma = s0 + l * (s1 - s0);
                        let (r, inner, c) = (own.radius(sigma), inner(sigma), c0 + l * (c1 - c0));
                        (segment(r, c) - segment(inner, c), chord(r, c) - chord(inner, c))
                    });
                    volume += v * (s1 - s0);
                    surface += s * by_across;
                }
            }
        }
        from = to;
    }
    (volume, surface)
}

/// Places on a bend where the level touches the wall of a slice.
fn bend_touches(own: &Solid, level: Level<'_>) -> Vec<f64> {
    let Solid::Bend {
        o,
        radius,
        r,
        start,
        sweep,
    } = *own
    else {
        return Vec::new();
    };
    let up = level.u.xy();
    let k = level.height - up.dot(&o);
    let reach = up.norm();
    let z2 = level.u.z * level.u.z;
    // (k - radius y)^2 = r^2 (y^2 + u_z^2), y the cosine of the arc against up times `reach`.
    let mut found = Vec::with_capacity(4);
    if reach > 0.0 {
        for y in quadratic((radius - r) * (radius + r), -2.0 * k * radius, k * k - r * r * z2) {
            let x = y / reach;
            if x.abs() <= 1.0 {
                let crest = up.y.atan2(up.x);
                for phi in [crest + x.acos(), crest - x.acos()] {
                    found.push(((phi - start) * 1f64.copysign(sweep)).rem_euclid(std::f64::consts::TAU));
                }
            }
        }
    }
    found
}

/// Wet volume and free surface of a free stretch of a bend: Pappus slice by slice, with the first moment of the
/// segment.
fn bend(own: &Solid, a: f64, b: f64, level: Level<'_>) -> (f64, f64) {
    let Solid::Bend { radius, .. } = *own else {
        return (0.0, 0.0);
    };
    let mut marks: Vec<f64> = bend_touches(own, level)
        .into_iter()
        .filter(|s| *s > a && *s < b)
        .collect();
    marks.push(b);
    marks.sort_by(f64::total_cmp);
    let at = |sigma: f64| {
        let slice = own.slice(sigma);
        let un = level.u.xy().dot(&slice.n);
        (level.height - level.u.xy().dot(&slice.centre), un, un.hypot(level.u.z))
    };
    let (mut volume, mut surface) = (0.0, 0.0);
    let mut from = a;
    for to in marks {
        if to > from {
            let (h, _, across) = at(0.5 * (from + to));
            let r = own.radius(from);
            if h >= r * across {
                volume += std::f64::consts::PI * r * r * radius * (to - from);
            } else if h > -r * across {
                let (v, s) = ALONG.integrate(from, to, |sigma| {
                    let (h, un, across) = at(sigma);
                    if across == 0.0 {
                        return (if h > 0.0 { segment(r, r) * radius } else { 0.0 }, 0.0);
                    }
                    let c = (h / across).clamp(-r, r);
                    let half = 0.5 * chord(r, c);
                    let moment = -2.0 / 3.0 * half * half * half * un / across;
                    (
                        radius * segment(r, c) + moment,
                        2.0 * half * (radius + c * un / across) / across,
                    )
                });
                volume += v;
                surface += s;
            }
        }
        from = to;
    }
    (volume, surface)
}

/// Volume (and free surface) that `own` adds to lower solids `met` between `a` and `b`, below a level if given.
fn joint(own: &Solid, met: &[Solid], a: f64, b: f64, level: Option<Level<'_>>) -> (f64, f64) {
    let scale = match *own {
        Solid::Bend { radius, .. } => radius,
        _ => 1.0,
    };
    let tolerance = JOINT_PART * std::f64::consts::PI * own.widest().powi(2) * scale * (b - a);
    let mut scratch = Vec::with_capacity(24);
    let Some(level) = level else {
        return adaptive(a, b, tolerance, 10, &mut |sigma| {
            across(own, met, sigma, None, &mut scratch)
        });
    };
    let cut = Cut::new(own, level);
    let mut marks = vec![b];
    match &cut {
        Some(cut) if cut.across < SQUARE => {
            let at = cut.h0 / cut.a;
            let (from, to) = if cut.a > 0.0 {
                (a, at.clamp(a, b))
            } else {
                (at.clamp(a, b), b)
            };
            let volume = if to > from {
                joint(own, met, from, to, None).0
            } else {
                0.0
            };
            let surface = if at > a && at < b {
                across(own, met, at, None, &mut scratch).0 / cut.a.abs()
            } else {
                0.0
            };
            return (volume, surface);
        }
        Some(cut) => marks.extend(cut.touches(own).into_iter().flatten().map(|(s, _)| s)),
        None => marks.extend(bend_touches(own, level)),
    }
    rim_crossings(own, met, a, b, level, &mut marks);
    marks.retain(|s| *s > a && *s <= b);
    marks.sort_by(f64::total_cmp);
    let (mut volume, mut surface) = (0.0, 0.0);
    let mut from = a;
    for to in marks {
        if to - from > 1e-13 * (b - a) {
            let slice = own.slice(0.5 * (from + to));
            let h = level.height - level.u.xy().dot(&slice.centre);
            let reach = slice.r * level.u.xy().dot(&slice.n).hypot(level.u.z);
            if h >= reach {
                volume += adaptive(from, to, tolerance, 10, &mut |s| {
                    across(own, met, s, None, &mut scratch)
                })
                .0;
            } else if h > -reach {
                let (v, s) = adaptive(from, to, tolerance, 10, &mut |s| {
                    across(own, met, s, Some(level), &mut scratch)
                });
                volume += v;
                surface += s;
            }
            from = to;
        }
    }
    (volume, surface)
}

/// Where the level passes through the curve in which the wall of `own` meets the wall of a lower solid.
fn rim_crossings(own: &Solid, met: &[Solid], a: f64, b: f64, level: Level<'_>, marks: &mut Vec<f64>) {
    const SAMPLES: usize = 12;
    let at = |i: usize| a + (b - a) * i as f64 / SAMPLES as f64;
    for other in met {
        for root in 0..2 {
            for side in [-1.0, 1.0] {
                let above = |sigma: f64| {
                    let slice = own.slice(sigma);
                    let Some(along) = other.along(&slice.centre, &slice.n) else {
                        return f64::NAN;
                    };
                    let rim = quadratic(along.q[2] + 1.0, along.q[1], along.q[0] - slice.r * slice.r).nth(root);
                    rim.filter(|t| t.abs() <= slice.r).map_or(f64::NAN, |t| {
                        let z = side * ((slice.r - t) * (slice.r + t)).sqrt();
                        let p = slice.centre + slice.n * t;
                        level.u.x * p.x + level.u.y * p.y + level.u.z * z - level.height
                    })
                };
                sign_changes(SAMPLES, at, above, marks);
            }
        }
    }
}

/// One slice of a joint: area that `own` adds to `met` (times the measure), below the level if given, and the
/// derivative of that by the level.
fn across(own: &Solid, met: &[Solid], sigma: f64, level: Option<Level<'_>>, marks: &mut Vec<f64>) -> (f64, f64) {
    let Slice { centre, n, r, w0, w1 } = own.slice(sigma);
    if r <= 0.0 {
        return (0.0, 0.0);
    }
    let disc = Along::disc(r);
    let others: Vec<Option<Along>> = met.iter().map(|s| s.along(&centre, &n)).collect();
    // The level over the line: height - (c0 + slope t).
    let line = level.map(|l| (l.height - l.u.xy().dot(&centre), l.u.xy().dot(&n), l.u.z.abs()));
    marks.clear();
    marks.extend([-r, r]);
    if let Some((h, slope, z)) = line {
        level_crossings(&disc, h, slope, z, marks);
    }
    for (other, solid) in others.iter().zip(met) {
        match other {
            Some(along) => {
                marks.extend([along.lo, along.hi]);
                marks.extend(quadratic(along.q[2], along.q[1], along.q[0]));
                marks.extend(quadratic(along.q[2] + 1.0, along.q[1], along.q[0] - r * r));
                if let Some((h, slope, z)) = line {
                    level_crossings(along, h, slope, z, marks);
                }
            }
            None => bend_crossings(solid, &centre, &n, r, line, marks),
        }
    }
    for (i, p) in others.iter().enumerate() {
        for q in others.iter().skip(i + 1) {
            if let (Some(p), Some(q)) = (p, q) {
                marks.extend(quadratic(p.q[2] - q.q[2], p.q[1] - q.q[1], p.q[0] - q.q[0]));
            }
        }
    }
    marks.retain(|t| *t >= -r && *t <= r);
    marks.sort_by(f64::total_cmp);
    let lower = |t: f64| {
        let deepest = |(along, solid): (&Option<Along>, &Solid)| match along {
            Some(along) => along.inside(t).unwrap_or(0.0),
            None => solid.depth_squared(&(centre + n * t)).max(0.0),
        };
        others.iter().zip(met).map(deepest).fold(0.0, f64::max)
    };
    let lower_depth = |t0: f64, t1: f64| ACROSS.integrate(t0, t1, |t| (lower(t).sqrt() * (w0 + w1 * t), 0.0)).0;
    let (mut volume, mut surface) = (0.0, 0.0);
    for pair in marks.windows(2) {
        let (t0, t1) = (pair[0], pair[1]);
        let mid = 0.5 * (t0 + t1);
        let (own_square, lower_square) = (disc.at(mid), lower(mid));
        if t1 - t0 <= 1e-14 * r || lower_square >= own_square {
            continue;
        }
        let own_wet = Column::new(line, mid, own_square);
        let lower_wet = Column::new(line, mid, lower_square);
        // Wet lengths are (level - axis) / z + d in part, 2 d when full; the first term is the same for both.
        let own_depth = own_wet.depths * disc_depth(r, t0, t1, w0, w1);
        let taken = if lower_wet.depths > 0.0 && lower_square > 0.0 {
            lower_wet.depths * lower_depth(t0, t1)
        } else {
            0.0
        };
        volume += own_depth - taken;
        let open = own_wet.open - lower_wet.open;
        if open != 0.0
            && let Some((h, slope, z)) = line
        {
            let above = |t: f64| (h - slope * t) / z * (w0 + w1 * t);
            volume += open * (t1 - t0) / 6.0 * (above(t0) + 4.0 * above(mid) + above(t1));
            surface += open * (t1 - t0) * (w0 + w1 * mid) / z;
        }
    }
    if let Some((h, slope, 0.0)) = line
        && slope != 0.0
    {
        let t = h / slope;
        let (own, lower) = (disc.at(t), lower(t));
        if t.abs() < r && own > lower {
            surface += 2.0 * (own.sqrt() - lower.sqrt()) * (w0 + w1 * t) / slope.abs();
        }
    }
    (volume, surface)
}

/// How a column stands to the level, the same all over an interval between breakpoints.
struct Column {
    /// How many half-depths of it are wet: 0 dry, 1 in part, 2 full.
    depths: f64,
    /// 1 where the level lies within it, else 0.
    open: f64,
}

impl Column {
    fn new(line: Option<(f64, f64, f64)>, t: f64, depth_squared: f64) -> Self {
        let Some((h, slope, z)) = line else {
            return Self { depths: 2.0, open: 0.0 };
        };
        let (above, depth) = (h - slope * t, z * depth_squared.max(0.0).sqrt());
        if above >= depth {
            Self { depths: 2.0, open: 0.0 }
        } else if above <= -depth {
            Self { depths: 0.0, open: 0.0 }
        } else {
            Self { depths: 1.0, open: 1.0 }
        }
    }
}

/// Integral of `(w0 + w1 t) sqrt(r^2 - t^2)` in closed form.
fn disc_depth(r: f64, t0: f64, t1: f64, w0: f64, w1: f64) -> f64 {
    let whole = |t: f64| {
        let d = ((r - t) * (r + t)).max(0.0).sqrt();
        w0 * 0.5 * (t * d + r * r * (t / r).clamp(-1.0, 1.0).asin()) - w1 * d * d * d / 3.0
    };
    whole(t1) - whole(t0)
}

/// Where the level passes the floor or the ceiling of the columns of a quadric over a line: roots of
/// `(h - slope t)^2 = z^2 Q(t)`, with the discriminant written so that a small `z` does not cancel.
fn level_crossings(along: &Along, h: f64, slope: f64, z: f64, marks: &mut Vec<f64>) {
    if z == 0.0 {
        if slope != 0.0 {
            marks.push(h / slope);
        }
        return;
    }
    let [q0, q1, q2] = along.q;
    let a = slope * slope - z * z * q2;
    let half_b = slope * h + 0.5 * z * z * q1;
    if a.abs() < 1e-300 {
        return;
    }
    let inner = slope * slope * q0 + slope * h * q1 + q2 * h * h + z * z * (0.25 * q1 * q1 - q0 * q2);
    if inner >= 0.0 {
        let root = z * inner.sqrt();
        marks.extend([(half_b - root) / a, (half_b + root) / a]);
    }
}

/// Breakpoints over a line against a bend, by sampling: its wall, equal depth with the disc, the level.
fn bend_crossings(
    bend: &Solid,
    centre: &nalgebra::Vector2<f64>,
    n: &nalgebra::Vector2<f64>,
    r: f64,
    line: Option<(f64, f64, f64)>,
    marks: &mut Vec<f64>,
) {
    const SAMPLES: usize = 16;
    let at = |i: usize| r * (2.0 * i as f64 / SAMPLES as f64 - 1.0);
    let depth = |t: f64| bend.depth_squared(&(centre + n * t)).max(-1e6);
    sign_changes(SAMPLES, at, depth, marks);
    sign_changes(SAMPLES, at, |t| depth(t) - (r - t) * (r + t), marks);
    if let Some((h, slope, z)) = line {
        sign_changes(
            SAMPLES,
            at,
            |t| (h - slope * t).abs() - z * depth(t).max(0.0).sqrt(),
            marks,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_stretches_join_their_neighbour() {
        let mut cuts = vec![0.0, 1.0, 1.0 + 1e-15, 2.0];
        assert_eq!(stretches(&mut cuts, 0.0, 2.0, 1e-12), vec![(0.0, 1.0), (1.0, 2.0)]);
    }
}
