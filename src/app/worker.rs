//! Work that takes longer than a frame: a thread that walks the turns asked for, the newest question first.
//!
//! A walk that can follow a hand is finished even when there is a newer question by then, so that the marks keep moving
//! while something is dragged. One that takes longer is given up for the newer one.

use crate::geom::Interior;
use crate::geom::events::{Asked, Turn, of_turn};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// How long a walk may take when nobody waits for its answer any more.
const PATIENCE: Duration = Duration::from_millis(100);

/// What an answer is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Scale {
    /// The tilt ring.
    Ring,
    /// The roll scale.
    Roll,
}

impl Scale {
    /// Both, the more urgent first.
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

struct Job {
    scale: Scale,
    number: u64,
    question: Question,
}

/// The thread and the way to and from it.
pub(crate) struct Worker {
    jobs: Option<Sender<Job>>,
    answers: Receiver<(Scale, Question, Turn)>,
    /// The number of the newest question for each scale.
    newest: Arc<[AtomicU64; 2]>,
}

impl Worker {
    /// Starts the thread; `ctx` is repainted when there is an answer.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        let (jobs, inbox) = channel::<Job>();
        let (outbox, answers) = channel();
        let newest: Arc<[AtomicU64; 2]> = Arc::default();
        let (ctx, seen) = (ctx.clone(), Arc::clone(&newest));
        let work = move || {
            let mut waiting: [Option<Job>; 2] = [None, None];
            loop {
                if waiting.iter().all(Option::is_none) {
                    let Ok(job) = inbox.recv() else { return };
                    keep(&mut waiting, job);
                }
                inbox.try_iter().for_each(|job| keep(&mut waiting, job));
                let Some(job) = waiting.iter_mut().find_map(Option::take) else {
                    continue;
                };
                let Job {
                    scale,
                    number,
                    question,
                } = job;
                let began = Instant::now();
                let is_newest = || seen[scale as usize].load(Ordering::Relaxed) == number;
                let is_wanted = || began.elapsed() < PATIENCE || is_newest();
                if let Some(found) = of_turn(&question.interior, &question.asked, &is_wanted) {
                    if outbox.send((scale, question, found)).is_err() {
                        return;
                    }
                    ctx.request_repaint();
                }
            }
        };
        let thread = std::thread::Builder::new().name("turns".into()).spawn(work);
        Self {
            jobs: thread.is_ok().then_some(jobs),
            answers,
            newest,
        }
    }

    /// Asks; an older question for the same scale that waits is dropped.
    pub(crate) fn ask(&self, scale: Scale, question: Question) {
        let number = self.newest[scale as usize].fetch_add(1, Ordering::Relaxed) + 1;
        if let Some(jobs) = &self.jobs {
            // The thread lives as long as this sender, so that the job arrives.
            let _ = jobs.send(Job {
                scale,
                number,
                question,
            });
        }
    }

    /// The answers since the last call, in the order of their questions for each scale.
    pub(crate) fn answers(&self) -> impl Iterator<Item = (Scale, Question, Turn)> + '_ {
        self.answers.try_iter()
    }
}

/// Puts a job in the place of an older one for the same scale.
fn keep(waiting: &mut [Option<Job>; 2], job: Job) {
    let place = job.scale as usize;
    waiting[place] = Some(job);
}
