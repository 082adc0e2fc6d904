//! Bores shut at a place: a vessel sealed off at its neck, or a neck in which a plug of liquid lets nothing pass.
//!
//! Shutting a bore cuts its frustum in two that do not touch: [`GAP_MM`] of it is left out. All else stays, so a vessel
//! behind a shut neck still holds what it held, and the liquid in it moves as the glass turns. The volume left out is
//! that gap's, some 1e-3 mm3 for a neck.

use nalgebra::Vector2;

use super::interior::{Interior, InteriorError, LEAST_MM};
use super::liquid::Liquid;
use super::shape::{Primitive, Shape, Solid};

/// Length of bore left out where it is shut, mm: well above what counts as touching, far below any length of work.
const GAP_MM: f64 = 1e-4;
/// Shortest part that is left on either side, mm: twice what a bore must have.
const SHORTEST_MM: f64 = 2.0 * LEAST_MM;

/// A place at which a straight bore of a piece is shut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    /// Index of the piece.
    pub piece: usize,
    /// Place on the axis of the bore, mm.
    pub at: Vector2<f64>,
}

/// An interior with bores shut.
#[derive(Clone, Debug)]
pub struct Shut {
    /// The interior as it then is; its pieces and ports are those of the whole one.
    pub interior: Interior,
    /// For each primitive of the whole interior, its parts: the first index, and where along it the next part begins.
    parts: Vec<(usize, Vec<f64>)>,
    /// For each part, the primitive of the whole interior.
    origins: Vec<usize>,
}

impl Interior {
    /// The interior with bores shut. A bar where its piece has no straight bore shuts nothing.
    ///
    /// # Errors
    /// When there are too many parts.
    pub fn shut(&self, bars: &[Bar]) -> Result<Shut, InteriorError> {
        let mut cuts: Vec<Vec<f64>> = vec![Vec::new(); self.primitives().len()];
        for bar in bars {
            if let Some((primitive, sigma)) = self.bore_at(bar) {
                cuts[primitive].push(sigma);
            }
        }
        let (mut primitives, mut parts, mut origins) = (Vec::new(), Vec::new(), Vec::new());
        for (i, primitive) in self.primitives().iter().enumerate() {
            let mut ends = std::mem::take(&mut cuts[i]);
            ends.sort_by(f64::total_cmp);
            ends.dedup_by(|later, earlier| *later - *earlier <= SHORTEST_MM + GAP_MM);
            parts.push((primitives.len(), ends.clone()));
            primitives.extend(split(primitive, &ends));
            origins.resize(primitives.len(), i);
        }
        Ok(Shut {
            interior: Self::with(self.pieces().to_vec(), primitives, self.ports().to_vec(), self.care)?,
            parts,
            origins,
        })
    }

    /// The frustum of a piece on whose axis a place lies, and how far along; away from its ends by more than the gap.
    fn bore_at(&self, bar: &Bar) -> Option<(usize, f64)> {
        const ON_AXIS_MM: f64 = 1e-6;
        let mut own = self
            .primitives()
            .iter()
            .enumerate()
            .filter(|(_, p)| p.piece == bar.piece);
        own.find_map(|(i, _)| {
            let Solid::Frustum { o, e, n, len, .. } = self.solids[i] else {
                return None;
            };
            let (along, aside) = ((bar.at - o).dot(&e), (bar.at - o).dot(&n));
            let is_on = aside.abs() <= ON_AXIS_MM && along >= -ON_AXIS_MM && along <= len + ON_AXIS_MM;
            (is_on && len > 3.0 * SHORTEST_MM).then(|| (i, along.clamp(SHORTEST_MM, len - SHORTEST_MM)))
        })
    }
}

/// The parts of a primitive between the places where it is shut, mm along its axis.
fn split(primitive: &Primitive, ends: &[f64]) -> Vec<Primitive> {
    let Shape::Frustum { from, to, r_from, r_to } = primitive.shape else {
        return vec![*primitive];
    };
    let len = (to - from).norm();
    let at = |s: f64| (from + (to - from) * (s / len), r_from + (r_to - r_from) * (s / len));
    let mut parts = Vec::with_capacity(ends.len() + 1);
    let mut start = (from, r_from);
    for &end in ends {
        let (to, r_to) = at(end - 0.5 * GAP_MM);
        let (from, r_from) = start;
        parts.push(Shape::Frustum { from, to, r_from, r_to });
        start = at(end + 0.5 * GAP_MM);
    }
    let (from, r_from) = start;
    parts.push(Shape::Frustum { from, to, r_from, r_to });
    let piece = primitive.piece;
    parts.into_iter().map(|shape| Primitive { piece, shape }).collect()
}

impl Shut {
    /// Liquid of the whole interior, as it lies in this one. What stood across a shut place goes to the side of its
    /// deepest point: let it come to rest before anything is shut there.
    pub fn enter(&self, whole: &Interior, liquid: &Liquid) -> Liquid {
        liquid.renamed(|primitive, at| {
            let (first, ends) = &self.parts[primitive];
            let sigma = whole.solids[primitive].sigma_of(&at.xy());
            first + ends.iter().filter(|end| **end <= sigma).count()
        })
    }

    /// Liquid of this interior, as it lies in the whole one.
    pub fn leave(&self, liquid: &Liquid) -> Liquid {
        liquid.renamed(|primitive, _| self.origins[primitive])
    }
}

/// A narrow bore through which alone a part of the interior meets the rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Neck {
    /// Where it is shut by a plug of liquid: at its outer end.
    pub bar: Bar,
    /// Unit vector from there into what is behind it.
    pub inward: Vector2<f64>,
    /// Bore radius there, mm.
    pub r: f64,
    /// Least bore radius along it, mm.
    pub least_r: f64,
    /// Piece (index) behind it that holds most.
    pub vessel: usize,
    /// Volume behind it, mm3.
    pub volume: f64,
}

impl Interior {
    /// Dead ends behind bores narrower than `limit`, mm of radius: parts without a port that meet the rest through that
    /// bore alone. Of several such bores in a row the outermost counts. Without any port, what lies behind the neck is
    /// the side that holds less.
    ///
    /// Cost: the number of narrow bores times that of all.
    pub fn necks(&self, limit: f64) -> Vec<Neck> {
        let mut necks: Vec<(Vec<bool>, Neck)> = Vec::new();
        let whole = self.total_volume();
        for (i, solid) in self.solids.iter().enumerate() {
            let Solid::Frustum { o, e, len, r0, k, .. } = *solid else {
                continue;
            };
            let (near, far) = (r0, r0 + k * len);
            // A tip is no bore.
            if near.min(far) >= limit || near.min(far) <= 0.0 {
                continue;
            }
            let seen = &mut vec![false; self.solids.len()];
            seen[i] = true;
            for start in self.beside(i) {
                if seen[start] {
                    continue;
                }
                let behind = self.reached(start, seen);
                let volume: f64 = behind.iter().map(|&p| self.full(p)).sum();
                let is_open = behind.iter().any(|&p| self.openings.iter().any(|o| o.primitive == p));
                if is_open || self.ports().is_empty() && volume > 0.5 * whole {
                    continue;
                }
                let is_behind = |p: usize| behind.contains(&p);
                let Some((sigma, way)) = self.outer_place(i, limit, is_behind) else {
                    continue;
                };
                let mut inside = vec![false; self.solids.len()];
                behind.iter().for_each(|&p| inside[p] = true);
                let vessel = self.greatest_piece(&behind);
                let bar = Bar {
                    piece: self.primitives()[i].piece,
                    at: o + e * sigma,
                };
                let r = r0 + k * sigma;
                let least_r = behind.iter().fold(near.min(far), |least, &p| match self.solids[p] {
                    Solid::Frustum { r0, k, len, .. } if r0.min(r0 + k * len) > 0.0 => least.min(r0).min(r0 + k * len),
                    _ => least,
                });
                inside[i] = true;
                let neck = Neck {
                    bar,
                    inward: e * way,
                    r,
                    least_r,
                    vessel,
                    volume,
                };
                necks.push((inside, neck));
            }
        }
        // Of nested dead ends the outermost.
        let size = |inside: &Vec<bool>| inside.iter().filter(|x| **x).count();
        necks.sort_by_key(|(inside, _)| std::cmp::Reverse(size(inside)));
        let mut kept: Vec<(Vec<bool>, Neck)> = Vec::new();
        for (inside, neck) in necks {
            let covered = |(outer, _): &(Vec<bool>, Neck)| inside.iter().zip(outer).all(|(x, y)| !x || *y);
            if !kept.iter().any(covered) {
                kept.push((inside, neck));
            }
        }
        let mut necks: Vec<Neck> = kept.into_iter().map(|(_, neck)| neck).collect();
        necks.sort_by_key(|neck| neck.vessel);
        necks
    }

    /// Primitives that meet one.
    fn beside(&self, primitive: usize) -> impl Iterator<Item = usize> + '_ {
        self.touching[primitive]
            .iter()
            .map(move |&l| self.links[l].from(primitive).0)
    }

    /// Where along a frustum, mm, its bore is first below a radius, coming from what is not behind it, and clear of the
    /// mouths of all that; and 1 when what is behind lies that way, -1 when it lies the other. None where those mouths
    /// take all of it.
    fn outer_place(&self, own: usize, limit: f64, is_behind: impl Fn(usize) -> bool) -> Option<(f64, f64)> {
        let Solid::Frustum { len, r0, k, .. } = self.solids[own] else {
            return None;
        };
        let reaches = || self.touching[own].iter().map(|&l| self.links[l].from(own));
        let middle = |(_, (a, b)): (usize, (f64, f64))| 0.5 * (a + b);
        let (inner, count) = reaches()
            .filter(|(p, _)| is_behind(*p))
            .map(middle)
            .fold((0.0, 0.0), |(sum, n), at| (sum + at, n + 1.0));
        let outer = reaches().filter(|(p, _)| !is_behind(*p)).map(|(_, reach)| reach);
        let narrow = (limit - r0) / k;
        let (sigma, way) = if inner > 0.5 * len * count {
            let clear = outer.map(|reach| reach.1).fold(0.0, f64::max);
            (if r0 >= limit { clear.max(narrow) } else { clear }, 1.0)
        } else {
            let clear = outer.map(|reach| reach.0).fold(len, f64::min);
            (
                if r0 + k * len >= limit {
                    clear.min(narrow)
                } else {
                    clear
                },
                -1.0,
            )
        };
        let is_within = sigma >= 0.0 && sigma <= len && len > 3.0 * SHORTEST_MM;
        is_within.then(|| (sigma.clamp(SHORTEST_MM, len - SHORTEST_MM), way))
    }

    /// What hangs together with a primitive, past those already seen.
    fn reached(&self, start: usize, seen: &mut [bool]) -> Vec<usize> {
        let (mut open, mut found) = (vec![start], Vec::new());
        seen[start] = true;
        while let Some(p) = open.pop() {
            found.push(p);
            for q in self.beside(p) {
                if !std::mem::replace(&mut seen[q], true) {
                    open.push(q);
                }
            }
        }
        found
    }

    fn greatest_piece(&self, primitives: &[usize]) -> usize {
        let mut volumes = std::collections::BTreeMap::new();
        for &p in primitives {
            *volumes.entry(self.primitives()[p].piece).or_insert(0.0) += self.full(p);
        }
        let greatest = volumes.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
        greatest.map_or(0, |(piece, _)| piece)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Port, Postures, RunsTo, Stance, pour};

    fn tube(piece: usize, from: (f64, f64), to: (f64, f64), radii: (f64, f64)) -> Primitive {
        let shape = Shape::Frustum {
            from: Vector2::new(from.0, from.1),
            to: Vector2::new(to.0, to.1),
            r_from: radii.0,
            r_to: radii.1,
        };
        Primitive { piece, shape }
    }

    /// A header, open at its right end, with two vials below: one on a stem of 4 mm bore radius, one of 2 mm.
    fn manifold() -> Interior {
        let primitives = vec![
            tube(0, (0.0, 0.0), (120.0, 0.0), (8.0, 8.0)),
            tube(1, (30.0, 0.0), (30.0, -30.0), (4.0, 4.0)),
            tube(1, (30.0, -30.0), (30.0, -60.0), (6.0, 6.0)),
            tube(2, (80.0, 0.0), (80.0, -20.0), (4.0, 4.0)),
            tube(2, (80.0, -20.0), (80.0, -30.0), (4.0, 2.0)),
            tube(2, (80.0, -30.0), (80.0, -60.0), (6.0, 6.0)),
        ];
        let port = Port {
            piece: 0,
            at: Vector2::new(120.0, 0.0),
            heading: 0.0,
            r: 8.0,
        };
        let names = ["header", "wide", "narrow"].map(str::to_owned).to_vec();
        Interior::new(names, primitives, vec![port]).unwrap()
    }

    #[test]
    fn a_dead_end_behind_a_narrow_bore_is_found_and_none_behind_a_wide_one() {
        let manifold = manifold();
        assert_eq!(manifold.necks(1.9), []);
        let necks = manifold.necks(3.0);
        let [neck] = &necks[..] else { panic!("{necks:?}") };
        assert_eq!((neck.bar.piece, neck.vessel), (2, 2));
        // Within the cone where its radius is 3 mm, halfway down; what is behind is the body.
        assert!(
            (neck.bar.at - Vector2::new(80.0, -25.0)).norm() < 1e-9,
            "{:?}",
            neck.bar.at
        );
        assert!((neck.volume - std::f64::consts::PI * 36.0 * 30.0).abs() < 1e-6);
        // With a limit above all stems each vial is one dead end, shut below the mouth in the header.
        let necks = manifold.necks(5.0);
        assert_eq!(necks.iter().map(|n| n.vessel).collect::<Vec<_>>(), [1, 2]);
        assert!(
            necks.iter().all(|n| n.bar.at.y < -7.9 && n.bar.at.y > -8.1),
            "{necks:?}"
        );
    }

    #[test]
    fn a_shut_neck_lets_nothing_in_and_nothing_out() {
        let manifold = manifold();
        let bars: Vec<Bar> = manifold.necks(3.0).into_iter().map(|n| n.bar).collect();
        let shut = manifold.shut(&bars).unwrap();
        assert!((shut.interior.total_volume() - manifold.total_volume()).abs() < 0.01);
        let (from, to) = (Stance::default(), Stance::new(-60.0, 0.0));
        let whole = manifold.at(from).give(&[(1, 3_000.0), (2, 500.0)]);
        let liquid = shut.enter(&manifold, &whole);
        let poured = pour(&Postures::new(&shut.interior), liquid, from, to);
        let left = shut.leave(&poured.last()).at(&manifold.at(to));
        let narrow: f64 = left
            .pools
            .iter()
            .flat_map(|p| &p.shares)
            .filter(|s| s.0 == 2)
            .map(|s| s.1)
            .sum();
        assert!((narrow - 500.0).abs() < 1e-6, "{narrow}");
        assert!(
            poured.transfers.iter().all(|t| t.from == 1 && t.to == RunsTo::Port(0)),
            "{:?}",
            poured.transfers
        );
    }

    #[test]
    fn a_bar_off_the_axis_shuts_nothing() {
        let manifold = manifold();
        let bar = |x: f64, y: f64| Bar {
            piece: 2,
            at: Vector2::new(x, y),
        };
        let parts = |bars: &[Bar]| manifold.shut(bars).unwrap().interior.primitives().len();
        assert_eq!(parts(&[bar(80.1, -10.0)]), 6);
        assert_eq!(parts(&[bar(80.0, -10.0)]), 7);
        assert_eq!(parts(&[bar(80.0, -10.0), bar(80.0, -10.0), bar(80.0, -12.0)]), 8);
    }
}
