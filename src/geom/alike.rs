//! Joints that are alike but for their place, as those of a row's members with their header: what one holds below a level
//! every other holds below a level as high above its own place. One is integrated, the others take it over.
//!
//! What makes a joint is told in numbers from a place of its own, the group of those alike is found by comparing them.
//! Of a straight tube that passes through only the axis and the bore count, not where it ends.
//!
//! **Error.** The numbers agree to [`ALIKE`]; a level that is off by up to it is made up for by the free surface. So what
//! is taken over differs from what would be integrated by far less than the integration's own error.

use nalgebra::{Vector2, Vector3};
use std::collections::HashMap;
use std::ops::Range;
use std::sync::OnceLock;

use super::shape::Solid;
use super::spans::Span;
use super::tolerance::{ALIKE, CONTACT_MM};

/// Most levels that are remembered for a group at a stance: a pool in a sloping header stands at another one in each
/// member, and a larger pool at the same ones again.
const MOST_LEVELS: usize = 24;
/// Steps to which numbers are rounded to find those that may be alike, mm: far coarser than [`ALIKE`].
const STEP: f64 = 1e-5;

/// A joint's place in its group.
#[derive(Clone, Debug)]
pub(super) struct Alike {
    /// Where the group's levels stand among those that are remembered.
    levels: Range<usize>,
    /// From where its numbers are told, mm.
    origin: Vector2<f64>,
}

/// What a joint holds at a level.
#[derive(Clone, Copy, Debug)]
struct Held {
    /// The stretch, from where the joint begins, and the level above its place, mm.
    from: f64,
    to: f64,
    height: f64,
    volume: f64,
    surface: f64,
}

/// What is remembered at a stance.
#[derive(Clone, Debug)]
pub(super) struct Known(Vec<OnceLock<Held>>);

/// A joint: its primitive, its place among the primitive's spans, and from where its numbers are told.
type Member = (usize, usize, Vector2<f64>);

/// Finds which joints are alike; gives how many levels are remembered for all groups. A joint like no other is in none.
pub(super) fn group(solids: &[Solid], spans: &mut [Vec<Span>]) -> usize {
    let mut looks: Vec<(Vec<f64>, Vec<Member>)> = Vec::new();
    let mut by_steps: HashMap<Vec<i64>, Vec<usize>> = HashMap::new();
    for (solid, own) in solids.iter().enumerate() {
        for (at, span) in spans[solid].iter().enumerate() {
            let Some(met) = span.met_in_joint() else { continue };
            let (origin, look) = look(own, (span.lo, span.hi), met);
            // Only those whose numbers round to the same are compared: a pair at the edge of a step is left apart.
            #[allow(clippy::cast_possible_truncation, reason = "lengths of glass, in steps")]
            let rounded = look.iter().map(|number| (number / STEP).round() as i64).collect();
            let near: &mut Vec<usize> = by_steps.entry(rounded).or_default();
            let same = |group: &&usize| looks[**group].0.iter().zip(&look).all(|(a, b)| (a - b).abs() <= ALIKE);
            match near.iter().find(same) {
                Some(&group) => looks[group].1.push((solid, at, origin)),
                None => {
                    near.push(looks.len());
                    looks.push((look, vec![(solid, at, origin)]));
                }
            }
        }
    }
    let groups = looks
        .into_iter()
        .map(|(_, members)| members)
        .filter(|members| members.len() > 1);
    let mut count = 0;
    for members in groups {
        let levels = count..count + (2 * members.len()).min(MOST_LEVELS);
        count = levels.end;
        for (solid, at, origin) in members {
            let levels = levels.clone();
            spans[solid][at].alike = Some(Alike { levels, origin });
        }
    }
    count
}

/// What makes a joint, in numbers that are the same wherever it stands, and from where they are told.
fn look(own: &Solid, (lo, hi): (f64, f64), met: &[Solid]) -> (Vector2<f64>, Vec<f64>) {
    let mut look = Vec::new();
    let origin = match *own {
        Solid::Frustum { e, k, .. } => {
            look.extend([0.0, e.x, e.y, own.radius(lo), k, hi - lo]);
            own.slice(lo).centre
        }
        Solid::Spheroid { o, e, c, b, .. } => {
            look.extend([1.0, e.x, e.y, c, b, lo, hi]);
            o
        }
        Solid::Bend {
            o,
            radius,
            r,
            start,
            sweep,
        } => {
            look.extend([2.0, radius, r, start, sweep, lo, hi]);
            o
        }
    };
    for other in met {
        match *other {
            Solid::Frustum { o, e, n, r0, k, .. } if k == 0.0 && passes_through(other, own, (lo, hi)) => {
                look.extend([3.0, e.x, e.y, r0, (o - origin).dot(&n)]);
            }
            Solid::Frustum { o, e, len, r0, k, .. } => {
                look.extend([4.0, o.x - origin.x, o.y - origin.y, e.x, e.y, len, r0, k]);
            }
            Solid::Spheroid { o, e, c, b, .. } => {
                look.extend([5.0, o.x - origin.x, o.y - origin.y, e.x, e.y, c, b]);
            }
            Solid::Bend {
                o,
                radius,
                r,
                start,
                sweep,
            } => look.extend([6.0, o.x - origin.x, o.y - origin.y, radius, r, start, sweep]),
        }
    }
    (origin, look)
}

/// Whether a straight tube reaches beyond a stretch of a frustum on both sides.
fn passes_through(tube: &Solid, own: &Solid, (lo, hi): (f64, f64)) -> bool {
    let (Solid::Frustum { o, e, len, .. }, Solid::Frustum { .. }) = (tube, own) else {
        return false;
    };
    [lo, hi].into_iter().all(|sigma| {
        let slice = own.slice(sigma);
        [-slice.r, slice.r].into_iter().all(|across| {
            let along = (slice.centre + slice.n * across - o).dot(e);
            along > CONTACT_MM && along < len - CONTACT_MM
        })
    })
}

impl Known {
    /// Nothing yet, with room for so many levels.
    pub(super) fn new(levels: usize) -> Self {
        Self(vec![OnceLock::new(); levels])
    }

    /// Volume (mm3) that a span holds from `a` to `b` below a level whose height along `up` is `height`, and the free
    /// surface (mm2): taken over from one alike, or found by `integrate` and remembered if the level `is_shared` by others.
    pub(super) fn held(
        &self,
        span: &Span,
        (a, b): (f64, f64),
        (up, height): (&Vector3<f64>, f64),
        is_shared: bool,
        integrate: impl FnOnce() -> (f64, f64),
    ) -> (f64, f64) {
        let Some(alike) = &span.alike else {
            return integrate();
        };
        let (from, to) = (a - span.lo, b - span.lo);
        let height = height - up.xy().dot(&alike.origin);
        let is_near = |x: f64, y: f64| (x - y).abs() <= ALIKE;
        for level in &self.0[alike.levels.clone()] {
            match level.get() {
                Some(held) if is_near(held.from, from) && is_near(held.to, to) && is_near(held.height, height) => {
                    return (held.volume + held.surface * (height - held.height), held.surface);
                }
                Some(_) => {}
                None if is_shared => {
                    let (volume, surface) = integrate();
                    // Another thread may have been faster; both are right.
                    let _ = level.set(Held {
                        from,
                        to,
                        height,
                        volume,
                        surface,
                    });
                    return (volume, surface);
                }
                None => break,
            }
        }
        integrate()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::spans::Level;
    use crate::geom::{Interior, Primitive, Shape, Stance};

    /// A sloping header with four vials square to it, of which the last is wider.
    fn comb() -> Interior {
        let along = Vector2::new(0.99, 0.1).normalize();
        let down = Vector2::new(along.y, -along.x);
        let tube = |piece, from: Vector2<f64>, to: Vector2<f64>, r| Primitive {
            piece,
            shape: Shape::Frustum {
                from,
                to,
                r_from: r,
                r_to: r,
            },
        };
        let mut primitives = vec![tube(0, along * -3.0, along * 160.0, 7.2)];
        for (k, r) in [3.0, 3.0, 3.0, 4.0].into_iter().enumerate() {
            let from = along * (30.0 + 34.0 * k as f64);
            primitives.push(tube(k + 1, from, from + down * 60.0, r));
        }
        let names = ["header", "a", "b", "c", "d"].map(str::to_owned).to_vec();
        Interior::new(names, primitives, Vec::new()).expect("the comb is sound")
    }

    #[test]
    fn joints_of_like_members_are_alike_and_hold_alike() {
        let comb = comb();
        let joint = |k: usize| {
            comb.spans[k]
                .iter()
                .find(|span| span.is_joint())
                .expect("it meets the header")
        };
        let place = |k| joint(k).alike.as_ref().map(|alike| alike.levels.clone());
        assert!(place(1).is_some() && place(1) == place(2) && place(2) == place(3));
        assert_eq!(place(4), None, "a wider one is like no other");
        // What is taken over is what would have been integrated.
        for stance in [
            Stance::new(-10.0, 0.0),
            Stance::new(35.0, 20.0),
            Stance::new(80.0, -65.0),
        ] {
            let up = stance.up();
            let known = Known::new(comb.alike_levels);
            for (turn, k) in [1, 3, 2, 1].into_iter().enumerate() {
                let (span, solid) = (joint(k), &comb.solids[k]);
                let middle = solid.slice(0.5 * (span.lo + span.hi)).centre;
                // Off by what two members' levels may differ.
                let height = up.xy().dot(&middle) + 0.3 + 2e-10 * turn as f64;
                let level = Level { u: &up, height };
                let own = span.wet_between(solid, span.lo, span.hi, level);
                let found = known.held(span, (span.lo, span.hi), (&up, height), true, || {
                    assert_eq!(turn, 0, "the others take it over");
                    own
                });
                assert!(own.0 > 0.1 && own.1 > 0.1, "the level cuts it: {own:?}");
                assert!((found.0 - own.0).abs() < 1e-9 * own.0, "{found:?} {own:?}");
                assert!((found.1 - own.1).abs() < 1e-6 * own.1, "{found:?} {own:?}");
            }
        }
    }

    #[test]
    fn a_tube_that_ends_within_a_joint_does_not_pass_through() {
        let comb = comb();
        let (header, vial) = (&comb.solids[0], &comb.solids[1]);
        let span = &comb.spans[1][0];
        assert!(passes_through(header, vial, (span.lo, span.hi)));
        // It ends 1 mm beyond the vial's axis, which its bore of 3 mm does not clear.
        let from = Vector2::new(0.99, 0.1).normalize() * -3.0;
        let short = Solid::new(&Shape::Frustum {
            from,
            to: from / -3.0 * 31.0,
            r_from: 7.2,
            r_to: 7.2,
        });
        assert!(!passes_through(&short, vial, (span.lo, span.hi)));
    }
}
