//! A run made ready: its names looked up in the interior.

use crate::geom::{Interior, Stance};
use crate::model::{Apparatus, Gas, Stop};
use crate::units::MM3_PER_ML;

/// What is to be done.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Plan {
    /// What fills the space above the liquid.
    pub gas: Gas,
    /// Liquid given at the first stop: piece (index) and volume, mm3.
    pub given: Vec<(usize, f64)>,
    /// The stops.
    pub halts: Vec<Halt>,
}

/// A stop made ready.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Halt {
    /// What the user calls it.
    pub name: String,
    /// The stance.
    pub stance: Stance,
    /// How long it takes to turn the glass there from the stop before, s; 0 at the first.
    pub turn_s: f64,
    /// How long the glass rests there, s.
    pub wait_s: f64,
    /// Pieces (indices) sealed off there after the wait.
    pub seals: Vec<usize>,
}

impl Plan {
    /// The run of an apparatus with its charge. Pieces without a bore are left out: nothing can be given to them.
    pub fn of(apparatus: &Apparatus, interior: &Interior) -> Self {
        let run = &apparatus.run;
        let fills = apparatus.charge.fills.iter();
        let given = fills.filter_map(|fill| {
            let piece = run.drips_into.as_ref().unwrap_or(&fill.piece);
            Some((interior.piece_index(piece)?, fill.volume_ml * MM3_PER_ML))
        });
        Self {
            gas: run.gas,
            given: gathered(given),
            halts: Self::halts(&run.stops, interior),
        }
    }

    /// Stops made ready.
    pub fn halts(stops: &[Stop], interior: &Interior) -> Vec<Halt> {
        let before = std::iter::once(None).chain(stops.iter().map(Some));
        let halts = stops.iter().zip(before).map(|(stop, before)| Halt {
            name: stop.name.clone(),
            stance: Stance::new(stop.tilt_deg, stop.roll_deg),
            turn_s: before.map_or(0.0, |before| stop.turn_s(before)),
            wait_s: stop.wait_s,
            seals: stop.seals.iter().filter_map(|name| interior.piece_index(name)).collect(),
        });
        halts.collect()
    }
}

/// Volumes given to the same piece as one.
fn gathered(given: impl Iterator<Item = (usize, f64)>) -> Vec<(usize, f64)> {
    let mut sums: Vec<(usize, f64)> = Vec::new();
    for (piece, volume) in given {
        match sums.iter_mut().find(|(known, _)| *known == piece) {
            Some((_, sum)) => *sum += volume,
            None => sums.push((piece, volume)),
        }
    }
    sums
}
