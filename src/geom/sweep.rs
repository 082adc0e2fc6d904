//! Slices that are discs or rings: the wet part of free and coaxial spans, in closed form or by one clustered rule.
//!
//! In a slice the level is a chord at the signed distance `c` from the centre (wet where the rising coordinate is
//! below `c`), so its wet part is a circular segment. Along a straight axis `c` is linear; the places where the level
//! touches the wall (`c = r`, `c = -r`) are roots of a linear equation (frustum), of a quadratic (spheroid, bend). Between
//! them a cylinder is the classical ungula, anything else one Gauss rule. Square to the axis, where the chord sweeps
//! the slice in no distance at all, widths are written without the difference that would cancel.

use super::care::Care;
use super::section::{chord, means, segment};
use super::shape::{Solid, root_sum};
use super::solve::{ALONG, CUT_JOINT, ROUGH_ALONG, adaptive, quadratic};
use super::spans::{Level, radius_on_axis};
use super::tolerance::SQUARE;

/// Volume of a frustum between two places on its axis.
pub(super) fn full_frustum(own: &Solid, a: f64, b: f64) -> f64 {
    let (ra, rb) = (own.radius(a), own.radius(b));
    std::f64::consts::PI * (b - a) * (ra * ra + ra * rb + rb * rb) / 3.0
}

/// Volume of a spheroid between two places on its axis.
pub(super) fn full_spheroid(own: &Solid, a: f64, b: f64) -> f64 {
    let Solid::Spheroid { b: semi, c, .. } = *own else {
        return 0.0;
    };
    let whole = |s: f64| semi * semi * (s - s * s * s / (3.0 * c * c));
    std::f64::consts::PI * (whole(b) - whole(a))
}

/// A spheroid cut by a plane is an affine image of a sphere cut by a plane: pi (1+x)^2 (2-x) / 3 of its scale.
pub(super) fn whole_spheroid(own: &Solid, level: Level<'_>) -> (f64, f64) {
    let Solid::Spheroid { o, e, n, c, b } = *own else {
        return (0.0, 0.0);
    };
    let up = level.u.xy();
    let reach = root_sum(c * up.dot(&e), b * root_sum(up.dot(&n), level.u.z));
    let x = ((level.height - up.dot(&o)) / reach).clamp(-1.0, 1.0);
    let scale = std::f64::consts::PI * b * b * c;
    (
        scale * (1.0 + x) * (1.0 + x) * (2.0 - x) / 3.0,
        scale * (1.0 - x) * (1.0 + x) / reach,
    )
}

/// How a level stands to the slices along a straight axis: the signed distance of the level from the slice's
/// centre, in the slice, is `c = (h0 - a sigma) / across`.
pub(super) struct Cut {
    pub(super) h0: f64,
    pub(super) a: f64,
    pub(super) across: f64,
}

impl Cut {
    pub(super) fn new(own: &Solid, level: Level<'_>) -> Option<Self> {
        match *own {
            Solid::Frustum { o, e, n, .. } | Solid::Spheroid { o, e, n, .. } => {
                let up = level.u.xy();
                Some(Self {
                    h0: level.height - up.dot(&o),
                    a: up.dot(&e),
                    across: root_sum(up.dot(&n), level.u.z),
                })
            }
            Solid::Bend { .. } => None,
        }
    }

    fn above_centre(&self, sigma: f64) -> f64 {
        self.h0 - self.a * sigma
    }

    /// Whether a stretch of a frustum lies wholly below the level; nothing where the level may cut it, and of other solids.
    pub(super) fn passes_by(&self, own: &Solid, (a, b): (f64, f64)) -> Option<bool> {
        // Crest and lowest point of a slice are linear along a frustum.
        let Solid::Frustum { .. } = own else { return None };
        let clears = |side: f64| {
            [a, b]
                .iter()
                .all(|s| side * self.above_centre(*s) >= own.radius(*s) * self.across)
        };
        clears(1.0).then_some(true).or_else(|| clears(-1.0).then_some(false))
    }

    /// Places where the level touches the wall of a slice, and on which side (+1: the slice is just full).
    pub(super) fn touches(&self, own: &Solid) -> [Option<(f64, f64)>; 2] {
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
pub(super) fn along_axis(own: &Solid, met: &[Solid], (a, b): (f64, f64), level: Level<'_>, care: Care) -> (f64, f64) {
    let Some(cut) = Cut::new(own, level) else {
        return (0.0, 0.0);
    };
    let rule = match care {
        Care::Full => &ALONG,
        Care::Shares => &ROUGH_ALONG,
    };
    let inner = |sigma: f64| met.iter().map(|s| radius_on_axis(own, s, sigma)).fold(0.0, f64::max);
    let ring = |sigma: f64| {
        let (r, inner) = (own.radius(sigma), inner(sigma));
        std::f64::consts::PI * (r - inner) * (r + inner)
    };
    let full = |a: f64, b: f64| match own {
        Solid::Frustum { .. } if met.is_empty() => full_frustum(own, a, b),
        Solid::Spheroid { .. } if met.is_empty() => full_spheroid(own, a, b),
        _ => rule.integrate(a, b, |s| (ring(s), 0.0)).0,
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
                    let (area, width) = means(c0 / r, c1 / r);
                    volume += r * r * (s1 - s0) * area;
                    surface += r * by_across * width;
                } else {
                    let (v, s) = rule.integrate(0.0, 1.0, |l| {
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
pub(super) fn bend_touches(own: &Solid, level: Level<'_>) -> Vec<f64> {
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
pub(super) fn bend(own: &Solid, a: f64, b: f64, level: Level<'_>) -> (f64, f64) {
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
        (
            level.height - level.u.xy().dot(&slice.centre),
            un,
            root_sum(un, level.u.z),
        )
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
                // Where the level just misses touching the wall, the chord nearly closes within the stretch: halve there.
                let tolerance = (1e-12 * std::f64::consts::PI * r * r * radius, 1e-9 * r * radius);
                let (v, s) = adaptive(&CUT_JOINT, (from, to), tolerance, 12, &mut |sigma| {
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
