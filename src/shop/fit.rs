//! Deviations of level, charge and dimensions that bring a run nearest to what was measured.
//!
//! **Method.** Least squares with damping (Levenberg and Marquardt), derivatives from runs a little to both sides. A
//! standard deviation of a dimension counts as much as an uncertainty of a fill, so that nothing deviates without need.
//! A dimension that is added is the one that goes farthest together with what is left, judged by the derivatives; then
//! all are fitted anew with whole runs.

use std::sync::atomic::{AtomicUsize, Ordering};

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::measured::{Cause, CompareError, ENOUGH, Explanation};
use crate::model::Apparatus;
use crate::seek::Watch;
use crate::seek::spread::{self, Dimension, LEVEL_ROLL, LEVEL_TILT, Tolerances};
use crate::units::MM3_PER_ML;

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

/// Dimensions (indices) with what they deviate by, standard deviations.
type Deviations = Vec<(usize, f64)>;

/// The run as a function of deviations, seen at the measured vessels.
pub(super) struct Fit<'a> {
    apparatus: &'a Apparatus,
    tolerances: Tolerances,
    dimensions: Vec<Dimension>,
    /// For each measured vessel its place among the targets.
    places: Vec<usize>,
    /// Measured fills and their uncertainties, mL.
    measured: DVector<f64>,
    uncertainty: DVector<f64>,
    watch: &'a dyn Watch,
    /// Runs carried out, and as many as there can be.
    runs: AtomicUsize,
    most_runs: usize,
}

/// Most runs of a fit of so many deviations.
fn runs_of_fit(count: usize) -> usize {
    1 + STEPS * (2 * count + 1)
}

impl<'a> Fit<'a> {
    /// For vessels at places among the targets, with measured fills and their uncertainties, mL.
    pub(super) fn new(
        apparatus: &'a Apparatus,
        places: Vec<usize>,
        measured: Vec<f64>,
        uncertainty: Vec<f64>,
        watch: &'a dyn Watch,
    ) -> Self {
        let tolerances = Tolerances::default();
        let dimensions = spread::dimensions(apparatus, tolerances);
        let level = dimensions.iter().filter(|dimension| is_level(dimension)).count();
        let searches = (1..=MOST_DIMENSIONS).map(|k| 2 * dimensions.len() + runs_of_fit(level + k));
        Self {
            apparatus,
            tolerances,
            places,
            measured: DVector::from_vec(measured),
            uncertainty: DVector::from_vec(uncertainty),
            watch,
            runs: AtomicUsize::new(0),
            most_runs: runs_of_fit(level) + searches.sum::<usize>(),
            dimensions,
        }
    }

    /// Root mean square of what is left, in uncertainties.
    pub(super) fn remains(&self, fills: &DVector<f64>) -> f64 {
        self.left(fills).norm() / (fills.len() as f64).sqrt()
    }

    /// Root mean square of what is left, mL.
    pub(super) fn off_ml(&self, fills: &DVector<f64>) -> f64 {
        (&self.measured - fills).norm() / (fills.len() as f64).sqrt()
    }

    /// The level alone, then with dimensions (the charge among them), as far as there are more values than unknowns.
    pub(super) fn explanations(&self) -> Result<Vec<Explanation>, CompareError> {
        let all = self.dimensions.iter().enumerate();
        let level: Deviations = all.filter(|(_, d)| is_level(d)).map(|(k, _)| (k, BEGIN)).collect();
        if level.len() >= self.measured.len() {
            return Ok(Vec::new());
        }
        let (mut at, mut fills) = self.nearest(&level)?;
        let mut list = vec![self.explanation(&at, &fills)];
        while !list.iter().any(|found| found.is_enough)
            && list.len() <= MOST_DIMENSIONS
            && at.len() + 1 < self.measured.len()
        {
            let Some(next) = self.next(&at, &fills)? else { break };
            // The level begins anew: what it took on alone may belong to the dimension.
            let mut begin: Deviations = at.iter().map(|(k, x)| (*k, x.clamp(-BELIEVED, BELIEVED))).collect();
            begin.push((next, 0.0));
            (at, fills) = self.nearest(&begin)?;
            list.push(self.explanation(&at, &fills));
        }
        Ok(list)
    }

    /// Fills of the measured vessels, mL.
    fn fills(&self, deviations: &[(usize, f64)]) -> Result<DVector<f64>, CompareError> {
        let runs = self.runs.fetch_add(1, Ordering::Relaxed);
        if !self.watch.at(runs as f64 / self.most_runs as f64) {
            return Err(CompareError::Stopped);
        }
        let shares = spread::fills(self.apparatus, self.tolerances, deviations).ok_or(CompareError::NoRun)?;
        let fills = self.places.iter().map(|place| shares.held.get(*place));
        let fills: Option<Vec<f64>> = fills.map(|mm3| mm3.map(|mm3| mm3 / MM3_PER_ML)).collect();
        fills.map(DVector::from_vec).ok_or(CompareError::NoRun)
    }

    /// What is left, in uncertainties.
    fn left(&self, fills: &DVector<f64>) -> DVector<f64> {
        (&self.measured - fills).component_div(&self.uncertainty)
    }

    /// Derivative of the fills by a dimension's standard deviations, in uncertainties, where others deviate already.
    fn slope(&self, at: &[(usize, f64)], dimension: usize) -> Result<DVector<f64>, CompareError> {
        let aside = |by: f64| {
            let mut all = at.to_vec();
            all.push((dimension, by));
            self.fills(&all)
        };
        let across = (aside(ASIDE)? - aside(-ASIDE)?) / (2.0 * ASIDE);
        Ok(across.component_div(&self.uncertainty))
    }

    /// Least squares over some dimensions, from where they begin; what they deviate by counts as well.
    fn nearest(&self, begin: &[(usize, f64)]) -> Result<(Deviations, DVector<f64>), CompareError> {
        let mut at = begin.to_vec();
        let mut fills = self.fills(&at)?;
        let badness = |at: &[(usize, f64)], fills: &DVector<f64>| {
            self.left(fills).norm_squared() + at.iter().map(|(_, x)| x * x).sum::<f64>()
        };
        let mut damping = 1e-3;
        for _ in 0..STEPS {
            let slopes: Result<Vec<DVector<f64>>, _> = at.iter().map(|(k, _)| self.slope(&at, *k)).collect();
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
            let next: Deviations = at.iter().zip(step.iter()).map(|((k, x), dx)| (*k, x + dx)).collect();
            let now = badness(&at, &fills);
            match self.fills(&next) {
                Ok(better) if badness(&next, &better) < now => {
                    let gain = now - badness(&next, &better);
                    (at, fills) = (next, better);
                    damping *= 0.1;
                    if gain < LEAST_GAIN * now {
                        break;
                    }
                }
                Err(CompareError::Stopped) => return Err(CompareError::Stopped),
                Ok(_) | Err(_) => damping *= 100.0,
            }
        }
        Ok((at, fills))
    }

    fn explanation(&self, at: &[(usize, f64)], fills: &DVector<f64>) -> Explanation {
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
        let remains = self.remains(fills);
        Explanation {
            is_enough: remains <= ENOUGH && causes.iter().all(|cause| cause.sigmas.abs() <= BELIEVED),
            causes,
            fills_ml: fills.iter().copied().collect(),
            remains_ml: self.off_ml(fills),
            remains,
        }
    }

    /// The dimension that goes farthest together with what is left, by its derivative.
    fn next(&self, at: &[(usize, f64)], fills: &DVector<f64>) -> Result<Option<usize>, CompareError> {
        let left = self.left(fills);
        let is_taken = |k: usize| at.iter().any(|(known, _)| *known == k);
        let candidates: Vec<usize> = (0..self.dimensions.len())
            .filter(|k| !is_taken(*k) && !is_level(&self.dimensions[*k]))
            .collect();
        let gains: Result<Vec<(usize, f64)>, CompareError> = candidates
            .par_iter()
            .map(|&k| {
                let slope = match self.slope(at, k) {
                    Err(CompareError::Stopped) => return Err(CompareError::Stopped),
                    // What can't be built to both sides explains nothing.
                    Err(_) => DVector::zeros(left.len()),
                    Ok(slope) => slope,
                };
                let own = slope.norm_squared();
                // Beyond what is believed a dimension does not go.
                let by = if own > 0.0 {
                    (slope.dot(&left) / own).clamp(-BELIEVED, BELIEVED)
                } else {
                    0.0
                };
                Ok((k, left.norm() - (&left - slope * by).norm()))
            })
            .collect();
        let best = gains?.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
        Ok(best.filter(|(_, gain)| *gain > 0.0).map(|(k, _)| k))
    }
}

fn is_level(dimension: &Dimension) -> bool {
    [LEVEL_TILT, LEVEL_ROLL].contains(&dimension.name.as_str())
}
