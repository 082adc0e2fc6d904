//! The outcome of a run: what lies where at every stop, what ran where on the way, and what was lost.
//!
//! Everything follows from [`pour`](crate::geom::pour): liquid is given at the stance of the first stop and followed, without a jump, to each
//! next one. Volumes are mm3 and pieces are indices into the interior, as in `geom`.

mod course;
mod film;
mod given;
mod plan;
mod time;
mod trace;

pub use course::{Course, Locked, Stretch};
pub use film::{Film, Kept};
pub use plan::{Halt, Hindrance, Plan};
pub use time::Moment;
pub use trace::{Brimming, Trace, TracePoint};

use std::sync::Arc;

use crate::geom::{Interior, Postures, RunsTo, Settled, Stance};
use nalgebra::Vector3;

/// What a run comes to.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// The stops as they were planned.
    pub halts: Vec<Halt>,
    /// What lies where at each stop, before anything is sealed off there.
    pub stops: Vec<Rest>,
    /// The ways between the stops, each in the stretches in which the glass stays the same: one less than stops.
    pub legs: Vec<Vec<Stretch>>,
    /// What ran where, in the order in which it began; of what began together, first what filled first.
    pub transfers: Vec<Passage>,
    /// Vessels that took nothing for a while, in the order in which that began.
    pub locks: Vec<Lock>,
    /// Vessels that were sealed off where liquid stood.
    pub wet_seals: Vec<WetSeal>,
}

/// A vessel that took nothing for a while.
#[derive(Clone, Debug, PartialEq)]
pub struct Lock {
    /// The vessel, with the greatest head of that time.
    pub locked: Locked,
    /// When liquid came over the mouth of its neck.
    pub begins: Moment,
    /// When it was gone, or entered, or the run was over.
    pub ends: Moment,
}

/// A vessel that was sealed off where liquid stood in its neck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WetSeal {
    /// The stop at which it was.
    pub stop: usize,
    /// The vessel.
    pub piece: usize,
    /// Head of liquid over the seal-off place, mm.
    pub head_mm: f64,
}

/// What lies where at a stop.
#[derive(Clone, Debug, Default)]
pub struct Rest {
    /// The pools, and what has been lost by port up to this stop.
    pub settled: Settled,
    /// Volume by piece, mm3.
    pub held: Vec<f64>,
    /// Pieces sealed off before, each with what it held then, mm3; they take no part any more.
    pub sealed: Vec<(usize, f64)>,
    /// Vessels that take nothing here, as a plug of liquid stands in their necks.
    pub locked: Vec<Locked>,
}

/// Liquid that ran from one place to another in one go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// The piece that gave it up.
    pub from: usize,
    /// Where it came to rest.
    pub to: RunsTo,
    /// Volume, mm3.
    pub volume: f64,
    /// When it began. What runs as soon as the charge is given begins and ends at the first stop.
    pub begins: Moment,
    /// When it ended.
    pub ends: Moment,
}

/// Liquid under way at a moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Stream {
    /// From where to where it runs.
    pub passage: Passage,
    /// Its ways down the floor, pool by pool, in the axes of the apparatus; a port ends the last.
    pub ways: Vec<Vec<Vector3<f64>>>,
}

impl Outcome {
    /// Carries out a plan. `go_on` is asked before each way; none when it said no.
    pub fn of(interior: &Interior, plan: &Plan, go_on: impl FnMut() -> bool) -> Option<Self> {
        Self::again(&Arc::new(Postures::new(interior)), plan, go_on)
    }

    /// The same for one of many runs of the same glass.
    pub fn again(glass: &Arc<Postures<'_>>, plan: &Plan, mut go_on: impl FnMut() -> bool) -> Option<Self> {
        let interior = glass.interior();
        let mut outcome = Self {
            halts: plan.halts.clone(),
            ..Self::default()
        };
        if plan.halts.is_empty() {
            return Some(outcome);
        }
        let (mut course, run_on) = Course::start(glass, plan);
        outcome.transfers.extend(run_on);
        let mut sealed: Vec<(usize, f64)> = Vec::new();
        for (stop, halt) in plan.halts.iter().enumerate() {
            if let Some(leg) = stop.checked_sub(1) {
                if !go_on() {
                    return None;
                }
                let stretches = course.turn_to(halt.stance);
                outcome.transfers.extend(passages(leg, &stretches));
                outcome.add_locks(leg, &stretches);
                outcome.legs.push(stretches);
            }
            let rest = Rest::of(interior, &course, &sealed);
            if stop == 0 {
                let at_once = |locked: &Locked| Lock {
                    locked: locked.clone(),
                    begins: Moment::default(),
                    ends: Moment::default(),
                };
                outcome.locks.extend(rest.locked.iter().map(at_once));
            }
            for &(piece, bar) in &halt.seals {
                if let Some(head_mm) = course.head_at(&bar) {
                    outcome.wet_seals.push(WetSeal { stop, piece, head_mm });
                }
                sealed.push((piece, rest.held[piece]));
                course.seal(piece, bar);
            }
            outcome.stops.push(rest);
        }
        Some(outcome)
    }

    /// Adds what was locked on a way; what was so to the end of the way before goes on.
    fn add_locks(&mut self, leg: usize, stretches: &[Stretch]) {
        for stretch in stretches {
            for (locked, (begins, ends)) in &stretch.locks {
                let [begins, ends] = [begins, ends].map(|part| Moment {
                    leg,
                    part: stretch.of_way(*part),
                });
                let goes_on = |lock: &&mut Lock| {
                    lock.locked.neck == locked.neck
                        && (lock.ends == begins || begins.part == 0.0 && lock.ends == Moment::at_stop(leg))
                };
                match self.locks.iter_mut().find(goes_on) {
                    Some(lock) => {
                        lock.ends = ends;
                        if locked.head_mm > lock.locked.head_mm {
                            lock.locked = locked.clone();
                        }
                    }
                    None => self.locks.push(Lock {
                        locked: locked.clone(),
                        begins,
                        ends,
                    }),
                }
            }
        }
        let order = |a: &Lock, b: &Lock| a.begins.partial_cmp(&b.begins).unwrap_or(std::cmp::Ordering::Equal);
        self.locks.sort_by(order);
    }

    /// The vessels that take nothing at a moment.
    pub fn locked_at(&self, moment: Moment) -> impl Iterator<Item = &Lock> {
        let locks = self.locks.iter();
        locks.filter(move |lock| lock.begins <= moment && moment <= lock.ends)
    }

    /// The stance at a moment.
    pub fn stance(&self, moment: Moment) -> Stance {
        let stance = |stop: usize| self.halts.get(stop).map_or_else(Stance::default, |halt| halt.stance);
        match self.legs.get(moment.leg) {
            Some(_) => stance(moment.leg).toward(stance(moment.leg + 1), moment.part),
            None => stance(self.halts.len().saturating_sub(1)),
        }
    }

    /// The liquid at rest at a moment.
    pub fn settled(&self, interior: &Interior, moment: Moment) -> Settled {
        match self.stretch(moment) {
            Some(stretch) => stretch.settled(interior, self.stance(moment), moment.part),
            None => self.stops.last().map(|rest| rest.settled.clone()).unwrap_or_default(),
        }
    }

    /// The passages under way at a moment.
    pub fn under_way(&self, moment: Moment) -> impl Iterator<Item = &Passage> {
        let transfers = self.transfers.iter();
        transfers
            .filter(move |passage| passage.begins < passage.ends)
            .filter(move |passage| passage.begins <= moment && moment <= passage.ends)
    }

    /// The ways of the liquid that is under way at a moment, each with its passage; see [`Posture::ways`](crate::geom::Posture::ways).
    pub fn streams(&self, interior: &Interior, moment: Moment) -> Vec<Stream> {
        let Some(stretch) = self.stretch(moment) else {
            return Vec::new();
        };
        let posture = stretch.glass(interior).at(self.stance(moment));
        let pools = self.settled(interior, moment).pools;
        let streams = self.under_way(moment).map(|passage| Stream {
            passage: *passage,
            ways: posture.ways(&pools, passage.from, passage.to),
        });
        streams.collect()
    }

    fn stretch(&self, moment: Moment) -> Option<&Stretch> {
        let stretches = self.legs.get(moment.leg)?;
        let holds = |stretch: &&Stretch| moment.part <= stretch.parts.1;
        stretches.iter().find(holds).or(stretches.last())
    }

    /// What found no room, mm3: beyond what a closed interior holds.
    pub fn left_over(&self) -> f64 {
        self.stops.last().map_or(0.0, |rest| rest.settled.left_over)
    }
}

/// What ran where on a way.
fn passages(leg: usize, stretches: &[Stretch]) -> impl Iterator<Item = Passage> + '_ {
    stretches.iter().flat_map(move |stretch| {
        let moment = move |part: f64| Moment {
            leg,
            part: stretch.of_way(part),
        };
        stretch.poured.transfers.iter().map(move |transfer| Passage {
            from: transfer.from,
            to: transfer.to,
            volume: transfer.volume,
            begins: moment(transfer.begins),
            ends: moment(transfer.ends),
        })
    })
}

impl Rest {
    fn of(interior: &Interior, course: &Course<'_>, sealed: &[(usize, f64)]) -> Self {
        let settled = course.settled();
        let mut held = held(interior, &settled);
        for &(piece, volume) in sealed {
            held[piece] -= volume;
        }
        Self {
            held,
            settled,
            sealed: sealed.to_vec(),
            locked: course.locked(),
        }
    }
}

/// Volume by piece, mm3.
pub fn held(interior: &Interior, settled: &Settled) -> Vec<f64> {
    let mut held = vec![0.0; interior.pieces().len()];
    for &(piece, volume) in settled.pools.iter().flat_map(|pool| &pool.shares) {
        held[piece] += volume;
    }
    held
}
