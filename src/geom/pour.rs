//! Pouring: what becomes of liquid while the glass turns slowly from one stance to another.
//!
//! **State.** Liquid is a list of bodies, each a volume at the deepest point of its hollow. One *move* takes it to another
//! stance: every body follows the floor from its point into the hollow there, and what that cannot hold runs on as in
//! [`Posture::settle`]. A pool that lies over several hollows is one body for each, cut at their common sills.
//!
//! **Exactness.** While the way of every stream stays the same and no brim of a running pool passes its least value, one
//! move gives the same as any number of smaller ones: a vessel has given up what its last brim does not hold. So the
//! path is halved wherever one move and two disagree by more than [`PART`] of the charge, or a body has left its hollow
//! in one leap, down to [`LEAST_DEG`]. The halving closes in on every event at which the way of the liquid changes: a
//! sill that vanishes, a pool that splits, a stream that finds another mouth. What is left of the error is of the order of
//! [`PART`] for each such event. Events that fall together within [`STEP_DEG`] and undo each other there are not seen.
//!
//! **Stances of transfers.** A transfer begins where the volume that a pool holds equals its brim: a root within the
//! move in which it was first seen, to [`BEGIN_DEG`]. It ends where its volume no longer grows.

use nalgebra::Vector3;

use super::interior::Interior;
use super::pools::{RunsTo, Settled, Spread};
use super::posture::Posture;
use super::solve::bracketed_root;
use super::stance::Stance;
use super::stream::Rest;

/// Longest move that is tried, degrees of tilt or roll.
const STEP_DEG: f64 = 2.0;
/// Shortest move, degrees: an event is known to this.
const LEAST_DEG: f64 = 1e-9;
/// Part of the charge by which one move and two may differ.
const PART: f64 = 1e-9;
/// Part of the charge that may leave a hollow in one leap: where it then lies is exact, whence it came is not noted.
const STRAY_PART: f64 = 1e-6;
/// The begin of a transfer is found to this, degrees.
const BEGIN_DEG: f64 = 1e-8;
/// The end of a transfer is found to this, degrees.
const END_DEG: f64 = 1e-4;
/// Part of a move's flow that has passed at its end.
const ENDED_PART: f64 = 1e-6;
/// A transfer that rests for less than this, degrees, goes on.
const PAUSE_DEG: f64 = 0.01;

/// A volume in a hollow.
#[derive(Clone, Copy, Debug)]
struct Body {
    /// Primitive whose floor holds the deepest point.
    primitive: usize,
    /// The deepest point, in the axes of the apparatus.
    at: Vector3<f64>,
    /// Volume, mm3.
    volume: f64,
    /// Whether its pool has just run over.
    runs: bool,
    /// Number of its pool, and, of a pool over several hollows, what lies above the brim of this one, mm3.
    pool: usize,
    above: f64,
    /// Where its pool would run on to.
    route: Option<RunsTo>,
}

/// Liquid in an interior at some stance, and what has been lost so far.
#[derive(Clone, Debug, Default)]
pub struct Liquid {
    bodies: Vec<Body>,
    lost: Vec<f64>,
    left_over: f64,
}

/// Liquid that ran from one place to another in one go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transfer {
    /// Piece (index) that holds the lowest point of the pool that gave it up.
    pub from: usize,
    /// Where it came to rest, past every pool at its brim.
    pub to: RunsTo,
    /// Volume, mm3.
    pub volume: f64,
    /// Where it began and ended, as a part of the way from the first stance (0) to the last (1).
    pub begins: f64,
    /// See `begins`.
    pub ends: f64,
}

/// What a turn did to the liquid.
#[derive(Clone, Debug, Default)]
pub struct Poured {
    /// The liquid along the way: the part of the way, ascending from 0 to 1, and the liquid there.
    pub states: Vec<(f64, Liquid)>,
    /// What ran where, in the order in which it began.
    pub transfers: Vec<Transfer>,
}

impl Poured {
    /// The liquid at the end of the way.
    pub fn last(&self) -> Liquid {
        self.states.last().map(|(_, liquid)| liquid.clone()).unwrap_or_default()
    }

    /// The liquid at the last known place at or before a part of the way; [`Liquid::at`] takes it on from there.
    pub fn before(&self, part: f64) -> Liquid {
        let after = self.states.partition_point(|(at, _)| *at <= part);
        let state = after.checked_sub(1).and_then(|i| self.states.get(i));
        state.map(|(_, liquid)| liquid.clone()).unwrap_or_default()
    }
}

impl Liquid {
    /// Volume in the glass, mm3.
    pub fn volume(&self) -> f64 {
        self.bodies.iter().map(|body| body.volume).sum()
    }

    /// Volume lost by port (index), mm3.
    pub fn lost(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.lost.iter().copied().enumerate().filter(|(_, v)| *v > 0.0)
    }

    /// The liquid at rest at a stance next to the one where it was taken.
    pub fn at(&self, posture: &Posture<'_>) -> Settled {
        let mut settled = posture.settled(&Move::new(self, posture).spread);
        settled.lost = self.with_losses(&settled.lost).lost().collect();
        settled.left_over += self.left_over;
        settled
    }

    fn with_losses(&self, more: &[(usize, f64)]) -> Self {
        let mut lost = self.lost.clone();
        for &(port, volume) in more {
            if lost.len() <= port {
                lost.resize(port + 1, 0.0);
            }
            lost[port] += volume;
        }
        Self {
            bodies: Vec::new(),
            lost,
            left_over: self.left_over,
        }
    }
}

impl Posture<'_> {
    /// Liquid given to pieces (index, mm3) at this stance, at rest.
    pub fn give(&self, given: &[(usize, f64)]) -> Liquid {
        Liquid::default().after(self, &self.spread(&self.starts(given)))
    }
}

impl Liquid {
    /// The same with more liquid, mm3, given to pieces (index) at this stance.
    pub fn and_give(&self, posture: &Posture<'_>, given: &[(usize, f64)]) -> Self {
        let mut starts = self.starts(posture);
        starts.extend(posture.starts(given));
        self.after(posture, &posture.spread(&starts))
    }

    fn starts(&self, posture: &Posture<'_>) -> Vec<(Option<Rest>, f64)> {
        let bodies = self.bodies.iter();
        bodies
            .map(|body| (posture.rest_from(body.primitive, body.at), body.volume))
            .collect()
    }

    /// What is known after it has spread at a posture.
    fn after(&self, posture: &Posture<'_>, spread: &Spread) -> Self {
        let losses: Vec<_> = spread.lost.iter().copied().enumerate().collect();
        let mut next = self.with_losses(&losses);
        next.left_over += spread.left_over;
        for basin in posture.held(spread) {
            let first = next.bodies.len();
            posture.cut(basin, (basin, spread.volume[basin]), spread, &mut next.bodies);
            let route = posture.route(basin);
            next.bodies[first..].iter_mut().for_each(|body| body.route = route);
        }
        next
    }
}

impl Posture<'_> {
    /// The bodies of a pool: one for each of its hollows, cut at their common sills. What lies above these goes with
    /// the deepest.
    fn cut(&self, basin: usize, (pool, volume): (usize, f64), spread: &Spread, bodies: &mut Vec<Body>) {
        let held = &self.basins[basin];
        match held.parts.filter(|_| spread.joined[basin]) {
            None if volume > 0.0 => {
                let node = &self.nodes[held.bottom_node];
                bodies.push(Body {
                    primitive: node.primitive,
                    at: node.bottom_at,
                    volume,
                    runs: spread.over[basin] > 0.0,
                    pool,
                    above: spread.room[basin].map_or(0.0, |room| volume - room).max(0.0),
                    route: None,
                });
            }
            None => {}
            Some(parts) => {
                let [deep, other] = if self.basins[parts[0]].bottom_node == held.bottom_node {
                    parts
                } else {
                    [parts[1], parts[0]]
                };
                let room = spread.room[other].unwrap_or(0.0).min(volume);
                self.cut(deep, (pool, volume - room), spread, bodies);
                self.cut(other, (pool, room), spread, bodies);
            }
        }
    }

    /// The piece or port into which a basin runs over first.
    fn route(&self, basin: usize) -> Option<RunsTo> {
        self.overflow(basin).map(|rest| match rest {
            Rest::Basin(basin) => RunsTo::Piece(self.piece_of_basin(basin)),
            Rest::Port(port) => RunsTo::Port(port),
        })
    }

    /// Whether a body that has come to rest in a basin lay in the same hollow before.
    fn stays(&self, body: &Body, rest: Option<Rest>, spread: &Spread) -> bool {
        let Some(Rest::Basin(basin)) = rest else { return false };
        let basin = self.joined_basin(basin, spread);
        let node = self.node_at(body.primitive, &body.at);
        let sill = self.basins[basin].sill;
        self.within(basin, node) && sill.is_none_or(|s| self.up.dot(&body.at) <= s.height)
    }
}

/// A move of the liquid to a posture.
struct Move {
    spread: Spread,
    /// The pool in which each body has come to rest.
    pools: Vec<Option<usize>>,
    /// Volume that left its hollow in one leap, mm3.
    strayed: f64,
    /// Volume that lay above the common sills of pools that have split, mm3: what their cut may be wrong by.
    parted: f64,
    /// Volume that ran over pools whose way on has changed on the move, mm3: it may have gone the earlier way.
    misled: f64,
}

impl Move {
    fn new(liquid: &Liquid, posture: &Posture<'_>) -> Self {
        let starts = liquid.starts(posture);
        let spread = posture.spread(&starts);
        let moved = liquid.bodies.iter().zip(&starts);
        let strayed = moved.filter(|(body, (rest, _))| !posture.stays(body, *rest, &spread));
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
            (over > 0.0 && posture.route((*pool)?) != body.route).then_some(over)
        });
        Self {
            strayed: strayed.map(|(body, _)| body.volume).sum(),
            parted: bodies().filter(apart).map(|(body, _)| body.above).sum(),
            misled: misled.sum(),
            pools,
            spread,
        }
    }

    /// What the brims of running pools may have dipped below what they are at the middle and the end of a move, mm3:
    /// what two moves do not show. By the parabola through start, middle and end.
    fn dip(liquid: &Liquid, middle: &Self, end: &Self) -> f64 {
        let mut deepest = 0f64;
        for (i, (m, e)) in middle.pools.iter().zip(&end.pools).enumerate() {
            let (Some(m), Some(e)) = (*m, *e) else { continue };
            if !liquid.bodies[i].runs && middle.spread.over[m] <= 0.0 && end.spread.over[e] <= 0.0 {
                continue;
            }
            let (Some(y1), Some(y2)) = (middle.spread.room[m], end.spread.room[e]) else {
                continue;
            };
            let together = |k: &usize| middle.pools[*k] == Some(m) && end.pools[*k] == Some(e);
            if (0..i).any(|k| together(&k)) {
                continue;
            }
            let y0: f64 = (i..liquid.bodies.len())
                .filter(together)
                .map(|k| liquid.bodies[k].volume)
                .sum();
            let bend = y0 - 2.0 * y1 + y2;
            let vertex = (y0 - y2) / (2.0 * bend);
            if bend > 0.0 && vertex.abs() < 1.0 {
                let lowest = y1 - (y2 - y0) * (y2 - y0) / (8.0 * bend);
                deepest = deepest.max(y0.min(y1).min(y2) - lowest);
            }
        }
        deepest
    }

    /// Greatest difference in a volume, mm3, to two moves, the second of them to the same posture.
    fn difference(&self, first: &Self, second: &Self, posture: &Posture<'_>) -> f64 {
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

/// Turns the glass slowly from one stance to another, tilt and roll each in proportion to the way, with liquid that
/// rests at the first.
pub fn pour(interior: &Interior, liquid: Liquid, from: Stance, to: Stance) -> Poured {
    let (tilt, roll) = (to.tilt_deg - from.tilt_deg, to.roll_deg - from.roll_deg);
    let span_deg = tilt.abs().max(roll.abs());
    let mut walk = Walk {
        interior,
        from,
        to,
        span_deg,
        tolerance: PART * liquid.volume(),
        liquid: liquid.clone(),
        open: Vec::new(),
        last: None,
        poured: Poured {
            states: vec![(0.0, liquid)],
            transfers: Vec::new(),
        },
    };
    if walk.liquid.bodies.is_empty() || span_deg == 0.0 {
        let state = (1.0, walk.liquid);
        walk.poured.states.push(state);
        return walk.poured;
    }
    let steps = (span_deg / STEP_DEG).ceil();
    let mut i = 0.0;
    while i < steps {
        let (a, b) = (i / steps, (i + 1.0) / steps);
        let end = walk.posture(b);
        let whole = Move::new(&walk.liquid, &end);
        walk.advance(a, b, &end, whole);
        i += 1.0;
    }
    walk.finish()
}

/// A transfer under way.
struct Open {
    /// Its place in the list.
    index: usize,
    /// Volume that passed in the last move, mm3.
    passed: f64,
    /// Whether it goes on in the move that is being taken.
    is_running: bool,
}

/// The last move: from where to where on the way, and the liquid before it.
struct Last {
    a: f64,
    b: f64,
    before: Liquid,
    /// Pieces that reached their brim in it, and where on the way.
    filled: Vec<(usize, f64)>,
}

struct Walk<'a> {
    interior: &'a Interior,
    from: Stance,
    to: Stance,
    span_deg: f64,
    tolerance: f64,
    liquid: Liquid,
    open: Vec<Open>,
    last: Option<Last>,
    poured: Poured,
}

impl<'a> Walk<'a> {
    fn posture(&self, part: f64) -> Posture<'a> {
        self.interior.at(between(self.from, self.to, part))
    }

    /// Goes from `a` to `b`, whose posture is `end`; `whole` is the one move there.
    fn advance(&mut self, a: f64, b: f64, end: &Posture<'a>, whole: Move) {
        let middle = 0.5 * (a + b);
        let mid = self.posture(middle);
        let first = Move::new(&self.liquid, &mid);
        let second = Move::new(&self.liquid.after(&mid, &first.spread), end);
        let strayed = whole.strayed.max(first.strayed).max(second.strayed);
        let moves = [&whole, &first, &second];
        let agree = strayed <= self.tolerance * (STRAY_PART / PART)
            && whole.difference(&first, &second, end) <= self.tolerance
            && moves.iter().all(|m| m.parted.max(m.misled) <= self.tolerance)
            && Move::dip(&self.liquid, &first, &whole) <= self.tolerance;
        if agree || (b - a) * self.span_deg <= LEAST_DEG {
            self.accept(a, middle, &mid, &first);
            self.accept(middle, b, end, &second);
            return;
        }
        self.advance(a, middle, &mid, first);
        let second = Move::new(&self.liquid, end);
        self.advance(middle, b, end, second);
    }

    /// Takes a move as done, in parts where a pool begins to run within it.
    fn accept(&mut self, a: f64, b: f64, posture: &Posture<'a>, done: &Move) {
        let flows = self.flows(posture, done);
        let fresh = flows.iter().filter(|(key, _)| self.under_way(*key, a).is_none());
        let apart = |x: f64, y: f64| (y - x) * self.span_deg > 10.0 * BEGIN_DEG;
        let begins = fresh.map(|(_, (gate, _))| self.begin(a, b, posture, *gate));
        match begins.filter(|at| apart(a, *at) && apart(*at, b)).reduce(f64::min) {
            Some(at) => {
                let start = self.posture(at);
                let before = Move::new(&self.liquid, &start);
                self.take(a, at, &start, &before);
                let rest = Move::new(&self.liquid, posture);
                self.accept(at, b, posture, &rest);
            }
            None => self.take(a, b, posture, done),
        }
    }

    /// The transfer of this kind that goes on at `a`.
    fn under_way(&self, (from, to): (usize, RunsTo), a: f64) -> Option<usize> {
        self.open.iter().position(|open| {
            let transfer = &self.poured.transfers[open.index];
            transfer.from == from && transfer.to == to && (a - transfer.ends) * self.span_deg <= PAUSE_DEG
        })
    }

    fn take(&mut self, a: f64, b: f64, posture: &Posture<'a>, done: &Move) {
        let mut filled = Vec::new();
        for open in &mut self.open {
            open.is_running = false;
        }
        for ((from, to), (gate, volume)) in self.flows(posture, done) {
            match self.under_way((from, to), a) {
                Some(k) => {
                    let open = &mut self.open[k];
                    (open.passed, open.is_running) = (volume, true);
                    let transfer = &mut self.poured.transfers[open.index];
                    transfer.volume += volume;
                    transfer.ends = b;
                }
                None => {
                    filled.push((posture.piece_of_basin(gate), a));
                    self.open.push(Open {
                        index: self.poured.transfers.len(),
                        passed: volume,
                        is_running: true,
                    });
                    self.poured.transfers.push(Transfer {
                        from,
                        to,
                        volume,
                        begins: a,
                        ends: b,
                    });
                }
            }
        }
        self.close();
        let before = std::mem::take(&mut self.liquid);
        self.liquid = before.after(posture, &done.spread);
        self.poured.states.push((b, self.liquid.clone()));
        self.last = Some(Last { a, b, before, filled });
    }

    /// Flows of a move by origin and end, with the gate and the volume; those within one pool or piece and those below
    /// the tolerance are left out.
    fn flows(&self, posture: &Posture<'a>, done: &Move) -> Vec<((usize, RunsTo), (usize, f64))> {
        let mut flows: Vec<((usize, RunsTo), (usize, f64))> = Vec::new();
        let pool = |basin: usize| posture.joined_basin(basin, &done.spread);
        for flow in &done.spread.flows {
            let to = match flow.to {
                Rest::Port(port) => RunsTo::Port(port),
                Rest::Basin(basin) if pool(basin) == pool(flow.from) => continue,
                Rest::Basin(basin) => RunsTo::Piece(posture.piece_of_basin(basin)),
            };
            let key = (posture.piece_of_basin(flow.from), to);
            if to == RunsTo::Piece(key.0) {
                continue;
            }
            match flows.iter_mut().find(|(known, _)| *known == key) {
                Some((_, (_, volume))) => *volume += flow.volume,
                None => flows.push((key, (flow.gate, flow.volume))),
            }
        }
        flows.retain(|(_, (_, volume))| *volume > self.tolerance);
        flows
    }

    /// Where between `a` and `b` a basin of the posture at `b` begins to run over.
    fn begin(&self, a: f64, b: f64, end: &Posture<'a>, gate: usize) -> f64 {
        let mut hollows = Vec::new();
        end.hollows(gate, &mut hollows);
        let margin = |part: f64| {
            let posture = self.posture(part);
            let spread = Move::new(&self.liquid, &posture).spread;
            posture.margin(&hollows, &spread).unwrap_or(1.0)
        };
        if margin(a) >= 0.0 {
            return a;
        }
        bracketed_root(a, b, BEGIN_DEG / self.span_deg, margin)
    }

    /// Finds the ends of transfers that did not go on in the move that is being taken.
    fn close(&mut self) {
        let Some(last) = self.last.take() else { return };
        let (open, closed): (Vec<_>, Vec<_>) = std::mem::take(&mut self.open)
            .into_iter()
            .partition(|open| open.is_running);
        self.open = open;
        for open in closed {
            let transfer = &self.poured.transfers[open.index];
            if transfer.ends != last.b {
                continue;
            }
            let full = |piece: &usize| transfer.to == RunsTo::Piece(*piece);
            let ends = match last.filled.iter().find(|(piece, _)| full(piece)) {
                Some((_, at)) => *at,
                None => self.end(&last, transfer, open.passed),
            };
            let transfer = &mut self.poured.transfers[open.index];
            transfer.ends = ends.max(transfer.begins);
        }
    }

    /// Where within the last move a transfer that passed a volume in it came to its end.
    fn end(&self, last: &Last, transfer: &Transfer, passed: f64) -> f64 {
        let (mut lo, mut hi) = (last.a.max(transfer.begins), last.b);
        while (hi - lo) * self.span_deg > END_DEG {
            let middle = 0.5 * (lo + hi);
            let posture = self.posture(middle);
            let done = Move::new(&last.before, &posture);
            let by_then = self.flows(&posture, &done).into_iter();
            let by_then = by_then.filter(|(key, _)| *key == (transfer.from, transfer.to));
            if by_then.map(|(_, (_, volume))| volume).sum::<f64>() >= (1.0 - ENDED_PART) * passed {
                hi = middle;
            } else {
                lo = middle;
            }
        }
        hi
    }

    fn finish(mut self) -> Poured {
        let key = |transfer: &Transfer| transfer.begins;
        self.poured.transfers.sort_by(|x, y| key(x).total_cmp(&key(y)));
        self.poured
    }
}

/// The stance at a part of the way.
fn between(from: Stance, to: Stance, part: f64) -> Stance {
    // Exact at both ends.
    let mix = |a: f64, b: f64| if part == 1.0 { b } else { a + (b - a) * part };
    Stance::new(mix(from.tilt_deg, to.tilt_deg), mix(from.roll_deg, to.roll_deg))
}

impl Posture<'_> {
    /// The deepest points of a basin's hollows, each with its primitive.
    fn hollows(&self, basin: usize, found: &mut Vec<(usize, Vector3<f64>)>) {
        match self.basins[basin].parts {
            Some(parts) => parts.into_iter().for_each(|part| self.hollows(part, found)),
            None => {
                let node = &self.nodes[self.basins[basin].bottom_node];
                found.push((node.primitive, node.bottom_at));
            }
        }
    }

    /// What the smallest basin that holds all these hollows has run over, or, below 0, what it still has room for,
    /// mm3; none where a hollow is gone.
    fn margin(&self, hollows: &[(usize, Vector3<f64>)], spread: &Spread) -> Option<f64> {
        let mut rests = hollows
            .iter()
            .map(|&(primitive, at)| match self.rest_from(primitive, at) {
                Some(Rest::Basin(basin)) => Some(basin),
                _ => None,
            });
        let mut least = rests.next()??;
        for rest in rests {
            let rest = rest?;
            while !self.is_part(rest, least) {
                least = self.basins[least].parent?;
            }
        }
        if spread.over[least] > 0.0 {
            return Some(spread.over[least]);
        }
        let pools = self.held(spread).filter(|&b| self.is_part(b, least));
        let held: f64 = pools.map(|b| spread.volume[b]).sum();
        Some(held - self.room(least))
    }

    /// Whether a basin is another or a part of it.
    fn is_part(&self, basin: usize, of: usize) -> bool {
        let mut at = basin;
        while at != of {
            match self.basins[at].parent {
                Some(parent) => at = parent,
                None => return false,
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::file;

    #[test]
    fn scratch() {
        for name in [
            "rubidium-six",
            "gallium-indium-eight",
            "benzene-d6-five",
            "teaching-three",
        ] {
            let text = std::fs::read_to_string(format!("examples/{name}.json")).unwrap();
            let apparatus = file::read(&text).unwrap();
            let built = build(&apparatus).unwrap();
            let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
            let fills: Vec<_> = apparatus
                .charge
                .fills
                .iter()
                .map(|f| (interior.piece_index(&f.piece).unwrap(), f.volume_ml * 1000.0))
                .collect();
            for sign in [1.0, -1.0] {
                let start = std::time::Instant::now();
                let liquid = interior.at(Stance::default()).give(&fills);
                let to = Stance::new(70.0 * sign, 0.0);
                let poured = pour(&interior, liquid, Stance::default(), to);
                let time = start.elapsed();
                println!("{name} {sign}: {:?} {} states", time, poured.states.len());
                for t in &poured.transfers {
                    println!(
                        "  {} -> {:?}: {:.4} mL from {:.4} to {:.4}",
                        interior.pieces()[t.from],
                        match t.to {
                            RunsTo::Piece(p) => interior.pieces()[p].clone(),
                            RunsTo::Port(p) => format!("port {p}"),
                        },
                        t.volume / 1000.0,
                        t.begins * 70.0,
                        t.ends * 70.0
                    );
                }
                let back = pour(&interior, poured.last(), to, Stance::default());
                let settled = back.last().at(&interior.at(Stance::default()));
                println!(
                    "  back {} states; {:?}",
                    back.states.len(),
                    settled
                        .pools
                        .iter()
                        .map(|p| (interior.pieces()[p.piece].clone(), (p.volume).round() / 1000.0))
                        .collect::<Vec<_>>()
                );
            }
        }
    }
}
