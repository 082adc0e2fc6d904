//! What runs on as soon as liquid is given: which hollows it fills, in which order.

use super::{Moment, Passage};
use crate::geom::{Liquid, Pool, Posture, RunsTo, Settled};

/// Part of what is given below which a gain is not told.
const LEAST_PART: f64 = 1e-9;
/// The order of filling is found by halving what is given this often.
const HALVINGS: u32 = 12;

/// Gives liquid (piece and mm3) at a stance, one piece after the other, and tells what ran on from there.
pub(super) fn give(posture: &Posture<'_>, given: &[(usize, f64)]) -> (Liquid, Vec<Passage>) {
    let mut liquid = Liquid::default();
    let mut passages = Vec::new();
    for &(piece, volume) in given.iter().filter(|(_, volume)| *volume > 0.0) {
        let before = liquid.at(posture);
        let after = liquid.and_give(posture, &[(piece, volume)]);
        let gains = gains(piece, &before, &after.at(posture), LEAST_PART * volume);
        let mut begun: Vec<(f64, Passage)> = Vec::with_capacity(gains.len());
        for (to, gain) in gains {
            let part_has_come = |part: f64| {
                let some = liquid.and_give(posture, &[(piece, part * volume)]).at(posture);
                let so_far = self::gains(piece, &before, &some, LEAST_PART * volume);
                so_far.iter().any(|(known, _)| *known == to)
            };
            let passage = Passage {
                from: piece,
                to,
                volume: gain,
                begins: Moment::default(),
                ends: Moment::default(),
            };
            begun.push((first_part(part_has_come), passage));
        }
        begun.sort_by(|(a, _), (b, _)| a.total_cmp(b));
        passages.extend(begun.into_iter().map(|(_, passage)| passage));
        liquid = after;
    }
    (liquid, passages)
}

/// The least part for which something holds that holds for the whole.
fn first_part(holds: impl Fn(f64) -> bool) -> f64 {
    let (mut lo, mut hi) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (lo + hi);
        if holds(middle) {
            hi = middle;
        } else {
            lo = middle;
        }
    }
    hi
}

/// What pools other than that of a piece, and ports, have gained, mm3. A pool is named by the piece of its lowest point.
fn gains(piece: usize, before: &Settled, after: &Settled, least: f64) -> Vec<(RunsTo, f64)> {
    let mut gains: Vec<(RunsTo, f64)> = Vec::new();
    for pool in after.pools.iter().filter(|pool| pool.piece != piece) {
        // What was there before is part of the pool that now reaches to its lowest point.
        let was_there = before.pools.iter().filter(|old| owner(old, after) == Some(pool));
        let gain = pool.volume - was_there.map(|old| old.volume).sum::<f64>();
        gains.push((RunsTo::Piece(pool.piece), gain));
    }
    for &(port, lost) in &after.lost {
        let earlier = before.lost.iter().find(|(known, _)| *known == port);
        gains.push((RunsTo::Port(port), lost - earlier.map_or(0.0, |(_, volume)| *volume)));
    }
    gains.retain(|(_, gain)| *gain > least);
    gains
}

/// The pool of which an earlier one has become a part.
fn owner<'a>(old: &Pool, after: &'a Settled) -> Option<&'a Pool> {
    let same = |pool: &&Pool| pool.piece == old.piece && pool.bottom == old.bottom;
    let wetted = after.pools.iter().filter(|pool| pool.pieces.contains(&old.piece));
    let lowest = || wetted.min_by(|a, b| a.bottom.total_cmp(&b.bottom));
    after.pools.iter().find(same).or_else(lowest)
}
