//! After the run: what was measured against what was predicted, and what would explain the difference.
//!
//! **Method.** The fills are a function of the level of the glass, the charge and every dimension ([`spread::fills`]).
//! An explanation lets a few of them deviate and brings the fills nearest to what was measured (`fit.rs`). The first
//! lets the level alone be off; to the next the dimensions are added, one after the other, that go farthest together
//! with what is left.
//!
//! **What it is worth.** An explanation has fewer unknowns than there are measured values, or it is none. It counts
//! when what remains is within twice the uncertainty of the measurement, and every deviation within three standard
//! deviations of what hands hold. That it explains does not make it the cause.

use nalgebra::DVector;

use super::fit::Fit;
use super::leaf::{Block, Leaf, Table};
use super::parts::short;
use super::texts::{blank_fields, field};
use crate::model::{Apparatus, Fill};
use crate::seek::spread::{self, CountedIn, Tolerances};
use crate::seek::{Watch, targets};
use crate::units::{MM3_PER_ML, fixed, signed};

/// Uncertainty of a measured fill that is taken when none is given, as a part of it.
pub const UNCERTAINTY_PART: f64 = 0.01;
/// What remains of an explanation that counts, in uncertainties.
pub const ENOUGH: f64 = 2.0;
/// A deviation of so many standard deviations is not told: it shows as none.
const TOLD: f64 = 0.05;
/// Least uncertainty of a measured fill, mL: what a drop makes.
const LEAST_ML: f64 = 0.005;

/// A vessel and what the run leaves in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Predicted {
    /// Its name.
    pub name: String,
    /// What was wanted, mL.
    pub target_ml: f64,
    /// What the run leaves, mL.
    pub predicted_ml: f64,
}

/// A vessel whose fill was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// Its name.
    pub name: String,
    /// What was wanted, mL.
    pub target_ml: f64,
    /// What the run leaves, mL.
    pub predicted_ml: f64,
    /// What was measured, mL.
    pub measured_ml: f64,
}

/// A deviation that is part of an explanation.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// Whose it is, and which.
    pub name: String,
    /// Deviation in its own unit.
    pub deviation: f64,
    /// Its unit.
    pub unit: CountedIn,
    /// The same in standard deviations of what hands hold.
    pub sigmas: f64,
}

impl Cause {
    /// In words: `whole apparatus, tilt: +0.31° (2.5 standard deviations)`.
    pub fn text(&self) -> String {
        let amount = match self.unit {
            CountedIn::Mm => format!("{} mm", signed(self.deviation, 2)),
            CountedIn::Deg => format!("{}\u{b0}", signed(self.deviation, 2)),
            CountedIn::Part => format!("{} %", signed(self.deviation * 100.0, 1)),
        };
        let sigmas = fixed(self.sigmas.abs(), 1);
        format!("{}: {amount} ({sigmas} standard deviations)", self.name)
    }
}

/// Deviations that bring the prediction near to what was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// What deviates.
    pub causes: Vec<Cause>,
    /// Fills of the run with them, mL, in the order of the vessels.
    pub fills_ml: Vec<f64>,
    /// Root mean square of what remains, mL.
    pub remains_ml: f64,
    /// The same in uncertainties of the measurement.
    pub remains: f64,
    /// Whether it counts: little remains, and nothing deviates unbelievably.
    pub is_enough: bool,
}

impl Explanation {
    /// What deviates, in words; what shows as no deviation is left out unless there is nothing else.
    pub fn causes_text(&self) -> String {
        let told = self.causes.iter().filter(|cause| cause.sigmas.abs() >= TOLD);
        let mut told: Vec<String> = told.map(Cause::text).collect();
        if told.is_empty() {
            told.extend(self.causes.first().map(Cause::text));
        }
        told.join("; ")
    }
}

/// Prediction and measurement.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The vessels.
    pub vessels: Vec<Compared>,
    /// Uncertainty of the measurement, as a part.
    pub uncertainty: f64,
    /// Root mean square of the differences, mL.
    pub off_ml: f64,
    /// Whether prediction and measurement already agree within twice the uncertainty.
    pub agrees: bool,
    /// Explanations: the level alone, then with dimensions; none where too few fills were measured.
    pub explanations: Vec<Explanation>,
}

impl Comparison {
    /// The first explanation that counts.
    pub fn best(&self) -> Option<&Explanation> {
        self.explanations.iter().find(|explanation| explanation.is_enough)
    }

    /// What it comes to, in a sentence.
    pub fn verdict(&self) -> String {
        if self.agrees {
            return "Prediction and measurement agree within the uncertainty of the measurement.".to_owned();
        }
        if let Some(best) = self.best() {
            return format!(
                "This would explain it: {}. There remain {} mL.",
                best.causes_text(),
                fixed(best.remains_ml, 3)
            );
        }
        if self.explanations.is_empty() {
            return "Too few fills were measured to tell what made the difference: measure at least three.".to_owned();
        }
        "Nothing simple explains it: neither the level nor the level with a dimension or two brings the run near enough. \
         Look for liquid that froze, stuck or was plugged, for a vessel that differs from the design, or measure again."
            .to_owned()
    }
}

/// Uncertainty of a measured fill, of which it is a part, mL: that of a drop at least.
pub fn uncertainty_ml(measured_ml: f64, part: f64) -> f64 {
    (measured_ml * part).max(LEAST_ML)
}

/// What stands in the way of a comparison.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CompareError {
    /// A measured piece is no vessel.
    #[error("\"{0}\" is no ampoule of this design")]
    NoVessel(String),
    /// A vessel is named twice.
    #[error("\"{0}\" is measured twice")]
    Twice(String),
    /// Nothing was measured.
    #[error("no fill has been measured yet")]
    Nothing,
    /// A measured value or the uncertainty is not above 0.
    #[error("a measured fill is a number from 0 up, its uncertainty one above 0")]
    NoNumber,
    /// The run can't be carried out.
    #[error("the run of this design can't be carried out")]
    NoRun,
    /// It was stopped.
    #[error("stopped")]
    Stopped,
}

/// What the run leaves in every vessel, in the order of the targets.
///
/// # Errors
/// When the run can't be carried out.
pub fn predict(apparatus: &Apparatus) -> Result<Vec<Predicted>, CompareError> {
    let built = crate::geom::build::build(apparatus).map_err(|_| CompareError::NoRun)?;
    let interior = crate::geom::Interior::new(built.names.clone(), built.primitives, built.ports);
    let interior = interior.map_err(|_| CompareError::NoRun)?;
    let shares = spread::fills(apparatus, Tolerances::default(), &[]).ok_or(CompareError::NoRun)?;
    let targets = targets(apparatus, &interior);
    if shares.held.len() != targets.len() {
        return Err(CompareError::NoRun);
    }
    let vessels = targets.iter().zip(shares.held).map(|(target, held)| Predicted {
        name: built.names[target.piece].clone(),
        target_ml: target.volume / MM3_PER_ML,
        predicted_ml: held / MM3_PER_ML,
    });
    Ok(vessels.collect())
}

/// Compares a run with what was measured; `uncertainty` is a part of each value.
///
/// # Errors
/// When nothing comparable was measured, the run can't be carried out, or it was stopped.
pub fn compare(
    apparatus: &Apparatus,
    measured: &[Fill],
    uncertainty: f64,
    watch: &dyn Watch,
) -> Result<Comparison, CompareError> {
    compare_with(apparatus, &predict(apparatus)?, measured, uncertainty, watch)
}

/// The same where what the run leaves is known.
///
/// # Errors
/// As [`compare`].
pub fn compare_with(
    apparatus: &Apparatus,
    predicted: &[Predicted],
    measured: &[Fill],
    uncertainty: f64,
    watch: &dyn Watch,
) -> Result<Comparison, CompareError> {
    let mut places = Vec::with_capacity(measured.len());
    for fill in measured {
        let place = predicted.iter().position(|vessel| vessel.name == fill.piece);
        let place = place.ok_or_else(|| CompareError::NoVessel(fill.piece.clone()))?;
        if places.contains(&place) {
            return Err(CompareError::Twice(fill.piece.clone()));
        }
        places.push(place);
    }
    if measured.is_empty() {
        return Err(CompareError::Nothing);
    }
    let is_number = |fill: &Fill| fill.volume_ml.is_finite() && fill.volume_ml >= 0.0;
    if !(uncertainty.is_finite() && uncertainty > 0.0 && measured.iter().all(is_number)) {
        return Err(CompareError::NoNumber);
    }
    let vessels = places.iter().zip(measured).map(|(&place, fill)| Compared {
        name: predicted[place].name.clone(),
        target_ml: predicted[place].target_ml,
        predicted_ml: predicted[place].predicted_ml,
        measured_ml: fill.volume_ml,
    });
    let vessels: Vec<Compared> = vessels.collect();
    let values = vessels.iter().map(|vessel| vessel.measured_ml);
    let fit = Fit::new(
        apparatus,
        places,
        values.clone().collect(),
        values.map(|ml| uncertainty_ml(ml, uncertainty)).collect(),
        watch,
    );
    let known = DVector::from_iterator(vessels.len(), vessels.iter().map(|vessel| vessel.predicted_ml));
    let agrees = fit.remains(&known) <= ENOUGH;
    Ok(Comparison {
        uncertainty,
        off_ml: fit.off_ml(&known),
        explanations: if agrees { Vec::new() } else { fit.explanations()? },
        agrees,
        vessels,
    })
}

/// The sheet of a comparison.
pub fn leaf(comparison: &Comparison) -> Leaf {
    let mut fields = blank_fields(&["Measured by", "Date"]);
    fields.push(field(
        "Uncertainty of a fill",
        format!("{} %", short(comparison.uncertainty * 100.0)),
    ));
    fields.push(field(
        "Differences, root mean square",
        format!("{} mL", fixed(comparison.off_ml, 3)),
    ));
    let mut blocks = vec![
        Block::Fields(fields),
        Block::Table(table(comparison)),
        Block::Text(comparison.verdict()),
    ];
    for (i, explanation) in comparison.explanations.iter().enumerate() {
        let counts = if explanation.is_enough {
            "counts"
        } else {
            "does not count"
        };
        blocks.push(Block::Text(format!(
            "Trial {}: {}. There remain {} mL, {} uncertainties: it {counts}.",
            i + 1,
            explanation.causes_text(),
            fixed(explanation.remains_ml, 3),
            fixed(explanation.remains, 1)
        )));
    }
    blocks.push(Block::Note(
        "Least squares over whole runs; standard deviations are half the tolerances of work by hand. An explanation counts \
         when twice the uncertainty or less remains and nothing deviates by more than three standard deviations. That \
         it explains does not make it the cause."
            .to_owned(),
    ));
    Leaf {
        title: "Measured fills".to_owned(),
        blocks,
    }
}

fn table(comparison: &Comparison) -> Table {
    let best = comparison.best();
    let mut heads = vec![
        "Ampoule",
        "Wanted, mL",
        "Predicted, mL",
        "Measured, mL",
        "Difference, mL",
    ];
    if best.is_some() {
        heads.push("Explained, mL");
    }
    let rows = comparison.vessels.iter().enumerate().map(|(i, vessel)| {
        let mut row = vec![
            vessel.name.clone(),
            fixed(vessel.target_ml, 2),
            fixed(vessel.predicted_ml, 3),
            fixed(vessel.measured_ml, 3),
            signed(vessel.measured_ml - vessel.predicted_ml, 3),
        ];
        row.extend(best.and_then(|best| best.fills_ml.get(i)).map(|ml| fixed(*ml, 3)));
        row
    });
    Table {
        rows: rows.collect(),
        numbers: (0..heads.len()).map(|column| column > 0).collect(),
        heads: heads.into_iter().map(str::to_owned).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::trials::example;
    use super::*;
    use crate::geom::Interior;
    use crate::geom::build::build;
    use crate::run::{Outcome, Plan};
    use crate::seek::Unwatched;
    use crate::seek::spread::LEVEL_TILT;

    /// Fills that a run leaves, worked out without the deviations of the model: stances turned by hand.
    fn fills(apparatus: &Apparatus, tilt_deg: f64) -> Vec<Fill> {
        let mut apparatus = apparatus.clone();
        for stop in &mut apparatus.run.stops {
            stop.tilt_deg += tilt_deg;
        }
        let built = build(&apparatus).unwrap();
        let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
        let outcome = Outcome::of(&interior, &Plan::of(&apparatus, &interior), || true).unwrap();
        let held = &outcome.stops.last().unwrap().held;
        let vessels = built.vessels();
        vessels
            .map(|piece| Fill {
                piece: built.names[piece].clone(),
                volume_ml: held[piece] / MM3_PER_ML,
            })
            .collect()
    }

    #[test]
    fn a_level_that_was_off_is_found() {
        let apparatus = example("teaching-three");
        let measured = fills(&apparatus, 0.3);
        let found = compare(&apparatus, &measured, 0.002, &Unwatched).unwrap();
        assert!(!found.agrees, "{found:?}");
        let best = found.best().unwrap();
        let tilt = best.causes.iter().find(|cause| cause.name == LEVEL_TILT).unwrap();
        assert!((tilt.deviation - 0.3).abs() < 0.03, "{best:?}");
        assert!(
            best.remains_ml < 0.01 && found.verdict().contains("tilt: +0.3"),
            "{}",
            found.verdict()
        );
        for (vessel, measured) in found.vessels.iter().zip(&measured) {
            assert_eq!(vessel.measured_ml, measured.volume_ml);
        }
    }

    #[test]
    fn what_was_poured_as_meant_agrees() {
        let apparatus = example("teaching-three");
        let found = compare(&apparatus, &fills(&apparatus, 0.0), UNCERTAINTY_PART, &Unwatched).unwrap();
        assert!(
            found.agrees && found.explanations.is_empty() && found.off_ml < 1e-3,
            "{found:?}"
        );
    }

    #[test]
    fn what_cannot_be_explained_is_said_to_be_so() {
        let apparatus = example("teaching-three");
        let mut measured = fills(&apparatus, 0.0);
        // One vial almost empty and one with twice its fill: no glass that hands make does that.
        measured[0].volume_ml = 0.2;
        measured[1].volume_ml = 4.0;
        let found = compare(&apparatus, &measured, UNCERTAINTY_PART, &Unwatched).unwrap();
        assert!(found.best().is_none() && !found.explanations.is_empty());
        assert!(found.verdict().starts_with("Nothing simple"), "{}", found.verdict());
        measured.truncate(2);
        let found = compare(&apparatus, &measured, UNCERTAINTY_PART, &Unwatched).unwrap();
        assert!(found.verdict().starts_with("Too few"), "{}", found.verdict());
    }

    #[test]
    fn what_is_no_measurement_is_refused() {
        let apparatus = example("teaching-three");
        let fill = |piece: &str, volume_ml: f64| Fill {
            piece: piece.to_owned(),
            volume_ml,
        };
        let ask = |measured: &[Fill]| compare(&apparatus, measured, 0.01, &Unwatched).unwrap_err();
        assert_eq!(ask(&[]), CompareError::Nothing);
        assert_eq!(ask(&[fill("pot", 1.0)]), CompareError::NoVessel("pot".to_owned()));
        assert_eq!(
            ask(&[fill("vial-1", 1.0), fill("vial-1", 1.0)]),
            CompareError::Twice("vial-1".to_owned())
        );
        assert_eq!(ask(&[fill("vial-1", f64::NAN)]), CompareError::NoNumber);
    }
}
