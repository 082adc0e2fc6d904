//! The outcome of a run: what lies where at every stop, what ran where on the way, and what was lost.
//!
//! Everything follows from [`pour`]: liquid is given at the stance of the first stop and followed, without a jump, to each
//! next one. Volumes are mm3 and pieces are indices into the interior, as in `geom`.

mod given;
mod plan;
mod time;

pub use plan::{Halt, Plan};
pub use time::Moment;

use crate::geom::{Interior, Liquid, Poured, RunsTo, Settled, Stance, pour};
use given::give;

/// What a run comes to.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// The stops as they were planned.
    pub halts: Vec<Halt>,
    /// What lies where at each stop, before anything is sealed off there.
    pub stops: Vec<Rest>,
    /// The ways between the stops: one less than stops.
    pub legs: Vec<Poured>,
    /// What ran where, in the order in which it began; of what began together, first what filled first.
    pub transfers: Vec<Passage>,
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

impl Outcome {
    /// Carries out a plan. `go_on` is asked before each way; none when it said no.
    pub fn of(interior: &Interior, plan: &Plan, mut go_on: impl FnMut() -> bool) -> Option<Self> {
        let mut outcome = Self {
            halts: plan.halts.clone(),
            ..Self::default()
        };
        let Some(first) = plan.halts.first() else {
            return Some(outcome);
        };
        let posture = interior.at(first.stance);
        let (mut liquid, run_on) = give(&posture, &plan.given);
        outcome.transfers.extend(run_on);
        outcome.stops.push(Rest::of(interior, first.stance, &liquid));
        for (leg, pair) in plan.halts.windows(2).enumerate() {
            if !go_on() {
                return None;
            }
            let (from, to) = (pair[0].stance, pair[1].stance);
            let poured = pour(interior, liquid, from, to);
            liquid = poured.last();
            outcome.transfers.extend(poured.transfers.iter().map(|transfer| Passage {
                from: transfer.from,
                to: transfer.to,
                volume: transfer.volume,
                begins: Moment {
                    leg,
                    part: transfer.begins,
                },
                ends: Moment {
                    leg,
                    part: transfer.ends,
                },
            }));
            outcome.stops.push(Rest::of(interior, to, &liquid));
            outcome.legs.push(poured);
        }
        Some(outcome)
    }

    /// The stance at a moment.
    pub fn stance(&self, moment: Moment) -> Stance {
        let stance = |stop: usize| self.halts.get(stop).map_or_else(Stance::default, |halt| halt.stance);
        match self.legs.get(moment.leg) {
            Some(_) => between(stance(moment.leg), stance(moment.leg + 1), moment.part),
            None => stance(self.halts.len().saturating_sub(1)),
        }
    }

    /// The liquid at rest at a moment.
    pub fn settled(&self, interior: &Interior, moment: Moment) -> Settled {
        match self.legs.get(moment.leg) {
            Some(poured) => poured.before(moment.part).at(&interior.at(self.stance(moment))),
            None => self.stops.last().map(|rest| rest.settled.clone()).unwrap_or_default(),
        }
    }

    /// The passages under way at a moment.
    pub fn under_way(&self, moment: Moment) -> impl Iterator<Item = &Passage> {
        let transfers = self.transfers.iter();
        transfers.filter(move |passage| passage.begins < passage.ends)
            .filter(move |passage| passage.begins <= moment && moment <= passage.ends)
    }

    /// What found no room, mm3: beyond what a closed interior holds.
    pub fn left_over(&self) -> f64 {
        self.stops.last().map_or(0.0, |rest| rest.settled.left_over)
    }
}

impl Rest {
    fn of(interior: &Interior, stance: Stance, liquid: &Liquid) -> Self {
        let settled = liquid.at(&interior.at(stance));
        Self {
            held: held(interior, &settled),
            settled,
            sealed: Vec::new(),
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

/// The stance at a part of the way between two.
fn between(from: Stance, to: Stance, part: f64) -> Stance {
    let mix = |a: f64, b: f64| if part >= 1.0 { b } else { a + (b - a) * part };
    Stance::new(mix(from.tilt_deg, to.tilt_deg), mix(from.roll_deg, to.roll_deg))
}
