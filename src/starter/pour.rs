//! How it pours: the tilt at which the vials meter out their target, and the charge that every one of them needs to
//! get it.

use super::Refusal;
use super::layout::wanted_ml;
use super::sizes::Choice;
use crate::geom::build::build;
use crate::geom::{Interior, Stance};
use crate::model::{Apparatus, Fill};
use crate::units::MM3_PER_ML;

/// Between these turns from the header as drawn a vial goes from full to empty: its axis from a third above the
/// level, mouth up, to as much below it.
const SEARCH_DEG: (f64, f64) = (-25.0, -105.0);
/// The tilt is searched to this, degrees.
const TILT_DEG: f64 = 1e-4;
/// A vial is filled when it holds its target to this part.
const FILLED_PART: f64 = 2e-3;
/// The charge is weighed out in steps of this, mL.
const CHARGE_STEP_ML: f64 = 0.1;

/// The apparatus with its charge in `holder`, and the tilt at which it pours, degrees.
pub(super) fn charged(mut apparatus: Apparatus, holder: &str, choice: &Choice) -> Result<(Apparatus, f64), Refusal> {
    let unsound = |what: &str| Refusal::Unsound {
        piece: holder.to_owned(),
        what: what.to_owned(),
    };
    let built = build(&apparatus)?;
    let vials: Vec<usize> = built.vessels().collect();
    let interior = Interior::new(built.names, built.primitives, built.ports).map_err(|e| unsound(&e.to_string()))?;
    let (Some(source), Some(first)) = (interior.piece_index(holder), vials.first()) else {
        return Err(unsound("nothing holds the charge"));
    };
    let target = choice.ampoule.target_ml * MM3_PER_ML;
    let slope_deg = built.placed.lines[*first].start.heading_deg - super::sizes::LEAN_DEG;
    let brim = |tilt: f64| interior.at(Stance::new(tilt, 0.0)).brim_of_piece(*first);
    let (mut full, mut empty) = (SEARCH_DEG.0 - slope_deg, SEARCH_DEG.1 - slope_deg);
    while full - empty > TILT_DEG {
        let middle = (full + empty) / 2.0;
        if brim(middle) > target {
            full = middle;
        } else {
            empty = middle;
        }
    }
    let pouring = interior.at(Stance::new(full, 0.0));

    let heel_ml = pouring.heel_of_piece(source) / MM3_PER_ML;
    let wanted = wanted_ml(vials.len(), choice.ampoule.target_ml) + heel_ml;
    // Whole steps, and each of them as short a number as it was meant.
    let charge_ml = ((wanted / CHARGE_STEP_ML).ceil() * CHARGE_STEP_ML * 10.0).round() / 10.0;
    let given = [(source, charge_ml * MM3_PER_ML)];
    let poured = pouring.settle(&given);
    let filled = vials.iter().all(|vial| {
        let shares = poured.pools.iter().flat_map(|pool| &pool.shares);
        let held: f64 = shares
            .filter(|(piece, _)| piece == vial)
            .map(|(_, volume)| volume)
            .sum();
        (held / target - 1.0).abs() < FILLED_PART
    });
    if !filled || !poured.lost.is_empty() {
        return Err(unsound("its charge does not share itself out among the vials"));
    }
    let rest = interior.at(Stance::default()).settle(&given);
    if !rest.lost.is_empty() || rest.pools.iter().any(|pool| pool.piece != source) {
        return Err(unsound("it does not hold its charge"));
    }
    apparatus.charge.fills = vec![Fill {
        piece: holder.to_owned(),
        volume_ml: charge_ml,
    }];
    Ok((apparatus, full))
}
