//! Liquid carried along a turn: the walk in one direction.
//!
//! **State.** The bodies of liquid (pools), each with its volume and the material place of the glass at its bottom. A
//! step to another angle puts every body where a stream from that place comes to rest there, and lets what finds no
//! room run on by the rule of the overflow. What has run over stays where it ran; what a port took is gone.
//!
//! **Changes.** As long as the bodies stay the same, those at their brims stay at them and every overflow keeps its
//! way, a step is exact at its end however long it is: a brimming body holds its brim volume there, and what left it
//! is where its way leads. So only changes of that order are looked for: a body comes to its brim or leaves it, two
//! meet, one parts, one is gone, a way leads elsewhere, a port begins or ceases to take. Of small bodies
//! ([`SMALL_PART`]) only the way counts: what runs through them may be much. A step that holds a change is
//! cut down to [`FINE_DEG`], going on from the part before the change: near where a margin that is used up within it
//! would be so if it fell straight, else in halves.
//!
//! **Dips.** A brim that falls and rises again between two steps keeps less than either shows, or is reached where
//! neither shows it. Where the brims at three steps leave room for a dip of more than [`DIP_PART`] of the charge its
//! lowest place is searched and stepped on.
//!
//! **Not seen.** A change that is undone within one step: a way that leads elsewhere over less than half a degree.
//!
//! **Error.** A change is placed to [`FINE_DEG`]; where what runs goes another way from there on, less than
//! [`MISLED_PART`] of the charge goes astray. That, for each change, and dips below [`DIP_PART`] bound the error of the
//! volumes. Volume is conserved to rounding.

use nalgebra::Vector3;

use super::interior::Interior;
use super::pools::{RunsTo, Spread};
use super::posture::Posture;
use super::solve::valley;
use super::stance::Stance;
use super::stream::Rest;

/// A change is placed to this, degrees.
pub(super) const FINE_DEG: f64 = 5e-4;
/// One of the way of what runs is placed closer, until less than this part of the charge goes the other way, ...
const MISLED_PART: f64 = 1e-6;
/// ... or to this, degrees.
const FINEST_DEG: f64 = 1e-8;
/// Bodies smaller than this part of the charge make no change but by the way of their overflow: what they do within a
/// step is not timed, and is right at its end.
pub(super) const SMALL_PART: f64 = 2e-4;
/// A body within this part of its brim stands at it.
const BRIM_PART: f64 = 1e-9;
/// Dips of a brim that could keep back less than this part of the charge are not searched for.
const DIP_PART: f64 = 1e-4;
/// Steps of the search for the bottom of a dip: one degree comes down to 1e-4.
const DIP_STEPS: u32 = 20;
/// A margin over a step falls straight to this part of the step.
const STRAIGHT_PART: f64 = 0.02;

/// What is turned: the other angle stays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turning {
    /// The tilt, at this roll (degrees).
    Tilt {
        /// The roll that stays, degrees.
        roll_deg: f64,
    },
    /// The roll, at this tilt (degrees).
    Roll {
        /// The tilt that stays, degrees.
        tilt_deg: f64,
    },
}

impl Turning {
    /// The stance at an angle of the turn.
    pub fn stance(self, at_deg: f64) -> Stance {
        match self {
            Self::Tilt { roll_deg } => Stance::new(at_deg, roll_deg),
            Self::Roll { tilt_deg } => Stance::new(tilt_deg, at_deg),
        }
    }
}

/// A body of liquid.
#[derive(Clone, Copy, Debug)]
pub(super) struct Body {
    /// The piece of its lowest point.
    pub(super) piece: usize,
    /// Primitive and place of its lowest point, in the axes of the apparatus.
    primitive: usize,
    bottom_at: Vector3<f64>,
    /// Volume, mm3.
    pub(super) volume: f64,
    /// Volume at its sill, or capacity where there is none, mm3.
    pub(super) room: f64,
    /// What ran over its sill on the way here, mm3.
    pub(super) ran: f64,
    /// Whether it stands at its brim and runs over if turned on.
    pub(super) brims: bool,
    /// Where its overflow first lies, if it brims.
    pub(super) onward: Option<RunsTo>,
    /// Whether it took up liquid on the way here.
    pub(super) grew: bool,
    /// Whether it stands within that piece's hollows: not over the sill to those of another.
    pub(super) own: bool,
    /// Whether all of it lies in that piece.
    alone: bool,
}

/// The liquid at an angle of the walk.
#[derive(Clone, Debug)]
pub(super) struct State {
    /// The angle, degrees.
    pub(super) at_deg: f64,
    pub(super) bodies: Vec<Body>,
    /// Lost so far by each port, mm3.
    pub(super) lost: Vec<f64>,
    /// Whether each port took liquid on the way here.
    pub(super) losing: Vec<bool>,
    /// What found no room, mm3.
    pub(super) left_over: f64,
}

/// A step: the liquid after it, and what became of the bodies before it.
pub(super) struct Step<'a> {
    pub(super) state: State,
    pub(super) posture: Posture<'a>,
    spread: Spread,
    /// The basin of each body.
    basins: Vec<usize>,
    /// Where each body before it lies after it.
    pub(super) became: Vec<Became>,
    /// Whether it holds a change; a step that is shown is then no longer than [`FINE_DEG`].
    pub(super) changed: bool,
}

/// What became of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Became {
    /// It lies in this body.
    Body(usize),
    /// It ran out of this port.
    Out(usize),
    /// It found no room.
    Nothing,
}

/// A turn of an apparatus with a charge in it.
pub(super) struct Walk<'a> {
    pub(super) interior: &'a Interior,
    pub(super) turning: Turning,
    /// All liquid, mm3.
    pub(super) charge: f64,
}

impl<'a> Walk<'a> {
    pub(super) fn posture(&self, at_deg: f64) -> Posture<'a> {
        self.interior.at(self.turning.stance(at_deg))
    }

    /// The liquid given to pieces (index, mm3), at rest at an angle.
    pub(super) fn start(&self, at_deg: f64, given: &[(usize, f64)]) -> Step<'a> {
        let posture = self.posture(at_deg);
        let spread = posture.spread(&posture.starts(given));
        Step::new(at_deg, posture, spread)
    }

    /// One step, whatever changes in it.
    pub(super) fn step(&self, from: &State, to_deg: f64) -> Step<'a> {
        let posture = self.posture(to_deg);
        let rest = |body: &Body| posture.rest_from(body.primitive, body.bottom_at);
        let rests: Vec<(Option<Rest>, f64)> = from.bodies.iter().map(|body| (rest(body), body.volume)).collect();
        let spread = posture.spread(&rests);
        let mut step = Step::new(to_deg, posture, spread);
        let mut brought = vec![0.0; step.basins.len()];
        for ((rest, _), body) in rests.iter().zip(&from.bodies) {
            let became = match rest {
                Some(Rest::Port(port)) => Became::Out(*port),
                Some(Rest::Basin(basin)) => {
                    let pool = step.posture.joined_basin(*basin, &step.spread);
                    // The basins of the bodies are in order.
                    step.basins.binary_search(&pool).map_or(Became::Nothing, Became::Body)
                }
                None => Became::Nothing,
            };
            if let Became::Body(at) = became {
                brought[at] += body.volume;
            }
            step.became.push(became);
        }
        let state = &mut step.state;
        for (body, brought) in state.bodies.iter_mut().zip(brought) {
            body.grew = body.volume > brought * (1.0 + BRIM_PART);
        }
        for (lost, before) in state.lost.iter_mut().zip(&from.lost) {
            *lost += before;
        }
        state.left_over += from.left_over;
        step.changed = self.changes(from, &step);
        step
    }

    /// Whether a body is too small to be told of: see [`SMALL_PART`].
    pub(super) fn is_small(&self, body: &Body) -> bool {
        body.volume < SMALL_PART * self.charge
    }

    /// Whether a step holds a change of the order among the bodies.
    fn changes(&self, from: &State, step: &Step<'_>) -> bool {
        let to = &step.state;
        if from.losing != to.losing {
            return true;
        }
        // Bodies that were there before, and those that take up the last of one that ran there.
        let mut known = vec![false; to.bodies.len()];
        for (body, became) in from.bodies.iter().zip(&step.became) {
            match *became {
                Became::Body(at) => {
                    let now = &to.bodies[at];
                    // Over its sill into the hollow of another: it has run there, if only a little.
                    let stays = body.piece == now.piece && body.own == now.own && !known[at];
                    if self.is_small(body) && self.is_small(now) {
                        // The way of its overflow is the way of all that runs through it.
                        if stays && body.brims && now.brims && body.onward != now.onward {
                            return true;
                        }
                    } else if stays && body.brims == now.brims && body.onward == now.onward {
                        known[at] = true;
                    } else if body.brims && body.onward == Some(RunsTo::Piece(now.piece)) && body.piece != now.piece {
                        known[at] |= !now.brims;
                    } else if !self.is_small(body) {
                        return true;
                    }
                }
                Became::Out(port) if body.brims && body.onward == Some(RunsTo::Port(port)) => {}
                Became::Out(_) | Became::Nothing if self.is_small(body) => {}
                Became::Out(_) | Became::Nothing => return true,
            }
        }
        let mut fed = vec![false; self.interior.pieces().len()];
        for body in &to.bodies {
            if let Some(RunsTo::Piece(piece)) = body.onward {
                fed[piece] = true;
            }
        }
        let is_new = |(body, known): (&Body, bool)| {
            let begins_to_fill = !body.brims && fed[body.piece];
            !known && !self.is_small(body) && !begins_to_fill
        };
        to.bodies.iter().zip(known).any(is_new)
    }

    /// Walks over angles in their order; every step is shown with the liquid before it. Ends when there is no liquid
    /// left.
    pub(super) fn over(
        &self,
        start: State,
        goals: impl Iterator<Item = f64>,
        seen: &mut impl FnMut(&State, &Step<'a>),
    ) {
        let mut base = start;
        // A step without a change, not shown yet: a dip may still lie in it.
        let mut held: Option<Step<'a>> = None;
        for goal in goals {
            loop {
                let now = held.as_ref().map_or(&base, |step| &step.state);
                if now.at_deg == goal {
                    break;
                }
                let step = self.step(now, goal);
                if let Some(dip) = held.as_ref().and_then(|held| self.dip(&base, held, &step)) {
                    held = None;
                    base = self.walk(base, dip, seen);
                    continue;
                }
                if let Some(held) = held.take() {
                    seen(&base, &held);
                    base = held.state;
                }
                if step.changed {
                    base = self.to_change(base, step, seen);
                } else {
                    held = Some(step);
                }
            }
            if held.is_none() && base.bodies.is_empty() {
                return;
            }
        }
        if let Some(held) = held {
            seen(&base, &held);
        }
    }

    /// Walks to an angle, looking for no dips.
    fn walk(&self, mut base: State, goal: f64, seen: &mut impl FnMut(&State, &Step<'a>)) -> State {
        while base.at_deg != goal {
            let step = self.step(&base, goal);
            if step.changed {
                base = self.to_change(base, step, seen);
            } else {
                seen(&base, &step);
                base = step.state;
            }
        }
        base
    }

    /// Walks to just behind the first change within a step that holds one.
    fn to_change(&self, mut base: State, beyond: Step<'a>, seen: &mut impl FnMut(&State, &Step<'a>)) -> State {
        let mut last = beyond;
        let mut is_from_base = true;
        let mut halve = false;
        loop {
            let width = last.state.at_deg - base.at_deg;
            if self.is_fine(&base, &last) {
                break;
            }
            let straight = used_up(&base, &last).filter(|_| !halve && width.abs() > FINE_DEG);
            let guard = if width.abs() > 0.1 {
                STRAIGHT_PART
            } else {
                0.45 * FINE_DEG / width.abs()
            };
            let parts = straight.map_or([0.5, 1.0], |part| [part - guard, part + guard]);
            halve = straight.is_some();
            for part in parts.into_iter().filter(|part| (0.0..1.0).contains(part)) {
                let between = base.at_deg + part * width;
                if (last.state.at_deg - between) * width <= 0.0 || (between - base.at_deg) * width <= 0.0 {
                    continue;
                }
                let step = self.step(&base, between);
                is_from_base = step.changed;
                if step.changed {
                    last = step;
                    break;
                }
                seen(&base, &step);
                base = step.state;
            }
            // Halves only where the straight way was no good.
            halve = halve && (last.state.at_deg - base.at_deg).abs() > 3.0 * guard * width.abs();
        }
        if !is_from_base {
            last = self.step(&base, last.state.at_deg);
        }
        seen(&base, &last);
        last.state
    }

    /// Whether a step is so short that a change within it is placed well enough.
    fn is_fine(&self, base: &State, step: &Step<'_>) -> bool {
        let width = (step.state.at_deg - base.at_deg).abs();
        let misled = || -> f64 {
            let ran = |(i, before): (usize, &Body)| {
                let (_, now) = follow(step, i)?;
                let turns = before.brims && before.piece == now.piece && before.onward != now.onward;
                turns.then_some(now.ran)
            };
            base.bodies.iter().enumerate().filter_map(ran).sum()
        };
        width <= FINEST_DEG || width <= FINE_DEG && misled() <= MISLED_PART * self.charge
    }

    /// The lowest place of a dip that two steps may hide: a brimming body keeps less there, or a body that brims at
    /// none of them runs over.
    fn dip(&self, base: &State, first: &Step<'_>, second: &Step<'_>) -> Option<f64> {
        let (a, b, c) = (base.at_deg, first.state.at_deg, second.state.at_deg);
        for (i, before) in base.bodies.iter().enumerate() {
            let Some((at, now)) = follow(first, i) else { continue };
            let Some((_, after)) = follow(second, at) else { continue };
            if before.piece != now.piece || now.piece != after.piece {
                continue;
            }
            // Between straight slopes the bottom lies no deeper than half of what the steeper one falls in a step.
            let falls = [before.room - now.room, after.room - now.room];
            let depth = 0.5 * falls[0].max(falls[1]);
            let short = now.room - now.volume;
            if falls.iter().any(|fall| *fall < 0.0) || depth <= DIP_PART * self.charge || depth < short {
                continue;
            }
            let room = |deg: f64| follow(&self.step(base, deg), i).map_or(0.0, |(_, body)| body.room);
            let (lowest, least) = valley(a, c, DIP_STEPS, room);
            let apart = |x: f64| (lowest - x).abs() > FINE_DEG;
            if apart(a) && apart(b) && apart(c) && least < now.volume - DIP_PART * self.charge {
                return Some(lowest);
            }
        }
        None
    }
}

impl<'a> Step<'a> {
    fn new(at_deg: f64, posture: Posture<'a>, spread: Spread) -> Self {
        let basins: Vec<usize> = posture.held(&spread).collect();
        let bodies = basins.iter().map(|&basin| body(&posture, &spread, basin)).collect();
        let state = State {
            at_deg,
            bodies,
            losing: spread.lost.iter().map(|v| *v > 0.0).collect(),
            left_over: spread.left_over,
            lost: spread.lost.clone(),
        };
        Self {
            state,
            posture,
            spread,
            basins,
            became: Vec::new(),
            changed: false,
        }
    }

    /// Where the overflow of a body comes to rest, past others that stand at their brims.
    pub(super) fn runs_to(&self, body: usize) -> Option<RunsTo> {
        let basin = self.basins.get(body)?;
        self.posture.runs_to(*basin, &self.spread)
    }

    /// Volume that each piece itself holds, mm3, whatever pools it belongs to.
    pub(super) fn shares(&self) -> Vec<f64> {
        let posture = &self.posture;
        let mut shares = vec![0.0; posture.interior.pieces().len()];
        for (body, &basin) in self.state.bodies.iter().zip(&self.basins) {
            let mut rest = body.volume;
            if !body.alone {
                let level = posture.level_for(basin, body.volume, body.room);
                for node in posture.members(basin) {
                    let piece = posture.piece_of(node);
                    if piece != body.piece {
                        let (wet, _) = posture.wet(node, level);
                        shares[piece] += wet;
                        rest -= wet;
                    }
                }
            }
            // What the level is off by stays with the piece of the lowest point, so that the sum is exact.
            shares[body.piece] += rest;
        }
        shares
    }
}

/// The pool of a basin as a body.
fn body(posture: &Posture<'_>, spread: &Spread, basin: usize) -> Body {
    let node = &posture.nodes[posture.basins[basin].bottom_node];
    let piece = posture.piece_of_basin(basin);
    let (volume, room) = (spread.volume[basin], posture.room(basin));
    let brims = posture.basins[basin].sill.is_some() && volume >= room * (1.0 - BRIM_PART);
    let onward = brims.then(|| posture.overflow(basin)).flatten().map(|rest| match rest {
        Rest::Basin(next) => RunsTo::Piece(posture.piece_of_basin(next)),
        Rest::Port(port) => RunsTo::Port(port),
    });
    Body {
        piece,
        primitive: node.primitive,
        bottom_at: node.bottom_at,
        volume,
        room,
        ran: spread.over[basin],
        brims,
        onward,
        grew: false,
        own: posture.is_of_one_piece(basin),
        alone: posture.members(basin).all(|node| posture.piece_of(node) == piece),
    }
}

/// The body that another became in a step.
fn follow<'b>(step: &'b Step<'_>, body: usize) -> Option<(usize, &'b Body)> {
    match step.became.get(body) {
        Some(&Became::Body(at)) => step.state.bodies.get(at).map(|body| (at, body)),
        _ => None,
    }
}

/// The part of the way at which the first margin that is used up in a step would be so, if all fell straight.
fn used_up(base: &State, beyond: &Step<'_>) -> Option<f64> {
    let bodies = base.bodies.iter().enumerate();
    let part = |(i, before): (usize, &Body)| {
        let (_, after) = follow(beyond, i)?;
        let margin = before.room - before.volume;
        (!before.brims && after.brims && margin > 0.0).then(|| margin / (margin + after.ran))
    };
    bodies.filter_map(part).min_by(f64::total_cmp)
}
