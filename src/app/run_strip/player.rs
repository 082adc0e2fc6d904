//! Where a run is shown: the stop or the time, whether it is on the bench, and whether it plays.

use crate::geom::Stance;
use crate::run::{Moment, Outcome};

/// Times that a run may be played faster than it is done.
pub(super) const SPEEDS: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 16.0];
/// Times closer than this are the same, s.
const SAME_S: f64 = 1e-6;

/// A place in a run. A stop stays itself when times change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Place {
    /// At a stop as it is reached.
    Stop(usize),
    /// So many seconds from the start.
    Time(f64),
}

/// The state of the player.
#[derive(Clone, Debug)]
pub(super) struct Player {
    pub place: Place,
    /// Whether the bench shows the run.
    pub is_on: bool,
    /// The time of the frame until which it has been played, s; none while it stands.
    pub played_to: Option<f64>,
    /// How many times faster than it is done.
    pub speed: f64,
    /// The stance that it gave the glass last: another one is the hand's.
    pub held: Stance,
}

impl Default for Player {
    fn default() -> Self {
        Self {
            place: Place::Time(0.0),
            is_on: false,
            played_to: None,
            speed: 8.0,
            held: Stance::default(),
        }
    }
}

impl Player {
    /// Hands the bench back.
    pub(super) fn leave(&mut self) {
        (self.is_on, self.played_to) = (false, None);
    }

    /// Seconds from the start of a run.
    pub(super) fn time_s(&self, run: &Outcome) -> f64 {
        match self.place {
            Place::Stop(stop) => run.reached_s(stop.min(run.halts.len().saturating_sub(1))),
            Place::Time(time_s) => time_s.clamp(0.0, run.lasts_s()),
        }
    }

    /// The moment of a run, and the stop where the glass rests then.
    pub(super) fn moment(&self, run: &Outcome) -> (Moment, Option<usize>) {
        match self.place {
            Place::Stop(stop) if stop < run.halts.len() => (Moment::at_stop(stop), Some(stop)),
            _ => run.moment(self.time_s(run)),
        }
    }

    /// Plays on until the frame at `now_s`.
    pub(super) fn play_to(&mut self, run: &Outcome, now_s: f64) {
        let Some(before) = self.played_to else { return };
        let time_s = self.time_s(run) + (now_s - before).max(0.0) * self.speed;
        self.place = Place::Time(time_s.min(run.lasts_s()));
        self.played_to = (time_s < run.lasts_s()).then_some(now_s);
    }

    /// The stop after the present place, or before it. A run that is not on the bench is entered at its start, or at
    /// its end.
    pub(super) fn next_stop(&self, run: &Outcome, forward: bool) -> Option<usize> {
        let mut stops = 0..run.halts.len();
        if !self.is_on {
            return if forward { stops.next() } else { stops.next_back() };
        }
        let now_s = self.time_s(run);
        let here = self.moment(run).1;
        if forward {
            stops.find(|stop| run.reached_s(*stop) > now_s + SAME_S && Some(*stop) != here)
        } else {
            stops.rfind(|stop| run.reached_s(*stop) < now_s - SAME_S)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Stop;
    use crate::run::Halt;

    /// Waits of 10 s, and turns of 10 s between.
    fn run() -> Outcome {
        let stops = [0.0, 20.0, 0.0].map(|tilt| Stop::at(tilt, 0.0));
        Outcome::clock(Halt::all(&stops))
    }

    #[test]
    fn it_plays_to_the_end_and_stands() {
        let run = run();
        let mut player = Player {
            is_on: true,
            played_to: Some(100.0),
            speed: 4.0,
            ..Player::default()
        };
        player.play_to(&run, 104.0);
        assert_eq!(player.time_s(&run), 16.0);
        assert_eq!(run.stance(player.moment(&run).0), Stance::new(12.0, 0.0));
        player.play_to(&run, 200.0);
        assert_eq!((player.time_s(&run), player.played_to), (50.0, None));
        assert_eq!(player.moment(&run).1, Some(2));
    }

    #[test]
    fn steps_go_from_stop_to_stop() {
        let run = run();
        let mut player = Player::default();
        assert_eq!(player.next_stop(&run, true), Some(0));
        assert_eq!(player.next_stop(&run, false), Some(2));
        player.is_on = true;
        let steps = [(Place::Stop(0), Some(1), None), (Place::Time(15.0), Some(1), Some(0))];
        let late = [(Place::Stop(2), None, Some(1)), (Place::Time(25.0), Some(2), Some(1))];
        for (place, next, before) in steps.into_iter().chain(late) {
            player.place = place;
            assert_eq!(player.next_stop(&run, true), next, "{place:?}");
            assert_eq!(player.next_stop(&run, false), before, "{place:?}");
        }
    }

    #[test]
    fn a_stop_stays_itself_when_times_change() {
        let player = Player {
            place: Place::Stop(1),
            ..Player::default()
        };
        assert_eq!(player.time_s(&run()), 20.0);
        let slow = Outcome::clock(Halt::all(&[0.0, 40.0].map(|tilt| Stop::at(tilt, 0.0))));
        assert_eq!(player.time_s(&slow), 30.0);
    }
}
