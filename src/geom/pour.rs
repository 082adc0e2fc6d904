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

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use nalgebra::Vector3;

use super::interior::Interior;
use super::pools::{RunsTo, Settled, Spread};
use super::posture::Posture;
use super::solve::root_bracket;
use super::stance::Stance;
use super::stream::Rest;

/// Longest move that is tried, degrees of tilt or roll.
const STEP_DEG: f64 = 2.0;
/// Shortest move, degrees: an event is known to this.
const LEAST_DEG: f64 = 1e-6;
/// Part of the charge by which one move and two may differ.
const PART: f64 = 1e-8;
/// Part of the charge that may leave a hollow in one leap: where it then lies is exact, whence it came is not noted.
const STRAY_PART: f64 = 1e-6;
/// The begin of a transfer is found to this, degrees.
const BEGIN_DEG: f64 = 1e-6;
/// The end of a transfer is found to this, degrees.
const END_DEG: f64 = 1e-4;
/// Part of a move's flow that has passed at its end.
const ENDED_PART: f64 = 1e-6;
/// A brim farther above what its pool holds than this, as a part of it, is not looked at for dips.
const NEAR_BRIM: f64 = 1.25;
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

    /// The way cut off at a part of it, where the liquid is known.
    pub fn until(&self, end: f64, liquid: Liquid) -> Self {
        let scaled = |part: f64| if end > 0.0 { (part / end).min(1.0) } else { 1.0 };
        let before = self.states.iter().filter(|(part, _)| *part < end);
        let states = before
            .map(|(part, liquid)| (scaled(*part), liquid.clone()))
            .chain([(1.0, liquid)]);
        let begun = self.transfers.iter().filter(|transfer| transfer.begins < end);
        let transfers = begun.map(|transfer| Transfer {
            begins: scaled(transfer.begins),
            ends: scaled(transfer.ends),
            ..*transfer
        });
        Self {
            states: states.collect(),
            transfers: transfers.collect(),
        }
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

    /// The same, let run to where it rests at a stance next to the one where it was taken.
    pub fn resting(&self, posture: &Posture<'_>) -> Self {
        self.after(posture, &posture.spread(&self.starts(posture)))
    }

    /// The same where primitives have other numbers: `rename` gives the new one of the primitive in which a point lies.
    pub(super) fn renamed(&self, rename: impl Fn(usize, &Vector3<f64>) -> usize) -> Self {
        let mut renamed = self.clone();
        for body in &mut renamed.bodies {
            body.primitive = rename(body.primitive, &body.at);
        }
        renamed
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
                    above: if basin == pool {
                        0.0
                    } else {
                        (volume - self.room(basin)).max(0.0)
                    },
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
                let room = self.room(other).min(volume);
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
    /// The same one by one: the piece it lay in, where it came to rest, and how much it is, mm3.
    leaps: Vec<(usize, Rest, f64)>,
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
            (over > 0.0 && posture.route((*pool)?) != body.route).then_some(over)
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
    fn dip(
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

    /// What may have gone another way than it would on a shorter move, mm3.
    fn astray(&self) -> f64 {
        // A leap is no error in itself, and the volume that leaps does not grow less with the move.
        (self.strayed * (PART / STRAY_PART)).max(self.parted).max(self.misled)
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
        here: Rc::new(interior.at(from)),
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

/// In place of a gate: liquid whose hollow has vanished.
const NO_GATE: usize = usize::MAX;

/// Flows of a move by origin and end, each with its gate (basin) and its volume, mm3.
type Flows = Vec<((usize, RunsTo), (usize, f64))>;

struct Walk<'a> {
    interior: &'a Interior,
    from: Stance,
    to: Stance,
    span_deg: f64,
    tolerance: f64,
    liquid: Liquid,
    /// The posture at which the liquid rests.
    here: Rc<Posture<'a>>,
    open: Vec<Open>,
    last: Option<Last>,
    poured: Poured,
}

impl<'a> Walk<'a> {
    fn posture(&self, part: f64) -> Rc<Posture<'a>> {
        Rc::new(self.interior.at(between(self.from, self.to, part)))
    }

    /// Goes from `a` to `b`, whose posture is `end`; `whole` is the one move there.
    fn advance(&mut self, a: f64, b: f64, end: &Rc<Posture<'a>>, whole: Move) {
        if whole.astray() > self.tolerance {
            self.pass_event(a, b, end, whole);
            return;
        }
        let middle = 0.5 * (a + b);
        let mid = self.posture(middle);
        let first = Move::new(&self.liquid, &mid);
        let second = Move::new(&self.liquid.after(&mid, &first.spread), end);
        let agree = whole.difference(&first, &second, end) <= self.tolerance
            && first.astray().max(second.astray()) <= self.tolerance
            && Move::dip(&self.liquid, &self.here, (&first, &mid), (&whole, end)) <= self.tolerance;
        if agree || self.is_least(a, b) {
            self.accept(a, middle, &mid, &first);
            self.accept(middle, b, end, &second);
            return;
        }
        self.advance(a, middle, &mid, first);
        let second = Move::new(&self.liquid, end);
        self.advance(middle, b, end, second);
    }

    /// Goes from `a` to `b` past an event that sends liquid another way: up to it, over it in the least move, and on.
    fn pass_event(&mut self, a: f64, b: f64, end: &Rc<Posture<'a>>, whole: Move) {
        let (mut lo, mut hi) = (a, b);
        let (mut before, mut after) = (None, None);
        while !self.is_least(lo, hi) {
            let middle = 0.5 * (lo + hi);
            let posture = self.posture(middle);
            let done = Move::new(&self.liquid, &posture);
            if done.astray() > self.tolerance {
                (hi, after) = (middle, Some((posture, done)));
            } else {
                (lo, before) = (middle, Some((posture, done)));
            }
        }
        let is_met = before.is_some();
        if let Some((posture, done)) = before {
            self.advance(a, lo, &posture, done);
        }
        let Some((posture, done)) = after else {
            let whole = if is_met { Move::new(&self.liquid, end) } else { whole };
            self.accept(lo, b, end, &whole);
            return;
        };
        let done = if is_met {
            Move::new(&self.liquid, &posture)
        } else {
            done
        };
        self.accept(lo, hi, &posture, &done);
        let rest = Move::new(&self.liquid, end);
        self.advance(hi, b, end, rest);
    }

    fn is_least(&self, a: f64, b: f64) -> bool {
        (b - a) * self.span_deg <= LEAST_DEG
    }

    /// Takes a move as done, in parts where a pool begins to run within it.
    fn accept(&mut self, a: f64, b: f64, posture: &Rc<Posture<'a>>, done: &Move) {
        self.accept_rest(a, b, posture, done, &mut BTreeMap::new());
    }

    /// `begins` keeps where basins of the posture at `b` begin to run over, once found.
    fn accept_rest(
        &mut self,
        a: f64,
        b: f64,
        posture: &Rc<Posture<'a>>,
        done: &Move,
        begins: &mut BTreeMap<usize, f64>,
    ) {
        let flows = self.flows(posture, done);
        let fresh = flows.iter().filter(|(key, _)| self.under_way(*key, a).is_none());
        let gates = fresh.map(|(_, (gate, _))| *gate).chain(Self::joining(posture, done));
        let gates: BTreeSet<usize> = gates.filter(|gate| *gate != NO_GATE).collect();
        let apart = |x: f64, y: f64| (y - x) * self.span_deg > 10.0 * BEGIN_DEG;
        let mut next = None;
        for gate in gates {
            let at = *begins
                .entry(gate)
                .or_insert_with(|| self.begin((a, b), posture, done, gate));
            if apart(a, at) && apart(at, b) && next.is_none_or(|next| at < next) {
                next = Some(at);
            }
        }
        let Some(at) = next else {
            self.take(a, b, posture, done);
            return;
        };
        let start = self.posture(at);
        let before = Move::new(&self.liquid, &start);
        self.take(a, at, &start, &before);
        let rest = Move::new(&self.liquid, posture);
        self.accept_rest(at, b, posture, &rest, begins);
    }

    /// Basins that were filled in a move until they became one pool with what filled them.
    fn joining<'m>(posture: &'m Posture<'a>, done: &'m Move) -> impl Iterator<Item = usize> + 'm {
        let pool = |basin| posture.joined_basin(basin, &done.spread);
        done.spread.flows.iter().filter_map(move |flow| match flow.to {
            Rest::Basin(basin) if pool(basin) == pool(flow.from) => Some(basin),
            _ => None,
        })
    }

    /// The transfer of this kind that goes on at `a`.
    fn under_way(&self, (from, to): (usize, RunsTo), a: f64) -> Option<usize> {
        self.open.iter().position(|open| {
            let transfer = &self.poured.transfers[open.index];
            transfer.from == from && transfer.to == to && (a - transfer.ends) * self.span_deg <= PAUSE_DEG
        })
    }

    fn take(&mut self, a: f64, b: f64, posture: &Rc<Posture<'a>>, done: &Move) {
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
                    if gate != NO_GATE {
                        filled.push((posture.piece_of_basin(gate), a));
                    }
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
        self.here = Rc::clone(posture);
        self.poured.states.push((b, self.liquid.clone()));
        self.last = Some(Last { a, b, before, filled });
    }

    /// Flows of a move; those within one pool or piece and those below the tolerance are left out.
    fn flows(&self, posture: &Posture<'a>, done: &Move) -> Flows {
        let mut flows = Flows::new();
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
        for &(from, to, volume) in &done.leaps {
            let to = match to {
                Rest::Port(port) => RunsTo::Port(port),
                Rest::Basin(basin) => RunsTo::Piece(posture.piece_of_basin(basin)),
            };
            if to != RunsTo::Piece(from) {
                flows.push(((from, to), (NO_GATE, volume)));
            }
        }
        flows.retain(|(_, (_, volume))| *volume > self.tolerance);
        flows
    }

    /// Where between `a` and `b` a basin of the posture at `b`, to which `done` is the move, begins to run over.
    fn begin(&self, (a, b): (f64, f64), end: &Posture<'a>, done: &Move, gate: usize) -> f64 {
        let mut hollows = Vec::new();
        end.hollows(gate, &mut hollows);
        let margin = |posture: &Posture<'a>, spread: &Spread| posture.margin(&hollows, spread).unwrap_or(1.0);
        let first = margin(&self.here, &Move::new(&self.liquid, &self.here).spread);
        if first >= 0.0 {
            return a;
        }
        let ends = [(a, first), (b, margin(end, &done.spread))];
        // The lower end, so that nothing has run before.
        root_bracket(ends, BEGIN_DEG / self.span_deg, |part| {
            let posture = self.posture(part);
            margin(&posture, &Move::new(&self.liquid, &posture).spread)
        })
        .0
    }

    /// Finds the ends of transfers that did not go on in the move that is being taken.
    fn close(&mut self) {
        let Some(last) = self.last.take() else { return };
        let (open, closed): (Vec<_>, Vec<_>) = std::mem::take(&mut self.open)
            .into_iter()
            .partition(|open| open.is_running);
        self.open = open;
        let mut known = Vec::new();
        for open in closed {
            let transfer = &self.poured.transfers[open.index];
            if transfer.ends != last.b {
                continue;
            }
            let full = |piece: &usize| transfer.to == RunsTo::Piece(*piece);
            let ends = match last.filled.iter().find(|(piece, _)| full(piece)) {
                Some((_, at)) => *at,
                None => self.end(&last, transfer, open.passed, &mut known),
            };
            let transfer = &mut self.poured.transfers[open.index];
            transfer.ends = ends.max(transfer.begins);
        }
    }

    /// Where within the last move a transfer that passed a volume in it came to its end.
    /// `known` keeps the flows up to the places that have been tried.
    fn end(&self, last: &Last, transfer: &Transfer, passed: f64, known: &mut Vec<(f64, Flows)>) -> f64 {
        let (mut lo, mut hi) = (last.a.max(transfer.begins), last.b);
        // Mostly it ran to the last, and an event has ended it: that is tried first.
        let mut middle = hi - 0.5 * END_DEG / self.span_deg;
        while (hi - lo) * self.span_deg > END_DEG {
            if known.iter().all(|(at, _)| *at != middle) {
                let posture = self.posture(middle);
                let done = Move::new(&last.before, &posture);
                known.push((middle, self.flows(&posture, &done)));
            }
            let by_then = known
                .iter()
                .filter(|(at, _)| *at == middle)
                .flat_map(|(_, flows)| flows);
            let by_then = by_then.filter(|(key, _)| *key == (transfer.from, transfer.to));
            if by_then.map(|(_, (_, volume))| volume).sum::<f64>() >= (1.0 - ENDED_PART) * passed {
                hi = middle;
            } else {
                lo = middle;
            }
            middle = 0.5 * (lo + hi);
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
    use nalgebra::Vector2;

    use super::*;
    use crate::geom::{Port, Primitive, Question, Shape, tilts};

    fn tube(from: (f64, f64), to: (f64, f64), r: f64) -> Shape {
        Shape::Frustum {
            from: Vector2::new(from.0, from.1),
            to: Vector2::new(to.0, to.1),
            r_from: r,
            r_to: r,
        }
    }

    /// A vessel open at its top, radius 10 mm, 60 mm deep.
    fn cup() -> Interior {
        let primitive = Primitive {
            piece: 0,
            shape: tube((0.0, 0.0), (0.0, 60.0), 10.0),
        };
        let port = Port {
            piece: 0,
            at: Vector2::new(0.0, 60.0),
            heading: std::f64::consts::FRAC_PI_2,
            r: 10.0,
        };
        Interior::new(vec!["cup".into()], vec![primitive], vec![port]).unwrap()
    }

    /// Three vials below a header that slopes down to the right, fed by a receiver on the left.
    fn comb() -> Interior {
        let mut pieces = vec!["header".to_owned(), "receiver".to_owned()];
        let mut shapes = vec![
            (0, tube((0.0, 0.0), (150.0, 0.0), 7.0)),
            (1, tube((0.0, 0.0), (-60.0, 0.0), 7.0)),
        ];
        for (k, x) in [30.0, 70.0, 110.0].into_iter().enumerate() {
            pieces.push(format!("vial-{}", k + 1));
            shapes.push((k + 2, tube((x, 0.0), (x, -40.0), 4.0)));
        }
        let primitives = shapes.into_iter().map(|(piece, shape)| Primitive { piece, shape });
        Interior::new(pieces, primitives.collect(), Vec::new()).unwrap()
    }

    #[test]
    fn a_cup_keeps_what_its_lip_holds() {
        // formulas.md 1.4: pi R^2 (L - R tan phi) while the level meets the wall, 15,708.0 mm3 at 45 degrees; else an ungula,
        // 4316.25 mm3 at 80 degrees.
        let cup = cup();
        let full = cup.at(Stance::default()).give(&[(0, 18_000.0)]);
        for (tilt, held) in [(45.0, 15_707.963), (80.0, 4_316.25)] {
            let to = Stance::new(tilt, 0.0);
            let poured = pour(&cup, full.clone(), Stance::default(), to);
            let left = poured.last().volume();
            assert!((left - held).abs() < 0.01, "{left}");
            let [transfer] = poured.transfers[..] else {
                panic!("{:?}", poured.transfers)
            };
            assert_eq!((transfer.from, transfer.to), (0, RunsTo::Port(0)));
            assert!((transfer.volume - (18_000.0 - left)).abs() < 1e-6);
            // Begins where 18,000 mm3 stands at the lip: tan phi = (L - V / (pi R^2)) / R.
            let begins = ((60.0 - 18_000.0 / (std::f64::consts::PI * 100.0)) / 10.0f64)
                .atan()
                .to_degrees();
            assert!(
                (transfer.begins * tilt - begins).abs() < 1e-5,
                "{}",
                transfer.begins * tilt
            );
            assert_eq!(transfer.ends, 1.0);
        }
    }

    #[test]
    fn vials_fill_in_turn_and_each_passes_on_from_its_brim() {
        let comb = comb();
        let from = Stance::new(30.0, 0.0);
        let to = Stance::new(-6.0, 0.0);
        let charge = 4_500.0;
        let poured = pour(&comb, comb.at(from).give(&[(1, charge)]), from, to);
        let mut filled: Vec<_> = poured.transfers.iter().map(|t| t.to).collect();
        let mut seen = Vec::new();
        filled.retain(|to| {
            !seen.contains(to) && {
                seen.push(*to);
                true
            }
        });
        assert_eq!(filled, [RunsTo::Piece(2), RunsTo::Piece(3), RunsTo::Piece(4)]);
        // The first begins where the hollow of the receiver holds the charge no longer.
        let ask = Question {
            volume: Some(charge),
            target: None,
            heel: None,
        };
        let spill = tilts(&comb, 1, ask, from).spill.clockwise.unwrap();
        let begins = 30.0 - 36.0 * poured.transfers[0].begins;
        assert!((begins - spill).abs() < 1e-4, "{begins} {spill}");
        // At the end each vial but the last stands at its brim, as a vial that was overfilled at that stance does.
        let posture = comb.at(to);
        let settled = poured.last().at(&posture);
        let brims = posture.basins();
        for piece in [2, 3] {
            let held = settled.pools.iter().find(|p| p.piece == piece).unwrap().volume;
            let brim = brims.iter().find(|p| p.piece == piece).unwrap().brim.unwrap();
            assert!((held - brim).abs() < 1e-6 * charge, "{held} {brim}");
        }
        let all: f64 = settled.pools.iter().map(|p| p.volume).sum();
        assert!((all - charge).abs() < 1e-12 * charge);
    }

    #[test]
    fn liquid_that_is_given_later_joins_what_is_there() {
        let cup = cup();
        let upright = cup.at(Stance::default());
        let liquid = upright.give(&[(0, 1_000.0)]).and_give(&upright, &[(0, 500.0)]);
        assert_eq!(liquid.volume(), 1_500.0);
        assert_eq!(liquid.at(&upright).pools.len(), 1);
        let full = upright.give(&[(0, 20_000.0)]);
        let lost: Vec<_> = full.lost().collect();
        let held = 100.0 * 60.0 * std::f64::consts::PI;
        assert!((lost[0].1 - (20_000.0 - held)).abs() < 1e-6, "{lost:?}");
    }

    #[test]
    fn nothing_is_poured_of_nothing() {
        let poured = pour(&cup(), Liquid::default(), Stance::default(), Stance::new(170.0, 20.0));
        assert!(poured.transfers.is_empty() && poured.last().volume() == 0.0);
        let still = pour(&cup(), Liquid::default(), Stance::default(), Stance::default());
        assert_eq!(still.states.len(), 2);
    }
}
