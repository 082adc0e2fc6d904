//! Everything that a sheet is made from: the apparatus with its bores, its stages, the outcome of its run, what the rules
//! find, and what was measured against what was predicted. The last three take the longest, and are worked out once, when a
//! sheet first asks for them.

use std::cell::OnceCell;

use super::measured::{self, CompareError, Comparison, UNCERTAINTY_PART};
use crate::findings::{self, Review};
use crate::geom::Interior;
use crate::geom::build::Built;
use crate::model::Apparatus;
use crate::run::Outcome;
use crate::seek::Unwatched;
use crate::stages::{self, Pouring, Stages};
use crate::units::MM3_PER_ML;

/// An apparatus ready for its sheets.
#[derive(Debug)]
pub struct Case<'a> {
    /// The stages of the job.
    pub stages: &'a Stages<'a>,
    outcome: OnceCell<Option<Outcome>>,
    review: OnceCell<Review>,
    comparison: OnceCell<Result<Comparison, CompareError>>,
}

impl<'a> Case<'a> {
    /// What the sheets of an apparatus need.
    pub fn of(stages: &'a Stages<'a>) -> Self {
        Self {
            stages,
            outcome: OnceCell::new(),
            review: OnceCell::new(),
            comparison: OnceCell::new(),
        }
    }

    /// What the run comes to; none where there are no stops.
    pub fn outcome(&self) -> Option<&Outcome> {
        let pour = || {
            let job = self.job();
            let plan = Pouring::of(job.apparatus, job.interior).plan;
            Outcome::of(job.interior, &plan, || true).filter(|outcome| !outcome.halts.is_empty())
        };
        self.outcome.get_or_init(pour).as_ref()
    }

    /// Findings that stand, those that are silenced with their reasons, and what could not be judged.
    pub fn review(&self) -> &Review {
        self.review.get_or_init(|| findings::review(self.stages))
    }

    /// What was measured against the run.
    ///
    /// # Errors
    /// When nothing was measured, or the run can't be carried out.
    pub fn comparison(&self) -> Result<&Comparison, CompareError> {
        let compare = || {
            let apparatus = self.apparatus();
            measured::compare(apparatus, &apparatus.run.measured, UNCERTAINTY_PART, &Unwatched)
        };
        self.comparison.get_or_init(compare).as_ref().map_err(Clone::clone)
    }

    /// The job with what is left open proposed.
    pub fn job(&self) -> &'a stages::Case<'a> {
        self.stages.case()
    }

    /// The design.
    pub fn apparatus(&self) -> &'a Apparatus {
        self.job().apparatus
    }

    /// Its bores and walls.
    pub fn built(&self) -> &'a Built {
        self.job().built
    }

    /// Its interior.
    pub fn interior(&self) -> &'a Interior {
        self.job().interior
    }

    /// Volume in a piece at a stop of the run, mL; what was sealed off in it before counts.
    pub fn held_ml(&self, stop: usize, piece: usize) -> Option<f64> {
        let rest = self.outcome()?.stops.get(stop)?;
        let sealed = rest.sealed.iter().filter(|(known, _)| *known == piece);
        let mm3 = rest.held.get(piece)? + sealed.map(|(_, volume)| volume).sum::<f64>();
        Some(mm3 / MM3_PER_ML)
    }
}

#[cfg(test)]
mod tests {
    use super::super::trials::{example, job_of, with};
    use super::*;
    use crate::model::Gas;

    /// formulas.md 2.4: liquid can't pass gas in a bore of 3.0 mm, which is below the limit for benzene at every angle of
    /// its band.
    #[test]
    fn the_run_of_the_sheets_knows_of_gas_in_narrow_necks() {
        let mut apparatus = example("benzene-d6-five");
        for (gas, locks) in [(Gas::Evacuated, false), (Gas::Open, true)] {
            apparatus.run.gas = gas;
            job_of(&apparatus, |job| {
                let stages = Stages::of(job);
                let case = Case::of(&stages);
                let stops = &case.outcome().unwrap().stops;
                assert_eq!(stops.iter().any(|stop| !stop.locked.is_empty()), locks, "{gas:?}");
            });
        }
    }

    /// The charge stays in the glass: at every stop the pieces hold what was given.
    #[test]
    fn what_lies_in_the_pieces_is_the_charge() {
        with("teaching-three", |case| {
            let given: f64 = case.apparatus().charge.fills.iter().map(|fill| fill.volume_ml).sum();
            let stops = case.outcome().unwrap().stops.len();
            assert_eq!(stops, case.apparatus().run.stops.len());
            for stop in 0..stops {
                let pieces = 0..case.built().names.len();
                let held: f64 = pieces.filter_map(|piece| case.held_ml(stop, piece)).sum();
                assert!((held - given).abs() < 1e-5, "{stop}: {held} of {given}");
            }
            assert_eq!(case.held_ml(stops, 0), None);
        });
    }
}
