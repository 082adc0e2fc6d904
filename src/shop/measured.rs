//! After the run: what was measured against what was predicted, and what would explain the difference.
//!
//! **Method.** The fills are a function of the level of the glass, the charge and every dimension ([`spread::fills`]).
//! An explanation lets a few of them deviate and brings the fills nearest to what was measured: least squares with
//! damping (Levenberg and Marquardt), derivatives from runs a little to both sides. A standard deviation of a dimension
//! counts as much as an uncertainty of a fill, so that nothing deviates without need. The first explanation lets the level
//! alone be off; to the second the dimensions are added, one after the other, that go farthest together with what is
//! left, judged by their derivatives, and then fitted anew with whole runs.
//!
//! **What it is worth.** An explanation has fewer unknowns than there are measured values, or it is none. It counts
//! when what remains is within twice the uncertainty of the measurement, and every deviation within three standard
//! deviations of what hands hold. That it explains does not make it the cause.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::Case;
use super::leaf::{Block, Leaf, Table};
use super::parts::short;
use super::texts::{blank_fields, field};
use crate::model::{Apparatus, Fill};
use crate::seek::spread::{self, CountedIn, Dimension, LEVEL_ROLL, LEVEL_TILT, Tolerances};
use crate::seek::{Watch, targets};
use crate::units::{MM3_PER_ML, fixed};

/// Uncertainty of a measured fill that is taken when none is given, as a part of it.
pub const UNCERTAINTY_PART: f64 = 0.01;
/// Most dimensions that are taken beside the level.
const MOST_DIMENSIONS: usize = 2;
/// Steps of a fit.
const STEPS: usize = 8;
/// A fit ends when a step gains less than this part.
const LEAST_GAIN: f64 = 1e-3;
/// Runs for derivatives deviate by this, standard deviations.
const ASIDE: f64 = 0.25;
/// Where the fit of the level begins, standard deviations: level itself is the summit of what the roll does.
const BEGIN: f64 = 0.5;
/// Deviations beyond this many standard deviations are not believed.
const BELIEVED: f64 = 3.0;
/// What remains of an explanation that counts, in uncertainties.
const ENOUGH: f64 = 2.0;
/// Least uncertainty of a measured fill, mL: what a drop makes.
const LEAST_ML: f64 = 0.005;

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
    /// In words: `whole apparatus, tilt: +0.31 deg`.
    pub fn text(&self) -> String {
        let sign = if self.deviation < 0.0 { "\u{2212}" } else { "+" };
        let size = self.deviation.abs();
        let amount = match self.unit {
            CountedIn::Mm => format!("{} mm", fixed(size, 2)),
            CountedIn::Deg => format!("{}\u{b0}", fixed(size, 2)),
            CountedIn::Part => format!("{} %", fixed(size * 100.0, 1)),
        };
        let sigmas = fixed(self.sigmas.abs(), 1);
        format!(
            "{}: {sign}{amount}, {sigmas} standard deviations of what hands hold",
            self.name
        )
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
            let causes: Vec<String> = best.causes.iter().map(Cause::text).collect();
            return format!(
                "This would explain it: {}. There remain {} mL.",
                causes.join("; "),
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
    #[error("nothing was measured")]
    Nothing,
    /// A measured value or the uncertainty is not above 0.
    #[error("measured fills and their uncertainty must be numbers above 0")]
    NoNumber,
    /// The run can't be carried out.
    #[error("the run of this design can't be carried out")]
    NoRun,
    /// It was stopped.
    #[error("stopped")]
    Stopped,
}

/// Dimensions (indices) with what they deviate by, standard deviations.
type Deviations = Vec<(usize, f64)>;

/// The run as a function of deviations, seen at the measured vessels.
struct Model<'a> {
    apparatus: &'a Apparatus,
    tolerances: Tolerances,
    dimensions: Vec<Dimension>,
    /// For each measured vessel its place among the targets.
    places: Vec<usize>,
    /// Measured fills and their uncertainties, mL.
    measured: DVector<f64>,
    uncertainty: DVector<f64>,
}

impl Model<'_> {
    /// Fills of the measured vessels, mL.
    fn fills(&self, deviations: &[(usize, f64)]) -> Option<DVector<f64>> {
        let shares = spread::fills(self.apparatus, self.tolerances, deviations)?;
        let fills = self
            .places
            .iter()
            .map(|place| shares.held.get(*place).map(|mm3| mm3 / MM3_PER_ML));
        let fills: Option<Vec<f64>> = fills.collect();
        fills.map(DVector::from_vec)
    }

    /// What is left, in uncertainties.
    fn left(&self, fills: &DVector<f64>) -> DVector<f64> {
        (&self.measured - fills).component_div(&self.uncertainty)
    }

    /// Derivative of the fills by a dimension's standard deviations, in uncertainties, where others deviate already.
    fn slope(&self, at: &[(usize, f64)], dimension: usize) -> Option<DVector<f64>> {
        let aside = |by: f64| {
            let mut all = at.to_vec();
            all.push((dimension, by));
            self.fills(&all)
        };
        let across = (aside(ASIDE)? - aside(-ASIDE)?) / (2.0 * ASIDE);
        Some(across.component_div(&self.uncertainty))
    }

    /// Least squares over some dimensions, from where they begin; what they deviate by counts as well.
    fn fit(&self, begin: &[(usize, f64)]) -> Option<(Deviations, DVector<f64>)> {
        let mut at = begin.to_vec();
        let mut fills = self.fills(&at)?;
        let badness = |at: &[(usize, f64)], fills: &DVector<f64>| {
            self.left(fills).norm_squared() + at.iter().map(|(_, x)| x * x).sum::<f64>()
        };
        let mut damping = 1e-3;
        for _ in 0..STEPS {
            let slopes: Option<Vec<DVector<f64>>> = at.iter().map(|(k, _)| self.slope(&at, *k)).collect();
            let slopes = DMatrix::from_columns(&slopes?);
            let here = DVector::from_iterator(at.len(), at.iter().map(|(_, x)| *x));
            let mut normal = slopes.transpose() * &slopes + DMatrix::identity(at.len(), at.len());
            let towards = slopes.transpose() * self.left(&fills) - here;
            for k in 0..at.len() {
                normal[(k, k)] *= 1.0 + damping;
            }
            let Some(step) = normal.cholesky().map(|solver| solver.solve(&towards)) else {
                break;
            };
            let next: Vec<(usize, f64)> = at.iter().zip(step.iter()).map(|((k, x), dx)| (*k, x + dx)).collect();
            let now = badness(&at, &fills);
            match self.fills(&next) {
                Some(better) if badness(&next, &better) < now => {
                    let gain = now - badness(&next, &better);
                    (at, fills) = (next, better);
                    damping *= 0.1;
                    if gain < LEAST_GAIN * now {
                        break;
                    }
                }
                _ => damping *= 100.0,
            }
        }
        Some((at, fills))
    }

    fn explanation(&self, at: &[(usize, f64)], fills: &DVector<f64>) -> Explanation {
        let count = self.measured.len() as f64;
        let causes: Vec<Cause> = at
            .iter()
            .filter_map(|(k, sigmas)| {
                let dimension = self.dimensions.get(*k)?;
                Some(Cause {
                    name: dimension.name.clone(),
                    deviation: dimension.sigma * sigmas,
                    unit: dimension.unit,
                    sigmas: *sigmas,
                })
            })
            .collect();
        let remains = self.left(fills).norm() / count.sqrt();
        Explanation {
            is_enough: remains <= ENOUGH && causes.iter().all(|cause| cause.sigmas.abs() <= BELIEVED),
            causes,
            fills_ml: fills.iter().copied().collect(),
            remains_ml: (&self.measured - fills).norm() / count.sqrt(),
            remains,
        }
    }

    /// The dimension that goes farthest together with what is left, by its derivative.
    fn next(&self, at: &[(usize, f64)], fills: &DVector<f64>, watch: &dyn Watch) -> Option<usize> {
        let left = self.left(fills);
        let is_taken = |k: usize| at.iter().any(|(known, _)| *known == k);
        let level = |k: usize| [LEVEL_TILT, LEVEL_ROLL].contains(&self.dimensions[k].name.as_str());
        let candidates: Vec<usize> = (0..self.dimensions.len())
            .filter(|k| !is_taken(*k) && !level(*k))
            .collect();
        let gains: Option<Vec<(usize, f64)>> = candidates
            .par_iter()
            .map(|&k| {
                if !watch.at(0.5) {
                    return None;
                }
                let slope = self.slope(at, k).unwrap_or_else(|| DVector::zeros(left.len()));
                let own = slope.norm_squared();
                // Beyond what is believed a dimension does not go.
                let by = if own > 0.0 {
                    (slope.dot(&left) / own).clamp(-BELIEVED, BELIEVED)
                } else {
                    0.0
                };
                Some((k, left.norm() - (&left - slope * by).norm()))
            })
            .collect();
        let best = gains?.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        (best.1 > 0.0).then_some(best.0)
    }
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
    let tolerances = Tolerances::default();
    let targets = vessel_targets(apparatus)?;
    let mut places = Vec::with_capacity(measured.len());
    for fill in measured {
        let place = targets.iter().position(|(name, _)| *name == fill.piece);
        let place = place.ok_or_else(|| CompareError::NoVessel(fill.piece.clone()))?;
        if places.contains(&place) {
            return Err(CompareError::Twice(fill.piece.clone()));
        }
        places.push(place);
    }
    if measured.is_empty() {
        return Err(CompareError::Nothing);
    }
    let is_good = |value: f64| value.is_finite() && value > 0.0;
    if !is_good(uncertainty)
        || !measured
            .iter()
            .all(|fill| fill.volume_ml.is_finite() && fill.volume_ml >= 0.0)
    {
        return Err(CompareError::NoNumber);
    }
    let values = measured.iter().map(|fill| fill.volume_ml);
    let model = Model {
        apparatus,
        tolerances,
        dimensions: spread::dimensions(apparatus, tolerances),
        uncertainty: DVector::from_iterator(places.len(), values.clone().map(|ml| (ml * uncertainty).max(LEAST_ML))),
        measured: DVector::from_iterator(places.len(), values),
        places,
    };
    let predicted = model.fills(&[]).ok_or(CompareError::NoRun)?;
    let count = predicted.len() as f64;
    let vessels = model.places.iter().enumerate().map(|(i, place)| Compared {
        name: targets[*place].0.clone(),
        target_ml: targets[*place].1,
        predicted_ml: predicted[i],
        measured_ml: model.measured[i],
    });
    let agrees = model.left(&predicted).norm() / count.sqrt() <= ENOUGH;
    Ok(Comparison {
        vessels: vessels.collect(),
        uncertainty,
        off_ml: (&model.measured - &predicted).norm() / count.sqrt(),
        explanations: if agrees {
            Vec::new()
        } else {
            explanations(&model, watch)?
        },
        agrees,
    })
}

/// Names of the vessels and what is wanted in each, mL, in the order of the targets.
fn vessel_targets(apparatus: &Apparatus) -> Result<Vec<(String, f64)>, CompareError> {
    let built = crate::geom::build::build(apparatus).map_err(|_| CompareError::NoRun)?;
    let interior = crate::geom::Interior::new(built.names.clone(), built.primitives, built.ports);
    let interior = interior.map_err(|_| CompareError::NoRun)?;
    let targets = targets(apparatus, &interior);
    let named = targets
        .iter()
        .map(|target| (built.names[target.piece].clone(), target.volume / MM3_PER_ML));
    Ok(named.collect())
}

/// The level alone, then with dimensions (the charge among them), as far as there are more values than unknowns.
fn explanations(model: &Model, watch: &dyn Watch) -> Result<Vec<Explanation>, CompareError> {
    let level: Vec<(usize, f64)> = model
        .dimensions
        .iter()
        .enumerate()
        .filter(|(_, dimension)| [LEVEL_TILT, LEVEL_ROLL].contains(&dimension.name.as_str()))
        .map(|(k, _)| (k, BEGIN))
        .collect();
    if level.len() >= model.measured.len() {
        return Ok(Vec::new());
    }
    let (mut at, mut fills) = model.fit(&level).ok_or(CompareError::NoRun)?;
    let mut list = vec![model.explanation(&at, &fills)];
    while !list.iter().any(|found| found.is_enough)
        && list.len() <= MOST_DIMENSIONS
        && at.len() + 1 < model.measured.len()
    {
        if !watch.at(0.3 * list.len() as f64) {
            return Err(CompareError::Stopped);
        }
        let Some(next) = model.next(&at, &fills, watch) else {
            break;
        };
        // The level begins anew: what it took on alone may belong to the dimension.
        let mut begin: Vec<(usize, f64)> = at.iter().map(|(k, x)| (*k, x.clamp(-BELIEVED, BELIEVED))).collect();
        begin.push((next, 0.0));
        (at, fills) = model.fit(&begin).ok_or(CompareError::NoRun)?;
        list.push(model.explanation(&at, &fills));
    }
    Ok(list)
}

/// The sheet of a comparison.
pub fn leaf(case: &Case, comparison: &Comparison) -> Leaf {
    let mut blocks = vec![
        Block::Fields(
            [
                vec![
                    field("Design", case.apparatus().title.clone()),
                    field(
                        "Uncertainty of a fill",
                        format!("{} %", short(comparison.uncertainty * 100.0)),
                    ),
                    field(
                        "Differences, root mean square",
                        format!("{} mL", fixed(comparison.off_ml, 3)),
                    ),
                ],
                blank_fields(&["Measured by", "Date"]),
            ]
            .concat(),
        ),
        Block::Table(table(comparison)),
        Block::Text(comparison.verdict()),
    ];
    for (i, explanation) in comparison.explanations.iter().enumerate() {
        let causes: Vec<String> = explanation.causes.iter().map(Cause::text).collect();
        let counts = if explanation.is_enough {
            "counts"
        } else {
            "does not count"
        };
        blocks.push(Block::Text(format!(
            "Trial {}: {}. There remain {} mL, {} uncertainties: it {counts}.",
            i + 1,
            causes.join("; "),
            fixed(explanation.remains_ml, 3),
            fixed(explanation.remains, 1)
        )));
    }
    blocks.push(Block::Note(
        "Least squares over whole runs. An explanation counts when twice the uncertainty or less remains and nothing \
         deviates by more than three standard deviations; that it explains does not make it the cause."
            .to_owned(),
    ));
    Leaf {
        title: "Prediction and measurement".to_owned(),
        blocks,
    }
}

fn table(comparison: &Comparison) -> Table {
    let best = comparison.best();
    let rows = comparison.vessels.iter().enumerate().map(|(i, vessel)| {
        let with = best.and_then(|best| best.fills_ml.get(i));
        vec![
            vessel.name.clone(),
            fixed(vessel.target_ml, 2),
            fixed(vessel.predicted_ml, 3),
            fixed(vessel.measured_ml, 3),
            fixed(vessel.measured_ml - vessel.predicted_ml, 3),
            with.map_or_else(|| "\u{2013}".to_owned(), |ml| fixed(*ml, 3)),
        ]
    });
    Table {
        heads: [
            "Ampoule",
            "Wanted, mL",
            "Predicted, mL",
            "Measured, mL",
            "Difference, mL",
            "Explained, mL",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: rows.collect(),
        numbers: vec![false, true, true, true, true, true],
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
