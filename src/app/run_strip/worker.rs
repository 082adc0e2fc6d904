//! A thread that pours the newest run and drops older ones.
//!
//! A pour that can follow a hand is finished even when there is a newer run by then, so that the liquid keeps moving
//! while a number is dragged. One that takes longer is given up for the newer one.

use super::happenings::{self, Happening};
use crate::geom::Interior;
use crate::model::Apparatus;
use crate::run::{Kept, Outcome, Trace};
use crate::stages::Pouring;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// How long a pour may take when nobody waits for it any more.
const PATIENCE: Duration = Duration::from_millis(100);

/// What is to be poured.
#[derive(Clone)]
pub(super) struct Asked {
    /// The glass.
    pub interior: Arc<Interior>,
    /// The design.
    pub apparatus: Apparatus,
    /// Whether each piece is a vessel.
    pub vessels: Vec<bool>,
}

/// A run at one end of the liquid's contact angles.
pub(super) struct End {
    /// What it comes to.
    pub outcome: Outcome,
    /// What lies where along its clock.
    pub trace: Trace,
}

/// A run that was poured.
pub(super) struct Poured {
    /// What was asked.
    pub asked: Asked,
    /// The run; with capillarity at the greatest contact angle.
    pub end: End,
    /// With capillarity, the run at the least contact angle.
    pub least: Option<End>,
    /// Why it is not known what hinders the liquid.
    pub unknown: Option<String>,
    /// With capillarity, what pieces keep as a film at the least contact angle.
    pub film: Vec<Kept>,
    /// Why that is not known.
    pub film_unknown: Option<String>,
    /// What happens, in order.
    pub happenings: Vec<Happening>,
}

impl Poured {
    /// Whether a design has the same glass, so that what was poured can be shown in it.
    pub(super) fn fits(&self, apparatus: &Apparatus) -> bool {
        let of = &self.asked.apparatus;
        of.pieces == apparatus.pieces && of.rows == apparatus.rows
    }

    fn of(asked: Asked, go_on: impl Fn() -> bool) -> Option<Self> {
        let interior = &*asked.interior;
        let pouring = Pouring::of(&asked.apparatus, interior);
        let end = |plan| {
            let outcome = Outcome::of(interior, plan, &go_on)?;
            let trace = Trace::of(&outcome, interior, &go_on)?;
            Some(End { outcome, trace })
        };
        let first = end(&pouring.plan)?;
        let (least, film) = match pouring.at_least_angle(interior, &first.outcome) {
            Some((plan, kept)) => (Some(end(&plan)?), kept),
            None => (None, Vec::new()),
        };
        let film_unknown = pouring.least.and_then(|least| least.film.err());
        Some(Self {
            happenings: happenings::of(interior, &first, &asked.vessels),
            end: first,
            least,
            unknown: pouring.unknown,
            film,
            film_unknown: film_unknown.map(|why| why.to_string()),
            asked,
        })
    }
}

/// The thread and the way to and from it.
pub(super) struct Worker {
    jobs: Option<Sender<(u64, Asked)>>,
    answers: Receiver<Poured>,
    newest: Arc<AtomicU64>,
    asked: Option<Arc<Interior>>,
}

impl Worker {
    /// Starts the thread; `ctx` is repainted when a run is poured.
    pub(super) fn new(ctx: &egui::Context) -> Self {
        let (jobs, inbox) = channel::<(u64, Asked)>();
        let (outbox, answers) = channel();
        let newest: Arc<AtomicU64> = Arc::default();
        let (ctx, seen) = (ctx.clone(), Arc::clone(&newest));
        let answer = move |poured: Poured| {
            let arrived = outbox.send(poured).is_ok();
            ctx.request_repaint();
            arrived
        };
        let thread = std::thread::Builder::new()
            .name("run".into())
            .spawn(move || work(&inbox, &seen, answer));
        Self {
            jobs: thread.is_ok().then_some(jobs),
            answers,
            newest,
            asked: None,
        }
    }

    /// Asks, unless just this glass was asked for last: each revision builds its own.
    pub(super) fn ask(&mut self, interior: &Arc<Interior>, asked: impl FnOnce() -> Asked) {
        if self.asked.as_ref().is_some_and(|known| Arc::ptr_eq(known, interior)) {
            return;
        }
        self.asked = Some(Arc::clone(interior));
        let number = self.newest.fetch_add(1, Ordering::Relaxed) + 1;
        if let Some(jobs) = &self.jobs {
            // The thread lives as long as this sender, so that the job arrives.
            let _ = jobs.send((number, asked()));
        }
    }

    /// The newest answer since the last call.
    pub(super) fn answer(&self) -> Option<Poured> {
        self.answers.try_iter().last()
    }
}

/// Pours until nobody asks any more.
fn work(inbox: &Receiver<(u64, Asked)>, newest: &AtomicU64, answer: impl Fn(Poured) -> bool) {
    while let Ok(mut job) = inbox.recv() {
        while let Ok(newer) = inbox.try_recv() {
            job = newer;
        }
        let (number, asked) = job;
        let began = Instant::now();
        let is_wanted = || began.elapsed() < PATIENCE || newest.load(Ordering::Relaxed) == number;
        if let Some(poured) = Poured::of(asked, is_wanted)
            && !answer(poured)
        {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Stop, sample};
    use std::sync::Mutex;

    fn asked(tilt_deg: f64) -> Asked {
        let mut apparatus = sample::apparatus();
        apparatus.run.stops = vec![Stop::at(0.0, 0.0), Stop::at(tilt_deg, 0.0)];
        let built = build(&apparatus).unwrap();
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        Asked {
            vessels: vec![true; interior.pieces().len()],
            interior: Arc::new(interior),
            apparatus,
        }
    }

    #[test]
    fn the_newest_run_is_poured() {
        let (jobs, inbox) = channel();
        for (i, tilt) in [10.0, 20.0, 5.0].into_iter().enumerate() {
            jobs.send((i as u64 + 1, asked(tilt))).unwrap();
        }
        drop(jobs);
        let tilts = Mutex::new(Vec::new());
        work(&inbox, &AtomicU64::new(3), |poured| {
            tilts.lock().unwrap().push(poured.end.outcome.halts[1].stance.tilt_deg);
            true
        });
        assert_eq!(tilts.into_inner().unwrap(), [5.0]);
    }

    #[test]
    fn an_older_run_is_given_up_and_another_glass_is_told_apart() {
        let poured = Poured::of(asked(5.0), || true).unwrap();
        assert!(Poured::of(asked(5.0), || false).is_none());
        let mut other = poured.asked.apparatus.clone();
        other.run.stops.clear();
        assert!(poured.fits(&other));
        other.pieces.pop();
        assert!(!poured.fits(&other));
    }
}
