//! What `even`, `size` and `spread` answer.
//!
//! The JSON forms are stable contracts, as in [`answers`](super::answers).

use std::fmt::Write;

use serde::Serialize;

use super::answers::{PieceAnswer, StanceAnswer};
use super::run_answers::stance_text;
use crate::geom::{Interior, Stance};
use crate::run::Plan;
use crate::seek::even::{Evened, LEVEL_ERROR_DEG, LIP_ERROR_MM, Obstacle, Question};
use crate::seek::size::Answer;
use crate::seek::spread::{Spread, UNDER_PART};
use crate::units::{MM3_PER_ML, angle_text, fixed, length_text, volume_text};

/// Dimensions told in the text, of all that were varied.
const WEIGHTIEST: usize = 3;

/// A vessel after the run that was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EvenedVessel {
    /// Name of the piece.
    pub piece: String,
    /// Volume wanted, mL.
    pub target_ml: f64,
    /// Volume after the run, mL.
    pub volume_ml: f64,
    /// By how much it may differ with all stances off by `level_error_deg`, mL.
    pub by_level_ml: f64,
    /// By how much it may differ with its lip off by `lip_error_mm`, mL.
    pub by_lip_ml: f64,
}

/// The answer of `even`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EvenAnswer {
    /// Whether every vessel is within the tolerance and nothing is lost.
    pub is_met: bool,
    /// The stances in their order: first, found, last.
    pub stances: Vec<StanceAnswer>,
    /// The vessels.
    pub vessels: Vec<EvenedVessel>,
    /// Greatest deviation, per cent of the target.
    pub worst_percent: f64,
    /// What is left elsewhere, mL.
    pub heel_ml: f64,
    /// What is lost, mL.
    pub lost_ml: f64,
    /// Error of the level in `by_level_ml`, degrees.
    pub level_error_deg: f64,
    /// Error of a lip in `by_lip_ml`, mm.
    pub lip_error_mm: f64,
    /// What stands in the way and what would help, where it is not met.
    pub obstacles: Vec<String>,
    /// Runs that were tried.
    pub runs: usize,
}

impl EvenAnswer {
    /// Puts an answer together.
    pub fn new(interior: &Interior, plan: &Plan, question: &Question, found: &Evened) -> Self {
        let name = |piece: usize| interior.pieces()[piece].clone();
        let first = plan.halts.first().map(|halt| halt.stance).unwrap_or_default();
        let stances = std::iter::once(first)
            .chain(found.stops.iter().copied())
            .chain([question.finish]);
        let vessels = question.targets.iter().enumerate().map(|(i, target)| EvenedVessel {
            piece: name(target.piece),
            target_ml: target.volume / MM3_PER_ML,
            volume_ml: found.shares.held[i] / MM3_PER_ML,
            by_level_ml: found.by_level_error[i] / MM3_PER_ML,
            by_lip_ml: found.by_lip_height[i] / MM3_PER_ML,
        });
        let ports = interior.ports();
        Self {
            is_met: found.is_met,
            stances: stances.map(StanceAnswer::from).collect(),
            vessels: vessels.collect(),
            worst_percent: 100.0 * found.shares.worst(&question.targets),
            heel_ml: found.shares.heel / MM3_PER_ML,
            lost_ml: found.shares.lost / MM3_PER_ML,
            level_error_deg: LEVEL_ERROR_DEG,
            lip_error_mm: LIP_ERROR_MM,
            obstacles: found
                .obstacles
                .iter()
                .map(|obstacle| obstacle_text(obstacle, name, |port| name(ports[port].piece)))
                .collect(),
            runs: found.runs,
        }
    }

    /// The answer as a person reads it.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write_text(&mut text);
        text
    }

    fn write_text(&self, out: &mut String) -> std::fmt::Result {
        let verdict = if self.is_met {
            "This run fills every vessel:"
        } else {
            "No run within the tolerance was found. The nearest:"
        };
        writeln!(out, "{verdict}")?;
        for (i, stance) in self.stances.iter().enumerate() {
            writeln!(out, "  {}. {}", i + 1, stance_text(*stance))?;
        }
        writeln!(
            out,
            "\n{:<24} {:>12} {:>12} {:>18} {:>18}",
            "Vessel",
            "target / mL",
            "volume / mL",
            format!("level {} / mL", angle_text(self.level_error_deg)),
            format!("lip {} / mL", length_text(self.lip_error_mm)),
        )?;
        for vessel in &self.vessels {
            writeln!(
                out,
                "{:<24} {:>12} {:>12} {:>18} {:>18}",
                vessel.piece,
                fixed(vessel.target_ml, 2),
                fixed(vessel.volume_ml, 2),
                format!("\u{b1} {}", fixed(vessel.by_level_ml, 2)),
                format!("\u{b1} {}", fixed(vessel.by_lip_ml, 2)),
            )?;
        }
        writeln!(out, "\nGreatest deviation: {} %", fixed(self.worst_percent, 1))?;
        writeln!(out, "Heel elsewhere: {}", volume_text(self.heel_ml))?;
        if self.lost_ml > 0.0 {
            writeln!(out, "LOST: {}", volume_text(self.lost_ml))?;
        }
        for obstacle in &self.obstacles {
            writeln!(out, "- {obstacle}")?;
        }
        Ok(())
    }
}

/// What stands in the way, and what would help.
pub fn obstacle_text(obstacle: &Obstacle, piece: impl Fn(usize) -> String, port: impl Fn(usize) -> String) -> String {
    let ml = |volume: f64| volume_text(volume / MM3_PER_ML);
    match *obstacle {
        Obstacle::ChargeShort(short) => {
            format!("The charge is {} short of all targets: put in so much more.", ml(short))
        }
        Obstacle::ChargeOver(over) => format!(
            "The charge is {} more than the targets, and the surplus ends in the vessels: put in so much less, or give it a \
             place to stay.",
            ml(over)
        ),
        Obstacle::VesselTooSmall(vessel, brim) => format!(
            "{} holds only {} at its brim: a longer body, or a wider one, would hold its target.",
            piece(vessel),
            ml(brim)
        ),
        Obstacle::TooMuch(vessel, over) => format!(
            "{} gets {} too much: a shorter stem, or more lean, would lower its brim.",
            piece(vessel),
            ml(over)
        ),
        Obstacle::TooLittle(vessel, short) => format!(
            "{} gets {} too little: less slope of the header, or less lean of the vessels before it, would send more on.",
            piece(vessel),
            ml(short)
        ),
        Obstacle::Lost(out, volume) => format!(
            "{} is lost out of {}: move that port higher, or further from the end that goes down.",
            ml(volume),
            port(out)
        ),
    }
}

/// How a vessel's fill spreads.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpreadVessel {
    /// Name of the piece.
    pub piece: String,
    /// Volume wanted, mL.
    pub target_ml: f64,
    /// Mean, mL.
    pub mean_ml: f64,
    /// Standard deviation, mL.
    pub deviation_ml: f64,
    /// Fill below which 5, 25, 50, 75 and 95 of 100 glasses stay, mL.
    pub quantiles_ml: [f64; 5],
    /// Glasses of 100 in which it is under `under_percent` of its target.
    pub under: f64,
    /// Glasses of 100 in which it stands at its brim at the last stop.
    pub brimful: f64,
}

/// A dimension and how much of the spread goes with it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeightAnswer {
    /// Whose it is, and which.
    pub dimension: String,
    /// Per cent of the variance.
    pub percent: f64,
}

/// The answer of `spread`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpreadAnswer {
    /// Glasses that were built and poured.
    pub samples: usize,
    /// Glasses that could not be built.
    pub unbuildable: usize,
    /// The seed.
    pub seed: u64,
    /// The vessels.
    pub vessels: Vec<SpreadVessel>,
    /// Glasses of 100 in which something is lost.
    pub losing: f64,
    /// Below this part of the target, per cent, a vessel counts as under it.
    pub under_percent: f64,
    /// Dimensions by weight.
    pub weights: Vec<WeightAnswer>,
}

impl SpreadAnswer {
    /// Puts an answer together.
    pub fn new(interior: &Interior, seed: u64, spread: &Spread) -> Self {
        let vessels = spread.vessels.iter().map(|vessel| SpreadVessel {
            piece: interior.pieces()[vessel.piece].clone(),
            target_ml: vessel.target / MM3_PER_ML,
            mean_ml: vessel.mean / MM3_PER_ML,
            deviation_ml: vessel.deviation / MM3_PER_ML,
            quantiles_ml: [0.05, 0.25, 0.5, 0.75, 0.95].map(|part| vessel.quantile(part) / MM3_PER_ML),
            under: 100.0 * vessel.under,
            brimful: 100.0 * vessel.brimful,
        });
        let weights = spread.weights.iter().map(|weight| WeightAnswer {
            dimension: weight.dimension.clone(),
            percent: 100.0 * weight.part,
        });
        Self {
            samples: spread.samples,
            unbuildable: spread.unbuildable,
            seed,
            vessels: vessels.collect(),
            losing: 100.0 * spread.losing,
            under_percent: 100.0 * UNDER_PART,
            weights: weights.collect(),
        }
    }

    /// The answer as a person reads it.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write_text(&mut text);
        text
    }

    fn write_text(&self, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "{} glasses as a hand might make them (seed {}).",
            self.samples, self.seed
        )?;
        if self.unbuildable > 0 {
            writeln!(out, "{} more could not be built.", self.unbuildable)?;
        }
        writeln!(
            out,
            "\n{:<24} {:>11} {:>10} {:>15} {:>15} {:>10} {:>10}",
            "Vessel", "target / mL", "mean / mL", "deviation / mL", "5 to 95 % / mL", "under / %", "brim / %"
        )?;
        for vessel in &self.vessels {
            let [low, .., high] = vessel.quantiles_ml;
            writeln!(
                out,
                "{:<24} {:>11} {:>10} {:>15} {:>15} {:>10} {:>10}",
                vessel.piece,
                fixed(vessel.target_ml, 2),
                fixed(vessel.mean_ml, 2),
                fixed(vessel.deviation_ml, 2),
                format!("{} to {}", fixed(low, 2), fixed(high, 2)),
                fixed(vessel.under, 1),
                fixed(vessel.brimful, 1),
            )?;
        }
        writeln!(out, "\nUnder: below {} % of the target.", fixed(self.under_percent, 0))?;
        if self.losing > 0.0 {
            writeln!(
                out,
                "Something is LOST by a port in {} % of the glasses.",
                fixed(self.losing, 1)
            )?;
        }
        writeln!(out, "What matters most:")?;
        for weight in self.weights.iter().take(WEIGHTIEST) {
            writeln!(
                out,
                "  {} % of the spread: {}",
                fixed(weight.percent, 0),
                weight.dimension
            )?;
        }
        Ok(())
    }
}

/// One answer of `size`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizeAnswer {
    /// Outside diameter of the bodies, mm.
    pub od_mm: f64,
    /// Their wall, mm.
    pub wall_mm: f64,
    /// Length of the straight body, mm.
    pub body_mm: f64,
    /// From the level to the seal-off place, mm.
    pub room_mm: f64,
    /// Length of the vessel from its host's centreline, mm.
    pub length_mm: f64,
    /// Distance of vessels, mm; null outside rows.
    pub pitch_mm: Option<f64>,
    /// Greatest deviation in the run, per cent of the target; null where no run was sought.
    pub worst_percent: Option<f64>,
    /// The stances of that run.
    pub stances: Vec<StanceAnswer>,
    /// Findings to watch.
    pub watches: usize,
    /// What speaks for and against it.
    pub reasons: Vec<String>,
}

/// The answer of `size`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizeAnswers {
    /// The answers, best first.
    pub answers: Vec<SizeAnswer>,
    /// The vessels' volumes are those of the run's charge.
    pub charge: Vec<PieceAnswer>,
}

impl SizeAnswers {
    /// Puts an answer together.
    pub fn new(answers: &[Answer]) -> Self {
        let of = |answer: &Answer| SizeAnswer {
            od_mm: answer.body.od_mm,
            wall_mm: answer.body.wall_mm,
            body_mm: answer.body_mm,
            room_mm: answer.room_mm,
            length_mm: answer.length_mm,
            pitch_mm: (answer.pitch_mm > 0.0).then_some(answer.pitch_mm),
            worst_percent: answer.worst.map(|worst| 100.0 * worst),
            stances: answer
                .worst
                .iter()
                .flat_map(|_| &answer.apparatus.run.stops)
                .map(|stop| Stance::new(stop.tilt_deg, stop.roll_deg).into())
                .collect(),
            watches: answer.findings.1,
            reasons: answer.reasons.clone(),
        };
        let charge = answers.first().map_or(&[][..], |answer| &answer.apparatus.charge.fills);
        Self {
            answers: answers.iter().map(of).collect(),
            charge: charge
                .iter()
                .map(|fill| PieceAnswer {
                    piece: fill.piece.clone(),
                    volume_ml: fill.volume_ml,
                })
                .collect(),
        }
    }

    /// The answer as a person reads it.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write_text(&mut text);
        text
    }

    fn write_text(&self, out: &mut String) -> std::fmt::Result {
        for (i, answer) in self.answers.iter().enumerate() {
            let blank = if i == 0 { "" } else { "\n" };
            writeln!(
                out,
                "{blank}{}. Body {} x {} mm, {} long; vessel {} in all, {} from the level to the seal-off place",
                i + 1,
                fixed(answer.od_mm, 1),
                fixed(answer.wall_mm, 1),
                length_text(answer.body_mm),
                length_text(answer.length_mm),
                length_text(answer.room_mm),
            )?;
            for reason in &answer.reasons {
                writeln!(out, "   - {reason}")?;
            }
            if !answer.stances.is_empty() {
                let stances: Vec<String> = answer.stances.iter().map(|stance| stance_text(*stance)).collect();
                writeln!(out, "   - run: {}", stances.join(", "))?;
            }
        }
        Ok(())
    }
}
