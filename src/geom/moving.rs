//! One move of liquid to another posture, and what it may have got wrong by being one.

use super::liquid::{Body, Liquid};
use super::pools::Spread;
use super::posture::Posture;
use super::pour::STRAY_TIMES;
use super::stream::Rest;

/// A brim farther above what its pool holds than this, as a part of it, is not looked at for dips.
const NEAR_BRIM: f64 = 1.25;

/// A move of the liquid to a posture.
pub(super) struct Move {
    pub(super) spread: Spread,
    /// The pool in which each body has come to rest.
    pools: Vec<Option<usize>>,
    /// Volume that left its hollow in one leap, mm3.
    strayed: f64,
    /// The same one by one: the piece it lay in, where it came to rest, and how much it is, mm3.
    pub(super) leaps: Vec<(usize, Rest, f64)>,
    /// Volume that lay above the common sills of pools that have split, mm3: what their cut may be wrong by.
    parted: f64,
    /// Volume that ran over pools whose way on has changed on the move, mm3: it may have gone the earlier way.
    misled: f64,
}

impl Move {
    /// Of liquid that rests at a posture, to another.
    pub(super) fn new(liquid: &Liquid, from: &Posture<'_>, posture: &Posture<'_>) -> Self {
        let starts = liquid.starts(posture);
        let spread = posture.spread(&starts);
        let moved = liquid.bodies.iter().zip(&starts);
        let strayed = moved.filter(|(body, (rest, _))| !posture.stays(body, *rest, &spread));
        let piece_of = |body: &Body| posture.interior.primitives()[body.primitive].piece;
        let leap = |(body, (rest, _)): (&Body, &(Option<Rest>, f64))| Some((piece_of(body), (*rest)?, body.volume));
        let leaps: Vec<_> = strayed.clone().filter_map(leap).collect();
        let pool = |rest: &Option<Rest>| match rest {
            Some(Rest::Basin(basin)) => Some(posture.joined_basin(*basin, &spread)),
            _ => None,
        };
        let pools: Vec<_> = starts.iter().map(|(rest, _)| pool(rest)).collect();
        let bodies = || liquid.bodies.iter().zip(&pools);
        let apart = |(body, at): &(&Body, &Option<usize>)| {
            body.above > 0.0 && bodies().any(|(other, there)| other.pool == body.pool && there != *at)
        };
        let misled = bodies().filter_map(|(body, pool)| {
            let over = spread.over[(*pool)?];
            (over > 0.0 && posture.route((*pool)?) != from.route(body.pool)).then_some(over)
        });
        Self {
            strayed: strayed.map(|(body, _)| body.volume).sum(),
            leaps,
            parted: bodies().filter(apart).map(|(body, _)| body.above).sum(),
            misled: misled.sum(),
            pools,
            spread,
        }
    }

    /// What brims may have dipped, between start, middle and end of a move, below what they are there, or, of a pool that
    /// does not run, below what it holds, mm3: what two moves do not show. By the parabola through the three.
    pub(super) fn dip(
        liquid: &Liquid,
        at_start: &Posture<'_>,
        (middle, at_middle): (&Self, &Posture<'_>),
        (end, at_end): (&Self, &Posture<'_>),
    ) -> f64 {
        let mut deepest = 0f64;
        for (i, (m, e)) in middle.pools.iter().zip(&end.pools).enumerate() {
            let (Some(m), Some(e)) = (*m, *e) else { continue };
            let together = |k: &usize| middle.pools[*k] == Some(m) && end.pools[*k] == Some(e);
            if (0..i).any(|k| together(&k)) {
                continue;
            }
            let bodies = (i..liquid.bodies.len()).filter(together).map(|k| &liquid.bodies[k]);
            let held: f64 = bodies.clone().map(|body| body.volume).sum();
            let mut pools = bodies.clone().map(|body| body.pool);
            let start = pools.next().filter(|first| pools.all(|pool| pool == *first));
            let runs = bodies.clone().any(|body| body.runs) || middle.spread.over[m] > 0.0 || end.spread.over[e] > 0.0;
            let y0 = match start.filter(|pool| *pool < at_start.basins.len()) {
                _ if runs => held,
                Some(pool) => {
                    let ample = NEAR_BRIM * held;
                    let is_ample = |at: &Posture<'_>, basin| at.easily_holds(basin, ample);
                    if is_ample(at_start, pool) && is_ample(at_middle, m) && is_ample(at_end, e) {
                        continue;
                    }
                    at_start.room(pool)
                }
                None => continue,
            };
            let (y1, y2) = (at_middle.room(m), at_end.room(e));
            let bend = y0 - 2.0 * y1 + y2;
            let vertex = (y0 - y2) / (2.0 * bend);
            if bend > 0.0 && vertex.abs() < 1.0 {
                let lowest = y1 - (y2 - y0) * (y2 - y0) / (8.0 * bend);
                let least = y0.min(y1).min(y2);
                deepest = deepest.max(least.min(held) - lowest);
            }
        }
        deepest
    }

    /// Whether nothing ran and every pool is far from its brim at both ends.
    pub(super) fn is_quiet(&self, liquid: &Liquid, at_start: &Posture<'_>, at_end: &Posture<'_>) -> bool {
        let runs =
            self.astray() > 0.0 || !self.spread.flows.is_empty() || self.spread.lost.iter().any(|lost| *lost > 0.0);
        let held = |pool: usize| -> f64 {
            let own = liquid.bodies.iter().filter(|body| body.pool == pool);
            own.map(|body| body.volume).sum()
        };
        !runs
            && liquid.bodies.iter().all(|body| {
                body.pool < at_start.basins.len() && at_start.easily_holds(body.pool, NEAR_BRIM * held(body.pool))
            })
            && at_end
                .held(&self.spread)
                .all(|pool| at_end.easily_holds(pool, NEAR_BRIM * self.spread.volume[pool]))
    }

    /// What may have gone another way than it would on a shorter move, mm3.
    pub(super) fn astray(&self) -> f64 {
        // A leap is no error in itself, and the volume that leaps does not grow less with the move.
        (self.strayed / STRAY_TIMES).max(self.parted).max(self.misled)
    }

    /// Greatest difference in a volume, mm3, to two moves, the second of them to the same posture.
    pub(super) fn difference(&self, first: &Self, second: &Self, posture: &Posture<'_>) -> f64 {
        let lost = self.spread.lost.iter().enumerate();
        let lost = lost.map(|(port, lost)| lost - first.spread.lost[port] - second.spread.lost[port]);
        // The volumes of pools that are joined in one way only differ by their whole.
        let (mine, theirs) = (self.held(posture), second.held(posture));
        let held = mine.iter().zip(&theirs).map(|(a, b)| a - b);
        lost.chain(held).map(f64::abs).fold(0.0, f64::max)
    }

    /// Volume held by basin, of a pool at its uppermost.
    fn held(&self, posture: &Posture<'_>) -> Vec<f64> {
        let mut held = vec![0.0; posture.basins.len()];
        for basin in posture.held(&self.spread) {
            held[basin] = self.spread.volume[basin];
        }
        held
    }
}
