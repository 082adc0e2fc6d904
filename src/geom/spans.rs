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
//! their volume. Joints are bisected until the volume stands to `JOINT_PART` of the bore along them (see `tolerance`).

use nalgebra::Vector3;
use std::sync::OnceLock;

use super::alike::Alike;
use super::care::Care;
use super::joint::joint;
use super::meet;
use super::shape::Solid;
use super::solve::{ALONG, quadratic, sign_changes};
use super::sweep::{Cut, along_axis, bend, full_frustum, full_spheroid, whole_spheroid};

/// A stretch of a primitive along its axis or arc.
#[derive(Clone, Debug)]
pub(super) struct Span {
    pub(super) lo: f64,
    pub(super) hi: f64,
    kind: Kind,
    care: Care,
    /// Volume of the bore here, mm3: the most that it can add.
    pub(super) bore: f64,
    /// Its place among joints like it, if there are any.
    pub(super) alike: Option<Alike>,
    /// Found when first asked for: of the joints between full and empty bores most are never.
    full: OnceLock<f64>,
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

/// Cuts a primitive into spans, given the solids of lower id that share volume with it and where along it they do.
pub(super) fn spans(own: &Solid, lower: &[((f64, f64), Solid)], care: Care) -> Vec<Span> {
    let (lo, hi) = own.range();
    // Stretches shorter than rounding carry no volume.
    let shortest = 1e-12 * (hi - lo);
    let align = |other: &Solid| {
        let mut other = *other;
        if let Solid::Frustum { e, .. } | Solid::Spheroid { e, .. } = own {
            other.align(*e);
        }
        other
    };
    let reaches: Vec<(f64, f64, Solid)> = lower
        .iter()
        .filter(|((a, b), _)| b - a > shortest)
        .map(|((a, b), other)| (*a, *b, align(other)))
        .collect();
    let mut cuts = Vec::new();
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
        let mut cuts = Vec::new();
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
                out.push(Span {
                    lo: a,
                    hi: b,
                    care,
                    kind: kind.clone(),
                    bore: bore(own, a, b),
                    alike: None,
                    full: OnceLock::new(),
                });
            }
        }
    }
    out
}

/// Sorted neighbouring pairs of `lo`, `hi` and the `cuts` within `lo..hi`, leaving out stretches below `shortest`.
pub(super) fn stretches(cuts: &mut Vec<f64>, lo: f64, hi: f64, shortest: f64) -> Vec<(f64, f64)> {
    cuts.push(hi);
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

/// Volume of a bore between two places along it, mm3.
fn bore(own: &Solid, a: f64, b: f64) -> f64 {
    match own {
        Solid::Bend { radius, r, .. } => std::f64::consts::PI * r * r * radius * (b - a),
        Solid::Frustum { .. } => full_frustum(own, a, b),
        Solid::Spheroid { .. } => full_spheroid(own, a, b),
    }
}

/// Radius of a coaxial solid at `sigma` of `own`: its half-depth on the axis.
pub(super) fn radius_on_axis(own: &Solid, other: &Solid, sigma: f64) -> f64 {
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

/// Where the outline of `own` crosses that of `other`, where a corner of the other's outline or a place where it runs
/// along the slice lies within the slice, and where the slices become covered.
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
    for p in other.outline_turns(&own.slice(0.5 * (a + b)).n) {
        let sigma = own.sigma_of(&p);
        let slice = own.slice(sigma);
        if (p - slice.centre).dot(&slice.n).abs() <= slice.r {
            cuts.push(sigma);
        }
    }
    sign_changes(
        SAMPLES,
        at,
        |sigma| if meet::covered(own, sigma, other) { 1.0 } else { -1.0 },
        cuts,
    );
}

impl Span {
    /// What is met here where other bores than coaxial ones are, so that slices are integrated across.
    pub(super) fn met_in_joint(&self) -> Option<&[Solid]> {
        match &self.kind {
            Kind::Joint(met) => Some(met),
            Kind::Free | Kind::Coaxial(_) => None,
        }
    }

    /// Whether it is such a joint.
    pub(super) fn is_joint(&self) -> bool {
        self.met_in_joint().is_some()
    }

    /// Volume that the primitive, `own`, adds here when full, mm3.
    pub(super) fn full(&self, own: &Solid) -> f64 {
        *self.full.get_or_init(|| self.full_between(own, self.lo, self.hi))
    }

    /// Volume added between `a` and `b` when full, mm3.
    pub(super) fn full_between(&self, own: &Solid, a: f64, b: f64) -> f64 {
        match &self.kind {
            Kind::Free => bore(own, a, b),
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
            Kind::Joint(met) => joint(own, met, (a, b), None, self.care).0,
        }
    }

    /// What all of a joint holds that lies wholly below or above a level; nothing where the level may cut it, and of what is
    /// no joint.
    pub(super) fn uncut_joint(&self, own: &Solid, (a, b): (f64, f64), level: Level<'_>) -> Option<(f64, f64)> {
        let is_whole = a == self.lo && b == self.hi;
        if !self.is_joint() || !is_whole {
            return None;
        }
        let is_under = Cut::new(own, level)?.passes_by(own, (a, b))?;
        Some((if is_under { self.full(own) } else { 0.0 }, 0.0))
    }

    /// Volume (mm3) below a level between `a` and `b`, and its derivative by the level, the free surface (mm2).
    pub(super) fn wet_between(&self, own: &Solid, a: f64, b: f64, level: Level<'_>) -> (f64, f64) {
        match (&self.kind, own) {
            (Kind::Free, Solid::Spheroid { c, .. }) if a == -c && b == *c => whole_spheroid(own, level),
            (Kind::Free, Solid::Bend { .. }) => bend(own, a, b, level),
            (Kind::Free, _) => along_axis(own, &[], (a, b), level, self.care),
            (Kind::Coaxial(met), _) => along_axis(own, met, (a, b), level, self.care),
            (Kind::Joint(met), _) => joint(own, met, (a, b), Some(level), self.care),
        }
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
