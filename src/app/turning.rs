//! The turn of the glass for the plot against tilt, computed beside the window.
//!
//! A coarse turn comes first, so that the plot follows a dragged dimension; the fine one follows unless a newer question
//! has come in by then.

use super::worker::{Task, Worker};
use crate::geom::{Interior, TurnStep, turn};
use std::sync::Arc;

/// Steps in a full turn of the coarse and the fine answer.
const STEPS: [i32; 2] = [72, 720];

/// What an answer belongs to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Wanted {
    /// Number of the document among those that were opened.
    pub document: u64,
    /// Its revision.
    pub revision: u64,
    /// Roll, degrees.
    pub roll_deg: f64,
}

struct Job {
    wanted: Wanted,
    interior: Arc<Interior>,
    given: Vec<(usize, f64)>,
}

/// A turn, and what it belongs to.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Turned {
    /// What was asked.
    pub wanted: Wanted,
    /// What the pieces hold at each tilt, by their numbers in the interior.
    pub steps: Vec<TurnStep>,
    /// Whether this is the fine turn.
    pub is_fine: bool,
}

/// Asks for turns.
pub(crate) struct Turning {
    worker: Worker<Job, Turned>,
    asked: Option<Wanted>,
}

impl Turning {
    /// Ready to turn; `ctx` is repainted when there is an answer.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        Self {
            worker: Worker::new(ctx, "turn", work),
            asked: None,
        }
    }

    /// Asks, unless just this was asked last.
    pub(crate) fn ask(&mut self, wanted: Wanted, interior: &Arc<Interior>, given: &[(usize, f64)]) {
        if self.asked == Some(wanted) {
            return;
        }
        self.asked = Some(wanted);
        self.worker.ask(Job {
            wanted,
            interior: Arc::clone(interior),
            given: given.to_vec(),
        });
    }

    /// The newest answer since the last call.
    pub(crate) fn answer(&self) -> Option<Turned> {
        self.worker.answer()
    }
}

/// Turns the glass, coarse and then fine.
fn work(job: Job, task: &Task<Turned>) {
    for steps in STEPS {
        let is_fine = steps == STEPS[1];
        let tilts = (0..=steps).map(|i| -180.0 + f64::from(i) * 360.0 / f64::from(steps));
        // The coarse turn is always finished, so that the plot moves while a number is dragged.
        let go_on = || !is_fine || task.is_newest();
        let Some(steps) = turn(&job.interior, &job.given, job.wanted.roll_deg, tilts, go_on) else {
            return;
        };
        task.answer(Turned {
            wanted: job.wanted,
            steps,
            is_fine,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Stance;
    use crate::geom::build::build;
    use crate::model::sample;
    use std::time::Duration;

    #[test]
    fn a_turn_is_answered_coarse_and_fine() {
        let built = build(&sample::apparatus()).unwrap();
        let interior = Arc::new(Interior::new(built.names, built.primitives, built.ports).unwrap());
        let mut turning = Turning::new(&egui::Context::default());
        let wanted = Wanted {
            document: 1,
            revision: 3,
            roll_deg: 0.0,
        };
        turning.ask(wanted, &interior, &[(0, 4000.0)]);
        turning.ask(wanted, &interior, &[(0, 4000.0)]);
        let answers = turning.worker.wait_for(2, Duration::from_secs(60));
        assert!(answers.iter().all(|turned| turned.wanted == wanted));
        assert_eq!(
            answers.iter().map(|turned| turned.steps.len()).collect::<Vec<_>>(),
            [73, 721]
        );
        let at_rest = interior.at(Stance::new(-90.0, 0.0)).settle(&[(0, 4000.0)]);
        let step = &answers[0].steps[18];
        assert_eq!((step.tilt_deg, step.held[0]), (-90.0, at_rest.held_by(0)));
    }
}
