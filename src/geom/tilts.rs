//! Spill, hold, drain and metering tilts.
//!
//! All are crossings of a value along the tilt, at fixed roll: the brim volume of a piece for spill and metering, its
//! heel for drain. Both are continuous and piecewise smooth between changes of topology. The turn is walked from the
//! starting stance in steps of [`STEP_DEG`]; a step in which the value dips between two samples is searched at its
//! lowest, and the first crossing is then refined to the last digits (at a jump, to the place of the jump).

use super::interior::Interior;
use super::posture::Posture;
use super::solve::{bracketed_root, valley};
use super::stance::Stance;

/// Step of the walk, degrees.
const STEP_DEG: f64 = 0.5;
/// A tilt is found when it is known to this, degrees.
const TILT_DEG: f64 = 1e-10;
/// Part of the volume that may stay behind for a piece to count as drained, unless stated.
pub const DRAINED_PART: f64 = 0.005;

/// A tilt in each direction, degrees, counted on from the starting tilt without wrapping; none where it never
/// happens within one turn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BothWays {
    /// Turning anticlockwise (tilt growing).
    pub anticlockwise: Option<f64>,
    /// Turning clockwise (tilt falling).
    pub clockwise: Option<f64>,
}

/// The tilts of one piece.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tilts {
    /// Where the volume first runs over its sill; the starting tilt itself if it does not fit there.
    pub spill: BothWays,
    /// From the clockwise to the anticlockwise spill tilt: there the volume stays put. None if it does not fit
    /// at the start; a whole turn each way where it never spills.
    pub hold: Option<(f64, f64)>,
    /// The least turn after which the piece retains less than the heel.
    pub drain: BothWays,
    /// Where the brim volume of the piece equals the target.
    pub metering: BothWays,
}

/// What is asked of a piece.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Question {
    /// Volume held, mm3: gives spill, hold and drain.
    pub volume: Option<f64>,
    /// Target fill, mm3: gives metering.
    pub target: Option<f64>,
    /// Heel below which the piece counts as drained, mm3; [`DRAINED_PART`] of the volume when none.
    pub heel: Option<f64>,
}

/// Finds the tilts of a piece (by index), turning from a stance at its roll.
pub fn tilts(interior: &Interior, piece: usize, ask: Question, from: Stance) -> Tilts {
    let mut found = Tilts::default();
    let at = |tilt: f64| interior.at(Stance::new(tilt, from.roll_deg));
    if let Some(volume) = ask.volume {
        let margin = |tilt: f64| at(tilt).brim_of_piece(piece) - volume;
        let holds = margin(from.tilt_deg) >= 0.0;
        found.spill = if holds {
            both_ways(from.tilt_deg, margin)
        } else {
            BothWays {
                anticlockwise: Some(from.tilt_deg),
                clockwise: Some(from.tilt_deg),
            }
        };
        found.hold = holds.then(|| {
            let spill = found.spill;
            (
                spill.clockwise.unwrap_or(from.tilt_deg - 360.0),
                spill.anticlockwise.unwrap_or(from.tilt_deg + 360.0),
            )
        });
        let heel = ask.heel.unwrap_or(DRAINED_PART * volume);
        found.drain = both_ways(from.tilt_deg, |tilt| at(tilt).heel_of_piece(piece).min(volume) - heel);
    }
    if let Some(target) = ask.target {
        found.metering = both_ways(from.tilt_deg, |tilt| at(tilt).brim_of_piece(piece) - target);
    }
    found
}

/// First change of sign of `f`, from a tilt, in each direction.
fn both_ways(from: f64, f: impl Fn(f64) -> f64) -> BothWays {
    BothWays {
        anticlockwise: first_crossing(from, 1.0, &f),
        clockwise: first_crossing(from, -1.0, &f),
    }
}

fn first_crossing(from: f64, direction: f64, f: &impl Fn(f64) -> f64) -> Option<f64> {
    let steps = (360.0 / STEP_DEG) as usize;
    let at = |i: usize| from + direction * STEP_DEG * i as f64;
    let start = f(from);
    let above = start >= 0.0;
    let beyond = |v: f64| (v >= 0.0) != above;
    let refine = |a: f64, b: f64| bracketed_root(a, b, TILT_DEG, |x| if above { f(x) } else { -f(x) });
    let (mut before, mut now) = (start, start);
    for i in 1..=steps + 1 {
        let next = f(at(i));
        if beyond(next) {
            return Some(refine(at(i - 1), at(i)));
        }
        // A dip towards zero between the samples before and after `now`.
        let size = |v: f64| v.abs();
        if i >= 2 && size(now) < size(before) && size(now) < size(next) {
            let (lowest, value) = valley(at(i - 2), at(i), 40, |x| if above { f(x) } else { -f(x) });
            if beyond(if above { value } else { -value }) {
                return Some(refine(at(i - 2), lowest));
            }
        }
        (before, now) = (now, next);
    }
    None
}

impl Posture<'_> {
    /// Volume a piece holds at its sill, mm3: of the hollow with the piece's lowest point, and of those of the same
    /// piece that join it before it runs on elsewhere. 0 when that point is no hollow; infinite when nothing can run
    /// out.
    pub fn brim_of_piece(&self, piece: usize) -> f64 {
        let Some(basin) = self.lowest_node(piece).and_then(|n| self.basin_of_bottom[n]) else {
            return 0.0;
        };
        self.brim(self.vessel(basin, piece)).unwrap_or(f64::INFINITY)
    }

    /// Heel of a piece, mm3: what its hollows keep when everything that can run out has.
    pub fn heel_of_piece(&self, piece: usize) -> f64 {
        let mut counted = vec![false; self.basins.len()];
        let mut heel = 0.0;
        for leaf in 0..self.basins.len() {
            if self.basins[leaf].parts.is_some() || self.piece_of_basin(leaf) != piece {
                continue;
            }
            let basin = self.vessel(leaf, piece);
            if std::mem::replace(&mut counted[basin], true) {
                continue;
            }
            let height = self.basins[basin].sill.map_or(f64::INFINITY, |s| s.height);
            let own = self.members(basin).filter(|&n| self.piece_of(n) == piece);
            heel += own.map(|n| self.wet(n, height).0).sum::<f64>();
        }
        heel
    }

    /// Whether all hollows of a basin are of the same piece.
    pub(super) fn is_of_one_piece(&self, basin: usize) -> bool {
        let piece = self.piece_of_basin(basin);
        let hollow = self.basin_of_bottom[self.basins[basin].bottom_node];
        // Those from its lowest hollow up to the greatest begin in this order.
        hollow.is_some_and(|hollow| self.basins[basin].from <= self.basins[self.vessel(hollow, piece)].from)
    }

    /// The greatest basin that a hollow belongs to while only hollows of the same piece join it.
    pub(super) fn vessel(&self, mut basin: usize, piece: usize) -> usize {
        while let Some(parent) = self.basins[basin].parent {
            let parts = self.basins[parent].parts.unwrap_or([basin; 2]);
            if parts.iter().any(|&part| self.piece_of_basin(part) != piece) {
                break;
            }
            basin = parent;
        }
        basin
    }
}
