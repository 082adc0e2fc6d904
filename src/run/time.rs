//! Moments of a run and its clock: the wait at a stop, then the turn to the next, and so on to the last wait.

use super::{Halt, Outcome};

/// A moment of a run while the glass is turned: which way, from 0, and which part of it. Past the last way it is the
/// last stop.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Moment {
    /// The way from stop `leg` to the next.
    pub leg: usize,
    /// Part of the way, 0 to 1.
    pub part: f64,
}

impl Moment {
    /// The moment at which a stop is reached.
    pub fn at_stop(stop: usize) -> Self {
        match stop.checked_sub(1) {
            Some(leg) => Self { leg, part: 1.0 },
            None => Self::default(),
        }
    }
}

impl Outcome {
    /// The clock and the stances of a run of which nothing else is known.
    pub fn clock(halts: Vec<Halt>) -> Self {
        Self {
            legs: vec![Vec::new(); halts.len().saturating_sub(1)],
            halts,
            ..Self::default()
        }
    }

    /// How long the run takes, s.
    pub fn lasts_s(&self) -> f64 {
        self.halts.iter().map(|halt| halt.turn_s + halt.wait_s).sum()
    }

    /// When a stop is reached, s from the start.
    pub fn reached_s(&self, stop: usize) -> f64 {
        let before: f64 = self.halts.iter().take(stop).map(|halt| halt.turn_s + halt.wait_s).sum();
        before + self.halts.get(stop).map_or(0.0, |halt| halt.turn_s)
    }

    /// The moment after `time_s` seconds, and the stop where the glass rests then, if it does.
    pub fn moment(&self, time_s: f64) -> (Moment, Option<usize>) {
        let mut rest_s = time_s.max(0.0);
        for (stop, halt) in self.halts.iter().enumerate() {
            if rest_s < halt.turn_s
                && let Some(leg) = stop.checked_sub(1)
            {
                let part = rest_s / halt.turn_s;
                return (Moment { leg, part }, None);
            }
            rest_s -= halt.turn_s;
            if rest_s <= halt.wait_s {
                return (Moment::at_stop(stop), Some(stop));
            }
            rest_s -= halt.wait_s;
        }
        let last = self.halts.len().saturating_sub(1);
        (Moment::at_stop(last), self.halts.len().checked_sub(1))
    }

    /// When a moment is, s from the start.
    pub fn time_s(&self, moment: Moment) -> f64 {
        let turn_s = |halt: &Halt| halt.turn_s * (1.0 - moment.part);
        match self.halts.get(moment.leg + 1) {
            Some(halt) => self.reached_s(moment.leg + 1) - turn_s(halt),
            None => 0.0,
        }
    }
}
