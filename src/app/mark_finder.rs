//! The turns of the present glass and liquid: asked for when what they follow from has changed, kept as marks.

use super::marks::Marks;
use super::scene::Scene;
use super::worker::{Task, Worker};
use crate::geom::events::{Asked, Turn, Turning, of_turn};
use crate::geom::{Interior, Stance};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::Arc;
use std::thread::available_parallelism;

/// Most threads that walk: two turns, each both ways.
const MOST_THREADS: usize = 4;

/// What marks stand on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Scale {
    /// The tilt ring.
    Ring,
    /// The roll scale.
    Roll,
}

impl Scale {
    /// Both.
    pub(crate) const ALL: [Self; 2] = [Self::Ring, Self::Roll];
}

/// A turn to walk, and of which glass.
#[derive(Clone, Debug)]
pub(crate) struct Question {
    /// The glass.
    pub interior: Arc<Interior>,
    /// What is asked.
    pub asked: Asked,
}

impl PartialEq for Question {
    /// The same glass is one that was built once: each revision builds its own.
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.interior, &other.interior) && self.asked == other.asked
    }
}

/// One scale: the thread that walks its turns, what was asked last, and what is shown.
struct Kept {
    worker: Worker<Question, (Question, Turn)>,
    asked: Option<Question>,
    marks: Marks,
}

/// The threads on which both scales are walked: they leave one processor to the window, whose frames the hand waits for.
fn pool() -> Option<Arc<ThreadPool>> {
    let others = available_parallelism().map_or(1, |all| all.get() - 1);
    let threads = ThreadPoolBuilder::new().num_threads(others.clamp(1, MOST_THREADS));
    let named = threads.thread_name(|number| format!("turns {number}"));
    named.build().ok().map(Arc::new)
}

/// The marks of the tilt ring and of the roll scale.
pub(crate) struct MarkFinder {
    kept: [Kept; 2],
}

impl MarkFinder {
    /// Starts the threads; `ctx` is repainted when there are new marks.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        let pool = pool();
        let kept = |name| {
            let pool = pool.clone();
            let work = move |question: Question, task: &Task<_>| {
                let walk = || of_turn(&question.interior, &question.asked, &|| task.is_wanted());
                if let Some(turn) = pool.as_ref().map_or_else(walk, |pool| pool.install(walk)) {
                    task.answer((question, turn));
                }
            };
            Kept {
                worker: Worker::new(ctx, name, work),
                asked: None,
                marks: Marks::default(),
            }
        };
        Self {
            kept: [kept("tilts"), kept("rolls")],
        }
    }

    /// Asks for what has changed and takes what has been found since. The tilt ring starts from the glass as drawn,
    /// held at its present roll; the roll scale from its present tilt. While something is dragged the marks of a moment
    /// ago stay until the new ones are there.
    pub(crate) fn follow(&mut self, scene: &Scene, stance: Stance) {
        for scale in Scale::ALL {
            let turning = match scale {
                Scale::Ring => Turning::Tilt {
                    roll_deg: stance.roll_deg,
                },
                Scale::Roll => Turning::Roll {
                    tilt_deg: stance.tilt_deg,
                },
            };
            let kept = &mut self.kept[scale as usize];
            let question = scene.question(turning);
            if kept.asked != question {
                match &question {
                    Some(question) => {
                        kept.worker.ask(question.clone());
                        kept.marks.keep_those_of(question.interior.pieces());
                    }
                    None => kept.marks = Marks::default(),
                }
                kept.asked = question;
            }
            // Nothing is asked any more when the glass is gone.
            if let Some((question, turn)) = kept.worker.answer()
                && kept.asked.is_some()
            {
                kept.marks = Marks::new(&question, turn, |piece| scene.is_vessel(piece));
            }
        }
    }

    /// The marks of a scale.
    pub(crate) fn of(&self, scale: Scale) -> &Marks {
        &self.kept[scale as usize].marks
    }
}
