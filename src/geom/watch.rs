//! What is seen on one way of a turn: which vessels begin to run, are filled, have drained, and what ports take.

use super::events::{Asked, Event, Moment, Turn, Vessel, What, given_to, reach_deg};
use super::losses::Losses;
use super::metering::Metering;
use super::pools::RunsTo;
use super::solve::{bracketed_root, valley};
use super::tilts::DRAINED_PART;
use super::walk::{Became, Body, State, Step, Walk};

/// Drained heels are found to this, degrees.
const HEEL_DEG: f64 = 1e-5;
/// A vessel within this part of its brim counts as full when it is asked whether it has become full.
const FULL_PART: f64 = 1e-3;
/// Steps of the search for the most room between two steps: a degree comes down to 1e-4.
const PEAK_STEPS: u32 = 20;
/// A body that appears with more than this part of the charge has parted from another.
const PARTED_PART: f64 = 1e-3;

/// What is known of a vessel on the way.
#[derive(Clone, Copy)]
struct Watched {
    vessel: Vessel,
    /// The most that it held, mm3.
    most: f64,
    /// Whether it has drained since.
    drained: bool,
    /// The most room that was left in it since it was last told to stand at its brim, as a part of it. A vessel that
    /// stands at its brim throughout is not told of again.
    slack: f64,
    /// The step at which it was seen.
    roomiest: Option<Roomiest>,
}

/// The step at which a vessel had the most room.
#[derive(Clone, Copy)]
struct Roomiest {
    /// The angles of the steps before it, of itself, and of the one after it, once there is one; degrees.
    before: f64,
    at: f64,
    after: Option<f64>,
    /// What the vessel held, mm3.
    volume: f64,
}

/// One way of the turn, and what has been seen on it.
pub(super) struct OneWay<'a> {
    walk: &'a Walk<'a>,
    way: f64,
    watched: Vec<Watched>,
    given: &'a [(usize, f64)],
    vessels: &'a [Vessel],
    losses: Losses<'a>,
    found: Turn,
}

impl<'a> OneWay<'a> {
    pub(super) fn new(walk: &'a Walk<'a>, asked: &'a Asked, way: f64) -> Self {
        let watched = |vessel: &Vessel| Watched {
            vessel: *vessel,
            most: 0.0,
            drained: false,
            slack: 1.0,
            roomiest: None,
        };
        Self {
            walk,
            way,
            watched: asked.vessels.iter().map(watched).collect(),
            given: &asked.given,
            vessels: &asked.vessels,
            losses: Losses::new(walk),
            found: Turn::default(),
        }
    }

    /// Walks it; nothing when that is no longer wanted.
    pub(super) fn walked(mut self, step_deg: f64, is_wanted: &(dyn Fn() -> bool + Sync)) -> Option<Turn> {
        let start = self.walk.start(0.0, self.given);
        self.see_start(&start);
        let (walk, way) = (self.walk, self.way);
        let mut metering = Metering::new(walk, self.vessels, &start.posture);
        let steps = (reach_deg(walk.turning) / step_deg).round() as usize;
        let mut goals = (1..=steps)
            .map(|k| way * step_deg * k as f64)
            .take_while(|_| is_wanted());
        walk.over(start.state, goals.by_ref(), &mut |from, step| {
            self.see(from, step);
            metering.look(step.state.at_deg, &step.posture);
        });
        // The liquid may be gone before the end.
        while !metering.is_done()
            && let Some(goal) = goals.next()
        {
            metering.look(goal, &walk.posture(goal));
        }
        self.found.losses = self.losses.found();
        self.found.events.extend(metering.found());
        is_wanted().then_some(self.found)
    }

    /// What is so before anything is turned.
    fn see_start(&mut self, start: &Step<'_>) {
        let (state, posture, held) = (&start.state, &start.posture, start.shares());
        for i in 0..self.watched.len() {
            let piece = self.watched[i].vessel.piece;
            let (volume, brim) = (given_to(self.given, piece), posture.brim_of_piece(piece));
            if volume > 0.0 && brim < volume {
                let to = posture.way_from_piece(piece);
                self.tell(0.0, piece, What::Begins { volume, to });
            } else if volume == 0.0 && held[piece] >= brim * (1.0 - FULL_PART) && self.is_marked(brim) {
                let to = posture.way_from_piece(piece);
                self.tell(0.0, piece, What::Brims { volume: brim, to });
            }
        }
        self.losses.see_start(state);
        self.measure(start);
        self.remember(state);
    }

    /// Takes in a step.
    fn see(&mut self, from: &State, step: &Step<'_>) {
        if step.changed {
            self.see_change(from, step);
        }
        self.losses.see(from, step);
        self.see_drained(from, step);
        self.measure(step);
        self.remember(&step.state);
    }

    /// Keeps the most that each vessel held, and the room left in it.
    fn measure(&mut self, step: &Step<'_>) {
        let at = step.state.at_deg;
        let before = self.found.moments.last().map_or(at, |moment| moment.at_deg);
        for watched in &mut self.watched {
            let piece = watched.vessel.piece;
            let own = || step.state.bodies.iter().filter(|body| body.piece == piece && body.own);
            let held: f64 = own().map(|body| body.volume).sum();
            watched.most = watched.most.max(held);
            // Filled anew, it can drain again.
            watched.drained &= held < 2.0 * DRAINED_PART * watched.most;
            match own().max_by(|a, b| a.volume.total_cmp(&b.volume)) {
                Some(body) => {
                    let slack = 1.0 - body.volume / body.room;
                    if slack > watched.slack {
                        watched.slack = slack;
                        watched.roomiest = Some(Roomiest {
                            before,
                            at,
                            after: None,
                            volume: body.volume,
                        });
                    } else if let Some(roomiest) = &mut watched.roomiest {
                        roomiest.after.get_or_insert(at);
                    }
                }
                None if watched.drained => (watched.slack, watched.roomiest) = (1.0, None),
                // It lies under a pool that reaches over its sill.
                None => {}
            }
        }
    }

    /// Finds what begins to run and what is filled in a step with a change.
    fn see_change(&mut self, from: &State, step: &Step<'_>) {
        let to = &step.state;
        let mut sources: Vec<Vec<&Body>> = vec![Vec::new(); to.bodies.len()];
        for (body, became) in from.bodies.iter().zip(&step.became) {
            let gone_to = match *became {
                Became::Body(at) if to.bodies[at].piece == body.piece => {
                    sources[at].push(body);
                    None
                }
                Became::Body(at) => Some(RunsTo::Piece(to.bodies[at].piece)),
                Became::Out(port) => Some(RunsTo::Port(port)),
                Became::Nothing => None,
            };
            // Its hollow is gone at once.
            if gone_to.is_some() && !body.brims && body.own {
                self.tell_of_beginning(body, to.at_deg, gone_to);
            }
        }
        let parted = to
            .bodies
            .iter()
            .zip(&sources)
            .any(|(body, sources)| sources.is_empty() && body.volume > PARTED_PART * self.walk.charge);
        for (i, (body, sources)) in to.bodies.iter().zip(&sources).enumerate() {
            if !body.brims || !body.own || sources.iter().any(|source| source.brims) {
                continue;
            }
            match sources[..] {
                // What a sinking pool leaves behind stood over its brim before.
                _ if parted && !sources.iter().any(|source| source.own) => {}
                [source, ..] if !source.grew && !body.grew => {
                    let margins = (source.room - source.volume, body.room - source.volume);
                    let at = crossing((from.at_deg, margins.0), (to.at_deg, margins.1));
                    self.tell_of_beginning(source, at, step.runs_to(i));
                }
                _ if self.is_marked(body.volume) => {
                    let (volume, surplus_to) = (body.volume, step.runs_to(i));
                    let at = match sources[..] {
                        [source, ..] => {
                            let margin = source.room - source.volume;
                            crossing((from.at_deg, margin), (to.at_deg, -body.ran))
                        }
                        [] => to.at_deg,
                    };
                    self.tell(at, body.piece, What::Brims { volume, to: surplus_to });
                }
                _ => {}
            }
        }
    }

    /// A body that was neither at its brim nor growing begins to run.
    fn tell_of_beginning(&mut self, body: &Body, at_deg: f64, to: Option<RunsTo>) {
        if self.is_marked(body.volume) {
            let volume = body.volume;
            self.tell(at_deg, body.piece, What::Begins { volume, to });
        }
    }

    /// Whether a volume is large enough for an event.
    fn is_marked(&self, volume: f64) -> bool {
        volume >= DRAINED_PART * self.walk.charge
    }

    /// The most room that was left in a vessel, between the steps as well, as a part of it.
    fn most_room(&self, watched: &Watched) -> f64 {
        let Some((roomiest, after)) = watched.roomiest.and_then(|it| Some((it, it.after?))) else {
            return watched.slack;
        };
        let held = |deg: f64| roomiest.volume / self.walk.posture(deg).brim_of_piece(watched.vessel.piece);
        // What it holds may lie in another of its hollows than the lowest.
        if (1.0 - held(roomiest.at) - watched.slack).abs() > 1e-9 {
            return watched.slack;
        }
        let (_, least) = valley(roomiest.before, after, PEAK_STEPS, held);
        watched.slack.max(1.0 - least)
    }

    fn tell(&mut self, at_deg: f64, piece: usize, what: What) {
        let Some(at) = self.watched.iter().position(|w| w.vessel.piece == piece) else {
            return;
        };
        if let What::Begins { to, .. } | What::Brims { to, .. } = what {
            // From one hollow of the piece into another nothing leaves it.
            if to == Some(RunsTo::Piece(piece)) {
                return;
            }
            let watched = &self.watched[at];
            if watched.slack < FULL_PART && self.most_room(watched) < FULL_PART {
                return;
            }
            (self.watched[at].slack, self.watched[at].roomiest) = (0.0, None);
        }
        self.found.events.push(Event { at_deg, piece, what });
    }

    /// Finds what has drained within a step: a search along the step, which holds no change or is a fine one.
    fn see_drained(&mut self, from: &State, step: &Step<'_>) {
        let mut shares: Option<Vec<f64>> = None;
        for i in 0..self.watched.len() {
            let Watched {
                vessel: Vessel { piece, .. },
                most,
                drained,
                ..
            } = self.watched[i];
            let heel = DRAINED_PART * most;
            // A vessel with its lowest point wet to a tenth is not looked into.
            let holds_more = |body: &Body| body.piece == piece && body.own && body.volume >= 0.1 * most;
            if drained || !self.is_marked(most) || step.state.bodies.iter().any(holds_more) {
                continue;
            }
            if shares.get_or_insert_with(|| step.shares())[piece] < heel {
                let excess = |at: f64| self.walk.step(from, at).shares()[piece] - heel;
                let at = bracketed_root(from.at_deg, step.state.at_deg, HEEL_DEG, excess);
                self.watched[i].drained = true;
                self.tell(at, piece, What::Drained { heel });
            }
        }
    }

    fn remember(&mut self, state: &State) {
        self.found.moments.push(Moment {
            at_deg: state.at_deg,
            held: state.bodies.iter().map(|body| (body.piece, body.volume)).collect(),
            lost: state.lost.clone(),
            left_over: state.left_over,
        });
    }
}

/// Where a margin that falls through zero between two angles does so, if it goes straight.
fn crossing((a, before): (f64, f64), (b, after): (f64, f64)) -> f64 {
    let part = before / (before - after);
    if (0.0..=1.0).contains(&part) {
        a + (b - a) * part
    } else {
        b
    }
}
