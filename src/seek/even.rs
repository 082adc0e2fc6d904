//! The shortest run of stances that fills every vessel to its target.
//!
//! **Method.** With one stance between the first and the last, the glass is swept over all allowed tilts once in each
//! direction, and brought to the last stance from a raster of tilts on the way; the best few are refined with COBYLA (a
//! derivative-free optimiser). If none is good enough, a second sweep goes out from each of the best stances, and so on up
//! to the number of stances allowed. Each sweep keeps the liquid on its way, so that a raster of stances costs one turn and
//! one return each. Rolls are tried at a few values in the raster, and freely in the refining.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::{Shares, Target, Watch, with_stops};
use crate::geom::{Care, Interior, Postures, RunsTo, Stance};
use crate::run::{Course, Outcome, Plan};

/// Spacing of the raster of tilts, degrees.
const RASTER_DEG: f64 = 4.0;
/// How many of the best stances are refined, and followed by another.
const KEPT: usize = 4;
/// Runs tried in refining one.
const REFINING: usize = 40;
/// First step of the refining, degrees.
const FIRST_STEP_DEG: f64 = 2.0;
/// What a further stance must gain, as a part of a target.
const WORTH: f64 = 1e-3;
/// Part of the charge that may be lost.
const LOST_PART: f64 = 1e-4;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// What each vessel is to hold.
    pub targets: Vec<Target>,
    /// Deviation allowed, as a part of the target.
    pub tolerance: f64,
    /// Least and greatest tilt, degrees.
    pub tilts: (f64, f64),
    /// Least and greatest roll, degrees; equal when there is to be none.
    pub rolls: (f64, f64),
    /// Stance in which the glass ends up, to be sealed.
    pub finish: Stance,
    /// Most stances between the first and the last.
    pub most_stops: usize,
}

/// Why no run within the tolerance was found, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Obstacle {
    /// The charge is less than the targets together, by this, mm3.
    ChargeShort(f64),
    /// The charge is more than the targets together and the heel, by this, mm3, and the surplus runs into vessels.
    ChargeOver(f64),
    /// A vessel (piece) cannot hold its target in the last stance: at its brim it holds this, mm3.
    VesselTooSmall(usize, f64),
    /// A vessel (piece) gets too much, by this, mm3: it lies where the others run over into it, or its brim is too high.
    TooMuch(usize, f64),
    /// A vessel (piece) gets too little, by this, mm3.
    TooLittle(usize, f64),
    /// This much runs out of a port (index), mm3.
    Lost(usize, f64),
}

/// What was found.
#[derive(Clone, Debug)]
pub struct Evened {
    /// The stances between the first and the last.
    pub stops: Vec<Stance>,
    /// The outcome of the whole run, the last stance included.
    pub outcome: Outcome,
    /// What it leaves.
    pub shares: Shares,
    /// Whether every vessel is within the tolerance and nothing is lost.
    pub is_met: bool,
    /// What stands in the way, where it is not met.
    pub obstacles: Vec<Obstacle>,
    /// How each vessel's share changes, mm3, with all stances 0.1 degree too far and 0.1 degree short: the greater.
    pub by_level_error: Vec<f64>,
    /// The same with the vessel's lip 0.5 mm too high or too low: its free surface where it last ran over, times that.
    pub by_lip_height: Vec<f64>,
    /// Runs that were carried out.
    pub runs: usize,
}

/// Error of the level that the sensitivity is told for, degrees.
pub const LEVEL_ERROR_DEG: f64 = 0.1;
/// Error of a lip's height that the sensitivity is told for, mm.
pub const LIP_ERROR_MM: f64 = 0.5;

/// Finds the shortest run. Of a plan, the gas, what is given and the first stop are used. None when it was stopped or the plan
/// has no stop.
pub fn even(interior: &Interior, plan: &Plan, question: &Question, watch: &dyn Watch) -> Option<Evened> {
    plan.halts.first()?;
    let quick = interior.taken_with(Care::Shares).ok()?;
    let search = Search {
        interior,
        glass: Arc::new(Postures::new(&quick)),
        plan,
        question,
        charge: plan.given.iter().map(|(_, volume)| volume).sum(),
        watch,
        runs: AtomicUsize::new(0),
        most_runs: question.most_stops.max(1) * KEPT * (search_size(question) + REFINING),
    };
    search.run()
}

fn search_size(question: &Question) -> usize {
    let span = (question.tilts.1 - question.tilts.0).max(0.0);
    (span / RASTER_DEG).ceil() as usize * rolls(question).len()
}

/// The rolls of the raster.
fn rolls(question: &Question) -> Vec<f64> {
    let (least, most) = question.rolls;
    let mut rolls = vec![0.0f64.clamp(least.min(most), most.max(least))];
    for roll in [least, 0.5 * least, 0.5 * most, most] {
        if rolls.iter().all(|known| (known - roll).abs() > 1.0) {
            rolls.push(roll);
        }
    }
    rolls
}

/// A run that was tried.
#[derive(Clone, Debug)]
struct Trial {
    stops: Vec<Stance>,
    shares: Shares,
    cost: f64,
}

struct Search<'a> {
    interior: &'a Interior,
    /// The same for trials.
    glass: Arc<Postures<'a>>,
    plan: &'a Plan,
    question: &'a Question,
    charge: f64,
    watch: &'a dyn Watch,
    runs: AtomicUsize,
    most_runs: usize,
}

impl Search<'_> {
    fn run(&self) -> Option<Evened> {
        let mut front = vec![Vec::new()];
        let mut best: Option<Trial> = None;
        for _ in 0..self.question.most_stops.max(1) {
            let mut trials: Vec<Trial> = Vec::new();
            for stops in &front {
                trials.extend(self.onward(stops)?);
            }
            trials.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            // Neighbours on the raster lead to the same place.
            let mut kept: Vec<Trial> = Vec::new();
            for trial in trials {
                let near = |known: &Trial| {
                    let pairs = known.stops.iter().zip(&trial.stops);
                    pairs.map(|(a, b)| a.apart_deg(*b)).fold(0.0, f64::max) < 1.5 * RASTER_DEG
                };
                if kept.len() < KEPT && !kept.iter().any(near) {
                    kept.push(trial);
                }
            }
            let refined: Vec<Trial> = kept.par_iter().map(|trial| self.refined(trial)).collect();
            if !self.goes_on() {
                return None;
            }
            front = refined.iter().map(|trial| trial.stops.clone()).collect();
            for trial in refined {
                // One more stance must be worth it.
                if best.as_ref().is_none_or(|known| trial.cost < known.cost - WORTH) {
                    best = Some(trial);
                }
            }
            if best.as_ref().is_some_and(|trial| self.is_met(&trial.shares)) {
                break;
            }
        }
        self.told(best?)
    }

    /// Every stance of the raster as one more after some, and the way to the last from there.
    fn onward(&self, stops: &[Stance]) -> Option<Vec<Trial>> {
        let (mut course, _) = Course::start(&self.glass, self.plan);
        for stop in stops {
            course.turn_to(*stop);
        }
        let from = course.stance();
        let (least, most) = self.question.tilts;
        let mut sweeps = Vec::new();
        for roll in rolls(self.question) {
            let start = Stance::new(from.tilt_deg.clamp(least, most), roll);
            sweeps.push((start, most));
            sweeps.push((start, least));
        }
        let trials: Vec<Vec<Trial>> = sweeps
            .par_iter()
            .map(|&(start, end)| self.sweep(stops, course.clone(), start, end))
            .collect();
        self.goes_on().then(|| trials.into_iter().flatten().collect())
    }

    fn sweep(&self, stops: &[Stance], mut course: Course<'_>, start: Stance, end: f64) -> Vec<Trial> {
        let way = end - start.tilt_deg;
        let steps = (way.abs() / RASTER_DEG).ceil();
        let mut trials = Vec::new();
        let mut step = 0.0;
        while step <= steps {
            let by = (step * RASTER_DEG).min(way.abs()) * way.signum();
            let next = Stance::new(start.tilt_deg + by, start.roll_deg);
            step += 1.0;
            if !self.goes_on() {
                break;
            }
            course.turn_to(next);
            let mut back = course.clone();
            back.turn_to(self.question.finish);
            self.runs.fetch_add(1, Ordering::Relaxed);
            let settled = back.settled();
            let held = crate::run::held(self.interior, &settled);
            let targets = &self.question.targets;
            let shares: Vec<f64> = targets.iter().map(|target| held[target.piece]).collect();
            let shares = Shares {
                heel: held.iter().sum::<f64>() - shares.iter().sum::<f64>(),
                held: shares,
                lost: settled.lost.iter().map(|(_, volume)| volume).sum(),
            };
            let mut stops = stops.to_vec();
            stops.push(next);
            trials.push(Trial {
                cost: self.cost(&shares),
                stops,
                shares,
            });
        }
        trials
    }

    /// The best near a trial.
    fn refined(&self, trial: &Trial) -> Trial {
        let with_roll = self.question.rolls.0 != self.question.rolls.1;
        let width = if with_roll { 2 } else { 1 };
        let stops = |x: &[f64]| -> Vec<Stance> {
            let pairs = x.chunks(width).zip(&trial.stops);
            pairs
                .map(|(x, old)| Stance::new(x[0], x.get(1).copied().unwrap_or(old.roll_deg)))
                .collect()
        };
        let of = |stance: &Stance| {
            [stance.tilt_deg, stance.roll_deg]
                .into_iter()
                .take(width)
                .collect::<Vec<_>>()
        };
        let start: Vec<f64> = trial.stops.iter().flat_map(of).collect();
        let bounds: Vec<(f64, f64)> = trial
            .stops
            .iter()
            .flat_map(|_| [self.question.tilts, self.question.rolls].into_iter().take(width))
            .collect();
        let cost = |x: &[f64], _: &mut ()| {
            if self.goes_on() {
                self.cost(&self.shares(&stops(x)))
            } else {
                f64::MAX
            }
        };
        let none: &[fn(&[f64], &mut ()) -> f64] = &[];
        let found = cobyla::minimize(
            cost,
            &start,
            &bounds,
            none,
            (),
            REFINING * trial.stops.len(),
            cobyla::RhoBeg::All(FIRST_STEP_DEG),
            None,
        );
        let x = match found {
            Ok((_, x, _)) | Err((_, x, _)) => x,
        };
        let stops = stops(&x);
        let shares = self.shares(&stops);
        let cost = self.cost(&shares);
        if cost < trial.cost {
            Trial { stops, shares, cost }
        } else {
            trial.clone()
        }
    }

    /// What a run comes to, to be made small: the greatest deviation as a part of the target, and small parts of what is lost
    /// and left behind.
    fn cost(&self, shares: &Shares) -> f64 {
        let charge = self.charge.max(f64::MIN_POSITIVE);
        let targets = &self.question.targets;
        let off = targets
            .iter()
            .zip(&shares.held)
            .map(|(t, held)| ((held - t.volume) / t.volume).powi(2));
        let mean = (off.sum::<f64>() / targets.len().max(1) as f64).sqrt();
        shares.worst(targets) + 0.3 * mean + 4.0 * shares.lost / charge + 0.02 * shares.heel / charge
    }

    fn is_met(&self, shares: &Shares) -> bool {
        shares.worst(&self.question.targets) <= self.question.tolerance && shares.lost <= LOST_PART * self.charge
    }

    fn shares(&self, stops: &[Stance]) -> Shares {
        self.runs.fetch_add(1, Ordering::Relaxed);
        Shares::of(&self.outcome(&self.glass, stops), &self.question.targets)
    }

    fn outcome(&self, glass: &Arc<Postures<'_>>, stops: &[Stance]) -> Outcome {
        let stops = stops.iter().copied().chain([self.question.finish]);
        Outcome::again(glass, &with_stops(self.plan, stops), || true).unwrap_or_default()
    }

    fn goes_on(&self) -> bool {
        let done = self.runs.load(Ordering::Relaxed) as f64 / self.most_runs.max(1) as f64;
        self.watch.at(done.min(1.0))
    }

    fn told(&self, best: Trial) -> Option<Evened> {
        let targets = &self.question.targets;
        let outcome = self.outcome(&Arc::new(Postures::new(self.interior)), &best.stops);
        let shares = Shares::of(&outcome, targets);
        let tilted: Vec<Shares> = [LEVEL_ERROR_DEG, -LEVEL_ERROR_DEG]
            .into_iter()
            .map(|error| {
                let off = |s: &Stance| Stance::new(s.tilt_deg + error, s.roll_deg);
                self.shares(&best.stops.iter().map(off).collect::<Vec<_>>())
            })
            .collect();
        let by_level_error = (0..targets.len())
            .map(|i| {
                tilted
                    .iter()
                    .map(|t| (t.held[i] - shares.held[i]).abs())
                    .fold(0.0, f64::max)
            })
            .collect();
        let is_met = self.is_met(&shares);
        Some(Evened {
            by_lip_height: self.by_lip_height(&outcome),
            obstacles: if is_met {
                Vec::new()
            } else {
                self.obstacles(&outcome, &shares)
            },
            stops: best.stops,
            outcome,
            shares,
            is_met,
            by_level_error,
            runs: self.runs.load(Ordering::Relaxed),
        })
    }

    /// Free surface of each vessel at the stop at which it held least room, times the error of its lip.
    fn by_lip_height(&self, outcome: &Outcome) -> Vec<f64> {
        let turned = outcome.stops.len().saturating_sub(1);
        let surface = |target: &Target| {
            let pools = outcome.stops[..turned].iter().flat_map(|rest| &rest.settled.pools);
            let own = pools.filter(|pool| pool.piece == target.piece && pool.brim.is_some());
            let fullest = own.min_by(|a, b| {
                let room = |p: &crate::geom::Pool| p.brim.unwrap_or(f64::INFINITY) - p.volume;
                room(a).total_cmp(&room(b))
            });
            fullest.map_or(0.0, |pool| pool.free_surface)
        };
        self.question
            .targets
            .iter()
            .map(|t| surface(t) * LIP_ERROR_MM)
            .collect()
    }

    fn obstacles(&self, outcome: &Outcome, shares: &Shares) -> Vec<Obstacle> {
        let targets = &self.question.targets;
        let mut obstacles = Vec::new();
        let short = targets.iter().map(|t| t.volume).sum::<f64>() - self.charge;
        if short > 0.0 {
            obstacles.push(Obstacle::ChargeShort(short));
        }
        let held: f64 = shares.held.iter().sum();
        let over = held - targets.iter().map(|t| t.volume).sum::<f64>();
        if over > self.question.tolerance * held {
            obstacles.push(Obstacle::ChargeOver(over));
        }
        let finish = self.interior.at(self.question.finish);
        for target in targets {
            let brim = finish
                .sill_of_piece(target.piece)
                .map(|sill| finish.below(target.piece, sill).volume);
            if let Some(brim) = brim.filter(|brim| *brim < target.volume * (1.0 - self.question.tolerance)) {
                obstacles.push(Obstacle::VesselTooSmall(target.piece, brim));
            }
        }
        for (target, held) in targets.iter().zip(&shares.held) {
            let off = held - target.volume;
            if off > self.question.tolerance * target.volume {
                obstacles.push(Obstacle::TooMuch(target.piece, off));
            } else if -off > self.question.tolerance * target.volume {
                obstacles.push(Obstacle::TooLittle(target.piece, -off));
            }
        }
        for passage in &outcome.transfers {
            if let RunsTo::Port(port) = passage.to
                && passage.volume > LOST_PART * self.charge
            {
                obstacles.push(Obstacle::Lost(port, passage.volume));
            }
        }
        obstacles
    }
}
