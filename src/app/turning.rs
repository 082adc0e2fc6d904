//! The turn of the glass for the plot against tilt, computed on a thread of its own: the newest question wins.
//!
//! A coarse turn comes first, so that the plot follows a dragged dimension; the fine one follows unless a newer question
//! has come in by then.

use crate::geom::{Interior, TurnStep, turn};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};

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

/// The thread and the way to and from it.
pub(crate) struct Turning {
    jobs: Option<Sender<Job>>,
    answers: Receiver<Turned>,
    asked: Option<Wanted>,
}

impl Turning {
    /// Starts the thread; `ctx` is repainted when there is an answer.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        let (jobs, inbox) = channel::<Job>();
        let (outbox, answers) = channel();
        let ctx = ctx.clone();
        let answer = move |turned: Turned| {
            let arrived = outbox.send(turned).is_ok();
            ctx.request_repaint();
            arrived
        };
        let thread = std::thread::Builder::new()
            .name("turn".into())
            .spawn(move || work(&inbox, answer));
        Self {
            jobs: thread.is_ok().then_some(jobs),
            answers,
            asked: None,
        }
    }

    /// Asks, unless just this was asked last.
    pub(crate) fn ask(&mut self, wanted: Wanted, interior: &Arc<Interior>, given: &[(usize, f64)]) {
        if self.asked == Some(wanted) {
            return;
        }
        self.asked = Some(wanted);
        if let Some(jobs) = &self.jobs {
            // The thread lives as long as this sender, so that the job arrives.
            let _ = jobs.send(Job {
                wanted,
                interior: Arc::clone(interior),
                given: given.to_vec(),
            });
        }
    }

    /// The newest answer since the last call.
    pub(crate) fn answer(&self) -> Option<Turned> {
        self.answers.try_iter().last()
    }
}

/// Answers until nobody asks any more.
fn work(inbox: &Receiver<Job>, answer: impl Fn(Turned) -> bool) {
    let mut waiting: Option<Job> = None;
    loop {
        let Some(mut job) = waiting.take().or_else(|| inbox.recv().ok()) else {
            return;
        };
        while let Ok(newer) = inbox.try_recv() {
            job = newer;
        }
        for steps in STEPS {
            let is_fine = steps == STEPS[1];
            let tilts = (0..=steps).map(|i| -180.0 + f64::from(i) * 360.0 / f64::from(steps));
            // The coarse turn is always finished, so that the plot moves while a number is dragged.
            let go_on = || match inbox.try_recv() {
                _ if !is_fine => true,
                Ok(newer) => {
                    waiting = Some(newer);
                    false
                }
                Err(TryRecvError::Empty) => true,
                Err(TryRecvError::Disconnected) => false,
            };
            let Some(steps) = turn(&job.interior, &job.given, job.wanted.roll_deg, tilts, go_on) else {
                break;
            };
            let turned = Turned {
                wanted: job.wanted,
                steps,
                is_fine,
            };
            if !answer(turned) {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Stance;
    use crate::geom::build::build;
    use crate::model::sample;
    use std::sync::Mutex;

    fn job(revision: u64, interior: &Arc<Interior>) -> Job {
        Job {
            wanted: Wanted {
                document: 1,
                revision,
                roll_deg: 0.0,
            },
            interior: Arc::clone(interior),
            given: vec![(0, 4000.0)],
        }
    }

    #[test]
    fn the_newest_question_is_answered_coarse_and_fine() {
        let built = build(&sample::apparatus()).unwrap();
        let interior = Arc::new(Interior::new(built.names, built.primitives, built.ports).unwrap());
        let (jobs, inbox) = channel();
        for revision in 1..=3 {
            jobs.send(job(revision, &interior)).unwrap();
        }
        let answers = Mutex::new(Vec::new());
        work(&inbox, |turned| {
            let go_on = !turned.is_fine;
            answers.lock().unwrap().push(turned);
            go_on
        });
        drop(jobs);
        let answers = answers.into_inner().unwrap();
        assert!(
            answers.iter().all(|turned| turned.wanted.revision == 3),
            "older ones are dropped"
        );
        assert_eq!(answers.len(), 2);
        assert_eq!(answers[0].steps.len(), 73);
        assert_eq!(answers[1].steps.len(), 721);
        let at_rest = interior.at(Stance::new(-90.0, 0.0)).settle(&[(0, 4000.0)]);
        let step = &answers[0].steps[18];
        assert_eq!((step.tilt_deg, step.held[0]), (-90.0, at_rest.held_by(0)));
    }
}
