//! The rim: the curve in which the wall of a frustum meets the wall of another quadric, and its lowest point.
//!
//! Each straight generator of the frustum cuts the other wall at roots of a quadratic, so the rim is a smooth curve in the
//! generator's angle, unfolded where generators graze the other wall. It follows from the geometry alone, so it is
//! sampled once; at a stance every lowest sample is refined by parabolas. Heights there are stationary, so the height is
//! right to the last digits although the place is only right to 1e-6. Without roll the lowest point lies in the drawing
//! plane, and two generators are all.
//!
//! The generator at the angle `psi` meets the other wall where its discriminant allows. Over each stretch
//! `[psi_a, psi_b]` of such angles the rim is two branches; where the stretch ends in a *fold* (a vanishing discriminant)
//! they are one smooth curve in `theta`, `psi = mid - half cos(theta)`. Stationary points are sought on the whole rim,
//! ends of the solids left aside: what an end cuts off has its lowest point on that end, which [`meet`](super::meet)
//! looks at apart.

use std::f64::consts::PI;
use std::sync::OnceLock;

use nalgebra::{Vector2, Vector3};

use super::shape::{Along, Solid};
use super::solve::{bracketed_root, valley, vertex};
use super::tolerance::CONTACT_MM;

/// Parts in which a stretch is sampled. With twelve a valley of bodies that run into each other was missed by 0.002 mm.
const PARTS: usize = 24;
/// The samples of a branch: its ends, and one beyond each.
const SAMPLES: usize = PARTS + 3;
/// The place of a lowest point is sought to this, radians: the height errs by half its square times the radius.
const PLACE_RAD: f64 = 1e-6;
/// Both branches of a stretch, as signs of the root.
const BRANCHES: [f64; 2] = [-1.0, 1.0];

/// A point of the rim behind the drawing plane (z not below 0), and whether it lies between the ends of both solids.
type Point = Option<(Vector3<f64>, bool)>;

/// The rim of a frustum and another quadric.
#[derive(Clone, Debug)]
pub(super) struct Rim {
    o: Vector2<f64>,
    e: Vector2<f64>,
    n: Vector2<f64>,
    len: f64,
    r0: f64,
    k: f64,
    other: Solid,
    /// Found when first asked for: without roll they never are.
    stretches: OnceLock<Vec<Stretch>>,
}

/// Angles of generators that meet the other wall, and whether they end there in a fold.
#[derive(Clone, Debug)]
struct Stretch {
    from: f64,
    to: f64,
    folds: [bool; 2],
    /// The samples of both branches, see [`BRANCHES`].
    samples: [[Point; SAMPLES]; 2],
}

/// The `theta` of a sample.
fn theta(k: usize) -> f64 {
    (k as f64 - 1.0) * (PI / PARTS as f64)
}

impl Rim {
    /// The rim of two quadrics of which one is a frustum; none of other solids.
    pub(super) fn of(a: &Solid, b: &Solid) -> Option<Self> {
        let (frustum, other) = match (a, b) {
            (Solid::Bend { .. }, _) | (_, Solid::Bend { .. }) => return None,
            // The generators of the thinner one cross the wall of the other.
            (Solid::Frustum { .. }, Solid::Frustum { .. }) if a.widest() > b.widest() => (b, a),
            (Solid::Frustum { .. }, _) => (a, b),
            _ => (b, a),
        };
        let Solid::Frustum { o, e, n, len, r0, k } = *frustum else {
            return None;
        };
        Some(Self {
            o,
            e,
            n,
            len,
            r0,
            k,
            other: *other,
            stretches: OnceLock::new(),
        })
    }

    /// Its lowest point for up `u` between the ends of both solids.
    pub(super) fn lowest(&self, u: &Vector3<f64>) -> Option<Vector3<f64>> {
        // The lower side of the drawing plane.
        let below = -1f64.copysign(u.z);
        let mut best: Option<(f64, Vector3<f64>)> = None;
        let offer = |best: &mut Option<(f64, Vector3<f64>)>, point: Point| {
            if let Some((p, true)) = point {
                let p = Vector3::new(p.x, p.y, below * p.z);
                let height = u.dot(&p);
                if best.is_none_or(|(least, _)| height < least) {
                    *best = Some((height, p));
                }
            }
        };
        if u.z == 0.0 {
            // Without roll the lowest point lies in the drawing plane, where the walls are straight lines.
            for psi in [0.0, PI] {
                if self.discriminant(psi) >= 0.0 {
                    for branch in BRANCHES {
                        offer(&mut best, self.point(psi, branch));
                    }
                }
            }
            return best.map(|(_, p)| p);
        }
        let down = Vector3::new(u.x, u.y, below * u.z);
        let height = |point: &Point| point.map_or(f64::INFINITY, |(p, _)| down.dot(&p));
        // Sampled valleys: height, how far a true one may lie below, and where.
        let mut valleys: Vec<(f64, f64, &Stretch, usize, usize)> = Vec::new();
        for stretch in self.stretches.get_or_init(|| self.find_stretches()) {
            for (branch, samples) in stretch.samples.iter().enumerate() {
                let heights = samples.each_ref().map(height);
                for k in 1..SAMPLES - 1 {
                    let [before, here, after] = [heights[k - 1], heights[k], heights[k + 1]];
                    if here.is_finite() && here <= before && here <= after {
                        // A parabola through the three goes an eighth of this below; a kink, not all of it.
                        let rise = (before - here).max(after - here);
                        valleys.push((here, rise, stretch, branch, k));
                    }
                }
            }
        }
        valleys.sort_unstable_by(|x, y| x.0.total_cmp(&y.0));
        for (here, rise, stretch, branch, k) in valleys {
            if best.is_some_and(|(least, _)| here - rise > least) {
                continue;
            }
            offer(&mut best, stretch.samples[branch][k]);
            let branch = BRANCHES[branch];
            let at = |theta: f64| height(&self.on_stretch(stretch, branch, theta));
            let refined = vertex((theta(k - 1), theta(k + 1)), (theta(k), here), PLACE_RAD, at);
            offer(&mut best, self.on_stretch(stretch, branch, refined));
        }
        best.map(|(_, p)| p)
    }

    /// The point on a branch of a stretch: `theta` below 0 or above pi goes on over the fold into the other one, or is
    /// held at the end.
    fn on_stretch(&self, stretch: &Stretch, branch: f64, theta: f64) -> Point {
        let (branch, theta) = match theta {
            t if t < 0.0 => (if stretch.folds[0] { -branch } else { branch }, -t),
            t if t > PI => (if stretch.folds[1] { -branch } else { branch }, 2.0 * PI - t),
            t => (branch, t),
        };
        self.point(
            stretch.from + 0.5 * (stretch.to - stretch.from) * (1.0 - theta.cos()),
            branch,
        )
    }

    /// The quadratic in `sigma` along the generator of which sine and cosine are given, and between which `sigma` the
    /// other's ends lie.
    fn quadratic_at(&self, (sin, cos): (f64, f64)) -> Option<Along> {
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
        self.quadratic_at(psi.sin_cos())
            .map_or(f64::NAN, |Along { q: [c, b, a], .. }| b * b - 4.0 * a * c)
    }

    /// The point on a branch (the sign of the root) at `psi`.
    fn point(&self, psi: f64, branch: f64) -> Point {
        let (sin, cos) = psi.sin_cos();
        let Along { q: [c, b, a], lo, hi } = self.quadratic_at((sin, cos))?;
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
        let p = self.o + self.e * sigma + self.n * (r * cos);
        let within = sigma >= lo.max(0.0) - CONTACT_MM && sigma <= hi.min(self.len) + CONTACT_MM;
        Some((Vector3::new(p.x, p.y, r * sin), within))
    }

    /// Stretches of `psi` in [0, pi] with a discriminant that is not negative.
    fn find_stretches(&self) -> Vec<Stretch> {
        const SAMPLES: usize = 16;
        let at = |i: usize| PI * i as f64 / SAMPLES as f64;
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
                    stretches.push(self.stretch(from, fold(marks[k - 1].0, psi), [folded, true]));
                    open = None;
                }
                _ => {}
            }
        }
        if let Some((from, folded)) = open {
            stretches.push(self.stretch(from, PI, [folded, false]));
        }
        stretches
    }

    fn stretch(&self, from: f64, to: f64, folds: [bool; 2]) -> Stretch {
        let mut stretch = Stretch {
            from,
            to,
            folds,
            samples: [[None; SAMPLES]; 2],
        };
        let of = |branch: f64| std::array::from_fn(|k| self.on_stretch(&stretch, branch, theta(k)));
        stretch.samples = BRANCHES.map(of);
        stretch
    }
}
