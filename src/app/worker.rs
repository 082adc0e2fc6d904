//! Work that takes longer than a frame, on a thread of its own: the newest question wins.
//!
//! The thread sleeps until it is asked. Of the questions that have come in meanwhile only the newest is taken up. What
//! becomes of one that is overtaken while it is worked on is for the work to say, by what its [`Task`] tells it: what can
//! follow a hand is finished, so that it keeps moving while something is dragged; what takes longer is given up.

use egui::Context;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// How long work may go on when nobody waits for its answer any more.
const PATIENCE: Duration = Duration::from_millis(100);

/// What the window and the thread both see.
#[derive(Default)]
struct Shared {
    /// The number of the newest question.
    newest: AtomicU64,
    /// How far the work is, a thousandth.
    permille: AtomicU32,
}

/// The thread and the way to and from it.
pub(crate) struct Worker<Q, A> {
    questions: Option<Sender<(u64, Q)>>,
    answers: Receiver<A>,
    shared: Arc<Shared>,
}

/// A question as the work sees it.
pub(crate) struct Task<A> {
    number: u64,
    began: Instant,
    shared: Arc<Shared>,
    outbox: Sender<A>,
    ctx: Context,
}

impl<Q: Send + 'static, A: Send + 'static> Worker<Q, A> {
    /// Starts the thread; `ctx` is repainted when there is an answer.
    pub(crate) fn new(ctx: &Context, name: &str, work: impl Fn(Q, &Task<A>) + Send + 'static) -> Self {
        let (questions, inbox) = channel::<(u64, Q)>();
        let (outbox, answers) = channel();
        let shared: Arc<Shared> = Arc::default();
        let (ctx, seen) = (ctx.clone(), Arc::clone(&shared));
        let attend = move || {
            while let Ok(first) = inbox.recv() {
                let (number, question) = inbox.try_iter().last().unwrap_or(first);
                seen.permille.store(0, Ordering::Relaxed);
                let task = Task {
                    number,
                    began: Instant::now(),
                    shared: Arc::clone(&seen),
                    outbox: outbox.clone(),
                    ctx: ctx.clone(),
                };
                work(question, &task);
            }
        };
        let thread = std::thread::Builder::new().name(name.into()).spawn(attend);
        Self {
            questions: thread.is_ok().then_some(questions),
            answers,
            shared,
        }
    }

    /// Asks; an older question that waits is dropped.
    pub(crate) fn ask(&self, question: Q) {
        let number = self.shared.newest.fetch_add(1, Ordering::Relaxed) + 1;
        if let Some(questions) = &self.questions {
            // The thread lives as long as this sender, so that the question arrives.
            let _ = questions.send((number, question));
        }
    }
}

impl<Q, A> Worker<Q, A> {
    /// Nobody waits for an answer any more.
    pub(crate) fn give_up(&self) {
        self.shared.newest.fetch_add(1, Ordering::Relaxed);
    }

    /// How far the work is, 0 to 1, where it tells.
    pub(crate) fn part(&self) -> f32 {
        self.shared.permille.load(Ordering::Relaxed) as f32 / 1000.0
    }

    /// The newest answer since the last call.
    pub(crate) fn answer(&self) -> Option<A> {
        self.answers.try_iter().last()
    }
}

#[cfg(test)]
impl<Q, A> Worker<Q, A> {
    /// The next `count` answers; fewer when they take longer than `patience`.
    pub(crate) fn wait_for(&self, count: usize, patience: Duration) -> Vec<A> {
        let next = || self.answers.recv_timeout(patience).ok();
        std::iter::from_fn(next).take(count).collect()
    }
}

impl<Q, A> Drop for Worker<Q, A> {
    fn drop(&mut self) {
        self.give_up();
    }
}

impl<A> Task<A> {
    /// Whether no newer question has come in.
    pub(crate) fn is_newest(&self) -> bool {
        self.shared.newest.load(Ordering::Relaxed) == self.number
    }

    /// Whether it is worth going on: nothing newer is asked, or this has only just begun.
    pub(crate) fn is_wanted(&self) -> bool {
        self.began.elapsed() < PATIENCE || self.is_newest()
    }

    /// Tells how far it is, 0 to 1.
    pub(crate) fn is_at(&self, part: f64) {
        let permille = (1000.0 * part.clamp(0.0, 1.0)) as u32;
        self.shared.permille.fetch_max(permille, Ordering::Relaxed);
    }

    /// Gives an answer; there may be more than one.
    pub(crate) fn answer(&self, answer: A) {
        // The window may have gone.
        let _ = self.outbox.send(answer);
        self.ctx.request_repaint();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::RecvTimeoutError;

    /// A worker that says when it begins, and answers when it is let.
    fn held() -> (Worker<u32, u32>, Receiver<u32>, Sender<()>) {
        let (begin, begun) = channel();
        let (let_go, held) = channel::<()>();
        let worker = Worker::new(&Context::default(), "test", move |question, task| {
            begin.send(question).unwrap();
            held.recv().unwrap();
            if task.is_newest() {
                task.is_at(0.5);
                task.answer(question);
            }
        });
        (worker, begun, let_go)
    }

    fn next(begun: &Receiver<u32>) -> Result<u32, RecvTimeoutError> {
        begun.recv_timeout(Duration::from_secs(60))
    }

    #[test]
    fn only_the_newest_of_those_that_wait_is_taken_up() {
        let (worker, begun, let_go) = held();
        worker.ask(1);
        assert_eq!(next(&begun), Ok(1));
        for question in [2, 3, 4] {
            worker.ask(question);
        }
        let_go.send(()).unwrap();
        assert_eq!(next(&begun), Ok(4), "2 and 3 are dropped");
        assert_eq!(worker.answer(), None, "1 was overtaken");
        let_go.send(()).unwrap();
        assert_eq!(worker.wait_for(1, Duration::from_secs(60)), [4]);
        assert_eq!(worker.part(), 0.5);
    }

    #[test]
    fn what_is_given_up_or_has_lost_its_window_is_told() {
        let (worker, begun, let_go) = held();
        worker.ask(1);
        assert_eq!(next(&begun), Ok(1));
        worker.give_up();
        let_go.send(()).unwrap();
        worker.ask(2);
        assert_eq!(next(&begun), Ok(2), "and the thread goes on");
        assert_eq!(worker.answer(), None);
        drop(worker);
        let_go.send(()).unwrap();
        assert_eq!(next(&begun), Err(RecvTimeoutError::Disconnected), "the thread ends");
    }
}
