//! Work that takes longer than a frame: a thread that answers the newest question and drops older ones.

use super::ring::Event;
use crate::geom::{BothWays, Interior, Question, Stance, Tilts, tilts};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

/// What is asked, and of which glass.
struct Job {
    subject: Subject,
    interior: Arc<Interior>,
}

/// The tilts of one piece: what is asked, and what an answer belongs to.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Subject {
    /// Revision of the document.
    pub revision: u64,
    /// Index of the piece in the interior.
    pub piece: usize,
    /// Volumes, mm3.
    pub question: Question,
    /// Where the turn starts.
    pub from: Stance,
}

/// The thread and the way to and from it.
pub(crate) struct Worker {
    jobs: Option<Sender<Job>>,
    answers: Receiver<(Subject, Vec<Event>)>,
    asked: Option<Subject>,
}

impl Worker {
    /// Starts the thread; `ctx` is repainted when there is an answer.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        let (jobs, inbox) = channel::<Job>();
        let (outbox, answers) = channel();
        let ctx = ctx.clone();
        let thread = std::thread::Builder::new().name("tilts".into()).spawn(move || {
            while let Ok(mut job) = inbox.recv() {
                while let Ok(newer) = inbox.try_recv() {
                    job = newer;
                }
                let Job { subject, interior } = job;
                let found = tilts(&interior, subject.piece, subject.question, subject.from);
                if outbox.send((subject, events(&found))).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        Self {
            jobs: thread.is_ok().then_some(jobs),
            answers,
            asked: None,
        }
    }

    /// Asks, unless just this was asked last.
    pub(crate) fn ask(&mut self, subject: &Subject, interior: &Arc<Interior>) {
        if self.asked.as_ref() == Some(subject) {
            return;
        }
        self.asked = Some(subject.clone());
        if let Some(jobs) = &self.jobs {
            // The thread lives as long as this sender, so that the job arrives.
            let _ = jobs.send(Job {
                subject: subject.clone(),
                interior: Arc::clone(interior),
            });
        }
    }

    /// The newest answer since the last call.
    pub(crate) fn answer(&self) -> Option<(Subject, Vec<Event>)> {
        self.answers.try_iter().last()
    }
}

/// The tilts as marks on the ring.
fn events(found: &Tilts) -> Vec<Event> {
    let mut events: Vec<Event> = found
        .hold
        .map(|(low, high)| Event::Hold(low, high))
        .into_iter()
        .collect();
    let mut both = |ways: BothWays, event: fn(f64) -> Event| {
        events.extend([ways.anticlockwise, ways.clockwise].into_iter().flatten().map(event));
    };
    both(found.spill, Event::Spill);
    both(found.drain, Event::Drain);
    both(found.metering, Event::Metering);
    events
}
