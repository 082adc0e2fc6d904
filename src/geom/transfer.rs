//! What runs where on the way of a pour, where it begins and where it ends.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use nalgebra::Vector3;

use super::liquid::Liquid;
use super::moving::Move;
use super::pools::{RunsTo, Spread};
use super::posture::Posture;
use super::pour::{Transfer, Walk};
use super::solve::root_bracket;
use super::stream::Rest;

/// The begin of a transfer is found to this, degrees.
const BEGIN_DEG: f64 = 1e-6;
/// The end of a transfer is found to this, degrees.
const END_DEG: f64 = 1e-4;
/// Part of a move's flow that has passed at its end.
const ENDED_PART: f64 = 1e-6;
/// A transfer that rests for less than this, degrees, goes on.
const PAUSE_DEG: f64 = 0.01;

/// A transfer under way.
pub(super) struct Open {
    /// Its place in the list.
    index: usize,
    /// Volume that passed in the last move, mm3.
    passed: f64,
    /// Whether it goes on in the move that is being taken.
    is_running: bool,
}

/// The last move: from where to where on the way, and the liquid before it.
pub(super) struct Last<'a> {
    a: f64,
    b: f64,
    from: Arc<Posture<'a>>,
    before: Liquid,
    /// Pieces that reached their brim in it, and where on the way.
    filled: Vec<(usize, f64)>,
}

/// In place of a gate: liquid whose hollow has vanished.
const NO_GATE: usize = usize::MAX;

/// Flows of a move by origin and end, each with its gate (basin) and its volume, mm3.
type Flows = Vec<((usize, RunsTo), (usize, f64))>;

impl<'a> Walk<'_, 'a> {
    /// Takes a move as done and notes what ran where, in parts where a pool begins to run within it.
    pub(super) fn note(&mut self, a: f64, b: f64, posture: &Arc<Posture<'a>>, done: &Move) {
        self.note_rest(a, b, posture, done, &mut BTreeMap::new());
    }

    /// `begins` keeps where basins of the posture at `b` begin to run over, once found.
    fn note_rest(
        &mut self,
        a: f64,
        b: f64,
        posture: &Arc<Posture<'a>>,
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
        let before = Move::new(&self.liquid, &self.here, &start);
        self.take(a, at, &start, &before);
        let rest = Move::new(&self.liquid, &self.here, posture);
        self.note_rest(at, b, posture, &rest, begins);
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

    fn take(&mut self, a: f64, b: f64, posture: &Arc<Posture<'a>>, done: &Move) {
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
        let (from, before) = self.go_on(b, posture, done);
        self.last = Some(Last {
            a,
            b,
            from,
            before,
            filled,
        });
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
        let first = margin(&self.here, &self.liquid.spread(&self.here));
        if first >= 0.0 {
            return a;
        }
        let ends = [(a, first), (b, margin(end, &done.spread))];
        // The lower end, so that nothing has run before.
        root_bracket(ends, BEGIN_DEG / self.span_deg, |part| {
            let posture = self.posture(part);
            margin(&posture, &self.liquid.spread(&posture))
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
    fn end(&self, last: &Last<'a>, transfer: &Transfer, passed: f64, known: &mut Vec<(f64, Flows)>) -> f64 {
        let (mut lo, mut hi) = (last.a.max(transfer.begins), last.b);
        // Mostly it ran to the last, and an event has ended it: that is tried first.
        let mut middle = hi - 0.5 * END_DEG / self.span_deg;
        while (hi - lo) * self.span_deg > END_DEG {
            if known.iter().all(|(at, _)| *at != middle) {
                let posture = self.posture(middle);
                let done = Move::new(&last.before, &last.from, &posture);
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
