//! The newest run, poured beside the window.
//!
//! A pour that can follow a hand is finished even when there is a newer run by then, so that the liquid keeps moving
//! while a number is dragged. One that takes longer is given up for the newer one.

use super::happenings::{self, Happening};
use crate::app::worker;
use crate::geom::Interior;
use crate::model::Apparatus;
use crate::run::{Kept, Outcome, Trace};
use crate::stages::Pouring;
use std::sync::Arc;

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

/// Asks for runs.
pub(super) struct Worker {
    worker: worker::Worker<Asked, Poured>,
    asked: Option<Arc<Interior>>,
}

impl Worker {
    /// Ready to pour; `ctx` is repainted when a run is poured.
    pub(super) fn new(ctx: &egui::Context) -> Self {
        let work = |asked, task: &worker::Task<Poured>| {
            if let Some(poured) = Poured::of(asked, || task.is_wanted()) {
                task.answer(poured);
            }
        };
        Self {
            worker: worker::Worker::new(ctx, "run", work),
            asked: None,
        }
    }

    /// Asks, unless just this glass was asked for last: each revision builds its own.
    pub(super) fn ask(&mut self, interior: &Arc<Interior>, asked: impl FnOnce() -> Asked) {
        if self.asked.as_ref().is_some_and(|known| Arc::ptr_eq(known, interior)) {
            return;
        }
        self.asked = Some(Arc::clone(interior));
        self.worker.ask(asked());
    }

    /// The newest answer since the last call.
    pub(super) fn answer(&self) -> Option<Poured> {
        self.worker.answer()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Stop, sample};
    use std::time::Duration;

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
    fn a_run_is_poured_once() {
        let mut worker = Worker::new(&egui::Context::default());
        let asked = asked(5.0);
        let interior = Arc::clone(&asked.interior);
        worker.ask(&interior, || asked);
        worker.ask(&interior, || panic!("it was asked for already"));
        let poured = worker.worker.wait_for(1, Duration::from_secs(60));
        assert_eq!(poured[0].end.outcome.halts[1].stance.tilt_deg, 5.0);
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
