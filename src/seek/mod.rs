//! Finding: stances that fill every vessel to its target, dimensions that do, and how sure the outcome is.
//!
//! All three carry out runs ([`crate::run`]) over and over, on all processors, and can be stopped. The same question
//! gives the same answer: nothing depends on time or on the number of processors.

pub mod even;
pub mod size;
pub mod spread;

use crate::geom::{Interior, Stance};
use crate::model::Apparatus;
use crate::run::{Halt, Outcome, Plan};
use crate::units::MM3_PER_ML;

/// How a search is getting on, and whether it is to go on.
pub trait Watch: Sync {
    /// Told now and then: the part that is done, 0 to 1. Returns whether to go on.
    fn at(&self, part: f64) -> bool;
}

/// Nobody watches.
#[derive(Clone, Copy, Debug)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn at(&self, _: f64) -> bool {
        true
    }
}

/// A vessel and what it is to hold in the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Index of the piece.
    pub piece: usize,
    /// Volume wanted, mm3.
    pub volume: f64,
}

/// The targets of an apparatus: those of its ampoules.
pub fn targets(apparatus: &Apparatus, interior: &Interior) -> Vec<Target> {
    let mut targets = Vec::new();
    for piece in apparatus.expanded() {
        if let (crate::model::Form::Ampoule(ampoule), Some(index)) = (&piece.form, interior.piece_index(&piece.name)) {
            targets.push(Target {
                piece: index,
                volume: ampoule.target_ml * MM3_PER_ML,
            });
        }
    }
    targets
}

/// What a run leaves, as far as it counts here. Volumes are mm3.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shares {
    /// What each target's vessel holds, in the order of the targets.
    pub held: Vec<f64>,
    /// What is left elsewhere in the glass.
    pub heel: f64,
    /// What has run out of ports.
    pub lost: f64,
}

impl Shares {
    /// Of the last stop of an outcome.
    pub fn of(outcome: &Outcome, targets: &[Target]) -> Self {
        let Some(rest) = outcome.stops.last() else {
            return Self::default();
        };
        let sealed = |piece: usize| {
            rest.sealed
                .iter()
                .filter(move |s| s.0 == piece)
                .map(|s| s.1)
                .sum::<f64>()
        };
        let in_piece = |piece: usize| rest.held.get(piece).copied().unwrap_or(0.0) + sealed(piece);
        let held: Vec<f64> = targets.iter().map(|target| in_piece(target.piece)).collect();
        let all: f64 = (0..rest.held.len()).map(in_piece).sum();
        Self {
            heel: all - held.iter().sum::<f64>(),
            held,
            lost: rest.settled.lost.iter().map(|(_, volume)| volume).sum(),
        }
    }

    /// Greatest deviation from a target, as a part of it.
    pub fn worst(&self, targets: &[Target]) -> f64 {
        let off = targets
            .iter()
            .zip(&self.held)
            .map(|(target, held)| ((held - target.volume) / target.volume).abs());
        off.fold(0.0, f64::max)
    }
}

/// A plan with other stops after its first.
fn with_stops(plan: &Plan, stops: impl IntoIterator<Item = Stance>) -> Plan {
    let first = plan.halts.first().cloned().unwrap_or_default();
    let halts = stops.into_iter().map(|stance| Halt {
        stance,
        ..Halt::default()
    });
    Plan {
        halts: std::iter::once(first).chain(halts).collect(),
        ..plan.clone()
    }
}
