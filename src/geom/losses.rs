//! What ports take on the way of a turn, told as losses.
//!
//! What a port takes without a pause is a *run*. One of less than [`SMALL_PART`] of the charge is a trickle: bodies so
//! small are not timed within a step, so a trickle neither begins a loss nor prolongs it. It ends where a body that is not
//! small begins to run out.

use super::events::Loss;
use super::pools::RunsTo;
use super::solve::bracketed_root;
use super::walk::{Became, Body, FINE_DEG, SMALL_PART, State, Step, Walk};

/// A port that takes none for no longer than this, degrees, loses on.
const PAUSE_DEG: f64 = 1.0;
/// A run has ended when what is still to come is less than this part of the charge.
const ENDED_PART: f64 = 1e-7;

/// What a port took.
#[derive(Clone, Default)]
struct Taken {
    /// The run that goes on.
    run: Option<Loss>,
    /// The last loss that is over.
    loss: Option<Loss>,
    /// The first trickle, and all that came after it, while there has been no loss.
    trickle: Option<Loss>,
}

/// What has been taken on one way of a turn.
pub(super) struct Losses<'a> {
    walk: &'a Walk<'a>,
    /// By port.
    taken: Vec<Taken>,
    /// The liquid before the last step in which a port took some.
    before: Option<State>,
    found: Vec<Loss>,
}

impl<'a> Losses<'a> {
    pub(super) fn new(walk: &'a Walk<'a>) -> Self {
        Self {
            walk,
            taken: vec![Taken::default(); walk.interior.ports().len()],
            before: None,
            found: Vec::new(),
        }
    }

    /// What has run out before anything is turned.
    pub(super) fn see_start(&mut self, state: &State) {
        for (port, by_end) in state.lost.iter().copied().enumerate().filter(|(_, v)| *v > 0.0) {
            self.taken[port].run = Some(Loss {
                port,
                from_deg: state.at_deg,
                to_deg: state.at_deg,
                before: 0.0,
                by_end,
            });
        }
    }

    /// Takes in a step.
    pub(super) fn see(&mut self, from: &State, step: &Step<'_>) {
        let to = &step.state;
        for (port, by_end) in to.lost.iter().copied().enumerate() {
            if !to.losing[port] {
                self.end_run(port);
                continue;
            }
            let trickles = self.taken[port].run.is_some_and(|run| self.is_trickle(&run));
            if trickles && self.begins(from, step, port) {
                self.end_run(port);
            }
            let run = self.taken[port].run.get_or_insert(Loss {
                port,
                from_deg: to.at_deg,
                to_deg: to.at_deg,
                before: from.lost[port],
                by_end,
            });
            (run.to_deg, run.by_end) = (to.at_deg, by_end);
        }
        if to.losing.contains(&true) {
            self.before = Some(from.clone());
        }
    }

    /// The losses, once all steps have been taken in.
    pub(super) fn found(mut self) -> Vec<Loss> {
        for port in 0..self.taken.len() {
            self.end_run(port);
        }
        let last = self.taken.iter().filter_map(|taken| taken.loss.or(taken.trickle));
        self.found.extend(last);
        self.found
    }

    fn is_trickle(&self, run: &Loss) -> bool {
        run.by_end - run.before < SMALL_PART * self.walk.charge
    }

    /// Whether a body that is not small begins to run out of a port in a step.
    fn begins(&self, from: &State, step: &Step<'_>, port: usize) -> bool {
        let ran_there = |at: usize, now: &Body| {
            let before = from.bodies.iter().zip(&step.became);
            let mut sources = before.filter(|(_, became)| **became == Became::Body(at));
            sources.any(|(body, _)| body.brims && body.onward == now.onward)
        };
        let begins = |(at, now): (usize, &Body)| {
            let runs = now.brims && !self.walk.is_small(now) && !ran_there(at, now);
            runs && step.runs_to(at) == Some(RunsTo::Port(port))
        };
        step.changed && step.state.bodies.iter().enumerate().any(begins)
    }

    /// The run of a port is over: it makes a loss, or goes on with one, or is a trickle, which only adds to one.
    fn end_run(&mut self, port: usize) {
        let Some(mut run) = self.taken[port].run.take() else {
            return;
        };
        run.to_deg = self.end_of(&run);
        let is_trickle = self.is_trickle(&run);
        let Taken { loss, trickle, .. } = &mut self.taken[port];
        match loss {
            Some(loss) if is_trickle => loss.by_end = run.by_end,
            Some(loss) if (run.from_deg - loss.to_deg).abs() <= PAUSE_DEG => {
                (loss.to_deg, loss.by_end) = (run.to_deg, run.by_end);
            }
            None if is_trickle => {
                let trickle = trickle.get_or_insert(run);
                (trickle.to_deg, trickle.by_end) = (run.to_deg, run.by_end);
            }
            _ => self.found.extend(loss.replace(run)),
        }
    }

    /// Where a run ends of which the last step has been seen.
    fn end_of(&self, run: &Loss) -> f64 {
        // The first step of a run is a change, and so a fine one.
        let has_run = |state: &&State| state.lost[run.port] > run.before;
        let Some(before) = self.before.as_ref().filter(has_run) else {
            return run.to_deg;
        };
        let most = run.by_end - ENDED_PART * self.walk.charge;
        if before.lost[run.port] >= most {
            return before.at_deg;
        }
        let excess = |at: f64| self.walk.step(before, at).state.lost[run.port] - most;
        bracketed_root(before.at_deg, run.to_deg, FINE_DEG, excess)
    }
}
